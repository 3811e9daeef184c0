"""The English words of the notices under exercises, by key `say.*`; a words file of another language overrides them.

A notice is put together from these texts (`arrange/notices.py`): what stands in braces is a name, a number, or the
text of another key, so that a language may order its sentences as it likes.
"""

from __future__ import annotations

NOTICES = {
    "say.and": "{first} and {last}",
    "say.comma": "{first}, {last}",
    "say.then": "{first}; {last}",
    "say.place": "{place}: {what}",
    "say.bar": "Bar {number}",
    "say.upbeat": "Upbeat",
    "say.in-bar": "bar {numbers}",
    "say.in-bars": "bars {numbers}",
    "say.in-upbeat": "the upbeat",
    "say.half-open": "begin with the bellows half open.",
    "say.too-long": (
        "at {tempo} beats a minute the notes held here take {need} seconds of air and the bellows hold {full}; "
        "play softly, or begin faster."
    ),
    "say.odd-shake": (
        "the shake before it has an odd number of strokes, so this bar begins closing. Shake with the bellows half "
        "open."
    ),
    "say.air-in-rest": (
        "the air does not come out even; in the rest, set the bellows right with the air button."
    ),
    "say.air-in-turn": (
        "the air does not come out even and there is no rest; press the air button briefly where the bellows turn."
    ),
    "say.across-beats": "The strokes of the shake run across the beat: count the strokes, not the beats.",
    "say.odd-strokes": (
        "{strokes} to a beat: if one beat begins opening, the next begins closing. Stress the beat whichever way the "
        "bellows go."
    ),
    "say.strokes-1": "One stroke",
    "say.strokes-3": "Three strokes",
    "say.strokes-5": "Five strokes",
    "say.strokes": "{count} strokes",
    "say.off-stroke": (
        "Some notes of the shake do not begin with a stroke: hold them and let the bellows go on evenly."
    ),
    "say.moved-up": (
        "The melody is played {octaves} higher: as written it does not fit the keyboard ({lowest} to {highest})."
    ),
    "say.moved-down": (
        "The melody is played {octaves} lower: as written it does not fit the keyboard ({lowest} to {highest})."
    ),
    "say.octave": "an octave",
    "say.octaves-2": "two octaves",
    "say.octaves": "{count} octaves",
    "say.some-moved": (
        "In {where} notes are moved by an octave: the melody as a whole does not fit the keyboard "
        "({lowest} to {highest})."
    ),
    "say.some-places": "some places",
    "say.fewer-notes": "In {where} the chord has fewer notes: the keyboard ends at {lowest}.",
    "say.left-rests": "no button of this instrument belongs to this chord; the left hand rests",
    "say.no-bass-at-all": "no bass button belongs to this chord here; leave the bass out",
    "say.other-bass": "there is no bass {missing} here, take {bass}",
    "say.no-chord-at-all": "no chord button and no second bass fits here; leave the chord out",
    "say.no-row": "there is no {row} row here",
    "say.no-column": "there are no {root} chord buttons here",
    "say.strike-bass": "no chord button fits, strike the bass {tones}",
    "say.strike-basses": "no chord button fits, strike the basses {tones}",
    "say.play": "play {chords}",
    "say.play-over": "play {chords} over the bass {bass}",
    "say.bracket": "{what} ({remark})",
    "say.without": "without {tones}",
    "say.with": "with {tones} added",
    "say.tone": "the {degree} {tone}",
    "say.no-alternating": "no bass button for {tone} within reach; repeat the bass {bass}",
    "row-name.major": "major",
    "row-name.minor": "minor",
    "row-name.seventh": "seventh",
    "row-name.diminished": "diminished",
    "button.major": "{tone} major",
    "button.minor": "{tone} minor",
    "button.seventh": "{tone} seventh",
    "button.diminished": "{tone} diminished",
    "degree.0": "root",
    "degree.1": "second",
    "degree.2": "third",
    "degree.3": "fourth",
    "degree.4": "fifth",
    "degree.5": "sixth",
    "degree.6": "seventh",
    "degree.8": "ninth",
    "degree.10": "eleventh",
    "degree.12": "thirteenth",
}
"""Label key -> English text. `degree.*` counts staff steps above a chord's root."""
