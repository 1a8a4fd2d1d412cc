"""What sums are made of: the drawing and the table come from one definition."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from fishplate.papers.share_chart import ShareChart, shares_drawn

CHART = ShareChart(
    "Shares <at> the door", "EUR", "Way home", ("by courier", "fetched"),
    (("goods", (100.0, 100.0)), ("freight", (60.0, 0.0)), ("tax", (40.0, 0.0))),
)  # fmt: skip


def test_the_table_adds_up_to_what_the_drawing_draws() -> None:
    assert CHART.heads == ("Way home", "goods", "freight", "tax", "In all")
    assert CHART.rows == (
        ("by courier", "100.00", "60.00", "40.00", "200.00"),
        ("fetched", "100.00", "0.00", "0.00", "100.00"),
    )


def test_parts_lie_side_by_side_in_proportion_and_nothing_of_nothing_is_drawn() -> None:
    root = ElementTree.fromstring(shares_drawn(CHART))
    plates = [
        (float(str(shape.get("x")).rstrip("%")), float(str(shape.get("width")).rstrip("%")))
        for shape in root.iter("rect")
        if str(shape.get("width")).endswith("%")
    ]
    assert [end for plate in plates for end in plate] == pytest.approx([0, 50, 50, 30, 80, 20, 0, 50])


def test_a_long_name_stands_whole_in_lines_of_its_own() -> None:
    name = "A depot at a port, fetched from there by the night ferry and the van"
    root = ElementTree.fromstring(shares_drawn(ShareChart("Shares", "EUR", "Way", (name,), (("goods", (1.0,)),))))
    words = [str(text.text) for text in root.iter("text") if not text.get("text-anchor")]
    assert " ".join(words[:-1]) == name
    assert max(map(len, words)) <= 34


def test_a_drawing_has_a_name_and_no_script_style_or_address() -> None:
    svg = shares_drawn(CHART)
    assert str(ElementTree.fromstring(svg).get("aria-label")) == (
        "Shares <at> the door. Least: fetched, 100.00. Most: by courier, 200.00."
    )
    assert not re.search(r"style=|<script|https?:", svg)


def test_nothing_to_draw_is_no_chart() -> None:
    assert shares_drawn(None) == ""
    assert shares_drawn(ShareChart("Nothing", "EUR", "Way home", (), (("goods", ()),))) == ""
