"""A stranger's course reads and writes nothing outside its folder, and its pictures cannot tie the machine up."""

from __future__ import annotations

import os
import random
import struct
import zlib
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from course_scenes import CONTENT, write_scene
from fuzz_yaml import time_limit
from hostile_course import DANCER, dump
from PIL import Image
from small_book import call_book, make_course
from watch_process import Deeds, watch

from bookbuild.build import build
from bookbuild.diagnostics import ContentError
from bookbuild.lessons.files import inspect_course
from bookbuild.workshop import Workshop, open_workshop

SECRET = "the secret of another folder"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Workshop:
    return open_workshop(tmp_path_factory.mktemp("cache"))


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    """A folder beside the course, with a file of every kind that a course may hold."""
    folder = tmp_path / "secret"
    folder.mkdir()
    (folder / "tune.yaml").write_bytes((CONTENT / "tunes" / "wide-water.yaml").read_bytes())
    (folder / "secret.txt").write_text(SECRET)
    (folder / "logo.svg").write_text(square())
    (folder / "logo.png").write_bytes(make_png(8, 8))
    return folder


def make_png(width: int, height: int, *, rows: int | None = None, colour: int = 0) -> bytes:
    """A PNG that says it has this size, with `rows` rows of zeros in it."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">L", len(data)) + name + data + struct.pack(">L", zlib.crc32(name + data))

    packer = zlib.compressobj(9)
    data = b"".join(packer.compress(bytes(1 + width)) for _ in range(height if rows is None else rows)) + packer.flush()
    head = chunk(b"IHDR", struct.pack(">LLBBBBB", width, height, 8, colour, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def square(inside: str = '<rect x="1" y="1" width="8" height="8"/>', **attributes: str) -> str:
    """A small SVG."""
    size = {"width": "10", "height": "10", **attributes}
    more = " ".join(f'{name}="{value}"' for name, value in size.items())
    links = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"<svg {links} {more}>{inside}</svg>"


def logo_course(folder: Path, logo: str, files: dict[str, bytes]) -> Path:
    """A course without weeks whose edition has a logo."""
    return write_scene(
        folder,
        {
            "course.yaml": dump({"title": "A course", "edition": "one"}),
            "editions/one.yaml": dump({"title": "One", "studio": {"name": "A studio", "logo": logo}}),
            "instruments/one.yaml": dump({"title": "One", **DANCER}),
            **files,
        },
    )


def build_logo(folder: Path, logo: str, data: bytes | None, shop: Workshop) -> tuple[str, Deeds]:
    """`printed`, or why the logo was refused; and what the process did."""
    course = logo_course(folder / "course", logo, {} if data is None else {logo: data})
    out = folder / "book.pdf"
    out.unlink(missing_ok=True)
    with watch() as deeds:
        try:
            with time_limit(10):
                build(course, out, shop)
        except ContentError as refused:
            findings = [finding for finding in refused.diagnostics if "logo" in finding.message]
            assert len(findings) == 1
            assert findings[0].hint
            assert not out.exists()
            return findings[0].message, deeds
    with pikepdf.open(out) as pdf:
        assert pdf.check_pdf_syntax() == []
        for number in (number for page in pdf.pages for number in _numbers(page)):
            assert abs(number) < 1e6
    return "printed", deeds


def _numbers(page: pikepdf.Page) -> list[float]:
    """Every number of a page's content."""
    return [
        float(one)
        for instruction in pikepdf.parse_content_stream(page)
        for one in instruction.operands
        if isinstance(one, (int, float)) or type(one).__name__ == "Decimal"
    ]


