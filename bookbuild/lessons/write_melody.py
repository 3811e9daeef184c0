"""Notes to melody text: pieces cut at bar lines, tied where one sign is not enough, gathered into tuplets."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bookbuild.exact import Fraction
from bookbuild.lessons.model import MelodyNote, Stretch
from bookbuild.theory.pitch import Pitch

_SIGNS = {
    Fraction(1, base) * (2 - Fraction(1, 2**dots)): f"{base}{'.' * dots}"
    for dots in (3, 2, 1, 0)
    for base in (64, 32, 16, 8, 4, 2, 1)
}
"""Length -> how one note of it is written."""

_TIED_FROM = sorted((length for length, sign in _SIGNS.items() if sign.count(".") < 2), reverse=True)
_RATIOS = ("3/2", "5/4", "6/4", "2/3", "4/3")
"""Tuplets tried in this order."""

_DUPLETS = ("2/3", "4/3")
"""Tuplets whose notes last plain lengths, worth trying where a plain rest cannot be written as one sign."""

_GRID = 64


@dataclass(frozen=True)
class _Piece:
    """A part of a note inside one bar: onset from the bar's start; `tied` to the piece after it."""

    onset: Fraction
    length: Fraction
    pitch: Pitch | None
    finger: int = 0
    breath: bool = False
    tied: bool = False

    @property
    def end(self) -> Fraction:
        """The moment in the bar where it stops."""
        return self.onset + self.length

    def cut(self, at: Fraction) -> tuple[_Piece, _Piece]:
        """Two tied pieces, parted at a moment of the bar."""
        first = _Piece(self.onset, at - self.onset, self.pitch, self.finger, False, self.pitch is not None)
        return first, _Piece(at, self.end - at, self.pitch, 0, self.breath, self.tied)


def write_melody(stretch: Stretch, lines: Sequence[tuple[int, int]], where: str, upbeat: bool = False) -> list[str]:
    """Rows of melody text; `lines` says which bars (first, one past the last) stand in each row.

    Raises ValueError for a note whose length the melody language cannot write; `where` names the stretch in its words.
    """
    bars = _cut_bars(stretch)
    rows = []
    for first, last in lines:
        writer = _RowWriter()
        texts = []
        for index in range(first, last):
            number = index if upbeat else index + 1
            name = f"bar {number} of {where}" if number else f"the upbeat of {where}"
            texts.append(writer.write_bar(bars[index], name))
        rows.append(" | ".join(texts) + " |")
    return rows


def _cut_bars(stretch: Stretch) -> list[list[_Piece]]:
    """The pieces of every bar."""
    bars = []
    start = Fraction(0)
    onsets = [note.onset for note in stretch.notes]
    for length in stretch.bars:
        first, last = max(bisect_right(onsets, start) - 1, 0), bisect_left(onsets, start + length)
        bars.append([_cut_note(note, start, length) for note in stretch.notes[first:last] if note.end > start])
        start += length
    return bars


def _cut_note(note: MelodyNote, start: Fraction, length: Fraction) -> _Piece:
    """The part of a note that sounds in the bar beginning at `start`."""
    begins, goes_on = note.onset >= start, note.end > start + length
    onset, end = max(note.onset, start), min(note.end, start + length)
    tied = goes_on and note.pitch is not None
    return _Piece(
        onset - start, end - onset, note.pitch, note.finger if begins else 0, note.breath and not goes_on, tied
    )


def _is_plain(moment: Fraction) -> bool:
    """True when a length or moment needs no tuplet."""
    return moment.denominator & (moment.denominator - 1) == 0


