"""What holds for every consignment: lines add up, dearer goods cost more, and no trick pays."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.build import Money, Rates
from fishplate.build.commerce import Route, Supplier
from fishplate.build.money import minor_unit
from fishplate.build.owner import Owner
from fishplate.landed import Consignment, Goods, LandedCost, TravelAllowance, landed_cost, landed_trip, load_rules
from fishplate.landed.allowance import free_worth
from fishplate.landed.kinds import Scope

RULES = load_rules("NL")
RATES = Rates(
    base="EUR", per_base={"GBP": Decimal("0.8338"), "JPY": Decimal("175.68")}, day=date(2026, 10, 30), source="test"
)
COURIER = Route(
    id="way", name="Way", kind="courier", from_country="GB", advance_percent=2.5,
    advance_minimum=Money.of("12.5", "EUR"), entry_fee=Money.of(5, "EUR"), fuel_percent=11.5,
)  # fmt: skip
DEPOT = Route(id="way", name="Way", kind="collection", from_country="GB", handling=Money.of(4, "GBP"))

# The first quote of a day reads its rules; a busy machine takes its time over that.
unhurried = settings(deadline=None)

cents = st.integers(min_value=0, max_value=300_000)
headings = st.sampled_from([None, "8708", "870830", "8708999700", "84099100", "848210", "610910"])
days = st.sampled_from([date(2026, 3, 1), date(2026, 11, 24), date(2029, 1, 1)])


@st.composite
def consignments(draw: st.DrawFn, *, route: Route | None = None) -> Consignment:
    currency = draw(st.sampled_from(["GBP", "EUR", "JPY"]))
    supplier = Supplier(
        id="seller",
        name="Seller",
        country="GB",
        currency=currency,
        origin_tax=draw(st.sampled_from([None, "charged", "taken-off", "refund", "none"])),
        collects_import_tax=draw(st.booleans()),
    )
    goods = tuple(
        Goods(
            f"part {place}",
            Money(amount=Decimal(draw(cents)) / 100, currency=currency),
            draw(st.integers(min_value=1, max_value=5)),
            heading=draw(headings),
            origin=draw(st.sampled_from([None, "GB", "CN"])),
            kind=draw(st.sampled_from(["goods", "set"])),
        )
        for place in range(draw(st.integers(min_value=1, max_value=4)))
    )
    freight = Money(amount=Decimal(draw(cents)) / 1000, currency=currency)
    way = route or draw(st.sampled_from([COURIER, DEPOT]))
    included = draw(st.sampled_from([None, True, False]))
    return Consignment(supplier, way, goods, freight, included, draw(days), draw(st.booleans()))


owners = st.builds(
    Owner,
    currency=st.sampled_from(["EUR", "GBP", "JPY"]),
    card_markup_percent=st.sampled_from([None, 0, 1.75]),
    private_person=st.booleans(),
)


@unhurried
@given(consignments(), owners)
def test_lines_are_whole_minor_units_and_add_up_to_the_total(what: Consignment, owner: Owner) -> None:
    cost = landed_cost(what, owner, RULES, RATES)
    assert sum((line.amount.amount for line in cost.lines), Decimal(0)) == cost.total.amount
    assert all(line.amount == line.amount.rounded() and line.amount.currency == owner.currency for line in cost.lines)
    assert all(line.rule and RULES.by_id(line.rule) for line in cost.lines)
    rounding = [line for line in cost.lines if line.kind == "rounding"]
    assert len(rounding) <= 1
    unit = Decimal(1).scaleb(-minor_unit(owner.currency))
    assert abs(cost.exact - cost.total.amount) <= unit / 2


@unhurried
@given(consignments(), owners)
def test_same_consignment_always_costs_the_same(what: Consignment, owner: Owner) -> None:
    assert landed_cost(what, owner, RULES, RATES) == landed_cost(what, owner, RULES, RATES)


@unhurried
@given(consignments(), owners)
def test_doubts_hold_the_total_between_their_ends(what: Consignment, owner: Owner) -> None:
    cost = landed_cost(what, owner, RULES, RATES)
    assert all(doubt.low.amount <= cost.total.amount <= doubt.high.amount for doubt in cost.doubts)


@unhurried
@given(consignments(), owners)
def test_order_of_goods_does_not_change_the_total(what: Consignment, owner: Owner) -> None:
    turned = replace(what, goods=what.goods[::-1])
    assert abs(landed_cost(what, owner, RULES, RATES).exact - landed_cost(turned, owner, RULES, RATES).exact) < Decimal(
        "1e-9"
    )


@unhurried
@given(consignments(route=COURIER), st.integers(min_value=1, max_value=50_000))
def test_dearer_freight_never_lowers_the_total(what: Consignment, more: int) -> None:
    dearer = replace(what, freight=what.freight + Money(amount=Decimal(more) / 100, currency=what.freight.currency))
    owner = Owner()
    assert landed_cost(dearer, owner, RULES, RATES).exact > landed_cost(what, owner, RULES, RATES).exact


@unhurried
@given(consignments(route=COURIER))
def test_divided_order_never_costs_less_than_an_undivided_one(what: Consignment) -> None:
    owner = Owner()
    whole = landed_cost(replace(what, divided=False), owner, RULES, RATES)
    assert landed_cost(replace(what, divided=True), owner, RULES, RATES).exact >= whole.exact


@unhurried
@given(st.lists(consignments(route=DEPOT), min_size=1, max_size=3), st.sampled_from(["air-sea", "land"]))
def test_trip_never_frees_more_than_one_allowance(trip: list[Consignment], travel: str) -> None:
    allowance = TravelAllowance(travel)  # type: ignore[arg-type]
    costs = landed_trip(trip, Owner(), RULES, RATES, allowance=allowance)
    free = sum((cost.free_value.amount for cost in costs), Decimal(0))
    assert free <= (430 if travel == "air-sea" else 300) + Decimal("1e-9")


@unhurried
@given(
    st.lists(
        st.tuples(st.integers(min_value=0, max_value=60_000), st.integers(min_value=1, max_value=10_000)), max_size=6
    ),
    st.sampled_from([300, 430]),
)
def test_free_items_are_whole_and_fit(kinds: list[tuple[int, int]], limit: int) -> None:
    values = [Decimal(size) / 100 for size, _ in kinds]
    counts = [count for _, count in kinds]
    free = free_worth(values, counts, Decimal(limit), "item")
    for share, value, count in zip(free, values, counts, strict=True):
        assert share == 0 or (share % value == 0 and share / value <= count)
    assert sum(free, Decimal(0)) <= limit


# every destination

PLACES = {"CA": "CAD", "US": "USD", "GB": "GBP", "NL": "EUR", "CH": "CHF", "NO": "NOK", "AU": "AUD", "NZ": "NZD",
          "JP": "JPY"}  # fmt: skip
# What one unit of value can lose where a step is rounded: the value of a whole step, and charges on it.
LARGEST_STEP = {"NO": Decimal(3), "US": Decimal(2), "JP": Decimal(3000)}


@st.composite
def imports(draw: st.DrawFn, *, carried: bool | None = None) -> tuple[Consignment, Owner]:
    country = draw(st.sampled_from(sorted(PLACES)))
    currency = PLACES[country]
    start = draw(st.sampled_from(["KR", "US", "MX"] if country != "US" else ["KR", "CA", "MX"]))
    kinds = ["collection"] if carried else ["post", "courier", "freight"]
    kind = draw(st.sampled_from([*kinds, "collection"] if carried is None else kinds))
    route = Route.model_validate(
        {
            "id": "way", "name": "Way", "kind": kind, "from_country": start, "fees_as_of": "2026-01-01",
            "advance_percent": draw(st.sampled_from([0, 2.5])),
        }
    )  # fmt: skip
    supplier = Supplier(
        id="seller", name="Seller", country=start, currency=currency, origin_tax="none",
        collects_import_tax=draw(st.booleans()),
    )  # fmt: skip
    known = st.sampled_from([None, "870830", "87089953", "7318152000", "84099100", "848210"])
    goods = tuple(
        Goods(
            f"part {place}", Money(amount=Decimal(draw(cents)) / 100, currency=currency),
            draw(st.integers(min_value=1, max_value=4)), heading=draw(known),
            origin=draw(st.sampled_from([None, "US", "CN", "JP", "BR"])), proof=draw(st.booleans()),
        )
        for place in range(draw(st.integers(min_value=1, max_value=3)))
    )  # fmt: skip
    freight = Money(amount=Decimal(draw(cents)) / 1000, currency=currency)
    owner = Owner(
        country=country, currency=currency, card_markup_percent=0, private_person=draw(st.booleans()),
        region=draw(st.sampled_from(["ON", "QC", "AB"])) if country == "CA" else "",
    )  # fmt: skip
    return Consignment(supplier, route, goods, freight, False, draw(days), draw(st.booleans())), owner


def rates_of(owner: Owner) -> Rates:
    per_base = {} if owner.currency == "EUR" else {"EUR": Decimal("0.5")}
    return Rates(base=owner.currency, per_base=per_base, day=date(2026, 10, 30), source="test")


def cost_of(what: Consignment, owner: Owner, **more: bool) -> LandedCost:
    return landed_cost(what, owner, load_rules(owner.country), rates_of(owner), **more)


@unhurried
@given(imports())
def test_lines_add_up_and_doubts_hold_the_total_in_every_destination(case: tuple[Consignment, Owner]) -> None:
    what, owner = case
    cost = cost_of(what, owner)
    assert sum((line.amount.amount for line in cost.lines), Decimal(0)) == cost.total.amount
    assert all(line.amount.amount >= 0 for line in cost.lines if line.kind in ("duty", "tax", "fee"))
    assert all(doubt.low.amount <= cost.total.amount <= doubt.high.amount for doubt in cost.doubts)
    assert all(load_rules(owner.country).by_id(line.rule) for line in cost.lines)


@unhurried
@given(imports(carried=False))
def test_divided_order_never_costs_less_in_any_destination(case: tuple[Consignment, Owner]) -> None:
    what, owner = case
    whole = cost_of(replace(what, divided=False), owner, with_doubts=False)
    assert cost_of(replace(what, divided=True), owner, with_doubts=False).exact >= whole.exact


@unhurried
@given(imports(carried=False), st.integers(min_value=1, max_value=2))
def test_parts_of_a_divided_order_never_cost_less_than_the_whole(case: tuple[Consignment, Owner], cut: int) -> None:
    """But for steps that are rounded down in each part; freight is left out. Each part knows what was divided from it:
    fees by steps of worth, and what a seller collects, are those of the whole."""
    what, owner = case
    what = replace(what, freight=what.freight * 0, divided=False)
    if len(what.goods) <= cut:
        return
    first, second = what.goods[:cut], what.goods[cut:]
    parts = (replace(what, goods=one, divided=True, beside=other) for one, other in ((first, second), (second, first)))
    divided = sum((cost_of(part, owner, with_doubts=False).exact for part in parts), Decimal(0))
    slack = 2 * LARGEST_STEP.get(owner.country, Decimal("0.1"))
    assert divided >= cost_of(what, owner, with_doubts=False).exact - slack


def limits_between(what: Consignment, dearer: Consignment, owner: Owner) -> bool:
    """Whether a limit in value, or a waiver in tax, lies between two worths."""
    start = what.route.from_country if what.route else ""
    stream = {"collection": "traveller", "courier": "courier", "post": "post", "freight": "freight"}[what.route.kind]  # type: ignore[union-attr]
    rules = load_rules(owner.country).on(what.day, Scope(stream, owner.private_person, start, owner.region))  # type: ignore[arg-type]
    collects = rules.seller_collects if what.supplier.collects_import_tax else None
    worths = [sum(item.value.amount for item in one.goods) * rules.valuation.factor for one in (what, dearer)]
    tested = [(rule.limit, rule.currency) for rule in (*rules.reliefs, rules.flat, collects) if rule]
    tested += [(end, fee.currency) for fee in rules.fees for end in (fee.above, fee.up_to) if end]
    tested += [(end, fee.currency) for fee in rules.fees for tier in fee.tiers for end in (tier.to, tier.below) if end]
    tested += [(rule.limit, rule.currency) for rule in rules.traveller_flats]
    rate = {"EUR": Decimal(1) if owner.currency == "EUR" else 1 / Decimal("0.5"), owner.currency: Decimal(1)}
    by_item = collects is not None and collects.per == "item"
    return by_item or any(worths[0] <= limit * rate.get(code, 1) <= worths[1] for limit, code in tested)


@unhurried
@given(imports(), st.integers(min_value=100, max_value=100_000))
def test_dearer_goods_cost_more_away_from_limits(case: tuple[Consignment, Owner], more: int) -> None:
    what, owner = case
    step = LARGEST_STEP.get(owner.country, Decimal("0.1"))
    rise = max(Decimal(more) / 100, step * 20)
    first = what.goods[0]
    dearer = replace(
        what, goods=(replace(first, value=first.value + Money(amount=rise, currency=owner.currency)), *what.goods[1:])
    )
    if limits_between(what, dearer, owner):
        return
    assert cost_of(dearer, owner, with_doubts=False).exact > cost_of(what, owner, with_doubts=False).exact


@unhurried
@given(imports(carried=True), st.integers(min_value=1, max_value=240))
def test_longer_absence_never_costs_more(case: tuple[Consignment, Owner], hours: int) -> None:
    what, owner = case
    rules, rates = load_rules(owner.country), rates_of(owner)
    short, long = (
        landed_cost(what, owner, rules, rates, allowance=TravelAllowance("land", absence), with_doubts=False)
        for absence in (hours, hours * 2)
    )
    slack = LARGEST_STEP.get(owner.country, Decimal("0.1"))
    assert long.exact <= short.exact + slack + flat_rate_premium(long)


def flat_rate_premium(cost: LandedCost) -> Decimal:
    """A flat rate for travellers may be above the tariff; what it takes is no fault of the absence."""
    return sum((line.amount.amount for line in cost.lines if "special_rate" in line.rule), Decimal(0)) * 2
