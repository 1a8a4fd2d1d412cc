"""`fishplate schedule`: words, JSON, and what is kept in the build file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.cli.schedule_command import command
from fishplate.starters import load_demo
from fishplate.store import BuildFile
from fishplate.store.schedules import dump_schedule, kept_schedules, load_schedule
from fishplate.wiring import read_build

FIRST, NEXT = "2026-03-02", "2026-03-23"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo build in a file of its own."""
    path = tmp_path_factory.mktemp("schedule") / "demo.fishplate"
    BuildFile.create(path, load_demo(), author="anna@bench", message="started")
    return path


def small(tmp_path: Path) -> Path:
    """Two jobs in a file."""
    points = {"low": 7, "likely": 7, "high": 7}
    jobs = [
        {"id": "strip", "name": "Strip", "phase": "strip", "hours": points},
        {"id": "weld", "name": "Weld", "phase": "structure", "hours": points, "after": [{"job": "strip"}]},
    ]
    path = tmp_path / "van.json"
    path.write_text(json.dumps({"name": "Van", "owner": {"hours_per_week": 7}, "jobs": jobs}), encoding="utf-8")
    return path


def run(path: Path, *arguments: str) -> str:
    result = CliRunner().invoke(command, [str(path), *arguments])
    assert result.exception is None, result.output
    return result.stdout


def test_weeks_are_said_in_sentences(tmp_path: Path) -> None:
    said = run(small(tmp_path), "--as-of", FIRST)
    assert said.startswith("Van, from 2 March 2026\n\nAll is done by ")
    assert "No order of the work is better: that is proven." in said
    assert "Where it stalls:\n  Nowhere." in said
    assert "  2 March 2026 to 8 March, 7 h\n    Begin “Strip”: 7 h of " in said
    assert "What moved" not in said


def test_json_has_the_same(tmp_path: Path) -> None:
    found: dict[str, Any] = json.loads(run(small(tmp_path), "--as-of", FIRST, "--json"))
    assert [item["job"] for item in found["jobs"]] == ["strip", "weld"]
    assert found["jobs"][1]["opener"]["id"] == "strip"
    assert found["weeks"][0]["first"] == "2026-03-02"
    assert found["weeks"][0]["jobs"][0]["begins"] is True
    assert found["bound"].endswith("proven.")
    assert found["faults"] == []


def test_a_day_that_can_not_be_met_is_a_result_with_what_holds_it(tmp_path: Path) -> None:
    said = run(small(tmp_path), "--as-of", FIRST, "--by", "2026-03-05")
    assert "No schedule exists" in said
    assert "All is to be done by 5 March 2026. Give it a later day." in said


def test_the_same_day_gives_the_same_again(tmp_path: Path) -> None:
    build = read_build(small(tmp_path))
    path = tmp_path / "van.fishplate"
    BuildFile.create(path, build, author="anna@bench", message="started")
    first = json.loads(run(path, "--as-of", FIRST, "--json"))
    again = json.loads(run(path, "--as-of", FIRST, "--json"))
    assert again["changes"] == []
    assert again["starts"] == first["starts"]


def test_the_demo_is_scheduled_kept_and_compared(demo: Path) -> None:
    assert "Taken for granted:" in run(demo, "--as-of", FIRST, "--all", "--effort", "0.3")
    assert "What moved since 2 March 2026:" in run(demo, "--as-of", NEXT, "--effort", "0.3")
    last, baseline = kept_schedules(BuildFile.open(demo))
    assert last is not None
    assert baseline is not None
    assert (last.as_of.isoformat(), baseline.as_of.isoformat()) == (NEXT, FIRST)
    assert load_schedule(dump_schedule(last)) == last
    assert load_schedule(b"{}") is None
    run(demo, "--as-of", NEXT, "--by", "2030-01-01", "--effort", "0.3")
    assert kept_schedules(BuildFile.open(demo))[0] == last
