"""Goods outside a build's offers, as `fishplate landed` is told of them, by every way home."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

import click

from .landed_answer import Answer

if TYPE_CHECKING:
    from ..build import Assumption, Build, Money, Rates
    from ..build.commerce import FeeStep, Route
    from ..landed import AskedGoods, Goods, WayHome

WAYS = ["courier", "post", "freight", "delivery", "collection"]
USUAL_INSIDE = ["delivery", "collection"]


def outside_a_build(day: date, given: dict[str, Any]) -> Answer:
    """Goods sent or fetched to a garage that no build tells of; raises Refused where they can come by no way."""
    from ..build import Build
    from ..build.owner import Owner
    from ..landed import TravelAllowance, by_every_way, load_rules
    from ..wiring import load_rates, own_rules

    country, _, region = given["destination"].partition("-")
    asked = _asked(given)
    rules = load_rules(_country(country, "--to"), own=own_rules())
    currency = _currency(given["currency"]) or rules.currency
    rules.region_code(region)  # an unknown province is refused before anything is reckoned
    owner = Owner(country=rules.country, region=region, currency=currency, private_person=not given["business"])
    build = Build(owner=owner)
    rates, said = load_rates(day, build)
    inside = asked.seller.country in rules.single_market
    kinds = list(dict.fromkeys(given["ways"])) or (USUAL_INSIDE if inside else WAYS)
    fees = any(given[name] is not None for name in ("advance", "entry_fee", "fuel"))
    routes = [
        None if kind == "delivery" and not fees else _route(kind, asked.seller.country, day, given) for kind in kinds
    ]
    allowance = TravelAllowance(given["travel"], given["absence"])
    found = by_every_way(build, asked, routes, rules, rates, day, allowance=allowance)
    ways = [replace(way, name=kind) for way, kind in zip(found, kinds, strict=True)]
    return _answer(day, currency, rates, asked, ways, [*said, *_left_out(given, kinds, inside=inside)])


def by_ways_of(build: Build, day: date, given: dict[str, Any]) -> Answer:
    """Goods that a build does not list, by the build's own ways home; raises Refused where they can come by none."""
    from ..landed import by_every_way, unknown_fees, ways_for
    from ..wiring import load_rates, rules_of

    asked, rules = _asked(given), rules_of(build)
    rates, said = load_rates(day, build)
    routes = [
        route
        for route in ways_for(build, asked, day, rules.single_market)
        if not given["ways"] or ("delivery" if route is None else route.kind) in given["ways"]
    ]
    ways = by_every_way(build, asked, routes, rules, rates, day)
    return _answer(
        day, build.owner.currency, rates, asked, ways, [*said, *unknown_fees(asked, routes, rules.single_market)]
    )


def _answer(
    day: date, currency: str, rates: Rates, asked: AskedGoods, ways: Sequence[WayHome], said: Sequence[Assumption]
) -> Answer:
    from ..build import Problem, Refused
    from ..landed import AtTheDoor, OffersReport

    if not any(way.cost for way in ways):
        why = "; ".join(dict.fromkeys(way.refused for way in ways)) or "there is no such way home"
        raise Refused([Problem("goods", "no-cost", why, "", "Correct the goods or the way home.")])
    what = "goods" if len(asked.goods) == 1 else f"{len(asked.goods)} kinds of goods"
    found = OffersReport((), (AtTheDoor("the seller", what, tuple(ways)),), (), (), tuple(said))
    return Answer(day, currency, rates, found)


def _asked(given: dict[str, Any]) -> AskedGoods:
    from ..build.commerce import Supplier
    from ..landed import AskedGoods, read_goods

    goods = read_goods(given["goods"]) if given["goods"] else (_one(given),)
    if given["general"]:
        goods = tuple(replace(item, use="general") for item in goods)
    seller = Supplier(
        id="seller", name="the seller", country=_country(given["start"], "--from"), currency=goods[0].value.currency,
        origin_tax=given["origin_tax"], collects_import_tax=given["collects"],
    )  # fmt: skip
    freight, inland = _optional(given["freight"], "--freight"), _optional(given["inland"], "--inland")
    if inland is not None and freight is None:
        raise click.BadParameter("it is a part of the freight: give the whole with --freight", param_hint="--inland")
    return AskedGoods(
        seller, goods, freight, given["tax_included"], gift=given["gift"], returning=given["returning"], inland=inland
    )


