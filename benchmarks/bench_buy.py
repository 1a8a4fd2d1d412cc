"""Time to a purchase plan within one percent, against the same model handed whole to HiGHS in the same run."""

from __future__ import annotations

import resource
from collections.abc import Mapping
from math import inf
from time import perf_counter

import numpy as np

from fishplate.buy.model import Candidate, PurchaseProblem, Selection, Shipment, Trip


def generated(parts: int, offers: int, *, weeks: int = 60, seed: int = 1) -> PurchaseProblem:
    """Invented parts, suppliers and prices with two routes, fee tiers, free freight, kits, sales, trips and cash."""
    rng = np.random.default_rng(seed)
    suppliers = max(4, parts // 6)
    abroad = rng.random(suppliers) < 0.5
    base = np.exp(rng.normal(4.6, 1.0, parts))
    need_week = rng.uniform(6, weeks * 0.9, parts)
    late = rng.uniform(3, 25, parts)
    trips = tuple(Trip(f"trip{k}", 160.0 + 20 * k, 400.0) for k in range(3))
    trip_weeks = [10, 26, 45]
    sale = {s: int(rng.integers(3, weeks - 3)) for s in range(suppliers)}
    shipments: list[Shipment] = []
    for s in range(suppliers):
        freight, line = float(rng.uniform(6, 30)), float(rng.choice([0, 150, 250, 400]))
        for week in range(weeks):
            free = line or None
            if not abroad[s]:
                shipments.append(
                    Shipment(f"s{s}w{week}", f"s{s}w{week}", f"s{s}", None, None, week, 0.0, freight, free)
                )
                continue
            key = f"s{s}w{week}courier"
            tiers = [(0, 45, 0.0, True), (0, 150, 6.0, False), (150, 700, 18.0, False), (700, inf, 35.0, False)]
            for low, high, fee, relief in tiers:
                shipments.append(
                    Shipment(
                        f"{key}{high}{relief}",
                        key,
                        f"s{s}",
                        "courier",
                        None,
                        week,
                        fee,
                        freight * 2,
                        free,
                        low,
                        high,
                        relief,
                    )
                )
            trip = next((k for k, t in enumerate(trip_weeks) if week + 2 <= t), None)
            if trip is not None:
                key = f"s{s}w{week}depot"
                shipments.append(Shipment(key, key, f"s{s}", "depot", f"trip{trip}", week, 8.0, freight, free))
    by_supplier: dict[str, list[Shipment]] = {}
    for shipment in shipments:
        by_supplier.setdefault(shipment.supplier, []).append(shipment)
    candidates: list[Candidate] = []
    for o in range(offers):
        if o < parts:
            covers = {o: 1.0}
        elif rng.random() < 0.25:
            covers = {int(p): 1.0 for p in rng.choice(parts, int(rng.integers(3, 6)), replace=False)}
        else:
            covers = {int(rng.integers(parts)): 1.0}
        supplier = int(rng.integers(suppliers))
        price = sum(base[p] for p in covers) * rng.uniform(0.85, 1.15) * (0.9 if len(covers) > 1 else 1.0)
        lead = rng.uniform(1, 6)
        drift = rng.normal(0.0005, 0.0008)
        for shipment in by_supplier[f"s{supplier}"]:
            week = shipment.week
            now = price * (1 + drift) ** week * (0.82 if sale[supplier] <= week < sale[supplier] + 2 else 1.0)
            arrival = week + lead + (2 if shipment.route else 0)
            if shipment.collection:
                arrival = trip_weeks[int(shipment.collection[4:])]
            lateness = sum(late[p] * max(0.0, arrival - need_week[p]) for p in covers)
            carry = now * 0.0015 * max(0.0, min(need_week[p] for p in covers) - arrival)
            if lateness > 6 * price or now > shipment.high_value:
                continue
            tax = 1.0 if shipment.relief or shipment.route is None else (1.06 if shipment.high_value <= 150 else 1.1)
            cost = now * tax + lateness + carry
            mass = float(price / 40)
            month = week // 4
            candidates.append(
                Candidate(f"o{o}{shipment.key}", f"o{o}", shipment.key, {f"p{p}": q for p, q in covers.items()}, cost, now, mass,
                          ((month, now * tax),), 2)
            )  # fmt: skip
    total = float(base.sum())
    limits = tuple((m, 0.25 * total + total * m / 8) for m in range(weeks // 4))
    return PurchaseProblem({f"p{p}": 1.0 for p in range(parts)}, tuple(candidates), tuple(shipments), trips, limits)


def modelled(problem: PurchaseProblem):  # type: ignore[no-untyped-def]
    """Re-costing that agrees with the model, as the charges are invented."""
    candidates = {c.key: c for c in problem.candidates}
    shipments = {s.key: s for s in problem.shipments}

    def recost(selection: Selection) -> Mapping[str, float]:
        costs = {}
        for key, lines in selection.items():
            shipment = shipments[key]
            value = sum(candidates[c].value * units for c, units in lines)
            free = shipment.free_freight_from is not None and value >= shipment.free_freight_from - 1e-6
            costs[key] = shipment.fixed + (0.0 if free else shipment.freight_fixed)
            costs[key] += sum(candidates[c].cost * units for c, units in lines)
        return costs

    return recost
