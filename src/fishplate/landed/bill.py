"""The bill a carrier or authority is likely to send, and a bill that came compared with it, line by line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from ..build.errors import Refused
from ..build.events import LikelyCharge
from ..build.money import Money, minor_unit
from ..build.problem import Problem
from .figures import money_words
from .model import CostLine, LandedCost, LineKind

ZERO = Decimal(0)
TOLERANCE_PERCENT = 3.0
_ASK = {
    "duty": "ask which customs value and which heading the entry used",
    "tax": "ask on which value, freight and duty the tax was charged",
    "fee": "ask for the carrier's table and what the fee is for",
    "freight": "ask which mass or volume was charged",
}


@dataclass(frozen=True, slots=True)
class BillLine:
    """One amount of a bill, in home currency."""

    label: str
    amount: Money
    kind: LineKind


@dataclass(frozen=True, slots=True)
class BillDifference:
    """One line of a bill against what was expected.

    Parameters
    ----------
    expected, billed : None where the other side has no such line
    odd : it differs by more than exchange and rounding make likely
    """

    label: str
    kind: LineKind
    expected: Money | None
    billed: Money | None
    odd: bool
    text: str


@dataclass(frozen=True, slots=True)
class BillReport:
    """A bill against the estimate; `odd` if any line is."""

    lines: tuple[BillDifference, ...]
    expected: Money
    billed: Money

    @property
    def odd(self) -> bool:
        """Whether any line differs by more than exchange and rounding make likely."""
        return any(line.odd for line in self.lines)


def likely_bill(cost: LandedCost) -> tuple[BillLine, ...]:
    """What is likely to be asked on arrival: duty, tax and fees that are not paid with the purchase."""
    return tuple(
        BillLine(line.label, line.amount, line.kind)
        for line in cost.lines
        if line.due == "arrival" and line.amount.amount
    )


def likely_charges(cost: LandedCost) -> tuple[LikelyCharge, ...]:
    """What is likely to be asked on arrival, and freight, to be kept with the order."""
    return tuple(
        LikelyCharge(label=line.label, kind=line.kind, amount=line.amount, rule=line.rule, note=line.note)
        for line in cost.lines
        if _is_asked(line) and line.amount.amount and line.kind in ("freight", "duty", "tax", "fee")
    )


def expected_lines(charges: Iterable[LikelyCharge]) -> tuple[CostLine, ...]:
    """What was kept with an order, as lines a bill is compared with."""
    return tuple(
        CostLine(each.label, each.amount, each.kind, each.rule, each.note,
                 due="purchase" if each.kind == "freight" else "arrival")
        for each in charges
    )  # fmt: skip


def compare_bill(
    cost: LandedCost, bill: Sequence[BillLine], *, tolerance_percent: float = TOLERANCE_PERCENT
) -> BillReport:
    """A bill that came, line by line against what the estimate expects on arrival.

    Parameters
    ----------
    cost : the estimate
    bill : what was billed, in the home currency of the estimate
    tolerance_percent : what exchange between order and entry may change [%]

    Raises
    ------
    Refused
        if a line of the bill is in another currency

    Notes
    -----
    Lines are paired within their kind: first by name, then the nearest amounts, greatest first. Freight is compared
    only where the bill has freight on it.
    """
    return compare_lines(cost.lines, bill, cost.total.currency, tolerance_percent=tolerance_percent)


def compare_lines(
    expected: Sequence[CostLine],
    bill: Sequence[BillLine],
    currency: str,
    *,
    tolerance_percent: float = TOLERANCE_PERCENT,
) -> BillReport:
    """A bill that came, against lines that were expected; see `compare_bill`."""
    wrong = [line for line in bill if line.amount.currency != currency]
    if wrong:
        raise Refused(
            Problem(
                f"bill, {line.label}", "currency", f"the bill is not in {currency}", str(line.amount), "Convert it."
            )
            for line in wrong
        )
    asked = [line for line in expected if line.due == "arrival" and line.amount.amount]
    kinds = dict.fromkeys([*(line.kind for line in asked), *(line.kind for line in bill)])
    lines = [found for kind in kinds for found in _compared(kind, expected, bill, tolerance_percent)]
    due = sum((line.expected.amount for line in lines if line.expected), ZERO)
    billed = sum((line.amount.amount for line in bill), ZERO)
    return BillReport(tuple(lines), Money(amount=due, currency=currency), Money(amount=billed, currency=currency))


def _compared(
    kind: LineKind, expected: Sequence[CostLine], bill: Sequence[BillLine], percent: float
) -> Iterable[BillDifference]:
    due = [line for line in expected if line.kind == kind and line.amount.amount and _is_asked(line)]
    came = [line for line in bill if line.kind == kind]
    for line, other in _pairs(due, came):
        yield _difference(kind, line, other, percent)


def _is_asked(line: CostLine) -> bool:
    return line.due == "arrival" or line.kind == "freight"


def _pairs(due: Sequence[CostLine], came: Sequence[BillLine]) -> Iterable[tuple[CostLine | None, BillLine | None]]:
    """Expected and billed lines in pairs, by name and then by nearness of amount."""
    left, rest = list(due), []
    for line in came:
        same = next((one for one in left if one.label.casefold() == line.label.casefold()), None)
        if same is None:
            rest.append(line)
            continue
        left.remove(same)
        yield same, line
    for line in sorted(rest, key=lambda line: (-line.amount.amount, line.label)):
        nearest = min(left, key=lambda one: (abs(one.amount.amount - line.amount.amount), one.label), default=None)
        if nearest is not None:
            left.remove(nearest)
        yield nearest, line
    yield from ((line, None) for line in left)


def _difference(kind: LineKind, due: CostLine | None, came: BillLine | None, percent: float) -> BillDifference:
    ask = _ASK.get(kind, "ask what it is for")
    if due is None:
        assert came is not None
        text = f"{came.label}: {money_words(came.amount)} billed, not expected; {ask}"
        return BillDifference(came.label, kind, None, came.amount, came.amount.amount > 0, text)
    if came is None:
        text = f"{due.label}: {money_words(due.amount)} expected, not on this bill; it may come later"
        return BillDifference(due.label, kind, due.amount, None, odd=False, text=text)
    apart = came.amount.amount - due.amount.amount
    unit = Decimal(1).scaleb(-minor_unit(due.amount.currency))
    most = max(2 * unit, abs(due.amount.amount) * Decimal(str(percent)) / 100)
    odd = abs(apart) > most
    word = "more" if apart > 0 else "less"
    gap = Money(amount=abs(apart), currency=due.amount.currency)
    text = f"{due.label}: {money_words(came.amount)} billed, {money_words(due.amount)} expected"
    if odd:
        text += f", {money_words(gap)} {word}; expected {due.note or 'as estimated'}; {ask}"
    return BillDifference(due.label, kind, due.amount, came.amount, odd, text)
