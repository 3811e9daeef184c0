"""An Arrangement as engraver text: one `\\bookpart` an exercise, one printed system a page."""

from __future__ import annotations

from bookbuild.arrange.model import Arrangement, Bar, Role, Voice
from bookbuild.engrave.rows import bellows_row, chord_row, counting_row
from bookbuild.engrave.style import Style
from bookbuild.engrave.systems import break_lines, usual_slot
from bookbuild.engrave.text import moment
from bookbuild.engrave.voices import engrave_voice
from bookbuild.exact import Fraction
from bookbuild.theory.naming import ToneNames
from bookbuild.theory.pitch import Key


def _key_text(key: Key) -> str:
    sign = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}[key.tonic.alter]
    return f"\\key {'cdefgab'[key.tonic.step]}{sign} \\{key.mode}"


def _bar_text(bars: tuple[Bar, ...], index: int, full: Fraction, line_start: bool) -> str:
    """What a bar says to the whole score: its number, an odd length, repeats, endings, sections."""
    bar, before = bars[index], bars[index - 1] if index else None
    parts = []
    if line_start and index:
        parts.append("\\break")
    if bar.length != full:
        parts.append(_short_bar(bar, full))
    elif before and before.length != full and before.number:
        parts.append(f"\\set Timing.measureLength = #(ly:make-moment {full})")
    if line_start or (before and before.number in (0, bar.number)):
        parts.append(f"\\set Score.currentBarNumber = #{_printed_number(bars, index)}")
    commands = []
    if before and before.closes_repeat:
        commands.append("end-repeat")
    if before and before.ending and before.ending != bar.ending:
        commands.append("(volta #f)")
    if bar.opens_repeat and index:
        commands.append("start-repeat")
    elif bar.opens_repeat:
        # A repeat from the very beginning has no sign unless it is asked for by name.
        parts.append('\\bar ".|:"')
    if bar.ending and (before is None or before.ending != bar.ending):
        commands.append(f'(volta "{bar.ending}")')
    if commands:
        parts.append(f"\\set Score.repeatCommands = #'({' '.join(commands)})")
    elif before and bar.section and bar.number:
        parts.append('\\bar "||"')
    parts.append(f"s{moment(bar.length)}")
    return " ".join(parts)


def _printed_number(bars: tuple[Bar, ...], index: int) -> int:
    """The number a line shows that begins with a bar: an upbeat has that of the bar it leads to."""
    return next((bar.number for bar in bars[index:] if bar.number), 1)


def _short_bar(bar: Bar, full: Fraction) -> str:
    """An upbeat ends a bar that is not heard, so its beats are the last ones; any other short bar breaks off."""
    if bar.number == 0:
        return f"\\set Timing.measureLength = #(ly:make-moment {full}) \\partial {moment(bar.length)}"
    return f"\\set Timing.measureLength = #(ly:make-moment {bar.length})"


def _frame(arrangement: Arrangement, rows: tuple[tuple[int, ...], ...]) -> str:
    """The silent voice that carries meter, breaks and barlines."""
    starts = {row[0] for row in rows}
    bars = arrangement.bars
    lines = [f"\\time {arrangement.meter}"]
    lines += [_bar_text(bars, i, arrangement.meter.bar, i in starts) for i in range(len(bars))]
    closing = ["end-repeat"] * bars[-1].closes_repeat + ["(volta #f)"] * bool(bars[-1].ending)
    if closing:
        lines.append(f"\\set Score.repeatCommands = #'({' '.join(closing)})")
    if not bars[-1].closes_repeat:
        lines.append('\\bar "|."')
    return "{ " + "\n".join(lines) + " }"


def _key_changes(key: Key, bars: tuple[Bar, ...]) -> list[str]:
    """A silent voice that carries a staff's changes of signature after `key`; none where it stays."""
    texts, signature = [], key.signature
    for bar in bars:
        changed = bar.key is not None and bar.key.signature != signature
        texts.append((_key_text(bar.key) + " " if bar.key and changed else "") + f"s{moment(bar.length)}")
        signature = bar.key.signature if bar.key else signature
    return ["{ " + " ".join(texts) + " }"] if any("key" in text for text in texts) else []


