"""Duty and tax of one declaration, worked out from the rules of the day, in the rules' currency.

One pass, in the order the law has it: allowance and relief, customs value, duty, tax, waiver. Each step reads one rule.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_HALF_UP, Decimal
from typing import Literal

from .allowance import free_worth
from .kinds import Allowance, Fee, Relief, RuleBase, Waiver
from .rules import FoundRate, RulesOfDay, percent_text

ZERO = Decimal(0)
NOTHING = Decimal("1e-12")
Convert = Callable[[Decimal, str], Decimal]


@dataclass(frozen=True, slots=True)
class Position:
    """Goods of one line of the declaration.

    Parameters
    ----------
    value : customs worth without freight; intrinsic : worth the limits are compared with
    items : how many indivisible items make it up
    """

    label: str
    value: Decimal
    intrinsic: Decimal
    items: int = 1
    heading: str | None = None
    origin: str | None = None


@dataclass(frozen=True, slots=True)
class Declaration:
    """What is declared together, in the rules' currency.

    Parameters
    ----------
    freight, inland : transport to the border and beyond it
    stream : "sent" comes by post or courier, "carried" comes with the owner
    seller_collects : the tax of this consignment is collected at the sale
    allowance : what is left of the owner's travel allowance and what happens above it; None: not counted
    """

    positions: tuple[Position, ...]
    freight: Decimal
    inland: Decimal = ZERO
    stream: Literal["sent", "carried"] = "sent"
    private: bool = True
    divided: bool = False
    seller_collects: bool = False
    allowance: tuple[RuleBase, Decimal, str] | None = None


@dataclass(frozen=True, slots=True)
class Charge:
    """One charge, with the rule it rests on and what the rate was applied to."""

    kind: Literal["duty", "tax", "fee"]
    label: str
    amount: Decimal
    rule: RuleBase
    of: Decimal | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Assessment:
    """Charges of a declaration.

    Parameters
    ----------
    charges : duty, tax and fees by rule, each counted once
    advanced : duty and tax collected on entry, which a carrier advances
    by_seller : tax the seller collects at the sale
    rules : every rule touched
    free : worth of what a travel allowance or an excess relief covered
    denied : the relief that was not given because the plan divided an order
    """

    charges: tuple[Charge, ...]
    advanced: Decimal
    by_seller: Charge | None
    rules: tuple[RuleBase, ...]
    intrinsic: Decimal
    free: Decimal
    denied: RuleBase | None = None


DutyChoice = Literal["used", "low", "high", "preference"]


def assess(declared: Declaration, rules: RulesOfDay, convert: Convert, duty: DutyChoice = "used") -> Assessment:
    """Duty, tax and fees of a declaration.

    Parameters
    ----------
    declared : the goods
    rules : of the day
    convert : a limit's amount and currency to the rules' currency
    duty : which end of a doubtful rate to use; "preference" where the proof of origin is at hand
    """
    touched: list[RuleBase] = []
    intrinsic = sum((position.intrinsic for position in declared.positions), ZERO) * rules.valuation.factor
    left, exempt, free = _relieved(declared, rules, convert, intrinsic, touched)
    flat = _flat_applies(left, rules, convert, intrinsic)
    if "duty" in exempt:
        duties = [_exempt("duty", exempt["duty"])]
    else:
        duties = [_rounded(charge, rules, touched) for charge in _duties(left, rules, convert, duty, flat=flat)]
    at_sale = declared.seller_collects
    if "tax" in exempt:
        tax = _exempt("tax", exempt["tax"])
    else:
        tax = _rounded(_tax(left, rules, duties, at_sale=at_sale), rules, touched)
    on_entry = duties if at_sale else [*duties, tax]
    due = sum((charge.amount for charge in on_entry), ZERO)
    if rules.waiver and ZERO < due < convert(rules.waiver.below, rules.waiver.currency):
        on_entry, due = [_waived(charge, rules.waiver) for charge in on_entry], ZERO
    fees = [] if declared.stream == "carried" else _fees(rules, convert, intrinsic, due)
    touched += [charge.rule for charge in (*on_entry, tax, *fees)]
    touched += [rules.valuation, rules.tax_base]
    if at_sale and rules.seller_collects:
        touched.append(rules.seller_collects)
    unique = tuple({rule.id: rule for rule in touched}.values())
    denied = _denied(declared, rules, convert, intrinsic, flat=flat)
    return Assessment((*on_entry, *fees), due, tax if at_sale else None, unique, intrinsic, free, denied)


def _exempt(kind: Literal["duty", "tax"], rule: RuleBase) -> Charge:
    label = "duty" if kind == "duty" else "import tax"
    note = "free"
    if isinstance(rule, Relief):
        note = f"free up to {rule.limit:f} {rule.currency} of {rule.tested_on}"
    elif isinstance(rule, Allowance):
        note = f"free within the owner's own allowance of {rule.amount:f} {rule.currency}"
    return Charge(kind, label, ZERO, rule, None, note)


def _waived(charge: Charge, rule: Waiver) -> Charge:
    note = f"{charge.amount:f} not collected: less than {rule.below:f} {rule.currency} in all"
    return replace(charge, amount=ZERO, rule=rule, note=note)


def _denied(
    declared: Declaration, rules: RulesOfDay, convert: Convert, intrinsic: Decimal, *, flat: bool
) -> RuleBase | None:
    """The relief an order would have had if the plan had not divided it."""
    if not declared.divided or declared.stream == "carried":
        return None
    for relief in rules.reliefs:
        if _is_within(relief, convert(relief.limit, relief.currency), intrinsic, declared):
            return relief
    return rules.flat if flat else None


def _relieved(
    declared: Declaration, rules: RulesOfDay, convert: Convert, intrinsic: Decimal, touched: list[RuleBase]
) -> tuple[Declaration, dict[str, RuleBase], Decimal]:
    """What is left to charge, which rule exempts it from what, and what went free."""
    if declared.stream == "carried":
        if declared.allowance is None:
            return declared, {}, ZERO
        rule, limit, exceeded = declared.allowance
        touched.append(rule)
        return _without_free(declared, rule, limit, exceeded)
    exempt: dict[str, RuleBase] = {}
    for relief in rules.reliefs:
        if declared.divided:
            continue
        touched.append(relief)
        limit = convert(relief.limit, relief.currency)
        if _is_within(relief, limit, intrinsic, declared):
            exempt.update(dict.fromkeys(relief.exempts, relief))
        elif relief.exceeded != "whole":
            return _without_free(declared, relief, limit, relief.exceeded)
    return declared, exempt, ZERO


def _is_within(relief: Relief, limit: Decimal, intrinsic: Decimal, declared: Declaration) -> bool:
    tested = intrinsic + (declared.freight + declared.inland if relief.tested_on == "goods and freight" else ZERO)
    return tested <= limit if relief.inclusive else tested < limit


def _without_free(
    declared: Declaration, rule: RuleBase, limit: Decimal, exceeded: str
) -> tuple[Declaration, dict[str, RuleBase], Decimal]:
    """The declaration without its free items; freight goes with the goods, by value."""
    each = [position.intrinsic / position.items for position in declared.positions]
    freed = free_worth(each, [position.items for position in declared.positions], limit, exceeded)
    kept = []
    for position, free in zip(declared.positions, freed, strict=True):
        share = 1 - free / position.intrinsic if position.intrinsic else ZERO
        if share > NOTHING:
            kept.append(replace(position, value=position.value * share, intrinsic=position.intrinsic - free))
    before, after = _worth(declared.positions), _worth(kept)
    scale = after / before if before else ZERO
    left = replace(declared, positions=tuple(kept), freight=declared.freight * scale, inland=declared.inland * scale)
    return left, {} if kept else {"duty": rule, "tax": rule}, sum(freed, ZERO)


def _worth(positions: Sequence[Position]) -> Decimal:
    return sum((position.value for position in positions), ZERO)


def _flat_applies(declared: Declaration, rules: RulesOfDay, convert: Convert, intrinsic: Decimal) -> bool:
    flat = rules.flat
    return (
        flat is not None
        and declared.stream == "sent"
        and (declared.private or not flat.private_only)
        and intrinsic <= convert(flat.limit, flat.currency)
    )


def _duties(
    declared: Declaration, rules: RulesOfDay, convert: Convert, choice: DutyChoice, *, flat: bool
) -> list[Charge]:
    """Duty by heading. Where the plan divided an order, the dearer of tariff and flat duty: dividing never pays."""
    if declared.stream == "carried" and rules.traveller_flat:
        rule = rules.traveller_flat
        if _worth(declared.positions) <= convert(rule.limit, rule.currency):
            base = _customs_value(declared, rules, declared.positions)
            return [
                Charge("duty", "duty", base * rule.percent / 100, rule, base, f"{percent_text(rule.percent)} of {{}}")
            ]
    tariff = _tariff(declared, rules, choice)
    if not flat:
        return tariff
    fixed = _flat_duty(declared, rules, convert, choice)
    dearer = sum(charge.amount for charge in tariff) > sum(charge.amount for charge in fixed)
    return tariff if declared.divided and dearer else fixed


def _customs_value(declared: Declaration, rules: RulesOfDay, positions: Sequence[Position]) -> Decimal:
    value = _worth(positions) * rules.valuation.factor
    if not rules.valuation.freight_in_duty_base:
        return value
    worth = _worth(declared.positions)
    share = _worth(positions) / worth if worth else Decimal(len(positions)) / len(declared.positions)
    return value + declared.freight * share


def _share(rate: FoundRate, position: Position, rules: RulesOfDay, choice: DutyChoice) -> tuple[Decimal, RuleBase]:
    if choice == "preference" and (preference := rules.preference(position.origin)):
        return min(rate.used, preference.percent / 100), preference
    if choice == "low":
        return rate.low, rate.rule
    if choice == "high":
        return rate.high, rate.rule
    return rate.used, rate.rule


def _tariff(declared: Declaration, rules: RulesOfDay, choice: DutyChoice) -> list[Charge]:
    groups: dict[tuple[str, str], list[Position]] = {}
    for position in declared.positions:
        share, rule = _share(rules.duty_rate(position.heading), position, rules, choice)
        groups.setdefault((rule.id, position.heading or ""), []).append(position)
    charges = []
    for positions in groups.values():
        rate = rules.duty_rate(positions[0].heading)
        share, rule = _share(rate, positions[0], rules, choice)
        base = _customs_value(declared, rules, positions)
        label = f"duty, heading {positions[0].heading}" if positions[0].heading else "duty, heading unknown"
        note = f"{percent_text(share * 100)} of {{}}, {rate.text}"
        charges.append(Charge("duty", label, base * share, rule, base, note))
    return charges


def flat_items(headings: Sequence[str | None], digits: int) -> int:
    """Tariff items among goods: distinct headings, and each of the goods whose heading is too short to tell."""
    known = {heading[:digits] for heading in headings if heading and len(heading) >= digits}
    return len(known) + sum(1 for heading in headings if not heading or len(heading) < digits)


def _flat_duty(declared: Declaration, rules: RulesOfDay, convert: Convert, choice: DutyChoice) -> list[Charge]:
    rule = rules.flat
    assert rule is not None
    headings = [position.heading for position in declared.positions]
    count = flat_items(headings, rule.heading_digits)
    if choice == "low":
        named = {heading[: rule.heading_digits] for heading in headings if heading}
        count = max(1, len({name for name in named if len(name) >= rule.heading_digits}))
    if choice == "preference":
        count = flat_items(
            [p.heading for p in declared.positions if not rules.preference(p.origin)], rule.heading_digits
        )
    each = convert(rule.amount, rule.currency)
    note = f"{rule.amount:f} {rule.currency} for each tariff item, of which there are {count}"
    return [Charge("duty", "flat duty", each * count, rule, None, note)]


def _tax(declared: Declaration, rules: RulesOfDay, duties: Sequence[Charge], *, at_sale: bool) -> Charge:
    """Import tax on entry, or the same rate collected at the sale, where duty is not yet in the base."""
    on, rule = rules.tax_base.on, rules.tax
    base = _worth(declared.positions) * rules.valuation.factor
    if "freight" in on:
        base += declared.freight + declared.inland
    if "duty" in on and not at_sale:
        base += sum((charge.amount for charge in duties), ZERO)
    what = ", ".join(("goods", *(part for part in on if part != "goods" and not (at_sale and part == "duty"))))
    return Charge(
        "tax", "import tax", base * rule.percent / 100, rule, base, f"{percent_text(rule.percent)} of {{}} ({what})"
    )


def _fees(rules: RulesOfDay, convert: Convert, intrinsic: Decimal, due: Decimal) -> list[Charge]:
    return [
        Charge("fee", fee.label, fee_amount(fee, convert, intrinsic, due), fee)
        for fee in rules.fees
        if fee.when == "always" or due
    ]


def fee_amount(fee: Fee, convert: Convert, goods: Decimal, charges: Decimal) -> Decimal:
    """A fee of the rules, with its own tax, in their currency."""
    amount = convert(fee.flat, fee.currency) + fee.percent / 100 * (charges if fee.of == "charges" else goods)
    for tier in fee.tiers:
        if tier.to is None or goods <= convert(tier.to, fee.currency):
            amount += convert(tier.fee, fee.currency)
            break
    amount = max(amount, convert(fee.minimum, fee.currency))
    if fee.maximum is not None:
        amount = min(amount, convert(fee.maximum, fee.currency))
    return amount * (1 + fee.tax_percent / 100)


_MODES = {"half-up": ROUND_HALF_UP, "down": ROUND_DOWN, "up": ROUND_CEILING}


def _rounded(charge: Charge, rules: RulesOfDay, touched: list[RuleBase]) -> Charge:
    rule = rules.rounding.get("duty" if charge.kind == "duty" else "tax")
    if rule is None:
        return charge
    touched.append(rule)
    steps = (charge.amount / rule.unit).quantize(Decimal(1), _MODES[rule.mode])
    return replace(charge, amount=steps * rule.unit)
