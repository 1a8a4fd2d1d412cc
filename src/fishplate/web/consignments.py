"""Consignments the plan makes: its lines, what it costs at the door and why; turned into an order in one form."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money, offer_contents
from ..build.commerce import Collection, Offer, Route, Supplier
from ..build.events import Order, Payment
from ..landed import chargeable_mass_kg, freight_for, offered_goods
from ..plan import Plan
from ..plan.model import PlannedConsignment, PlannedLine, RuleGround
from .advice import offer_path
from .amounts import to_the_cent, typed
from .ask import Ask, Asked, NotHereError
from .carrying_out import ordered
from .desk import View, fresh_id, put
from .form import Form, made
from .outlooks import name_of_offer
from .owned import Found, owned_before
from .words import amount, chance, day, exact, number

router = APIRouter()
LEAD_LIKELY_WEEKS: Final = 2.0
TRAVEL_LIKELY_WEEKS: Final = 0.6


@dataclass(frozen=True, slots=True)
class LineShown:
    """A line of a consignment, with when it comes and why then.

    Parameters
    ----------
    comes : when it is likely here; lateness : what coming late is expected to cost
    """

    name: str
    path: str
    landed: str
    comes: str
    lateness: str
    why: str
    held: str


@dataclass(frozen=True, slots=True)
class ConsignmentShown:
    """A consignment as it stands in the list."""

    shipment: str
    path: str
    anchor: str
    what: str
    way: str
    total: str
    lines: tuple[LineShown, ...]


@dataclass(frozen=True, slots=True)
class OrderRow:
    """A line of the order form.

    Parameters
    ----------
    quantity, price : as the fields are filled
    about : what the plan thinks of it, in words
    later : it is planned for later, and may go along
    owned : what of it is here or on order already
    """

    offer: str
    name: str
    quantity: str
    price: str
    currency: str
    about: str
    later: bool = False
    owned: tuple[Found, ...] = ()


@dataclass(frozen=True, slots=True)
class OrderForm:
    """The order form, filled as far as the offers tell.

    Parameters
    ----------
    freight, deposit, promised : filled in from the offers' own terms; their notes say how
    route, collection : the way home, for when there is another plan by the time it is sent
    """

    rows: tuple[OrderRow, ...]
    more: tuple[OrderRow, ...]
    currency: str
    freight: str
    freight_note: str
    deposit: str
    deposit_note: str
    promised: str
    promised_note: str
    route: str
    collection: str


@dataclass(frozen=True, slots=True)
class ChargeShown:
    """One amount of the landed cost and the rule behind it."""

    label: str
    amount: str
    note: str
    rule: str


@dataclass(frozen=True, slots=True)
class RuleShown:
    """Where a rule comes from."""

    id: str
    said: str
    url: str


@dataclass(frozen=True, slots=True)
class LandedShown:
    """What a consignment costs at the door, line by line."""

    lines: tuple[ChargeShown, ...]
    total: str
    ranges: tuple[str, ...]
    flags: tuple[str, ...]
    assumptions: tuple[str, ...]
    rules: tuple[RuleShown, ...]


@dataclass(frozen=True, slots=True)
class ConsignmentPage:
    """One consignment with its order form and its landed cost."""

    consignment: ConsignmentShown
    form: OrderForm
    landed: LandedShown | None


def still_to_order(view: View, plan: Plan) -> list[list[PlannedLine]]:
    """Planned lines whose offers are still there and bring something missing, by consignment, soonest first."""
    groups: dict[str, list[PlannedLine]] = {}
    for line in plan.purchase.lines:
        offer = view.build.index["offers"].get(line.offer)
        if offer is not None and any(
            view.facts.missing(view.build, part) > 0 for part in offer_contents(view.build, offer)
        ):
            groups.setdefault(line.shipment, []).append(line)
    return sorted(groups.values(), key=lambda lines: (lines[0].order_week, lines[0].supplier, lines[0].shipment))


def consignment_shown(view: View, plan: Plan, lines: Sequence[PlannedLine]) -> ConsignmentShown:
    """A consignment in words."""
    first = lines[0]
    supplier = view.build.index["suppliers"].get(first.supplier)
    name = supplier.name if supplier is not None else first.supplier
    things = lines[0].part if len(lines) == 1 else f"{len(lines)} things"
    days = [line.order_by for line in lines if line.order_by is not None]
    when = f" by {day(min(days))}" if days else ""
    if days and min(days) <= view.as_of:
        when = " now"
    return ConsignmentShown(
        shipment=first.shipment,
        path=f"/buying/consignments/{quote(first.shipment, safe='')}",
        anchor="".join(c if c.isalnum() else "-" for c in first.shipment),
        what=f"Order {things} from {name}{when}",
        way=_way(view.build, first),
        total=to_the_cent(sum(line.landed for line in lines), plan.currency),
        lines=tuple(_line(plan, line) for line in lines),
    )


def _way(build: Build, line: PlannedLine) -> str:
    trip: Collection | None = build.index["collections"].get(line.collection or "")
    return f"{line.route}, on the trip of {day(trip.day)}" if trip is not None else line.route


def _line(plan: Plan, line: PlannedLine) -> LineShown:
    comes = "nothing says when it is needed"
    if line.arrives_p50 is not None:
        comes = f"likely here {day(line.arrives_p50)}"
        if line.arrives_p90 not in (None, line.arrives_p50):
            comes += f", nine times in ten by {day(line.arrives_p90)}"
    return LineShown(
        name=f"{line.units} × {line.part}" if line.units > 1 else line.part,
        path=offer_path(line.offer),
        landed=to_the_cent(line.landed, plan.currency),
        comes=f"{comes[:1].upper()}{comes[1:]}.",
        lateness=_lateness(plan, line),
        why=line.why,
        held=plan.purchase.held.get(line.offer, ""),
    )


def _lateness(plan: Plan, line: PlannedLine) -> str:
    """What coming late is expected to cost."""
    if line.arrives_p50 is None or line.late_chance < 0.005:
        return ""
    cost = f"less than {amount(1, plan.currency)}" if line.late_cost < 1 else amount(line.late_cost, plan.currency)
    return f"Late with a chance of {chance(line.late_chance)}, which is expected to cost {cost}."


def consignment_page(view: View, plan: Plan, shipment: str) -> ConsignmentPage | None:
    """The page of one consignment; None if nothing of it is to be ordered any more."""
    groups = still_to_order(view, plan)
    lines = next((lines for lines in groups if lines[0].shipment == shipment), None)
    if lines is None:
        return None
    whole = [line for line in plan.purchase.lines if line.shipment == shipment]
    landed = next((item for item in plan.purchase.consignments if item.shipment == shipment), None)
    return ConsignmentPage(
        consignment=consignment_shown(view, plan, lines),
        form=order_form(view, lines, later_lines(groups, lines)),
        landed=_landed(plan, landed) if landed is not None and len(whole) == len(lines) else None,
    )


def later_lines(groups: Iterable[Sequence[PlannedLine]], lines: Sequence[PlannedLine]) -> list[PlannedLine]:
    """What else the plan buys from the same supplier, each offer once."""
    taken = {line.offer for line in lines}
    found: dict[str, PlannedLine] = {}
    for group in groups:
        for line in group:
            if line.supplier == lines[0].supplier and line.offer not in taken:
                found.setdefault(line.offer, line)
    return list(found.values())


# the order form


def order_form(view: View, lines: Sequence[PlannedLine], more: Sequence[PlannedLine]) -> OrderForm:
    """The form as the offers fill it: prices last seen, freight and deposit by the supplier's terms, a likely day."""
    build = view.build
    prices = _prices(view, [*lines, *more])
    supplier: Supplier = build.find("suppliers", lines[0].supplier)
    route = next((route for route in build.routes if route.name == lines[0].route), None)
    value = [prices[line.offer] * line.units for line in lines]
    freight, freight_note = _freight(build, supplier, route, lines, value)
    deposit = sum(
        float(money.amount) * float(build.find("offers", line.offer).deposit_percent) / 100
        for line, money in zip(lines, value, strict=True)
    )
    return OrderForm(
        rows=tuple(_row(view, line, prices[line.offer]) for line in lines),
        more=tuple(replace(_row(view, line, prices[line.offer]), quantity="", later=True) for line in more),
        currency=supplier.currency,
        freight=freight,
        freight_note=freight_note,
        deposit=typed(deposit, supplier.currency) if deposit else "",
        deposit_note="by the terms of what is ordered" if deposit else "",
        promised=_promised(view, lines, route).isoformat(),
        promised_note="by their usual times; put in what they promise",
        route=lines[0].route,
        collection=lines[0].collection or "",
    )


