"""The plan as one page of HTML: no script, no address, nothing fetched."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from functools import cache

from jinja2 import Environment
from markupsafe import Markup

from ..build import Build
from ..build.telling import Teller
from ..plan import Action, Plan
from ..plan.granted import granted
from ..plan.model import FitLine, PlannedLine
from ..plan.sentences import weeks_words
from .charts import cash_chart, drawn, stall_chart
from .environment import paper_environment

DEADLINE_DAYS = 120
VERDICT_ORDER = ("does not fit", "in doubt", "not known", "fits")


def plan_page(plan: Plan, build: Build) -> str:
    """The plan as a self-contained page, in the units and locale of the build's owner.

    Parameters
    ----------
    plan : the plan; build : the build it was made from, for names

    Returns
    -------
    the text of an HTML file that opens without a network
    """
    template = _environment().get_template("plan.html")
    page = template.render(
        plan=plan,
        groups=_orders(plan),
        fits=_fits(plan, build),
        suppliers={supplier.id: supplier.name for supplier in build.suppliers},
        offers=_offers(build),
        names=_names(build),
        taken=granted(plan, build),
        trips={trip.id: trip for trip in build.collections},
        deadlines=[item for item in plan.deadlines if (item.day - plan.as_of).days <= DEADLINE_DAYS],
        cash_chart=Markup(drawn(cash_chart(plan.cash, plan.currency, a_month=_a_month(build)))),
        stall_chart=Markup(drawn(stall_chart(plan.stall))),
    )
    return Teller.of(build).page(page)


def _a_month(build: Build) -> float | None:
    return None if build.owner.cash_per_month is None else float(build.owner.cash_per_month)


@cache
def _environment() -> Environment:
    environment = paper_environment()
    environment.filters.update(
        short=_short, month=_month, money=_money, chance=_chance, waiting=_waiting, curve=_curve, mark=_mark
    )
    return environment


def _short(value: date | None) -> str:
    return "–" if value is None else f"{value.day} {value:%b %Y}"


def _month(value: str) -> str:
    year, month = value.split("-")
    return f"{date(int(year), int(month), 1):%b %Y}"


def _money(value: float) -> str:
    return f"{value:,.0f}"


def _chance(value: float | None) -> str:
    if value is None:
        return "not known"
    if value > 0.995:
        return "over 99 %"
    return "under 1 %" if value < 0.005 else f"{value * 100:.0f} %"


def _waiting(action: Action) -> str:
    cost = action.cost_of_waiting
    if cost.amount > cost.resolution:
        return f"Putting it off {weeks_words(cost.weeks)} is expected to cost {cost.amount:,.0f} {cost.currency}."
    if cost.amount < -cost.resolution:
        return f"Better to wait: {-cost.amount:,.0f} {cost.currency} gained by {weeks_words(cost.weeks)}."
    return f"Waiting costs less than {max(1.0, cost.resolution):,.0f} {cost.currency}."


def _curve(action: Action) -> str:
    """What every delay tried would cost, in a line."""
    cost = action.cost_of_waiting
    tried = ", ".join(f"{weeks_words(weeks)} {loss:+,.0f}" for weeks, loss in cost.curve).replace("-", "−")
    least = f"{max(1.0, cost.resolution):,.0f}"
    return f"Put off {tried} {cost.currency}; less than {least} can't be told from nothing."


def _mark(verdict: str) -> Markup:
    """Two rails and what joins them: the shape says the verdict without colour."""
    shapes = {
        "fits": '<path d="M1 9h10M17 9h10" class="rail"/><path d="M7 9h14" class="plate"/>',
        "in doubt": '<path d="M1 9h10M17 9h10" class="rail"/><path d="M7 9h14" class="plate loose"/>',
        "does not fit": '<path d="M1 5h10M17 13h10" class="rail"/>',
        "not known": '<path d="M1 9h10" class="rail"/><path d="M17 9h10" class="rail loose"/>',
    }
    return Markup(f'<svg class="mark" viewBox="0 0 28 18" aria-hidden="true">{shapes[verdict]}</svg>')


def _orders(plan: Plan) -> list[tuple[PlannedLine, list[PlannedLine], float]]:
    """Lines by consignment, soonest first, with each consignment's sum."""
    groups: dict[str, list[PlannedLine]] = defaultdict(list)
    for line in plan.purchase.lines:
        groups[line.shipment].append(line)
    ordered = sorted(groups.values(), key=lambda lines: (lines[0].order_week, lines[0].supplier))
    return [(lines[0], lines, sum(line.landed for line in lines)) for lines in ordered]


def _fits(plan: Plan, build: Build) -> list[tuple[str, list[tuple[str, FitLine]]]]:
    """Conditions by verdict, those that need something done first."""
    names = {interface.id: interface.name for interface in build.interfaces}
    found: dict[str, list[tuple[str, FitLine]]] = defaultdict(list)
    for line in plan.fit:
        found[line.verdict].append((names.get(line.interface, line.interface), line))
    return [(verdict, found[verdict]) for verdict in VERDICT_ORDER if found[verdict]]


def _offers(build: Build) -> dict[str, str]:
    """Offer -> name of what it brings."""
    names = {"parts": build.index["parts"], "kits": build.index["kits"]}
    return {
        offer.id: names["parts"][offer.part].name if offer.part else names["kits"][offer.kit or ""].name
        for offer in build.offers
    }


def _names(build: Build) -> dict[str, str]:
    lists = ("decisions", "dimensions", "parts", "kits", "jobs")
    return {id_: noun.name for name in lists for id_, noun in build.index[name].items()}