def _staff(kind: str, opening: str, voices: list[str]) -> str:
    return f"\\new {kind} << {opening}\n" + "\n".join(voices) + "\n>>"


def _staves(arrangement: Arrangement, frame: str) -> list[str]:
    """Staves from the top; the first carries the frame."""
    meter, bars, key = arrangement.meter, arrangement.bars, _key_text(arrangement.key)

    def text(voice: Voice | None, command: str = "", beneath: Voice | None = None) -> list[str]:
        if voice is None:
            return []
        # The command goes inside the voice: a stem direction outside would be lost.
        return [engrave_voice(voice, bars, meter, beneath=beneath).replace("{", "{ " + command, 1)]

    staves = []
    clap, melody, fill = (arrangement.voice(role) for role in (Role.CLAP, Role.MELODY, Role.FILL))
    left, bass, chord = (arrangement.voice(role) for role in (Role.LEFT, Role.BASS, Role.CHORD))
    if clap:
        staves.append(("RhythmicStaff", "", text(clap)))
    if melody or fill:
        voices = text(melody, beneath=fill) + text(fill, "\\voiceTwo " if melody else "")
        staves.append(("Staff", key, voices))
    if left:
        staves.append(("Staff", f"\\leftHand {key}", text(left, "\\leftHand \\stemsByRow ")))
    if bass or chord:
        voices = text(chord, "\\leftHand \\voiceOne ") + text(bass, "\\leftHand \\voiceTwo ")
        staves.append(("Staff", f"\\clef bass {key}", voices))
    changes = _key_changes(arrangement.key, bars)
    return [
        _staff(kind, opening + (" " + frame if i == 0 else ""), voices + (changes if kind == "Staff" else []))
        for i, (kind, opening, voices) in enumerate(staves)
    ]


def score_text(arrangement: Arrangement, style: Style, *, midi: bool = False) -> str:
    """The engraver's `\\score` of an arrangement."""
    rows = break_lines(arrangement, style.width_in_staves)
    staves = _staves(arrangement, _frame(arrangement, rows))
    above = []
    if arrangement.bellows:
        lines = {arrangement.bars[row[0]].onset for row in rows}
        above.append(f"\\new Bellows {{ {bellows_row(arrangement, style.words, lines)} }}")
    if arrangement.chord_marks:
        # Over a bass staff the stradella letters come first; the symbols keep a line of their own above them.
        clear = "\\with { \\aboveLetters } " if arrangement.voices[0].role in (Role.LEFT, Role.BASS) else ""
        symbols = chord_row(arrangement.chord_marks, arrangement.length, ToneNames.parse(style.words.tones))
        above.append(f"\\new ChordMarks {clear}\\lyricmode {{ {symbols} }}")
    counting = []
    if arrangement.counts:
        counting.append(f"\\new Counting \\lyricmode {{ {counting_row(arrangement.counts, arrangement.length)} }}")
    body = staves[:1] + counting + staves[1:]
    group = "\\new PianoStaff << " + "\n".join(body) + " >>" if len(staves) > 1 else "\n".join(body)
    slot = usual_slot(arrangement)
    spacing = f"\\override SpacingSpanner.base-shortest-duration = #(ly:make-moment {slot})"
    layout = f"\\layout {{ \\context {{ \\Score proportionalNotationDuration = #(ly:make-moment {slot}) {spacing} }} }}"
    sound = "\\midi { \\tempo 4 = 60 }" if midi else ""
    return "\\score { <<\n" + "\n".join([*above, group]) + f"\n>>\n{layout} {sound} }}"


def bookpart_text(name: str, arrangement: Arrangement, style: Style, *, midi: bool = False) -> str:
    """One exercise as a `\\bookpart`; `name` (letters, digits, dots, dashes) comes back with each system."""
    return f'\\bookpart {{ \\paper {{ bb-name = "{name}" }}\n{score_text(arrangement, style, midi=midi)}\n}}'
