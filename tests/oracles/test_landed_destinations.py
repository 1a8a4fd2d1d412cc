"""A second reckoning for eight destinations, in fractions and from the rule texts, and the linear model against both.

Nothing of the engine and nothing of its rule files is used in `reckoned`: rates, limits, order and rounding of steps
are written out as the texts have them. The Union has its own reckoning in `test_landed_oracle`.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from math import floor

import pytest

from fishplate.build import Money, Rates
from fishplate.build.commerce import FreightTerms, Route, Supplier
from fishplate.build.owner import Owner
from fishplate.landed import Consignment, Goods, TravelAllowance, charge_bands, landed_cost, load_rules
from fishplate.landed.bands import BandUnits

HOME = {"CA": "CAD", "US": "USD", "GB": "GBP", "CH": "CHF", "NO": "NOK", "AU": "AUD", "NZ": "NZD", "JP": "JPY"}
SCALE = {"NO": 10, "JP": 110}
DAYS = (date(2024, 6, 1), date(2025, 9, 15), date(2026, 3, 10), date(2026, 11, 24))
PROVINCES = {
    "AB": ["5"], "BC": ["5", "7"], "MB": ["5", "7"], "NB": ["15"], "NL": ["15"], "NT": ["5"], "NU": ["5"], "ON": ["13"],
    "PE": ["15"], "QC": ["5", "9.975"], "SK": ["5", "6"], "YT": ["5"],
}  # fmt: skip
TARIFF: Mapping[str, Mapping[str | None, str]] = {
    "CA": {None: "6", "870893": "6", "840991": "0", "731815": "0", "4011100000": "7"},
    "US": {None: "2.5", "87083050": "2.5", "87089981": "2.5", "73181520": "0", "84099150": "2.5"},
    "GB": {None: "4", "87083099": "4", "84099100": "2", "84821090": "8", "87169090": "0"},
    "CH": {None: "0", "870830": "0"},
    "NO": {None: "0", "870830": "0"},
    "AU": {None: "5", "870830": "5"},
    "NZ": {None: "5", "870830": "5"},
    "JP": {None: "0", "870830": "0"},
}
PARTNERS = {"CA": ("US", "MX"), "US": ("CA", "MX"), "GB": ("DE", "FR")}
UNION = ("DE", "FR")
ORIGIN_TAX = {"DE": Fraction(19, 100)}
ON_LIST = ("87083050",)  # the others of the table above are not among the parts that section 232 names


@dataclass
class Line:
    """Goods of one line: worth for customs, for limits and for a traveller's allowance."""

    value: Fraction
    limit: Fraction
    counted: Fraction
    items: int
    heading: str | None
    origin: str | None
    proof: bool


@dataclass
class Entry:
    """One declaration, and the charges found for it."""

    what: Consignment
    owner: Owner
    travel: TravelAllowance | None
    lines: list[Line]
    freight: Fraction
    inland: Fraction
    others: list[Fraction] = field(default_factory=list)
    duty: Fraction = Fraction(0)
    tax: Fraction = Fraction(0)
    at_sale: Fraction = Fraction(0)
    fees: Fraction = Fraction(0)

    @property
    def country(self) -> str:
        return self.owner.country

    @property
    def day(self) -> date:
        return self.what.day

    @property
    def private(self) -> bool:
        return self.owner.private_person

    @property
    def gift(self) -> bool:
        return self.what.gift and self.private

    @property
    def stream(self) -> str:
        kind = self.what.route.kind
        return {"collection": "traveller", "post": "post", "freight": "freight"}.get(kind, "courier")

    @property
    def start(self) -> str:
        return self.what.route.from_country

    @property
    def worth(self) -> Fraction:
        return sum((line.value for line in self.lines), Fraction(0))

    @property
    def limit(self) -> Fraction:
        return sum((line.limit for line in self.lines), Fraction(0))

    @property
    def whole(self) -> Fraction:
        """What fees of the authority by worth, and a seller's limit, go by: all that the plan divided."""
        return self.limit + sum(self.others, Fraction(0))


