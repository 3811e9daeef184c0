"""One arranged and drawn exercise as a printed block: title, instruction, ladder, systems, alternate text."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from bookbuild.arrange.course import Exercise
from bookbuild.arrange.exercises import choose_sections
from bookbuild.arrange.line import tune_line
from bookbuild.arrange.notices import translate
from bookbuild.engrave.drawn import DrawnExercise
from bookbuild.exact import Fraction
from bookbuild.lessons.words import fill_words
from bookbuild.pages.model import Block, Ladder, System
from bookbuild.theory.naming import ToneNames

STRAIGHT = Fraction(1, 2)
Words = Mapping[str, str]
Drawings = Mapping[str, tuple[Path, DrawnExercise]]
"""Exercise number -> batch PDF and the systems in it."""


def block_systems(number: str, drawings: Drawings) -> tuple[System, ...]:
    """The drawn systems of an exercise as the page room takes them."""
    pdf, drawn = drawings[number]
    return tuple(
        System(
            pdf,
            s.page,
            s.left,
            s.top,
            s.right - s.left,
            s.bottom - s.top,
            s.staff_left,
            (s.first_bar, s.last_bar),
            s.staff_height,
            s.turn_ok,
        )
        for s in drawn.systems
    )


def tone_names(words: Words) -> ToneNames:
    """The names of the tones in a language."""
    return ToneNames.parse(words["tone.names"])


def chord_name(exercise: Exercise, words: Words) -> str:
    """The first chord an exercise sounds, as printed."""
    chords = [span.chord for span in exercise.arrangement.chord_marks if span.chord]
    return tone_names(words).print(chords[0]) if chords else ""


_NAMES_GROOVE = ("left-hand", "together", "fill", "shake-groove")
"""Kinds whose title names the groove beside the tune."""
_WITHOUT_TUNE = ("left-hand-one-chord", "shake-one-bass")


def exercise_title(exercise: Exercise, words: Words) -> str:
    """The teacher's title, else the kind with tune and groove or chord: `Melody with fill · Tide Mill, A · Jig`."""
    spec = exercise.spec
    if spec.title:
        return fill_words(spec.title, **exercise_fields(exercise, words))
    parts = [words[f"kind.{spec.kind}"]]
    if exercise.tune and spec.kind not in _WITHOUT_TUNE:
        sections = _played(exercise, words) if spec.kind != "arrangement" and spec.sections else ""
        parts.append(exercise.tune.title + (f", {sections}" if sections else ""))
        if exercise.groove and spec.kind in _NAMES_GROOVE:
            parts.append(exercise.groove.title)
    elif exercise.groove:
        parts.append(f"{exercise.groove.title}, {chord_name(exercise, words)}")
    elif chord_name(exercise, words):
        parts.append(chord_name(exercise, words))
    return " · ".join(parts)


def _played(exercise: Exercise, words: Words) -> str:
    """The sections an exercise plays, and how many of their bars where it leaves some out: `A`, `A, bars 1–4`."""
    assert exercise.tune
    named, bars = " ".join(dict.fromkeys(choose_sections(exercise.spec, exercise.tune))), _cut_bars(exercise)
    part = fill_words(words["page.part" if bars > 1 else "page.part-one"], bars=bars)
    return f"{named}, " + part.replace(" ", "\N{NO-BREAK SPACE}") if bars else named


def _cut_bars(exercise: Exercise) -> int:
    """How many bars an exercise plays of its sections; 0 where it plays them all."""
    assert exercise.tune
    bars = exercise.arrangement.bars[-1].number
    whole = tune_line(exercise.tune, choose_sections(exercise.spec, exercise.tune)).bars[-1].number
    return bars if bars < whole else 0


def step_title(exercise: Exercise, words: Words) -> str:
    """The title of a step on a tune's own sheet, whose head names the tune: `Hands together · A · Baião`."""
    parts = [words[f"kind.{exercise.spec.kind}"]]
    if exercise.tune and (len(exercise.tune.sections) > 1 or _cut_bars(exercise)):
        parts.append(_played(exercise, words))
    if exercise.groove and exercise.spec.kind in _NAMES_GROOVE:
        parts.append(exercise.groove.title)
    return " · ".join(parts)


def exercise_fields(exercise: Exercise, words: Words) -> dict[str, str]:
    """Values for the {fields} of titles and instructions."""
    return {
        "tune": exercise.tune.title if exercise.tune else "",
        "groove": exercise.groove.title if exercise.groove else "",
        "chord": chord_name(exercise, words),
    }


def exercise_instruction(exercise: Exercise, words: Words, *, first: bool) -> str:
    """The teacher's instruction, else the kind's own, which is printed once a week only."""
    if exercise.spec.instruction:
        return fill_words(exercise.spec.instruction, **exercise_fields(exercise, words))
    return fill_words(words[f"do.{exercise.spec.kind}"], **exercise_fields(exercise, words)) if first else ""


def alternate_text(exercise: Exercise, words: Words) -> str:
    """What a reader who cannot see the music is told."""
    made = exercise.arrangement
    bars = max(bar.number for bar in made.bars)
    key = fill_words(words[f"key.{made.key.mode}"], tonic=tone_names(words).print(made.key.tonic))
    return (
        f"{words['page.music_of']} {exercise.number}: {exercise_title(exercise, words)}. "
        f"{made.meter}, {key}, {bars} {words['page.bars']}."
    )


def exercise_block(
    exercise: Exercise, words: Words, drawings: Drawings, level: int, ladder: tuple[int, ...], *, first: bool
) -> Block:
    """The block; `ladder` in beats a minute, `first` is True for the first exercise of its kind in the week."""
    made = exercise.arrangement
    notices = [translate(notice, words) for notice in made.notices]
    if exercise.tune and exercise.tune.chords_suggested and made.chord_marks:
        notices.append(words["page.suggested"])
    if made.swing != STRAIGHT:
        notices.append(words["page.swing"])
    return Block(
        number=exercise.number,
        title=exercise_title(exercise, words),
        instruction=exercise_instruction(exercise, words, first=first),
        level=level,
        ladder=Ladder(made.tempo.beat, ladder) if ladder else None,
        systems=block_systems(exercise.number, drawings),
        notices=tuple(notices),
        alt=alternate_text(exercise, words),
    )