@pytest.mark.parametrize(
    "logo",
    [
        "../secret/logo.svg",
        "{secret}/logo.svg",
        "a/../../secret/logo.png",
        "..\\secret\\logo.svg",
        "file://{secret}/logo.svg",
        "~/logo.svg",
        "./../secret/logo.svg",
        "/dev/zero.png",
        "/dev/stdin",
        "logo.svg\x00.png",
        "https://127.0.0.1:9/logo.png",
        "//127.0.0.1/logo.png",
        "C:logo.png",
        "nowhere.png",
        "course.yaml",
        ".",
        "..",
        "/",
        "logo.svg/",
        "a" * 490 + ".png",
        "editions",
        "-.svg",
        "%2e%2e/secret/logo.svg",
        "link.svg",
        "link/logo.svg",
        "pipe.svg",
        "folder.svg",
        "twice.svg",
        "dangling.png",
    ],
)
def test_a_logo_outside_the_course_is_refused(logo: str, secret: Path, shop: Workshop, tmp_path: Path) -> None:
    course = logo_course(tmp_path / "course", "x.svg", {})
    (course / "link.svg").symlink_to(secret / "logo.svg")
    (course / "link").symlink_to(secret)
    (course / "twice.svg").symlink_to("link.svg")
    (course / "dangling.png").symlink_to("nothing")
    (course / "folder.svg").mkdir()
    os.mkfifo(course / "pipe.svg")
    name = logo.format(secret=secret)
    (course / "editions" / "one.yaml").write_bytes(dump({"title": "One", "studio": {"logo": name}}))
    with watch() as deeds, time_limit(10), pytest.raises(ContentError) as refused:
        build(course, tmp_path / "book.pdf", shop)
    assert any("logo" in one.message or "invisible" in one.message for one in refused.value.diagnostics)
    assert all(one.file == "editions/one.yaml" and one.line for one in refused.value.diagnostics)
    assert deeds.read_inside(secret) == set()
    assert deeds.sockets == []


