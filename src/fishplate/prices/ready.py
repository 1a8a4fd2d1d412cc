"""What must be decided, measured and funded before a sale, an announced rise or the end of an offer."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from ..build import Build, Facts, offer_contents
from ..build.commerce import Offer
from ..build.words import day_words
from .drift import changes_for
from .model import Outlook, ReadyToBuy
from .seen import categories_of
from .wording import format_chance


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
    last_safe: Mapping[str, date] | None = None,
) -> tuple[ReadyToBuy, ...]:
    """For each expected sale, announced rise and end of an offer: what to have ready, and what is lost if it is not.

    Parameters
    ----------
    outlooks : by offer id
    needs : part -> how many are missing
    rates : currency -> home currency for one unit of it; offers in a currency not listed are passed over
    open_decisions, open_measures : offer -> decisions not taken, dimensions not known, that hold it
    last_safe : offer -> last safe day to order it, where one is known; a sale or rise after it changes nothing

    Returns
    -------
    By first day, then key. Each missing part is counted once, in the offer that saves most. The saving is against the
    cheapest of the offer's own list price, the seller's other offers at list price and other sellers' expected prices
    that week, before freight and duty.
    """
    market = _Market(build, outlooks, needs, rates, last_safe or {})
    found = [*_sales(facts, market), *_rises(build, facts, market), *_ends(facts, market)]
    complete = []
    for item in found:
        opened = replace(item, decide=_open(item.offers, open_decisions), measure=_open(item.offers, open_measures))
        complete.append(replace(opened, text=_text(build, opened)))
    return tuple(sorted(complete, key=lambda item: (item.first, item.key)))


def _open(offers: Iterable[str], holding: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(sorted({id_ for offer in offers for id_ in holding.get(offer, ())}))


class _Market:
    """What missing parts cost, by seller and week, in home currency."""

    def __init__(
        self,
        build: Build,
        outlooks: Mapping[str, Outlook],
        needs: Mapping[str, float],
        rates: Mapping[str, float],
        last_safe: Mapping[str, date],
    ) -> None:
        self.build, self.outlooks, self.needs, self.rates, self._last_safe = build, outlooks, needs, rates, last_safe
        self.offers = [o for o in build.offers if o.id in outlooks and o.price.currency in rates and self.covers(o)]

    def covers(self, offer: Offer) -> dict[str, float]:
        """Missing parts an offer brings, and how many of each in one unit."""
        return {part: count for part, count in offer_contents(self.build, offer).items() if self.needs.get(part, 0) > 0}

    def waits_for(self, offer: Offer, day: date) -> bool:
        """Whether a purchase may wait for what happens on a day."""
        return day <= self._last_safe.get(offer.id, day)

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

    def entry(self, blank: ReadyToBuy, buys: Iterable[_Buy]) -> Iterator[ReadyToBuy]:
        """An entry with the purchases worth making, if any is."""
        chosen = self.best(buys)
        if chosen:
            yield replace(
                blank,
                offers=tuple(buy.offer for buy in chosen),
                fund=sum(buy.fund for buy in chosen),
                saving=sum(buy.saving for buy in chosen if buy.saving < math.inf),
            )


def _blank(key: str, kind: Literal["sale", "rise", "end"], supplier: str, first: date) -> ReadyToBuy:
    return ReadyToBuy(key, kind, supplier, first, None, (), (), (), 0.0, 0.0, "")


def _sales(facts: Facts, market: _Market) -> Iterator[ReadyToBuy]:
    """Each window once, with every offer that it takes in."""
    found: dict[str, tuple[ReadyToBuy, list[_Buy]]] = {}
    for offer in market.offers:
        outlook = market.outlooks[offer.id]
        for sale in outlook.sales:
            if not sale.window or sale.first is None or not outlook.available[sale.first_week]:
                continue
            if not market.waits_for(offer, sale.first):
                continue
            week, units = sale.first_week, market.units(offer) * market.rates[offer.price.currency]
            price = units * float(outlook.list_price[week]) * (1 - sale.mean_depth)
            usual = min(units * float(outlook.list_price[week]), market.otherwise(offer, week))
            blank = replace(
                _blank(sale.window, "sale", offer.supplier, max(sale.first, facts.as_of)),
                last=sale.last, chance=sale.chance, depth=sale.mean_depth, ground=sale.ground,
            )  # fmt: skip
            buy = _Buy(offer.id, price, sale.chance * (usual - price))
            found.setdefault(sale.window, (blank, []))[1].append(buy)
    for blank, buys in found.values():
        yield from market.entry(blank, buys)


def _ends(facts: Facts, market: _Market) -> Iterator[ReadyToBuy]:
    """Last days on which offers can be ordered, where another would be dearer, or there is none."""
    found: dict[tuple[str, date], list[_Buy]] = {}
    for offer in market.offers:
        outlook, day = market.outlooks[offer.id], offer.available_until
        if day is None or day < facts.as_of or not market.waits_for(offer, day):
            continue
        week = (day - facts.as_of).days // 7
        if week + 1 >= len(outlook.list_price) or not outlook.available[week]:
            continue
        price = market.units(offer) * market.rates[offer.price.currency] * float(outlook.expected[week])
        buy = _Buy(offer.id, price, market.otherwise(offer, week + 1) - price)
        found.setdefault((offer.supplier, day), []).append(buy)
    for (supplier, day), buys in found.items():
        yield from market.entry(_blank(f"end {supplier} {day.isoformat()}", "end", supplier, day), buys)


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
            if not market.waits_for(offer, change.day):
                continue
            units = market.units(offer) * market.rates[offer.price.currency]
            before = units * float(outlook.list_price[week - 1])
            after = min(units * float(outlook.list_price[week]), market.otherwise(offer, week))
            by_supplier.setdefault(offer.supplier, []).append(_Buy(offer.id, before, after - before))
        for supplier, buys in sorted(by_supplier.items()):
            key = change.id if len(by_supplier) == 1 else f"{change.id}-{supplier}"
            blank = replace(_blank(key, "rise", supplier, change.day), depth=change.percent / 100, ground=change.note)
            yield from market.entry(blank, buys)


def _text(build: Build, item: ReadyToBuy) -> str:
    seller, home = build.find("suppliers", item.supplier).name, build.owner.currency
    count = f"{len(item.offers)} offer" + ("" if len(item.offers) == 1 else "s")
    head = {
        "sale": f"Sale at {seller} from {day_words(item.first)} (chance {format_chance(item.chance)})",
        "rise": f"Prices at {seller} rise on {day_words(item.first)}",
        "end": f"{count.capitalize()} at {seller} can be ordered until {day_words(item.first)}",
    }[item.kind]
    todo = [
        *(f"decide {build.find('decisions', id_).name}" for id_ in item.decide),
        *(f"measure {build.find('dimensions', id_).name}" for id_ in item.measure),
        f"have {item.fund:,.0f} {home} ready for {count}",
    ]
    lost = f"{item.saving:,.0f} {home} of expected saving is lost otherwise"
    if item.kind == "end":
        lost = f"otherwise it costs {item.saving:.0f} {home} more elsewhere" if item.saving else (
            "nobody else is known to sell it"
        )  # fmt: skip
    return f"{head}: before it, {', '.join(todo)}; {lost}."
