"""Repeats, endings and pick-ups: what is played after import is what the signs say, for random tunes."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st
from reading import carried

from bookbuild.importers.abc import read_abc
from bookbuild.lessons.model import Stretch, Tune

LETTERS = "CDEFGABcdefgab"


def played(tune: Tune) -> list[int]:
    """MIDI keys in playing order: a strain in a row takes its endings in turn, a single one its last ending."""
    made: list[int] = []
    for index, name in enumerate(tune.form):
        section = tune.section(name)
        made += _keys(section.body)
        if section.endings:
            first = index
            while first and tune.form[first - 1] == name:
                first -= 1
            alone = (index + 1 == len(tune.form) or tune.form[index + 1] != name) and first == index
            made += _keys(section.endings[-1 if alone else index - first])
    return made


def _keys(stretch: Stretch) -> list[int]:
    return [note.pitch.midi for note in stretch.notes if note.pitch]


KEYS = dict(zip(LETTERS, (60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83), strict=True))


def keys_of(letters: str) -> list[int]:
    return [KEYS[letter] for letter in letters]


@dataclass(frozen=True)
class Part:
    """A strain as random signs: bars of four letters each, how often it is played, endings of one bar each."""

    bars: tuple[str, ...]
    plays: int
    endings: tuple[str, ...]

    def abc(self) -> str:
        body = "|".join(f"{bar}" for bar in self.bars)
        if self.endings:
            tail = ":|".join(f"{number} {ending}" for number, ending in enumerate(self.endings, start=1))
            return f"|:{body}|{tail}||"
        return f"|:{body}:|" if self.plays == 2 else f"|::{body}::|" if self.plays == 3 else f"{body}||"

    def sounds(self) -> list[int]:
        if self.endings:
            return [key for ending in self.endings for key in keys_of("".join(self.bars) + ending)]
        return keys_of("".join(self.bars)) * self.plays


bars = st.text(alphabet=LETTERS, min_size=4, max_size=4)
parts = st.builds(Part, st.lists(bars, min_size=1, max_size=4).map(tuple), st.sampled_from([1, 2, 3]),
                  st.one_of(st.just(()), st.lists(bars, min_size=2, max_size=4, unique=True).map(tuple)))


@settings(max_examples=200, deadline=None)
@given(st.lists(parts, min_size=1, max_size=4))
def test_what_the_signs_say_is_what_is_played(written: list[Part]) -> None:
    text = "X:1\nT:Random\nM:2/4\nL:1/8\nK:C\n" + "\n".join(part.abc() for part in written) + "\n"
    tune = carried(read_abc(text, "t.abc"))
    assert played(tune) == [key for part in written for key in part.sounds()]


@settings(max_examples=100, deadline=None)
@given(st.lists(bars, min_size=2, max_size=6), st.text(alphabet=LETTERS, min_size=1, max_size=1), bars)
def test_a_pickup_before_the_sign_is_played_once_its_return_every_time(body: list[str], lead: str, after: str) -> None:
    """`g|: … xyzg:| …` whatever note leads back."""
    text = f"X:1\nM:2/4\nL:1/8\nK:C\n{lead}|:" + "|".join(body) + f":|{after}|]\n"
    tune = carried(read_abc(text, "t.abc"))
    assert played(tune) == keys_of(lead + "".join(body) * 2 + after)


@settings(max_examples=100, deadline=None)
@given(st.lists(parts, min_size=1, max_size=3))
def test_every_bar_is_full_or_completed_by_an_upbeat(written: list[Part]) -> None:
    text = "X:1\nM:2/4\nL:1/8\nK:C\ng|" + "\n".join(part.abc() for part in written) + "\n"
    item = read_abc(text, "t.abc")[0]
    if item.tune is None:
        return
    upbeats = {section.upbeat for section in item.tune.sections} - {Fraction(0)}
    for section in item.tune.sections:
        for stretch in (section.body, *section.endings):
            assert sum(note.length for note in stretch.notes) == stretch.length
            assert all(length == Fraction(1, 2) for length in stretch.bars[1:-1])
            assert stretch.bars[-1] in {Fraction(1, 2)} | {Fraction(1, 2) - upbeat for upbeat in upbeats} | upbeats


def test_a_bar_as_long_as_two_is_divided_and_its_note_tied_over() -> None:
    item = read_abc('X:1\nT:T\nM:2/4\nL:1/8\nK:C\n|:CDEF|G2A4"F"c2|BAGF|C4:|\n', "t.abc")[0]
    tune = carried([item])
    body = tune.sections[0].body
    assert body.bars == (Fraction(1, 2),) * 5
    assert [(note.onset, note.length) for note in body.notes[4:7]] == [
        (Fraction(1, 2), Fraction(1, 4)), (Fraction(3, 4), Fraction(1, 2)), (Fraction(5, 4), Fraction(1, 4))]
    assert [span.onset for span in body.chords if span.chord] == [Fraction(5, 4)]
    assert tune.form == ("A", "A")
    assert any("as long as 2 bars" in note for note in item.notes)


def test_a_bar_that_is_no_multiple_of_the_meter_is_refused() -> None:
    item = read_abc("X:1\nT:T\nM:2/4\nL:1/8\nK:C\nCDEF|GABcde|C4|]\n", "t.abc")[0]
    assert item.tune is None
    assert "holds 3/4, more than the meter 2/4 allows" in item.reason
