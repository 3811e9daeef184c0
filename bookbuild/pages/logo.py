"""A studio's logo in grey: PNG as an image, SVG as outlines."""

from __future__ import annotations

from pathlib import Path

from PIL import Image, UnidentifiedImageError

from bookbuild.diagnostics import MachineError
from bookbuild.pages.ink import Pen
from bookbuild.pages.paper import Frame

MOST_PIXELS = 16_000_000
"""A logo of more pixels is refused before it is unpacked."""


def read_logo(path: Path) -> Image.Image:
    """The image in grey on white; raises MachineError with the reason when it cannot be used."""
    try:
        with Image.open(path) as image:
            if image.width * image.height > MOST_PIXELS:
                raise MachineError(f"the logo {path.name} has more than {MOST_PIXELS} pixels", "save it smaller")
            rgba = image.convert("RGBA")
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise MachineError(f"cannot read the logo {path.name}", "save it as PNG or SVG") from error
    white = Image.new("RGBA", rgba.size, "white")
    return Image.alpha_composite(white, rgba).convert("L")


def draw_logo(pen: Pen, path: Path, frame: Frame, alt: str) -> None:
    """Draw the logo as large as the frame allows, in its lower right corner."""
    image = read_logo(path)
    scale = min(frame.width / image.width, frame.height / image.height)
    width, height = image.width * scale, image.height * scale
    with pen.tag("Figure", alt=alt):
        pen.image(image, Frame(frame.right - width, frame.bottom - height, width, height))
