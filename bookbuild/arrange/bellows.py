"""The bellows plan: which way the bellows go, turn by turn, so that the music breathes and the air suffices.

The plan is made for the slowest step of the tempo ladder: the faster the music, the less air the same notes take, so
what works there works at every step. Each passage between repeat signs opens first and ends with the bellows home,
nearly closed, so that a repeat begins alike both times and the tune ends closed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from bookbuild.arrange.air import EASE, measure_sound, play_seconds
from bookbuild.arrange.bellows_borders import (
    Place,
    is_odd,
    measure_use,
    settle_odd_shakes,
    stand_after,
    stand_before,
)
from bookbuild.arrange.bellows_search import Found, Limits, Part, PartSearch, Step
from bookbuild.arrange.bellows_turns import (
    Ground,
    Passage,
    Turn,
    cut_out,
    list_turns,
    read_ground,
    shift_starts,
    split_passages,
)
from bookbuild.arrange.model import Bar, BellowsSpan, Direction, Voice
from bookbuild.arrange.notices import say
from bookbuild.arrange.shake import merge_plan
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Air, Tempo

REGULAR_BARS: dict[Fraction, int] = {
    Fraction(4): 0, Fraction(2): 1, Fraction(3): 4, Fraction(1): 5, Fraction(1, 2): 12,
}
"""Regular span of a passage in bars -> points for choosing it; common practice, no source."""


@dataclass(frozen=True)
class Task:
    """A piece ready to be planned: the spans given, a search part for each passage left, what the bellows allow."""

    ground: Ground
    fixed: tuple[BellowsSpan, ...]
    passages: tuple[Passage, ...]
    parts: tuple[Part, ...]
    limits: Limits
    beats_a_minute: int


@dataclass(frozen=True)
class Plan:
    """The cheapest plan of a passage: its points, its regular span in bars, and the turns taken."""

    cost: int
    regular: Fraction
    found: Found


def plan_bellows(bars: tuple[Bar, ...], voices: tuple[Voice, ...], tempo: Tempo, air: Air, *,
                 fixed: tuple[BellowsSpan, ...] = (), bpm: int | None = None,
                 ) -> tuple[tuple[BellowsSpan, ...], tuple[str, ...]]:
    """Bellows spans that cover the bars without gap, and notices in the teacher's words.

    `fixed` are spans planned before (shakes): they are kept, and what follows goes on in the direction they hand over.
    `bpm` is the tempo planned for, by default the slowest of the ladder. No spans where nothing sounds.
    """
    if not bars:
        return (), ()
    task = set_task(bars, voices, tempo, air, fixed, bpm)
    if not task.ground.sound.spent[-1]:
        return (), ()
    spans: list[BellowsSpan] = []
    fixed = task.fixed
    for passage, part in zip(task.passages, task.parts, strict=True):
        made, air_first = _write_spans(passage, part, find_plan(task, part).found)
        if air_first:
            fixed = tuple(replace(span, air=True) if span.end == passage.start else span for span in fixed)
        spans += made
    merged = merge_plan(fixed, sorted(spans, key=lambda span: span.onset))
    return merged, tuple(_list_notices(task, merged, air))


def set_task(bars: Sequence[Bar], voices: Sequence[Voice], tempo: Tempo, air: Air,
             fixed: Sequence[BellowsSpan] = (), bpm: int | None = None) -> Task:
    """Cut the piece into passages and list their turns; see `plan_bellows`."""
    moments = [tempo.beat / 2, *(bar.pickup for bar in bars)]
    moments += [moment for span in fixed for moment in (span.onset, span.end)]
    sound = measure_sound(voices, bars, air, play_seconds(tempo, bpm), moments)
    ground = read_ground(bars, voices, sound, tempo.beat)
    whole = split_passages(bars)
    fixed = settle_odd_shakes(fixed, whole)
    passages = cut_out(shift_starts(whole, ground, fixed), fixed)
    scale = 2 * sound.full.denominator * EASE.denominator
    limits = Limits(int(sound.full * scale), int(scale * (1 - EASE)), scale, int(scale * (1 + EASE)), ground.beat)
    parts = tuple(_make_part(ground, passage, stand_before(sound, passage, whole, fixed, air),
                             stand_after(sound, passage, fixed), limits) for passage in passages)
    return Task(ground, fixed, tuple(passages), parts, limits, bpm or tempo.start)


def _make_part(ground: Ground, passage: Passage, before: Place, after: Place, limits: Limits) -> Part:
    """The passage's turns; without endings its one route is its end."""
    tick = ground.sound.tick
    first, end = ground.turn(tick(passage.start), 0), ground.turn(tick(passage.end), 0)
    body = (first, *list_turns(ground, passage.start, passage.end))
    routes: tuple[tuple[Turn, ...], ...] = ((end,),)
    if passage.endings:
        if end.tick > first.tick and ground.sound.is_free(end.tick):
            body = (*body, _border_turn(ground, passage.end))
        routes = tuple(_list_route(ground, passage.end, *ending) for ending in passage.endings)
    start = round(before.least * limits.ease), round(before.most * limits.ease)
    return Part(body, routes, before.direction is Direction.OPEN, start, after.direction is Direction.OPEN,
                round(after.least * limits.ease), before.given)


