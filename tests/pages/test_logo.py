"""Studio logos: what is drawn, what is refused."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from bookbuild.diagnostics import ContentError
from bookbuild.pages.logo import read_logo
from bookbuild.pages.logo_svg import read_svg

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="100" height="50">'


def svg(body: str) -> bytes:
    return (HEAD + body + "</svg>").encode()


def test_shapes_are_placed_with_y_upwards_in_points() -> None:
    size, shapes = read_svg(svg('<rect x="0" y="0" width="100" height="10" fill="#808080"/>'))
    assert size == pytest.approx((75.0, 37.5))
    numbers = [number for _, place in shapes[0].path for number in place]
    assert (min(numbers[0::2]), max(numbers[0::2])) == pytest.approx((0.0, 75.0))
    assert (min(numbers[1::2]), max(numbers[1::2])) == pytest.approx((30.0, 37.5))
    assert shapes[0].fill == pytest.approx(0x80 / 255)


def test_colours_become_greys_by_lightness() -> None:
    # ITU-R BT.601 weights: 0.299, 0.587, 0.114.
    _, shapes = read_svg(
        svg('<circle cx="9" cy="9" r="5" fill="#ff0000"/><circle cx="9" cy="9" r="5" fill="#0000ff"/>')
    )
    assert [shape.fill for shape in shapes] == pytest.approx([0.299, 0.114])


@pytest.mark.parametrize(
    "body",
    [
        '<image href="/etc/hostname"/>',
        '<image xlink:href="http://example.org/x.png"/>',
        "<script>1</script>",
        "<style>@import url(http://example.org/x.css)</style>",
        '<a href="file:///etc/passwd"><rect width="1" height="1"/></a>',
        "<foreignObject/>",
    ],
)
def test_nothing_outside_the_file_is_read(body: str) -> None:
    with pytest.raises(ValueError, match="which is not read"):
        read_svg(svg(body))


def test_entities_are_refused() -> None:
    bomb = b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>' + svg("<text>&b;</text>")
    with pytest.raises(ValueError, match=r"ENTITY|DOCTYPE"):
        read_svg(bomb)


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"<svg", svg("<text>only text</text>"), svg('<path d="M 1"/>')[:-10]])
def test_what_is_no_picture_is_refused_in_one_line(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "logo.svg"
    path.write_bytes(data)
    with pytest.raises(ContentError) as found:
        read_logo(path)
    assert "the logo" in found.value.diagnostics[0].message
    assert found.value.diagnostics[0].file == "logo.svg"


def test_a_png_is_laid_on_white(tmp_path: Path) -> None:
    picture = Image.new("RGBA", (4, 2), (0, 0, 0, 0))
    picture.putpixel((0, 0), (255, 0, 0, 255))
    picture.save(tmp_path / "logo.png")
    grey = read_logo(tmp_path / "logo.png")
    assert isinstance(grey, Image.Image)
    assert (grey.mode, grey.getpixel((0, 0)), grey.getpixel((3, 1))) == ("L", 76, 255)


def test_damaged_and_huge_pngs_are_refused(tmp_path: Path) -> None:
    buffer = BytesIO()
    Image.new("L", (300, 300), 7).save(buffer, "PNG")
    (tmp_path / "cut.png").write_bytes(buffer.getvalue()[:120])
    (tmp_path / "wide.png").write_bytes(_png_of_size(60_000, 60_000))
    for name in ("cut.png", "wide.png", "none.png"):
        with pytest.raises(ContentError):
            read_logo(tmp_path / name)


def _png_of_size(width: int, height: int) -> bytes:
    """A small file that claims to be a large picture."""
    from struct import pack
    from zlib import crc32

    header = pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunk = pack(">I", 13) + b"IHDR" + header + pack(">I", crc32(b"IHDR" + header))
    return b"\x89PNG\r\n\x1a\n" + chunk + pack(">I", 0) + b"IEND" + pack(">I", crc32(b"IEND"))
