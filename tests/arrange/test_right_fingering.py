"""Right-hand fingering held against the totals published in Parncutt et al. 1997 (FACTS §2)."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.arrange.right_fingering import SPANS, best_fingering, cost, k_best, score_rules

# Parncutt et al. 1997, Music Perception 14(4) 341–382: pieces A, D and E with their published totals.
PIECE_A = (76, 79, 77, 79, 76, 77, 74, 76)
PIECE_D = (61, 65, 63, 66, 65, 68, 66)
PIECE_E = (81, 92, 93, 88, 89, 85, 86, 80)
PUBLISHED = [
    (PIECE_A, {6: ["24342313"], 7: ["13231213"], 8: ["14342313", "35453423"], 9: ["13231323", "13231423"]}),
    (PIECE_D, {12: ["1323132", "1324132"], 13: ["2412132"], 14: ["1212132", "1213242", "1323142"],
               15: ["1323242", "2413242", "2435132"], 16: ["1213232"]}),
    (PIECE_E, {24: ["14523152"], 28: ["14523142"], 31: ["14512152"], 32: ["14513152"]}),
]
TOTALS = [(piece, text, total) for piece, table in PUBLISHED for total, texts in table.items() for text in texts]


def fingers(text: str) -> tuple[int, ...]:
    return tuple(int(sign) for sign in text)


@pytest.mark.parametrize(("piece", "text", "total"), TOTALS)
def test_published_totals(piece, text, total):
    assert cost(piece, fingers(text)) == total


@pytest.mark.parametrize(("piece", "last", "complete"), [(PIECE_A, 3, 9), (PIECE_D, 2, 15), (PIECE_E, 2, 31)])
def test_search_finds_exactly_the_published_list(piece, last, complete):
    """Up to `complete` points the published list is the whole list: nothing cheaper was left out."""
    table = next(table for pitches, table in PUBLISHED if pitches == piece)
    expected = {(total, fingers(text)) for total, texts in table.items() if total <= complete for text in texts}
    found = k_best(piece, len(expected) + 1, last=last)
    assert set(found[:-1]) == expected
    assert found[-1][0] > complete


def test_same_finger_outer_notes_reading():
    """1212132 of piece D costs 14 only if a finger's span to itself is 0: eight points are changes of position."""
    scores = score_rules(PIECE_D, fingers("1212132"))
    assert scores[4] + scores[5] == 8


def test_spans_of_reversed_pairs_are_negated_and_swapped():
    assert SPANS[5, 1] == (-15, -13, -10, -7, -1, 1)
    assert SPANS[3, 2] == (-5, -3, -2, -1, -1, -1)


@given(st.lists(st.integers(60, 84), min_size=1, max_size=5).filter(
    lambda p: all(a != b and abs(a - b) < 8 for a, b in pairwise(p))))
@settings(max_examples=40, deadline=None)
def test_search_equals_brute_force(pitches):
    def playable(way):
        return all(a != b and SPANS[a, b][0] <= q - p <= SPANS[a, b][5]
                   for a, b, p, q in zip(way, way[1:], pitches, pitches[1:], strict=False))

    ways = [way for way in product(range(1, 6), repeat=len(pitches)) if playable(way)]
    assert cost(pitches, best_fingering(pitches)) == min(cost(pitches, way) for way in ways)


@given(st.lists(st.integers(48, 100), min_size=1, max_size=12), st.data())
@settings(deadline=None)
def test_fixed_points_are_kept_whatever_the_leaps(pitches, data):
    held = {index: (data.draw(st.integers(1, 5)),) for index in range(0, len(pitches), 3)}
    found = best_fingering(pitches, held=held)
    assert len(found) == len(pitches)
    assert all(found[index] == only for index, (only,) in held.items())


def test_right_hand_scale_takes_the_usual_fingering():
    """From memory: one octave of C major upward is fingered 1 2 3 1 2 3 4 5 in every tutor."""
    assert best_fingering((60, 62, 64, 65, 67, 69, 71, 72), first=1, last=5) == fingers("12312345")


def test_lengths_must_agree():
    with pytest.raises(ValueError, match="2 notes"):
        cost((60, 62), (1,))
