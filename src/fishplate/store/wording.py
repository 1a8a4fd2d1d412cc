"""Changes in words: "price of offer hub-a: 38.50 EUR → 41.00 EUR"."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from .model import Change, Deed

SINGULAR = {
    "build": "build", "systems": "system", "parts": "part", "kits": "kit", "stock": "stock", "suppliers": "supplier",
    "offers": "offer", "sightings": "sighting", "price_changes": "price change", "sale_windows": "sale window",
    "enquiries": "enquiry", "fixed_choices": "own choice",
    "routes": "route", "collections": "collection", "workshops": "workshop",
    "rates": "exchange rate", "rule_overrides": "rule override", "events": "event", "states": "state",
    "interfaces": "interface", "dimensions": "dimension", "readings": "reading", "correlations": "correlation",
    "conditions": "condition", "stand_ins": "stand-in", "settled": "settled interface", "decisions": "decision",
    "edges": "edge", "rules": "rule", "criteria": "criterion", "jobs": "job", "gates": "gate",
    "allowances": "allowance", "releases": "release", "requirements": "requirement", "evidence": "evidence",
    "put_off": "put-off action",
}  # fmt: skip

LONGEST = 80


def noun_words(list_name: str, id_: str) -> str:
    """A noun by its kind and id.

    Examples
    --------
    >>> noun_words("offers", "hub-a"), noun_words("build", "hours_per_week")
    ('offer hub-a', 'hours per week of the build')
    """
    if list_name == "build":
        return f"{_spaced(id_)} of the build"
    return f"{SINGULAR.get(list_name, list_name)} {id_}"


def value_words(value: Any) -> str:
    """A value of a field, short enough for a line.

    Examples
    --------
    >>> value_words({"amount": "38.5", "currency": "EUR"}), value_words(None), value_words([])
    ('38.50 EUR', 'not set', 'none')
    """
    text = _value(value)
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def _value(value: Any) -> str:
    match value:
        case None:
            return "not set"
        case bool():
            return "yes" if value else "no"
        case float():
            return f"{value:.10g}"
        case {"amount": amount, "currency": currency}:
            return _money(str(amount), str(currency))
        case {"low": low, "likely": likely, "high": high}:
            return f"{_value(low)} / {_value(likely)} / {_value(high)}"
        case Mapping():
            return ", ".join(f"{_spaced(key)} {_value(each)}" for key, each in value.items()) or "none"
        case str():
            return " ".join(value.split()) or "none"
        case Sequence():
            return ", ".join(_value(each) for each in value) or "none"
        case _:
            return str(value)


def _money(amount: str, currency: str) -> str:
    whole, _, cents = amount.partition(".")
    return f"{whole}.{cents:0<2} {currency}"


def change_words(change: Change) -> tuple[str, ...]:
    """What a change did, a sentence for each field.

    Examples
    --------
    >>> change_words(Change("parts", "hub", {"id": "hub", "quantity": 2.0}, {"id": "hub"}))
    ('quantity of part hub: not set → 2',)
    """
    what = noun_words(*change.key)
    if change.list_name == "build" and not (isinstance(change.before, dict) and isinstance(change.after, dict)):
        return (f"{what}: {value_words(change.before)} → {value_words(change.after)}",)
    if change.before is None:
        return (f"{what} added{_named(change.after)}",)
    if change.after is None:
        return (f"{what} removed{_named(change.before)}",)
    if change.before == change.after:
        return (f"{what} moved in its list",)
    return tuple(
        f"{path} of {what}: {value_words(before)} → {value_words(after)}"
        for path, before, after in _fields(change.before, change.after)
    )


def _named(noun: Any) -> str:
    name = noun.get("name") if isinstance(noun, Mapping) else None
    return f": {value_words(name)}" if name else ""


def _fields(before: Mapping[str, Any], after: Mapping[str, Any], head: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Fields that differ, by path."""
    for key in [*before, *(key for key in after if key not in before)]:
        old, new = before.get(key), after.get(key)
        if old == new:
            continue
        path = head + _spaced(key)
        named_old, named_new = _by_id(old), _by_id(new)
        if named_old is not None and named_new is not None and named_old == named_new:
            yield path, list(named_old), list(named_new)
        elif named_old is not None and named_new is not None:
            yield from _fields(named_old, named_new, f"{path}, ")
        elif isinstance(old, dict) and isinstance(new, dict) and _is_record(old) and _is_record(new):
            yield from _fields(old, new, f"{path}, ")
        else:
            yield path, old, new


def _by_id(value: Any) -> Mapping[str, Any] | None:
    """A list of things with ids as a mapping; None for anything else."""
    if not isinstance(value, list) or not value or not all(isinstance(each, dict) and "id" in each for each in value):
        return None
    return {each["id"]: {key: field for key, field in each.items() if key != "id"} for each in value}


def _is_record(value: Mapping[str, Any]) -> bool:
    return "amount" not in value and "likely" not in value


def _spaced(name: str) -> str:
    return name.replace("_", " ")


def batch_words(changes: Sequence[Change], *, most: int = 20) -> tuple[str, ...]:
    """What a batch did: sentences up to a number of them, then a count by kind.

    Examples
    --------
    >>> batch_words([Change("parts", "a", {}), Change("parts", "b", {}), Change("jobs", "c", {})], most=1)
    ('2 parts added', '1 job added')
    """
    sentences = [sentence for change in changes for sentence in change_words(change)]
    if len(sentences) <= most:
        return tuple(sentences)
    return count_words(Counter((change.list_name, _deed(change)) for change in changes))


def count_words(counts: Mapping[tuple[str, Deed], int]) -> tuple[str, ...]:
    """What a batch did, counted by list and deed.

    Examples
    --------
    >>> count_words({("parts", "added"): 2000, ("jobs", "changed"): 1})
    ('2000 parts added', '1 job changed')
    """
    return tuple(f"{_counted(count, name)} {deed}" for (name, deed), count in counts.items())


def _deed(change: Change) -> Deed:
    if change.before is None:
        return "added"
    if change.after is None:
        return "removed"
    return "moved" if change.before == change.after else "changed"


def _counted(count: int, list_name: str) -> str:
    if list_name == "build":
        return f"{count} of the build's own fields"
    return f"{count} {SINGULAR.get(list_name, list_name) if count == 1 else _spaced(list_name)}"
