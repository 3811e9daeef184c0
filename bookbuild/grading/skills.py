"""What an exercise asks for, read from its music: the skills of the course map, its groove and its tune."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from bookbuild.arrange.course import Exercise
from bookbuild.arrange.stradella import CHORD_ROWS, is_bass
from bookbuild.exact import Fraction
from bookbuild.grading.measure_hands import POSITION
from bookbuild.grading.measure_rhythm import list_leans
from bookbuild.grading.parts import RIGHT, Music, Part, off_beat

DOTTED = (Fraction(3, 2), Fraction(3, 4))
"""Lengths in beats that make a dotted rhythm in a simple meter."""
ON_KNOWN_TUNES = frozenset({"shapes", "fill", "shake-melody", "arrangement"})
"""Kinds that build on a tune the student has already played."""


def find_skills(exercise: Exercise, music: Music) -> frozenset[str]:
    """Skills an exercise asks for: keys of `SKILLS`; `music` is its arrangement as read (`read_music`)."""
    return frozenset(key for key, asks in _TESTS.items() if asks(exercise, music))


def find_needs(exercise: Exercise, music: Music) -> frozenset[str]:
    """Everything an exercise builds on: its skills, `groove:<name>` it plays, `tune:<name>` it takes as known."""
    needs = set(find_skills(exercise, music))
    if exercise.groove and plays_groove(exercise, music):
        needs.add(f"groove:{exercise.groove.name}")
    if exercise.tune and exercise.spec.kind in ON_KNOWN_TUNES:
        needs.add(f"tune:{exercise.tune.name}")
    return frozenset(needs)


def plays_groove(exercise: Exercise, music: Music) -> bool:
    """True when the left hand plays the exercise's groove (one bass under a shake is no groove)."""
    return exercise.spec.kind != "shake-one-bass" and music.part("left") is not None


def _rows(music: Music) -> set[str]:
    left = music.part("left")
    return {button[0] for event in left.events for button in event.buttons} if left else set()


def _uses_row(row: str) -> Callable[[Exercise, Music], bool]:
    return lambda exercise, music: row in _rows(music)


def _bass_and_chord(exercise: Exercise, music: Music) -> bool:
    return any(is_bass((row, 0)) for row in _rows(music)) and bool(_rows(music) & set(CHORD_ROWS))


def _alternates(exercise: Exercise, music: Music) -> bool:
    """A fifth beside its root under one chord."""
    left = music.part("left")
    for span in exercise.arrangement.chord_marks if left else ():
        pressed = [b for e in left.events if span.onset <= e.onset < span.end for b in e.buttons]  # type: ignore[union-attr]
        roots = {column for row, column in pressed if row in CHORD_ROWS}
        basses = {column for row, column in pressed if row == "bass"}
        if any(root in basses and root + 1 in basses for root in roots):
            return True
    return False


def _chords_off_beat(exercise: Exercise, music: Music) -> bool:
    left = music.part("left")
    if left is None:
        return False
    onsets = [event.onset for event in left.events if any(not is_bass(button) for button in event.buttons)]
    return any(off_beat(place, music.made.meter) for place in music.place(onsets))


def _hands_together(exercise: Exercise, music: Music) -> bool:
    return music.part("left") is not None and any(music.part(name) for name in RIGHT)


def _plays_shapes(exercise: Exercise, music: Music) -> bool:
    melody = music.part("melody")
    return melody is not None and any(len(event.pitches) > 2 for event in melody.events)


def _plays_fill(exercise: Exercise, music: Music) -> bool:
    return music.part("fill") is not None


def _line(music: Music) -> Part | None:
    """The part that carries the tune's rhythm."""
    return music.part("melody") or music.part("clap")


def _dotted(exercise: Exercise, music: Music) -> bool:
    line, meter = _line(music), music.made.meter
    if line is None or meter.compound:
        return False
    return any(event.length / meter.beat in DOTTED for event in line.struck if not _shaken(music, event.onset))


def _shaken(music: Music, moment: Fraction) -> bool:
    return any(span.stroke is not None and span.onset <= moment < span.end for span in music.made.bellows)


def _upbeat(exercise: Exercise, music: Music) -> bool:
    line, first = _line(music), music.made.bars[0]
    return first.number == 0 and line is not None and line.onsets[0] < first.end


def _three_beats(exercise: Exercise, music: Music) -> bool:
    return music.made.meter.beats == 3


def _compound(exercise: Exercise, music: Music) -> bool:
    return music.made.meter.compound


def _swings(exercise: Exercise, music: Music) -> bool:
    return music.made.swing != Fraction(1, 2)


