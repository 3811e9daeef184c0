"""ABC notation, standard 2.1 (abcnotation.com, "The abc music standard 2.1", 2011): sections named at the checks."""

from __future__ import annotations

from fractions import Fraction

import pytest
from reading import carried, names, symbols

from bookbuild.importers.abc import read_abc, read_written
from bookbuild.importers.abc_fields import read_key, read_meter, read_tempo, read_text, usual_unit
from bookbuild.importers.written import ImportFault, TuneFault
from bookbuild.lessons.model import Tune
from bookbuild.theory.meter import Meter


def tune_of(body: str, key: str = "C", meter: str = "4/4", unit: str = "1/8") -> Tune:
    return carried(read_abc(f"X:1\nT:Test\nM:{meter}\nL:{unit}\nK:{key}\n{body}\n", "test.abc"))


def notes_of(body: str, **header: str) -> str:
    return names(tune_of(body, **header).sections[0].body)


@pytest.mark.parametrize(("text", "name"), [
    ("G", "G major"), ("Gm", "G minor"), ("Edor", "E dorian"), ("F#min", "F# minor"), ("D Mixolydian", "D mixolydian"),
    ("Bb major", "Bb major"), ("Alyd", "A lydian"), ("BLoc", "B locrian"),
    ("A aeolian", "A minor"), ("Cion", "C major"),
    ("HP", "A mixolydian"), ("G clef=treble", "G major"), ("Em octave=-1", "E minor"), ("C#phr", "C# phrygian"),
    ("none", "C major"), ("", "C major"),
])
def test_keys_by_their_first_three_letters(text: str, name: str) -> None:
    """§4.6: "only the first three letters of each mode" count, capitals ignored; HP is the highland pipe key."""
    assert read_key(text).key.name == name


@pytest.mark.parametrize("text", ["H", "Gqqq", "G#", "Es"])
def test_unreadable_keys_are_refused(text: str) -> None:
    with pytest.raises(TuneFault):
        read_key(text)


def test_added_accidentals_change_the_signature() -> None:
    """§4.6: "K:D Phr ^f" gives F sharp in place of F."""
    assert names(tune_of("defg", key="D Phr ^f", meter="2/4").sections[0].body) == (
        "D5 1/8 Eb5 1/8 F#5 1/8 G5 1/8")


def test_meters_and_units() -> None:
    """§3.1.6, §3.1.7: C, C|; the unit is 1/16 below 0.75, else 1/8."""
    assert read_meter("C") == Meter(4, 4)
    assert read_meter("C|") == Meter(2, 2)
    assert read_meter("none") is None
    assert [usual_unit(Meter(*m)) for m in ((2, 4), (3, 4), (6, 8), (5, 8))] == [
        Fraction(1, 16), Fraction(1, 8), Fraction(1, 8), Fraction(1, 16)]
    with pytest.raises(TuneFault):
        read_meter("2+3/8")


def test_tempo_and_text() -> None:
    """§3.1.8 and §8.2."""
    assert read_tempo('"Allegro" 3/8=60') == (Fraction(3, 8), 60)
    assert read_tempo("120") is None
    assert read_text(r"Caf\'e &eacute; \u00e9 \"o").startswith("Cafe\u0301 é é o\u0308")


def test_octaves_lengths_and_broken_rhythm() -> None:
    """§4.1, §4.3, §4.4."""
    assert notes_of("C,CcC' c2c/c/c3/2c/", meter="9/8").startswith("C3 1/8 C4 1/8 C5 1/8 C5 1/8 C5 1/4 C5 1/16")
    assert notes_of("A>B C<D E>>F", meter="6/8") == "A4 3/16 B4 1/16 C4 1/16 D4 3/16 E4 7/32 F4 1/32"


def test_tuplets() -> None:
    """§4.13: (3 three in the time of two, (2 two in three, (p:q:r in general; (5 depends on the meter."""
    assert notes_of("(3:2:2C2D E", meter="3/8") == "C4 1/6 D4 1/12 E4 1/8"
    assert notes_of("(3CDE F2", meter="2/4") == "C4 1/12 D4 1/12 E4 1/12 F4 1/4"
    assert notes_of("(2CD E3", meter="6/8") == "C4 3/16 D4 3/16 E4 3/8"
    assert notes_of("(5CDEFG A2", meter="2/4") == "C4 1/20 D4 1/20 E4 1/20 F4 1/20 G4 1/20 A4 1/4"


