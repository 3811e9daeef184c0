"""The octave frame: the chord tones the other fingers take beneath a melody note.

Common practice of the trade (no source): under a chord tone lies the closed chord that starts on the same tone an
octave lower, so the melody's root brings root position, its third the first inversion, its fifth the second, its
seventh the third. A frame has at most three tones, so that melody and frame fit one hand. All goes by distances in
semitones, so a transposed melody gets the same frames transposed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from bookbuild.arrange.tone_kinds import Member, Reading, ToneKind, basic_members, highest_below
from bookbuild.arrange.voice_leading import lead_voices
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Pitch

OCTAVE = 12
FRAME_TONES = 3
"""Most tones of a frame: with the melody four fingers, the usual full grip."""
LIGHT_TONES, LIGHT_SPAN = 2, 9
"""Most tones of a light frame, and its widest span: it stays within a sixth."""
SEMITONE_INSIDE = 4
"""What a semitone between two frame tones weighs against leaving out a tone."""


@dataclass(frozen=True)
class Ask:
    """A melody note that wants a frame, and how it stands to its chord."""

    melody: Pitch
    reading: Reading
    light: bool = False
    """True when the hand must run on at once: a frame of two near tones that leaves fingers free."""


@dataclass(frozen=True)
class Frame:
    """Tones strictly below a melody note, low to high; () = the melody stands alone."""

    pitches: tuple[Pitch, ...]
    chord: Chord | None
    clipped: bool = False
    """True when the keyboard's low end cost the frame a tone."""


def close_chord(melody: Pitch, chord: Chord) -> tuple[Pitch, ...]:
    """Every basic tone of the chord in the octave below the melody, low to high, no limits applied.

    For a chord tone this is the closed chord that starts on the same tone an octave lower.
    """
    return tuple(sorted((_place_below(member, melody, melody.midi) for member in basic_members(chord)),
                        key=lambda pitch: pitch.midi))


def frame_choices(ask: Ask, span: int, lowest: Pitch | None = None) -> tuple[tuple[Pitch, ...], ...]:
    """The equally good frames under a melody note; `span` in semitones from lowest tone to melody, `lowest` key.

    Thinned from below by span and keyboard; what makes a second with the melody is left out. Of a seventh chord the
    octave and the tones that tell most stay; without the octave in reach, whatever completes the chord.
    """
    if ask.reading.chord is None:
        return ((),)
    span, most = (min(span, LIGHT_SPAN), LIGHT_TONES) if ask.light else (span, FRAME_TONES)
    pool = [(member, pitch) for member, pitch in _candidates(ask, ask.reading.chord)
            if _fits(ask, pitch, span) and (lowest is None or pitch.midi >= lowest.midi)]
    octave = [pair for pair in pool if pair[1].midi == ask.melody.midi - OCTAVE]
    rest = [pair for pair in pool if pair not in octave]
    size = min(most - len(octave), len(rest))
    grips = [(*octave, *chosen) for chosen in combinations(rest, size)]
    weights = [_weigh(ask, ask.reading.chord, grip) for grip in grips]
    return tuple(tuple(sorted((pitch for _, pitch in grip), key=lambda pitch: pitch.midi))
                 for grip, weight in zip(grips, weights, strict=True) if weight == min(weights))


def pick_frames(asks: Sequence[Ask], span: int, lowest: Pitch | None = None) -> tuple[Frame, ...]:
    """One frame for each ask; among equally good ones those whose voices move least in all (`voice_leading`)."""
    picked = lead_voices([frame_choices(ask, span, lowest) for ask in asks])
    return tuple(
        Frame(pitches, ask.reading.chord, len(pitches) < len(frame_choices(ask, span)[0]))
        for ask, pitches in zip(asks, picked, strict=True)
    )


def _candidates(ask: Ask, chord: Chord) -> Iterator[tuple[Member, Pitch]]:
    """Each basic tone once: below the chord tone leaned on, else below the melody as near as it does not clash."""
    for member in basic_members(chord):
        if ask.reading.kind is ToneKind.CHORD:
            yield member, _place_below(member, ask.melody, ask.melody.midi)
        elif ask.reading.anchor is not None:
            yield member, highest_below(member.tone, ask.reading.anchor.midi)
        else:
            yield member, highest_below(member.tone, ask.melody.midi - 2)


def _place_below(member: Member, melody: Pitch, limit: int) -> Pitch:
    """The member below `limit`; the melody's own tone keeps the melody's spelling."""
    if member.tone.pc == melody.midi % 12:
        return melody.shift_octaves(-1)
    return highest_below(member.tone, limit)


def _fits(ask: Ask, pitch: Pitch, span: int) -> bool:
    """Within the hand, no second with the melody; a note foreign to the chord bears no major seventh either.

    The latter would sound the note of resolution against its own suspension or neighbour.
    """
    distance = ask.melody.midi - pitch.midi
    if not 3 <= distance <= span:
        return False
    return ask.reading.kind in (ToneKind.CHORD, ToneKind.TENSION) or distance % OCTAVE not in (1, 11)


def _weigh(ask: Ask, chord: Chord, grip: Sequence[tuple[Member, Pitch]]) -> int:
    """What the grip leaves out, and how harsh it is inside; less is better."""
    heard = {ask.melody.midi % 12} | {pitch.midi % 12 for _, pitch in grip}
    members = basic_members(chord)
    missing = sum(_weight_of(member, members) for member in members if member.tone.pc not in heard)
    inside = sorted(pitch.midi for _, pitch in grip)
    harsh = sum(high - low == 1 for low, high in pairwise(inside))
    return missing + SEMITONE_INSIDE * harsh


def _weight_of(member: Member, members: Sequence[Member]) -> int:
    """How much a chord loses without a member (common practice): third, then seventh, altered fifth or sixth, root,
    plain fifth. The left hand sounds the root, so outside dominants root and fifth weigh the same."""
    if member.place == 1:
        return 6
    if member.place == 3:
        return 5 if member.semitones > 9 else 4
    if member.place == 2 and member.semitones != 7:
        return 4
    dominant = {4, 10} <= {other.semitones for other in members}
    return 1 if member.place == 2 and dominant else 2
