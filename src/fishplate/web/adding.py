"""A part added by one line of text: what is understood by it is shown first, with what there is already."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money
from ..build.base import ThreePoint
from ..build.commerce import Offer, Supplier
from ..build.money import known_currencies
from ..build.numbers import Unreadable
from ..build.parts import Part, Phase
from ..exchange.amounts import country_of_currency
from ..exchange.names import slug
from ..exchange.one_line import OneLine, read_one_line
from ..exchange.placing import NOT_NAMED
from ..exchange.taking_in import alike
from ..exchange.times import parse_lead_weeks
from .ask import Ask, Asked
from .desk import put
from .form import made
from .holdings import holdings
from .part import counted, price_text
from .part_edits import offer_changed
from .words import exact, number, weeks_span

if TYPE_CHECKING:
    from .desk import View

router = APIRouter()
SHOWN: Final = 3
FORM: Final = "add-line"


@dataclass(frozen=True, slots=True)
class Alike:
    """A part named much like it."""

    id: str
    name: str
    said: str
    owned: bool


@dataclass(frozen=True, slots=True)
class Understood:
    """A line and what is understood by it.

    Parameters
    ----------
    sentence : what will be kept
    said : what was taken for granted; faults : what can't be read
    alike : parts named much like it, those that are owned first
    quantity, price, lead : as they are typed
    """

    line: str
    sentence: str
    said: tuple[str, ...]
    faults: tuple[str, ...]
    alike: tuple[Alike, ...]
    name: str
    quantity: str
    unit: str
    price: str
    currency: str
    lead: str
    supplier: str
    systems: tuple[tuple[str, str], ...]
    system: str
    suppliers: tuple[str, ...]
    choices: tuple[tuple[str, str, str], ...]
    tax: str


def understood(view: View, line: str) -> Understood:
    """What is understood by a line of text."""
    found = read_one_line(line, view.build)
    held = view.once(holdings)
    near = list(_alike(view, found.name))
    systems = [system.id for system in view.build.systems]
    system = next((part.system for part in near if part.system in systems), None) or ""
    lead = found.lead_weeks
    return Understood(
        line=line,
        sentence=_sentence(found),
        said=tuple(_said(found, view.build)),
        faults=tuple(f"{problem.what[:1].upper()}{problem.what[1:]}. {problem.do}" for problem in found.problems),
        alike=tuple(Alike(p.id, counted(p), held[p.id].words(view.as_of) + ".", held[p.id].owned > 0) for p in near),
        name=found.name,
        quantity=number(float(found.quantity or 1)),
        unit=found.unit,
        price=price_text(found.price) if found.price else "",
        currency=found.price.currency if found.price else view.currency,
        lead=(number(lead.low) if lead.low == lead.high else f"{number(lead.low)}-{number(lead.high)}") if lead else "",
        supplier=found.supplier,
        systems=(("", "none named"), *((item.id, item.name) for item in view.build.systems)),
        system=system,
        suppliers=tuple(sorted(item.name for item in view.build.suppliers if not item.name.startswith(NOT_NAMED))),
        choices=(("", "A part of its own", ""), *((p.id, f"Another price for {p.name}", "") for p in near)),
        tax={True: "yes", False: "no", None: ""}[found.tax_included],
    )


def _sentence(found: OneLine) -> str:
    if not found.name:
        return ""
    count = float(found.quantity or 1)
    name = f"{number(count)} {found.unit} {found.name}" if found.unit != "each" else found.name
    pieces = [f"{number(count)} × {name}" if found.unit == "each" and count != 1 else name]
    pieces.append(f"{exact(found.price)}{' each' if count != 1 else ''}" if found.price else "no price yet")
    if found.supplier:
        pieces.append(f"from {found.supplier}")
    if lead := found.lead_weeks:
        pieces.append(f"{weeks_span(lead.low, lead.high)} to dispatch")
    return ", ".join(pieces) + "."


def _said(found: OneLine, build: Build) -> Iterator[str]:
    yield from (said[:1].upper() + said[1:] + "." for said in found.said)
    if found.price is None:
        if found.supplier:
            yield f"Without a price, {found.supplier} is kept as a note."
        return
    if not found.supplier:
        yield "It names no supplier; the price is kept without one."
    elif not _supplier(build, found.supplier):
        country = _country(build, found.price.currency)
        yield f"{found.supplier} is new, and taken to be in {country} as its price is in {found.price.currency}."


def _alike(view: View, name: str) -> Iterator[Part]:
    """Parts of much the same name, what is owned first."""
    near = sorted(alike(view.build, name), key=lambda part: view.facts.owned.get(part.id, 0.0) <= 0)
    yield from near[:SHOWN]


# keeping it


@dataclass(frozen=True, slots=True)
class Typed:
    """A part as it is to be kept.

    Parameters
    ----------
    about : the part it is another price for; empty for a part of its own
    """

    name: str
    quantity: float = 1
    unit: str = "each"
    price: Money | None = None
    lead_weeks: ThreePoint | None = None
    supplier: str = ""
    system: str | None = None
    phase: Phase | None = None
    about: str = ""
    tax_included: bool | None = None


def added(build: Build, typed: Typed, today: date) -> Build:
    """The build with a part, or another offer for one, and the supplier it comes from if that is new."""
    part = build.index["parts"].get(typed.about) or made(
        Part,
        id=slug(typed.name, build.index["parts"]),
        name=typed.name,
        quantity=typed.quantity,
        unit=typed.unit,
        system=typed.system,
        phase=typed.phase,
        note=f"Supplier: {typed.supplier}" if typed.supplier and typed.price is None else "",
    )
    build = build if typed.about else put(build, "parts", part)
    if typed.price is None:
        return build
    build, supplier = _with_supplier(build, typed.supplier, typed.price.currency)
    held = next((o for o in build.offers if (o.part, o.supplier, o.pack) == (part.id, supplier.id, 1)), None)
    if held is not None:
        lead = typed.lead_weeks or held.lead_weeks
        return offer_changed(build, held.id, price=typed.price, lead=lead, returns=held.returns, today=today)
    offer = made(
        Offer,
        id=slug(f"{part.id[:40]}-{supplier.id[:30]}", build.index["offers"], stem="offer"),
        supplier=supplier.id,
        part=part.id,
        price=typed.price,
        tax_included=typed.tax_included,
        lead_weeks=typed.lead_weeks,
        seen=today,
    )
    return put(build, "offers", offer)


def _supplier(build: Build, name: str) -> Supplier | None:
    return next((each for each in build.suppliers if each.name.casefold() == name.casefold()), None)


def _with_supplier(build: Build, name: str, currency: str) -> tuple[Build, Supplier]:
    name = name or f"{NOT_NAMED} ({currency})"
    known = _supplier(build, name)
    if known is not None:
        return build, known
    new = made(
        Supplier,
        id=slug(name, build.index["suppliers"], stem="supplier"),
        name=name,
        country=_country(build, currency),
        currency=currency,
    )
    return put(build, "suppliers", new), new


def _country(build: Build, currency: str) -> str:
    return country_of_currency(currency) or build.owner.country


# routes


def show_adding(ask: Ask, line: str) -> Response:
    """What is understood by a line, with the form that keeps it."""
    page = understood(ask.view, line)
    return ask.show("adding_piece.html" if ask.in_place else "adding.html", page, title="Add a part")


@router.get("/parts/add")
def show(ask: Asked) -> Response:
    """The page, or the piece of it that follows the typing."""
    return show_adding(ask, ask.request.query_params.get("line", "")[:400])


@router.post("/parts/add")
def keep(ask: Asked) -> Response:
    """Keep what was understood, or what it was corrected to."""
    name = ask.form.text("name")
    about = ask.form.text("about")
    if about:
        name = ask.find("parts", about).name

    def edit(build: Build) -> Build:
        return added(build, typed_in(ask, build), ask.today)

    id_ = about or slug(name, ask.view.build.index["parts"])
    message = f"another price for {name[:150]}" if about else f"added {name[:150]}"
    again = lambda ask: show_adding(ask, ask.form.text("line")[:400])  # noqa: E731 - the page this form is on
    return ask.write(edit, message=message, back=f"/parts?{urlencode({'added': id_})}", again=again)


def typed_in(ask: Ask, build: Build) -> Typed:
    """A part as the form gives it; faults are noted beside their fields."""
    form = ask.form
    currency = form.text("currency", build.owner.currency).upper()
    if currency not in known_currencies():
        form.refuse("currency", "not a currency", currency, "Write its code, as EUR or GBP.")
        currency = build.owner.currency
    quantity, price = form.number("quantity"), form.money("price", currency)
    if quantity <= 0:
        form.refuse("quantity", "not above nothing", form.text("quantity"), "Say how many.")
    if price is not None and price.amount <= 0:
        form.refuse("price", "not above nothing", form.text("price"), "Leave it empty if it is not known.")
    about = form.text("about")
    if about and price is None and not form.problems:
        form.refuse("price", "nothing was filled in", do="Another price needs a price.")
    systems: Sequence[str] = [system.id for system in build.systems]
    phases = [phase.value for phase in Phase]
    return Typed(
        name=form.required("name", "Say what it is."),
        quantity=quantity if quantity > 0 else 1,
        unit=form.text("unit", "each"),
        price=price,
        lead_weeks=lead_of(ask),
        supplier=form.text("supplier")[:400],
        system=form.choice("system", systems) or None if form.text("system") else None,
        phase=Phase(form.choice("phase", phases)) if form.text("phase") in phases else None,
        about=about if about in build.index["parts"] else "",
        tax_included={"yes": True, "no": False}.get(form.text("tax")),
    )


def lead_of(ask: Ask, name: str = "lead") -> ThreePoint | None:
    """A lead time as it was typed; a figure alone is weeks."""
    text = ask.form.text(name)
    try:
        return parse_lead_weeks(text, unit="weeks")[0] if text else None
    except Unreadable as error:
        ask.form.refuse(name, error.what, text, error.do)
        return None
