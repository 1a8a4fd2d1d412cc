"""Your situation: where the garage is, and what time, money and patience there is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Money
from ..build.formats import LOCALES, UNIT_SYSTEMS, Formats, UnitSystem
from ..build.money import known_currencies
from ..build.owner import DaysOff, Helper, Owner, SeasonHours
from ..build.words import joined
from .ask import Ask, Asked
from .desk import View
from .form import Form, made
from .seasons import MONTHS, as_usual, in_season, season_words
from .words import in_field

router = APIRouter()
WINTER: Final = (11, 12, 1, 2)
EXAMPLE_DAY: Final = date(2027, 2, 3)
SYSTEMS: Final[dict[UnitSystem, str]] = {
    "metric": "Metric", "imperial": "Imperial", "imperial-fractions": "Imperial, inches in fractions",
}  # fmt: skip
WEEKDAYS: Final = {at: date(2024, 1, at).strftime("%A") for at in range(1, 8)}  # the first was a Monday


@dataclass(frozen=True, slots=True)
class Working:
    """On which days, where and with whom the work is done.

    Parameters
    ----------
    weekdays : number, name and whether it is a day for the vehicle
    helpers : who comes when, in words
    """

    weekdays: tuple[tuple[str, str, bool], ...]
    holidays: bool
    bays: str
    lifts: str
    helpers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Habits:
    """How figures are shown and read, and what may be chosen, each with an example of how it will look.

    Parameters
    ----------
    systems : value, words and example of each system of units; locales : code, and words with an example
    """

    units: str
    locale: str
    systems: tuple[tuple[str, str, str], ...]
    locales: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class OwnerPage:
    """The owner's situation as fields hold it.

    Parameters
    ----------
    seasons : months in words and hours; winter : those of the one season with a field of its own
    """

    name: str
    country: str
    currency: str
    hours: str
    winter: str
    seasons: tuple[str, ...]
    months: tuple[tuple[str, str], ...]
    hours_left: str
    hour_worth: str
    week_delay: str
    month: str
    now: str
    carrying: str
    keeping: str
    card: str
    credit: str
    credit_percent: str
    fewer: str
    shelf: str
    days_off: tuple[DaysOff, ...]
    working: Working
    habits: Habits


def owner_page(view: View) -> OwnerPage:
    """The page of a build's owner."""
    owner = view.build.owner
    winter = _winter(owner)
    others = tuple(season_words(season) for season in owner.seasons)
    return OwnerPage(
        name=view.build.name,
        country=owner.country,
        currency=owner.currency,
        hours=_shown(owner.hours_per_week),
        winter=_shown(winter),
        seasons=others,
        months=MONTHS,
        hours_left=_shown(owner.hours_left),
        hour_worth=_shown(owner.hour_worth),
        week_delay=_shown(owner.week_delay_cost),
        month=_shown(owner.cash_per_month),
        now=_shown(owner.cash_now),
        carrying=_shown(owner.carrying_percent),
        keeping=_shown(owner.keeping_percent),
        card=_shown(owner.card_markup_percent),
        credit=_shown(owner.credit),
        credit_percent=_shown(owner.credit_percent),
        fewer=_shown(owner.supplier_worth),
        shelf=_shown(owner.shelf_m3),
        days_off=owner.days_off,
        working=Working(
            weekdays=tuple((str(at), WEEKDAYS[at], at in owner.weekdays) for at in _week(owner.formats.first_weekday)),
            holidays=owner.works_on_holidays,
            bays=_shown(owner.bays),
            lifts=_shown(owner.lifts),
            helpers=tuple(_helper_words(helper) for helper in owner.helpers),
        ),
        habits=_habits(owner),
    )


def _habits(owner: Owner) -> Habits:
    codes = sorted({owner.locale, *LOCALES}, key=lambda code: LOCALES.get(code, code))
    return Habits(
        units=owner.units,
        locale=owner.locale,
        systems=tuple((system, words, _sizes(system, owner.locale)) for system, words in SYSTEMS.items()),
        locales=tuple((code, _figures(code, owner.currency)) for code in codes),
    )


