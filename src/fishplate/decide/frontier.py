"""The frontier of whole-vehicle choices by cost, own hours and value."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable, Iterator
from math import prod
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..build import Assumption
from .impossible import smallest_fault
from .vehicle import Configuration, Configurations, VehicleChoice
from .weights import FloatArray

# So many choices are all looked at; of more, points of the frontier are looked for one by one.
ENUMERATED: Final = 200_000
LEVELS: Final = 4
POINTS: Final = 9
# A unit of what is sought counts for so many of the others; any weight keeps a point one that nothing beats.
FIRST: Final = 200


def configurations(choice: VehicleChoice, *, enumerated: int = ENUMERATED) -> Configurations:
    """Whole-vehicle choices that no other beats by cost, hours and value alike.

    Parameters
    ----------
    enumerated : up to so many combinations are all looked at, so that the frontier is whole

    Notes
    -----
    Beyond that, each point is the cheapest choice with at least so much value in at most so many hours, found and
    proven by a constraint programme (augmented epsilon-constraint method, Mavrotas, Applied Mathematics and Computation
    213, 2009).
    """
    now = choice.of(choice.now)
    against = choice.against(choice.now)
    if prod(_open_counts(choice)) <= enumerated:
        found, count = _all_of_them(choice)
        frontier, complete, unproven = found, True, 0
    else:
        frontier, unproven = _points_of_it(choice)
        count, complete = None, False
    fault = () if frontier else smallest_fault(choice, ()) or ()
    said = tuple(_said(complete, len(frontier), unproven))
    return Configurations(now, against, tuple(frontier), complete, count, fault, said)


def _open_counts(choice: VehicleChoice) -> list[int]:
    return [1 if choosing.decided else len(choosing.ways) for choosing in choice.choosings]


def _said(complete: bool, shown: int, unproven: int) -> Iterator[Assumption]:
    if not complete:
        text = f"there are too many choices to look at each, so {shown} points stand for a longer frontier"
        yield Assumption("frontier-sampled", "build", text)
    if unproven:
        yield Assumption("frontier-unproven", "build", f"{unproven} of these points may not be the best of their kind")


# every choice


def _all_of_them(choice: VehicleChoice) -> tuple[list[Configuration], int]:
    """The whole frontier, and how many choices there are."""
    options = [
        [way.option for way in choosing.ways if not choosing.decided or way.option == choosing.now]
        for choosing in choice.choosings
    ]
    picks = np.indices([len(each) for each in options]).reshape(len(options), -1) if options else np.empty((0, 1), int)
    has = {option: picks[row] == place for row, each in enumerate(options) for place, option in enumerate(each)}
    allowed = _allowed(choice, has, picks.shape[1])
    kept = np.flatnonzero(allowed)
    has = {option: mask[kept] for option, mask in has.items()}
    figures = _figures(choice, has, len(kept))
    rows = undominated(figures)
    taken = [frozenset(option for option, mask in has.items() if mask[row]) for row in rows]
    return [choice.of(each) for each in taken], len(kept)


def _allowed(choice: VehicleChoice, has: dict[str, NDArray[np.bool_]], count: int) -> NDArray[np.bool_]:
    allowed = np.ones(count, bool)
    nowhere = np.zeros(count, bool)
    for barrier in choice.barriers:
        against = np.ones(count, bool)
        for option in barrier.takes:
            against &= has.get(option, nowhere)
        for option in barrier.without:
            against &= ~has.get(option, nowhere)
        allowed &= ~against
    return allowed


def _figures(choice: VehicleChoice, has: dict[str, NDArray[np.bool_]], count: int) -> FloatArray:
    """Cost, hours, value below nothing and number of changes of each choice, shape (choices, 4)."""
    figures = np.zeros((count, 4))
    brought: dict[str, NDArray[np.bool_]] = {}
    for option, mask in has.items():
        figures[:, 2] -= choice.ways[option].value * mask
        figures[:, 3] += mask if option not in choice.now else 0
        for key in choice.ways[option].items:
            brought[key] = brought[key] | mask if key in brought else mask
    for key, mask in brought.items():
        figures[:, 0] += choice.items[key].cost * mask
        figures[:, 1] += choice.items[key].hours * mask
    return figures.round(6)


def undominated(figures: FloatArray) -> list[int]:
    """Rows that no other beats: none is at most as large in the first three columns and smaller in one.

    Of rows alike in these the one with the least in the last column stands, and of those the first.

    Examples
    --------
    >>> undominated(np.array([[1.0, 2.0, 0.0, 0.0], [2.0, 1.0, 0.0, 0.0], [2.0, 2.0, 0.0, 0.0]]))
    [0, 1]
    """
    order = np.lexsort((figures[:, 3], figures[:, 2], figures[:, 1], figures[:, 0]))
    # the stairs of what was kept: hours rise, and what is given up for them falls
    hours: list[float] = []
    rest: list[float] = []
    kept = []
    for row in order.tolist():
        hour, other = float(figures[row, 1]), float(figures[row, 2])
        place = bisect_right(hours, hour)
        if place and rest[place - 1] <= other:
            continue
        kept.append(row)
        place = bisect_left(hours, hour)
        end = place
        while end < len(rest) and rest[end] >= other:
            end += 1
        hours[place:end], rest[place:end] = [hour], [other]
    return kept


# points of the frontier


def _points_of_it(choice: VehicleChoice) -> tuple[list[Configuration], int]:
    """Points along the frontier, and how many of them are not proven."""
    from .programme import HOURS_SCALE

    slack = _point(choice, least_value=None, most_hours=None, by="value")
    if slack is None:
        return [], 0
    quick = _point(choice, least_value=None, most_hours=None, by="hours") or slack
    caps = np.linspace(quick[0].hours, slack[0].hours, LEVELS) if slack[0].hours > quick[0].hours else [slack[0].hours]
    found = {item.options: (item, proven) for item, proven in (slack, quick)}
    for cap in [*caps, None]:
        limit = None if cap is None else int(np.ceil(HOURS_SCALE * cap))
        for item, proven in _along(choice, limit):
            found[item.options] = item, proven
    items = [item for item, _ in found.values()]
    figures = np.array([[item.cost, item.hours, -item.value, len(item.changes)] for item in items]).round(6)
    rows = undominated(figures)
    return [items[row] for row in rows], sum(not found[items[row].options][1] for row in rows)


def _along(choice: VehicleChoice, most_hours: int | None) -> Iterable[tuple[Configuration, bool]]:
    """Points from the cheapest to the most valuable within some hours, each halving the widest gap left."""
    first = _point(choice, least_value=None, most_hours=most_hours, by="cost")
    last = _point(choice, least_value=None, most_hours=most_hours, by="value")
    if first is None or last is None:
        return []
    found = [first, last]
    gaps = [(first[0].value - last[0].value, first[0].value, last[0].value)]
    while gaps and len(found) < POINTS:
        width, low, high = gaps.pop(0)
        if width > -0.5:
            break
        middle = (low + high) / 2
        point = _point(choice, least_value=middle, most_hours=most_hours, by="cost")
        if point is None:
            continue
        found.append(point)
        for one, two in ((low, middle), (max(point[0].value, middle), high)):
            insort(gaps, (one - two, one, two))
    return found


def _point(
    choice: VehicleChoice, *, least_value: float | None, most_hours: int | None, by: str
) -> tuple[Configuration, bool] | None:
    """The best choice by one figure within limits on the others; one that nothing beats."""
    from .programme import VALUE_SCALE, Programme

    programme = Programme(choice)
    programme.keep(choice.barriers)
    if least_value is not None:
        programme.model.add(programme.value >= int(np.ceil(VALUE_SCALE * least_value)))
    if most_hours is not None:
        programme.model.add(programme.hours <= most_hours)
    match by:
        case "cost":
            programme.model.minimize(FIRST * programme.cost - programme.value + programme.hours)
        case "hours":
            programme.model.minimize(FIRST * programme.hours - programme.value + programme.cost)
        case _:
            programme.model.maximize(FIRST * programme.value - programme.cost - programme.hours)
    solved = programme.solve()
    return None if solved is None else (choice.of(solved[0]), solved[1])
