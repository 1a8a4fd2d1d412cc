"""The work engine against an independent simulation, closed forms and counting by hand."""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Generator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
import simpy
from scipy import integrate

from fishplate.build import Build, Facts, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.calendar import hours_on
from fishplate.build.commerce import Workshop
from fishplate.build.interfaces import Interface
from fishplate.build.jobs import Allowance, Gate, Job, Link, StopPoint
from fishplate.build.owner import DaysOff, Helper, Owner, SeasonHours
from fishplate.build.parts import Part, Phase
from fishplate.work import Gates, Simulator, Spreads

AS_OF = date(2026, 9, 17)
HORIZON = 400
NO_SPREAD = Spreads(
    pace_log_sd=0, craft_median=1, craft_log_sd=0, discovery_before_percent=0, discovery_after_percent=0
)


def random_build(seed: int, *, rich: bool = False) -> tuple[Build, Gates]:
    """A small network with many kinds of constraint, and gates for it; rich: also what adds hours or takes a place."""
    build, gates = plain_network(seed)
    return enriched(build, gates, random.Random(seed)) if rich else (build, gates)


def enriched(build: Build, gates: Gates, r: random.Random) -> tuple[Build, Gates]:
    """Recoat windows, rests, help on some days, bay and lift, verifying that may fail, working days, holidays."""
    jobs = []
    for job in build.jobs:
        links = tuple(
            link.model_copy(
                update={
                    "within_days": r.choice([None, link.lag_days + r.choice([0, 6, 30])]),
                    "redo_hours": r.choice([0, 2, 5]),
                }
            )
            for link in job.after
        )
        new = {
            "after": links,
            "setting_up_minutes": r.choice([0, 0, 40]),
            "second_person": r.random() < 0.3,
            "bay": r.random() < 0.5,
            "lift": r.random() < 0.2,
            "settles": (f"i-{job.id}",) if r.random() < 0.4 else (),
            "rework": r.choice([None, ThreePoint(low=1, likely=5, high=12)]),
        }
        jobs.append(job.model_copy(update=new))
    helpers = r.choice([(), (Helper(weekdays=(3, 6)),), (Helper(weekdays=(7,)), Helper(weekdays=(2,)))])
    owner = build.owner.model_copy(
        update={
            "weekdays": r.choice([(), (2, 3, 6, 7)]),
            "works_on_holidays": r.random() < 0.5,
            "helpers": helpers,
            "bays": r.choice([1, 1, 2]),
        }
    )
    interfaces = tuple(Interface(id=f"i-{job.id}", name=job.id) for job in jobs)
    richer = build.model_copy(update={"jobs": tuple(jobs), "owner": owner, "interfaces": interfaces})
    chances = {interface.id: r.choice([0.0, 0.4, 1.0]) for interface in interfaces}
    return Build.model_validate(richer.model_dump()), replace(gates, misfits=chances)


def plain_network(seed: int) -> tuple[Build, Gates]:
    """Links, parts, stop points, cures, months, work sent out, a gate."""
    r = random.Random(seed)
    count = r.randint(4, 12)
    parts, jobs, gates = [], [], []
    for k in range(count):
        befores = sorted(r.sample(range(k), min(k, r.choice([0, 1, 1, 2]))))
        links = tuple(
            Link(
                job=f"j{b:02d}",
                kind="start-start" if r.random() < 0.25 else "finish-start",
                lag_days=r.choice([0, 0, 0, 3.5, 20]),
            )
            for b in befores
        )
        mine = [f"p{k}-{n}" for n in range(r.choice([0, 0, 1, 2]))]
        parts += [Part(id=id_, name=id_) for id_ in mine]
        likely = r.choice([0.0, *(r.uniform(3, 40) for _ in range(5))])
        stops = (StopPoint(share=r.choice([0.3, 0.7, 1.0]), without=(mine[-1],)),) if mine and r.random() < 0.6 else ()
        jobs.append(
            Job(
                id=f"j{k:02d}",
                name=f"Job {k}",
                phase=Phase.ASSEMBLY,
                hours=ThreePoint(low=0.5 * likely, likely=likely, high=2 * likely),
                after=links,
                to_keep=tuple(mine),
                stop_points=stops,
                cure_days=r.choice([0, 0, 0, 5.25]),
                months=r.choice([(), (), (), (4, 5, 6), (7, 8, 9, 10)]),
                workshop="shop" if r.random() < 0.2 else None,
            )
        )
    if count > 5:
        gates.append(Gate(id="look", name="Look", kind="re-plan", after=("j00", "j01"), before=(f"j{count - 1:02d}",)))
    owner = Owner(
        hours_per_week=r.choice([4, 9]),
        seasons=(SeasonHours(months=(12, 1), hours=r.choice([0, 2])),),
        days_off=(DaysOff(first=date(2026, 10, 3), last=date(2026, 10, 19)),),
    )
    shop = Workshop(
        id="shop",
        name="Shop",
        queue_weeks=ThreePoint(low=1, likely=2, high=6),
        work_weeks=ThreePoint(low=1, likely=2, high=3),
    )
    build = Build(owner=owner, parts=tuple(parts), jobs=tuple(jobs), gates=tuple(gates), workshops=(shop,))
    return build, Gates(
        parts={part.id: r.choice([0.0, r.uniform(0, 60)]) for part in parts}, jobs={"j01": r.uniform(0, 9)}
    )


