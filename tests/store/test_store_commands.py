"""new, log, undo, redo on the command line."""

from __future__ import annotations

import getpass
import json
import platform
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from fishplate.build import Build, document_data, format_document
from fishplate.cli import main
from fishplate.store import BuildFile, Change
from fishplate.wiring import author, read_build

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def running(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        return int(left.value.code or 0), out, err

    return running


@pytest.fixture
def dearer(file: BuildFile, small: Build) -> BuildFile:
    (offer,) = document_data(small)["offers"]
    price = {"amount": "41.00", "currency": "EUR"}
    changes = [Change("offers", "hub-east", {**offer, "price": price})]
    file.write(changes, revision=1, author="sam@garage", message="new price list")
    return file


def test_new_starts_a_file_and_says_what_it_took_for_granted(run: Run, path: Path) -> None:
    status, out, _ = run("new", path, "--name", "Green van", "--hours-per-week", 6)
    assert status == 0
    assert out == (
        f"{path}: Green van: nothing in it yet.\n"
        "Taken for granted: home currency EUR (--currency says otherwise).\n"
        "Taken for granted: garage in NL (--country says otherwise).\n"
    )
    build = read_build(path)
    assert (build.name, build.owner.hours_per_week) == ("Green van", 6)


def test_new_takes_the_owners_place_and_currency(run: Run, path: Path) -> None:
    status, out, _ = run("new", path, "--currency", "GBP", "--country", "GB")
    assert status == 0
    assert "Taken for granted" not in out
    assert (read_build(path).owner.currency, read_build(path).owner.country) == ("GBP", "GB")


def test_new_takes_in_a_build_document(run: Run, path: Path, tmp_path: Path, small: Build) -> None:
    document = tmp_path / "van.json"
    document.write_text(format_document(small), encoding="utf-8")
    status, out, _ = run("new", path, "--from", document, "--name", "Bus")
    assert status == 0
    assert f"{path}: Bus: 2 parts, 1 offer.\n" in out
    assert read_build(path) == small.model_copy(update={"name": "Bus"})
    assert BuildFile.open(path).history()[0].message == "started from van.json"


def test_new_takes_in_a_build_file(run: Run, file: BuildFile, tmp_path: Path, small: Build) -> None:
    assert run("new", tmp_path / "copy.fishplate", "--from", file.path)[0] == 0
    assert read_build(tmp_path / "copy.fishplate") == small


def test_new_never_overwrites(run: Run, path: Path) -> None:
    path.write_text("precious")
    status, _, err = run("new", path)
    assert (status, err) == (1, f"{path}: there is already a file of this name. Choose another name.\n")
    assert path.read_text() == "precious"


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--currency", "XXY", "new build, owner, currency: not an ISO 4217 currency code, such as EUR or GBP ('XXY')."),
        ("--country", "Holland", "new build, owner, country: not a country code ('Holland')"),
        ("--hours-per-week", "-1", "new build, owner, hours_per_week: must be at least 0"),
        ("--hours-per-week", "nan", "new build, owner, hours_per_week: "),
        ("--name", " ", "new build, name: string should have at least 1 character"),
    ],
)
def test_new_refuses_what_it_can_not_take(run: Run, path: Path, option: str, value: str, words: str) -> None:
    status, _, err = run("new", path, option, value)
    assert status == 1
    assert words in err
    assert not path.exists()


def test_log_says_when_who_and_what_the_last_first(run: Run, dearer: BuildFile) -> None:
    status, out, _ = run("log", dearer.path)
    when = [batch.at.astimezone().strftime("%Y-%m-%d %H:%M") for batch in dearer.history()]
    assert status == 0
    assert out == (
        f"2  {when[1]}  sam@garage  new price list\n"
        "    price of offer hub-east: 38.50 EUR → 41.00 EUR\n"
        f"1  {when[0]}  sam@garage\n"
        "    name of the build: not set → Van\n"
        "    owner of the build: not set → hours per week 6\n"
        "    part hub added: Hub\n"
        "    part disc added: Disc\n"
        "    supplier east-shop added: East Shop\n"
        "    offer hub-east added\n"
        "    sighting hub-east 2026-01-10 added\n"
        "    sighting hub-east 2026-02-10 added\n"
    )


def test_log_can_be_cut_to_the_last(run: Run, dearer: BuildFile) -> None:
    _, out, _ = run("log", dearer.path, "--limit", 1)
    assert [line[0] for line in out.splitlines()] == ["2", " "]
    assert run("log", dearer.path, "--limit", 0)[0] == 2


def test_log_counts_many_changes_unless_asked_for_all(run: Run, file: BuildFile) -> None:
    parts = [Change("parts", f"bolt-{number}", {"id": f"bolt-{number}", "name": "Bolt"}) for number in range(50)]
    file.write(parts, revision=1, author="sam@garage")
    assert "    50 parts added\n" in run("log", file.path, "--limit", 1)[1]
    assert run("log", file.path, "--limit", 1, "--full")[1].count("added: Bolt") == 50


def test_log_for_programs_has_these_keys(run: Run, dearer: BuildFile) -> None:
    told = json.loads(run("log", dearer.path, "--json")[1])
    assert [batch["revision"] for batch in told] == [2, 1]
    assert told[0].keys() == {"revision", "kind", "takes", "at", "author", "message", "changes"}
    (change,) = told[0]["changes"]
    assert change.keys() == {"list", "id", "before", "after", "text"}
    assert change["before"]["price"] == {"amount": "38.50", "currency": "EUR"}
    assert change["text"] == ["price of offer hub-east: 38.50 EUR → 41.00 EUR"]
    assert datetime.fromisoformat(told[0]["at"]).utcoffset().total_seconds() == 0  # type: ignore[union-attr]


def test_undo_and_redo_say_what_they_did(run: Run, dearer: BuildFile) -> None:
    status, out, _ = run("undo", dearer.path)
    assert (status, out) == (
        0,
        "van.fishplate: took back revision 2 (new price list):\n"
        "    price of offer hub-east: 41.00 EUR → 38.50 EUR\n"
        f"To make it again: fishplate redo {dearer.path}.\n",
    )
    status, out, _ = run("redo", dearer.path)
    assert (status, out) == (
        0,
        "van.fishplate: made revision 2 again (new price list):\n    price of offer hub-east: 38.50 EUR → 41.00 EUR\n",
    )
    heads = [line for line in run("log", dearer.path)[1].splitlines() if not line.startswith(" ")]
    assert heads[0].endswith(f"{author()}  made 2 again: new price list")
    assert heads[1].endswith(f"{author()}  took back 2: new price list")


@pytest.mark.parametrize(
    ("deed", "words"), [("undo", "there is nothing to take back"), ("redo", "nothing was taken back last")]
)
def test_nothing_to_undo_or_redo_is_said(run: Run, file: BuildFile, deed: str, words: str) -> None:
    status, _, err = run(deed, file.path)
    assert status == 1
    assert words in err


@pytest.mark.parametrize("deed", ["log", "undo", "redo"])
def test_a_build_document_has_no_history(run: Run, tmp_path: Path, small: Build, deed: str) -> None:
    document = tmp_path / "van.json"
    document.write_text(format_document(small), encoding="utf-8")
    status, _, err = run(deed, document)
    assert status == 1
    assert "a build document becomes one with fishplate new --from" in err


def test_an_author_has_a_name_even_where_the_system_gives_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def nobody() -> str:
        raise KeyError("getpwuid(): uid not found: 1234")

    monkeypatch.setattr(getpass, "getuser", nobody)
    monkeypatch.setattr(platform, "node", str)
    assert author() == "someone@unknown device"
