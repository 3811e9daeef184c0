"""The only reader of files: a course folder to a checked course.

Nothing outside the folder is read: links are refused, names from content are matched against the folder's own listing.
"""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass, field
from pathlib import Path

from bookbuild.diagnostics import ContentError, Diagnostic, Severity
from bookbuild.lessons.check import Parts, assemble_course
from bookbuild.lessons.model import Course, Place, Tune
from bookbuild.lessons.parse import BUILDERS, build_course_file, parse_tune
from bookbuild.lessons.report import Report, show
from bookbuild.lessons.yaml_text import MOST_BYTES, Document, load_yaml

MOST_FILES = 5000
MOST_COURSE_BYTES = 30_000_000
"""Bytes of all files of a course: several hundred tunes and weeks take two million."""
LOGO_BYTES = 4_000_000
_NAME = re.compile(r"[^\W_][\w-]{0,79}")


def read_course(folder: Path) -> Course:
    """Read and check the course in `folder`; raises ContentError with every finding of the run."""
    course, findings = inspect_course(folder)
    if course is None:
        raise ContentError(findings)
    return course


def inspect_course(
    folder: Path, base: Path | None = None, printed: str | None = None
) -> tuple[Course | None, list[Diagnostic]]:
    """The course in `folder` (None when an error was found) and all findings, warnings too, in file order.

    A folder with tunes or editions but no course.yaml is laid over the course in `base`: what has the same name
    replaces what is there, so a tune folder and one edition file make a course. Where one edition is to be `printed`
    ('' is the course's own), what is wrong in the others is a warning, and they are left out.
    """
    report = Report()
    reader = _CourseReader(folder, report, base, printed=printed)
    course = reader.read()
    return (None if report.has_errors() else course), report.in_order()


def read_tune(path: Path) -> Tune:
    """Read one tune file; raises ContentError with every finding."""
    report = Report()
    content = _read_bytes(path, path.name, report)
    tune = None
    if content is not None:
        tune = parse_tune(content, path.stem, path.name, report)
    if tune is None or report.has_errors():
        raise ContentError(report.in_order())
    return tune


def find_sign(folder: Path, sign: str) -> Place:
    """Where a character first stands in a course's files; the course's own file where it is written otherwise."""
    for path in (folder / "course.yaml", *sorted(folder.glob("*/*.yaml"))):
        shown = path.relative_to(folder).as_posix()
        content = _read_bytes(path, shown, Report()) or b""
        for number, line in enumerate(content.decode("utf-8", "replace").splitlines(), start=1):
            if sign in line:
                return Place(shown, number, line.index(sign) + 1)
    return Place("course.yaml")


def _read_bytes(path: Path, shown: str, report: Report) -> bytes | None:
    """The bytes of a plain file, at most one more than `MOST_BYTES`; anything else is reported."""
    try:
        mode = os.lstat(path).st_mode
        if not stat.S_ISREG(mode):
            what = "a link" if stat.S_ISLNK(mode) else "a folder" if stat.S_ISDIR(mode) else "not a plain file"
            report.add(Place(shown), f"this is {what}", "Put the file itself here.")
            return None
        # The flags hold what was just seen: should the file be changed for a link or a pipe now, opening fails.
        flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        with os.fdopen(os.open(path, flags), "rb") as file:
            return file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        report.add(Place(shown), "the file does not exist", "Check the name, or create it.")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not valid"
        report.add(Place(shown), f"the file cannot be read: {reason}", "Check its name and permissions.")
    return None


