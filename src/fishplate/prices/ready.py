"""What must be decided, measured and funded before a sale or an announced rise."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from ..build import Build, Facts, offer_contents
from ..build.commerce import Offer
from .drift import changes_for
from .model import Outlook, ReadyToBuy
from .outlook import categories_of
from .wording import format_chance, format_day


@dataclass(frozen=True, slots=True)
class _Buy:
    """An offer worth buying then: what it takes, and what it saves if the chance comes [home currency]."""

    offer: str
    fund: float
    saving: float


def ready_to_buy(
    build: Build,
    facts: Facts,
    outlooks: Mapping[str, Outlook],
    needs: Mapping[str, float],
    rates: Mapping[str, float],
    open_decisions: Mapping[str, tuple[str, ...]],
    open_measures: Mapping[str, tuple[str, ...]],
) -> tuple[ReadyToBuy, ...]:
    """For each expected sale and announced rise: what to have ready, and what is lost if it is not.

    Parameters
    ----------
    outlooks : by offer id
    needs : part -> how many are missing
    rates : currency -> home currency for one unit of it; offers in a currency not listed are passed over
    open_decisions, open_measures : offer -> decisions not taken, dimensions not known, that hold it

    Returns
    -------
    By first day, then id. Each missing part is counted once, in the offer that saves most. The saving is against the
    cheapest of the offer's own list price, the seller's other offers at list price and other sellers' expected prices
    that week, before freight and duty.
    """
    market = _Market(build, outlooks, needs, rates)
    found = [*_sales(build, facts, market), *_rises(build, facts, market)]
    complete = [
        ReadyToBuy(
            id=item.id, kind=item.kind, supplier=item.supplier, first=item.first, last=item.last, offers=item.offers,
            decide=_open(item.offers, open_decisions), measure=_open(item.offers, open_measures),
            fund=item.fund, saving=item.saving, text=_text(build, item, open_decisions, open_measures),
        )
        for item in found
    ]  # fmt: skip
    return tuple(sorted(complete, key=lambda item: (item.first, item.id)))


def _open(offers: Iterable[str], holding: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(sorted({id_ for offer in offers for id_ in holding.get(offer, ())}))


class _Market:
    """What missing parts cost, by seller and week, in home currency."""

    def __init__(
        self, build: Build, outlooks: Mapping[str, Outlook], needs: Mapping[str, float], rates: Mapping[str, float]
    ) -> None:
        self.build, self.outlooks, self.needs, self.rates = build, outlooks, needs, rates
        self.offers = [o for o in build.offers if o.id in outlooks and o.price.currency in rates and self.covers(o)]

    def covers(self, offer: Offer) -> dict[str, float]:
        """Missing parts an offer brings, and how many of each in one unit."""
        return {part: count for part, count in offer_contents(self.build, offer).items() if self.needs.get(part, 0) > 0}

    def units(self, offer: Offer) -> float:
        """Units that cover every missing part the offer brings."""
        return max(math.ceil(self.needs[part] / count - 1e-9) for part, count in self.covers(offer).items())

    def otherwise(self, offer: Offer, week: int) -> float:
        """What the parts one purchase of this offer covers cost by the best other offers, this seller's sale aside."""
        total = 0.0
        for part in self.covers(offer):
            others = [
                self.units(other) * self._price(other, offer.supplier, week) * self.rates[other.price.currency]
                for other in self.offers
                if other.id != offer.id and other.part == part and self.outlooks[other.id].available[week]
            ]
            total += min(others, default=math.inf)
        return total

    def _price(self, offer: Offer, seller: str, week: int) -> float:
        outlook = self.outlooks[offer.id]
        return float((outlook.list_price if offer.supplier == seller else outlook.expected)[week])

    def best(self, buys: Iterable[_Buy]) -> tuple[_Buy, ...]:
        """The purchases that save most, each missing part in one of them; those that save nothing left out."""
        taken: set[str] = set()
        chosen = []
        for buy in sorted(buys, key=lambda buy: (-buy.saving, buy.fund, buy.offer)):
            parts = set(self.covers(self.build.find("offers", buy.offer)))
            if buy.saving > 0 and not parts & taken:
                taken |= parts
                chosen.append(buy)
        return tuple(sorted(chosen, key=lambda buy: buy.offer))


