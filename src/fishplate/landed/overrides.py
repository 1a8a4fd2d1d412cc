"""The owner's own rate or fee in place of a rule's, with own source and date, in sight."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from ..build.commerce import RuleOverride
from ..build.errors import Refused
from ..build.field_faults import fault_words
from ..build.money import known_currencies
from ..build.problem import Problem
from .kinds import DutyRate, Exchange

# What an override that names only a rule puts its value into.
_MAIN_FIELD = {
    "duty-rate": "percent",
    "duty-default": "percent",
    "surtax": "percent",
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
    "valuation": "factor",
}
_NO_TABLE = {
    "percent": Decimal(0), "minimum": Decimal(0), "maximum": None, "tiers": (), "beyond_each": None,
    "beyond_fee": Decimal(0),
}  # fmt: skip


def overridden(rule: Any, override: RuleOverride) -> Any:
    """A rule with the owner's value.

    Parameters
    ----------
    rule : the rule the override names, None if there is none; `duty.<heading>` then makes a rate for that heading
    override : names a rule, for its main value, or one value of it as `rule/value`: `us.mpf.formal/minimum`, or
        `au.exchange/USD` for the rate of customs as the authority prints it

    Raises
    ------
    KeyError
        if it names no rule, or no value of one
    Refused
        if the value cannot be
    """
    _, _, field = override.rule.partition("/")
    if override.value < 0:
        where = f"rule override {override.rule}, value"
        raise Refused([Problem(where, "negative", "below zero", str(override.value), "Enter zero or more.")])
    said = f"set by the owner: {override.source}, {override.day}"
    known = {"source": override.source, "as_of": override.day, "status": "owner", "note": said}
    value = Decimal(str(override.value))
    if rule is None:
        return _own_rate(override, value, known)
    main = _MAIN_FIELD.get(rule.kind)
    field = field or main or ""
    if isinstance(rule, Exchange) and field in known_currencies():
        return _changed(rule, override, {"printed": {**rule.printed, field: value}, **known})
    if not _is_number(rule, field):
        raise KeyError(override.rule)
    changed = {field: value, **known, "valid_from": None, "valid_to": None}
    if rule.kind == "duty-default" and field == "percent":
        changed |= {"low": value, "high": value}
    if rule.kind == "tax" and field == "percent":
        changed |= {"ratio": None}
    if rule.kind == "fee" and not override.rule.partition("/")[1]:
        changed |= _NO_TABLE
    return _changed(rule, override, changed)


def _changed(rule: Any, override: RuleOverride, changed: dict[str, Any]) -> Any:
    return _validated(type(rule), override, {**rule.model_dump(), **changed})


def _validated(kind: type[Any], override: RuleOverride, values: dict[str, Any]) -> Any:
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        _, what, _ = fault_words(error.errors(include_url=False)[0])
        where = f"rule override {override.rule}, value"
        raise Refused([Problem(where, "not-possible", what, str(override.value), "Enter another value.")]) from None


def main_field(rule: Any) -> str | None:
    """The value of a rule that an override naming only the rule replaces; None where it has none."""
    field = _MAIN_FIELD.get(rule.kind)
    return field if field is not None and _is_number(rule, field) else None


def _own_rate(override: RuleOverride, value: Decimal, known: dict[str, Any]) -> DutyRate:
    """A duty rate of the owner's for a heading the tables lack; raises KeyError if the id is of no such form."""
    id_ = override.rule.partition("/")[0]
    prefix, _, digits = id_.partition(".")
    if prefix != "duty" or not digits.isdigit() or len(digits) not in (4, 6, 8, 10):
        raise KeyError(override.rule)
    values = {"id": id_, "kind": "duty-rate", "heading": digits, "percent": value, **known}
    found = _validated(DutyRate, override, values)
    assert isinstance(found, DutyRate)
    return found


def _is_number(rule: Any, field: str) -> bool:
    if field not in type(rule).model_fields or field in ("id", "note", "url"):
        return False
    now = getattr(rule, field)
    return isinstance(now, Decimal) or (now is None and field in ("percent", "maximum", "above", "up_to", "value"))
