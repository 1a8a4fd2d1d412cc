"""What is wrong with rules that each read well but do not go together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import Any

from ..build.problem import Problem
from .kinds import Fee, OriginTax, Preference, Rounding, RuleFile, Surtax, Tax, TaxBase
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


def file_problems(files: Sequence[RuleFile], source: str) -> Iterable[Problem]:
    """Ids that several files give, and regions and members that none of them knows.

    Parameters
    ----------
    files : that bear on one country; source : the destination, for the place of a problem
    """
    regions = {code for file in files for code in file.regions}
    members = {country for file in files for country in (*file.applies_to, *file.single_market)}
    seen = set[str]()
    for rule in (rule for file in files for rule in file.rule):
        where = f"{source}, rule {rule.id}"
        if rule.id in seen:
            do = "Give it an id of its own; to take the other's place it names it in instead_of."
            yield Problem(where, "repeated-id", "rules of several files have this id", rule.id, do)
        seen.add(rule.id)
        for field, named, known in (("regions", rule.regions, regions), ("members", rule.members, members)):
            for name in (name for name in named if name not in known):
                do = "Name one of the file's [regions]." if field == "regions" else "Name a country of the file."
                yield Problem(f"{where}, {field}", "names-nothing", f"there is no such {field[:-1]}", name, do)


def overlapping(one: Any, other: Any) -> bool:
    """Whether two rules decide the same of the same goods on the same days, and neither gives way to the other."""
    if one.id in other.instead_of or other.id in one.instead_of or not one.meets(other):
        return False
    if isinstance(one, Fee):
        return _below(one, other) and _below(other, one)
    if isinstance(one, Preference):
        return bool(set(one.origins) & set(other.origins)) and (
            one.headings == other.headings or bool(set(one.headings) & set(other.headings))
        )
    return not isinstance(one, Rounding) or one.of == other.of or bool(set(one.of) & set(other.of))


def _below(one: Fee, other: Fee) -> bool:
    """Whether a fee begins before another ends."""
    return other.up_to is None or one.above is None or one.above < other.up_to


def _subject(rule: Any) -> tuple[str, ...]:
    """What rules have to share to be compared at all."""
    match rule:
        case Fee():
            return rule.kind, rule.label
        case Preference():
            return (rule.kind,)
        case Rounding():
            return rule.kind, rule.step
        case _:
            return decides(rule)


def _overlaps(rules: Sequence[Any], source: str) -> Iterable[Problem]:
    deciding: dict[tuple[str, ...], list[Any]] = {}
    for rule in rules:
        deciding.setdefault(_subject(rule), []).append(rule)
    for group in deciding.values():
        for one, other in combinations(group, 2):
            if overlapping(one, other):
                what = f"it and {other.id} both decide the {one.kind} of the same goods on the same days"
                do = "End one before the other begins, narrow one (streams, buyer, sent_from, regions, members, gift), "
                do += "or let one stand instead_of the other."
                yield Problem(f"{source}, rule {one.id}", "overlapping", what, "", do)


def _lost_names(rules: Sequence[Any], source: str) -> Iterable[Problem]:
    places = {rule.id: place for place, rule in enumerate(rules)}
    # a group of surtaxes stands where its last one does
    groups = {rule.only_one_of: place for place, rule in enumerate(rules) if isinstance(rule, Surtax)}
    for place, rule in enumerate(rules):
        for field, named, before in _names(rule):
            where = f"{source}, rule {rule.id}, {field}"
            if field == "unless" and named in groups and named not in places:
                places[named] = groups[named]
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
    if isinstance(rule, OriginTax):
        by = (("stays_by", rule.stays_by), ("refund_by", rule.refund_by))
        yield from ((field, name, False) for field, name in by if name)


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
