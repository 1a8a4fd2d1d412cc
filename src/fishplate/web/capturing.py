"""A saved page, a mail or pasted lines: what was understood is shown first, each product with what becomes of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Final
from urllib.parse import quote, urlencode

from fastapi.responses import Response

from ..build import Build, Money
from ..build.money import known_currencies
from ..exchange import RowPlan, apply
from ..exchange.captured import Captured, Found
from ..exchange.placing import NOT_NAMED
from ..exchange.taking_in import LEFT_OUT, OWN, Likely, likely_parts, take_in
from .adding import lead_of
from .ask import Ask
from .part import counted
from .words import day as day_words
from .words import exact, in_field, number

if TYPE_CHECKING:
    from .desk import View

SHOWN: Final = 60
NEAR: Final = 4


@dataclass(frozen=True, slots=True)
class ProductForm:
    """A product as it can be corrected.

    Parameters
    ----------
    number : its place in what was found, which its fields end with
    sentence : what is said of it; lacking : what is not said; said : what was taken for granted
    choices : value, words and finer words of what it can become; choice : the one that is sure, or that was made
    quantity, price, lead : as they are typed
    """

    number: int
    sentence: str
    more: tuple[str, ...]
    lacking: str
    said: tuple[str, ...]
    choices: tuple[tuple[str, str, str], ...]
    choice: str
    name: str
    quantity: str
    unit: str
    price: str
    currency: str
    supplier: str
    lead: str


@dataclass(frozen=True, slots=True)
class CapturePage:
    """What was brought, as it was understood.

    Parameters
    ----------
    sentence : what it is and of which day; left : how many products are not shown
    not_read : lines that nothing was taken from
    orders : name of a supplier and address of the page that makes an order of it
    """

    key: str
    title: str
    sentence: str
    url: str
    products: tuple[ProductForm, ...]
    left: int
    notes: tuple[str, ...]
    not_read: tuple[str, ...]
    suppliers: tuple[str, ...]
    orders: tuple[tuple[str, str], ...]


def capture_page(view: View, key: str, captured: Captured) -> CapturePage:
    """The page of something that was brought."""
    shown = captured.found[:SHOWN]
    return CapturePage(
        key=key,
        title=captured.title or ("What you pasted" if captured.kind == "text" else captured.name),
        sentence=_sentence(captured),
        url=captured.url,
        products=tuple(_product(view, captured, number) for number in range(len(shown))),
        left=len(captured.found) - len(shown),
        notes=tuple(f"{note[:1].upper()}{note[1:]}." for note in captured.notes),
        not_read=captured.not_read,
        suppliers=tuple(sorted(each.name for each in view.build.suppliers if not each.name.startswith(NOT_NAMED))),
        orders=tuple(_orders(view.build, key, captured)),
    )


def _sentence(captured: Captured) -> str:
    count = len(captured.found)
    what = {"page": "The page tells of", "mail": "The mail names", "text": "The text names"}[captured.kind]
    things = "one product" if count == 1 else f"{count} products"
    if captured.day is None:
        return f"{what} {things}. It does not say of which day it is; prices are kept as seen today."
    when = "saved" if captured.kind == "page" else "sent"
    return f"{what} {things}. It was {when} on {day_words(captured.day)}; prices are kept as seen then."


def _orders(build: Build, key: str, captured: Captured) -> Iterator[tuple[str, str]]:
    """Where a mail can become an order: its seller is known."""
    named = {each.seller.casefold() for each in captured.found}
    day = {"day": captured.day.isoformat()} if captured.day else {}
    for supplier in build.suppliers if captured.kind != "page" else ():
        if supplier.name.casefold() in named:
            yield supplier.name, f"/buying/confirmations/{quote(supplier.id, safe='')}/{key}?{urlencode(day)}"


def _product(view: View, captured: Captured, at: int) -> ProductForm:
    found = captured.found[at]
    likely = likely_parts(view.build, found)[:NEAR]
    sure = [each.part for each in likely if each.sure]
    return ProductForm(
        number=at,
        sentence=_told(found),
        more=tuple(_more(found)),
        lacking=_lacking(found),
        said=tuple(f"{each[:1].upper()}{each[1:]}." for each in found.said),
        choices=(*(_choice(view, captured, found, each) for each in likely), *_OTHERWISE),
        choice=LEFT_OUT if found.beside else sure[0] if len(sure) == 1 else "new" if not likely else "",
        name=found.name,
        quantity=in_field(found.quantity or 1),
        unit=found.unit,
        price="" if found.price is None else in_field(found.price),
        currency=found.currency,
        supplier=found.seller,
        lead=_span(found),
    )


_OTHERWISE: Final = (("new", "A part of its own", ""), (LEFT_OUT, "Leave it out", ""))


def _told(found: Found) -> str:
    pieces = [found.name if found.quantity in (None, 1) else f"{number(float(found.quantity))} × {found.name}"]
    if found.price is not None:
        price = exact(Money.of(f"{found.price:f}", found.currency)) if found.currency else f"{found.price:f}"
        pieces.append(f"{price}{' each' if found.quantity not in (None, 1) else ''}")
    if found.seller:
        pieces.append(f"from {found.seller}")
    return ", ".join(pieces) + "."


def _more(found: Found) -> Iterator[str]:
    """What else is told of it, a line each."""
    told = (
        ("Part number", found.part_number),
        ("The shop's number", found.shop_number),
        ("GTIN", found.trade_number),
        ("The price holds until", day_words(found.price_until) if found.price_until else ""),
        ("Goes back within", f"{found.return_days} days" if found.return_days else ""),
        ("Goes back", "not at all" if found.return_days == 0 else ""),
        ("Weight", f"{number(float(found.mass_kg))} kg" if found.mass_kg is not None else ""),
        *found.notes,
    )
    yield from (f"{label}: {text}" for label, text in told if text)


def _lacking(found: Found) -> str:
    """What it does not say, in a sentence; empty if it says all that is asked."""
    if found.price is None:
        return "It gives no price that can be read: fill it in, or keep the part without one."
    shared = f", whose sign could be {' or '.join(found.could_be)}" if found.could_be else ""
    asked = (
        (f"in which currency its price is{shared}", not found.currency),
        ("who sells it", not found.seller),
        ("how long it takes to dispatch", found.lead_weeks is None),
        ("whether tax is in the price", found.tax_included is None),
        ("whether it can go back", found.return_days is None),
    )
    missing = [words for words, lacks in asked if lacks]
    return f"It does not say {', nor '.join(missing)}." if missing else ""


def _span(found: Found) -> str:
    lead = found.lead_weeks
    if lead is None:
        return ""
    return in_field(lead.low) if lead.low == lead.high else f"{in_field(lead.low)}-{in_field(lead.high)}"


def _choice(view: View, captured: Captured, found: Found, likely: Likely) -> tuple[str, str, str]:
    part = view.build.find("parts", likely.part)
    why = f"{likely.why[:1].upper()}{likely.why[1:]}; {_effect(view, captured, found, part.id)}."
    return part.id, f"For {counted(part)}", why


def _effect(view: View, captured: Captured, found: Found, part: str) -> str:
    """What becomes of a product that is for a part of the build."""
    names = {each.id: each.name.casefold() for each in view.build.suppliers}
    seller = found.seller.casefold()
    held = [each for each in view.build.offers if each.part == part and seller and names[each.supplier] == seller]
    if found.price is None:
        return "without a price nothing is added to it"
    if not held or found.currency not in ("", held[0].price.currency) or held[0].pack != 1:
        return "another offer for it"
    if held[0].seen is not None and captured.day is not None and captured.day < held[0].seen:
        return f"a price from before the one of {day_words(held[0].seen)}"
    if held[0].price.amount == found.price:
        return f"the price that {found.seller} is known for, seen again"
    return f"a new price of what {found.seller} offers, {exact(held[0].price)} until now"


# what the form says


def corrected(ask: Ask, captured: Captured) -> tuple[Captured, Mapping[int, str]]:
    """What was brought, as it was corrected, and by place what each product is for; faults stand at their fields."""
    about: dict[int, str] = dict.fromkeys(range(SHOWN, len(captured.found)), LEFT_OUT)
    found = list(captured.found)
    for at, each in enumerate(found[:SHOWN]):
        about[at] = _about(ask, at)
        if about[at] != LEFT_OUT:
            found[at] = _corrected(ask, each, at)
    return replace(captured, found=tuple(found)), about


def _about(ask: Ask, at: int) -> str:
    chosen = ask.form.text(f"about-{at}")
    if chosen == "new":
        return OWN
    if chosen != LEFT_OUT and chosen not in ask.view.build.index["parts"]:
        ask.form.refuse(f"about-{at}", "not said yet", chosen, "Say which part it is for, or leave it out.")
        return LEFT_OUT
    return chosen


def _corrected(ask: Ask, found: Found, at: int) -> Found:
    form = ask.form
    currency = form.text(f"currency-{at}").upper()
    known = currency in known_currencies()
    price = form.money(f"price-{at}", currency if known else ask.view.currency)
    quantity = form.maybe_number(f"quantity-{at}", at_least=0)
    if price is not None and not known:
        could_be = f" It could be {' or '.join(found.could_be)}." if found.could_be else ""
        what = "not a currency" if currency else "the price names no currency"
        form.refuse(f"currency-{at}", what, currency, f"Write its code, as EUR or GBP.{could_be}")
    if price is not None and price.amount <= 0:
        form.refuse(f"price-{at}", "not above nothing", form.text(f"price-{at}"), "Leave it empty if it is not known.")
    if quantity == 0:
        form.refuse(f"quantity-{at}", "not above nothing", form.text(f"quantity-{at}"), "Say how many.")
    return replace(
        found,
        name=form.required(f"name-{at}", "Say what it is.")[:400],
        quantity=Decimal(str(quantity)) if quantity else None,
        unit=form.text(f"unit-{at}", "each")[:400],
        price=price.amount if price else None,
        currency=currency,
        seller=form.text(f"supplier-{at}")[:400],
        lead_weeks=lead_of(ask, f"lead-{at}") if form.text(f"lead-{at}") != _span(found) else found.lead_weeks,
    )


# routes, called by those of importing


def show_capture(ask: Ask, key: str, captured: Captured) -> Response:
    """What was understood, to be corrected and taken in."""
    return ask.show("capture.html", capture_page(ask.view, key, captured), title="Bring in")


def accept_capture(ask: Ask, key: str, captured: Captured) -> Response:
    """Take in what was shown, as it was corrected."""
    parts: list[str] = []

    def edit(build: Build) -> Build:
        given, about = corrected(ask, captured)
        if ask.form.problems:
            return build
        taken = take_in(given, build, ask.today, about=about)
        parts[:] = _parts_of(taken.rows, build, about)
        return apply(taken, build)

    def back() -> str:
        return f"/parts/{parts[0]}" if len(parts) == 1 else "/parts"

    message = f"taken in from {captured.name}"
    return ask.write(edit, message=message, back=back, again=lambda ask: show_capture(ask, key, captured))


def _parts_of(rows: Sequence[RowPlan], build: Build, about: Mapping[int, str]) -> list[str]:
    """The parts that offers or prices were taken in for."""
    found: dict[str, None] = {}
    for at, row in enumerate(rows):
        new = [each.noun.id for each in row.upserts if each.list_name == "parts"]
        for id_ in (*new, *(each for each in (about.get(at, LEFT_OUT),) if each in build.index["parts"])):
            found[id_] = None
    return list(found)
