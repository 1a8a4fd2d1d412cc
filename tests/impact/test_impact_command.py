"""`fishplate impact`"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.cli import main
from fishplate.cli.impact_command import command

BUILD: dict[str, Any] = {
    "name": "Van",
    "parts": [{"id": "steering-rack", "name": "Steering rack"}],
    "suppliers": [{"id": "s", "name": "S", "country": "GB", "currency": "GBP"}],
    "offers": [
        {
            "id": "rack-a", "supplier": "s", "part": "steering-rack", "price": {"amount": "400", "currency": "GBP"},
            "made_to_order": True,
        }
    ],
    "rates": [{"currency": "GBP", "rate": 1.25, "day": "2026-03-01", "source": "example"}],
    "events": [
        {
            "kind": "ordered", "id": "o", "day": "2026-02-20", "supplier": "s",
            "lines": [{"offer": "rack-a", "price": {"amount": "400", "currency": "GBP"}}],
        }
    ],
    "dimensions": [{"id": "rack_length", "name": "Rack length", "part": "steering-rack"}],
}  # fmt: skip


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "build.json"
    path.write_text(json.dumps(BUILD), encoding="utf-8")
    return path


def run(file: Path, *arguments: str) -> str:
    result = CliRunner().invoke(command, [str(file), *arguments, "--as-of", "2026-03-02"])
    assert result.exception is None, result.output
    return result.output


def test_json_has_the_documented_keys(file: Path) -> None:
    found = json.loads(run(file, "part:steering-rack", "--json"))
    assert list(found) == [
        "as_of", "target", "currency", "changes", "parts", "to_buy", "prices", "jobs", "more_hours", "stale",
        "readings", "interfaces", "releases", "decisions", "groups", "following", "waiting", "orders", "offers",
        "dates", "whole", "money", "hours", "cautions", "text", "assumptions",
    ]  # fmt: skip
    assert list(found["parts"][0]) == ["part", "fate", "quantity", "until", "loss", "certain", "text"]
    for key in (*found, *found["parts"][0]):
        assert key in (command.help or "")


def test_the_owners_rate_turns_the_loss_into_home_currency(file: Path) -> None:
    found = json.loads(run(file, "part:steering-rack", "--json"))
    assert found["parts"][0]["fate"] == "lost"
    assert found["money"] == {"low": 500.0, "likely": 500.0, "high": 500.0}


def test_a_name_serves_as_well_as_an_id(file: Path) -> None:
    assert run(file, "dimension:Rack length").startswith("If the dimension “Rack length” changes: ")


def test_an_end_or_a_change_of_anything_is_followed(file: Path) -> None:
    found = json.loads(run(file, "supplier:S", "--json"))
    assert [(item["part"], item["quantity"], item["soonest"]) for item in found["to_buy"]] == [
        ("steering-rack", 1, None)
    ]
    assert "does not come any more" in run(file, "order:o")
    said = run(file, "--change", "delay:o=2026-05-01", "--change", "hours=4")
    assert said.startswith("Your hours per week: 4, not none. On 2 March 2026 an order comes on another day.")
    assert "promised for 1 May 2026" in said


@pytest.mark.parametrize(
    ("thing", "words"),
    [
        ("part:stering-rack", "there is no such part ('stering-rack'). Near: steering-rack."),
        ("dimension:zzz", "there is no such dimension ('zzz'). None of the build's dimensions is near."),
        ("job:weld", "there is no such job ('weld'). None of the build's jobs is near."),
        (
            "colour:red",
            "not a thing whose change can be followed ('colour:red'). Write part:ID, dimension:ID, decision:ID,",
        ),
        ("steering-rack", "workshop:ID or state:ID, or say it with --change."),
    ],
)
def test_what_is_not_there_is_refused_with_near_names(
    file: Path, thing: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(["impact", str(file), thing])
    assert left.value.code == 1
    assert words in capsys.readouterr().err
