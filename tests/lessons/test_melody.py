"""The melody language: what is read, and that music21 reads the same music from other notations."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import converter, tinyNotation

from bookbuild.lessons.melody import WrittenMelody, check_bars, parse_melody
from bookbuild.theory.meter import Meter

F = Fraction


def read(text: str) -> WrittenMelody:
    melody = parse_melody(text)
    assert melody.flaws == ()
    return melody


def sounding(melody: WrittenMelody) -> list[tuple[int | None, Fraction]]:
    return [(note.pitch.midi if note.pitch else None, note.length) for note in melody.notes]


def from_music21(stream: object) -> list[tuple[int | None, Fraction]]:
    """MIDI key (None = rest) and length in whole notes of every note, ties joined, as music21 has them."""
    stripped = stream.stripTies()  # type: ignore[attr-defined]
    found = []
    for note in stripped.flatten().notesAndRests:
        found.append((None if note.isRest else note.pitch.midi, F(note.quarterLength).limit_denominator(1000) / 4))
    return found


# The same music written by hand in this book's language and in music21's TinyNotation (c = C3 with a capital, c' = C5).
TINY = [
    ("d'8 fis' g'4. r8 a'2~ | a'4 b'4-3", "4/4 d8 f# g4. r8 a2~ a4 b4"),
    ("c'4 d'8 e' f'2", "4/4 c4 d8 e f2"),
    ("bes4 aes8. ges16 ees''2.", "4/4 B-4 A-8. G-16 e'-2."),
    ("\\tuplet 3/2 { c''8 d'' e'' } fis''4", "2/4 trip{c'8 d' e'} f'#4"),
    ("r4. b'8 b,1", "4/4 r4. b8 BB1"),
    ("c'4~ c'8 c'~ c'2", "4/4 c4~ c8 c8~ c2"),
]

# And in ABC 2.1, where C is middle C and c the octave above (L: unit of length).
ABC = [
    ("d'8 fis' a' d'' | e''4 r8 cis''", "X:1\nL:1/8\nM:2/4\nK:D\nDFAd|e2 z c|"),
    ("g'4 bes' d'' | f''2.~ | f''4 ees'' d''", "X:1\nL:1/4\nM:3/4\nK:Gm\nGBd|f3-|fed|"),
    ("\\tuplet 3/2 { e'8 g' b' } e''8. dis''16 | b'2", "X:1\nL:1/8\nM:2/4\nK:Em\n(3EGB e>^d|B4|"),
    ("c''8 a' f' c'4 c8 | a,2.", "X:1\nL:1/8\nM:6/8\nK:F\ncAF C2 C,|A,,6|"),
]


@pytest.mark.parametrize(("text", "tiny"), TINY)
def test_music21_reads_the_same_from_its_own_notation(text: str, tiny: str) -> None:
    """Reference: music21, TinyNotation converter."""
    stream = tinyNotation.Converter(tiny).parse().stream
    assert sounding(read(text)) == from_music21(stream)


@pytest.mark.parametrize(("text", "abc"), ABC)
def test_music21_reads_the_same_from_abc(text: str, abc: str) -> None:
    """Reference: music21's reader of the ABC standard."""
    assert sounding(read(text)) == from_music21(converter.parse(abc, format="abc").parts[0])


def test_durations_stick_and_bars_are_measured() -> None:
    melody = read("g'4 a' b'8 c'' | d''2. | \\tuplet 3/2 { c''4 b' a' }")
    assert [bar.length for bar in melody.bars] == [F(3, 4), F(3, 4), F(1, 2)]
    assert [note.onset for note in melody.notes][3:5] == [F(5, 8), F(3, 4)]


def test_fingers_breaths_comments_and_lines() -> None:
    melody = read("d'8-1 % the thumb\n fis'-3 \\breathe |\n g'4 -5 \\breathe")
    assert [(note.finger, note.breath) for note in melody.notes] == [(1, False), (3, True), (5, True)]


def test_ties_join_over_bars_keep_the_first_finger_and_the_last_breath() -> None:
    melody = read("g'4-2 a'2~ | a'2~ a'8 \\breathe r8")
    assert [(note.length, note.finger, note.breath) for note in melody.notes] == [
        (F(1, 4), 2, False), (F(9, 8), 0, True), (F(1, 8), 0, False),
    ]


@pytest.mark.parametrize(("ratio", "notes", "length"), [
    ("3/2", 3, F(1, 4)), ("6/4", 6, F(1, 2)), ("5/4", 5, F(1, 2)), ("4/3", 4, F(3, 8)), ("2/3", 2, F(3, 8)),
])
def test_a_tuplet_is_so_many_notes_in_the_time_of_so_many(ratio: str, notes: int, length: Fraction) -> None:
    melody = read(f"\\tuplet {ratio} {{ {' '.join(['c8'] + ['d'] * (notes - 1))} }}")
    assert len(melody.notes) == notes
    assert melody.bars[0].length == length


