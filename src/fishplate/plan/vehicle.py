"""Whole-vehicle choices of a build: what options bring, which conditions fit together, what comes of a wish."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from math import prod
from typing import TYPE_CHECKING, Final, TypeAlias

from ..build import Assumption, Build, Problem, Refused
from ..build.decisions import Decision
from ..build.interfaces import Condition
from ..decide.vehicle import (
    Barrier,
    Choosing,
    Configuration,
    Configurations,
    Item,
    VehicleChoice,
    Wanted,
    Way,
    decided_barriers,
    rule_barriers,
)
from ..decide.weighing import weigh
from ..fit import Verdict
from .option_figures import finish_with, job_hours, part_money, situation_with
from .situation import Situation

if TYPE_CHECKING:
    from ..decide.weighed import Weighing

Progress: TypeAlias = Callable[[str, float], None]
# Of a condition that hangs on many decisions, so many combinations are judged.
JUDGED: Final = 64
SHOWN: Final = 24
SAMPLES: Final = 4000


@dataclass(frozen=True)
class VehicleReport:
    """Whole-vehicle choices, for page and command.

    Parameters
    ----------
    shown : some of the frontier with when each would be finished, the cheapest first
    doubts : conditions that are in doubt or not known with some options together; they forbid nothing
    names : option -> its decision's name and its own
    """

    found: Configurations
    now: Configuration
    shown: tuple[Configuration, ...]
    doubts: tuple[Barrier, ...]
    names: Mapping[str, tuple[str, str]]
    currency: str
    assumptions: tuple[Assumption, ...]


@dataclass(frozen=True)
class WishReport:
    """What comes of wanting some options together; now and nearest with when each would be finished."""

    wanted: Wanted
    now: Configuration
    nearest: Configuration | None
    doubts: tuple[Barrier, ...]
    names: Mapping[str, tuple[str, str]]
    currency: str
    assumptions: tuple[Assumption, ...]


def vehicle_report(situation: Situation, progress: Progress) -> VehicleReport:
    """Whole-vehicle choices of a build; raises Refused if two options have one id."""
    from ..decide.frontier import configurations

    choice, doubts, assumed = vehicle_choice(situation, progress)
    progress("choices", 0.5)
    found = configurations(choice)
    some = _spread_out(found.frontier)
    shown = []
    for place, item in enumerate(some):
        progress("finish of each", 0.7 + 0.3 * place / len(some))
        shown.append(_finished(situation, choice, item))
    assumptions = (*found.assumptions, *assumed)
    if len(some) < len(found.frontier):
        text = f"{len(some)} of the {len(found.frontier)} choices that no other beats are shown, spread over their cost"
        assumptions = (Assumption("frontier-thinned", "build", text), *assumptions)
    return VehicleReport(
        found, _finished(situation, choice, found.now), tuple(shown), doubts, _names(situation.build),
        situation.build.owner.currency, tuple(dict.fromkeys(assumptions)),
    )  # fmt: skip


def wish_report(situation: Situation, options: Collection[str], progress: Progress) -> WishReport:
    """What comes of wanting some options together; raises Refused where there is no such option."""
    from ..decide.impossible import wanted

    choice, doubts, assumed = vehicle_choice(situation, progress)
    unknown = [option for option in options if option not in choice.ways]
    if unknown:
        known = ", ".join(sorted(choice.ways))
        raise Refused(Problem("want", "no-such-option", "no decision has this option", option, f"Name one of: {known}.")
                      for option in unknown)  # fmt: skip
    found = wanted(choice, options)
    nearest = None if found.nearest is None else _finished(situation, choice, found.nearest)
    return WishReport(
        found, _finished(situation, choice, found.now), nearest, doubts, _names(situation.build),
        situation.build.owner.currency, assumed,
    )  # fmt: skip


def vehicle_choice(
    situation: Situation, progress: Progress
) -> tuple[VehicleChoice, tuple[Barrier, ...], tuple[Assumption, ...]]:
    """All there is to choose, what is in doubt, and what was taken for granted; raises Refused."""
    build = situation.build
    _refuse_shared_ids(build)
    progress("what options bring", 0.05)
    items, said = _items(situation)
    choosings = tuple(_choosing(situation, decision) for decision in build.decisions)
    progress("what fits together", 0.2)
    misfits, doubts, judged = _conditions(situation)
    said += judged
    if len(build.decisions) > 1 and all(decision.importance == 1 for decision in build.decisions):
        text = "no decision was said to matter more than another, so their points count alike"
        said.append(Assumption("importance-default", "build", text))
    barriers = (*rule_barriers(build), *misfits, *decided_barriers(choosings))
    return VehicleChoice(choosings, items, barriers), doubts, tuple(said)


def _refuse_shared_ids(build: Build) -> None:
    owners: dict[str, list[str]] = {}
    for decision in build.decisions:
        for option in decision.options:
            owners.setdefault(option.id, []).append(decision.name)
    shared = {id_: names for id_, names in owners.items() if len(names) > 1}
    if shared:
        raise Refused(
            Problem("decisions", "shared-option", f"{' and '.join(names)} have an option of the same id", id_,
                    "Give each option an id of its own.")
            for id_, names in shared.items()
        )  # fmt: skip


def _names(build: Build) -> dict[str, tuple[str, str]]:
    return {option.id: (decision.name, option.name) for decision in build.decisions for option in decision.options}


# what options bring


def _items(situation: Situation) -> tuple[dict[str, Item], list[Assumption]]:
    build, items, said = situation.build, dict[str, Item](), list[Assumption]()
    options = [option for decision in build.decisions for option in decision.options]
    for part in dict.fromkeys(part for option in options for part in option.parts):
        money = part_money(situation, part)
        if money is None:
            text = f"no price is known for “{build.find('parts', part).name}”, so it counts for nothing"
            said.append(Assumption("no-price", f"part {part}", text))
        items[f"part {part}"] = Item(money or 0.0, 0.0)
    for job in dict.fromkeys(job for option in options for job in option.jobs):
        done = situation.facts.is_done(job)
        cost = 0.0 if done else float(build.find("jobs", job).cost)
        items[f"job {job}"] = Item(cost, job_hours(situation, job).mean)
    if options:
        text = "each part counts at the door by its cheapest offer, bought alone"
        said.append(Assumption("bought-alone", "build", text))
    return items, said


def _choosing(situation: Situation, decision: Decision) -> Choosing:
    choice = situation.facts.choices[decision.id]
    values = _values(weigh(situation.build, decision, {}, seed=situation.seed), situation.build)
    ways = tuple(
        Way(
            option.id,
            option.name,
            (*(f"part {part}" for part in option.parts), *(f"job {job}" for job in option.jobs)),
            decision.importance * values.get(option.id, 0.0),
        )
        for option in decision.options
    )
    return Choosing(decision.id, decision.name, ways, choice.option.id, choice.decided)


def _values(weighing: Weighing, build: Build) -> dict[str, float]:
    """Points of each option; money, hours and the finish left out, which are told beside them."""
    if weighing.basis == "overall":
        return {item.option: item.value for item in weighing.options}
    typed = [build.find("criteria", item.criterion).measured is None for item in weighing.criteria]
    return {
        option.option: sum(
            item.weight * points
            for item, points, counts in zip(weighing.criteria, option.points, typed, strict=True)
            if counts
        )
        for option in weighing.options
    }


# what fits together


def _conditions(situation: Situation) -> tuple[tuple[Barrier, ...], tuple[Barrier, ...], list[Assumption]]:
    """Conditions that do not fit with some options together, those in doubt, and those not judged."""
    misfits, doubts, said = list[Barrier](), list[Barrier](), list[Assumption]()
    build = situation.build
    for condition in build.conditions:
        calling = [
            decision
            for decision in build.decisions
            if any(condition.id in each.conditions for each in decision.options)
        ]
        giving = [decision for decision in build.decisions if _gives(decision, condition)]
        involved = list({decision.id: decision for decision in (*calling, *giving)}.values())
        if not involved:
            continue
        if prod(len(decision.options) for decision in involved) > JUDGED:
            text = f"{condition.name}: it hangs on too many decisions to be judged with each combination"
            said.append(Assumption("condition-not-judged", f"condition {condition.id}", text))
            continue
        for barrier in _judged(situation, condition, calling, involved):
            (misfits if barrier.kind == "condition" else doubts).append(barrier)
    return tuple(misfits), tuple(doubts), said


def _gives(decision: Decision, condition: Condition) -> bool:
    names = set(condition.names) | set(condition.mates or ())
    return any(item.dimension in names for option in decision.options for item in option.dimensions)


def _judged(
    situation: Situation, condition: Condition, calling: Collection[Decision], involved: Collection[Decision]
) -> Iterator[Barrier]:
    """A barrier for each combination of options with which a condition does not fit, or is in doubt."""
    from ..fit.condition_results import condition_results
    from ..fit.study import study

    only = situation.build.model_copy(update={"conditions": (condition,)})
    names = _names(situation.build)
    verdicts: dict[tuple[str, ...], tuple[Verdict, float | None]] = {}
    giving = [decision for decision in involved if _gives(decision, condition)]
    for options in product(*(decision.options for decision in involved)):
        called = not calling or any(condition.id in option.conditions for option in options)
        if not called:
            continue
        chosen = {decision.id: option.id for decision, option in zip(involved, options, strict=True)}
        key = tuple(chosen[decision.id] for decision in giving)
        if key not in verdicts:
            tried = situation_with(replace(situation, build=only), chosen)
            # whatever is chosen, it is judged
            facts = replace(tried.facts, wanted_conditions=frozenset({condition.id}))
            (result,) = condition_results(study(tried.build, facts, seed=situation.seed, samples=SAMPLES))
            verdicts[key] = result.verdict, result.chance
        verdict, chance = verdicts[key]
        if verdict is Verdict.FITS:
            continue
        takes = frozenset(
            option.id
            for decision, option in zip(involved, options, strict=True)
            if decision in giving or condition.id in option.conditions
        )
        kind = "condition" if verdict is Verdict.DOES_NOT_FIT else "doubt"
        where = situation.build.find("interfaces", condition.interface).name
        options_named = " with ".join(f"“{names[id_][1]}”" for id_ in sorted(takes))
        text = f"{where}: {_verdict_words(condition, verdict, chance)} with {options_named}."
        yield Barrier(kind, f"{condition.id} {' '.join(sorted(takes))}", text, takes)


def _verdict_words(condition: Condition, verdict: Verdict, chance: float | None) -> str:
    sure = f" (it holds {_odds(chance)})" if chance and verdict is not Verdict.NOT_KNOWN else ""
    name = f"{condition.name[:1].lower()}{condition.name[1:]}"
    return f"{name} {verdict.value}{sure}" if verdict is Verdict.DOES_NOT_FIT else f"{name} is {verdict.value}{sure}"


def _odds(chance: float) -> str:
    from ..decide.weighing import hundredths

    return hundredths(chance)


# what is shown


def _spread_out(frontier: tuple[Configuration, ...]) -> list[Configuration]:
    """Some of the frontier, the ends included, spread over it from cheap to dear."""
    if len(frontier) <= SHOWN:
        return list(frontier)
    return [frontier[round(place * (len(frontier) - 1) / (SHOWN - 1))] for place in range(SHOWN)]


def _finished(situation: Situation, choice: VehicleChoice, item: Configuration) -> Configuration:
    options = {
        choosing.decision: way.option
        for choosing in choice.choosings
        if not choosing.decided
        for way in choosing.ways
        if way.option in item.options
    }
    return replace(item, finish_weeks=finish_with(situation, options))
