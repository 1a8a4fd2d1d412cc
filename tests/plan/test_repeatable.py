"""The same build, day and seed give the same plan, whatever was worked out before."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from plan_builds import AS_OF, build_of, job, offer, part, situation_of, supplier

from fishplate.build import Build
from fishplate.plan import Plan, plan, plan_data


class Shelf:
    """A memo that keeps everything in a dictionary, and counts what it was asked for."""

    def __init__(self) -> None:
        self.kept: dict[str, dict[str, Any]] = {}
        self.loads: list[bool] = []

    def load(self, key: str) -> dict[str, Any]:
        self.loads.append(key in self.kept)
        return dict(self.kept.get(key, {}))

    def save(self, key: str, values: dict[str, Any]) -> None:
        self.kept[key] = dict(values)


def workshop_build(price: str = "120 EUR") -> Build:
    """A build that has something of everything the plan draws at random."""
    decision = {
        "id": "axle", "name": "Axle", "think_weeks": 2,
        "options": [{"id": "wide", "name": "Wide", "parts": ["shaft"]}, {"id": "slim", "name": "Slim"}],
    }  # fmt: skip
    return build_of(
        suppliers=[supplier("shop"), supplier("maker", "GB", "GBP")],
        parts=[part("shaft", mass_kg=4), part("hub", quantity=2), part("seal")],
        offers=[
            offer("shaft-offer", "shaft", "200 GBP", "maker", lead_weeks=[2, 4, 9], made_to_order=True),
            offer("hub-offer", "hub", price, lead_weeks=[1, 2, 4]),
            offer("hub-abroad", "hub", "80 GBP", "maker", lead_weeks=[1, 2, 5]),
            offer("seal-offer", "seal", "12 EUR"),
        ],
        decisions=[decision],
        jobs=[
            {**job("strip", 20), "hours": [10, 20, 50]},
            {**job("fit", 20, "strip", to_keep=["shaft", "hub", "seal"]), "hours": [10, 20, 50]},
        ],
        sale_windows=[{"id": "sale", "supplier": "shop", "first": "2026-04-06", "last": "2026-04-12",
                       "depth_percent": [5, 10, 20], "chance": 0.6}],
    )  # fmt: skip


def told(result: Plan) -> str:
    return json.dumps(plan_data(result), sort_keys=True)


def test_the_same_build_day_and_seed_give_the_same_plan_to_the_letter() -> None:
    first, second = plan(situation_of(workshop_build())), plan(situation_of(workshop_build()))
    assert told(first) == told(second)


def test_the_order_in_which_a_build_lists_its_nouns_changes_no_figure() -> None:
    build = workshop_build()
    other = build.model_copy(
        update={"offers": build.offers[::-1], "parts": build.parts[::-1], "suppliers": build.suppliers[::-1]}
    )
    first, second = plan(situation_of(build)), plan(situation_of(other))
    assert [line.offer for line in first.purchase.lines] == [line.offer for line in second.purchase.lines]
    assert first.purchase.total == second.purchase.total
    assert first.finish == second.finish
    assert [action.key for action in first.actions] == [action.key for action in second.actions]


def test_another_seed_gives_a_like_plan() -> None:
    situation = situation_of(workshop_build(), runs=1200, waiting_runs=400)
    first, second = plan(situation), plan(replace(situation, seed=2))
    assert told(first) != told(second)
    assert first.finish.p50 is not None
    assert second.finish.p50 is not None
    assert abs((first.finish.p50 - second.finish.p50).days) <= 14
    assert first.purchase.total == pytest.approx(second.purchase.total, rel=0.05)
    assert {(a.kind, a.key) for a in first.actions[:3]} & {(a.kind, a.key) for a in second.actions[:3]}


def test_a_memo_of_nothing_changes_nothing() -> None:
    assert told(plan(situation_of(workshop_build()), memo=Shelf())) == told(plan(situation_of(workshop_build())))


def test_what_the_same_plan_remembered_changes_nothing() -> None:
    shelf = Shelf()
    situation = situation_of(workshop_build())
    first = plan(situation, memo=shelf)
    shelf.loads.clear()
    again = plan(situation, memo=shelf)
    assert shelf.loads == [True]
    assert told(first) == told(again)


def test_a_changed_price_is_planned_with_what_still_holds_and_stays_within_the_gap() -> None:
    shelf = Shelf()
    plan(situation_of(workshop_build()), memo=shelf)
    shelf.loads.clear()
    changed = workshop_build("95 EUR")
    quick, fresh = plan(situation_of(changed), memo=shelf), plan(situation_of(changed))
    assert shelf.loads == [True]
    assert quick.expected_total == pytest.approx(fresh.expected_total, rel=0.01)
    assert quick.fit == fresh.fit


def test_a_changed_job_is_not_answered_from_memory_but_for_where_the_purchases_begin() -> None:
    shelf = Shelf()
    build = workshop_build()
    plan(situation_of(build), memo=shelf)
    shelf.loads.clear()
    longer = build.model_copy(update={"jobs": (build.jobs[0].model_copy(update={"cure_days": 90.0}), *build.jobs[1:])})
    quick, fresh = plan(situation_of(longer), memo=shelf), plan(situation_of(longer))
    assert shelf.loads == [False, True]
    assert (quick.finish, quick.stall, quick.fit, quick.cash) == (fresh.finish, fresh.stall, fresh.fit, fresh.cash)
    assert quick.actions == fresh.actions
    assert quick.purchase.lines == fresh.purchase.lines


def test_a_part_taken_out_leaves_last_purchases_that_can_still_be_begun_from() -> None:
    shelf = Shelf()
    build = workshop_build()
    plan(situation_of(build), memo=shelf)
    less = build.model_copy(
        update={
            "parts": tuple(item for item in build.parts if item.id != "seal"),
            "offers": tuple(item for item in build.offers if item.part != "seal"),
            "jobs": (build.jobs[0], build.jobs[1].model_copy(update={"to_keep": ("shaft", "hub")})),
        }
    )
    quick, fresh = plan(situation_of(less), memo=shelf), plan(situation_of(less))
    assert quick.expected_total == pytest.approx(fresh.expected_total, rel=0.01)
    assert not quick.purchase.unmet


def test_a_plan_of_another_day_is_not_answered_from_memory() -> None:
    shelf = Shelf()
    plan(situation_of(workshop_build()), memo=shelf)
    later = situation_of(workshop_build(), as_of=AS_OF.replace(day=16))
    assert told(plan(later, memo=shelf)) == told(plan(later))