def frac(text: str | float | Decimal) -> Fraction:
    return Fraction(str(text))


def half_up(amount: Fraction, unit: str) -> Fraction:
    step = frac(unit)
    return floor(amount / step + Fraction(1, 2)) * step


def down(amount: Fraction, unit: str) -> Fraction:
    step = frac(unit)
    return floor(amount / step) * step


def percent(country: str, heading: str | None) -> Fraction:
    return frac(TARIFF[country][heading]) / 100


def tariff_of(entry: Entry, line: Line) -> Fraction:
    partners = PARTNERS.get(entry.country, ())
    if (line.proof and line.origin in partners) or by_mail_alone(entry, line):
        return Fraction(0)
    return percent(entry.country, line.heading)


def grouped(entry: Entry, lines: Iterable[Line]) -> list[list[Line]]:
    """Lines that pay the same duties under one heading are one line of the declaration."""
    groups: dict[tuple[object, ...], list[Line]] = {}
    for line in lines:
        proven = line.proof and line.origin in PARTNERS.get(entry.country, ())
        zero = proven and percent(entry.country, line.heading) > 0
        groups.setdefault((line.heading, zero, surtaxes(entry, line)), []).append(line)
    return list(groups.values())


def by_mail_alone(entry: Entry, line: Line) -> bool:
    """From February to July 2026 mail to the United States paid one rate and no other duty."""
    free = line.proof and line.origin in ("CA", "MX")
    mail = entry.country == "US" and entry.stream == "post" and not free
    return mail and date(2026, 2, 24) <= entry.day <= date(2026, 7, 23)


def surtaxes(entry: Entry, line: Line) -> tuple[tuple[str, Fraction], ...]:
    """Surtaxes on a line, each with its share."""
    if entry.stream == "traveller":
        return ()
    if entry.country == "CA":
        steel = not entry.private and entry.day >= date(2025, 12, 26) and line.heading == "731815"
        return (("steel", Fraction(25, 100)),) if steel else ()
    if entry.country != "US":
        return ()
    found: list[tuple[str, Fraction]] = []
    day, free = entry.day, line.proof and line.origin in ("CA", "MX")
    if by_mail_alone(entry, line):
        return (("mail", Fraction(10, 100)),)
    listed = line.heading is None or line.heading in ON_LIST
    if listed and not free and day >= date(2025, 5, 3):
        deals = {"JP": date(2025, 9, 16), "DE": date(2025, 8, 1), "FR": date(2025, 8, 1), "KR": date(2025, 11, 1)}
        if line.origin in deals and day >= deals[line.origin]:
            group = "EU" if line.origin in UNION else line.origin
            found.append((f"deal {group}", max(Fraction(0), Fraction(15, 100) - tariff_of(entry, line))))
        else:
            found.append(("232", Fraction(25, 100)))
    if not found and not free and date(2026, 2, 24) <= day <= date(2026, 7, 23):
        found.append(("122", Fraction(10, 100)))
    china = line.heading is None or line.heading[:4] in ("8708", "8409", "4011", "8511")
    if line.origin == "CN" and china:
        found.append(("301", Fraction(25, 100)))
    return tuple(found)


def duty_on(
    entry: Entry,
    lines: Sequence[Line],
    *,
    freight: Fraction,
    round_base: str | None,
    round_duty: Callable[[Fraction], Fraction],
) -> Fraction:
    """Tariff and surtaxes on lines; freight to the border goes with them by worth where it counts."""
    worth = sum((line.value for line in lines), Fraction(0))
    total = Fraction(0)
    for group in grouped(entry, lines):
        base = sum((line.value for line in group), Fraction(0))
        if freight:
            base += freight * (base / worth if worth else Fraction(len(group), len(lines)))
        if round_base:
            base = half_up(base, round_base)
        for share in (tariff_of(entry, group[0]), *(share for _, share in surtaxes(entry, group[0]))):
            total += round_duty(base * share)
    return total


# travellers


