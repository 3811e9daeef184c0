"""What a melody note is against its chord: chord tone, tension, or a non-chord tone that leans on a chord tone.

Kinds and their definitions are those of common-practice harmony teaching (from memory, no single source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

from bookbuild.arrange.moments import Moments
from bookbuild.exact import Fraction
from bookbuild.lessons.model import MelodyNote
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Pitch, Tone


class ToneKind(Enum):
    """How a melody note stands to the chord of the moment."""

    CHORD = "chord tone"
    TENSION = "tension"
    """A tone the symbol adds above the basic chord: ninth, eleventh, thirteenth."""
    PASSING = "passing note"
    NEIGHBOUR = "neighbour note"
    SUSPENSION = "suspension"
    APPOGGIATURA = "appoggiatura"
    ESCAPE = "escape note"
    ANTICIPATION = "anticipation"
    FREE = "free note"


@dataclass(frozen=True)
class Member:
    """A tone of a basic chord, `semitones` above the root."""

    tone: Tone
    place: int
    """Its place in the stack: 0 root, 1 third (or the second, fourth in its stead), 2 fifth, 3 sixth or seventh."""
    semitones: int


_PLACES = {0: 0, 1: 1, 2: 1, 3: 1, 4: 2, 5: 3, 6: 3}
"""Steps above the root -> place in the stack."""


@dataclass(frozen=True)
class Reading:
    """A melody note read against a chord; `anchor` is the chord tone a non-chord tone leans on (None = none near)."""

    kind: ToneKind
    chord: Chord | None
    """The chord that sounds, with the seventh when the melody sings it over a dominant triad."""
    anchor: Pitch | None = None


@dataclass(frozen=True)
class Neighbours:
    """The different pitches joined to a note before and after it (None after a rest), and what frames it directly."""

    before: Pitch | None = None
    after: Pitch | None = None
    prepared: bool = False
    """The same pitch sounded directly before, over another chord."""
    repeated_in: Chord | None = None
    """The chord under a direct repetition of the pitch that follows, when it is another chord."""


@lru_cache(maxsize=1 << 10)
def basic_members(chord: Chord) -> tuple[Member, ...]:
    """The tones a shape is built of, in stacking order.

    Ninths and thirteenths are left to the melody and the left hand; an eleventh without third stands as the fourth.
    """
    found = {interval.steps: (interval.semitones, tone)
             for interval, tone in zip(chord.intervals, chord.tones, strict=True)}
    if 10 in found and not {1, 2, 3} & found.keys():
        found[3] = (found[10][0] - 12, found[10][1])
    return tuple(Member(found[steps][1], place, found[steps][0]) for steps, place in _PLACES.items() if steps in found)


def basic_tones(chord: Chord) -> tuple[Tone, ...]:
    """The tones of `basic_members`."""
    return tuple(member.tone for member in basic_members(chord))


def is_step(one: Pitch, other: Pitch) -> bool:
    """True for a minor or major second."""
    return 1 <= abs(one.midi - other.midi) <= 2


def add_dominant_seventh(chord: Chord, melody: Pitch, following: Chord | None, tonic: Tone) -> Chord:
    """The chord with its seventh when the melody sings it over a major triad that acts as a dominant.

    A dominant is the triad on the key's fifth degree, or one whose root falls a fifth to the next chord.
    """
    if chord.quality or (melody.midi - chord.root.pc) % 12 != 10:
        return chord
    falls = following is not None and (following.root.pc - chord.root.pc) % 12 == 5
    on_fifth_degree = (chord.root.pc - tonic.pc) % 12 == 7
    return Chord(chord.root, "7", chord.bass) if falls or on_fifth_degree else chord


def read_tone(melody: Pitch, chord: Chord | None, around: Neighbours) -> Reading:
    """Read one note against a chord, from its neighbours."""
    if chord is None:
        return Reading(ToneKind.FREE, None)
    pc = melody.midi % 12
    if pc in {tone.pc for tone in basic_tones(chord)}:
        return Reading(ToneKind.CHORD, chord, melody)
    if pc in chord.pcs:
        return Reading(ToneKind.TENSION, chord)
    kind = _leaning_kind(melody, around)
    anchor = None if kind is ToneKind.FREE else _find_anchor(melody, chord, kind, around)
    return Reading(kind, chord, anchor)


def read_note(moments: Moments, notes: Sequence[MelodyNote], index: int, moment: Fraction) -> Reading:
    """Read a sounding note of a line at a moment within it. `notes` are the pitched notes in order."""
    melody = notes[index].pitch
    chord = moments.chord_at(moment)
    if melody is None or chord is None:
        return Reading(ToneKind.FREE, chord)
    chord = add_dominant_seventh(chord, melody, moments.chord_after(moment), moments.line.key_at(moment).tonic)
    return read_tone(melody, chord, find_neighbours(moments, notes, index, moment))


def find_neighbours(moments: Moments, notes: Sequence[MelodyNote], index: int, moment: Fraction) -> Neighbours:
    """What surrounds the note at `index`, looking through direct repetitions and stopping at rests."""
    note = notes[index]
    chord = moments.chord_at(moment)
    previous = notes[index - 1] if index and notes[index - 1].end == note.onset else None
    following = notes[index + 1] if index + 1 < len(notes) and notes[index + 1].onset == note.end else None
    prepared = note.onset < moment and moments.chord_at(note.onset) != chord
    if previous is not None and _same(previous, note):
        prepared = prepared or moments.chord_at(previous.onset) != chord
    repeated_in = None
    if following is not None and _same(following, note) and moments.chord_at(following.onset) != chord:
        repeated_in = moments.chord_at(following.onset)
    return Neighbours(_other_pitch(notes, index, -1), _other_pitch(notes, index, 1), prepared, repeated_in)


def _same(one: MelodyNote, other: MelodyNote) -> bool:
    return one.pitch is not None and other.pitch is not None and one.pitch.midi == other.pitch.midi


def _other_pitch(notes: Sequence[MelodyNote], index: int, step: int) -> Pitch | None:
    place = index + step
    while 0 <= place < len(notes):
        early, late = notes[min(place, place - step)], notes[max(place, place - step)]
        if early.end != late.onset:
            return None
        if not _same(notes[place], notes[index]):
            return notes[place].pitch
        place += step
    return None


def _leaning_kind(melody: Pitch, around: Neighbours) -> ToneKind:
    before, after = around.before, around.after
    leaves_by_step = after is not None and is_step(melody, after)
    comes_by_step = before is not None and is_step(melody, before)
    if around.prepared and leaves_by_step:
        return ToneKind.SUSPENSION
    if around.repeated_in is not None and melody.midi % 12 in around.repeated_in.pcs:
        return ToneKind.ANTICIPATION
    if before is not None and after is not None and leaves_by_step and comes_by_step:
        onward = (after.midi - melody.midi) * (melody.midi - before.midi) > 0
        return ToneKind.PASSING if onward else ToneKind.NEIGHBOUR
    if leaves_by_step:
        return ToneKind.APPOGGIATURA
    return ToneKind.ESCAPE if comes_by_step else ToneKind.FREE


def _find_anchor(melody: Pitch, chord: Chord, kind: ToneKind, around: Neighbours) -> Pitch | None:
    """The chord tone a step away that the note resolves to, else comes from, else the one in its direction."""
    pcs = {tone.pc for tone in basic_tones(chord)}
    order = (around.before, around.after) if kind is ToneKind.ANTICIPATION else (around.after, around.before)
    for pitch in order:
        if pitch is not None and is_step(melody, pitch) and pitch.midi % 12 in pcs:
            return pitch
    rising = around.after is not None and around.after.midi > melody.midi
    for semitones in (1, 2, -1, -2) if rising else (-1, -2, 1, 2):
        for tone in basic_tones(chord):
            if (melody.midi + semitones) % 12 == tone.pc:
                return highest_below(tone, melody.midi + semitones + 1)
    return None


def highest_below(tone: Tone, limit: int) -> Pitch:
    """The highest pitch of a tone that lies below the MIDI key `limit`."""
    return tone.at((limit - 1 - tone.at(0).midi) // 12)
