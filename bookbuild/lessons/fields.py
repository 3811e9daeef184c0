"""Field types of the YAML schema: how a written value becomes a value of the model, and what is said when it cannot."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BeforeValidator, Field, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from bookbuild.exact import Fraction
from bookbuild.lessons.chord_line import hint_chord
from bookbuild.lessons.model import KINDS, ROWS
from bookbuild.lessons.report import guess_name, show
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import MODE_FIFTHS, Key, Pitch, Tone

T = TypeVar("T")


def flaw(message: str, hint: str = "") -> PydanticCustomError:
    """A finding of our own that passes through pydantic unchanged."""
    return PydanticCustomError("flaw", "{message}", {"message": message, "hint": hint})


def _reading(read: Callable[[str], T], wanted: str, hint: Callable[[str], str] | str) -> Callable[[Any], T]:
    """A validator that reads one short text, saying what was `wanted` when it cannot."""

    def advise(text: str) -> str:
        return hint if isinstance(hint, str) else hint(text)

    def read_value(value: Any) -> T:
        if not isinstance(value, str):
            raise flaw(f"this should be {wanted}", advise(""))
        text = value.strip()
        try:
            if len(text) <= 60:
                return read(text)
        except ValueError as error:
            # The reader's own reason is kept where it tells more than that the text is wrong.
            reason = str(error)
            if text and reason.startswith(f"'{text}'"):
                raise flaw(show(text, 60) + reason[len(text) + 2 :], advise(text)) from None
        raise flaw(f"{show(text)} is not {wanted}", advise(text))

    return read_value


def _read_fraction(text: str) -> Fraction:
    if not re.fullmatch(r"[0-9]{1,3}(/[1-9][0-9]{0,2})?", text):
        raise ValueError
    return Fraction(text)


def _read_pitch(text: str) -> Pitch:
    pitch = Pitch.from_lily(text)
    if not 21 <= pitch.midi <= 108:
        raise ValueError
    return pitch


_HINT_KEY = f"Write a tonic and a mode: 'G major', 'E minor', 'Bb dorian'. Modes: {', '.join(MODE_FIFTHS)}."
_HINT_METER = "Write it like 2/4, 3/4, 4/4 or 6/8."
_HINT_LENGTH = "Write it as a fraction of a whole note: 1/8 is an eighth, 1/4 a quarter, 0 none."
_HINT_PITCH = "Write a Dutch name with octave marks, in double quotes: \"c'\" is middle C, \"c''\" the octave above."
_HINT_TONE = "Write a letter A–G with # or b, for example Db."

_TEXT = WithJsonSchema({"type": "string"})
_METER_TEXT = WithJsonSchema({"type": "string", "pattern": r"^\d{1,2}/(1|2|4|8|16)$"})
_KEY_TEXT = WithJsonSchema({"type": "string", "pattern": rf"^[A-G](#|b)? ({'|'.join(MODE_FIFTHS)})$"})
_LENGTH_TEXT = WithJsonSchema({"type": ["string", "integer"]})

MeterField = Annotated[Meter, PlainValidator(_reading(Meter.parse, "a meter", _HINT_METER)), _METER_TEXT]
KeyField = Annotated[Key, PlainValidator(_reading(Key.parse, "a key", _HINT_KEY)), _KEY_TEXT]
LengthField = Annotated[Fraction, PlainValidator(_reading(_read_fraction, "a length", _HINT_LENGTH)), _LENGTH_TEXT]
ChordField = Annotated[Chord, PlainValidator(_reading(Chord.parse, "a chord symbol", hint_chord)), _TEXT]
PitchField = Annotated[Pitch, PlainValidator(_reading(_read_pitch, "a note of the keyboard", _HINT_PITCH)), _TEXT]
ToneField = Annotated[Tone, PlainValidator(_reading(Tone.parse, "a note letter", _HINT_TONE)), _TEXT]


def _one_of(known: Iterable[str], what: str) -> Callable[[str], str]:
    names = tuple(known)

    def check_choice(value: str) -> str:
        if value not in names:
            raise flaw(f"{show(value)} is not {what}", guess_name(value, names, what))
        return value

    return check_choice


def _choice(known: Iterable[str], what: str) -> tuple[Any, Any]:
    return AfterValidator(_one_of(known, what)), Field(json_schema_extra={"enum": list(known)})


PAPERS = ("A4", "A5", "B4", "Letter")
"""Paper sizes an edition may name."""

KindField = Annotated[str, *_choice(KINDS, "an exercise kind")]
RowField = Annotated[str, *_choice(ROWS, "a left-hand row")]
PaperField = Annotated[str, *_choice(PAPERS, "a paper size")]
RightField = Annotated[str, *_choice(("", "melody", "shapes", "fill"), "a part for the right hand")]
FingeringField = Annotated[str, *_choice(("two", "three"), "a finger system")]


def _split_names(value: Any) -> Any:
    return value.replace(",", " ").split() if isinstance(value, str) else value


NamesField = Annotated[
    list[Annotated[str, Field(max_length=40)]],
    Field(max_length=100),
    BeforeValidator(_split_names),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]
"""Names in a row (`A A B`) or a list of them."""


def _check_slots(value: int) -> int:
    if value not in (1, 2, 3, 4, 6):
        raise flaw(f"{value} slots in a beat cannot be counted", "Choose 1, 2, 3, 4 or 6.")
    return value


def _check_isbn(value: str) -> str:
    digits = value.replace("-", "").replace(" ", "")
    if not re.fullmatch(r"97[89][0-9]{10}", digits):
        raise flaw(f"{show(value)} is not an ISBN", "An ISBN has 13 digits and begins with 978 or 979.")
    check = -sum(int(digit) * (3 if index % 2 else 1) for index, digit in enumerate(digits[:12])) % 10
    if check != int(digits[12]):
        raise flaw(f"the last digit of {show(value)} should be {check}", "Compare the ISBN with the agency's letter.")
    return value


def _check_link(value: str) -> str:
    if value and not (value.isprintable() and re.fullmatch(r"https?://[^\s<>\"]{3,}", value)):
        raise flaw(f"{show(value)} is not a web address", "Begin it with https:// and write it without spaces.")
    return value


SlotsField = Annotated[int, AfterValidator(_check_slots), Field(json_schema_extra={"enum": [1, 2, 3, 4, 6]})]
IsbnField = Annotated[str, AfterValidator(_check_isbn)]
LinkField = Annotated[str, Field(max_length=500), AfterValidator(_check_link)]
TitleText = Annotated[str, Field(min_length=1, max_length=200)]
LineText = Annotated[str, Field(max_length=500)]
LongText = Annotated[str, Field(max_length=20_000)]
TempoNumber = Annotated[int, Field(ge=10, le=400)]

Millimetres = Annotated[float, Field(ge=0, le=60, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=5, allow_inf_nan=False)]
Semitones = Annotated[list[Annotated[int, Field(ge=0, le=11)]], Field(max_length=12)]
Lines = Annotated[list[LineText], Field(max_length=30)]
