"""A tune's form held against its sections: names, endings, and bars that join over the section's edge."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise

from bookbuild.diagnostics import Severity
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Place, Section
from bookbuild.lessons.report import Report, guess_name, show, tell_length
from bookbuild.lessons.yaml_text import Document
from bookbuild.theory.meter import Meter


def check_form(
    form: Sequence[str], sections: Sequence[Section], meter: Meter, document: Document, report: Report
) -> None:
    """Report names the tune does not have, endings that are never played and joints that leave a bar open."""
    known = {section.name: section for section in sections}
    for index, name in enumerate(form):
        if name not in known:
            message = f"the form names a section {show(name)} the tune does not have"
            report.add(_form_place(index, document), message, guess_name(name, list(known), "section"))
    runs = [(name, len(list(run))) for name, run in groupby(form) if name in known]
    for name, times in runs:
        endings = len(known[name].endings)
        if endings and times not in (1, endings):
            message = f"section {name} has {endings} endings, and the form plays it {times} times in a row"
            hint = "Write one ending for each pass; a section that comes once takes its last ending."
            report.add(_form_place(0, document), message, hint)
    if not report.has_errors(document.file):
        _check_joints([known[name] for name in form], meter, document, report)


def _form_place(index: int, document: Document) -> Place:
    if ("form", index) in document.nodes:
        return document.place("form", index)
    return document.place("form") if ("form",) in document.nodes else Place(document.file)


def _check_joints(played: Sequence[Section], meter: Meter, document: Document, report: Report) -> None:
    """Where one section meets the next, the last bar and the upbeat make one bar, or the last bar is full."""
    passes: dict[str, int] = {}
    previous = ""
    for section, follower in pairwise(played):
        passes[section.name] = passes.get(section.name, 0) + 1 if section.name == previous else 1
        previous = section.name
        in_a_row = follower.name == section.name or passes[section.name] > 1
        last = _last_bar(section, passes[section.name] if in_a_row else 0)
        joint = last + follower.upbeat
        place = document.key_place("sections", section.name)
        names = f"section {section.name} and section {follower.name} after it"
        if joint < meter.bar:
            message = f"{names} meet in a bar of {tell_length(joint)} instead of {tell_length(meter.bar)}"
            hint = "Fill the last bar up, or give the section after it an upbeat that completes it."
            report.warn(place, message, hint)
        elif follower.upbeat and joint > meter.bar:
            shorter = tell_length(meter.bar - follower.upbeat)
            message = f"{names} meet in a full bar and an upbeat"
            hint = f"Usually the last bar is short by the upbeat ({shorter}), so that both make one bar."
            report.add(place, message, hint, Severity.NOTE)


def _last_bar(section: Section, number: int) -> Fraction:
    """Length of the last bar of a section's pass; 0 is the only pass, which takes the last ending."""
    if section.endings:
        return section.endings[number - 1 if 0 < number <= len(section.endings) else -1].bars[-1]
    return section.body.bars[-1]
