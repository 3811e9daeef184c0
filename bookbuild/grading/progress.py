"""A course checked for its steps: nothing is asked for before it is taught, and no step is too high."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.grading.difficulty import POINTS_A_LEVEL, level_of_points
from bookbuild.grading.learning import Gap, Stage, Step, follow_stage, how_learned
from bookbuild.grading.weights import SETTINGS
from bookbuild.lessons.words import DEFAULT_WORDS


def check_progress(stages: Sequence[Stage], chosen: Mapping[str, float]) -> list[Diagnostic]:
    """Warnings where a week needs what no exercise before it taught, rises too far, or brings too much that is new.

    `chosen` are weights and settings (`choose_weights`). What no week teaches is taken as known and named in one note.
    """
    findings: list[Diagnostic] = []
    taught: frozenset[str] = frozenset()
    used: frozenset[str] = frozenset()
    known: dict[str, None] = {}
    ever = frozenset().union(*(stage.teaches for stage in stages))
    highest = stages[0].points if stages else 0.0
    for index, stage in enumerate(stages):
        gaps, taught = follow_stage(stage, taught)
        known |= {gap.need: None for gap in gaps if gap.need not in ever}
        findings += [_tell_gap(gap, stages[index + 1 :]) for gap in gaps if gap.need in ever]
        findings += _check_step(stage, highest, chosen["largest-step"])
        if index:
            findings += _check_new(stage, used, chosen["most-new"])
        highest = max(highest, stage.points)
        used |= set(stage.skills)
    if known:
        names = ", ".join(map(name_need, known))
        message = f"no exercise of this course teaches: {names}; the course takes this as known"
        hint = "Add exercises that teach it, or leave it so for students who know it."
        findings.append(Diagnostic(Severity.NOTE, "course.yaml", 0, 0, message, hint))
    return findings


def name_need(need: str) -> str:
    """A need for a message: a skill's English name, a groove or a tune by its file's name."""
    kind, _, name = need.partition(":")
    return f"the {kind} '{name}'" if name else f"'{DEFAULT_WORDS[f'skill.{need}']}'"


def _warn(step: Step, message: str, hint: str) -> Diagnostic:
    place = step.exercise.spec.place
    return Diagnostic(Severity.WARNING, place.file, place.line, place.column, message, hint)


def _tell_gap(gap: Gap, later: Sequence[Stage]) -> Diagnostic:
    """The warning for something that is taught too late."""
    number, need = gap.step.exercise.number, name_need(gap.need)
    if gap.skill:
        message = f"exercise {number} teaches {name_need(gap.skill)} before {need}, which it builds on"
    else:
        message = f"exercise {number} needs {need}, which no exercise before it teaches"
    kind = how_learned(gap.need).taught_by[0]
    hint = f"Put an exercise '{kind}' that teaches it before this one"
    stage = next((stage for stage in later if gap.need in stage.teaches), None)
    if stage is not None:
        hint += f", or move this week behind week {stage.lesson.number}, '{stage.lesson.week.title}'"
    return _warn(gap.step, message, f"{hint}.")


def _check_step(stage: Stage, highest: float, most: float) -> Iterator[Diagnostic]:
    """The exercise that rises farthest above all earlier weeks, when that is more than `most` levels."""
    step = max(stage.steps, key=lambda step: step.difficulty.total, default=None)
    if step is None:
        return
    rise = step.difficulty.level - level_of_points(highest)
    if rise > most:
        reasons = "; ".join(DEFAULT_WORDS[reason] for reason in step.difficulty.reasons)
        message = (
            f"exercise {step.exercise.number} is of level {step.difficulty.level}, {rise} levels above everything "
            f"before its week ({reasons})"
        )
        hint = (
            f"Put an easier step before it, lower its goal, move the week back, or allow more under 'weights' in "
            f"course.yaml: 'largest-step: {rise}'. {POINTS_A_LEVEL} points are a level."
        )
        yield _warn(step, message, hint)


def _check_new(stage: Stage, used: frozenset[str], most: float) -> Iterator[Diagnostic]:
    """A week with more new skills than the course allows."""
    new = [skill for skill in stage.skills if skill not in used]
    if len(new) > most:
        step = next(step for step in stage.steps if step.skills & set(new))
        message = f"the week brings {len(new)} new skills at once: {', '.join(map(name_need, new))}"
        default, _ = SETTINGS["most-new"]
        hint = (
            f"Spread them over two weeks, or allow more under 'weights' in course.yaml: "
            f"'most-new: {len(new)}' ({default:g} is usual)."
        )
        yield _warn(step, message, hint)
