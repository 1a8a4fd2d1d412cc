"""Generated builds of any size, drawn from a seed: systems of jobs with parts, offers, decisions and interfaces."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np

from fishplate.build import Build, build_from_data, document_data

AS_OF = date(2026, 11, 2)
SYSTEMS = 20
PHASES = ("strip", "structure", "mock-up", "finish", "assembly", "commission")
PLACES = (("NL", "EUR"), ("DE", "EUR"), ("GB", "GBP"), ("US", "USD"))


def large_build(
    *, jobs: int = 600, parts: int = 500, decisions: int = 80, interfaces: int = 300, seed: int = 1
) -> Build:
    """A build of so many jobs, parts, decisions and interfaces, with two offers a part from thirty suppliers."""
    rng = np.random.default_rng(seed)
    data: dict[str, Any] = {
        "name": "Generated",
        "owner": {
            "hours_per_week": 12, "hour_worth": 15, "week_delay_cost": 60, "cash_per_month": 2500, "cash_now": 6000,
        },
        "systems": [{"id": f"system-{n}", "name": f"System {n}"} for n in range(SYSTEMS)],
        **_trade(rng, parts),
    }  # fmt: skip
    data["jobs"] = _jobs(rng, jobs, parts)
    data |= _fit(rng, interfaces, jobs)
    data |= _decisions(rng, decisions, jobs)
    return build_from_data(data)


def _money(amount: float, currency: str) -> dict[str, str]:
    return {"amount": f"{amount:.2f}", "currency": currency}


def _three(likely: float, low: float = 0.7, high: float = 1.6) -> dict[str, float]:
    return {"low": round(likely * low, 2), "likely": round(likely, 2), "high": round(likely * high, 2)}


def _trade(rng: np.random.Generator, parts: int) -> dict[str, Any]:
    routes = [
        {
            "id": f"courier-{c.lower()}",
            "name": f"Courier from {c}",
            "kind": "courier",
            "from_country": c,
            "weeks": _three(1),
        }
        for c, _ in PLACES
    ]
    routes.append({"id": "depot", "name": "Depot", "kind": "collection", "from_country": "GB"})
    suppliers, offers, sales = [], [], []
    for n in range(30):
        country, currency = PLACES[int(rng.choice(4, p=(0.4, 0.25, 0.2, 0.15)))]
        freight = [{
            "route": f"courier-{country.lower()}", "fixed": _money(12, currency), "free_from": _money(250, currency),
        }]  # fmt: skip
        if country == "GB":
            freight.append({"route": "depot", "fixed": _money(9, currency)})
        suppliers.append({
            "id": f"supplier-{n}", "name": f"Supplier {n}", "country": country, "currency": currency,
            "origin_tax": "charged" if country in ("NL", "DE") else "taken-off", "freight": freight,
        })  # fmt: skip
        if rng.random() < 0.4:
            first = AS_OF + timedelta(days=int(rng.integers(20, 250)))
            sales.append({
                "id": f"sale-{n}", "supplier": f"supplier-{n}", "first": first, "last": first + timedelta(days=6),
                "depth_percent": {"low": 5, "likely": 12, "high": 20}, "chance": 0.7,
            })  # fmt: skip
    for n in range(parts):
        price = float(np.exp(rng.normal(4.2, 1.0)))
        for k, seller in enumerate(rng.choice(30, 2, replace=False).tolist()):
            asked = price * rng.uniform(0.85, 1.2)
            offers.append({
                "id": f"offer-{n}-{k}", "supplier": f"supplier-{seller}", "part": f"part-{n}", "seen": AS_OF,
                "price": _money(asked, suppliers[seller]["currency"]), "lead_weeks": _three(float(rng.uniform(0.5, 6))),
                "returns": {"days": int(rng.choice((0, 14, 30)))}, "tax_included": suppliers[seller]["country"] != "US",
            })  # fmt: skip
    trips = [
        {"id": f"trip-{n}", "route": "depot", "day": AS_OF + timedelta(weeks=8 + 14 * n), "distance_km": 300,
         "per_km": _money(0.23, "EUR"),
         "ferry": _money(180, "EUR"), "hours": 11, "capacity_kg": 400, "absence_hours": 30,}
        for n in range(3)
    ]  # fmt: skip
    return {
        "parts": [
            {"id": f"part-{n}", "name": f"Part {n}", "system": f"system-{n % SYSTEMS}", "heading": "870899",
             "origin": "DE", "mass_kg": round(float(rng.uniform(0.2, 20)), 1)} for n in range(parts)
        ],
        "routes": routes, "suppliers": suppliers, "offers": offers, "sale_windows": sales, "collections": trips,
    }  # fmt: skip


def _jobs(rng: np.random.Generator, jobs: int, parts: int) -> list[dict[str, Any]]:
    needs: list[list[str]] = [[] for _ in range(jobs)]
    for n in range(parts):
        needs[int(rng.integers(jobs // 4, jobs))].append(f"part-{n}")
    made = []
    for n in range(jobs):
        before = sorted({int(k) for k in rng.integers(max(0, n - 40), n, 2)}) if n else []
        made.append({
            "id": f"job-{n}", "name": f"Job {n}", "system": f"system-{n % SYSTEMS}",
            "phase": PHASES[n * len(PHASES) // jobs], "hours": _three(float(rng.uniform(1, 6))),
            "after": [{"job": f"job-{k}"} for k in before], "to_keep": needs[n],
        })  # fmt: skip
    return made


def _fit(rng: np.random.Generator, interfaces: int, jobs: int) -> dict[str, Any]:
    dimensions, readings, conditions, places = [], [], [], []
    for n in range(interfaces):
        for side in "ab":
            key = f"dim_{n}_{side}"
            dimensions.append({"id": key, "name": f"Dimension {n} {side}", "minutes": 20})
            if rng.random() < 0.6:
                value = 100.0 if side == "a" else 100 + float(rng.normal(5, 3))
                readings.append({
                    "id": f"reading-{key}", "dimension": key, "value": round(value, 1), "spread": 1.0,
                    "day": AS_OF - timedelta(days=30),
                })  # fmt: skip
        job = int(rng.integers(jobs // 8, jobs - 1))
        places.append({
            "id": f"place-{n}", "name": f"Place {n}", "settle_by": f"job-{job}",
            "closed_by": f"job-{min(jobs - 1, job + 5)}",
        })  # fmt: skip
        conditions.append({
            "id": f"gap-{n}", "interface": f"place-{n}", "name": f"Gap {n}", "expression": f"dim_{n}_b - dim_{n}_a",
            "at_least": "2 mm", "late_hours": _three(6), "late_cost": 150, "early_cost": 20,
            })  # fmt: skip
    return {"dimensions": dimensions, "readings": readings, "conditions": conditions, "interfaces": places}


def _decisions(rng: np.random.Generator, decisions: int, jobs: int) -> dict[str, Any]:
    made = [
        {
            "id": f"decision-{n}", "name": f"Decision {n}", "think_weeks": 1.5,
            "freeze_by": f"job-{jobs // 6 + n * jobs // (2 * decisions)}", "leading": f"option-{n}-a",
            "options": [
                {"id": f"option-{n}-a", "name": "One", "parts": [f"part-{2 * n}"], "score": 60},
                {"id": f"option-{n}-b", "name": "Other", "parts": [f"part-{2 * n + 1}"], "score": 50},
            ],
        } for n in range(decisions)
    ]  # fmt: skip
    edges = [
        {"source": f"decision-{int(rng.integers(0, n))}", "target": f"decision-{n}", "strength": "fixes"}
        for n in range(1, decisions, 2)
    ]
    return {"decisions": made, "edges": edges}


def long_build(*, share_done: float = 0.4) -> Build:
    """A build years under way, as large as one person's can be: 2 000 parts, 1 500 jobs, 600 interfaces.

    Parameters
    ----------
    share_done : share of its jobs that are done, their parts ordered, arrived and fitted
    """
    build = large_build(jobs=1500, parts=2000, decisions=200, interfaces=600)
    data = document_data(build)
    data["owner"] |= {"cash_now": 90_000, "cash_per_month": 9000}
    data["events"] = list(_events(data, int(share_done * len(data["jobs"]))))
    data["sightings"] = [
        {"offer": offer["id"], "day": AS_OF - timedelta(days=30 * month), "price": offer["price"]}
        for offer in data["offers"][::2]
        for month in (1, 2)
    ]
    data["states"] = [{"id": "engine-in", "name": "Engine in"}]
    return build_from_data(data)


def _events(data: dict[str, Any], jobs_done: int) -> Iterator[dict[str, Any]]:
    """Orders of a dozen parts of a supplier with payment and arrival; then what was fitted and done."""
    done = data["jobs"][:jobs_done]
    started = {part for job in data["jobs"][: jobs_done + 40] for part in job.get("to_keep", ())}
    by_supplier: dict[str, list[dict[str, Any]]] = {}
    for offer in data["offers"][::2]:
        if offer["part"] in started:
            by_supplier.setdefault(offer["supplier"], []).append(offer)
    for supplier, offers in by_supplier.items():
        for first in range(0, len(offers), 12):
            yield from _bought(f"{supplier}-{first}", supplier, offers[first : first + 12])
    for n, job in enumerate(done):
        day = AS_OF - timedelta(days=2 * (jobs_done - n) // 3)
        hours = job["hours"]["likely"]
        yield {"kind": "worked", "id": f"begun-{n}", "job": job["id"], "day": day, "hours": hours / 2}
        yield {"kind": "worked", "id": f"worked-{n}", "job": job["id"], "day": day, "hours": hours / 2, "done": True}
        for part in job.get("to_keep", ()):
            yield {"kind": "fitted", "id": f"fitted-{part}", "part": part, "job": job["id"], "day": day}


def _bought(key: str, supplier: str, offers: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    ordered, arrived = AS_OF - timedelta(days=500), AS_OF - timedelta(days=470)
    lines = [{"offer": offer["id"], "price": offer["price"]} for offer in offers]
    total = sum(float(offer["price"]["amount"]) for offer in offers)
    paid = _money(total, offers[0]["price"]["currency"])
    counted = [{"part": offer["part"]} for offer in offers]
    order = f"order-{key}"
    yield {"kind": "ordered", "id": order, "supplier": supplier, "day": ordered, "lines": lines}
    yield {"kind": "paid", "id": f"paid-{key}", "order": order, "amount": paid, "day": ordered}
    yield {"kind": "arrived", "id": f"arrived-{key}", "order": order, "lines": counted, "day": arrived}
    for offer in offers:
        yield {"kind": "checked", "id": f"checked-{offer['part']}", "part": offer["part"], "day": arrived}
