"""What a book is made of, as frozen data: texts, drawn systems and charts. Lengths are points (1/72 inch)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from bookbuild.exact import Fraction


@dataclass(frozen=True)
class System:
    """One drawn line of music: page `page_index` (from 0) of `pdf`.

    `left`, `top`, `width`, `height` are the box of its ink, `origin_x` is where its staves begin; all are points
    from the left and upper edge of that page. `bars` are the first and last bar's numbers.
    """

    pdf: Path
    page_index: int
    left: float
    top: float
    width: float
    height: float
    origin_x: float
    bars: tuple[int, int] = (0, 0)
    staff_height: float = 21.26
    turn_ok_after: bool = False
    """True when a page may be turned after it: it ends with a rest or with a phrase."""


@dataclass(frozen=True)
class Ladder:
    """Tempo steps to tick: beats a minute of the note value `beat` (a Fraction of a whole note)."""

    beat: Fraction
    steps: tuple[int, ...]


@dataclass(frozen=True)
class Block:
    """One exercise as it is printed. `number` ("3.2") is unique in the book and names its link target."""

    number: str
    title: str
    instruction: str = ""
    level: int = 0
    """1 … `Book.levels`; 0 prints none."""
    ladder: Ladder | None = None
    systems: tuple[System, ...] = ()
    notices: tuple[str, ...] = ()
    alt: str = ""
    """What a listener who cannot see the music is told of it."""


@dataclass(frozen=True)
class Text:
    """A paragraph. `*word*` is emphasised, `**word**` is strong, a backslash keeps the next character as it is."""

    text: str


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True)
class Pairs:
    """A list of terms and what they mean: glossary, rights, legend."""

    pairs: tuple[tuple[str, str], ...]


SIGNS = ("open", "close", "shake", "struck", "off", "held", "tick", "level", "turn", "note", "bass", "chord")
"""Signs that `Legend` can draw."""


@dataclass(frozen=True)
class Legend:
    """Signs and their meaning: each entry is a name of `SIGNS`, or a short text to print as it is, and the meaning.

    `beats` are the syllables on two beats, `parts` those inside a beat, which stand for counted places.
    """

    entries: tuple[tuple[str, str], ...]
    beats: tuple[str, ...] = ("1", "2")
    parts: tuple[str, ...] = ("e", "&", "a")


@dataclass(frozen=True)
class ButtonChart:
    """Left-hand buttons: `rows` from the bellows outward, each a row's name and its labels, flattest column first.

    `marked` are (row, column) places from 0 printed black; `home` is the column of C (−1: not on this instrument).
    """

    title: str
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    marked: frozenset[tuple[int, int]] = frozenset()
    home: int = -1
    alt: str = ""


@dataclass(frozen=True)
class KeyMark:
    """A key to press: MIDI number, a label (finger or tone) and whether it is the melody's key (printed solid)."""

    midi: int
    label: str = ""
    melody: bool = False


@dataclass(frozen=True)
class KeyboardChart:
    """A stretch of piano keys, MIDI `lowest` to `highest`, with the keys of one shape marked."""

    title: str
    lowest: int
    highest: int
    marks: tuple[KeyMark, ...]
    alt: str = ""


@dataclass(frozen=True)
class Keyboards:
    """Keyboard charts set side by side, as many in a line as the page allows."""

    charts: tuple[KeyboardChart, ...]


@dataclass(frozen=True)
class GrooveChart:
    """A groove on its slot grid: `counts` label the columns, each row is a name and one sign a slot.

    Signs: `x` sounds, `X` sounds with an accent, `-` held, `.` silent. `beats` are the columns where a beat starts,
    `bars` the columns where a bar starts.
    """

    title: str
    counts: tuple[str, ...]
    rows: tuple[tuple[str, str], ...]
    beats: tuple[int, ...]
    bars: tuple[int, ...] = (0,)
    text: str = ""
    alt: str = ""


@dataclass(frozen=True)
class MapRow:
    """A week on the course map: how hard it is (0…1) and for each skill 0 = none, 1 = practised, 2 = new."""

    number: int
    title: str
    difficulty: float
    skills: tuple[int, ...]


@dataclass(frozen=True)
class CourseMap:
    """Weeks against skills, with the difficulty of each week, on one page."""

    skills: tuple[str, ...]
    rows: tuple[MapRow, ...]
    alt: str = ""


Item = Text | Heading | Pairs | Legend | Block | ButtonChart | Keyboards | GrooveChart | CourseMap


@dataclass(frozen=True)
class Section:
    """A part of the front or back matter. `key` names its link target and must be unique in the book."""

    key: str
    title: str
    items: tuple[Item, ...]


@dataclass(frozen=True)
class PlanRow:
    """A line of the practice log: what to practise and for how many minutes a day (0 prints none).

    `each_day`, where given, holds the minutes of every day instead, printed in the days' boxes; 0 is crossed out.
    """

    text: str
    minutes: int = 0
    each_day: tuple[int, ...] = ()
    short: str = ""
    """Printed where `text` needs more than one line; '' = `text` all the same."""
    where: str = ""
    """Where its music is found, printed before the boxes instead of the minutes."""


@dataclass(frozen=True)
class Plan:
    """The practice log of a week: its lines, and how many days have a box."""

    rows: tuple[PlanRow, ...]
    days: int = 5
    note: str = ""
    where: str = ""
    """The head over the rows' `where`, printed where it and the days' heads have room."""


@dataclass(frozen=True)
class WeekPage:
    """A week of the book. `number` counts from 1 and is printed on its tab; a sheet of no course has 0 and no tab."""

    number: int
    title: str
    aim: str = ""
    text: str = ""
    new: tuple[str, ...] = ()
    listen: tuple[str, ...] = ()
    caution: str = ""
    link: str = ""
    """A web address, printed with a QR code; '' prints none."""
    level: int = 0
    blocks: tuple[Block, ...] = ()
    charts: tuple[Item, ...] = ()
    """Charts shown before the first exercise."""
    plan: Plan | None = None


@dataclass(frozen=True)
class StandRow:
    """A line of the log on a week's leaf for the music stand: `row.where` is where its music stands in the book.

    `number` is the exercise it belongs to ('' for a rest): where its music is on the leaf, the leaf is named instead.
    """

    row: PlanRow
    number: str = ""


@dataclass(frozen=True)
class Stand:
    """A week's leaf for the music stand: the week with all its exercises, and which of them serve its practice best.

    `serves` holds, for each of the week's blocks, the points it serves each of them (`choose_music.Offer`). The log's
    lines are `rows`; the week's own plan gives its days and its note.
    """

    week: WeekPage
    serves: tuple[tuple[int, ...], ...]
    rows: tuple[StandRow, ...]


@dataclass(frozen=True)
class Imprint:
    """Who publishes this printing; `logo` is a PNG or SVG file."""

    name: str = ""
    address: str = ""
    logo: Path | None = None
    isbn: str = ""
    lines: tuple[str, ...] = ()
    """Further lines for the imprint page: rights, edition, licence of the fonts."""


@dataclass(frozen=True)
class Book:
    """Everything that is printed, in order; `words` maps label keys (`labels.LABELS`) to printed text."""

    title: str
    subtitle: str = ""
    text: str = ""
    """What the book is for; printed behind the cover."""
    language: str = "en"
    words: Mapping[str, str] = field(default_factory=dict, hash=False)
    imprint: Imprint = Imprint()
    front: tuple[Section, ...] = ()
    """After the contents: how to read this book, the course map."""
    weeks: tuple[WeekPage, ...] = ()
    back: tuple[Section, ...] = ()
    levels: int = 10
    edition: str = ""
