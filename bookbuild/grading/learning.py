"""What is learned from what: which kinds of exercise teach a skill, and what a skill builds on.

The table is a teacher's judgement: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.grading.difficulty import Difficulty
from bookbuild.grading.skills import SKILLS

LEFT_ALONE = ("left-hand-one-chord", "left-hand")
ALONE = (*LEFT_ALONE, "count", "melody")
ON_TUNES = ("melody", "count", "together")


@dataclass(frozen=True)
class Learning:
    """Kinds of exercise that teach something, the best one first, and the skills it builds on."""

    taught_by: tuple[str, ...]
    after: tuple[str, ...] = ()


_LEFT = Learning(LEFT_ALONE, ("bass-chord",))
_RHYTHM = Learning(ALONE)

LEARNING: dict[str, Learning] = {
    "bass-chord": Learning(LEFT_ALONE),
    "sevenths": _LEFT,
    "minors": _LEFT,
    "diminished": _LEFT,
    "alternating": _LEFT,
    "counterbass": _LEFT,
    "off-beat-chords": _LEFT,
    "together": Learning(("together",), ("bass-chord",)),
    "moving": Learning(("melody",)),
    "shapes": Learning(("shapes",)),
    "fill": Learning(("fill",), ("shapes",)),
    "dotted": _RHYTHM,
    "upbeat": _RHYTHM,
    "three-beats": _RHYTHM,
    "compound": _RHYTHM,
    "swing": _RHYTHM,
    "triplets": _RHYTHM,
    "sixteenths": _RHYTHM,
    "anticipation": Learning(ALONE, ("off-beat-chords",)),
    "cross-rhythm": Learning(("together",), ("together", "three-beats")),
    "whole-piece": Learning(("arrangement",), ("together",)),
    "shake": Learning(("shake-one-bass",)),
    "shake-groove": Learning(("shake-groove",), ("shake",)),
    "shake-melody": Learning(("shake-melody",), ("shake",)),
}
"""Skill -> how it is learned."""


def how_learned(need: str) -> Learning:
    """How a skill, a groove (`groove:…`) or a tune (`tune:…`) is learned."""
    if need.startswith("groove:"):
        return Learning(LEFT_ALONE)
    return Learning(ON_TUNES) if need.startswith("tune:") else LEARNING[need]


@dataclass(frozen=True)
class Step:
    """An exercise of the course with its difficulty and its needs (skills, `groove:…`, `tune:…`)."""

    exercise: Exercise
    difficulty: Difficulty
    needs: frozenset[str]

    @property
    def kind(self) -> str:
        """The exercise's kind."""
        return self.exercise.spec.kind

    @property
    def skills(self) -> frozenset[str]:
        """The skills among its needs."""
        return frozenset(need for need in self.needs if ":" not in need)

    @property
    def teaches(self) -> frozenset[str]:
        """What a student can do after it; the tune it plays among it."""
        taught = {need for need in self.needs if self.kind in how_learned(need).taught_by}
        if self.exercise.tune and self.kind in ON_TUNES:
            taught.add(f"tune:{self.exercise.tune.name}")
        return frozenset(taught)


@dataclass(frozen=True)
class Stage:
    """A week of the course as steps."""

    lesson: Lesson
    steps: tuple[Step, ...]

    @property
    def points(self) -> float:
        """Points of its hardest exercise: a week is as hard as that."""
        return max((step.difficulty.total for step in self.steps), default=0.0)

    @property
    def teaches(self) -> frozenset[str]:
        """All that its exercises teach."""
        return frozenset().union(*(step.teaches for step in self.steps))

    @property
    def skills(self) -> tuple[str, ...]:
        """The skills its exercises use, in the usual order."""
        used = frozenset().union(*(step.skills for step in self.steps))
        return tuple(skill for skill in SKILLS if skill in used)


@dataclass(frozen=True)
class Gap:
    """Something a step needs that was not taught before it; `skill` names what builds on it ('' = the step itself)."""

    step: Step
    need: str
    skill: str = ""


def find_gaps(step: Step, taught: Collection[str]) -> list[Gap]:
    """What a step lacks when `taught` is all that was taught before; what it teaches itself is no gap."""
    own = step.teaches
    gaps = [Gap(step, need) for need in sorted(step.needs) if need not in taught and need not in own]
    for skill in sorted((own - set(taught)) & step.skills):
        gaps += [Gap(step, need, skill) for need in how_learned(skill).after if need not in taught and need not in own]
    return gaps


def follow_stage(stage: Stage, taught: Collection[str]) -> tuple[list[Gap], frozenset[str]]:
    """The gaps of a week, each need once, and all that is taught when it is over."""
    known = set(taught)
    gaps: dict[str, Gap] = {}
    for step in stage.steps:
        for gap in find_gaps(step, known):
            gaps.setdefault(gap.need, gap)
        known |= step.teaches
    return list(gaps.values()), frozenset(known)
