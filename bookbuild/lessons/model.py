"""The course as frozen data. All times are Fractions of a whole note; tempi are beats a minute."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property

from bookbuild.exact import Fraction
from bookbuild.lessons.instrument import ROWS as ROWS
from bookbuild.lessons.instrument import Air as Air
from bookbuild.lessons.instrument import Instrument as Instrument
from bookbuild.lessons.places import NOWHERE
from bookbuild.lessons.places import Place as Place
from bookbuild.lessons.texts import Translation as Translation
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter, odd_part
from bookbuild.theory.pitch import Key, Pitch


@dataclass(frozen=True)
class MelodyNote:
    """One melody note with its ties merged, or a rest (`pitch` None). `onset` counts from its stretch's start."""

    onset: Fraction
    length: Fraction
    pitch: Pitch | None
    finger: int = 0
    breath: bool = False
    """True when a phrase ends with this note."""

    @cached_property
    def end(self) -> Fraction:
        """The moment the note stops."""
        return self.onset + self.length


@dataclass(frozen=True)
class ChordSpan:
    """A chord symbol and the stretch of time it holds; `chord` None is a stretch without harmony (N.C.)."""

    onset: Fraction
    length: Fraction
    chord: Chord | None

    @cached_property
    def end(self) -> Fraction:
        """The moment the chord stops."""
        return self.onset + self.length


@dataclass(frozen=True)
class Stretch:
    """A run of bars: `bars` are lengths in order (a short first bar is an upbeat), notes and chords fill them exactly.

    Time counts from 0 at the stretch's own start, in a body and in each ending alike.
    A note tied out of the stretch ends at its end; a tie over a repeat is not carried.
    """

    bars: tuple[Fraction, ...]
    notes: tuple[MelodyNote, ...]
    chords: tuple[ChordSpan, ...]

    @cached_property
    def length(self) -> Fraction:
        """Sum of the bars."""
        return sum(self.bars, Fraction(0))


@dataclass(frozen=True)
class Section:
    """A named part of a tune; `endings` (none, or two and more) follow `body`, one on each pass."""

    name: str
    body: Stretch
    endings: tuple[Stretch, ...] = ()
    upbeat: Fraction = Fraction(0)
    key: Key | None = None
    """The section's own key signature, as a trio has; None = the tune's."""


@dataclass(frozen=True)
class Tempo:
    """First and last step of the ladder in beats a minute; `beat` is the counted note value."""

    start: int
    goal: int
    beat: Fraction


@dataclass(frozen=True)
class Rights:
    """What the teacher states about a tune; the program never judges it."""

    composer: str = ""
    source: str = ""
    statement: str = ""


@dataclass(frozen=True)
class Tune:
    """A tune written once. `form` names sections in playing order (equal neighbours are printed as a repeat)."""

    name: str
    title: str
    meter: Meter
    key: Key
    tempo: Tempo
    sections: tuple[Section, ...]
    form: tuple[str, ...]
    rights: Rights = Rights()
    origin: str = ""
    text: str = ""
    chords_suggested: bool = False
    """True while the chords are the program's own proposal, not yet confirmed by the teacher."""
    place: Place = NOWHERE

    def section(self, name: str) -> Section:
        """The section of that name; raises KeyError."""
        for section in self.sections:
            if section.name == name:
                return section
        raise KeyError(name)


class Source(Enum):
    """What a left-hand stroke sounds."""

    ROOT = "root"
    FIFTH = "fifth"
    THIRD = "third"
    CHORD = "chord"


@dataclass(frozen=True)
class Stroke:
    """One stroke of a groove: `onset` from the cell's start; `length` may reach into the next cell.

    `anticipates` is True when the stroke sounds the chord of the next beat: it was written so, or it starts off the
    beat and is held over the next one.
    """

    onset: Fraction
    length: Fraction
    source: Source
    accent: bool = False
    anticipates: bool = False


@dataclass(frozen=True)
class Groove:
    """A left-hand pattern of `cell_bars` bars, with the slots where a fill may strike and where a shake is stressed."""

    name: str
    title: str
    meter: Meter
    slots: int
    """Slots in a counted beat: 1, 2, 3, 4 or 6."""
    cell_bars: int
    strokes: tuple[Stroke, ...]
    """Bass and chord strokes in order of onset."""
    fill: tuple[tuple[Fraction, Fraction], ...]
    """(onset, length) of the fill's strokes in the cell."""
    shake_accents: tuple[Fraction, ...] = ()
    swing: Fraction = Fraction(1, 2)
    """Share of a slot pair that its first slot takes when played (1/2 straight, 2/3 triplet feel)."""
    origin: str = ""
    text: str = ""
    tempo: tuple[int, int] = (40, 208)
    place: Place = NOWHERE
    fill_accents: tuple[Fraction, ...] = ()
    """Onsets of the fill's accented strokes."""
    pickup: tuple[Stroke, ...] = ()
    """Left-hand strokes of an upbeat bar, onsets from where a full bar would have begun; () = the left hand rests."""
    ending: tuple[Stroke, ...] = ()
    """Left-hand strokes of a piece's last bar; () = the arranger's own close."""
    suits: tuple[str, ...] = ()
    """Other dances it accompanies, as titles and collections call them: reel, hornpipe."""

    @cached_property
    def slot(self) -> Fraction:
        """Length of a slot."""
        return self.meter.beat / self.slots

    @cached_property
    def cell(self) -> Fraction:
        """Length of the pattern."""
        return self.meter.bar * self.cell_bars

    def fits(self, meter: Meter) -> bool:
        """True when it can accompany a meter: the same one, or one whose bars hold its cell a whole number of times.

        2/4 serves 4/4 and 2/2, 6/8 serves 12/8, 4/4 serves 2/4; never two against three, in the bar or in the beat.
        """
        own = self.meter
        if own == meter:
            return True
        if own.compound != meter.compound or odd_part(own.beats) != odd_part(meter.beats):
            return False
        if own.beat != meter.beat and odd_part(own.beats) != 1:
            return False
        return not meter.bar % own.bar or not self.cell % meter.bar


