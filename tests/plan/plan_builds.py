"""Short ways to write builds and plans for the tests of this room."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Any

from fishplate.build import Build, Rates, build_from_data, facts_of
from fishplate.landed import load_rules
from fishplate.plan import Plan, Situation, plan
from fishplate.plan.steady import Earlier

AS_OF = date(2026, 3, 2)  # a Monday; the low-value relief of 150 EUR still holds
RATES = Rates(
    base="EUR",
    per_base={"GBP": Decimal("0.85"), "USD": Decimal("1.10"), "JPY": Decimal(160), "KWD": Decimal("0.34")},
    day=AS_OF,
    source="round figures",
)
OWNER = {"hours_per_week": 6, "hour_worth": 15, "week_delay_cost": 50, "carrying_percent": 4, "cash_per_month": 50_000}
NOTHING_FOUND = {"id": "nothing-found", "kind": "discovery", "hours_percent": 0}


THREE_POINTS = {"hours", "lead_weeks", "weeks", "queue_weeks", "work_weeks", "depth_percent", "late_hours"}
MONEY = re.compile(r"(-?\d+(?:\.\d+)?) ([A-Z]{3})")


def build_of(**lists: Any) -> Build:
    """A build of plain data with two shorthands: money as "42.50 GBP", three points as a list."""
    data = {name: plain(value, name) for name, value in lists.items()}
    for job in data.get("jobs", ()):
        job.setdefault("phase", "assembly")
        job["after"] = [{"job": link} if isinstance(link, str) else link for link in job.get("after", ())]
    data.setdefault("allowances", [NOTHING_FOUND])
    data["owner"] = {**OWNER, **data.get("owner", {})}
    return build_from_data(data)


def plain(value: Any, key: str = "") -> Any:
    """A value with its shorthands written out."""
    if isinstance(value, dict):
        return {name: plain(item, name) for name, item in value.items()}
    if isinstance(value, list):
        points = key in THREE_POINTS and len(value) == 3 and not isinstance(value[0], dict)
        items = [plain(item) for item in value]
        return dict(zip(("low", "likely", "high"), items, strict=True)) if points else items
    money = MONEY.fullmatch(value) if isinstance(value, str) else None
    if money:
        return {"amount": money[1], "currency": money[2]}
    return value.isoformat() if isinstance(value, date) else value


def part(id_: str, **fields: Any) -> dict[str, Any]:
    return {"id": id_, "name": id_.capitalize(), **fields}


def supplier(id_: str, country: str = "NL", currency: str = "EUR", **fields: Any) -> dict[str, Any]:
    return {"id": id_, "name": id_.capitalize(), "country": country, "currency": currency, **fields}


def offer(id_: str, part_id: str, price: str, seller: str = "shop", **fields: Any) -> dict[str, Any]:
    known = {"lead_weeks": [1, 1, 1], "returns": {"days": 14}, "seen": AS_OF, "tax_included": True}
    return {"id": id_, "supplier": seller, "part": part_id, "price": price, **known, **fields}


def asked(seller: str, *offers: str) -> dict[str, Any]:
    """An enquiry that was answered, and so is not sent again."""
    return {"id": f"ask-{seller}", "supplier": seller, "sent": AS_OF, "answered": AS_OF, "offers": list(offers)}


def job(id_: str, hours: float, *after: str, **fields: Any) -> dict[str, Any]:
    return {"id": id_, "name": id_.capitalize(), "hours": [hours, hours, hours], "after": list(after), **fields}


def situation_of(build: Build, *, as_of: date = AS_OF, seed: int = 1, **fields: Any) -> Situation:
    """The situation of a build with few draws, so that tests are quick."""
    chosen = {"runs": 300, "waiting_runs": 200, "solver_seconds": 3.0, **fields}
    return Situation(build, facts_of(build, as_of), as_of, seed, load_rules(build.owner.country), RATES, **chosen)


def plan_of(build: Build, *, earlier: Earlier | None = None, **fields: Any) -> Plan:
    """The plan of a build."""
    return plan(situation_of(build, **fields), earlier=earlier)