class Shed:
    """One run of the same rules, written as processes; time in days."""

    def __init__(self, build: Build, gates: Gates, simulator: Simulator, slack: dict[str, float], run: int) -> None:
        self.build, self.gates, self.slack = build, gates, slack
        self.pace = float(simulator.pace[run])
        self.rework = dict.fromkeys(simulator.hours, 0.0)
        for interface, job in simulator.rework.interfaces.items():
            if simulator.rework.luck[interface][run] < gates.misfits.get(interface, 0.0):
                self.rework[job] += float(simulator.rework.hours[interface][run])
        self.hurried = {job.id for job in build.jobs if any(link.within_days is not None for link in job.after)}
        if build.owner.helpers:
            self.hurried |= {job.id for job in build.jobs if job.second_person}
        self.taken: dict[str, list[float]] = {"bay": [0.0] * build.owner.bays, "lift": [0.0] * build.owner.lifts}
        self.worked_last: tuple[str, int] | None = None
        self.free = 0.0
        self.recoated = {job.id for job in build.jobs if any(link.within_days is not None for link in job.after)}
        self.hours = {job: float(values[run]) for job, values in simulator.hours.items()}
        self.shop = {job: 7 * float(values[run]) for job, values in simulator.shop_weeks.items()}
        self.env = simpy.Environment()
        self.alarm = self.env.event()
        self.began: dict[str, simpy.Event] = {}
        self.cured: dict[str, simpy.Event] = {}
        self.waiting: dict[tuple[bool, float, str, int], dict[str, Any]] = {}
        self.start: dict[str, float] = {}
        self.end: dict[str, float] = {}
        self.finish = 0.0
        for node in [*(job.id for job in build.jobs), *(gate.id for gate in build.gates)]:
            self.began[node], self.cured[node] = self.env.event(), self.env.event()
        for job in build.jobs:
            self.env.process(self.job(job))
        for gate in build.gates:
            self.env.process(self.gate(gate))
        self.env.process(self.owner())
        self.env.run(until=7 * HORIZON)
        if len(self.end) < len(build.jobs):
            self.finish = math.inf

    def owner_hours(self, day: int) -> float:
        return hours_on(self.build.owner, AS_OF + timedelta(days=day))

    def until(self, moment: float) -> simpy.Event:
        return self.env.timeout(max(0.0, min(moment, 1e6) - self.env.now))

    def job(self, job: Job) -> Generator[simpy.Event, Any, None]:
        links = [(link.job, link.kind, link.lag_days) for link in job.after]
        links += [(gate.id, "finish-start", 0.0) for gate in self.build.gates if job.id in gate.before]
        for before, kind, lag in links:
            moment = yield (self.began if kind == "start-start" else self.cured)[before]
            yield self.until(moment + lag)
        yield self.until(7 * self.gates.jobs.get(job.id, 0.0))
        stops = {part: stop.share for stop in job.stop_points for part in stop.without}
        cuts = sorted({0.0, *(stops.get(part, 0.0) for part in job.to_keep)})
        for number, cut in enumerate(cuts):
            for part in job.to_keep:
                if stops.get(part, 0.0) == cut:
                    yield self.until(7 * self.gates.parts.get(part, 0.0))
            last = number + 1 == len(cuts)
            share = (1.0 if last else cuts[number + 1]) - cut
            rework = self.rework[job.id] if last else 0.0
            verifies = last and any(interface in self.gates.misfits for interface in job.settles)
            by_hand = share * self.hours[job.id] > 0 or job.bay or job.lift or job.id in self.recoated or verifies
            yield from self.work(job, number, share * self.hours[job.id] + rework, last=last, by_hand=by_hand)
        yield self.env.timeout(self.shop.get(job.id, 0.0))
        self.end[job.id] = self.env.now
        yield self.env.timeout(job.cure_days)
        self.finish = max(self.finish, self.env.now)
        self.cured[job.id].succeed(self.env.now)

    def is_open(self, job: Job, day: int) -> bool:
        """Whether a job can be worked on a day, by its months and the days a second person comes."""
        date_ = AS_OF + timedelta(days=day)
        days = {weekday for helper in self.build.owner.helpers for weekday in helper.weekdays}
        alone = job.second_person and self.build.owner.helpers and date_.isoweekday() not in days
        return not alone and (not job.months or date_.month in job.months)

    def open_from(self, job: Job, moment: float) -> float:
        day = int(moment)
        while not self.is_open(job, day) and day < 7 * HORIZON:
            day += 1
        return max(moment, float(day))

    def see_to_urgent(self) -> None:
        """When each urgent job that could not be begun now will be thought of again."""
        for item in (item for key, item in self.waiting.items() if not key[0] and item["due"] <= self.env.now):
            places = [min(self.taken[place]) for place in ("bay", "lift") if getattr(item["job"], place)]
            item["due"] = self.open_from(item["job"], max([self.env.now, *places]))

    def pause(self, until: float) -> Generator[simpy.Event, Any, bool]:
        """Let time go by to a moment, or until something urgent may be worked: then True."""
        while True:
            due = min((item["due"] for key, item in self.waiting.items() if not key[0]), default=math.inf)
            if due <= self.env.now or self.env.now >= until:
                return due <= self.env.now and self.env.now < until
            self.alarm = self.env.event()
            yield self.env.any_of([self.until(min(until, due)), self.alarm])

    def has_room(self, job: Job) -> bool:
        return all(min(self.taken[place]) <= self.env.now for place in ("bay", "lift") if getattr(job, place))

    def hours_since(self, moment: float) -> float:
        first, last = int(moment), int(self.env.now)
        whole = sum(self.owner_hours(day) for day in range(first, last))
        return whole + (self.env.now - last) * self.owner_hours(last) - (moment - first) * self.owner_hours(first)

    def more_hours(self, job: Job, number: int) -> float:
        """Setting up after a rest, and the redo of what was to begin sooner."""
        went_on = self.worked_last == (job.id, number - 1) and self.hours_since(self.free) <= 1e-9
        hours = job.setting_up_minutes / 60 if number and not went_on else 0.0
        for link in job.after if number == 0 else ():
            since = (self.start if link.kind == "start-start" else self.end)[link.job]
            if link.within_days is not None and self.env.now > since + link.within_days + 1e-9:
                hours += link.redo_hours * self.pace
        return hours

    def work(
        self, job: Job, number: int, hours: float, *, last: bool, by_hand: bool
    ) -> Generator[simpy.Event, Any, None]:
        if not by_hand:
            while not self.is_open(job, int(self.env.now)):
                yield self.until(int(self.env.now) + 1)
            self.note_start(job.id)
            return
        done = self.env.event()
        key = (job.id not in self.hurried, round(self.slack[job.id], 9), job.id, number)
        item = {"job": job, "left": hours, "done": done, "new": True, "last": last}
        item["due"] = self.open_from(job, self.env.now)
        self.waiting[key] = item
        if not self.alarm.triggered:
            self.alarm.succeed()
        yield done

    def note_start(self, job: str) -> None:
        if job not in self.start:
            self.start[job] = self.env.now
            self.began[job].succeed(self.env.now)

    def gate(self, gate: Gate) -> Generator[simpy.Event, Any, None]:
        for before in gate.after:
            yield self.cured[before]
        self.finish = max(self.finish, self.env.now)
        self.began[gate.id].succeed(self.env.now)
        self.cured[gate.id].succeed(self.env.now)

    def owner(self) -> Generator[simpy.Event, Any, None]:
        while True:
            for _ in range(30):  # let everything of this moment happen first
                yield self.env.timeout(0)
            day = int(self.env.now)
            jobs = {key: item["job"] for key, item in self.waiting.items()}
            able = [key for key, job in jobs.items() if self.is_open(job, day) and self.has_room(job)]
            if self.owner_hours(day) == 0 or not able:
                # nothing to be done now: look again at the next event or the next day
                ahead = min(self.env.peek(), day + 1)
                yield self.until(ahead if ahead > self.env.now else day + 1)
                continue
            self.see_to_urgent()
            key = min(able)
            yield from self.stretch(key, self.waiting.pop(key))
            self.worked_last, self.free = (key[2], key[3]), self.env.now

    def stretch(self, key: tuple[bool, float, str, int], item: dict[str, Any]) -> Generator[simpy.Event, Any, None]:
        """Work until it is done, or the days on which it can be worked end."""
        job, worked = item["job"], 0.0
        if item["new"]:
            item["left"] += self.more_hours(job, key[3])
            item["new"] = False
        self.note_start(job.id)
        while True:
            day = int(self.env.now)
            if not self.is_open(job, day):
                item["left"] += min(job.setting_up_minutes / 60, 0.5 * worked)
                self.waiting[key] = item
                return
            begun, per_day = self.env.now, self.owner_hours(day)
            ends = item["left"] <= per_day * (day + 1 - begun)
            until = begun + (item["left"] / per_day if item["left"] else 0) if ends else day + 1
            if key[0]:
                interrupted = yield from self.pause(until)
            else:
                interrupted = False
                yield self.until(until)
            if ends and not interrupted:
                break
            item["left"] -= per_day * (self.env.now - begun)
            worked += per_day * (self.env.now - begun)
            if interrupted:
                item["left"] += min(job.setting_up_minutes / 60, 0.5 * worked)
                self.waiting[key] = item
                return
        for place in (place for place in ("bay", "lift") if getattr(job, place)):
            kept = job.cure_days if item["last"] and job.id not in self.shop else 0.0
            self.taken[place].remove(min(self.taken[place]))
            self.taken[place].append(self.env.now + kept)
        item["done"].succeed()


