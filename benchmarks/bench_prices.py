"""Prices: outlooks of a whole parts list, and their trigger plans."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from fishplate.build import Build, build_from_data, facts_of
from fishplate.prices import outlooks, trigger_plan

OFFERS, WEEKS = 170, 104
AS_OF = date(2026, 3, 2)


def build() -> Build:
    """170 offers of one supplier, five sightings each, four sale windows and a rise."""
    days = [AS_OF - timedelta(days=100 * k) for k in range(1, 6)]
    return build_from_data(
        {
            "parts": [{"id": f"p{k}", "name": f"Part {k}"} for k in range(OFFERS)],
            "suppliers": [{"id": "s", "name": "S", "country": "NL", "currency": "EUR"}],
            "offers": [
                {"id": f"o{k}", "supplier": "s", "part": f"p{k}", "price": _euro(100 + k), "seen": "2026-03-01"}
                for k in range(OFFERS)
            ],
            "sightings": [
                {"offer": f"o{k}", "day": day.isoformat(), "price": _euro(100 + k - n)}
                for k in range(OFFERS)
                for n, day in enumerate(days, start=1)
            ],
            "sale_windows": [
                {
                    "id": f"w{n}", "supplier": "s", "first": (AS_OF + timedelta(weeks=13 * n)).isoformat(),
                    "last": (AS_OF + timedelta(weeks=13 * n, days=10)).isoformat(), "chance": 0.6,
                    "depth_percent": {"low": 10, "likely": 15, "high": 25},
                }
                for n in range(1, 5)
            ],
            "price_changes": [{"id": "rise", "day": "2026-06-01", "percent": 5, "supplier": "s"}],
        }
    )  # fmt: skip


def rows() -> list[dict[str, Any]]:
    """Seconds and memory of each measured step."""
    data = build()
    facts = facts_of(data, AS_OF)
    seen = outlooks(data, facts, weeks=WEEKS)
    return [
        _row(f"outlooks, {OFFERS} offers x {WEEKS} weeks", lambda: outlooks(data, facts, weeks=WEEKS)),
        _row(
            f"trigger plans, {OFFERS} offers x {WEEKS} weeks",
            lambda: [trigger_plan(o, last_week=WEEKS - 1, carrying_per_week=0.0008, seed=None) for o in seen.values()],
        ),
        _row(
            f"the same with a wandering rate, {OFFERS} offers x {WEEKS} weeks",
            lambda: [
                trigger_plan(o, last_week=WEEKS - 1, carrying_per_week=0.0008, rate_sigma=0.01, seed=None)
                for o in seen.values()
            ],
        ),
        _row(
            f"one with recall and regret, {WEEKS} weeks",
            lambda: trigger_plan(next(iter(seen.values())), last_week=WEEKS - 1, rate_sigma=0.01),
        ),
    ]


def _euro(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def _row(name: str, step: Callable[[], object]) -> dict[str, Any]:
    started = time.perf_counter()
    step()
    seconds = time.perf_counter() - started
    tracemalloc.start()
    step()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return {
        "name": name, "seconds": seconds, "memory_mib": peak / 2**20, "baseline": None, "baseline_seconds": None,
        "note": "one run, memory as traced in Python",
    }  # fmt: skip


if __name__ == "__main__":
    for row in rows():
        print(row)
