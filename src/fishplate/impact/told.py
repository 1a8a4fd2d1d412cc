"""A change in words."""

from __future__ import annotations

from calendar import day_name, month_name
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final

from ..build.base import Noun, ThreePoint
from ..build.document import REFERENCES
from ..build.money import Money
from ..build.words import day_words, joined
from .changes import WORDS, Change
from .seeds import Pair

_KINDS: Final = {
    "parts": "the part", "kits": "the kit", "stock": "what is owned of", "suppliers": "the supplier",
    "offers": "the offer of", "price_changes": "the announced price of", "sale_windows": "the sale of",
    "sightings": "a price seen of", "enquiries": "the enquiry to", "fixed_choices": "the own choice of",
    "routes": "the way home",
    "collections": "the trip of", "workshops": "the workshop", "rates": "the rate of", "rule_overrides": "the own rate",
    "events": "what happened on", "states": "the state", "interfaces": "the interface", "dimensions": "the dimension",
    "readings": "a reading of", "correlations": "what errs together with", "conditions": "the condition",
    "stand_ins": "the stand-in", "settled": "what was seen at", "decisions": "the decision", "edges": "how it bears on",
    "rules": "a rule about", "criteria": "the criterion", "jobs": "the job", "gates": "the gate",
    "allowances": "the allowance", "releases": "what holds the order of", "requirements": "the requirement",
    "evidence": "the evidence", "put_off": "what was put off:", "systems": "the system",
}  # fmt: skip
_HAPPENED: Final = {
    "ordered": "an order is placed", "cancelled": "an order is cancelled", "delayed": "an order comes on another day",
    "arrived": "goods come", "fitted": "a part is fitted", "returned": "a part goes back", "worked": "work is done",
    "changed": "the vehicle changes",
}  # fmt: skip
# Which field names the noun that one is about, and the list of that noun.
_ABOUT: Final = {
    "stock": ("part", "parts"), "offers": ("part", "parts"), "sale_windows": ("supplier", "suppliers"),
    "enquiries": ("supplier", "suppliers"), "sightings": ("offer", "offers"), "readings": ("dimension", "dimensions"),
    "settled": ("interface", "interfaces"), "correlations": ("first", "dimensions"), "edges": ("target", "decisions"),
    "releases": ("part", "parts"), "fixed_choices": ("offer", "offers"),
}  # fmt: skip


_SET_ASIDE: Final = {"small-things": "small things", "discovery": "what only shows once it is apart"}
_UNITS: Final = {"_percent": "%", "_days": "days", "_weeks": "weeks", "_months": "months", "_minutes": "min"}
_DAYS_AND_MONTHS: Final[Mapping[str, Sequence[str]]] = {"weekdays": ("", *day_name), "months": tuple(month_name)}
LONG: Final = 80


def change_words(pair: Pair, changes: Sequence[Change]) -> tuple[str, ...]:
    """Every change that matters, each a sentence."""
    return tuple(dict.fromkeys(_sentence(pair, change) for change in changes if change.matters))


def _sentence(pair: Pair, change: Change) -> str:
    if change.list_name in ("owner", "build"):
        whose = "Your" if change.list_name == "owner" else "The build's"
        if _is_made_of_parts(change.before) or _is_made_of_parts(change.after):
            return f"{whose} {change.id.replace('_', ' ')} are otherwise."
        label, unit = _label(change.id)
        was, now = (_value(value, change.id, unit) for value in (change.before, change.after))
        return f"{whose} {label}: {now}, not {was}."
    if change.list_name == "decisions" and change.id in pair.was.choices and change.id in pair.now.choices:
        return _decision(pair, change)
    head = _head(pair, change)
    if change.before is None and change.list_name == "events" and change.after.kind in _HAPPENED:
        what = _HAPPENED[change.after.kind]
        return f"On {day_words(change.after.day)} {what}."
    if change.before is None:
        return f"{head[:1].upper()}{head[1:]} comes in."
    if change.after is None:
        return f"{head[:1].upper()}{head[1:]} falls away."
    return f"{head[:1].upper()}{head[1:]}: {'; '.join(_fields(pair, change))}."


def _decision(pair: Pair, change: Change) -> str:
    was, now, name = pair.was.choices[change.id], pair.now.choices[change.id], change.after.name
    if was.option.id != now.option.id:
        verb = "is decided for" if now.decided else "is planned with"
        return f"“{name}” {verb} “{now.option.name}”, not “{was.option.name}”."
    if was.decided != now.decided:
        return f"“{name}” is {'decided for' if now.decided else 'open again; the plan goes on by'} “{now.option.name}”."
    return f"“{name}”: {'; '.join(_fields(pair, change))}."


