"""A small course of one week, made of real files of the demo course round one file that a test will change."""

from __future__ import annotations

import random
import re
from functools import cache
from pathlib import Path
from typing import Any

import yaml

CONTENT = Path(__file__).parents[2] / "content"
FOLDERS = {
    "tune": "tunes",
    "groove": "grooves",
    "week": "weeks",
    "edition": "editions",
    "instrument": "instruments",
    "counting": "counting",
    "words": "words",
    "translation": "translations",
    "course": "",
}
"""Kind of file -> its folder."""
TUNE_KINDS = (
    "count",
    "left-hand",
    "melody",
    "shapes",
    "fill",
    "together",
    "shake-melody",
    "shake-groove",
    "arrangement",
    "left-hand-one-chord",
    "shake-one-bass",
)
Files = dict[str, bytes]


@cache
def read_real(file: str) -> Any:
    """The plain data of a file of the demo course."""
    return yaml.safe_load((CONTENT / file).read_text(encoding="utf-8"))


@cache
def real_names(folder: str) -> tuple[str, ...]:
    """Names of the files in a folder of the demo course."""
    return tuple(sorted(path.stem for path in (CONTENT / folder).glob("*.yaml")))


def fitting(folder: str, meter: str) -> list[str]:
    """The tunes or grooves of a meter."""
    return [name for name in real_names(folder) if read_real(f"{folder}/{name}.yaml")["meter"] == meter]


def write_week(tune: str, groove: str, chance: random.Random) -> str:
    """A week of three exercises on one tune and one groove."""
    lines = ['title: "A week"', 'aim: "Play it."', "exercises:"]
    for kind in chance.sample(TUNE_KINDS, 3):
        lines += [f"  - kind: {kind}", f"    tune: {tune}", f"    groove: {groove}"]
        if kind == "arrangement":
            lines += ["    introduction: 2"]
    return "\n".join(lines) + "\n"


def make_scene(kind: str, chance: random.Random) -> tuple[Files, str]:
    """The files of a sound small course, and the one of them that is of the `kind`."""
    folder = FOLDERS[kind]
    name = chance.choice(real_names(folder)) if folder else ""
    picked = {other: chance.choice(real_names(other)) for other in FOLDERS.values() if other}
    picked[folder] = name
    if kind == "week":
        week_text = (CONTENT / f"weeks/{name}.yaml").read_text(encoding="utf-8")
    else:
        meter = (
            read_real(f"tunes/{picked['tunes']}.yaml")["meter"]
            if kind != "groove"
            else read_real(f"grooves/{name}.yaml")["meter"]
        )
        if kind == "groove":
            picked["tunes"] = chance.choice(fitting("tunes", meter) or ["-"])
        else:
            picked["grooves"] = chance.choice(fitting("grooves", meter))
        week_text = write_week(picked["tunes"], picked["grooves"], chance)
        if picked["tunes"] == "-":
            week_text = f"title: A\naim: B\nexercises:\n  - {{kind: left-hand-one-chord, groove: {name}, chord: C}}\n"
    files = _gather(picked, week_text)
    if kind == "translation":
        # Only here: it is large, and every scene is read many times.
        files[f"{folder}/{name}.yaml"] = (CONTENT / folder / f"{name}.yaml").read_bytes()
    return files, f"{folder}/{name}.yaml" if folder else "course.yaml"


def _gather(picked: dict[str, str], week_text: str) -> Files:
    """The week with everything it and the edition name."""
    week, edition = picked["weeks"], picked["editions"]
    exercises = yaml.safe_load(week_text)["exercises"]
    own = read_real(f"editions/{edition}.yaml")
    swaps = own.get("swaps", {})
    wanted = {f"tunes/{one['tune']}.yaml" for one in exercises if "tune" in one}
    wanted |= {f"tunes/{name}.yaml" for pair in swaps.items() for name in pair}
    wanted |= {f"grooves/{one['groove']}.yaml" for one in exercises if "groove" in one}
    wanted |= {
        f"instruments/{own['instrument']}.yaml",
        f"counting/{own.get('counting', 'american')}.yaml",
        "words/de.yaml",
    }
    wanted |= {f"editions/{edition}.yaml"} | {
        f"{folder}/{picked[folder]}.yaml" for folder in ("instruments", "counting", "words")
    }
    files = {file: (CONTENT / file).read_bytes() for file in sorted(wanted)}
    files[f"weeks/{week}.yaml"] = week_text.encode()
    course = (CONTENT / "course.yaml").read_text(encoding="utf-8")
    course = re.sub(r"^weeks:\n(  - .*\n)+", f"weeks:\n  - {week}\n", course, flags=re.MULTILINE)
    course = re.sub(r"^edition: .*$", f"edition: {edition}", course, flags=re.MULTILINE)
    course = re.sub(r"^instrument: .*$", f"instrument: {picked['instruments']}", course, flags=re.MULTILINE)
    files["course.yaml"] = course.encode()
    if logo := own.get("studio", {}).get("logo"):
        files[logo] = (CONTENT / logo).read_bytes()
    return files


def write_scene(folder: Path, files: Files) -> Path:
    """Make `folder` hold these files and no others."""
    for path in folder.rglob("*"):
        if path.is_file() and str(path.relative_to(folder)) not in files:
            path.unlink()
    for file, content in files.items():
        path = folder / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder
