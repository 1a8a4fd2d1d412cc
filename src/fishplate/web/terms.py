"""The terms of an offer: lead time, return right, core, warranty, deposit, how long it can be ordered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.commerce import Offer, PriceBreak, ReturnTerms
from .advice import offer_path
from .amounts import as_typed
from .ask import Ask, Asked
from .desk import View, put
from .fetching import read_money
from .form import Form, made
from .outlooks import name_of_offer
from .suppliers import supplier_path
from .words import RETURN_ENDS, STARTS, in_field, number

router = APIRouter()
SPARE_BREAKS: Final = 2
MOST_BREAKS: Final = 20


@dataclass(frozen=True, slots=True)
class TermsPage:
    """The terms of an offer as fields hold them.

    Parameters
    ----------
    breaks : from how many on, and the price of each then
    values : field -> what it holds; ends : what ends the return right
    """

    name: str
    path: str
    offer_path: str
    supplier: str
    supplier_path: str
    currency: str
    lead: tuple[str, str, str]
    breaks: tuple[tuple[str, str], ...]
    values: Mapping[str, str]
    ends: frozenset[str]
    made_to_order: bool
    all_ends: tuple[tuple[str, str], ...] = tuple(RETURN_ENDS.items())
    starts: tuple[tuple[str, str], ...] = STARTS


def terms_page(view: View, offer: Offer) -> TermsPage:
    """The page of an offer's terms."""
    supplier = view.build.find("suppliers", offer.supplier)
    lead, returns, code = offer.lead_weeks, offer.returns, offer.price.currency
    return TermsPage(
        name=name_of_offer(view.build, offer),
        path=f"{offer_path(offer.id)}/terms",
        offer_path=offer_path(offer.id),
        supplier=supplier.name,
        supplier_path=supplier_path(supplier.id),
        currency=code,
        lead=("", "", "") if lead is None else (in_field(lead.low), in_field(lead.likely), in_field(lead.high)),
        breaks=_breaks(offer),
        values={
            "pack": in_field(offer.pack),
            "proof": "yes" if offer.proof_of_origin else "",
            "tax": "" if offer.tax_included is None else "yes" if offer.tax_included else "no",
            "returns": "" if returns is None else str(returns.days),
            "restocking": _plain(None if returns is None else returns.restocking_percent or None),
            "back": as_typed(None if returns is None else returns.freight_back, code),
            "core": as_typed(offer.core_charge, code),
            "core-days": _plain(offer.core_days),
            "warranty": _plain(offer.warranty_months),
            "warranty-from": offer.warranty_from,
            "deposit": _plain(offer.deposit_percent or None),
            "from": _day(offer.available_from),
            "until": _day(offer.available_until),
            "price-until": _day(offer.price_until),
            "note": offer.note,
        },
        ends=frozenset(() if returns is None else returns.ended_by),
        made_to_order=offer.made_to_order,
    )


def _plain(value: float | None) -> str:
    return "" if value is None else in_field(value)


def _day(value: date | None) -> str:
    return "" if value is None else value.isoformat()


def _breaks(offer: Offer) -> tuple[tuple[str, str], ...]:
    known = [(str(each.units), as_typed(each.price, offer.price.currency)) for each in offer.breaks]
    return (*known, *[("", "")] * min(SPARE_BREAKS, MOST_BREAKS - len(known)))


def with_terms(build: Build, offer: Offer, form: Form) -> Build:
    """The build with the terms of an offer as typed; what is left empty is not known."""
    pack = form.maybe_number("pack", at_least=0)
    if pack == 0:
        form.refuse("pack", "none for that price", "0", "Give how many.")
    first, last = form.maybe_day("from"), form.maybe_day("until")
    if first and last and last < first:
        form.refuse("until", "before it can be ordered", last.isoformat(), "Give a later day.")
    told = {
        "pack": pack or 1,
        "breaks": tuple(_typed_breaks(form, offer)),
        "tax_included": {"yes": True, "no": False}.get(form.text("tax")),
        "proof_of_origin": form.ticked("proof"),
        "lead_weeks": form.three_point("lead"),
        "returns": _returns(form, offer),
        "core_charge": read_money(form, "core", offer.price.currency),
        "core_days": _whole(form, "core-days", 3650),
        "warranty_months": _whole(form, "warranty", 1200),
        "warranty_from": form.choice("warranty-from", [value for value, _ in STARTS]),
        "deposit_percent": form.maybe_number("deposit", at_least=0, at_most=100) or 0,
        "available_from": first,
        "available_until": last,
        "price_until": form.maybe_day("price-until"),
        "made_to_order": form.ticked("made-to-order"),
        "note": form.text("note"),
    }
    return build if form.problems else put(build, "offers", made(Offer, **{**offer.model_dump(), **told}))


def _typed_breaks(form: Form, offer: Offer) -> Iterator[PriceBreak]:
    seen = set()
    for at in range(MOST_BREAKS):
        units = form.maybe_number(f"from-{at}", at_least=2, at_most=100_000)
        price = read_money(form, f"each-{at}", offer.price.currency, zero=True)
        if units is None:
            if price is not None and not form.problems:
                form.refuse(f"from-{at}", "nothing was filled in", do="Give from how many on.")
            continue
        if units in seen or units != int(units):
            form.refuse(f"from-{at}", "not a count of its own", number(units), "Give each count once, as a whole.")
        seen.add(units)
        if price is None and not form.problems:
            form.refuse(f"each-{at}", "nothing was filled in", do="Give the price of each then.")
        if price is not None and price.currency != offer.price.currency:
            form.refuse(f"each-{at}", f"not in {offer.price.currency}", str(price), "Give it in the offer's currency.")
        elif price is not None and not form.problems:
            yield PriceBreak(units=int(units), price=price)


def _returns(form: Form, offer: Offer) -> ReturnTerms | None:
    days = _whole(form, "returns", 3650)
    fee = form.maybe_number("restocking", at_least=0, at_most=100) or 0
    back = read_money(form, "back", offer.price.currency)
    ends = tuple(end for end in RETURN_ENDS if end in form.every("ends"))
    if days is None:
        if (fee or back or ends) and not form.problems:
            form.refuse("returns", "nothing was filled in", do="Give within how many days; 0 if it can't go back.")
        return None
    return made(ReturnTerms, days=days, ended_by=ends, restocking_percent=fee, freight_back=back)


def _whole(form: Form, name: str, at_most: float) -> int | None:
    value = form.maybe_number(name, at_least=0, at_most=at_most)
    return None if value is None else round(value)


# routes


def show_terms(ask: Ask, id_: str) -> Response:
    """The page of an offer's terms."""
    page = terms_page(ask.view, ask.find("offers", id_))
    return ask.show("terms.html", page, title=f"Terms: {page.name}")


@router.get("/buying/offers/{offer}/terms")
def show(offer: str, ask: Asked) -> Response:
    """The terms of one offer."""
    return show_terms(ask, offer)


@router.post("/buying/offers/{offer}/terms")
def take(offer: str, ask: Asked) -> Response:
    """The terms of an offer, as typed."""
    found: Offer = ask.find("offers", offer)
    return ask.write(
        lambda build: with_terms(build, build.find("offers", offer), ask.form),
        message=f"terms: {name_of_offer(ask.view.build, found)}",
        back=offer_path(offer),
        again=lambda ask: show_terms(ask, offer),
    )
