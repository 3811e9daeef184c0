"""From segments to strains: what is repeated, which bars are endings, in what order the tune is played."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from bookbuild.exact import Fraction
from bookbuild.importers.segments import Segment, cut_segments, join_bars
from bookbuild.importers.written import TuneFault, WrittenBar

MOST_PASSES = 8
"""A repeat is not played more often than that."""


@dataclass(frozen=True)
class Strain:
    """Bars played in a row, with an ending for each pass (empty = none)."""

    bars: tuple[WrittenBar, ...]
    endings: tuple[tuple[WrittenBar, ...], ...] = ()

    @property
    def all_bars(self) -> tuple[WrittenBar, ...]:
        """Body and endings as they are printed."""
        return self.bars + tuple(bar for ending in self.endings for bar in ending)

    def write_out(self, number: int) -> Strain:
        """One pass with its ending written out; −1 is the last."""
        return Strain(self.bars + self.endings[number]) if self.endings else self


@dataclass
class Plan:
    """The strains of a tune, the order they are played in (indices), and remarks."""

    strains: list[Strain] = field(default_factory=list)
    order: list[int] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, strains: Sequence[Strain], plays: int = 1) -> None:
        """Append strains in a row, played `plays` times."""
        first = len(self.strains)
        self.strains += strains
        self.order += list(range(first, len(self.strains))) * plays


def plan_strains(bars: Sequence[WrittenBar]) -> Plan:
    """Divide the bars of one meter into strains. Raises TuneFault when the signs make no sense."""
    plan = Plan()
    group: list[Segment] = []
    for segment in cut_segments(bars, plan.notes):
        if group and (segment.opens or (group[-1].ending and not segment.ending)):
            _close_group(plan, group)
            group = []
        group.append(segment)
        if segment.plays > 1 and not segment.ending:
            _close_group(plan, group)
            group = []
    if group:
        _close_group(plan, group)
    _follow_jump(plan)
    return plan


def _close_group(plan: Plan, group: list[Segment]) -> None:
    """Turn the segments of one repeat into strains and append the order they are played in."""
    bodies = [segment.bars for segment in group if not segment.ending]
    endings = [segment.bars for segment in group if segment.ending]
    plays = max(segment.plays for segment in group)
    if plays > MOST_PASSES:
        raise TuneFault(f"{group[-1].bars[-1].where} closes a repeat played {plays} times", group[-1].bars[-1].line)
    if len(endings) == 1 or (endings and not bodies):
        plan.notes.append(f"an ending at {endings[0][0].where} has no counterpart: it was taken as plain bars")
        bodies = [*bodies[:-1], bodies[-1] + endings[0]] if bodies else endings
        endings = []
    if endings:
        body, tails = _carry_part_bar(bodies[-1], _number_endings(endings, plan.notes))
        if not body:
            for tail in tails:
                _add_repeat(plan, [*map(Strain, bodies[:-1]), Strain(tail)], 1, None)
            return
        _add_repeat(plan, [*map(Strain, bodies[:-1]), Strain(body, tails)], len(tails), group[0].pickup)
    else:
        _add_repeat(plan, [Strain(body) for body in bodies], plays, group[0].pickup)


def _number_endings(endings: list[tuple[WrittenBar, ...]], notes: list[str]) -> list[tuple[WrittenBar, ...]]:
    """The ending of each pass in turn, from brackets such as 1, 2 or 1-3, 4."""
    by_pass = {number: ending for ending in reversed(endings) for number in ending[0].ending}
    count = max(by_pass)
    if count > MOST_PASSES:
        raise TuneFault(f"{endings[-1][0].where} begins an ending for pass {count}", endings[-1][0].line)
    if sorted(by_pass) != list(range(1, count + 1)) or len(set(map(id, by_pass.values()))) < len(endings):
        notes.append(f"the endings at {endings[0][0].where} are not numbered 1, 2, …: they were taken in order")
        return endings
    return [by_pass[number] for number in range(1, count + 1)]


def _carry_part_bar(body: tuple[WrittenBar, ...], endings: list[tuple[WrittenBar, ...]],
                    ) -> tuple[tuple[WrittenBar, ...], tuple[tuple[WrittenBar, ...], ...]]:
    """Brackets that begin inside a bar: the bar's first part is copied into every ending."""
    part = body[-1]
    room = part.meter.bar - part.length
    if room and all(ending[0].length <= room for ending in endings):
        heads = [replace(join_bars(part, ending[0]), ending=ending[0].ending) for ending in endings]
        return body[:-1], tuple((head, *ending[1:]) for head, ending in zip(heads, endings, strict=True))
    return body, tuple(endings)


