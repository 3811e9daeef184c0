"""What the arranger hands on: voices of events, counts, bellows strokes. All times are Fractions of a whole note."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property

from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan, MelodyNote, Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch


@dataclass(frozen=True)
class Bar:
    """A printed bar. `number` 0 is an upbeat. `ending` is the printed volta text ('' = none)."""

    onset: Fraction
    length: Fraction
    number: int
    opens_repeat: bool = False
    closes_repeat: bool = False
    ending: str = ""
    section: str = ""
    """Name of the section that begins with this bar, else ''."""
    phrase_end: bool = False
    """True when a phrase ends with this bar: a good place for a bellows turn, a line break, a page turn."""
    pickup: Fraction = Fraction(0)
    """How long before the barline its phrase ends, where the last notes already lead into the next."""
    key: Key | None = None
    """The key signature that begins with this bar, where it changes."""

    @cached_property
    def end(self) -> Fraction:
        """The moment of the barline that closes it."""
        return self.onset + self.length


@dataclass(frozen=True)
class Line:
    """The stretch of a tune an exercise works on, in printed order from moment 0 (repeats are signs, not copies)."""

    meter: Meter
    key: Key
    bars: tuple[Bar, ...]
    notes: tuple[MelodyNote, ...]
    chords: tuple[ChordSpan, ...]

    @cached_property
    def length(self) -> Fraction:
        """Moment of the last barline."""
        return self.bars[-1].end

    def key_at(self, moment: Fraction) -> Key:
        """The key signature in force at a moment."""
        return next((bar.key for bar in reversed(self.bars) if bar.key and bar.onset <= moment), self.key)


class Role(Enum):
    """What a voice does. LEFT carries bass notes and chord roots in one voice when they never sound together."""

    CLAP = "clap"
    MELODY = "melody"
    FILL = "fill"
    LEFT = "left"
    BASS = "bass"
    CHORD = "chord"


@dataclass(frozen=True)
class Event:
    """A note, chord or rest of one voice; `pitches` low to high as printed, () = rest.

    `fingers` match `pitches` (0 = none printed). `letter` is the stradella letter to print here ('' = none).
    `sounds` are the MIDI keys heard when they differ from the print (a chord button sounds three notes).
    """

    onset: Fraction
    length: Fraction
    pitches: tuple[Pitch, ...] = ()
    fingers: tuple[int, ...] = ()
    letter: str = ""
    accent: bool = False
    hidden: bool = False
    """A rest that keeps its time but is not drawn."""
    sounds: tuple[int, ...] = ()
    buttons: tuple[tuple[str, int], ...] = ()
    """Left-hand buttons pressed: (row of `ROWS`, column on the line of fifths of the column's fundamental)."""

    @cached_property
    def end(self) -> Fraction:
        """The moment the event stops."""
        return self.onset + self.length


@dataclass(frozen=True)
class Voice:
    """Events that follow each other without gap from 0 to the arrangement's end."""

    role: Role
    events: tuple[Event, ...]


class CountState(Enum):
    """How a syllable is printed: struck bold, off (between notes, plain) or held/silent grey."""

    STRUCK = "struck"
    OFF = "off"
    HELD = "held"


@dataclass(frozen=True)
class Count:
    """One counting syllable under one slot."""

    onset: Fraction
    length: Fraction
    text: str
    state: CountState


class Direction(Enum):
    """Bellows direction: OPEN is a pull, CLOSE a push."""

    OPEN = "open"
    CLOSE = "close"

    @property
    def other(self) -> Direction:
        """The opposite direction."""
        return Direction.CLOSE if self is Direction.OPEN else Direction.OPEN


@dataclass(frozen=True)
class BellowsSpan:
    """One direction held from `onset` to `end`.

    A shake is one span whose strokes last `stroke` each, `direction` first.
    """

    onset: Fraction
    end: Fraction
    direction: Direction
    stroke: Fraction | None = None
    air: bool = False
    """True when air is taken with the air button as this span ends (in a rest where there is one)."""


@dataclass(frozen=True)
class Arrangement:
    """Everything that is printed and heard of one exercise.

    Every voice and `bars` cover exactly [0, length]; `counts` cover every slot; `bellows` covers [0, length] without
    gap (empty where no bellows are played). `notices` are remarks in the teacher's words (replacements, folds).
    """

    kind: str
    meter: Meter
    key: Key
    bars: tuple[Bar, ...]
    voices: tuple[Voice, ...]
    counts: tuple[Count, ...]
    bellows: tuple[BellowsSpan, ...]
    chord_marks: tuple[ChordSpan, ...]
    tempo: Tempo
    ladder: tuple[int, ...] = ()
    swing: Fraction = Fraction(1, 2)
    swung: Fraction = Fraction(0)
    """Length of the two slots that `swing` divides; 0 where no groove says."""
    notices: tuple[str, ...] = field(default=())

    @cached_property
    def length(self) -> Fraction:
        """Moment of the last barline."""
        return self.bars[-1].end

    def voice(self, role: Role) -> Voice | None:
        """The voice of that role, if there is one."""
        return next((voice for voice in self.voices if voice.role is role), None)
