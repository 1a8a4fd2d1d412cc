"""Why a part is bought as it is: the next best way, and what it would cost more."""

from __future__ import annotations

from .change import Changes, changes_of
from .model import PurchasePlan, PurchaseProblem, Recost, Shipment
from .recosting import recost_by_model
from .search import Moves


def explain(plan: PurchasePlan, problem: PurchaseProblem, part: str, *, recost: Recost | None = None) -> str:
    """Why this and not that, in plain words.

    Parameters
    ----------
    recost : exact costs; without it the model's own are used, and said to be

    Examples
    --------
    "hub is bought by offer hub-a in week 3, in one shipment with 2 other lines. The next best is hub-b in week 5; it
    would cost 14.20 more."
    """
    changes = changes_of(problem, plan, recost or plan_recost(problem))
    lines = [line for line in plan.lines if part in line.parts]
    if not lines:
        return _why_not_bought(plan, problem, part)
    shipments = {shipment.key: shipment for shipment in problem.shipments}
    said = [
        f"{part} is bought by "
        + " and ".join(_bought(plan, line.offer, line.units, shipments[line.shipment]) for line in lines)
        + "."
    ]
    said.append(_alternative(changes, part, frozenset(line.offer for line in lines)))
    said.append(_waiting(changes, part, max(line.week for line in lines) + 1))
    if recost is None:
        said.append("Figures are the model's, not re-costed.")
    return " ".join(said)


def plan_recost(problem: PurchaseProblem) -> Recost:
    """The model's own costs, the same object for the same problem, so that prepared what-ifs are found again."""
    if not _held or _held[0][0] is not problem:
        _held[:] = [(problem, recost_by_model(problem))]
    return _held[0][1]


_held: list[tuple[PurchaseProblem, Recost]] = []


def _bought(plan: PurchasePlan, offer: str, units: int, shipment: Shipment) -> str:
    others = sum(line.shipment == shipment.key for line in plan.lines) - 1
    count = f"{units} × " if units > 1 else ""
    way = f" by {shipment.route}" if shipment.route else ""
    company = "alone" if not others else f"with {others} other {'line' if others == 1 else 'lines'}"
    return f"{count}offer {offer} in week {shipment.week}{way}, {company} in its shipment"


def _alternative(changes: Changes, part: str, offers: frozenset[str]) -> str:
    extra, moves = changes.without_offer(part, offers)
    if not moves:
        return "No other offer covers it."
    return f"The next best is {_named(changes, moves)}; it would cost {_more(extra)}."


def _named(changes: Changes, moves: Moves) -> str:
    return " and ".join(f"{changes.offer(item)} in week {changes.store.items[item].week}" for item, _ in sorted(moves))


def _more(extra: float) -> str:
    if abs(extra) < 0.005:
        return "the same"
    return f"{extra:.2f} more" if extra > 0 else f"{-extra:.2f} less, within what this plan may miss"


def _waiting(changes: Changes, part: str, week: int) -> str:
    extra, moves = changes.later(part, week)
    if not moves:
        return "No later date is offered for it."
    return f"Ordered later, at best {_named(changes, moves)}, it would cost {_more(extra)}."


def _why_not_bought(plan: PurchasePlan, problem: PurchaseProblem, part: str) -> str:
    if problem.needs.get(part, 0.0) <= 0:
        return f"{part} is not needed."
    if not any(part in candidate.covers for candidate in problem.candidates):
        return f"{part} is not bought: there is no offer for it on these dates."
    if plan.cash_over or problem.cash_limits:
        return f"{part} is not bought: every way to buy it costs more than leaving it out, the money limits included."
    return f"{part} is not bought: every way to buy it costs more than leaving it out."