@dataclass
class _CourseReader:
    """Reads one course folder into parts."""

    folder: Path
    report: Report
    base: Path | None = None
    printed: str | None = None
    parts: Parts = field(default_factory=Parts)
    count: int = 0
    size: int = 0

    def read(self) -> Course | None:
        if not self.folder.is_dir():
            place = Place(self.folder.name or str(self.folder))
            self.report.add(place, "there is no such course folder", self.hint_folder())
            return None
        self.folder = self.folder.resolve()
        found = set(self.list_folder(""))
        if self.base is not None and "course.yaml" not in found and found & {"tunes", "editions"}:
            self.read_base(self.base)
        else:
            self.read_course_file()
        for name in sorted(found):
            self.check_root_entry(name)
        own_editions = self.read_folders()
        self.check_logos()
        if self.base is not None and "course.yaml" not in found and len(own_editions) == 1 and self.parts.course:
            self.parts.course = self.parts.course.model_copy(update={"edition": own_editions[0]})
        return assemble_course(self.parts, self.report, self.printed)

    def hint_folder(self) -> str:
        """Where the course may be instead: in the file that was named, or in the folder one stands in."""
        if self.folder.is_file():
            return f"Name the folder, not a file of it: --course {self.folder.parent}"
        if Path("course.yaml").is_file():
            return "This folder holds a course itself: write --course ."
        return "Name the folder that holds course.yaml, behind --course."

    def read_course_file(self) -> None:
        document = self.load("course.yaml")
        self.parts.course = build_course_file(document, self.report) if document else None
        self.parts.documents["course.yaml"] = document

    def read_folders(self) -> list[str]:
        """Read every folder; returns the names of the editions found in this course's own."""
        for name in BUILDERS:
            self.read_folder(name)
        return sorted(entry.removesuffix(".yaml") for entry in self.list_folder("editions") if entry.endswith(".yaml"))

    def read_base(self, base: Path) -> None:
        """Everything of the course underneath, except editions whose logo this folder does not have."""
        under = _CourseReader(base.resolve(), self.report, parts=self.parts)
        under.read_course_file()
        under.read_folders()
        editions = self.parts.built["editions"]
        for name in [name for name, edition in editions.items() if edition.studio.logo]:
            del editions[name]
            self.parts.names["editions"].discard(name)
        self.report.add(
            Place("course.yaml"),
            "there is none here, so the course that comes with the program is printed with this folder's files",
            "Make a course of your own with: bookbuild new DIR",
            Severity.NOTE,
        )

    def list_folder(self, name: str) -> list[str]:
        """Names in a folder of the course; empty when it does not exist or may not be read."""
        path = self.folder / name if name else self.folder
        try:
            if path.is_symlink() and name:
                hint = "Put the folder itself here; nothing outside the course is read."
                self.report.add(Place(name), "this folder is a link", hint)
                return []
            return [entry for entry in os.listdir(path) if not entry.startswith(".")]
        except FileNotFoundError:
            return []
        except NotADirectoryError:
            hint = "Make a folder of this name and put the files into it."
            self.report.add(Place(name), "this is a file, a folder is expected", hint)
        except OSError as error:
            self.report.add(Place(name), f"this folder cannot be read: {error.strerror}", "Check its permissions.")
        return []

    def check_root_entry(self, name: str) -> None:
        """YAML that lies where nobody looks is pointed out."""
        if name.endswith((".yaml", ".yml")) and name != "course.yaml":
            self.report.warn(Place(name), "this file is not read", f"Move it into one of: {', '.join(BUILDERS)}.")

    def load(self, file: str) -> Document | None:
        content = _read_bytes(self.folder / file, file, self.report)
        self.size += len(content or b"")
        return load_yaml(content, file, self.report) if content is not None else None

    def read_folder(self, folder: str) -> None:
        """Read every YAML file of one folder."""
        for entry in sorted(self.list_folder(folder)):
            file, (stem, suffix) = f"{folder}/{entry}", os.path.splitext(entry)
            if suffix != ".yaml":
                if suffix.lower() in (".yml", ".yaml"):
                    self.report.warn(Place(file), "this file is not read", f"Rename it to {stem}.yaml.")
                continue
            self.count += 1
            if self.count > MOST_FILES or self.size > MOST_COURSE_BYTES:
                much = f"{MOST_FILES} files" if self.count > MOST_FILES else f"{MOST_COURSE_BYTES // 1_000_000} MB"
                self.report.add(Place(folder), f"the course has more than {much}", "Split it into several courses.")
                return
            self.read_file(folder, stem, file)

    def read_file(self, folder: str, stem: str, file: str) -> None:
        if not _NAME.fullmatch(stem):
            hint = "Use letters, digits and hyphens, for example morning-polka.yaml."
            self.report.add(Place(file), "this file name cannot be used as a name", hint)
            return
        self.parts.names[folder].add(stem)
        document = self.load(file)
        self.parts.documents[file] = document
        if document is None:
            return
        built = BUILDERS[folder](stem, document, self.report)
        if built is not None:
            self.parts.built[folder][stem] = built

    def check_logos(self) -> None:
        """Every logo is a PNG or SVG file inside the course."""
        for name in sorted(self.parts.built["editions"]):
            edition = self.parts.built["editions"][name]
            logo = edition.studio.logo
            document = self.parts.documents[f"editions/{name}.yaml"]
            fault = self.logo_fault(logo) if logo else ""
            if fault and document:
                hint = "Put a PNG or SVG file into the course folder and write its name, for example logo.svg."
                self.report.add(document.place("studio", "logo"), f"the logo {show(logo, 80)} {fault}", hint)

    def logo_fault(self, logo: str) -> str:
        """Why a logo cannot be used; '' when it can."""
        if "\\" in logo or ":" in logo or Path(logo).is_absolute() or ".." in Path(logo).parts:
            return "lies outside the course folder"
        if Path(logo).suffix.lower() not in (".png", ".svg"):
            return "is neither PNG nor SVG"
        try:
            path = self.folder
            for part in Path(logo).parts:
                path = path / part
                if path.is_symlink():
                    return "is reached through a link"
            if not path.is_file():
                return "does not exist"
            return "is larger than 4 MB" if path.stat().st_size > LOGO_BYTES else ""
        except (OSError, ValueError):
            return "cannot be read"
