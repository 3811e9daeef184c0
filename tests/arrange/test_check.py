"""Each rule rejects an arrangement broken on purpose and passes a good one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction as F

import pytest
from small_arrangements import (
    C3,
    C5,
    C_BASS,
    C_MAJOR,
    C_SEVENTH,
    CLOSE,
    D5,
    E4,
    G4,
    INSTRUMENT,
    OPEN,
    POLKA,
    change_item,
    change_voice,
    good_arrangement,
    good_line,
    make_bars,
    make_voice,
    shaken_arrangement,
)

from bookbuild.arrange.check import RULES, check_arrangement
from bookbuild.arrange.check_bellows import play_bars
from bookbuild.arrange.check_common import list_bars, name_place
from bookbuild.arrange.model import Arrangement, BellowsSpan, CountState, Event, Role, Voice
from bookbuild.lessons.model import Air, Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Pitch


def check(arr: Arrangement) -> tuple:
    return check_arrangement(arr, INSTRUMENT, POLKA, line=good_line())


def broken_rules(arr: Arrangement) -> set[str]:
    return {finding.rule for finding in check(arr)}


def in_order(arr: Arrangement, *spans: BellowsSpan) -> Arrangement:
    return replace(arr, bellows=spans)


def span(onset: float, end: float, direction: object, **fields: object) -> BellowsSpan:
    return BellowsSpan(F(onset), F(end), direction, **fields)


def repeated(arr: Arrangement) -> Arrangement:
    bars = make_bars(8, opens_repeat={1: True}, closes_repeat={8: True})
    return replace(arr, bars=bars)


def without_rests_in_bar_three(arr: Arrangement) -> Arrangement:
    fill = arr.voices[1]
    return replace(arr, voices=(arr.voices[0], Voice(Role.FILL, fill.events[:9] + fill.events[10:]), arr.voices[2]))


def shift_shake(arr: Arrangement, first: object, after: object) -> Arrangement:
    return in_order(arr, span(0, 2, first, stroke=F(1, 16)), span(2, 3, after), span(3, 4, after.other))


BROKEN: list[tuple[str, Callable[[], Arrangement]]] = [
    ("bar-length", lambda: change_item(good_arrangement(), "bars", 2, length=F(3, 4))),
    ("bar-length", lambda: change_item(good_arrangement(), "bars", 2, onset=F(9, 8), length=F(3, 8))),
    ("voice-gap", lambda: without_rests_in_bar_three(good_arrangement())),
    ("voice-gap", lambda: change_voice(good_arrangement(), Role.LEFT, 31, length=F(1, 4))),
    ("voice-gap", lambda: change_voice(good_arrangement(), Role.LEFT, 31, length=F(0))),
    ("bar-sum", lambda: without_rests_in_bar_three(good_arrangement())),
    ("bar-sum", lambda: change_voice(good_arrangement(), Role.LEFT, 4, length=F(1, 4))),
    ("count-cover", lambda: replace(good_arrangement(), counts=good_arrangement().counts[:-1])),
    ("count-cover", lambda: replace(good_arrangement(), counts=())),
    ("count-cover", lambda: change_item(good_arrangement(), "counts", 5, text="")),
    ("count-cover", lambda: change_item(good_arrangement(), "counts", 3, length=F(1, 4))),
    ("count-state", lambda: change_item(good_arrangement(), "counts", 4, state=CountState.OFF)),
    ("count-state", lambda: change_item(good_arrangement(), "counts", 4, state=CountState.HELD)),
    ("count-state", lambda: change_voice(change_voice(good_arrangement(), Role.LEFT, 2, pitches=(), fingers=()),
                                         Role.FILL, 2, pitches=())),
    ("fingers", lambda: change_voice(good_arrangement(), Role.FILL, 1, fingers=(1,))),
    ("fingers", lambda: change_voice(good_arrangement(), Role.MELODY, 1, fingers=(6,))),
    ("right-range", lambda: change_voice(good_arrangement(), Role.MELODY, 3, pitches=(Pitch.from_name("Bb6"),))),
    ("right-range", lambda: change_voice(good_arrangement(), Role.FILL, 3, pitches=(Pitch.from_name("E3"), G4))),
    ("right-span", lambda: change_voice(good_arrangement(), Role.FILL, 3, pitches=(Pitch.from_name("A3"), G4))),
    ("clash", lambda: change_voice(good_arrangement(), Role.FILL, 5, pitches=(E4, Pitch.from_name("Bb4")))),
    ("clash", lambda: change_voice(good_arrangement(), Role.FILL, 5, pitches=(E4, C5))),
    ("clash", lambda: change_voice(good_arrangement(), Role.MELODY, 5, pitches=(C5, D5), fingers=())),
    ("frame-below", lambda: change_voice(good_arrangement(), Role.FILL, 5, pitches=(E4, Pitch.from_name("E5")))),
    ("fill-strike", lambda: change_voice(good_arrangement(), Role.FILL, 4, pitches=(E4, G4))),
    ("fill-slot", lambda: change_voice(good_arrangement(), Role.FILL, 2, pitches=(E4, G4))),
    ("melody-value", lambda: replace(good_arrangement(), voices=(make_voice(Role.MELODY, F(4), F(3, 8), F(-1, 8)),
                                                                 *good_arrangement().voices[1:]))),
    ("melody-value", lambda: change_voice(good_arrangement(), Role.MELODY, 2, pitches=(D5,))),
    ("melody-value", lambda: replace(good_arrangement(), voices=(make_voice(Role.MELODY, F(4), F(1, 4)),))),
    ("left-buttons", lambda: change_voice(good_arrangement(), Role.LEFT, 6, buttons=(("bass", 9),))),
    ("left-buttons", lambda: change_voice(good_arrangement(), Role.LEFT, 6, buttons=())),
    ("left-buttons", lambda: change_voice(good_arrangement(), Role.LEFT, 6, buttons=(("bass", 1),))),
    ("left-thumb", lambda: change_voice(good_arrangement(), Role.LEFT, 6, fingers=(1,))),
    ("left-letter", lambda: change_voice(good_arrangement(), Role.LEFT, 5, letter="M")),
    ("left-letter", lambda: change_voice(good_arrangement(), Role.LEFT, 1, letter="")),
    ("left-letter", lambda: change_voice(good_arrangement(), Role.LEFT, 5, buttons=(C_SEVENTH,))),
    ("bellows-cover", lambda: replace(good_arrangement(), bellows=())),
    ("bellows-cover", lambda: in_order(good_arrangement(), span(0, 2, OPEN), span(2.5, 4, CLOSE))),
    ("bellows-cover", lambda: in_order(good_arrangement(), span(0, 2, OPEN), span(1.5, 4, CLOSE))),
    ("bellows-cover", lambda: in_order(good_arrangement(), span(0, 2, OPEN), span(2, 3.5, CLOSE))),
    ("bellows-cover", lambda: in_order(good_arrangement(), span(0, 2, OPEN), span(2, 2, CLOSE), span(2, 4, CLOSE))),
    ("bellows-held", lambda: in_order(good_arrangement(), span(0, 2.25, OPEN), span(2.25, 4, CLOSE))),
    ("bellows-held", lambda: in_order(good_arrangement(), span(0, 2.25, OPEN, air=True), span(2.25, 4, OPEN))),
    ("bellows-alternate", lambda: in_order(good_arrangement(), span(0, 1, OPEN), span(1, 2, OPEN), span(2, 4, CLOSE))),
    ("bellows-repeat", lambda: in_order(repeated(good_arrangement()), span(0, 1, OPEN), span(1, 2.5, CLOSE),
                                        span(2.5, 4, OPEN))),
    ("shake-strokes", lambda: in_order(shaken_arrangement(), span(0, 2, OPEN, stroke=F(3, 32)), span(2, 3, OPEN),
                                       span(3, 4, CLOSE))),
    ("shake-first", lambda: shift_shake(shaken_arrangement(), CLOSE, CLOSE)),
    ("shake-after", lambda: shift_shake(shaken_arrangement(), OPEN, CLOSE)),
    ("air", lambda: in_order(good_arrangement(), span(0, 1, OPEN), span(1, 4, CLOSE))),
    ("air", lambda: in_order(good_arrangement(), span(0, 2, CLOSE), span(2, 4, OPEN))),
    ("air", lambda: in_order(good_arrangement(), span(0, 3, OPEN), span(3, 4, CLOSE))),
    ("air", lambda: replace(good_arrangement(), tempo=Tempo(30, 60, F(1, 4)))),
]


@pytest.mark.parametrize(("rule", "make"), BROKEN, ids=[f"{rule}-{n}" for n, (rule, _) in enumerate(BROKEN)])
def test_broken_arrangement_is_rejected(rule: str, make: Callable[[], Arrangement]) -> None:
    found = [finding for finding in check(make()) if finding.rule == rule]
    assert found
    for finding in found:
        assert finding.message.startswith(("Bar ", "Upbeat", "End"))
        assert finding.message.endswith(".")


def test_every_rule_has_a_broken_arrangement() -> None:
    assert {rule for rule, _ in BROKEN} == set(RULES)


@pytest.mark.parametrize("make", [good_arrangement, lambda: repeated(good_arrangement()), shaken_arrangement,
                                  lambda: shift_shake(shaken_arrangement(), OPEN, OPEN)])
def test_good_arrangement_passes(make: Callable[[], Arrangement]) -> None:
    assert check(make()) == ()


def test_findings_come_in_the_order_of_the_music() -> None:
    arr = change_voice(change_voice(good_arrangement(), Role.LEFT, 6, fingers=(1,)), Role.MELODY, 0, pitches=(C3,))
    moments = [finding.moment for finding in check(arr)]
    assert len(moments) >= 2
    assert moments == sorted(moments)


def test_an_arrangement_without_bars_is_not_checked() -> None:
    assert check(replace(good_arrangement(), bars=())) == ()


def test_claps_need_no_bellows() -> None:
    arr = good_arrangement("count")
    clap = make_voice(Role.CLAP, F(4), F(1, 2))
    counts = tuple(replace(count, state=CountState.STRUCK if count.onset % F(1, 2) == 0 else CountState.HELD)
                   for count in arr.counts)
    assert check(replace(arr, voices=(clap,), bellows=(), counts=counts)) == ()


def test_right_span_is_the_one_asked_for() -> None:
    sixth = check_arrangement(good_arrangement(), INSTRUMENT, span=7)
    assert {finding.rule for finding in sixth} == {"right-span"}
    assert "8 semitones; 7 is the widest" in sixth[0].message


def test_melody_values_are_not_asked_of_a_shake() -> None:
    arr = shaken_arrangement()
    assert "melody-value" not in broken_rules(arr)
    assert "melody-value" in broken_rules(replace(arr, kind="melody"))


def test_a_melody_folded_by_an_octave_is_still_the_melody() -> None:
    arr = good_arrangement("melody")
    high = make_voice(Role.MELODY, F(4), F(1, 2), pitch=Pitch.from_name("C6"))
    assert broken_rules(replace(arr, voices=(high, arr.voices[2]))) == set()


def test_upbeats_and_their_answers_may_be_short() -> None:
    arr = good_arrangement("melody")
    bars = make_bars(8, upbeat=F(1, 8))
    bars = (*bars[:-1], replace(bars[-1], length=F(3, 8)))
    short = replace(arr, bars=bars, voices=arr.voices[2:], counts=())
    assert "bar-length" not in broken_rules(short)
    assert "bar-length" in broken_rules(change_item(short, "bars", 4, length=F(3, 8)))


def test_letter_may_be_printed_again_at_a_new_part() -> None:
    arr = change_item(good_arrangement(), "bars", 4, section="B")
    again = change_voice(arr, Role.LEFT, 17, letter="M")
    assert broken_rules(again) == set()
    assert broken_rules(change_voice(again, Role.LEFT, 19, letter="M")) == {"left-letter"}


def test_two_chord_buttons_keep_their_letters() -> None:
    # C bass + Eb major is Cm7 (FACTS §1); the chord is printed by the button's own root.
    e_flat = Pitch.from_name("Eb4")
    arr = change_voice(good_arrangement(), Role.LEFT, 1, pitches=(e_flat,), buttons=(C_BASS, ("major", -3)))
    assert broken_rules(arr) == set()
    wrong = change_voice(arr, Role.LEFT, 1, buttons=(C_BASS, C_MAJOR))
    assert broken_rules(wrong) == {"left-buttons"}


def test_counterbass_sounds_the_third_of_its_column() -> None:
    third = Pitch.from_name("E3")
    arr = change_voice(good_arrangement(), Role.LEFT, 2, pitches=(third,), buttons=(("counterbass", 0),))
    assert broken_rules(arr) == set()


def test_a_turn_under_a_held_melody_note_names_the_bar() -> None:
    arr = in_order(good_arrangement(), span(0, 2.25, OPEN), span(2.25, 4, CLOSE))
    message = next(finding.message for finding in check(arr) if finding.rule == "bellows-held")
    assert message == "Bar 5, beat 2: the bellows turn while a note is held."


def test_the_air_button_explains_a_plan_that_does_not_come_out_even() -> None:
    arr = in_order(good_arrangement(), span(0, 1, OPEN, air=True), span(1, 4, CLOSE))
    assert "air" not in broken_rules(replace(arr, tempo=Tempo(120, 120, F(1, 4))))


def test_a_notice_on_the_bar_explains_a_finding() -> None:
    arr = in_order(good_arrangement(), span(0, 1, OPEN), span(1, 4, CLOSE))
    plain = [finding for finding in check(arr) if finding.rule == "air"]
    assert [finding.explained for finding in plain] == [False]
    told = replace(arr, notices=("Bar 3: mind the bellows.",))
    assert [finding.explained for finding in check(told) if finding.rule == "air"] == [True]
    other = replace(arr, notices=("Bar 3: mind the fingers.", "Bar 2: mind the bellows."))
    assert [finding.explained for finding in check(other) if finding.rule == "air"] == [False]


@pytest.mark.parametrize(("notice", "bars"), [
    ("Bar 3: mind it.", {3}), ("the fill is thinner in bars 1, 4 and 17.", {1, 4, 17}), ("Bars 2–5 are easy.", {2, 5}),
    ("Upbeat: begin softly.", {0}), ("in the upbeat and bar 3", {0, 3}), ("3 bars of rest", set()),
])
def test_bars_are_read_from_a_notice(notice: str, bars: set[int]) -> None:
    assert list_bars(notice) == bars


def test_repeats_and_endings_are_played_in_order() -> None:
    bars = make_bars(7, closes_repeat={2: True, 5: True}, opens_repeat={3: True}, ending={5: "1.", 6: "2."})
    assert [bar.number for bar in play_bars(bars)] == [1, 2, 1, 2, 3, 4, 5, 3, 4, 6, 7]


def test_three_passes_over_shared_endings() -> None:
    bars = make_bars(4, closes_repeat={2: True}, opens_repeat={1: True}, ending={2: "1.2.", 3: "3."})
    assert [bar.number for bar in play_bars(bars)] == [1, 2, 1, 2, 1, 3, 4]


@pytest.mark.parametrize(("moment", "place"), [
    (F(0), "Upbeat"), (F(1, 8), "Bar 1, beat 1"), (F(1, 8) + F(1, 4), "Bar 1, beat 2"),
    (F(1, 8) + F(5, 16), "Bar 1, after beat 2"), (F(33, 8), "End"),
])
def test_moments_have_names(moment: F, place: str) -> None:
    arr = replace(good_arrangement(), bars=make_bars(8, upbeat=F(1, 8)))
    assert name_place(arr, moment) == place


def test_beats_of_a_compound_meter_are_dotted() -> None:
    meter = Meter(6, 8)
    arr = replace(good_arrangement(), meter=meter, bars=make_bars(4, meter))
    assert name_place(arr, F(3, 8)) == "Bar 1, beat 2"


def test_shake_drift_is_part_of_the_air() -> None:
    # Two bars of plain closing right after a shake: only a very leaky shake leaves the bellows that far open.
    arr = in_order(shaken_arrangement(), span(0, 2, OPEN, stroke=F(1, 16)), span(2, 2.5, OPEN), span(2.5, 4, CLOSE))
    tight = check_arrangement(arr, INSTRUMENT)
    leaky = check_arrangement(arr, replace(INSTRUMENT, air=Air(shake=0.4)))
    assert [finding.rule for finding in tight] == ["air"]
    assert leaky == ()


def test_fill_over_a_rest_of_the_melody_is_free() -> None:
    arr = good_arrangement()
    melody = Voice(Role.MELODY, (Event(F(0), F(1, 2)), *arr.voices[0].events[1:]))
    counts = tuple(replace(count, state=CountState.OFF) if count.onset == 0 else count for count in arr.counts)
    quiet = replace(arr, kind="arrangement", voices=(melody, *arr.voices[1:]), counts=counts)
    assert broken_rules(change_voice(quiet, Role.FILL, 1, pitches=(C5, Pitch.from_name("E5")))) == set()

