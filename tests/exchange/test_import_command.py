"""`fishplate import` and `fishplate export`: what they show, ask, write and leave alone."""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from pathlib import Path
from typing import Any

import click
import pytest

from fishplate.build import Build, parse_document
from fishplate.build.parts import Part
from fishplate.cli import main
from fishplate.exchange.columns import FIELDS
from fishplate.store import BuildFile

LIST = "Part,Qty,Price,Supplier\nDisc,2,64.50 GBP,Saltmere Stores\nPad set,1,POA,Saltmere Stores\nTotal,,129 GBP,\n"


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """A build file and a list."""
    build, source = tmp_path / "van.fishplate", tmp_path / "list.csv"
    BuildFile.create(build, Build(name="Van", parts=(Part(id="disc", name="Disc"),)), author="test")
    source.write_text(LIST, encoding="utf-8")
    return build, source


def _run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


def test_without_a_terminal_nothing_is_written_until_it_is_accepted(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    build, source = files
    before = build.read_bytes()
    status, out, _ = _run(capsys, "import", build, source)
    assert status == 0
    assert "Nothing is written yet. To accept it, give the command again with --yes." in out
    assert build.read_bytes() == before
    status, out, _ = _run(capsys, "import", build, source, "--yes")
    assert (status, f"Done: {build} is at revision 2. To take it back: fishplate undo" in out) == (0, True)
    assert [part.name for part in BuildFile.open(build).build().parts] == ["Disc", "Pad set"]


def test_each_row_is_shown_with_what_becomes_of_it(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = _run(capsys, "import", *files, "--dry-run")
    rows = {
        line.split("  ")[0].strip(): " ".join(line.split()) for line in out.splitlines() if line[:2].strip().isdigit()
    }
    assert rows["2"].startswith(
        "2 update Disc quantity: 1 → 2; new supplier: Saltmere Stores, GB, GBP; new offer: 64.50"
    )
    assert 'the price is given as "POA"' in rows["3"]
    assert rows["4"] == "4 skip Total a total, not a part"


def test_a_build_that_does_not_exist_is_started(
    files: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new = tmp_path / "new car.fishplate"
    _run(capsys, "import", new, files[1])
    assert not new.exists()
    status, _, _ = _run(capsys, "import", new, files[1], "--yes")
    assert status == 0
    assert BuildFile.open(new).build().name == "new car"


def test_a_dry_run_writes_nothing_even_with_yes(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    before = files[0].read_bytes()
    assert _run(capsys, "import", *files, "--dry-run", "--yes")[0] == 0
    assert files[0].read_bytes() == before


@pytest.mark.parametrize(("answer", "revision"), [(True, 2), (False, 1)])
def test_on_a_terminal_it_asks(
    answer: bool,
    revision: int,
    files: tuple[Path, Path],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setattr(click, "confirm", lambda *_, **__: answer)
    assert _run(capsys, "import", *files)[0] == 0
    assert BuildFile.open(files[0]).revision == revision


def _tree(value: Any) -> Any:
    """Keys of JSON, without its values."""
    if isinstance(value, dict):
        return {key: _tree(item) for key, item in value.items()}
    return [_tree(value[0])] if isinstance(value, list) and value and isinstance(value[0], dict) else None


def test_json_has_the_documented_keys(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    files[1].write_text(LIST + "Hose,1,lots,Corner Shed\n", encoding="utf-8")
    status, out, _ = _run(capsys, "import", *files, "--yes", "--json", "--skip-unreadable")
    data = json.loads(out)
    assert status == 0
    assert set(data) == {
        "file",
        "list",
        "written",
        "revision",
        "counts",
        "rows",
        "columns",
        "notes",
        "assumptions",
        "problems",
    }
    assert (data["written"], data["revision"]) == (True, 2)
    assert data["counts"] == {"add": 1, "update": 1, "unchanged": 0, "skip": 1, "can't read": 1}
    assert set(data["rows"][0]) == {"place", "sheet", "row", "action", "name", "why", "said", "changes", "problems"}
    assert set(data["rows"][0]["changes"][0]) == {"list", "id", "field", "before", "after"}
    assert set(data["columns"][0]) == {"sheet", "column", "header", "field", "why"}
    assert set(data["assumptions"][0]) == {"code", "about", "text"}
    assert set(data["problems"][0]) == {"where", "code", "what", "got", "do"}


def test_json_of_a_refused_list_names_its_problems(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    files[1].write_text("Part,Price\nDisc,lots\n", encoding="utf-8")
    status, out, err = _run(capsys, "import", *files, "--yes", "--json")
    data = json.loads(out)
    assert (status, data["written"], data["problems"][0]["where"]) == (1, False, "list.csv, row 2, column B (Price)")
    assert "list.csv, row 2, column B (Price): not an amount ('lots')." in err


def test_misuse_is_told_from_refusal(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert _run(capsys, "import", *files, "--currency", "shells")[0] == 2
    assert _run(capsys, "import", *files, "--map", "Price")[0] == 2
    assert _run(capsys, "export", files[0], "--to", "van.docx")[0] == 2
    assert _run(capsys, "export", files[0], "--to", files[0])[0] == 2


def test_the_help_names_every_field_a_column_can_be_mapped_to(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = _run(capsys, "import", "--help")
    assert {*FIELDS, "ignore"} <= set(out.split("Fields for --map:")[1].split("With --json:")[0].split())


@pytest.mark.parametrize("ending", ["xlsx", "csv", "json"])
def test_export_writes_the_kind_its_name_ends_in(
    ending: str, files: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _run(capsys, "import", *files, "--yes")
    target = tmp_path / f"out.{ending}"
    status, out, _ = _run(capsys, "export", files[0], "--to", target, "--json")
    assert (status, json.loads(out)) == (0, {"file": str(target), "parts": 2, "offers": 1})
    if ending == "json":
        assert len(parse_document(target.read_bytes()).parts) == 2
    else:
        _, out, _ = _run(capsys, "import", files[0], target)
        assert "Nothing would change." in out


def _child(build: Path, source: Path, pipe: int) -> None:  # pragma: no cover - dies by signal
    os.dup2(pipe, 1)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    sys.stdout = os.fdopen(1, "w", buffering=1)
    write = BuildFile.write

    def told(self: BuildFile, *given: Any, **named: Any) -> int:
        os.write(1, b"Writing\n")
        return write(self, *given, **named)

    BuildFile.write = told  # type: ignore[method-assign]
    try:
        main(["import", str(build), str(source), "--yes"])
    finally:
        sys.stdout.flush()
        os._exit(0)


def _killed(build: Path, source: Path, seconds: float | None) -> tuple[str, float]:
    """An import in a process of its own, killed so long after it began to write; what it said, how long it wrote."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        _child(build, source, writer)
    os.close(writer)
    with os.fdopen(reader, "rb") as said:
        text = b""
        while b"Writing" not in text and (piece := os.read(said.fileno(), 65_536)):
            text += piece
        begun = time.monotonic()
        if seconds is not None:
            time.sleep(seconds)
            os.kill(child, signal.SIGKILL)
        text += said.read()
    wrote = time.monotonic() - begun
    os.waitpid(child, 0)
    return text.decode(), wrote


def _write_list(path: Path, quantity: int) -> None:
    rows = (f"Part {n},N-{n},{quantity},{n}.50 GBP\n" for n in range(1, 121))
    path.write_text("Part,Part no,Qty,Price\n" + "".join(rows), encoding="utf-8")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the system has no fork")
def test_a_killed_import_loses_nothing_acknowledged_and_leaves_no_half(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ten imports are killed at moments spread over the writing, from its beginning to a little past its end."""
    build, source, draw = tmp_path / "van.fishplate", tmp_path / "list.csv", random.Random(7)
    _write_list(source, 1)
    assert _run(capsys, "import", build, source, "--yes")[0] == 0
    _write_list(source, 2)
    text, seconds = _killed(build, source, None)
    assert "Done:" in text
    standing = 2.0
    for turn in range(10):
        wanted = turn + 3.0
        _write_list(source, turn + 3)
        text, _ = _killed(build, source, draw.uniform(turn, turn + 1) / 9 * seconds)
        now = BuildFile.open(build).build()
        quantities = {part.quantity for part in now.parts}
        # all rows as before or all as the list says; as the list says if that was acknowledged
        assert quantities in ({standing}, {wanted})
        assert "Done:" not in text or quantities == {wanted}
        assert len(now.parts) == 120
        (standing,) = quantities
