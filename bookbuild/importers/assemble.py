"""From a written tune to the course's Tune: bars checked, strains named, ties merged, chords laid out."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import replace

from bookbuild.exact import Fraction
from bookbuild.importers.segments import divide_long_bars
from bookbuild.importers.strains import Plan, Strain, plan_strains
from bookbuild.importers.titles import clean_text, clean_title, split_dance, title_of_file
from bookbuild.importers.written import MOST_BARS, ImportedTune, TuneFault, WrittenBar, WrittenNote, WrittenTune
from bookbuild.lessons.model import ChordSpan, MelodyNote, Place, Rights, Section, Stretch, Tempo, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key
from bookbuild.theory.tempo import MAELZEL_MARKS

MOST_METERS = 4
LOWEST, HIGHEST = 21, 108
"""MIDI keys of a piano; melodies beyond are refused (the reader of tune files has the same limits)."""
SHORTEST = 64
"""Finest note value written; triplets, quintuplets and sextuplets of it included."""
USUAL_TEMPO = {"2/4": 96, "3/4": 132, "4/4": 112, "2/2": 88, "6/8": 104, "9/8": 104, "12/8": 104, "3/8": 152}
"""Goal of the tempo ladder by meter where a file states none (common practice, no source)."""
MINOR_THIRDS = 4
"""How many times longer minor thirds must sound than major ones for a melody stated in major to be in minor."""
MOST_SIGNS = 7
"""Sharps or flats of a key signature."""
START_SHARE = Fraction(6, 10)
"""First step of the ladder as a share of its goal (common practice, no source)."""


def assemble_tunes(written: WrittenTune, file: str) -> list[ImportedTune]:
    """Make the Tune of a written tune, or several where its meter changes between strains. Never raises TuneFault."""
    place = Place(file, written.line, 1 if written.line else 0)
    title, dance = split_dance(clean_title(written.title))
    origin = clean_text(written.origin)
    if dance and dance not in origin.lower():
        written = replace(written, origin=", ".join(filter(None, (origin, dance))))
    if not title:
        title, written = title_of_file(file), _remark(written, "it has no title: it is called after its file")
    elif written.title.isupper() and not title.isupper():
        written = _remark(written, "the title was in capitals: please check its small letters")
    try:
        runs = _split_meters(_open_with_upbeat(_drop_empty(written.bars)))
        made = []
        for number, run in enumerate(runs, start=1):
            part = title if len(runs) == 1 else f"{title} ({number}, {run[0].meter})"
            notes = list(written.notes)
            if len(runs) > 1:
                notes.append(f"the meter changes between strains: the tune was divided into {len(runs)} tunes")
            made.append(_assemble_run(written, part, run, notes, place))
        return made
    except TuneFault as fault:
        place = Place(file, fault.line or written.line, 1 if fault.line or written.line else 0)
        return [ImportedTune(title, place, None, written.notes, fault.reason)]


def _remark(written: WrittenTune, text: str) -> WrittenTune:
    return replace(written, notes=(text, *written.notes))


def _drop_empty(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Bars without notes hand their signs on: an opening sign to the next bar, a closing one to the last."""
    kept: list[WrittenBar] = []
    opens, segno = False, False
    ending: tuple[int, ...] = ()
    for bar in bars:
        if bar.notes:
            kept.append(replace(bar, opens=bar.opens or opens, ending=bar.ending or ending, segno=bar.segno or segno))
            opens, ending, segno = False, (), False
            continue
        opens, ending, segno = opens or bar.opens, ending or bar.ending, segno or bar.segno
        if kept:
            last = kept[-1]
            kept[-1] = replace(last, plays=max(last.plays, bar.plays), heavy=last.heavy or bar.heavy,
                               fine=last.fine or bar.fine, jump=last.jump or bar.jump,
                               ends_ending=last.ends_ending or bar.ends_ending)
    if not any(note.pitch for bar in kept for note in bar.notes):
        raise TuneFault("it has no notes")
    if len(kept) > MOST_BARS:
        raise TuneFault(f"it has {len(kept)} bars; a tune may have {MOST_BARS}")
    return kept


def _open_with_upbeat(bars: list[WrittenBar]) -> list[WrittenBar]:
    """An upbeat written as a full bar that begins with rests, half of it or more, becomes a short bar."""
    bar = bars[0]
    lead = next(note.onset for note in bar.notes if note.pitch) if any(note.pitch for note in bar.notes) else 0
    if len(bars) == 1 or 2 * lead < bar.meter.bar or bar.length != bar.meter.bar or bar.plays > 1:
        return bars
    notes = tuple(replace(note, onset=note.onset - lead) for note in bar.notes if note.onset >= lead)
    chords = tuple((max(Fraction(0), onset - lead), chord) for onset, chord in bar.chords)
    return [replace(bar, notes=notes, chords=chords, number=0), *bars[1:]]


