"""Voices as engraver text: ties, tuplets and rests fill every bar, whatever the arranger hands over."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.arrange.model import Bar, Event, Role, Voice
from bookbuild.engrave.voices import cut_at_bars, engrave_voice, group_tuplets, list_accents
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Pitch

G5 = (Pitch.from_lily("g''"),)
METERS = [Meter(2, 4), Meter(3, 4), Meter(4, 4), Meter(6, 8), Meter(9, 8), Meter(2, 2)]


def bars_of(meter: Meter, count: int) -> tuple[Bar, ...]:
    return tuple(Bar(meter.bar * i, meter.bar, i + 1) for i in range(count))


@st.composite
def voices(draw: st.DrawFn) -> tuple[Meter, Voice, tuple[Bar, ...]]:
    """Random notes and rests on sixteenths and on triplets, held over beats and barlines at will."""
    meter = draw(st.sampled_from(METERS))
    bars = bars_of(meter, draw(st.integers(1, 3)))
    end = bars[-1].end
    edges = {F(0), end}
    for beat in range(int(end / meter.beat)):
        division = draw(st.sampled_from([1, 2, 3, 4, 6]))
        places = [meter.beat * (beat + F(k, division)) for k in range(division)]
        edges |= {place for place in places if draw(st.booleans())}
    row = sorted(edges)
    events = tuple(Event(a, b - a, G5 if draw(st.booleans()) else ()) for a, b in itertools.pairwise(row))
    return meter, Voice(Role.MELODY, events), bars


@given(voices())
def test_pieces_fill_each_bar_and_tuplets_close(made: tuple[Meter, Voice, tuple[Bar, ...]]) -> None:
    meter, voice, bars = made
    for bar, row in zip(bars, cut_at_bars(voice, bars, meter), strict=True):
        groups = group_tuplets(row, meter)
        assert sum((piece.length for _, group in groups for piece in group), F(0)) == bar.length
        for odd, group in groups:
            if odd > 1:
                length = sum((piece.length for piece in group), F(0))
                assert length.denominator & (length.denominator - 1) == 0


@given(voices())
def test_any_voice_can_be_written(made: tuple[Meter, Voice, tuple[Bar, ...]]) -> None:
    meter, voice, bars = made
    text = engrave_voice(voice, bars, meter)
    assert text.count("g''") >= sum(1 for event in voice.events if event.pitches)


def test_a_triplet_is_written_three_in_the_time_of_two() -> None:
    third = F(1, 12)
    voice = Voice(Role.MELODY, (*tuple(Event(third * i, third, G5) for i in range(3)), Event(F(1, 4), F(1, 4), G5)))
    text = engrave_voice(voice, bars_of(Meter(2, 4), 1), Meter(2, 4))
    assert "\\tuplet 3/2" in text or "\\times 2/3" in text
    assert text.count("g''8") == 3


def test_a_note_over_the_barline_is_tied() -> None:
    voice = Voice(Role.MELODY, (Event(F(0), F(1, 4), G5), Event(F(1, 4), F(1, 2), G5), Event(F(3, 4), F(1, 4), G5)))
    text = engrave_voice(voice, bars_of(Meter(2, 4), 2), Meter(2, 4))
    assert text.count("~") == 1
    assert text.count("g''4") == 4


@pytest.mark.parametrize(("role", "order"), [(Role.MELODY, "-1-2-5"), (Role.FILL, "-5-2-1")])
def test_stacked_fingers_read_from_the_top(role: Role, order: str) -> None:
    pitches = tuple(Pitch.from_lily(name) for name in ("g'", "b'", "g''"))
    voice = Voice(role, (Event(F(0), F(1, 2), pitches, fingers=(1, 2, 5)),))
    assert order in engrave_voice(voice, bars_of(Meter(2, 4), 1), Meter(2, 4))


def accented(bars: tuple[Bar, ...], *onsets: F) -> Voice:
    """Quarters to the end of the bars, those at the given onsets accented."""
    count = int(bars[-1].end / F(1, 4))
    return Voice(Role.LEFT, tuple(Event(F(k, 4), F(1, 4), G5, accent=F(k, 4) in onsets) for k in range(count)))


def test_accents_stand_where_their_pattern_is_new_and_sim_where_it_goes_on() -> None:
    bars = bars_of(Meter(2, 4), 4)
    assert list_accents(accented(bars, F(0), F(1, 2), F(1), F(3, 2)), bars) == {F(0): True, F(1, 2): False}
    changed = accented(bars, F(0), F(3, 4), F(1), F(7, 4))
    assert list_accents(changed, bars) == {F(0): True, F(3, 4): True, F(1): False}


def test_a_last_bar_that_breaks_the_pattern_off_shows_no_accents() -> None:
    bars = bars_of(Meter(2, 4), 3)
    voice = accented(bars, F(0), F(1, 4), F(1, 2), F(3, 4), F(1))
    assert list_accents(voice, bars) == {F(0): True, F(1, 4): True, F(1, 2): False}


def test_a_new_section_shows_its_accents_again() -> None:
    first, second, third, fourth = bars_of(Meter(2, 4), 4)
    bars = (replace(first, section="A"), second, replace(third, section="B"), fourth)
    assert list_accents(accented(bars, F(0), F(1, 2), F(1), F(3, 2)), bars) == {
        F(0): True, F(1, 2): False, F(1): True}


def test_sim_is_written_once_and_accents_left_out_are_not() -> None:
    bars = bars_of(Meter(2, 4), 4)
    text = engrave_voice(accented(bars, F(0), F(1, 2), F(1), F(3, 2)), bars, Meter(2, 4))
    assert text.count("->") == 1
    assert text.count("\\simile") == 1


def test_a_bar_without_fill_is_written_for_one_voice() -> None:
    bars = bars_of(Meter(2, 4), 3)
    melody = Voice(Role.MELODY, tuple(Event(F(k, 2), F(1, 2), G5) for k in range(3)))
    fill = Voice(Role.FILL, (Event(F(0), F(5, 8), hidden=True), Event(F(5, 8), F(1, 8), G5),
                             Event(F(3, 4), F(3, 4), hidden=True)))
    text = engrave_voice(melody, bars, Meter(2, 4), beneath=fill)
    assert [word for word in text.split() if word.startswith(("\\oneVoice", "\\voiceOne"))] == [
        "\\oneVoice", "\\voiceOne", "\\oneVoice"]


def test_a_finger_makes_room_for_the_tie_that_begins_at_its_note() -> None:
    voice = Voice(Role.MELODY, (Event(F(0), F(3, 4), G5, fingers=(4,)), Event(F(3, 4), F(1, 4), G5, fingers=(5,))))
    text = engrave_voice(voice, bars_of(Meter(2, 4), 2), Meter(2, 4))
    assert "padding #1.1 -4" in text
    chord = Voice(Role.MELODY, (Event(F(0), F(1), (G5[0], Pitch.from_lily("b''")), fingers=(1, 2)),))
    assert engrave_voice(chord, bars_of(Meter(2, 4), 2), Meter(2, 4)).count("padding") == 1
    assert "padding #1.1 -5" not in text


@pytest.mark.parametrize(
    ("meter", "lengths", "ratio"),
    [
        # A sixteenth, three sixteenths in the time of two, a sixteenth: the triplet begins beside every eighth.
        (Meter(2, 4), (F(1, 16), F(1, 24), F(1, 24), F(1, 24), F(1, 16), F(1, 4)), 3),
        # Held over the beat as well: cut there.
        (Meter(2, 2), (F(1, 8), F(1, 24), F(3, 16), F(1, 16), F(7, 12)), 3),
    ],
)
def test_a_tuplet_may_begin_beside_its_place(meter: Meter, lengths: tuple[F, ...], ratio: int) -> None:
    starts = [sum(lengths[:index], F(0)) for index in range(len(lengths))]
    events = tuple(Event(start, length, G5) for start, length in zip(starts, lengths, strict=True))
    voice, bars = Voice(Role.MELODY, events), bars_of(meter, 1)
    (row,) = cut_at_bars(voice, bars, meter)
    groups = group_tuplets(row, meter)
    assert sum((piece.length for _, group in groups for piece in group), F(0)) == meter.bar
    assert {odd for odd, group in groups if len(group) > 1} == {ratio}
    assert all(group[0].onset.denominator in (1, 2, 4, 8, 16) for _, group in groups)
    # As abjad 3.19 and as 3.31 writes it.
    text = engrave_voice(voice, bars, meter)
    assert "\\times 2/3" in text or "\\tuplet 3/2" in text
