"""What holds for every consignment: lines add up, dearer goods cost more, and no trick pays."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from fishplate.build import Money, Rates
from fishplate.build.commerce import Route, Supplier
from fishplate.build.money import minor_unit
from fishplate.build.owner import Owner
from fishplate.landed import Consignment, Goods, TravelAllowance, landed_cost, landed_trip, load_rules
from fishplate.landed.allowance import free_worth

RULES = load_rules("NL")
RATES = Rates(
    base="EUR", per_base={"GBP": Decimal("0.8338"), "JPY": Decimal("175.68")}, day=date(2026, 10, 30), source="test"
)
COURIER = Route(
    id="way", name="Way", kind="courier", from_country="GB", advance_percent=2.5,
    advance_minimum=Money.of("12.5", "EUR"), entry_fee=Money.of(5, "EUR"), fuel_percent=11.5,
)  # fmt: skip
DEPOT = Route(id="way", name="Way", kind="collection", from_country="GB", handling=Money.of(4, "GBP"))

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


@given(consignments(), owners)
def test_same_consignment_always_costs_the_same(what: Consignment, owner: Owner) -> None:
    assert landed_cost(what, owner, RULES, RATES) == landed_cost(what, owner, RULES, RATES)


@given(consignments(), owners)
def test_doubts_hold_the_total_between_their_ends(what: Consignment, owner: Owner) -> None:
    cost = landed_cost(what, owner, RULES, RATES)
    assert all(doubt.low.amount <= cost.total.amount <= doubt.high.amount for doubt in cost.doubts)


@given(consignments(), owners)
def test_order_of_goods_does_not_change_the_total(what: Consignment, owner: Owner) -> None:
    turned = replace(what, goods=what.goods[::-1])
    assert abs(landed_cost(what, owner, RULES, RATES).exact - landed_cost(turned, owner, RULES, RATES).exact) < Decimal(
        "1e-9"
    )


@given(consignments(route=COURIER), st.integers(min_value=1, max_value=50_000))
def test_dearer_freight_never_lowers_the_total(what: Consignment, more: int) -> None:
    dearer = replace(what, freight=what.freight + Money(amount=Decimal(more) / 100, currency=what.freight.currency))
    owner = Owner()
    assert landed_cost(dearer, owner, RULES, RATES).exact > landed_cost(what, owner, RULES, RATES).exact


@given(consignments(route=COURIER))
def test_divided_order_never_costs_less_than_an_undivided_one(what: Consignment) -> None:
    owner = Owner()
    whole = landed_cost(replace(what, divided=False), owner, RULES, RATES)
    assert landed_cost(replace(what, divided=True), owner, RULES, RATES).exact >= whole.exact


@given(st.lists(consignments(route=DEPOT), min_size=1, max_size=3), st.sampled_from(["air-sea", "land"]))
def test_trip_never_frees_more_than_one_allowance(trip: list[Consignment], travel: str) -> None:
    allowance = TravelAllowance(travel)  # type: ignore[arg-type]
    costs = landed_trip(trip, Owner(), RULES, RATES, allowance=allowance)
    free = sum((cost.free_value.amount for cost in costs), Decimal(0))
    assert free <= (430 if travel == "air-sea" else 300) + Decimal("1e-9")


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
