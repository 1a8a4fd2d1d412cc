"""A supplier: how it sells and sends, how its lead times turned out, what it offers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.commerce import FreightTerms, Offer, Route, Supplier
from ..build.parts import Kit, KitContent
from ..records import lead_times
from .advice import offer_path
from .amounts import as_typed
from .ask import Ask, Asked
from .asked_goods import TAXES
from .desk import View, fresh_id, put
from .enquiring import path_of as enquiry_path
from .fetching import read_money
from .form import Form, made
from .outlooks import name_of_offer
from .words import exact

router = APIRouter()
KIT_ROWS: Final = 8


@dataclass(frozen=True, slots=True)
class FreightShown:
    """What a supplier asks for one way home, as fields; all empty where nothing is known."""

    route: str
    name: str
    fixed: str
    per_kg: str
    free_from: str
    collect: bool


@dataclass(frozen=True, slots=True)
class SupplierPage:
    """The page of a supplier.

    Parameters
    ----------
    learnt : how its lead times turned out; empty before anything came
    least : what an order must be worth, as its field holds it
    freight : ways home it may use, those with terms first
    offers : what it sells, its price and the page of it
    parts : names of parts, for an offer that is added
    """

    supplier: Supplier
    path: str
    ask: str
    learnt: str
    least: str
    freight: tuple[FreightShown, ...]
    offers: tuple[tuple[str, str, str], ...]
    parts: tuple[str, ...]
    taxes: tuple[tuple[str, str], ...] = TAXES
    kit_rows: tuple[int, ...] = tuple(range(1, KIT_ROWS + 1))


def supplier_path(id_: str) -> str:
    """Address of a supplier."""
    return f"/buying/suppliers/{quote(id_, safe='')}"


def supplier_page(view: View, supplier: Supplier) -> SupplierPage:
    """The page of one supplier."""
    build = view.build
    learnt = lead_times(build, view.as_of).get(supplier.id)
    said = "" if learnt is None else learnt.assumption().text
    known = {terms.route: terms for terms in supplier.freight}
    routes = [route for route in build.routes if route.id in known or route.from_country == supplier.country]
    routes.sort(key=lambda route: route.id not in known)
    offers = [offer for offer in build.offers if offer.supplier == supplier.id]
    return SupplierPage(
        supplier=supplier,
        path=supplier_path(supplier.id),
        ask=enquiry_path(supplier.id),
        learnt=f"{said[:1].upper()}{said[1:]}." if said else "",
        least=as_typed(supplier.minimum_order, supplier.currency),
        freight=tuple(_freight(route, known.get(route.id), supplier.currency) for route in routes),
        offers=tuple((name_of_offer(build, offer), _price(offer), offer_path(offer.id)) for offer in offers),
        parts=tuple(part.name for part in build.parts),
    )


def _price(offer: Offer) -> str:
    pack = f" for {offer.pack:g}" if offer.pack != 1 else ""
    return f"{exact(offer.price)}{pack}"


def _freight(route: Route, terms: FreightTerms | None, currency: str) -> FreightShown:
    if terms is None:
        return FreightShown(route.id, route.name, "", "", "", False)
    fixed, per_kg, free = (as_typed(money, currency) for money in (terms.fixed, terms.per_kg, terms.free_from))
    return FreightShown(route.id, route.name, fixed, per_kg, free, terms.collect)


# changes


def with_facts(build: Build, supplier: Supplier, form: Form) -> Build:
    """The build with what is known of a supplier, as typed; what is left empty is not known."""
    days = form.maybe_number("claim-days", at_least=0, at_most=3650)
    country = form.required("country", "Give two letters, as GB.").upper()
    tax = form.text("tax")
    if tax not in dict(TAXES):
        form.refuse("tax", "not one of the choices", tax, "Choose one.")
    told = {
        "name": form.required("name"), "country": country, "origin_tax": tax or None,
        "collects_import_tax": form.ticked("collects"), "craft": form.ticked("craft"),
        "claim_days": None if days is None else round(days), "note": form.text("note"),
        "minimum_order": read_money(form, "least", supplier.currency),
    }  # fmt: skip
    if form.problems:
        return build
    return put(build, "suppliers", made(Supplier, **{**supplier.model_dump(), **told}))


def with_freight(build: Build, supplier: Supplier, form: Form) -> Build:
    """The build with what a supplier asks for freight, as typed; a way home without a sum has no terms."""
    shown = {terms.route for terms in supplier.freight}
    routes = [route.id for route in build.routes if route.id in shown or route.from_country == supplier.country]
    kept = [terms for id_ in routes if (terms := _terms(form, id_, supplier.currency)) is not None]
    if form.problems:
        return build
    kept.sort(key=lambda terms: [item.route for item in supplier.freight].index(terms.route)
              if terms.route in shown else len(shown))  # fmt: skip
    return put(build, "suppliers", supplier.model_copy(update={"freight": tuple(kept)}))


def _terms(form: Form, route: str, currency: str) -> FreightTerms | None:
    fixed = read_money(form, f"fixed-{route}", currency, zero=True)
    per_kg, free = (read_money(form, f"{name}-{route}", currency) for name in ("per-kg", "free"))
    if fixed is None:
        if (per_kg or free) and not form.problems:
            form.refuse(f"fixed-{route}", "nothing was filled in", do="Give what an order costs beside its mass; or 0.")
        return None
    collect = form.ticked(f"collect-{route}")
    return FreightTerms(route=route, fixed=fixed, per_kg=per_kg, free_from=free, collect=collect)


def with_offer(build: Build, supplier: Supplier, form: Form) -> Build:
    """The build with one more offer of a supplier; several of a part by count are an offer each."""
    part = _part_named(build, form, "part")
    price = read_money(form, "price", supplier.currency, zero=True)
    pack = form.maybe_number("pack", at_least=0)
    if price is None and not form.problems:
        form.refuse("price", "nothing was filled in", do="Give the price.")
    if pack == 0:
        form.refuse("pack", "none for that price", "0", "Give how many.")
    if form.problems:
        return build
    id_ = fresh_id(build, "offers", f"{part} {supplier.id}")
    offer = made(Offer, id=id_, supplier=supplier.id, part=part, price=price, pack=pack or 1, seen=form.day("day"))
    return put(build, "offers", offer)


def with_kit(build: Build, supplier: Supplier, form: Form) -> Build:
    """The build with a kit and the supplier's offer of it."""
    name = form.required("name", "Say what the kit is called.")
    price = read_money(form, "price", supplier.currency, zero=True)
    if price is None and not form.problems:
        form.refuse("price", "nothing was filled in", do="Give the price of one kit.")
    contents: dict[str, float] = {}
    for row in range(1, KIT_ROWS + 1):
        if not form.text(f"part-{row}"):
            continue
        part, count = _part_named(build, form, f"part-{row}"), form.maybe_number(f"count-{row}", at_least=0)
        contents[part] = contents.get(part, 0) + (1 if count is None else count)
    if not form.problems and not any(contents.values()):
        form.refuse("part-1", "nothing was filled in", do="Say what one kit holds.")
    if form.problems:
        return build
    held = tuple(KitContent(part=part, quantity=count) for part, count in contents.items() if count)
    kit = made(Kit, id=fresh_id(build, "kits", name), name=name, contents=held)
    id_ = fresh_id(build, "offers", f"{kit.id} {supplier.id}")
    offer = made(Offer, id=id_, supplier=supplier.id, kit=kit.id, price=price, seen=form.day("day"))
    return put(put(build, "kits", kit), "offers", offer)


