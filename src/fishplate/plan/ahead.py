"""What is going to happen by a plan, as it will be written down: orders, arrivals, work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta

import numpy as np

from ..build import Build, Facts, date_at, offer_contents
from ..build.events import Order, OrderLine, PartCount, Receipt, Work
from ..impact import Step
from ..work import Gates, Simulator, usual_gates
from .model import Plan, PlannedLine
from .steady import order_day

RUNS = 200


def steps_ahead(build: Build, facts: Facts, plan: Plan | None) -> tuple[Step, ...]:
    """Orders and arrivals as planned, and each open job done on its median day, in no particular order.

    Parameters
    ----------
    plan : of this build; None: nothing is ordered but what is on order
    """
    lines = [] if plan is None else [line for line in plan.purchase.lines if line.offer in build.index["offers"]]
    arrivals = {part: line.arrives_p50 for line in lines for part in _brings(build, line)}
    orders = [step for line in lines if plan is not None for step in _bought(build, facts, plan, line)]
    return (*orders, *_on_the_way(build, facts), *_worked(build, facts, arrivals))


def _brings(build: Build, line: PlannedLine) -> dict[str, float]:
    return offer_contents(build, build.find("offers", line.offer))


def _bought(build: Build, facts: Facts, plan: Plan, line: PlannedLine) -> Iterator[Step]:
    day = max(order_day(plan, line), facts.as_of + timedelta(days=1))
    offer = build.find("offers", line.offer)
    id_ = _fresh(build, f"ahead-{line.offer}")
    bought = OrderLine(offer=offer.id, quantity=line.units, price=offer.price)
    yield Step(day, f"{line.part} is ordered", (Order(id=id_, day=day, supplier=offer.supplier, lines=(bought,)),))
    if line.arrives_p50 is not None and line.arrives_p50 > day:
        counts = tuple(PartCount(part=part, quantity=n * line.units) for part, n in _brings(build, line).items())
        receipt = Receipt(id=f"{id_}-here"[:80], day=line.arrives_p50, order=id_, lines=counts)
        yield Step(line.arrives_p50, f"{line.part} comes", (receipt,))


def _on_the_way(build: Build, facts: Facts) -> Iterator[Step]:
    for number, item in enumerate(facts.incoming):
        if item.promised is not None and item.promised > facts.as_of:
            id_ = _fresh(build, f"ahead-{item.order}-{number}")
            lines = (PartCount(part=item.part, quantity=item.quantity),)
            receipt = Receipt(id=id_, day=item.promised, order=item.order, lines=lines)
            yield Step(item.promised, f"{build.find('parts', item.part).name} comes", (receipt,))


def _worked(build: Build, facts: Facts, arrivals: Mapping[str, date | None]) -> Iterator[Step]:
    """Each open job on the day it is begun, when what it takes for good ends the right to send that back."""
    gates, _ = usual_gates(build, facts, runs=RUNS)
    planned = {part: max(0.0, (day - facts.as_of).days / 7) for part, day in arrivals.items() if day is not None}
    report = Simulator(build, facts, runs=RUNS).run(Gates(parts={**gates.parts, **planned}, decisions=gates.decisions))
    for id_, starts in sorted(report.starts.items()):
        begun, done = (_median(moments, facts.as_of) for moments in (starts, report.ends[id_]))
        job = build.index["jobs"].get(id_)
        if job is None or begun is None or done is None:
            continue
        hours = job.hours.likely
        first = Work(id=_fresh(build, f"ahead-{id_}-begun"), day=begun, job=id_, hours=0.1, hours_left=hours)
        last = Work(id=_fresh(build, f"ahead-{id_}-done"), day=done, job=id_, hours=hours, done=True)
        yield Step(begun, f"“{job.name}” is begun", (first,))
        yield Step(done, f"“{job.name}” is done", (last,))


def _median(moments: np.ndarray[tuple[int, ...], np.dtype[np.floating]], as_of: date) -> date | None:
    week = float(np.median(moments))
    return None if not np.isfinite(week) else max(date_at(as_of, week), as_of + timedelta(days=1))


def _fresh(build: Build, stem: str) -> str:
    """An id that no event has; what is going to happen has its own prefix."""
    id_, count = stem[:70], 1
    while id_ in build.index["events"]:
        count += 1
        id_ = f"{stem[:66]}-{count}"
    return id_
