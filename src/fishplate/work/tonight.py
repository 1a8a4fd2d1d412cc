"""What of the ready jobs suits an evening, how far each could be taken in it, and what that is worth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, NamedTuple

from ..build import Assumption, Build, Facts
from ..build.calendar import weekly_hours
from ..build.defaults import hour_worth, week_delay_cost
from ..build.jobs import Job
from .evening_choice import Candidate, Picked, Step, best_evening
from .hours import expected_hours_left
from .model import Gates, ReadyJob, Spreads
from .network import WorkNetwork, share_done, wanted_jobs, work_network
from .outside import mean_shop_weeks
from .ready import gate_check, ready_jobs, unlocked

# Own estimates, said in the method: how soon slack makes a job less pressing; the least time worth laying out a job for
# without reaching anything, and its steps; what an hour worked counts by itself; when the end is near.
HALVING_WEEKS: Final = 4.0
MIDWAY_MINUTES: Final = 30
MIDWAY_STEP: Final = 15
HOUR_COUNTS: Final = 0.1
NEAR_END_SHARE: Final = 0.15
COLD_C: Final = 10.0
RECOAT_DAYS: Final = 2.0


@dataclass(frozen=True, slots=True)
class Evening:
    """What there is tonight.

    Parameters
    ----------
    minutes : at the vehicle [min]
    helper : a second person is there
    without : tools that are not at hand, lent out for instance
    wet : it rains, or everything is wet; warmth_c : how warm it is where the work is done [°C]; None: warm enough
    loud_minutes : minutes from the start until it must be quiet [min]; None: no limit
    """

    minutes: float
    helper: bool = False
    without: frozenset[str] = frozenset()
    wet: bool = False
    warmth_c: float | None = None
    loud_minutes: float | None = None


class LeftOut(NamedTuple):
    """A ready job that does not suit the evening, and what it would take, in words."""

    job: str
    wants: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EveningChoice:
    """The best set of jobs for an evening.

    Parameters
    ----------
    picked : in the order to do them; left_out : ready, but not for this evening
    cannot : by job that waits for nothing, yet can't be as it is entered, why
    ready : everything that can go on today; minutes : that the picked jobs take [min]
    stakes : by job, what a week's delay of it costs, home currency
    waits : by job, how many things it waits for
    hurried : by job that must begin within two days to take what went before, the days left, and the hours it takes
        more if it does not
    near_end : little is left, so that what gets finished counts more
    """

    picked: tuple[Picked, ...]
    left_out: tuple[LeftOut, ...]
    cannot: Mapping[str, str]
    ready: Mapping[str, ReadyJob]
    minutes: float
    stakes: Mapping[str, float]
    waits: Mapping[str, int]
    hurried: Mapping[str, tuple[float, float]]
    near_end: bool
    assumptions: tuple[Assumption, ...]

    def opened(self, picked: Picked) -> tuple[str, ...]:
        """Jobs that wait for nothing any more once a picked job is done, and those picked before it."""
        before = self.picked[: self.picked.index(picked) + 1]
        finished = [item.job for item in before if not item.step.midway and not item.step.goal]
        if picked.job not in finished:
            return ()
        gone = [after for job in finished for after in self.ready[job].unlocks]
        return tuple(after for after in self.ready[picked.job].unlocks if gone.count(after) >= self.waits[after])


def network_today(build: Build, facts: Facts) -> WorkNetwork:
    """The network of what is left, by likely hours and the owner's mean week."""
    per_week = sum(weekly_hours(build.owner, facts.as_of, 52)) / 52 or 1.0
    weeks = {
        id_: expected_hours_left(job, facts) / per_week + mean_shop_weeks(build, job, Spreads())
        for id_, job in wanted_jobs(build, facts).items()
    }
    return work_network(build, facts, weeks)


