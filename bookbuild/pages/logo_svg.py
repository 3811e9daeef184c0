"""An SVG picture as plain shapes in grey: paths, fills and strokes; nothing it refers to is ever fetched."""

from __future__ import annotations

import logging
import re
from dataclasses import dataclass
from io import BytesIO
from math import sqrt

from reportlab.graphics import shapes
from reportlab.lib.colors import Color

from bookbuild.pages.glyphs import Path, ellipse

MOST_SHAPES = 5000

Matrix = tuple[float, float, float, float, float, float]

_FORBIDDEN = re.compile(
    r"<!ENTITY|<!DOCTYPE|<\?xml|href\s*=\s*[\"'](?!#)|url\(\s*[\"']?(?!#)"
    r"|<\s*(?:[\w.-]+:)?(?:image|script|foreignObject|style|text|font|use|symbol|pattern|include)\b",
    re.IGNORECASE,
)
"""What a logo has no need of: entities, pictures, scripts, style sheets, links to other files, texts, whose fonts a
program of the system would be asked for, and clones, which can multiply without end."""

_DECLARATION = re.compile(r"\s*<\?xml\s.*?\?>\s*", re.DOTALL)

MOST_SVG_BYTES = 500_000
FARTHEST = 100_000.0
"""Points; a shape that reaches farther from its origin is no logo."""


@dataclass(frozen=True)
class Shape:
    """A path in points, y upwards from the picture's lower edge; greys are 0 black … 1 white, None not drawn."""

    path: Path
    fill: float | None
    stroke: float | None
    weight: float


def read_svg(data: bytes) -> tuple[tuple[float, float], tuple[Shape, ...]]:
    """Width and height in points, and the shapes in drawing order; raises ValueError with the reason."""
    if len(data) > MOST_SVG_BYTES:
        raise ValueError(f"has more than {MOST_SVG_BYTES // 1000} KB")
    try:
        # In other encodings the words looked for below could hide.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ValueError("is neither PNG nor SVG in UTF-8") from error
    # The parser sees no declaration, so it cannot take the text for anything but UTF-8.
    text = _DECLARATION.sub("", text, count=1) if _DECLARATION.match(text) else text
    if "<svg" not in text[:4000] or "\0" in text:
        raise ValueError("is neither PNG nor SVG in UTF-8")
    found = _FORBIDDEN.search(text)
    if found:
        raise ValueError(f"holds '{found[0].strip()[:20]}', which is not read")
    from svglib.svglib import svg2rlg  # only an edition with an SVG logo pays for this import

    logging.getLogger("svglib.svglib").setLevel(logging.CRITICAL)
    try:
        drawing = svg2rlg(BytesIO(text.encode()))
    except Exception as error:  # the reader names no errors of its own
        raise ValueError("is not a well-formed SVG picture") from error
    if drawing is None or not (0 < drawing.width < FARTHEST and 0 < drawing.height < FARTHEST):
        raise ValueError("is not an SVG picture with a size")
    made: list[Shape] = []
    _walk(drawing, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), made)
    if not made:
        raise ValueError("has no shapes that can be drawn; turn text into outlines")
    return (float(drawing.width), float(drawing.height)), tuple(made)


def _walk(group: shapes.Group, matrix: Matrix, made: list[Shape]) -> None:
    """Gather the shapes of a group; text and whatever else is no plain shape is left out."""
    for part in group.contents:
        if isinstance(part, shapes.Group):
            _walk(part, _multiply(matrix, part.transform), made)
            continue
        path = _path_of(part)
        if path is None:
            continue
        if len(made) >= MOST_SHAPES:
            raise ValueError(f"has more than {MOST_SHAPES} shapes")
        fill, stroke = _gray(getattr(part, "fillColor", None)), _gray(part.strokeColor)
        if isinstance(part, (shapes.PolyLine, shapes.Line)):
            fill = None
        a, b, c, d, _, _ = matrix
        shape = Shape(_moved(path, matrix), fill, stroke, part.strokeWidth * sqrt(abs(a * d - b * c)))
        numbers = (shape.weight, *(value for _, values in shape.path for value in values))
        if not all(-FARTHEST < value < FARTHEST for value in numbers):
            raise ValueError("has a shape that reaches beyond any page")
        made.append(shape)


def _path_of(part: object) -> Path | None:
    """The outline of a reportlab shape in its own coordinates."""
    match part:
        case shapes.Rect():
            x, y, x2, y2 = part.x, part.y, part.x + part.width, part.y + part.height
            return [("M", (x, y)), ("L", (x2, y)), ("L", (x2, y2)), ("L", (x, y2)), ("Z", ())]
        case shapes.Circle():
            return ellipse(part.cx, part.cy, part.r, part.r)
        case shapes.Ellipse():
            return ellipse(part.cx, part.cy, part.rx, part.ry)
        case shapes.Line():
            return [("M", (part.x1, part.y1)), ("L", (part.x2, part.y2))]
        case shapes.Polygon() | shapes.PolyLine():
            points = list(zip(part.points[::2], part.points[1::2], strict=True))
            path: Path = [("M", points[0]), *(("L", point) for point in points[1:])]
            return [*path, ("Z", ())] if isinstance(part, shapes.Polygon) else path
        case shapes.Path():
            return _path_steps(part.operators, part.points)
    return None


def _path_steps(operators: list[int], points: list[float]) -> Path:
    path: Path = []
    place = 0
    for operator in operators:
        name, count = (("M", 2), ("L", 2), ("C", 6), ("Z", 0))[operator]
        path.append((name, tuple(points[place : place + count])))
        place += count
    return path


def _moved(path: Path, matrix: Matrix) -> Path:
    a, b, c, d, e, f = matrix
    moved: Path = []
    for name, numbers in path:
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        moved.append((name, tuple(value for x, y in pairs for value in (a * x + c * y + e, b * x + d * y + f))))
    return moved


def _multiply(one: Matrix, two: Matrix) -> Matrix:
    a, b, c, d, e, f = one
    g, h, i, j, k, m = two
    return a * g + c * h, b * g + d * h, a * i + c * j, b * i + d * j, a * k + c * m + e, b * k + d * m + f


def _gray(color: Color | None) -> float | None:
    """A colour's lightness (weights of ITU-R BT.601), on white paper where it is transparent."""
    if color is None:
        return None
    light = 0.299 * color.red + 0.587 * color.green + 0.114 * color.blue
    alpha = getattr(color, "alpha", 1.0)
    return float(light * alpha + 1 - alpha)
