"""`fishplate plan`, `buy`, `what-if` and `demo`: what they say, what they give programs, and how they leave."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import click
import pytest
from plan_builds import build_of, job, offer, part, supplier
from test_repeatable import workshop_build

from fishplate.build import Build, format_document
from fishplate.cli import COMMANDS, SECTIONS, cli, main

AS_OF = ("--as-of", "2026-03-02")


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FISHPLATE_CACHE", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)


def written(tmp_path: Path, build: Build | dict[str, Any] | str, name: str = "build.json") -> str:
    file = tmp_path / name
    text = (
        format_document(build) if isinstance(build, Build) else build if isinstance(build, str) else json.dumps(build)
    )
    file.write_text(text, encoding="utf-8")
    return str(file)


def run(*arguments: str) -> int:
    """Run a command line; returns its exit status."""
    with pytest.raises(SystemExit) as left:
        main(list(arguments))
    return int(left.value.code or 0)


def test_plan_says_what_to_do_first_with_its_reason_and_the_cost_of_waiting(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("plan", written(tmp_path, workshop_build()), *AS_OF) == 0
    said = capsys.readouterr().out
    assert "This week" in said
    assert "  1. " in said
    assert "Waiting costs" in said
    assert "Finish: one chance in ten by" in said
    assert "To order: " in said
    assert "Maker" in said
    assert "Questions worth answering next" in said
    assert "Taken for granted" in said
    assert "declare goods honestly" in said


def test_a_plan_of_a_bare_list_shows_sums_by_supplier_and_no_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    build = build_of(
        suppliers=[supplier("shop"), supplier("maker")], parts=[part("rack"), part("hub")],
        offers=[offer("rack-offer", "rack", "100 EUR"), offer("hub-offer", "hub", "40 EUR", "maker")],
    )  # fmt: skip
    assert run("plan", written(tmp_path, build), *AS_OF) == 0
    said = capsys.readouterr().out
    assert "Nothing has a date yet" in said
    assert "140.00 EUR at the door" in said
    after_head = said.split("\n", 1)[1]
    assert "2026" not in after_head.split("Taken for granted")[0]
    assert run("buy", written(tmp_path, build), *AS_OF) == 0
    assert "not dated, Shop" in capsys.readouterr().out


def test_an_empty_build_is_planned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", written(tmp_path, Build()), *AS_OF) == 0
    assert "Which parts do you know you need" in capsys.readouterr().out
    assert run("buy", written(tmp_path, Build()), *AS_OF) == 0


ONE_KIND: dict[str, dict[str, Any]] = {
    "parts": {"parts": [part("rack")]},
    "jobs": {"jobs": [job("strip", 6)]},
    "suppliers": {"suppliers": [supplier("shop")]},
    "decisions": {"decisions": [{"id": "axle", "name": "Axle", "options": [{"id": "a", "name": "A"}]}]},
    "interfaces": {"interfaces": [{"id": "edge", "name": "Edge"}]},
    "dimensions": {"dimensions": [{"id": "gap", "name": "Gap"}]},
    "routes": {"routes": [{"id": "van", "name": "Van", "kind": "courier", "from_country": "NL"}]},
    "workshops": {"workshops": [{"id": "paint", "name": "Paint shop"}]},
    "systems": {"systems": [{"id": "brakes", "name": "Brakes", "hazards": ["brakes"]}]},
    "states": {"states": [{"id": "up", "name": "On stands"}]},
    "events": {"events": [{"id": "p", "kind": "paid", "day": "2026-02-02", "amount": "20 EUR", "what": "goods"}]},
    "requirements": {"requirements": [{"id": "weld", "name": "Welds seen"}]},
    "criteria": {"criteria": [{"id": "cost", "name": "Cost"}]},
}


@pytest.mark.parametrize("kind", sorted(ONE_KIND))
def test_a_build_of_one_kind_of_noun_works_in_every_command(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = written(tmp_path, build_of(**ONE_KIND[kind], allowances=[]))
    for command in ("plan", "buy", "work", "fit", "landed", "prices", "decide", "check"):
        day = () if command == "check" else AS_OF
        assert run(command, file, *day) == 0, command
        assert capsys.readouterr().err == "", command


def test_json_is_json_and_nothing_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(tmp_path, workshop_build())
    assert run("plan", file, *AS_OF, "--json") == 0
    whole = json.loads(capsys.readouterr().out)
    assert run("buy", file, *AS_OF, "--json") == 0
    assert json.loads(capsys.readouterr().out) == whole["purchase"]


@pytest.mark.parametrize("command", ["plan", "buy", "what-if"])
def test_every_key_of_the_json_is_documented(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(command, written(tmp_path, workshop_build()), *AS_OF, "--json") == 0
    keys = json.loads(capsys.readouterr().out).keys()
    found = cli.get_command(click.Context(cli), command)
    assert found is not None
    documented = {word.strip(",.") for word in (found.help or "").split("JSON keys:")[1].split()}
    assert keys <= documented


def test_the_same_command_line_gives_the_same_words_twice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(tmp_path, workshop_build())
    said = []
    for _ in range(2):
        assert run("plan", file, *AS_OF, "--json") == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]


def test_exact_adds_a_check_beside_the_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(tmp_path, build_of(jobs=[job("strip", 12)]))
    assert run("plan", file, *AS_OF, "--exact") == 0
    assert "Exact check" in capsys.readouterr().out


def test_what_if_shows_both_finishes_and_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(tmp_path, workshop_build())
    before = Path(file).read_bytes()
    assert run("what-if", file, *AS_OF, "--set", "owner.hours_per_week=2", "--decide", "axle=slim") == 0
    said = capsys.readouterr().out
    assert "Even-chance finish comes" in said
    assert "No longer bought: Shaft" in said
    assert Path(file).read_bytes() == before


def test_what_if_of_nothing_moves_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("what-if", written(tmp_path, workshop_build()), *AS_OF, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["finish_days"] == 0
    assert told["money"] == 0
    assert told["moved"] == told["added"] == told["dropped"] == []


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("offers:nothing.price.amount=3", "there is no such field to set"),
        ("offers:hub-offer", "there is no such field to set"),
        ("offers:hub-offer.price.amount=-3", "a price cannot be below zero"),
        ("offers:hub-offer.colour=red", "colour"),
        ("nothing:hub.id=3", "there is no such field to set"),
    ],
)
def test_what_if_refuses_a_field_that_is_not_there_or_a_value_that_can_not_be(
    option: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("what-if", written(tmp_path, workshop_build()), *AS_OF, "--set", option) == 1
    said = capsys.readouterr()
    assert words in said.err
    assert "Traceback" not in said.err


def test_what_if_refuses_an_option_no_decision_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("what-if", written(tmp_path, workshop_build()), *AS_OF, "--decide", "axle=round") == 1
    assert "round" in capsys.readouterr().err


def test_lead_times_and_return_terms_give_trigger_prices(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second level of a first evening: buy or wait, by the price."""
    build = build_of(
        suppliers=[supplier("shop")], parts=[part("rack")],
        offers=[offer("rack-offer", "rack", "300 EUR", lead_weeks=[1, 2, 3])],
        jobs=[job("strip", 60), job("fit", 6, "strip", to_keep=["rack"])],
        sale_windows=[{"id": "s", "supplier": "shop", "first": "2026-03-23", "last": "2026-03-29",
                       "depth_percent": [15, 20, 25], "chance": 0.8}],
    )  # fmt: skip
    file = written(tmp_path, build)
    assert run("prices", file, *AS_OF, "--json") == 0
    (line,) = json.loads(capsys.readouterr().out)["offers"]
    assert line["advice"] in ("wait", "buy at the trigger")
    assert 200 < line["trigger"] < 300
    assert run("plan", file, *AS_OF, "--json") == 0
    plan = json.loads(capsys.readouterr().out)
    assert plan["purchase"]["lines"][0]["order_by"] == "2026-03-23"
    (timing,) = plan["purchase"]["timings"]
    # both say until when it may be waited for, the price as reckoned quickly and the plan with all its draws
    assert abs((date.fromisoformat(timing["last_safe"]) - date.fromisoformat(line["last_safe"])).days) <= 28


