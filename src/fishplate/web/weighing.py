"""What each option of a decision brings: parts at the door, jobs with their hours, verdicts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..build import Build, Facts, offer_contents
from ..build.decisions import Decision, Option
from ..plan import Situation
from ..plan.option_figures import cheapest_alone
from .desk import View
from .dimensions import inner
from .words import amount, number

if TYPE_CHECKING:
    from ..fit import ConditionResult


@dataclass(frozen=True, slots=True)
class Brought:
    """A part or a job an option calls for.

    Parameters
    ----------
    figure : its money or hours in words; whence : what they rest on
    money : still to be paid at the door, home currency; hours : still to be worked [h]; None if not known
    """

    id: str
    name: str
    figure: str
    whence: str
    money: float | None = 0.0
    hours: float | None = 0.0


@dataclass(frozen=True, slots=True)
class Way:
    """An option as it is weighed.

    Parameters
    ----------
    role : "decided", "leaned to", "stands in" (no option leads, and it is the first), or ""
    verdicts : (verdict, condition) of what must hold with it, as far as it is judged
    clashes : options planned with that it can't go with
    total : what it all comes to, in words
    """

    id: str
    name: str
    role: str
    note: str
    score: str
    parts: tuple[Brought, ...]
    jobs: tuple[Brought, ...]
    verdicts: tuple[tuple[str, str], ...]
    unjudged: int
    clashes: tuple[str, ...]
    total: str


def ways(
    view: View, decision: Decision, situation: Situation, judged: dict[str, ConditionResult] | None = None
) -> tuple[Way, ...]:
    """Every option of a decision with what it brings.

    Parameters
    ----------
    situation : rules and rates of the day; judged : results by condition, as far as they are at hand
    """
    return tuple(_way(view, decision, option, situation, judged or {}) for option in decision.options)


def _way(
    view: View, decision: Decision, option: Option, situation: Situation, judged: dict[str, ConditionResult]
) -> Way:  # fmt: skip
    parts = tuple(part_brought(view, id_, situation) for id_ in option.parts)
    jobs = tuple(_job(view, id_) for id_ in option.jobs)
    known = [id_ for id_ in option.conditions if id_ in judged]
    return Way(
        id=option.id,
        name=option.name,
        role=_role(view.facts, decision, option),
        note=option.note,
        score="" if option.score is None else f"You scored it {option.score:g} of 100.",
        parts=parts,
        jobs=jobs,
        verdicts=tuple((judged[id_].verdict.value, view.build.find("conditions", id_).name) for id_ in known),
        unjudged=len(option.conditions) - len(known),
        clashes=clashes(view.build, view.facts, decision, option),
        total=_total((*parts, *jobs), view.currency, noted=bool(option.note)),
    )


def _role(facts: Facts, decision: Decision, option: Option) -> str:
    choice = facts.choices[decision.id]
    if choice.option.id != option.id:
        return ""
    if choice.decided:
        return "decided"
    return "stands in" if choice.assumed else "leaned to"


def _total(brought: tuple[Brought, ...], currency: str, *, noted: bool) -> str:
    if not brought:
        return "No part or job hangs on it alone." if noted else "It brings nothing of its own."
    money, hours = sum(item.money or 0 for item in brought), sum(item.hours or 0 for item in brought)
    unknown = [item.name for item in brought if item.money is None]
    words = [f"{amount(money, currency)} still to pay at the door"] if money >= 0.5 else []
    words += [f"about {number(round(hours, 1))} h of own work"] if hours else []
    rest = f"; no price is known for {len(unknown)} of its parts" if unknown else ""
    if not words:
        return f"Nothing left to pay or to do for it{rest}."
    said = " and ".join(words)
    return f"{said[:1].upper()}{said[1:]}{rest}."


def clashes(build: Build, facts: Facts, decision: Decision, option: Option) -> tuple[str, ...]:
    """What an option can't go with, or can't go without, among what the plan goes by elsewhere."""
    names = {each.id: each.name for item in build.decisions for each in item.options}
    elsewhere = {choice.option.id for id_, choice in facts.choices.items() if id_ != decision.id}
    return tuple(_clashes(build, option.id, elsewhere, names))


def _clashes(build: Build, option: str, elsewhere: set[str], names: dict[str, str]) -> Iterator[str]:
    for rule in build.rules:
        why = f" {rule.why}" if rule.why else ""
        taken = elsewhere | {option}
        if not set(rule.options) <= taken:
            continue
        with_it = [f"“{names[id_]}”" for id_ in rule.options if id_ != option]
        if option in rule.options and rule.requires is not None and rule.requires not in taken:
            along = f" with {' and '.join(with_it)}" if with_it else ""
            yield f"It needs “{names[rule.requires]}”{along}, which the plan does not go by.{why}"
        if rule.excludes in taken and option in (*rule.options, rule.excludes):
            others = [id_ for id_ in (*rule.options, rule.excludes) if id_ != option and id_ is not None]
            named = " with ".join(f"“{names[id_]}”" for id_ in others)
            yield f"It does not go with {named}, which the plan goes by.{why}"


# parts


def part_brought(view: View, id_: str, situation: Situation) -> Brought:
    """A part with what it still costs at the door: as planned, or alone by its cheapest way home."""
    build, facts = view.build, view.facts
    part = build.find("parts", id_)
    count = f"{number(part.quantity)} × " if part.quantity != 1 else ""
    name, missing = f"{count}{part.name}", facts.missing(build, id_)
    if missing <= 0:
        coming = any(item.part == id_ for item in facts.incoming)
        return Brought(id_, name, "on its way" if coming else "in hand", "")
    planned = _planned(view, id_)
    if planned is not None:
        return Brought(id_, name, amount(planned, view.currency), "at the door, as planned", planned)
    alone = cheapest_alone(situation, id_)
    if alone is None:
        return Brought(id_, name, "no price known", "", None)
    money, supplier, way = alone
    whence = f"at the door if bought alone, by {supplier}, {inner(way)}"
    return Brought(id_, name, amount(money, view.currency), whence, money)


def _planned(view: View, part: str) -> float | None:
    """What the plan's lines for a part come to, if the plan buys it."""
    if view.plan is None:
        return None
    offers = view.build.index["offers"]
    lines = [
        line for line in view.plan.purchase.lines
        if line.offer in offers and set(offer_contents(view.build, offers[line.offer])) == {part}
    ]  # fmt: skip
    return sum(line.landed for line in lines) if lines else None


# jobs


def _job(view: View, id_: str) -> Brought:
    job, state = view.build.find("jobs", id_), view.facts.jobs.get(id_)
    if view.facts.is_done(id_):
        return Brought(id_, job.name, "done", "")
    worked = 0.0 if state is None else state.hours_worked
    left = state.hours_left if state is not None and state.hours_left is not None else job.hours.likely - worked
    figure = f"{number(round(max(0.0, left), 1))} h" + (f" and {amount(job.cost, view.currency)}" if job.cost else "")
    notes = [f"{number(job.hours.low)} to {number(job.hours.high)} h in all"]
    notes += [f"{number(worked)} h worked"] if worked else []
    notes += [f"by {view.build.find('workshops', job.workshop).name}"] if job.workshop else []
    return Brought(id_, job.name, figure, ", ".join(notes), float(job.cost), max(0.0, left))
