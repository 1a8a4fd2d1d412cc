"""`fishplate work`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from work_builds import build_of, job

from fishplate.build import Build, format_document
from fishplate.build.jobs import Gate
from fishplate.build.owner import Owner
from fishplate.build.parts import Part, Phase
from fishplate.cli.work_command import command


def call(tmp_path: Path, build: Build, *options: str) -> Result:
    file = tmp_path / "build.json"
    file.write_text(format_document(build), encoding="utf-8")
    return CliRunner().invoke(command, [str(file), "--as-of", "2026-03-02", "--runs", "200", *options])


BUILD = build_of(
    job("lines", 3, hazards=("brakes",), tools=("flaring tool",)),
    job("fit", 4, "lines", to_keep=("rack",)),
    name="Van",
)


def test_answers_in_sentences_with_dates_stalls_tonight_and_what_was_taken_for_granted(tmp_path: Path) -> None:
    said = call(tmp_path, BUILD, "--hours", "1.5").output
    assert "Van, as of 2 March 2026" in said
    assert "P50" in said
    assert "March 2026: " in said
    assert "waiting most for Rack" in said
    assert "Lines: about 3 h left" in said
    assert "1.5 h tonight move it on" in said
    assert "flaring tool" in said
    assert "inspected before the vehicle moves" in said
    assert "Taken for granted:" in said


def test_json_has_the_documented_keys(tmp_path: Path) -> None:
    data = json.loads(call(tmp_path, BUILD, "--json").output)
    documented = (command.help or "").split("Keys of --json:")[1]
    for key in data:
        assert key in documented
    assert list(data) == [
        "as_of", "runs", "horizon_weeks", "finish", "unfinished_share", "stalls", "standing", "ready", "critical",
        "decided_by", "never", "impossible", "gates", "withdrawals", "progress", "worth", "assumptions",
    ]  # fmt: skip
    assert list(data["finish"]) == ["p10", "p50", "p80", "p95"]
    assert set(data["finish"]["p50"]) == {"week", "date"}
    assert set(data["ready"][0]) == {
        "job", "hours_left", "until", "unlocks", "tools", "second_person", "cautions", "text"
    }  # fmt: skip


def test_same_seed_gives_the_same_words(tmp_path: Path) -> None:
    assert call(tmp_path, BUILD).output == call(tmp_path, BUILD).output
    assert call(tmp_path, BUILD).output != call(tmp_path, BUILD, "--seed", "2").output


def test_finish_beyond_the_horizon_is_said_and_null(tmp_path: Path) -> None:
    build = build_of(job("weld", 3), owner=Owner(hours_per_week=0))
    assert "beyond 520 weeks" in call(tmp_path, build).output
    assert "the owner has no hours at all" in call(tmp_path, build).output
    data = json.loads(call(tmp_path, build, "--json").output)
    assert data["finish"]["p50"] is None
    assert data["unfinished_share"] == 1


def test_list_of_parts_by_phase_is_enough(tmp_path: Path) -> None:
    build = Build(parts=(Part(id="rack", name="Rack", phase=Phase.ASSEMBLY),))
    said = call(tmp_path, build).output
    assert "one job a phase" in said
    assert "P95" in said


def test_empty_build_has_nothing_left_to_do(tmp_path: Path) -> None:
    result = call(tmp_path, Build())
    assert result.exit_code == 0
    assert "No jobs are left to do" in result.output


@pytest.mark.parametrize("options", [("--runs", "0"), ("--hours", "-1"), ("--as-of", "tomorrow")])
def test_misuse_is_refused(tmp_path: Path, options: tuple[str, str]) -> None:
    assert call(tmp_path, BUILD, *options).exit_code == 2


def test_worth_gates_and_what_is_impossible_are_told(tmp_path: Path) -> None:
    gate = Gate(id="dry", name="Dry build", kind="dry-build", after=("lines",), before=("fit",))
    build = BUILD.model_copy(update={"gates": (gate,), "owner": Owner(hours_per_week=7, lifts=0)})
    jobs = tuple(each.model_copy(update={"lift": True}) if each.id == "fit" else each for each in build.jobs)
    said = call(tmp_path, build.model_copy(update={"jobs": jobs}), "--worth").output
    assert "Dry build: still to be done: “Lines”." in said
    assert "there is no lift, and this job needs one: “Fit”" in said
    assert "An hour more a week: no sooner" in said
    data = json.loads(call(tmp_path, build, "--worth", "--json").output)
    assert [item["what"] for item in data["worth"]] == ["hour"]
    assert data["gates"] == [{"gate": "dry", "open": False, "text": "Dry build: still to be done: “Lines”."}]
