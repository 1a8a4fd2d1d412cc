"""What a change is said to loosen, against the facts, the fit and the waiting jobs worked out anew by brute force.

Small builds are drawn, every way to change each of their nouns is tried, and everything is computed again from nothing.
What then really differs must be in the report, and little else may be.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from functools import cache
from random import Random
from typing import Any

import pytest

from fishplate.build import Build, Facts, Refused, build_from_data, check_build, facts_of
from fishplate.fit import FitReport, assess
from fishplate.fit.readings import dimension_states
from fishplate.impact import KINDS, ImpactReport, Tweak, impact_of_change, tweaked

AS_OF = date(2026, 3, 2)
SEEDS = range(5)


def euro(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


@cache
def small_build(seed: int) -> Build:
    """A build in which everything rests on something."""
    draw = Random(seed)

    def some(prefix: str, count: int, most: int) -> list[str]:
        return [f"{prefix}{n}" for n in sorted(draw.sample(range(count), draw.randint(0, most)))]

    def day(least: int, most: int) -> str:
        return (AS_OF + timedelta(days=draw.randint(least, most))).isoformat()

    decisions = [
        {
            "id": f"d{n}", "name": f"Decision {n}", "options": [
                {"id": f"d{n}-a", "name": "A", "parts": [f"p{n}"], "jobs": some("j", 7, 1)},
                {"id": f"d{n}-b", "name": "B", "parts": [f"p{n + 3}"], "conditions": some("c", 5, 1)},
            ],
            **({"chosen": f"d{n}-a", "chosen_on": day(-30, -5)} if draw.random() < 0.6 else {}),
        }
        for n in range(3)
    ]  # fmt: skip
    lines = [{"offer": f"o{n}", "quantity": 1, "price": euro(50)} for n in range(3)]
    events: list[dict[str, Any]] = [
        {"kind": "ordered", "id": f"e{n}", "day": day(-25, -3), "supplier": f"s{n % 2}", "lines": [lines[n]],
         "promised": day(3, 30)} for n in range(3)
    ] + [
        {"kind": "worked", "id": f"w{n}", "day": day(-20, -1), "job": f"j{n}", "hours": 2, "done": draw.random() < 0.5}
        for n in range(2)
    ]  # fmt: skip
    if draw.random() < 0.7:
        receipt = {"kind": "arrived", "id": "a0", "day": day(-2, 0), "order": "e0", "lines": [{"part": "p0"}]}
        events.append(receipt)
    jobs = [
        {
            "id": f"j{n}", "name": f"Job {n}", "phase": "structure",
            "hours": {"low": 2, "likely": draw.randint(3, 9), "high": 12},
            "after": [{"job": f"j{m}"} for m in range(n) if draw.random() < 0.3],
            "to_keep": some("p", 7, 2), "decisions": some("d", 3, 1), "interfaces": some("i", 4, 1),
            "changes": some("t", 2, 1), **({"workshop": "shop"} if n == 5 else {}),
        }
        for n in range(7)
    ]  # fmt: skip
    return build_from_data({
        "suppliers": [{"id": f"s{n}", "name": f"Seller {n}", "country": "NL", "currency": "EUR"} for n in range(2)],
        "parts": [{"id": f"p{n}", "name": f"Part {n}", "quantity": draw.randint(1, 2)} for n in range(7)],
        "offers": [
            {"id": f"o{n}", "supplier": f"s{n % 2}", "part": f"p{n}", "price": euro(50 + n),
             "lead_weeks": {"low": 1, "likely": 2, "high": 4}} for n in range(6)
        ],
        "workshops": [{"id": "shop", "name": "Shop"}],
        "states": [{"id": f"t{n}", "name": f"State {n}"} for n in range(2)],
        "interfaces": [{"id": f"i{n}", "name": f"Place {n}", "parts": some("p", 7, 2)} for n in range(4)],
        "dimensions": [
            {"id": f"x{n}", "name": f"Length {n}", **({"part": f"p{n}"} if draw.random() < 0.4 else {})}
            for n in range(6)
        ],
        "readings": [
            {"id": f"r{n}", "dimension": f"x{n}", "value": draw.randint(90, 110), "spread": 6, "day": day(-20, -2),
             **({"against": f"t{n % 2}"} if draw.random() < 0.6 else {})}
            for n in range(6) if draw.random() < 0.9
        ],
        "conditions": [
            {"id": f"c{n}", "interface": f"i{n % 4}", "name": f"Gap {n}", "expression": f"x{n} - x{n + 1}",
             "at_least": "-5 mm"} for n in range(5)
        ],
        "decisions": decisions, "jobs": jobs, "events": events,
        "releases": [{"id": "h0", "part": "p1", "interfaces": some("i", 4, 2), "dimensions": some("x", 6, 1)}],
    })  # fmt: skip


def tweaks(build: Build) -> list[Tweak]:
    """Every change that can be tried on a build."""
    values = {
        "replace": ["Another"], "quantity": ["1", "3"], "price": ["99"], "delay": ["2026-05-01"], "job-hours": ["11"],
        "collection": ["2026-05-01"], "reading": ["70", "130"], "hours": ["4"], "cash": ["100"], "job-after": ["j0"],
        "more-work": ["Another job 7"], "more-parts": ["Another part"], "limit": ["at least 3 mm", "at most 80 mm"],
        "set-aside": ["60"], "week-cost": ["75"],
    }  # fmt: skip
    found = []
    for kind, how in KINDS.items():
        things = [""] if how.list_name == "owner" else list(build.index[how.list_name])
        for thing in things:
            options = [item.id for item in build.find("decisions", thing).options] if kind == "choose" else [""]
            found += [Tweak(kind, thing, value) for value in values.get(kind, options)]
    return found


@cache
def otherwise(seed: int) -> list[tuple[Tweak, Build]]:
    """The builds that come of every change that is allowed."""
    build, found = small_build(seed), []
    for tweak in tweaks(build):
        try:
            changed = tweaked(build, tweak, AS_OF)
        except Refused:
            continue
        if changed != build and not list(check_build(changed)):
            found.append((tweak, changed))
    return found


@cache
def judged(seed: int, at: int) -> FitReport:
    build = small_build(seed) if at < 0 else otherwise(seed)[at][1]
    return assess(build, facts_of(build, AS_OF), samples=1000)


def verdicts_of(report: FitReport) -> dict[str, tuple[str, float | None]]:
    return {item.interface: (item.verdict.value, item.chance) for item in report.interfaces}


def interfaces_that_differ(before: FitReport, after: FitReport) -> set[str]:
    first, second = verdicts_of(before), verdicts_of(after)

    def same(id_: str) -> bool:
        if id_ not in first or id_ not in second:
            return False
        (was, odds), (now, then) = first[id_], second[id_]
        close = odds == then or (odds is not None and then is not None and abs(odds - then) < 0.04)
        return was == now and close

    return {id_ for id_ in {*first, *second} if not same(id_)}


def earliest(build: Build, facts: Facts) -> dict[str, float]:
    """Earliest start of each open job [weeks], with any number of hands; what is missing is ordered today."""
    arrives: dict[str, float] = {}
    for part in facts.wanted_parts:
        moments = [((it.promised or AS_OF) - AS_OF).days / 7 for it in facts.incoming if it.part == part]
        leads = [2.0 for offer in build.offers if offer.part == part and (offer.available_until or AS_OF) >= AS_OF]
        moments += [min(leads, default=99.0)] if facts.missing(build, part) > 0 else []
        arrives[part] = max(moments, default=0.0)
    found: dict[str, float] = {}
    # jobs of the small builds come after ones of a lower number, or after what a change put before them
    for _ in build.jobs:
        for job in build.jobs:
            if job.id not in facts.wanted_jobs or facts.is_done(job.id):
                continue
            open_first = [
                link.job for link in job.after if link.job in facts.wanted_jobs and not facts.is_done(link.job)
            ]
            ends = [found.get(id_, 0.0) + _weeks(build, facts, id_) for id_ in open_first]
            gates = [arrives[part] for part in job.to_keep if part in arrives]
            gates += [1.0 for id_ in job.decisions if not facts.choices[id_].decided]
            found[job.id] = max([0.0, *ends, *gates])
    return found


def _weeks(build: Build, facts: Facts, id_: str) -> float:
    job, state = build.find("jobs", id_), facts.jobs.get(id_)
    hours = job.hours.likely - (state.hours_worked if state else 0.0)
    return max(0.0, hours) / 8 + (6.0 if job.workshop else 0.0)


def reported(seed: int, changed: Build) -> ImpactReport:
    return impact_of_change(small_build(seed), changed, AS_OF, rates={})


@pytest.mark.parametrize("seed", SEEDS)
def test_no_verdict_or_dimension_that_really_goes_is_missed(seed: int) -> None:
    build = small_build(seed)
    was = facts_of(build, AS_OF)
    names = sorted(build.index["dimensions"])
    states, _ = dimension_states(build, was, names)
    for at, (tweak, changed) in enumerate(otherwise(seed)):
        report, now = reported(seed, changed), facts_of(changed, AS_OF)
        differ = interfaces_that_differ(judged(seed, -1), judged(seed, at))
        assert differ <= set(report.interfaces), tweak
        then, _ = dimension_states(changed, now, names)
        stale = {name for name in then if then[name].stale and not states[name].stale}
        assert stale <= set(report.stale), tweak
        gone = {id_ for id_, it in was.choices.items() if it.decided and not now.choices[id_].decided}
        assert gone <= set(report.decisions), tweak


@pytest.mark.parametrize("seed", SEEDS)
def test_no_part_that_is_really_over_or_short_is_missed_nor_another_named(seed: int) -> None:
    build = small_build(seed)
    was = facts_of(build, AS_OF)
    for tweak, changed in otherwise(seed):
        report, now = reported(seed, changed), facts_of(changed, AS_OF)
        short: dict[str, float] = {}
        over: Counter[str] = Counter()
        for part in changed.index["parts"]:
            short_was, over_was = _balance(build, was, part)
            short_now, over_now = _balance(changed, now, part)
            if short_now > short_was:
                short[part] = short_now - short_was
            if over_now > over_was:
                over[part] = over_now - over_was
        assert {item.part: item.quantity for item in report.to_buy} == short, tweak
        fates = Counter[str]()
        for fate in report.parts:
            if fate.certain and fate.fate != "not ordered":
                fates[fate.part] += fate.quantity
        assert fates == over, tweak


def _balance(build: Build, facts: Facts, part: str) -> tuple[float, float]:
    if part not in build.index["parts"]:
        return 0.0, 0.0
    need = build.find("parts", part).quantity if part in facts.wanted_parts else 0.0
    have = facts.owned.get(part, 0.0) + sum(it.quantity for it in facts.incoming if it.part == part)
    return max(0.0, need - have), max(0.0, have - need)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_job_that_really_starts_on_another_day_is_missed(seed: int) -> None:
    build = small_build(seed)
    was = facts_of(build, AS_OF)
    before = earliest(build, was)
    for tweak, changed in otherwise(seed):
        report, now = reported(seed, changed), facts_of(changed, AS_OF)
        after = earliest(changed, now)
        moved = {id_ for id_ in {*before, *after} if before.get(id_) != after.get(id_)}
        assert moved <= set(report.waiting), tweak
        if sum(_weeks(build, was, id_) for id_ in before) != sum(_weeks(changed, now, id_) for id_ in after):
            assert report.whole, tweak


# Of what is named, the share that differs once the change is made: the rest could, by another value or another day.
LEAST_VERDICTS, LEAST_JOBS = 0.7, 0.3


def test_little_is_named_that_does_not_differ_after_the_change() -> None:
    verdicts, jobs = Counter[bool](), Counter[bool]()
    for seed in SEEDS:
        build = small_build(seed)
        before = earliest(build, facts_of(build, AS_OF))
        for at, (tweak, changed) in enumerate(otherwise(seed)):
            report = reported(seed, changed)
            if tweak.kind in {"reading", "state"}:
                differ = interfaces_that_differ(judged(seed, -1), judged(seed, at))
                verdicts.update(id_ in differ for id_ in report.interfaces)
            if tweak.kind in {"delay", "job-after", "job-hours", "cancel", "workshop"}:
                after = earliest(changed, facts_of(changed, AS_OF))
                jobs.update(before.get(id_) != after.get(id_) for id_ in report.waiting)
    assert verdicts[True] / verdicts.total() >= LEAST_VERDICTS
    assert jobs[True] / jobs.total() >= LEAST_JOBS


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_named_rests_on_what_was_changed(seed: int) -> None:
    """A reading can only bear on interfaces whose conditions name its dimension."""
    build = small_build(seed)
    for tweak, changed in otherwise(seed):
        if tweak.kind == "reading":
            named = {it.interface for it in build.conditions if tweak.thing in it.names}
            assert set(reported(seed, changed).interfaces) <= named, tweak
            assert not reported(seed, changed).to_buy
