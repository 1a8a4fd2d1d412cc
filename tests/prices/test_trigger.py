"""Buy now or wait, and at which price to stop waiting."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fishplate.prices import ExpectedSale, Outlook, trigger_plan
from fishplate.prices.trigger_words import wait_day

AS_OF = date(2026, 3, 2)


def outlook_with(
    path: list[float], *sales: ExpectedSale, scatter: float = 0.0, closed: tuple[int, ...] = ()
) -> Outlook:
    level = np.asarray(path, dtype=float)
    return Outlook(
        offer="rack", name="Steering rack", supplier="north", currency="EUR", as_of=AS_OF, now=path[0], seen_on=AS_OF,
        expected=level, list_price=level, sale_chance=np.zeros(len(path)), sale_price=level, drift_yearly=0.0,
        sigma_weekly=scatter, scatter=scatter, sales=sales, text="",
        available=np.array([week not in closed for week in range(len(path))]),
    )  # fmt: skip


def sale(week: int, chance: float, depth: float) -> ExpectedSale:
    return ExpectedSale("sale", week, week, chance, (depth,))


def test_a_rising_price_is_bought_now() -> None:
    plan = trigger_plan(outlook_with([100, 101, 102, 103]), last_week=3, carrying_per_week=0.001)
    assert plan.advice == "buy now"
    assert (plan.wait_until_week, plan.chance_to_see, plan.expected_saving) == (None, 0, 0)
    assert plan.prices[3] == math.inf
    assert plan.text == (
        "Steering rack: buy now at 100.00 EUR; by 23 March 2026, the last safe week, 103.00 EUR is expected."
    )


def test_a_steady_price_is_left_until_it_is_needed_because_owning_costs() -> None:
    plan = trigger_plan(outlook_with([100] * 5), last_week=4, carrying_per_week=0.001)
    assert (plan.advice, plan.wait_until_week) == ("wait", 4)
    # four weeks of carrying at 0.1 % of 100
    assert plan.expected_saving == pytest.approx(0.4)


def test_an_announced_fall_is_waited_for() -> None:
    plan = trigger_plan(outlook_with([100, 100, 80, 80]), last_week=3, carrying_per_week=0)
    assert (plan.advice, plan.wait_until_week) == ("wait", 2)
    assert plan.expected_saving == pytest.approx(20)


def test_a_likely_sale_gives_a_trigger_below_todays_price() -> None:
    plan = trigger_plan(outlook_with([100] * 6, sale(3, 0.6, 0.25)), last_week=5, carrying_per_week=0.001)
    # going on before the sale: 0.6 * 75 * 1.002 (two weeks of carrying) + 0.4 * 100 in the last week = 85.09
    assert plan.advice == "buy at the trigger"
    assert plan.prices[0] == pytest.approx(85.09 / 1.005)
    assert plan.chance_to_see == pytest.approx(0.6)
    assert plan.wait_until_week == 3
    assert plan.expected_saving == pytest.approx(100 * 1.005 - 85.09)
    assert plan.text == (
        "Steering rack: 100.00 EUR today; buy at 84.75 EUR or less, at any price in the week of 6 April 2026, the last "
        "safe one; chance 60 % to see such a price before, most likely in the week of 23 March 2026. "
        "Expected saving against today: 15.41 EUR."
    )


def test_a_price_that_would_do_next_week_is_not_said_to_do_today() -> None:
    """A sale may begin next week: till then today's 100 is too much, and if it does not come 100 is soon enough."""
    plan = trigger_plan(outlook_with([100, 100.2, 100.4, 100], sale(1, 0.8, 0.25)), last_week=3)
    assert plan.advice == "buy at the trigger"
    # next week the sale at 75.15, or going on to the last week's 100
    assert plan.prices[0] == pytest.approx(0.8 * 75.15 + 0.2 * 100)
    assert plan.prices[1] == pytest.approx(100)
    assert plan.text.startswith(
        "Steering rack: 100.00 EUR today; today only 80.12 EUR or less is worth taking; from the week of 9 March 2026 "
        "buy at 100.00 EUR or less, at any price in the week of 23 March 2026, the last safe one; chance 80 % to see"
    )


