"""What was paid, refunded and is still owed, in home currency; by order, system and allowance."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal

from ..build import Build, Money, offer_contents
from ..build.events import Cancellation, Claim, CoreSent, Event, Invoice, Payment, Refund, Return, Settlement
from .model import AllowanceUse, Ledger, OrderAccount, OrderState, PaidLine, SystemPaid, ToHome
from .orders import order_states

INVOICED = frozenset({"goods", "freight", "core", "other"})
GOODS = frozenset({"goods", "deposit", "freight", "refund", "core refund"})
REFUNDS = {
    "goods": "refund", "core": "core refund", "import-tax": "tax repaid", "origin-tax": "tax repaid", "other": "refund",
}  # fmt: skip


def ledger(build: Build, as_of: date, to_home: ToHome) -> Ledger:
    """Every payment and refund up to a day, and what is still owed on it.

    Parameters
    ----------
    to_home : money of a day in home currency

    Notes
    -----
    An order's payments go to systems in proportion to the value of its lines; a line whose parts belong to several
    systems, or to none, counts under no system.
    """
    home = build.owner.currency
    events = [event for event in build.events if event.day <= as_of]
    lines = sorted(_lines(events, to_home, home), key=lambda line: (line.day, line.event), reverse=True)
    states = order_states(build, as_of)
    by_order: dict[str | None, list[PaidLine]] = defaultdict(list)
    for line in lines:
        by_order[line.order].append(line)
    returns = [event for event in events if isinstance(event, Return | Refund)]
    refunded = {event.returned for event in returns if isinstance(event, Refund) and event.what == "goods"}
    accounts = tuple(_account(build, state, by_order[state.order.id], to_home, events) for state in states)
    known = [line for line in lines if line.home is not None]
    owed = sum((_owed_home(account, to_home, as_of, home) for account in accounts), _none(home))
    return Ledger(
        currency=home,
        lines=tuple(lines),
        accounts=accounts,
        paid=_sum(known, home),
        owed=owed,
        systems=_by_system(build, states, accounts, known, to_home, as_of),
        allowances=tuple(
            AllowanceUse(item.id, _sum((line for line in known if line.allowance == item.id), home))
            for item in build.allowances
        ),
        without_rate=tuple(line for line in lines if line.home is None),
        refunds_open=tuple(
            event.id
            for event in events
            if isinstance(event, Return) and event.refund is None and event.claim is None and event.id not in refunded
        ),
    )


def _none(currency: str) -> Money:
    return Money(amount=Decimal(0), currency=currency)


def _sum(lines: Iterable[PaidLine], currency: str) -> Money:
    return sum((line.home for line in lines if line.home is not None), _none(currency))


def _lines(events: Iterable[Event], to_home: ToHome, home: str) -> Iterator[PaidLine]:
    for event in events:
        match event:
            case Payment():
                booked = event.home_amount if event.home_amount and event.home_amount.currency == home else None
                worth = booked or to_home(event.amount, event.day)
                yield PaidLine(
                    event.id, event.day, event.what, event.order, event.allowance, event.amount, worth,
                    booked is not None, event.note,
                )  # fmt: skip
            case Return() | Cancellation():
                yield from _back(event, to_home)
            case Refund():
                booked = event.home_amount if event.home_amount and event.home_amount.currency == home else None
                worth = booked or to_home(event.amount, event.day)
                yield PaidLine(
                    event.id, event.day, REFUNDS[event.what], event.order, None, -event.amount,
                    None if worth is None else -worth, booked is not None, event.note,
                )  # fmt: skip
            case CoreSent() if event.cost is not None:
                worth = to_home(event.cost, event.day)
                yield PaidLine(
                    event.id, event.day, "sending back", event.order, None, event.cost, worth, booked=False,
                    note=event.note,
                )  # fmt: skip
            case _:
                pass


def _back(event: Return | Cancellation, to_home: ToHome) -> Iterator[PaidLine]:
    cost = event.cost if isinstance(event, Return) else None
    for what, amount in (("refund", None if event.refund is None else -event.refund), ("sending back", cost)):
        if amount is not None and amount.amount:
            worth = to_home(amount, event.day)
            yield PaidLine(event.id, event.day, what, event.order, None, amount, worth, booked=False, note=event.note)


def _account(
    build: Build, state: OrderState, mine: Sequence[PaidLine], to_home: ToHome, events: Sequence[Event]
) -> OrderAccount:
    order, home = state.order, build.owner.currency
    goods = [line for line in mine if line.what in GOODS]
    due = [*_ordered(state), *(-amount for amount in _not_owed(state, events))]
    due += _asked_beyond(state, due, goods, events)
    due_home, paid_home = _together(due, order.day, to_home, home), _sum(goods, home)
    charges = _sum((line for line in mine if line.what not in GOODS), home)
    currencies = {money.currency for money in due} | {line.amount.currency for line in goods}
    if len(currencies) == 1 or due_home is None:
        code = due[0].currency if due else home
        own = sum((money for money in due if money.currency == code), _none(code))
        paid = sum((line.amount for line in goods if line.amount.currency == code), _none(code))
        return OrderAccount(order, own, paid, due_home, paid_home, charges)
    return OrderAccount(order, due_home, paid_home, due_home, paid_home, charges)


def _asked_beyond(
    state: OrderState, due: Sequence[Money], paid: Sequence[PaidLine], events: Sequence[Event]
) -> list[Money]:
    """What the seller's invoices ask beyond the order, as far as it was paid: that does not come back by itself."""
    asked = [line.amount for event in events if isinstance(event, Invoice) and event.order == state.order.id
             and event.sent_by == "seller" for line in event.lines if line.what in INVOICED]  # fmt: skip
    out = [line.amount for line in paid]
    if not asked or len({money.currency for money in (*due, *asked, *out)}) != 1:
        return []
    code = asked[0].currency
    whole, given, owing = (sum(moneys, _none(code)) for moneys in (asked, out, due))
    beyond = min(whole, given, key=lambda money: money.amount) - owing
    return [beyond] if beyond.amount > 0 else []


