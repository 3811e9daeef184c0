"""Page composition on made-up sizes: the least cost against every possible breaking, and the rules of the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.pages.compose import Layout, compose_chapters, compose_pages, spread_white
from bookbuild.pages.pieces import Composition, Piece, natural_height
from bookbuild.pages.rules import EMPTIEST, KEEP, ORPHAN, OVERFULL, Fault, find_faults, page_cost

HEIGHT, GRID = 700.0, 14.0


def exercise(
    unit: int, systems: int, height: float = 100.0, turn_ok: Sequence[int] = (), fresh: bool = False
) -> list[Piece]:
    """A heading and its systems; `turn_ok` are the systems (from 0) after which a turn is musical."""
    heading = Piece(28.0, 24.0, 26.0, 6.0, unit, keep_next=True, fresh=fresh)
    music = [
        Piece(height, 13.0, 14.0, 4.0, unit, music=True, turn_ok=k in turn_ok, on_grid=False) for k in range(systems)
    ]
    return [heading, *music]


def breakings(pieces: Sequence[Piece]) -> Iterator[list[int]]:
    """Every list of page starts that respects the fresh pieces."""
    forced = {index for index, piece in enumerate(pieces) if piece.fresh and index}
    free = [index for index in range(1, len(pieces)) if index not in forced]
    for count in range(len(free) + 1):
        for chosen in combinations(free, count):
            yield sorted({0, *chosen, *forced})


def cost_of(pieces: Sequence[Piece], starts: list[int], right_first: bool, single_sided: bool) -> float:
    total = 0.0
    for place, (first, last) in enumerate(zip(starts, [*starts[1:], len(pieces)], strict=True)):
        right = (place % 2 == 0) == right_first
        total += page_cost(pieces, first, last, right, HEIGHT, single_sided)
    return total


PIECES = st.lists(
    st.builds(
        Piece,
        height=st.integers(20, 400).map(float),
        above=st.integers(0, 40).map(float),
        stretch=st.integers(0, 40).map(float),
        shrink=st.just(0.0),
        unit=st.integers(-1, 2),
        music=st.booleans(),
        keep_next=st.booleans(),
        turn_ok=st.booleans(),
        fresh=st.sampled_from([False, False, False, True]),
        on_grid=st.booleans(),
        leads=st.sampled_from([False, False, True]),
    ),
    min_size=1,
    max_size=9,
)


@settings(max_examples=150, deadline=None)
@given(PIECES, st.booleans(), st.booleans())
def test_no_breaking_costs_less(pieces: list[Piece], right_first: bool, single_sided: bool) -> None:
    found = compose_pages(pieces, HEIGHT, GRID, right_first=right_first, single_sided=single_sided)
    assert [page.first for page in found.pages] in list(breakings(pieces))
    least = min(cost_of(pieces, starts, right_first, single_sided) for starts in breakings(pieces))
    assert found.cost == pytest.approx(least)
    assert cost_of(pieces, [page.first for page in found.pages], right_first, single_sided) == pytest.approx(least)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.tuples(PIECES, st.integers(0, 3000)), min_size=1, max_size=3), min_size=1, max_size=2))
def test_no_choice_of_layouts_costs_less(drawn: list[list[tuple[list[Piece], int]]]) -> None:
    # No exercise goes on into the next chapter.
    chapters = [
        [Layout([replace(piece, fresh=piece.fresh or place == 0, unit=piece.unit + 100 * chapter * (piece.unit >= 0))
                 for place, piece in enumerate(pieces[:4])], float(cost)) for pieces, cost in layouts]
        for chapter, layouts in enumerate(drawn)
    ]
    chosen, found = compose_chapters(chapters, HEIGHT, GRID)
    costs = {}
    for places in product(*(range(len(layouts)) for layouts in chapters)):
        layouts = [options[place] for options, place in zip(chapters, places, strict=True)]
        pieces = [piece for layout in layouts for piece in layout.pieces]
        least = min(cost_of(pieces, starts, True, False) for starts in breakings(pieces))
        costs[places] = least + sum(layout.cost for layout in layouts)
    assert found.cost == pytest.approx(min(costs.values()))
    assert costs[chosen] == pytest.approx(found.cost)
    assert [page.last for page in found.pages[:-1]] == [page.first for page in found.pages[1:]]


@settings(max_examples=150, deadline=None)
@given(PIECES)
def test_pieces_keep_their_order_and_never_overlap(pieces: list[Piece]) -> None:
    for page in compose_pages(pieces, HEIGHT, GRID).pages:
        strips = pieces[page.first : page.last]
        bottoms = [top + piece.height for top, piece in zip(page.tops, strips, strict=True)]
        assert all(top >= bottom - 1e-6 for bottom, top in zip(bottoms, page.tops[1:], strict=False))
        if natural_height(strips) <= HEIGHT - GRID * sum(piece.on_grid for piece in strips):
            assert bottoms[-1] <= HEIGHT + 1e-6
            assert all(top % GRID == pytest.approx(0) or top % GRID == pytest.approx(GRID)
                       for top, piece in zip(page.tops, strips, strict=True) if piece.on_grid)  # fmt: skip


def starts_of(found: Composition) -> list[int]:
    return [page.first for page in found.pages]


def test_a_heading_never_parts_from_its_music() -> None:
    pieces = exercise(1, 4, 128.0) + exercise(2, 2, 150.0)
    found = compose_pages(pieces, HEIGHT, GRID)
    assert 5 in starts_of(found)
    assert found.cost < KEEP


@pytest.mark.parametrize("systems", [3, 4, 5, 6, 7, 9])
def test_no_system_of_a_longer_exercise_is_left_alone(systems: int) -> None:
    for filler in (60.0, 200.0, 330.0, 450.0):
        pieces = [Piece(filler), *exercise(1, systems)]
        found = compose_pages(pieces, HEIGHT, GRID)
        assert found.cost < ORPHAN
        for page in found.pages:
            here = sum(piece.music for piece in pieces[page.first : page.last])
            assert here != 1


def test_a_week_begins_on_a_fresh_page() -> None:
    pieces = exercise(1, 1) + exercise(2, 1, fresh=True)
    assert starts_of(compose_pages(pieces, HEIGHT, GRID)) == [0, 2]


def test_a_piece_of_two_pages_lies_on_one_spread() -> None:
    # On a right-hand page the piece would need a turn after three of its eight systems; it moves to the next spread.
    pieces = [*exercise(0, 4, 96.0), *exercise(1, 8, 130.0)]
    found = compose_pages(pieces, HEIGHT, GRID, right_first=True)
    pages = [page for page in found.pages if any(piece.unit == 1 for piece in pieces[page.first : page.last])]
    assert [page.right_hand for page in pages] == [False, True]


def test_a_turn_that_must_be_falls_on_a_rest() -> None:
    pieces = exercise(1, 15, 100.0, turn_ok=(8,))
    found = compose_pages(pieces, HEIGHT, GRID, right_first=False)
    turns = [page for page in found.pages if page.right_hand and not page.ends_chapter]
    assert len(turns) == 1
    assert pieces[turns[0].last - 1].turn_ok


def test_white_space_is_shared_evenly() -> None:
    strips = exercise(1, 5, 100.0)
    tops = spread_white(strips, HEIGHT, GRID, final=False)
    gaps = [low - high - 100.0 for high, low in pairwise(tops[1:])]
    assert max(gaps) - min(gaps) < 1e-6
    assert 13.0 < gaps[0] <= 27.0


def test_the_practice_log_stands_at_the_foot() -> None:
    pieces = [*exercise(1, 2), Piece(98.0, 20.0, at_foot=True)]
    page = compose_pages(pieces, HEIGHT, GRID).pages[0]
    assert HEIGHT - GRID <= page.tops[-1] + 98.0 <= HEIGHT


def test_what_should_lead_a_page_leads_it() -> None:
    for room in (160.0, 200.0, 250.0):
        pieces = [Piece(300.0 + room), Piece(98.0, 20.0, leads=True), *exercise(1, 2)]
        assert 1 in starts_of(compose_pages(pieces, HEIGHT, GRID))


def test_a_practice_log_alone_begins_at_the_top() -> None:
    pieces = [*exercise(1, 5), Piece(300.0, 20.0, at_foot=True)]
    page = compose_pages(pieces, HEIGHT, GRID).pages[-1]
    assert page.last - page.first == 1
    assert page.tops == (0.0,)


def test_a_piece_higher_than_the_page_stands_alone() -> None:
    found = compose_pages([Piece(50.0), Piece(900.0), Piece(50.0)], HEIGHT, GRID)
    assert starts_of(found) == [0, 1, 2]
    assert found.cost > OVERFULL


def test_pages_that_can_be_filled_are() -> None:
    pieces = [piece for unit in range(20) for piece in exercise(unit, (1, 2, 4)[unit % 3], 90.0, (0, 1, 2))]
    pages = compose_pages(pieces, HEIGHT, GRID).pages
    assert all(page.hole[1] - page.hole[0] <= EMPTIEST * HEIGHT for page in pages[:-1])


def test_faults_name_what_could_not_be_avoided() -> None:
    pieces = [*exercise(0, 1, 560.0), *exercise(1, 1, 660.0), *exercise(2, 3, 330.0)]
    found = compose_pages(pieces, HEIGHT, GRID)
    faults = find_faults(pieces, found, HEIGHT, False)
    assert Fault("orphan", 2, 2) in faults
    assert not any(fault.kind in ("heading", "overfull") for fault in faults)


def test_a_good_page_has_no_faults() -> None:
    pieces = exercise(1, 5, 100.0)
    assert find_faults(pieces, compose_pages(pieces, HEIGHT, GRID), HEIGHT, False) == ()


def test_an_exercise_is_turned_at_a_rest_rather_than_leave_half_a_page_empty() -> None:
    """By the rules' costs: a turn on a rest is better than a page too empty, a turn in mid-phrase is not."""
    before, after = Piece(0.5 * HEIGHT), Piece(0.1 * HEIGHT)
    heading = Piece(0.05 * HEIGHT, unit=1, keep_next=True)
    first, second = (Piece(share * HEIGHT, unit=1, music=True) for share in (0.2, 0.4))
    for turn_ok, last in ((True, 3), (False, 1)):
        pieces = [before, heading, replace(first, turn_ok=turn_ok), second, after]
        assert compose_pages(pieces, HEIGHT, GRID).pages[0].last == last
