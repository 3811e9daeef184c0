"""What the player is told about the buttons chosen for a chord, in the teacher's words."""

from __future__ import annotations

from bookbuild.arrange.chord_fit import fifth_tone, home_row, join_words, list_spellings, name_foreign, name_missing
from bookbuild.arrange.stradella import Button, is_bass, list_columns, name_button, spell_press, unite_classes
from bookbuild.lessons.model import Instrument
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Tone


def describe_choice(chord: Chord, bass: Button | None, pressed: tuple[Button, ...],
              instrument: Instrument) -> tuple[str, str]:
    """The remarks on a chord stroke and on the bass under it; '' where nothing needs to be said."""
    if bass is None and not pressed:
        nothing = f"{chord.symbol}: no button of this instrument belongs to this chord; the left hand rests"
        return nothing, nothing
    return _describe_chord(chord, bass, pressed, instrument), _describe_bass(chord, bass)


def _describe_bass(chord: Chord, bass: Button | None) -> str:
    """What replaces a missing bass; '' where the bass is there."""
    wanted = list_spellings(chord)
    if bass is None:
        return f"{chord.symbol}: no bass button belongs to this chord here; leave the bass out"
    if name_button(bass).pc == wanted[0].pc:
        return ""
    return f"{chord.symbol}: there is no bass {wanted[0].name} here, take {spell_press(bass, wanted).tone.name}"


def _describe_chord(chord: Chord, bass: Button | None, pressed: tuple[Button, ...], instrument: Instrument) -> str:
    """What the player must know about the chord stroke; '' for the chord's own button."""
    if not pressed:
        return f"{chord.symbol}: no chord button and no second bass fits here; leave the chord out"
    wanted, home = list_spellings(chord), home_row(chord)
    at_home = len(pressed) == 1 and pressed[0].row == home and not (pressed[0].column - chord.root.fifths) % 12
    replaced = bass is None or name_button(bass).pc != wanted[0].pc
    remarks = _remark(chord, unite_classes((bass, *pressed) if bass else pressed, instrument), at_home, replaced)
    if at_home and not remarks:
        return ""
    lacks = _name_lack(chord, home, instrument)
    return f"{chord.symbol}: {'; '.join([*lacks, _name_stroke(pressed, bass, wanted) + remarks])}"


def _name_lack(chord: Chord, home: str, instrument: Instrument) -> list[str]:
    """The row or column this instrument lacks for the chord."""
    if home not in instrument.rows:
        return [f"there is no {home} row here"]
    if all((column - chord.root.fifths) % 12 for column in list_columns(instrument)):
        return [f"there are no {chord.root.name} chord buttons here"]
    return []


def _name_stroke(pressed: tuple[Button, ...], bass: Button | None, wanted: tuple[Tone, ...]) -> str:
    """The chord stroke in words; the bass is named where it is not the root of the chord button."""
    presses = [spell_press(button, wanted) for button in pressed]
    if is_bass(presses[0].button):
        words = "bass" if len(presses) == 1 else "basses"
        return f"no chord button fits, strike the {words} {join_words([press.tone.name for press in presses])}"
    names = join_words([f"{press.tone.name} {press.button.row}" for press in presses])
    low = spell_press(bass, wanted).tone if bass else None
    over = f" over the bass {low.name}" if low and (len(presses) > 1 or low.pc != presses[0].tone.pc) else ""
    return f"play {names}{over}"


def _remark(chord: Chord, pcs: frozenset[int], at_home: bool, bass_replaced: bool) -> str:
    """What is left out and what is added, in brackets; '' for nothing.

    The fifth that no diminished button has is not worth a word on that button, nor a root just said to be missing.
    """
    heard = set(pcs) - ({chord.bass.pc} - chord.pcs if chord.bass else set())
    spared = {chord.root.pc} if bass_replaced else set()
    if at_home and home_row(chord) == "diminished":
        spared.add(fifth_tone(chord).pc)
    left_out, added = name_missing(chord, heard | spared), name_foreign(chord, heard)
    words = [f"without {join_words(left_out)}"] if left_out else []
    words += [f"with {join_words(added)} added"] if added else []
    return f" ({', '.join(words)})" if words else ""