def best_filling(lines: Sequence[Line], limit: Fraction) -> list[Fraction]:
    """What of each line goes free when whole items fill a limit as well as they can, by trying every set."""
    items = [(place, line.counted / line.items) for place, line in enumerate(lines) for _ in range(line.items)]
    best: tuple[int, ...] = ()
    most = Fraction(-1)
    for size in range(len(items) + 1):
        for chosen in combinations(range(len(items)), size):
            worth = sum((items[place][1] for place in chosen), Fraction(0))
            if most < worth <= limit:
                most, best = worth, chosen
    free = [Fraction(0)] * len(lines)
    for place in best:
        free[items[place][0]] += items[place][1]
    return free


def freed(entry: Entry) -> list[Fraction]:
    """What of each line the owner's allowance covers."""
    lines, travel = entry.lines, entry.travel
    nothing = [Fraction(0)] * len(lines)
    if travel is None or not entry.private or entry.what.divided:
        return nothing
    total = sum((line.counted for line in lines), Fraction(0))
    everything = [line.counted for line in lines]
    absence, since = travel.absence_hours, travel.days_since_last
    if entry.country == "CA":
        if absence >= 48:
            return everything if total <= 800 else [line.counted * 800 / total for line in lines]
        return everything if total <= (200 if absence >= 24 else 0) else nothing
    if entry.country == "US":
        using = [line.counted if tariff_of(entry, line) else Fraction(0) for line in lines]
        dutiable = sum(using, Fraction(0))
        if absence >= 48 and (since is None or since >= 30):
            limit = 800 * travel.persons
            return using if dutiable <= limit else [worth * limit / dutiable for worth in using]
        return using if dutiable <= 200 else nothing
    if entry.country == "GB":
        limit = 270 if travel.travel in (None, "private-craft") else 390
        return everything if total <= limit else nothing
    if entry.country == "CH":
        if since is not None and since < 1:
            return nothing
        limit = 150 if entry.day >= date(2025, 1, 1) else 300
        if travel.persons == 1:
            return everything if total <= limit else nothing
        small = [line.counted if line.counted / line.items <= limit else Fraction(0) for line in lines]
        rest = sum(small, Fraction(0))
        if rest <= travel.persons * limit:
            return small
        return [worth * (travel.persons - 1) * limit / rest for worth in small]
    if entry.country == "NO":
        if absence <= 24 and since is not None and since < 1:
            return nothing
        return best_filling(lines, Fraction(6000 if absence > 24 else 3000))
    if entry.country in ("AU", "NZ"):
        limit = 900 * travel.persons if entry.country == "AU" else 700
        return everything if total <= limit else nothing
    return best_filling(lines, Fraction(200_000)) if entry.country == "JP" else nothing


def carried(entry: Entry) -> Entry:
    """What is left after the allowance; freight goes with it by worth."""
    before = entry.worth
    kept = [
        replace(line, value=line.value * (1 - free / line.counted), counted=line.counted - free)
        for line, free in zip(entry.lines, freed(entry), strict=True)
        if not line.counted or free < line.counted
    ]
    after = sum((line.value for line in kept), Fraction(0))
    share = after / before if before else Fraction(0)
    return replace(entry, lines=kept, freight=entry.freight * share, inland=entry.inland * share)


def in_bands(entry: Entry, limit: int, rate: str, free_origins: tuple[str, ...]) -> tuple[Fraction, list[Line]]:
    """Duty at a flat rate on the first part of the goods, the dearest tariffs first, and the goods left over."""
    left, flat, rest = Fraction(limit), Fraction(0), []
    order = sorted(range(len(entry.lines)), key=lambda place: (-tariff_of(entry, entry.lines[place]), place))
    taken = [Fraction(0)] * len(entry.lines)
    for place in order:
        line = entry.lines[place]
        if tariff_of(entry, line):
            taken[place] = min(left, line.value)
            left -= taken[place]
            flat += 0 if line.origin in free_origins else taken[place]
    for line, part in zip(entry.lines, taken, strict=True):
        if line.value > part:
            rest.append(replace(line, value=line.value - part))
    return half_up(flat * frac(rate), "0.01"), rest


# destinations