def _prices(view: View, lines: Iterable[PlannedLine]) -> dict[str, Money]:
    """The price of each offer as last seen."""
    from ..prices import outlooks

    offers = {line.offer: view.build.find("offers", line.offer) for line in lines}
    narrowed = view.build.model_copy(update={"offers": tuple(offers.values())})
    seen = outlooks(narrowed, view.facts, weeks=1)
    return {id_: Money.of(round(seen[id_].now, 4), offer.price.currency).rounded() for id_, offer in offers.items()}


def _row(view: View, line: PlannedLine, price: Money) -> OrderRow:
    about = f"planned for {day(line.order_by)}" if line.order_by and line.order_by > view.as_of else ""
    cost = typed(float(price.amount), price.currency)
    owned = owned_before(view, line.offer)
    return OrderRow(line.offer, line.part, number(line.units), cost, price.currency, about, owned=owned)


def _freight(
    build: Build, supplier: Supplier, route: Route | None, lines: Sequence[PlannedLine], value: Sequence[Money]
) -> tuple[str, str]:
    if not any(route is not None and terms.route == route.id for terms in supplier.freight):
        return "", "not known"
    if len({money.currency for money in value}) > 1:
        return "", "the prices are in several currencies"
    offers = [(build.find("offers", line.offer), line.units) for line in lines]
    goods = [offered_goods(build, offer, units, offer.price) for offer, units in offers]
    known = [item for item in goods if item.mass_kg is not None]
    mass = chargeable_mass_kg(known, route)
    whole = sum(value[1:], value[0])
    try:
        freight = freight_for(supplier, route, whole, mass)
    except ValueError:
        return "", "not known in this currency"
    if freight.currency != supplier.currency:
        return "", f"{exact(freight)} by their terms"
    note = "by their terms" + (" for the masses known" if len(known) < len(goods) else "")
    return typed(float(freight.amount), freight.currency), note