@pytest.mark.parametrize("seed", range(50))
def test_random_networks_agree_with_an_independent_simulation_run_by_run(seed: int) -> None:
    build, gates = random_build(seed, rich=seed >= 10)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=4, seed=seed, horizon_weeks=HORIZON)
    report = simulator.run(gates)
    slack = dict(report.slack_weeks)
    for run in range(4):
        shed = Shed(build, gates, simulator, slack, run)
        assert report.finish_weeks[run] == pytest.approx(shed.finish / 7, abs=1e-5)
        for job in report.starts:
            assert report.starts[job][run] == pytest.approx(shed.start.get(job, math.inf) / 7, abs=1e-4)
            # work sent out may come back after the horizon, where the processes are no longer followed
            end = report.ends[job][run] if report.ends[job][run] <= HORIZON else math.inf
            assert end == pytest.approx(shed.end.get(job, math.inf) / 7, abs=1e-4)


def changed_gates(gates: Gates, r: random.Random) -> Gates:
    """One part later or earlier, and sometimes another chance of misfit."""
    part = r.choice(sorted(gates.parts)) if gates.parts else ""
    moved = np.maximum(0.0, gates.parts.get(part, 0.0) + np.array([r.choice([0, 0, 1.5, 20, -30]) for _ in range(40)]))
    misfits = {**gates.misfits, "i-j02": 0.7} if r.random() < 0.3 else gates.misfits
    return replace(gates, parts={**gates.parts, **({part: moved} if part else {})}, misfits=misfits)


