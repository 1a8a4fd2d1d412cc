"""Charts: the drawing and the table come from one definition."""

from __future__ import annotations

import math
import re
from datetime import date, timedelta
from xml.etree import ElementTree

import pytest

from fishplate.papers.charts import Chart, Mark, cash_chart, drawn, price_chart, stall_chart
from fishplate.plan.model import CashLine, StallLine

CASH = (
    CashLine("2026-11", 100.0, 200.0, 400.0),
    CashLine("2026-12", 0.0, 0.0, 0.0),
    CashLine("2027-01", 50.0, 80.0, 90.0),
    CashLine("2027-02", 0.0, 0.0, 0.0),
)


def heights(svg: str, tag: str, attribute: str, stroke: str) -> list[float]:
    """An attribute of every shape with a stroke."""
    shapes = ElementTree.fromstring(svg).iter(tag)
    return [float(shape.get(attribute, "nan")) for shape in shapes if shape.get("stroke-width") == stroke]


def test_the_table_says_what_the_drawing_draws_without_the_empty_months_at_the_end() -> None:
    chart = cash_chart(CASH, "EUR", a_month=150.0)
    assert chart is not None
    assert chart.heads == ("Month", "one in ten to nine in ten", "even chance", "to spend a month")
    assert chart.rows == (
        ("November 2026", "100 – 400", "200", "150"),
        ("December 2026", "0 – 0", "0", "150"),
        ("January 2027", "50 – 90", "80", "150"),
    )


def test_nothing_to_draw_is_no_chart() -> None:
    assert cash_chart(CASH[1:2], "EUR") is None
    assert stall_chart(()) is None
    assert drawn(None) == ""


def test_a_drawing_is_well_formed_has_a_name_and_no_script_style_or_address() -> None:
    chart = stall_chart((StallLine("2026-11", 0.5, 12.0, ("no <parts> & more",)),))
    svg = drawn(chart)
    root = ElementTree.fromstring(svg)
    assert root.get("role") == "img"
    assert "November 2026" in str(root.get("aria-label"))
    assert not re.search(r"style=|<script|https?:", svg)


def test_figures_stand_in_proportion() -> None:
    chart = Chart(
        "Test", "EUR", "Month", ("a", "b", "c"), ("a", "b", "c"), (Mark("even", (0.0, 100.0, 200.0), "tick"),)
    )
    low, middle, high = heights(drawn(chart), "line", "y1", "3")
    assert low > middle > high
    assert math.isclose(low - middle, middle - high, abs_tol=0.2)


def test_a_price_chart_leaves_out_weeks_without_a_trigger_and_scales_to_its_prices() -> None:
    weeks = [date(2026, 11, 16) + timedelta(days=7 * week) for week in range(4)]
    chart = price_chart("Hose", "GBP", weeks, [82.0, 82.0, 76.0, 83.0], [80.0, 81.0, None, None], last_safe=1)
    assert chart.rows[2] == ("30 November 2026", "76.00", "–")
    svg = drawn(chart)
    assert "last safe week" in svg
    dashes = [line for line in ElementTree.fromstring(svg).iter("line") if line.get("stroke-dasharray")]
    assert len(dashes) == 2 + 1 + 1  # two weeks, the step between them, the key
    assert ">76<" in svg  # 76 to 83 by twos: the scale does not begin at nothing
    assert ">0<" not in svg


@pytest.mark.parametrize("value", [0.0, 1e-6, 1.0, 1e9])
def test_one_figure_alone_is_drawn(value: float) -> None:
    chart = Chart("Test", "EUR", "Month", ("a",), ("a",), (Mark("even", (value,), "steps"),), from_zero=False)
    assert "NaN" not in drawn(chart)
    ElementTree.fromstring(drawn(chart))
