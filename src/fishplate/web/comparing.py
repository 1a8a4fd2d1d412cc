"""How the options of a decision compare: which comes first, what is beaten, what would change the choice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from markupsafe import Markup

from ..build.decisions import Decision
from ..papers.share_chart import ShareChart, shares_drawn
from .words import amount, day, number

if TYPE_CHECKING:
    from ..decide import DecisionReport
    from ..decide.weighed import Weighed, Weighing
    from .desk import View
    from .kept import Standing

PLACES: Final = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth")
LEARNT: Final = 3
CHANCES: Final = {0.02: "One in fifty", 0.1: "one in ten", 0.25: "one in four", 0.5: "an even chance"}


@dataclass(frozen=True, slots=True)
class Comparison:
    """How options compare.

    Parameters
    ----------
    working : whether it is being worked out; said : why it could not be
    lead : which comes first, and how surely; standing : a sentence for each option
    matters : (criterion, from worst to best, its share of the whole)
    learning : what would change the choice; assumed : what was taken for granted
    """

    working: bool
    said: str
    lead: str
    standing: tuple[str, ...]
    matters: tuple[tuple[str, str, str], ...]
    learning: tuple[str, ...]
    assumed: tuple[str, ...]
    chart: ShareChart | None
    drawn: Markup


def weighed(view: View, decision: str) -> Weighing:
    """A decision of a build weighed, with what the plan measures of its options."""
    from ..decide.weighing import weigh
    from ..plan.option_figures import measured
    from ..wiring import situation

    noun = view.build.find("decisions", decision)
    return weigh(view.build, noun, measured(situation(view.build, view.as_of), noun))


def dated(view: View) -> DecisionReport:
    """The decisions of a build by when each must be taken, in joint draws of the work."""
    from ..decide import order_decisions
    from ..plan.need_dates import due, order_by_weeks

    dates = due(view.build, view.as_of, 1)
    order_by = order_by_weeks(dates.build, dates.facts, dates.needs)
    return order_decisions(dates.build, dates.facts, start_weeks=dates.starts, order_by_weeks=order_by)


def comparison(decision: Decision, standing: Standing[Weighing], currency: str) -> Comparison:
    """How the options of a decision compare, as far as it is worked out."""
    found = standing.value
    if found is None or found.decision != decision.id:
        return Comparison(standing.working, standing.said, "", (), (), (), (), None, Markup())
    chart = _chart(found) if found.basis == "criteria" else None
    return Comparison(
        working=standing.working,
        said=standing.said,
        lead=found.text or "Nothing says yet how good its options are.",
        standing=tuple(_standing(found)) if found.basis == "criteria" else (),
        matters=tuple((item.name, _scale(item.worst, item.best, item.unit), _share(item.low, item.high))
                      for item in found.criteria),
        learning=tuple(_learning(found, currency)),
        assumed=tuple(str(item) for item in found.assumptions),
        chart=chart,
        drawn=Markup() if chart is None else Markup(shares_drawn(chart)),
    )  # fmt: skip


def _scale(worst: float, best: float, unit: str) -> str:
    return f"{number(round(worst, 1))} to {number(round(best, 1))} {unit}".rstrip()


def _share(low: float, high: float) -> str:
    """A weight as a share of the whole, as far as it is known."""
    first, last = round(100 * low), round(100 * high)
    return f"{first} of 100" if first == last else f"{first} to {last} of 100"


def _chart(found: Weighing) -> ShareChart:
    options = found.options
    ranks = range(min(len(options), len(PLACES)))
    return ShareChart(
        name="How often each option comes first, second and so on, of 100 ways that agree with what you said",
        unit="ways",
        over="Option",
        labels=tuple(item.name for item in options),
        parts=tuple((PLACES[rank], tuple(100 * item.ranks[rank] for item in options)) for rank in ranks),
        digits=0,
    )


def _standing(found: Weighing) -> Iterator[str]:
    from ..decide.weighing import hundredths

    names = {item.option: item.name for item in found.options}
    for item in found.options:
        first = item.ranks[0]
        often = {0.0: "it never comes first", 1.0: "it always comes first"}.get(first, f"first {hundredths(first)}")
        points = f"{item.value:.0f} points on average, nine times in ten above {item.low:.0f}"
        yield f"“{item.name}”: {points}; {often}.{_beaten(item, names)}"
    if found.safest != found.options[0].option:
        regret = next(item.regret for item in found.options if item.option == found.safest)
        yield f"“{names[found.safest]}” is the safest: it is hardly ever more than {regret:.0f} points behind the best."


def _beaten(item: Weighed, names: dict[str, str]) -> str:
    if item.dominated_by is None:
        return ""
    how = "however the scores turn out" if item.surely else "by the likely scores"
    return f" “{names[item.dominated_by]}” is at least as good by everything that counts, {how}."


def _learning(found: Weighing, currency: str) -> Iterator[str]:
    from ..decide.weighing import hundredths

    if found.basis != "criteria":
        return
    if not found.learning:
        yield "Nothing you could find out about these scores would change the choice."
    # a single score says more than its whole criterion, which holds it
    single = [item for item in found.learning if item.option or not item.criterion] or list(found.learning)
    for item in single[:LEARNT]:
        worth = f"; knowing is worth about {amount(item.money, currency)}" if item.money and item.money >= 0.5 else ""
        what = f"{item.what[:1].upper()}{item.what[1:]}"
        yield f"{what}: to know it would change the choice {hundredths(item.turns)}{worth}."


def by_risk_words(report: DecisionReport | None, decision: str, as_of: date) -> str:
    """By when to decide for each of some chances of being too late; empty where that is one day, or not known."""
    found = () if report is None else report.decisions
    result = next((item for item in found if item.decision == decision), None)
    days = () if result is None else result.by_risk
    if len({by for _, by in days}) < 2:
        return ""
    told = [f"{CHANCES[chance]}: {'now' if by <= as_of else f'by {day(by)}'}" for chance, by in days]
    return f"By the chance you take of being too late. {'; '.join(told)}."


def stays_open(report: DecisionReport | None, decision: str) -> dict[str, str]:
    """Until when each option stays open at no cost, in words, by option."""
    found = () if report is None else report.decisions
    result = next((item for item in found if item.decision == decision), None)
    words = {}
    for item in () if result is None else result.open:
        if item.until is not None:
            late = item.week is not None and item.week < 0
            when = "It can no longer be kept open for nothing" if late else f"Open at no cost until {day(item.until)}"
            words[item.option] = f"{when}: {item.because}."
    return words
