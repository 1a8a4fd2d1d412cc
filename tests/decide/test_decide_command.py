"""`fishplate decide`"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.build import Refused
from fishplate.cli.decide_command import command

BUILD: dict[str, Any] = {
    "name": "Van",
    "decisions": [
        {"id": "tyre", "name": "Tyre size", "options": [{"id": "big", "name": "Big"}]},
        {"id": "wheel", "name": "Wheels", "options": [{"id": "steel", "name": "Steel"}]},
        {"id": "roof", "name": "Roof", "options": [{"id": "high", "name": "High"}], "chosen": "high"},
    ],
    "edges": [
        {"source": "tyre", "target": "wheel", "strength": "fixes"},
        {"source": "wheel", "target": "tyre", "strength": "limits"},
    ],
    "jobs": [
        {
            "id": "strip", "name": "Strip", "phase": "strip", "hours": {"low": 20, "likely": 25, "high": 40},
        },
        {
            "id": "arch", "name": "Arch work", "phase": "structure", "hours": {"low": 4, "likely": 8, "high": 12},
            "after": [{"job": "strip"}], "decisions": ["wheel"],
        },
    ],
}  # fmt: skip


def run(tmp_path: Path, build: dict[str, Any], *arguments: str) -> str:
    file = tmp_path / "build.json"
    file.write_text(json.dumps(build), encoding="utf-8")
    result = CliRunner().invoke(command, [str(file), "--as-of", "2026-03-02", *arguments])
    assert result.exception is None, result.output
    return result.output


def test_json_has_the_documented_keys(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, BUILD, "--json"))
    assert list(found) == ["as_of", "risk", "decisions", "blocks", "tears", "problems", "assumptions"]
    assert list(found["decisions"][0]) == [
        "decision", "name", "rank", "decided", "leading", "assumed", "block", "assumes", "by_week", "by", "free_until",
        "because", "by_risk", "open", "hangs", "holds_offers", "holds_jobs", "modelled_week", "text",
    ]  # fmt: skip
    for key in (*found, *found["decisions"][0]):
        assert key in (command.help or "")


def test_the_work_engine_dates_the_decisions(tmp_path: Path) -> None:
    found = {item["decision"]: item for item in json.loads(run(tmp_path, BUILD, "--json"))["decisions"]}
    # 25 hours at 5 a week come before the arch work: some weeks are left, less a week of thinking each
    assert found["wheel"]["by_week"] > 1
    assert found["tyre"]["by_week"] == found["wheel"]["by_week"] - 1
    assert found["roof"]["rank"] == 0


def test_sentences_and_assumptions_are_shown(tmp_path: Path) -> None:
    text = run(tmp_path, BUILD)
    assert "Decide “Tyre size” by" in text
    assert "“Tyre size” and “Wheels” form a loop" in text
    assert "Roof" not in text


def test_a_build_without_decisions_says_so(tmp_path: Path) -> None:
    assert run(tmp_path, {"name": "Van"}) == "This build names no decisions.\n"


def test_when_all_is_decided_it_says_so(tmp_path: Path) -> None:
    assert "Every decision is taken." in run(tmp_path, {"name": "Van", "decisions": BUILD["decisions"][2:]})


CHOICES: dict[str, Any] = {
    "criteria": [{"id": "lasts", "name": "Lasts"}, {"id": "cost", "name": "Cost", "measured": "money"}],
    "dimensions": [{"id": "height", "name": "Tyre height"}, {"id": "room", "name": "Room in the arch"}],
    "readings": [{"id": "r1", "dimension": "room", "value": 730, "spread": 2, "day": "2026-01-05"}],
    "interfaces": [{"id": "arch", "name": "Tyre in the arch"}],
    "conditions": [
        {"id": "clears", "interface": "arch", "name": "The tyre clears", "expression": "room - height",
         "at_least": "10 mm"},
    ],
    "decisions": [
        {"id": "tyre", "name": "Tyre", "leading": "slim", "options": [
            {"id": "slim", "name": "Slim", "conditions": ["clears"], "dimensions": [
                {"dimension": "height", "value": 700, "spread": 3}],
             "scores": [{"criterion": "lasts", "points": {"low": 40, "likely": 50, "high": 60}}]},
            {"id": "tall", "name": "Tall", "conditions": ["clears"], "dimensions": [
                {"dimension": "height", "value": 760, "spread": 3}],
             "scores": [{"criterion": "lasts", "points": {"low": 70, "likely": 80, "high": 90}}]},
        ]},
        {"id": "hub", "name": "Hub", "leading": "plain", "options": [
            {"id": "plain", "name": "Plain"}, {"id": "heavy", "name": "Heavy"}, {"id": "light", "name": "Light"}]},
    ],
    "rules": [{"option": "heavy", "also": ["slim"], "excludes": "slim", "why": "It would spin the tyre."},
              {"option": "light", "requires": "tall"}],
}  # fmt: skip


def test_a_condition_that_does_not_fit_is_named_where_it_stands_against_a_wish(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, CHOICES, "--want", "light", "--json"))
    assert found["possible"] is False
    assert found["fault"] == [
        "“Light” needs “Tall”.",
        "Tyre in the arch: the tyre clears does not fit with “Tall”.",
    ]
    text = run(tmp_path, CHOICES, "--want", "tall")
    assert text.startswith("“Tall” can't be. Together these are against it, and no fewer are:\n")


def test_configurations_leave_out_what_can_t_be(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, CHOICES, "--configurations", "--json"))
    assert (found["count"], found["complete"]) == (1, True)
    assert [item["options"] for item in found["frontier"]] == [["slim", "plain"]]
    assert found["against_now"] == []
    assert "1 choice of 1 that is possible" in run(tmp_path, CHOICES, "--configurations")


def test_one_decision_is_weighed(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, CHOICES, "--weigh", "tyre", "--json"))
    assert [item["option"] for item in found["options"]] == ["tall", "slim"]
    assert found["options"][0]["ranks"] == [1, 0]
    assert "“Tall” comes first whatever" in run(tmp_path, CHOICES, "--weigh", "tyre")


@pytest.mark.parametrize("arguments", [("--want", "none-such"), ("--weigh", "none-such")])
def test_what_there_is_not_is_refused_with_what_there_is(tmp_path: Path, arguments: tuple[str, str]) -> None:
    path = tmp_path / "build.json"
    path.write_text(json.dumps(CHOICES), encoding="utf-8")
    result = CliRunner().invoke(command, [str(path), *arguments])
    assert isinstance(result.exception, Refused)
    assert "none-such" in str(result.exception)
    assert "tyre" in str(result.exception) or "slim" in str(result.exception)


def test_a_lower_risk_dates_a_decision_sooner(tmp_path: Path) -> None:
    days = [
        json.loads(run(tmp_path, BUILD, "--json", "--risk", risk))["decisions"][0]["by_week"]
        for risk in ("0.02", "0.5")
    ]
    assert days[0] < days[1]
