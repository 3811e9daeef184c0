"""The information fields of ABC notation (standard 2.1, §3): key, meter, unit length, tempo, plain text."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass

from bookbuild.exact import Fraction
from bookbuild.importers.written import TuneFault
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Tone

MODES = {
    "": "major", "maj": "major", "ion": "major", "m": "minor", "min": "minor", "aeo": "minor", "dor": "dorian",
    "phr": "phrygian", "lyd": "lydian", "mix": "mixolydian", "loc": "locrian",
}
"""First three letters of a mode in a K: field -> our name (standard 2.1, §4.6)."""

_KEY = re.compile(r"([A-G][#b♯♭]?)\s*(m(?![a-z])|[A-Za-z]+)?")
_ACCIDENTAL = re.compile(r"(\^\^|\^|__|_|=)([A-Ga-g])")
_SIGNS = {"^^": 2, "^": 1, "__": -2, "_": -1, "=": 0}
_NOT_MODES = ("clef", "treble", "bass", "alto", "tenor", "perc", "none", "exp", "octave", "transpose", "middle",
              "stafflines")
_MARKS = {"`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", "c": "\u0327", "v": "\u030c"}


@dataclass(frozen=True)
class KeyField:
    """A K: field: the key, accidentals that replace its signature's (step, alter), octaves the notes are moved."""

    key: Key
    signs: tuple[tuple[int, int], ...] = ()
    octaves: int = 0
    explicit: bool = False
    """True when the signature is only what the accidentals say."""

    @property
    def alters(self) -> dict[int, int]:
        """Step -> alteration for all seven steps."""
        base = dict.fromkeys(range(7), 0) if self.explicit else {t.step: t.alter for t in self.key.tones}
        return base | dict(self.signs)


def read_key(text: str) -> KeyField:
    """Read `G`, `Edor`, `F# minor`, `HP`, `D phr ^f`, `none`; raises TuneFault."""
    plain = text.strip()
    if re.match(r"H[Pp]\b", plain):
        return KeyField(Key(Tone.parse("A"), "mixolydian"))
    signs = tuple((("CDEFGAB".index(letter.upper())), _SIGNS[sign]) for sign, letter in _ACCIDENTAL.findall(plain))
    octaves = int(match[1]) if (match := re.search(r"octave=(-?[0-4])\b", plain)) else 0
    match = _KEY.match(plain)
    if not match or plain.startswith(_NOT_MODES):
        if plain and not plain.startswith(_NOT_MODES):
            raise TuneFault(f"the key '{plain[:20]}' cannot be read")
        return KeyField(Key(Tone.parse("C"), "major"), signs, octaves)
    word = (match[2] or "").lower()
    explicit = "exp" in plain.lower().split()
    if word.startswith(_NOT_MODES):
        word = ""
    mode = MODES.get("m" if word == "m" else word[:3])
    if mode is None:
        raise TuneFault(f"the key '{plain[:20]}' cannot be read")
    key = Key(Tone.parse(match[1]), mode)
    if abs(key.signature) > 7:
        raise TuneFault(f"the key {key.name} needs more than seven accidentals")
    return KeyField(key, signs, octaves, explicit)


def names_key(text: str) -> bool:
    """False for a K: field inside a tune that changes the clef or the octave only."""
    plain = text.strip()
    return plain == "none" or bool(plain and not plain.startswith(_NOT_MODES))


def read_meter(text: str) -> Meter | None:
    """Read `C`, `C|`, `6/8`; None for free meter. Raises TuneFault for meters the book cannot count."""
    plain = text.strip()
    if plain in ("C", "C|"):
        return Meter(4, 4) if plain == "C" else Meter(2, 2)
    if plain.lower() in ("none", ""):
        return None
    try:
        return Meter.parse(plain)
    except ValueError as error:
        raise TuneFault(f"the meter {str(error)[:80]}") from error


def read_unit(text: str) -> Fraction:
    """Read a unit note length such as `1/8`; raises TuneFault."""
    match = re.fullmatch(r"\s*1/(\d{1,3})\s*|\s*(1)\s*", text)
    if not match or (match[1] and int(match[1]) not in (1, 2, 4, 8, 16, 32, 64)):
        raise TuneFault(f"the unit note length '{text.strip()[:20]}' cannot be read")
    return Fraction(1, int(match[1] or 1))


def usual_unit(meter: Meter | None) -> Fraction:
    """The unit where no L: field stands: 1/16 in meters under 0.75, else 1/8 (standard 2.1, §3.1.7)."""
    return Fraction(1, 16) if meter and meter.bar < Fraction(3, 4) else Fraction(1, 8)


def read_tempo(text: str) -> tuple[Fraction, Fraction] | None:
    """Read `1/4=120`, `"Allegro" 3/8=60`; None where the field names no note value."""
    match = re.search(r"(\d{1,2})/(\d{1,2})\s*=\s*(\d{1,3})\b", text)
    if not match or not int(match[2]) or not int(match[3]) or not int(match[1]):
        return None
    return Fraction(int(match[1]), int(match[2])), Fraction(int(match[3]))


def read_text(text: str) -> str:
    """Plain text of a field: entities and backslash accents (standard 2.1, §8.2) become letters."""
    def accent(match: re.Match[str]) -> str:
        mark = _MARKS.get(match[1])
        return match[2] + mark if mark else match[0]

    plain = re.sub(r"\\u([0-9a-fA-F]{4})", lambda m: chr(int(m[1], 16)), html.unescape(text))
    plain = re.sub(r"\\([`'^~\"cv])([A-Za-z])", accent, plain)
    return plain.replace("\\&", "&").replace("\\%", "%").strip()
