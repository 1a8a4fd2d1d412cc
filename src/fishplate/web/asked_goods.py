"""Goods outside the build, as typed: what they are, where they come from, and every way home for them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from ..build import Assumption, Money, Rates
from ..build.commerce import Route, Supplier
from ..build.money import MAX_AMOUNT, known_currencies
from ..build.owner import Owner
from ..landed import (
    Consignment,
    Goods,
    RuleSet,
    WayHome,
    chargeable_mass_kg,
    freight_for,
    next_allowance,
    way_home,
)
from .desk import View
from .form import Form

PLAIN_WAYS: Final = {
    "courier": "Any courier",
    "post": "The post",
    "freight": "Freight on a pallet",
    "delivery": "The seller's own delivery",
}
TAXES: Final = (
    ("", "not known"),
    ("charged", "it stays in the price"),
    ("taken-off", "the seller exports and takes it off"),
    ("refund", "I can claim it back"),
    ("none", "there is none in the price"),
)


@dataclass(frozen=True, slots=True)
class AskedGoods:
    """Goods as typed.

    Parameters
    ----------
    route : the one way home that is asked for; empty for every one
    freight : what the seller asks, for every way home; None: by the seller's terms, if they are known
    """

    seller: Supplier
    goods: Goods
    private: bool
    route: str
    freight: Money | None
    tax_included: bool | None


def asked_goods(view: View, form: Form) -> AskedGoods | None:
    """The goods of a form; None with problems in the form where they can't be read."""
    build = view.build
    known = build.index["suppliers"].get(form.text("seller"))
    currency = form.text("currency", known.currency if known else view.currency).upper()
    if currency not in known_currencies():
        form.refuse("currency", "not a currency code", currency, "Write it as EUR or GBP.")
        currency = view.currency
    start = _country(form, "from", known.country if known else "")
    if not start:
        form.refuse("from", "nothing was filled in", do="Give two letters, as GB, or choose a seller of the build.")
    price, quantity = form.number("price", at_least=0), form.maybe_number("quantity", at_least=0.001) or 1.0
    if price * quantity > float(MAX_AMOUNT):
        form.refuse("price", "beyond a million million", form.text("price"), "Give a smaller price.")
    mass, box = form.maybe_number("mass", at_least=0), _box(form)
    heading, origin = _heading(form), _country(form, "origin") or None
    freight = form.money("freight", currency)
    if freight is not None and freight.amount < 0:
        form.refuse("freight", "below zero", form.text("freight"), "Give what they ask.")
    if form.problems:
        return None
    seller = Supplier(
        id="seller" if known is None else known.id,
        name="the seller" if known is None else known.name,
        country=start,
        currency=currency,
        freight=() if known is None or known.currency != currency else known.freight,
        origin_tax=_origin_tax(form) or (known.origin_tax if known else None),
        collects_import_tax=form.ticked("collects") or (known is not None and known.collects_import_tax),
    )
    value = Money.of(price, currency) * int(quantity) if quantity.is_integer() else Money.of(price * quantity, currency)
    goods = Goods(
        label=form.text("what", "the goods")[:80],
        value=value,
        quantity=quantity,
        mass_kg=None if mass is None else mass * quantity,
        heading=heading,
        origin=origin,
        box_mm=box,
        proof=form.ticked("proof"),
    )
    included = {"yes": True, "no": False}.get(form.text("included"))
    return AskedGoods(seller, goods, not form.ticked("business"), form.text("route"), freight, included)


def _country(form: Form, name: str, default: str = "") -> str:
    code = form.text(name, default).upper()
    if code and not (len(code) == 2 and code.isascii() and code.isalpha()):
        form.refuse(name, "not a country code", code, "Write two letters, as GB.")
        return ""
    return code


def _heading(form: Form) -> str | None:
    text = form.text("heading") or form.text("category")
    digits = text.replace(".", "").replace(" ", "")
    if digits and (not (digits.isascii() and digits.isdigit()) or not 4 <= len(digits) <= 10 or len(digits) % 2):
        form.refuse("heading", "not a tariff heading", text, "Give 4, 6, 8 or 10 digits, or leave it empty.")
        return None
    return digits or None


def _box(form: Form) -> tuple[float, float, float] | None:
    sides = [form.maybe_number(name, at_least=0) for name in ("length", "width", "height")]
    given = [side for side in sides if side]
    if given and len(given) < 3:
        form.refuse("length", "only some sides of the box are given", do="Give all three, or none.")
    return (given[0], given[1], given[2]) if len(given) == 3 else None


def _origin_tax(form: Form) -> Literal["charged", "taken-off", "refund", "none"] | None:
    found = form.text("origin_tax")
    return found if found in dict(TAXES) and found else None  # type: ignore[return-value]


# ways home


def routes_for(view: View, asked: AskedGoods, single_market: frozenset[str]) -> list[Route | None]:
    """Every way home for goods: the build's routes from their country, and the usual kinds it has none of."""
    start = asked.seller.country
    mine = [route for route in view.build.routes if route.from_country == start]
    stated = {terms.route for terms in asked.seller.freight}
    found: list[Route | None] = [route for route in mine if not stated or route.id in stated]
    kinds = {route.kind for route in mine}
    for kind in ("courier", "post", "freight"):
        if kind not in kinds and not stated:
            name = PLAIN_WAYS[kind]
            found.append(Route(id=f"any-{kind}", name=name, kind=kind, from_country=start, fees_as_of=view.as_of))
    if start in single_market and not found:
        found.append(None)
    chosen = [route for route in found if asked.route in ("", "any-delivery" if route is None else route.id)]
    wanted = view.build.index["routes"].get(asked.route)
    return chosen or ([wanted] if wanted is not None else found)


def quoted(view: View, asked: AskedGoods, rules: RuleSet, rates: Rates, *, own: bool = True) -> list[WayHome]:
    """Goods by each way home.

    Parameters
    ----------
    own : what the owner set in place of rules counts
    """
    owner: Owner = view.build.owner.model_copy(update={"private_person": asked.private})
    overrides = view.build.rule_overrides if own else ()
    build = view.build.model_copy(update={"owner": owner, "rule_overrides": overrides})
    found = []
    for route in routes_for(view, asked, rules.single_market):
        name = route.name if route is not None else PLAIN_WAYS["delivery"]
        freight = asked.freight
        if freight is None:
            mass = chargeable_mass_kg((asked.goods,), route)
            try:
                freight = freight_for(asked.seller, route, asked.goods.value, mass)
            except ValueError as error:
                found.append(WayHome(name, None, str(error)))
                continue
        consignment = Consignment(asked.seller, route, (asked.goods,), freight, asked.tax_included, view.as_of)
        found.append(way_home(name, consignment, build, rules, rates, next_allowance(view.build, route, view.as_of)))
    return found


def left_out(view: View, asked: AskedGoods, single_market: frozenset[str]) -> Iterator[Assumption]:
    """What is not counted, because nothing tells it."""
    routes = [route for route in routes_for(view, asked, single_market) if route is not None]
    if any(route.id.startswith("any-") for route in routes) and asked.seller.country not in single_market:
        text = (
            "fees for entry and for advancing duty and tax are not known where the build has no route: none are counted"
        )
        yield Assumption("carrier-unknown", "goods", text)
