"""Rules of import as data: read, validated, resolved for a day, overridden by the owner in sight.

A rule file is TOML: `applies_to` (countries, or "*"), and for a destination `currency` and, where goods move
without import, `single_market`. Each `[[rule]]` has an id, a kind from `kinds`, a status, a source and, where
known, `valid_from`, `valid_to` (last day) and `as_of` (day it was last checked). A new destination is a new file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from importlib import resources
from typing import Any

from pydantic import ValidationError

from ..build.commerce import RuleOverride
from ..build.errors import Refused
from ..build.problem import Problem
from .kinds import (
    Allowance,
    DutyDefault,
    DutyRate,
    Fee,
    FeeTax,
    FlatDuty,
    OriginTax,
    Practice,
    Preference,
    Relief,
    Rounding,
    RuleFile,
    SellerCollects,
    Tax,
    TaxBase,
    TravellerFlat,
    Valuation,
    Waiver,
)

_PRIMARY = {
    "duty-rate": "percent",
    "duty-default": "percent",
    "flat-duty": "amount",
    "relief": "limit",
    "tax": "percent",
    "seller-collects": "limit",
    "waiver": "below",
    "allowance": "amount",
    "traveller-flat": "percent",
    "fee": "flat",
    "fee-tax": "percent",
    "preference": "percent",
    "origin-tax": "percent",
    "practice": "value",
}


@dataclass(frozen=True, slots=True)
class FoundRate:
    """Duty found for a heading [fraction]: the one used, the lowest and highest it may be."""

    rule: DutyRate | DutyDefault
    used: Decimal
    low: Decimal
    high: Decimal
    known: bool
    text: str


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Every rule that bears on goods brought to one country.

    Parameters
    ----------
    country, currency : the destination, and the currency its charges are reckoned in
    single_market : countries between which nothing is imported
    rules : in the order of their files
    """

    country: str
    currency: str
    single_market: frozenset[str]
    rules: tuple[Any, ...]
    _days: dict[date, RulesOfDay] = field(default_factory=dict, compare=False, repr=False)
    _with: dict[tuple[RuleOverride, ...], tuple[RuleSet, tuple[str, ...]]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def on(self, day: date) -> RulesOfDay:
        """The rules as they stand on a day."""
        if day not in self._days:
            self._days[day] = RulesOfDay(self, day)
        return self._days[day]

    def by_id(self, id_: str) -> Any:
        """The rule with an id; raises KeyError."""
        for rule in self.rules:
            if rule.id == id_:
                return rule
        raise KeyError(id_)

    def with_overrides(self, overrides: Sequence[RuleOverride]) -> tuple[RuleSet, tuple[str, ...]]:
        """The rules with the owner's values in place, and a sentence about each override that fits no rule."""
        key = tuple(overrides)
        if not key:
            return self, ()
        if key not in self._with:
            self._with[key] = self._overridden(key)
        return self._with[key]

    def _overridden(self, overrides: tuple[RuleOverride, ...]) -> tuple[RuleSet, tuple[str, ...]]:
        rules = {rule.id: rule for rule in self.rules}
        unused = []
        for override in sorted(overrides, key=lambda item: item.day):
            try:
                rules[override.rule] = _overridden(rules.get(override.rule), override)
            except KeyError:
                unused.append(f"the override {override.rule} names no rule for {self.country} and is not used")
        return replace(self, rules=tuple(rules.values()), _days={}, _with={}), tuple(unused)


def _overridden(rule: Any, override: RuleOverride) -> Any:
    """A rule with the owner's value; `duty.<heading>` makes a rate for a heading the table lacks."""
    if override.value < 0:
        where = f"rule override {override.rule}, value"
        raise Refused([Problem(where, "negative", "below zero", str(override.value), "Enter zero or more.")])
    known = {"source": override.source, "as_of": override.day, "status": "owner", "valid_from": None, "valid_to": None}
    value = Decimal(str(override.value))
    prefix, _, digits = override.rule.partition(".")
    if rule is None and prefix == "duty" and digits.isdigit() and len(digits) >= 4:
        return DutyRate(
            id=override.rule, kind="duty-rate", heading=digits, percent=value,
            source=override.source, as_of=override.day, status="owner",
            note=f"set by the owner: {override.source}, {override.day}",
        )  # fmt: skip
    primary = _PRIMARY.get(rule.kind) if rule is not None else None
    if primary is None:
        raise KeyError(override.rule)
    changed = {primary: value, **known, "note": f"set by the owner: {override.source}, {override.day}"}
    if rule.kind == "duty-default":
        changed |= {"low": value, "high": value}
    return type(rule).model_validate({**rule.model_dump(), **changed})


class RulesOfDay:
    """The rules that hold on one day, by what they decide.

    A relief, waiver or flat duty out of its validity is not used. A rule without which nothing can be reckoned
    (valuation, rate, tax) is used after its last day too, and says so.
    """

    def __init__(self, rules: RuleSet, day: date) -> None:
        self.set, self.day = rules, day
        holding = [rule for rule in rules.rules if rule.holds_on(day)]
        self._holding = {rule.id: rule for rule in holding}
        self.valuation: Valuation = self._needed(Valuation)
        self.tax_base: TaxBase = self._needed(TaxBase)
        self.tax: Tax = self._needed(Tax, lambda rule: rule.member in (None, rules.country))
        self.duty_default: DutyDefault = self._needed(DutyDefault)
        self.flat: FlatDuty | None = self._one(FlatDuty)
        self.seller_collects: SellerCollects | None = self._one(SellerCollects)
        self.waiver: Waiver | None = self._one(Waiver)
        self.traveller_flat: TravellerFlat | None = self._one(TravellerFlat)
        self.fee_tax: FeeTax | None = self._one(FeeTax)
        self.reliefs = tuple(rule for rule in holding if isinstance(rule, Relief))
        self.fees = tuple(rule for rule in holding if isinstance(rule, Fee))
        self.allowances = tuple(rule for rule in holding if isinstance(rule, Allowance))
        self.preferences = tuple(rule for rule in holding if isinstance(rule, Preference))
        self.rounding = {rule.step: rule for rule in holding if isinstance(rule, Rounding)}
        self._rates = self._latest_rates()
        self._found: dict[str | None, FoundRate] = {}

    def _one(self, kind: type[Any]) -> Any:
        return next((rule for rule in self._holding.values() if isinstance(rule, kind)), None)

    def _needed(self, kind: type[Any], also: Any = lambda _rule: True) -> Any:
        found = [rule for rule in self.set.rules if isinstance(rule, kind) and also(rule)]
        if not found:
            name = kind.model_fields["kind"].annotation.__args__[0]
            raise no_rules(self.set.country, f"no rule of the kind {name}")
        return max(found, key=lambda rule: (rule.holds_on(self.day), rule.valid_from or date.min))

    def _latest_rates(self) -> dict[str, DutyRate]:
        rates: dict[str, DutyRate] = {}
        for rule in self.set.rules:
            if isinstance(rule, DutyRate):
                old = rates.get(rule.heading)
                # the owner's rate stands after the table's and wins; a rate out of validity only fills a gap
                if old is None or rule.holds_on(self.day) or not old.holds_on(self.day):
                    rates[rule.heading] = rule
        return rates

    def practice(self, id_: str) -> Practice:
        """A practice by id; raises KeyError."""
        found = self.set.by_id(id_)
        assert isinstance(found, Practice)
        return found

    def origin_tax(self, country: str) -> OriginTax | None:
        """The sales tax of the seller's country, where there is a rule for it."""
        return next(
            (rule for rule in self._holding.values() if isinstance(rule, OriginTax) and rule.country == country), None
        )

    def member_tax(self, country: str) -> Tax | None:
        """The tax of a country of the single market."""
        return next((rule for rule in self._holding.values() if isinstance(rule, Tax) and rule.member == country), None)

    def preference(self, origin: str | None) -> Preference | None:
        """The agreement under which goods of an origin enter at a lower rate, if there is one."""
        return next((rule for rule in self.preferences if origin in rule.origins), None)

    def duty_rate(self, heading: str | None) -> FoundRate:
        """The duty of a heading, by the longest match; the dearest of several lines; the default if unknown."""
        if heading not in self._found:
            self._found[heading] = self._find_rate(heading)
        return self._found[heading]

    def _find_rate(self, heading: str | None) -> FoundRate:
        if heading:
            for length in range(len(heading), 1, -1):
                if exact := self._rates.get(heading[:length]):
                    share = exact.percent / 100
                    return FoundRate(exact, share, share, share, True, f"heading {exact.heading}")
            for length in range(len(heading), 3, -1):
                within = [rate for key, rate in sorted(self._rates.items()) if key.startswith(heading[:length])]
                if within:
                    return _among(heading, within, exact=length == len(heading))
        default = self.duty_default
        what = f"heading {heading} is not in the table" if heading else "no heading is given"
        text = f"{what}: {percent_text(default.percent)} used"
        text += f", usually between {default.low:f} and {percent_text(default.high)}"
        return FoundRate(default, default.percent / 100, default.low / 100, default.high / 100, False, text)


def _among(heading: str, rates: list[DutyRate], *, exact: bool) -> FoundRate:
    dearest = max(rates, key=lambda rate: (rate.percent, rate.id))
    low = min(rate.percent for rate in rates)
    same = low == dearest.percent
    near = "lines of" if exact else "lines near"
    text = f"{near} heading {heading}: {percent_text(low)}"
    text += "" if same else f" to {percent_text(dearest.percent)}, the dearest used"
    return FoundRate(dearest, dearest.percent / 100, low / 100, dearest.percent / 100, exact and same, text)


def no_rules(country: str, why: str = "there are no rules yet") -> Refused:
    """The refusal for a destination without rules."""
    low = country.lower()
    return Refused(
        [
            Problem(
                f"destination {country}",
                "no-rules",
                f"{why} for {country}, and no number is made up",
                "",
                f"Rates can be entered as overrides: {low}.duty and {low}.tax [%], each with its source and day.",
            )
        ]
    )


def load_rules(country: str, overrides: Sequence[RuleOverride] = (), *, currency: str | None = None) -> RuleSet:
    """The rules for goods brought to a country, from the data of this package.

    Parameters
    ----------
    country : ISO 3166 code of the destination
    overrides : the owner's own values; `xx.duty` and `xx.tax` stand in where a country xx has no rules
    currency : currency the charges of such a country are reckoned in

    Raises
    ------
    Refused
        if the country has no rules and none were entered

    Examples
    --------
    >>> load_rules("NL").on(date(2026, 11, 24)).tax.percent
    Decimal('21.0')
    """
    files = _package_files()
    try:
        return rules_from(files, country)
    except Refused:
        entered = {item.rule: item for item in overrides}
        duty, tax = entered.get(f"{country.lower()}.duty"), entered.get(f"{country.lower()}.tax")
        if duty is None or tax is None or currency is None:
            raise
        return rules_from([*files, _entered_file(country, currency, duty, tax)], country)


def _entered_file(country: str, currency: str, duty: RuleOverride, tax: RuleOverride) -> RuleFile:
    def entered(kind: str, override: RuleOverride, **values: Any) -> dict[str, Any]:
        head = {"id": override.rule, "source": override.source, "as_of": override.day, "status": "owner"}
        return {**head, "kind": kind, **values}

    percent = Decimal(str(duty.value))
    low = country.lower()
    base = "assumed for a country without rules: freight counts, and tax is charged on duty"
    data = {
        "applies_to": [country],
        "currency": currency,
        "rule": [
            entered("duty-default", duty, percent=percent, low=percent, high=percent),
            entered("tax", tax, percent=Decimal(str(tax.value))),
            entered("valuation", duty, freight_in_duty_base=True) | {"id": f"{low}.valuation", "note": base},
            entered("tax-base", tax, on=["goods", "freight", "duty"]) | {"id": f"{low}.tax.base", "note": base},
        ],
    }
    return RuleFile.model_validate(data)


@lru_cache(maxsize=1)
def _package_files() -> tuple[RuleFile, ...]:
    folder = resources.files(__package__) / "data"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return tuple(read_rule_file((folder / name).read_text("utf-8"), source=name) for name in names)


def percent_text(percent: Decimal) -> str:
    """A percentage without idle zeros.

    Examples
    --------
    >>> percent_text(Decimal("4.500"))
    '4.5 %'
    """
    text = f"{percent:f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + " %"


def practice_value(id_: str) -> Decimal:
    """The value of a practice of this package; raises KeyError."""
    for file in _package_files():
        for rule in file.rule:
            if rule.id == id_ and isinstance(rule, Practice) and rule.value is not None:
                return rule.value
    raise KeyError(id_)


def read_rule_file(text: str, *, source: str) -> RuleFile:
    """A rule file, validated.

    Parameters
    ----------
    text : TOML
    source : its name, for the place of a problem

    Raises
    ------
    Refused
        with every fault found
    """
    try:
        data = tomllib.loads(text, parse_float=Decimal)
        read = RuleFile.model_validate(data)
    except tomllib.TOMLDecodeError as error:
        raise Refused([Problem(source, "not-toml", f"not TOML: {error}", "", "Correct the file.")]) from None
    except ValidationError as error:
        raise Refused(_problem(detail, data, source) for detail in error.errors(include_url=False)) from None
    repeated = {rule.id for rule in read.rule if sum(other.id == rule.id for other in read.rule) > 1}
    if repeated:
        raise Refused(
            Problem(f"{source}, rule {id_}", "repeated-id", "several rules have this id", id_, "Give each its own.")
            for id_ in repeated
        )
    return read


def _problem(detail: Any, data: Mapping[str, Any], source: str) -> Problem:
    loc = list(detail["loc"])
    where = source
    if len(loc) > 1 and loc[0] == "rule":
        rule = data["rule"][loc[1]]
        where += f", rule {rule.get('id', loc[1] + 1)}"
        loc = loc[3:]
    where += "".join(f", {step}" for step in loc)
    got = detail.get("input")
    shown = "" if isinstance(got, dict | list) else str(got)
    return Problem(where, "rule", detail["msg"], shown, "Correct the rule.")


def rules_from(files: Iterable[RuleFile], country: str) -> RuleSet:
    """The rule set of a country from rule files; raises Refused if none of them is a destination file for it."""
    mine = [file for file in files if country in file.applies_to or "*" in file.applies_to]
    homes = [file for file in mine if country in file.applies_to]
    if not homes:
        raise no_rules(country)
    currency = next((file.currencies[country] for file in homes if country in file.currencies), homes[0].currency)
    if currency is None:
        raise no_rules(country, "there is no currency")
    market = frozenset(member for file in mine for member in file.single_market) or frozenset({country})
    rules = {rule.id: rule for file in mine for rule in file.rule}
    return RuleSet(country, currency, market, tuple(rules.values()))