def canada(entry: Entry) -> None:
    def cents(amount: Fraction) -> Fraction:
        return half_up(amount, "0.01")

    free_duty = free_tax = False
    if entry.stream == "traveller":
        left = carried(entry)
        entry.lines = left.lines
        if not left.lines:
            return
        rest = left.lines
        if entry.private and entry.travel is not None and entry.travel.absence_hours >= 48:
            entry.duty, rest = in_bands(left, 300, "0.07", ("US", "MX"))
        entry.duty += duty_on(left, rest, freight=Fraction(0), round_base=None, round_duty=cents) if rest else 0
    else:
        near = entry.start in ("US", "MX")
        if entry.gift:
            entry = gift_above(entry, 60)
            if not entry.lines:
                return
        elif not entry.what.divided and entry.stream == "post":
            free_duty = free_tax = entry.limit <= 20
        elif not entry.what.divided and entry.stream == "courier":
            free_duty, free_tax = entry.limit <= (150 if near else 20), entry.limit <= (40 if near else 20)
        if not free_duty:
            entry.duty = duty_on(entry, entry.lines, freight=Fraction(0), round_base=None, round_duty=cents)
    if not free_tax:
        rates = PROVINCES[entry.owner.region] if entry.private else ["5"]
        entry.tax = sum((cents((entry.worth + entry.duty) * frac(rate) / 100) for rate in rates), Fraction(0))


def gift_above(entry: Entry, limit: int) -> Entry:
    """The entry with what exceeds a limit of a gift by post or courier."""
    if entry.stream == "freight" or entry.what.divided:
        return entry
    share = max(Fraction(0), 1 - limit / entry.limit) if entry.limit else Fraction(0)
    entry.lines = [replace(line, value=line.value * share) for line in entry.lines if share]
    return entry


def united_states(entry: Entry) -> None:
    def cents(amount: Fraction) -> Fraction:
        return half_up(amount, "0.01")

    if entry.stream == "traveller":
        left = carried(entry)
        if not left.lines:
            return
        rest = left.lines
        if entry.private and not (entry.travel and entry.travel.days_since_last in (0, 10)):
            persons = entry.travel.persons if entry.travel else 1
            entry.duty, rest = in_bands(left, 1000 * persons, "0.03", ())
        entry.duty += duty_on(left, rest, freight=Fraction(0), round_base="1", round_duty=cents) if rest else 0
        return
    free_to = 800 if entry.day <= date(2025, 8, 28) else 100 if entry.gift else 0
    if entry.limit <= free_to and free_to and not entry.what.divided:
        return
    entry.duty = duty_on(entry, entry.lines, freight=Fraction(0), round_base="1", round_duty=cents)
    if entry.day >= date(2025, 10, 1):
        free = all(line.proof and line.origin in ("CA", "MX") for line in entry.lines)
        if entry.stream == "post":
            entry.fees = frac("7.39") if entry.duty else Fraction(0)
        elif not free:
            share = min(max(entry.limit * frac("0.003464"), frac("33.58")), frac("651.5"))
            entry.fees = share if entry.whole > 2500 else frac("2.69")


def without_gifts(entry: Entry, limit: Fraction) -> Entry:
    """What is left of a gift when the items that fit a limit are free; freight goes with them by worth."""
    before = entry.worth
    free = best_filling([replace(line, counted=line.limit) for line in entry.lines], limit)
    kept = [
        replace(line, value=line.value * (1 - worth / line.limit))
        for line, worth in zip(entry.lines, free, strict=True)
        if worth < line.limit
    ]
    share = sum((line.value for line in kept), Fraction(0)) / before
    return replace(entry, lines=kept, freight=entry.freight * share, inland=entry.inland * share)


def great_britain(entry: Entry) -> None:
    def pence(amount: Fraction) -> Fraction:
        return down(amount, "0.01")

    left = carried(entry) if entry.stream == "traveller" else entry
    if not left.lines:
        return
    relieved = entry.stream != "traveller" and entry.limit <= 135 and not entry.what.divided
    if not relieved:
        entry.duty = duty_on(left, left.lines, freight=left.freight, round_base=None, round_duty=pence)
    if entry.gift and entry.stream in ("post", "courier") and not entry.what.divided:
        left = without_gifts(left, Fraction(39))
        if not left.lines:
            return
    base = left.worth + left.freight + left.inland
    if entry.stream != "traveller" and entry.what.supplier.collects_import_tax and entry.whole <= 135:
        entry.at_sale = pence(base / 5)
    else:
        entry.tax = pence((base + entry.duty) / 5)


