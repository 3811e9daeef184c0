"""The bellows signs that the page draws itself look like those of the engraver's music font."""

from __future__ import annotations

from pathlib import Path

import lilypond
import pytest
from fontTools.pens.basePen import AbstractPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.momentsPen import MomentsPen
from fontTools.ttLib import TTFont

from bookbuild.pages.glyphs import SIGNS

MUSIC_FONT = next(Path(lilypond.executable()).parents[1].rglob("emmentaler-20.otf"))


def centre(draw) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    """Where the ink's weight lies in its box: 0 is left or below, 1 right or above."""
    bounds, moments = BoundsPen(None), MomentsPen()
    draw(bounds)
    draw(moments)
    left, low, right, high = bounds.bounds
    x, y = moments.momentX / moments.area, moments.momentY / moments.area
    return (x - left) / (right - left), (y - low) / (high - low)


def draw_sign(name: str, pen: AbstractPen) -> None:
    for step, places in SIGNS[name][0]:
        if step == "M":
            pen.moveTo(places)
        elif step == "L":
            pen.lineTo(places)
        else:
            pen.closePath()


@pytest.mark.parametrize(("sign", "glyph"), [("open", "accordion.pull"), ("close", "accordion.push")])
def test_bellows_signs_are_the_ones_of_the_music(sign: str, glyph: str) -> None:
    glyphs = TTFont(MUSIC_FONT).getGlyphSet()
    ours, theirs = centre(lambda pen: draw_sign(sign, pen)), centre(glyphs[glyph].draw)
    assert ours == pytest.approx(theirs, abs=0.08)
