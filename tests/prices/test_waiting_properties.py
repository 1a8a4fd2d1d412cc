"""What must hold of every trigger plan, whatever the prices, sales, lateness and exchange rate."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.prices import ExpectedSale, Outlook, TriggerPlan, trigger_plan

WEEKS = 8
SHARES = st.floats(0, 1, allow_nan=False)


@st.composite
def outlooks(draw: st.DrawFn) -> Outlook:
    path = np.array(draw(st.lists(st.floats(20, 200), min_size=WEEKS, max_size=WEEKS)))
    sales = []
    for name in range(draw(st.integers(0, 2))):
        first = draw(st.integers(0, WEEKS - 1))
        last = draw(st.integers(first, WEEKS - 1))
        depths = tuple(draw(st.lists(st.floats(0.05, 0.6), min_size=1, max_size=3)))
        sales.append(ExpectedSale(str(name), first, last, draw(st.floats(0.05, 1)), depths))
    available = np.array([True, *draw(st.lists(st.booleans(), min_size=WEEKS - 1, max_size=WEEKS - 1))])
    return Outlook(
        offer="a", name="A", supplier="s", currency="EUR", as_of=date(2026, 3, 2), now=float(path[0]), seen_on=None,
        expected=path, list_price=path, sale_chance=np.zeros(WEEKS), sale_price=path, drift_yearly=0.0,
        sigma_weekly=0.0, scatter=draw(st.sampled_from([0.0, 0.05])), available=available, sales=tuple(sales), text="",
    )  # fmt: skip


@st.composite
def plans(draw: st.DrawFn) -> tuple[Outlook, TriggerPlan, np.ndarray, np.ndarray, float]:
    outlook = draw(outlooks())
    late = np.cumsum(draw(st.lists(st.floats(0, 10), min_size=WEEKS, max_size=WEEKS)))
    keeping = np.cumsum(draw(st.lists(st.floats(0, 0.02), min_size=WEEKS, max_size=WEEKS)))[::-1].copy()
    sigma = draw(st.sampled_from([0.0, 0.01, 0.05]))
    look = draw(st.sampled_from([0.0, 1.0]))
    plan = trigger_plan(outlook, last_week=WEEKS - 1, late_cost=late, keeping=keeping, rate_sigma=sigma, look_cost=look)
    return outlook, plan, late, keeping, look


@settings(max_examples=120, deadline=None)
@given(plans())
def test_a_trigger_is_what_waiting_is_worth_and_no_more_than_any_later_week_costs(
    given_plan: tuple[Outlook, TriggerPlan, np.ndarray, np.ndarray, float],
) -> None:
    outlook, plan, late, keeping, look = given_plan
    last = len(plan.prices) - 1
    assert plan.prices[last] == math.inf
    for week in range(last):
        if not outlook.available[week]:
            assert plan.prices[week] == 0
            continue
        # buying at the trigger costs what waiting does, and that no more than a look and a purchase in any later week
        fixed = [outlook.list_price[k] * (1 + keeping[k]) + late[k] for k in range(week + 1, last + 1)
                 if outlook.available[k]]  # fmt: skip
        assert (
            plan.prices[week] * (1 + keeping[week]) + late[week] <= min(fixed) + look + 1e-6 or plan.prices[week] == 0
        )
    assert plan.expected_saving >= 0
    assert 0 <= plan.chance_to_see <= 1
    assert 0 <= plan.regret <= 1


@settings(max_examples=80, deadline=None)
@given(outlooks(), st.floats(0, 0.02))
def test_a_price_that_stays_open_is_worth_waiting_with_for_longer(outlook: Outlook, carrying: float) -> None:
    # where a sale lasts or the price scatters finely, held prices stand on a grid: one-week sales and none
    sales = tuple(ExpectedSale(s.window, s.first_week, s.first_week, s.chance, s.depths) for s in outlook.sales)
    plain = Outlook(**{**{name: getattr(outlook, name) for name in Outlook.__slots__}, "sales": sales, "scatter": 0.0})
    plan = trigger_plan(plain, last_week=WEEKS - 1, carrying_per_week=carrying)
    assert plan.held_saving >= 0
    for week in range(len(plan.prices) - 1):
        if plain.available[week] and plan.prices[week] > 0:
            assert plan.held_prices[week] <= plan.prices[week] + 1e-6


@settings(max_examples=60, deadline=None)
@given(outlooks(), st.floats(0.001, 0.05))
def test_a_rate_that_wanders_makes_waiting_worth_no_less(outlook: Outlook, sigma: float) -> None:
    """Costs are the lower of what is linear in the rate, so unrest helps who may choose (Jensen)."""
    calm = trigger_plan(outlook, last_week=WEEKS - 1, carrying_per_week=0.001)
    restless = trigger_plan(outlook, last_week=WEEKS - 1, carrying_per_week=0.001, rate_sigma=sigma)
    if outlook.available[1:].any():
        assert (restless.prices[:-1] <= calm.prices[:-1] + 1e-6).all()
