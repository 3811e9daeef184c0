"""Pages look as they did when they were accepted; and the comparison would notice if they did not."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageDraw

from tests.pages.checks import picture_distance
from tests.pages.reference import FOLDER, TOLERANCE, draw_references

NAMES = sorted(path.stem for path in FOLDER.glob("*.png"))


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Image.Image]:
    return draw_references(Path(tmp_path_factory.mktemp("references")))


def accepted(name: str) -> Image.Image:
    return Image.open(FOLDER / f"{name}.png").convert("L")


def test_every_page_has_its_reference(drawn: dict[str, Image.Image]) -> None:
    assert sorted(drawn) == NAMES, "run `python -m tests.pages.reference --accept` to accept the pages as they are"


@pytest.mark.parametrize("name", NAMES)
def test_page_looks_as_accepted(drawn: dict[str, Image.Image], name: str) -> None:
    distance = picture_distance(drawn[name], accepted(name))
    assert distance <= TOLERANCE, "look at the page; `python -m tests.pages.reference --accept` accepts it"


@pytest.mark.parametrize("name", NAMES)
def test_a_page_moved_by_two_millimetres_is_noticed(name: str) -> None:
    page = accepted(name)
    assert picture_distance(page, ImageChops.offset(page, 0, 3)) > TOLERANCE


@pytest.mark.parametrize("name", NAMES)
def test_a_page_without_its_largest_word_is_noticed(name: str) -> None:
    page = accepted(name)
    box = ImageChops.invert(page).getbbox()
    assert box is not None
    spoiled = page.copy()
    ImageDraw.Draw(spoiled).rectangle((box[0], box[1], box[0] + 90, box[1] + 60), fill=255)
    assert picture_distance(page, spoiled) > TOLERANCE


def test_another_page_is_noticed() -> None:
    for one, two in pairwise(NAMES):
        assert picture_distance(accepted(one), accepted(two)) > TOLERANCE
