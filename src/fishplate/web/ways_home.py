"""Ways home for goods: couriers, post, freight, forwarders and depots, with what they ask, as entered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money, Refused
from ..build.commerce import FeeStep, Route
from ..build.money import known_currencies
from ..landed.fetching import WEEKDAYS
from .amounts import as_typed
from .ask import Ask, Asked
from .desk import View, fresh_id, put, without
from .fetching import read_money
from .form import Form, made
from .resting import refuse_resting, resting
from .words import day, in_field, number

router = APIRouter()
OLD_FEES_DAYS: Final = 731
STEPS: Final = 4
MOST_STEPS: Final = 12

KINDS: Final = (
    ("courier", "Courier", "to the door"),
    ("post", "Post", "to the door or the post office"),
    ("freight", "Freight", "on a pallet, by lorry"),
    ("collection", "Depot abroad", "it waits there until I fetch it"),
    ("forwarder", "Forwarder", "takes it in abroad and sends it on"),
    ("delivery", "The seller's own delivery", ""),
)
MONEY_FIELDS: Final = (
    ("entry_fee", "For the customs entry of a consignment"),
    ("advance_minimum", "At least, for advancing duty and tax"),
    ("handling", "For taking in a consignment"),
    ("collect_fee", "For freight paid on arrival"),
    ("pallet", "For pallet and packing"),
    ("tail_lift", "For a tail lift"),
    ("residential", "For delivery to a private address"),
    ("storage_per_day", "For each day of storage beyond the free ones"),
)
LIMITS: Final = (
    ("max_mass_kg", "Heaviest consignment", "kg"),
    ("max_length_mm", "Longest piece", "mm"),
    ("max_girth_mm", "Longest side and twice the other two", "mm"),
    ("volumetric_cm3_per_kg", "Volume that counts as one kilogram", "cm³/kg"),
)


@dataclass(frozen=True, slots=True)
class WayListed:
    """A way home as it stands in the list."""

    id: str
    path: str
    name: str
    said: str
    old: str


@dataclass(frozen=True, slots=True)
class WayPage:
    """One way home as fields hold it; a new one if it has no id.

    Parameters
    ----------
    currency : of the charges; money : name, label and amount of each
    used : what rests on it, in words
    """

    id: str
    name: str
    kind: str
    country: str
    currency: str
    weeks: tuple[str, str, str]
    percents: tuple[str, str]
    money: tuple[tuple[str, str, str], ...]
    limits: tuple[tuple[str, str, str, str], ...]
    steps: tuple[tuple[str, str], ...]
    step: str
    open_days: frozenset[str]
    free_days: str
    fees_as_of: str
    note: str
    used: tuple[str, ...]
    kinds: tuple[tuple[str, str, str], ...] = KINDS
    weekdays: tuple[tuple[str, str], ...] = tuple((str(at), name) for at, name in enumerate(WEEKDAYS, 1))


def ways_listed(view: View) -> tuple[WayListed, ...]:
    """Every way home of the build."""
    words = {kind: name for kind, name, _ in KINDS}
    return tuple(
        WayListed(
            route.id,
            way_path(route.id),
            route.name,
            f"{words[route.kind]}, from {route.from_country}{_weeks_words(route)}.",
            _old(view, route),
        )
        for route in view.build.routes
    )


def way_path(id_: str) -> str:
    """Address of a way home."""
    return f"/door/ways/{quote(id_, safe='')}"


def _weeks_words(route: Route) -> str:
    if not route.weeks:
        return ""
    days = max(1, round(7 * route.weeks.likely))
    if days > 13:
        return f", likely {number(route.weeks.likely)} weeks on the way"
    return f", likely {days} day{'' if days == 1 else 's'} on the way"


def _old(view: View, route: Route) -> str:
    if route.fees_as_of is None:
        return "No day is written down for its fees."
    if (view.as_of - route.fees_as_of).days > OLD_FEES_DAYS:
        return f"Its fees are of {day(route.fees_as_of)}, over two years old: look them up again."
    return f"Fees of {day(route.fees_as_of)}."


def way_page(view: View, route: Route | None) -> WayPage:
    """A way home as fields, or the fields of a new one."""
    currency = _currency(route) or view.currency
    weeks = None if route is None else route.weeks
    return WayPage(
        id="" if route is None else route.id,
        name="" if route is None else route.name,
        kind="courier" if route is None else route.kind,
        country="" if route is None else route.from_country,
        currency=currency,
        weeks=("", "", "") if weeks is None else (in_field(weeks.low), in_field(weeks.likely), in_field(weeks.high)),
        percents=("", "") if route is None else (_plain(route.advance_percent), _plain(route.fuel_percent)),
        money=tuple((name, label, _amount(route, name)) for name, label in MONEY_FIELDS),
        limits=tuple((name, label, unit, _plain(getattr(route, name, None))) for name, label, unit in LIMITS),
        steps=_steps(route),
        step="" if route is None else _plain(route.mass_step_kg),
        open_days=frozenset() if route is None else frozenset(map(str, route.open_weekdays)),
        free_days="" if route is None or route.storage_free_days is None else str(route.storage_free_days),
        fees_as_of="" if route is None or route.fees_as_of is None else route.fees_as_of.isoformat(),
        note="" if route is None else route.note,
        used=() if route is None else resting(view.build, "routes", route.id),
    )


def _steps(route: Route | None) -> tuple[tuple[str, str], ...]:
    """Ends and fees of the table for the entry, with room for more."""
    if route is None:
        return (("", ""),) * STEPS
    currency = _currency(route)
    known = [(as_typed(step.up_to, currency), as_typed(step.fee, currency)) for step in route.entry_steps]
    return (*known, *[("", "")] * max(1, STEPS - len(known)))


def _plain(value: float | None) -> str:
    return in_field(value) if value else ""


def _charges(route: Route) -> Iterator[Money]:
    for name, _ in MONEY_FIELDS:
        if (money := getattr(route, name)) is not None:
            yield money
    yield from (step.fee for step in route.entry_steps)


def _currency(route: Route | None) -> str:
    return "" if route is None else next((money.currency for money in _charges(route)), "")


def _amount(route: Route | None, name: str) -> str:
    """A charge as its field holds it; one in another currency than the rest says so."""
    money: Money | None = None if route is None else getattr(route, name)
    return as_typed(money, _currency(route))


# changes


def with_way(build: Build, id_: str, form: Form) -> Build:
    """The build with a way home as typed; a new one where there is no id."""
    country, currency = form.required("country", "Give two letters, as GB.").upper(), _read_currency(form, build)
    percents = {
        name: form.maybe_number(name, at_least=0, at_most=100) or 0 for name in ("advance_percent", "fuel_percent")
    }
    money = {name: read_money(form, name, currency) for name, _ in MONEY_FIELDS}
    steps = _read_steps(form, currency)
    limits = {name: form.maybe_number(name, at_least=0) or None for name, _, _ in LIMITS}
    free = form.maybe_number("storage_free_days", at_least=0, at_most=3650)
    name, weeks = form.required("name"), form.three_point("weeks")
    fees, step = form.maybe_day("fees_as_of"), form.maybe_number("mass_step_kg", at_least=0) or 0
    kind = form.choice("kind", [kind for kind, _, _ in KINDS])
    open_days = tuple(sorted(int(text) for text in form.every("open") if text in "1234567" and len(text) == 1))
    if form.problems:
        return build
    route = _made(
        id=id_ or fresh_id(build, "routes", name), name=name, kind=kind, from_country=country, weeks=weeks,
        open_weekdays=() if len(open_days) == 7 else open_days, storage_free_days=None if free is None else int(free),
        fees_as_of=fees, mass_step_kg=step, entry_steps=steps, note=form.text("note"), **percents, **money, **limits,
    )  # fmt: skip
    return put(build, "routes", route)


def _made(**fields: Any) -> Route:
    """A way home from values; a fault in the table for the entry stands beside it, without the table itself."""
    try:
        return made(Route, **fields)
    except Refused as refused:
        beside = {"where": "step-fee-1", "got": ""}
        problems = [replace(each, **beside) if each.where == "entry_steps" else each for each in refused.problems]
        raise Refused(problems) from None


def _read_steps(form: Form, currency: str) -> tuple[FeeStep, ...]:
    """The table for the entry: rows with a fee, of which the last has no end."""
    found = []
    for place in range(1, MOST_STEPS + 1):
        fee, end = (read_money(form, f"{name}-{place}", currency, zero=True) for name in ("step-fee", "step-end"))
        if fee is not None:
            found.append(FeeStep(fee=fee, up_to=end))
        elif end is not None:
            form.refuse(f"step-fee-{place}", "a step has no fee", do="Give what is asked up to there; nothing is 0.")
    return tuple(found)


def _read_currency(form: Form, build: Build) -> str:
    currency = form.text("currency", build.owner.currency).upper()
    if currency not in known_currencies():
        form.refuse("currency", "not a currency code", currency, "Write it as EUR or GBP.")
        return build.owner.currency
    return currency


def without_way(build: Build, route: Route) -> Build:
    """The build without a way home; raises Refused where something comes by it."""
    refuse_resting(route.name, resting(build, "routes", route.id))
    return without(build, "routes", route.id)


# pages


def show_ways(ask: Ask) -> Response:
    """Every way home, and a form for a new one."""
    page = {"ways": ways_listed(ask.view), "new": way_page(ask.view, None)}
    return ask.show("ways_home.html", page, title="Ways home")


def show_way(ask: Ask, id_: str) -> Response:
    """One way home."""
    route: Route = ask.find("routes", id_)
    return ask.show("way_home.html", way_page(ask.view, route), title=route.name)


@router.get("/door/ways")
def show(ask: Asked) -> Response:
    """Every way home."""
    return show_ways(ask)


@router.post("/door/ways")
def add(ask: Asked) -> Response:
    """A new way home."""
    name = ask.form.text("name")[:80]
    return ask.write(
        lambda build: with_way(build, "", ask.form), message=f"way home: {name}", back="/door/ways", again=show_ways
    )


@router.get("/door/ways/{route}")
def show_one(route: str, ask: Asked) -> Response:
    """One way home."""
    return show_way(ask, route)


@router.post("/door/ways/{route}")
def change(route: str, ask: Asked) -> Response:
    """A way home as typed."""
    name = ask.find("routes", route).name
    return ask.write(
        lambda build: with_way(build, route, ask.form),
        message=f"way home: {name}",
        back=way_path(route),
        again=lambda ask: show_way(ask, route),
    )


@router.post("/door/ways/{route}/out")
def take_out(route: str, ask: Asked) -> Response:
    """A way home is no longer one."""
    found: Route = ask.find("routes", route)
    return ask.write(
        lambda build: without_way(build, found),
        message=f"way home taken out: {found.name}",
        back="/door/ways",
        again=lambda ask: show_way(ask, route),
    )
