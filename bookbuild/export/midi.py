"""An arrangement as a Standard MIDI file, through mido: count-in, one hand or both, at any tempo of the ladder."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from enum import Enum
from typing import Any

from bookbuild.arrange.model import Arrangement, Event, Role, Voice
from bookbuild.diagnostics import MachineError
from bookbuild.exact import Fraction
from bookbuild.export.playing import play_runs, swing_moment
from bookbuild.theory.pitch import Key, Tone

TICKS = 960
"""Ticks of a quarter: sixteenths, triplets, quintuplets and sextuplets fall on whole ticks."""
ACCORDION = 21
"""Program of the accordion, counted from 0 (General MIDI 1; from memory)."""
DRUMS, HIGH_CLICK, LOW_CLICK, CLAP = 9, 76, 77, 39
"""Percussion channel from 0, high and low wood block, hand clap (General MIDI 1; from memory)."""
VELOCITY = {Role.MELODY: 92, Role.FILL: 66, Role.LEFT: 78, Role.BASS: 82, Role.CHORD: 64, Role.CLAP: 90}
ACCENT = 20


class Hands(Enum):
    """Which hands sound."""

    RIGHT = "right"
    LEFT = "left"
    TOGETHER = "together"


_RIGHT = (Role.MELODY, Role.FILL, Role.CLAP)


def list_hands(arrangement: Arrangement) -> tuple[Hands, ...]:
    """Each hand alone where both play, then together; one entry where only one hand plays."""
    right = any(voice.role in _RIGHT and _sounds(voice) for voice in arrangement.voices)
    left = any(voice.role not in _RIGHT and _sounds(voice) for voice in arrangement.voices)
    if right and left:
        return (Hands.RIGHT, Hands.LEFT, Hands.TOGETHER)
    return (Hands.TOGETHER,)


def _sounds(voice: Voice) -> bool:
    return any(event.pitches or event.sounds for event in voice.events)


def practice_files(arrangement: Arrangement, title: str = "") -> dict[tuple[Hands, int], bytes]:
    """A file for each hand and both, at each tempo of the ladder (its goal where there is no ladder)."""
    tempi = arrangement.ladder or (arrangement.tempo.goal,)
    return {(hands, tempo): midi_bytes(arrangement, tempo, hands, title)
            for hands in list_hands(arrangement) for tempo in tempi}


def midi_bytes(arrangement: Arrangement, tempo: int, hands: Hands = Hands.TOGETHER, title: str = "",
               count_in: bool = True) -> bytes:
    """The exercise as a format 1 file. `tempo` counts the tempo's own beat a minute.

    Repeats and endings are played out, the groove's swing is applied, a chord button sounds its own notes. Tracks:
    times and clicks, right hand, left hand. Raises MachineError when mido is not installed.
    """
    mido = _load_mido()
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    lead = _count_in_length(arrangement) if count_in else Fraction(0)
    clicks = list(_clicks(arrangement, lead)) if count_in else []
    file.tracks.append(_conductor(mido, arrangement, tempo, title, clicks))
    for channel, hand, roles in ((0, Hands.RIGHT, _RIGHT), (1, Hands.LEFT, (Role.LEFT, Role.BASS, Role.CHORD))):
        voices = [voice for voice in arrangement.voices if voice.role in roles]
        if voices and hands in (hand, Hands.TOGETHER):
            notes = [note for voice in voices for note in played_notes(arrangement, voice, lead)]
            start = [mido.MetaMessage("track_name", name=f"{hand.value} hand"),
                     mido.Message("program_change", channel=channel, program=ACCORDION)]
            file.tracks.append(_track(mido, start, [(*note, channel) for note in notes]))
    stream = io.BytesIO()
    file.save(file=stream)
    return stream.getvalue()


def _load_mido() -> Any:
    try:
        import mido
    except ImportError as error:
        raise MachineError("writing MIDI needs the library mido", 'run: pip install "bookbuild[import]"') from error
    return mido


def _count_in_length(arrangement: Arrangement) -> Fraction:
    """One bar, and before an upbeat the part of its bar that is silent."""
    first = arrangement.bars[0].length
    return arrangement.meter.bar + (arrangement.meter.bar - first if first < arrangement.meter.bar else 0)


def _clicks(arrangement: Arrangement, lead: Fraction) -> Iterator[tuple[Fraction, Fraction, int, int]]:
    beat = arrangement.meter.beat
    for index in range(int(lead / beat)):
        first = index % arrangement.meter.beats == 0
        yield index * beat, index * beat + beat / 4, HIGH_CLICK if first else LOW_CLICK, 100 if first else 80


def played_notes(arrangement: Arrangement, voice: Voice, lead: Fraction = Fraction(0),
                 ) -> Iterator[tuple[Fraction, Fraction, int, int]]:
    """What a voice sounds as (onset, end, MIDI key, velocity) in whole notes, repeats played out, after `lead`."""
    now = lead
    for start, end in play_runs(arrangement.bars):
        for event in voice.events:
            if start <= event.onset < end:
                first = swing_moment(event.onset, arrangement) - start
                last = swing_moment(min(event.end, end), arrangement) - start if event.end < end else end - start
                velocity = min(127, VELOCITY[voice.role] + ACCENT * event.accent)
                for key in _keys(event, voice.role):
                    yield now + first, now + last, key, velocity
        now += end - start


def _keys(event: Event, role: Role) -> Sequence[int]:
    if role is Role.CLAP:
        return (CLAP,) if event.pitches or event.sounds else ()
    return event.sounds or tuple(pitch.midi for pitch in event.pitches)


def _conductor(mido: Any, arrangement: Arrangement, tempo: int, title: str, clicks: list[Any]) -> Any:
    quarters = Fraction(tempo) * arrangement.tempo.beat * 4
    meter = arrangement.meter
    start = [
        mido.MetaMessage("track_name", name=title or arrangement.kind),
        mido.MetaMessage("set_tempo", tempo=round(60_000_000 / quarters)),
        mido.MetaMessage("time_signature", numerator=meter.count, denominator=meter.unit,
                         clocks_per_click=int(meter.beat * 96)),
        mido.MetaMessage("key_signature", key=_key_name(arrangement.key)),
    ]
    return _track(mido, start, [(*click, DRUMS) for click in clicks])


def _key_name(key: Key) -> str:
    """MIDI knows only major and minor: modes take the major or minor key of their signature."""
    if key.mode in ("minor", "dorian", "phrygian", "locrian"):
        return _NAMES[key.signature + 3] + "m"
    return _NAMES[key.signature]


_NAMES = {fifths: Tone.from_fifths(fifths).name for fifths in range(-7, 11)}


def _track(mido: Any, start: list[Any], notes: list[tuple[Fraction, Fraction, int, int, int]]) -> Any:
    """A track from absolute times; at one moment ends come before beginnings."""
    moments: list[tuple[int, int, int, int, int]] = []
    for onset, end, key, velocity, channel in _release_early(notes):
        channel = DRUMS if key == CLAP and channel == 0 else channel
        moments.append((onset, 1, key, velocity, channel))
        moments.append((end, 0, key, 0, channel))
    track = mido.MidiTrack(start)
    now = 0
    for tick, on, key, velocity, channel in sorted(moments):
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, channel=channel, note=key, velocity=velocity, time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track"))
    return track


def _release_early(notes: list[tuple[Fraction, Fraction, int, int, int]]) -> list[tuple[int, int, int, int, int]]:
    """Notes in ticks; where two of a key overlap the first ends as the second begins, doubles are dropped."""
    last: dict[tuple[int, int], int] = {}
    made: list[list[int]] = []
    for onset, end, key, velocity, channel in sorted(notes):
        first, stop = round(onset * 4 * TICKS), round(end * 4 * TICKS)
        place = last.get((key, channel))
        if place is not None and made[place][1] > first:
            if made[place][0] == first:
                made[place][1] = max(made[place][1], stop)
                continue
            made[place][1] = first
        last[key, channel] = len(made)
        made.append([first, stop, key, velocity, channel])
    return [(a, b, key, velocity, channel) for a, b, key, velocity, channel in made]
