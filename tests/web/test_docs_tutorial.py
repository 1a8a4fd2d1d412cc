"""The tutorial is walked from its first line to its last: every command with its answer, every page with its fields."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from serving import IdleRunner
from walking import Person

from fishplate.cli import cli
from fishplate.web import create_app

TUTORIAL = Path(__file__).parents[2] / "docs" / "tutorial.md"
STEP = re.compile(r"^```(console|csv|page) ?(\S*)\n(.*?)^```$|^<!-- day (\S+) -->$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Step:
    """A block of the tutorial: its kind, what stands behind the kind, and what it holds; or a day."""

    kind: str
    name: str
    text: str


def steps() -> Iterator[Step]:
    for kind, name, text, day in STEP.findall(TUTORIAL.read_text(encoding="utf-8")):
        yield Step(kind or "day", name or day, text)


def tells(wanted: str, output: str) -> bool:
    """Whether the output holds what is wanted, piece by piece in its order; pieces are parted by three dots."""
    rest = " ".join(output.split())
    for piece in (" ".join(each.split()) for each in wanted.split("...")):
        _, found, rest = rest.partition(piece) if piece else ("", "-", rest)
        if not found:
            return False
    return True


def run_command(text: str) -> None:
    line, _, wanted = text.partition("\n")
    result = CliRunner().invoke(cli, shlex.split(line.removeprefix("$ fishplate ")))
    assert result.exit_code == 0, f"{line}: {result.output}"
    if not tells(wanted, result.output):
        pytest.fail(f"{line}\nas the tutorial has it:\n{wanted}\nas it is:\n{result.output}", pytrace=False)


def walk_page(file: Path, text: str, day: date) -> None:
    lines, _, said = text.strip().rpartition("\n> ")
    app = create_app(file, today=lambda: day, author="you", runner=IdleRunner(), quiet_seconds=3600)
    with TestClient(app, base_url="http://127.0.0.1:8137") as client:
        client.get("/")
        words = Person(client).does(lines)
    assert said in words, f"{lines}\nthe page does not say: {said}\nit says: {words}"


def test_the_tutorial_tells_what_the_program_does(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    day = date(2027, 3, 1)
    seen = set()
    for step in steps():
        seen.add(step.kind)
        if step.kind == "csv":
            Path(step.name).write_text(step.text, encoding="utf-8")
        elif step.kind == "day":
            day = date.fromisoformat(step.name)
        elif step.kind == "console":
            run_command(step.text)
        else:
            walk_page(Path("van.fishplate"), step.text, day)
    assert seen == {"csv", "day", "console", "page"}


def test_an_answer_that_differs_is_noticed() -> None:
    assert tells("a ... d\ne", "a b\nc d e")
    assert not tells("a ... d f", "a b c d e")
    assert not tells("d ... a", "a b c d")


def test_no_block_of_the_tutorial_is_passed_over() -> None:
    fences = re.findall(r"^```(\w+)", TUTORIAL.read_text(encoding="utf-8"), re.MULTILINE)
    assert len(fences) == sum(step.kind != "day" for step in steps())
