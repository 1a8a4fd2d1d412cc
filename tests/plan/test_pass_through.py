"""What the engines find reaches the plan unchanged: stalls, finish, verdicts, sales and rises, the longest chain."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from plan_builds import AS_OF, build_of, job, offer, part, plan_of, situation_of, supplier

from fishplate.build import date_at
from fishplate.build.owner import Helper, SeasonHours
from fishplate.fit import assess
from fishplate.plan import Action, ActionKind, Plan, compare, plan
from fishplate.plan.model import CostOfWaiting
from fishplate.work import Gates, Simulator, impossible


def waiting_build(**lists: Any) -> Any:
    """A week's work, then weeks of waiting for a part that takes ten to come."""
    base: dict[str, Any] = {
        "suppliers": [supplier("shop")],
        "parts": [part("rack")],
        "offers": [offer("rack-offer", "rack", "100 EUR", lead_weeks=[10, 10, 10])],
        "jobs": [job("strip", 6), job("fit", 12, "strip", to_keep=["rack"])],
    }
    return build_of(**{**base, **lists})


def test_stalled_hours_and_their_cause_are_those_of_the_work_engine() -> None:
    build = waiting_build()
    plan = plan_of(build)
    # ten weeks slipping by 1.3 on average, half a week of travel, less the week of work: some thirteen of six hours
    assert sum(line.hours for line in plan.stall) == pytest.approx((13 + 0.6 - 1) * 6, rel=0.15)
    assert all("for want of Rack" in line.causes[0] for line in plan.stall if line.hours > 1)
    assert any(line.chance > 0.9 for line in plan.stall)
    deciding = {(line.kind, line.id): line.chance for line in plan.deciding}
    assert deciding["jobs", "fit"] == 1
    assert deciding["parts", "rack"] > 0.9


def test_a_build_that_waits_for_nothing_has_no_stall_and_the_finish_of_the_work_engine() -> None:
    build = build_of(jobs=[{**job("strip", 60), "hours": [40, 60, 120]}])
    situation = situation_of(build)
    report = Simulator(build, situation.facts, runs=situation.runs, seed=situation.seed).run(Gates())
    plan = plan_of(build)
    assert plan.finish.p50 == date_at(AS_OF, report.quantile(0.5))
    assert plan.finish.p95 == date_at(AS_OF, report.quantile(0.95))
    assert plan.stall == ()
    assert plan.critical == tuple(report.critical)


def test_verdicts_are_those_of_the_fit_engine() -> None:
    build = build_of(
        interfaces=[{"id": "i", "name": "Edge"}],
        dimensions=[{"id": "gap", "name": "Gap"}],
        readings=[{"id": "r", "dimension": "gap", "value": 7, "spread": 4, "day": AS_OF}],
        conditions=[{"id": "c", "interface": "i", "name": "Clears", "expression": "gap", "at_least": "5 mm"}],
    )
    (line,) = plan_of(build).fit
    (result,) = assess(build, situation_of(build).facts, seed=1).conditions
    assert (line.verdict, line.chance, line.standard_error) == (
        str(result.verdict),
        result.chance,
        result.standard_error,
    )
    # 7 ± 4 as limits: uniform between 3 and 11, six of eight millimetres are five or more
    assert line.chance == pytest.approx(0.75, abs=0.01)


def test_an_expected_sale_is_taken_and_named_and_its_preparation_listed() -> None:
    sale = {
        "id": "spring", "supplier": "shop", "first": date(2026, 4, 6), "last": date(2026, 4, 12),
        "depth_percent": [20, 25, 30], "chance": 0.9,
    }  # fmt: skip
    build = waiting_build(
        offers=[offer("rack-offer", "rack", "1000 EUR")], sale_windows=[sale],
        jobs=[job("strip", 90), job("fit", 12, "strip", to_keep=["rack"])],
    )  # fmt: skip
    plan = plan_of(build)
    (line,) = plan.purchase.lines
    assert line.order_by == date(2026, 4, 6)
    assert "a sale is expected then (90 %)" in line.why or "sale is expected then (90 %)" in line.why
    (ready,) = plan.ready_to_buy
    assert (ready.kind, ready.first, ready.offers) == ("sale", date(2026, 4, 6), ("rack-offer",))
    assert ready.fund > 500
    # a quarter off a thousand, nine times in ten
    assert ready.saving == pytest.approx(225, rel=0.2)


def test_a_sale_the_plan_waits_for_is_named_though_waiting_makes_it_late() -> None:
    sale = {
        "id": "spring", "supplier": "shop", "first": date(2026, 4, 6), "last": date(2026, 4, 12),
        "depth_percent": [20, 25, 30], "chance": 0.9,
    }  # fmt: skip
    build = waiting_build(
        offers=[offer("rack-offer", "rack", "1000 EUR")], sale_windows=[sale], owner={"week_delay_cost": 5},
        jobs=[job("strip", 6), job("fit", 12, "strip", to_keep=["rack"])],
    )  # fmt: skip
    plan = plan_of(build)
    (line,) = plan.purchase.lines
    assert line.order_by == date(2026, 4, 6)
    (timing,) = plan.purchase.timings
    assert timing.last_safe < date(2026, 4, 6)
    assert [item.first for item in plan.ready_to_buy] == [date(2026, 4, 6)]


