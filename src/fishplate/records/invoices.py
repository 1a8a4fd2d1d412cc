"""What a seller's invoice asks, against what was ordered, line by line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ..build import Build, Money
from ..build.events import Invoice, InvoiceLine, Order, Payment


@dataclass(frozen=True, slots=True)
class InvoiceDifference:
    """One line of an invoice against the order.

    Parameters
    ----------
    expected : as ordered, None if nothing was; asked : as invoiced, None if it is not on it
    """

    label: str
    expected: Money | None
    asked: Money | None
    text: str

    @property
    def apart(self) -> bool:
        """Whether the two differ."""
        return self.expected != self.asked


@dataclass(frozen=True, slots=True)
class InvoiceState:
    """An invoice and how it stands.

    Parameters
    ----------
    lines : every line against what earlier invoices have left of the order; empty where it names no order, or comes
        from a carrier
    paid : in its currency; owed : what is left of it
    """

    invoice: Invoice
    lines: tuple[InvoiceDifference, ...]
    total: Money
    paid: Money

    @property
    def owed(self) -> Money:
        """What is still to be paid."""
        return self.total - self.paid


def invoice_states(build: Build, as_of: date) -> tuple[InvoiceState, ...]:
    """Invoices that came up to a day, latest first; those without a line are left out."""
    events = [event for event in build.events if event.day <= as_of]
    found = []
    for invoice in events:
        if not isinstance(invoice, Invoice) or not invoice.lines:
            continue
        code = invoice.lines[0].amount.currency
        none = Money(amount=Decimal(0), currency=code)
        total = sum((line.amount for line in invoice.lines if line.amount.currency == code), none)
        paid = sum((event.amount for event in events if isinstance(event, Payment) and event.invoice == invoice.id
                    and event.amount.currency == code), none)  # fmt: skip
        order = build.index["events"].get(invoice.order or "")
        before = [item for item in events if isinstance(item, Invoice) and item.order == invoice.order
                  and item.sent_by == "seller" and (item.day, item.id) < (invoice.day, invoice.id)]  # fmt: skip
        seller = isinstance(order, Order) and invoice.sent_by == "seller"
        lines = _against(build, invoice, order, before) if seller and isinstance(order, Order) else ()
        found.append(InvoiceState(invoice, lines, total, paid))
    return tuple(sorted(found, key=lambda state: (state.invoice.day, state.invoice.id), reverse=True))


def _against(build: Build, invoice: Invoice, order: Order, before: Iterable[Invoice]) -> tuple[InvoiceDifference, ...]:
    """Goods by offer, freight and core charges by kind; an invoice may be for a part of what was ordered.

    Parameters
    ----------
    before : invoices of the order that came earlier; what they asked is not expected once more
    """
    wanted: dict[str, Money] = {}
    for line in order.lines:
        _add(wanted, line.offer, line.price * Decimal(str(line.quantity)))
        if line.core is not None:
            _add(wanted, "core", line.core * Decimal(str(line.quantity)))
    if order.freight is not None:
        _add(wanted, "freight", order.freight)
    earlier, _ = _asked(line for item in before for line in item.lines)
    asked, labels = _asked(invoice.lines)
    found = []
    for key in dict.fromkeys([*wanted, *asked]):
        left = wanted.get(key)
        if left is not None and key in earlier and earlier[key].currency == left.currency:
            left = max(left - earlier[key], left * 0, key=lambda money: money.amount)
            if left.amount == 0 and key not in asked:
                continue  # an earlier invoice has asked all of it
        found.append(_difference(labels.get(key) or _name(build, key), left, asked.get(key), again=key in earlier))
    return tuple(found)


def _name(build: Build, key: str) -> str:
    """What an offer is for; what else an order asks goes by its kind."""
    offer = build.index["offers"].get(key)
    if offer is None:
        return key
    noun = build.find("parts", offer.part) if offer.part is not None else build.find("kits", offer.kit or "")
    return str(noun.name)


def _asked(lines: Iterable[InvoiceLine]) -> tuple[dict[str, Money], dict[str, str]]:
    """Sums and labels by what they are for."""
    sums: dict[str, Money] = {}
    labels: dict[str, str] = {}
    for item in lines:
        key = item.offer or (item.what if item.what in ("freight", "core") else item.label)
        labels.setdefault(key, item.label)
        _add(sums, key, item.amount)
    return sums, labels


def _add(sums: dict[str, Money], key: str, amount: Money) -> None:
    sums[key] = sums[key] + amount if key in sums and sums[key].currency == amount.currency else amount


def _difference(label: str, expected: Money | None, asked: Money | None, *, again: bool) -> InvoiceDifference:
    if again and asked is not None and (expected is None or expected.amount == 0):
        text = f"{label}: {asked} asked, though an earlier invoice has asked all of it; ask what this is for"
        return InvoiceDifference(label, expected, asked, text)
    if expected is None:
        text = f"{label}: {asked} asked, not on the order; ask what it is for"
    elif asked is None:
        text = f"{label}: {expected} ordered, not on this invoice; it may come with the rest"
    elif expected == asked:
        text = f"{label}: {asked} as ordered"
    elif expected.currency != asked.currency:
        text = f"{label}: {asked} asked, {expected} ordered"
    else:
        apart = asked - expected
        more = f"{apart} more" if apart.amount > 0 else f"{-apart} less"
        text = f"{label}: {asked} asked, {expected} ordered: {more}"
    return InvoiceDifference(label, expected, asked, text)


def bill_kinds(invoice: Invoice) -> tuple[tuple[str, Money, str], ...]:
    """An invoice's lines as (label, amount, kind), for whoever compares a carrier's bill with what was likely."""
    return tuple((line.label, line.amount, _kind(line)) for line in invoice.lines)


def _kind(line: InvoiceLine) -> str:
    return "fee" if line.what == "fees" else line.what
