"""The printed words of the book in English, by key; a words file of another language overrides them.

Words in braces are filled in when the page is made. Keys `kind.*` name the exercise kinds, `do.*` are their default
instructions.
"""

from __future__ import annotations

import re

from bookbuild.lessons.notice_words import NOTICES
from bookbuild.theory.naming import ENGLISH_TONES

EXERCISE_FIELDS = frozenset({"tune", "groove", "chord"})
"""Fields that an exercise's title and instruction may hold."""

_FIELD = re.compile(r"\{([^{}]*)\}")


def find_fields(text: str) -> list[tuple[int, str]]:
    """The {fields} of a text with their offsets."""
    return [(match.start(), match[1]) for match in _FIELD.finditer(text)]


def fill_words(text: str, **values: object) -> str:
    """Put values into the {fields} of a text; other braces stay as they are."""
    return _FIELD.sub(lambda match: str(values.get(match[1], match[0])), text)


_KINDS = {
    "kind.count": "Count and clap",
    "kind.left-hand-one-chord": "Left hand on one chord",
    "kind.left-hand": "Left hand through the changes",
    "kind.melody": "Melody alone",
    "kind.shapes": "Shapes under the melody",
    "kind.fill": "Melody with fill",
    "kind.together": "Hands together",
    "kind.shake-one-bass": "Bellows shake on one bass",
    "kind.shake-groove": "Bellows shake with the groove",
    "kind.shake-melody": "Bellows shake with the melody",
    "kind.arrangement": "The whole arrangement",
}

_INSTRUCTIONS = {
    "do.count": (
        "Count every syllable aloud and clap only the black ones. Keep your foot on the beat and let the "
        "grey syllables pass just as evenly."
    ),
    "do.left-hand-one-chord": (
        "Stay on {chord} and count aloud. Press each button to its full depth, let go as soon as its time is "
        "over, and keep the wrist loose in its strap."
    ),
    "do.left-hand": "Read the next chord letter before you need it, so that the hand is on its way before the barline.",
    "do.melody": (
        "Sing the line once, then play it, counting aloud. Hold every note for its full value and turn the "
        "bellows where the signs say."
    ),
    "do.shapes": (
        "Keep the melody note on top, the rest of the chord beneath it. Find each shape silently, then press all "
        "notes together."
    ),
    "do.fill": (
        "Hold each melody note for its full value. The other fingers strike short and light between them, always "
        "softer."
    ),
    "do.together": (
        "Begin slower than either hand needs. Hear which melody notes meet a bass, and do not go on until one "
        "pass is even."
    ),
    "do.shake-one-bass": (
        "Hold {chord} and open and close the bellows in even strokes, opening first. Move from the elbow, "
        "keep the strokes small, and rest as soon as the arm tightens."
    ),
    "do.shake-groove": (
        "Keep the bellows moving evenly while the left hand plays the {groove} groove inside the strokes. The "
        "bellows do not wait for the buttons."
    ),
    "do.shake-melody": (
        "Every stroke, opening or closing, sounds the note anew. Keep the fingers down; the bellows do the repeating."
    ),
    "do.arrangement": (
        "Play {tune} from beginning to end without stopping. If something slips, keep the groove going and "
        "join in again at the next phrase."
    ),
}

_PAGE = {
    "page.week": "Week",
    "page.page": "Page",
    "page.contents": "Contents",
    "page.level": "Level",
    "page.new": "New this week",
    "page.listen": "Listen for",
    "page.caution": "Take care",
    "page.plan": "Practice log",
    "page.day": "Day",
    "page.minutes": "min",
    "page.name": "Name",
    "page.date": "Date",
    "page.notes": "Notes",
    "page.more": "More for this week",
    "page.difficulty": "Difficulty",
    "page.tempo": "Tempo ladder",
    "page.skill_new": "new",
    "page.skill_practised": "practised",
    "page.cover": "Cover",
    "page.imprint": "About this book",
    "page.isbn": "ISBN",
    "page.music_of": "Music of exercise",
    "page.bars": "bars",
    "page.part": "bars 1–{bars}",
    "page.part-one": "bar 1",
    "page.suggested": "Chords suggested by the program: please check.",
    "page.swing": "Swing: the first of each pair is longer.",
    "page.review": "Play again: exercise {number}",
    "page.in_book": "Here / in the book",
    "page.at": "p. {page}",
    "page.here": "here",
}
"""`page.*` are the labels of the page room, and a few that are put into its texts."""

