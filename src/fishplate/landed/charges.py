"""Duty, tax and fees of one declaration, worked out from the rules of the day, in the rules' currency.

One pass, in the order the law has it: allowance and relief, customs value, duty, tax, waiver. Each step reads one rule.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_HALF_UP, Decimal
from typing import Literal

from .allowance import free_worth
from .figures import limit_words
from .kinds import Allowance, Fee, Relief, ReturningGoods, RuleBase, Surtax, TravellerFlat, Waiver
from .limits import plain, under, within
from .rules_of_day import DutyChoice, RulesOfDay, percent_text
from .travel import TravelGrant

ZERO = Decimal(0)
NOTHING = Decimal("1e-12")
Convert = Callable[[Decimal, str], Decimal]


@dataclass(frozen=True, slots=True)
class Position:
    """Goods of one line of the declaration.

    Parameters
    ----------
    value : customs worth without freight; intrinsic : worth the limits are compared with
    items : how many indivisible items make it up; proof : a proof of origin is at hand
    """

    label: str
    value: Decimal
    intrinsic: Decimal
    items: int = 1
    heading: str | None = None
    origin: str | None = None
    proof: bool = False


@dataclass(frozen=True, slots=True)
class Declaration:
    """What is declared together, in the rules' currency.

    Parameters
    ----------
    freight, inland : transport to the border and beyond it
    seller_collects : the tax of this consignment is collected at the sale
    travel : what a traveller's goods are free of; None where they are not carried, or nothing is counted
    entry_fee : what the carrier of the owner's route asks for the entry; None: none is entered
    returning : the goods were sent out of the country and come back as they were
    beside : worth of the supplier's other goods that the plan divided from these
    """

    positions: tuple[Position, ...]
    freight: Decimal
    inland: Decimal = ZERO
    divided: bool = False
    seller_collects: bool = False
    travel: TravelGrant | None = None
    entry_fee: Decimal | None = None
    returning: bool = False
    beside: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Charge:
    """One charge, with the rule it rests on and what the rate was applied to.

    Parameters
    ----------
    exact : the amount before it was rounded, which a waiver is compared with; None where nothing was rounded
    """

    kind: Literal["duty", "tax", "fee"]
    label: str
    amount: Decimal
    rule: RuleBase
    of: Decimal | None = None
    note: str = ""
    exact: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Assessment:
    """Charges of a declaration.

    Parameters
    ----------
    charges : duty, tax and fees by rule, each counted once
    advanced : duty and tax collected on entry, which a carrier advances
    by_seller : tax the seller collects at the sale
    rules : every rule touched
    whole : worth of the goods, with that of what the plan divided from them
    free : worth of what a travel allowance or an excess relief covered
    denied : the relief that was not given because the plan divided an order
    """

    charges: tuple[Charge, ...]
    advanced: Decimal
    by_seller: tuple[Charge, ...]
    rules: tuple[RuleBase, ...]
    intrinsic: Decimal
    whole: Decimal
    free: Decimal
    denied: RuleBase | None = None


@dataclass(slots=True)
class _Desk:
    """One declaration being worked out."""

    declared: Declaration
    rules: RulesOfDay
    convert: Convert
    choice: DutyChoice
    touched: list[RuleBase] = field(default_factory=list)

    @property
    def intrinsic(self) -> Decimal:
        """What limits are compared with."""
        return sum((line.intrinsic for line in self.declared.positions), ZERO) * self.rules.valuation.factor

    @property
    def whole(self) -> Decimal:
        """What limits would be compared with if the plan had not divided the order."""
        beside = ZERO if _is_carried(self) else self.declared.beside
        return self.intrinsic + beside * self.rules.valuation.factor

    def fee_worth(self, fee: Fee) -> Decimal:
        """What the steps and limits of a fee are compared with: dividing an order never spares its fees.

        The authority's are those of the whole order; a carrier charges for each parcel, and its table goes by that.
        """
        begin = self.rules.fees_begin if self.declared.divided and not _is_carried(self) else None
        worth = self.whole if fee.by == "authority" else self.intrinsic
        return worth if begin is None else max(worth, self.convert(*begin))


@dataclass(frozen=True, slots=True)
class _Relieved:
    """What is left to charge of duty and of tax, which rule exempts it from what, and what went free."""

    left: Mapping[str, Declaration]
    exempt: Mapping[str, RuleBase]
    free: Decimal = ZERO


def assess(declared: Declaration, rules: RulesOfDay, convert: Convert, duty: DutyChoice = "used") -> Assessment:
    """Duty, tax and fees of a declaration.

    Parameters
    ----------
    declared : the goods
    rules : of the day, for goods that come in this way
    convert : a limit's amount and currency to the rules' currency
    duty : which end of a doubtful rate to use; "preference" where the proof of origin is at hand
    """
    desk = _Desk(declared, rules, convert, duty)
    relieved = _relieved(desk)
    flat = _flat_applies(desk)
    duties = _duty_charges(desk, relieved, flat=flat)
    on_entry = list(duties)
    at_sale: tuple[Charge, ...] = ()
    if declared.seller_collects:
        at_sale = tuple(_taxes(desk, declared, ZERO, ZERO, at_sale=True))
    else:
        on_entry += _entry_taxes(desk, relieved, duties, ZERO)
    on_entry, waived = _waived(desk, on_entry)
    due = sum((charge.amount for charge in on_entry), ZERO)
    fees = [] if "fees" in relieved.exempt or (waived and not due) else _fees(desk, due)
    if "fees" in rules.tax_base.on and due and not declared.seller_collects:
        in_base = sum((fee.amount for fee in fees), ZERO) + (declared.entry_fee or ZERO)
        on_entry = [*duties, *_entry_taxes(desk, relieved, duties, in_base)]
        due = sum((charge.amount for charge in on_entry), ZERO)
    desk.touched += [charge.rule for charge in (*on_entry, *at_sale, *fees)]
    desk.touched += [rules.valuation, rules.tax_base]
    if declared.seller_collects and rules.seller_collects:
        desk.touched.append(rules.seller_collects)
    unique = tuple({rule.id: rule for rule in desk.touched}.values())
    denied = _denied(desk, flat=flat)
    return Assessment((*on_entry, *fees), due, at_sale, unique, desk.intrinsic, desk.whole, relieved.free, denied)


def _is_carried(desk: _Desk) -> bool:
    return desk.rules.scope.stream == "traveller"


# relief


def _relieved(desk: _Desk) -> _Relieved:
    declared = desk.declared
    whole = {"duty": declared, "tax": declared}
    back = desk.rules.returning if declared.returning else None
    if back is not None:
        desk.touched.append(back)
        return _Relieved(whole, dict.fromkeys(back.exempts, back))
    if _is_carried(desk):
        allowed = declared.travel is not None and declared.travel.rule is not None and not declared.divided
        return _allowed(desk, declared.travel) if declared.travel and allowed else _Relieved(whole, {})
    if declared.divided:
        return _Relieved(whole, {})
    left, exempt, free = dict(whole), dict[str, RuleBase](), ZERO
    for relief in desk.rules.reliefs:
        desk.touched.append(relief)
        limit = desk.convert(relief.limit, relief.currency)
        if _is_within(relief, limit, desk):
            exempt |= dict.fromkeys(relief.exempts, relief)
        elif relief.exceeded != "whole":
            freed = _freed(declared.positions, limit, relief.exceeded)
            kept = _without(declared, freed)
            left |= {charge: kept for charge in relief.exempts if charge in left}
            free = sum(freed, ZERO)
    return _Relieved(left, exempt, free)


def _allowed(desk: _Desk, travel: TravelGrant) -> _Relieved:
    assert travel.rule is not None
    desk.touched.append(travel.rule)
    kept = _without(desk.declared, travel.free)
    exempt = {} if kept.positions else dict.fromkeys(("duty", "tax"), travel.rule)
    return _Relieved({"duty": kept, "tax": kept}, exempt, sum(travel.free, ZERO))


def _is_within(relief: Relief, limit: Decimal, desk: _Desk) -> bool:
    tested, declared = desk.intrinsic, desk.declared
    if relief.tested_on == "goods and freight":
        tested += declared.freight + declared.inland
    if relief.tested_on == "customs value":
        tested = _customs_value(declared, desk.rules, declared.positions)
    return within(tested, limit) if relief.inclusive else under(tested, limit)


def _freed(positions: Sequence[Position], limit: Decimal, exceeded: str) -> tuple[Decimal, ...]:
    each = [line.intrinsic / line.items for line in positions]
    return free_worth(each, [line.items for line in positions], limit, exceeded)


def _without(declared: Declaration, freed: Sequence[Decimal]) -> Declaration:
    """The declaration without what is free; freight goes with the goods, by value."""
    kept, flat = [], []
    flats = declared.travel.flat_value if declared.travel else [ZERO for _ in freed]
    for line, free, flat_value in zip(declared.positions, freed, flats, strict=True):
        share = 1 - free / line.intrinsic if line.intrinsic else ZERO
        if share > NOTHING:
            kept.append(replace(line, value=line.value * share, intrinsic=line.intrinsic - free))
            flat.append(flat_value)
    before, after = _worth(declared.positions), _worth(kept)
    scale = after / before if before else ZERO
    travel = replace(declared.travel, flat_value=tuple(flat)) if declared.travel else None
    return replace(
        declared, positions=tuple(kept), freight=declared.freight * scale, inland=declared.inland * scale, travel=travel
    )


def _denied(desk: _Desk, *, flat: bool) -> RuleBase | None:
    """The relief an order would have had if the plan had not divided it."""
    if not desk.declared.divided or _is_carried(desk):
        return None
    for relief in desk.rules.reliefs:
        if _is_within(relief, desk.convert(relief.limit, relief.currency), desk):
            return relief
    return desk.rules.flat if flat else None


def _exempt(kind: Literal["duty", "tax"], rule: RuleBase) -> Charge:
    label = "duty" if kind == "duty" else "import tax"
    note = "free"
    if isinstance(rule, Relief):
        note = f"free up to {limit_words(rule.limit, rule.currency)} of {rule.tested_on}"
    elif isinstance(rule, Allowance):
        note = f"free within the owner's own allowance of {limit_words(rule.amount, rule.currency)}"
    elif isinstance(rule, ReturningGoods):
        note = "free: goods that come back as they were" + (f" within {rule.years} years" if rule.years else "")
    return Charge(kind, label, ZERO, rule, None, note)


def _waived(desk: _Desk, on_entry: list[Charge]) -> tuple[list[Charge], bool]:
    rule = desk.rules.waiver
    if rule is None or desk.declared.divided:
        return on_entry, False
    owed = [charge.amount if charge.exact is None else charge.exact for charge in on_entry if charge.kind in rule.of]
    due = sum(owed, ZERO).quantize(NOTHING)
    if not (due > ZERO and under(due, desk.convert(rule.below, rule.currency))):
        return on_entry, False
    return [_not_collected(charge, rule) if charge.kind in rule.of else charge for charge in on_entry], True


def _not_collected(charge: Charge, rule: Waiver) -> Charge:
    note = f"{charge.amount:,f} not collected: less than {limit_words(rule.below, rule.currency)} in all"
    return replace(charge, amount=ZERO, rule=rule, note=note)


# duty


def _worth(positions: Sequence[Position]) -> Decimal:
    return sum((line.value for line in positions), ZERO)


def _flat_applies(desk: _Desk) -> bool:
    flat = desk.rules.flat
    if flat is None or _is_carried(desk):
        return False
    return within(desk.intrinsic, desk.convert(flat.limit, flat.currency))


def _duty_charges(desk: _Desk, relieved: _Relieved, *, flat: bool) -> list[Charge]:
    """Duty by heading. Where the plan divided an order, the dearer of tariff and flat duty: dividing never pays."""
    if "duty" in relieved.exempt:
        return [_exempt("duty", relieved.exempt["duty"])]
    left = relieved.left["duty"]
    if _is_carried(desk) and left.travel and left.travel.flat and any(left.travel.flat_value):
        return _travellers_duty(desk, left)
    tariff = _tariff(desk, left)
    if not flat:
        return tariff
    fixed = _flat_duty(desk, left)
    dearer = sum(charge.amount for charge in tariff) > sum(charge.amount for charge in fixed)
    return tariff if desk.declared.divided and dearer else fixed


def _customs_value(declared: Declaration, rules: RulesOfDay, positions: Sequence[Position]) -> Decimal:
    value = _worth(positions) * rules.valuation.factor
    if not rules.valuation.freight_in_duty_base:
        return value
    worth = _worth(declared.positions)
    share = _worth(positions) / worth if worth else Decimal(len(positions)) / len(declared.positions)
    return value + declared.freight * share


def _travellers_duty(desk: _Desk, left: Declaration) -> list[Charge]:
    """The flat rate on what it covers, the tariff on the rest."""
    travel = left.travel
    assert travel is not None
    assert travel.flat is not None
    rule, pairs = travel.flat, list(zip(left.positions, travel.flat_value, strict=True))
    paying: dict[Decimal, list[Position]] = {}
    for line, flat in pairs:
        if flat and line.origin not in rule.free_origins:
            paying.setdefault(_flat_percent(desk, rule, line), []).append(replace(line, value=flat))
    label = "duty and tax" if "tax" in rule.covers else "duty"
    charges = []
    for percent, lines in (paying or {rule.percent: []}).items():
        base = _customs_value(left, desk.rules, lines)
        charge = Charge("duty", label, base * percent / 100, rule, base, f"{percent_text(percent)} of {{}}")
        charges.append(_rounded(desk, charge))
    rest = [replace(line, value=line.value - flat) for line, flat in pairs if line.value - flat > NOTHING]
    return [*charges, *(_tariff(desk, left, rest) if rest else [])]


def _flat_percent(desk: _Desk, rule: TravellerFlat, line: Position) -> Decimal:
    """The flat rate of one line's goods: with the proof of a preferential origin less, where the rule has that."""
    proven = line.proof or desk.choice == "preference"
    if rule.percent_with_proof is None or not (proven and desk.rules.preference(line.origin, line.heading)):
        return rule.percent
    return rule.percent_with_proof


