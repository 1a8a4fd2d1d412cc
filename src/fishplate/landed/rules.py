"""Rules of import as data: read, validated, resolved for a day, overridden by the owner in sight.

A rule file is TOML: `applies_to` (countries, or "*"), and for a destination `currency`, where goods move without import
`single_market`, and where taxes differ inside it `regions`. Each `[[rule]]` has an id, a kind from `kinds`, a status, a
source and, where known, `valid_from`, `valid_to` (last day) and `as_of` (day it was last checked). A new destination is
a new file; see docs/how-to-add-a-jurisdiction.md.
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
from ..build.field_faults import fault_words
from ..build.problem import Problem
from .kinds import Practice, RuleFile, Scope
from .overrides import overridden
from .rule_faults import file_problems, overlapping, rule_problems
from .rules_of_day import RulesOfDay, decides, no_rules, percent_text

__all__ = ["RuleSet", "load_rules", "percent_text", "practice_value", "read_rule_file", "rules_from"]

_ANY = Scope()


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Every rule that bears on goods brought to one country.

    Parameters
    ----------
    country, currency : the destination, and the currency its charges are reckoned in
    single_market : countries between which nothing is imported
    rules : in the order of their files
    regions : code and name of each province or state that taxes differ by
    """

    country: str
    currency: str
    single_market: frozenset[str]
    rules: tuple[Any, ...]
    regions: Mapping[str, str] = field(default_factory=dict)
    _days: dict[tuple[date, Scope], RulesOfDay] = field(default_factory=dict, compare=False, repr=False)
    _with: dict[tuple[RuleOverride, ...], tuple[RuleSet, tuple[str, ...]]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def on(self, day: date, scope: Scope = _ANY) -> RulesOfDay:
        """The rules as they stand on a day for goods that come in one way; raises Refused for an unknown region."""
        key = day, scope
        if key not in self._days:
            known = replace(scope, region=self.region_code(scope.region))
            self._days[key] = RulesOfDay(self, day, known)
        return self._days[key]

    def region_code(self, text: str) -> str:
        """The code of a region given by code or name; "" where taxes do not differ inside the country.

        Raises
        ------
        Refused
            if there is no such region
        """
        if not text or not self.regions:
            return ""
        wanted = text.strip().casefold().removeprefix(f"{self.country.casefold()}-")
        for code, name in self.regions.items():
            if wanted in (code.casefold(), name.casefold()):
                return code
        known = ", ".join(f"{code} {name}" for code, name in self.regions.items())
        raise Refused([Problem("owner, region", "unknown-region", f"not one of {known}", text, "Enter one of these.")])

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
            id_ = override.rule.partition("/")[0]
            try:
                rules[id_] = _within_its_days(overridden(rules.get(id_), override), rules)
            except KeyError:
                unused.append(f"the override {override.rule} names no rule for {self.country} and is not used")
        return replace(self, rules=tuple(rules.values()), _days={}, _with={}), tuple(unused)


def _within_its_days(own: Any, rules: Mapping[str, Any]) -> Any:
    """A rule with the owner's value; it keeps its days where without them it would stand beside another one's."""
    was = rules.get(own.id)
    others = (rule for rule in rules.values() if rule.id != own.id and decides(rule) == decides(own))
    if was is None or not any(overlapping(own, rule) for rule in others):
        return own
    return own.model_copy(update={"valid_from": was.valid_from, "valid_to": was.valid_to})


def load_rules(
    country: str,
    overrides: Sequence[RuleOverride] = (),
    *,
    currency: str | None = None,
    own: tuple[tuple[str, str], ...] = (),
) -> RuleSet:
    """The rules for goods brought to a country, from the data of this package and the user's own files.

    Parameters
    ----------
    country : ISO 3166 code of the destination
    overrides : the owner's own values; `xx.duty` and `xx.tax` stand in where a country xx has no rules
    currency : currency the charges of such a country are reckoned in
    own : name and text of each rule file of the user's own

    Raises
    ------
    Refused
        if the country has no rules and none were entered, or an own file cannot be

    Examples
    --------
    >>> load_rules("NL").on(date(2026, 11, 24)).tax.percent
    Decimal('21.0')
    """
    try:
        return _rules_with(country, own)
    except Refused:
        entered = {item.rule: item for item in overrides}
        duty, tax = entered.get(f"{country.lower()}.duty"), entered.get(f"{country.lower()}.tax")
        if duty is None or tax is None or currency is None:
            raise
        files = [*_package_files(country), *_own_files(country, own)]
        return rules_from([*files, _entered_file(country, currency, duty, tax)], country)


def destinations() -> tuple[str, ...]:
    """Countries whose rules this package holds."""
    heads = [_head(text) for _, text in _package_texts()]
    return tuple(sorted({country for head in heads for country in head["applies_to"] if country != "*"}))


@lru_cache(maxsize=32)
def _rules_with(country: str, own: tuple[tuple[str, str], ...]) -> RuleSet:
    return rules_from([*_package_files(country), *_own_files(country, own)], country)


def _own_files(country: str, own: tuple[tuple[str, str], ...]) -> list[RuleFile]:
    """The user's own files that bear on a country; every one is read, so that a fault is told early."""
    files, problems = [], list[Problem]()
    for name, text in own:
        try:
            files.append(_package_file(name, text))
        except Refused as refused:
            problems += refused.problems
    if problems:
        raise Refused(problems)
    return [file for file in files if {"*", country}.intersection(file.applies_to)]


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
    return _validated(data, "the owner's own figures")


@lru_cache(maxsize=1)
def _package_texts() -> tuple[tuple[str, str], ...]:
    folder = resources.files(__package__) / "data"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return tuple((name, (folder / name).read_text("utf-8")) for name in names)


def _head(text: str) -> dict[str, Any]:
    """What a rule file says before its first rule; only the files of one country are read whole."""
    return tomllib.loads(text.split("[[rule]]", 1)[0])


@lru_cache(maxsize=32)
def _package_files(country: str) -> tuple[RuleFile, ...]:
    found = [(name, text) for name, text in _package_texts() if {"*", country}.intersection(_head(text)["applies_to"])]
    return tuple(_package_file(name, text) for name, text in found)


@lru_cache(maxsize=32)
def _package_file(name: str, text: str) -> RuleFile:
    return read_rule_file(text, source=name)


def practice_value(id_: str) -> Decimal:
    """The value of a practice that holds everywhere; raises KeyError."""
    found = practice_of(id_).value
    if found is None:
        raise KeyError(id_)
    return found


def practice_of(id_: str) -> Practice:
    """A practice that holds everywhere; raises KeyError."""
    for file in _package_files("*"):
        for rule in file.rule:
            if rule.id == id_ and isinstance(rule, Practice):
                return rule
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
    except tomllib.TOMLDecodeError as error:
        raise Refused([Problem(source, "not-toml", f"not TOML: {error}", "", "Correct the file.")]) from None
    read = _validated(data, source)
    repeated = {rule.id for rule in read.rule if sum(other.id == rule.id for other in read.rule) > 1}
    if repeated:
        raise Refused(
            Problem(f"{source}, rule {id_}", "repeated-id", "several rules have this id", id_, "Give each its own.")
            for id_ in repeated
        )
    return read


# What a field of a rule file holds, by the pattern that says so.
_SHAPES = {
    "^[0-9]{2,10}$": ("not a tariff heading", "Use 2 to 10 digits without dots."),
    r"^([A-Z]{2}|\*)$": ("not a country code", 'Use two capital letters, such as DE or GB, or "*" for all.'),
}


def _validated(data: dict[str, Any], source: str) -> RuleFile:
    try:
        return RuleFile.model_validate(data)
    except ValidationError as error:
        raise Refused(_problem(detail, data, source) for detail in error.errors(include_url=False)) from None


def _problem(detail: Any, data: Mapping[str, Any], source: str) -> Problem:
    loc = list(detail["loc"])
    where = source
    if len(loc) > 1 and loc[0] == "rule":
        rule = data["rule"][loc[1]]
        name = rule.get("id") if isinstance(rule, dict) else None
        where += f", rule {loc[1] + 1 if name is None else name}"
        loc = loc[3:]
    where += "".join(f", {step + 1 if isinstance(step, int) else step}" for step in loc)
    code, what, do = fault_words(detail)
    context = detail.get("ctx", {})
    if detail["type"].startswith("union_tag"):
        what = "its kind is missing" if "tag" not in context else f"{context['tag']!r} is no kind of rule"
        do = "Give one of those in how to add a jurisdiction."
    elif context.get("pattern") in _SHAPES:
        what, do = _SHAPES[context["pattern"]]
    got = detail.get("input")
    shown = "" if isinstance(got, dict | list) else str(got)
    return Problem(where, code, what, shown, do)


def rules_from(files: Iterable[RuleFile], country: str) -> RuleSet:
    """The rule set of a country from rule files.

    Raises
    ------
    Refused
        if none of them is a destination file for it, or its rules do not go together
    """
    mine = [file for file in files if country in file.applies_to or "*" in file.applies_to]
    homes = [file for file in mine if country in file.applies_to]
    if not homes:
        raise no_rules(country)
    currency = next((file.currencies[country] for file in homes if country in file.currencies), homes[0].currency)
    if currency is None:
        do = 'Name it before the first rule, as in currency = "EUR".'
        what = f"the file for {country} does not say in which currency its charges are"
        raise Refused([Problem(f"destination {country}", "no-currency", what, "", do)])
    market = frozenset(member for file in mine for member in file.single_market) or frozenset({country})
    rules = tuple(rule for file in mine for rule in file.rule)
    where = f"destination {country}"
    problems = tuple(file_problems(mine, where)) or tuple(rule_problems(rules, where))
    if problems:
        raise Refused(problems)
    regions = {code: name for file in homes for code, name in file.regions.items()}
    return RuleSet(country, currency, market, rules, regions)
