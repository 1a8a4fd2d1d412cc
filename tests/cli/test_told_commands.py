"""Commands print in the owner's units and locale; what programs read stays as it is held."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fishplate.build import build_from_data, format_document
from fishplate.cli import cli
from fishplate.starters import demo_as_of, load_demo

PLACE: dict[str, Any] = {
    "name": "Van",
    "interfaces": [{"id": "arch", "name": "Tyre in the arch"}],
    "dimensions": [{"id": "gap", "name": "Gap over the 20.5 mm lip", "unit": "mm"}],
    "conditions": [
        {"id": "room", "interface": "arch", "name": "Room", "expression": "gap", "at_least": "12.5 mm"},
    ],
    "readings": [{"id": "r", "dimension": "gap", "value": 25.4, "spread": 0.5, "day": "2026-03-02"}],
}  # fmt: skip


def said(tmp_path: Path, owner: dict[str, str], *arguments: str) -> str:
    file = tmp_path / "van.json"
    file.write_text(format_document(build_from_data({**PLACE, "owner": owner})), encoding="utf-8")
    found = CliRunner().invoke(cli, ["fit", str(file), "--as-of", "2026-03-02", *arguments])
    assert found.exit_code == 0, found.output
    return found.output


def test_a_command_tells_sizes_in_the_owners_units_and_marks(tmp_path: Path) -> None:
    assert "12.90 mm to spare" in said(tmp_path, {})
    assert "12,90 mm to spare" in said(tmp_path, {"locale": "de_DE"})
    inches = said(tmp_path, {"locale": "de_DE", "units": "imperial"})
    assert "0,5079 in to spare" in inches
    assert not re.search(r"\d mm", inches.replace("20.5 mm lip", ""))


def test_what_programs_read_does_not_change_with_the_owners_habits(tmp_path: Path) -> None:
    plain, habits = (
        json.loads(said(tmp_path, owner, "--json")) for owner in ({}, {"locale": "de_DE", "units": "imperial"})
    )
    assert plain == habits


@pytest.mark.parametrize(("locale", "size"), [("en_US", "letter"), ("de_DE", "A4")])
def test_the_shop_sheet_is_on_the_owners_paper_with_the_owners_units_to_write_in(
    tmp_path: Path, locale: str, size: str
) -> None:
    demo, file, paper = load_demo(), tmp_path / "van.json", tmp_path / "sheet.html"
    owner = demo.owner.model_copy(update={"units": "imperial-fractions", "locale": locale})
    file.write_text(format_document(demo.model_copy(update={"owner": owner})), encoding="utf-8")
    day = demo_as_of().isoformat()
    found = CliRunner().invoke(cli, ["tonight", str(file), "240", "--paper", str(paper), "--as-of", day])
    assert found.exit_code == 0, found.output
    text = paper.read_text(encoding="utf-8")
    assert f"size: {size};" in text
    assert '<td class="blank">in</td>' in text
    assert '<td class="blank">mm</td>' not in text
