"""Doing what an action says, or putting it off: what is asked for, and the change to the build."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ..build import Build, Money, Problem, Refused
from ..build.approval import PutOff
from ..build.commerce import Collection, Offer
from ..build.events import Check, Order, OrderLine, PartCount, Receipt, Work
from ..fit import SEE
from ..plan import Action, ActionKind, Plan
from ..plan.model import PlannedLine
from ..records import best_check, return_rights, with_baselines
from ..wiring import with_likely_bills
from . import dimensions
from .ask import Ask
from .desk import Edit, View, fresh_id, put
from .form import Form, made
from .owned import Found, owned_before
from .words import number

TRY, BACK = "try:", "back:"
# A check that fits a part for trial is written down as bolted, which is what may end a return right.
_HOW = {"fitted": "bolted"}


@dataclass(frozen=True, slots=True)
class OrderRow:
    """A line of an order that is offered: field names, what the plan thinks, and what is owned of it already."""

    offer: str
    name: str
    quantity: str
    price: str
    currency: str
    owned: tuple[Found, ...] = ()


@dataclass(frozen=True, slots=True)
class Act:
    """What a person can do about an action on the spot.

    Parameters
    ----------
    kind : which form is shown; empty where there is nothing to fill in, `why_not` then says why
    options : value, words and a finer line, to pick from; chosen : the one leaned to
    rows : lines to order, or to fetch
    place : interface where what was seen is written down
    how : how far a check of a part goes, as it is written down
    """

    kind: str
    why_not: str = ""
    options: tuple[tuple[str, str, str], ...] = ()
    chosen: str = ""
    rows: tuple[OrderRow, ...] = ()
    unit: str = ""
    instrument: str = ""
    states: tuple[tuple[str, str], ...] = ()
    hours_left: str = ""
    place: str = ""
    how: str = ""


def act_of(view: View, plan: Plan, action: Action) -> Act:
    """What can be done about an action."""
    match action.kind:
        case ActionKind.DECIDE:
            return _decide(view, action)
        case ActionKind.MEASURE:
            return _measure(view, action)
        case ActionKind.BUY:
            rows = tuple(_order_row(view, line) for line in lines_of(view.build, plan, action))
            return Act("buy", rows=rows) if rows else Act("", "Its offers are no longer in the build.")
        case ActionKind.COLLECT:
            return _collect(view, action)
        case ActionKind.DO:
            return _do(view, action)


def lines_of(build: Build, plan: Plan, action: Action) -> list[PlannedLine]:
    """The planned lines of an order whose offers are still there."""
    return [line for line in plan.purchase.lines if line.shipment == action.key and line.offer in build.index["offers"]]


def _decide(view: View, action: Action) -> Act:
    decision = view.build.index["decisions"].get(action.key)
    if decision is None:
        return Act("", "The decision is no longer in the build.")
    names = {part.id: part.name for part in view.build.parts}
    options = tuple(
        (option.id, option.name, option.note or ", ".join(names.get(part, part) for part in option.parts[:4]))
        for option in decision.options
    )
    return Act("decide", options=options, chosen=view.facts.choices[action.key].option.id)


def _measure(view: View, action: Action) -> Act:
    if action.key.startswith(SEE):
        condition = view.build.index["conditions"].get(action.key.removeprefix(SEE))
        return Act("", "It is no longer in the build.") if condition is None else Act("", place=condition.interface)
    dimension = view.build.index["dimensions"].get(action.key)
    if dimension is None:
        return Act("", "The dimension is no longer in the build.")
    states = (("", "no particular state"), *((state.id, state.name) for state in view.build.states))
    kind = "designate" if dimension.designates is not None else "measure"
    return Act(kind, unit=dimension.unit, instrument=dimension.instrument or "", states=states)


def _order_row(view: View, line: PlannedLine) -> OrderRow:
    price, owned = view.build.find("offers", line.offer).price, owned_before(view, line.offer)
    return OrderRow(line.offer, line.part, number(line.units), f"{price.rounded().amount:f}", price.currency, owned)


def _collect(view: View, action: Action) -> Act:
    collection: Collection | None = view.build.index["collections"].get(action.key)
    if collection is None:
        return Act("", "The trip is no longer in the build.")
    if not collection.decided:
        return Act("trip")
    orders = {event.id for event in view.build.events if isinstance(event, Order) and event.collection == action.key}
    coming = [item for item in view.facts.incoming if item.order in orders]
    if not coming:
        return Act("", "The trip is fixed. Nothing that is ordered comes by it yet.")
    names = {part.id: part.name for part in view.build.parts}
    rows = tuple(OrderRow(item.part, names[item.part], number(item.quantity), "", "") for item in coming)
    return Act("fetched", rows=rows)


def _do(view: View, action: Action) -> Act:
    if action.key.startswith((TRY, BACK)):
        part = action.key.removeprefix(TRY).removeprefix(BACK)
        if part not in view.build.index["parts"]:
            return Act("", "The part is no longer in the build.")
        return Act("try", how=_how(view.build, part, view.as_of)) if action.key.startswith(TRY) else Act("back")
    if action.key not in view.build.index["jobs"]:
        return Act("", "These hours stand for a whole phase. List its jobs, and hours can be written down for each.")
    state = view.facts.jobs.get(action.key)
    left = None if state is None else state.hours_left
    return Act("do", hours_left="" if left is None else number(left))


def _how(build: Build, part: str, as_of: date) -> str:
    """How far a check of a part goes that leaves it able to go back; offered up where nothing says."""
    right = next((right for right in return_rights(build, as_of) if right.part == part), None)
    how = "offered-up" if right is None else best_check(build, right, as_of).how
    return _HOW.get(how, how)


# changes


def edit_of(ask: Ask, plan: Plan, action: Action) -> tuple[Edit, str]:
    """The change that carries an action out, read from the form, and its line in the history."""
    form, build = ask.form, ask.view.build
    match action.kind:
        case ActionKind.DECIDE:
            name = _name(build, "decisions", action.key)
            return lambda build: decided(build, action.key, form, ask.today), f"decided: {name}"
        case ActionKind.MEASURE:
            name = _name(build, "dimensions", action.key)
            return lambda build: measured(build, action.key, ask), f"measured: {name}"
        case ActionKind.BUY:
            lines = lines_of(build, plan, action)
            return lambda build: ordered(build, lines, form, ask.today), f"ordered from {_supplier(build, lines)}"
        case ActionKind.COLLECT:
            if form.text("form").startswith("fetched"):
                return lambda build: fetched(build, action.key, form, ask), "fetched what was waiting"
            return lambda build: trip_fixed(build, action.key), f"trip fixed: {_place(build, action.key)}"
        case ActionKind.DO:
            if action.key.startswith(TRY):
                part = action.key.removeprefix(TRY)
                return lambda build: tried(build, part, form, ask.today), f"checked: {_name(build, 'parts', part)}"
            name = ask.find("jobs", action.key).name[:160]
            return lambda build: worked(build, action.key, form, ask.today), f"hours on {name}"


def decided(build: Build, id_: str, form: Form, today: date) -> Build:
    """The build with an option of a decision taken."""
    decision = build.find("decisions", id_)
    option = form.choice("option", [option.id for option in decision.options])
    if not option:
        return build
    taken = {"chosen": option, "chosen_on": form.day("day", today), "why": form.text("why", decision.why)}
    return put(build, "decisions", decision.model_copy(update=taken))


def measured(build: Build, id_: str, ask: Ask) -> Build:
    """The build with a reading of a dimension."""
    words = f"{id_} {ask.form.text('day')}"
    return dimensions.measured(
        build, build.find("dimensions", id_), ask.form, ask.today, photo=lambda: ask.keep_photo("photo", words)
    )


def ordered(build: Build, lines: Sequence[PlannedLine], form: Form, today: date) -> Build:
    """The build with an order of planned lines, as many and at the prices that were typed."""
    day, promised = form.day("day", today), form.maybe_day("promised")
    taken = [_order_line(build.find("offers", line.offer), form) for line in lines]
    kept = [line for line in taken if line is not None]
    if not kept:
        form.refuse("form", "nothing is ordered", do="Leave at least one quantity above nothing.")
    supplier = build.find("suppliers", lines[0].supplier)
    freight, deposit = form.money("freight", supplier.currency), form.money("deposit", supplier.currency)
    if form.problems:
        return build
    routes = {route.name: route.id for route in build.routes}
    order = made(
        Order,
        id=fresh_id(build, "events", f"ordered {day.isoformat()} {supplier.id}"),
        day=day,
        supplier=supplier.id,
        route=routes.get(lines[0].route),
        collection=lines[0].collection,
        lines=tuple(kept),
        freight=freight,
        deposit=deposit,
        promised=promised,
        note=form.text("note"),
    )
    return with_likely_bills(build, put(build, "events", with_baselines(build, order)))


def _order_line(offer: Offer, form: Form) -> OrderLine | None:
    quantity = form.maybe_number(f"quantity-{offer.id}", at_least=0)
    price = form.maybe_number(f"price-{offer.id}", at_least=0)
    if not quantity:
        return None
    if price is None:
        form.refuse(f"price-{offer.id}", "nothing was filled in", do="Give the price of one.")
        return None
    return OrderLine(offer=offer.id, quantity=quantity, price=Money.of(price, offer.price.currency))


def trip_fixed(build: Build, id_: str) -> Build:
    """The build with a trip that is made whatever the plan says."""
    return put(build, "collections", build.find("collections", id_).model_copy(update={"decided": True}))


def fetched(build: Build, id_: str, form: Form, ask: Ask) -> Build:
    """The build with what a trip fetched received, order by order."""
    day, place = form.day("day", ask.today), form.text("place")
    orders = [event for event in build.events if isinstance(event, Order) and event.collection == id_]
    for order in orders:
        counts = tuple(
            PartCount(part=item.part, quantity=item.quantity)
            for item in ask.view.facts.incoming
            if item.order == order.id and item.part in form.every("part")
        )
        if counts and not form.problems:
            stem = f"arrived {day.isoformat()} {order.supplier}"
            receipt = Receipt(id=fresh_id(build, "events", stem), day=day, order=order.id, lines=counts, place=place)
            build = put(build, "events", receipt)
    if not form.every("part"):
        form.refuse("form", "nothing is ticked", do="Tick what is in the garage now.")
    return build


def worked(build: Build, id_: str, form: Form, today: date) -> Build:
    """The build with hours on a job."""
    day, hours = form.day("day", today), form.number("hours", at_least=0, at_most=24 * 31)
    left, done = form.maybe_number("left", at_least=0), form.ticked("done")
    if form.problems:
        return build
    stem = f"worked {day.isoformat()} {id_}"
    event = Work(
        id=fresh_id(build, "events", stem),
        day=day,
        job=id_,
        hours=hours,
        done=done,
        hours_left=None if done else left,
        note=form.text("note"),
    )
    return put(build, "events", event)


def tried(build: Build, part: str, form: Form, today: date) -> Build:
    """The build with a part checked, as far as its terms allow."""
    day, good = form.day("day", today), form.choice("good", ("yes", "no")) == "yes"
    if form.problems:
        return build
    id_, how = fresh_id(build, "events", f"tried {day.isoformat()} {part}"), _how(build, part, today)
    return put(build, "events", made(Check, id=id_, day=day, part=part, how=how, good=good, note=form.text("note")))


# putting off


def postponed(build: Build, plan: Plan, action: Action, until: date, why: str) -> Build:
    """The build with an action put off; for an order, each of its offers."""
    build = taken_up(build, plan, action)
    new = tuple(
        PutOff(kind=action.kind.value, what=what, until=until, why=why) for what in put_off_as(build, plan, action)
    )
    if not new:
        raise Refused([Problem("", "nothing", "there is nothing left to put off", "", "Plan again.")])
    return build.model_copy(update={"put_off": (*build.put_off, *new)})


def taken_up(build: Build, plan: Plan, action: Action) -> Build:
    """The build with an action no longer put off."""
    whats = set(put_off_as(build, plan, action))
    kept = tuple(item for item in build.put_off if not (item.kind == action.kind.value and item.what in whats))
    return build.model_copy(update={"put_off": kept})


def put_off_as(build: Build, plan: Plan, action: Action) -> list[str]:
    """Ids an action is put off under: its own, or those of each offer of an order, whose grouping may change."""
    if action.kind is ActionKind.BUY:
        return [line.offer for line in lines_of(build, plan, action)]
    return [action.key.removeprefix(TRY).removeprefix(BACK)]


def _name(build: Build, list_name: str, id_: str) -> str:
    noun = build.index[list_name].get(id_)
    return str(getattr(noun, "name", id_))[:160]


def _supplier(build: Build, lines: Sequence[PlannedLine]) -> str:
    return _name(build, "suppliers", lines[0].supplier) if lines else "nobody"


def _place(build: Build, id_: str) -> str:
    collection = build.index["collections"].get(id_)
    return collection.place or id_ if collection is not None else id_