class _RowWriter:
    """Writes bars of one row; a duration is left out where it repeats."""

    def __init__(self) -> None:
        self.sign = ""

    def write_bar(self, pieces: list[_Piece], name: str) -> str:
        """The text of the bar of that name."""
        words: list[str] = []
        waiting = list(pieces)
        while waiting:
            if _fits(waiting[0], Fraction(1)):
                words += self.write_piece(waiting.pop(0), Fraction(1))
                continue
            found = _find_tuplet(waiting)
            if found is None:
                waiting[:1] = _split_rest(waiting[0], name)
                continue
            ratio, inside, waiting = found
            many, time = (int(part) for part in ratio.split("/"))
            notes = [word for piece in inside for word in self.write_piece(piece, Fraction(many, time))]
            words += [f"\\tuplet {ratio} {{", *notes, "}"]
        return " ".join(words)

    def write_piece(self, piece: _Piece, factor: Fraction) -> Iterator[str]:
        """One piece as one note, or as several tied ones."""
        lengths = _split_length(piece.length * factor)
        for index, length in enumerate(lengths):
            sign = _SIGNS[length]
            last = index == len(lengths) - 1
            word = (piece.pitch.lily if piece.pitch else "r") + (sign if sign != self.sign else "")
            self.sign = sign
            if index == 0 and piece.finger:
                word += f"-{piece.finger}"
            if piece.pitch and (not last or piece.tied):
                word += "~"
            yield word
        if piece.breath:
            yield "\\breathe"


def _fits(piece: _Piece, factor: Fraction) -> bool:
    """True when a piece can be written under a tuplet's factor (1 = none): a note with ties, a rest as one sign."""
    written = piece.length * factor
    if factor == 1 and not _is_plain(piece.onset):
        return False
    if piece.pitch is None:
        return written in _SIGNS
    return _is_plain(written) and bool(_split_length(written))


def _split_length(length: Fraction) -> list[Fraction]:
    """Lengths of the signs that make up a plain length, longest first; empty when none do."""
    if length in _SIGNS:
        return [length]
    parts = []
    while length > 0:
        part = next((one for one in _TIED_FROM if one <= length), None)
        if part is None:
            return []
        parts.append(part)
        length -= part
    return parts


def _find_tuplet(pieces: list[_Piece]) -> tuple[str, list[_Piece], list[_Piece]] | None:
    """The tuplet that begins with the first piece: its ratio, the pieces inside and those after it; None without one.

    It ends with a piece where it can, else inside a note, on the coarsest place of the grid that serves; rests are
    parted last, because they cannot be tied.
    """
    start, end = pieces[0].onset, pieces[-1].end
    ratios = _DUPLETS if _is_plain(pieces[0].length) else _RATIOS
    edges = [piece.end for piece in pieces if _is_plain(piece.end)]
    grid = [Fraction(step, _GRID) for step in range(int(start * _GRID) + 1, int(end * _GRID) + 1)]
    rests = [piece for piece in pieces if piece.pitch is None]

    def rank(moment: Fraction) -> tuple[bool, int, Fraction]:
        return any(rest.onset < moment < rest.end for rest in rests), moment.denominator, moment

    for edge in (*edges, *sorted(grid, key=rank)):
        inside, after = _part_pieces(pieces, edge)
        for ratio in ratios:
            if all(_fits(piece, Fraction(ratio)) for piece in inside):
                return ratio, inside, after
    return None


def _split_rest(piece: _Piece, bar: str) -> list[_Piece]:
    """A rest as several that can be written. Raises ValueError for a note, or a length no signs make up."""
    lengths = _split_length(piece.length) if piece.pitch is None and _is_plain(piece.length) else []
    if not lengths:
        what = "note" if piece.pitch else "rest"
        raise ValueError(f"{bar} has at {piece.onset} a {what} of {piece.length}, which cannot be written")
    first, second = piece.cut(piece.onset + lengths[0])
    return [first, second]


def _part_pieces(pieces: list[_Piece], edge: Fraction) -> tuple[list[_Piece], list[_Piece]]:
    """Pieces before and after a moment; one that lies across it is cut."""
    before, after = [], []
    for piece in pieces:
        if piece.end <= edge:
            before.append(piece)
        elif piece.onset >= edge:
            after.append(piece)
        else:
            first, second = piece.cut(edge)
            before.append(first)
            after.append(second)
    return before, after
