"""The rates customs converts at, as the authority prints them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from ..build.errors import Refused
from ..build.money import Rates
from ..build.problem import Problem
from .rules import RuleSet


def rates_as_printed(rules: RuleSet, printed: Mapping[str, Decimal], day: date, source: str) -> Rates:
    """Exchange rates from an authority's table, turned the way the rules say it prints them.

    Parameters
    ----------
    rules : of the destination, whose rule on exchange says which way round the table is
    printed : rate of each currency as printed
    day : day, week's or month's first day the table is of
    source : the table

    Raises
    ------
    Refused
        if the destination's rules do not say how its rates are printed, or a rate is not above zero

    Examples
    --------
    >>> from fishplate.build import Money
    >>> from fishplate.landed import load_rules
    >>> table = rates_as_printed(load_rules("AU"), {"USD": Decimal("0.65")}, date(2026, 11, 24), "example")
    >>> str(table.convert(Money.of(130, "USD"), "AUD"))
    '200.00 AUD'
    """
    rule = rules.on(day).exchange
    where = f"customs rates of {rules.country}"
    if rule is None:
        do = "Enter rates of the day instead."
        raise Refused([Problem(where, "no-rule", "the rules do not say which way round they are printed", "", do)])
    wrong = [code for code, rate in printed.items() if not rate.is_finite() or rate <= 0]
    if wrong:
        raise Refused(
            Problem(f"{where}, {code}", "rate", "a rate is above zero", str(printed[code]), "Enter it as printed.")
            for code in wrong
        )
    turned = rule.quoted == "home per foreign"
    per_home = {code: 1 / rate if turned else rate for code, rate in printed.items()}
    return Rates(base=rules.currency, per_base=per_home, day=day, source=source)
