"""Bellows plans of random pieces, held against the independent checker."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st
from small_arrangements import OPEN, bare_arrangement, make_voice

from bookbuild.arrange.bellows import plan_bellows
from bookbuild.arrange.bellows_turns import split_passages
from bookbuild.arrange.check_bellows import check_bellows
from bookbuild.arrange.model import Bar, Role, Voice
from bookbuild.arrange.shake import plan_shakes
from bookbuild.lessons.model import Air, Tempo
from bookbuild.theory.meter import Meter

AIR = Air()


@st.composite
def pieces(draw: st.DrawFn) -> tuple[Meter, tuple[Bar, ...]]:
    """Bars with upbeats, repeats and endings, as a tune's form gives them."""
    meter = draw(st.sampled_from([Meter(2, 4), Meter(3, 4), Meter(4, 4), Meter(6, 8), Meter(9, 8), Meter(2, 2)]))
    made: list[Bar] = []
    number, now = 1, F(0)
    for _ in range(draw(st.integers(1, 4))):
        upbeat = draw(st.sampled_from([F(0), F(1, 8)]))
        plain, kind = draw(st.integers(1, 9)), draw(st.sampled_from(["plain", "repeat", "endings"]))
        run = [Bar(F(0), upbeat, 0)] if upbeat else []
        run += [Bar(F(0), meter.bar, 1, phrase_end=draw(st.booleans())) for _ in range(plain)]
        if upbeat:
            run[-1] = replace(run[-1], length=meter.bar - upbeat)
        if kind != "plain":
            run[0] = replace(run[0], opens_repeat=True)
        if kind == "repeat":
            run[-1] = replace(run[-1], closes_repeat=True)
        if kind == "endings":
            run += [Bar(F(0), meter.bar, 1, closes_repeat=True, ending="1."), Bar(F(0), meter.bar, 1, ending="2.")]
        for bar in run:
            made.append(replace(bar, onset=now, number=number if bar.number else 0))
            now, number = now + bar.length, number + bool(bar.number)
    return meter, tuple(made)


def cut_at_signs(voice: Voice, bars: tuple[Bar, ...]) -> Voice:
    """No note is held over a sign, as the arranger sees to it."""
    signs = sorted({p.start for p in split_passages(bars)} | {bar.onset for bar in bars if bar.ending})
    events = []
    for event in voice.events:
        edges = [event.onset, *(sign for sign in signs if event.onset < sign < event.end), event.end]
        events += [replace(event, onset=start, length=end - start) for start, end in pairwise(edges)]
    return Voice(voice.role, tuple(events))


LONGER = st.lists(st.sampled_from([F(1, 16), F(1, 12), F(1, 8), F(3, 16), F(1, 4), F(3, 8), F(1, 2), F(1), F(3, 2),
                                   F(-1, 8), F(-1, 4), F(-1)]), min_size=1, max_size=12)


@settings(max_examples=80, deadline=None)
@given(pieces(), st.lists(LONGER, min_size=1, max_size=3), st.integers(30, 160), st.booleans())
def test_random_pieces_keep_every_rule(piece: tuple[Meter, tuple[Bar, ...]], rhythms: list[list[F]], bpm: int,
                                       cut: bool) -> None:
    meter, bars = piece
    end = bars[-1].end
    roles = (Role.MELODY, Role.BASS, Role.CHORD)
    voices = tuple(make_voice(role, end, *rhythm) for role, rhythm in zip(roles, rhythms, strict=False))
    if cut:
        voices = tuple(cut_at_signs(voice, bars) for voice in voices)
    tempo = Tempo(bpm, bpm, meter.beat)
    spans, notices = plan_bellows(bars, voices, tempo, AIR)
    if not any(event.pitches for voice in voices for event in voice.events):
        assert spans == ()
        return
    assert spans[0].direction is OPEN
    assert [span.onset for span in spans] == [F(0), *(span.end for span in spans[:-1])]
    assert spans[-1].end == end
    found = list(check_bellows(bare_arrangement(bars, voices, spans, tempo, notices, meter), AIR))
    if cut:
        assert [finding for finding in found if not (finding.rule == "air" and finding.explained)] == []
    else:
        # A note written across a sign may be cut there, and nowhere else.
        signs = {p.start for p in split_passages(bars)} | {bar.onset for bar in bars if bar.ending}
        assert {finding.moment for finding in found if finding.rule == "bellows-held"} <= signs
        assert {finding.rule for finding in found} <= {"bellows-held", "air"}


@settings(max_examples=40, deadline=None)
@given(pieces(), LONGER, st.data())
def test_random_shakes_hand_over_cleanly(piece: tuple[Meter, tuple[Bar, ...]], rhythm: list[F],
                                         data: st.DataObject) -> None:
    meter, bars = piece
    whole = split_passages(bars)
    stroke = data.draw(st.sampled_from([F(1, 16), F(1, 8)]))
    shaken = [p for p in whole if not p.endings and ((p.end - p.start) / stroke).denominator == 1
              and data.draw(st.booleans())]
    shakes = plan_shakes([(p.start, p.end) for p in shaken], stroke)
    voices = (cut_at_signs(make_voice(Role.MELODY, bars[-1].end, F(1, 8), *rhythm), bars),)
    tempo = Tempo(60, 60, meter.beat)
    spans, notices = plan_bellows(bars, voices, tempo, AIR, fixed=shakes)
    assert [replace(span, air=False) for span in spans if span.stroke] == list(shakes)
    found = list(check_bellows(bare_arrangement(bars, voices, spans, tempo, notices, meter), AIR))
    assert [finding for finding in found if not (finding.rule == "air" and finding.explained)] == []