def _sizes(units: UnitSystem, locale: str) -> str:
    """A few sizes as a system of units shows them."""
    shown = Formats(units, locale)
    return " · ".join((shown.quantity(34.925, "mm", 0.4), shown.quantity(12.5, "kg"), shown.quantity(110, "N*m")))


def _figures(code: str, currency: str) -> str:
    """A locale with money and a day as it writes them."""
    shown = Formats(locale=code)
    return f"{LOCALES.get(code, code)}: {shown.money(Money.of('1234.50', currency))}, {shown.day(EXAMPLE_DAY)}"


def _week(first: int) -> tuple[int, ...]:
    """The days of a week from its first, Monday 1 to Sunday 7."""
    return tuple((first - 1 + count) % 7 + 1 for count in range(7))


def _helper_words(helper: Helper) -> str:
    name = helper.name or "Someone"
    when = f"comes on {joined([WEEKDAYS[each] for each in helper.weekdays])}" if helper.weekdays else "comes on any day"
    if helper.hours_per_week is not None:
        when = f"is there for {helper.hours_per_week:g} hours a week"
    return f"{name} {when}{'' if helper.chance == 1 else f', with a chance of {100 * helper.chance:.0f} %'}."


def _winter(owner: Owner) -> float | None:
    """Hours of the one season the page has a field for; None if there are none, or others."""
    if len(owner.seasons) == 1 and set(owner.seasons[0].months) == set(WINTER):
        return owner.seasons[0].hours
    return None


def _shown(value: object) -> str:
    return "" if value is None else in_field(float(str(value)))


def situated(build: Build, form: Form) -> Build:
    """The build with its name and its owner's situation as typed; what is left empty is assumed again."""
    country, currency = form.required("country").upper(), form.required("currency").upper()
    if currency and currency not in known_currencies():
        form.refuse("currency", "not a currency code", currency, "Write it as EUR or GBP.")
    hours, winter = (form.maybe_number(name, at_least=0, at_most=168) for name in ("hours", "winter"))
    left, shelf = form.maybe_number("hours_left", at_least=0.5), form.maybe_number("shelf", at_least=0)
    percents = {name: form.maybe_number(name, at_least=0, at_most=100) for name in ("carrying", "keeping", "card")}
    percents["credit"] = form.maybe_number("credit_percent", at_least=0, at_most=100)
    sums = ("hour_worth", "week_delay", "month", "now", "credit", "fewer")
    money = {name: form.maybe_number(name, at_least=0) for name in sums}
    if form.problems:
        return build
    seasons = build.owner.seasons if winter is None and _winter(build.owner) is None else ()
    exact = {name: None if value is None else Money.of(value, currency).amount for name, value in money.items()}
    fields = {
        "country": country,
        "currency": currency,
        "hours_per_week": hours,
        "seasons": seasons if winter is None else (SeasonHours(months=WINTER, hours=winter),),
        "hours_left": left,
        "hour_worth": exact["hour_worth"],
        "week_delay_cost": exact["week_delay"],
        "cash_per_month": exact["month"],
        "cash_now": exact["now"],
        "credit": exact["credit"],
        "credit_percent": percents["credit"],
        "supplier_worth": exact["fewer"],
        "shelf_m3": shelf,
        "carrying_percent": percents["carrying"],
        "keeping_percent": percents["keeping"],
        "card_markup_percent": percents["card"],
    }
    kept = {name: getattr(build.owner, name) for name in Owner.model_fields if name not in fields}
    owner = made(Owner, **{**kept, **fields})
    return build.model_copy(update={"owner": owner, "name": form.text("name", build.name)[:400]})


def _ticked_days(form: Form) -> tuple[int, ...]:
    return tuple(sorted({int(each) for each in form.every("weekday") if each in map(str, WEEKDAYS)}))


def worked_so(build: Build, form: Form) -> Build:
    """The build with the days, the places and the holidays of the work as typed."""
    places = {name: form.number(name, at_least=0, at_most=8) for name in ("bays", "lifts")}
    for name, count in places.items():
        if count != int(count):
            form.refuse(name, "not a whole number", f"{count:g}")
    if form.problems:
        return build
    fields = {
        "weekdays": _ticked_days(form),
        "works_on_holidays": form.ticked("holidays"),
        **{name: int(count) for name, count in places.items()},
    }
    return build.model_copy(update={"owner": build.owner.model_copy(update=fields)})