def _tariff(desk: _Desk, left: Declaration, positions: Sequence[Position] | None = None) -> list[Charge]:
    """The tariff and every surtax on each group of goods that pay the same."""
    groups: dict[tuple[str, ...], list[Position]] = {}
    for line in left.positions if positions is None else positions:
        burden = desk.rules.burden(line.heading, line.origin, proof=line.proof, choice=desk.choice)
        groups.setdefault((line.heading or "", *(part.rule.id for part in burden)), []).append(line)
    charges = []
    for lines in groups.values():
        first = lines[0]
        base = _round(desk, "duty-base", _customs_value(left, desk.rules, lines))
        about = f"heading {first.heading}" if first.heading else "heading unknown"
        for part in desk.rules.burden(first.heading, first.origin, proof=first.proof, choice=desk.choice):
            name = part.rule.label if isinstance(part.rule, Surtax) else "duty"
            charge = Charge("duty", f"{name}, {about}", base * part.share, part.rule, base, part.text)
            charges.append(_rounded(desk, charge))
    return charges


def flat_items(headings: Sequence[str | None], digits: int) -> int:
    """Tariff items among goods: distinct headings, and each of the goods whose heading is too short to tell."""
    known = {heading[:digits] for heading in headings if heading and len(heading) >= digits}
    return len(known) + sum(1 for heading in headings if not heading or len(heading) < digits)