def _add_repeat(plan: Plan, strains: list[Strain], plays: int, pickup: WrittenBar | None) -> None:
    """Add a repeat; a pick-up before its sign comes inside it where the notes that lead back are the same."""
    if len(strains) > 1 and strains[-1].endings:
        # Only a strain repeated by itself has endings in the course's model.
        for number in range(plays):
            row = [strain.write_out(number) for strain in strains]
            plan.add(_lead(pickup, row) if pickup and not number else row)
        return
    if pickup is None:
        plan.add(strains, plays)
        return
    first, last = strains[0], strains[-1]
    tails = last.endings or (last.bars,)
    returning = tails[:-1] or tails * (plays > 1)
    if all(tail[-1].length + pickup.length == pickup.meter.bar for tail in returning):
        plan.add(_lead(pickup, strains), plays)
    elif len(strains) == 1 and len(first.bars) > 1 and all(_ends_with(tail[-1], pickup) for tail in returning):
        # The notes that lead back become the upbeat; after the last pass they stay in its ending.
        body, endings = (last.bars, last.endings) if last.endings else (last.bars[:-1], (last.bars[-1:],) * plays)
        cut = tuple((*tail[:-1], _without_tail(tail[-1], pickup.length)) for tail in endings[:-1])
        plan.add(_lead(pickup, [Strain(body, (*cut, endings[-1]))]), plays)
    else:
        plan.notes.append(f"the notes that lead back to {first.bars[0].where} differ from the upbeat: "
                          "the repeat is written out")
        passes = [[strain.write_out(number) for strain in strains] for number in range(plays)]
        plan.add(_lead(pickup, passes[0]))
        for row in passes[1:]:
            plan.add(row)


def _lead(pickup: WrittenBar, strains: list[Strain]) -> list[Strain]:
    return [Strain((pickup, *strains[0].bars), strains[0].endings), *strains[1:]]


def _ends_with(bar: WrittenBar, pickup: WrittenBar) -> bool:
    """True when a full bar closes with exactly the notes of the pick-up."""
    start = bar.length - pickup.length
    tail = [(note.onset - start, note.length, note.pitch) for note in bar.notes if note.end > start]
    return bar.length == bar.meter.bar and tail == [(note.onset, note.length, note.pitch) for note in pickup.notes]


def _without_tail(bar: WrittenBar, lead: Fraction) -> WrittenBar:
    start = bar.length - lead
    return replace(bar, notes=tuple(note for note in bar.notes if note.onset < start),
                   chords=tuple(change for change in bar.chords if change[0] < start))


def _follow_jump(plan: Plan) -> None:
    """D.C. or D.S. al Fine at the tune's end: the strains up to the Fine are played again, with last endings."""
    jump = _find(plan, lambda bar: bool(bar.jump))
    if jump is None:
        return
    fine = _find(plan, lambda bar: bar.fine)
    capo = any(bar.jump == "capo" for bar in plan.strains[jump].all_bars)
    start = 0 if capo else _find(plan, lambda bar: bar.segno)
    if fine is None or start is None or not start <= fine < jump or jump != len(plan.strains) - 1:
        plan.notes.append("a sign that sends the player back (D.C., D.S.) is not carried over: set 'form' by hand")
        return
    plan.order += range(start, fine + 1)


def _find(plan: Plan, wanted: Callable[[WrittenBar], bool]) -> int | None:
    """Index of the first strain with such a bar."""
    return next((i for i, strain in enumerate(plan.strains) if any(wanted(bar) for bar in strain.all_bars)), None)