@pytest.mark.parametrize("first", [date(2026, 3, 6), date(2026, 3, 8)])
def test_a_sale_later_this_week_is_waited_for(first: date) -> None:
    """It is over before the next week begins, and still it comes after today."""
    this_week = replace(sale(0, 0.95, 0.3), first=first, last=date(2026, 3, 8))
    outlook = replace(outlook_with([100] * 6, this_week), expected=np.array([71.5, 100, 100, 100, 100, 100]))
    plan = trigger_plan(outlook, last_week=5)
    assert plan.advice == "wait"
    assert plan.expected_saving == pytest.approx(0.95 * 30)
    assert plan.text.startswith(
        f"Steering rack: wait for the sale expected from {first.day} March 2026; 71.50 EUR is expected then, 100.00 EUR"
    )
    assert wait_day(outlook, 1) == first
    seen = trigger_plan(replace(outlook, sales=(replace(this_week, seen=True, chance=1.0),)), last_week=5)
    assert seen.advice != "buy at the trigger", "a sale that is on is no hope"


def test_an_offer_that_is_not_to_be_had_yet_is_told_from_when_and_at_which_price() -> None:
    plan = trigger_plan(outlook_with([100] * 5 + [99.9], sale(3, 0.6, 0.2), closed=(0, 1)), last_week=5)
    assert plan.text.startswith(
        "Steering rack: 100.00 EUR today, to be had from the week of 16 March 2026 on; buy at 87.96 EUR or less,"
    )


@pytest.mark.parametrize(
    ("path", "closed", "why"),
    [([100, 99, 112, 112], (), "the price rises"), ([100, 99, 99, 99], (2, 3), "the offer ends")],
)
def test_a_week_in_which_the_price_rises_or_the_offer_ends_is_meant_by_its_first_day(
    path: list[float], closed: tuple[int, ...], why: str
) -> None:
    plan = trigger_plan(outlook_with(path, closed=closed), last_week=3)
    assert f"Order on the first day of that week: {why} soon after." in plan.text
    assert "Order on" not in trigger_plan(outlook_with([100, 99, 99.5, 99.5]), last_week=3).text


def test_what_is_bought_before_a_rise_is_regretted_if_a_deep_sale_comes_after_it() -> None:
    """Prices rise to 120; with one chance in four a sale then takes them to 90, below today's 100."""
    plan = trigger_plan(outlook_with([100, 120, 120, 120, 120], sale(3, 0.25, 0.25)), last_week=4)
    assert plan.advice == "buy now"
    assert plan.regret == pytest.approx(0.25, abs=0.06)  # of 600 draws, three standard errors


def test_a_lower_price_that_meant_keeping_it_for_long_is_no_regret() -> None:
    """100 today and 110 with its keeping, 102 when it is needed: waiting is right whatever the price alone says."""
    path = [100, 100.5, 101, 101.5, 102]
    plan = trigger_plan(outlook_with(path), last_week=4, keeping=np.array([0.1, 0.075, 0.05, 0.025, 0.0]))
    assert (plan.advice, plan.regret) == ("wait", 0.0)
    assert trigger_plan(outlook_with(path), last_week=4).regret == 0.0, "bought now, where nothing is cheaper later"


def test_a_sale_after_the_last_safe_week_is_not_waited_for() -> None:
    plan = trigger_plan(outlook_with([100, 100.5, 101, 101.5], sale(3, 1.0, 0.5)), last_week=2, carrying_per_week=0)
    assert plan.advice == "buy now"


def test_lateness_that_outweighs_the_sale_means_buying_now() -> None:
    late = np.array([0.0, 10.0, 20.0, 30.0])
    outlook = outlook_with([100] * 4, sale(3, 0.6, 0.25))
    plan = trigger_plan(outlook, last_week=3, carrying_per_week=0, late_cost=late)
    # waiting for the sale: 0.6 * 75 + 0.4 * 100 + 30 = 115
    assert plan.advice == "buy now"


def test_late_cost_in_home_currency_is_weighed_at_the_rate() -> None:
    late = np.array([0.0, 12.0])
    outlook = outlook_with([100, 88])
    # 12 home units are 24 at a rate of 0.5, and 10 at 1.2
    assert trigger_plan(outlook, last_week=1, carrying_per_week=0, late_cost=late, rate=0.5).advice == "buy now"
    plan = trigger_plan(outlook, last_week=1, carrying_per_week=0, late_cost=late, rate=1.2)
    assert plan.advice == "wait"
    assert plan.expected_saving == pytest.approx((100 - 98) * 1.2)


