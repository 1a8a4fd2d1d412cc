"""A small shop's worth of nouns for the tests of records."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from fishplate.build import Build, Money, build_from_data

DAY = date(2026, 3, 2)


def on(days: int) -> str:
    """A day so many after DAY, as a document has it."""
    return (DAY + timedelta(days=days)).isoformat()


def eur(amount: str | float) -> dict[str, str]:
    """Euros, as a document has them."""
    return {"amount": str(amount), "currency": "EUR"}


def gbp(amount: str | float) -> dict[str, str]:
    """Pounds, as a document has them."""
    return {"amount": str(amount), "currency": "GBP"}


def home(money: Money, day: date) -> Money | None:
    """A pound is 1.20 euro on every day; nothing is known of other currencies."""
    if money.currency == "EUR":
        return money
    return Money(amount=money.amount * Decimal("1.2"), currency="EUR") if money.currency == "GBP" else None


def kept(*events: dict[str, Any], **lists: Any) -> Build:
    """A build with hoses by the pair, discs and a pump with a core charge from a shop abroad."""
    offers = [
        {"id": "hoses", "supplier": "shop", "part": "hose", "pack": 2, "price": gbp(30), "seen": on(-3),
         "lead_weeks": {"low": 1, "likely": 2, "high": 3}},
        {"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(50), "seen": on(-3),
         "returns": {"days": 30, "ended_by": ["bolted"]}, "warranty_months": 24, "warranty_from": "fitting"},
        {"id": "pumps", "supplier": "shop", "part": "pump", "price": gbp(80), "core_charge": gbp(25), "core_days": 60,
         "warranty_months": 12},
    ]  # fmt: skip
    given = {
        "parts": [
            {"id": "hose", "name": "Brake hose, front", "quantity": 2, "part_number": "BH-1042/F"},
            {"id": "disc", "name": "Brake disc", "quantity": 2},
            {"id": "pump", "name": "Fuel pump"},
        ],
        "suppliers": [{"id": "shop", "name": "Shop", "country": "GB", "currency": "GBP"}],
        "offers": offers,
    }
    return build_from_data({**given, "events": list(events), **lists})


def event(kind: str, id_: str, days: int, **fields: Any) -> dict[str, Any]:
    """An event so many days after DAY."""
    return {"kind": kind, "id": id_, "day": on(days), **fields}


def ordered(*lines: dict[str, Any], id_: str = "o", days: int = 0, **fields: Any) -> dict[str, Any]:
    """An order with the shop."""
    return event("ordered", id_, days, supplier="shop", lines=list(lines), **fields)


def arrived(*lines: dict[str, Any], id_: str = "r", days: int = 10, **fields: Any) -> dict[str, Any]:
    """An arrival of the order."""
    return event("arrived", id_, days, order="o", lines=list(lines), **fields)


HOSES = {"offer": "hoses", "price": gbp(30)}
DISCS = {"offer": "discs", "quantity": 2, "price": gbp(50)}
PUMP = {"offer": "pumps", "price": gbp(80), "core": gbp(25)}