def _flat_duty(desk: _Desk, left: Declaration) -> list[Charge]:
    rule = desk.rules.flat
    assert rule is not None
    count = flat_items([line.heading for line in _paying_flat(desk, left)], rule.heading_digits)
    if desk.choice == "low":
        named = {line.heading[: rule.heading_digits] for line in left.positions if line.heading}
        count = max(1, len({name for name in named if len(name) >= rule.heading_digits}))
    each = desk.convert(rule.amount, rule.currency)
    note = f"{limit_words(rule.amount, rule.currency)} for each tariff item, of which there are {count}"
    return [_rounded(desk, Charge("duty", "flat duty", each * count, rule, None, note))]


def _paying_flat(desk: _Desk, left: Declaration) -> list[Position]:
    """Goods of preferential origin may opt for their own, lower rate."""
    with_proof = desk.choice == "preference"
    return [
        line
        for line in left.positions
        if not ((line.proof or with_proof) and desk.rules.preference(line.origin, line.heading))
    ]


# tax


def _entry_taxes(desk: _Desk, relieved: _Relieved, duties: Sequence[Charge], fees: Decimal) -> list[Charge]:
    """Import taxes on entry."""
    if "tax" in relieved.exempt:
        return [_exempt("tax", relieved.exempt["tax"])]
    left = relieved.left["tax"]
    travel = left.travel
    due = list(duties)
    if travel is not None and travel.flat is not None and "tax" in travel.flat.covers and any(travel.flat_value):
        pairs = zip(left.positions, travel.flat_value, strict=True)
        rest = tuple(replace(line, value=line.value - flat) for line, flat in pairs if line.value - flat > NOTHING)
        if not rest:
            return []
        scale = _worth(rest) / _worth(left.positions)
        left = replace(left, positions=rest, freight=left.freight * scale, inland=left.inland * scale)
        due = [charge for charge in duties if charge.rule is not travel.flat]
    duty = sum((charge.amount for charge in due), ZERO)
    return _taxes(desk, left, duty, fees)


