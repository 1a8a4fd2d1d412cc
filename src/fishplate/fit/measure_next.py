"""What to measure next, singly and for an evening's minutes and money.

The value of a reading is the expected value of sample information: what it saves of rework, its own spread counted.
Its cost is own time and outlay. For a budget, the set of things to do that saves most after its cost: found exactly
among a dozen, else greedily, with a bound that no set can pass.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..build import Assumption, Build, Facts
from ..build.defaults import hour_worth
from .choosing import Chosen, Offered, choose
from .condition_results import condition_results
from .measure_sentences import measure_text, way_text
from .model import ConditionResult, MeasureCandidate, Verdict
from .study import Study
from .ways import Way, needs_reading, ways
from .worth import Worth

Rates = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing to do to know better, and what it is worth.

    Parameters
    ----------
    value : expected saving of rework by it alone; cost : own time and outlay; net : one less the other, home currency
    """

    way: Way
    interfaces: tuple[str, ...]
    value: float
    cost: float
    text: str

    @property
    def net(self) -> float:
        """What it saves after its cost."""
        return self.value - self.cost


@dataclass(frozen=True, slots=True)
class MeasurePlan:
    """What to measure next.

    Parameters
    ----------
    measures : everything worth naming, best first by net saving per minute
    chosen : what to do together within the minutes and the money, of what can be begun tonight
    value, cost, net : of all chosen together
    bound : no set within the budget can save more than this after its cost
    exact : the chosen set is the best there is
    """

    measures: tuple[Measure, ...]
    chosen: tuple[Measure, ...]
    value: float
    cost: float
    minutes: float
    money: float
    bound: float
    exact: bool
    text: str
    assumptions: tuple[Assumption, ...]

    @property
    def net(self) -> float:
        """What the chosen save together after their cost."""
        return self.value - self.cost


def measure_next(
    build: Build, facts: Facts, study: Study, *, minutes: float | None = None, money: float | None = None,
    rates: Rates | None = None,
) -> MeasurePlan:  # fmt: skip
    """What to measure next, and what to do together within an evening.

    Parameters
    ----------
    study : of the same build and facts
    minutes, money : what there is of own time [min] and home currency; None for no limit
    rates : currency -> home currency for one unit, for what an early purchase ties up
    """
    if study.build is not build or study.facts is not facts:
        raise ValueError("the study is of another build, or of another day")
    worth = Worth(study, tuple(condition_results(study)))
    found, said = ways(study, frozenset(worth.by_dimension), rates)
    measures = sorted((_measure(study, worth, way) for way in found), key=_order)
    named = [item for item in measures if item.value > 0]
    offered = [Offered(item.way.id, item.way.spreads, item.way.minutes, item.way.money, item.cost)
               for item in sorted(named, key=lambda item: item.way.id) if item.way.open]  # fmt: skip
    chosen = choose(worth, offered, minutes=minutes, money=money)
    by_id = {item.way.id: item for item in named}
    doing = tuple(by_id[key] for key in chosen.ids)
    return MeasurePlan(
        measures=tuple(named),
        chosen=tuple(sorted(doing, key=_order)),
        value=chosen.value,
        cost=chosen.cost,
        minutes=sum(item.way.minutes for item in doing),
        money=sum(item.way.money for item in doing),
        bound=chosen.bound,
        exact=chosen.exact,
        text=_plan_text(build, chosen, doing),
        assumptions=tuple(sorted({*study.assumptions, *said})),
    )


def _order(item: Measure) -> tuple[float, str]:
    return -item.net / max(item.way.minutes, 1.0), item.way.id


def _measure(study: Study, worth: Worth, way: Way) -> Measure:
    single = len(way.spreads) == 1
    value = worth.of_dimension(*way.spreads[0]) if single else worth.of_set(dict(way.spreads))
    interfaces = {study.build.find("conditions", key).interface for key in worth.conditions_of(way.dimensions)}
    cost = cost_of(study, way)
    return Measure(way, tuple(sorted(interfaces)), value, cost, way_text(study, way, value, cost))