def switzerland(entry: Entry) -> None:
    left = carried(entry) if entry.stream == "traveller" else entry
    if entry.gift and entry.stream in ("post", "courier") and entry.limit <= 100 and not entry.what.divided:
        return
    base = left.worth + left.freight + left.inland
    rate = frac("0.081")
    if not left.lines or (entry.stream == "post" and base * rate < 5 and not entry.what.divided):
        return
    fees = Fraction(0)
    route = entry.what.route
    own = bool(route.advance_percent or route.advance_minimum or route.entry_fee)
    if entry.stream == "post" and not own and entry.day < date(2026, 1, 15):
        flat = 13 if entry.start in UNION else 16
        entry.fees = fees = min(flat + (entry.limit + entry.freight + entry.inland) * Fraction(3, 100), Fraction(70))
    if entry.stream != "traveller" and route.entry_fee:
        fees += frac(route.entry_fee.amount)
    if half_up(base * rate, "0.05"):
        entry.tax = half_up((base + fees) * rate, "0.05")
    else:
        entry.fees = Fraction(0)


def norway(entry: Entry) -> None:
    left = carried(entry) if entry.stream == "traveller" else entry
    base = left.worth + left.freight + left.inland
    small = all(
        worth / int(item.quantity) < 3000
        for worth, item in zip(
            [*(line.limit for line in entry.lines), *entry.others], [*entry.what.goods, *entry.what.beside], strict=True
        )
    )
    if entry.stream != "traveller" and entry.what.supplier.collects_import_tax and small:
        entry.at_sale = half_up(base / 4, "1")
    else:
        entry.tax = half_up(base / 4, "1")


def down_under(entry: Entry) -> None:
    """Australia and New Zealand: duty on goods, tax on goods, freight and duty, everything free to 1,000."""

    def cents(amount: Fraction) -> Fraction:
        return half_up(amount, "0.01")

    rate = Fraction(10 if entry.country == "AU" else 15, 100)
    sent = entry.stream != "traveller"
    left = entry if sent else carried(entry)
    if not left.lines:
        return
    base = left.worth + left.freight + left.inland
    if sent and entry.what.supplier.collects_import_tax and entry.whole <= 1000:
        entry.at_sale = cents(base * rate)
    if sent and entry.limit <= 1000 and not entry.what.divided:
        return
    entry.duty = duty_on(left, left.lines, freight=Fraction(0), round_base=None, round_duty=cents)
    if not entry.at_sale:
        entry.tax = cents((base + entry.duty) * rate)
    if not sent:
        return
    large = entry.limit > 1000 or entry.what.divided  # dividing an order spares it no fee
    if entry.country == "NZ" and entry.day >= date(2025, 7, 1) and large:
        entry.fees = frac("53.44") + frac("53.36")
    if entry.country == "AU":
        entry.fees = Fraction(0 if not large else 50 if entry.whole < 10_000 else 152)
        if large and entry.day >= date(2024, 7, 1):
            entry.fees += 66 if entry.stream == "freight" else 45


def japan(entry: Entry) -> None:
    left = carried(entry) if entry.stream == "traveller" else entry
    factor = frac("0.6") if entry.private else Fraction(1)
    freight = Fraction(0) if entry.private else left.freight
    if not left.lines:
        return
    if entry.stream != "traveller" and not entry.what.divided and left.worth * factor + freight <= 10_000:
        return
    base = left.worth * factor + (Fraction(0) if entry.private else left.freight + left.inland)
    national = down(down(base, "1000") * frac("0.078"), "100")
    entry.tax = national + down(national * 22 / 78, "100")


