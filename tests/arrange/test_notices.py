"""Remarks to the player, said again in the words of another language."""

from __future__ import annotations

import pickle

import pytest

from bookbuild.arrange.course import arrange_course
from bookbuild.arrange.groove_chord import groove_chord
from bookbuild.arrange.notices import Notice, say, say_all, translate
from bookbuild.lessons.model import Course
from bookbuild.lessons.words import DEFAULT_WORDS, fill_words, find_fields
from bookbuild.theory.chords import Chord
from bookbuild.theory.naming import ENGLISH_TONES, ToneNames
from bookbuild.theory.pitch import Tone

ENGLISH = ToneNames.parse(ENGLISH_TONES)


def test_lists_are_joined_as_they_are_spoken() -> None:
    assert [say_all(list(names)) for names in ("", "a", "ab", "abc", "abcd")] == [
        "", "a", "a and b", "a, b and c", "a, b, c and d"]
    assert say_all(["x", "y"], "say.then") == "x; y"


def test_a_notice_is_put_together_anew_in_another_language() -> None:
    words = {**DEFAULT_WORDS, "say.place": "{what} ({place})", "say.bar": "T. {number}", "say.half-open": "halb offen",
             "say.and": "{first} und {last}"}
    notice = say("say.place", place=say("say.bar", number=3), what=say("say.half-open"))
    assert notice == "Bar 3: begin with the bellows half open."
    assert translate(notice, words) == "halb offen (T. 3)"
    assert translate(say_all(["a", "b", "c"]), words) == "a, b und c"
    assert translate("as it stands", words) == "as it stands"


def test_a_notice_travels_to_another_process() -> None:
    notice = say("say.place", place=Chord.parse("C"), what=say("say.play", chords="F"))
    copied = pickle.loads(pickle.dumps(notice))
    assert copied == notice
    assert translate(copied, {**DEFAULT_WORDS, "say.play": "nimm {chords}"}) == "C: nimm F"


def test_tones_and_chords_are_called_as_the_language_calls_them(course: Course) -> None:
    words = {**DEFAULT_WORDS, "tone.names": "C D E F G A B H"}
    notice = groove_chord(Chord.parse("Bm7b5"), course.instruments["41-keys-120-basses"]).notice
    assert notice == "Bm7♭5: play D minor over the bass B"
    assert translate(notice, words) == "Hm7♭5: play D minor over the bass H"
    assert translate(say_all([Tone.parse("Bb"), Tone.parse("F#")]), words) == "B and F♯"


@pytest.mark.parametrize("symbol", ["Bm", "Am7", "Ebmaj7", "Bdim7", "F#sus4", "C/E", "Abaug", "G7"])
@pytest.mark.parametrize("name", ["25-keys-8-basses", "26-keys-24-basses", "26-keys-48-basses"])
def test_nothing_said_about_buttons_stays_english(course: Course, symbol: str, name: str) -> None:
    """In a language of capitals no English word is left: only tones and chord symbols come through."""
    loud = {key: _shout(text) for key, text in DEFAULT_WORDS.items()}
    choice = groove_chord(Chord.parse(symbol), course.instruments[name])
    for notice in (choice.notice, choice.root_notice, choice.fifth_notice, choice.third_notice):
        kept = translate(notice, loud).replace(ENGLISH.print(Chord.parse(symbol)), "")
        assert kept.upper() == kept, kept


def test_every_notice_of_the_demo_can_be_translated(course: Course) -> None:
    lessons, _ = arrange_course(course, course.editions["small-hands"])
    notices = [n for lesson in lessons for exercise in lesson.exercises for n in exercise.arrangement.notices]
    assert notices
    assert all(isinstance(notice, Notice) for notice in notices)


def _shout(text: str) -> str:
    fields = {name: "{" + name + "}" for _, name in find_fields(text)}
    return fill_words(text.upper(), **{name.upper(): field for name, field in fields.items()})
