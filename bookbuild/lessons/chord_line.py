"""Chord lines: lead-sheet symbols by bar, `G | C . D7 . | N.C.`, fitted to the bars of their melody."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches

from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan
from bookbuild.lessons.report import MOST, Flaw, show, tell_length
from bookbuild.theory.chords import ALIASES, QUALITIES, Chord
from bookbuild.theory.meter import Meter

NO_CHORD = ("N.C.", "NC", "n.c.", "N.C")
"""Ways to write that nothing sounds."""

REPEAT = "."
"""Keeps the chord before."""

_TOKEN = re.compile(r"(?P<space>\s+|%[^\n]*)|(?P<bar>\|)|(?P<entry>[^\s|%]+)")
_ROOT = re.compile(r"[A-G](?:##|bb|[#b♯♭])?")


@dataclass(frozen=True)
class WrittenChords:
    """The spans of a chord line; `flaws` lie in single words, `misfits` in how the line fits the melody's bars."""

    spans: tuple[ChordSpan, ...]
    flaws: tuple[Flaw, ...]
    misfits: tuple[Flaw, ...]


@dataclass(frozen=True)
class _Entry:
    """A written entry: its place, the symbol (`.` repeats) and its own length if one was written."""

    offset: int
    symbol: str
    length: Fraction | None = None


def parse_chord_line(
    text: str, bars: tuple[Fraction, ...], meter: Meter, where: str, upbeat: bool = False, before: Chord | None = None
) -> WrittenChords:
    """Read the chords of a stretch whose melody has `bars` (lengths in whole notes).

    `upbeat` is True when the first bar is an upbeat: its chords may be left out, then it keeps the chord `before` the
    stretch (None at the tune's start). Equal neighbours come out as one span. Never raises.
    """
    flaws: list[Flaw] = []
    misfits: list[Flaw] = []
    written = _split_bars(text, flaws)
    if upbeat and len(written) == len(bars) - 1:
        written = [[_Entry(0, REPEAT)], *written]
    if not written:
        misfits.append(Flaw(0, f"{where} has no chords", "Write one symbol a bar, for example: G | C | D7 | G"))
    elif len(written) != len(bars):
        misfits.append(_count_flaw(text, written, bars, where, upbeat))
    spans: list[ChordSpan] = []
    onset, chord = Fraction(0), before
    for index, entries in enumerate(written):
        length = bars[index] if index < len(bars) else meter.bar
        lengths = _entry_lengths(entries, length, meter, f"bar {index if upbeat else index + 1} of {where}", misfits)
        for entry, share in zip(entries, lengths, strict=True):
            chord = _read_symbol(entry, chord, flaws)
            _append(spans, ChordSpan(onset, share, chord))
            onset += share
    return WrittenChords(tuple(spans), tuple(flaws), tuple(misfits))


def _split_bars(text: str, flaws: list[Flaw]) -> list[list[_Entry]]:
    bars: list[list[_Entry]] = [[]]
    for match in _TOKEN.finditer(text):
        if match["entry"]:
            bars[-1].append(_split_entry(match["entry"], match.start(), flaws))
        elif match["bar"] and bars[-1]:
            bars.append([])
        elif match["bar"] and len(bars) > 1:
            hint = "Write one | between bars; '.' keeps the chord for a bar."
            flaws.append(Flaw(match.start(), "two bar lines with nothing between them", hint))
    return [bar for bar in bars if bar]


def _split_entry(written: str, offset: int, flaws: list[Flaw]) -> _Entry:
    symbol, colon, length = written.partition(":")
    if not colon:
        return _Entry(offset, symbol)
    if re.fullmatch(r"[1-9][0-9]?/[1-9][0-9]?", length):
        return _Entry(offset, symbol, Fraction(length))
    hint = "Write it as a fraction of a whole note: G:3/8 lasts a dotted quarter."
    flaws.append(Flaw(offset + len(symbol) + 1, f"{show(length, 12)} is not a length", hint))
    return _Entry(offset, symbol)


