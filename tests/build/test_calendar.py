"""Weeks since the day of the plan, and the hours in them."""

from __future__ import annotations

import math
from datetime import date

import pytest

from fishplate.build import date_at, month_of, week_of, weekly_hours
from fishplate.build.calendar import help_chance, hours_assumptions, hours_on
from fishplate.build.jobs import Link
from fishplate.build.owner import DaysOff, Helper, Owner, SeasonHours

AS_OF = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("week", "day"),
    [
        (0, date(2026, 3, 2)),
        (0.99, date(2026, 3, 8)),
        (1, date(2026, 3, 9)),
        (-1 / 7, date(2026, 3, 1)),
        (-0.01, date(2026, 3, 1)),
        (-1, date(2026, 2, 23)),
        (1e9, date(9999, 12, 31)),
        (math.inf, date(9999, 12, 31)),
        (-1e9, date(1, 1, 1)),
        (-math.inf, date(1, 1, 1)),
    ],
)
def test_a_moment_falls_on_a_day(week: float, day: date) -> None:
    assert date_at(AS_OF, week) == day


def test_a_moment_that_is_no_number_is_an_error() -> None:
    with pytest.raises(ValueError, match="NaN"):
        date_at(AS_OF, math.nan)


def test_a_month_is_written_with_its_year() -> None:
    assert [month_of(AS_OF, week) for week in (0, 4.2, 4.3, 44)] == ["2026-03", "2026-03", "2026-04", "2027-01"]


def test_a_season_overrides_the_usual_hours_and_days_off_override_both() -> None:
    owner = Owner(
        hours_per_week=7,
        seasons=(SeasonHours(months=(3,), hours=14),),
        days_off=(DaysOff(first=date(2026, 3, 10), last=date(2026, 3, 11)),),
    )
    assert [hours_on(owner, date(2026, month, day)) for month, day in ((2, 28), (3, 9), (3, 10), (3, 11), (4, 1))] == [
        1, 2, 0, 0, 1,
    ]  # fmt: skip
    # the second week loses two days of two hours; the fifth has 2 days in March, 5 in April
    assert weekly_hours(owner, AS_OF, 5) == (14, 10, 14, 14, 2 * 2 + 5 * 1)


def test_hours_not_told_are_assumed_and_the_assumption_is_listed() -> None:
    assert weekly_hours(Owner(), AS_OF, 1) == (5,)
    (assumption,) = hours_assumptions(Owner())
    assert (assumption.code, assumption.about) == ("hours-per-week-default", "build")


def test_hours_not_told_for_some_months_are_assumed_too() -> None:
    winter = SeasonHours(months=(11, 12, 1, 2), hours=8)
    assert len(hours_assumptions(Owner(seasons=(winter,)))) == 1
    summer = SeasonHours(months=tuple(range(3, 11)), hours=3)
    assert hours_assumptions(Owner(seasons=(winter, summer))) == ()
    assert hours_assumptions(Owner(seasons=(winter,), hours_per_week=4)) == ()


def test_hours_at_the_end_of_the_calendar_are_no_error() -> None:
    assert len(weekly_hours(Owner(), date(9999, 12, 30), 520)) == 520


def test_week_of_counts_from_the_start_of_the_day() -> None:
    assert week_of(AS_OF, date(2026, 3, 5)) == pytest.approx(3 / 7)
    assert week_of(AS_OF, date(2026, 2, 23)) == -1


def test_hours_of_the_week_are_shared_out_over_the_working_days() -> None:
    owner = Owner(hours_per_week=6, weekdays=(6, 7))
    assert [hours_on(owner, date(2026, 3, day)) for day in range(2, 9)] == [0, 0, 0, 0, 0, 3, 3]
    assert weekly_hours(owner, AS_OF, 2) == (6, 6)


@pytest.mark.parametrize(
    ("country", "region", "day", "off"),
    [
        ("NL", "", date(2026, 4, 27), True),  # King's Day, by law
        ("DE", "BY", date(2026, 1, 6), True),  # Epiphany, by law in Bavaria
        ("DE", "BE", date(2026, 1, 6), False),  # but not in Berlin
        ("DE", "", date(2026, 10, 3), True),  # German Unity, everywhere
        ("DE", "no such region", date(2026, 10, 3), True),
        ("QQ", "", date(2026, 1, 1), False),
    ],
)
def test_public_holidays_are_off_where_the_owner_says_so(country: str, region: str, day: date, off: bool) -> None:
    owner = Owner(country=country, region=region, hours_per_week=7, works_on_holidays=False)
    assert hours_on(owner, day) == (0 if off else 1)
    assert hours_on(owner.model_copy(update={"works_on_holidays": True}), day) == 1
    known = {item.text for item in hours_assumptions(owner)}
    assert any("no public holidays are known" in text for text in known) == (country == "QQ")


def test_a_second_person_comes_with_the_chance_of_any_helper() -> None:
    saturdays, chance = Helper(weekdays=(6,), chance=0.5), Helper(hours_per_week=2)
    owner = Owner(hours_per_week=8, helpers=(saturdays, chance))
    assert help_chance(owner, date(2026, 3, 7)) == pytest.approx(1 - 0.5 * 0.75)
    assert help_chance(owner, date(2026, 3, 8)) == pytest.approx(0.25)
    assert help_chance(Owner(), date(2026, 3, 8)) == 1


def test_a_helper_by_days_and_by_hours_at_once_is_refused() -> None:
    with pytest.raises(ValueError, match="not both"):
        Helper(weekdays=(6,), hours_per_week=2)


def test_a_window_that_closes_before_the_lag_ends_is_refused() -> None:
    with pytest.raises(ValueError, match="fewer days"):
        Link(job="primer", lag_days=3, within_days=2)
