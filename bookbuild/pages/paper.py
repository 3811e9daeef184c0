"""Paper: sheet sizes, margins and the frame that holds text and music. Sizes come in millimetres, frames in points."""

from __future__ import annotations

from dataclasses import dataclass

MM = 72 / 25.4
"""Points in a millimetre."""

SHEETS: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A5": (148.0, 210.0),
    "B4": (250.0, 353.0),
    "Letter": (215.9, 279.4),
}
"""Width and height in millimetres: ISO 216, and US Letter (8.5 x 11 in)."""

GUTTERS = ((150, 9.5), (300, 12.7), (500, 15.9), (700, 19.1))
"""Least inner margin in millimetres up to a number of pages: a print-on-demand printer's published minima."""

COMFORT = 4.0
"""Millimetres of inner margin beyond that minimum, so that music does not run into the fold (common practice)."""


HEAD_RULE = 0.42
"""How far the rule over an exercise stands above its first grid line, in grid steps."""

HANG, LARGE_HANG = 3.5 * MM, 4.5 * MM
"""How far braces and bar numbers may hang out of the text block to the left; they grow with the staff."""


@dataclass(frozen=True)
class PaperOptions:
    """How an edition is printed. Margins, bleed and staff in millimetres, text size in points."""

    paper: str = "A4"
    double_sided: bool = True
    outer_margin: float = 14.0
    inner_margin: float = 0.0
    """0 = by the number of pages."""
    text_size: float = 10.5
    large_print: bool = False
    crop_marks: bool = False
    bleed: float = 0.0
    booklet: bool = False


@dataclass(frozen=True)
class Frame:
    """A rectangle on the trimmed page: x from its left edge, y from its upper edge, downwards."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.y + self.height


@dataclass(frozen=True)
class Sheet:
    """The geometry of every page of a book, in points. `grid` is the distance of the baselines."""

    width: float
    height: float
    inner: float
    outer: float
    top: float
    bottom: float
    grid: float
    text_size: float
    double_sided: bool
    bleed: float = 0.0
    crop_marks: bool = False
    large_print: bool = False
    booklet: bool = False

    @property
    def text_width(self) -> float:
        """Width of the text block, the same on every page; the engraver's line width."""
        return self.width - self.inner - self.outer

    @property
    def text_height(self) -> float:
        """Height of the text block: a whole number of grid lines."""
        return self.height - self.top - self.bottom

    @property
    def for_print_shop(self) -> bool:
        """Whether the file goes to a print shop, where nobody follows links: it has bleed or crop marks."""
        return self.crop_marks or self.bleed > 0

    @property
    def hang(self) -> float:
        """How far ink may hang out of the text block to the left."""
        return LARGE_HANG if self.large_print else HANG

    def frame(self, right_hand: bool) -> Frame:
        """The text block of a right-hand (odd) or left-hand page; a single-sided book has only right-hand pages."""
        x = self.inner if right_hand or not self.double_sided else self.outer
        return Frame(x, self.top, self.text_width, self.text_height)

    def ink_frame(self, right_hand: bool) -> Frame:
        """The text block with room for hanging braces, bar numbers and the uppermost rule: all ink but furniture."""
        frame, head = self.frame(right_hand), HEAD_RULE * self.grid + 1
        return Frame(frame.x - self.hang, frame.y - head, frame.width + self.hang + 1, frame.height + head + 1)


def least_gutter(pages: int) -> float:
    """The least inner margin in millimetres for a book of `pages` pages; the last step serves thicker books."""
    return next((gutter for most, gutter in GUTTERS if pages <= most), GUTTERS[-1][1])


def plan_sheet(options: PaperOptions, pages: int = 100) -> Sheet:
    """Lay out the page for a book of about `pages` pages.

    Raises ValueError for an unknown paper or for margins that leave less than half of the sheet.
    """
    if options.paper not in SHEETS:
        raise ValueError(f"unknown paper '{options.paper}'; known are {', '.join(SHEETS)}")
    width, height = (side * MM for side in SHEETS[options.paper])
    size = max(options.text_size, 18.0) if options.large_print else options.text_size
    grid = round(size * (1.3 if options.large_print else 1.333), 1)
    outer = options.outer_margin * MM
    inner = (options.inner_margin or max(least_gutter(pages) + COMFORT, options.outer_margin)) * MM
    head, foot = _head_and_foot(height, grid)
    lines = int((height - head - foot) // grid)
    sheet = Sheet(
        width,
        height,
        inner,
        outer,
        head,
        height - head - lines * grid,
        grid,
        size,
        options.double_sided or options.booklet,
        # A booklet is cut by nobody: its sheets are folded.
        0.0 if options.booklet else options.bleed * MM,
        options.crop_marks and not options.booklet,
        options.large_print,
        options.booklet,
    )
    if sheet.text_width < width / 2 or lines < 12:
        raise ValueError(
            f"margins of {options.outer_margin} and {inner / MM:.1f} mm leave too little of {options.paper}"
        )
    return sheet


def _head_and_foot(height: float, grid: float) -> tuple[float, float]:
    """Upper margin with the running head, lower margin with the page number; small sheets have less of both."""
    scale = min(1.0, height / (297 * MM))
    return max(17 * MM * scale, 1.9 * grid + 4 * MM), max(17 * MM * scale, 1.6 * grid + 4 * MM)
