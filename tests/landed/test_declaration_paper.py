"""The list for the border as a page to print, from the command line."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

from click.testing import CliRunner

from fishplate.build import Build, Money, format_document
from fishplate.build.commerce import Collection, Offer, Route, Supplier
from fishplate.build.events import Order, OrderLine
from fishplate.build.owner import Owner
from fishplate.build.parts import Part
from fishplate.cli.landed_command import command

DAY = date(2026, 11, 24)
BUILD = Build(
    owner=Owner(country="NL", currency="EUR"),
    parts=(Part(id="arm", name="Arm <long>", heading="870880", mass_kg=3),),
    suppliers=(Supplier(id="mill", name="Mill & Son", country="GB", currency="GBP"),),
    routes=(Route(id="depot", name="Depot", kind="collection", from_country="GB"),),
    collections=(Collection(id="trip", route="depot", day=date(2026, 12, 11), absence_hours=30),),
    offers=(Offer(id="arm-o", supplier="mill", part="arm", price=Money.of(300, "GBP")),),
    events=(
        Order(
            id="o", day=DAY, supplier="mill", collection="trip",
            lines=(OrderLine(offer="arm-o", quantity=2, price=Money.of(300, "GBP")),),
        ),
    ),
)  # fmt: skip


def run(folder: Path, *given: str) -> tuple[int, str]:
    file = folder / "build.json"
    file.write_text(format_document(BUILD), encoding="utf-8")
    result = CliRunner().invoke(command, [str(file), "--as-of", DAY.isoformat(), *given])
    return result.exit_code, result.output


def test_the_page_has_every_line_in_both_moneys_and_nothing_from_outside(tmp_path: Path) -> None:
    paper = tmp_path / "list.html"
    code, said = run(tmp_path, "--declaration", "trip", "--paper", str(paper))
    assert code == 0, said
    text = paper.read_text(encoding="utf-8")
    assert "2 × Arm &lt;long&gt;" in text
    assert re.search(r"Mill &amp; Son\. Paid 600\.00 GBP \(\d+\.\d\d EUR\)\. Heading 870880", text)
    assert "made in a country not known" in text
    assert "Declare everything on this list" in text
    assert not re.search(r"<script|https?:|src=", text)


def test_paper_needs_a_trip(tmp_path: Path) -> None:
    code, said = run(tmp_path, "--paper", str(tmp_path / "x.html"))
    assert code == 2
    assert "--paper needs --declaration" in said
