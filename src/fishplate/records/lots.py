"""What of each arrival is still here, and on which days the rest was fitted or went back: first come, first used."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from ..build import Build
from ..build.events import Event, Fitting, Receipt, Return
from ..build.parts import Stock
from ..build.whereabouts import whereabouts

Gone = Literal["fitted", "returned", "counted"]
# What happens on one day, in the order it is taken to happen.
_RANK: dict[type, int] = {Receipt: 0, Fitting: 1, Return: 2}


@dataclass
class Lot:
    """Good ones of a part that came together.

    Parameters
    ----------
    order : the order that brought it; None for stock, and for what came without one
    left : how many still lie about
    gone : the others, as (day, how many, what became of them); "counted" : a count did not find them
    """

    part: str
    order: str | None
    came: date
    left: float
    gone: list[tuple[date, float, Gone]] = field(default_factory=list)

    def take(self, day: date, count: float, how: Gone) -> float:
        """So many leave on a day; returns how many were there."""
        used = min(self.left, count)
        if used > 0:
            self.left -= used
            self.gone.append((day, used, how))
        return used

    @property
    def fitted(self) -> float:
        """How many are on the vehicle."""
        return sum(count for _, count, how in self.gone if how == "fitted")


def lots_of(build: Build, as_of: date) -> Mapping[str, tuple[Lot, ...]]:
    """Every lot by part, earliest first.

    Notes
    -----
    What goes back is taken from the order it names, all else from what came first. What was fitted before anything says
    that it came is taken from what comes next. Where fewer are found than that leaves, the earliest are missing.
    """
    stock = [item for item in build.stock if item.since is None or item.since <= as_of]
    events = [event for event in build.events if event.day <= as_of]
    found: dict[str, list[Lot]] = defaultdict(list)
    ahead: dict[str, float] = defaultdict(float)
    for step in _in_order(stock, events):
        match step:
            case Stock():
                found[step.part].append(Lot(step.part, None, step.since or date.min, step.quantity))
            case Receipt():
                for line in step.lines:
                    lot = Lot(line.part, step.order, step.day, line.quantity - line.faulty)
                    found[line.part].append(lot)
                    ahead[line.part] -= lot.take(step.day, ahead[line.part], "fitted")
            case Fitting():
                ahead[step.part] += _take(found[step.part], step.day, step.quantity, "fitted")
            case Return(claim=None):
                lots = found[step.part]
                named = [lot for lot in lots if step.order is not None and lot.order == step.order]
                _take(lots, step.day, _take(named, step.day, step.quantity, "returned"), "returned")
            case _:
                pass
    lies = whereabouts(stock, events)
    for part, lots in found.items():
        missing = sum(lot.left for lot in lots) - lies[part].lying
        if missing > 0:
            _take(lots, as_of, missing, "counted")
    return {part: tuple(lots) for part, lots in found.items()}


def _in_order(stock: Iterable[Stock], events: Iterable[Event]) -> list[Stock | Event]:
    steps: list[tuple[date, int, str, Stock | Event]] = [(item.since or date.min, -1, item.id, item) for item in stock]
    steps += [(event.day, _RANK[type(event)], event.id, event) for event in events if type(event) in _RANK]
    return [step for *_, step in sorted(steps, key=lambda step: step[:3])]


def _take(lots: Iterable[Lot], day: date, count: float, how: Gone) -> float:
    """So many leave, from the earliest lots first; returns how many were not there."""
    for lot in lots:
        count -= lot.take(day, count, how)
    return count
