"""The list for the border on paper: what a trip carries, what it is worth, what papers go with it.

It lists everything, whatever is free, at what was paid: goods are declared honestly and the officer decides. It is not
told in the owner's units and locale: masses stand in kilograms as customs data do (Delegated Regulation (EU) 2015/2446,
Annex B, net mass; from memory), currencies by their ISO 4217 code, months in words. It says how amounts are written.
"""

from __future__ import annotations

from functools import cache

from jinja2 import Environment
from markupsafe import Markup

from ..build import Money, Rates, UnknownRateError
from ..build.commerce import Collection, Route
from ..landed import DeclarationList
from .environment import paper_environment


def declaration_body(found: DeclarationList, collection: Collection, route: Route, rates: Rates, home: str) -> Markup:
    """The list as a piece of a page, without frame or look of its own.

    Parameters
    ----------
    found : from `declaration_list`; route : where the goods waited
    rates : turn what was paid abroad into home currency; home : that currency
    """
    template = _environment().get_template("declaration_body.html")
    paid = [(line, _home(line.paid, rates, home)) for line in found.lines]
    return Markup(
        template.render(
            found=found,
            trip=collection,
            route=route,
            lines=paid,
            abroad=_sums([line.paid for line in found.lines]),
            start=country_name(found.start),
            destination=country_name(found.destination),
            home=home,
        )
    )


def declaration_page(found: DeclarationList, collection: Collection, route: Route, rates: Rates, home: str) -> str:
    """The list as a self-contained page of HTML, for print; it opens without a network."""
    body = declaration_body(found, collection, route, rates, home)
    return _environment().get_template("declaration.html").render(body=body, day=found.day)


@cache
def country_name(code: str) -> str:
    """A country by its ISO 3166 code, in English; the code where it is not known.

    Examples
    --------
    >>> country_name("GB"), country_name("QQ")
    ('United Kingdom', 'QQ')
    """
    from babel import Locale

    return str(Locale("en").territories.get(code, code))


def _home(money: Money, rates: Rates, home: str) -> Money | None:
    if money.currency == home:
        return None
    try:
        return rates.convert(money, home).rounded()
    except UnknownRateError:
        return None


def _sums(amounts: list[Money]) -> list[Money]:
    """Sums by currency."""
    sums: dict[str, Money] = {}
    for money in amounts:
        sums[money.currency] = sums[money.currency] + money if money.currency in sums else money
    return list(sums.values())


@cache
def _environment() -> Environment:
    environment = paper_environment()
    environment.filters["money"] = lambda value: f"{value.rounded().amount:,f} {value.currency}"
    return environment
