"""Suggested chords: exactness of the search by brute force, cadences, instruments; agreement is measured elsewhere."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.arrange import harmony_rules as rules
from bookbuild.arrange.harmonise import (
    cut_slices,
    find_harmony_key,
    find_walk,
    fit_chord,
    list_palette,
    suggest_chords,
)
from bookbuild.importers.abc import read_abc
from bookbuild.lessons.model import Course, Instrument, MelodyNote, Section, Stretch, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Interval, Key, Pitch, Tone

ROWS = ("bass", "major", "minor", "seventh")


def instrument(columns: int = 12, first: str = "Db", rows: tuple[str, ...] = ROWS) -> Instrument:
    return Instrument("x", "x", Pitch.from_name("F3"), Pitch.from_name("A6"), rows, Tone.parse(first), columns)


def tune_of(body: str, key: str = "C", meter: str = "4/4") -> Tune:
    tune = read_abc(f"X:1\nM:{meter}\nL:1/8\nK:{key}\n{body}\n", "t.abc")[0].tune
    assert tune is not None
    return tune


def chords_of(tune: Tune, name: str = "A") -> list[str]:
    return [span.chord.symbol for span in tune.section(name).body.chords if span.chord]


def total(slices: list, walk: list[Chord], key: Key) -> float:  # type: ignore[type-arg]
    """The walk's gain by the rules, written out anew: notes, likings, steps, edges, cadence."""
    gain = 0.0
    last_bar = max(index for index, part in enumerate(slices) if not part.inside)
    for index, (part, chord) in enumerate(zip(slices, walk, strict=True)):
        gain += fit_chord(chord, part.heard) + rules.like_chord(chord, key)
        if index:
            before = walk[index - 1]
            gain += rules.step_gain(before, chord)
            eased = ((index + 1 == last_bar and rules.is_dominant(chord, key))
                     or (index > last_bar and rules.is_tonic(chord, key)))
            gain += (rules.LEAD_IN if eased else rules.MID_BAR) if part.inside and before != chord else 0.0
            if index >= last_bar and rules.is_dominant(before, key) and rules.is_tonic(chord, key):
                gain += rules.CADENCE
        if not index and rules.is_tonic(chord, key):
            gain += rules.FIRST
    if rules.is_tonic(walk[-1], key):
        gain += rules.LAST
    return gain


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="CDEFGABcdefg", min_size=16, max_size=16))
def test_the_walk_is_the_best_of_all_walks(letters: str) -> None:
    """Brute force over five chords and four half bars."""
    tune = tune_of(f"{letters[:8]}|{letters[8:]}|]")
    key = Key.parse("C major")
    palette = [Chord.parse(symbol) for symbol in ("C", "F", "G7", "Am", "Dm")]
    slices = cut_slices(tune.sections[0].body, tune.meter)
    walk = find_walk(slices, key, palette, opening=True, final=True)
    best = max(total(slices, list(other), key) for other in product(palette, repeat=len(slices)))
    assert total(slices, walk, key) == pytest.approx(best)


def test_a_plain_cadence() -> None:
    suggested = suggest_chords(tune_of("CEGc CEGc|FAcA FAcA|GBdB GBdf|c4 c4|]"), instrument())
    assert suggested.chords_suggested
    chords = chords_of(suggested)
    assert chords[0] == "C"
    assert chords[1] == "F"
    assert chords[2] in ("G", "G7")
    assert chords[-1] == "C"


def test_a_minor_tune_closes_with_its_dominant() -> None:
    suggested = suggest_chords(tune_of("A2c2 e2c2|d2f2 a2f2|e2^g2 b2e2|a4 A4|]", key="Am"), instrument())
    chords = chords_of(suggested)
    assert chords[0] == "Am"
    assert "Dm" in chords
    assert chords[-2] in ("E", "E7")
    assert chords[-1] == "Am"


def test_a_minor_cadence_takes_its_dominant_in_the_second_half_of_the_bar_before_the_last() -> None:
    """Common practice, no source; the melody's E and B bear the dominant there."""
    tune = suggest_chords(tune_of("A2c2 e2c2|d2f2 a2f2|d2f2 e2B2|A8|]", key="Am"), instrument())
    assert chords_of(tune) == ["Am", "Dm", "E7", "Am"]
    spans = tune.sections[0].body.chords
    assert spans[2].onset == Fraction(5, 2)


