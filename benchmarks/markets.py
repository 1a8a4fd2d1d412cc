"""Invented purchase problems with the whole structure that buying for a build has, at any size.

Offers with prices that drift, jump and are reduced in sales by supplier; kits of three to eight parts; prices by count;
at home freight in tiers with a line from which it is free, and least orders; from abroad brokerage in tiers by
consignment with a relief at the bottom; depots reached by collections of limited mass with an allowance; deposits and
balances; money a month. Every offer may be ordered in every week from which it arrives in time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from fishplate.buy import Candidate, PurchaseProblem, Shipment, Trip

TIERS = ((0.0, 45.0, 0.0, True), (0.0, 150.0, 6.0, False), (150.0, 700.0, 18.0, False), (700.0, inf, 35.0, False))
"""Brokerage: lowest and highest value of the consignment, fee, whether a relief applies."""
TAX = {45.0: 1.0, 150.0: 1.20, 700.0: 1.24, inf: 1.24}
KEEPING = 0.0015
"""Cost of having a part a week early, as a share of its price."""


@dataclass(frozen=True)
class _Market:
    weeks: int
    rng: np.random.Generator
    base: np.ndarray
    mass: np.ndarray
    need: np.ndarray
    count: np.ndarray
    abroad: np.ndarray
    trip_weeks: list[int]
    sales: list[list[tuple[int, int, float]]]
    rises: list[tuple[int, float]]


@dataclass(frozen=True)
class _Offer:
    name: str
    supplier: int
    covers: dict[str, float]
    need: float
    price: np.ndarray
    mass: float
    lead: float
    risk: float
    deposit: float
    most: int
    least: int = 1


def _market(parts: int, weeks: int, seed: int) -> _Market:
    rng = np.random.default_rng(seed)
    suppliers = max(4, parts // 8)
    sales = [
        [(int(rng.integers(2, weeks - 4)), int(rng.integers(1, 4)), float(rng.uniform(0.08, 0.22))) for _ in range(2)]
        for _ in range(suppliers)
    ]
    return _Market(
        weeks=weeks,
        rng=rng,
        base=np.exp(rng.normal(4.2, 1.0, parts)),
        mass=np.exp(rng.normal(0.8, 1.0, parts)),
        need=rng.uniform(14, weeks, parts),
        count=np.where(rng.random(parts) < 0.12, rng.integers(2, 9, parts), 1),
        abroad=rng.random(suppliers) < 0.55,
        trip_weeks=list(range(9, weeks, 11)),
        sales=sales,
        rises=[(int(rng.integers(4, weeks)), float(rng.uniform(0.02, 0.06))) for _ in range(suppliers)],
    )


def _prices(market: _Market, supplier: int, today: float) -> np.ndarray:
    week = np.arange(market.weeks)
    price = today * (1 + market.rng.normal(0.0006, 0.0008)) ** week
    rise_week, rise = market.rises[supplier]
    price = np.where(week >= rise_week, price * (1 + rise), price)
    for first, length, depth in market.sales[supplier]:
        price = np.where((week >= first) & (week < first + length), price * (1 - depth), price)
    return price


def _offers(market: _Market, offers: int) -> Iterator[_Offer]:
    rng, parts = market.rng, market.base.size
    for number in range(offers):
        supplier = int(rng.integers(market.abroad.size))
        if number < parts:
            covered = [number]
        elif rng.random() < 0.12:
            covered = [int(p) for p in rng.choice(parts, int(rng.integers(3, 9)), replace=False)]
        else:
            covered = [int(rng.integers(parts))]
        covers = {f"p{p}": 1.0 for p in covered}
        kit = len(covered) > 1
        today = float(market.base[covered].sum() * rng.uniform(0.85, 1.2) * (rng.uniform(0.75, 0.92) if kit else 1.0))
        offer = _Offer(
            f"o{number}", supplier, covers, float(market.need[covered].min()), _prices(market, supplier, today),
            float(market.mass[covered].sum()), float(rng.uniform(0.5, 7)), float(rng.uniform(0.0, 0.05)),
            float(rng.choice([0, 0, 0, 0.3])), 1 if kit else int(market.count[covered[0]]),
        )  # fmt: skip
        yield offer
        if offer.most >= 4:
            yield replace(offer, price=offer.price * float(rng.uniform(0.82, 0.94)), least=offer.most // 2 + 1)


def _home(supplier: int, week: int, freight: float, free: float | None, least: float) -> list[Shipment]:
    key = f"s{supplier}w{week}home"
    heavy = freight * 2.2
    edge = 4 * freight + 160
    month = week // 4
    return [
        Shipment(f"{key}0", key, f"s{supplier}", None, None, week, 4.0, freight, free, least, edge, cash_month=month),
        Shipment(f"{key}1", key, f"s{supplier}", None, None, week, 4.0, heavy, free, edge, inf, cash_month=month),
    ]


def _post(supplier: int, week: int, freight: float, free: float | None) -> list[Shipment]:
    key = f"s{supplier}w{week}post"
    return [
        Shipment(f"{key}{n}", key, f"s{supplier}", "post", None, week, 4.0 + fee, 1.6 * freight, free, low, high,
                 relief, cash_month=week // 4)
        for n, (low, high, fee, relief) in enumerate(TIERS)
    ]  # fmt: skip


def _shipments(market: _Market) -> Iterator[tuple[int, int, Shipment, float]]:
    """Supplier, trip (-1: none), shipment, weeks it adds to the lead time."""
    rng = market.rng
    for s, abroad in enumerate(market.abroad):
        freight = float(rng.uniform(6, 18))
        free = float(rng.choice([0, 120, 200, 350])) or None
        least = float(rng.choice([0, 0, 0, 30]))
        depot = abroad and rng.random() < 0.7
        for week in range(market.weeks):
            if not abroad:
                yield from ((s, -1, shipment, 0.5) for shipment in _home(s, week, freight, free, least))
                continue
            yield from ((s, -1, shipment, 2.0) for shipment in _post(s, week, freight, free))
            ahead = [t for t, at in enumerate(market.trip_weeks) if at >= week + 1]
            for trip in ahead[: 2 if depot else 0]:
                key = f"s{s}w{week}depot{trip}"
                paid = 0.5 * freight
                yield s, trip, Shipment(key, key, f"s{s}", "depot", f"t{trip}", week, 6.0, paid, free,
                                        cash_month=week // 4), 0.0  # fmt: skip


def _candidate(market: _Market, offer: _Offer, shipment: Shipment, trip: int, extra: float) -> Candidate | None:
    """An offer in a shipment, if it arrives in time and fits the band."""
    price = float(offer.price[shipment.week])
    arrival = shipment.week + offer.lead + extra
    if trip >= 0:
        if arrival > market.trip_weeks[trip]:
            return None
        arrival = float(market.trip_weeks[trip])
    if arrival > offer.need or price * offer.least > shipment.high_value:
        return None
    tax = 1.2 if trip >= 0 else TAX[shipment.high_value] if shipment.route else 1.0
    paid = price * tax
    month = shipment.week // 4
    later = int(arrival) // 4
    cash = (
        ((month, paid),) if not offer.deposit else ((month, paid * offer.deposit), (later, paid - paid * offer.deposit))
    )
    return Candidate(
        f"{offer.name}x{offer.least}@{shipment.key}", offer.name, shipment.key, offer.covers,
        paid + price * (KEEPING * (offer.need - arrival) + offer.risk * min(1.0, (offer.need - arrival) / 26)),
        price, offer.mass, cash, offer.most, offer.least, 0.2 * price if trip >= 0 else 0.0,
    )  # fmt: skip


def generated(parts: int, offers: int, *, weeks: int, seed: int = 1) -> PurchaseProblem:
    """An invented problem: so many parts, so many offers, ordered in any of so many weeks."""
    market = _market(parts, weeks, seed)
    by_supplier: list[list[_Offer]] = [[] for _ in market.abroad]
    for offer in _offers(market, offers):
        by_supplier[offer.supplier].append(offer)
    shipments, candidates = [], []
    for supplier, trip, shipment, extra in _shipments(market):
        found = [_candidate(market, offer, shipment, trip, extra) for offer in by_supplier[supplier]]
        if held := [c for c in found if c is not None]:
            shipments.append(shipment)
            candidates += held
    trips = tuple(
        Trip(f"t{t}", float(market.rng.uniform(90, 220)), float(market.rng.uniform(150, 400)), cash_month=week // 4,
             allowance=86.0)
        for t, week in enumerate(market.trip_weeks)
    )  # fmt: skip
    total = float((market.base * market.count).sum())
    months = weeks // 4 + 1
    limits = tuple((m, 0.12 * total + 1.02 * total * (m + 1) / months) for m in range(months))
    needs = {f"p{p}": float(n) for p, n in enumerate(market.count)}
    return PurchaseProblem(needs, tuple(candidates), tuple(shipments), trips, limits)
