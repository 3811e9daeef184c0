"""Texts that want to run, break out or steer are printed as they are written, or refused with their place."""

from __future__ import annotations

import itertools
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
import yaml
from course_scenes import write_scene
from fuzz_yaml import find_fault, time_limit
from hostile_course import dump, is_read, many_weeks, must_stand, readable, single_fields, visible
from hostile_strings import hostile_strings
from small_book import small_files
from watch_process import Deeds, watch

from bookbuild.arrange.exercises import Setting, arrange_exercise
from bookbuild.arrange.model import BellowsSpan, Direction
from bookbuild.build import build
from bookbuild.engrave.batch import spell_counts, spell_words
from bookbuild.engrave.engine import Runs, find_engraver, run_engraver
from bookbuild.engrave.rows import RowWords
from bookbuild.engrave.run_batch import Task
from bookbuild.engrave.score import bookpart_text
from bookbuild.engrave.source import batch_text, book_text
from bookbuild.engrave.standby import engrave_in_copy, keep_ready
from bookbuild.engrave.style import Style
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.model import Course, ExerciseSpec
from bookbuild.workshop import fonts_folder, open_workshop

WEEK_FIELDS = 8
"""Fields of `many_weeks` that stand on the pages in full: title, aim, text, caution, new, listen, glossary pair."""


@pytest.fixture
def canary(tmp_path: Path) -> Iterator[Path]:
    """A file that hostile texts try to make; it must not be there in the end."""
    path = tmp_path / "canary"
    yield path
    assert not path.exists()


def read_pages(path: Path) -> str:
    """The text of a PDF, ready to be compared."""
    document = pypdfium2.PdfDocument(path)
    return visible("".join(page.get_textpage().get_text_range() for page in document))


def build_watched(folder: Path, files: dict[str, bytes], name: str) -> tuple[Path, Deeds]:
    """Build the book of a course in this process, and what the process did meanwhile."""
    course, out = write_scene(folder / "course", files), folder / f"{name}.pdf"
    with watch() as deeds:
        build(course, out, open_workshop(folder / "cache", workers=2))
    return out, deeds


def assert_harmless(deeds: Deeds, folder: Path) -> None:
    """No program but the engraver, no socket, nothing written outside the test's folder and the work folders."""
    assert deeds.programs <= {str(find_engraver().path)}
    assert deeds.sockets == []
    assert deeds.written_outside(folder, Path(tempfile.gettempdir()), Path("/dev/null")) == set()
    assert deeds.read_inside(Path("/etc/passwd")) == set()


def assert_inert(path: Path) -> None:
    """The PDF is whole and does nothing when it is opened or clicked."""
    with pikepdf.open(path) as pdf:
        assert pdf.check_pdf_syntax() == []
        for thing in pdf.objects:
            if isinstance(thing, pikepdf.Dictionary):
                assert not {"/JS", "/JavaScript", "/Launch", "/OpenAction", "/AA", "/EmbeddedFile"} & set(thing.keys())
                assert "/URI" not in thing or str(thing.URI).startswith("https://")


def test_there_are_enough_hostile_texts() -> None:
    texts = hostile_strings()
    assert len(texts) == len(set(texts)) >= 300
    assert sum(map(is_read, texts)) >= 300


def test_what_cannot_be_printed_is_refused_with_its_place(tmp_path: Path) -> None:
    refused = [text for text in hostile_strings() if not is_read(text)]
    assert len(refused) > 30
    for text in refused:
        for file, data in (
            ("tunes/a.yaml", {"title": text}),
            ("course.yaml", {"text": text}),
            ("words/en.yaml", {text: "x"}),
        ):
            content = dump(data)
            write_scene(tmp_path, {"course.yaml": dump({"title": "x"}), file: content})
            course, findings = inspect_course(tmp_path)
            assert course is None, repr(text)
            lengths = {file: len(content.splitlines()), "course.yaml": 2}
            assert any(finding.file == file and finding.line for finding in findings), repr(text)
            assert find_fault([one for one in findings if one.file == file], lengths) == "", repr(text)


