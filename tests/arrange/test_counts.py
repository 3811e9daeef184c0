"""Counting under every slot: which syllables are struck, between, held; triplets, upbeats, tables without a row."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from bookbuild.arrange.counts import count_bars, slots_for
from bookbuild.arrange.model import Bar, BellowsSpan, CountState, Direction, Event, Role, Voice
from bookbuild.lessons.model import Counting
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Pitch

AMERICAN = Counting("american", "", {1: ("n",), 2: ("n", "&"), 3: ("n", "la", "li"), 4: ("n", "e", "&", "a")},
                    {1: ("n",), 3: ("n", "&", "a")})
G = (Pitch.from_lily("g'"),)
TWO, SIX = Meter(2, 4), Meter(6, 8)


def voice(role: Role, *lengths: F) -> Voice:
    events, now = [], F(0)
    for length in lengths:
        events.append(Event(now, abs(length), G if length > 0 else ()))
        now += abs(length)
    return Voice(role, tuple(events))


def spoken(bars: list[Bar], meter: Meter, voices: list[Voice], slots: int, counting: Counting = AMERICAN) -> str:
    """Syllables with their state: `1!` struck, `&` between, `(a)` held."""
    marks = {CountState.STRUCK: "{}!", CountState.OFF: "{}", CountState.HELD: "({})"}
    return " ".join(marks[c.state].format(c.text) for c in count_bars(bars, meter, voices, counting, slots))


def test_held_places_keep_their_count() -> None:
    bars = [Bar(F(0), F(1, 2), 1)]
    assert spoken(bars, TWO, [voice(Role.MELODY, F(3, 8), F(1, 8))], 2) == "1! (&) (2) &!"


def test_the_left_hand_alone_is_the_main_voice_and_beside_a_melody_it_is_not() -> None:
    bars = [Bar(F(0), F(1, 2), 1)]
    left = voice(Role.LEFT, F(1, 4), F(1, 8), F(1, 8))
    assert spoken(bars, TWO, [left], 2) == "1! (&) 2! &!"
    assert spoken(bars, TWO, [voice(Role.MELODY, F(1, 2)), left], 2) == "1! (&) 2 &"


def test_a_triplet_is_counted_in_three_and_its_neighbour_is_not() -> None:
    bars = [Bar(F(0), F(1, 2), 1)]
    melody = voice(Role.MELODY, F(1, 12), F(1, 12), F(1, 12), F(1, 4))
    assert spoken(bars, TWO, [melody], 4) == "1! la! li! 2! (e) (&) (a)"


def test_syllables_that_name_values_divide_a_beat_only_where_notes_do() -> None:
    """A quarter is "ta" and never "ti ti", whatever the groove's grid (Kodály's names of values)."""
    named = Counting("values", "", {1: ("ta",), 2: ("ti", "ti"), 4: ("ti", "ka", "ti", "ka")}, {}, by_value=True)
    bars = [Bar(F(0), F(1, 2), 1), Bar(F(1, 2), F(1, 2), 2)]
    melody = voice(Role.MELODY, F(1, 4), F(1, 8), F(1, 8), F(1, 2))
    assert spoken(bars, TWO, [melody], 4, named) == "ta! ti! ti! ta! (ta)"
    left = voice(Role.LEFT, F(1, 8), F(1, 8), F(1, 4), F(3, 16), F(1, 16), F(1, 4))
    assert spoken(bars, TWO, [melody, left], 4, named) == "ti! ti ti! ti! ti! (ka) (ti) ka ta"


def test_an_upbeat_is_counted_as_the_end_of_a_bar() -> None:
    bars = [Bar(F(0), F(1, 8), 0), Bar(F(1, 8), F(1, 2), 1)]
    assert spoken(bars, TWO, [voice(Role.MELODY, F(1, 8), F(1, 4), F(1, 4))], 2) == "&! 1! (&) 2! (&)"


def test_a_division_without_a_row_is_counted_on_the_next_coarser_grid() -> None:
    bars = [Bar(F(0), F(3, 4), 1)]
    sixths = voice(Role.LEFT, *[F(1, 16)] * 12)
    assert spoken(bars, SIX, [sixths], 6) == "1! &! a! 2! &! a!"


def test_every_stroke_of_a_shake_is_counted_and_the_bars_round_it_are_not() -> None:
    bars = [Bar(F(0), F(1, 2), 1), Bar(F(1, 2), F(1, 2), 2)]
    melody = voice(Role.MELODY, F(1, 4), F(1, 4), *[F(1, 16)] * 8)
    shake = BellowsSpan(F(1, 2), F(1), Direction.OPEN, F(1, 16))
    made = count_bars(bars, TWO, [melody], AMERICAN, 2, (shake,))
    assert " ".join(count.text for count in made) == "1 & 2 & 1 e & a 2 e & a"


TAKADIMI = Counting("takadimi", "", {1: ("ta",), 3: ("ta", "ki", "da"), 4: ("ta", "ka", "di", "mi")},
                    {1: ("ta",), 2: ("ta", "di"), 6: ("ta", "va", "ki", "di", "da", "ma")})


@pytest.mark.parametrize(("meter", "lengths", "struck"), [
    # Hoffman, Pelto & White, J. Music Theory Pedagogy 10 (1996) 7-30: a syllable belongs to its place in the beat;
    # ties, dots and rests do not change it. Lengths in sixteenths.
    (TWO, (2, 1, 1), "ta di mi"), (TWO, (1, 1, 2), "ta ka di"), (TWO, (3, 1), "ta mi"), (TWO, (1, 3), "ta ka"),
    (TWO, (1, 2, 1), "ta ka mi"), (TWO, (4, 2, 2), "ta ta di"), (TWO, (6, 2), "ta di"),
    (TWO, (F(4, 3), F(4, 3), F(4, 3), 4), "ta ki da ta"),
    # The authors' short guide, compound meter with the dotted quarter as beat.
    (SIX, (2, 2, 2), "ta ki da"), (SIX, (4, 2), "ta da"), (SIX, (2, 4), "ta ki"), (SIX, (3, 1, 2), "ta di da"),
    (SIX, (2, 1, 1, 2), "ta ki di da"), (SIX, (2, 2, 1, 1), "ta ki da ma"),
])
def test_takadimi_names_the_place_in_the_beat(meter: Meter, lengths: tuple[F, ...], struck: str) -> None:
    values = [F(length) / 16 for length in lengths]
    rest = meter.bar - sum(values)
    melody = voice(Role.MELODY, *values, *([-rest] if rest else []))
    counts = count_bars([Bar(F(0), meter.bar, 1)], meter, [melody], TAKADIMI, 1)
    assert " ".join(count.text for count in counts if count.state is CountState.STRUCK) == struck


def test_a_table_that_cannot_count_the_beats_is_an_error() -> None:
    nothing = Counting("none", "", {}, {})
    with pytest.raises(ValueError, match="no syllables"):
        count_bars([Bar(F(0), F(1, 2), 1)], TWO, [voice(Role.MELODY, F(1, 2))], nothing, 1)


@pytest.mark.parametrize(("places", "least", "slots"), [
    ((0,), 1, 1), ((0, 6), 1, 2), ((0, 4), 4, 3), ((0, 3), 2, 4), ((0, 2), 1, 6),
])
def test_a_beat_is_counted_on_the_fewest_slots_that_hold_its_notes(
    places: tuple[int, ...], least: int, slots: int
) -> None:
    assert slots_for(places, 12, least) == slots