def _part_named(build: Build, form: Form, field: str) -> str:
    name = form.required(field, "Choose a part.")
    found = next((part.id for part in build.parts if part.name.casefold() == name.casefold()), "")
    if name and not found:
        form.refuse(
            field, "no part of this build has that name", name, "Choose one of the list, or add the part first."
        )
    return found


# routes


def show_supplier(ask: Ask, id_: str) -> Response:
    """The page of one supplier."""
    page = supplier_page(ask.view, ask.find("suppliers", id_))
    return ask.show("supplier.html", page, title=page.supplier.name)


@router.get("/buying/suppliers/{supplier}")
def show(supplier: str, ask: Asked) -> Response:
    """One supplier."""
    return show_supplier(ask, supplier)


@router.post("/buying/suppliers/{supplier}/{what}")
def take(supplier: str, what: str, ask: Asked) -> Response:
    """What is known of a supplier, its freight, or one more offer of it."""
    found: Supplier = ask.find("suppliers", supplier)
    edit, words = _EDITS.get(what, (None, ""))
    if edit is None:
        return ask.show("supplier.html", supplier_page(ask.view, found), title=found.name, status=404)
    return ask.write(
        lambda build: edit(build, build.find("suppliers", supplier), ask.form),
        message=f"{words} {found.name}",
        back=supplier_path(supplier),
        again=lambda ask: show_supplier(ask, supplier),
    )


_EDITS: Final = {
    "facts": (with_facts, "what is known of"),
    "freight": (with_freight, "freight of"),
    "offers": (with_offer, "an offer of"),
    "kits": (with_kit, "a kit of"),
}
