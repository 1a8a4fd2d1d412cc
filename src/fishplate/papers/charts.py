"""Charts: one definition gives the drawing, for page and paper alike, and the table that says the same.

A drawing is SVG without script. It is as wide as the place it stands in, and its words keep their size: places along it
are percentages, heights are pixels. Colours are those of the page, so one drawing serves both themes and print.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Final, Literal

from ..build.words import day_words
from ..plan.model import CashLine, StallLine

Shape = Literal["bar", "tick", "steps", "dashes"]

HEIGHT: Final = 226
TOP, FOOT, LEFT = 34.0, 190.0, 15.0
GRID_LINES, LABELS = 4, 4
KEY_LINE: Final = 22
MOST_BAR_PERCENT: Final = 3.0
BAR: Final = 'fill="var(--wash)" stroke="var(--accent)" stroke-opacity="0.5"'
STROKES: Final = {
    "tick": ("var(--accent)", 3, ""),
    "steps": ("var(--accent)", 2, ""),
    "dashes": ("var(--ink)", 2, ' stroke-dasharray="5 4"'),
}


@dataclass(frozen=True, slots=True)
class Mark:
    """One row of figures and how it is drawn.

    Parameters
    ----------
    values : a figure for each point; None: none there
    low : where bars begin; from nothing if left out
    """

    name: str
    values: tuple[float | None, ...]
    shape: Shape
    low: tuple[float, ...] | None = None


@dataclass(frozen=True, slots=True)
class Chart:
    """Figures along a row of points.

    Parameters
    ----------
    name : what it shows, for those who hear it
    unit : of all figures; over : what the points are
    points : label of each, in full; short : the same where room is little
    marks : drawn in this order
    from_zero : whether the scale begins at nothing; otherwise at the least figure
    upright : point at which an upright line stands, and what it says
    digits : decimals in the table
    """

    name: str
    unit: str
    over: str
    points: tuple[str, ...]
    short: tuple[str, ...]
    marks: tuple[Mark, ...]
    from_zero: bool = True
    upright: tuple[int, str] | None = None
    digits: int = 0

    @property
    def heads(self) -> tuple[str, ...]:
        """Heads of the table's columns."""
        return (self.over, *(mark.name for mark in self.marks))

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """The table: each point with its figures; a bar as from – to."""
        return tuple(
            (label, *(self._cell(mark, position) for mark in self.marks)) for position, label in enumerate(self.points)
        )

    def _cell(self, mark: Mark, position: int) -> str:
        value = mark.values[position]
        if value is None:
            return "–"
        if mark.low is not None:
            return f"{mark.low[position]:,.{self.digits}f} – {value:,.{self.digits}f}"
        return f"{value:,.{self.digits}f}"


def cash_chart(lines: Sequence[CashLine], currency: str, *, a_month: float | None = None) -> Chart | None:
    """Money out by month, one in ten to nine in ten with the even chance marked, against what there is a month.

    Months without money at the end are left out; None if no month is left.
    """
    last = max((position for position, line in enumerate(lines) if line.p90 > 0), default=-1)
    shown = lines[: last + 1]
    if not shown:
        return None
    band = Mark(
        "one in ten to nine in ten", tuple(line.p90 for line in shown), "bar", tuple(line.p10 for line in shown)
    )
    marks = [band, Mark("even chance", tuple(line.p50 for line in shown), "tick")]
    if a_month is not None:
        marks.append(Mark("to spend a month", (a_month,) * len(shown), "dashes"))
    months = tuple(_month(line.month, "%B %Y") for line in shown)
    short = tuple(_month(line.month, "%b %Y") for line in shown)
    return Chart(f"Money out by month, {currency}", currency, "Month", months, short, tuple(marks))


def stall_chart(lines: Sequence[StallLine]) -> Chart | None:
    """Expected stalled hours by month; None if none are expected."""
    if not lines:
        return None
    months = tuple(_month(line.month, "%B %Y") for line in lines)
    short = tuple(_month(line.month, "%b %Y") for line in lines)
    hours = Mark("hours", tuple(line.hours for line in lines), "bar")
    return Chart("Stalled hours by month", "h", "Month", months, short, (hours,), digits=1)


