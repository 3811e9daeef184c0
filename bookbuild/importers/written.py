"""A tune as a file wrote it, before it becomes sections: what the three readers hand to `assemble`."""

from __future__ import annotations

from dataclasses import dataclass

from bookbuild.diagnostics import BookbuildError
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Place, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch

MOST_BARS = 500
"""A written tune longer than that is a piece, not a tune of a practice book."""


class ImportFault(BookbuildError):
    """A file that cannot be imported as a whole: the message names the file, the hint what to do. Exit code 1."""

    exit_code = 1


class TuneFault(Exception):
    """One tune of a file cannot be carried over; the others can. `line` is 0 where the file has no lines."""

    def __init__(self, reason: str, line: int = 0) -> None:
        super().__init__(reason)
        self.reason = reason
        self.line = line


@dataclass(frozen=True)
class WrittenNote:
    """A note or rest (`pitch` None) in its bar; `tied` when a tie leads to the next note."""

    onset: Fraction
    length: Fraction
    pitch: Pitch | None
    tied: bool = False
    breath: bool = False

    @property
    def end(self) -> Fraction:
        """The moment in the bar where the note stops."""
        return self.onset + self.length


@dataclass(frozen=True)
class WrittenBar:
    """What stands between two barlines; notes follow each other without gap from 0 to `length`.

    `plays` > 1: a repeat sign closes the bar, the stretch sounds that often. `ending`: the passes for which a bracket
    begins here. `heavy`: a double or final barline, a part's name or a turn of the page of that kind follows.
    `jump` is "capo" or "segno" (da capo, dal segno).
    """

    number: int
    meter: Meter
    notes: tuple[WrittenNote, ...]
    chords: tuple[tuple[Fraction, Chord | None], ...] = ()
    opens: bool = False
    plays: int = 1
    ending: tuple[int, ...] = ()
    ends_ending: bool = False
    heavy: bool = False
    segno: bool = False
    fine: bool = False
    jump: str = ""
    line: int = 0
    key: Key | None = None
    """The key signature in force where the bar begins; None = the tune's."""

    @property
    def length(self) -> Fraction:
        """Sum of its notes and rests."""
        return self.notes[-1].end if self.notes else Fraction(0)

    @property
    def where(self) -> str:
        """For messages: `bar 7 (line 12)`."""
        return f"bar {self.number} (line {self.line})" if self.line else f"bar {self.number}"


@dataclass(frozen=True)
class WrittenTune:
    """Everything one tune of a file says. `tempo` is (note value counted, how many a minute)."""

    title: str
    key: Key
    bars: tuple[WrittenBar, ...]
    notes: tuple[str, ...] = ()
    """What could not be carried over so far, in the teacher's words."""
    composer: str = ""
    source: str = ""
    statement: str = ""
    origin: str = ""
    tempo: tuple[Fraction, Fraction] | None = None
    line: int = 0


@dataclass(frozen=True)
class ImportedTune:
    """One tune of a file: `tune`, or None and the `reason` it was refused. `notes` say what was not carried over."""

    title: str
    place: Place
    tune: Tune | None
    notes: tuple[str, ...] = ()
    reason: str = ""