def _split_meters(bars: list[WrittenBar]) -> list[list[WrittenBar]]:
    """Runs of one meter. A change is carried over only where a strain ends."""
    runs: list[list[WrittenBar]] = [[bars[0]]]
    for bar in bars[1:]:
        last = runs[-1][-1]
        if bar.meter == last.meter:
            runs[-1].append(bar)
        elif last.heavy or last.plays > 1 or last.ends_ending or bar.opens:
            runs.append([bar])
        else:
            raise TuneFault(f"the meter changes from {last.meter} to {bar.meter} inside a strain, at {bar.where}",
                            bar.line)
    if len(runs) > MOST_METERS:
        raise TuneFault(f"the meter changes {len(runs) - 1} times")
    return runs


def _assemble_run(written: WrittenTune, title: str, bars: list[WrittenBar], notes: list[str],
                  place: Place) -> ImportedTune:
    bars = _mend_mode(divide_long_bars(bars, notes), written.key, notes)
    plan = plan_strains(bars)
    notes += plan.notes
    plan.strains = [_check_strain(strain, notes) for strain in plan.strains]
    _mend_last_bars(plan, notes)
    key = bars[0].key or written.key
    sections, form = _name_sections(plan, key, notes)
    meter = bars[0].meter
    rights = Rights(clean_text(written.composer), clean_text(written.source), clean_text(written.statement))
    tune = Tune(make_slug(title), title, meter, key, fit_tempo(meter, written.tempo), sections, form, rights,
                clean_text(written.origin), place=place)
    return ImportedTune(title, place, tune, tuple(dict.fromkeys(notes)))


def _mend_mode(bars: list[WrittenBar], key: Key, notes: list[str]) -> list[WrittenBar]:
    """The bars in minor where the file says major and the melody has the minor third: collections leave the `m` out."""
    stated = bars[0].key or key
    minor = Key(stated.tonic, "minor")
    thirds = {mode: sum((note.length for bar in bars for note in bar.notes
                         if note.pitch and (bar.key or key) == stated and note.pitch.tone == third), Fraction(0))
              for mode, third in (("major", stated.tones[2]), ("minor", minor.tones[2]))}
    if stated.mode != "major" or abs(minor.signature) > MOST_SIGNS or thirds["minor"] <= MINOR_THIRDS * thirds["major"]:
        return bars
    notes.append(f"the key is stated as {stated.name}, the melody is in minor: {minor.name} was taken, please check")
    return [replace(bar, key=minor if (bar.key or key) == stated else bar.key) for bar in bars]


def _check_strain(strain: Strain, notes: list[str]) -> Strain:
    """Hold every bar to the meter: a long one is a fault, a short one inside the strain is filled with a rest."""
    body = _check_bars(strain.bars, notes, upbeat=True, last=not strain.endings)
    return Strain(body, tuple(_check_bars(ending, notes, upbeat=False, last=True) for ending in strain.endings))


def _check_bars(bars: tuple[WrittenBar, ...], notes: list[str], upbeat: bool, last: bool) -> tuple[WrittenBar, ...]:
    made = []
    for index, bar in enumerate(bars):
        full = bar.meter.bar
        _check_notes(bar)
        if bar.length > full:
            raise TuneFault(f"{bar.where} holds {bar.length}, more than the meter {bar.meter} allows", bar.line)
        edge = (upbeat and index == 0 and len(bars) > 1) or (last and index == len(bars) - 1)
        if bar.length < full and not edge:
            notes.append(f"{bar.where} lacks {full - bar.length} of a whole note: a rest fills it, please check")
            bar = fill_bar(bar)
        made.append(bar)
    return tuple(made)


def _check_notes(bar: WrittenBar) -> None:
    for note in bar.notes:
        if note.pitch and not LOWEST <= note.pitch.midi <= HIGHEST:
            raise TuneFault(f"{bar.where} has {note.pitch.name}, beyond every keyboard", bar.line)
        for moment in (note.onset, note.length):
            if (SHORTEST * 2 * 15) % moment.denominator:
                raise TuneFault(f"{bar.where} has a note of {note.length} of a whole note, which cannot be written",
                                bar.line)


def fill_bar(bar: WrittenBar) -> WrittenBar:
    """The bar with a rest at its end that makes it full."""
    missing = bar.meter.bar - bar.length
    return replace(bar, notes=(*bar.notes, WrittenNote(bar.length, missing, None)))


def _mend_last_bars(plan: Plan, notes: list[str]) -> None:
    """A last bar is full, or short by an upbeat of the tune; any other short one is filled with a rest."""
    upbeats = {s.bars[0].length for s in plan.strains if len(s.bars) > 1 and s.bars[0].length < s.bars[0].meter.bar}

    def mend(bars: tuple[WrittenBar, ...]) -> tuple[WrittenBar, ...]:
        bar = bars[-1]
        missing = bar.meter.bar - bar.length
        if not missing or missing in upbeats:
            return bars
        notes.append(f"{bar.where} lacks {missing} of a whole note: a rest fills it, please check")
        return (*bars[:-1], fill_bar(bar))

    plan.strains = [Strain(strain.bars, tuple(mend(ending) for ending in strain.endings)) if strain.endings
                    else Strain(mend(strain.bars)) for strain in plan.strains]