def _count_flaw(text: str, written: list[list[_Entry]], bars: tuple[Fraction, ...], where: str, upbeat: bool) -> Flaw:
    hint = "Write one bar of chords for each bar of the melody; '.' keeps the chord."
    if upbeat:
        hint += " The upbeat's bar may be left out."
    if re.search(r"(^|\|)\s*%\s*(\||$)", text, re.MULTILINE):
        hint = "'%' begins a comment here; write '.' for a bar that keeps its chord."
    offset = written[len(bars)][0].offset if len(written) > len(bars) else written[-1][0].offset
    return Flaw(offset, f"the chords of {where} have {len(written)} bars, its melody {len(bars)}", hint)


def _entry_lengths(
    entries: list[_Entry], bar: Fraction, meter: Meter, name: str, misfits: list[Flaw]
) -> list[Fraction]:
    """How long each entry of a bar lasts; with a misfit the bar is divided evenly."""
    count = len(entries)
    stated = [entry.length for entry in entries if entry.length is not None]
    if len(stated) == count and sum(stated) == bar:
        return stated
    if not stated:
        lengths = divide_bar(count, bar, meter)
        if lengths:
            return lengths
        message = f"{count} chords do not divide {name} by its beats"
        hint = f"Write one chord, or one for each beat ('.' keeps it: {_example(meter)}), or lengths: G:3/8 D7:1/8."
    elif len(stated) < count:
        message = f"only some chords of {name} have a length"
        hint = "Give every chord of the bar its length, or none of them: G:3/8 D7:1/8."
    else:
        message = f"the chords of {name} last {tell_length(sum(stated, Fraction(0)))}, the bar {tell_length(bar)}"
        hint = "Mend the lengths behind the colons."
    misfits.append(Flaw(entries[0].offset, message, hint))
    return [bar / count] * count


def divide_bar(count: int, bar: Fraction, meter: Meter) -> list[Fraction]:
    """Equal shares of a bar by its beats; a short last bar may also be a full one cut off. Empty when neither fits."""
    beats = bar / meter.beat
    if count == 1 or (beats.denominator == 1 and (count % int(beats) == 0 or int(beats) % count == 0)):
        return [bar / count] * count
    step = meter.bar / count
    fits = count % meter.beats == 0 or meter.beats % count == 0
    if fits and step * (count - 1) < bar < meter.bar:
        return [step] * (count - 1) + [bar - step * (count - 1)]
    return []


def _example(meter: Meter) -> str:
    return " ".join(["G", *["."] * (meter.beats - 2), "D7"]) if meter.beats > 1 else "G"


def _read_symbol(entry: _Entry, previous: Chord | None, flaws: list[Flaw]) -> Chord | None:
    if entry.symbol == REPEAT:
        return previous
    if entry.symbol in NO_CHORD:
        return None
    try:
        return Chord.parse(entry.symbol)
    except ValueError:
        if len(flaws) <= MOST:
            message = f"{show(entry.symbol, 24)} is not a chord symbol"
            flaws.append(Flaw(entry.offset, message, hint_chord(entry.symbol)))
        return previous


def hint_chord(symbol: str) -> str:
    """What to write instead of a symbol that is not known."""
    symbol = symbol[:24]
    if re.match(r"[a-g](?![a-z]*\.)", symbol):
        return f"Chord letters are capitals: {symbol[0].upper()}{symbol[1:]}."
    if symbol.startswith("H"):
        return "Write B for B natural and Bb for B flat."
    match = _ROOT.match(symbol)
    if not match:
        return "A chord is a letter A–G, # or b, and its kind: G, Am, F#m7, D/F#. N.C. is no chord, '.' the same chord."
    kind = symbol[match.end() :].split("/")[0]
    near = [] if kind in QUALITIES or kind in ALIASES else get_close_matches(kind, [*QUALITIES, *ALIASES], 3, 0.4)
    if near:
        return "Did you mean " + " or ".join(match[0] + name for name in near) + "?"
    return "Known kinds: " + " ".join(name for name in QUALITIES if name) + "; a bass after /, for example D/F#."


def _append(spans: list[ChordSpan], span: ChordSpan) -> None:
    if spans and spans[-1].chord == span.chord:
        spans[-1] = ChordSpan(spans[-1].onset, spans[-1].length + span.length, span.chord)
    else:
        spans.append(span)