def test_accidentals_hold_to_the_barline_in_every_octave() -> None:
    """§11.3: the default of propagate-accidentals is "pitch"."""
    assert notes_of("^fF=Ff|FFff", meter="2/4", key="C") == (
        "F#5 1/8 F#4 1/8 F4 1/8 F5 1/8 F4 1/8 F4 1/8 F5 1/8 F5 1/8")


def test_an_accidental_holds_over_a_tied_barline() -> None:
    assert notes_of("C2^F2-|F2F2", meter="2/4") == "C4 1/4 F#4 1/2 F4 1/4"


def test_chords_grace_notes_and_rests() -> None:
    tune = read_abc('X:1\nM:2/4\nL:1/8\nK:G\n"G"{ab}[GBd]2 z2|"D7"A2 x2|\n', "t.abc")[0]
    assert tune.tune is not None
    body = tune.tune.sections[0].body
    assert names(body) == "D5 1/4 r 1/4 A4 1/4 r 1/4"
    assert symbols(body) == [(Fraction(0), "G"), (Fraction(1, 2), "D7")]
    assert "grace notes are not carried over" in tune.notes
    assert "of notes struck together only the top one is carried over" in tune.notes


def test_what_stands_for_a_chord_and_is_none_is_quoted() -> None:
    """§4.18: text before a note is a chord symbol unless one of ^ _ < > @ stands before it."""
    text = 'X:1\nM:2/4\nL:1/8\nK:C\n"Hm"c2 "Loud"d2|"H7"e2 "^slow"d2|"Hm"c4|"Bb"d4|\n'
    notes = read_abc(text, "t.abc")[0].notes
    assert "remarks over the staff are not carried over" in notes
    told = next(note for note in notes if note.startswith("not read as chords"))
    assert "Hm, Loud, H7 (H is written B" in told
    plain = read_abc(text.replace("H", "Z"), "t.abc")[0].notes
    assert "not read as chords: Zm, Loud, Z7" in plain


def test_repeats_and_endings_become_sections() -> None:
    """§4.8, §4.9."""
    tune = tune_of("|:C4 D4|1 E8:|2 F8||G8|A8|]", meter="4/4")
    first, second = tune.sections
    assert [names(first.body), *map(names, first.endings)] == ["C4 1/2 D4 1/2", "E4 1", "F4 1"]
    assert names(second.body) == "G4 1 A4 1"
    assert tune.form == ("A", "A", "B")


def test_double_colon_closes_and_opens() -> None:
    assert tune_of("C8::D8:|").form == ("A", "A", "B", "B")


def test_repeat_without_opening_reaches_back_over_a_double_bar() -> None:
    assert tune_of("C8||D8:|E8|]").form == ("A", "B", "A", "B", "C")


def test_endings_of_several_passes() -> None:
    tune = tune_of("|:C8|1,3 D8:|2,4 E8:|")
    assert [names(ending) for ending in tune.sections[0].endings] == ["D4 1", "E4 1", "D4 1", "E4 1"]
    assert tune.form == ("A",) * 4


def test_an_ending_inside_a_bar_takes_the_bars_first_part_along() -> None:
    tune = tune_of("|:C8|D4 [1 E4:|[2 F4|]")
    assert names(tune.sections[0].body) == "C4 1"
    assert [names(ending) for ending in tune.sections[0].endings] == ["D4 1/2 E4 1/2", "D4 1/2 F4 1/2"]


def test_upbeat_inside_the_repeat() -> None:
    tune = tune_of("|:G2|C8|C6:|", meter="4/4")
    assert tune.sections[0].upbeat == Fraction(1, 4)
    assert tune.sections[0].body.bars == (Fraction(1, 4), Fraction(1), Fraction(3, 4))