def test_a_stated_mode_is_kept() -> None:
    """G and D chords would carry most of it; the signature is the same."""
    tune = tune_of("G2BG DGBG|G2Bc dBAB|cABG AGEF|G2BG A4|]", key="Ador")
    assert find_harmony_key(tune, instrument()).name == "A dorian"


def test_an_upbeat_takes_the_chord_it_leads_to() -> None:
    tune = suggest_chords(tune_of("GA|B2d2 B2G2|A2F2 D2F2|G2B2 d2B2|A2F2 G2|]", key="G"), instrument())
    spans = tune.sections[0].body.chords
    assert spans[0].chord is not None
    assert (spans[0].chord.symbol, spans[0].onset) == ("G", 0)
    assert spans[0].end >= Fraction(3, 4)


def test_a_strain_does_not_stand_on_one_chord() -> None:
    """A reel round its tonic; an accompanist plays a dominant somewhere (common practice, no source)."""
    tune = suggest_chords(tune_of("B3A BGEF|GABd efge|B3A BGEF|GBAF EFGA|B3A BGEF|GABd efge|B3A BGEF|GBAF EFGE|]",
                                  key="Em", meter="2/2"), instrument())
    assert {"Em", "B7"} <= set(chords_of(tune))


def test_a_strain_in_the_relative_minor_leaves_the_other_in_major() -> None:
    major, minor = "d2f2 a2f2|g2e2 c2A2|d2f2 a2f2|e2c2 d4", "b2f2 d2B2|f2^a2 c2f2|b2f2 d2B2|f2^a2 b4"
    tune = suggest_chords(tune_of(f"{major}||{minor}|]", key="D"), instrument())
    assert (chords_of(tune)[0], chords_of(tune)[-1]) == ("D", "D")
    assert (chords_of(tune, "B")[0], chords_of(tune, "B")[-1]) == ("Bm", "Bm")


def test_a_section_in_its_own_key_closes_in_it() -> None:
    tune = suggest_chords(tune_of("G2B2 d2B2|G2B2 d2B2|A2F2 D2F2|G8||[K:D]f2a2 d2f2|a2f2 d2f2|e2c2 A2c2|d8|]", key="G"),
                          instrument())
    assert chords_of(tune, "B")[-2:] == ["A7", "D"]


def test_a_mixolydian_tune_takes_the_chord_under_the_tonic() -> None:
    suggested = suggest_chords(tune_of("D2F2 A2F2|C2E2 G2E2|C2E2 G2c2|A2F2 D4|]", key="Dmix"), instrument())
    assert "C" in chords_of(suggested)
    assert chords_of(suggested)[-1] == "D"


def test_a_tune_stated_in_its_relative_key_is_found() -> None:
    """Many files state the signature only: G for a tune in E minor."""
    tune = tune_of("E2G2 B2e2|B2A2 G2F2|E2G2 B2e2|^d2B2 e4|]", key="G")
    assert find_harmony_key(tune, instrument()).name == "E minor"
    assert chords_of(suggest_chords(tune, instrument()))[-1] == "Em"


@pytest.mark.parametrize(("columns", "first", "rows"), [
    (4, "F", ("bass", "major")), (6, "Bb", ("bass", "major")), (8, "Eb", ("bass", "major", "minor")),
    (12, "Db", ("counterbass", "bass", "major", "minor")), (20, "Bbb", ("counterbass", *ROWS))])
def test_only_chords_the_instrument_has(columns: int, first: str, rows: tuple[str, ...]) -> None:
    have = instrument(columns, first, rows)
    allowed = {(chord.root.pc, chord.quality) for chord in list_palette(have, Key.parse("C major"))}
    suggested = suggest_chords(tune_of("CEGc cBAG|FAcf edcB|^FAce dBGD|E2D2 C4|]"), have)
    used = {(Chord.parse(symbol).root.pc, Chord.parse(symbol).quality) for symbol in chords_of(suggested)}
    assert used <= allowed
    assert used


def test_an_instrument_without_chord_rows_leaves_the_tune() -> None:
    tune = tune_of("C8|]")
    assert suggest_chords(tune, instrument(rows=("counterbass", "bass"))) == tune


def test_every_ending_follows_the_body() -> None:
    tune = tune_of("|:CEGc CEGc|FAcA FAcA|1 GBdB GBdB:|2 GBdB c4|]")
    suggested = suggest_chords(tune, instrument())
    first, second = suggested.sections[0].endings
    assert [s.chord.root.name for s in first.chords if s.chord][-1] == "G"
    assert [s.chord.symbol for s in second.chords if s.chord][-1] == "C"