DESTINATIONS: Mapping[str, Callable[[Entry], None]] = {
    "CA": canada, "US": united_states, "GB": great_britain, "CH": switzerland, "NO": norway, "AU": down_under,
    "NZ": down_under, "JP": japan,
}  # fmt: skip


def tax_on_fees(entry: Entry) -> Fraction:
    if entry.country == "GB":
        return Fraction(1, 5)
    if entry.country != "CA":
        return Fraction(0)
    return sum((frac(rate) for rate in (PROVINCES[entry.owner.region] if entry.private else ["5"])), Fraction(0)) / 100


def reckoned(what: Consignment, owner: Owner, travel: TravelAllowance | None, rates: Rates) -> Fraction:
    """The total at the door, unrounded, in the destination's currency."""

    def home(money: Money) -> Fraction:
        rate = Fraction(1) if money.currency == owner.currency else 1 / frac(rates.per_base[money.currency])
        return frac(money.amount) * rate

    if what.gift:  # given, so neither paid for nor sold
        what = replace(what, supplier=seller_of_gifts(what.supplier))
    paid, worth, limit = seller_tax(what, owner)
    carried_home = what.route.kind == "collection"
    lines = []
    for item in what.goods:
        value, items = home(item.value), 1 if item.kind == "set" else int(item.quantity)
        counted = value * (limit if owner.country == "CH" or not carried_home else worth)
        lines.append(Line(value * worth, value * limit, counted, items, item.heading, item.origin, item.proof))
    inland = home(what.freight_inland) if what.freight_inland else Fraction(0)
    fuel = frac(what.route.fuel_percent) / 100
    freight = home(what.freight)
    others = [home(item.value) * limit for item in what.beside]
    entry = Entry(what, owner, travel, lines, freight * (1 + fuel) - inland, inland, others)
    DESTINATIONS[owner.country](entry)
    carrier = carriers(entry, home)
    goods = sum((home(item.value) for item in what.goods), Fraction(0)) * (0 if what.gift else paid)
    charges = entry.duty + entry.tax + entry.at_sale + entry.fees + carrier
    foreign = goods if what.supplier.currency != owner.currency else Fraction(0)
    foreign += freight * (1 + fuel) if what.freight.currency != owner.currency else 0
    foreign += entry.at_sale if what.supplier.currency != owner.currency else 0
    markup = foreign * frac(owner.card_markup_percent or 0) / 100
    return goods + freight * (1 + fuel) + charges + markup


def seller_of_gifts(supplier: Supplier) -> Supplier:
    return supplier.model_copy(update={"origin_tax": "none", "collects_import_tax": False})


def seller_tax(what: Consignment, owner: Owner) -> tuple[Fraction, Fraction, Fraction]:
    """Paid, customs worth and worth for limits, for one of offered price."""
    share, said = ORIGIN_TAX.get(what.supplier.country), what.supplier.origin_tax
    one = Fraction(1)
    collects = what.supplier.collects_import_tax and what.route.kind != "collection"
    if share is None or said == "none" or (collects and owner.country in ("GB", "NO", "AU", "NZ")):
        return one, one, one
    away = what.route.kind == "collection"
    net = 1 / (1 + share) if what.tax_included else one
    stays = said == "charged" or (said is None and (what.tax_included or away)) or (away and owner.private_person)
    return (net * (1 + share), net * (1 + share), net) if stays else (net, net, net)


def carriers(entry: Entry, home: Callable[[Money], Fraction]) -> Fraction:
    """What carrier and depot ask, with the tax on it where the rules say so."""
    route = entry.what.route
    if route.kind == "collection":
        return home(route.handling) if route.handling else Fraction(0)
    fee, due = Fraction(0), entry.duty + entry.tax
    if due:
        minimum = home(route.advance_minimum) if route.advance_minimum else Fraction(0)
        fee += max(due * frac(route.advance_percent) / 100, minimum)
    fee += home(route.entry_fee) if route.entry_fee else 0
    return fee * (1 + tax_on_fees(entry))