HARMFUL_SVG = {
    "external entity": '<!DOCTYPE svg [<!ENTITY e SYSTEM "file://{secret}/secret.txt">]>'
    + square("<text>&amp;e;</text>"),
    "entity bomb": "<!DOCTYPE svg [<!ENTITY a 'xxxxxxxxxx'>"
    + "".join(f"<!ENTITY a{n} '{f'&amp;a{n - 1 if n else str()};' * 10}'>" for n in range(12))
    + "]>"
    + square("<text>&amp;a11;</text>"),
    "external DTD": '<!DOCTYPE svg SYSTEM "file://{secret}/secret.txt">' + square(),
    "picture of a file": square('<image width="9" height="9" xlink:href="file://{secret}/logo.png"/>'),
    "picture beside": square('<image width="9" height="9" xlink:href="../secret/logo.png"/>'),
    "picture of the net": square('<image width="9" height="9" href="http://127.0.0.1:9/x.png"/>'),
    "picture within": square('<image width="9" height="9" xlink:href="data:image/png;base64,AAAA"/>'),
    "script": square("<script>alert(1)</script>"),
    "style of a file": square('<style>@import "file://{secret}/secret.txt";</style>'),
    "style sheet": '<?xml-stylesheet type="text/css" href="file://{secret}/secret.txt"?>' + square(),
    "foreign": square("<foreignObject><body>x</body></foreignObject>"),
    "use of a file": square('<use xlink:href="file://{secret}/logo.svg#a"/>'),
    "paint of a file": square('<rect width="8" height="8" fill="url(file://{secret}/logo.svg#a)"/>'),
    "inclusion": square(
        '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="file://{secret}/secret.txt" parse="text"/>'
    ),
    "text in a font": square('<text x="1" y="5" font-family="No Such Font; touch /CANARY/">words</text>'),
    "itself": square('<g id="a"><use xlink:href="#a"/><rect width="8" height="8"/></g>'),
    "bomb of uses": square(
        "<defs><rect id='u0' width='1' height='1'/>"
        + "".join(f"<g id='u{n}'>" + f"<use xlink:href='#u{n - 1}'/>" * 10 + "</g>" for n in range(1, 10))
        + "</defs><use xlink:href='#u9'/>"
    ),
    "patterns in patterns": square(
        "<defs><pattern id='p' width='1' height='1'><rect fill='url(#p)' width='1' height='1'/></pattern></defs>"
        "<rect width='8' height='8' fill='url(#p)'/>"
    ),
    "animation": square("<animate attributeName='x' from='0' to='9'/><set attributeName='href' to='file://{secret}'/>"),
    "nested deep": square("<g>" * 30_000 + "<rect width='8' height='8'/>" + "</g>" * 30_000),
    "many shapes": square("<rect width='8' height='8'/>" * 60_000),
    "a long path": square(f"<path d='M0 0 {'L1 1 ' * 700_000}'/>"),
    "a long number": square(f"<rect width='{'9' * 500_000}' height='1'/>"),
    "many attributes": square("<rect " + " ".join(f"a{n}='1'" for n in range(100_000)) + "/>"),
    "ten megabytes": square(" " * 10_000_000 + "<rect width='8' height='8'/>"),
    "no size": square(width="0", height="0"),
    "endless size": square(width="1e308", height="1e308"),
    "no number": square(width="nan", height="inf"),
    "less than nothing": square(width="-10", height="-10"),
    "endless shapes": square(
        "<rect x='1e300' y='-1e300' width='1e300' height='1e300' stroke='red' stroke-width='1e300'/>"
    ),
    "numbers that are none": square("<path d='M nan inf L 1e999 -1e999 C 0 0 0'/><rect width='nan' height='8'/>"),
    "a torn matrix": square("<g transform='matrix(1e300 nan inf 0 0 1)'><rect width='8' height='8'/></g>"),
    "a scale of nothing": square("<g transform='scale(0)'><rect width='8' height='8'/></g>"),
    "a false declaration": '<?xml version=">" encoding="utf-7"?>'
    + square("+ADw-image href=+ACI-/etc/passwd+ACI-/+AD4-"),
    "two declarations": '<?xml version="1.0"?><?xml version="1.0" encoding="utf-7"?>' + square("+ADw-image/+AD4-"),
    "torn": square()[:-20],
    "empty": "",
    "not SVG": "<html><svg></html>",
    "only words": square("<text>words</text>"),
    "a bad colour": square("<rect width='8' height='8' fill='url(#none)' stroke='rgb(999,-1,x)'/>"),
    "dashes": square("<rect width='8' height='8' stroke='red' stroke-dasharray='0 0 0' stroke-width='-3'/>"),
    "gradients": square(
        "<defs><linearGradient id='g' xlink:href='#g'/></defs><rect width='8' height='8' fill='url(#g)'/>"
    ),
    "clips": square(
        "<defs><clipPath id='c' clip-path='url(#c)'><circle r='3'/></clipPath></defs>"
        "<rect clip-path='url(#c)' width='8' height='8'/>"
    ),
}
MUST_REFUSE = {
    "a false declaration",
    "two declarations",
    "external entity",
    "entity bomb",
    "external DTD",
    "picture of a file",
    "picture beside",
    "picture of the net",
    "script",
    "style of a file",
    "style sheet",
    "use of a file",
    "paint of a file",
    "inclusion",
    "text in a font",
    "itself",
    "bomb of uses",
    "many shapes",
    "ten megabytes",
    "no size",
    "empty",
    "only words",
    "no number",
}


