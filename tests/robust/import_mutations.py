"""Changes to tunes from outside that know their format: ABC tokens and fields, MusicXML elements, MIDI events."""

from __future__ import annotations

import io
import random
import re
import struct
import zipfile
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import music21
from course_scenes import CONTENT
from strange_values import NUMBERS, STRANGE
from yaml_mutations import damage_bytes, edit_figures, edit_lines, edit_signs

from bookbuild.arrange.exercises import Setting, arrange_exercise
from bookbuild.export.midi import practice_files
from bookbuild.export.musicxml import arrangement_musicxml
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.model import ExerciseSpec

FORMATS = ("abc", "musicxml", "mxl", "midi")
MOST_BYTES = 40_000
"""Larger files say nothing new and take long to damage."""


@cache
def sound_files() -> dict[str, tuple[bytes, ...]]:
    """Format -> sound files: tunes and test files the package music21 carries, and our own exports."""
    root = Path(music21.__file__).parent
    collections = [*sorted((root / "corpus/ryansMammoth").glob("A*.abc")), *sorted(
        (root / "corpus/nottingham-dataset").glob("*.abc"))]
    tunes = [part for path in collections for part in re.split(r"\n(?=X:)", path.read_text("utf-8", "replace"))
             if re.search("^K:", part, re.MULTILINE)]
    course, _ = inspect_course(CONTENT)
    assert course is not None
    own = list(course.tunes.values())[:10]
    setting = Setting(course.instruments[course.default_instrument], course.countings["american"])
    played = [arrange_exercise(ExerciseSpec("melody", tune.name), tune, None, setting) for tune in own]
    whole = [ExerciseSpec("melody", tune.name, sections=tune.form) for tune in own]
    scores = [arrangement_musicxml(arrange_exercise(spec, tune, None, setting), tune.title, tune.rights).encode()
              for spec, tune in zip(whole, own, strict=True)]
    scores += [path.read_bytes() for path in sorted((root / "musicxml/lilypondTestSuite").glob("*.xml"))]
    songs = [next(iter(practice_files(made, "A tune").values())) for made in played]
    songs += [path.read_bytes() for path in sorted((root / "midi/testPrimitive").glob("*.mid"))]
    files = {
        "abc": [part.encode() for part in tunes[::max(1, len(tunes) // 150)]],
        "musicxml": scores,
        "mxl": [zip_score(score) for score in scores[:30]],
        "midi": songs,
    }
    return {kind: tuple(file for file in some if len(file) < MOST_BYTES) for kind, some in files.items()}


def zip_score(score: bytes, name: str = "score.xml") -> bytes:
    """A compressed MusicXML archive with one score."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("META-INF/container.xml",
                      f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>')
        made.writestr("score.xml", score)
    return buffer.getvalue()


ABC_FIELDS = {
    "M": ("C", "C|", "none", "", "3/4", "7/8", "5/4", "0/4", "4/0", "4/3", "2+3/8", "99/1", "(2+3)/8", "1/16", "12/16"),
    "L": ("1/8", "1/16", "1/4", "1", "1/0", "0/8", "1/64", "1/128", "x", "", "3/8"),
    "K": ("G", "Am", "Edor", "HP", "Hp", "none", "", "C#", "Cb", "G#", "H", "C exp ^f _b", "D phr ^^f", "Fb lyd",
          "C octave=-4", "bass", "C clef=bass", "A\u266d", "Gmixolydisch", "Cm m m"),
    "Q": ("1/4=120", "0/0=0", "1/4=0", "120", "1/99=999", '"fast"', "1/4 3/8=60", "C=100", "1/4=9999"),
    "X": ("1", "", "x", "-1", "2.0", "1 2"),
    "T": ("", "A tune, The", "\\'e \\\"o \\ud800", "&amp;&#0;&#1114112;&nbsp;", "../../x", "a" * 3000, "\x1b[31m"),
    "P": ("ABAC", "A", "(AB)99", "", "A.B"),
    "V": ("1", "2", "", "T1 clef=treble", "\x1b[2J"),
    "w": ("la la", "* - _ |"), "I": ("linebreak $", ""), "m": ("~n = n{a}n",), "U": ("T = !trill!",),
    "R": ("reel", ""), "O": ("x",), "C": ("N.",), "Z": ("z" * 500,),
}
"""Letter of a field -> what may be found behind it."""
_TOKENS = r"""
| || |: :| :: |] [| [|] ::: :|: |1 :|2 [1 [2 [3 [1-3 [1,2 |1-9 |9-1 |0 |1,,2 |1-2-3 |1-99999 |1-999999999999
z Z Z4 Z999 X2 x8 z0 C0 D/0 E// F////// G1/3 A7/5 B,,,, c'''' ^^c __d =e ^/f _/g C9999 C/9999 a16 b32 y
(3 (3: (3:2 (3:2:2 (9:0:0 (2:9:9 (5 (7 (3:: > >> < <<<<< - -- & && !trill! !fine! !D.C.! !segno! +D.S.+ !breath!
"G" "Am7" "H" "G/Q" "^over" "D.C.alFine" "Fine" "Coda" "N.C." "C/c" "A(b5)" "" " {a} {/bc} { ` @ # * %
[CEG] [CEG]4 [C2E/G]- [] [K:D] [M:3/4] [M:none] [L:1/0] [K:H] [V:2] [P:B] [Q:9] [I:x] [r:x] [ ] } ) . ~ H $ \
!unclosed [CEG
"""
ABC_TOKENS = (
    *_TOKENS.split(),
    *("C" * 500, "-" * 300, "|" * 300, ":" * 300, "%%begintext", "\\\n", "\u2028", "[" + "9" * 5000, "C" + "9" * 5000),
)
"""Notes, bars and marks, sound ones and others."""


def other_field(text: str, chance: random.Random) -> str:
    """The value of one field changed, or a field put in."""
    letter = chance.choice(list(ABC_FIELDS))
    line = f"{letter}:{chance.choice(ABC_FIELDS[letter])}"
    known = list(re.finditer(rf"^{letter}:.*$", text, re.MULTILINE))
    if known and chance.random() < 0.8:
        spot = chance.choice(known)
        return text[:spot.start()] + line + text[spot.end():]
    lines = text.split("\n")
    lines.insert(chance.randrange(len(lines) + 1), line)
    return "\n".join(lines)


def other_token(text: str, chance: random.Random) -> str:
    """One token of a line of music lost, doubled, changed for another, or put in."""
    spots = list(re.finditer(r'(?<!^)(?:"[^"\n]*"|\[?[|:]+\]?\d?|\(\d|[_^=]*[A-Ga-gz][,\']*[\d/]*|[<>-])', text))
    at = text.find("\nK:")
    spots = [spot for spot in spots if spot.start() > text.find("\n", at + 1)] if at >= 0 else spots
    if not spots:
        return text + chance.choice(ABC_TOKENS)
    spot, new = chance.choice(spots), chance.choice(ABC_TOKENS)
    made = chance.choice(("", spot[0] * 2, new, spot[0] + new, new + spot[0], new))
    return text[:spot.start()] + made + text[spot.end():]


def other_number(text: str, chance: random.Random) -> str:
    """One figure changed for a strange one."""
    spots = list(re.finditer(r"\d+", text))
    if not spots:
        return text
    spot = chance.choice(spots)
    return text[:spot.start()] + chance.choice(NUMBERS) + text[spot.end():]


def edit_file(text: str, chance: random.Random) -> str:
    """What can befall a text file as a whole."""
    return chance.choice((
        text.replace("\n", "\r\n"), text.replace("\n", "\r"), text.replace("\n", "\u2028"), text.replace("\n", " "),
        text + "\n\n" + text, "\ufeff" + text, text[chance.randrange(len(text) + 1):], text * 20, text.upper(),
        text[::-1], "\n".join(reversed(text.split("\n"))), "%abc-2.1\n" + text, text.replace("|", "\n"), "", "\n\n\n",
    ))


TextMutation = Callable[[str, random.Random], str]
_ABC: Sequence[TextMutation] = (
    *(other_field, other_token, other_token, other_token),
    *(edit_figures, other_number, edit_lines, edit_signs, edit_file),
)
_XML_WORDS = (
    *NUMBERS, *STRANGE, "", " ", "C", "H", "start", "stop", "forward", "backward", "left", "none", "major", "dorian",
    "inf", "1e999", "1.5", "-7", "8", "16th", "D.C. al Fine", "1, 2", "1-3", "1-99", "9-1", "yes", "light-heavy",
)


def change_tree(text: str, chance: random.Random) -> str:
    """One to six elements of an XML text lost, doubled, moved, renamed, or given other words."""
    try:
        root = ElementTree.fromstring(text)
    except (ElementTree.ParseError, ValueError):
        return text
    for _ in range(chance.choice((1, 1, 2, 6))):
        _change_element(root, chance)
    return ElementTree.tostring(root, "unicode")


def _change_element(root: ElementTree.Element, chance: random.Random) -> None:
    parents = [one for one in root.iter() if len(one)]
    leaves = [one for one in root.iter() if not len(one)]
    parent = chance.choice(parents or [root])
    at = chance.randrange(len(parent)) if len(parent) else 0
    how = chance.randrange(9)
    if how <= 2 and leaves:
        chance.choice(leaves).text = _printable(chance.choice(_XML_WORDS))
    elif how == 3 and len(parent):
        del parent[at]
    elif how == 4 and len(parent):
        parent.insert(at, parent[at])
    elif how == 5 and len(parent):
        child = parent[at]
        other = chance.choice(parents)
        if other not in list(child.iter()):
            parent.remove(child)
            other.insert(chance.randrange(len(other) + 1), child)
    elif how == 6:
        one = chance.choice([*root.iter()])
        if one.attrib:
            one.set(chance.choice(list(one.attrib)), _printable(chance.choice(_XML_WORDS)))
        else:
            one.set(chance.choice(("type", "number", "times", "location", "tempo", "implicit")), "start")
    elif how == 7:
        chance.choice([*root.iter()]).tag = chance.choice(parents or [root]).tag
    elif len(parent):
        child = parent[at]
        parent.remove(child)
        for _ in range(chance.choice((1, 1, 3, 3, 80))):
            child, inner = ElementTree.Element(parent.tag), child
            child.append(inner)
        parent.insert(at, child)


def _printable(text: str) -> str:
    """A text without what XML cannot hold at all."""
    return re.sub("[\x00-\x08\x0b\x0c\x0e-\x1f\uffff\ud800-\udfff]", "", text)


_XML: Sequence[TextMutation] = (change_tree, change_tree, change_tree, change_tree, other_number, edit_figures,
                                edit_signs, edit_file)


def change_text(data: bytes, changes: Sequence[TextMutation], chance: random.Random) -> bytes:
    """One to three changes to a file of text."""
    text = data.decode("utf-8", "replace")
    for _ in range(chance.choice((1, 1, 2, 3))):
        text = chance.choice(changes)(text, chance)
    content = text.encode("utf-8", "surrogatepass")
    return damage_bytes(content, chance) if chance.random() < 0.06 else content


def change_archive(data: bytes, chance: random.Random) -> bytes:
    """A damaged score packed again, or the archive itself damaged."""
    if chance.random() < 0.25:
        return damage_bytes(data, chance)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        score = archive.read("score.xml")
    name = chance.choice(("score.xml",) * 6 + ("other.xml", "../score.xml", ""))
    return zip_score(change_text(score, _XML, chance), name)


MidiEvent = tuple[int, bytes]
"""Ticks since the event before, and the event's bytes with its status."""
_META = (0x00, 0x01, 0x02, 0x03, 0x06, 0x20, 0x2F, 0x51, 0x54, 0x58, 0x59, 0x7F)


def read_number(data: bytes, at: int) -> tuple[int, int]:
    """A number of variable length (Standard MIDI Files 1.0), and where the next byte stands."""
    value = 0
    while True:
        value = value << 7 | data[at] & 0x7F
        at += 1
        if data[at - 1] < 0x80:
            return value, at


def write_number(value: int) -> bytes:
    """A number of variable length."""
    made = [value & 0x7F]
    while value := value >> 7:
        made.append(value & 0x7F | 0x80)
    return bytes(reversed(made))


def split_song(data: bytes) -> tuple[bytes, list[list[MidiEvent]]]:
    """The six bytes of the header, and the events of each track of a sound file."""
    tracks, at = [], 14
    while data[at:at + 4] == b"MTrk":
        end = at + 8 + struct.unpack(">L", data[at + 4:at + 8])[0]
        at += 8
        events: list[MidiEvent] = []
        status = 0
        while at < end:
            ticks, at = read_number(data, at)
            if data[at] >= 0x80:
                status = data[at]
                at += 1
            start = at
            if status in (0xFF, 0xF0, 0xF7):
                size, after = read_number(data, at + (status == 0xFF))
                at = after + size
            else:
                at += 1 if 0xC0 <= status < 0xE0 else 2
            events.append((ticks, bytes([status]) + data[start:at]))
        tracks.append(events)
    return data[8:14], tracks


def join_song(header: bytes, tracks: Sequence[Sequence[MidiEvent]]) -> bytes:
    """The file of a song."""
    made = b"MThd" + struct.pack(">L", 6) + header
    for events in tracks:
        body = b"".join(write_number(ticks) + event for ticks, event in events)
        made += b"MTrk" + struct.pack(">L", len(body)) + body
    return made


def _change_event(track: list[MidiEvent], chance: random.Random) -> None:
    at = chance.randrange(len(track))
    ticks, event = track[at]
    how = chance.randrange(7)
    if how == 0:
        del track[at]
    elif how == 1:
        track.insert(chance.randrange(len(track) + 1), (ticks, event))
    elif how == 2:
        track[at] = (chance.choice((0, 1, ticks + 7, ticks * 3, 1 << 20, (1 << 28) - 1)), event)
    elif how == 3:
        place = chance.randrange(1, len(event)) if len(event) > 1 else 0
        track[at] = (ticks, event[:place] + bytes([chance.randrange(128)]) + event[place + 1:])
    elif how == 4:
        content = chance.randbytes(chance.choice((0, 1, 2, 3, 4, 5, 9, 200)))
        meta = bytes([0xFF, chance.choice(_META)]) + write_number(len(content)) + content
        track.insert(at, (ticks, meta))
    elif how == 5:
        track[at] = (ticks, bytes([chance.randrange(0x80, 0x100)]) + event[1:])
    else:
        track[at:] = [(ticks, event), *((0, event) for _ in range(chance.choice((2, 500)))), *track[at + 1:]]


def change_song(data: bytes, chance: random.Random) -> bytes:
    """A MIDI file with some of its events, its header or its bytes changed."""
    if chance.random() < 0.2:
        return damage_bytes(data, chance)
    header, tracks = split_song(data)
    for _ in range(chance.choice((1, 2, 5, 30))):
        track = chance.choice(tracks)
        if track:
            _change_event(track, chance)
    if chance.random() < 0.2:
        kind, division = chance.choice((0, 1, 2, 9)), chance.choice((0, 1, 96, 0x7FFF, 0x8000, 0xE728, 0xFFFF))
        header = struct.pack(">HHH", kind, chance.choice((0, 1, len(tracks), 999)), division)
    return join_song(header, tracks)


def damage_file(kind: str, data: bytes, chance: random.Random) -> bytes:
    """A sound file of a format, damaged in the ways of its format."""
    if kind == "midi":
        return change_song(data, chance)
    if kind == "mxl":
        return change_archive(data, chance)
    return change_text(data, _ABC if kind == "abc" else _XML, chance)
