"""Money that others owe: refunds, cores, import tax on what went back, origin tax; until when it can be asked for."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from ..build import Build, Money, offer_contents
from ..build.commerce import Offer
from ..build.events import Claim, CoreSent, Event, Invoice, Order, Payment, Receipt, Reclaim, Refund, Return, Settlement
from .ledger import given_back, ledger
from .model import ToHome
from .orders import order_states
from .returns import refund_by_terms

Kind = Literal["refund", "claim", "cancelled", "core", "import-tax", "origin-tax"]
ASK_CUSTOMS = "not known: ask customs"
CORE_DAYS = 30
UNION = "eu-distance-sale-returned"  # a rule that holds in every country of the European Union


@dataclass(frozen=True, slots=True)
class MoneyBack:
    """Something that is to come back.

    Parameters
    ----------
    kind : what it is; key : the event or line it comes from
    amount : None where it is not known
    until : last day to ask for it, or to send the old part; None where none is known
    asked : it was asked for, or sent, already
    text : what is to be done; source : where the day comes from; assumed : it is common practice only
    """

    kind: Kind
    key: str
    order: str | None
    what: str
    amount: Money | None
    until: date | None
    asked: bool
    text: str
    source: str = ""
    assumed: bool = False


def money_back(build: Build, as_of: date, to_home: ToHome) -> tuple[MoneyBack, ...]:
    """Everything still to come back, soonest day first; what has come back, or was let go of, is left out."""
    events = [event for event in build.events if event.day <= as_of]
    found = [
        *_refunds(build, events),
        *_claims(events),
        *_cancelled(build, as_of, to_home),
        *_cores(build, events, as_of),
        *_import_tax(build, events, to_home),
        *_origin_tax(build, events),
    ]
    return tuple(sorted(found, key=lambda item: (item.until or date.max, item.kind, item.key)))


def _refunds(build: Build, events: list[Event]) -> Iterator[MoneyBack]:
    came = {event.returned for event in events if isinstance(event, Refund) and event.what == "goods"}
    for event in events:
        if isinstance(event, Return) and event.refund is None and event.claim is None and event.id not in came:
            amount, assumed = refund_by_terms(build, event) or (None, False)
            source = "" if amount is None else "terms taken for granted" if assumed else "their terms"
            text = "It went back; watch for it."
            yield MoneyBack(
                "refund", event.id, event.order, event.part, amount, None, True, text, source, assumed=assumed
            )


def _claims(events: list[Event]) -> Iterator[MoneyBack]:
    claims = {event.id: event for event in events if isinstance(event, Claim)}
    came = {event.claim for event in events if isinstance(event, Refund)}
    for event in events:
        if isinstance(event, Settlement) and event.outcome in ("refund", "price-reduction") and event.claim not in came:
            claim = claims.get(event.claim)
            if claim is not None:
                text = "The claim was granted; watch for it."
                yield MoneyBack("claim", event.id, claim.order, claim.part, event.amount, None, True, text)


def _cancelled(build: Build, as_of: date, to_home: ToHome) -> Iterator[MoneyBack]:
    """What was paid of orders that were cancelled, beyond what came of them."""
    accounts = {account.order.id: account for account in ledger(build, as_of, to_home).accounts}
    for state in order_states(build, as_of):
        over = -accounts[state.order.id].owed.rounded()
        if state.cancelled_on is not None and over.amount > 0 and not given_back(build, state, as_of):
            id_ = state.order.id
            text = "It was cancelled and had been paid: ask for it, unless you agreed that they keep it."
            yield MoneyBack("cancelled", id_, id_, state.order.supplier, over, None, True, text)


def _cores(build: Build, events: list[Event], as_of: date) -> Iterator[MoneyBack]:
    """Core charges by order line, less what was sent and refunded; the clock runs from the first arrival."""
    for state in order_states(build, as_of):
        order = state.order
        for position, line in enumerate(order.lines):
            offer: Offer = build.find("offers", line.offer)
            charge = line.core or offer.core_charge
            units = Decimal(str(line.quantity)) * state.share_due(position)
            if charge is None or units == 0:
                continue
            mine = [e for e in events if getattr(e, "order", None) == order.id and getattr(e, "offer", "") == offer.id]
            back = sum((e.amount.amount for e in mine if isinstance(e, Refund) and e.what == "core"), Decimal(0))
            if back >= charge.amount * units:
                continue
            sent = sum(e.quantity for e in mine if isinstance(e, CoreSent))
            came = min((e.day for e in events if isinstance(e, Receipt) and e.order == order.id
                        and any(it.part in offer_contents(build, offer) for it in e.lines)), default=None)  # fmt: skip
            days = CORE_DAYS if offer.core_days is None else offer.core_days
            yield MoneyBack(
                "core",
                f"{order.id}/{position}",
                order.id,
                offer.id,
                charge * units - Money(amount=back, currency=charge.currency),
                None if came is None else came + timedelta(days=days),
                sent >= units,
                "Send the old part back." if sent < units else "The old part is on its way; watch for it.",
                "the seller's terms" if offer.core_days is not None else f"{CORE_DAYS} days taken",
                assumed=offer.core_days is None,
            )


@cache
def _rules() -> tuple[dict[str, Any], ...]:
    text = files(__package__).joinpath("data/reclaim.toml").read_text(encoding="utf-8")
    return tuple(tomllib.loads(text)["rule"])


def _import_tax(build: Build, events: list[Event], to_home: ToHome) -> Iterator[MoneyBack]:
    """Duty and tax paid on an order, in the share of what went back; refunds of it are taken off."""
    for event in events:
        order = build.index["events"].get(getattr(event, "order", None) or "")
        if not isinstance(event, Return) or not isinstance(order, Order):
            continue
        rule = _rule(build.owner.country, faulty=event.claim is not None)
        repaid = ("duty", "tax") if rule is None else rule.get("repays", ("duty", "tax"))
        paid = [e for e in events if isinstance(e, Payment) and e.order == order.id and e.what in repaid]
        share = _share(build, order, event)
        refunds = [e for e in events if isinstance(e, Refund) and e.returned == event.id and e.what == "import-tax"]
        if not paid or refunds or share == 0:
            continue
        amounts = [e.home_amount or to_home(e.amount, e.day) for e in paid]
        known = [amount for amount in amounts if amount is not None]
        total = (sum(known[1:], known[0]) * share).rounded() if share and len(known) == len(paid) else None
        asked = any(isinstance(e, Reclaim) and e.returned == event.id and e.what == "import-tax" for e in events)
        until, text, source = _by_when(rule, event, min(e.day for e in paid))
        yield MoneyBack("import-tax", event.id, order.id, event.part, total, until, asked, text, source)


def _rule(country: str, *, faulty: bool) -> dict[str, Any] | None:
    """The rule that gives the longest for goods sent back to somewhere; what has no last day counts as the shortest."""
    kinds = ("faulty", "any") if faulty else ("any",)
    rules = [rule for rule in _rules() if country in rule["countries"] and rule["kind"] in kinds]
    return max(rules, key=lambda rule: rule.get("days", 0), default=None)


def _by_when(rule: dict[str, Any] | None, event: Return, paid: date) -> tuple[date | None, str, str]:
    """Last day to ask customs, what to ask for, and where that comes from."""
    if rule is None:
        return None, "Duty and tax may be repaid on what went back: not known, ask customs.", ASK_CUSTOMS
    start = event.day if rule.get("from") == "returned" else paid
    until = start + timedelta(days=rule["days"]) if "days" in rule else None
    asked = " and ".join(rule.get("repays", ("duty", "tax")))
    return until, f"Ask customs for {asked}: {rule['text']}. They decide.", f"{rule['source']} ({rule['status']})"


def _share(build: Build, order: Order, event: Return) -> Decimal | None:
    """Share of an order's value that went back; None where a kit's price tells no share, 0 where nothing is known."""
    total = sum((line.price.amount * Decimal(str(line.quantity)) for line in order.lines), Decimal(0))
    if not total:
        return Decimal(0)
    for line in order.lines:
        offer: Offer = build.find("offers", line.offer)
        if offer.part == event.part:
            each = line.price.amount / Decimal(str(offer.pack))
            return min(Decimal(1), each * Decimal(str(event.quantity)) / total)
    return None


def _carried_out_of_the_union(build: Build, order: Order) -> bool:
    """Whether a private owner fetches an order from a country of the European Union."""
    route = build.index["routes"].get(order.route or "")
    fetched = order.collection is not None or (route is not None and route.kind == "collection")
    union = next(rule["countries"] for rule in _rules() if rule["id"] == UNION)
    return fetched and build.owner.private_person and build.find("suppliers", order.supplier).country in union


def _origin_tax(build: Build, events: list[Event]) -> Iterator[MoneyBack]:
    """The seller's own tax on goods that left, where the seller's terms say the buyer can claim it.

    Its amount is what the seller's invoices show of it, until another was asked for. Parts for a private vehicle that
    the owner carries out of the European Union stay taxed (Directive 2006/112/EC, art. 146(1)(b)).
    """
    for order in (event for event in events if isinstance(event, Order)):
        if build.find("suppliers", order.supplier).origin_tax != "refund" or _carried_out_of_the_union(build, order):
            continue
        mine = [e for e in events if getattr(e, "order", None) == order.id and getattr(e, "what", "") == "origin-tax"]
        if any(isinstance(e, Refund) for e in mine) or not any(
            isinstance(e, Receipt) and e.order == order.id for e in events
        ):
            continue
        asked = [e for e in mine if isinstance(e, Reclaim)]
        shown = [line.amount for e in events if isinstance(e, Invoice) and e.order == order.id
                 and e.sent_by == "seller" for line in e.lines if line.what == "tax"]  # fmt: skip
        one = len({money.currency for money in shown}) == 1
        amount = (asked[-1].amount if asked else None) or (sum(shown[1:], shown[0]) if one else None)
        text = "Ask for the tax of the country it came from, with the stamped proof of export."
        source = "by when it must be asked for is not known: ask the seller"
        yield MoneyBack("origin-tax", order.id, order.id, order.supplier, amount, None, bool(asked), text, source)