@pytest.mark.parametrize("kind", HARMFUL_SVG)
def test_a_harmful_svg_is_refused_or_harmless(kind: str, secret: Path, shop: Workshop, tmp_path: Path) -> None:
    text = (
        HARMFUL_SVG[kind]
        .replace("{secret}", str(secret))
        .replace("&amp;", "&")
        .replace("/CANARY/", str(tmp_path / "canary"))
    )
    said, deeds = build_logo(tmp_path, "logo.svg", text.encode(), shop)
    assert deeds.programs == set()
    assert deeds.sockets == []
    assert deeds.read_inside(secret) == set()
    assert not (tmp_path / "canary").exists()
    if kind in MUST_REFUSE:
        assert said != "printed"


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32", "utf-16-le", "utf-7", "cp037"])
def test_an_svg_in_another_encoding_hides_nothing(encoding: str, secret: Path, shop: Workshop, tmp_path: Path) -> None:
    inside = f'<image width="9" height="9" xlink:href="file://{secret}/logo.png"/><rect width="8" height="8"/>'
    text = f'<?xml version="1.0" encoding="{encoding.upper()}"?>' + square(inside)
    # The four letters the reader looks for, hidden as two signs of another script in a remark.
    text = text.replace("?><svg", "?><!-- \u733c\u6776 --><svg") if encoding.startswith("utf-16") else text
    hidden = b"<!-- <svg -->" if encoding in ("utf-7", "cp037") else b""
    said, deeds = build_logo(tmp_path, "logo.svg", text.encode(encoding) + hidden, shop)
    assert said != "printed"
    assert deeds.read_inside(secret) == set()


def encode(image: Image.Image, **options: object) -> bytes:
    buffer = BytesIO()
    image.save(buffer, "PNG", **options)
    return buffer.getvalue()


HARMFUL_PNG = {
    "bomb": make_png(50_000, 50_000, rows=100),
    "just too large": make_png(4001, 4000, rows=0),
    "large enough for the library to warn": make_png(10_000, 10_000, rows=0),
    "too large by far": make_png(2**31 - 1, 2**31 - 1, rows=0),
    "nothing": make_png(0, 0),
    "cut off": make_png(500, 500)[:200],
    "no rows": make_png(500, 500, rows=0),
    "another kind": encode(Image.new("L", (9, 9))).replace(b"\x89PNG", b"\x89PNX"),
    "a GIF by name": b"GIF89a" + bytes(100),
    "a script by name": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n(x) (w) file\n",
    "empty": b"",
    "junk": random.Random(1).randbytes(5000),
    "junk behind the name": b"\x89PNG\r\n\x1a\n" + random.Random(2).randbytes(5000),
    "text bomb": make_png(9, 9)[:33]
    + struct.pack(">L", 20)
    + b"zTXt"
    + b"k\0\0"
    + zlib.compress(bytes(10**6))[:17]
    + bytes(4),
    "six megabytes": make_png(9, 9) + bytes(6_000_000),
}


@pytest.mark.parametrize("kind", HARMFUL_PNG)
def test_a_harmful_png_is_refused(
    kind: str, shop: Workshop, tmp_path: Path, recwarn: pytest.WarningsRecorder
) -> None:
    said, deeds = build_logo(tmp_path, "logo.png", HARMFUL_PNG[kind], shop)
    assert said != "printed"
    assert not recwarn.list
    assert deeds.programs == set()


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"])
def test_a_sound_png_of_any_kind_is_printed(mode: str, shop: Workshop, tmp_path: Path) -> None:
    assert build_logo(tmp_path, "logo.png", encode(Image.new(mode, (40, 20))), shop)[0] == "printed"


def test_a_sound_svg_is_printed(shop: Workshop, tmp_path: Path) -> None:
    assert build_logo(tmp_path, "logo.svg", square().encode(), shop)[0] == "printed"
    assert build_logo(tmp_path, "pictures/logo.SVG", square().encode(), shop)[0] == "printed"


@pytest.mark.parametrize("seed", range(40))
def test_a_damaged_logo_is_printed_or_refused(seed: int, shop: Workshop, tmp_path: Path) -> None:
    chance = random.Random(seed)
    name, data = chance.choice(
        (
            ("logo.svg", (CONTENT / "quillhaven.svg").read_bytes()),
            ("logo.png", encode(Image.effect_noise((60, 30), 90))),
        )
    )
    damaged = bytearray(data)
    for _ in range(chance.choice((1, 5, 40))):
        damaged[chance.randrange(len(damaged))] = chance.randrange(256)
    build_logo(tmp_path, name, bytes(damaged[: chance.choice((len(damaged), chance.randrange(len(damaged))))]), shop)


