"""The lines of text round the staves: counting, chord symbols, bellows. Each is a row of engraver text."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass

from bookbuild.arrange.model import Arrangement, BellowsSpan, Count, CountState, Direction
from bookbuild.engrave.text import moment, quote
from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan
from bookbuild.theory.chords import Chord
from bookbuild.theory.naming import ENGLISH_TONES, ToneNames

GLYPHS = {Direction.OPEN: "accordion.pull", Direction.CLOSE: "accordion.push"}
"""Names of the bellows signs in the engraver's music font (SMuFL U+E8CC pull, U+E8CB push)."""

AT_BARLINE, INSIDE_BAR = 0.6, 2.0
"""Staff spaces between the end of a bellows line and where the next begins: its sign stands left of the note."""


@dataclass(frozen=True)
class RowWords:
    """Printed words of the bellows row, and the names of the tones, in the edition's language."""

    open: str = "open"
    close: str = "close"
    shake: str = "bellows shake"
    air: str = "air"
    tones: str = ENGLISH_TONES


def _with_gaps(spans: Iterable[tuple[Fraction, Fraction, str]], end: Fraction) -> Iterator[tuple[Fraction, str]]:
    """(length, text) without holes; '' is a hole."""
    now = Fraction(0)
    for onset, length, text in spans:
        if onset > now:
            yield onset - now, ""
        yield length, text
        now = onset + length
    if now < end:
        yield end - now, ""


def counting_row(counts: Iterable[Count], end: Fraction) -> str:
    """A syllable on every slot: struck ones bold, held ones grey."""
    prefix = {CountState.STRUCK: "\\hit ", CountState.OFF: "", CountState.HELD: "\\held "}
    spans = ((c.onset, c.length, ("" if c.length.denominator % 3 else "\\apart ") + prefix[c.state] + quote(c.text))
             for c in counts)
    return " ".join(
        f"{text}{moment(length)}" if text else f"\\skip {moment(length)}" for length, text in _with_gaps(spans, end)
    )


_SIGNS = {"♯": "\\sharp", "♭": "\\flat"}


def chord_markup(chord: Chord, names: ToneNames) -> str:
    """A chord symbol as markup, its sharps and flats from the music font."""
    sign = "\\hspace #0.18 \\raise #0.5 \\fontsize #-3 {} \\hspace #0.05"
    parts = [sign.format(_SIGNS[part]) if part in _SIGNS else quote(part)
             for part in re.split("([♯♭])", names.print(chord)) if part]
    return "\\markup \\concat { " + " ".join(parts) + " }"


def chord_row(marks: Iterable[ChordSpan], end: Fraction, names: ToneNames) -> str:
    """Chord symbols at their changes."""
    spans = ((m.onset, m.length, chord_markup(m.chord, names)) for m in marks if m.chord is not None)
    return " ".join(
        f"{text} {moment(length)}" if text else f"\\skip {moment(length)}" for length, text in _with_gaps(spans, end)
    )


def _shake_row(span: BellowsSpan, arrangement: Arrangement, words: RowWords, *, in_full: bool) -> str:
    """A shake: every stroke of its first bar, then a wavy line with the words."""
    assert span.stroke is not None
    full_end = span.onset
    if in_full:
        bar = next(bar for bar in arrangement.bars if bar.onset <= span.onset < bar.end)
        full_end = min(
            span.end, bar.end if bar.number or bar.length == arrangement.meter.bar else bar.end + arrangement.meter.bar
        )
    parts, now, direction = [], span.onset, span.direction
    while now < full_end:
        length = min(span.stroke, span.end - now)
        parts.append(f'\\stroke "{GLYPHS[direction]}" s{moment(length)}')
        now += length
        direction = direction.other
    if now < span.end:
        parts.append(f"\\shakeSpan {quote(words.shake)} s{moment(span.end - now)} <>\\stopTextSpan")
    return " ".join(parts)


def _next_barline(arrangement: Arrangement, moment: Fraction) -> Fraction:
    return next(bar.end for bar in arrangement.bars if moment < bar.end)


def bellows_row(arrangement: Arrangement, words: RowWords, lines: Container[Fraction] = ()) -> str:
    """Open and close lines with their sign; the words stand at the first of each. A shake is written out once.

    `lines` are the moments at which a new line begins: a word that would run over the end of the line before waits
    for it.
    """
    parts = []
    named: set[Direction] = set()
    barlines = {bar.end for bar in arrangement.bars}
    shaken = False
    now = Fraction(0)
    for span in arrangement.bellows:
        if span.onset > now:
            parts.append(f"s{moment(span.onset - now)}")
        now = span.end
        if span.stroke is not None:
            parts.append(_shake_row(span, arrangement, words, in_full=not shaken))
            shaken = True
            continue
        word = "" if span.direction in named else getattr(words, span.direction.value)
        named.add(span.direction)
        air = quote(words.air if span.air else "")
        late = span.onset not in (0, *barlines) and _next_barline(arrangement, span.onset) in lines
        here, broken = ("", word) if late else (word, "")
        parts.append(
            f'\\bellowsSpan "{GLYPHS[span.direction]}" {quote(here)} {quote(broken)} {air} '
            f"#{AT_BARLINE if span.end in barlines else INSIDE_BAR} s{moment(span.end - span.onset)} <>\\stopTextSpan"
        )
    return " ".join(parts)
