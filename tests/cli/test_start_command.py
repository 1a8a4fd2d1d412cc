"""`fishplate start`: shown first, written once, nothing twice."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from fishplate.build import Build
from fishplate.build.parts import Part
from fishplate.cli import main
from fishplate.cli.start_command import LISTS
from fishplate.starters.matching import MATCHED
from fishplate.store import BuildFile
from fishplate.web.starting import HEADS
from fishplate.wiring import read_build

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def running(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            main(["start", *(str(argument) for argument in arguments)])
        out, err = capsys.readouterr()
        return int(left.value.code or 0), out, err

    return running


def test_without_a_name_the_starters_are_listed(run: Run) -> None:
    status, out, _ = run()
    assert status == 0
    assert "engine-swap: Engine swap in a unibody" in out
    assert "interfaces" in out


def test_it_is_shown_before_it_is_written_and_a_second_time_adds_nothing(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "van.fishplate"
    status, out, _ = run("body-and-paint", "--into", file)
    assert status == 0
    assert "Nothing is written yet." in out
    assert re.search(r"\d criteria, ", out)
    assert not file.exists()
    assert "Done:" in run("body-and-paint", "--into", file, "--yes")[1]
    assert len(read_build(file).jobs) == 36
    assert "Nothing would change." in run("body-and-paint", "--into", file, "--yes")[1]


def test_what_is_the_same_is_told_and_can_be_held_apart(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "van.fishplate"
    run("engine-swap", "--into", file, "--yes")
    status, out, _ = run("brakes-suspension-wheels", "--into", file, "--dry-run", "--json")
    data = json.loads(out)
    assert status == 0
    assert not data["written"]
    assert "inspection" in {each["own"] for each in data["same"] if each["list"] == "jobs"}
    assert {"job": "Inspection, papers and insurer", "new": "Brakes bedded in and tried, nuts torqued again"} in data[
        "waiting"
    ]


def test_what_may_be_the_same_is_asked_and_taken_where_it_is_said(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "van.fishplate"
    part = Part(id="own-master", name="Tandem master cylinder")
    BuildFile.create(file, Build(name="Van", parts=(part,)), author="me", message="begun")
    key = "parts:new-master"
    out = run("brakes-suspension-wheels", "--into", file, "--dry-run")[1]
    assert "The same part?" in out
    data = json.loads(run("brakes-suspension-wheels", "--into", file, "--dry-run", "--json")[1])
    assert [(each["list"], each["own"]) for each in data["asked"] if each["id"] == "new-master"] == [
        ("parts", "own-master")
    ]
    assert "new-master" in {each["id"] for each in data["added"]}
    data = json.loads(run("brakes-suspension-wheels", "--into", file, "--same", key, "--dry-run", "--json")[1])
    assert "new-master" not in {each["id"] for each in data["added"]}
    assert ("new-master", "own-master", "as you say") in {(x["id"], x["own"], x["how"]) for x in data["same"]}


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [(["boat"], 1, "no such starter"), (["engine-swap", "--into", "x.fishplate", "--apart", "jobs"], 2, "LIST:ID")],
)
def test_what_is_not_there_is_refused(run: Run, arguments: list[str], status: int, said: str) -> None:
    code, _, err = run(*arguments)
    assert code == status
    assert said in err


def test_every_list_a_starter_brings_has_a_name_in_command_and_page() -> None:
    assert set(MATCHED) == set(LISTS) == set(HEADS)
