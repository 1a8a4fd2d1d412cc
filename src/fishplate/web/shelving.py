"""Changes on the shelf: counted, moved, reported, settled, checked, sent, come back."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.events import (
    Check,
    Claim,
    CoreSent,
    Move,
    Order,
    Receipt,
    Reclaim,
    Refund,
    Return,
    Settlement,
    StockTake,
)
from ..records import MoneyBack, claims_due, money_back, return_rights, to_send_back
from .amounts import to_home
from .ask import Ask, Asked, NotHereError
from .desk import View, fresh_id, put
from .form import made
from .order_edits import not_after

router = APIRouter()
OUTCOMES: Final = ("replacement", "refund", "price-reduction", "refused")
REFUNDED: Final = {
    "refund": "goods", "claim": "goods", "cancelled": "goods", "core": "core",
    "import-tax": "import-tax", "origin-tax": "origin-tax",
}  # fmt: skip


def counted_there(view: View, build: Build, ask: Ask) -> Build:
    """The build with what was counted at a place, where it is not what was thought."""
    place, form = ask.form.text("place"), ask.form
    for part in build.parts:
        count = form.maybe_number(f"count-{part.id}", at_least=0)
        lies = view.facts.lies.get(part.id)
        there = 0.0 if lies is None else lies.places.get(place, 0.0)
        if count is not None and abs(count - there) > 1e-9:
            build = _count(build, part.id, count, place, ask)
    name, more = form.text("other"), form.maybe_number("other-count", at_least=0)
    if name:
        found = next((part for part in build.parts if part.name.casefold() == name.casefold()), None)
        if found is None:
            form.refuse("other", "no part of this build has that name", name, "Choose one of the list.")
        elif more is None:
            form.refuse("other-count", "nothing was filled in", do="Give how many lie there.")
        else:
            build = _count(build, found.id, more, place or form.text("where"), ask)
    return build


def _count(build: Build, part: str, count: float, place: str, ask: Ask) -> Build:
    id_ = fresh_id(build, "events", f"counted {ask.today.isoformat()} {part}")
    # a count where nobody said which place is of what lies nowhere in particular, not of everything
    if not place:
        lies = ask.view.facts.lies.get(part)
        named = 0.0 if lies is None else sum(n for name, n in lies.places.items() if name)
        return put(build, "events", made(StockTake, id=id_, day=ask.today, part=part, quantity=count + named))
    return put(build, "events", made(StockTake, id=id_, day=ask.today, part=part, quantity=count, place=place))


def moved(build: Build, ask: Ask) -> Build:
    """The build with parts put somewhere else."""
    form = ask.form
    name, place = form.required("part", "Choose a part."), form.required("place", "Say where it lies now.")
    quantity = form.maybe_number("quantity", at_least=0)
    found = next((part for part in build.parts if part.name.casefold() == name.casefold()), None)
    if name and found is None:
        form.refuse("part", "no part of this build has that name", name, "Choose one of the list.")
    if form.problems or found is None:
        return build
    id_ = fresh_id(build, "events", f"moved {ask.today.isoformat()} {found.id}")
    event = made(Move, id=id_, day=ask.today, part=found.id, quantity=quantity or None, place=place)
    return put(build, "events", event)


def reported(view: View, build: Build, ask: Ask) -> Build:
    """The build with a fault reported."""
    form = ask.form
    receipt, part, fault = form.text("receipt"), form.text("part"), form.text("fault")
    known = {(due.receipt, due.part, due.fault): due for due in claims_due(build, view.as_of)}
    due = next((found for key, found in known.items() if key == (receipt, part, fault)), None)
    if due is None:
        form.refuse("form", "that is not to be reported any more", do="Look at the list again.")
        return build
    quantity = form.number("quantity", at_least=0, at_most=due.quantity)
    if quantity == 0 and not form.problems:
        form.refuse("quantity", "none is reported", do="Give how many.")
    not_after(form, form.day("day", ask.today), ask.today)
    photo = ask.keep_photo("photo", f"claim {part} {ask.today.isoformat()}")
    if form.problems:
        return build
    id_ = fresh_id(build, "events", f"claimed {ask.today.isoformat()} {part}")
    event = made(Claim, id=id_, day=form.day("day", ask.today), order=due.order, receipt=receipt, part=part,
                 quantity=quantity, fault=fault, photo=photo, note=form.text("note"))  # fmt: skip
    return put(build, "events", event)


def went_back(build: Build, claim: Claim, most: float, ask: Ask, currency: str) -> Build:
    """The build with something faulty sent back under its claim."""
    form = ask.form
    quantity, cost = form.number("quantity", at_least=0, at_most=most), form.money("cost", currency)
    when = form.day("day", ask.today)
    not_after(form, when, ask.today)
    if quantity == 0 and not form.problems:
        form.refuse("quantity", "none goes back", do="Give how many.")
    if form.problems:
        return build
    id_ = fresh_id(build, "events", f"returned {when.isoformat()} {claim.part}")
    event = made(Return, id=id_, day=when, order=claim.order, claim=claim.id, part=claim.part, quantity=quantity,
                 cost=cost, note=form.text("note"))  # fmt: skip
    return put(build, "events", event)


def settled(build: Build, claim: Claim, ask: Ask, currency: str) -> Build:
    """The build with a claim ended."""
    outcome, amount = ask.form.choice("outcome", OUTCOMES), ask.form.money("amount", currency)
    not_after(ask.form, ask.form.day("day", ask.today), ask.today)
    if ask.form.problems:
        return build
    id_ = fresh_id(build, "events", f"settled {ask.today.isoformat()} {claim.part}")
    event = made(Settlement, id=id_, day=ask.form.day("day", ask.today), claim=claim.id, outcome=outcome, amount=amount,
                 note=ask.form.text("note"))  # fmt: skip
    return put(build, "events", event)


def checked(build: Build, part: str, ask: Ask) -> Build:
    """The build with a check of a part."""
    how = ask.form.choice("how", ("counted", "measured", "offered-up", "bolted"))
    good = ask.form.choice("good", ("yes", "no")) == "yes"
    rights = [right for right in return_rights(build, ask.view.as_of) if right.part == part]
    lies, able = ask.view.facts.lies.get(part), sum(right.quantity for right in rights)
    count = ask.form.maybe_number("count", at_least=0, at_most=None if lies is None else lies.lying) or None
    faulty = ask.form.maybe_number("faulty", at_least=0, at_most=count or (able if able else None)) or None
    if count is None and lies is not None and 0 < able < lies.lying:
        count = able  # asked of those that can go back, beside others that were here
    if good and faulty is not None:
        ask.form.refuse("good", "some are not right, yet it is said to be right", do="Choose “not right”.")
    if ask.form.problems:
        return build
    id_ = fresh_id(build, "events", f"checked {ask.today.isoformat()} {part}")
    event = made(
        Check, id=id_, day=ask.today, part=part, quantity=count, how=how, good=good, faulty=faulty,
        note=ask.form.text("note"),
    )  # fmt: skip
    return put(build, "events", event)


def sent(build: Build, item: MoneyBack, ask: Ask) -> Build:
    """The build with an old part sent back, or tax asked for."""
    id_ = fresh_id(build, "events", f"{item.kind} {ask.today.isoformat()} {item.what}")
    if item.kind == "core":
        order = build.find("events", item.order or "")
        line = order.lines[int(item.key.rpartition("/")[2])]
        core = made(CoreSent, id=id_, day=ask.today, order=item.order, offer=item.what, quantity=line.quantity)
        return put(build, "events", core)
    returned = item.key if item.kind == "import-tax" else None
    asked = made(
        Reclaim, id=id_, day=ask.today, order=item.order, returned=returned, what=item.kind, amount=item.amount
    )
    return put(build, "events", asked)


def came_back(build: Build, item: MoneyBack, ask: Ask, currency: str) -> Build:
    """The build with money that came back."""
    amount, booked = ask.form.money("amount", currency), ask.form.money("home", ask.view.currency)
    when = ask.form.day("day", ask.today)
    not_after(ask.form, when, ask.today)
    if amount is None:
        if not ask.form.problems:
            ask.form.refuse("amount", "nothing was filled in", do="Give what came; 0 if nothing will.")
        return build
    if ask.form.problems:
        return build
    links = {"refund": {"returned": item.key}, "import-tax": {"returned": item.key}, "core": {"offer": item.what}}
    named: dict[str, str] = links.get(item.kind, {})
    if item.kind == "claim":
        named = {"claim": build.find("events", item.key).claim}
    id_ = fresh_id(build, "events", f"refunded {when.isoformat()} {item.what}")
    event = made(Refund, id=id_, day=when, order=item.order, amount=amount, home_amount=booked,
                 what=REFUNDED[item.kind], **named)  # fmt: skip
    return put(build, "events", event)


# routes


def _again(ask: Ask) -> Response:
    from .shelf import show_shelf

    return show_shelf(ask)


@router.post("/shelf/count")
def take_count(ask: Asked) -> Response:
    """What was counted at a place."""
    view = ask.view
    message = f"counted: {ask.form.text('place') or ask.form.text('where') or 'the shelf'}"
    return ask.write(lambda b: counted_there(view, b, ask), message=message, back="/shelf#places", again=_again)


@router.post("/shelf/moved")
def take_move(ask: Asked) -> Response:
    """Something lies elsewhere now."""
    message = f"moved: {ask.form.text('part')}"
    return ask.write(lambda build: moved(build, ask), message=message, back="/shelf#places", again=_again)


@router.post("/shelf/claims")
def take_claim(ask: Asked) -> Response:
    """A fault was reported."""
    receipt = ask.find("events", ask.form.text("receipt") or "-")
    if not isinstance(receipt, Receipt):
        raise NotHereError("events", receipt.id)
    view = ask.view
    return ask.write(lambda b: reported(view, b, ask), message="reported a fault", back="/shelf", again=_again)


@router.post("/shelf/claims/{claim}")
def take_settlement(claim: str, ask: Asked) -> Response:
    """A claim has ended."""
    found = ask.find("events", claim)
    if not isinstance(found, Claim):
        raise NotHereError("events", claim)
    return ask.write(
        lambda build: settled(build, found, ask, _currency_of(ask, found)), message="a claim has ended", back="/shelf",
        again=_again,
    )  # fmt: skip


@router.post("/shelf/claims/{claim}/back")
def take_faulty_back(claim: str, ask: Asked) -> Response:
    """Something faulty was sent back."""
    found = ask.find("events", claim)
    most = to_send_back(ask.view.build, found, ask.view.as_of) if isinstance(found, Claim) else 0.0
    if not isinstance(found, Claim) or most <= 0:
        raise NotHereError("events", claim)
    name = ask.find("parts", found.part).name
    return ask.write(
        lambda build: went_back(build, found, most, ask, _currency_of(ask, found)), message=f"sent back: {name}",
        back="/shelf#in", again=_again,
    )  # fmt: skip


def _currency_of(ask: Ask, claim: Claim) -> str:
    """Currency of what a claim's seller pays."""
    order = ask.view.build.index["events"].get(claim.order or "")
    if isinstance(order, Order):
        return str(ask.view.build.find("suppliers", order.supplier).currency)
    return ask.view.currency