@dataclass(frozen=True)
class Counting:
    """A syllable table. `simple` and `compound` map slots in a beat to syllables; `n` is the beat's number.

    `by_value` is True where syllables name note values: each beat is spoken as it is divided by the notes in it, and
    a beat in which nothing else begins is spoken whole.
    """

    name: str
    title: str
    simple: dict[int, tuple[str, ...]] = field(hash=False)
    compound: dict[int, tuple[str, ...]] = field(hash=False)
    source: str = ""
    by_value: bool = False
    place: Place = NOWHERE


KINDS = (
    "count", "left-hand-one-chord", "left-hand", "melody", "shapes", "fill", "together",
    "shake-one-bass", "shake-groove", "shake-melody", "arrangement",
)
"""Exercise kinds in the order they are usually met."""


@dataclass(frozen=True)
class ExerciseSpec:
    """One exercise a week asks for. `sections` empty means the tune's first section (an arrangement: its form).

    `runs`: the left hand walks into the next phrase (`left-hand`, `together` and `arrangement`).
    """

    kind: str
    tune: str = ""
    groove: str = ""
    sections: tuple[str, ...] = ()
    title: str = ""
    instruction: str = ""
    chord: Chord | None = None
    """The one chord of the kinds that stay on one, shakes among them; by default the tune's tonic chord."""
    bars: int = 0
    """How many bars of an exercise without tune, or the first bars of a section; 0 = the kind's own default."""
    start: int = 0
    goal: int = 0
    """Ladder's ends where the exercise sets its own; 0 = the tune's."""
    shake: tuple[str, ...] = ()
    """Sections of an arrangement that are shaken."""
    introduction: int = 0
    """Bars of introduction before an arrangement."""
    right: str = ""
    """What the right hand plays in `together` and `arrangement`: melody, shapes or fill; '' = the kind's default."""
    runs: bool = False
    place: Place = NOWHERE


@dataclass(frozen=True)
class Week:
    """A week of the course."""

    name: str
    title: str
    aim: str
    text: str
    new: tuple[str, ...]
    listen: tuple[str, ...]
    exercises: tuple[ExerciseSpec, ...]
    caution: str = ""
    link: str = ""
    place: Place = NOWHERE


@dataclass(frozen=True)
class Studio:
    """Who publishes the edition."""

    name: str = ""
    address: str = ""
    logo: str = ""
    """A PNG or SVG file inside the course folder."""


@dataclass(frozen=True)
class Edition:
    """One printing of a course. Lengths in millimetres (inner margin 0 = by page count), text size in points."""

    name: str
    title: str
    paper: str = "A4"
    instrument: str = ""
    counting: str = "american"
    language: str = "en"
    studio: Studio = Studio()
    swaps: dict[str, str] = field(default_factory=dict, hash=False)
    staff: float = 7.5
    text_size: float = 10.5
    large_print: bool = False
    double_sided: bool = True
    outer_margin: float = 14.0
    inner_margin: float = 0.0
    widest_span: int = 12
    """Widest right-hand grip in semitones."""
    minutes: int = 30
    """Practice minutes a day."""
    days: int = 5
    booklet: bool = False
    crop_marks: bool = False
    bleed: float = 0.0
    isbn: str = ""
    place: Place = NOWHERE


@dataclass(frozen=True)
class Course:
    """Everything a build needs, checked and complete."""

    title: str
    subtitle: str
    text: str
    weeks: tuple[Week, ...]
    tunes: dict[str, Tune] = field(hash=False)
    grooves: dict[str, Groove] = field(hash=False)
    instruments: dict[str, Instrument] = field(hash=False)
    countings: dict[str, Counting] = field(hash=False)
    words: dict[str, dict[str, str]] = field(hash=False)
    """Language -> label key -> printed text."""
    editions: dict[str, Edition] = field(hash=False)
    default_edition: str
    default_instrument: str
    rights: str = ""
    glossary: tuple[tuple[str, str], ...] = ()
    weights: dict[str, float] = field(default_factory=dict, hash=False)
    """Difficulty weights the teacher changed."""
    translations: dict[str, Translation] = field(default_factory=dict, hash=False)
    """Language -> the course's own texts in it."""