@pytest.mark.parametrize("what", ["tune", "week", "folder", "course", "pipe", "device", "folder for a file"])
def test_links_and_odd_files_in_a_course_are_refused(what: str, secret: Path, tmp_path: Path) -> None:
    course = make_course(tmp_path / "course")
    (course / "tunes" / "plain.yaml").write_bytes((secret / "tune.yaml").read_bytes())
    if what == "tune":
        (course / "tunes" / "linked.yaml").symlink_to(secret / "tune.yaml")
    elif what == "week":
        (course / "weeks" / "one.yaml").unlink()
        (course / "weeks" / "one.yaml").symlink_to("/etc/passwd")
    elif what == "folder":
        (course / "words").symlink_to(secret)
    elif what == "course":
        (course / "course.yaml").unlink()
        (course / "course.yaml").symlink_to(secret / "secret.txt")
    elif what == "pipe":
        os.mkfifo(course / "tunes" / "pipe.yaml")
    elif what == "device":
        (course / "tunes" / "zero.yaml").symlink_to("/dev/zero")
    else:
        (course / "tunes" / "folder.yaml").mkdir()
    with watch() as deeds, time_limit(10):
        made, findings = inspect_course(course)
    assert made is None
    assert findings
    assert all(finding.hint for finding in findings)
    assert deeds.read_inside(secret) == set()
    assert "/etc/passwd" not in deeds.read
    assert SECRET not in "".join(map(str, findings))


@pytest.mark.parametrize(
    "name",
    [
        "../secret/tune",
        "../../etc/passwd",
        "/etc/passwd",
        "tunes/lamplighters-round",
        "..",
        "",
        "lamplighters-round.yaml",
    ],
)
def test_names_in_content_are_no_paths(name: str, secret: Path, tmp_path: Path) -> None:
    course = make_course(tmp_path / "course")
    week = course / "weeks" / "one.yaml"
    week.write_text(week.read_text().replace("tune: lamplighters-round", f'tune: "{name}"'))
    for file, key in (
        ("editions/plain.yaml", "language"),
        ("editions/plain.yaml", "counting"),
        ("course.yaml", "instrument"),
    ):
        (course / file).write_text((course / file).read_text() + (f'{key}: "{name}"\n' if name else ""))
    with watch() as deeds:
        made, findings = inspect_course(course)
    assert made is None
    assert len(findings) >= 4
    assert deeds.read_inside(secret) == set()
    assert "/etc/passwd" not in deeds.read


@pytest.mark.engraver
def test_a_build_reads_and_writes_where_it_should(secret: Path, tmp_path: Path) -> None:
    course, out, cache = make_course(tmp_path / "course"), tmp_path / "out" / "book.pdf", tmp_path / "cache"
    before = sorted((path, path.stat().st_mtime_ns) for path in course.rglob("*"))
    with watch() as deeds:
        build(course, out, open_workshop(cache))
    assert sorted((path, path.stat().st_mtime_ns) for path in course.rglob("*")) == before
    assert deeds.read_inside(secret) == set()
    work = {Path(name) for name in deeds.written if Path(name).is_absolute()}
    assert {path for path in work if path.is_relative_to(tmp_path)} <= {
        path for path in work if path.is_relative_to(out.parent) or path.is_relative_to(cache)
    }
    assert [path.name for path in out.parent.iterdir()] == ["book.pdf"]


@pytest.mark.engraver
def test_an_edition_or_a_week_that_is_a_path_is_the_calls_fault(tmp_path: Path) -> None:
    course = make_course(tmp_path / "course")
    for more in (("--edition", "../../etc/passwd"), ("--edition", "plain.yaml"), ("--edition", "")):
        said = call_book(course, tmp_path / "book.pdf", tmp_path / "cache", *more)
        assert said.code == (0 if more[1] == "" else 2), said
