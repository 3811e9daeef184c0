"""Charts for the page room: the instrument's buttons, shapes on the keyboard, grooves over their counting."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from bookbuild.arrange.frames import close_chord
from bookbuild.arrange.melody_fingering import finger_grip
from bookbuild.arrange.model import Arrangement
from bookbuild.arrange.right_fingering import is_black
from bookbuild.arrange.stradella import list_columns, name_button
from bookbuild.assemble.blocks import Words, tone_names
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Counting, Groove, Instrument, Source
from bookbuild.pages.model import ButtonChart, GrooveChart, KeyboardChart, Keyboards, KeyMark
from bookbuild.theory.chords import Chord
from bookbuild.theory.counting import syllables
from bookbuild.theory.naming import ToneNames
from bookbuild.theory.pitch import Pitch

_ROW_ENDINGS = {"counterbass": "", "bass": "", "major": "", "minor": "m", "seventh": "7", "diminished": "d"}
_INVERSIONS = ("root-position", "first-inversion", "second-inversion", "third-inversion")


def used_buttons(arrangements: Iterable[Arrangement]) -> frozenset[tuple[str, int]]:
    """Every left-hand button pressed, as (row, column on the line of fifths)."""
    return frozenset(
        button for made in arrangements for voice in made.voices for event in voice.events for button in event.buttons
    )


def button_chart(instrument: Instrument, used: Iterable[tuple[str, int]], words: Words, title: str = "") -> ButtonChart:
    """The instrument's left hand with the used buttons marked."""
    columns, names = list(list_columns(instrument)), tone_names(words)
    rows = tuple(
        (words[f"row.{row}"], tuple(names.print(name_button((row, column))) + _ROW_ENDINGS[row] for column in columns))
        for row in instrument.rows
    )
    places = {(row, column): (r, c) for r, row in enumerate(instrument.rows) for c, column in enumerate(columns)}
    marked = frozenset(places[button] for button in used if button in places)
    named = ", ".join(sorted(rows[r][1][c] for r, c in marked))
    return ButtonChart(
        title or instrument.title,
        rows,
        marked,
        columns.index(0) if 0 in columns else -1,
        f"{title or instrument.title}: {named}",
    )


def common_chords(arrangements: Iterable[Arrangement], count: int) -> list[Chord]:
    """The chords a book uses most, most used first, without slash basses."""
    found = Counter(
        Chord(span.chord.root, span.chord.quality) for made in arrangements for span in made.chord_marks if span.chord
    )
    return [chord for chord, _ in sorted(found.items(), key=lambda item: (-item[1], item[0].symbol))[:count]]


def shape_charts(chord: Chord, span: int, words: Words) -> Keyboards:
    """The octave shapes of a chord, no wider than `span` semitones: one keyboard for each chord tone in the melody."""
    charts, names = [], tone_names(words)
    for position, tone in enumerate(chord.tones[:4]):
        melody = next(pitch for octave in (4, 5, 6) if (pitch := tone.at(octave)).midi >= 67)
        frame = tuple(pitch for pitch in close_chord(melody, chord) if melody.midi - pitch.midi <= span)
        grip = finger_grip(tuple(pitch.midi for pitch in (*frame, melody)))
        title = f"{names.print(chord)} · {words[f'book.{_INVERSIONS[position]}']}"
        charts.append(_keyboard(title, frame, melody, grip, names))
    return Keyboards(tuple(charts))


def _keyboard(
    title: str, frame: Sequence[Pitch], melody: Pitch, grip: Sequence[int], names: ToneNames
) -> KeyboardChart:
    marks = [KeyMark(pitch.midi, str(finger) if finger else "") for pitch, finger in zip(frame, grip, strict=False)]
    marks.append(KeyMark(melody.midi, str(grip[-1]) if grip and grip[-1] else "", True))
    low, high = frame[0].midi if frame else melody.midi, melody.midi
    # Whole white keys at both ends, so that the pattern of black keys can be recognised.
    lowest, highest = low - is_black(low) - 1, high + is_black(high) + 1
    lowest -= is_black(lowest)
    highest += is_black(highest)
    tones = ", ".join(map(names.print, (*frame, melody)))
    return KeyboardChart(title, lowest, highest, tuple(marks), f"{title}: {tones}")


def _signs(cell: int, slot: Fraction, strokes: Iterable[tuple[Fraction, Fraction, bool]]) -> str:
    """A row of signs: `x` (`X` accented) where a stroke begins, `-` while it lasts, `.` silent."""
    signs = ["."] * cell
    for onset, length, accent in strokes:
        first, last = int(onset / slot), int((onset + length) / slot)
        for place in range(first, last):
            signs[place % cell] = "-"
        signs[first % cell] = "X" if accent else "x"
    return "".join(signs)


def groove_chart(groove: Groove, counting: Counting, words: Words) -> GrooveChart:
    """A groove on its grid of slots."""
    slot = groove.slot
    cell = int(groove.cell / slot)
    counts = syllables(groove.meter, groove.slots, counting) * groove.cell_bars
    bass = [(s.onset, s.length, s.accent) for s in groove.strokes if s.source is not Source.CHORD]
    chord = [(s.onset, s.length, s.accent) for s in groove.strokes if s.source is Source.CHORD]
    rows = [(words["book.bass"], _signs(cell, slot, bass)), (words["book.chord"], _signs(cell, slot, chord))]
    if groove.fill:
        rows.append((words["book.fill"], _signs(cell, slot, [(onset, length, False) for onset, length in groove.fill])))
    a_bar = int(groove.meter.bar / slot)
    return GrooveChart(
        f"{groove.title} ({groove.meter})",
        counts,
        tuple(rows),
        tuple(range(0, cell, groove.slots)),
        tuple(range(0, cell, a_bar)),
        " ".join(filter(None, (groove.origin and groove.origin + ".", groove.text))),
        f"{groove.title}, {groove.meter}: " + "; ".join(f"{name} {signs}" for name, signs in rows),
    )
