"""What is wrong with rules that each read well but do not go together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import Any

from ..build.problem import Problem
from .kinds import Fee, Rounding, Surtax, Tax, TaxBase
from .rules_of_day import decides

_PARTS = ("goods", "freight", "duty", "fees")


def rule_problems(rules: Sequence[Any], source: str) -> Iterable[Problem]:
    """Overlapping rules, names of nothing, and bases that rest on themselves.

    Parameters
    ----------
    rules : of one country, in the order of their files
    source : the destination, for the place of a problem
    """
    yield from _overlaps(rules, source)
    yield from _lost_names(rules, source)
    yield from _cycles(rules, source)


def _overlaps(rules: Sequence[Any], source: str) -> Iterable[Problem]:
    deciding: dict[tuple[str, ...], list[Any]] = {}
    for rule in rules:
        deciding.setdefault(decides(rule), []).append(rule)
    for group in deciding.values():
        for one, other in combinations(group, 2):
            if one.meets(other) and one.id not in other.instead_of and other.id not in one.instead_of:
                what = f"it and {other.id} both decide the {one.kind} of the same goods on the same days"
                do = "End one before the other begins, narrow one (streams, buyer, sent_from, regions, members, gift), "
                do += "or let one stand instead_of the other."
                yield Problem(f"{source}, rule {one.id}", "overlapping", what, "", do)


def _lost_names(rules: Sequence[Any], source: str) -> Iterable[Problem]:
    places = {rule.id: place for place, rule in enumerate(rules)}
    groups = {rule.only_one_of for rule in rules if isinstance(rule, Surtax)}
    for place, rule in enumerate(rules):
        for field, named, before in _names(rule):
            where = f"{source}, rule {rule.id}, {field}"
            if field == "unless" and named in groups:
                continue
            if named not in places:
                yield Problem(
                    where, "names-nothing", "there is no such rule", named, "Name a rule of this destination."
                )
            elif before and places[named] > place:
                what = f"{named} stands after it in the file, and rules are worked out in the order of the file"
                yield Problem(where, "names-later", what, named, f"Put {named} before {rule.id}.")


def _names(rule: Any) -> Iterable[tuple[str, str, bool]]:
    """The rules a rule names, in which field, and whether they have to stand before it."""
    yield from (("instead_of", name, False) for name in rule.instead_of)
    if isinstance(rule, Tax):
        yield from (("on", name, name != rule.id) for name in rule.on or () if name not in _PARTS)
    if isinstance(rule, Surtax):
        yield from (("unless", name, name != rule.id) for name in rule.unless)
    if isinstance(rule, Rounding):
        yield from (("of", name, False) for name in rule.of)


def _cycles(rules: Sequence[Any], source: str) -> Iterable[Problem]:
    rests = _rests_on(rules)
    told: set[frozenset[str]] = set()
    for start in rests:
        path = _way_back(start, rests)
        if path is not None and frozenset(path) not in told:
            told.add(frozenset(path))
            chain = " rests on ".join([*path, path[0]])
            do = "Take one of them out of the base of another."
            yield Problem(
                f"{source}, rule {_first_rule(path, rules)}", "cyclic", f"a base rests on itself: {chain}", "", do
            )


def _rests_on(rules: Sequence[Any]) -> Mapping[str, Sequence[str]]:
    """What each charge needs to be known first."""
    base = {part for rule in rules if isinstance(rule, TaxBase) for part in rule.on}
    taxes = [rule for rule in rules if isinstance(rule, Tax)]
    needs: dict[str, list[str]] = {"fees": []}
    for tax in taxes:
        needs[tax.id] = [
            part for part in (base if tax.on is None else tax.on) if part not in ("goods", "freight", "duty")
        ]
    for fee in rules:
        if isinstance(fee, Fee):
            needs["fees"].append(fee.id)
            of_charges = fee.percent > 0 and fee.of == "charges"
            needs[fee.id] = [tax.id for tax in taxes if tax.meets(fee)] if of_charges else []
    for rule in rules:
        if isinstance(rule, Surtax):
            needs[rule.id] = list(rule.unless)
        if rule.instead_of:
            needs.setdefault(rule.id, []).extend(name for name in rule.instead_of if name != rule.id)
            if rule.id in rule.instead_of:
                needs[rule.id].append(rule.id)
    return needs


def _way_back(start: str, rests: Mapping[str, Sequence[str]]) -> list[str] | None:
    """The shortest chain from a charge back to itself."""
    paths = [[start]]
    seen = set[str]()
    while paths:
        path = paths.pop(0)
        for need in sorted(rests.get(path[-1], ())):
            if need == start:
                return path
            if need not in seen:
                seen.add(need)
                paths.append([*path, need])
    return None


def _first_rule(path: Sequence[str], rules: Sequence[Any]) -> str:
    return next(str(rule.id) for rule in rules if rule.id in path)