@pytest.mark.parametrize("seed", range(40))
def test_playing_only_what_a_change_touches_gives_what_playing_all_gives(seed: int) -> None:
    build, gates = random_build(seed, rich=True)
    kept = Simulator(build, facts_of(build, AS_OF), runs=40, seed=seed, horizon_weeks=HORIZON)
    kept.finish_weeks(gates)
    r = random.Random(seed)
    for _ in range(4):
        changed = changed_gates(gates, r)
        fresh = Simulator(build, facts_of(build, AS_OF), runs=40, seed=seed, horizon_weeks=HORIZON)
        fewer = r.choice([None, 25])
        assert np.array_equal(kept.finish_weeks(changed, runs=fewer), fresh.finish_weeks(changed, runs=fewer))
        assert kept.played_again <= 40
        ends = kept.ends(kept.jobs, changed, runs=fewer)
        for job, moments in fresh.run(changed).ends.items():
            assert np.array_equal(ends[job], moments[:fewer])
        if r.random() < 0.3:
            kept.stand_on(changed, runs=fewer)


def hours_by(facts: Facts, build: Build, week: float) -> float:
    whole = int(week * 7)
    days = sum(hours_on(build.owner, facts.as_of + timedelta(days=k)) for k in range(whole))
    return days + (week * 7 - whole) * hours_on(build.owner, facts.as_of + timedelta(days=whole))


