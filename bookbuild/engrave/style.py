"""How exercises are engraved: sizes and words. Apart from the engraver's text, so that a build that draws nothing need
not load what writes it."""

from __future__ import annotations

from dataclasses import dataclass, field

from bookbuild.engrave.rows import RowWords

MM_PER_POINT = 25.4 / 72.27
"""The engraver's point (TeX's) in millimetres."""


@dataclass(frozen=True)
class Style:
    """Sizes of the engraving in millimetres and the words it prints."""

    staff: float = 7.5
    width: float = 180.0
    count_size: float = -0.5
    words: RowWords = field(default_factory=RowWords)
    letters: str = ""
    """Characters beside the plain Latin ones that its words and syllables have."""
    large_print: bool = False
    """Whether words stand upright and are no smaller than the text."""

    @property
    def width_in_staves(self) -> float:
        """Line width measured in staff heights."""
        return self.width / self.staff

    @property
    def staff_points(self) -> float:
        """The engraver's staff size."""
        return self.staff / MM_PER_POINT