REFUSED = [
    ("<< c'4 >>", 0, "two voices"), ("c'4 <e' g'>", 4, "chords"), ("#(display 1)", 0, "program code"),
    ("\\repeat volta 2 { c'4 }", 0, "'form'"), ("\\time 3/4 c'4", 0, "'meter'"), ("\\key g \\major c'4", 0, "'key'"),
    ("\\partial 8 c'8", 0, "'upbeat: 1/8'"), ("\\grace c'8 d'4", 0, "Grace"),
    ("\\foo c'4", 0, "\\breathe and \\tuplet"), ("c'4 R1", 4, "plain rests"), ("c'4 s4", 4, "rests (r)"),
    ("c'4-.", 3, "Leave it out"), ("c'4->", 3, "Leave it out"), ("c'4^\"hi\"", 3, "Leave it out"),
    ("c'4[ d']", 3, "beams"), ("c'4 \\p", 4, "dynamics"), ("c'4 cis!", 4, "! and ?"), ("c'='4", 0, "="),
    ("c'4*2/3", 0, "plain durations"), ("c'4 4", 4, "before its duration"), ("c'4 bb", 4, "bes for B flat"),
    ("c'4 f#", 4, "fis"), ("c'4 d’8", 4, "straight mark"), ("{ c'4 }", 0, "\\tuplet"), ("c'4 x", 4, "Dutch name"),
    ("c'4 %{ x %} d'", 4, "comment"), ("c'4 \\tuplet 3/2 4 { d'8 }", 4, "a fraction"), ("c4'", 0, "the mark first"),
]


@pytest.mark.parametrize(("text", "offset", "remedy"), REFUSED)
def test_what_is_not_of_the_language_is_refused_with_a_remedy(text: str, offset: int, remedy: str) -> None:
    flaws = parse_melody(text).flaws
    assert flaws
    assert flaws[0].offset == offset
    assert remedy.lower() in f"{flaws[0].message} {flaws[0].hint}".lower()


@pytest.mark.parametrize("text", ["", "   ", "% nothing but a remark", "|", "| |"])
def test_an_empty_melody_is_a_flaw(text: str) -> None:
    assert parse_melody(text).flaws


def test_bars_are_checked_exactly_and_named() -> None:
    melody = read("g'8 | a'4 b' | c''4. r4 | g'4. ")
    flaws = check_bars(melody, "section A", Meter(2, 4), F(1, 8), frozenset({F(1, 8)}))
    assert [(flaw.offset, flaw.message) for flaw in flaws] == [
        (melody.bars[2].offset, "bar 2 of section A holds 5/8 instead of 1/2")
    ]


@pytest.mark.parametrize(("text", "bar", "remedy"), [
    ("g'4 | a'2. | b'4 c'' d'' | e''2. | f''2. | g''2", 1, "Write 'meter: 3/4' or 'meter: 6/8', or mend every bar."),
    ("a'2 | b'4 c'' | e''2 | f''2", 0, "Write 'meter: 2/4', or mend every bar."),
    ("a'4. a'4 | b'4. c''4 | c''4. d''4 | c''4. d''4", 0, "Write 'meter: 5/8', or mend every bar."),
])
def test_bars_that_agree_against_the_meter_are_told_once(text: str, bar: int, remedy: str) -> None:
    melody = read(text)
    flaws = check_bars(melody, "section A", Meter(4, 4), F(1, 4) if bar else F(0))
    assert [(flaw.offset, flaw.hint) for flaw in flaws] == [(melody.bars[bar].offset, remedy)]
    assert "but the meter is 4/4" in flaws[0].message


def test_bars_that_do_not_agree_are_told_each() -> None:
    assert len(check_bars(read("a'2 | b'4 c'' | e''2 | f''1 | g''2. | a''2."), "section A", Meter(4, 4))) == 5


@pytest.mark.parametrize("last", ["g'2", "g'4."])
def test_after_an_upbeat_the_last_bar_is_full_or_short_by_it(last: str) -> None:
    melody = read(f"g'8 | a'4 b' | {last}")
    assert check_bars(melody, "section A", Meter(2, 4), F(1, 8), frozenset({F(1, 8)})) == []


def test_a_short_last_bar_without_an_upbeat_is_a_flaw() -> None:
    flaws = check_bars(read("a'4 b' | g'4."), "section A", Meter(2, 4))
    assert [flaw.message for flaw in flaws] == ["bar 2 of section A holds 3/8 instead of 1/2"]


def test_a_bar_that_cannot_be_read_is_not_measured_as_well() -> None:
    melody = parse_melody("a'4 q | g'2")
    assert len(melody.flaws) == 1
    assert check_bars(melody, "section A", Meter(2, 4)) == []


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="abcdefghrs'|,~-12348.\\{}%/ \n()<>\"#is", max_size=60))
def test_any_text_is_read_or_explained(text: str) -> None:
    melody = parse_melody(text)
    assert all(0 <= flaw.offset <= len(text) and flaw.message and flaw.hint for flaw in melody.flaws)
    assert sum((bar.length for bar in melody.bars), F(0)) == sum((note.length for note in melody.notes), F(0))
    ends = [note.end for note in melody.notes]
    assert [note.onset for note in melody.notes] == [F(0), *ends][: len(ends)]
