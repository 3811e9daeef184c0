"""A studio's logo in grey: PNG as an image, SVG as outlines."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from warnings import catch_warnings

from PIL import Image, UnidentifiedImageError

from bookbuild.diagnostics import ContentError, Diagnostic, Severity
from bookbuild.pages.ink import Pen
from bookbuild.pages.logo_svg import Shape, read_svg
from bookbuild.pages.paper import Frame

MOST_BYTES, MOST_PIXELS = 4_000_000, 16_000_000
"""A larger logo is refused before it is unpacked."""


def read_logo(path: Path) -> Image.Image | tuple[tuple[float, float], tuple[Shape, ...]]:
    """A PNG in grey on white, or an SVG's size and shapes; raises ContentError with the reason."""
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise _refuse(path, f"cannot be read: {error.strerror}", "put the file back, or take `logo` out") from error
    if len(data) > MOST_BYTES:
        raise _refuse(path, f"has more than {MOST_BYTES // 1_000_000} MB", "save it smaller")
    if data.startswith(b"\x89PNG"):
        return _read_png(path, data)
    try:
        return read_svg(data)
    except ValueError as error:
        raise _refuse(path, str(error), "save it as PNG, or as SVG with shapes only") from error


def _read_png(path: Path, data: bytes) -> Image.Image:
    try:
        # What the library thinks of a picture is told in our words, or not at all.
        with catch_warnings(action="ignore"), Image.open(BytesIO(data), formats=("PNG",)) as image:
            if image.width * image.height > MOST_PIXELS:
                raise _refuse(path, f"has more than {MOST_PIXELS // 1_000_000} million pixels", "save it smaller")
            rgba = image.convert("RGBA")
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise _refuse(path, "is not a whole PNG picture", "save it again as PNG or SVG") from error
    white = Image.new("RGBA", rgba.size, "white")
    return Image.alpha_composite(white, rgba).convert("L")


def _refuse(path: Path, reason: str, hint: str) -> ContentError:
    return ContentError([Diagnostic(Severity.ERROR, path.name, 0, 0, f"the logo {reason}", hint)])


def draw_logo(pen: Pen, path: Path, frame: Frame, alt: str) -> None:
    """Draw the logo as large as the frame allows, in its lower right corner."""
    logo = read_logo(path)
    width, height = (logo.width, logo.height) if isinstance(logo, Image.Image) else logo[0]
    scale = min(frame.width / width, frame.height / height)
    box = Frame(frame.right - width * scale, frame.bottom - height * scale, width * scale, height * scale)
    with pen.tag("Figure", alt=alt or path.stem):
        if isinstance(logo, Image.Image):
            pen.image(logo, box)
            return
        for shape in logo[1]:
            if shape.fill is not None:
                pen.outline(shape.path, box.x, box.bottom, scale, gray=shape.fill)
            if shape.stroke is not None:
                pen.trace(shape.path, box.x, box.bottom, scale, shape.stroke, shape.weight * scale)