def price_chart(
    name: str,
    currency: str,
    weeks: Sequence[date],
    expected: Sequence[float],
    trigger: Sequence[float | None],
    *,
    last_safe: int | None = None,
    digits: int = 2,
) -> Chart:
    """An offer's expected price by week, and the price at or below which to buy."""
    return Chart(
        name=f"{name}: expected price by week, {currency}",
        unit=currency,
        over="Week of",
        points=tuple(map(day_words, weeks)),
        short=tuple(f"{day.day} {day:%b}" for day in weeks),
        marks=(
            Mark("expected", tuple(expected), "steps"),
            Mark("buy at or below", tuple(trigger), "dashes"),
        ),
        from_zero=False,
        upright=None if last_safe is None else (last_safe, "last safe week"),
        digits=digits,
    )


def _month(month: str, style: str) -> str:
    return date.fromisoformat(f"{month}-01").strftime(style)


# drawing


def drawn(chart: Chart | None) -> str:
    """A chart as SVG; empty for none."""
    if chart is None:
        return ""
    scale = _Scale.of(chart)
    inside = [*_grid(chart, scale), *(piece for mark in chart.marks for piece in _mark(chart, mark, scale))]
    inside += [*_labels(chart), *_upright(chart), *_key(chart)]
    height = HEIGHT + (KEY_LINE * len(chart.marks) if len(chart.marks) > 1 else 0)
    opening = f'<svg class="chart" role="img" aria-label="{escape(_heard(chart))}" width="100%" height="{height}">'
    return f'{opening}<g font-family="system-ui, sans-serif" font-size="14">{"".join(inside)}</g></svg>'