def hostile_parts(texts: Sequence[str], course: Course) -> Iterator[str]:
    """Two bars for every text, which stands in all syllables and all bellows words."""
    setting = Setting(course.instruments[course.default_instrument], course.countings["american"])
    spec = ExerciseSpec("melody", "lamplighters-round", bars=1)
    plain = arrange_exercise(spec, course.tunes["lamplighters-round"], None, setting)
    quarter = plain.length / 4
    for index, text in enumerate(texts):
        # A syllable has twelve characters at most: the beginnings and the ends of the texts take turns.
        ends = itertools.cycle((text[:12], text[-12:]))
        counts = tuple(replace(count, text=next(ends)) for count in plain.counts)
        bellows = (
            BellowsSpan(Fraction(0), quarter, Direction.OPEN, air=True),
            BellowsSpan(quarter, 2 * quarter, Direction.CLOSE),
            BellowsSpan(2 * quarter, 4 * quarter, Direction.OPEN, stroke=quarter / 4),
        )
        spelled = spell_counts(Task("x", replace(plain, counts=counts, bellows=bellows)), fonts_folder())
        style = spell_words(Style(words=RowWords(*[text[:40]] * 4)), fonts_folder())
        yield bookpart_text(f"x{index}", spelled.arrangement, style)


@pytest.mark.engraver
def test_the_engraver_prints_every_syllable_and_word_literally(course: Course, canary: Path, tmp_path: Path) -> None:
    # The reader would have refused some of these: the engraver's own door must hold alone.
    texts = hostile_strings(str(canary))
    parts = list(hostile_parts(texts, course))
    halves = [(texts[start::2], parts[start::2]) for start in (0, 1)]

    folder = tmp_path / "standby"
    folder.mkdir()

    def engrave(number: int) -> str:
        # One half by a fresh engraver, one by the copy of one on standby.
        parts = halves[number][1]
        if number == 0 or standby is None:
            source = batch_text(parts, Style(), fonts_folder())
            return read_pages(run_engraver(find_engraver(), source, tmp_path / "fresh", seconds=300))
        work = standby.folder / "run-copy"
        work.mkdir()
        return read_pages(engrave_in_copy(standby, book_text(parts), work, seconds=300))

    with (
        watch() as deeds,
        keep_ready(find_engraver(), Style(), fonts_folder(), folder, Runs()) as standby,
        ThreadPoolExecutor(2) as threads,
    ):
        pages = list(threads.map(engrave, (0, 1)))
    assert deeds.programs == {str(find_engraver().path)}
    for number, (own, _) in enumerate(halves):
        plain = [text for text in own if text.isascii() and text.isprintable()]
        assert len(plain) > 100
        for text in plain:
            assert visible(text[:12]) in pages[number]
            assert visible(text[:40]) in pages[number]


@pytest.mark.engraver
def test_every_field_that_comes_often_prints_every_text(canary: Path, tmp_path: Path) -> None:
    texts = readable(canary)
    out, deeds = build_watched(tmp_path, many_weeks(texts), "often")
    assert_harmless(deeds, tmp_path)
    assert_inert(out)
    pages = read_pages(out)
    plain = list(must_stand(text for text in texts if len(text) < 180))
    assert len(plain) > 200
    assert {text: pages.count(text) for text in plain if pages.count(text) < WEEK_FIELDS} == {}


@pytest.mark.parametrize("turn", range(4))
def test_every_field_that_comes_once_prints_its_text(turn: int, canary: Path, tmp_path: Path) -> None:
    texts = readable(canary)
    files = single_fields(texts, turn)
    out, deeds = build_watched(tmp_path, files, "once")
    assert_harmless(deeds, tmp_path)
    assert_inert(out)
    pages = read_pages(out)
    edition, course = (yaml.safe_load(files[name]) for name in ("editions/one.yaml", "course.yaml"))
    held = [course["title"], course["subtitle"], edition["title"], *edition["studio"].values()]
    assert [text for text in must_stand(held) if text not in pages] == []
    # The preface and the statement of rights hold all of them.
    assert {text: pages.count(text) for text in must_stand(texts) if pages.count(text) < 2} == {}


@pytest.mark.parametrize(
    "address",
    [
        "javascript:alert(1)",
        "file:///etc/passwd",
        "data:text/html,x",
        "//host/x",
        "https://",
        "http:// x",
        "https://a b",
        "https://a\u202eb",
        "x",
        "ftp://host/x",
        "https://host/<b>",
        "HTTPS:/x",
    ],
)
def test_a_link_is_a_web_address(address: str, tmp_path: Path) -> None:
    files = many_weeks(["a text"])
    files["weeks/w0.yaml"] += dump({"link": address})
    _, findings = inspect_course(write_scene(tmp_path, files))
    assert [finding for finding in findings if finding.file == "weeks/w0.yaml" and "address" in finding.message]


