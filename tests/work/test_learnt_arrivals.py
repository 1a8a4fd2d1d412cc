"""Arrivals without a plan: what a supplier's own deliveries taught is in the draws, and is said."""

from __future__ import annotations

from datetime import date

import numpy as np

from fishplate.build import build_from_data, facts_of
from fishplate.build.defaults import SUPPLIER_SLIPPAGE
from fishplate.plan.need_dates import last_safe_week, lead_slippage, learnt_slippage
from fishplate.work import usual_gates

DAY = date(2026, 3, 20)
GBP = {"amount": "50", "currency": "GBP"}
BUILD = build_from_data({
    "parts": [{"id": "disc", "name": "Brake disc"}, {"id": "pump", "name": "Fuel pump"}],
    "suppliers": [{"id": "shop", "name": "Northgate", "country": "GB", "currency": "GBP"}],
    "offers": [{"id": "discs", "supplier": "shop", "part": "disc", "price": GBP,
                "lead_weeks": {"low": 2, "likely": 2, "high": 2}},
               {"id": "pumps", "supplier": "shop", "part": "pump", "price": GBP,
                "lead_weeks": {"low": 2, "likely": 2, "high": 2}}],
    "events": [
        {"kind": "ordered", "id": "o", "day": "2025-10-01", "supplier": "shop",
         "lines": [{"offer": "pumps", "price": GBP}]},
        {"kind": "arrived", "id": "a", "day": "2025-12-31", "order": "o", "lines": [{"part": "pump"}]},
    ],
})  # fmt: skip


def test_parts_ordered_today_come_as_much_later_as_the_supplier_was_late_before() -> None:
    learnt = learnt_slippage(BUILD, DAY)
    assert learnt["shop"] > SUPPLIER_SLIPPAGE
    usual, said_usual = usual_gates(BUILD, facts_of(BUILD, DAY), runs=200)
    own, said = usual_gates(BUILD, facts_of(BUILD, DAY), runs=200, learnt=learnt)
    ratio = np.asarray(own.parts["disc"]) / np.asarray(usual.parts["disc"])
    assert np.allclose(ratio, learnt["shop"] / SUPPLIER_SLIPPAGE)
    assert any(item.code == "slippage-learnt" and "Northgate" in item.text for item in said)
    assert not any(item.code == "slippage-learnt" for item in said_usual)


def test_the_last_safe_week_is_earlier_with_a_late_supplier() -> None:
    learnt = learnt_slippage(BUILD, DAY)
    offer = BUILD.find("offers", "discs")
    assert lead_slippage(BUILD, offer, {}) == SUPPLIER_SLIPPAGE
    usual = last_safe_week(BUILD, offer, 10, late=100, early=1, learnt={})
    own = last_safe_week(BUILD, offer, 10, late=100, early=1, learnt=learnt)
    assert np.isclose(usual - own, 2 * (learnt["shop"] - SUPPLIER_SLIPPAGE))
