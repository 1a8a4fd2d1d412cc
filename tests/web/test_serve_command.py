"""`fishplate serve`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.cli import cli
from fishplate.store import BuildFile


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What the server was asked to do, in place of serving."""
    asked: dict[str, Any] = {}
    monkeypatch.setattr("uvicorn.run", lambda app, **options: asked.update(app=app, **options))
    return asked


def test_it_listens_on_this_machine_alone_and_says_where(tmp_path: Path, served: dict[str, Any]) -> None:
    path = tmp_path / "van.fishplate"
    result = CliRunner().invoke(cli, ["serve", str(path), "--port", "9137"])
    assert result.exit_code == 0
    assert (served["host"], served["port"]) == ("127.0.0.1", 9137)
    assert "http://127.0.0.1:9137/" in result.output


def test_a_build_that_does_not_exist_is_started(tmp_path: Path, served: dict[str, Any]) -> None:
    path = tmp_path / "van.fishplate"
    CliRunner().invoke(cli, ["serve", str(path)])
    assert BuildFile.open(path).build().name == "van"


def test_what_is_no_build_file_is_refused(tmp_path: Path, served: dict[str, Any]) -> None:
    path = tmp_path / "list.csv"
    path.write_text("part;price\n")
    result = CliRunner().invoke(cli, ["serve", str(path)])
    assert result.exit_code == 1
    assert not served
