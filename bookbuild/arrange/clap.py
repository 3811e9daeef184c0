"""The melody's rhythm on one line, for counting and clapping."""

from __future__ import annotations

from bookbuild.arrange.model import Event, Line, Role, Voice
from bookbuild.arrange.moments import close_with_rests, read_moments
from bookbuild.theory.pitch import Pitch

CLAP_PITCH = Pitch(6, 0, 4)
"""B4, the middle line of a treble staff: where a one-line rhythm is drawn."""


def clap_voice(line: Line) -> Voice:
    """A clap on `CLAP_PITCH` for every melody note, as long as the note with its ties; rests as in the melody."""
    events = [Event(note.onset, note.length, (CLAP_PITCH,)) for note in line.notes if note.pitch is not None]
    return Voice(Role.CLAP, close_with_rests(events, read_moments(line)))
