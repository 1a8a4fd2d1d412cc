"""What an order comes to at the door beside the regular price by the usual way home, written with the order."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from fishplate.build import Build, Money, build_from_data
from fishplate.build.events import Order
from fishplate.wiring import load_rates, with_likely_bills

DAY = date(2026, 3, 2)


def gbp(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "GBP"}


def placed(*lines: dict[str, Any], per_kg: float = 0, **fields: Any) -> Order:
    """An order from a seller in Great Britain that takes off its own tax, by courier unless it says otherwise."""
    before = build_from_data({
        "owner": {"country": "NL", "currency": "EUR", "card_markup_percent": 0},
        "parts": [{"id": "disc", "name": "Brake disc", "quantity": 2, "heading": "870830", "origin": "GB",
                   "mass_kg": 5},
                  {"id": "pump", "name": "Fuel pump", "heading": "841330", "origin": "GB"}],
        "routes": [{"id": "courier", "name": "Courier", "kind": "courier", "from_country": "GB"},
                   {"id": "slow", "name": "Post", "kind": "post", "from_country": "GB"}],
        "suppliers": [{"id": "shop", "name": "Northgate", "country": "GB", "currency": "GBP", "origin_tax": "none",
                       "freight": [{"route": "courier", "fixed": gbp(20), "per_kg": gbp(per_kg)},
                                   {"route": "slow", "fixed": gbp(8)}]}],
        "offers": [{"id": "discs", "supplier": "shop", "part": "disc", "price": gbp(200), "tax_included": False},
                   {"id": "pumps", "supplier": "shop", "part": "pump", "price": gbp(200), "tax_included": False}],
    })  # fmt: skip
    order = {"kind": "ordered", "id": "o", "day": DAY.isoformat(), "supplier": "shop", "route": "courier",
             "freight": gbp(20), "lines": list(lines), **fields}  # fmt: skip
    after = build_from_data({**before.model_dump(mode="json"), "events": [order]})
    found: Build = with_likely_bills(before, after)
    (event,) = found.events
    assert isinstance(event, Order)
    return event


def at_door(order: Order) -> list[tuple[Decimal | None, Decimal | None]]:
    def bare(money: Money | None) -> Decimal | None:
        return None if money is None else money.amount

    return [(bare(line.at_door), bare(line.listed_at_door)) for line in order.lines]


def test_at_the_regular_price_by_the_usual_way_there_is_nothing_between_them() -> None:
    ((paid, listed),) = at_door(placed({"offer": "discs", "quantity": 2, "price": gbp(200), "listed": gbp(200)}))
    assert paid == listed
    assert paid is not None


def test_a_lower_price_saves_the_import_tax_on_it_too() -> None:
    ((paid, listed),) = at_door(placed({"offer": "discs", "quantity": 2, "price": gbp(180), "listed": gbp(200)}))
    rate, _ = load_rates(DAY, Build())
    less = rate.convert(Money.of(40, "GBP"), "EUR").amount
    assert paid is not None
    assert listed is not None
    # 4.5 % duty on brakes (Regulation (EEC) No 2658/87, Annex I, 8708 30), and 21 % VAT on both (Wet op de
    # omzetbelasting 1968, art. 9)
    assert abs((listed - paid) - less * Decimal("1.045") * Decimal("1.21")) < Decimal("0.06")


def test_a_cheaper_way_home_is_a_saving_against_the_usual_one() -> None:
    line = {"offer": "discs", "quantity": 2, "price": gbp(200), "listed": gbp(200)}
    ((paid, listed),) = at_door(placed(line, route="slow", freight=gbp(8)))
    assert paid is not None
    assert listed is not None
    assert listed > paid


def test_lines_take_their_share_and_one_without_a_regular_price_has_none() -> None:
    order = placed(
        {"offer": "discs", "quantity": 1, "price": gbp(150), "listed": gbp(200)}, {"offer": "pumps", "price": gbp(50)}
    )
    (discs, listed), (pump, nothing) = at_door(order)
    assert nothing is None
    assert discs is not None
    assert pump is not None
    assert listed is not None
    assert abs(discs - 3 * pump) <= Decimal("0.03")


def test_usual_freight_by_mass_counts_each_thing_once() -> None:
    """Two discs of 5 kg at 2 GBP a kilogram beside 20 GBP: 40 GBP, as it was asked."""
    line = {"offer": "discs", "quantity": 2, "price": gbp(200), "listed": gbp(200)}
    ((paid, listed),) = at_door(placed(line, per_kg=2, freight=gbp(40)))
    assert paid == listed