@router.post("/shelf/checks/{part}")
def take_check(part: str, ask: Asked) -> Response:
    """A part was checked."""
    name = ask.find("parts", part).name
    return ask.write(lambda build: checked(build, part, ask), message=f"checked: {name}", back="/shelf", again=_again)


@router.post("/shelf/back/{kind}/{key:path}/sent")
def take_sent(kind: str, key: str, ask: Asked) -> Response:
    """An old part was sent, or tax asked for."""
    item = _owed(ask, kind, key)
    return ask.write(lambda build: sent(build, item, ask), message="sent, or asked for", back="/shelf", again=_again)


@router.post("/shelf/back/{kind}/{key:path}/came")
def take_money(kind: str, key: str, ask: Asked) -> Response:
    """Money has come back."""
    item = _owed(ask, kind, key)
    order = ask.view.build.index["events"].get(item.order or "")
    currency = item.amount.currency if item.amount else ask.view.currency
    if item.amount is None and isinstance(order, Order) and order.lines:
        currency = order.lines[0].price.currency
    return ask.write(
        lambda build: came_back(build, item, ask, currency), message="money came back", back="/shelf#back",
        again=_again,
    )  # fmt: skip


def _owed(ask: Ask, kind: str, key: str) -> MoneyBack:
    found = money_back(ask.view.build, ask.view.as_of, to_home(ask.view.build))
    item = next((item for item in found if (item.kind, item.key) == (kind, key)), None)
    if item is None:
        raise NotHereError("events", key)
    return item
