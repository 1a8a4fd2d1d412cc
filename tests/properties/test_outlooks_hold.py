"""Outlooks and trigger plans of any build at all: bounded, and never a fault of ours."""

from __future__ import annotations

from datetime import date

import numpy as np
from hypothesis import given
from strategies import ANY_BUILD, builds, moments

from fishplate.build import Build, facts_of
from fishplate.prices import outlooks, ready_to_buy, trigger_plan


@ANY_BUILD
@given(builds(most=4), moments)
def test_every_build_has_outlooks_and_trigger_plans(build: Build, day: date) -> None:
    seen = outlooks(build, facts_of(build, day), weeks=20)
    assert set(seen) == {offer.id for offer in build.offers}
    for outlook in seen.values():
        assert (outlook.expected >= 0).all()
        assert np.isfinite(outlook.expected).all()
        assert ((outlook.sale_chance >= 0) & (outlook.sale_chance <= 1)).all()
        weights = [ground.weight for ground in outlook.grounds if ground.weight is not None]
        assert abs(sum(weights) - 1) < 1e-9
        plan = trigger_plan(outlook, last_week=15, carrying_per_week=0.002, rate_sigma=0.01, look_cost=1.0)
        assert plan.expected_saving >= 0
        assert 0 <= plan.regret <= 1
        assert 0 <= plan.chance_to_see <= 1


@ANY_BUILD
@given(builds(most=4), moments)
def test_what_must_be_ready_is_ahead_and_costs_something(build: Build, day: date) -> None:
    facts = facts_of(build, day)
    needs = {part: facts.missing(build, part) for part in sorted(facts.wanted_parts)}
    rates = {offer.price.currency: 1.0 for offer in build.offers}
    for item in ready_to_buy(build, facts, outlooks(build, facts, weeks=60), needs, rates, {}, {}):
        assert item.first >= day
        assert item.fund >= 0
        assert item.saving >= 0
        assert item.offers
