"""`fishplate fit`"""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.cli.fit_command import command

DOCUMENT = {
    "interfaces": [
        {"id": "arch", "name": "Tyre in arch"},
        {"id": "hose", "name": "Brake hose", "hazards": ["brakes"]},
    ],
    "dimensions": [{"id": "gap", "name": "Gap at full bump"}, {"id": "slack", "name": "Slack of the hose"}],
    "readings": [
        {"id": "r", "dimension": "gap", "value": 12, "spread": 5, "day": "2026-01-10", "provenance": "estimate"}
    ],
    "conditions": [
        {"id": "c1", "interface": "arch", "name": "Clearance", "expression": "gap", "at_least": "10 mm"},
        {"id": "c2", "interface": "hose", "name": "Slack", "expression": "slack", "at_least": "20 mm",
         "consequence": "hazard"},
    ],
}  # fmt: skip


def run(tmp_path: Path, *options: str, document: dict[str, Any] = DOCUMENT) -> tuple[int, str]:
    path = tmp_path / "build.json"
    path.write_text(json.dumps(document))
    result = CliRunner().invoke(command, [str(path), "--as-of", "2026-03-01", *options])
    return result.exit_code, result.output


def test_verdicts_stand_under_their_words_and_the_worst_first(tmp_path: Path) -> None:
    status, text = run(tmp_path)
    assert status == 0
    lines = text.splitlines()
    assert lines.index("Not known") < lines.index("In doubt") < lines.index("What to measure, best first")
    assert "  Tyre in arch: in doubt, 70 % chance that it holds." in lines
    assert any(line.startswith("  Brakes: the maker's figures win") for line in lines)
    said = "  Measure the slack of the hose with the tape: 20 minutes, expected to save"
    assert any(line.startswith(said) for line in lines)


def test_json_has_the_documented_keys(tmp_path: Path) -> None:
    _, text = run(tmp_path, "--json")
    data = json.loads(text)
    assert list(data) == [
        "as_of", "conditions", "interfaces", "measures", "misfit_chance", "assumptions", "samples", "seed", "chance",
        "standard_error", "looks",
    ]  # fmt: skip
    assert all(key in (command.help or "") for key in data)
    assert set(data["conditions"][0]) >= {
        "condition", "interface", "verdict", "chance", "standard_error", "unit", "nominal", "at_least", "at_most",
        "margin_p05", "margin_p50", "margin_p95", "worst_low", "worst_high", "worst_method", "rss", "shares",
        "default_share", "missing", "stale", "misfit_cost", "text",
    }  # fmt: skip
    assert set(data["interfaces"][0]) >= {
        "interface", "verdict", "chance", "standard_error", "conditions", "missing", "stale", "settled",
        "verify_on_vehicle", "text",
    }  # fmt: skip
    assert set(data["measures"][0]) == {
        "dimension", "minutes", "value", "interfaces", "blocked_by_part", "blocked_by_job", "stand_in", "text",
        "cost", "net", "means", "instrument", "needed", "instruments",
    }  # fmt: skip
    assert data["conditions"][1]["chance"] is None


def test_one_interface_can_be_asked_for(tmp_path: Path) -> None:
    _, text = run(tmp_path, "--interface", "arch")
    assert "Tyre in arch" in text
    assert "hose" not in text


def test_one_interface_says_its_worst_case_and_what_makes_it_fail(tmp_path: Path) -> None:
    data = {
        "interfaces": [{"id": "arch", "name": "Tyre in arch"}],
        "dimensions": [{"id": name, "name": name.capitalize()} for name in ("height", "radius", "play")],
        "readings": [
            {"id": f"r{name}", "dimension": name, "value": value, "spread": spread, "day": "2026-01-05"}
            for name, value, spread in (("height", 400, 6), ("radius", 370, 3), ("play", 1, 1))
        ],
        "conditions": [
            {"id": "c1", "interface": "arch", "name": "Clearance", "expression": "height - radius - 2 * play",
             "at_least": "radius / 14"},
            {"id": "c2", "interface": "arch", "name": "Ratio", "expression": "height / play", "at_least": "10"},
        ],
    }  # fmt: skip
    _, text = run(tmp_path, "--interface", "arch", document=data)
    # the limit moves with the radius: the least margin is 394 - 4 - 373 * 15 / 14, by hand
    assert "lies between 17 and 39 mm; at worst 9.64 mm too little." in text
    assert "Of whether it fails, " in text
    assert "lies with the height" in text
    assert "nothing holds it: something is divided by nought" in text


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--minutes", "nan"), "'nan' is not a figure"),
        (("--money", "inf"), "'inf' is not a figure"),
        (("--budget", "c1", "--chance", "nan"), "'nan' is not a figure"),
        (("--seed", "-5"), "-5 is not in the range x>=0"),
    ],
)
def test_what_is_no_figure_is_misuse(tmp_path: Path, options: tuple[str, ...], words: str) -> None:
    status, text = run(tmp_path, *options)
    assert status == 2
    assert words in text