def test_looking_again_must_be_worth_its_cost() -> None:
    outlook = outlook_with([10] * 10, sale(8, 0.5, 0.2))
    assert trigger_plan(outlook, last_week=9, carrying_per_week=1e-4).advice == "buy at the trigger"
    # one look in the week of the sale is worth half a chance of saving 2, and no more
    worth = trigger_plan(outlook, last_week=9, carrying_per_week=1e-4, look_cost=0.9)
    assert (worth.advice, worth.wait_until_week) == ("buy at the trigger", 8)
    too_dear = trigger_plan(outlook, last_week=9, carrying_per_week=1e-4, look_cost=1.1)
    assert (too_dear.advice, too_dear.wait_until_week, too_dear.chance_to_see) == ("wait", 9, 0)


def test_what_costs_much_the_same_later_is_no_hurry() -> None:
    # three weeks of a rise of 0.1 % are less than half a percent
    plan = trigger_plan(outlook_with([100, 100.1, 100.2, 100.3]), last_week=3, carrying_per_week=0.0008)
    assert (plan.advice, plan.wait_until_week, plan.expected_saving) == ("wait", 3, 0)
    assert plan.text == (
        "Steering rack: no hurry; 100.00 EUR today, 100.30 EUR expected in the last safe week, that of 23 March 2026, "
        "which is much the same with the cost of owning it early. What is bought later can go back later."
    )


def test_triggers_rise_as_chances_run_out() -> None:
    plan = trigger_plan(outlook_with([100] * 12, scatter=0.05), last_week=11, carrying_per_week=0)
    assert (np.diff(plan.prices) > 0).all()


def test_a_week_in_which_it_cannot_be_ordered_has_no_trigger() -> None:
    plan = trigger_plan(outlook_with([100, 50, 100], closed=(1,)), last_week=2, carrying_per_week=0)
    assert plan.prices[1] == 0
    assert plan.wait_until_week != 1


def test_the_last_week_it_is_available_is_the_last_to_buy_in() -> None:
    plan = trigger_plan(outlook_with([100, 90, 10], closed=(2,)), last_week=2, carrying_per_week=0)
    assert (plan.wait_until_week, len(plan.prices)) == (1, 2)


def test_an_offer_not_yet_on_sale_is_named_as_such() -> None:
    plan = trigger_plan(outlook_with([100] * 4, closed=(0, 1)), last_week=1, carrying_per_week=0)
    assert (plan.advice, plan.wait_until_week) == ("wait", 2)
    assert "cannot be ordered before 16 March 2026" in plan.text


def test_an_offer_that_comes_later_is_waited_for() -> None:
    plan = trigger_plan(outlook_with([100] * 4, closed=(0, 1)), last_week=3, carrying_per_week=0)
    assert plan.advice == "wait"
    assert plan.wait_until_week in (2, 3)


def test_with_one_week_left_it_is_bought_now() -> None:
    plan = trigger_plan(outlook_with([100, 50]), last_week=0, carrying_per_week=0)
    assert plan.advice == "buy now"
    assert plan.text == "Steering rack: buy now at 100.00 EUR; this is the last safe week."


def test_a_sale_that_is_on_is_taken_rather_than_left() -> None:
    on = ExpectedSale("sale", 0, 2, 1.0, (0.3,), seen=True)
    outlook = outlook_with([100] * 6, on)
    from dataclasses import replace

    outlook = replace(outlook, sale_price=np.full(6, 70.0))
    plan = trigger_plan(outlook, last_week=5, carrying_per_week=0)
    assert outlook.today == 70
    assert plan.advice == "buy now"


@pytest.mark.parametrize(("last_week", "rate"), [(-1, 1.0), (1, 0.0)])
def test_impossible_arguments_are_refused(last_week: int, rate: float) -> None:
    with pytest.raises(ValueError, match="last_week"):
        trigger_plan(outlook_with([100, 100]), last_week=last_week, carrying_per_week=0, rate=rate)
