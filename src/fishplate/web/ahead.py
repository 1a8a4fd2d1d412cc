"""What is ahead: sales and announced rises with what must be ready by then; orders that are held, and by what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, offer_contents
from ..build.commerce import Offer, PriceChange, SaleWindow
from ..plan import Plan
from ..prices import ReadyToBuy
from .ask import Ask, Asked
from .desk import View, fresh_id, put
from .form import Form, made
from .outlooks import name_of_offer, offer_path
from .words import amount, chance, day

router = APIRouter()
SALE: Final = "sale"


@dataclass(frozen=True, slots=True)
class Waiting:
    """Something to decide, measure or settle; `done` if it was since the plan."""

    verb: str
    name: str
    path: str
    done: bool = False

    @property
    def words(self) -> str:
        """What is to be done, or was."""
        return DONE[self.verb] if self.done else self.verb


@dataclass(frozen=True, slots=True)
class Ahead:
    """A sale that is expected, or a rise that was announced."""

    what: str
    note: str
    todo: tuple[Waiting, ...]
    fund: str
    saving: str
    offers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Held:
    """An order that is held, and what it waits for."""

    what: str
    path: str
    supplier: str
    why: str
    waits: tuple[Waiting, ...]
    note: str


def ahead_of(view: View, plan: Plan) -> tuple[Ahead, ...]:
    """The plan's sales and rises that are not over, soonest first."""
    lines = [line for line in plan.ready_to_buy if (line.last or line.first) >= view.as_of]
    return tuple(_ahead(view, plan, line) for line in sorted(lines, key=lambda line: (line.first, line.key)))


def _ahead(view: View, plan: Plan, line: ReadyToBuy) -> Ahead:
    build = view.build
    todo = [_decision(view, plan, key) for key in line.decide] + [_dimension(view, plan, key) for key in line.measure]
    offers = [build.find("offers", offer) for offer in line.offers if offer in build.index["offers"]]
    return Ahead(
        what=_what(build, line),
        note=_note(build, line),
        todo=tuple(todo),
        fund=amount(line.fund, plan.currency),
        saving=amount(line.saving, plan.currency),
        offers=tuple((name_of_offer(build, offer), offer_path(offer.id)) for offer in offers),
    )


def _what(build: Build, line: ReadyToBuy) -> str:
    supplier = build.index["suppliers"].get(line.supplier)
    name = supplier.name if supplier is not None else line.supplier
    window: SaleWindow | None = build.index["sale_windows"].get(line.key)
    if line.kind == SALE and line.last is not None:
        sure = f", {chance(window.chance)} likely" if window is not None else ""
        depth = f", about {window.depth_percent.likely:g} % off" if window is not None else ""
        return f"A sale at {name} from {_short(line.first, line.last)} to {day(line.last)}{sure}{depth}"
    change = _change(build, line)
    percent = f" by {change.percent:g} %" if change is not None else ""
    return f"Prices at {name} rise{percent} on {day(line.first)}"


def _short(first: date, last: date) -> str:
    """A day without what the next one says anyway."""
    if first.year != last.year:
        return day(first)
    return f"{first.day}" if first.month == last.month else f"{first.day} {first:%B}"


def _note(build: Build, line: ReadyToBuy) -> str:
    noun = build.index["sale_windows"].get(line.key) if line.kind == SALE else _change(build, line)
    return noun.note if noun is not None else ""


def _change(build: Build, line: ReadyToBuy) -> PriceChange | None:
    """The rise behind a line; one that several suppliers announce has a line for each, with the supplier in its key."""
    changes = build.index["price_changes"]
    return changes.get(line.key) or changes.get(line.key.removesuffix(f"-{line.supplier}"))


def held_of(view: View, plan: Plan) -> tuple[Held, ...]:
    """Orders the plan holds, and what each waits for, as things are now."""
    build = view.build
    shown = [build.find("offers", offer) for offer in sorted(plan.purchase.held) if offer in build.index["offers"]]
    shown = [offer for offer in shown if _is_missing(view, offer)]
    planned = {line.offer: line for line in plan.purchase.lines}
    shown.sort(key=lambda offer: (planned[offer.id].order_week if offer.id in planned else 999, offer.id))
    return tuple(_held(view, plan, offer) for offer in shown)


def _is_missing(view: View, offer: Offer) -> bool:
    return any(view.facts.missing(view.build, part) > 0 for part in offer_contents(view.build, offer))


