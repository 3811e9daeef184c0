"""What makes an exercise hard, and how much: a table open to the teacher (`weights` in course.yaml).

Every measure becomes points: none at 0, half of its `points` at `half`, nearly all of them far beyond (`weigh`). Ten
points are a level. The shares and halves were set by ear on graded course material: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.lessons.report import guess_name, show

POINTS_A_LEVEL = 10
LEVELS = 10


@dataclass(frozen=True)
class Measure:
    """The most points a measure adds, the amount at which it adds half of them, and what it means."""

    points: float
    half: float
    meaning: str


MEASURES: dict[str, Measure] = {
    "syncopation": Measure(14, 0.8, "weight of syncopated notes a beat, in the hand that has most"),
    "off-beat": Measure(12, 2.2, "distance of the notes from the beat, in the hand that has most"),
    "counting": Measure(12, 3.0, "ways of dividing the beat: halves count 1, finer divisions and tuplets 2"),
    "speed": Measure(24, 3.8, "strokes a second of the busier hand, in its busiest bars, at the goal tempo"),
    "independence": Measure(21, 1.6, "parts played at once, and strokes of one that another has not, a beat"),
    "grips": Measure(12, 8.0, "right-hand fingers down together, and semitones beyond their relaxed spans"),
    "leaps": Measure(8, 1.5, "semitones a second by which the melody leaves one position of the hand"),
    "left-travel": Measure(12, 80.0, "millimetres a second over the left-hand buttons"),
    "left-fingers": Measure(10, 2.2, "effort a second of the left-hand fingering"),
    "bellows": Measure(5, 20.0, "turns of the bellows a minute, those inside a phrase above all"),
    "shake-speed": Measure(32, 4.2, "strokes a second of the bellows shake"),
    "shake-length": Measure(14, 64.0, "strokes of the longest shake without a rest"),
    "reading": Measure(14, 9.0, "signs to keep in mind: staves, accidentals, notes, buttons"),
    "length": Measure(8, 24.0, "printed bars"),
}
"""Measure -> what it adds. The teacher sets another number of points under the same key; 0 leaves a measure out."""

SETTINGS: dict[str, tuple[float, str]] = {
    "largest-step": (2.0, "levels by which an exercise may lie above everything in the weeks before it"),
    "most-new": (6.0, "new skills that a week after the first may bring"),
}
"""Setting -> default and meaning. They stand among the weights in course.yaml."""


def weigh(amount: float, half: float) -> float:
    """Share of its points that a measure adds: 0 at 0, 1/2 at `half`, rising towards 1 and slowest at both ends."""
    return amount * amount / (amount * amount + half * half)


def choose_weights(changed: Mapping[str, float]) -> dict[str, float]:
    """Every measure's points and every setting: the teacher's where given, else the defaults."""
    defaults = {key: measure.points for key, measure in MEASURES.items()}
    defaults |= {key: value for key, (value, _) in SETTINGS.items()}
    return {key: float(changed.get(key, value)) for key, value in defaults.items()}


def check_weights(changed: Mapping[str, float]) -> Iterator[Diagnostic]:
    """A warning for each weight that names no measure and no setting."""
    known = (*MEASURES, *SETTINGS)
    for key in changed:
        if key not in known:
            message = f"{show(key)} in 'weights' is no measure of difficulty"
            yield Diagnostic(Severity.WARNING, "course.yaml", 0, 0, message, guess_name(key, known, "measure"))