def _name_sections(plan: Plan, key: Key, notes: list[str]) -> tuple[tuple[Section, ...], tuple[str, ...]]:
    """Sections A, B, …; strains with the same notes and chords share a name."""
    sections: list[Section] = []
    names: dict[int, str] = {}
    chord: Chord | None = None
    for index, strain in enumerate(plan.strains):
        body, chord = _lay_out(strain.bars, chord, notes)
        made = [_lay_out(ending, chord, notes) for ending in strain.endings]
        endings = tuple(stretch for stretch, _ in made)
        chord = made[-1][1] if made else chord
        meter = strain.bars[0].meter
        upbeat = strain.bars[0].length if strain.bars[0].length < meter.bar else Fraction(0)
        section = Section(_letter(len(sections)), body, endings, upbeat, _find_key(strain, key, notes))
        same = next((known for known in sections if replace(section, name=known.name) == known), None)
        if same and same.endings and index and names[index - 1] == same.name:
            same = None  # a strain with endings is not played more often in a row than it has endings
        if same is None:
            sections.append(section)
        names[index] = (same or section).name
    return tuple(sections), tuple(names[index] for index in plan.order)


def _find_key(strain: Strain, key: Key, notes: list[str]) -> Key | None:
    """The strain's own key; None where it has the tune's. A change inside it is not carried over."""
    upbeat = len(strain.bars) > 1 and strain.bars[0].length < strain.bars[0].meter.bar
    first, *others = strain.all_bars[upbeat:]
    own = first.key or key
    change = next((bar for bar in others if (bar.key or key) != own), None)
    if change:
        notes.append(f"the key changes inside a strain, at {change.where}: it is written with accidentals")
    return None if own == key else own


def _letter(index: int) -> str:
    return chr(65 + index % 26) * (1 + index // 26)


def _lay_out(bars: Sequence[WrittenBar], chord: Chord | None, notes: list[str]) -> tuple[Stretch, Chord | None]:
    """A stretch of bars and the chord it ends on; `chord` is what sounds before."""
    onset = Fraction(0)
    melody: list[MelodyNote] = []
    changes: list[tuple[Fraction, Chord | None]] = [(Fraction(0), chord)]
    tied = False
    for bar in bars:
        for note in bar.notes:
            tied = _append_note(melody, replace(note, onset=note.onset + onset), tied)
        changes += [(onset + moment, symbol) for moment, symbol in bar.chords]
        onset += bar.length
    if tied:
        notes.append(f"the tie out of {bars[-1].where} crosses a repeat or the end of a strain: it was dropped")
    return Stretch(tuple(bar.length for bar in bars), tuple(melody), tuple(_spans(changes, onset))), changes[-1][1]


def _append_note(melody: list[MelodyNote], note: WrittenNote, tied: bool) -> bool:
    last = melody[-1] if melody else None
    if tied and last and last.pitch is not None and last.pitch == note.pitch:
        melody[-1] = replace(last, length=last.length + note.length, breath=note.breath)
    else:
        melody.append(MelodyNote(note.onset, note.length, note.pitch, breath=note.breath))
    return note.tied and note.pitch is not None


def _spans(changes: Sequence[tuple[Fraction, Chord | None]], end: Fraction) -> Iterator[ChordSpan]:
    by_onset = dict(sorted(changes, key=lambda change: change[0]))
    starts = [onset for onset in by_onset if onset < end]
    onset, chord = Fraction(0), by_onset[starts[0]]
    for start in starts[1:]:
        if by_onset[start] != chord:
            yield ChordSpan(onset, start - onset, chord)
            onset, chord = start, by_onset[start]
    yield ChordSpan(onset, end - onset, chord)


def fit_tempo(meter: Meter, stated: tuple[Fraction, Fraction] | None) -> Tempo:
    """The ladder's ends for a meter, from the tempo a file states (note value, per minute) or the usual one."""
    goal = Fraction(USUAL_TEMPO.get(str(meter), 100))
    if stated:
        goal = stated[1] * stated[0] / meter.beat
    goal = min(Fraction(208), max(Fraction(40), goal))
    start = max(mark for mark in MAELZEL_MARKS if mark <= max(Fraction(40), goal * START_SHARE))
    return Tempo(start, round(goal), meter.beat)


_DEVICES = re.compile(r"con|prn|aux|nul|com\d|lpt\d")
"""Names that Windows keeps for devices, whatever suffix stands behind them."""


def make_slug(title: str) -> str:
    """A file name without suffix: lower-case letters, digits and hyphens, at most 60 characters."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    plain = re.sub(r"['’]", "", plain)
    slug = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60].strip("-") or "tune"
    return f"{slug}-tune" if _DEVICES.fullmatch(slug) else slug