def test_upbeat_before_the_sign_comes_inside_when_the_return_is_the_same() -> None:
    """`G2|: … G2:|` : the pick-up and the notes that lead back are the same notes, so one upbeat says both."""
    tune = tune_of("G2|:C8|C6G2:|C8|]")
    first = tune.sections[0]
    assert names(first.body) == "G4 1/4 C4 1"
    assert [names(ending) for ending in first.endings] == ["C4 3/4", "C4 3/4 G4 1/4"]
    assert tune.form == ("A", "A", "B")


def test_upbeat_before_the_sign_is_written_out_when_the_return_differs() -> None:
    item = read_abc("X:1\nM:4/4\nL:1/8\nK:C\nG2|:C8|C6A2:|C8|]\n", "t.abc")[0]
    assert item.tune is not None
    assert [names(section.body) for section in item.tune.sections] == [
        "G4 1/4 C4 1 C4 3/4 A4 1/4", "C4 1 C4 3/4 A4 1/4", "C4 1"]
    assert any("written out" in note for note in item.notes)


def test_equal_strains_share_a_name() -> None:
    assert tune_of("C8|D8||E8||C8|D8|]").form == ("A", "B", "A")


def test_da_capo_al_fine() -> None:
    tune = tune_of('C8|D8!fine!||E8|F8"^D.C. al Fine"|]')
    assert tune.form == ("A", "B", "A")


def test_jump_without_fine_is_said() -> None:
    item = read_abc("X:1\nM:4/4\nL:1/8\nK:C\nC8||D8!D.C.!|]\n", "t.abc")[0]
    assert any("D.C." in note for note in item.notes)


def test_meter_change_between_strains_divides_the_tune() -> None:
    items = read_abc("X:1\nT:Two\nM:4/4\nL:1/8\nK:C\nC8|C8||\nM:3/4\nD6|D6|]\n", "t.abc")
    assert [(item.title, str(item.tune.meter)) for item in items if item.tune] == [
        ("Two (1, 4/4)", "4/4"), ("Two (2, 3/4)", "3/4")]


def test_meter_change_inside_a_strain_is_refused_with_its_line() -> None:
    item = read_abc("X:1\nT:Two\nM:4/4\nL:1/8\nK:C\nC8|[M:3/4]D6|[M:4/4]C8|]\n", "t.abc")[0]
    assert item.tune is None
    assert "meter changes" in item.reason
    assert item.place.line == 6


def test_a_bar_too_long_is_refused_and_one_too_short_is_filled() -> None:
    long = read_abc("X:1\nM:2/4\nL:1/8\nK:C\nC4|C5|C4|\n", "t.abc")[0]
    assert long.tune is None
    assert "bar 2" in long.reason
    short = read_abc("X:1\nM:2/4\nL:1/8\nK:C\nC4|C3|C4|\n", "t.abc")[0]
    assert short.tune is not None
    assert names(short.tune.sections[0].body) == "C4 1/2 C4 3/8 r 1/8 C4 1/2"
    assert any("bar 2" in note and "rest" in note for note in short.notes)


def test_bars_split_by_a_dotted_line_are_joined() -> None:
    assert tune_of("C4|D4|E8|", meter="4/4").sections[0].body.bars == (Fraction(1), Fraction(1))


def test_a_missing_barline_at_a_lines_end_is_put_in() -> None:
    assert tune_of("C4|D4\nE4|F4|", meter="2/4").sections[0].body.bars == (Fraction(1, 2),) * 4


def test_only_the_first_voice_is_read() -> None:
    item = read_abc("X:1\nM:2/4\nL:1/8\nK:C\nV:1\nC4|D4|]\nV:2\nc4|d4|]\n", "t.abc")[0]
    assert item.tune is not None
    assert names(item.tune.sections[0].body) == "C4 1/2 D4 1/2"
    assert any("voice '2'" in note for note in item.notes)


def test_header_texts() -> None:
    text = ("X:1\nT:Reel, The\nC:Trad.\nB:A book\nZ:Copied by hand\nO:Here\nR:reel\nM:2/2\nL:1/8\nQ:1/4=160\n"
            "K:D\nd8|d8|]\n")
    tune = carried(read_abc(text, "t.abc"))
    assert (tune.title, tune.name) == ("The Reel", "the-reel")
    assert (tune.rights.composer, tune.rights.source, tune.rights.statement) == ("Trad.", "A book", "Copied by hand")
    assert tune.origin == "Here, reel"
    assert (tune.tempo.goal, tune.tempo.beat) == (80, Fraction(1, 2))


