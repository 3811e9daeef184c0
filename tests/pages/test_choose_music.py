"""The choice of music for a leaf, against every choice there is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from bookbuild.pages.choose_music import Choice, Offer, choose_music, order_pages, serve


@st.composite
def weeks(draw: st.DrawFn, most: int = 6) -> list[Offer]:
    """Up to `most` exercises that serve themselves whole and some of the others in part."""
    count = draw(st.integers(1, most))
    worth = draw(st.lists(st.integers(1, 40), min_size=count, max_size=count))
    offers = []
    for own in range(count):
        tenths = [10 if other == own else draw(st.sampled_from([0, 0, 0, 5, 9])) for other in range(count)]
        height = draw(st.integers(30, 400))
        offers.append(Offer(float(height), tuple(each * share for each, share in zip(worth, tenths, strict=True))))
    return offers


rooms_of_a_leaf = st.lists(st.integers(0, 700).map(float), min_size=1, max_size=2)


def all_choices(offers: Sequence[Offer], rooms: Sequence[float]) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Every way to put exercises on the pages where each page has room for its own."""
    for where in product(range(-1, len(rooms)), repeat=len(offers)):
        pages = tuple(tuple(k for k, page in enumerate(where) if page == each) for each in range(len(rooms)))
        if all(fill(offers, page) <= room for page, room in zip(pages, rooms, strict=True)):
            yield pages


def fill(offers: Sequence[Offer], page: Sequence[int]) -> float:
    return sum(offers[place].height for place in page)


def flat(choice: Choice) -> list[int]:
    return [place for page in choice.pages for place in page]


@given(weeks(), rooms_of_a_leaf)
def test_no_other_choice_serves_more_or_fills_more_with_as_much(offers: list[Offer], rooms: list[float]) -> None:
    found = choose_music(offers, rooms)
    best = max((serve(offers, sum(pages, ())), sum(fill(offers, page) for page in pages))
               for pages in all_choices(offers, rooms))
    assert (found.points, found.filled) == best


@given(weeks(12), rooms_of_a_leaf)
def test_every_exercise_stands_once_on_a_page_that_has_room(offers: list[Offer], rooms: list[float]) -> None:
    found = choose_music(offers, rooms)
    assert len(found.pages) == len(rooms)
    assert len(set(flat(found))) == len(flat(found))
    assert found.points == serve(offers, flat(found))
    for page, room in zip(found.pages, rooms, strict=True):
        assert fill(offers, page) <= room
        assert list(page) == sorted(page)


@given(weeks(10), rooms_of_a_leaf)
def test_nothing_that_is_left_out_would_still_fit(offers: list[Offer], rooms: list[float]) -> None:
    """Every exercise serves something, at least itself: room for one more is never left."""
    found = choose_music(offers, rooms)
    for place in set(range(len(offers))) - set(flat(found)):
        if serve(offers, [*flat(found), place]) > found.points:
            assert all(fill(offers, page) + offers[place].height > room
                       for page, room in zip(found.pages, rooms, strict=True))


@given(weeks(8), st.floats(200, 700), st.floats(0, 300))
def test_more_room_never_serves_less(offers: list[Offer], room: float, more: float) -> None:
    assert choose_music(offers, (300.0, room + more)).points >= choose_music(offers, (300.0, room)).points


@given(weeks(), rooms_of_a_leaf)
def test_numbers_run_on_from_page_to_page_where_the_exercises_fit_so(offers: list[Offer], rooms: list[float]) -> None:
    found = choose_music(offers, rooms)
    chosen = sorted(flat(found))
    cuts = product(range(len(chosen) + 1), repeat=len(rooms) - 1)
    in_order = ((tuple(chosen[: cut[0]]), tuple(chosen[cut[0]:])) if cut else (tuple(chosen),) for cut in cuts)
    if any(all(fill(offers, page) <= room for page, room in zip(pages, rooms, strict=True)) for pages in in_order):
        assert flat(found) == chosen


def test_both_hands_are_preferred_to_the_hands_they_contain() -> None:
    melody, left, both = Offer(150.0, (100, 0, 0)), Offer(150.0, (0, 100, 0)), Offer(300.0, (90, 90, 100))
    assert choose_music((melody, left, both), (310.0,)).pages == ((2,),)


def test_order_is_left_alone_where_it_would_not_fit() -> None:
    offers = [Offer(height, (1,)) for height in (300.0, 100.0)]
    assert order_pages(offers, (150.0, 350.0), ((1,), (0,))) == ((1,), (0,))
    assert order_pages(offers, (350.0, 150.0), ((1,), (0,))) == ((0,), (1,))


def test_a_week_of_sixty_exercises_gets_its_music_too() -> None:
    """The most a week may hold: the search gives up proving before it becomes slow, and keeps what it has."""
    count = 60
    offers = [Offer(60.0 + 37 * k % 300, tuple((10 if k == j else 9 if (k + j) % 7 == 0 else 0) * (1 + 13 * j % 50)
                                               for j in range(count))) for k in range(count)]
    found = choose_music(offers, (330.0, 750.0))
    assert len(flat(found)) > 5
    assert all(fill(offers, page) <= room for page, room in zip(found.pages, (330.0, 750.0), strict=True))