def _border_turn(ground: Ground, moment: Fraction) -> Turn:
    """The turn where the endings begin: an ordinary barline, or a phrase end."""
    bar = next((bar for bar in ground.bars if bar.end == moment), None)
    phrase = bar is not None and bar.phrase_end
    return ground.turn(ground.sound.tick(moment), 0 if phrase else 2, phrase)


def _list_route(ground: Ground, body_end: Fraction, onset: Fraction, end: Fraction) -> tuple[Turn, ...]:
    """The turns of an ending, counted as played right after the body."""
    tick, air = ground.sound.tick, ground.sound.air_until
    late, spent = tick(onset) - tick(body_end), air(tick(onset)) - air(tick(body_end))
    turns = (*list_turns(ground, onset, end), ground.turn(tick(end), 0))
    return tuple(replace(turn, tick=turn.tick - late, air=turn.air - spent) for turn in turns)


def find_plan(task: Task, part: Part) -> Plan:
    """The cheapest plan of one passage over all regular spans; of equals the one first in `REGULAR_BARS`."""
    best: Plan | None = None
    for bars, points in REGULAR_BARS.items():
        length = task.ground.bar * bars
        if (bars < 1 and length % task.ground.beat) or (best is not None and points >= best.cost):
            continue
        search = PartSearch(part, int(length), task.limits)
        if best is not None and points + search.least_cost >= best.cost:
            continue
        found = search.run()
        if best is None or points + found.cost < best.cost:
            best = Plan(points + found.cost, bars, found)
    assert best is not None
    return best


def _write_spans(passage: Passage, part: Part, found: Found) -> tuple[list[BellowsSpan], bool]:
    """The printed spans of a passage, and whether the air button is wanted before it begins."""
    direction = Direction.OPEN if part.opens else Direction.CLOSE
    spans, now = [], passage.start
    for step in found.body[1:]:
        spans.append(BellowsSpan(now, step.turn.at, direction, air=step.air))
        now, direction = step.turn.at, direction.other
    for number, steps in enumerate(found.tails):
        # A later ending goes on in the direction in which the body was left, printed afresh.
        onset = now if number == 0 else passage.endings[number][0]
        spans += _write_route(onset, direction, steps)
    return spans, found.body[0].air


def _write_route(onset: Fraction, direction: Direction, steps: Iterable[Step]) -> Iterator[BellowsSpan]:
    for step in steps:
        yield BellowsSpan(onset, step.turn.at, direction, air=step.air)
        onset, direction = step.turn.at, direction.other


def name_bar(bars: Sequence[Bar], moment: Fraction) -> str:
    """The bar a moment lies in, as a sentence begins: `Bar 12`, `Upbeat`; the last bar for the music's end."""
    return _name_number(next((bar for bar in bars if bar.onset <= moment < bar.end), bars[-1]).number)


def _name_number(number: int) -> str:
    return say("say.bar", number=number) if number else say("say.upbeat")


def _list_notices(task: Task, spans: Sequence[BellowsSpan], air: Air) -> Iterator[str]:
    """What the plan cannot do by itself, in the order of the music."""
    ground, unit = task.ground, task.ground.sound.full / Fraction(str(air.full))
    if is_odd(spans[0]) and not spans[0].air:
        yield say("say.place", place=name_bar(ground.bars, Fraction(0)), what=say("say.half-open"))
    for span in spans:
        if span.stroke is None and measure_use(ground.sound, span) * (1 - EASE) > ground.sound.full:
            need = ceil(measure_use(ground.sound, span) / unit)
            long = say("say.too-long", tempo=task.beats_a_minute, need=need, full=int(air.full))
            yield say("say.place", place=name_bar(ground.bars, span.onset), what=long)
        if is_odd(span) and not span.air and span.end < ground.bars[-1].end:
            yield say("say.place", place=name_bar(ground.bars, span.end), what=say("say.odd-shake"))
        if span.air:
            yield _say_air(ground, span)


def _say_air(ground: Ground, span: BellowsSpan) -> str:
    # The end of a bar belongs to that bar, not to the one it leads to.
    before = max((bar for bar in ground.bars if bar.onset < span.end), key=lambda bar: bar.onset)
    silent = ground.turn(ground.sound.tick(span.end), 0).silent
    what = say("say.air-in-rest" if silent else "say.air-in-turn")
    return say("say.place", place=_name_number(before.number), what=what)
