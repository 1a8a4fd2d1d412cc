"""Days after which something of what was bought can't be done any more."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from ..build import Build
from .goods_in import claims_due
from .invoices import invoice_states
from .lasting import shelf_lives, warranties
from .model import ToHome
from .money_back import money_back

_FAULTS = {
    "damaged": "came damaged", "wrong-item": "was the wrong thing", "wrong-side": "was for the wrong side",
    "wrong-thread": "had the wrong thread", "short": "did not come, though the note says so",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Due:
    """A last day; kind : "claim", "core", "tax", "invoice", "shelf-life", "warranty" or "price"; text : a sentence."""

    day: date
    kind: str
    key: str
    text: str


def dues(build: Build, as_of: date, to_home: ToHome) -> tuple[Due, ...]:
    """Every last day from today on, soonest first."""
    found = [
        *_claims(build, as_of), *_money(build, as_of, to_home), *_invoices(build, as_of), *_lasting(build, as_of),
        *_prices(build, as_of),
    ]  # fmt: skip
    return tuple(sorted((due for due in found if due.day >= as_of), key=lambda due: (due.day, due.kind, due.key)))


def _claims(build: Build, as_of: date) -> Iterator[Due]:
    for due in claims_due(build, as_of):
        name = build.find("parts", due.part).name
        whom = "the carrier or the seller" if due.supplier is None else build.find("suppliers", due.supplier).name
        why = " (common practice; their terms may give less)" if due.assumed else ""
        text = f"Tell {whom} that {due.quantity:g} × {name} {_FAULTS[due.fault]}, with a photo{why}."
        yield Due(due.until, "claim", f"{due.receipt}/{due.part}/{due.fault}", text)


def _money(build: Build, as_of: date, to_home: ToHome) -> Iterator[Due]:
    for item in money_back(build, as_of, to_home):
        if item.until is None or item.asked:
            continue
        amount = "" if item.amount is None else f" {item.amount} come back."
        if item.kind == "core":
            name = _offered(build, item.what)
            flagged = " Common practice: ask them." if item.assumed else ""
            yield Due(item.until, "core", item.key, f"Send the old part of {name} back.{amount}{flagged}")
        else:
            yield Due(item.until, "tax", item.key, f"{item.text}{amount} Source: {item.source}.")


def _invoices(build: Build, as_of: date) -> Iterator[Due]:
    for state in invoice_states(build, as_of):
        if state.invoice.due is not None and state.owed.amount > 0:
            number = f" {state.invoice.number}" if state.invoice.number else ""
            yield Due(state.invoice.due, "invoice", state.invoice.id, f"Pay invoice{number}: {state.owed}.")


def _lasting(build: Build, as_of: date) -> Iterator[Due]:
    for life in shelf_lives(build, as_of):
        name = build.find("parts", life.part).name
        text = f"Fit {life.quantity:g} × {name} by then: it keeps no longer (by {life.ground})."
        yield Due(life.use_by, "shelf-life", life.part, text)
    for warranty in warranties(build, as_of):
        if warranty.until is not None:
            name = build.find("parts", warranty.part).name
            whose = build.find("suppliers", warranty.supplier).name
            yield Due(warranty.until, "warranty", warranty.part, f"The warranty of {whose} on {name} ends.")


def _prices(build: Build, as_of: date) -> Iterator[Due]:
    ordered = {line.offer for event in build.events if event.kind == "ordered" and event.day <= as_of
               for line in event.lines}  # fmt: skip
    for offer in build.offers:
        if offer.price_until is not None and offer.id not in ordered:
            seller = build.find("suppliers", offer.supplier).name
            text = f"{seller} stands by {offer.price} for {_offered(build, offer.id)} until then."
            yield Due(offer.price_until, "price", offer.id, text)


def _offered(build: Build, offer: str) -> str:
    found = build.find("offers", offer)
    noun = build.find("parts", found.part) if found.part is not None else build.find("kits", found.kit)
    return str(noun.name)