def _held(view: View, plan: Plan, offer: Offer) -> Held:
    build = view.build
    parts = offer_contents(build, offer)
    releases = [release for release in build.releases if release.offer == offer.id or release.part in parts]
    waits = plan.purchase.waits.get(offer.id, ())
    return Held(
        what=name_of_offer(build, offer),
        path=offer_path(offer.id),
        supplier=build.find("suppliers", offer.supplier).name,
        why=plan.purchase.held[offer.id],
        waits=tuple(_READERS[verb](view, plan, key) for verb, key in waits),
        note=" ".join(dict.fromkeys(release.note for release in releases if release.note)),
    )


def _decision(view: View, _plan: Plan, key: str) -> Waiting:
    choice = view.facts.choices.get(key)
    path = f"/decisions/{quote(key, safe='')}"
    return Waiting("Decide", _name(view, "decisions", key), path, choice is None or choice.decided)


def _dimension(view: View, plan: Plan, key: str) -> Waiting:
    """A dimension to be measured; done once it was measured after the plan was made."""
    path = f"/interfaces/dimensions/{quote(key, safe='')}"
    changed = view.facts.state_changed
    fresh = any(
        reading.dimension == key
        and plan.as_of <= reading.day <= view.as_of
        and changed.get(reading.against or "", reading.day) <= reading.day
        for reading in view.build.readings
    )
    return Waiting("Measure", _name(view, "dimensions", key), path, fresh and view.changes_since > 0)


def _interface(view: View, _plan: Plan, key: str) -> Waiting:
    path = f"/interfaces/{quote(key, safe='')}"
    return Waiting("Settle", _name(view, "interfaces", key), path, key in view.facts.settled)


def _name(view: View, list_name: str, key: str) -> str:
    noun = view.build.index[list_name].get(key)
    return str(getattr(noun, "name", key))


_READERS: Final = {"decide": _decision, "measure": _dimension, "settle": _interface}
DONE: Final = {"Decide": "Decided", "Measure": "Measured", "Settle": "Settled"}


# changes


def sale_expected(build: Build, form: Form) -> Build:
    """The build with a sale the owner expects."""
    names = {supplier.name.casefold(): supplier.id for supplier in build.suppliers}
    supplier = names.get(form.required("supplier").casefold())
    if supplier is None and form.text("supplier"):
        form.refuse("supplier", "not a supplier of this build", form.text("supplier"), "Choose one of the list.")
    first, last = form.day("first"), form.day("last")
    depth, likely = form.number("depth", at_least=0, at_most=100), form.number("chance", at_least=0, at_most=100)
    if form.problems:
        return build
    window = made(
        SaleWindow,
        id=fresh_id(build, "sale_windows", f"{supplier} {first.isoformat()}"),
        supplier=supplier,
        first=first,
        last=last,
        depth_percent={"low": depth * 0.6, "likely": depth, "high": min(100.0, depth * 1.4)},
        chance=likely / 100,
        note=form.text("note"),
    )
    return put(build, "sale_windows", window)


def rise_announced(build: Build, form: Form) -> Build:
    """The build with a rise that a supplier announced."""
    names = {supplier.name.casefold(): supplier.id for supplier in build.suppliers}
    supplier = names.get(form.required("supplier").casefold())
    if supplier is None and form.text("supplier"):
        form.refuse("supplier", "not a supplier of this build", form.text("supplier"), "Choose one of the list.")
    when, percent = form.day("day"), form.number("percent", at_least=-100, at_most=1000)
    if form.problems:
        return build
    change = made(
        PriceChange,
        id=fresh_id(build, "price_changes", f"{supplier} {when.isoformat()}"),
        day=when,
        percent=percent,
        supplier=supplier,
        category=form.text("category"),
        note=form.text("note"),
    )
    return put(build, "price_changes", change)


# routes


def _again(ask: Ask) -> Response:
    from .buying import show_buying

    return show_buying(ask)


@router.post("/buying/sales")
def take_sale(ask: Asked) -> Response:
    """A sale is expected."""
    return ask.write(
        lambda build: sale_expected(build, ask.form),
        message=f"a sale is expected at {ask.form.text('supplier')[:60]}",
        back="/buying#ahead",
        again=_again,
    )


@router.post("/buying/rises")
def take_rise(ask: Asked) -> Response:
    """A rise was announced."""
    return ask.write(
        lambda build: rise_announced(build, ask.form),
        message=f"a price rise at {ask.form.text('supplier')[:60]}",
        back="/buying#ahead",
        again=_again,
    )