def _entry(
    market: _Market, id_: str, supplier: str, first: date, last: date | None, buys: Iterable[_Buy]
) -> Iterator[ReadyToBuy]:
    chosen = market.best(buys)
    if chosen:
        yield ReadyToBuy(
            id_,
            "rise" if last is None else "sale",
            supplier,
            first,
            last,
            tuple(buy.offer for buy in chosen),
            (),
            (),
            sum(buy.fund for buy in chosen),
            sum(buy.saving for buy in chosen),
            "",
        )


def _sales(build: Build, facts: Facts, market: _Market) -> Iterator[ReadyToBuy]:
    for window in build.sale_windows:
        if window.last < facts.as_of:
            continue
        buys = []
        for offer in market.offers:
            outlook = market.outlooks[offer.id]
            sale = next((sale for sale in outlook.sales if sale.window == window.id), None)
            if sale is None or not outlook.available[sale.first_week]:
                continue
            week, units = sale.first_week, market.units(offer) * market.rates[offer.price.currency]
            price = units * float(outlook.list_price[week]) * (1 - sale.mean_depth)
            usual = min(units * float(outlook.list_price[week]), market.otherwise(offer, week))
            buys.append(_Buy(offer.id, price, sale.chance * (usual - price)))
        yield from _entry(market, window.id, window.supplier, max(window.first, facts.as_of), window.last, buys)


def _rises(build: Build, facts: Facts, market: _Market) -> Iterator[ReadyToBuy]:
    for change in build.price_changes:
        if change.percent <= 0 or change.day <= facts.as_of:
            continue
        # the first week whose first day has the new price
        week = -(-(change.day - facts.as_of).days // 7)
        by_supplier: dict[str, list[_Buy]] = {}
        for offer in market.offers:
            outlook = market.outlooks[offer.id]
            touched = change in changes_for(build, offer, categories_of(build, offer))
            if not touched or week >= len(outlook.list_price) or not outlook.available[week - 1]:
                continue
            units = market.units(offer) * market.rates[offer.price.currency]
            before = units * float(outlook.list_price[week - 1])
            after = min(units * float(outlook.list_price[week]), market.otherwise(offer, week))
            by_supplier.setdefault(offer.supplier, []).append(_Buy(offer.id, before, after - before))
        for supplier, buys in sorted(by_supplier.items()):
            id_ = change.id if len(by_supplier) == 1 else f"{change.id}-{supplier}"
            yield from _entry(market, id_, supplier, change.day, None, buys)


def _text(
    build: Build,
    item: ReadyToBuy,
    open_decisions: Mapping[str, tuple[str, ...]],
    open_measures: Mapping[str, tuple[str, ...]],
) -> str:
    seller = build.find("suppliers", item.supplier).name
    home = build.owner.currency
    count = f"{len(item.offers)} offer" + ("" if len(item.offers) == 1 else "s")
    if item.kind == "sale":
        chance = next(w.chance for w in build.sale_windows if w.id == item.id)
        head = f"Sale at {seller} from {format_day(item.first)} (chance {format_chance(chance)})"
    else:
        head = f"Prices at {seller} rise on {format_day(item.first)}"
    todo = [
        *(f"decide {build.find('decisions', id_).name}" for id_ in _open(item.offers, open_decisions)),
        *(f"measure {build.find('dimensions', id_).name}" for id_ in _open(item.offers, open_measures)),
        f"have {item.fund:.0f} {home} ready for {count}",
    ]
    return f"{head}: before it, {', '.join(todo)}; {item.saving:.0f} {home} of expected saving is lost otherwise."
