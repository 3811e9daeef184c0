"""The demo course is sound, its tunes survive writing, and the engraver itself hears the same melodies."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import lilypond
import mido
import pytest
import yaml

from bookbuild.diagnostics import Severity
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.melody import check_bars, parse_melody
from bookbuild.lessons.model import Course, MelodyNote, Place
from bookbuild.lessons.parse import parse_tune
from bookbuild.lessons.report import Report
from bookbuild.lessons.write_tune import tune_yaml
from bookbuild.theory.meter import Meter

CONTENT = Path(__file__).parents[2] / "content"
TUNES = sorted(path.stem for path in (CONTENT / "tunes").glob("*.yaml"))

HARD = [
    "\\tuplet 3/2 { c''8 d'' e'' } f''4 g''2 | \\tuplet 5/4 { a''16 g'' f'' e'' d'' } c''4~ "
    "\\tuplet 3/2 { c''8 b' a' } g'4 | \\tuplet 5/4 { c''8 d''16 e''8 } f''2.",
    "\\tuplet 6/4 { c'16 d' e' f' g' a' } b'8. r16 c''2~ | c''8~ c''2.. | aes'4.. ges'16 fes'2",
    "\\tuplet 2/3 { c'8 d' } e'8 r4. r8 | \\tuplet 4/3 { c''8 b' a' g' } fisis'8 eeses'2 | r1",
    "c4 c, c,, c''' | as'8 es' bes ases'~ ases'4 r8. b'32 c''64 d''",
]
"""What the demo tunes do not use, in 4/4: every tuplet, ties into and out of them, far octaves, double accidentals."""

TICK = Fraction(1, 1536)
"""The grid of the engraver's MIDI files (384 ticks a quarter), to which fifths of a beat are rounded."""

Sound = tuple[int, Fraction, Fraction]
"""MIDI key, onset, length in whole notes."""


@pytest.fixture(scope="module")
def course() -> Course:
    found, findings = inspect_course(CONTENT)
    assert [str(finding) for finding in findings if finding.severity is Severity.ERROR] == []
    assert found
    return found


def test_every_file_begins_with_its_schema() -> None:
    """An editor finds the JSON Schema through the first line; the path leads to an existing file."""
    paths = sorted(CONTENT.rglob("*.yaml"))
    assert paths
    for path in paths:
        first = path.read_text(encoding="utf-8").split("\n")[0]
        assert first.startswith("# yaml-language-server: $schema="), path
        assert (path.parent / first.split("=", 1)[1]).is_file(), path


@pytest.mark.parametrize("name", TUNES)
def test_a_tune_is_written_and_read_back_the_same(name: str, course: Course) -> None:
    tune = course.tunes[name]
    report = Report()
    again = parse_tune(tune_yaml(tune).encode(), name, "tune.yaml", report)
    assert not report.has_errors()
    assert again is not None
    assert replace(again, place=Place("")) == replace(tune, place=Place(""))


def sounds(notes: tuple[MelodyNote, ...]) -> list[Sound]:
    return [(note.pitch.midi, note.onset, note.length) for note in notes if note.pitch]


def from_midi(path: Path) -> list[Sound]:
    """The notes of a MIDI file, from its own ticks."""
    midi = mido.MidiFile(path)
    found: list[Sound] = []
    for track in midi.tracks:
        now, started = 0, {}
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                started[message.note] = now
            elif message.type in ("note_on", "note_off") and message.note in started:
                begun = started.pop(message.note)
                quarters = midi.ticks_per_beat * 4
                found.append((message.note, Fraction(begun, quarters), Fraction(now - begun, quarters)))
    return sorted(found, key=lambda sound: sound[1])


def score_of(melody: str, meter: Meter, upbeat: Fraction) -> str:
    """Engraver source of one melody as the teacher wrote it.

    Breath marks are left out, because they shorten notes in MIDI, and the bar check after a last bar that may be short.
    """
    partial = f"\\partial {upbeat.denominator}*{upbeat.numerator}" if upbeat else ""
    music = melody.replace("\\breathe", "").rstrip("| \n")
    return f"\\score {{ \\absolute {{ \\time {meter} {partial} {music}\n }} \\midi {{ }} }}\n"


@pytest.mark.engraver
def test_the_engraver_hears_the_same_melodies(course: Course, tmp_path: Path) -> None:
    """Reference: the engraver, whose note entry the melodies are a part of; bar checks are its own too."""
    scores, expected = ['\\version "2.24.0"\n'], []
    for name, tune in sorted(course.tunes.items()):
        written = yaml.safe_load((CONTENT / "tunes" / f"{name}.yaml").read_text(encoding="utf-8"))
        for section in tune.sections:
            part = written["sections"][section.name]
            texts = [part["melody"], *(ending["melody"] for ending in part.get("endings", []))]
            upbeats = [section.upbeat, *(Fraction(0) for _ in section.endings)]
            for text, upbeat, stretch in zip(texts, upbeats, (section.body, *section.endings), strict=True):
                scores.append(score_of(text, tune.meter, upbeat))
                expected.append(sounds(stretch.notes))
    for text in HARD:
        melody = parse_melody(text)
        assert melody.flaws == ()
        assert check_bars(melody, "this", Meter(4, 4)) == []
        scores.append(score_of(text, Meter(4, 4), Fraction(0)))
        expected.append(sounds(melody.notes))
    source = tmp_path / "all.ly"
    source.write_text("".join(scores), encoding="utf-8")
    command = [str(lilypond.executable()), "--silent", "-dno-print-pages", "-dwarning-as-error", "-o", "all", "all.ly"]
    subprocess.run(command, cwd=tmp_path, check=True, timeout=120)
    files = [tmp_path / "all.midi", *(tmp_path / f"all-{number}.midi" for number in range(1, len(expected)))]
    assert len(expected) > 20
    for path, notes in zip(files, expected, strict=True):
        heard = from_midi(path)
        assert [sound[0] for sound in heard] == [sound[0] for sound in notes]
        for sound, note in zip(heard, notes, strict=True):
            assert abs(sound[1] - note[1]) <= TICK
            assert abs(sound[2] - note[2]) <= TICK
