"""How quoted lead times turned out, by supplier, and what factor is taken from that."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from ..build import Assumption, Build
from ..build.commerce import Offer, Route, Supplier
from ..build.defaults import slippage
from ..build.events import Order, Receipt
from .orders import order_states

# How many deliveries the default counts for; our own default.
PRIOR_DELIVERIES = 4.0
TRAVEL_WEEKS = 0.8


@dataclass(frozen=True, slots=True)
class Delivery:
    """A line that came, or is overdue.

    Parameters
    ----------
    quoted, real : weeks to dispatch; real is so far where it has not come
    came : day the last of it arrived, None if it has not
    """

    supplier: str
    order: str
    offer: str
    quoted: float
    real: float
    came: date | None

    @property
    def factor(self) -> float:
        """Real over quoted."""
        return self.real / self.quoted


@dataclass(frozen=True, slots=True)
class LeadTimes:
    """What was learnt of a supplier's lead times.

    Parameters
    ----------
    default : factor that is common practice; factor : the default and the deliveries together
    """

    supplier: str
    name: str
    default: float
    factor: float
    deliveries: tuple[Delivery, ...]

    def assumption(self) -> Assumption:
        """What a plan takes from it, in words."""
        count = len(self.deliveries)
        own = sum(delivery.factor for delivery in self.deliveries) / count
        text = (
            f"quoted lead times of {self.name} turn out {self.factor:.2g} times as long on average: your "
            f"{count} deliver{'y' if count == 1 else 'ies'} took {own:.2g} times what was quoted, weighed with "
            f"{PRIOR_DELIVERIES:g} at the usual {self.default:g} (our own default)"
        )
        return Assumption("slippage-learnt", f"supplier {self.supplier}", text)


def lead_times(build: Build, as_of: date) -> Mapping[str, LeadTimes]:
    """Learnt lead times by supplier, for those who have delivered, or are overdue.

    Notes
    -----
    The mean of real over quoted, shrunk to the default by counting that as PRIOR_DELIVERIES deliveries: the linear
    estimate of least expected squared error where deliveries of one supplier spread twice as wide as suppliers do
    (H. Bühlmann, Experience rating and credibility, ASTIN Bulletin 4, 1967: Z = n / (n + k), k the ratio of the two
    variances). What is overdue beyond the default counts with its age,
    which is the least it can turn out. What the way home takes by its own likely figure is not the supplier's.
    """
    found: dict[str, list[Delivery]] = defaultdict(list)
    for delivery in _deliveries(build, as_of):
        found[delivery.supplier].append(delivery)
    learnt = {}
    for id_ in sorted(found):
        supplier: Supplier = build.find("suppliers", id_)
        default, own = slippage(supplier), [delivery.factor for delivery in found[id_]]
        factor = (PRIOR_DELIVERIES * default + sum(own)) / (PRIOR_DELIVERIES + len(own))
        learnt[id_] = LeadTimes(id_, supplier.name, default, factor, tuple(found[id_]))
    return learnt


def _deliveries(build: Build, as_of: date) -> Iterator[Delivery]:
    for state in order_states(build, as_of):
        order = state.order
        travel = _travel(build, order)
        for position, line in enumerate(order.lines):
            offer: Offer = build.find("offers", line.offer)
            parts = [item for item in state.lines if item.line == position]
            if offer.lead_weeks is None or offer.lead_weeks.mean <= 0 or any(item.off for item in parts):
                continue
            quoted = offer.lead_weeks.mean
            came = _came(build, order, {item.part for item in parts}, as_of)
            if came is not None and not any(item.waiting for item in parts):
                yield Delivery(order.supplier, order.id, offer.id, quoted, _weeks(order, came, travel), came)
            elif state.cancelled_on is None and order.collection is None:
                age = _weeks(order, as_of, travel)
                if age > quoted * slippage(build.find("suppliers", order.supplier)):
                    yield Delivery(order.supplier, order.id, offer.id, quoted, age, None)


def _came(build: Build, order: Order, parts: set[str], as_of: date) -> date | None:
    """Day the last of a line arrived; None for what was fetched, whose day is the trip's."""
    if order.collection is not None:
        return None
    return max(
        (event.day for event in build.events
         if isinstance(event, Receipt) and event.order == order.id and event.day <= as_of
         and any(line.part in parts for line in event.lines)),
        default=None,
    )  # fmt: skip


def _travel(build: Build, order: Order) -> float:
    route: Route | None = build.index["routes"].get(order.route or "")
    return TRAVEL_WEEKS if route is None or route.weeks is None else route.weeks.mean


def _weeks(order: Order, day: date, travel: float) -> float:
    return max(1 / 7, (day - order.day).days / 7 - travel)
