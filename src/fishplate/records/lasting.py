"""What runs out by itself: warranties, from when they truly start, and shelf life by date code."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from ..build import Build, offer_contents
from ..build.commerce import Offer
from ..build.events import Order, PartCount, Receipt
from ..build.whereabouts import whereabouts
from .lots import Lot, lots_of


@dataclass(frozen=True, slots=True)
class Warranty:
    """A part's warranty.

    Parameters
    ----------
    starts_with : what its terms count from; from_day, until : None while that has not happened
    """

    part: str
    offer: str
    supplier: str
    months: int
    starts_with: str
    from_day: date | None
    until: date | None


@dataclass(frozen=True, slots=True)
class ShelfLife:
    """Something that spoils before it is fitted.

    Parameters
    ----------
    use_by : last day; by its date code, or by how long its kind keeps from the day it was made, or else came
    ground : which of these
    """

    part: str
    quantity: float
    use_by: date
    ground: str


def months_later(day: date, months: int) -> date:
    """The same day so many months on, or the last one of a shorter month.

    Examples
    --------
    >>> months_later(date(2026, 1, 31), 1)
    datetime.date(2026, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def warranties(build: Build, as_of: date) -> tuple[Warranty, ...]:
    """Warranties of what came on orders and is still owned, soonest to end first; ended ones left out."""
    lots = (lot for each in lots_of(build, as_of).values() for lot in each)
    found = {warranty for lot in lots for warranty in _warranties(build, lot)}
    alive = (item for item in found if item.until is None or item.until >= as_of)
    return tuple(sorted(alive, key=lambda item: (item.until or date.max, item.part, item.offer)))


def _warranties(build: Build, lot: Lot) -> Iterator[Warranty]:
    """The warranty of a lot's parts; one for each day they were fitted on, where it counts from that."""
    order = build.index["events"].get(lot.order or "")
    if not isinstance(order, Order) or lot.left + lot.fitted <= 0:
        return
    offers = (build.find("offers", line.offer) for line in order.lines)
    offer: Offer | None = next((item for item in offers if lot.part in offer_contents(build, item)), None)
    if offer is None or offer.warranty_months is None:
        return
    fitted: list[date | None] = [day for day, _, how in lot.gone if how == "fitted"]
    starts: dict[str, list[date | None]] = {
        "order": [order.day], "receipt": [lot.came], "fitting": [*fitted, None] if lot.left > 0 else fitted,
    }  # fmt: skip
    for start in starts[offer.warranty_from]:
        until = None if start is None else months_later(start, offer.warranty_months)
        yield Warranty(
            lot.part, offer.id, order.supplier, offer.warranty_months, offer.warranty_from, start, until
        )  # fmt: skip


def shelf_lives(build: Build, as_of: date) -> tuple[ShelfLife, ...]:
    """What lies about and spoils, soonest first. What was fitted or sent back is taken to be what spoils first."""
    events = [event for event in build.events if event.day <= as_of]
    lying = {part: item.lying for part, item in whereabouts(build.stock, events).items()}
    dated: dict[str, list[ShelfLife]] = {}
    for receipt in (event for event in events if isinstance(event, Receipt)):
        for line in receipt.lines:
            life = _life(build, receipt, line)
            if life is not None:
                dated.setdefault(line.part, []).append(life)
    found = []
    for part, lives in dated.items():
        left = lying.get(part, 0.0)
        for life in sorted(lives, key=lambda item: item.use_by, reverse=True):
            kept = min(left, life.quantity)
            left -= kept
            if kept > 0:
                found.append(ShelfLife(part, kept, life.use_by, life.ground))
    return tuple(sorted(found, key=lambda item: (item.use_by, item.part)))


def _life(build: Build, receipt: Receipt, line: PartCount) -> ShelfLife | None:
    good, weeks = line.quantity - line.faulty, build.find("parts", line.part).shelf_weeks
    if line.use_by is not None:
        return ShelfLife(line.part, good, line.use_by, "its date code")
    if weeks is None:
        return None
    start = line.made_on or receipt.day
    ground = "the day it was made" if line.made_on else "the day it came; its date code is not written down"
    return ShelfLife(line.part, good, start + timedelta(weeks=weeks), ground)