def shown_so(build: Build, form: Form) -> Build:
    """The build with the units and formats as chosen; no figure it holds is changed."""
    units = form.choice("units", UNIT_SYSTEMS)
    locale = form.choice("locale", sorted({build.owner.locale, *LOCALES}))
    if form.problems:
        return build
    return build.model_copy(update={"owner": build.owner.model_copy(update={"units": units, "locale": locale})})


def helped(build: Build, form: Form) -> Build:
    """The build with someone who helps."""
    chance, hours = form.maybe_number("sure", at_least=0, at_most=100), form.maybe_number("with_me", at_least=0)
    helper = made(
        Helper,
        name=form.text("name"),
        weekdays=_ticked_days(form),
        chance=1.0 if chance is None else chance / 100,
        hours_per_week=hours,
    )
    return build.model_copy(
        update={"owner": build.owner.model_copy(update={"helpers": (*build.owner.helpers, helper)})}
    )


def alone_again(build: Build, position: int) -> Build:
    """The build without one of those who help."""
    helpers = tuple(helper for at, helper in enumerate(build.owner.helpers) if at != position)
    return build.model_copy(update={"owner": build.owner.model_copy(update={"helpers": helpers})})


def away(build: Build, form: Form) -> Build:
    """The build with a span of days without work added."""
    span = made(DaysOff, first=form.day("first"), last=form.day("last"), why=form.text("why"))
    spans = tuple(sorted((*build.owner.days_off, span), key=lambda each: (each.first, each.last)))
    return build.model_copy(update={"owner": build.owner.model_copy(update={"days_off": spans})})


def back_again(build: Build, position: int) -> Build:
    """The build without one of its spans of days off."""
    spans = tuple(span for at, span in enumerate(build.owner.days_off) if at != position)
    return build.model_copy(update={"owner": build.owner.model_copy(update={"days_off": spans})})


def show_owner(ask: Ask) -> Response:
    """The page."""
    return ask.show("owner.html", owner_page(ask.view), title="Your situation")


@router.get("/owner")
def show(ask: Asked) -> Response:
    """The page."""
    return show_owner(ask)


@router.post("/owner")
def change(ask: Asked) -> Response:
    """The situation as typed."""
    return ask.write(lambda build: situated(build, ask.form), message="your situation", back="/owner", again=show_owner)


@router.post("/owner/work")
def change_work(ask: Asked) -> Response:
    """The days, places and holidays as typed."""
    return ask.write(
        lambda build: worked_so(build, ask.form), message="how the work is done", back="/owner", again=show_owner
    )


@router.post("/owner/formats")
def change_formats(ask: Asked) -> Response:
    """The units and formats as chosen."""
    return ask.write(
        lambda build: shown_so(build, ask.form), message="units and formats", back="/owner", again=show_owner
    )


@router.post("/owner/helpers")
def add_helper(ask: Asked) -> Response:
    """Someone helps."""
    return ask.write(lambda build: helped(build, ask.form), message="who helps", back="/owner", again=show_owner)


@router.post("/owner/helpers/{position}")
def drop_helper(position: int, ask: Asked) -> Response:
    """Someone helps no longer."""
    return ask.write(lambda build: alone_again(build, position), message="who helps", back="/owner", again=show_owner)


@router.post("/owner/seasons")
def add_season(ask: Asked) -> Response:
    """Other hours in some months."""
    return ask.write(
        lambda build: in_season(build, ask.form), message="hours by season", back="/owner#seasons", again=show_owner
    )


@router.post("/owner/seasons/{position}")
def take_out_season(position: int, ask: Asked) -> Response:
    """The usual hours again."""
    return ask.write(
        lambda build: as_usual(build, position), message="hours by season", back="/owner#seasons", again=show_owner
    )


@router.post("/owner/away")
def add_days_off(ask: Asked) -> Response:
    """Days without any work."""
    return ask.write(lambda build: away(build, ask.form), message="days off", back="/owner", again=show_owner)


@router.post("/owner/away/{position}")
def drop_days_off(position: int, ask: Asked) -> Response:
    """Those days are free again."""
    return ask.write(
        lambda build: back_again(build, position), message="days off taken out", back="/owner", again=show_owner
    )
