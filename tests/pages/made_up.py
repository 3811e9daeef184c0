"""Made-up books for the tests of the page: systems drawn as plain staves, so that no engraver is needed."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from bookbuild.pages.fonts import FontSet
from bookbuild.pages.model import (
    SIGNS,
    Block,
    Book,
    ButtonChart,
    CourseMap,
    GrooveChart,
    Heading,
    Imprint,
    KeyboardChart,
    Keyboards,
    KeyMark,
    Ladder,
    Legend,
    MapRow,
    Pairs,
    Plan,
    PlanRow,
    Section,
    System,
    Text,
    WeekPage,
)

FONTS = Path(__file__).parents[2] / "fonts"
MARGIN, SHEET_HEIGHT, STAFF = 40.0, 500.0, 21.26


def draw_systems(path: Path, heights: list[float], width: float, staves: int = 2) -> list[System]:
    """Write one page a system: `staves` staves of five lines and a frame of ink marks, and say where the ink is."""
    canvas = Canvas(
        str(path),
        pagesize=(width + 2 * MARGIN, SHEET_HEIGHT),
        invariant=1,
        initialFontName=FontSet(FONTS).register_initial(),
    )
    systems = []
    for index, height in enumerate(heights):
        top = SHEET_HEIGHT - 60
        gap = (height - staves * STAFF - 30) / max(1, staves - 1) if staves > 1 else 0.0
        for staff in range(staves):
            upper = top - 15 - staff * (STAFF + gap)
            for line in range(5):
                canvas.setLineWidth(0.4)
                canvas.line(MARGIN, upper - line * STAFF / 4, MARGIN + width, upper - line * STAFF / 4)
            for note in range(16):
                canvas.circle(MARGIN + 40 + note * (width - 60) / 16, upper - (note * 7 % 5) * STAFF / 4, 2.6, fill=1)
        canvas.setLineWidth(0.8)
        for bar in range(5):
            canvas.line(MARGIN + bar * width / 4, top - 15, MARGIN + bar * width / 4, top - height + 15)
        canvas.line(MARGIN - 6, top, MARGIN - 6, top - height)
        canvas.showPage()
        systems.append(
            System(
                path,
                index,
                MARGIN - 6.4,
                60.0,
                width + 6.8,
                height,
                MARGIN,
                (4 * index + 1, 4 * index + 4),
                STAFF,
                turn_ok_after=index % 2 == 1,
            )
        )
    canvas.save()
    return systems


KINDS = (
    ("Count and clap", "Say the count aloud and clap the *bold* numbers; keep the grey ones silent.", 1, 62.0, 1),
    (
        "Left hand alone",
        "Bass on the beat, chord between. Fingers stay over the buttons they have just left.",
        2,
        78.0,
        1,
    ),
    ("Melody alone", "Hold every note for its full value and turn the bellows where the line turns.", 4, 84.0, 1),
    ("Shapes under the melody", "The other fingers take the closed chord below each melody note.", 4, 110.0, 2),
    (
        "Melody over the fill",
        "The melody is held by the outer fingers while the inner fingers answer on *e – & – a*.",
        5,
        138.0,
        2,
    ),
    ("Hands together", "Slowly, at the first tempo, until the left hand needs no thought.", 4, 142.0, 2),
)


CAUTION = (
    "The bellows shake is hard work for the left arm and shoulder. Play for a minute, rest for two. Stop if it hurts."
)
NOTICE = "The seventh chord of bar 3 is played with its neighbour: this instrument lacks the button."


TONES = [
    "Bbb",
    "Fb",
    "Cb",
    "Gb",
    "Db",
    "Ab",
    "Eb",
    "Bb",
    "F",
    "C",
    "G",
    "D",
    "A",
    "E",
    "B",
    "F#",
    "C#",
    "G#",
    "D#",
    "A#",
]


def buttons(columns: int, rows: int) -> ButtonChart:
    """Left-hand buttons of an invented instrument."""
    first = max(0, 9 - columns // 2)
    endings = ("", "", "", "m", "7", "d")[:rows]
    names = ("counterbass", "bass", "major", "minor", "seventh", "diminished")[:rows]
    labels = [
        (name, tuple(tone + end for tone in TONES[first : first + columns]))
        for name, end in zip(names, endings, strict=True)
    ]
    return ButtonChart(f"{columns * rows} basses", tuple(labels), frozenset({(0, 1), (1, 2), (1, 3)}), 9 - first)


def shapes() -> Keyboards:
    """Four shapes of two chords."""
    chords = ((60, 64, 67, 72), (64, 67, 72, 76), (62, 66, 69, 74), (66, 69, 74, 78))
    fingers = ("1", "2", "3", "5")
    charts = []
    for number, keys in enumerate(chords, 1):
        marks = tuple(KeyMark(key, finger, key == keys[-1]) for finger, key in zip(fingers, keys, strict=True))
        charts.append(KeyboardChart(f"shape {number}", 59, 79, marks))
    return Keyboards(tuple(charts))


def groove(bars: int) -> GrooveChart:
    """A groove of one or two bars of 2/4 in sixteenths."""
    counts = tuple("1e&a2e&a" * bars)
    rows = (("bass", "x--.X-.." * bars), ("chord", "...x--x-" * bars), ("fill", ".xx..xxx" * bars))
    beats, starts = tuple(range(0, 8 * bars, 4)), tuple(range(0, 8 * bars, 8))
    return GrooveChart("A groove (2/4)", counts, rows, beats, starts, "Bass held three slots.")


def course_map(weeks: int) -> CourseMap:
    """Every week brings a skill and keeps the earlier ones."""
    skills = (
        "counting aloud",
        "alternating bass",
        "minor chords",
        "fill under the melody",
        "bellows shake",
        "syncopated bass",
    )
    rows = []
    for week in range(1, weeks + 1):
        marks = tuple(2 if skill == week else 1 if skill < week else 0 for skill in range(1, 7))
        rows.append(MapRow(week, f"The work of week {week}", week / weeks, marks))
    return CourseMap(skills, tuple(rows), "Weeks against skills")


def make_book(folder: Path, width: float, weeks: int = 3, scale: float = 1.0) -> Book:
    """A book of made-up weeks, each with up to six exercises."""
    return Book(
        title="Two Hands, One Bellows",
        subtitle="A graded practice course for the piano accordion",
        text="Ten weeks from the first bass notes to full arrangements with bellows shake.",
        imprint=Imprint(
            "Example Studio",
            "1 Any Street",
            isbn="978-3-16-148410-0",
            lines=("All rights stated in the list of rights.",),
        ),
        front=(
            Section(
                "read",
                "How to read this book",
                (
                    Text("Each exercise has a number, a title and one line that says what to do."),
                    Heading("The count"),
                    Legend(
                        tuple(
                            (sign, f"what the sign {sign} means, in a line or so") for sign in (*SIGNS, "M", "m", "7")
                        )
                    ),
                    Text("**Bold** syllables are struck; grey ones are held or silent."),
                ),
            ),
        ),
        weeks=tuple(_week(folder, width, number, scale) for number in range(1, weeks + 1)),
        back=(
            Section("map", "The course", (course_map(weeks),)),
            Section("buttons", "Buttons", (buttons(20, 6), buttons(6, 2))),
            Section("shapes", "Shapes", (shapes(),)),
            Section("grooves", "Grooves", (groove(1), groove(2), groove(1))),
            Section(
                "glossary",
                "Glossary",
                (
                    Pairs(
                        (
                            (
                                "bellows shake",
                                "Opening and closing the bellows in even strokes while the keys stay down.",
                            ),
                            ("fill", "Notes of the chord played by the free fingers between the melody notes."),
                            ("groove", "The pattern the left hand repeats, bar after bar."),
                        )
                    ),
                ),
            ),
        ),
    )


def _week(folder: Path, width: float, number: int, scale: float) -> WeekPage:
    blocks = []
    for place, (title, instruction, systems, height, staves) in enumerate(KINDS[: 3 + number % 4], 1):
        path = folder / f"music-{number}-{place}.pdf"
        drawn = draw_systems(path, [height * scale + 3 * (k % 2) for k in range(systems)], width, staves)
        blocks.append(
            Block(
                f"{number}.{place}",
                title,
                instruction,
                min(10, number + place // 2),
                Ladder(Fraction(1, 4) if place % 2 else Fraction(3, 8), (50, 60, 72, 84)),
                tuple(drawn),
                (NOTICE,) if place == 4 else (),
                f"{title}, {systems} systems",
            )
        )
    return WeekPage(
        number,
        ("First bass notes", "The chord answers", "A melody to carry", "Both hands")[(number - 1) % 4],
        "Keep the bellows even while the left hand finds bass and chord without looking.",
        "This week the left hand learns its first pattern. The bass speaks on the beat and is short; the chord "
        "answers and is shorter. "
        "Practise a little every day rather than much on one day, and stop while it still goes well.\n\n"
        "Count aloud. A count that is only thought is a count that waits for the fingers.",
        ("alternating bass", "the chord row", "open and close on the phrase"),
        ("bass notes of one length", "no gap when the bellows turn"),
        CAUTION if number % 2 == 0 else "",
        "https://example.org/week" if number == 1 else "",
        number,
        tuple(blocks),
        (),
        Plan(
            tuple(PlanRow(f"{block.number} {block.title}", 5) for block in blocks),
            5,
            "Write the tempo you reached into the day's box.",
        ),
    )