def _one(given: dict[str, Any]) -> Goods:
    """Goods of one kind, as --price and what goes with it say."""
    from ..build.money import MAX_AMOUNT
    from ..landed import Goods

    price = _money(given["price"], "--price")
    if price.amount * given["quantity"] > MAX_AMOUNT:
        raise click.BadParameter("the goods are worth more than a million million", param_hint="--quantity")
    return Goods(
        "goods", price * given["quantity"], given["quantity"], given["mass"], _heading(given["heading"]),
        given["origin"] and _country(given["origin"], "--origin"), proof=given["proof"],
    )  # fmt: skip


def _route(kind: Any, start: str, day: date, given: dict[str, Any]) -> Route:
    from ..build.commerce import Route

    percent, minimum = _advance(given["advance"])
    fee, steps = _entry(given["entry_fee"])
    return Route(
        id=kind, name=kind, kind=kind, from_country=start, fees_as_of=day, fuel_percent=given["fuel"] or 0,
        advance_percent=percent, advance_minimum=minimum, entry_fee=fee, entry_steps=steps,
    )  # fmt: skip


def _entry(text: str | None) -> tuple[Money | None, tuple[FeeStep, ...]]:
    """A fee for the entry, or steps of it by worth."""
    from pydantic import ValidationError

    from ..build.commerce import FeeStep, Route

    pieces = [piece.strip() for piece in (text or "").split(",") if piece.strip()]
    if not any(" up to " in piece for piece in pieces):
        return _optional(text, "--entry-fee"), ()
    steps = []
    for piece in pieces:
        fee, _, end = piece.partition(" up to ")
        steps.append(FeeStep(fee=_money(fee, "--entry-fee"), up_to=_optional(end or None, "--entry-fee")))
    try:
        return None, Route(id="x", name="x", kind="courier", from_country="XX", entry_steps=tuple(steps)).entry_steps
    except ValidationError as fault:
        what = fault.errors(include_url=False)[0]["msg"].removeprefix("Value error, ")
        raise click.BadParameter(what, param_hint="--entry-fee") from None


def _left_out(given: dict[str, Any], kinds: Sequence[str], *, inside: bool) -> Iterator[Assumption]:
    from ..build import Assumption

    sent = {"courier", "post", "freight"} & set(kinds)
    if sent and not inside and given["advance"] is None and given["entry_fee"] is None:
        text = "the carrier's fees for entry and for advancing duty and tax are not given: none are counted"
        yield Assumption("carrier-unknown", "goods", text)
    if "collection" in kinds:
        yield Assumption("trip-unknown", "goods", "the cost of the trip itself is not counted")


def _money(text: str, option: str) -> Money:
    from pydantic import ValidationError

    from ..build import Money

    amount, _, currency = text.strip().rpartition(" ")
    try:
        money = Money(amount=Decimal(amount.strip()), currency=currency.upper())
    except (InvalidOperation, ValidationError):
        raise click.BadParameter(f'{text!r} is not an amount; write it as "120.50 GBP"', param_hint=option) from None
    if money.amount < 0:
        raise click.BadParameter(f"{text!r} is below zero", param_hint=option)
    return money


def _optional(text: str | None, option: str) -> Money | None:
    return None if text is None else _money(text, option)


def _currency(text: str | None) -> str | None:
    return None if text is None else _money(f"0 {text}", "--currency").currency


def _country(text: str | None, option: str) -> str:
    code = (text or "").strip().upper()
    if len(code) != 2 or not code.isascii() or not code.isalpha():
        raise click.BadParameter(f"{text or ''!r} is not a country; write its two letters, as GB", param_hint=option)
    return code


def _heading(text: str | None) -> str | None:
    if text is None:
        return None
    digits = text.replace(".", "").replace(" ", "")
    if not digits.isascii() or not digits.isdigit() or not 4 <= len(digits) <= 10 or len(digits) % 2:
        raise click.BadParameter(f"{text!r} is not a tariff heading of 4 to 10 digits", param_hint="--heading")
    return digits


def _advance(text: str | None) -> tuple[float, Money | None]:
    """A percentage and a minimum, either of which may be left out."""
    percent, minimum = 0.0, None
    for piece in (text or "").split(","):
        if piece.strip().endswith("%"):
            try:
                percent = float(piece.strip(" %"))
            except ValueError:
                raise click.BadParameter(f"{piece!r} is not a percentage", param_hint="--advance") from None
            if not 0 <= percent <= 100:
                raise click.BadParameter(f"{piece!r} is not between 0 and 100 %", param_hint="--advance")
        elif piece.strip():
            minimum = _money(piece, "--advance")
    return percent, minimum