def _taxes(desk: _Desk, left: Declaration, duty: Decimal, fees: Decimal, *, at_sale: bool = False) -> list[Charge]:
    """Each tax on its own base; collected at the sale, duty and fees of entry are not yet in it."""
    factor = desk.rules.valuation.factor
    parts = {
        "goods": _worth(left.positions) * factor,
        "freight": left.freight + left.inland,
        "duty": duty,
        "fees": fees,
    }
    charges: list[Charge] = []
    names: dict[str, str] = {}
    for tax in desk.rules.taxes:
        on = [part for part in tax.on or desk.rules.tax_base.on if not (at_sale and part in ("duty", "fees"))]
        base = _round(desk, "tax-base", sum((parts[part] for part in on), ZERO), tax.id)
        share = percent_text(tax.percent) if tax.ratio is None else f"{tax.ratio[0]}/{tax.ratio[1]}"
        what = ", ".join(names.get(part, part) for part in on if part != "fees" or fees)
        charge = Charge("tax", tax.label, base * tax.share, tax, base, f"{share} of {{}} ({what})")
        charges.append(_rounded(desk, charge))
        parts[tax.id], names[tax.id] = charges[-1].amount, tax.label
    return charges


# fees


def _fees(desk: _Desk, due: Decimal) -> list[Charge]:
    return [
        Charge("fee", fee.label, _fee(desk, fee, due), fee, None, _fee_note(desk, fee))
        for fee in desk.rules.fees
        if _is_asked(desk, fee, due)
    ]


