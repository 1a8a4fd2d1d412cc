"""Charts as SVG that takes its colours from the page, so that both themes and paper are served by one drawing."""

from __future__ import annotations

import re
from typing import Any

from ..plan.model import CashLine, StallLine

# Stand-ins for the page's own colours; exchanged for style variables after drawing.
_INK, _SOFT, _LINE, _ACCENT, _WASH = "#010101", "#020202", "#030303", "#040404", "#050505"
_VARIABLES = {_INK: "--ink", _SOFT: "--soft", _LINE: "--line", _ACCENT: "--accent", _WASH: "--wash"}
_WIDTH, _HEIGHT = 640, 180


def cash_chart(lines: tuple[CashLine, ...], currency: str) -> str:
    """Money out by month: a bar from one in ten to nine in ten, the even chance marked; empty if none."""
    if not lines:
        return ""
    import altair as alt

    rows = [{"month": line.month, "low": line.p10, "even": line.p50, "high": line.p90} for line in lines]
    base = alt.Chart(alt.InlineData(values=rows)).encode(x=_months())
    band = base.mark_bar(size=14, color=_WASH, cornerRadius=2).encode(
        y=alt.Y("low:Q", title=f"{currency} a month"), y2="high:Q"
    )
    even = base.mark_tick(thickness=3, size=18, color=_ACCENT).encode(y="even:Q")
    return _svg(band + even, "Money out by month")


def stall_chart(lines: tuple[StallLine, ...]) -> str:
    """Expected stalled hours by month; empty if none are expected."""
    if not lines:
        return ""
    import altair as alt

    rows = [{"month": line.month, "hours": line.hours} for line in lines]
    bars = (
        alt.Chart(alt.InlineData(values=rows))
        .mark_bar(size=14, color=_ACCENT, cornerRadius=2)
        .encode(x=_months(), y=alt.Y("hours:Q", title="hours"))
    )
    return _svg(bars, "Stalled hours by month")


def _months() -> Any:
    import altair as alt

    return alt.X("month:O", title=None, axis=alt.Axis(labelAngle=-60))


def _svg(chart: Any, title: str) -> str:
    import vl_convert

    spec = chart.properties(width=_WIDTH, height=_HEIGHT, background="transparent").configure(
        font="system-ui, sans-serif",
        axis={"labelColor": _SOFT, "titleColor": _SOFT, "domainColor": _LINE, "tickColor": _LINE, "gridColor": _LINE},
        view={"stroke": None},
    )
    drawn = vl_convert.vegalite_to_svg(spec.to_dict())
    return _dressed(drawn, title)


def _dressed(svg: str, title: str) -> str:
    """The drawing in the page's colours, scaling with it, with a name for screen readers."""
    for colour, variable in _VARIABLES.items():
        svg = svg.replace(f'"{colour}"', f'"var({variable})"')
    svg = re.sub(r"<title>.*?</title>|<desc>.*?</desc>", "", svg)
    head = re.match(r"<svg[^>]*?width=\"([\d.]+)\" height=\"([\d.]+)\"[^>]*>", svg)
    if head is None:
        return svg
    opening = f'<svg class="chart" role="img" aria-label="{title}" viewBox="0 0 {head[1]} {head[2]}">'
    return opening + svg[head.end() :]
