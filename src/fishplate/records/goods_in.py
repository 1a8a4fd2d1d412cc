"""Goods in: what came short, damaged or wrong, by when it must be reported, and what became of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from ..build import Build
from ..build.commerce import Supplier
from ..build.designations import DesignationError, parse_designation
from ..build.events import Check, Claim, Fault, Order, PartCount, Receipt, Return, Settlement

CLAIM_DAYS = 7
CLAIM_SOURCE = (
    "common practice; the time the carrier has by CMR (Geneva, 1956), art. 30(1), for damage not seen at once"
)


@dataclass(frozen=True, slots=True)
class ClaimDue:
    """Faulty or missing goods that have not been reported.

    Parameters
    ----------
    until : last day to report them; assumed: the seller's terms do not say, and CLAIM_DAYS stand in
    """

    receipt: str
    order: str | None
    supplier: str | None
    part: str
    quantity: float
    fault: Fault
    came: date
    until: date
    assumed: bool


@dataclass(frozen=True, slots=True)
class ThreadApart:
    """A part whose thread, as it was found on arrival, is none that is known of it; known : as it should be."""

    receipt: str
    part: str
    found: str
    known: str


@dataclass(frozen=True, slots=True)
class OpenClaim:
    """A claim that has not ended."""

    claim: Claim
    supplier: str | None


def claims_due(build: Build, as_of: date) -> tuple[ClaimDue, ...]:
    """Faults found on arrival and not yet claimed, soonest first; those whose day has passed come first."""
    events = [event for event in build.events if event.day <= as_of]
    claimed = [event for event in events if isinstance(event, Claim)]
    orders = {event.id: event for event in events if isinstance(event, Order)}
    found = []
    for receipt in (event for event in events if isinstance(event, Receipt)):
        for line in receipt.lines:
            for fault, quantity in faults_of(line):
                done = sum(claim.quantity for claim in claimed if _is_of(claim, receipt, line.part, fault))
                if quantity > done:
                    order = orders.get(receipt.order or "")
                    found.append(_due(build, receipt, order, line.part, quantity - done, fault))
    return tuple(sorted(found, key=lambda due: (due.until, due.receipt, due.part, due.fault)))


def _is_of(claim: Claim, receipt: Receipt, part: str, fault: Fault) -> bool:
    """Whether a claim is about a fault of an arrival."""
    there = claim.receipt == receipt.id or (claim.receipt is None and claim.order == receipt.order)
    return there and claim.part == part and claim.fault == fault


def faults_of(line: PartCount) -> Iterator[tuple[Fault, float]]:
    """What is wrong with a line as it was counted: faulty ones, and how many of the delivery note are missing.

    Examples
    --------
    >>> list(faults_of(PartCount(part="hose", quantity=3, faulty=1, noted=4)))
    [('damaged', 1.0), ('short', 1.0)]
    """
    if line.faulty:
        yield line.fault or "damaged", line.faulty
    if line.noted is not None and line.noted > line.quantity:
        yield "short", line.noted - line.quantity


def _due(build: Build, receipt: Receipt, order: Order | None, part: str, quantity: float, fault: Fault) -> ClaimDue:
    supplier: Supplier | None = None if order is None else build.find("suppliers", order.supplier)
    days = None if supplier is None else supplier.claim_days
    until = receipt.day + timedelta(days=CLAIM_DAYS if days is None else days)
    seller = None if supplier is None else supplier.id
    return ClaimDue(receipt.id, receipt.order, seller, part, quantity, fault, receipt.day, until, days is None)


def open_claims(build: Build, as_of: date) -> tuple[OpenClaim, ...]:
    """Claims made and not ended, oldest first."""
    events = [event for event in build.events if event.day <= as_of]
    ended = {event.claim for event in events if isinstance(event, Settlement)}
    found = sorted(
        (event for event in events if isinstance(event, Claim) and event.id not in ended),
        key=lambda claim: (claim.day, claim.id),
    )
    return tuple(OpenClaim(claim, _seller(build, claim)) for claim in found)


def known_threads(build: Build, part: str, as_of: date) -> tuple[str, ...]:
    """The threads a part should have, by the last word on each of its dimensions that takes one."""
    own = {item.id for item in build.dimensions if item.part == part and item.designates == "thread"}
    said = sorted((item for item in build.readings if item.dimension in own and item.day <= as_of),
                  key=lambda item: item.day)  # fmt: skip
    return tuple(dict.fromkeys({item.dimension: item.designation for item in said}.values()))


def threads_apart(build: Build, as_of: date) -> tuple[ThreadApart, ...]:
    """Parts that came with another thread than is known of them, neither claimed nor found right since."""
    events = [event for event in build.events if event.day <= as_of]
    claimed = {(event.receipt, event.part) for event in events if isinstance(event, Claim)}
    found = []
    for receipt in (event for event in events if isinstance(event, Receipt)):
        for line in receipt.lines:
            known = known_threads(build, line.part, as_of) if line.thread and not line.faulty else ()
            right = any(isinstance(event, Check) and event.part == line.part and event.good and event.day >= receipt.day
                        for event in events)  # fmt: skip
            same = any(_same_thread(line.thread, each) for each in known)
            if known and not same and not right and (receipt.id, line.part) not in claimed:
                found.append(ThreadApart(receipt.id, line.part, line.thread, " or ".join(known)))
    return tuple(found)


def _same_thread(one: str, other: str) -> bool:
    try:
        first, second = (replace(parse_designation(text, "thread"), text="") for text in (one, other))
        return first == second
    except DesignationError:
        return "".join(one.casefold().split()) == "".join(other.casefold().split())


def to_send_back(build: Build, claim: Claim, as_of: date) -> float:
    """How many of what a claim is about are here and may have to go back; none of what never came, or is kept."""
    events = [event for event in build.events if event.day <= as_of]
    ends = {event.outcome for event in events if isinstance(event, Settlement) and event.claim == claim.id}
    if claim.fault == "short" or ends & {"price-reduction", "refused"}:
        return 0.0
    gone = sum(event.quantity for event in events if isinstance(event, Return) and event.claim == claim.id)
    return max(0.0, claim.quantity - gone)


def _seller(build: Build, claim: Claim) -> str | None:
    order = build.index["events"].get(claim.order or "")
    return order.supplier if isinstance(order, Order) else None
