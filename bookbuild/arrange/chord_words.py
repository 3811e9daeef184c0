"""What the player is told about the buttons chosen for a chord, in the teacher's words."""

from __future__ import annotations

from bookbuild.arrange.chord_fit import fifth_tone, home_row, list_spellings, name_foreign, name_missing
from bookbuild.arrange.notices import Said, say, say_all
from bookbuild.arrange.stradella import Button, is_bass, list_columns, name_button, spell_press, unite_classes
from bookbuild.lessons.model import Instrument
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Tone


def describe_choice(chord: Chord, bass: Button | None, pressed: tuple[Button, ...],
              instrument: Instrument) -> tuple[str, str]:
    """The remarks on a chord stroke and on the bass under it; '' where nothing needs to be said."""
    if bass is None and not pressed:
        nothing = _say(chord, say("say.left-rests"))
        return nothing, nothing
    return _describe_chord(chord, bass, pressed, instrument), _describe_bass(chord, bass)


def _describe_bass(chord: Chord, bass: Button | None) -> str:
    """What replaces a missing bass; '' where the bass is there."""
    wanted = list_spellings(chord)
    if bass is None:
        return _say(chord, say("say.no-bass-at-all"))
    if name_button(bass).pc == wanted[0].pc:
        return ""
    taken = spell_press(bass, wanted).tone
    return _say(chord, say("say.other-bass", missing=wanted[0], bass=taken))


def _say(chord: Chord, what: Said) -> str:
    """A remark that begins with the chord's symbol."""
    return say("say.place", place=chord, what=what)


def _describe_chord(chord: Chord, bass: Button | None, pressed: tuple[Button, ...], instrument: Instrument) -> str:
    """What the player must know about the chord stroke; '' for the chord's own button."""
    if not pressed:
        return _say(chord, say("say.no-chord-at-all"))
    wanted, home = list_spellings(chord), home_row(chord)
    at_home = len(pressed) == 1 and pressed[0].row == home and not (pressed[0].column - chord.root.fifths) % 12
    replaced = bass is None or name_button(bass).pc != wanted[0].pc
    remark = _remark(chord, unite_classes((bass, *pressed) if bass else pressed, instrument), at_home, replaced)
    if at_home and not remark:
        return ""
    stroke = _name_stroke(pressed, bass, wanted)
    stroke = say("say.bracket", what=stroke, remark=remark) if remark else stroke
    return _say(chord, say_all([*_name_lack(chord, home, instrument), stroke], "say.then"))


def _name_lack(chord: Chord, home: str, instrument: Instrument) -> list[str]:
    """The row or column this instrument lacks for the chord."""
    if home not in instrument.rows:
        return [say("say.no-row", row=say(f"row-name.{home}"))]
    if all((column - chord.root.fifths) % 12 for column in list_columns(instrument)):
        return [say("say.no-column", root=chord.root)]
    return []


def _name_stroke(pressed: tuple[Button, ...], bass: Button | None, wanted: tuple[Tone, ...]) -> str:
    """The chord stroke in words; the bass is named where it is not the root of the chord button."""
    presses = [spell_press(button, wanted) for button in pressed]
    if is_bass(presses[0].button):
        key = "say.strike-bass" if len(presses) == 1 else "say.strike-basses"
        return say(key, tones=say_all([press.tone for press in presses]))
    names = say_all([say(f"button.{press.button.row}", tone=press.tone) for press in presses])
    low = spell_press(bass, wanted).tone if bass else None
    if low and (len(presses) > 1 or low.pc != presses[0].tone.pc):
        return say("say.play-over", chords=names, bass=low)
    return say("say.play", chords=names)


def _remark(chord: Chord, pcs: frozenset[int], at_home: bool, bass_replaced: bool) -> str:
    """What is left out and what is added; '' for nothing.

    The fifth that no diminished button has is not worth a word on that button, nor a root just said to be missing.
    """
    heard = set(pcs) - ({chord.bass.pc} - chord.pcs if chord.bass else set())
    spared = {chord.root.pc} if bass_replaced else set()
    if at_home and home_row(chord) == "diminished":
        spared.add(fifth_tone(chord).pc)
    left_out, added = name_missing(chord, heard | spared), name_foreign(chord, heard)
    said = [say("say.without", tones=say_all(left_out))] if left_out else []
    said += [say("say.with", tones=say_all(added))] if added else []
    return say_all(said, "say.comma")
