"""`fishplate tonight`: an evening on the command line and on paper."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fishplate.build import format_document
from fishplate.cli import cli
from fishplate.starters import demo_as_of, load_demo


@pytest.fixture
def document(tmp_path: Path) -> Path:
    path = tmp_path / "van.json"
    path.write_text(format_document(load_demo()), encoding="utf-8")
    return path


def run(*arguments: object) -> str:
    found = CliRunner().invoke(cli, ["tonight", *map(str, arguments), "--as-of", demo_as_of().isoformat()])
    assert found.exit_code == 0, found.output
    return found.output


def test_an_evening_is_told_in_a_sentence_with_what_to_lay_out(document: Path) -> None:
    said = run(document, 90, "--helper")
    assert said.startswith(("Do “", "Go on with “", "Finish “", "Take “", "Begin “"))
    assert "Lay out:" in said
    assert "this is no approval" in said


def test_programs_read_the_same_evening(document: Path) -> None:
    told = json.loads(run(document, 240, "--helper", "--json"))
    assert sum(job["minutes"] for job in told["jobs"]) + told["minutes_left"] == pytest.approx(240)
    assert {"parts", "used_up", "tools", "steps", "stops"} == set(told["jobs"][0]["laid"])
    assert all(item["text"] for job in told["jobs"] for item in job["evidence"])


def test_without_the_welder_nothing_is_welded_and_what_is_left_out_says_so(document: Path) -> None:
    told = json.loads(run(document, 120, "--no-welder", "--without", "hoist", "--json"))
    build = load_demo()
    assert not any({"welder", "hoist"} & set(build.find("jobs", job["job"]).tools) for job in told["jobs"])
    assert any("the welder" in item["wants"] for item in told["left_out"])


def test_the_shop_sheet_is_written_whole_and_fetches_nothing(document: Path, tmp_path: Path) -> None:
    paper = tmp_path / "sheet.html"
    run(document, 240, "--paper", paper)
    text = paper.read_text(encoding="utf-8")
    for words in ("Shop sheet:", "Hours worked", "Hours left", "Lay out"):
        assert words in text
    assert "http" not in text
    assert "<script" not in text