def test_a_word_beside_the_staff_has_a_bounded_length(tmp_path: Path) -> None:
    files = {**many_weeks(["a text"]), "words/en.yaml": dump({"mark.open": "o" * 41})}
    _, findings = inspect_course(write_scene(tmp_path, files))
    assert [(one.file, one.line) for one in findings if "too long" in one.message] == [("words/en.yaml", 1)]


STRICT_FIELDS = (
    [
        ("tunes/lamplighters-round.yaml", path)
        for path in (
            "meter",
            "key",
            "upbeat",
            "form",
            "tempo.start",
            "tempo.beat",
            "sections.A.melody",
            "sections.A.chords",
        )
    ]
    + [
        ("grooves/promenade.yaml", path)
        for path in ("meter", "slots", "swing", "count", "bass", "chord", "fill", "accent", "shake", "ending.bass")
    ]
    + [
        ("weeks/one.yaml", f"exercises.2.{key}")
        for key in ("kind", "tune", "groove", "sections", "chord", "bars", "start", "shake", "right", "introduction")
    ]
    + [
        ("editions/plain.yaml", path)
        for path in (
            "paper",
            "instrument",
            "counting",
            "language",
            "isbn",
            "staff",
            "booklet",
            "swaps",
            "studio",
            "days",
        )
    ]
    + [
        ("instruments/34-keys-72-basses.yaml", path)
        for path in ("right.lowest", "left.rows", "left.first_column", "left.columns", "air.full", "fingering")
    ]
    + [("course.yaml", path) for path in ("weeks", "edition", "instrument", "weights", "glossary")]
)
"""Fields that hold no prose: file and path."""


def put_in(data: dict[str, Any], path: str, text: str) -> None:
    """Put a text at a dotted path, as the value, in a list, or as a key."""
    *parents, last = path.split(".")
    here: Any = data
    for name in parents:
        here = here[int(name)] if isinstance(here, list) else here.setdefault(name, {})
    old = here.get(last)
    here[last] = [text] if isinstance(old, list) else {text: text} if last in ("swaps", "weights") else text


def test_fields_that_hold_no_prose_refuse_or_take_every_text(canary: Path, tmp_path: Path) -> None:
    plain = small_files()
    tried, taken = 0, 0
    for number, text in enumerate(hostile_strings(str(canary))):
        for step in range(2):
            file, path = STRICT_FIELDS[(number * 2 + step * 13) % len(STRICT_FIELDS)]
            data = yaml.safe_load(plain[file])
            put_in(data, path, text)
            files = {**plain, file: dump(data)}
            with watch() as deeds, time_limit(5):
                course, findings = inspect_course(write_scene(tmp_path / "course", files))
            lengths = {name: len(content.splitlines()) for name, content in files.items()}
            assert find_fault(findings, lengths) == "", (file, path, text)
            assert course is not None or findings
            assert not deeds.programs
            assert deeds.written_outside(tmp_path) == set()
            tried, taken = tried + 1, taken + (course is not None)
    assert tried > 700
    # A blank is as good as nothing written, and some numbers are numbers: hardly anything is taken.
    assert taken < 0.06 * tried


def test_names_of_tones_are_letters_alone(tmp_path: Path) -> None:
    for text in filter(is_read, hostile_strings()):
        for names in (text, f"C D E F G A {text} H"):
            files = small_files() | {"words/de.yaml": dump({"tone.names": names})}
            course, findings = inspect_course(write_scene(tmp_path / "course", files))
            assert find_fault(findings, {name: len(content.splitlines()) for name, content in files.items()}) == ""
            if course is None:
                assert any(finding.file == "words/de.yaml" for finding in findings), repr(names)
            else:
                assert course.words["de"]["tone.names"].translate({ord("♭"): None, ord(" "): None}).isalpha()


@pytest.mark.parametrize("text", [text for text in hostile_strings() if is_read(text)][::6])
def test_a_section_is_named_by_a_word_alone(text: str, tmp_path: Path) -> None:
    files = small_files()
    tune = yaml.safe_load(files["tunes/lamplighters-round.yaml"])
    tune["sections"] = {text: tune["sections"]["A"]}
    tune["form"] = [text]
    files["tunes/lamplighters-round.yaml"] = dump(tune)
    course, findings = inspect_course(write_scene(tmp_path, files))
    lengths = {name: len(content.splitlines()) for name, content in files.items()}
    assert course is None
    assert find_fault(findings, lengths) == ""
    named = [one for one in findings if "cannot name a section" in one.message]
    assert bool(named) != text.replace("-", "").replace("'", "").isalnum() or len(text) > 24