def _fee_note(desk: _Desk, fee: Fee) -> str:
    stepped = fee.tiers or fee.above is not None or fee.up_to is not None
    whole = fee.by == "authority" and stepped and desk.whole != desk.intrinsic
    together = "as for all that the plan divided into several consignments" if whole else ""
    return ", ".join(text for text in (_fee_words(fee), together) if text)


def _fee_words(fee: Fee) -> str:
    if fee.tiers:
        return "by steps of the goods' value"
    said = f"{percent_text(fee.percent)} of {fee.of}" if fee.percent else ""
    flat = limit_words(fee.flat, fee.currency) if fee.flat else ""
    return " and ".join(text for text in (flat, said) if text)


def _is_asked(desk: _Desk, fee: Fee, due: Decimal) -> bool:
    if _is_carried(desk) and "traveller" not in fee.streams:
        return False
    if fee.by != "authority" and desk.declared.entry_fee is not None:
        return False
    if fee.when == "charges due" and not due:
        return False
    if fee.free_with_proof and all(
        line.proof and line.origin in fee.free_with_proof for line in desk.declared.positions
    ):
        return False
    worth = desk.fee_worth(fee)
    over = fee.above is None or not within(worth, desk.convert(fee.above, fee.currency))
    return over and (fee.up_to is None or within(worth, desk.convert(fee.up_to, fee.currency)))


def _fee(desk: _Desk, fee: Fee, due: Decimal) -> Decimal:
    base = desk.intrinsic
    if fee.of == "goods and freight":
        base += desk.declared.freight + desk.declared.inland
    return fee_amount(fee, desk.convert, desk.fee_worth(fee), due if fee.of == "charges" else base)


def fee_amount(fee: Fee, convert: Convert, goods: Decimal, base: Decimal) -> Decimal:
    """A fee of the rules, with its own tax, in their currency.

    Parameters
    ----------
    goods : worth the steps are compared with; base : what its percentage is of
    """
    amount = convert(fee.flat, fee.currency) + fee.percent / 100 * base
    # steps are compared in the currency of the fee; a rate of one there keeps them exact
    one = convert(Decimal(1), fee.currency)
    worth = plain(goods / one)
    tier = next((tier for tier in fee.tiers if tier.holds(worth)), None)
    if tier is not None:
        amount += tier.fee * one
    elif fee.tiers:
        amount += _beyond(fee, worth) * one
    amount = max(amount, convert(fee.minimum, fee.currency))
    if fee.maximum is not None:
        amount = min(amount, convert(fee.maximum, fee.currency))
    return amount * (1 + fee.tax_percent / 100)


def _beyond(fee: Fee, worth: Decimal) -> Decimal:
    """Beyond the last step: its fee, and one more for every started amount."""
    last = fee.tiers[-1]
    if not fee.beyond_each:
        return last.fee
    steps = ((worth - (last.to or last.below or ZERO)) / fee.beyond_each).to_integral_value(ROUND_CEILING)
    return last.fee + steps * fee.beyond_fee


# rounding

_MODES = {"half-up": ROUND_HALF_UP, "down": ROUND_DOWN, "up": ROUND_CEILING}


def _round(desk: _Desk, step: str, amount: Decimal, rule_id: str = "") -> Decimal:
    rule = desk.rules.rounding(step, rule_id)
    if rule is None:
        return amount
    desk.touched.append(rule)
    # what a division left of a whole unit is no reason to round it down
    steps = (amount / rule.unit).quantize(NOTHING)
    return steps.quantize(Decimal(1), _MODES[rule.mode]) * rule.unit


def _rounded(desk: _Desk, charge: Charge) -> Charge:
    return replace(charge, amount=_round(desk, charge.kind, charge.amount, charge.rule.id), exact=charge.amount)
