"""The margin of a condition as a drawing: limits, the spread of nine cases of ten, the middle one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from ..build.formats import CANONICAL, DIGITS, Formats, sign_of
from ..build.units import format_quantity

if TYPE_CHECKING:
    from ..fit import ConditionResult

LIMIT_DECIMALS: Final = 3
PLACES: Final = 4  # about so many are named along the axis
EDGE: Final = 0.14
"""Room beside what is drawn, as a share of it: the limit's rail has to be seen."""


@dataclass(frozen=True, slots=True)
class Place:
    """A labelled place on an axis, in percent of its length; `anchor` keeps the label inside."""

    at: float
    label: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Bar:
    """What is drawn, each place in percent of the axis.

    Parameters
    ----------
    axis : what the axis measures, where it is not the condition's own figure; ticks : places on it
    limits : where the margin is used up, and for two limits where it is largest
    rail : from where to where there is no room
    span : where nine cases of ten lie; middle : the middle case
    text : the same in words
    """

    axis: str
    ticks: tuple[Place, ...]
    limits: tuple[Place, ...]
    rail: tuple[float, float]
    span: tuple[float, float]
    middle: float
    text: str

    @property
    def limit(self) -> float:
        """Where the margin is used up."""
        return self.limits[0].at


def margin_bar(result: ConditionResult, formats: Formats = CANONICAL) -> Bar | None:
    """The drawing of a condition's margin in the owner's units; None if its margin is not known.

    Places on an axis have no unit of their own, so they can't be told anew afterwards. With one limit the axis is the
    expression's own, with two it is the distance from the nearer of them: there the spread of the margin says nothing
    about which of the two is near.
    """
    margins = (result.margin_p05, result.margin_p50, result.margin_p95)
    low, middle, high = (_turned(value, result.unit, formats, is_width=True) for value in margins)
    if low is None or middle is None or high is None:
        return None
    least, most = (_turned(value, result.unit, formats) for value in (result.at_least, result.at_most))
    unit = result.unit if formats.unit(result.unit) == result.unit else sign_of(formats.unit(result.unit))
    if least is not None and most is not None:
        half = (most - least) / 2
        names = [(0.0, f"at {_number(least)} or {_words(most, unit)}"), (half, "midway")]
        return _drawn((low, middle, high), names, 0.0, left=True, axis="distance from the nearer limit", unit=unit)
    if least is not None:
        values = (least + low, least + middle, least + high)
        return _drawn(values, [(least, f"at least {_words(least, unit)}")], least, left=True, axis="", unit=unit)
    if most is not None:
        values = (most - high, most - middle, most - low)
        return _drawn(values, [(most, f"at most {_words(most, unit)}")], most, left=False, axis="", unit=unit)
    return None


def _turned(value: float | None, unit: str, formats: Formats, *, is_width: bool = False) -> float | None:
    """A value in the unit it is shown in; a limit without more digits than it was given in."""
    if value is None or formats.unit(unit) == unit:
        return value
    turned = formats.turned(value, unit, is_width=is_width)
    return turned if is_width else float(f"{round(turned, LIMIT_DECIMALS):.{DIGITS}g}")


def _drawn(
    values: tuple[float, float, float],
    names: list[tuple[float, str]],
    limit: float,
    *,
    left: bool,
    axis: str,
    unit: str,
) -> Bar:
    shown = [*values, *(value for value, _ in names)]
    size = (max(shown) - min(shown)) or abs(max(shown)) or 1.0
    first, last = min(shown) - EDGE * size, max(shown) + EDGE * size

    def place(value: float) -> float:
        return round(100 * (value - first) / (last - first), 2)

    *ticks, end = _round_values(first, last)
    places = [Place(place(value), _number(value), "middle") for value in ticks]
    places.append(Place(place(end), _words(end, unit), "end" if place(end) > 85 else "middle"))
    marks = [Place(place(value), label, _anchor(place(value))) for value, label in names]
    if len(marks) > 1 and marks[1].at - marks[0].at < 40:
        marks.pop()  # their labels would run into each other
    decimals = _decimals(values[2] - values[0])
    least, middle, most = (_shown(value, decimals) for value in values)
    spread = f"{least} to {most} {unit}".rstrip()
    text = f"{names[0][1]}; {spread} in nine cases of ten, {f'{middle} {unit}'.rstrip()} in the middle"
    return Bar(
        axis=axis,
        ticks=tuple(places),
        limits=tuple(marks),
        rail=(0.0, place(limit)) if left else (place(limit), 100.0),
        span=(place(values[0]), place(values[2])),
        middle=place(values[1]),
        text=text,
    )


def _anchor(at: float) -> str:
    if at < 30:
        return "start"
    return "end" if at > 70 else "middle"


def _round_values(first: float, last: float) -> list[float]:
    """A few round values between two, well inside so that their labels are not cut.

    Examples
    --------
    >>> _round_values(-3.2, 21.0)
    [0.0, 5.0, 10.0, 15.0, 20.0]
    """
    rough = (last - first) / PLACES
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough * 0.75)
    inside = 0.04 * (last - first)
    counts = range(math.ceil((first + inside) / step), math.floor((last - inside) / step) + 1)
    return [float(f"{count * step:.10g}") + 0.0 for count in counts]


def _decimals(span: float) -> int:
    """Decimals that show two digits of a span: as fine as the figures are."""
    return max(0, 1 - math.floor(math.log10(span))) if span > 0 else 1


def _shown(value: float, decimals: int) -> str:
    return f"{round(value, decimals) + 0.0:.{min(decimals, 9)}f}".replace("-", "−")


def _number(value: float) -> str:
    return format_quantity(value, "", digits=6).replace("-", "−")


def _words(value: float, unit: str) -> str:
    return format_quantity(value, unit, digits=6).replace("-", "−")
