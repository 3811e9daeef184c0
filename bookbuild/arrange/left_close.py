"""How the left hand ends a piece: bass and chord together on a strong beat, then silence (common practice)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bookbuild.arrange.left_strokes import Struck
from bookbuild.arrange.model import Line
from bookbuild.arrange.moments import read_moments
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Groove, Source


def closing_beat(line: Line) -> Fraction:
    """The latest moment at which a piece is closed: the last bar's second beat of two or three, the third of four."""
    return line.bars[-1].onset + line.meter.beat * (line.meter.beats // 2)


def close_strokes(strokes: Sequence[Struck], line: Line, groove: Groove, *, held: bool = False) -> tuple[Struck, ...]:
    """The strokes with their last bar closed: from its root the groove runs up to the closing beat, then is silent.

    The closing beat is the latest one up to `closing_beat` where the groove strikes and the last chord has begun, else
    the moment that chord begins. The stroke lasts a beat, or as long as the groove holds it, or to the end where it is
    `held`: bellows that shake up to the last barline need something that sounds. A groove of basses alone closes on the
    bass, one of chords alone on the chord. A line that ends without harmony stays as it is.
    """
    bar = line.bars[-1]
    moments = read_moments(line)
    span = next((span for span in moments.chords if span.onset < line.length <= span.end), None)
    if span is None or span.chord is None or not any(bar.onset <= stroke.onset < bar.end for stroke in strokes):
        return tuple(strokes)
    close = _choose_moment(strokes, line, groove, max(span.onset, bar.onset))
    there = [stroke for stroke in strokes if stroke.onset == close]
    longest = max((stroke.end - close for stroke in there), default=Fraction(0))
    end = bar.end if held else min(bar.end, close + max(groove.meter.beat, longest))
    accent = any(stroke.accent for stroke in there)
    kinds = {Source.CHORD if stroke.source is Source.CHORD else Source.ROOT for stroke in groove.strokes}
    last = [Struck(close, end, source, span.chord, accent) for source in (Source.ROOT, Source.CHORD) if source in kinds]
    before = [replace(stroke, end=min(stroke.end, close)) for stroke in strokes if stroke.onset < close]
    return (*(_take_root(stroke) if stroke.onset == bar.onset else stroke for stroke in before), *last)


def _take_root(stroke: Struck) -> Struck:
    """A stroke on the last downbeat: its bass is the root, whatever place in its cell the groove has reached."""
    return replace(stroke, source=Source.ROOT) if stroke.is_bass else stroke


def _choose_moment(strokes: Sequence[Struck], line: Line, groove: Groove, earliest: Fraction) -> Fraction:
    """The moment of the closing stroke."""
    bar, latest = line.bars[-1], closing_beat(line)
    beats = {stroke.onset for stroke in strokes if (stroke.onset - bar.onset) % groove.meter.beat == 0}
    return max((moment for moment in beats if earliest <= moment <= latest and moment < bar.end), default=earliest)
