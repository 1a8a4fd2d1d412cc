"""The front door: what comes loose, in figures and words."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from ..build import Assumption, Build, Facts, facts_of
from ..build.graph import Node
from ..build.words import joined
from .changes import changes_between
from .effects import dates_moved, hours_left, price_moves, surplus, to_buy
from .fate import Undoing
from .groups import coupled_groups
from .lots import lots_of
from .model import ImpactReport, JobRedo, PartFate
from .reach import Reach, Seeds, begun_jobs, reach_of, spread
from .seeds import Pair, seeds_of
from .sentences import NAME_OF_KIND, rest_of, summary
from .timing import timing_of
from .told import change_words

KINDS = ("parts", "dimensions", "decisions")
# Of what only may no longer fit, this share is taken to come loose in the likely figure.
DOUBT_SHARE = 0.5


def impact_of(build: Build, facts: Facts, target: Node, *, rates: Mapping[str, float]) -> ImpactReport:
    """What comes loose if a part, a dimension or a decision changes, whatever it is changed to.

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
    name = build.find(*target).name
    reach = reach_of(build, facts, target)
    head = f"If the {NAME_OF_KIND[target[0]]} “{name}” changes: "
    fates, notes = _fates(build, facts, reach, rates)
    decisions = {target[1]} if target[0] == "decisions" else set()
    return _report(build, facts, target, reach, fates, notes, head, turned=decisions)


def impact_of_change(
    before: Build,
    after: Build,
    as_of: date,
    *,
    rates: Mapping[str, float],
    progress: Callable[[str, float], None] | None = None,
) -> ImpactReport:
    """What comes loose if a build becomes another, by any change of any of its nouns, or of several.

    Parameters
    ----------
    before, after : the build as it is, and as it would be
    as_of : the day it is looked at
    rates : currency -> home currency for one unit of it; the home currency need not be listed
    progress : called with what is being done and the share done, 0 to 1; may raise, to have it given up

    Raises
    ------
    UnknownRateError
        if something was bought in a currency that has no rate

    Examples
    --------
    >>> from fishplate.build import build_from_data
    >>> seat = {"id": "seat", "name": "Seat"}
    >>> van, none = build_from_data({"parts": [seat]}), build_from_data({})
    >>> impact_of_change(van, none, date(2026, 3, 2), rates={}).text
    'The part “Seat” falls away. 1 part not ordered.'
    """
    say = progress or (lambda _stage, _share: None)
    say("Setting both builds side by side", 0.0)
    pair = Pair(before, after, facts_of(before, as_of), facts_of(after, as_of))
    changes = changes_between(before, after)
    seeds = seeds_of(pair, changes)
    say("Following what rests on it", 0.3)
    reach = spread(before, pair.was, seeds)
    moving = _moving(reach, seeds)
    reach = replace(reach, decisions=_open_again(pair, reach), releases=_held_again(pair, reach))
    say("Looking up what can still be undone", 0.5)
    fates, notes = _fates_of_change(pair, reach, rates)
    said = change_words(pair, changes)
    target = (changes[0].list_name, changes[0].id) if changes else ("build", "")
    turned = {id_ for name, id_ in seeds.nodes if name == "decisions"}
    report = _report(before, pair.was, target, reach, fates, notes, " ".join((*said, "")), turned=turned, other=after)
    say("Following which days move", 0.7)
    timing = timing_of(pair, changes, moving)
    say("Comparing prices and work", 0.9)
    report = replace(
        report,
        changes=said,
        to_buy=tuple(to_buy(pair)),
        prices=tuple(price_moves(pair, Undoing(before, pair.was, rates), Undoing(after, pair.now, rates))),
        more_hours=round(hours_left(after, pair.now) - hours_left(before, pair.was), 6),
        waiting=timing.jobs,
        orders=timing.parts,
        offers=timing.offers,
        dates=tuple(dates_moved(pair, changes)),
        whole=timing.whole,
    )
    return replace(report, text=f"{report.text}{rest_of(report)}")


def _open_again(pair: Pair, reach: Reach) -> tuple[str, ...]:
    """Decisions open again: not those that are taken anew by the change itself."""
    now = pair.now.choices
    anew = {
        id_
        for id_, choice in pair.was.choices.items()
        if id_ not in now
        or (now[id_].decided and pair.after.find("decisions", id_) != pair.before.find("decisions", id_))
    }
    return tuple(id_ for id_ in reach.decisions if id_ not in anew)


def _held_again(pair: Pair, reach: Reach) -> tuple[str, ...]:
    """Releases that are closed again: not those that wait for an open decision anyway."""
    known, was = pair.before.index["releases"], pair.was.choices
    return tuple(
        id_
        for id_ in reach.releases
        if id_ not in known or all(was[decision].decided for decision in known[id_].decisions)
    )


