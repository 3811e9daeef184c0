"""Finished books kept by everything they were made from, so that building an unchanged course is copying a file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.engrave.batch import fonts_digest, library_versions
from bookbuild.lessons.model import Course, Edition
from bookbuild.workshop import Workshop

LIBRARIES = ("abjad", "pikepdf", "pillow", "reportlab", "svglib")
"""What has a hand in a finished file."""


@dataclass(frozen=True)
class Finished:
    """A finished PDF with what is said when it is printed."""

    pdf: bytes
    pages: int
    exercises: int
    findings: tuple[Diagnostic, ...]
    folios: Mapping[str, str] = field(default_factory=dict)
    """Printed page of every exercise by its number."""


@cache
def program_digest() -> str:
    """Hash of the program's own files: another program may make another book of the same content."""
    digest = hashlib.sha256()
    here = Path(__file__).parent
    for path in sorted(p for p in here.rglob("*") if p.suffix in (".py", ".ily")):
        digest.update(path.relative_to(here).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def finished_key(course: Course, folder: Path, edition: Edition, what: str, shop: Workshop) -> str:
    """Name of a printing by content, edition, logo, date, engraver, fonts, program, libraries; `what` is printed."""
    logo = folder / edition.studio.logo if edition.studio.logo else None
    drawn = logo.read_bytes() if logo and logo.is_file() else b""
    parts = (repr(course), repr(edition), what, shop.created.isoformat(), shop.engraver.identity,
             fonts_digest(shop.fonts), program_digest(), library_versions(*LIBRARIES),
             hashlib.sha256(drawn).hexdigest())
    return hashlib.sha256("\0".join(parts).encode("utf-8", "surrogatepass")).hexdigest()


def load_finished(key: str, shop: Workshop) -> Finished | None:
    """The book of that key, None when it is not kept or was damaged."""
    found = shop.cache.load_blob(key)
    if found is None:
        return None
    head, _, pdf = found.partition(b"\n")
    try:
        said = json.loads(head)
        findings = tuple(Diagnostic(Severity(f[0]), f[1], f[2], f[3], f[4], f[5]) for f in said["findings"])
        return Finished(pdf, said["pages"], said["exercises"], findings, dict(said["folios"]))
    except (ValueError, KeyError, TypeError, IndexError):
        return None


def store_finished(key: str, finished: Finished, shop: Workshop) -> None:
    """Keep a book."""
    findings = [(f.severity.value, f.file, f.line, f.column, f.message, f.hint) for f in finished.findings]
    said = {"pages": finished.pages, "exercises": finished.exercises, "findings": findings,
            "folios": dict(finished.folios)}
    shop.cache.store_blob(key, json.dumps(said).encode() + b"\n" + finished.pdf)
