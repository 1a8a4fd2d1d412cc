"""What was ordered, as consignments: for the trip that fetches it, and for the bill that comes with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from ..build.commerce import Collection, Route, Supplier
from ..build.document import Build
from ..build.errors import Refused
from ..build.events import Cancellation, Order, Payment
from ..build.facts import Facts, offer_contents
from ..build.money import Money, Rates
from ..build.problem import Problem
from .bill import BillLine
from .fetching import trip_allowance
from .freight import chargeable_mass_kg, freight_for
from .model import Consignment, Goods, LandedCost, LineKind
from .offers import offered_goods, placed_supplier
from .quote import landed_cost, landed_trip
from .rules import RuleSet

_KINDS: Mapping[str, LineKind] = {"duty": "duty", "tax": "tax", "fees": "fee", "freight": "freight"}


def orders_on(build: Build, facts: Facts, collection: Collection) -> tuple[Order, ...]:
    """Orders a trip is to fetch: those placed for it, and those for its depot that no other trip is named for."""
    coming = {item.order for item in facts.incoming}
    return tuple(
        event
        for event in build.events
        if isinstance(event, Order)
        and event.id in coming
        and (event.collection == collection.id or (event.collection is None and event.route == collection.route))
    )


def fetched_consignments(build: Build, facts: Facts, collection: Collection) -> tuple[Consignment, ...]:
    """What a trip is to fetch, one consignment a supplier, declared on the day of the trip."""
    orders = orders_on(build, facts, collection)
    route = build.find("routes", collection.route)
    suppliers = sorted({order.supplier for order in orders})
    return tuple(
        _consignment(build, facts, [order for order in orders if order.supplier == supplier], route, collection)
        for supplier in suppliers
    )


def _consignment(
    build: Build, facts: Facts, orders: Sequence[Order], route: Route | None, collection: Collection | None
) -> Consignment:
    supplier, _ = placed_supplier(build.find("suppliers", orders[0].supplier), build.owner)
    still = None if collection is None else facts
    goods = tuple(item for order in orders for item in _goods(build, order, still))
    offers = [build.find("offers", line.offer) for order in orders for line in order.lines]
    included = {offer.tax_included for offer in offers}
    freights = [order.freight for order in orders if order.freight is not None]
    freight = sum(freights[1:], freights[0]) if freights else Money(amount=Decimal(0), currency=supplier.currency)
    day = collection.day if collection is not None else max(order.day for order in orders)
    return Consignment(supplier, route, goods, freight, included.pop() if len(included) == 1 else None, day)


def _goods(build: Build, order: Order, still: Facts | None) -> Iterable[Goods]:
    """The lines of an order, or what of them is still to come."""
    for line in order.lines:
        offer = build.find("offers", line.offer)
        count = float(line.quantity)
        if still is not None:
            coming = {
                item.part: item.quantity for item in still.incoming if (item.order, item.offer) == (order.id, offer.id)
            }
            each = offer_contents(build, offer)
            count = max((quantity / each[part] for part, quantity in coming.items() if part in each), default=0.0)
        if count:
            yield offered_goods(build, offer, count, line.price)


def fetched_costs(
    build: Build, facts: Facts, collection: Collection, rules: RuleSet, rates: Rates
) -> tuple[LandedCost, ...]:
    """What the consignments of a trip cost at the door, the trip left out."""
    what = fetched_consignments(build, facts, collection)
    allowance = trip_allowance(build, collection)
    return landed_trip(what, build.owner, rules, rates, build.rule_overrides, allowance=allowance)


def expected_cost(build: Build, facts: Facts, order_id: str, rules: RuleSet, rates: Rates) -> LandedCost:
    """What an order was expected to cost at the door, by its own route on its own day.

    Raises
    ------
    Refused
        if there is no such order
    """
    order = _order(build, order_id)
    route = build.find("routes", order.route) if order.route is not None else None
    what = _consignment(build, facts, [order], route, None)
    trip = build.find("collections", order.collection) if order.collection is not None else None
    allowance = trip_allowance(build, trip) if trip is not None else None
    return landed_cost(what, build.owner, rules, rates, build.rule_overrides, allowance=allowance)


def cost_when_ordered(build: Build, facts: Facts, order_id: str, rules: RuleSet, rates: Rates) -> LandedCost:
    """What an order just placed is expected to cost at the door; one for a trip as one more parcel of that trip.

    Parameters
    ----------
    build, facts : with the order among the events

    Raises
    ------
    Refused
        if there is no such order, or it cannot come home that way
    UnknownRateError
        if a currency has no rate
    """
    order = _order(build, order_id)
    if order.collection is None:
        return expected_cost(build, facts, order_id, rules, rates)
    trip: Collection = build.find("collections", order.collection)
    mine = _consignment(build, facts, [order], build.find("routes", trip.route), None)
    before = build.model_copy(update={"events": tuple(event for event in build.events if event.id != order_id)})
    others = fetched_consignments(before, facts, trip)
    what = (*others, replace(mine, day=trip.day))
    return landed_trip(what, build.owner, rules, rates, build.rule_overrides, allowance=trip_allowance(build, trip))[-1]


def usual_route(build: Build, supplier: Supplier) -> Route | None:
    """The way home a seller's goods usually take: the first to the door it names terms for, else the first of all."""
    routes: list[Route] = [build.find("routes", terms.route) for terms in supplier.freight]
    return next((route for route in routes if route.kind != "collection"), routes[0] if routes else None)


def cost_at_list(build: Build, facts: Facts, order: Order, rules: RuleSet, rates: Rates) -> LandedCost:
    """What an order would have cost at the door at the regular prices of its week, by the seller's usual way home.

    Parameters
    ----------
    order : with the regular price of each line; a line without one counts at its own price

    Raises
    ------
    Refused
        if it cannot come home that way
    UnknownRateError
        if a currency has no rate
    ValueError
        if the goods are not in the currency that free freight is stated in
    """
    supplier: Supplier = build.find("suppliers", order.supplier)
    route = usual_route(build, supplier)
    lines = tuple(line.model_copy(update={"price": line.listed or line.price}) for line in order.lines)
    value = [line.price * Decimal(str(line.quantity)) for line in lines]
    goods = [offered_goods(build, build.find("offers", line.offer), float(line.quantity), line.price) for line in lines]
    freight = freight_for(supplier, route, sum(value[1:], value[0]), chargeable_mass_kg(goods, route))
    asked = order.model_copy(update={"lines": lines, "freight": freight if freight.amount else None})
    what = _consignment(build, facts, [asked], route, None)
    return landed_cost(what, build.owner, rules, rates, build.rule_overrides, with_doubts=False)


def recorded_bill(build: Build, order_id: str, rates: Rates) -> tuple[BillLine, ...]:
    """What was paid for duty, tax, fees and freight of an order, in home currency.

    Raises
    ------
    Refused
        if there is no such order
    """
    _order(build, order_id)
    home = build.owner.currency
    return tuple(
        BillLine(event.note or event.what, event.home_amount or rates.convert(event.amount, home), _KINDS[event.what])
        for event in build.events
        if isinstance(event, Payment) and event.order == order_id and event.what in _KINDS
    )


def _order(build: Build, order_id: str) -> Order:
    cancelled = {event.order for event in build.events if isinstance(event, Cancellation)}
    for event in build.events:
        if isinstance(event, Order) and event.id == order_id and order_id not in cancelled:
            return event
    raise Refused(
        [Problem(f"order {order_id}", "refers-to-nothing", "there is no such order", order_id, "Check the id.")]
    )
