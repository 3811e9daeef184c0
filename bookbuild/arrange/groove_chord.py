"""The practical choice for accompaniment: which buttons stand for a chord in a groove's bass and chord strokes.

A player keeps one chord button under the finger, in the bass's own column where that serves: m7 is played with m, a
ninth with 7, a half-diminished seventh with the minor chord on its third. The choice is the least cost over tones
missed, tones added (`chord_fit`), distance, and leaving the column; the weights are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from bookbuild.arrange.chord_fit import cost_foreign, cost_missing, degree_tone, fifth_tone, list_spellings
from bookbuild.arrange.chord_words import describe_choice
from bookbuild.arrange.combine import REACH_COST
from bookbuild.arrange.notices import say
from bookbuild.arrange.stradella import (
    CHORD_ROWS,
    WIDEST_REACH,
    Button,
    Press,
    find_basses,
    is_bass,
    list_buttons,
    measure_distance,
    measure_reach,
    name_button,
    spell_press,
    unite_classes,
)
from bookbuild.lessons.model import Instrument
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Tone

OTHER_COLUMN = 2.0
"""What leaving the chord's own column costs."""
NO_CHORD_BUTTON = 5.0
"""What a chord stroke of bass buttons alone costs."""
LONE_BASS = 0.5
"""What a chord stroke of a single bass button costs besides."""
COUNTERBASS_ROOT = 0.5
"""What taking the root on the counterbass row costs."""
_ENHARMONIC_TIE = 0.001
"""Per column away from the chord's own spelling, so that of two equal buttons the one spelled as written wins."""


@dataclass(frozen=True)
class GrooveChord:
    """The presses of one chord in a groove.

    `root`, `fifth`, `third` are the bass strokes' presses (None: the instrument has no bass in the chord); fifth and
    third fall back on the root, with their notice. `chord` holds the presses of a chord stroke: a chord button, one or
    two basses where no chord button fits, or none. `notice` belongs to the chord stroke, the others to the strokes of
    that bass tone; '' where nothing needs to be said.
    """

    symbol: str
    root: Press | None
    fifth: Press | None
    third: Press | None
    chord: tuple[Press, ...]
    notice: str = ""
    root_notice: str = ""
    fifth_notice: str = ""
    third_notice: str = ""


@lru_cache(maxsize=1024)
def groove_chord(chord: Chord, instrument: Instrument) -> GrooveChord:
    """Buttons for a chord in a groove."""
    bass, pressed = _choose_buttons(chord, instrument)
    wanted = list_spellings(chord)
    root = spell_press(bass, wanted) if bass else None
    anchor = next((button for button in pressed if not is_bass(button)), bass)
    fifth, fifth_notice = _reach_tone(chord, fifth_tone(chord), "degree.4", root, anchor, instrument)
    third, third_notice = _reach_tone(chord, degree_tone(chord, 2), "degree.2", root, anchor, instrument)
    return GrooveChord(
        chord.symbol, root, fifth, third, tuple(spell_press(button, wanted) for button in pressed),
        *describe_choice(chord, bass, pressed, instrument), fifth_notice, third_notice,
    )


def _choose_buttons(chord: Chord, instrument: Instrument) -> tuple[Button | None, tuple[Button, ...]]:
    """The bass and the chord stroke of least cost."""
    basses: tuple[Button | None, ...] = _list_basses(chord, instrument) or (None,)
    options = [(_cost(chord, bass, pressed, instrument), bass, pressed)
               for bass in basses for pressed in _list_strokes(chord, bass, instrument)]
    priced = [(cost, bass, pressed) for cost, bass, pressed in options if cost is not None]
    if not priced:
        return basses[0], ()
    _, bass, pressed = min(priced, key=lambda option: (option[0], option[1] or Button("", 0), option[2]))
    return bass, pressed


def _list_basses(chord: Chord, instrument: Instrument) -> tuple[Button, ...]:
    """Buttons of the bass tone; where the instrument lacks it, of the root, the fifth, the third or another tone."""
    order = [chord.bass or chord.root, chord.root, fifth_tone(chord), degree_tone(chord, 2), *chord.tones]
    for tone in order:
        if tone is not None and (tone in list_spellings(chord)) and (found := find_basses(tone.pc, instrument)):
            return found
    return ()


def _list_strokes(chord: Chord, bass: Button | None, instrument: Instrument) -> Iterator[tuple[Button, ...]]:
    """Every chord button alone; then one or two basses inside the chord, within reach of the bass."""
    for button in list_buttons(instrument, CHORD_ROWS):
        yield (button,)
    low = sorted((b for pc in chord.pcs for b in find_basses(pc, instrument)
                  if bass is None or measure_distance(bass, b) <= WIDEST_REACH), key=lambda b: (b.column, b.row))
    for count in (1, 2):
        for basses in combinations(low, count):
            if len(unite_classes(basses, instrument)) == count and measure_reach(basses) <= WIDEST_REACH:
                yield basses


def _cost(chord: Chord, bass: Button | None, pressed: tuple[Button, ...], instrument: Instrument) -> float | None:
    """Cost of a bass with a chord stroke; None when the stroke would be heard as a wrong chord."""
    pcs = unite_classes(pressed, instrument)
    foreign = cost_foreign(chord, pcs)
    if foreign is None:
        return None
    buttons = pressed if bass is None else (bass, *pressed)
    cost = cost_missing(chord, unite_classes(buttons, instrument)) + foreign + REACH_COST * measure_reach(buttons)
    if is_bass(pressed[0]):
        cost += NO_CHORD_BUTTON + (LONE_BASS if len(pressed) == 1 else 0)
    elif (pressed[0].column - chord.root.fifths) % 12:
        cost += OTHER_COLUMN
    if bass is not None and bass.row == "counterbass":
        cost += COUNTERBASS_ROOT
    away = sum(abs(button.column - chord.root.fifths) for button in buttons)
    return round(cost + _ENHARMONIC_TIE * away, 6)


def _reach_tone(chord: Chord, tone: Tone | None, degree: str, root: Press | None, anchor: Button | None,
                instrument: Instrument) -> tuple[Press | None, str]:
    """The bass button for an alternating fifth or third nearest the root and the chord, else the root, with a notice.

    A slash chord whose bass is that very tone alternates with the root of the chord.
    """
    if root is None or tone is None:
        return root, ""
    if tone.pc == name_button(root.button).pc:
        if chord.bass is None or chord.bass.pc != tone.pc:
            return root, ""
        tone = chord.root
    centre = anchor or root.button
    near = [(round(measure_distance(button, root.button) + measure_distance(button, centre), 3), button)
            for button in find_basses(tone.pc, instrument) if measure_distance(button, root.button) <= WIDEST_REACH]
    if near:
        return spell_press(min(near)[1], (tone,)), ""
    what = say("say.no-alternating", tone=say("say.tone", degree=say(degree), tone=tone), bass=root.tone)
    return root, say("say.place", place=chord, what=what)