def _promised(view: View, lines: Sequence[PlannedLine], route: Route | None) -> date:
    """The day the last of it is likely here by the times that are quoted, if it is ordered today."""
    trip: Collection | None = view.build.index["collections"].get(lines[0].collection or "")
    if trip is not None:
        return trip.day
    leads = [view.build.find("offers", line.offer).lead_weeks for line in lines]
    lead = max(LEAD_LIKELY_WEEKS if weeks is None else weeks.likely for weeks in leads)
    travel = TRAVEL_LIKELY_WEEKS if route is None or route.weeks is None else route.weeks.likely
    return view.as_of + timedelta(days=round(7 * (lead + travel)))


# the landed cost


def _landed(plan: Plan, item: PlannedConsignment) -> LandedShown:
    names = {line.offer: line.part for line in plan.purchase.lines}
    code = plan.currency
    return LandedShown(
        lines=tuple(
            ChargeShown(_label(line.label, names), to_the_cent(line.amount, code), line.note, line.rule)
            for line in item.lines
        ),
        total=to_the_cent(item.total, code),
        ranges=tuple(
            f"{to_the_cent(found.low, code)} to {to_the_cent(found.high, code)}: {found.text}" for found in item.ranges
        ),
        flags=item.flags,
        assumptions=item.assumptions,
        rules=tuple(
            RuleShown(rule.id, ". ".join(filter(None, (_ground(rule), rule.source, rule.note))), rule.url)
            for rule in item.rules
        ),
    )  # fmt: skip


def _ground(rule: RuleGround) -> str:
    said = f"{rule.status[:1].upper()}{rule.status[1:]}"
    return f"{said}, as of {day(rule.as_of)}" if rule.as_of else said


def _label(label: str, names: dict[str, str]) -> str:
    """An amount's label, with the thing's name in place of its offer."""
    count, times, offer = label.rpartition(" × ")
    return f"{count}{times}{names[offer]}" if offer in names else f"{label[:1].upper()}{label[1:]}"


# changes