def test_many_tunes_with_shared_fields_and_free_text() -> None:
    text = "M:2/4\nL:1/8\n\nX:1\nT:One\nK:C\nC4|]\n\nSome words about the next one.\n\nX:2\nT:Two\nM:3/4\nK:G\nG6|]\n"
    items = read_abc(text, "t.abc")
    assert [(item.title, item.place.line, str(item.tune.meter)) for item in items if item.tune] == [
        ("One", 4, "2/4"), ("Two", 11, "3/4")]


def test_one_bad_tune_does_not_stop_the_others() -> None:
    text = ("X:1\nT:Bad\nM:2/4\nL:1/8\nK:C\nC9|]\n\nX:2\nT:Free\nM:none\nK:C\nCDE|\n\n"
            "X:3\nT:Good\nM:2/4\nL:1/8\nK:C\nC4|]\n")
    assert [(item.title, item.tune is not None) for item in read_abc(text, "t.abc")] == [
        ("Bad", False), ("Free", False), ("Good", True)]


def test_no_tune_is_a_fault() -> None:
    with pytest.raises(ImportFault, match="holds no tune"):
        read_abc("just words\n", "t.abc")


def test_written_tunes_keep_source_lines() -> None:
    written = read_written("X:1\nM:2/4\nL:1/8\nK:C\nC4|D4|\nE4|F4|]\n")[0]
    assert [bar.line for bar in written.bars] == [5, 5, 6, 6]


def test_a_key_that_changes_between_strains_is_its_section_s() -> None:
    tune = tune_of("GABc|d2B2|GABc|d4||[K:D]fgaf|d2A2|fgaf|d4||[K:G]GABc|d2B2|GABc|G4|]", key="G", unit="1/4")
    assert [(section.name, section.key and section.key.name) for section in tune.sections] == [
        ("A", None), ("B", "D major"), ("C", None)]
    assert tune.key.name == "G major"


def test_a_key_that_changes_inside_a_strain_is_told() -> None:
    item = read_abc("X:1\nT:T\nM:2/4\nL:1/8\nK:C\nCDEF|G4|[K:G]GAFG|G4|]\n", "t.abc")[0]
    tune = carried([item])
    assert [section.key for section in tune.sections] == [None]
    assert any("the key changes inside a strain, at bar 3" in note for note in item.notes)
    assert "F#4" in {note.pitch.name for note in tune.sections[0].body.notes if note.pitch}


def test_a_clef_inside_a_tune_changes_no_key() -> None:
    tune = tune_of("GABc|d2F2||[K:clef=bass]FGAF|d4|]", key="G", unit="1/4")
    assert {note.pitch.name for section in tune.sections for note in section.body.notes if note.pitch} >= {"F#4"}
    assert all(section.key is None for section in tune.sections)


def test_an_upbeat_written_as_a_full_bar_of_rests() -> None:
    tune = tune_of('z2 "G"d2||"C"c4|"G"B4|"D"A4|"G"G4|]', key="G", unit="1/8", meter="2/4")
    assert len(tune.sections) == 1
    assert tune.sections[0].upbeat == Fraction(1, 4)
    assert tune.sections[0].body.bars[0] == Fraction(1, 4)


@pytest.mark.parametrize(("body", "key"), [
    ("E2=G2|F2E2|=G2B2|E4|]", "E minor"), ("E2G2|F2E2|=G2B2|E4|]", "E major"), ("E2F2|F2E2|F2B2|E4|]", "E major"),
])
def test_a_minor_melody_stated_in_major(body: str, key: str) -> None:
    item = read_abc(f"X:1\nT:T\nM:2/4\nL:1/8\nK:E\n{body}\n", "t.abc")[0]
    tune = carried([item])
    assert tune.key.name == key
    assert any("melody is in minor" in note for note in item.notes) == (key == "E minor")
    assert all(section.key is None for section in tune.sections)