@pytest.mark.parametrize("seed", range(30))
def test_stalled_hours_are_the_hours_had_until_the_finish_less_those_worked(seed: int) -> None:
    build, gates = random_build(100 + seed)
    facts = facts_of(build, AS_OF)
    simulator = Simulator(build, facts, runs=5, seed=seed, horizon_weeks=HORIZON)
    report = simulator.run(gates)
    had = sum(hours_by(facts, build, week) for week in report.finish_weeks)
    worked = sum(float(hours.sum()) for hours in simulator.hours.values())
    assert report.stalled_hours == pytest.approx((had - worked) / 5, abs=1e-3)
    for month in report.stalls:
        assert sum(cause.hours for cause in month.causes) == pytest.approx(month.hours, rel=1e-9)


@pytest.mark.parametrize("seed", range(15))
def test_stalled_hours_by_month_agree_with_counting_by_the_quarter_hour(seed: int) -> None:
    """Each day is cut into 96 steps; a step is stalled if it lies in no job's work and before the finish."""
    r = random.Random(seed)
    jobs = tuple(
        Job(
            id=f"j{k}",
            name=f"J{k}",
            phase=Phase.FINISH,
            hours=ThreePoint(low=h, likely=h, high=h),
            after=(Link(job=f"j{k - 1}", lag_days=r.choice([0, 4, 30])),) if k else (),
            to_try=(f"p{k}",),
        )
        for k, h in enumerate(r.uniform(4, 30) for _ in range(4))
    )
    parts = tuple(Part(id=f"p{k}", name=f"P{k}") for k in range(4))
    owner = Owner(hours_per_week=8, seasons=(SeasonHours(months=(11,), hours=0), SeasonHours(months=(12,), hours=3)))
    build = Build(owner=owner, jobs=jobs, parts=parts)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=1, spreads=NO_SPREAD)
    report = simulator.run(Gates(parts={part.id: r.uniform(0, 30) for part in parts}))
    busy = [(7 * report.starts[job.id][0], 7 * report.ends[job.id][0]) for job in jobs]
    counted: dict[str, float] = defaultdict(float)
    for step in range(math.ceil(7 * report.finish_weeks[0]) * 96):
        moment = (step + 0.5) / 96
        idle = moment < 7 * report.finish_weeks[0] and not any(begin <= moment < end for begin, end in busy)
        day = AS_OF + timedelta(days=int(moment))
        counted[day.strftime("%Y-%m")] += idle * hours_on(owner, day) / 96
    simulated = {month.month: month.hours for month in report.stalls}
    for name, hours in counted.items():
        assert simulated.get(name, 0.0) == pytest.approx(hours, abs=0.05)