def cost_of(study: Study, way: Way) -> float:
    """Own time and outlay, in home currency."""
    return way.minutes * hour_worth(study.build.owner) / 60 + way.money


def _plan_text(build: Build, chosen: Chosen, doing: Sequence[Measure]) -> str:
    if not doing:
        return "Nothing that can be measured now saves more than it takes."
    minutes = sum(item.way.minutes for item in doing)
    count = "one thing" if len(doing) == 1 else f"{len(doing)} things"
    best = (
        "no other choice saves more"
        if chosen.exact
        else f"at most {chosen.bound:,.0f} {build.owner.currency} could be saved"
    )
    saving = chosen.value - chosen.cost
    net = f"{saving:,.0f} {build.owner.currency} expected to be saved after what they cost"
    return f"{count.capitalize()} in {minutes:g} minutes: {net}; {best}."


# --- one candidate a dimension, for the report -----------------------------------------------------------------------


def measures(study: Study, conditions: Sequence[ConditionResult]) -> tuple[MeasureCandidate, ...]:
    """Dimensions worth measuring, each by its best way; best first: by saving net of cost, per minute."""
    worth = Worth(study, conditions)
    waiting = _waiting(study, conditions)
    found, _ = ways(study, frozenset(worth.by_dimension))
    by_dimension: dict[str, list[Way]] = {}
    for way in found:
        for name in way.dimensions:
            by_dimension.setdefault(name, []).append(way)
    candidates = [
        candidate
        for name, own in sorted(by_dimension.items())
        if (candidate := _candidate(study, worth, name, own, needed=name in waiting)) is not None
    ]
    return tuple(sorted(candidates, key=lambda item: (-item.net / max(item.minutes, 1.0), item.dimension)))


def _waiting(study: Study, conditions: Sequence[ConditionResult]) -> frozenset[str]:
    """Dimensions that a verdict asks for: of conditions that don't fit yet, and not known well enough."""
    open_ = {result.condition for result in conditions if result.verdict is not Verdict.FITS}
    names = {name for item in study.conditions if item.condition.id in open_ for name in item.names}
    return frozenset(name for name in names if needs_reading(study, name))


def _candidate(
    study: Study, worth: Worth, name: str, own: Sequence[Way], *, needed: bool
) -> MeasureCandidate | None:  # fmt: skip
    """A dimension with its best way; None if nothing waits for it and it does not pay."""
    values = {way.id: worth.of_dimension(name, dict(way.spreads)[name]) for way in _worth_trying(own)}
    best = max(
        (way for way in own if way.id in values),
        key=lambda way: (way.open, values[way.id] - _share_of_cost(study, way), way.means == "reading", way.id),
    )
    value, cost = values[best.id], _share_of_cost(study, best)
    if not needed and value <= cost:
        return None
    dimension = study.build.find("dimensions", name)
    stand_in = next((way.stand_in for way in own if way.stand_in is not None), None)
    interfaces = {study.build.find("conditions", key).interface for key in worth.conditions_of([name])}
    reading = next((way for way in own if way.means == "reading"), best)
    return MeasureCandidate(
        dimension=name,
        minutes=dimension.minutes if best.means == "reading" else best.minutes,
        value=value,
        interfaces=tuple(sorted(interfaces)),
        blocked_by_part=reading.blocked_by_part,
        blocked_by_job=reading.blocked_by_job,
        stand_in=stand_in,
        text=measure_text(study, best, name, value, cost, stand_in),
        cost=cost,
        net=value - cost,
        means=best.means,
        instrument=best.instrument,
        needed=needed,
    )


def _worth_trying(own: Sequence[Way]) -> Iterator[Way]:
    """The reading first; what another way tells is reckoned only where the reading has to wait, or there is none."""
    readings = [way for way in own if way.means == "reading"]
    yield from readings
    if not readings or not readings[0].open:
        yield from (way for way in own if way.means != "reading")


def _share_of_cost(study: Study, way: Way) -> float:
    return cost_of(study, way) / len(way.spreads)