def _divides(denominators: tuple[int, ...], *, compound: bool) -> Callable[[Exercise, Music], bool]:
    """Notes, outside shakes, on these places of the beat: thirds are triplets in a simple meter only."""

    def asks(exercise: Exercise, music: Music) -> bool:
        meter = music.made.meter
        if meter.compound and not compound:
            return False
        finest = tuple(3 * number // 2 for number in denominators) if meter.compound else denominators
        fine = (m for part in music.parts for m, p in zip(part.onsets, music.place(part.onsets), strict=True)
                if (p / meter.beat).denominator in finest)
        return any(not _shaken(music, moment) for moment in fine)

    return asks


def _anticipates(exercise: Exercise, music: Music) -> bool:
    """A note between beats that sounds on over a stronger place, or a left-hand stroke that takes the next chord."""
    strokes = exercise.groove.strokes if exercise.groove and plays_groove(exercise, music) else ()
    if any(stroke.anticipates for stroke in strokes):
        return True
    return any(_syncopates(music, part) for part in music.parts if part.name in ("clap", "melody"))


def _syncopates(music: Music, part: Part) -> bool:
    """True for a part with a note between beats that sounds on over a stronger place."""
    onsets = [p for m, p in zip(part.onsets, music.place(part.onsets), strict=True) if not _shaken(music, m)]
    return any(lean > 0 and off_beat(moment, music.made.meter) for moment, lean in list_leans(music, onsets))


def _crosses(exercise: Exercise, music: Music) -> bool:
    """Three against two: a bar, or a beat, that one hand divides in three and the other in two."""
    if not _hands_together(exercise, music):
        return False
    meter = music.made.meter
    left, right = (music.split_bars(music.place(part.strikes)) if (part := music.part(name)) else []
                   for name in ("left", "melody"))
    frames = list(_frames(meter.bar, meter.beat))
    # Grooves repeat, so most pairs of bars have been seen.
    pairs = {(frozenset(one), frozenset(two)) for one, two in zip(left, right, strict=False)}
    return any(
        _three_to_two(mine, yours, half, thirds)
        for one, two in pairs
        for half, thirds in frames
        for mine, yours in ((one, two), (two, one))
    )


def _frames(bar: Fraction, beat: Fraction) -> Iterator[tuple[Fraction, frozenset[Fraction]]]:
    """(half, thirds) of the stretches that may be divided in three or in two: the bar, and every beat of it."""
    for start, length in ((Fraction(0), bar), *((index * beat, beat) for index in range(int(bar / beat)))):
        yield start + length / 2, frozenset((start + length / 3, start + 2 * length / 3))


def _three_to_two(
    three: frozenset[Fraction], two: frozenset[Fraction], half: Fraction, thirds: frozenset[Fraction]
) -> bool:
    """True when one hand strikes on both thirds of a stretch and the other on its half instead."""
    return thirds <= three and half not in three and half in two and not thirds <= two


def _moves(exercise: Exercise, music: Music) -> bool:
    """A melody wider than one position of the hand (a semitone more is still one: the black key beside it)."""
    melody = music.part("melody")
    if melody is None:
        return False
    tops = [event.pitches[-1].midi for event in melody.events]
    return max(tops) - min(tops) > POSITION + 1


def _whole_piece(exercise: Exercise, music: Music) -> bool:
    return exercise.spec.kind == "arrangement"


def _shakes(exercise: Exercise, music: Music) -> bool:
    return any(span.stroke is not None for span in music.made.bellows)


def _shakes_with(name: str) -> Callable[[Exercise, Music], bool]:
    """A part that moves inside the shake: more than the one note the bellows repeat."""

    def asks(exercise: Exercise, music: Music) -> bool:
        part = music.part(name)
        if part is None or not _shakes(exercise, music):
            return False
        return len({event.pitches for event in part.events if _shaken(music, event.onset)}) > 1

    return asks


_TESTS: dict[str, Callable[[Exercise, Music], bool]] = {
    "bass-chord": _bass_and_chord,
    "sevenths": _uses_row("seventh"),
    "minors": _uses_row("minor"),
    "diminished": _uses_row("diminished"),
    "alternating": _alternates,
    "counterbass": _uses_row("counterbass"),
    "off-beat-chords": _chords_off_beat,
    "together": _hands_together,
    "moving": _moves,
    "shapes": _plays_shapes,
    "fill": _plays_fill,
    "dotted": _dotted,
    "upbeat": _upbeat,
    "three-beats": _three_beats,
    "compound": _compound,
    "swing": _swings,
    "triplets": _divides((3,), compound=False),
    "sixteenths": _divides((4,), compound=True),
    "anticipation": _anticipates,
    "cross-rhythm": _crosses,
    "whole-piece": _whole_piece,
    "shake": _shakes,
    "shake-groove": _shakes_with("left"),
    "shake-melody": _shakes_with("melody"),
}
SKILLS = tuple(_TESTS)
"""Every skill, in the order they are usually met; `skill.<key>` is the printed word."""
