"""Every mistake a teacher can make in a file is told with its file, line, column, reason and remedy."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from course_texts import FILES, change, inspect, write_course
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bookbuild.diagnostics import ContentError, Severity
from bookbuild.lessons.files import read_course

T, G, W1, W2, C, E, N = (
    "tunes/lane.yaml", "grooves/step.yaml", "weeks/one.yaml", "weeks/two.yaml", "course.yaml", "editions/studio.yaml",
    "instruments/small.yaml",
)

MISTAKES = [
    # file, written, changed to, line, column, message, remedy
    (T, "title: \"Lane\"\n", "", 1, 1, "'title' is missing", "Add 'title:'"),
    (T, "title: \"Lane\"", "titel: Lane", 1, 1, "'titel' is not a key of a tune", "Did you mean 'title'"),
    (T, "title: \"Lane\"", "title:", 1, 1, "'title' has no value", "printed title"),
    (T, "title: \"Lane\"", "title: [a]", 1, 8, "'title' should be text", "one piece of text"),
    (T, "title: \"Lane\"", "title: *lane", 1, 8, "aliases", "in quotes"),
    (T, "title: \"Lane\"", "title: !!python/name:os.system x", 1, 8, "the tag", "Remove it"),
    (T, "title: \"Lane\"", "title: Lane: a walk", 1, 12, "second colon", "double quotes"),
    (T, "title: \"Lane\"", "title: \"Lane", 1, 8, "never closed", "Close it"),
    (T, "title: \"Lane\"", "title: 'It's'", 1, 12, "after the closing quotation mark", "apostrophe"),
    (T, "title: \"Lane\"", "title: @Lane", 1, 8, "cannot begin with", "title: \"@Lane\""),
    (T, "title: \"Lane\"", "title: Lane\ntitle: Again", 2, 1, "already in line 1", "Keep one"),
    (T, "title: \"Lane\"", "title: Lane\n---\ntitle: Again", 2, 1, "second document", "'---'"),
    (T, "title: \"Lane\"", "title:\tLane", 1, 7, "tab", "spaces"),
    (T, "title: \"Lane\"", "title: \"La\\x1bne\"", 1, 8, "U+001B", "Delete it"),
    (T, "title: \"Lane\"", "title: Lane\nnonsense", 2, 1, "no 'key: value'", "a colon"),
    (T, "composer:", "composr:", 2, 10, "'composr' is not a key of 'rights'", "'composer'"),
    (T, "meter: 2/4", "meter: 2-4", 3, 8, "'2-4' is not a meter", "2/4, 3/4"),
    (T, "meter: 2/4", "meter: 2/5", 3, 8, "'2/5' is not a meter this book can count", "6/8"),
    (T, "key: G major", "key: G dur", 4, 6, "'G dur' is not a key", "'E minor'"),
    (T, "key: G major", "key: G# major", 4, 6, "needs 8 accidentals", "tonic"),
    (T, "upbeat: 1/8", "upbeat: short", 5, 9, "'short' is not a length", "1/8 is an eighth"),
    (T, "upbeat: 1/8", "upbeat: 3/4", 5, 9, "not shorter than a bar", "before the first bar line"),
    (T, "upbeat: 1/8", "", 10, 7, "bar 1 of section A holds 1/8 instead of 1/2", "'upbeat: 1/8'"),
    (T, "start: 50", "start: fast", 6, 16, "'tempo.start' should be a whole number", "digits"),
    (T, "start: 50", "start: 5", 6, 16, "at least 10", "larger"),
    (T, "start: 50", "start: 100", 6, 16, "above its goal 96", "slower"),
    (T, "goal: 96", "goal: 96, beat: 2", 6, 36, "a beat of 2 cannot be counted", "1/4"),
    (T, "  A:\n    melody", "  A:\n    melodie", 9, 5, "'melodie' is not a key of 'sections.A'", "'melody'"),
    (T, "  B:\n", "  B part:\n", 13, 3, "'B part' cannot name a section", "without spaces"),
    (T, "g' b' d'' b'", "g' b' h' b'", 10, 19, "h is not a note name", "b is B natural"),
    (T, "g' b' d'' b'", "g' b' d'' fs'", 10, 23, "'fs' is not a note name", "fis is F sharp"),
    (T, "g' b' d'' b'", "g' B' d'' b'", 10, 16, "small letters", "g for G"),
    (T, "g' b' d'' b'", "g' b' d'' b'8.", 10, 13, "bar 1 of section A holds 9/16 instead of 1/2", "up to the next |"),
    (T, "g' b' d'' b'", "g' b' d'' <b' d''>", 10, 23, "chords are not read", "single note"),
    (T, "g' b' d'' b'", "g' (b' d'') b'", 10, 16, "slurs are not read", "\\breathe"),
    (T, "g' b' d'' b'", "g'3 b' d'' b'", 10, 13, "'3' is not a duration", "1 2 4 8"),
    (T, "g' b' d'' b'", "g'" + "9" * 6000 + " b' d'' b'", 10, 13, "'999999999999…' is not a duration", "1 2 4 8"),
    (T, "g' b' d'' b'", "g' b'~ d'' b'", 10, 18, "the tie after b' leads to d''", "same pitch"),
    (T, "g' b' d'' b'", "g' b'-6 d'' b'", 10, 18, "'-6' is not a finger", "-1 (thumb)"),
    (T, "g' b' d'' b'", "g' b' d'' \\mf b'", 10, 23, "dynamics", "'text'"),
    (T, "g' b' d'' b'", "\\relative c' { g b }", 10, 13, "'\\relative' is not read", "absolute"),
    (T, "g' b' d'' b'", "\\tuplet 7/4 { g' b' }", 10, 13, "7/4 is not read", "3/2"),
    (T, "g' b' d'' b'", "\\tuplet 3/2 { g' b' } b'4.", 10, 13, "the tuplet is not filled", "first number"),
    (T, "g' b' d'' b'", "\\tuplet 3/2 { g' b' b' b'4", 10, 40, "a bar ends inside a tuplet", "}"),
    (T, "g' b' d'' b'", "#(system \"ls\") b'", 10, 13, "program code is not read", "notes only"),
    (T, "d'8 | g'", "d' | g'", 10, 7, "the first note has no duration", "4 is a quarter"),
    (T, "g'4. \\breathe", "g'2 r8 \\breathe", 10, 50, "bar 4 of section A holds 5/8", "or 3/8"),
    (T, "d'8 | e''4", "d'4 | e''4", 15, 7, "the upbeat of section B holds 1/4 instead of 1/8", "'upbeat'"),
    (T, "G | C . | G D7 | G |", "G | Cmajor | G D7 | G |", 12, 11, "'Cmajor' is not a chord symbol", "Cmaj"),
    (T, "G | C . | G D7 | G |", "g | C . | G D7 | G |", 12, 7, "'g' is not a chord symbol", "capitals: G"),
    (T, "G | C . | G D7 | G |", "G | H7 | G D7 | G |", 12, 11, "'H7'", "B natural"),
    (T, "G | C . | G D7 | G |", "G | C | G", 12, 15, "have 3 bars, its melody 5", "may be left out"),
    (T, "G | C . | G D7 | G |", "G | C . D7 | G D7 | G |", 12, 11, "3 chords do not divide bar 2", "lengths"),
    (T, "G | C . | G D7 | G |", "G | C:1/4 D7 | G D7 | G |", 12, 11, "only some chords of bar 2", "every chord"),
    (T, "G | C . | G D7 | G |", "G | C:1/4 D7:1/8 | G D7 | G |", 12, 11, "last 3/8, the bar 1/2", "lengths behind"),
    (T, "G | C . | G D7 | G |", "G | C:x | G D7 | G |", 12, 13, "'x' is not a length", "G:3/8"),
    (T, "form: A A B B", "form: A A C", 18, 7, "a section 'C' the tune does not have", "Known: A, B"),
    (T, "form: A A B B", "form: [A, A, C]", 18, 14, "a section 'C' the tune does not have", "Known: A, B"),
    (G, "slots: 2", "slots: 5", 3, 8, "5 slots in a beat", "1, 2, 3, 4 or 6"),
    (G, "tempo: [40, 120]", "tempo: [120, 40]", 4, 8, "120 is above the fastest 40", "slower one first"),
    (G, "tempo: [40, 120]", "tempo: 40", 4, 8, "'tempo' should be a list", "[one, two]"),
    (G, "tempo: [40, 120]", "swing: 1/3", 4, 8, "a swing of 1/3", "2/3"),
    (G, "count: 1 & 2 &", "count: 1 2", 5, 8, "'count' has 2 places, a bar has 4", "Write 4 signs"),
    (G, "bass: x . f .", "bass: x . q .", 6, 11, "'q' is not a sign of the row 'bass'", "f the fifth"),
    (G, "bass: x . f .", "bass: x.f.", 6, 7, "'x.f.' is not a sign", "Separate the signs"),
    (G, "bass: x . f .", "bass: - . f .", 6, 7, "reads as a list", "bass: \"- . f .\""),
    (G, "bass: x . f .", "bass: \"- . f .\"", 6, 8, "begins with '-' but ends in silence", "end the row"),
    (G, "bass: x . f .", "bass: x . - .", 6, 11, "holds nothing", "Write . for silence"),
    (G, "bass: x . f .", "bass: x . f . | x .", 6, 17, "'bass' has 2 places", "4 signs a bar"),
    (G, "accent: \"> . . .\"", "accent: > . . .", 8, 9, "'>' or '|'", "accent: \"> . . .\""),
    (G, "accent: \"> . . .\"", "fill: \". . . x\"\naccent: \"> > . .\"\nchord2: x", 10, 1, "'chord2'", "'chord'"),
    (W1, "kind: melody", "kind: melodie", 10, 11, "'melodie' is not an exercise kind", "'melody'"),
    (W1, "tune: lane", "tune: lain", 11, 11, "there is no tune 'lain' in tunes/", "'lane'"),
    (W1, "groove: step", "groove: stomp", 7, 13, "there is no groove 'stomp'", "'step'"),
    (W1, "sections: \"A\"", "sections: Z", 12, 15, "tune 'lane' has no section 'Z'", "Known: A, B"),
    (W1, "    chord: G\n", "", 6, 5, "needs a chord", "'chord:'"),
    (W1, "    groove: step\n", "", 6, 5, "needs a groove", "'groove:'"),
    (W1, "    tune: lane\n", "", 10, 5, "needs a tune", "'tune:'"),
    (W1, "chord: G", "chord: Gx", 8, 12, "'Gx'", "kind"),
    (W1, "bars: 4", "bars: 400", 9, 11, "at most 64", "smaller"),
    (W1, "bars: 4", "shake: A", 9, 12, "'shake' means nothing", "arrangement"),
    (W1, "new: [\"Bass and chord\"]", "new: Bass", 3, 6, "'new' should be a list", "[one, two]"),
    (W1, "aim: \"Alternate bass and chord evenly.\"\n", "", 1, 1, "'aim' is missing", "end of the week"),
    (W1, "new: [\"Bass and chord\"]", "link: javascript:alert(1)", 3, 7, "is not a web address", "https://"),
    (W2, "{tune} over {groove}", "{tuen} over {groove}", 8, 24, "{tuen} cannot be filled in", "{tune}"),
    (W2, "introduction: 2", "introduction: two", 13, 19, "whole number", "digits"),
    (W2, "introduction: 2", "start: 90\n    goal: 60", 13, 12, "90, above its goal 60", "slower"),
    (C, "weeks: [one, two]", "weeks: [one, tow]", 3, 14, "there is no week 'tow'", "'two'"),
    (C, "weeks: [one, two]", "weeks: [one, one, two]", 3, 14, "stands twice", "Remove"),
    (C, "edition: studio", "edition: studoi", 4, 10, "there is no edition 'studoi'", "'studio'"),
    (C, "instrument: small", "instrument: smal", 5, 13, "there is no instrument 'smal'", "'small'"),
    (C, "text: \"The lungs.\"", "meaning: lungs", 7, 21, "'meaning' is not a key of 'glossary 1'", "Known: term, text"),
    (E, "counting: plain", "counting: plane", 2, 11, "there is no counting 'plane'", "'plain'"),
    (E, "paper: A5", "paper: A7", 3, 8, "'A7' is not a paper size", "A5"),
    (E, "paper: A5", "language: fr", 3, 11, "there is no language 'fr'", "Known: en"),
    (E, "paper: A5", "swaps: {lane: mill}", 3, 15, "groove 'step' is in 2/4, tune 'mill' in 3/4",
     "Take a tune for that groove in place of 'mill': lane."),
    (T, "title: \"Lane\"", "title: {Lane} a walk", 1, 15, "after a closing bracket", "double quotes as a whole"),
    (E, "paper: A5", "papre: A5", 3, 1, "'papre' is not a key of an edition", "'paper'"),
    (E, "paper: A5", "swaps: {lame: mill}", 3, 9, "there is no tune 'lame'", "'lane'"),
    (E, "paper: A5", "isbn: 978-3-16-148410-1", 3, 7, "the last digit of '978-3-16-148410-1' should be 0", "agency"),
    (E, "paper: A5", "studio: {logo: ../secret.png}", 3, 16, "lies outside the course folder", "PNG or SVG"),
    (E, "paper: A5", "studio: {logo: /etc/passwd.png}", 3, 16, "lies outside the course folder", "PNG or SVG"),
    (E, "paper: A5", "studio: {logo: none.png}", 3, 16, "does not exist", "logo.svg"),
    (E, "paper: A5", "studio: {logo: notes.txt}", 3, 16, "neither PNG nor SVG", "logo.svg"),
    (E, "paper: A5", "staff: nan", 3, 8, "should be a number", "7.5"),
    (N, "lowest: \"b\"", "lowest: \"h\"", 2, 17, "'h' is not a note", "middle C"),
    (N, "lowest: \"b\"", "lowest: \"b'''''\"", 2, 17, "not a note of the keyboard", "middle C"),
    (N, "highest: \"c''''\"", "highest: \"a\"", 2, 17, "not below the highest", "octave marks"),
    (N, "[bass, major, minor, seventh]", "[major, bass]", 4, 9, "not in order", "[bass, major]"),
    (N, "[bass, major, minor, seventh]", "[bass, mjaor]", 4, 16, "'mjaor' is not a left-hand row", "'major'"),
    (N, "first_column: Eb", "first_column: Es", 5, 17, "'Es' is not a note name", "Db"),
    ("counting/plain.yaml", "2: [n, \"&\"]", "2: [n]", 2, 21, "1 syllables do not fill 2 slots", "each slot"),
    ("counting/plain.yaml", "2: [n, \"&\"]", "two: [n]", 2, 18, "whole number", "digits"),
    ("counting/plain.yaml", "[n, \"&\"]", "[n, &]", 2, 25, "& or *", "\"&\""),
    ("words/en.yaml", "page.week", "page.weak", 1, 1, "'page.weak' is not a label", "'page.week'"),
    ("words/en.yaml", "Lesson", "Lesson\ntone.names: C D E F G A H", 2, 13, "7 names are not eight", "B flat before B"),
    ("words/en.yaml", "Lesson", "Lesson\ntone.names: C D E F G A B B", 2, 13, "stands for two", "C D E F G A B♭ B"),
    ("words/en.yaml", "Lesson", "Lesson {x}", 1, 19, "{x} cannot be filled in", "no fields"),
]


@pytest.mark.parametrize(
    ("file", "old", "new", "line", "column", "message", "remedy"), MISTAKES, ids=[f"{m[0]}: {m[5]}" for m in MISTAKES]
)
def test_a_mistake_is_told_where_it_is_with_its_remedy(
    file: str, old: str, new: str, line: int, column: int, message: str, remedy: str, tmp_path: Path
) -> None:
    course, findings = inspect(tmp_path, change(file, old, new))
    assert course is None
    told = "\n".join(str(finding) for finding in findings)
    matching = [finding for finding in findings if message in finding.message]
    assert matching, told
    first = matching[0]
    assert (first.file, first.line, first.column) == (file, line, column), told
    assert remedy in first.hint, told
    assert len(findings) <= 4, f"one mistake, too many findings:\n{told}"


def test_the_unbroken_course_has_no_findings(tmp_path: Path) -> None:
    course, findings = inspect(tmp_path)
    assert findings == []
    assert course is not None
    assert [week.name for week in course.weeks] == ["one", "two"]


def test_mistakes_of_many_files_are_told_in_one_run(tmp_path: Path) -> None:
    """One mistake of every file at once: each is told as if it were alone."""
    picked = {mistake[0]: mistake for mistake in MISTAKES if "reads as" not in mistake[5]}
    changes: dict[str, str | bytes | None] = {}
    for file, mistake in picked.items():
        changes |= change(file, mistake[1], mistake[2])
    with pytest.raises(ContentError) as raised:
        read_course(write_course(tmp_path, changes))
    told = {(finding.file, finding.line, finding.column) for finding in raised.value.diagnostics}
    assert told >= {(file, mistake[3], mistake[4]) for file, mistake in picked.items() if "swap" not in mistake[2]}


def test_mistakes_of_one_file_are_told_in_one_run(tmp_path: Path) -> None:
    """A wrong key, a missing one, a wrong note, a wrong bar, a wrong chord and a wrong form in one tune."""
    text = FILES[T]
    for old, new in [("title: \"Lane\"\n", "titel: Lane\n"), ("g' b' d'' b'", "g' h' d'' b'"), ("b'4 a' ", "b'4 a'8 "),
                     ("C . |", "Cq . |"), ("goal: 96", "goal: x"), ("form: A A B B", "form: A D")]:
        assert old in text
        text = text.replace(old, new, 1)
    _, findings = inspect(tmp_path, {T: text})
    lines = sorted(finding.line for finding in findings if finding.file == T)
    assert lines == [1, 1, 6, 10, 10, 12, 18], "\n".join(map(str, findings))


def test_names_are_checked_in_a_week_that_has_other_mistakes(tmp_path: Path) -> None:
    text = FILES[W2].replace("kind: arrangement", "kind: arangement").replace("tune: lane", "tune: lain")
    text = text.replace("groove: step", "groove: stpe", 1).replace("title:", "titel:")
    _, findings = inspect(tmp_path, {W2: text})
    told = {(finding.line, finding.message.split("'")[1]) for finding in findings}
    assert told == {(1, "titel"), (1, "title"), (5, "lain"), (6, "stpe"), (9, "exercises 2.kind")}


@pytest.mark.parametrize("file", sorted(FILES))
def test_a_wrong_value_of_any_kind_anywhere_is_told_and_never_crashes(file: str, tmp_path: Path) -> None:
    """Every `key: value` of every file gets a value of the wrong shape in turn."""
    for match in list(re.finditer(r"(?m)^( *(?:- )?[\w.-]+): +\S.*$", FILES[file])):
        for wrong in ("[[[]]]", "{a: {b: c}}", "\"\\0\"", "-999999999999999999999999999", "1e999", "''"):
            text = FILES[file][: match.start()] + f"{match[1]}: {wrong}" + FILES[file][match.end() :]
            course, findings = inspect(tmp_path, {file: text})
            assert course is not None or findings
            assert all(finding.file and finding.message and finding.hint for finding in findings)


def cut_somewhere() -> st.SearchStrategy[tuple[str, bytes]]:
    """A file of the course with a random piece of bytes taken out, doubled or replaced."""

    @st.composite
    def damage(draw: st.DrawFn) -> tuple[str, bytes]:
        file = draw(st.sampled_from(sorted(FILES)))
        content = FILES[file].encode()
        start = draw(st.integers(0, len(content)))
        end = draw(st.integers(start, min(len(content), start + 30)))
        pieces = [b"", content[start:end] * 2, b"\xff", b"{", b"- ", b"&x ", b"\n", b": ", b"'", b"\x00"]
        middle = draw(st.sampled_from(pieces))
        return file, content[:start] + middle + content[end:]

    return damage()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cut_somewhere())
def test_a_damaged_file_is_explained_and_never_crashes(tmp_path: Path, damaged: tuple[str, bytes]) -> None:
    file, content = damaged
    course, findings = inspect(tmp_path, {**FILES, file: content})
    assert course is not None or any(finding.severity is Severity.ERROR for finding in findings)
    for finding in findings:
        assert finding.file
        assert finding.message
        assert finding.hint
        assert "\n" not in finding.message
