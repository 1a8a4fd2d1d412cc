"""`fishplate decide`"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner

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
    assert list(found) == ["as_of", "decisions", "blocks", "tears", "problems", "assumptions"]
    assert list(found["decisions"][0]) == [
        "decision", "name", "rank", "decided", "leading", "assumed", "block", "assumes", "by_week", "by", "free_until",
        "because", "hangs", "holds_offers", "holds_jobs", "modelled_week", "text",
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