def _heard(chart: Chart) -> str:
    """What a chart says to those who don't see it; the table beside it says the rest."""
    main = next((mark for mark in chart.marks if mark.shape in ("tick", "steps")), chart.marks[0])
    values = [(value, label) for value, label in zip(main.values, chart.points, strict=True) if value is not None]
    most, least = max(values), min(values)
    return (
        f"{chart.name}, {chart.points[0]} to {chart.points[-1]}. {main.name.capitalize()}: at most "
        f"{most[0]:,.{chart.digits}f} ({most[1]}), at least {least[0]:,.{chart.digits}f} ({least[1]})."
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    """Heights of figures, with the round figures that lines are drawn at."""

    low: float
    high: float
    step: float

    @classmethod
    def of(cls, chart: Chart) -> _Scale:
        values = [value for mark in chart.marks for value in mark.values if value is not None and math.isfinite(value)]
        values += [value for mark in chart.marks if mark.low is not None for value in mark.low]
        low, high = min(values), max(values)
        if chart.from_zero:
            low = min(0.0, low)
        step = _round_step((high - low or abs(high) or 1.0) / GRID_LINES)
        return cls(math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step or step, step)

    def at(self, value: float) -> float:
        """Height of a figure [px]."""
        span = self.high - self.low or 1.0
        return round(FOOT - (min(max(value, self.low), self.high) - self.low) / span * (FOOT - TOP), 1)

    @property
    def lines(self) -> Iterator[float]:
        """Round figures from the foot up."""
        for count in range(round((self.high - self.low) / self.step) + 1):
            yield self.low + count * self.step


def _round_step(least: float) -> float:
    """The next of 1, 2, 5, 10 …

    Examples
    --------
    >>> _round_step(340.0), _round_step(0.3)
    (500.0, 0.5)
    """
    magnitude: float = 10.0 ** math.floor(math.log10(least))
    return next(times * magnitude for times in (1, 2, 5, 10) if times * magnitude >= least * (1 - 1e-9))


def _middle(chart: Chart, position: float) -> float:
    """Place of a point along the chart [%]."""
    return round(LEFT + (position + 0.5) * (100 - LEFT) / len(chart.points), 3)


def _grid(chart: Chart, scale: _Scale) -> Iterator[str]:
    """Lines at round figures, with the figures and, over them, their unit."""
    yield f'<text x="{LEFT - 1.5}%" y="{TOP - 18}" text-anchor="end" fill="var(--soft)">{escape(chart.unit)}</text>'
    digits = max(0, -math.floor(math.log10(scale.step)))
    for value in scale.lines:
        height = scale.at(value)
        yield f'<line x1="{LEFT}%" x2="100%" y1="{height}" y2="{height}" stroke="var(--line)"/>'
        yield (
            f'<text x="{LEFT - 1.5}%" y="{height + 5}" text-anchor="end" fill="var(--soft)">{value:,.{digits}f}</text>'
        )


def _labels(chart: Chart) -> Iterator[str]:
    """Names of some points under the chart, spread evenly, as many as there is room for on a phone."""
    every = max(1, math.ceil(len(chart.points) / LABELS))
    for position in range(0, len(chart.points), every):
        place = _middle(chart, position)
        anchor = "end" if place > 88 else "middle"
        yield (
            f'<text x="{place}%" y="{FOOT + 24}" text-anchor="{anchor}" fill="var(--soft)">'
            f"{escape(chart.short[position])}</text>"
        )


def _mark(chart: Chart, mark: Mark, scale: _Scale) -> Iterator[str]:
    width = min(MOST_BAR_PERCENT, (100 - LEFT) / len(chart.points) * 0.7)
    half = (100 - LEFT) / len(chart.points) / 2
    before: float | None = None
    for position, value in enumerate(mark.values):
        if value is None or not math.isfinite(value):
            before = None
            continue
        middle, height = _middle(chart, position), scale.at(value)
        if mark.shape == "bar":
            yield _bar(middle, width, height, scale.at(0.0 if mark.low is None else mark.low[position]))
        elif mark.shape == "tick":
            yield _line(middle - width * 0.65, middle + width * 0.65, height, height, mark.shape)
        else:
            if before is not None and before != height:
                yield _line(middle - half, middle - half, before, height, mark.shape)
            yield _line(middle - half, middle + half, height, height, mark.shape)
            before = height


def _bar(middle: float, width: float, top: float, foot: float) -> str:
    tall = max(foot - top, 0.5)
    return f'<rect x="{middle - width / 2:.3f}%" width="{width:.3f}%" y="{top}" height="{tall:.1f}" {BAR}/>'


def _line(x1: float, x2: float, y1: float, y2: float, shape: Shape) -> str:
    colour, width, dash = STROKES[shape]
    ends = f'x1="{x1:.3f}%" x2="{x2:.3f}%" y1="{y1}" y2="{y2}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width}"{dash}/>'


def _upright(chart: Chart) -> Iterator[str]:
    if chart.upright is None:
        return
    position, words = chart.upright
    place = _middle(chart, position)
    anchor, beside = ("end", place - 1) if place > 60 else ("start", place + 1)
    yield f'<line x1="{place}%" x2="{place}%" y1="{TOP}" y2="{FOOT}" stroke="var(--soft)"/>'
    yield f'<text x="{beside:.3f}%" y="{TOP + 12}" text-anchor="{anchor}" fill="var(--soft)">{escape(words)}</text>'


def _key(chart: Chart) -> Iterator[str]:
    """What each shape stands for, a line each under the chart."""
    for row, mark in enumerate(chart.marks if len(chart.marks) > 1 else ()):
        middle = FOOT + 46 + KEY_LINE * row
        if mark.shape == "bar":
            yield f'<rect width="20" y="{middle - 6}" height="12" {BAR}/>'
        else:
            colour, width, dash = STROKES[mark.shape]
            yield f'<line x2="20" y1="{middle}" y2="{middle}" stroke="{colour}" stroke-width="{width}"{dash}/>'
        yield f'<text x="28" y="{middle + 5}" fill="var(--soft)">{escape(mark.name)}</text>'
