"""Impact on any builds at all."""

from __future__ import annotations

from datetime import date

from hypothesis import HealthCheck, Phase, given, settings
from strategies import builds

from fishplate.build import Build, UnknownRateError
from fishplate.impact import impact_of_change

AS_OF = date(2026, 3, 2)


@settings(
    max_examples=40,
    deadline=None,
    phases=(Phase.reuse, Phase.generate),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(builds(), builds())
def test_any_build_can_become_any_other_and_none_of_itself(first: Build, second: Build) -> None:
    rates = dict.fromkeys(("EUR", "GBP", "USD", "JPY", "KWD"), 1.0)
    assert impact_of_change(first, first, AS_OF, rates=rates).nothing
    try:
        report = impact_of_change(first, second, AS_OF, rates=rates)
    except UnknownRateError:
        return
    assert report.money_low <= report.money_likely <= report.money_high
    assert report.hours_low <= report.hours <= report.hours_high
