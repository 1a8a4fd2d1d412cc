"""`fishplate prices`"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from fishplate.cli.prices_command import command


def run(tmp_path: Path, *arguments: str, **lists: Any) -> str:
    file = tmp_path / "build.json"
    data = {
        "name": "Van",
        "parts": [{"id": "rack", "name": "Steering rack"}, {"id": "tyre", "name": "Tyre", "category": "tyres"}],
        "suppliers": [{"id": "s", "name": "North parts", "country": "DE", "currency": "EUR"}],
        "offers": [
            {
                "id": "rack-a", "supplier": "s", "part": "rack", "price": {"amount": "400", "currency": "EUR"},
                "seen": "2026-03-01", "lead_weeks": {"low": 1, "likely": 2, "high": 3}, "returns": {"days": 14},
            }
        ],
        "sale_windows": [
            {
                "id": "spring", "supplier": "s", "first": "2026-03-30", "last": "2026-04-05", "chance": 0.8,
                "depth_percent": {"low": 15, "likely": 20, "high": 25},
            }
        ],
        **lists,
    }  # fmt: skip
    file.write_text(json.dumps(data), encoding="utf-8")
    result = CliRunner().invoke(command, [str(file), "--as-of", "2026-03-02", *arguments])
    assert result.exception is None, result.output
    return result.output


def test_json_has_the_documented_keys(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, "--json"))
    assert list(found) == ["as_of", "currency", "offers", "ready_to_buy", "check_again", "assumptions"]
    (offer,) = found["offers"]
    assert list(offer) == [
        "offer", "name", "supplier", "currency", "now", "seen_on", "today", "drift_yearly", "expected", "advice",
        "triggers", "trigger", "wait_until", "bought_by", "last_safe", "needed_on", "chance_to_see", "regret", "units",
        "expected_saving", "held_triggers", "held_saving", "grounds", "outlook", "text",
    ]  # fmt: skip
    assert list(found["ready_to_buy"][0]) == [
        "key", "kind", "supplier", "first", "last", "offers", "decide", "measure", "fund", "saving", "text", "chance",
        "depth", "ground",
    ]  # fmt: skip
    assert list(found["assumptions"][0]) == ["code", "about", "text"]
    for key in (*found, *offer):
        assert key in (command.help or "")


def test_prices_lead_time_and_return_terms_are_enough(tmp_path: Path) -> None:
    """No jobs, no phases, no dates: the sale is still waited for."""
    found = json.loads(run(tmp_path, "--json"))
    (offer,) = found["offers"]
    assert offer["advice"] in ("wait", "buy at the trigger")
    assert offer["wait_until"] == "2026-03-30"
    assert offer["expected_saving"] > 50
    assert offer["needed_on"] is None
    assert "need-date-open" in {note["code"] for note in found["assumptions"]}


def test_a_phase_gives_a_date_and_a_last_safe_week(tmp_path: Path) -> None:
    parts = [{"id": "rack", "name": "Steering rack", "phase": "define"}]
    (offer,) = json.loads(run(tmp_path, "--json", parts=parts))["offers"]
    # needed at once: nothing to wait for
    assert offer["needed_on"] is not None
    assert (offer["advice"], offer["last_safe"]) == ("buy now", "2026-03-02")


def test_what_cannot_go_back_is_said_so(tmp_path: Path) -> None:
    offers = [
        {
            "id": "rack-a", "supplier": "s", "part": "rack", "price": {"amount": "400", "currency": "EUR"},
            "seen": "2026-03-01", "made_to_order": True,
        }
    ]  # fmt: skip
    text = run(tmp_path, offers=offers, sale_windows=[])
    assert "no hurry" in text
    assert "It can't go back" in text
    assert "can go back later" not in text


def test_what_is_owned_needs_no_advice(tmp_path: Path) -> None:
    stock = [{"id": "have", "part": "rack"}]
    assert "No offer is known for a part that is missing" in run(tmp_path, stock=stock)


def test_the_table_and_sentences_are_for_people(tmp_path: Path) -> None:
    text = run(tmp_path)
    assert "rack-a" in text
    assert "Before a sale or a rise" in text
    assert "Sale at North parts from 30 March 2026 (chance 80 %)" in text
    assert "Taken for granted" in text
    assert "Chance that it is regretted: " in text
