"""What README and DEVELOPERS show can be typed as it stands."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from bookbuild.cli.parser import make_parser
from bookbuild.lessons.model import KINDS
from bookbuild.lessons.parse import build_groove, parse_tune
from bookbuild.lessons.report import Report
from bookbuild.lessons.yaml_text import load_yaml

ROOT = Path(__file__).parent.parent
TEXTS = {name: (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")}
COMMANDS = sorted({line.strip() for text in TEXTS.values() for line in text.splitlines()
                   if line.startswith("    bookbuild ")})
EXAMPLES = re.findall(r"```yaml\n(.*?)```", TEXTS["README.md"], re.DOTALL)


@pytest.mark.parametrize("line", COMMANDS)
def test_every_command_shown_is_one(line: str) -> None:
    words = shlex.split(line, comments=True)[1:]
    assert make_parser().parse_args(words).command == words[0]


def test_every_command_is_shown() -> None:
    known = re.findall(r"^    ([a-z]+)  ", make_parser().format_help(), re.MULTILINE)
    assert {line.split()[1] for line in COMMANDS} == set(known)


def test_the_example_of_a_tune_is_read() -> None:
    report = Report()
    text = EXAMPLES[0].replace(" | …", "").replace("form: A A B B", "form: A A")
    assert parse_tune(text.encode(), "tide-mill", "tunes/tide-mill.yaml", report) is not None, report.in_order()


def test_the_example_of_a_groove_is_read() -> None:
    report = Report()
    document = load_yaml(EXAMPLES[1].encode(), "grooves/polka.yaml", report)
    assert document is not None
    groove = build_groove("polka", document, report)
    assert groove is not None, report.in_order()
    assert len(groove.strokes) == 4


def test_the_example_of_an_upbeat_and_endings_is_read() -> None:
    report = Report()
    tune = parse_tune(EXAMPLES[2].encode(), "two-ducks", "tunes/two-ducks.yaml", report)
    assert not report.in_order()
    assert tune is not None
    assert len(tune.sections[0].endings) == 2


def test_every_kind_of_exercise_is_named() -> None:
    told = TEXTS["README.md"].split("Exercise kinds:")[1].split(".")[0]
    assert re.findall(r"`([a-z-]+)`", told) == list(KINDS)
