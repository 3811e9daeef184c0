"""Files from strangers: cut, in a wrong encoding, bombs, entity attacks, empty, huge, with a wrong suffix.

Every one ends in one clear line, in bounded time and memory, and nothing is written.
"""

from __future__ import annotations

import io
import random
import time
import tracemalloc
import zipfile
from pathlib import Path

import music21
import pytest

from bookbuild.diagnostics import BookbuildError
from bookbuild.importers.read import read_bytes, read_tunes
from bookbuild.importers.write import write_tunes
from bookbuild.importers.written import ImportFault

CORPUS = Path(music21.__file__).parent
SECONDS = 5.0
MEGABYTES = 500
NOTE = b"<note><pitch><step>C</step><octave>5</octave></pitch><duration>1</duration></note>"
OPEN = b'<score-partwise><part-list><score-part id="P"><part-name>x</part-name></score-part></part-list><part id="P">'


def archive(name: str, data: bytes, container: bool = True) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as made:
        if container:
            made.writestr("META-INF/container.xml",
                          f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>')
        made.writestr(name, data)
    return buffer.getvalue()


def laughs() -> bytes:
    """Entities that double themselves thirty times."""
    lines = "".join(f'<!ENTITY l{i + 1} "&l{i};&l{i};">' for i in range(30))
    return f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY l0 "ha">{lines}]><x>&l30;</x>'.encode()


def broken_crc() -> bytes:
    """The checksum of every entry changed in the archive's directory (16 bytes after each signature)."""
    data = bytearray(archive("a.xml", OPEN + NOTE * 50))
    place = data.find(b"PK\x01\x02")
    while place >= 0:
        data[place + 16] ^= 0xFF
        place = data.find(b"PK\x01\x02", place + 4)
    return bytes(data)


FAULTS = {
    "empty": b"",
    "blank": b" \n\t\n",
    "words": b"Dear teacher, here is my tune.\n",
    "picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4,
    "program": b"\x7fELF" + bytes(300),
    "utf-16 without mark": "X:1\nK:C\nCDEF|\n".encode("utf-16-le"),
    "cut utf-16": "X:1\nK:C\nCDEF|\n".encode("utf-16")[:-1],
    "control bytes": b"X:1\nK:C\n" + b"\x01\x02\xff\x81" * 50,
    "html": b"<html><body>not music</body></html>",
    "xml cut": OPEN + b"<measure>" + NOTE * 3 + b"<note><pit",
    "xml wrong encoding": b'<?xml version="1.0" encoding="utf-8"?><score-partwise>\xff\xfe</score-partwise>',
    "xml unknown encoding": b'<?xml version="1.0" encoding="klingon"?><score-partwise/>',
    "xml without parts": b"<score-partwise/>",
    "entity expansion": laughs(),
    "entity from a file": b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><score-partwise>&e;</score-partwise>',
    "entity undeclared": b"<score-partwise>&nothing;</score-partwise>",
    "deep": b"<a>" * 500_000,
    "many elements": b"<a>" + b"<b/>" * 1_500_000 + b"</a>",
    "huge xml": OPEN + b"<measure>" + NOTE * 130_000,
    "huge text": b"X:1\nK:C\n" + b"CDEF GABc|\n" * 950_000,
    "abc too large": b"X:1\nK:C\n" + b"CDEF GABc|\n" * 100_000,
    "too many tunes": b"X:1\nK:C\nC8|\n\n" * 2000,
    "zip bomb": archive("a.xml", b" " * 100_000_000),
    "zip small bomb": archive("a.xml", b" " * 7_000_000),
    "zip without score": archive("a.txt", b"words", container=False),
    "zip naming a missing score": archive("b.txt", b"x"),
    "zip cut": archive("a.xml", OPEN + NOTE * 1000)[:200],
    "zip wrong crc": broken_crc(),
    "zip of many files": b"",
    "midi cut": (CORPUS / "midi/testPrimitive/test08.mid").read_bytes()[:60],
    "midi header only": b"MThd",
    "midi junk": b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk\xff\xff\xff\xff" + bytes(range(256)),
    "midi too large": b"MThd" + bytes(2_000_000),
    "midi film time": b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\xe2\x50MTrk\x00\x00\x00\x04\x00\xff\x2f\x00",
    "sound file": b"RIFF" + bytes(2000),
}


def many_files() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as made:
        for number in range(500):
            made.writestr(f"{number}.xml", "<a/>")
    return buffer.getvalue()


FAULTS["zip of many files"] = many_files()


