"""Days after which something can't be done any more: returns, claims, cores, tax, evidence, taking work elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..build import Money, UnknownRateError, date_at, week_of
from ..build.commerce import Offer, ReturnTerms
from ..build.defaults import RESALE_SHARE
from ..records import best_check, dues, requirement_states, return_rights, workshop_states
from ..work import WorkReport
from .model import Deadline
from .sentences import day_words, money_words, name_of
from .study import Studied


@dataclass(frozen=True, slots=True)
class OpenReturn:
    """A part in hand that can still go back.

    Parameters
    ----------
    loss : what a misfit is expected to cost more once the right has ended, home currency
    check : the strongest check that keeps the right, as a sentence; empty if it was made
    how : which check that is; wrong : it was checked and is not right
    """

    part: str
    until: date
    loss: float
    ended_by: tuple[str, ...]
    check: str = ""
    how: str = "counted"
    wrong: bool = False


def deadlines_of(studied: Studied, run: WorkReport | None) -> tuple[Deadline, ...]:
    """Every deadline from today on, soonest first."""
    found = [*_returns(studied), *_recorded(studied), *_evidence(studied, run), *_withdrawals(studied, run)]
    return tuple(sorted(found, key=lambda deadline: (deadline.day, deadline.kind, deadline.key)))


def open_returns(studied: Studied) -> tuple[OpenReturn, ...]:
    """Parts received, neither fitted nor sent back, whose return right still runs; the last day of those that came."""
    situation = studied.situation
    found: dict[str, OpenReturn] = {}
    for right in return_rights(situation.build, situation.as_of):  # soonest first, so that the last day stays
        offer: Offer = situation.build.find("offers", right.offer)
        check = best_check(situation.build, right, situation.as_of)
        chance = 1.0 if check.wrong_on is not None else studied.fit.misfit_chance.get(right.part, 0.0)
        loss = chance * _lost(studied, offer, right.terms)
        found[right.part] = OpenReturn(
            right.part, right.until, loss, right.terms.ended_by, "" if check.done else check.text, check.how,
            check.wrong_on is not None,
        )  # fmt: skip
    return tuple(found[part] for part in sorted(found))


def _lost(studied: Studied, offer: Offer, terms: ReturnTerms) -> float:
    """What a misfit costs more if it can't go back, home currency."""
    price = studied.situation.home(offer.price)
    back = price * float(terms.restocking_percent) / 100 + studied.situation.home(terms.freight_back)
    lost = price * (1 - RESALE_SHARE)
    return max(0.0, lost - back)


def _returns(studied: Studied) -> Iterator[Deadline]:
    situation = studied.situation
    for item in open_returns(studied):
        name = name_of(situation.build, "parts", item.part)
        words = f"{name} can go back until {day_words(item.until, situation.as_of)}"
        if item.ended_by:
            words += f", if it is not {' or '.join(end.replace('-', ' ') for end in item.ended_by)} by then"
        if item.loss >= 1:
            more = money_words(item.loss, situation.build.owner.currency)
            words += (
                f"; {'kept all the same, it' if item.wrong else 'a misfit found later'} is expected to cost {more} more"
            )
        yield Deadline(item.until, "return", item.part, f"{words}. {item.check}".rstrip())


def _recorded(studied: Studied) -> Iterator[Deadline]:
    situation = studied.situation

    def to_home(money: Money, _day: date) -> Money | None:
        try:
            return situation.rates.convert(money, situation.build.owner.currency)
        except UnknownRateError:
            return None

    for due in dues(situation.build, situation.as_of, to_home):
        yield Deadline(due.day, due.kind, due.key, due.text)


def _evidence(studied: Studied, run: WorkReport | None) -> Iterator[Deadline]:
    situation = studied.situation
    for state in requirement_states(situation.build, situation.facts):
        job = state.hides
        if not state.missing or job is None or run is None or job not in run.starts:
            continue
        moments = run.ends[job] if state.made_there else run.starts[job]
        week = float(np.quantile(moments, 0.1, method="inverted_cdf"))
        day = date_at(situation.as_of, max(0.0, min(week, 520.0)))
        name, when = name_of(situation.build, "jobs", job), day_words(day, situation.as_of)
        text = f"{state.requirement.name}: take the evidence before “{name}” hides it, which "
        text += f"may be done {when}." if state.made_there else f"may begin {when}."
        yield Deadline(day, "evidence", state.requirement.id, text)


def _withdrawals(studied: Studied, run: WorkReport | None) -> Iterator[Deadline]:
    situation = studied.situation
    chances = {} if run is None else {item.workshop: item.chance for item in run.withdrawals}
    for state in workshop_states(situation.build, situation.as_of):
        if state.withdraw_by is not None and state.withdraw_by >= situation.as_of:
            day = day_words(state.withdraw_by, situation.as_of)
            text = f"{state.workshop.name}: take the work elsewhere if it has not begun by {day}."
            if state.workshop.id in chances:
                text += f" About {10 * chances[state.workshop.id]:.0f} chances in 10 that it has not."
            yield Deadline(state.withdraw_by, "withdraw", state.workshop.id, text)


def weeks_left(studied: Studied, item: OpenReturn) -> float:
    """Weeks until a return right ends."""
    return week_of(studied.situation.as_of, item.until)