def plain_build(count: int, *, series: bool, workshop: bool = False, points: tuple[float, float, float]) -> Build:
    low, likely, high = points
    nothing = ThreePoint(low=0, likely=0, high=0)
    jobs = tuple(
        Job(
            id=f"j{k}",
            name=f"J{k}",
            phase=Phase.ASSEMBLY,
            hours=nothing if workshop else ThreePoint(low=low, likely=likely, high=high),
            after=(Link(job=f"j{k - 1}"),) if series and k else (),
            workshop="shop" if workshop else None,
        )
        for k in range(count)
    )
    shop = Workshop(
        id="shop", name="Shop", queue_weeks=nothing, work_weeks=ThreePoint(low=low, likely=likely, high=high)
    )
    nothing_found = Allowance(id="none", kind="discovery", hours_percent=0)
    return Build(owner=Owner(hours_per_week=7), jobs=jobs, workshops=(shop,), allowances=(nothing_found,))


def test_jobs_in_series_take_the_sum_of_triangular_means_and_variances() -> None:
    build = plain_build(12, series=True, points=(4, 7, 19))
    finish = Simulator(build, facts_of(build, AS_OF), runs=20_000, spreads=NO_SPREAD).finish_weeks()
    mean, variance = 10.0, (16 + 49 + 361 - 28 - 76 - 133) / 18
    assert 7 * finish.mean() == pytest.approx(12 * mean, abs=3 * math.sqrt(12 * variance / 20_000))
    squares = (7 * finish - 12 * mean) ** 2
    assert squares.mean() == pytest.approx(12 * variance, abs=3 * squares.std() / math.sqrt(20_000))


def test_one_pair_of_hands_takes_as_long_for_jobs_side_by_side_as_in_series() -> None:
    series, side_by_side = (plain_build(6, series=flag, points=(2, 5, 9)) for flag in (True, False))
    first, second = (Simulator(b, facts_of(b, AS_OF), runs=500).finish_weeks() for b in (series, side_by_side))
    assert second == pytest.approx(first, rel=1e-5)


@pytest.mark.parametrize("count", [2, 3, 6])
def test_work_sent_out_side_by_side_takes_the_expected_latest_of_triangulars(count: int) -> None:
    """E[max] of n triangulars = high - integral of F^n."""
    low, likely, high = 2.0, 3.0, 9.0
    build = plain_build(count, series=False, workshop=True, points=(low, likely, high))
    finish = Simulator(build, facts_of(build, AS_OF), runs=20_000, spreads=NO_SPREAD).finish_weeks()

    def share_below(x: float) -> float:
        if x < likely:
            return (x - low) ** 2 / ((high - low) * (likely - low))
        return 1 - (high - x) ** 2 / ((high - low) * (high - likely))

    area, _ = integrate.quad(lambda x: share_below(x) ** count, low, high, points=[likely])
    assert finish.mean() == pytest.approx(high - area, abs=3 * finish.std() / math.sqrt(20_000))


def test_the_shared_pace_widens_the_finish_as_its_lognormal_says() -> None:
    """With certain hours the finish is the pace factor itself: mean exp(s^2 / 2), log standard deviation s."""
    build = plain_build(5, series=True, points=(10, 10, 10))
    spreads = Spreads(pace_log_sd=0.2)
    finish = Simulator(build, facts_of(build, AS_OF), runs=20_000, spreads=spreads).finish_weeks()
    assert 7 * finish.mean() / 50 == pytest.approx(math.exp(0.02), abs=3 * finish.std() * 7 / 50 / math.sqrt(20_000))
    assert np.log(finish).std() == pytest.approx(0.2, abs=3 * 0.2 / math.sqrt(2 * 20_000))


def test_discovery_has_the_stated_mean_and_is_shared_by_the_jobs_of_a_system() -> None:
    build = plain_build(2, series=True, points=(10, 10, 10)).model_copy(update={"allowances": ()})
    simulator = Simulator(build, facts_of(build, AS_OF), runs=20_000, spreads=Spreads(pace_log_sd=0))
    first, second = (simulator.hours[job] for job in ("j0", "j1"))
    assert np.array_equal(first, second)
    # 15 % after the strip, gamma of shape 2: standard deviation 15 % / sqrt 2
    assert first.mean() == pytest.approx(11.5, abs=3 * 1.5 / math.sqrt(2) / math.sqrt(20_000))
    assert first.std() == pytest.approx(1.5 / math.sqrt(2), rel=0.03)
