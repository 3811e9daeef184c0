"""Groove rows: tokens under the counting, one a slot, to strokes."""

from __future__ import annotations

import re
from dataclasses import dataclass

from bookbuild.exact import Fraction
from bookbuild.lessons.model import Source, Stroke
from bookbuild.lessons.report import Flaw, show
from bookbuild.theory.meter import Meter

HELD, SILENT, ACCENT, ANTICIPATING = "-", ".", ">", "a"

BASS_TOKENS = {"x": Source.ROOT, "r": Source.ROOT, "f": Source.FIFTH, "t": Source.THIRD, ANTICIPATING: Source.ROOT}
CHORD_TOKENS = {"x": Source.CHORD, ANTICIPATING: Source.CHORD}

_MEANINGS = {
    "bass": "x or r is the root, f the fifth, t the third, a the next beat's root; - is held, . is silent",
    "chord": "x is the chord, a the next beat's chord; - is held, . is silent",
    "fill": "x strikes, - is held, . is silent",
    "accent": "> is an accent, . is none",
    "shake": "> is a stressed stroke, . a plain one",
}
_TOKENS = {
    "bass": {*BASS_TOKENS, HELD, SILENT},
    "chord": {*CHORD_TOKENS, HELD, SILENT},
    "fill": {"x", HELD, SILENT},
    "accent": {ACCENT, SILENT},
    "shake": {ACCENT, SILENT},
}


@dataclass(frozen=True)
class Row:
    """A row read: its tokens with their offsets, and the flaws found."""

    tokens: tuple[str, ...]
    offsets: tuple[int, ...]
    bars: int
    flaws: tuple[Flaw, ...]

    def stretch(self, bars: int) -> Row:
        """The row repeated to fill a longer cell."""
        times = max(1, bars // max(1, self.bars))
        return Row(self.tokens * times, self.offsets * times, bars, self.flaws)


def read_row(name: str, text: str, per_bar: int) -> Row:
    """Split a row and check its tokens (not those of `count`) and their number: whole bars of `per_bar` slots."""
    tokens: list[str] = []
    offsets: list[int] = []
    flaws: list[Flaw] = []
    bar_start, bar_offset = 0, 0
    lines = "|" in text
    for match in re.finditer(r"\||[^\s|]+", text):
        if match[0] == "|":
            _check_bar(name, len(tokens) - bar_start, per_bar, bar_offset, flaws)
            bar_start, bar_offset = len(tokens), match.end()
            continue
        if name in _TOKENS and match[0] not in _TOKENS[name]:
            flaws.append(_token_flaw(name, match[0], match.start()))
        tokens.append(match[0])
        offsets.append(match.start())
    if not tokens:
        flaws.append(Flaw(0, f"the row '{name}' is empty", "Fill it in, or remove it."))
    elif lines:
        _check_bar(name, len(tokens) - bar_start, per_bar, bar_offset, flaws)
    elif len(tokens) % per_bar:
        flaws.append(_length_flaw(name, len(tokens), per_bar, 0))
    return Row(tuple(tokens), tuple(offsets), max(1, len(tokens) // per_bar), tuple(flaws))


def _check_bar(name: str, count: int, per_bar: int, offset: int, flaws: list[Flaw]) -> None:
    if count and count != per_bar:
        flaws.append(_length_flaw(name, count, per_bar, offset))


def _length_flaw(name: str, count: int, per_bar: int, offset: int) -> Flaw:
    message = f"the row '{name}' has {count} places, a bar has {per_bar}"
    return Flaw(offset, message, f"Write {per_bar} signs a bar, separated by spaces: one for every slot of every beat.")


def _token_flaw(name: str, token: str, offset: int) -> Flaw:
    apart = "Separate the signs with spaces. " if len(token) > 1 else ""
    message = f"{show(token, 12)} is not a sign of the row '{name}'"
    return Flaw(offset, message, f"{apart}In the row '{name}' {_MEANINGS[name]}.")


def held_strokes(row: Row, name: str, slot: Fraction) -> tuple[list[tuple[int, str, Fraction]], list[Flaw]]:
    """The strokes of a row as (slot index, token, length); a leading `-` continues the row's last stroke."""
    strokes: list[tuple[int, str, int]] = []
    flaws: list[Flaw] = []
    leading, sounding = 0, False
    for index, token in enumerate(row.tokens):
        if token == HELD and sounding:
            strokes[-1] = (*strokes[-1][:2], strokes[-1][2] + 1)
        elif token == HELD and leading == index:
            leading += 1
        elif token == HELD:
            message = f"'-' in the row '{name}' holds nothing: the place before it is silent"
            hint = "Write . for silence, or begin the stroke before it."
            flaws.append(Flaw(row.offsets[index], message, hint))
        else:
            sounding = token != SILENT
            if sounding:
                strokes.append((index, token, 1))
    if leading and not (strokes and sounding):
        message = f"the row '{name}' begins with '-' but ends in silence"
        hint = "A '-' at the beginning holds the stroke that ends the row: end the row with it, or begin with '.'."
        flaws.append(Flaw(row.offsets[0], message, hint))
    elif leading:
        strokes[-1] = (*strokes[-1][:2], strokes[-1][2] + leading)
    return [(index, token, length * slot) for index, token, length in strokes], flaws


def make_strokes(
    row: Row, name: str, meter: Meter, slots: int, accents: frozenset[int]
) -> tuple[list[Stroke], list[Flaw]]:
    """Bass or chord strokes; off the beat and held over the next beat they anticipate its chord."""
    slot = meter.beat / slots
    held, flaws = held_strokes(row, name, slot)
    sources = BASS_TOKENS if name == "bass" else CHORD_TOKENS
    strokes = []
    for index, token, length in held:
        if token not in sources:
            continue
        onset = index * slot
        into = index % slots
        crosses = bool(into) and length > (slots - into) * slot
        strokes.append(Stroke(onset, length, sources[token], index in accents, crosses or token == ANTICIPATING))
    return strokes, flaws
