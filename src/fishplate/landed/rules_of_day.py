"""The rules that bear on goods that come in one way on one day, by what they decide."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import product
from typing import TYPE_CHECKING, Any, Literal

from ..build.errors import Refused
from ..build.problem import Problem
from .kinds import (
    Allowance,
    DutyDefault,
    DutyRate,
    Exchange,
    Fee,
    FeeTax,
    FlatDuty,
    Notice,
    OriginTax,
    Practice,
    Preference,
    Relief,
    ReturningGoods,
    Rounding,
    RuleBase,
    Scope,
    SellerCollects,
    Surtax,
    Tax,
    TaxBase,
    TravellerFlat,
    Valuation,
    Waiver,
)

if TYPE_CHECKING:
    from .rules import RuleSet

ZERO = Decimal(0)
JUST_ABOVE = Decimal("0.01")
DutyChoice = Literal["used", "low", "high", "preference"]
Match = Literal["yes", "maybe", "no"]


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
class DutyPart:
    """One duty on goods of a heading and origin: the tariff, or a surtax on top [fraction of customs value]."""

    rule: RuleBase
    share: Decimal
    text: str


def matched(prefixes: Sequence[str], heading: str | None) -> Match:
    """Whether a heading lies under one of some headings; maybe, where it is given to fewer digits than they have.

    Examples
    --------
    >>> matched(["87089953", "870830"], "8708305090"), matched(["87089953"], "870899"), matched(["870830"], "8409")
    ('yes', 'maybe', 'no')
    """
    if not prefixes:
        return "yes"
    if heading is None:
        return "maybe"
    if any(heading.startswith(prefix) for prefix in prefixes):
        return "yes"
    return "maybe" if any(prefix.startswith(heading) for prefix in prefixes) else "no"


class RulesOfDay:
    """The rules that hold on one day for goods that come in one way.

    A relief, waiver or flat duty out of its validity is not used. A rule without which nothing can be reckoned
    (valuation, rate, tax) is used after its last day too, and says so.

    Parameters
    ----------
    region_assumed : the region was not given, and the one with the dearest tax stands in
    """

    def __init__(self, rules: RuleSet, day: date, scope: Scope) -> None:
        self.set, self.day = rules, day
        self.region_assumed = bool(rules.regions) and not scope.region
        self.scope = replace(scope, region=_dearest_region(rules, day, scope)) if self.region_assumed else scope
        self._mine = [rule for rule in rules.rules if rule.is_for(self.scope, rules.country)]
        holding = _in_force(self._mine, day)
        self._holding = {rule.id: rule for rule in holding}
        self.valuation: Valuation = self._needed(Valuation)
        self.tax_base: TaxBase = self._needed(TaxBase)
        self.duty_default: DutyDefault = self._needed(DutyDefault)
        self.taxes: tuple[Tax, ...] = self._taxes()
        self.flat: FlatDuty | None = self._one(FlatDuty)
        self.seller_collects: SellerCollects | None = self._one(SellerCollects)
        self.waiver: Waiver | None = self._one(Waiver)
        self.returning: ReturningGoods | None = self._one(ReturningGoods)
        self.fee_tax: FeeTax | None = self._one(FeeTax)
        self.exchange: Exchange | None = self._one(Exchange)
        self.traveller_flats: tuple[TravellerFlat, ...] = self._all(TravellerFlat)
        self.reliefs: tuple[Relief, ...] = self._all(Relief)
        self.surtaxes: tuple[Surtax, ...] = self._all(Surtax)
        self.allowances: tuple[Allowance, ...] = self._all(Allowance)
        self.preferences: tuple[Preference, ...] = self._all(Preference)
        self.notices: tuple[Notice, ...] = self._all(Notice)
        self.roundings: tuple[Rounding, ...] = self._all(Rounding)
        fees: tuple[Fee, ...] = self._all(Fee)
        self.fees = tuple(fee for fee in fees if fee.status == "owner" or not fee.is_hint_on(day))
        self.hints = tuple(fee for fee in fees if fee not in self.fees)
        self.tax_weights = _tax_weights(self.taxes, self.tax_base)
        self._rates = self._latest_rates()
        self._found: dict[str | None, FoundRate] = {}
        self._matches: dict[tuple[str, str | None], Match] = {}
        self._burdens: dict[tuple[str | None, str | None, bool, DutyChoice], tuple[DutyPart, ...]] = {}

    @property
    def fees_begin(self) -> tuple[Decimal, str] | None:
        """The least goods value that no relief spares the fees of entry, with its currency; None if none spares any."""
        sparing = [rule for rule in self.reliefs if "fees" in rule.exempts]
        highest = max(sparing, key=lambda rule: rule.limit, default=None)
        return None if highest is None else (highest.limit + JUST_ABOVE, highest.currency)

    @property
    def tax(self) -> Tax:
        """The first of the import taxes."""
        return self.taxes[0]

    @property
    def tax_share(self) -> Decimal:
        """All import taxes together on goods without duty [fraction]."""
        return self.tax_weights.get("goods", ZERO)

    def _all(self, kind: type[Any]) -> tuple[Any, ...]:
        return tuple(rule for rule in self._holding.values() if isinstance(rule, kind))

    def _one(self, kind: type[Any]) -> Any:
        return next((rule for rule in self._holding.values() if isinstance(rule, kind)), None)

    def _needed(self, kind: type[Any]) -> Any:
        held = self._one(kind)
        found = [held] if held else [rule for rule in self._mine if isinstance(rule, kind)]
        if not found:
            raise self._lacks(kind.model_fields["kind"].annotation.__args__[0])
        return max(found, key=lambda rule: rule.valid_from or date.min)

    def _lacks(self, kind: str) -> Refused:
        scope = self.scope
        what = f"there is no rule of the kind {kind} for goods by {scope.stream}, for a "
        what += "private person" if scope.private else "business"
        do = "Add one to the rules of this destination: without it nothing can be reckoned."
        return Refused([Problem(f"destination {self.set.country}", "no-rules", what, "", do)])

    def _taxes(self) -> tuple[Tax, ...]:
        held = tuple(rule for rule in self._all(Tax) if rule.member in (None, self.set.country))
        return held or (self._latest_tax(),)

    def _latest_tax(self) -> Tax:
        past = [rule for rule in self._mine if isinstance(rule, Tax) and rule.member in (None, self.set.country)]
        if not past:
            raise self._lacks("tax")
        return max(past, key=lambda rule: rule.valid_from or date.min)

    def _latest_rates(self) -> dict[str, DutyRate]:
        rates: dict[str, DutyRate] = {}
        for rule in self._mine:
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
        return next((rule for rule in self._all(OriginTax) if rule.country == country), None)

    def member_tax(self, country: str) -> Tax | None:
        """The tax of a country of the single market."""
        return next((rule for rule in self._all(Tax) if rule.member == country), None)

    def rounding(self, step: str, rule_id: str = "") -> Rounding | None:
        """How a step is rounded, for the tax with an id where it is one of tax; what names that tax comes first."""
        fitting = [rule for rule in self.roundings if rule.step == step and (not rule.of or rule_id in rule.of)]
        return max(fitting, key=lambda rule: bool(rule.of), default=None)

    def preference(self, origin: str | None, heading: str | None = None) -> Preference | None:
        """The agreement under which goods of an origin enter at a lower rate, if any; the longest heading that fits."""
        fitting = [
            rule for rule in self.preferences if origin in rule.origins and matched(rule.headings, heading) == "yes"
        ]
        return max(fitting, key=lambda rule: _digits_matched(rule.headings, heading), default=None)

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
        known = default.low == default.high
        what = f"heading {heading} is not in the table" if heading else "no heading is given"
        text = f"{what}: {percent_text(default.percent)} used"
        text += "" if known else f", usually between {default.low:f} and {percent_text(default.high)}"
        return FoundRate(default, default.percent / 100, default.low / 100, default.high / 100, known, text)

    def burden(
        self, heading: str | None, origin: str | None, *, proof: bool = False, choice: DutyChoice = "used"
    ) -> tuple[DutyPart, ...]:
        """Every duty on goods of a heading and origin.

        Parameters
        ----------
        proof : a proof of origin is at hand
        choice : which end of a doubtful rate to use; "preference" as if the proof were at hand
        """
        key = heading, origin, proof, choice
        if key not in self._burdens:
            if choice in ("low", "high"):
                ends = tuple(self._possible(heading, origin, proof=proof))
                pick = min if choice == "low" else max
                self._burdens[key] = pick(ends, key=_total)
            else:
                proven = proof or choice == "preference"
                self._burdens[key] = self._duties(heading, origin, self.duty_rate(heading).used, proof=proven)
        return self._burdens[key]

    def _possible(self, heading: str | None, origin: str | None, *, proof: bool) -> Iterable[tuple[DutyPart, ...]]:
        """Every way the duty of goods may fall out, where heading, origin or a rule are not certain."""
        rate = self.duty_rate(heading)
        origins = [origin] if origin else self._telling_origins()
        yield self._duties(heading, origin, rate.used, proof=proof)
        tariffs = sorted({rate.low, rate.high})
        for tariff, maker, maybe, doubtful in product(tariffs, origins, (True, False), (True, False)):
            yield self._duties(heading, maker, tariff, proof=proof, maybe=maybe, doubtful=doubtful)

    def _telling_origins(self) -> list[str | None]:
        """No country, and one of those that the same surtaxes and preferences name."""
        naming: tuple[Surtax | Preference, ...] = (*self.surtaxes, *self.preferences)
        named = {country for rule in naming for country in rule.origins}
        named |= {country for rule in self.surtaxes for country in rule.not_origins}
        alike: dict[tuple[str, ...], str] = {}
        for country in sorted(named, reverse=True):
            named_by = [rule.id for rule in naming if country in rule.origins]
            spared_by = [rule.id for rule in self.surtaxes if country in rule.not_origins]
            alike[*named_by, "", *spared_by] = country
        return [None, *sorted(alike.values())]

    def _duties(
        self, heading: str | None, origin: str | None, tariff: Decimal, *, proof: bool, maybe: bool | None = None,
        doubtful: bool = False,
    ) -> tuple[DutyPart, ...]:  # fmt: skip
        """The tariff, then each surtax that applies, in the order of the file."""
        rate = self.duty_rate(heading)
        first = DutyPart(rate.rule, tariff, f"{percent_text(tariff * 100)} of {{}}, {rate.text}")
        preference = self.preference(origin, heading) if proof else None
        if preference is not None and preference.percent / 100 < tariff:
            tariff = preference.percent / 100
            text = f"{percent_text(preference.percent)} of {{}}, with the proof of origin in {origin}"
            first = DutyPart(preference, tariff, text)
        parts, applied = [first], set[str]()
        for rule in self.surtaxes:
            if not self._bears(rule, heading, origin, proof=proof, maybe=maybe, doubtful=doubtful):
                continue
            if rule.only_one_of in applied or applied.intersection(rule.unless):
                continue
            applied |= {rule.id, rule.only_one_of} - {""}
            share = rule.percent / 100
            how = f"{percent_text(rule.percent)} of {{}} on top"
            if rule.operator == "alone":
                return (DutyPart(rule, share, f"{percent_text(rule.percent)} of {{}}, and no other duty"),)
            if rule.operator == "ceiling":
                share = max(ZERO, share - tariff)
                how = f"{percent_text(share * 100)} of {{}}, up to {percent_text(rule.percent)} with the tariff"
            parts.append(DutyPart(rule, share, how))
        return tuple(parts)

    def _bears(
        self, rule: Surtax, heading: str | None, origin: str | None, *, proof: bool, maybe: bool | None, doubtful: bool
    ) -> bool:
        """Whether a surtax is charged; `maybe` counts it where the heading leaves it open, None as is usual."""
        if rule.doubtful and not doubtful:
            return False
        if (rule.origins and origin not in rule.origins) or origin in rule.not_origins:
            return False
        if proof and origin in rule.free_with_proof:
            return False
        found = self._match(rule, heading)
        if found == "maybe" and heading is None:
            usual = rule.no_heading == "counted"
            return rule.no_heading != "left out" and (usual if maybe is None else maybe)
        return found == "yes" or (found == "maybe" and maybe is not False)

    def _match(self, rule: Surtax, heading: str | None) -> Match:
        key = rule.id, heading
        if key not in self._matches:
            spared = bool(rule.not_headings) and matched(rule.not_headings, heading) == "yes"
            self._matches[key] = "no" if spared else matched(rule.headings, heading)
        return self._matches[key]


def _digits_matched(prefixes: Sequence[str], heading: str | None) -> int:
    return max((len(prefix) for prefix in prefixes if heading and heading.startswith(prefix)), default=0)


def _total(parts: tuple[DutyPart, ...]) -> Decimal:
    return sum((part.share for part in parts), ZERO)


def _in_force(mine: Sequence[RuleBase], day: date) -> list[RuleBase]:
    """Rules of the day without those that another takes the place of; a past rule stands in where it says so."""
    holding = [rule for rule in mine if rule.holds_on(day)]
    past = [rule for rule in mine if rule.stands_in and rule.valid_to and rule.valid_to < day]
    decided = {decides(rule) for rule in holding}
    latest = {decides(rule): rule for rule in sorted(past, key=lambda rule: (rule.valid_to or date.min, rule.id))}
    holding += [rule for what, rule in latest.items() if what not in decided]
    replaced = {id_ for rule in holding for id_ in rule.instead_of}
    return [rule for rule in holding if rule.id not in replaced]


def decides(rule: Any) -> tuple[str, ...]:
    """What a rule decides: two rules that decide the same must not hold together."""
    match rule:
        case DutyRate():
            return rule.kind, rule.heading
        case Tax():
            return rule.kind, rule.member or "", rule.label
        case Relief():
            return rule.kind, rule.exceeded, *sorted(rule.exempts)
        case Allowance():
            return rule.kind, rule.travel, str(rule.absence_hours), str(rule.every_days)
        case TravellerFlat():
            return rule.kind, str(rule.absence_hours)
        case Fee():
            return rule.kind, rule.label, str(rule.above or 0), str(rule.up_to or 0)
        case Rounding():
            return rule.kind, rule.step, *rule.of
        case OriginTax():
            return rule.kind, rule.country
        case Surtax() | Preference() | Notice() | Practice():
            return rule.kind, rule.id
        case _:
            return (rule.kind,)


def _tax_weights(taxes: Sequence[Tax], base: TaxBase) -> Mapping[str, Decimal]:
    """What all taxes together take of one unit of goods, freight, duty and fees."""
    of: dict[str, dict[str, Decimal]] = {}
    for tax in taxes:
        weights: dict[str, Decimal] = {}
        for part in base.on if tax.on is None else tax.on:
            for inner, weight in of.get(part, {part: Decimal(1)}).items():
                weights[inner] = weights.get(inner, ZERO) + tax.share * weight
        of[tax.id] = weights
    parts = {part for weights in of.values() for part in weights}
    return {part: sum((weights.get(part, ZERO) for weights in of.values()), ZERO) for part in parts}


def _dearest_region(rules: RuleSet, day: date, scope: Scope) -> str:
    return max(rules.regions, key=lambda code: (_share_in(rules, day, replace(scope, region=code)), code))


def cheapest_region(rules: RuleSet, day: date, scope: Scope) -> str:
    """The region whose taxes are lowest."""
    return min(rules.regions, key=lambda code: (_share_in(rules, day, replace(scope, region=code)), code))


def _share_in(rules: RuleSet, day: date, scope: Scope) -> Decimal:
    """All taxes of a region together, on goods, as far as they are of the base that all share."""
    taxes = [rule for rule in rules.rules if isinstance(rule, Tax) and rule.is_for(scope, rules.country)]
    held = [rule for rule in _in_force(taxes, day) if isinstance(rule, Tax) and rule.member in (None, rules.country)]
    return sum((tax.share for tax in held), ZERO)


def _among(heading: str, rates: list[DutyRate], *, exact: bool) -> FoundRate:
    dearest = max(rates, key=lambda rate: (rate.percent, rate.id))
    low = min(rate.percent for rate in rates)
    same = low == dearest.percent
    near = "lines of" if exact else "lines near"
    text = f"{near} heading {heading}: {percent_text(low)}"
    text += "" if same else f" to {percent_text(dearest.percent)}, the dearest used"
    return FoundRate(dearest, dearest.percent / 100, low / 100, dearest.percent / 100, exact and same, text)


def percent_text(percent: Decimal) -> str:
    """A percentage without idle zeros.

    Examples
    --------
    >>> percent_text(Decimal("4.500"))
    '4.5 %'
    """
    text = f"{percent:f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + " %"


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
                f"Rates can be entered as overrides: {low}.duty and {low}.tax [%], each with its source and day; "
                "or write a rule file of your own.",
            )
        ]
    )
