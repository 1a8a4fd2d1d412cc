"""Ahead: a year of sales, rises and ends of offers, with what must be ready by then; and orders that are held."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, offer_contents
from ..build.commerce import Offer, PriceChange, SaleWindow
from ..plan import Plan
from ..prices import ReadyToBuy
from .advice import offer_path
from .ask import Ask, Asked
from .desk import View, fresh_id, put
from .form import Form, made
from .outlooks import name_of_offer
from .words import amount, chance, day

router = APIRouter()
SALE, RISE, END = "sale", "rise", "end"


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
    """A sale that may come, a rise that was announced, or the last day of an offer.

    Parameters
    ----------
    ground : what its chance and depth rest on; note : the owner's
    fund : money to have ready; aside : what that is a month until then, in words; empty where it is less than two off
    lost : what is lost if it is not ready, in words
    """

    what: str
    ground: str
    note: str
    todo: tuple[Waiting, ...]
    fund: str
    aside: str
    lost: str
    offers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class MonthAhead:
    """A month with what happens in it; `fund` : money to have ready if all of it is bought then, in words."""

    name: str
    fund: str
    items: tuple[Ahead, ...]


@dataclass(frozen=True, slots=True)
class AheadPage:
    """The page.

    Parameters
    ----------
    months : those of the next twelve in which something happens
    until : last day shown, in words
    suppliers : names of those who sell, for a sale or a rise that is written down
    """

    months: tuple[MonthAhead, ...]
    until: str
    suppliers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Held:
    """An order that is held, and what it waits for."""

    what: str
    path: str
    supplier: str
    why: str
    waits: tuple[Waiting, ...]
    note: str


def ahead_page(view: View) -> AheadPage:
    """The page, from the last plan."""
    until = date(view.as_of.year + 1, view.as_of.month, 1) - timedelta(days=1)
    suppliers = tuple(supplier.name for supplier in view.build.suppliers)
    plan = view.plan
    if plan is None:
        return AheadPage((), day(until), suppliers)
    months: dict[str, list[ReadyToBuy]] = {}
    for line in _lines(view, plan):
        first = max(line.first, view.as_of)
        if first <= until:
            months.setdefault(f"{first:%B %Y}", []).append(line)
    return AheadPage(tuple(_month(view, plan, name, lines) for name, lines in months.items()), day(until), suppliers)


def _month(view: View, plan: Plan, name: str, lines: Sequence[ReadyToBuy]) -> MonthAhead:
    fund = amount(sum(line.fund for line in lines), plan.currency) if len(lines) > 1 else ""
    return MonthAhead(name, fund, tuple(_ahead(view, plan, line) for line in lines))


def ahead_of(view: View, plan: Plan) -> tuple[Ahead, ...]:
    """The plan's sales, rises and ends that are not over, soonest first."""
    return tuple(_ahead(view, plan, line) for line in _lines(view, plan))


def _lines(view: View, plan: Plan) -> list[ReadyToBuy]:
    lines = [line for line in plan.ready_to_buy if (line.last or line.first) >= view.as_of]
    return sorted(lines, key=lambda line: (line.first, line.key))


def _ahead(view: View, plan: Plan, line: ReadyToBuy) -> Ahead:
    build = view.build
    todo = [_decision(view, plan, key) for key in line.decide] + [_dimension(view, plan, key) for key in line.measure]
    offers = [build.find("offers", offer) for offer in line.offers if offer in build.index["offers"]]
    own: SaleWindow | None = build.index["sale_windows"].get(line.key)
    return Ahead(
        what=_what(build, line),
        ground=f"{line.ground[:1].upper()}{line.ground[1:]}." if line.kind == SALE and line.ground else "",
        note=own.note if own is not None else line.ground if line.kind == RISE else "",
        todo=tuple(todo),
        fund=amount(line.fund, plan.currency),
        aside=_aside(view, line, plan.currency),
        lost=_lost(line, plan.currency),
        offers=tuple((name_of_offer(build, offer), offer_path(offer.id)) for offer in offers),
    )


def _aside(view: View, line: ReadyToBuy, currency: str) -> str:
    months = (line.first.year - view.as_of.year) * 12 + line.first.month - view.as_of.month
    return f"{amount(line.fund / months, currency)} a month until then" if months > 1 else ""


def _lost(line: ReadyToBuy, currency: str) -> str:
    saving = amount(line.saving, currency)
    if line.kind != END:
        return f"{saving} of expected saving is lost otherwise"
    return f"afterwards it costs {saving} more elsewhere" if line.saving else "nobody else is known to sell it"


def _what(build: Build, line: ReadyToBuy) -> str:
    supplier = build.index["suppliers"].get(line.supplier)
    name = supplier.name if supplier is not None else line.supplier
    if line.kind == SALE and line.last is not None:
        sure = "is on" if line.chance == 1 else f"{chance(line.chance)} likely"
        off = f"about {100 * line.depth:.0f} % off"
        return f"A sale at {name} from {_short(line.first, line.last)} to {day(line.last)}, {sure}, {off}"
    if line.kind == END:
        what = "an offer" if len(line.offers) == 1 else f"{len(line.offers)} offers"
        return f"{day(line.first)} is the last day for {what} of {name}"
    return f"Prices at {name} rise by {100 * line.depth:g} % on {day(line.first)}"


def _short(first: date, last: date) -> str:
    """A day without what the next one says anyway."""
    if first.year != last.year:
        return day(first)
    return f"{first.day}" if first.month == last.month else f"{first.day} {first:%B}"


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
        yearly=form.ticked("yearly"),
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


def show_ahead(ask: Ask) -> Response:
    """The page."""
    return ask.show("ahead.html", ahead_page(ask.view), title="Ahead")


@router.get("/ahead")
def show(ask: Asked) -> Response:
    """The page."""
    return show_ahead(ask)


@router.post("/ahead/sales")
def take_sale(ask: Asked) -> Response:
    """A sale is expected."""
    return ask.write(
        lambda build: sale_expected(build, ask.form),
        message=f"a sale is expected at {ask.form.text('supplier')[:60]}",
        back="/ahead",
        again=show_ahead,
    )


@router.post("/ahead/rises")
def take_rise(ask: Asked) -> Response:
    """A rise was announced."""
    return ask.write(
        lambda build: rise_announced(build, ask.form),
        message=f"a price rise at {ask.form.text('supplier')[:60]}",
        back="/ahead",
        again=show_ahead,
    )
