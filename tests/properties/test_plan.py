"""The main job on builds of any shape."""

from __future__ import annotations

import json
import math
from datetime import date
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from plan_builds import plan_of
from strategies import builds

from fishplate.build import Build, build_from_data, facts_of, offer_contents
from fishplate.plan import Plan, plan_data

DAY = date(2027, 5, 3)


def numbers_in(value: Any) -> list[float]:
    """Every number in plain data."""
    if isinstance(value, dict):
        return [number for item in value.values() for number in numbers_in(item)]
    if isinstance(value, list):
        return [number for item in value for number in numbers_in(item)]
    return [value] if isinstance(value, float) else []


def tamed(value: Any) -> Any:
    """Plain data with its great numbers brought down to a garage's size, their order kept."""
    if isinstance(value, dict):
        return {key: tamed(item) for key, item in value.items()}
    if isinstance(value, list):
        return [tamed(item) for item in value]
    return 1 + 3 * math.log(value) if isinstance(value, float) and value > 1 else value


# A whole build takes minutes to shrink, and tells little more when it is small.
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), phases=PHASES)
@given(builds(most=3))
def test_any_build_has_a_plan_of_finite_figures(build: Build) -> None:
    data = tamed(json.loads(build.model_dump_json()))
    data["owner"] |= {"country": "NL", "currency": "EUR"}
    data["rule_overrides"] = []  # any are refused where they name no rule
    build = build_from_data(data)
    plan = plan_of(build, as_of=DAY, runs=60, waiting_runs=60, solver_seconds=1.0)
    told = json.loads(json.dumps(plan_data(plan)))
    assert all(math.isfinite(number) for number in numbers_in(told))
    assert len(plan.questions) <= 3
    check_sums(plan)
    check_nothing_owned_is_bought(build, plan)


def check_nothing_owned_is_bought(build: Build, plan: Plan) -> None:
    """Every line brings something that is neither owned nor on its way, and more than that takes only to pay less."""
    facts = facts_of(build, DAY)
    for line in plan.purchase.lines:
        offer = build.find("offers", line.offer)
        contents = offer_contents(build, offer)
        most = max(math.ceil(facts.missing(build, part) / count - 1e-9) for part, count in contents.items())
        cheaper = {each.units for each in offer.breaks if each.price.amount * each.units < offer.price.amount * most}
        assert 0 < line.units <= most or (most > 0 and line.units in cheaper)


def check_sums(plan: Plan) -> None:
    """Lines and trips add up to the total."""
    total = sum(line.landed for line in plan.purchase.lines)
    total += sum(trip.trip_cost for trip in plan.purchase.collections)
    assert math.isclose(total, plan.purchase.total, abs_tol=0.005 + 1e-9 * total)
