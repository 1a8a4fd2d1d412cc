"""Where parts lie and how many are owned: what came, was moved, fitted, sent back and counted, one after the other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from .events import Claim, Event, Fitting, Move, Receipt, Return, Settlement, StockTake
from .parts import Stock

# What happens on one day, in the order it is taken to happen: a count in the evening has the last word.
_RANK: dict[type, int] = {Receipt: 0, Settlement: 1, Move: 2, Fitting: 3, Return: 4, StockTake: 5}


@dataclass
class PartLies:
    """One part.

    Parameters
    ----------
    places : how many lie where; "" where nobody said
    fitted : how many are on the vehicle
    ahead : how many were fitted before anything says that they came
    faulty : how many came faulty and are not kept
    """

    places: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    fitted: float = 0.0
    ahead: float = 0.0
    faulty: float = 0.0

    @property
    def lying(self) -> float:
        """How many are owned and not fitted."""
        return sum(self.places.values())

    @property
    def owned(self) -> float:
        """How many are owned."""
        return self.lying + self.fitted

    def put(self, place: str, count: float) -> None:
        """So many more lie at a place; those fitted ahead of it come first."""
        used = min(self.ahead, count)
        self.ahead -= used
        self.fitted += used
        if count > used:
            self.places[place] += count - used

    def take(self, count: float, place: str = "") -> float:
        """So many are taken away, from a place first if it is named; returns how many there were."""
        left = count
        for name in sorted(self.places, key=lambda name: (name != place, name)):
            used = min(left, self.places[name])
            self.places[name] -= used
            left -= used
            if self.places[name] <= 0:
                del self.places[name]
        return count - left

    def fit(self, count: float) -> None:
        """So many go onto the vehicle."""
        taken = self.take(count)
        self.fitted += taken
        self.ahead += count - taken

    def send_back(self, count: float) -> None:
        """So many leave, from what lies about first."""
        left = count - self.take(count)
        self.fitted = max(0.0, self.fitted - left)

    def count(self, quantity: float, place: str) -> None:
        """So many lie at a place, or in all if none is named, whatever was thought before."""
        apart = quantity - (self.places.get(place, 0.0) if place else self.lying)
        if apart < 0:
            self.take(-apart, place)
        elif apart > 0:
            self.places[place] += apart
        self.ahead = 0.0


def whereabouts(stock: Iterable[Stock], events: Iterable[Event]) -> Mapping[str, PartLies]:
    """Where every part lies after the events, by part.

    Parameters
    ----------
    stock : what was there already, each from its own day on
    events : those up to the day asked about, in any order
    """
    claims = {event.id: event for event in events if isinstance(event, Claim)}
    steps: list[tuple[date, int, str, Stock | Event]] = [
        (item.since or date.min, -1, item.id, item) for item in stock
    ] + [(event.day, _RANK[type(event)], event.id, event) for event in events if type(event) in _RANK]
    found: dict[str, PartLies] = defaultdict(PartLies)
    for *_, step in sorted(steps, key=lambda step: step[:3]):
        _follow(found, claims, step)
    return dict(found)


def _follow(found: dict[str, PartLies], claims: Mapping[str, Claim], step: Stock | Event) -> None:
    match step:
        case Stock():
            found[step.part].put(step.place, step.quantity)
        case Receipt():
            for line in step.lines:
                found[line.part].put(step.place, line.quantity - line.faulty)
                found[line.part].faulty += line.faulty
        case Settlement(outcome="price-reduction"):
            claim = claims.get(step.claim)  # it may be written down as made later than it ended
            if claim is not None and claim.fault != "short":
                lies = found[claim.part]
                kept = min(claim.quantity, lies.faulty)  # one found faulty later was here all along
                lies.faulty -= kept
                lies.put("", kept)
        case Move():
            lies = found[step.part]
            there = lies.lying if not step.from_place else lies.places.get(step.from_place, 0.0)
            lies.put(step.place, lies.take(min(there, step.quantity or there), step.from_place))
        case Fitting():
            found[step.part].fit(step.quantity)
        case Return(claim=None):
            found[step.part].send_back(step.quantity)
        case StockTake():
            found[step.part].count(step.quantity, step.place)
        case _:
            pass