_MARKS = {
    "mark.open": "open",
    "mark.close": "close",
    "mark.shake": "bellows shake",
    "mark.air": "air",
}
"""Short words that the engraver prints beside the bellows signs."""

_SIGNS = {
    "sign.open": "Bellows open",
    "sign.close": "Bellows close",
    "sign.shake": "Bellows shake",
    "sign.held": "Grey: hold or keep silent, but count",
    "sign.struck": "Bold: the melody, or the only voice, strikes",
    "sign.off": "Thin black: only another voice strikes",
    "sign.air": "Take air with the air button as the line ends",
    "sign.finger-right": "1 to 5: fingers of the right hand, 1 is the thumb",
    "sign.finger-left": "2 to 5: fingers of the left hand on the buttons",
    "sign.tick": "Tick a tempo when three passes in a row were even",
    "sign.level": "How hard an exercise is, from 1 to 10",
    "sign.accent": "Accent: a little more bellows, not more finger; sim.: go on like this",
    "sign.major": "M: major chord button",
    "sign.minor": "m: minor chord button",
    "sign.seventh": "7: seventh chord button",
    "sign.diminished": "d: diminished chord button",
    "sign.bass": "Note below the middle line: single bass",
    "sign.chord": "Note above the middle line: chord button, written by its root",
    "sign.symbol": "Chord symbol: holds until the next one",
}

_NAMES = {
    # From C up, B flat before B natural: where a language calls them B and H, `C D E F G A B H`.
    "tone.names": ENGLISH_TONES,
    "key.major": "{tonic} major",
    "key.minor": "{tonic} minor",
    "key.dorian": "{tonic} dorian",
    "key.phrygian": "{tonic} phrygian",
    "key.lydian": "{tonic} lydian",
    "key.mixolydian": "{tonic} mixolydian",
    "key.locrian": "{tonic} locrian",
}

_PARTS = {
    "row.counterbass": "Counterbass",
    "row.bass": "Bass",
    "row.major": "Major",
    "row.minor": "Minor",
    "row.seventh": "Seventh",
    "row.diminished": "Diminished",
}

_BOOK = {
    "book.how-to-read": "How to read this book",
    "book.how-to-practise": "How to practise",
    "book.practise-slow": (
        "Begin at the first step of the ladder. Climb one step when three passes in a row were even, and no "
        "sooner."
    ),
    "book.practise-count": "Count aloud. What cannot be counted at a tempo cannot yet be played at it.",
    "book.practise-rest": (
        "Rest five minutes in every half hour. If anything hurts, stop, rest, and ask a health professional."
    ),
    "book.buttons": "Button chart",
    "book.week-buttons": "The buttons of this week",
    "book.caution-shake": (
        "Bellows shake is strenuous for the left arm and shoulder. Keep it short, rest between passes, and stop "
        "if anything hurts. If it goes on hurting, ask a health professional."
    ),
    "book.buttons-text": (
        "The row nearest the bellows comes first; toward your chin, G follows C. Black: used in this book. Double "
        "ring: the column of C."
    ),
    "book.combined": "Chords from several buttons",
    "book.combined-text": (
        "Some chords have no button of their own, or one that leaves a tone out. Pressed together, these buttons sound "
        "exactly the chord on C; for another root move all of them by the same number of columns. A name alone is a "
        "bass."
    ),
    "book.shapes": "Shapes",
    "book.shapes-text": "The shape under the melody note: the chord that begins on the same tone an octave lower.",
    "book.shapes-narrow": (
        "The shape under the melody note: as much of the chord beneath it as this edition asks the hand to span."
    ),
    "book.root-position": "Melody on the root",
    "book.first-inversion": "Melody on the third",
    "book.second-inversion": "Melody on the fifth",
    "book.third-inversion": "Melody on the seventh",
    "book.grooves": "Grooves",
    "book.grooves-text": (
        "Every groove of this book under its counting. A block is a stroke, a tall one an accent; a line holds it, and "
        "a dot is silent."
    ),
    "book.glossary": "Words",
    "book.rights": "Rights",
    "book.rights-text": (
        "What was stated about each tune when this book was made. Law differs from place to place: check "
        "yours before you print or perform."
    ),
    "book.composer": "Composer",
    "book.source": "Source",
    "book.statement": "Statement",
    "book.sample-together": "Hands together, with everything that is printed",
    "book.sample-shake": "Bellows shake: the first bar in full, then the wavy line",
    "book.course-map": "The course on one page",
    "book.bass": "Bass",
    "book.chord": "Chord",
    "book.fill": "Fill",
    "book.rights-none": "Nothing was stated.",
}