def transposed(tune: Tune, interval: Interval) -> Tune:
    def move(stretch: Stretch) -> Stretch:
        notes = tuple(replace(n, pitch=n.pitch.transpose(interval) if n.pitch else None) for n in stretch.notes)
        return replace(stretch, notes=notes)

    sections = tuple(replace(s, body=move(s.body), endings=tuple(map(move, s.endings))) for s in tune.sections)
    return replace(tune, key=tune.key.transpose(interval), sections=sections)


@settings(max_examples=40, deadline=None)
@given(st.text(alphabet="CDEFGABcdefg", min_size=16, max_size=32), st.sampled_from([(4, 7), (1, 2), (2, 3), (3, 5)]))
def test_a_transposed_tune_has_transposed_chords(letters: str, by: tuple[int, int]) -> None:
    """On an instrument with every column; the found key may differ in a tie, so the stated one is made certain."""
    letters = letters[: len(letters) // 8 * 8]
    tune = tune_of("|".join(letters[i:i + 8] for i in range(0, len(letters), 8)) + "|]")
    have, interval = instrument(20, "Bbb"), Interval(*by)
    slices = cut_slices(tune.sections[0].body, tune.meter)
    moved = transposed(tune, interval)
    moved_slices = cut_slices(moved.sections[0].body, tune.meter)
    first = find_walk(slices, tune.key, list_palette(have, tune.key), True, True)
    second = find_walk(moved_slices, moved.key, list_palette(have, moved.key), True, True)
    shift = interval.semitones
    gain = total(slices, first, tune.key)
    assert total(moved_slices, second, moved.key) == pytest.approx(gain)
    assert total(slices, [_like(c, tune.key, -shift) for c in second], tune.key) == pytest.approx(gain)


def _like(chord: Chord, key: Key, shift: int) -> Chord:
    return Chord(key.spell((chord.root.pc + shift) % 12), chord.quality)


@pytest.mark.parametrize(("text", "count"), [
    ("2/4", 1), ("3/4", 1), ("6/8", 2), ("4/4", 2), ("2/2", 2), ("12/8", 2), ("9/8", 1)])
def test_slices_are_bars_or_half_bars(text: str, count: int) -> None:
    meter = Meter.parse(text)
    bar = meter.bar
    stretch = Stretch((bar, bar), (MelodyNote(Fraction(0), 2 * bar, Pitch.from_name("C5")),), ())
    slices = cut_slices(stretch, meter)
    assert len(slices) == 2 * count
    assert sum(part.length for part in slices) == 2 * bar
    assert [part.inside for part in slices] == [i % count != 0 for i in range(2 * count)]


def test_a_last_bar_that_leaves_room_for_an_upbeat_is_divided_too() -> None:
    tune = suggest_chords(tune_of("AG|F2A2 D2F2|G2B2 d2B2|A2F2 D2F2|edce d2|]", key="D"), instrument())
    assert chords_of(tune)[-2:] == ["A7", "D"]
    body = tune.sections[0].body
    assert body.chords[-1].onset == body.length - Fraction(1, 4)


def test_suggested_chords_fill_every_stretch(course: Course) -> None:
    """For the demo course's own tunes, and their own chords are met in at least half of the time (own music, so this
    guards against breakage only)."""
    have = course.instruments[course.default_instrument]
    agreed = beats = 0
    for tune in course.tunes.values():
        suggested = suggest_chords(tune, have)
        for own, new in zip(tune.sections, suggested.sections, strict=True):
            for mine, made in zip((own.body, *own.endings), (new.body, *new.endings), strict=True):
                assert sum(span.length for span in made.chords) == made.length
                now = Fraction(0)
                while now < mine.length:
                    theirs, ours = (next(span.chord for span in spans if span.onset <= now < span.end)
                                    for spans in (mine.chords, made.chords))
                    if theirs and ours:
                        beats += 1
                        agreed += theirs.root.pc == ours.root.pc
                    now += tune.meter.beat
    assert agreed >= 0.5 * beats


def test_a_section_without_notes_is_filled() -> None:
    bar = Fraction(1)
    tune = tune_of("C8|]")
    rest = replace(tune.sections[0].body.notes[0], pitch=None)
    silent = replace(tune, sections=(Section("A", Stretch((bar,), (rest,), ())),), form=("A",))
    assert chords_of(suggest_chords(silent, instrument())) == ["C"]
