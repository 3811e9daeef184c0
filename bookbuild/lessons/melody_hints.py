"""Remedies for what is not part of the melody subset: pasted engraver commands, other note names, slips."""

from __future__ import annotations

import re

from bookbuild.lessons.report import show

_COMMANDS = {
    "relative": "Octaves are absolute: c' is middle C. Write every note's octave marks and leave \\relative out.",
    "repeat": "Leave repeats out: name the section twice in 'form', and write 'endings' for first and second endings.",
    "alternative": "Write first and second endings under 'endings' of the section.",
    "time": "The meter stands in the tune's 'meter'.",
    "key": "The key stands in the tune's 'key'.",
    "clef": "The book chooses the clef.",
    "partial": "Write the upbeat's length as 'upbeat: 1/8' in the tune or in the section.",
    "tempo": "The tempo stands in the tune's 'tempo'.",
    "times": "Write \\tuplet 3/2 { … } (three in the time of two).",
    "bar": "Bar lines are |; the book draws double and repeat bar lines from 'form'.",
    "break": "The book breaks the lines.",
    "grace": "Grace notes are not read; leave them out.",
    "acciaccatura": "Grace notes are not read; leave them out.",
    "appoggiatura": "Grace notes are not read; write the appoggiatura as a note of the bar.",
    "fermata": "Leave it out; say it in the tune's 'text'.",
    "tuplet": "Write \\tuplet 3/2 { c''8 d'' e'' }: a fraction, then the notes in braces.",
}

_BEGINNINGS: tuple[tuple[str, str, str], ...] = (
    (r"\\[fmps]+[fpz]?\b|\\[<>!]", "dynamics are not read", "Leave dynamics out; say them in the tune's 'text'."),
    (r"<<|>>", "two voices at once are not read", "A melody is one line of single notes; keep the upper voice."),
    (r"[<>]", "chords are not read in a melody", "Write the melody's single note; chord symbols stand in 'chords'."),
    (r"#|\$", "program code is not read", "Write notes only."),
    (r"%\{", "comments over several lines are not read", "Begin each comment line with %."),
    (r"[()]", "slurs are not read", "Leave ( and ) out; mark where a phrase ends with \\breathe."),
    (r"[\[\]]", "beams are not read", "Leave [ and ] out; the book beams by the beat."),
    (r"[-^_][.>^_!|+\-\"]", "articulation is not read in a melody", "Leave it out; accents stand in the groove."),
    (r"[{}]", "a brace without its tuplet", "Braces belong to \\tuplet 3/2 { … } only; leave this one out."),
    (r"R\d*", "whole-bar rests are not read", "Write plain rests with a duration, for example r2."),
    (r"s\d", "skips are not read", "Write rests (r) with a duration."),
    (r"h(is|es)?[',\d]*", "h is not a note name here", "Dutch names are used: b is B natural, bes is B flat."),
    (r"[A-G][#b]?[',\d.]*$", "note names are small letters here", "Write g for G, fis for F sharp, bes for B flat."),
    (r"[a-g](#|♯)", "a sharp is written 'is'", "Write fis for F sharp, cis for C sharp."),
    (r"[a-g](b|♭|f)\b", "a flat is written 'es'", "Write bes for B flat, es for E flat, as for A flat."),
    (r"[a-g](es|is|s)*[',]*\d*\.*[!?]", "cautionary accidentals are not read", "Leave ! and ? out."),
    (r"[a-g](es|is|s)*[',]*=", "octave checks are not read", "Leave the = out."),
    (r"[a-g](es|is|s)*[',]*\d+\.*\*", "stretched durations are not read", "Write plain durations, or \\tuplet."),
    (r"[a-g](es|is|s)*[',]*\d+\.*[',]", "an octave mark behind the duration", "Write the mark first, as in d''8."),
    (r"\d", "a duration without a note", "Write the note before its duration, also when the note repeats."),
    (r"['’‘`´]", "an octave mark without a note", "Write the straight mark ' close behind the note, as in d''8."),
    (r"[a-gr](es|is|s)*[’‘`´]", "a slanted quote is not an octave mark", "Write the straight mark ', as in d''8."),
)


def hint_for_token(word: str) -> tuple[str, str]:
    """Message and remedy for a word that is not part of a melody."""
    shown = show(word, 24)
    command = re.match(r"\\([a-zA-Z]+)", word)
    if command and command[1] in _COMMANDS:
        return f"{shown} is not read here", _COMMANDS[command[1]]
    for pattern, message, hint in _BEGINNINGS:
        if re.match(pattern, word):
            return f"{shown}: {message}", hint
    if command:
        return f"{shown} is not read here", "Only \\breathe and \\tuplet are known."
    return f"{shown} is not a note", "A note is a Dutch name, octave marks and a duration: fis''8, bes'4. and rests r2."