_GRADING = {
    "skill.bass-chord": "Bass and chord",
    "skill.sevenths": "Seventh chords",
    "skill.minors": "Minor chords",
    "skill.diminished": "Diminished chords",
    "skill.alternating": "Alternating bass",
    "skill.counterbass": "Counterbass",
    "skill.off-beat-chords": "Chords off the beat",
    "skill.together": "Hands together",
    "skill.moving": "Moving the hand",
    "skill.shapes": "Shapes",
    "skill.fill": "Fill",
    "skill.dotted": "Dotted rhythm",
    "skill.upbeat": "Upbeat",
    "skill.three-beats": "Three beats",
    "skill.compound": "Beats of three",
    "skill.swing": "Swing",
    "skill.triplets": "Triplets",
    "skill.sixteenths": "Sixteenths",
    "skill.anticipation": "Ahead of the beat",
    "skill.cross-rhythm": "Three against two",
    "skill.whole-piece": "Whole arrangement",
    "skill.shake": "Bellows shake",
    "skill.shake-groove": "Shake and groove",
    "skill.shake-melody": "Shake and melody",
    "why.syncopation": "notes come ahead of the beat and sound through it",
    "why.off-beat": "many notes fall between the beats",
    "why.counting": "the beat is divided finely, or in several ways",
    "why.speed": "the notes follow each other fast",
    "why.independence": "each hand strikes where the other holds or rests",
    "why.held-fingers": "some fingers hold while others strike",
    "why.early-left": "the left hand plays between the beats under a held melody",
    "why.grips": "the right hand takes wide and full grips",
    "why.leaps": "the melody leaps out of the hand's place",
    "why.left-travel": "the left hand travels far over the buttons",
    "why.left-fingers": "the left-hand fingers jump and change",
    "why.bellows": "the bellows turn often, and inside the phrases",
    "why.shake-speed": "the bellows shake is fast",
    "why.shake-length": "the bellows shake is long",
    "why.reading": "there is much to read at once",
    "why.length": "it is long",
    "plan.how": (
        "The boxes give the minutes for each day; a dash means not today. Go down the column in turns of about "
        "{turn} minutes, then begin again at the top with what has minutes left."
    ),
    "plan.how-short": (
        "The figures are minutes; a dash means not today. Turns of about {turn} minutes, down the column and round "
        "again."
    ),
    "plan.strenuous": "Bellows shake: never two exercises of it in a row, and stop when the arm tires.",
    "plan.slow": "On day 1 it stays on the lowest steps of its ladder.",
    "plan.rest": "Rest ({count} × {minutes} min)",
    "plan.free": "Play what you like",
}
"""`skill.*` name the skills of the course map, `why.*` say what makes an exercise hard, `plan.*` belong to the log."""

DEFAULT_WORDS: dict[str, str] = {
    **_KINDS,
    **_INSTRUCTIONS,
    **_PAGE,
    **_MARKS,
    **_SIGNS,
    **_NAMES,
    **_PARTS,
    **_BOOK,
    **_GRADING,
    **NOTICES,
}
"""Label key -> English text."""
