"""Chord lines: lead-sheet symbols by bar, `G | C . D7 . | N.C.`, fitted to the bars of their melody."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction

from bookbuild.lessons.model import ChordSpan
from bookbuild.lessons.report import Flaw, tell_length
from bookbuild.theory.chords import ALIASES, QUALITIES, Chord
from bookbuild.theory.meter import Meter

NO_CHORD = ("N.C.", "NC", "n.c.", "N.C")
REPEAT = "."

_TOKEN = re.compile(r"(?P<space>\s+|%[^\n]*)|(?P<bar>\|)|(?P<entry>[^\s|%]+)")


@dataclass(frozen=True)
class _Entry:
    """A written entry: its place, the symbol (`.` repeats) and its own length if one was written."""

    offset: int
    symbol: str
    length: Fraction | None


def parse_chord_line(text: str, bars: tuple[Fraction, ...], meter: Meter, where: str, upbeat: bool = False,
                     before: Chord | None = None) -> tuple[tuple[ChordSpan, ...], list[Flaw]]:
    """Read the chords of a stretch whose melody has `bars` (lengths in whole notes).

    `upbeat` is True when the first bar is an upbeat: its chords may be left out, then it keeps the chord `before` the
    stretch (None at the tune's start). Equal neighbours come out as one span. Never raises.
    """
    written, flaws = _split_bars(text)
    if upbeat and len(written) == len(bars) - 1:
        written = [[_Entry(0, REPEAT, None)], *written]
    if not written:
        return (), [*flaws, Flaw(0, f"{where} has no chords", "Write one symbol a bar, for example: G | C | D7 | G")]
    if len(written) != len(bars):
        flaws.append(_count_flaw(text, written, bars, where, upbeat))
    spans: list[ChordSpan] = []
    onset, chord = Fraction(0), before
    for index, (entries, length) in enumerate(zip(written, bars, strict=False)):
        number = index if upbeat else index + 1
        lengths = _entry_lengths(entries, length, meter, f"bar {number} of {where}", flaws)
        for entry, share in zip(entries, lengths, strict=True):
            chord = _read_symbol(entry, chord, flaws)
            _append(spans, ChordSpan(onset, share, chord))
            onset += share
    for entries in written[len(bars):]:
        for entry in entries:
            _read_symbol(entry, None, flaws)
    return tuple(spans), flaws


def _split_bars(text: str) -> tuple[list[list[_Entry]], list[Flaw]]:
    bars: list[list[_Entry]] = [[]]
    flaws: list[Flaw] = []
    for match in _TOKEN.finditer(text):
        if match["bar"]:
            if not bars[-1] and len(bars) > 1:
                flaws.append(Flaw(match.start(), "two bar lines with nothing between them",
                                  "Write one | between bars; '.' keeps the chord for a bar."))
            elif bars[-1]:
                bars.append([])
        elif match["entry"]:
            bars[-1].append(_split_entry(match, flaws))
    return [bar for bar in bars if bar], flaws


def _split_entry(match: re.Match[str], flaws: list[Flaw]) -> _Entry:
    symbol, colon, length = match["entry"].partition(":")
    if not colon:
        return _Entry(match.start(), symbol, None)
    if re.fullmatch(r"[0-9]{1,3}/[0-9]{1,3}", length) and int(length.split("/")[1]) and Fraction(length):
        return _Entry(match.start(), symbol, Fraction(length))
    flaws.append(Flaw(match.start() + len(symbol) + 1, f"'{length[:12]}' is not a length",
                      "Write it as a fraction of a whole note: G:3/8 lasts a dotted quarter."))
    return _Entry(match.start(), symbol, None)


def _count_flaw(text: str, written: list[list[_Entry]], bars: tuple[Fraction, ...], where: str, upbeat: bool) -> Flaw:
    hint = "Write one bar of chords for each bar of the melody; '.' keeps the chord."
    if upbeat:
        hint += " The upbeat's bar may be left out."
    if re.search(r"\|\s*%\s*(\||$)", text):
        hint = "'%' begins a comment here; write '.' for a bar that keeps its chord."
    offset = written[len(bars)][0].offset if len(written) > len(bars) else written[-1][0].offset
    return Flaw(offset, f"the chords of {where} have {len(written)} bars, its melody {len(bars)}", hint)


def _entry_lengths(entries: list[_Entry], bar: Fraction, meter: Meter, name: str, flaws: list[Flaw]) -> list[Fraction]:
    """How long each entry lasts; with a flaw the bar is divided evenly."""
    count = len(entries)
    even = [bar / count] * count
    stated = [entry.length for entry in entries if entry.length is not None]
    if stated:
        if len(stated) < count:
            flaws.append(Flaw(entries[0].offset, f"only some chords of {name} have a length",
                              "Give every chord of the bar its length, or none of them: G:3/8 D7:1/8."))
            return even
        if sum(stated) != bar:
            flaws.append(Flaw(entries[0].offset, f"the chords of {name} last {tell_length(sum(stated))}, "
                              f"the bar {tell_length(bar)}", "Mend the lengths behind the colons."))
            return even
        return stated
    beats = bar / meter.beat
    if count == 1 or (beats.denominator == 1 and (count % int(beats) == 0 or int(beats) % count == 0)):
        return even
    step = meter.bar / count
    if bar < meter.bar and step * (count - 1) < bar and (count % meter.beats == 0 or meter.beats % count == 0):
        return [step] * (count - 1) + [bar - step * (count - 1)]
    flaws.append(Flaw(entries[0].offset, f"{count} chords do not divide {name} by its {meter.beats} beats",
                      f"Write one chord, or one for each beat ('.' keeps it: {_example(meter)}), or lengths: G:3/8 D7:1/8."))
    return even


def _example(meter: Meter) -> str:
    return " ".join(["G", *["."] * (meter.beats - 2), "D7"]) if meter.beats > 1 else "G"


def _read_symbol(entry: _Entry, previous: Chord | None, flaws: list[Flaw]) -> Chord | None:
    if entry.symbol == REPEAT:
        return previous
    if entry.symbol in NO_CHORD:
        return None
    try:
        return Chord.parse(entry.symbol)
    except ValueError as error:
        flaws.append(Flaw(entry.offset, str(error), hint_chord(entry.symbol)))
        return previous


def hint_chord(symbol: str) -> str:
    """What to write instead of a symbol that is not known."""
    if re.match(r"[a-g]", symbol):
        return f"Chord letters are capitals: {symbol[0].upper()}{symbol[1:]}."
    if symbol.startswith("H"):
        return "Write B for B natural and Bb for B flat."
    match = re.match(r"[A-G](?:##|bb|[#b♯♭])?", symbol)
    if not match:
        return "A chord is a letter A–G, # or b, and its kind: G, Am, F#m7, Bb7, D/F#. N.C. means no chord, '.' the same chord."
    kind = symbol[match.end():].split("/")[0]
    near = get_close_matches(kind, [*QUALITIES, *ALIASES], n=3, cutoff=0.4)
    if near:
        return "Did you mean " + " or ".join(match[0] + name for name in near) + "?"
    return "Known kinds: " + " ".join(name for name in QUALITIES if name) + "."


def _append(spans: list[ChordSpan], span: ChordSpan) -> None:
    if spans and spans[-1].chord == span.chord:
        spans[-1] = ChordSpan(spans[-1].onset, spans[-1].length + span.length, span.chord)
    else:
        spans.append(span)