@pytest.mark.parametrize("name", sorted(FAULTS))
def test_one_line_in_bounded_time_and_memory(name: str, tmp_path: Path) -> None:
    path = tmp_path / "some tune.abc"
    path.write_bytes(FAULTS[name])
    before = sorted(tmp_path.iterdir())
    tracemalloc.start()
    started = time.process_time()
    with pytest.raises(BookbuildError) as caught:
        read_tunes(path)
    spent, (_, most) = time.process_time() - started, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert caught.value.exit_code in (1, 3)
    assert caught.value.message.startswith("some tune.abc")
    assert "\n" not in caught.value.message
    assert len(caught.value.message) < 200
    assert caught.value.hint
    assert spent < SECONDS
    assert most < MEGABYTES * 1_000_000
    assert sorted(tmp_path.iterdir()) == before


def test_remarks_are_as_many_as_somebody_may_read() -> None:
    voices = "".join(f"V:{number}\nC8|\n" for number in range(3000))
    [tune] = read_bytes(f"X:1\nT:Crowd\nM:4/4\nL:1/8\nK:C\n{voices}".encode(), "crowd.abc")
    assert len(tune.notes) == 101
    assert tune.notes[-1].endswith("remarks more")


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    for path, reason in ((tmp_path / "none.abc", "no such file"), (tmp_path, "is a folder")):
        with pytest.raises(ImportFault, match=reason):
            read_tunes(path)


STRANGE = {
    "brackets": b"X:1\nK:C\n" + (b"[A:" * 6000 + b"\n") * 50,
    "quotes": b"X:1\nK:C\n" + b'"' * 19_000,
    "braces": b"X:1\nK:C\n" + (b"{" * 19_000 + b"\n") * 20,
    "marks": b"X:1\nK:C\n" + (b"!a" * 9000 + b"\n") * 20,
    "one endless bar": b"X:1\nK:C\n" + (b"CDEFGABc" * 2000 + b"\n") * 30,
    "endless line": b"X:1\nK:C\n" + b"CDEF GABc|" * 90_000,
    "rests by the hundred": b"X:1\nM:4/4\nK:C\n" + b"Z999|\n" * 50,
    "length zero": b"X:1\nK:C\nC0 D/0|E1/0|\n",
    "length huge": b"X:1\nK:C\nC9999999999999|\n",
    "passes": b"X:1\nM:4/4\nK:C\nC8|1-99999 D8:|2 E8:|\n",
    "colons": b"X:1\nM:4/4\nK:C\n" + b"C8" + b":" * 5000 + b"|\n",
    "tuplet of nothing": b"X:1\nK:C\n(9:0:0CDE|(2:9:9C|\n",
}


@pytest.mark.parametrize("name", sorted(STRANGE))
def test_strange_abc_is_read_or_refused_quickly(name: str) -> None:
    started = time.process_time()
    items = read_bytes(STRANGE[name], "t.abc")
    assert time.process_time() - started < SECONDS
    assert all(item.tune or item.reason for item in items)


def seeds() -> list[bytes]:
    files = [*sorted((CORPUS / "corpus/ryansMammoth").glob("A*.abc"))[:20],
             *sorted((CORPUS / "corpus/nottingham-dataset").glob("*.abc")),
             *sorted((CORPUS / "musicxml/lilypondTestSuite").glob("*.xml"))[:40],
             *sorted((CORPUS / "corpus/leadSheet").glob("*.mxl")),
             *sorted((CORPUS / "midi/testPrimitive").glob("*.mid"))[:8]]
    return [file.read_bytes() for file in files]


PIECES = (b"999999999", b"0", b"-1", b"1/0", b"\xff\xfe", b"\x00", b"M:", b"K:H", b"<note/>", b"[1", b":|", b"::::",
          b"(9:0:0", b"<backup><duration>5</duration></backup>", b"\xe2\x80\xa8", b"|:", b"Z9",
          b"<forward/>", b"&", b"\n\n")


def damage(data: bytes, chance: random.Random) -> bytes:
    made = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 5, 20))):
        place = chance.randrange(len(made) + 1)
        how = chance.randrange(5)
        if how == 0 and place < len(made):
            made[place] = chance.randrange(256)
        elif how == 1:
            del made[place:place + chance.randrange(1, 60)]
        elif how == 2:
            made[place:place] = chance.choice(PIECES)
        elif how == 3:
            start = chance.randrange(len(made) + 1)
            made[place:place] = made[start:start + 60]
        elif chance.random() < 0.2:
            del made[place:]
    return bytes(made)


def test_damaged_real_files_never_crash(tmp_path: Path) -> None:
    """Structure-aware damage to real files: read, refused with a reason, or a fault of one line; what is read can be
    written and what cannot be written says so."""
    chance = random.Random(5)
    pool = seeds()
    messages = []
    for number in range(200):
        try:
            items = read_bytes(damage(chance.choice(pool), chance), "damaged")
        except BookbuildError as fault:
            messages.append(fault.message)
            continue
        rows = write_tunes(items[:3], tmp_path / str(number))
        assert all(row.written or row.reason for row in rows)
    assert len(messages) > 25
    assert not any("\n" in message for message in messages)