def choose_evening(
    build: Build,
    facts: Facts,
    evening: Evening,
    gates: Gates,
    waiting: Mapping[str, float],
    network: WorkNetwork | None = None,
    cannot: Mapping[str, str] = MappingProxyType({}),
) -> EveningChoice:
    """The set of ready jobs worth most within an evening.

    A job is worth its stake, by the share of its hours left that is done, and if it comes to its end the stakes of the
    jobs that wait for it, each divided by the number of things it still waits for. A stake is the cost of putting the
    job off a week by the plan, or the cost of a week's delay halved for every four weeks it can slip, whichever is
    more. Every hour worked counts a tenth of an own hour besides; setting up again later is taken off, and
    work that beginning too late would add is counted where that is within two days.

    Parameters
    ----------
    gates : moments of what is outside, for what is ready; waiting : by job, cost of putting it off a week by the plan,
        home currency
    network : from `network_today`, where it is there already
    cannot : by job that can't be as it is entered, why; none of them is picked
    """
    network = network or network_today(build, facts)
    waiting_for_nothing = {item.job: item for item in ready_jobs(build, facts, network, gates)}
    ready = {id_: item for id_, item in waiting_for_nothing.items() if id_ not in cannot}
    held = {id_: cannot[id_] for id_ in waiting_for_nothing if id_ in cannot}
    stakes = _stakes(build, network, waiting)
    near_end = _near_end(facts, network)
    counts = _waits(build, facts, network, gates)
    hurried = _hurried(network)
    worth = _Worth(build, facts, stakes, counts, hurried, near_end)
    candidates, left_out = [], []
    for id_, item in ready.items():
        job: Job = network.jobs[id_]
        wants = tuple(wanting(job, evening))
        if wants:
            left_out.append(LeftOut(id_, wants))
        else:
            steps = tuple(worth.steps(job, item, evening.minutes))
            candidates.append(Candidate(id_, steps, is_loud(job)))
    picked = best_evening(candidates, evening.minutes, evening.loud_minutes)
    minutes = sum(item.step.minutes for item in picked)
    said = tuple(_assumed(build, picked, left_out, near_end))
    return EveningChoice(picked, tuple(left_out), held, ready, minutes, stakes, counts, hurried, near_end, said)


def _stakes(build: Build, network: WorkNetwork, waiting: Mapping[str, float]) -> dict[str, float]:
    delay = week_delay_cost(build.owner)
    return {
        id_: max(waiting.get(id_, 0.0), delay * 0.5 ** (max(0.0, network.path.slack[id_]) / HALVING_WEEKS))
        for id_ in network.jobs
    }


def _hurried(network: WorkNetwork) -> dict[str, tuple[float, float]]:
    """By job whose time to begin runs out within two days, the days left and the hours that being late adds."""
    return {
        job: min(window for window in windows if 0 <= window[0] <= RECOAT_DAYS)
        for job, windows in network.recoats_past.items()
        if any(0 <= days <= RECOAT_DAYS for days, _ in windows)
    }


def _near_end(facts: Facts, network: WorkNetwork) -> bool:
    left = sum(_hours_left(job, facts) for job in network.jobs.values())
    worked = sum(state.hours_worked for state in facts.jobs.values())
    return 0 < left <= NEAR_END_SHARE * (left + worked)


def _waits(build: Build, facts: Facts, network: WorkNetwork, gates: Gates) -> dict[str, int]:
    """By job, how many things it waits for: jobs before it, directly or through a gate, and what is closed outside."""
    passes = gate_check(build, facts, gates)
    counts = dict.fromkeys(network.jobs, 0)
    for later in unlocked(network).values():
        for after in later:
            counts[after] += 1
    for piece in network.pieces:
        if piece.job is not None and not piece.number:
            counts[piece.node] += sum(not passes(key) for key in piece.gates)
    return counts


def _hours_left(job: Job, facts: Facts) -> float:
    state = facts.jobs.get(job.id)
    if state is not None and state.hours_left is not None:
        return state.hours_left
    return job.hours.likely * (1 - share_done(job, facts))