def order_placed(build: Build, lines: Sequence[PlannedLine], form: Form, today: date) -> Build:
    """The build with an order of these lines, and what was paid with it."""
    new = ordered(build, lines, form, today)
    if form.problems:
        return build
    order = new.events[-1]
    assert isinstance(order, Order)
    if order.day > today:
        form.refuse("day", "after today", order.day.isoformat(), "Give the day you ordered.")
    match form.text("paid"):
        case "deposit" if order.deposit is not None:
            return _with_payment(new, order, order.deposit, "deposit")
        case "deposit":
            form.refuse("deposit", "nothing was filled in", do="Give the deposit that was paid.")
        case "all":
            for money in _whole(order):
                new = _with_payment(new, order, money, "goods")
        case _:
            pass
    return new


def _whole(order: Order) -> list[Money]:
    """What an order costs with its freight and core charges, one sum for each currency."""
    asked = [(line, money) for line in order.lines for money in (line.price, line.core) if money is not None]
    amounts = [money * Decimal(str(line.quantity)) for line, money in asked]
    sums: dict[str, Money] = {}
    for money in amounts if order.freight is None else [*amounts, order.freight]:
        sums[money.currency] = sums[money.currency] + money if money.currency in sums else money
    return [money.rounded() for money in sums.values() if money.amount]


def _with_payment(build: Build, order: Order, money: Money, what: str) -> Build:
    id_ = fresh_id(build, "events", f"paid {order.day.isoformat()} {order.supplier}")
    return put(build, "events", made(Payment, id=id_, day=order.day, order=order.id, amount=money, what=what))


# routes


def _lines_of(ask: Ask, shipment: str) -> tuple[list[PlannedLine], list[PlannedLine]]:
    """What is still to be ordered of a consignment, and what else of the same supplier.

    A form that was shown before the last plan was made says itself what it orders.
    """
    view = ask.view
    groups = [] if view.plan is None else still_to_order(view, view.plan)
    for lines in groups:
        if lines[0].shipment == shipment:
            return lines, later_lines(groups, lines)
    typed_lines = [_typed_line(ask, shipment, offer) for offer in ask.form.every("line")]
    if not typed_lines or len({line.supplier for line in typed_lines}) > 1:
        raise NotHereError("consignments", shipment)
    return typed_lines, []


def _typed_line(ask: Ask, shipment: str, id_: str) -> PlannedLine:
    """A line that a form of an earlier plan orders."""
    offer: Offer = ask.find("offers", id_)
    trip = ask.form.text("collection")
    return PlannedLine(
        part=name_of_offer(ask.view.build, offer),
        offer=id_,
        supplier=offer.supplier,
        units=1,
        order_by=None,
        order_week=0,
        route=ask.form.text("route"),
        collection=trip if trip in ask.view.build.index["collections"] else None,
        shipment=shipment,
        landed=0.0,
        arrives_p50=None,
        arrives_p90=None,
        late_chance=0.0,
    )


def show_consignment(ask: Ask, shipment: str) -> Response:
    """The page of one consignment, or the piece of it that unfolds in the list."""
    plan = ask.view.plan
    page = None if plan is None else consignment_page(ask.view, plan, shipment)
    if page is None and plan is not None and ask.form.every("line"):
        lines, more = _lines_of(ask, shipment)
        shown = replace(consignment_shown(ask.view, plan, lines), total="", lines=())
        page = ConsignmentPage(shown, order_form(ask.view, lines, more), None)
    if page is None:
        return ask.show("consignment_gone.html", title="Buying", status=404)
    return ask.show("consignment.html", page, title=page.consignment.what)


@router.get("/buying/consignments/{shipment}")
def show_one(shipment: str, ask: Asked) -> Response:
    """One consignment."""
    return show_consignment(ask, shipment)


@router.post("/buying/consignments/{shipment}")
def take_order(shipment: str, ask: Asked) -> Response:
    """It is ordered."""
    lines, more = _lines_of(ask, shipment)
    supplier = ask.view.build.find("suppliers", lines[0].supplier).name
    return ask.write(
        lambda build: order_placed(build, [*lines, *more], ask.form, ask.today),
        message=f"ordered from {supplier}",
        back="/buying#on-order",
        again=lambda ask: show_consignment(ask, shipment),
    )
