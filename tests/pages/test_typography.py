"""Lines, markup, characters and styles."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.diagnostics import MachineError
from bookbuild.pages.fonts import FILES, REPLACEMENT, FontSet
from bookbuild.pages.glyphs import IN_TEXT
from bookbuild.pages.paper import PaperOptions, plan_sheet
from bookbuild.pages.typography import Style, TypeSetter, break_evenly, choose_styles, split_markup
from tests.pages.made_up import FONTS

SETTER = TypeSetter(FontSet(FONTS))
BODY = Style("serif", 10.5, emphasis="serif-italic", strong="serif-semibold")


def raggedness(widths: list[float], breaks: list[tuple[int, int]], space: float, measure: float) -> float:
    total = 0.0
    for first, last in breaks:
        length = sum(widths[first:last]) + space * (last - first - 1)
        if length > measure and last > first + 1:
            return float("inf")
        final = last == len(widths)
        total += 0.0001 + (0.0 if final else ((measure - length) / measure) ** 2)
        total += 0.11 if final and last == first + 1 and first else 0.0
    return total


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(5, 90).map(float), min_size=1, max_size=9))
def test_no_other_breaks_are_more_even(widths: list[float]) -> None:
    count, found = len(widths), break_evenly(widths, 4.0, 120.0)
    every = []
    for chosen in (c for size in range(count) for c in combinations(range(1, count), size)):
        starts = [0, *chosen]
        every.append(list(zip(starts, [*chosen, count], strict=True)))
    assert raggedness(widths, found, 4.0, 120.0) == pytest.approx(
        min(raggedness(widths, breaks, 4.0, 120.0) for breaks in every)
    )


@settings(max_examples=100, deadline=None)
@given(st.text(st.characters(codec="utf-8"), max_size=120))
def test_any_text_is_set_within_the_measure_and_loses_no_word(text: str) -> None:
    lines = SETTER.paragraph(text, BODY, 150.0, markup=False)
    assert all(line.width <= 150.0 + 1e-6 for line in lines)
    wanted = SETTER.fonts.clean(text, "serif", IN_TEXT).replace(" ", "").replace("\N{NO-BREAK SPACE}", "")
    set_words = (
        "".join("".join(chunk.text for chunk in line.chunks) for line in lines)
        .replace(" ", "")
        .replace("\N{NO-BREAK SPACE}", "")
    )
    assert set_words == wanted


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("plain", [("plain", "")]),
        ("a *soft* word", [("a ", ""), ("soft", "em"), (" word", "")]),
        ("**bold**er", [("bold", "strong"), ("er", "")]),
        ("2 * 3 * 4", [("2 * 3 * 4", "")]),
        ("one * alone", [("one * alone", "")]),
        (r"\*kept\*", [("*kept*", "")]),
        ("**", [("**", "")]),
        ("", []),
    ],
)
def test_markup(text: str, parts: list[tuple[str, str]]) -> None:
    joined: list[tuple[str, str]] = []
    for piece, weight in split_markup(text):
        if joined and joined[-1][1] == weight:
            joined[-1] = (joined[-1][0] + piece, weight)
        else:
            joined.append((piece, weight))
    assert joined == parts


@given(st.text(alphabet="ab *\\\n", max_size=30))
def test_markup_only_takes_pairs_away(text: str) -> None:
    kept = "".join(piece for piece, _ in split_markup(text))
    assert kept.replace("*", "").replace("\\", "") == text.replace("*", "").replace("\\", "")


def test_no_line_begins_with_a_dot_between_phrases() -> None:
    for measure in range(60, 200, 7):
        for line in SETTER.paragraph("Hands together · Nine Steps to the Gate, A · Polka", BODY, float(measure)):
            assert not line.chunks[0].text.startswith("·")


def test_controls_are_dropped_and_unknown_characters_told() -> None:
    fonts = FontSet(FONTS)
    assert fonts.clean("a\u200b\x00b\u2028c\td", "sans") == "ab c d"
    assert fonts.clean("𓀀", "sans") in (REPLACEMENT, "?")
    assert fonts.missing == {"𓀀"}


def test_kerning_draws_a_pair_together() -> None:
    face = SETTER.fonts.face("sans-bold")
    assert face.width("AV", 1000) < face.width("A", 1000) + face.width("V", 1000)
    assert "".join(stretch for stretch, _ in face.split_kerned("AVATAR, Te")) == "AVATAR, Te"
    assert sum(move for _, move in face.split_kerned("AV")) == pytest.approx(face.kern("A", "V"))


def test_accidentals_and_notes_are_drawn_where_the_font_has_none() -> None:
    line = SETTER.line("B♭ ♩ F♯", BODY)
    assert [chunk.text for chunk in line.chunks if chunk.sign] == ["♭", "♩", "♯"]
    assert SETTER.fonts.missing == set() or not SETTER.fonts.missing & IN_TEXT


def test_a_line_too_long_is_made_smaller_then_cut() -> None:
    line, style = SETTER.fit("A title of some length", BODY, 80.0)
    assert line.width <= 80.0
    assert style.size < BODY.size
    cut, _ = SETTER.fit("A title of some length, and then a good deal more of it", BODY, 80.0)
    assert cut.width <= 80.0
    assert cut.chunks[-1].text.endswith("…")


def test_large_print_has_no_serif_no_italic_and_nothing_small() -> None:
    # UKAAF G003 (2019): sans serif, no italics or blocks of capitals, text of 16 pt at least, better 18.
    styles = choose_styles(plan_sheet(PaperOptions(large_print=True, text_size=12)))
    for name, style in vars(styles).items():
        assert style.size >= 18 or name == "tab", name
        assert not style.small_capitals
        for face in (style.face, style.emphasis, style.strong):
            assert "serif" not in face
            assert "italic" not in face


def test_missing_and_broken_fonts_are_one_clear_error(tmp_path) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(MachineError, match=r"SourceSans3-Regular\.ttf"):
        FontSet(tmp_path).face("sans")
    (tmp_path / FILES["serif"]).write_bytes(b"\0\1\0\0 not a font")
    with pytest.raises(MachineError, match=r"SourceSerif4-Regular\.ttf"):
        FontSet(tmp_path).face("serif")
    whole = (FONTS / FILES["serif"]).read_bytes()
    (tmp_path / FILES["serif"]).write_bytes(whole[: len(whole) // 3])
    with pytest.raises(MachineError):
        FontSet(tmp_path).face("serif").kern("A", "V")