@dataclass(frozen=True, slots=True)
class _Worth:
    """What taking a job so far is worth."""

    build: Build
    facts: Facts
    stakes: Mapping[str, float]
    waits: Mapping[str, int]
    hurried: Mapping[str, tuple[float, float]]
    near_end: bool

    def steps(self, job: Job, ready: ReadyJob, minutes: float) -> Iterator[Step]:
        """How far a job could be taken within the minutes: to its end, to stop points before it, or midway."""
        total = _hours_left(job, self.facts)
        setting_up = job.setting_up_minutes if self._has_begun(job) else 0.0
        room = (minutes - setting_up) / 60
        goals = dict(self._stops(job, ready, total))
        goals[ready.hours_left] = ready.until
        for hours, goal in sorted(goals.items()):
            if hours <= room + 1e-9:
                yield self._step(job, ready, hours, total, setting_up, goal)
        span = MIDWAY_MINUTES / 60
        while span <= room + 1e-9 and span < ready.hours_left - 1e-9:
            if not any(abs(span - hours) < 1e-9 for hours in goals):
                yield self._step(job, ready, span, total, setting_up, None)
            span += MIDWAY_STEP / 60

    def _has_begun(self, job: Job) -> bool:
        state = self.facts.jobs.get(job.id)
        return state is not None and state.hours_worked > 0

    def _stops(self, job: Job, ready: ReadyJob, total: float) -> Iterator[tuple[float, str]]:
        """Stop points on the way, by hours from now."""
        done = share_done(job, self.facts)
        for stop in job.stop_points:
            hours = total * (stop.share - done) / (1 - done) if done < 1 else 0.0
            if stop.name and 1e-9 < hours < ready.hours_left - 1e-9:
                yield hours, stop.name

    def _step(
        self, job: Job, ready: ReadyJob, hours: float, total: float, setting_up: float, goal: str | None
    ) -> Step:  # fmt: skip
        owner_hour = hour_worth(self.build.owner)
        share = min(1.0, hours / total) if total > 0 else 1.0
        worth = self.stakes[job.id] * share + HOUR_COUNTS * owner_hour * hours
        worth += owner_hour * self.hurried.get(job.id, (0.0, 0.0))[1]
        if goal == "":
            worth += sum(self.stakes[id_] / max(1, self.waits[id_]) for id_ in ready.unlocks)
            worth += owner_hour if self.near_end else 0.0
        elif goal is None:
            worth -= owner_hour * job.setting_up_minutes / 60
        return Step(hours * 60 + setting_up, worth, goal is None, goal or "", hours)


def is_loud(job: Job) -> bool:
    """Whether a job can be heard next door: as said, or if it welds."""
    return "welding" in job.hazards if job.loud is None else job.loud


def least_warmth(job: Job) -> float | None:
    """The warmth a job needs [°C]: as said, or ten if it paints; None if any will do."""
    return COLD_C if job.least_c is None and "paint" in job.hazards and job.workshop is None else job.least_c


def needs_dry(job: Job) -> bool:
    """Whether a job needs a dry evening: as said, or if it paints."""
    return "paint" in job.hazards and job.workshop is None if job.dry is None else job.dry


def wanting(job: Job, evening: Evening) -> Iterator[str]:
    """What a job takes that the evening does not give, in words."""
    if job.second_person and not evening.helper:
        yield "a second person"
    yield from (tool if tool.endswith("s") else f"the {tool}" for tool in job.tools if tool in evening.without)
    if needs_dry(job) and evening.wet:
        yield "a dry evening"
    warmth = least_warmth(job)
    if warmth is not None and evening.warmth_c is not None and evening.warmth_c < warmth:
        yield f"{warmth:g} °C or more"
    if is_loud(job) and evening.loud_minutes is not None and evening.loud_minutes <= 0:
        yield "an hour when it may be loud"


def _assumed(
    build: Build, picked: Sequence[Picked], left_out: Sequence[LeftOut], near_end: bool
) -> Iterator[Assumption]:
    if near_end:
        text = "little is left, so a job that gets finished counts one own hour more (own estimate)"
        yield Assumption("near-end", "build", text)
    ids = [*(item.job for item in picked), *(item.job for item in left_out)]
    shown: list[Job] = [build.find("jobs", id_) for id_ in ids]
    noisy = [job.name for job in shown if job.loud is None and is_loud(job)]
    if noisy:
        yield Assumption("loud-default", "build", f"welding is taken as loud (common practice): {', '.join(noisy)}")
    painted = [job.name for job in shown if job.dry is None and needs_dry(job)]
    if painted:
        text = f"paint is taken to need a dry evening of {COLD_C:g} °C or more (common practice): {', '.join(painted)}"
        yield Assumption("paint-weather-default", "build", text)
