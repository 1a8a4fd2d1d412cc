"""The front door: what comes loose, in figures and words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from ..build import Assumption, Build, Facts
from ..build.graph import Node
from ..build.words import joined
from .fate import Undoing, day_text
from .lots import lots_of
from .model import Fate, ImpactReport, JobRedo, PartFate
from .reach import Reach, reach_of

KINDS = ("parts", "dimensions", "decisions")
# Of what only may no longer fit, this share is taken to come loose in the likely figure.
DOUBT_SHARE = 0.5


def impact_of(build: Build, facts: Facts, target: Node, *, rates: Mapping[str, float]) -> ImpactReport:
    """What comes loose if a part, a dimension or a decision changes.

    Parameters
    ----------
    target : (list name, id); the list is "parts", "dimensions" or "decisions"
    rates : currency -> home currency for one unit of it; the home currency need not be listed

    Raises
    ------
    ValueError
        if the list is none of those
    KeyError
        if there is no such id
    UnknownRateError
        if something was bought in a currency that has no rate
    """
    if target[0] not in KINDS:
        raise ValueError(f"impact is known for {', '.join(KINDS)}, not for {target[0]}")
    build.find(*target)
    reach = reach_of(build, facts, target)
    parts, notes = _fates(build, facts, reach, rates)
    jobs = tuple(_redone(build, facts, reach))
    late_hours = _late_hours(build, facts, target)
    money, hours = _range((p.loss, p.certain) for p in parts), _range((j.hours, j.certain) for j in jobs)
    cautions = tuple(_cautions(build, reach))
    return ImpactReport(
        target=target,
        parts=parts,
        jobs=jobs,
        stale=reach.dimensions,
        readings=_readings(build, facts, reach),
        interfaces=reach.interfaces,
        releases=reach.releases,
        decisions=reach.decisions,
        following=reach.following,
        money_low=money[0],
        money_likely=money[1],
        money_high=money[2],
        hours_low=hours[0] + late_hours,
        hours=hours[1] + late_hours,
        hours_high=hours[2] + late_hours,
        cautions=cautions,
        text=_summary(build, target, parts, reach, money, hours[1] + late_hours, cautions),
        assumptions=notes,
    )


def _fates(
    build: Build, facts: Facts, reach: Reach, rates: Mapping[str, float]
) -> tuple[tuple[PartFate, ...], tuple[Assumption, ...]]:
    undoing = Undoing(build, facts, rates)
    fates: list[PartFate] = []
    notes: set[Assumption] = set()
    for part in sorted({*reach.parts, *reach.parts_in_doubt}):
        certain = part in reach.parts
        for lot in lots_of(build, facts, part):
            fate, taken = undoing.fate(lot, certain=certain)
            fates.append(fate)
            notes.update(taken)
        missing = facts.missing(build, part)
        if missing > 0 and part in facts.wanted_parts:
            fates.append(undoing.not_ordered(part, missing, certain=certain))
    if any(fate.loss for fate in fates):
        text = "freight, duty and tax already paid are left out of the losses"
        notes.add(Assumption("loss-without-duty", "build", text))
    if any(fate.loss and not fate.certain for fate in fates) or reach.jobs_in_doubt:
        text = "half of what only may no longer fit is taken to come loose (common practice)"
        notes.add(Assumption("impact-doubt-share", "build", text))
    return tuple(fates), tuple(sorted(notes))


def _redone(build: Build, facts: Facts, reach: Reach) -> Iterator[JobRedo]:
    for id_ in sorted({*reach.jobs, *reach.jobs_in_doubt}):
        job, state = build.find("jobs", id_), facts.jobs[id_]
        hours = state.hours_worked or (job.hours.likely if state.done_on else 0.0)
        certain = id_ in reach.jobs
        what = "to be done again" if certain else "to be looked at again"
        yield JobRedo(id_, hours, certain, f"“{job.name}”: {hours:g} h {what}.")


def _late_hours(build: Build, facts: Facts, target: Node) -> float:
    """Extra work of changing a decision after the job it is frozen by has begun [h]."""
    if target[0] != "decisions":
        return 0.0
    decision = build.find("decisions", target[1])
    state = facts.jobs.get(decision.freeze_by or "")
    frozen = state is not None and (state.done_on is not None or state.hours_worked > 0)
    return float(decision.late_hours.mean) if frozen and decision.late_hours is not None else 0.0


def _range(values: Iterable[tuple[float, bool]]) -> tuple[float, float, float]:
    """Low, likely and high from figures that are certain or in doubt."""
    certain = doubtful = 0.0
    for value, is_certain in values:
        if is_certain:
            certain += value
        else:
            doubtful += value
    return certain, certain + DOUBT_SHARE * doubtful, certain + doubtful


def _readings(build: Build, facts: Facts, reach: Reach) -> tuple[str, ...]:
    """Readings to be taken again: of dimensions of what changes, or against a state that changes."""
    return tuple(
        sorted(
            reading.id
            for reading in build.readings
            if reading.day <= facts.as_of and (reading.dimension in reach.replaced or reading.against in reach.states)
        )
    )


def _cautions(build: Build, reach: Reach) -> Iterator[str]:
    systems = {build.find("parts", part).system for part in (*reach.parts, *reach.parts_in_doubt)}
    hazards = {
        *(hazard for id_ in systems if id_ for hazard in build.find("systems", id_).hazards),
        *(hazard for id_ in reach.interfaces for hazard in build.find("interfaces", id_).hazards),
        *(hazard for id_ in (*reach.jobs, *reach.jobs_in_doubt) for hazard in build.find("jobs", id_).hazards),
    }
    if hazards:
        yield (
            f"This touches {joined(sorted(hazards))}: what is changed has to be checked on the vehicle before "
            "first use, by the local vehicle-modification code and, where it asks for one, by a licensed inspector."
        )


_NAME_OF_KIND = {"parts": "part", "dimensions": "dimension", "decisions": "decision"}


def _summary(
    build: Build,
    target: Node,
    parts: Sequence[PartFate],
    reach: Reach,
    money: tuple[float, float, float],
    hours: float,
    cautions: Sequence[str],
) -> str:
    home = build.owner.currency
    loose = [
        *_fate_words(parts, home),
        *([f"about {hours:.0f} h of work to do again"] if hours >= 0.5 else []),
        *_counted(len(reach.dimensions), "dimension to take again", "dimensions to take again"),
        *_counted(len(reach.interfaces), "verdict gone", "verdicts gone"),
        *_counted(len(reach.releases), "order held again", "orders held again"),
        *_counted(len(reach.decisions), "decision open again", "decisions open again"),
    ]
    name = build.find(*target).name
    head = f"If the {_NAME_OF_KIND[target[0]]} “{name}” changes: "
    body = "; ".join(loose) if loose else "nothing else comes loose yet"
    low, likely, high = money
    span = f", between {low:.0f} and {high:.0f}" if high - low >= 0.5 else ""
    figures = f" Money lost: about {likely:.0f} {home}{span}." if high >= 0.5 else ""
    return f"{head}{body}.{figures}{''.join(f' {caution}' for caution in cautions)}"


def _fate_words(parts: Sequence[PartFate], home: str) -> Iterator[str]:
    for fate in reversed(Fate):
        found = [part for part in parts if part.fate is fate]
        if not found:
            continue
        count = len({part.part for part in found})
        loss = sum(part.loss for part in found)
        soonest = min((part.until for part in found if part.until), default=None)
        when = f" (the first until {day_text(soonest)})" if soonest and count > 1 else ""
        when = f" until {day_text(soonest)}" if soonest and count == 1 else when
        cost = f", {loss:.0f} {home}" if loss >= 0.5 else ""
        yield f"{count} {'part' if count == 1 else 'parts'} {fate}{when}{cost}"


def _counted(count: int, one: str, many: str) -> Iterator[str]:
    if count:
        yield f"{count} {one if count == 1 else many}"