def random_case(draw: random.Random) -> tuple[Consignment, Owner, TravelAllowance | None, Rates]:
    country = draw.choice(list(HOME))
    home, scale = HOME[country], SCALE.get(country, 1)
    start = draw.choice(["KR", "DE", "US", "MX"] if country != "US" else ["KR", "DE", "CA", "MX"])
    currency = draw.choice([home, "USD" if home != "USD" else "EUR"])
    per_base = {} if currency == home else {currency: Decimal(str(round(draw.uniform(0.5, 1.5) / scale, 4)))}
    rates = Rates(base=home, per_base=per_base, day=DAYS[0], source="test")

    def money(low: float, high: float, code: str = home) -> Money:
        return Money.of(round(draw.uniform(low, high) * scale, 0 if code == "JPY" else 2), code)

    kind = draw.choice(["post", "courier", "courier", "freight", "collection"])
    charged = draw.random() < 0.5 and kind != "collection"
    route = Route(
        id="way", name="Way", kind=kind, from_country=start, fuel_percent=draw.choice([0, 12.5]),
        advance_percent=draw.choice([0, 2.5]) if charged else 0,
        advance_minimum=money(5, 15) if charged and draw.random() < 0.5 else None,
        entry_fee=money(5, 15) if charged and draw.random() < 0.7 else None,
        handling=money(2, 6) if kind == "collection" else None,
    )  # fmt: skip
    seller = Supplier(
        id="seller", name="Seller", country=start, currency=currency, collects_import_tax=draw.random() < 0.2,
        origin_tax=draw.choice(["none", "charged", "taken-off", None]) if start == "DE" else "none",
    )  # fmt: skip
    size = draw.choice([10, 60, 300, 2000])
    goods = tuple(
        Goods(
            f"item {place}", money(size * 0.2, size, currency), draw.randint(1, 3),
            heading=draw.choice(list(TARIFF[country])), origin=draw.choice(["US", "MX", "CN", "DE", "JP", "BR", "KR"]),
            proof=draw.random() < 0.3, kind=draw.choice(["goods", "goods", "set"]),
        )
        for place in range(draw.randint(1, 3))
    )  # fmt: skip
    freight = money(5, 60, currency)
    inland = Money(amount=(freight.amount / 4).quantize(Decimal("0.01")), currency=currency)
    divided = draw.random() < 0.2
    others = tuple(
        Goods(f"other {place}", money(size * 0.2, size * draw.choice([0.3, 1, 4]), currency), draw.randint(1, 3))
        for place in range(draw.randint(0, 2) if divided else 0)
    )
    included = start == "DE" and not seller.collects_import_tax and draw.random() < 0.7
    what = Consignment(
        seller, route, goods, freight, included, draw.choice(DAYS), divided, beside=others,
        freight_inland=inland if draw.random() < 0.3 else None, gift=kind != "collection" and draw.random() < 0.1,
    )  # fmt: skip
    owner = Owner(
        country=country, currency=home, region=draw.choice(list(PROVINCES)) if country == "CA" else "",
        card_markup_percent=draw.choice([0, 1.75]), private_person=draw.random() < 0.8,
    )  # fmt: skip
    travel = TravelAllowance(
        draw.choice([None, "air-sea", "land", "private-craft"]), draw.choice([10, 24, 30, 48, 200]),
        days_since_last=draw.choice([None, None, 0, 10, 30]), persons=draw.choice([1, 1, 2, 3]),
    )  # fmt: skip
    return what, owner, travel if draw.random() < 0.8 else None, rates


def compared(count: int, seed: int) -> set[tuple[str, str, bool]]:
    draw = random.Random(seed)
    seen = set()
    for _ in range(count):
        what, owner, travel, rates = random_case(draw)
        cost = landed_cost(what, owner, load_rules(owner.country), rates, allowance=travel, with_doubts=False)
        expected = reckoned(what, owner, travel, rates)
        unit = Fraction(1, 2) if owner.currency == "JPY" else Fraction(1, 200)
        assert abs(frac(cost.total.amount) - expected) <= unit + Fraction(1, 10**9), (what, owner, travel, cost.lines)
        assert sum(line.amount.amount for line in cost.lines) == cost.total.amount
        seen.add((owner.country, what.route.kind, owner.private_person))
    return seen