def _head(pair: Pair, change: Change) -> str:
    noun = change.after if change.before is None else change.before
    if change.list_name == "events":
        return f"what happened on {day_words(noun.day)} ({noun.kind})"
    if change.list_name == "collections":
        return f"the trip of {day_words(noun.day)}"
    return f"{_KINDS.get(change.list_name, change.list_name)} “{_name(pair, change.list_name, noun)}”"


def _name(pair: Pair, list_name: str, noun: Any) -> str:
    if name := getattr(noun, "name", ""):
        return str(name)
    if list_name == "allowances":
        what = _SET_ASIDE.get(noun.kind, noun.kind)
        return f"{what}, {pair.find('systems', noun.system).name}" if noun.system else what
    field, target = _ABOUT.get(list_name, ("", ""))
    id_ = getattr(noun, field, None) if field else None
    if id_ is not None:
        return _name(pair, target, pair.find(target, id_))
    for field, target in (("kit", "kits"), ("offer", "offers"), ("supplier", "suppliers")):
        if getattr(noun, field, None):
            return _name(pair, target, pair.find(target, getattr(noun, field)))
    return str(next((getattr(noun, f) for f in ("currency", "rule", "option", "what", "id") if hasattr(noun, f)), ""))


def _fields(pair: Pair, change: Change) -> Iterator[str]:
    targets = REFERENCES.get(change.list_name, {})
    for name in sorted(change.fields - WORDS):
        before, after = getattr(change.before, name, None), getattr(change.after, name, None)
        label, unit = _label(name)
        if name in targets and isinstance(before, tuple) and isinstance(after, tuple):
            yield from _come_and_gone(pair, targets[name], label, before, after)
            continue
        if name in targets:
            was, now = (_quoted(pair, targets[name], id_) if id_ else "none" for id_ in (before, after))
        else:
            was, now = _value(before, name, unit), _value(after, name, unit)
        short = len(was) + len(now) < LONG and not _is_made_of_parts(before) and not _is_made_of_parts(after)
        yield f"{label} {now}, not {was}" if short else f"{label} is otherwise"


def _come_and_gone(
    pair: Pair, list_name: str, label: str, before: Sequence[str], after: Sequence[str]
) -> Iterator[str]:  # fmt: skip
    """What a list of things has besides, and what it has no longer."""
    for words, ids in (
        ("also", [id_ for id_ in after if id_ not in before]),
        ("no longer", [id_ for id_ in before if id_ not in after]),
    ):
        if ids:
            yield f"{label} {words} {joined([_quoted(pair, list_name, id_) for id_ in ids])}"
    if set(before) == set(after):
        yield f"{label} in another order"


def _quoted(pair: Pair, list_name: str, id_: str) -> str:
    try:
        return f"“{_name(pair, list_name, pair.find(list_name, id_))}”"
    except KeyError:
        return f"“{id_}”"


def _label(field: str) -> tuple[str, str]:
    """What a field is called, and the unit its name ends in."""
    for end, unit in _UNITS.items():
        if field.endswith(end):
            return field.removesuffix(end).replace("_", " "), unit
    return field.replace("_", " "), ""


def _is_made_of_parts(value: Any) -> bool:
    """Whether a value holds nouns of its own, which no short word tells."""
    nouns = value if isinstance(value, tuple) else (value,)
    return any(isinstance(noun, Noun) and not isinstance(noun, ThreePoint) for noun in nouns)


def _value(value: Any, field: str = "", unit: str = "") -> str:
    after = f" {unit}" if unit else ""
    match value:
        case None | "" | ():
            return "none"
        case bool():
            return "yes" if value else "no"
        case int() if field in _DAYS_AND_MONTHS:
            return _DAYS_AND_MONTHS[field][value]
        case float() | int():
            return f"{value:g}{after.removesuffix('s') if value == 1 else after}"
        case date():
            return day_words(value)
        case Money():
            return f"{value.amount:f} {value.currency}"
        case ThreePoint():
            low, likely, high = value.low, value.likely, value.high
            return f"{likely:g}{after}" if low == likely == high else f"{low:g}, {likely:g} or {high:g}{after}"
        case tuple():
            return ", ".join(_value(item, field, unit) for item in value)
        case _:
            return str(value)