def _ordered(state: OrderState) -> Iterator[Money]:
    """What an order asks: its lines with their core charges, and freight, less what was cancelled."""
    for position, line in enumerate(state.order.lines):
        share = state.share_due(position)
        yield state.value_of(position) * share
        if line.core is not None:
            yield line.core * (Decimal(str(line.quantity)) * share)
    if state.order.freight is not None and (state.cancelled_on is None or any(line.arrived for line in state.lines)):
        yield state.order.freight


def _not_owed(state: OrderState, events: Sequence[Event]) -> Iterator[Money]:
    """What is not owed any more: what was refunded for goods that went back, and what a claim has taken off.

    What a claim promised counts until its refund has come. The refund of what was cancelled takes nothing off: that was
    not asked any more.
    """
    order = state.order.id
    claims = {event.id for event in events if isinstance(event, Claim) and event.order == order}
    refunded = {event.claim for event in events if isinstance(event, Refund) and event.claim is not None}
    for event in events:
        match event:
            case Return() if event.order == order and event.refund is not None:
                yield event.refund
            case Refund() if event.order == order and event.what in ("goods", "core", "other"):
                if not _of_cancellation(state, event):
                    yield event.amount
            case Settlement() if event.claim in claims and event.claim not in refunded:
                if event.amount is not None and event.outcome in ("refund", "price-reduction"):
                    yield event.amount
            case _:
                pass


def _of_cancellation(state: OrderState, event: Refund) -> bool:
    """Whether a refund is of what was cancelled."""
    alone = event.returned is None and event.claim is None and event.what != "core"
    return alone and state.cancelled_on is not None and event.day >= state.cancelled_on


def given_back(build: Build, state: OrderState, as_of: date) -> bool:
    """Whether anything was written down as come back for what was cancelled, be it nothing."""
    return any(
        isinstance(event, Refund) and event.order == state.order.id and event.day <= as_of
        and _of_cancellation(state, event)
        for event in build.events
    )  # fmt: skip


def _together(amounts: Iterable[Money], day: date, to_home: ToHome, home: str) -> Money | None:
    total = _none(home)
    for amount in amounts:
        worth = to_home(amount, day)
        if worth is None:
            return None
        total += worth
    return total


def _owed_home(account: OrderAccount, to_home: ToHome, as_of: date, home: str) -> Money:
    """What is still to be paid on an order, at the rate of the day; nothing where it is paid, or no rate is known."""
    owed = to_home(account.owed.rounded(), as_of)
    return owed if owed is not None and owed.amount > 0 else _none(home)


def _by_system(
    build: Build,
    states: Iterable[OrderState],
    accounts: Iterable[OrderAccount],
    known: Iterable[PaidLine],
    to_home: ToHome,
    as_of: date,
) -> tuple[SystemPaid, ...]:
    home = build.owner.currency
    paid: dict[str | None, Money] = defaultdict(lambda: _none(home))
    owed: dict[str | None, Money] = defaultdict(lambda: _none(home))
    shares = {state.order.id: _shares(build, state) for state in states}
    systems = {allowance.id: allowance.system for allowance in build.allowances}
    for line in known:
        if line.home is not None:
            alone = {systems.get(line.allowance or ""): Decimal(1)}
            for system, share in (shares.get(line.order or "") or alone).items():
                paid[system] += line.home * share
    for account in accounts:
        rest = _owed_home(account, to_home, as_of, home)
        for system, share in shares[account.order.id].items():
            owed[system] += rest * share
    named = [*(system.id for system in build.systems), None]
    return tuple(
        SystemPaid(system, paid[system], owed[system]) for system in named if paid[system].amount or owed[system].amount
    )


def _shares(build: Build, state: OrderState) -> dict[str | None, Decimal]:
    """System -> share of an order's value."""
    values: dict[str | None, Decimal] = defaultdict(Decimal)
    for position, line in enumerate(state.order.lines):
        parts = offer_contents(build, build.find("offers", line.offer))
        systems = {build.find("parts", part).system for part in parts}
        values[systems.pop() if len(systems) == 1 else None] += state.value_of(position).amount
    whole = sum(values.values())
    if not whole:
        return {None: Decimal(1)}
    return {system: value / whole for system, value in values.items()}