def test_an_announced_rise_is_bought_before_where_keeping_it_costs_less() -> None:
    rise = {"id": "rise", "day": date(2026, 5, 4), "percent": 15, "offer": "rack-offer"}
    jobs = [job("strip", 120), job("fit", 12, "strip", to_keep=["rack"])]
    offers = [offer("rack-offer", "rack", "1000 EUR", returns={"days": 365})]
    (line,) = plan_of(waiting_build(offers=offers, price_changes=[rise], jobs=jobs)).purchase.lines
    assert line.order_by is not None
    assert line.order_by < date(2026, 5, 4)
    (calm,) = plan_of(waiting_build(offers=offers, jobs=jobs)).purchase.lines
    assert calm.order_by is not None
    assert calm.order_by > date(2026, 5, 4)


def test_a_limit_on_money_spreads_the_orders() -> None:
    names = ["a", "b", "c"]
    lists: dict[str, Any] = {
        "suppliers": [supplier("shop")], "parts": [part(name) for name in names],
        "offers": [offer(f"{name}-offer", name, "300 EUR") for name in names],
        "jobs": [job(name, 6, to_keep=[name]) for name in names],
    }  # fmt: skip
    free = plan_of(build_of(**lists))
    tight = plan_of(build_of(**lists, owner={"cash_per_month": 320, "cash_now": 0}))

    def first_month(plan: Plan) -> float:
        return sum(x.landed for x in plan.purchase.lines if x.order_by and x.order_by < date(2026, 4, 1))

    assert first_month(free) == pytest.approx(900, rel=0.02)
    assert first_month(tight) <= 330
    assert len(tight.purchase.lines) == 3


def test_two_plans_of_one_build_do_not_differ_and_a_slower_owner_finishes_later() -> None:
    build = waiting_build()
    same = compare(plan_of(build), plan_of(build))
    assert (same.finish_days, same.money, same.total, same.moved) == (0, 0, 0, ())
    slower = compare(plan_of(build), plan_of(waiting_build(owner={"hours_per_week": 1})))
    assert slower.finish_days is not None
    assert slower.finish_days > 60


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        (40.0, "Waiting costs 40 EUR if put off 4 weeks."),
        (3.0, "Waiting costs less than 5 EUR."),
        (-3.0, "Waiting costs less than 5 EUR."),
        (-40.0, "Better to wait: 4 weeks gain 40 EUR."),
    ],
)
def test_waiting_is_told_in_words(amount: float, words: str) -> None:
    from fishplate.cli.planning import waiting_words

    cost = CostOfWaiting(amount, "EUR", 4.0, 5.0)
    action = Action(ActionKind.BUY, "key", "Order", AS_OF, AS_OF, cost, ())
    assert waiting_words(action) == words


def test_every_fault_of_jobs_and_calendar_is_told_with_the_plan() -> None:
    build = build_of(
        parts=[part("panel")],
        jobs=[
            {**job("prime", 6), "cure_days": 5},
            {**job("winter", 6), "months": [1]},
            {**job("coat", 6), "name": "Top coat", "after": [{"job": "prime", "within_days": 3}]},
            {**job("raise", 6), "name": "Raise it", "lift": True},
            {**job("lower", 6, "raise"), "name": "Lower it"},
            {**job("helped", 6), "name": "Lift the engine out", "second_person": True},
            {**job("blast", 6), "works_on": ["panel"]},
            {**job("hang", 6), "to_keep": ["panel"]},
            {**job("check", 6, "hang"), "works_on": ["panel"]},
            {**job("bracket", 6, "coat"), "name": "Weld the bracket", "hazards": ["welding"]},
        ],
        gates=[{"id": "last", "name": "Last welds", "kind": "last-welds", "after": ["prime"], "before": ["coat"]}],
    )
    calendar = {"lifts": 0, "seasons": (SeasonHours(months=(1,), hours=0),), "weekdays": (1,),
                "helpers": (Helper(weekdays=(6,), chance=0.5),)}  # fmt: skip
    build = build.model_copy(update={"owner": build.owner.model_copy(update=calendar)})
    situation = situation_of(build)
    found = impossible(build, situation.facts)
    assert {problem.code for problem in found} == {
        "season-without-hours", "window-closed", "no-lift", "helper-never-comes", "pattern",
    }  # fmt: skip
    found_plan = plan(situation)
    told = "\n".join((*found_plan.faults, *found_plan.notes))
    assert "“Raise it” never starts" not in told  # that there is no lift says it already
    for problem in found:
        assert problem.what[1:] in told
        assert problem.do in told
    for words in ("so never started either: “Lower it”", "Weld the bracket"):
        assert words in told


def test_the_hours_left_of_a_short_job_are_told_to_the_tenth() -> None:
    build = waiting_build(jobs=[job("strip", 1.5), job("long", 26.4), job("fit", 12, "strip", to_keep=["rack"])])
    told = {action.what for action in plan_of(build).actions}
    assert {"Do: Strip (1.5 h left)", "Do: Long (26 h left)"} <= told