def _moving(reach: Reach, seeds: Seeds) -> set[Node]:
    """What moves dates because it comes loose."""
    return {
        *(("interfaces", id_) for id_ in reach.interfaces),
        *(("releases", id_) for id_ in reach.releases),
        *(("decisions", id_) for id_ in reach.decisions),
        *(("dimensions", id_) for id_ in {*reach.dimensions, *seeds.renewed}),
        *(("jobs", id_) for id_ in reach.jobs),
    }


def _report(
    build: Build,
    facts: Facts,
    target: Node,
    reach: Reach,
    parts: tuple[PartFate, ...],
    notes: tuple[Assumption, ...],
    head: str,
    *,
    turned: Collection[str],
    other: Build | None = None,
) -> ImpactReport:
    """The report on what is reached; `turned` are decisions that change, `other` the build as it would be."""
    jobs = tuple(_redone(build, facts, reach))
    late_hours = sum(_late_hours(build, facts, id_) for id_ in sorted(turned))
    money, hours = _range((p.loss, p.certain) for p in parts), _range((j.hours, j.certain) for j in jobs)
    cautions = tuple(_cautions([build] if other is None else [build, other], reach, parts))
    return ImpactReport(
        target=target,
        parts=parts,
        jobs=jobs,
        stale=reach.dimensions,
        readings=reach.readings,
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
        text=summary(build.owner.currency, head, parts, reach, money, hours[1] + late_hours, cautions),
        assumptions=notes,
        groups=coupled_groups(build, {*reach.decisions, *turned}),
    )


def _fates_of_change(
    pair: Pair, reach: Reach, rates: Mapping[str, float]
) -> tuple[tuple[PartFate, ...], tuple[Assumption, ...]]:
    """Fates of what is over, and of what may no longer fit."""
    over = tuple(surplus(pair, rates))
    rest = {*reach.parts, *reach.parts_in_doubt} - {fate.part for fate, _ in over}
    narrowed = replace(
        reach,
        parts=tuple(part for part in reach.parts if part in rest),
        parts_in_doubt=tuple(part for part in reach.parts_in_doubt if part in rest),
    )
    doubtful, notes = _fates(pair.before, pair.was, narrowed, rates)
    found = (*(fate for fate, _ in over), *doubtful)
    taken = {note for _, said in over for note in said}
    return found, tuple(sorted({*notes, *taken, *_loss_notes(found)}))


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
    notes.update(_loss_notes(fates))
    if any(fate.loss and not fate.certain for fate in fates) or reach.jobs_in_doubt:
        text = "half of what only may no longer fit is taken to come loose (common practice)"
        notes.add(Assumption("impact-doubt-share", "build", text))
    return tuple(fates), tuple(sorted(notes))


def _loss_notes(fates: Iterable[PartFate]) -> Iterator[Assumption]:
    if any(fate.loss for fate in fates):
        yield Assumption("loss-without-duty", "build", "freight, duty and tax already paid are left out of the losses")


def _redone(build: Build, facts: Facts, reach: Reach) -> Iterator[JobRedo]:
    for id_ in sorted({*reach.jobs, *reach.jobs_in_doubt}):
        job, state = build.find("jobs", id_), facts.jobs[id_]
        hours = state.hours_worked or (job.hours.likely if state.done_on else 0.0)
        certain = id_ in reach.jobs
        what = "to be done again" if certain else "to be looked at again"
        yield JobRedo(id_, hours, certain, f"“{job.name}”: {hours:g} h {what}.")


def _late_hours(build: Build, facts: Facts, id_: str) -> float:
    """Extra work of changing a decision after the job it is frozen by has begun [h]."""
    decision = build.find("decisions", id_)
    frozen = decision.freeze_by in begun_jobs(facts)
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


def _cautions(builds: Sequence[Build], reach: Reach, parts: Iterable[PartFate]) -> Iterator[str]:
    ids = {*reach.parts, *reach.parts_in_doubt, *(fate.part for fate in parts)}
    jobs = (*reach.jobs, *reach.jobs_in_doubt)
    hazards = {hazard for build in builds for hazard in _hazards(build, ids, reach.interfaces, jobs)}
    if hazards:
        yield (
            f"This touches {joined(sorted(hazards))}: what is changed has to be checked on the vehicle before "
            "first use, by the local vehicle-modification code and, where it asks for one, by a licensed inspector."
        )


def _hazards(build: Build, parts: Iterable[str], interfaces: Iterable[str], jobs: Iterable[str]) -> Iterator[str]:
    systems = {build.find("parts", id_).system for id_ in parts if id_ in build.index["parts"]}
    yield from (hazard for id_ in systems if id_ for hazard in build.find("systems", id_).hazards)
    for name, ids in (("interfaces", interfaces), ("jobs", jobs)):
        known = build.index[name]
        yield from (hazard for id_ in ids if id_ in known for hazard in known[id_].hazards)