def test_demo_writes_a_build_and_a_page_and_does_not_write_over_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("demo") == 0
    said = capsys.readouterr().out
    assert "Written: demo.fishplate" in said
    assert (tmp_path / "demo.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    written_at = (tmp_path / "demo.fishplate").stat().st_mtime_ns
    assert run("demo") == 1
    assert "the file is there already" in capsys.readouterr().err
    assert (tmp_path / "demo.fishplate").stat().st_mtime_ns == written_at


# malformed input: place, fault, what to do; never a traceback


def refusal(capsys: pytest.CaptureFixture[str]) -> str:
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    return said.err


def test_a_currency_without_a_rate_is_refused_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    build = build_of(
        routes=[{"id": "van", "name": "Van", "kind": "courier", "from_country": "NL", "entry_fee": "3 XAU"}],
        suppliers=[supplier("shop")],
        parts=[part("rack")],
        offers=[offer("rack-offer", "rack", "100 GEL", returns={"days": 9, "freight_back": "3 XAG"})],
    )
    assert run("plan", written(tmp_path, build), *AS_OF) == 1
    said = refusal(capsys)
    for place in (
        "offers (rack-offer), price",
        "offers (rack-offer), returns, freight_back",
        "routes (van), entry_fee",
    ):
        assert place in said
    assert "no exchange rate is known for GEL" in said
    assert "Add one to rates" in said


def test_a_rate_the_owner_enters_lets_it_be_planned(tmp_path: Path) -> None:
    rate = {"currency": "GEL", "rate": 0.34, "day": "2026-02-01", "source": "bank"}
    build = build_of(
        suppliers=[supplier("shop")],
        parts=[part("rack")],
        offers=[offer("rack-offer", "rack", "100 GEL")],
        rates=[rate],
    )
    assert run("plan", written(tmp_path, build), *AS_OF) == 0


ONE_HOUR = {"low": 1, "likely": 1, "high": 1}
MALFORMED: dict[str, tuple[Any, str]] = {
    "negative price": (
        {"suppliers": [supplier("shop")], "parts": [part("rack")], "offers": [
            {"id": "o", "supplier": "shop", "part": "rack", "price": {"amount": "-3", "currency": "EUR"}}]},
        "a price cannot be below zero",
    ),
    "negative hours": ({"owner": {"hours_per_week": -3}}, "hours_per_week"),
    "jobs in a circle": (
        {"jobs": [
            {"id": a, "name": a, "phase": "assembly", "hours": ONE_HOUR, "after": [{"job": b}]}
            for a, b in (("one", "two"), ("two", "one"))]},
        "wait for each other in a circle",
    ),
    "unknown currency": (
        {"suppliers": [{"id": "s", "name": "S", "country": "NL", "currency": "EURO"}]}, "currency",
    ),
    "offer of nothing": (
        {"suppliers": [supplier("shop")], "offers": [
            {"id": "o", "supplier": "shop", "part": "ghost", "price": {"amount": "3", "currency": "EUR"}}]},
        "ghost",
    ),
    "estimate upside down": (
        {"jobs": [{"id": "a", "name": "A", "phase": "assembly", "hours": {"low": 9, "likely": 3, "high": 1}}]},
        "low, likely and high must rise",
    ),
    "not a number": ({"owner": {"hours_per_week": "lots"}}, "hours_per_week"),
    "field that is not there": ({"parst": []}, "parst"),
}  # fmt: skip


@pytest.mark.parametrize("case", sorted(MALFORMED))
@pytest.mark.parametrize("command", ["plan", "buy", "what-if"])
def test_malformed_builds_are_refused_whole_with_the_place(
    command: str, case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data, words = MALFORMED[case]
    assert run(command, written(tmp_path, data), *AS_OF) == 1
    said = refusal(capsys)
    assert words in said
    assert "build.json" in said


def test_checking_names_what_can_not_be_though_it_can_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    jobs = [
        {"id": "prime", "name": "Prime", "phase": "finish", "hours": ONE_HOUR, "cure_days": 5},
        {"id": "coat", "name": "Coat", "phase": "finish", "hours": ONE_HOUR,
         "after": [{"job": "prime", "within_days": 2}]},
    ]  # fmt: skip
    assert run("check", written(tmp_path, {"jobs": jobs})) == 1
    said = refusal(capsys)
    assert "“Coat” must begin within 2 days of “Prime” and “Coat” waits for “Prime” and 5 days more" in said
    assert run("check", written(tmp_path, {"jobs": jobs[:1]})) == 0
    assert "0 parts, 1 job, no problems found" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["", "{", "[]", "nonsense", '{"parts": 3}', "\x00\x01", '"text"'])
def test_a_file_that_is_no_build_is_refused(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", written(tmp_path, text), *AS_OF) == 1
    assert "build.json" in refusal(capsys)


def test_a_file_that_is_not_there_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", "nowhere.fishplate") == 1
    assert "there is no such file" in refusal(capsys)


@pytest.mark.parametrize(
    "arguments",
    [
        ("plan",),
        ("plan", "a.json", "--as-of", "yesterday"),
        ("plan", "a.json", "--seed", "x"),
        ("planet", "a.json"),
        ("plan", "a.json", "--what"),
    ],
)
def test_misuse_of_the_command_line_leaves_with_two(
    arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_our_own_failure_leaves_with_seventy_a_number_and_no_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("the inside of it")

    monkeypatch.setattr("fishplate.plan.plan", broken)
    assert run("plan", written(tmp_path, workshop_build()), *AS_OF) == 70
    said = capsys.readouterr()
    assert "incident" in said.err
    assert "the inside of it" not in said.err
    assert "Traceback" not in said.err


# help


def test_the_help_names_each_command_in_one_section() -> None:
    assert sorted(name for names in SECTIONS.values() for name in names) == sorted(COMMANDS)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_says_what_it_is_for(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(name, "--help") == 0
    said = capsys.readouterr().out
    assert said.startswith("Usage: ")
    assert f" {name} " in said
    assert len(said.splitlines()) > 4


def test_help_lists_every_command_without_loading_any() -> None:
    code = """
import sys
from fishplate.cli import cli
cli.main(["--help"], standalone_mode=False)
print([name for name in ("numpy", "pydantic", "highspy", "numba") if name in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for name in COMMANDS:
        assert f"  {name}" in done.stdout
    assert done.stdout.strip().endswith("[]")
