"""What to measure next, singly and for an evening's minutes and money.

The value of a reading is the expected value of sample information: what it saves of rework, its own spread counted.
Its cost is own time and outlay. For a budget, the set of things to do that saves most after its cost: found exactly
among a dozen, else greedily, with a bound that no set can pass.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..build import Assumption, Build, Facts
from .choosing import Chosen, Offered, choose
from .condition_results import how_conditions_stand
from .instruments import Reckoned, best_of, other_readings, reckoned, weighed
from .measure_sentences import instrument_text, measure_text, way_text
from .model import ConditionResult, MeasureCandidate, Verdict, Weighed
from .study import Study
from .ways import Way, cost_of, needs_reading, ways
from .worth import Worth

Rates = Mapping[str, float]

_LAID_ON = Assumption(
    "instrument-laid-on", "build",
    "an instrument within whose reach a size lies can be laid on in place of the usual one (common practice)",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing to do to know better, and what it is worth.

    Parameters
    ----------
    value : expected saving of rework by it alone; cost : own time and outlay; net : one less the other, home currency
    instruments : each that a reading was weighed with, the usual one first; empty where only one suits
    """

    way: Way
    interfaces: tuple[str, ...]
    value: float
    cost: float
    text: str
    instruments: tuple[Weighed, ...] = ()

    @property
    def net(self) -> float:
        """What it saves after its cost."""
        return self.value - self.cost


@dataclass(frozen=True, slots=True)
class MeasurePlan:
    """What to measure next.

    Parameters
    ----------
    measures : everything worth naming, best first by net saving per minute; a reading with the instrument it was chosen
        with, else with the one that leaves most
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
    worth = Worth(study, tuple(how_conditions_stand(study)))
    found, said = ways(study, frozenset(worth.by_dimension), rates)
    others = other_readings(study, found)
    said = (*said, *(() if not others else (_LAID_ON,)))
    things = [_measures(study, worth, way, others.get(way.id, ())) for way in found]
    by_key = {_key(item): item for each in things for item in each if item.value > 0}
    offered = [Offered(key, item.way.spreads, item.way.minutes, item.way.money, item.cost, item.way.id)
               for key, item in by_key.items() if item.way.open]  # fmt: skip
    chosen = choose(worth, offered, minutes=minutes, money=money)
    doing = tuple(by_key[key] for key in chosen.ids)
    taken = {item.way.id: item for item in doing}
    named = sorted((taken.get(each[0].way.id, each[0]) for each in things if each[0].value > 0), key=_order)
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


def _key(item: Measure) -> str:
    return f"{item.way.id} {item.way.instrument}" if item.instruments else item.way.id


def _measures(study: Study, worth: Worth, way: Way, others: Sequence[Way]) -> list[Measure]:
    """A thing to do with each instrument that could pay, best first."""
    if len(way.spreads) == 1:
        found = reckoned(study, worth, way, others)
    else:
        found = (Reckoned(way, worth.of_set(dict(way.spreads)), cost_of(study, way)),)
    interfaces = {study.build.find("conditions", key).interface for key in worth.conditions_of(way.dimensions)}
    measures = [
        Measure(
            way=each.way,
            interfaces=tuple(sorted(interfaces)),
            value=each.value,
            cost=each.cost,
            text=way_text(study, each.way, each.value, each.cost) + instrument_text(study, each, found),
            instruments=weighed(found),
        )
        for each in found
    ]
    best = found.index(best_of(found))
    return [measures[best], *measures[:best], *measures[best + 1 :]]


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
    others = other_readings(study, found)
    by_dimension: dict[str, list[Way]] = {}
    for way in found:
        for name in way.dimensions:
            by_dimension.setdefault(name, []).append(way)
    candidates = [
        candidate
        for name, own in sorted(by_dimension.items())
        if (candidate := _candidate(study, worth, name, own, others, needed=name in waiting)) is not None
    ]
    return tuple(sorted(candidates, key=lambda item: (-item.net / max(item.minutes, 1.0), item.dimension)))


def _waiting(study: Study, conditions: Sequence[ConditionResult]) -> frozenset[str]:
    """Dimensions that a verdict asks for: of conditions that don't fit yet, and not known well enough."""
    open_ = {result.condition for result in conditions if result.verdict is not Verdict.FITS}
    names = {name for item in study.conditions if item.condition.id in open_ for name in item.names}
    return frozenset(name for name in names if needs_reading(study, name))


def _candidate(
    study: Study, worth: Worth, name: str, own: Sequence[Way], others: Mapping[str, Sequence[Way]], *, needed: bool
) -> MeasureCandidate | None:  # fmt: skip
    """A dimension with its best way; None if nothing waits for it and it does not pay."""
    tried = [_tried(study, worth, name, way, others.get(way.id, ())) for way in _worth_trying(own)]
    best, found = max(
        ((best_of(each), each) for each in tried),
        key=lambda each: (each[0].way.open, each[0].net, each[0].way.means == "reading", each[0].way.id),
    )
    if not needed and best.net <= 0:
        return None
    stand_in = next((way.stand_in for way in own if way.stand_in is not None), None)
    interfaces = {study.build.find("conditions", key).interface for key in worth.conditions_of([name])}
    reading = next((way for way in own if way.means == "reading"), best.way)
    text = measure_text(study, best.way, name, best.value, best.cost, stand_in)
    return MeasureCandidate(
        dimension=name,
        minutes=best.way.minutes,
        value=best.value,
        interfaces=tuple(sorted(interfaces)),
        blocked_by_part=reading.blocked_by_part,
        blocked_by_job=reading.blocked_by_job,
        stand_in=stand_in,
        text=text + instrument_text(study, best, found),
        cost=best.cost,
        net=best.net,
        means=best.way.means,
        instrument=best.way.instrument,
        needed=needed,
        instruments=weighed(found),
    )


def _tried(study: Study, worth: Worth, name: str, way: Way, others: Sequence[Way]) -> Sequence[Reckoned]:
    """A way for one dimension, with each instrument; of what tells of several its share of the cost."""
    if way.means == "reading":
        return reckoned(study, worth, way, others)
    return (Reckoned(way, worth.of_dimension(name, dict(way.spreads)[name]), cost_of(study, way) / len(way.spreads)),)


def _worth_trying(own: Sequence[Way]) -> Iterator[Way]:
    """The reading first; what another way tells is reckoned only where the reading has to wait, or there is none."""
    readings = [way for way in own if way.means == "reading"]
    yield from readings
    if not readings or not readings[0].open:
        yield from (way for way in own if way.means != "reading")
