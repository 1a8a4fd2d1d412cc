"""What a traveller's goods are free of: the allowance and the flat rate above it, for everything one trip carries."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from .allowance import free_worth
from .kinds import Allowance, TravellerFlat
from .limits import within
from .model import TravelAllowance
from .rules_of_day import RulesOfDay

ZERO = Decimal(0)
Convert = Callable[[Decimal, str], Decimal]


@dataclass(frozen=True, slots=True)
class Carried:
    """Goods of one line a traveller carries, in the rules' currency.

    Parameters
    ----------
    value : customs worth; counted : worth the allowance is compared with
    items : how many indivisible items make it up; duty : what the tariff would take of it [fraction]
    allowed : whether the allowance may cover it; not what the plan made by dividing an order
    """

    value: Decimal
    counted: Decimal
    items: int
    duty: Decimal
    origin: str | None = None
    allowed: bool = True


@dataclass(frozen=True, slots=True)
class TravelGrant:
    """What one trip's goods are free of, line by line.

    Parameters
    ----------
    rule : the allowance; free : worth it covers of each line, as counted
    flat : the flat rate; flat_value : customs worth of each line that pays it
    """

    rule: Allowance | None
    free: tuple[Decimal, ...]
    flat: TravellerFlat | None
    flat_value: tuple[Decimal, ...]

    def part(self, first: int, last: int) -> TravelGrant:
        """The grant of some lines of the trip."""
        return TravelGrant(self.rule, self.free[first:last], self.flat, self.flat_value[first:last])


def allowance_rule(allowance: TravelAllowance, rules: RulesOfDay) -> Allowance | None:
    """The allowance that fits the journey; the lowest where the way of travel is not known."""
    absence = Decimal(str(allowance.absence_hours))
    fitting = [
        rule
        for rule in rules.allowances
        if (allowance.travel is None or rule.travel in ("any", allowance.travel))
        and rule.fits(absence, allowance.days_since_last)
    ]
    if not fitting:
        return None
    longest = max(rule.absence_hours for rule in fitting)
    long = [rule for rule in fitting if rule.absence_hours == longest]
    named = [rule for rule in long if allowance.travel is not None and rule.travel == allowance.travel]
    return min(named or long, key=lambda rule: (rule.amount, rule.id))


def travel_grant(
    carried: Sequence[Carried],
    allowance: TravelAllowance | None,
    rules: RulesOfDay,
    convert: Convert,
    left: Decimal | None,
) -> TravelGrant:
    """How the owner's allowance and the flat rate fall on the goods of one trip.

    Parameters
    ----------
    allowance : how the owner travels; None: not known, and nothing is free
    convert : an amount and its currency to the rules' currency
    left : what is left of the allowance, in the rules' currency; None: all
    """
    rule = None if allowance is None else allowance_rule(allowance, rules)
    allowance = allowance or TravelAllowance()
    free = tuple(ZERO for _ in carried) if rule is None else _freed(carried, rule, allowance, convert, left)
    kept = [
        goods.value * (1 - one / goods.counted) if goods.counted else goods.value
        for goods, one in zip(carried, free, strict=True)
    ]
    since = allowance.days_since_last
    flat = next(
        (
            found
            for found in _longest(rules.traveller_flats)
            if found.absence_hours <= allowance.absence_hours and (since is None or since >= found.every_days)
        ),
        None,
    )
    values = tuple(ZERO for _ in carried)
    if flat is not None:
        values = _flat_values(carried, kept, flat, _pooled(convert(flat.limit, flat.currency), flat.pooling, allowance))
    return TravelGrant(rule, free, flat, values)


def _longest(flats: Sequence[TravellerFlat]) -> list[TravellerFlat]:
    return sorted(flats, key=lambda rule: -rule.absence_hours)


def _pooled(amount: Decimal, pooling: str, allowance: TravelAllowance) -> Decimal:
    return amount * allowance.persons if pooling == "household" else amount


def _freed(
    carried: Sequence[Carried], rule: Allowance, allowance: TravelAllowance, convert: Convert, left: Decimal | None
) -> tuple[Decimal, ...]:
    limit = convert(rule.amount, rule.currency)
    whole = _pooled(limit, rule.pooling, allowance)
    whole = whole if left is None else min(whole, left)
    using = [goods if goods.allowed and (not rule.dutiable_only or goods.duty) else None for goods in carried]
    each = [goods.counted / goods.items if goods else ZERO for goods in using]
    counts = [goods.items if goods else 0 for goods in using]
    if rule.pooling == "joint" and allowance.persons > 1 and left is None:
        return _joint(each, counts, limit, allowance.persons)
    return free_worth(each, counts, whole, rule.exceeded)


def _joint(each: Sequence[Decimal], counts: Sequence[int], limit: Decimal, persons: int) -> tuple[Decimal, ...]:
    """One declaration of several persons: an item above one limit is taxed whole; of the rest, above all limits
    together, everything but the limits of all persons less one."""
    worth = [value * count if within(value, limit) else ZERO for value, count in zip(each, counts, strict=True)]
    total = sum(worth, ZERO)
    if within(total, persons * limit):
        return tuple(worth)
    return tuple(value * (persons - 1) * limit / total for value in worth)


def _flat_values(
    carried: Sequence[Carried], kept: Sequence[Decimal], rule: TravellerFlat, limit: Decimal
) -> tuple[Decimal, ...]:
    if rule.exceeded == "whole":
        return tuple(kept) if within(sum(kept, ZERO), limit) else tuple(ZERO for _ in kept)
    flat = [ZERO for _ in kept]
    for place in sorted(range(len(carried)), key=lambda place: (-carried[place].duty, place)):
        if carried[place].duty:
            flat[place] = min(kept[place], limit)
            limit -= flat[place]
    return tuple(flat)
