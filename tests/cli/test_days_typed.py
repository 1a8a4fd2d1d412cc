"""A day as an option: in figures as the owner of the build at hand writes them; what can be swapped is else refused."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from fishplate.build import build_from_data, format_document
from fishplate.cli.common import AS_OF, BUILD_FILE, DAY


@click.command()
@BUILD_FILE
@AS_OF
@click.option("--day", type=DAY)
def said(file: Path, as_of: date | None, day: date | None) -> None:
    """Say the day as it was understood."""
    click.echo((day or as_of or date.min).isoformat())


@click.command()
@click.option("--day", type=DAY)
def alone(day: date) -> None:
    """Say the day, without a build at hand."""
    click.echo(day.isoformat())


def document(folder: Path, locale: str) -> str:
    path = folder / "van.json"
    path.write_text(format_document(build_from_data({"owner": {"locale": locale}})), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize(
    ("locale", "text", "day"),
    [
        ("en_GB", "2026-04-03", "2026-04-03"),
        ("en_US", "2026-04-03", "2026-04-03"),
        ("en_GB", "3/4/2026", "2026-04-03"),
        ("en_US", "3/4/2026", "2026-03-04"),
        ("de_DE", "03.04.26", "2026-04-03"),
        ("en_GB", "3/25/2026", "2026-03-25"),  # read in one way only
        ("fr_FR", "3 avril 2026", "2026-04-03"),
        ("sv_SE", "3 apr 2026", "2026-04-03"),
    ],
)
@pytest.mark.parametrize("option", ["--day", "--as-of"])
def test_a_day_is_read_as_the_owner_writes_it(tmp_path: Path, locale: str, text: str, day: str, option: str) -> None:
    # the option may stand before the file
    done = CliRunner().invoke(said, [option, text, document(tmp_path, locale)])
    assert (done.exit_code, done.stdout.strip()) == (0, day)
    assert ("is read as" in done.stderr) == (text in ("3/4/2026", "03.04.26"))


def test_what_can_be_read_in_two_ways_is_refused_where_nothing_tells(tmp_path: Path) -> None:
    runner = CliRunner()
    year_first = [said, ["--day", "3/4/2026", document(tmp_path, "sv_SE")]]
    no_build = [said, ["--day", "3/4/2026", str(tmp_path / "none.fishplate")]]
    for command, words in (year_first, no_build, [alone, ["--day", "3/4/2026"]]):
        done = runner.invoke(command, words)
        assert done.exit_code == 2
        assert "two ways: it could be 2026-04-03 or 2026-03-04" in " ".join(done.stderr.split())


@pytest.mark.parametrize("text", ["31/4/2026", "soon", "2026-02-30", "0"])
def test_what_is_no_day_is_refused(tmp_path: Path, text: str) -> None:
    done = CliRunner().invoke(said, ["--day", text, document(tmp_path, "en_GB")])
    assert done.exit_code == 2
    assert "is not a day; write it as 2026-03-14" in " ".join(done.stderr.split())
