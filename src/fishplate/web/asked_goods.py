"""Goods outside the build, as typed: what they are, where they come from, and every way home for them."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

from ..build import Money, Rates, Refused
from ..build.commerce import Supplier
from ..build.money import MAX_AMOUNT, known_currencies
from ..landed import AskedGoods, Goods, RuleSet, WayHome, by_every_way, read_goods, ways_for
from .desk import View
from .form import Form

TAXES: Final = (
    ("", "not known"),
    ("charged", "it stays in the price"),
    ("taken-off", "the seller exports and takes it off"),
    ("refund", "I can claim it back"),
    ("none", "there is none in the price"),
)


def asked_goods(view: View, form: Form) -> AskedGoods | None:
    """The goods of a form; None with problems in the form where they can't be read.

    One kind of thing is asked for by its fields; more in the same consignment by a line each.
    """
    known = view.build.index["suppliers"].get(form.text("seller"))
    more = _more(form)
    first_currency = more[0].value.currency if more else known.currency if known else view.currency
    currency = form.text("currency", first_currency).upper()
    if currency not in known_currencies():
        form.refuse("currency", "not a currency code", currency, "Write it as EUR or GBP.")
        currency = view.currency
    if more and more[0].value.currency != currency:
        form.refuse("more", f"the goods of one consignment are priced in one currency, {currency}", do="Convert them.")
    start = _country(form, "from", known.country if known else "")
    if not start:
        form.refuse("from", "nothing was filled in", do="Give two letters, as GB, or choose a seller of the build.")
    by_line = bool(form.text("more")) and not form.text("price")
    goods = more if by_line else (_one(form, currency), *more)
    if form.ticked("general"):
        goods = tuple(replace(item, use="general") for item in goods)
    freight = form.money("freight", currency)
    if freight is not None and freight.amount < 0:
        form.refuse("freight", "below zero", form.text("freight"), "Give what they ask.")
    inland = form.money("inland", currency)
    if inland is not None and not (freight is not None and 0 <= inland.amount <= freight.amount):
        form.refuse("inland", "not a part of the freight", form.text("inland"), "Give the whole freight, and its part.")
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
    included = {"yes": True, "no": False}.get(form.text("included"))
    return AskedGoods(
        seller, goods, freight, included, form.text("route"), form.ticked("gift"), form.ticked("returning"), inland
    )


def _more(form: Form) -> tuple[Goods, ...]:
    """Goods written a line each; problems are noted beside their field."""
    lines = form.text("more").splitlines()
    if not any(map(str.strip, lines)):
        return ()
    try:
        return read_goods(lines, form.formats.mark)
    except Refused as refused:
        for problem in refused.problems:
            place = problem.where.removeprefix("goods").strip(", ")
            form.refuse("more", f"{place}: {problem.what}" if place else problem.what, problem.got, problem.do)
        return ()


def _one(form: Form, currency: str) -> Goods:
    """The kind of thing the fields ask for."""
    price, quantity = form.number("price", at_least=0), form.maybe_number("quantity", at_least=0.001) or 1.0
    if price * quantity > float(MAX_AMOUNT):
        form.refuse("price", "beyond a million million", form.text("price"), "Give a smaller price.")
        price = 0.0
    mass = form.maybe_number("mass", at_least=0)
    value = Money.of(price, currency) * int(quantity) if quantity.is_integer() else Money.of(price * quantity, currency)
    return Goods(
        label=form.text("what", "the goods")[:80],
        value=value,
        quantity=quantity,
        mass_kg=None if mass is None else mass * quantity,
        heading=_heading(form),
        origin=_country(form, "origin") or None,
        box_mm=_box(form),
        proof=form.ticked("proof"),
    )


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


def quoted(
    view: View, asked: AskedGoods, rules: RuleSet, rates: Rates, *, private: bool, own: bool = True
) -> list[WayHome]:
    """Goods by each way home.

    Parameters
    ----------
    private : they are for a private person; own : what the owner set in place of rules counts
    """
    owner = view.build.owner.model_copy(update={"private_person": private})
    overrides = view.build.rule_overrides if own else ()
    build = view.build.model_copy(update={"owner": owner, "rule_overrides": overrides})
    ways = ways_for(build, asked, view.as_of, rules.single_market)
    return by_every_way(build, asked, ways, rules, rates, view.as_of)