def test_an_interface_that_is_not_there_is_misuse(tmp_path: Path) -> None:
    status, text = run(tmp_path, "--interface", "attic")
    assert status == 2
    assert "has no interface 'attic'; it has: arch, hose" in text


def test_seed_and_samples_are_taken(tmp_path: Path) -> None:
    data = json.loads(run(tmp_path, "--json", "--seed", "7", "--samples", "5000")[1])
    assert (data["seed"], data["samples"]) == (7, 5000)


def test_a_build_without_interfaces_is_told_what_to_add(tmp_path: Path) -> None:
    status, text = run(tmp_path, document={"name": "Van"})
    assert (status, text) == (0, "No interface is listed. Add the places where parts meet, and what must hold there.\n")


@pytest.mark.parametrize("words", ["100 %", " 0 %", "100.0 %"])
def test_no_chance_is_shown_as_certain_that_is_not(tmp_path: Path, words: str) -> None:
    reading = {"id": "r", "dimension": "gap", "value": 90, "spread": 2, "spread_means": "standard-deviation",
               "day": "2026-01-10"}  # fmt: skip
    for value in (90, -90):
        _, text = run(tmp_path, document={**DOCUMENT, "readings": [{**reading, "value": value}]})
        assert words not in text


@pytest.mark.parametrize(
    ("value", "words"),
    [(90, "holds together, and nothing in it is in doubt."), (-90, "Not everything that can be worked out can hold")],
)
def test_what_is_sure_is_said_without_a_chance(tmp_path: Path, value: float, words: str) -> None:
    reading = {"id": "r", "dimension": "gap", "value": value, "spread": 0, "day": "2026-01-10"}
    _, text = run(tmp_path, document={**DOCUMENT, "readings": [reading]})
    assert words in text
    assert " chance." not in text


def test_an_evening_lists_what_to_do_within_its_minutes(tmp_path: Path) -> None:
    status, text = run(tmp_path, "--minutes", "45")
    assert status == 0
    assert text.startswith("2 things in 40 minutes:")
    data = json.loads(run(tmp_path, "--minutes", "20", "--json")[1])
    assert list(data) == [
        "as_of", "measures", "chosen", "value", "cost", "net", "minutes", "money", "bound", "exact", "text",
        "assumptions",
    ]  # fmt: skip
    assert all(key in (command.help or "") for key in data)
    assert data["minutes"] == 20
    assert set(data["measures"][0]) >= {"id", "means", "spreads", "minutes", "money", "value", "cost", "net", "text"}


def test_a_provision_and_a_budget_answer_one_question(tmp_path: Path) -> None:
    _, text = run(tmp_path, "--provision", "gap")
    # 10 mm, and what a tape errs by
    assert text.startswith("Gap at full bump: make it at least 11.")
    data = json.loads(run(tmp_path, "--provision", "gap", "--json")[1])
    assert all(key in (command.help or "") for key in data)
    data = json.loads(run(tmp_path, "--budget", "c1", "--chance", "0.95", "--json")[1])
    assert all(key in (command.help or "") for key in data)
    assert data["chance"] == 0.95
    assert "Clearance: 70 % now; for 95 % know the gap at full bump to" in run(
        tmp_path, "--budget", "c1", "--chance", "0.95"
    )[1]  # fmt: skip


@pytest.mark.parametrize("options", [("--provision", "attic"), ("--budget", "attic")])
def test_what_the_build_does_not_have_is_misuse(tmp_path: Path, options: tuple[str, str]) -> None:
    status, text = run(tmp_path, *options)
    assert status == 2
    assert "'attic'; it has:" in text