def test_second_reckoning_agrees_for_every_destination() -> None:
    """2,000 random consignments; every destination by every stream, for persons and businesses."""
    assert len(compared(2000, 20261124)) == 8 * 4 * 2


@pytest.mark.long
def test_second_reckoning_agrees_on_ten_thousand() -> None:
    assert len(compared(10_000, 7)) == 8 * 4 * 2


# Each charge is rounded on its own in the itemised cost, and not in the bands [destination's currency, share of total].
# In Japan a small tax may be rounded to nothing, and the carrier's minimum for advancing it then goes with it.
ROUNDED: Mapping[str, tuple[float, float]] = {
    "CA": (0.03, 0), "US": (0.6, 0), "GB": (0.03, 0), "CH": (0.06, 0), "NO": (1.1, 0), "AU": (0.02, 0), "NZ": (0.02, 0),
    "JP": (2000, 0),
}  # fmt: skip


def freighted(draw: random.Random) -> tuple[Consignment, Owner, Rates]:
    """A consignment of goods of one duty, with freight by the supplier's terms."""
    what, owner, _, rates = random_case(draw)
    fixed = Money(amount=what.freight.amount, currency=what.supplier.currency)
    free_from = draw.choice([None, what.goods[0].value * 2])
    terms = FreightTerms(route="way", fixed=fixed, free_from=free_from)
    seller = what.supplier.model_copy(update={"freight": (terms,)})
    first = what.goods[0]
    goods = tuple(replace(item, heading=first.heading, origin=first.origin, proof=False) for item in what.goods)
    value = goods[0].value
    for item in goods[1:]:
        value = value + item.value
    freight = fixed * 0 if free_from is not None and value.amount >= free_from.amount else fixed
    # prices as the bands take them to be where nothing is said
    collects = (
        seller.collects_import_tax and what.route.kind != "collection" and owner.country in ("GB", "NO", "AU", "NZ")
    )
    included = seller.country == "DE" and not collects and seller.origin_tax != "none"
    return (
        replace(
            what,
            supplier=seller,
            goods=goods,
            freight=freight,
            tax_included=included,
            freight_inland=None,
            gift=False,
            beside=(),  # a band knows its own consignment alone
        ),
        owner,
        rates,
    )


def test_bands_agree_with_the_itemised_cost_in_every_destination() -> None:
    """But for the rounding of steps, and where a cent decides; surtaxes, fees by steps, waivers, reliefs included."""
    draw = random.Random(11)
    compared_in: dict[str, int] = {}
    while sum(compared_in.values()) < 2000:
        what, owner, rates = freighted(draw)
        if owner.country == "NO" and what.supplier.collects_import_tax:  # by item, which a band does not know
            continue
        rules = load_rules(owner.country)
        heading = what.goods[0].heading
        bands = charge_bands(
            what.supplier, what.route, owner, rules, rates, what.day, headings=[heading], origins=[what.goods[0].origin]
        )
        worth = sum(bands[0].value(item.value, what.tax_included) for item in what.goods)
        ends = {end for band in bands for end in (band.low_value, band.high_value) if end}
        if any(abs(worth - end) < 0.012 * SCALE.get(owner.country, 1) * max(1, end / 100) for end in ends):
            continue
        units = [
            BandUnits(
                Money(amount=item.value.amount / int(item.quantity), currency=item.value.currency), item.quantity, None,
                heading, item.origin, what.tax_included,
            )
            for item in what.goods
        ]  # fmt: skip
        fitting = [band for band in bands if band.low_value <= worth <= band.high_value]
        band = next((band for band in fitting if not (band.relief and what.divided)), fitting[-1])
        exact = float(landed_cost(what, owner, rules, rates, with_doubts=False).exact)
        most, share = ROUNDED[owner.country]
        assert band.total(units) == pytest.approx(exact, abs=most + share * exact), (what, owner, band)
        compared_in[owner.country] = compared_in.get(owner.country, 0) + 1
    assert set(compared_in) == set(HOME)
