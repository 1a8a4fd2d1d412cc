"""Rates and rules of one's own: set with source and date in place of those known, and what they change."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Refused
from ..build.commerce import RateQuote, RuleOverride
from ..build.money import known_currencies
from ..landed import RuleSet
from ..landed.kinds import Exchange
from ..landed.overrides import main_field
from ..wiring import load_rates, rules_of
from .ask import Ask, Asked, NotHereError
from .desk import View
from .form import Form, made
from .kept import Standing
from .reckoned import OwnChange
from .words import day, number

router = APIRouter()
UNITS: Final = {"percent": "%", "factor": "times", "value": ""}


@dataclass(frozen=True, slots=True)
class OwnRule:
    """A figure the owner set in place of a rule's.

    Parameters
    ----------
    said : the figure, and that of the rule; whence : its source and day; unused : why it is not used
    """

    place: int
    rule: str
    said: str
    whence: str
    unused: str


@dataclass(frozen=True, slots=True)
class OwnRate:
    """An exchange rate the owner set.

    Parameters
    ----------
    reference : the rate that would be used without it, in words
    """

    place: int
    said: str
    whence: str
    reference: str
    used: bool


@dataclass(frozen=True, slots=True)
class OwnRatesPage:
    """The page.

    Parameters
    ----------
    rules : what the owner set; known : rules that can be replaced, each with its figure
    rule : the one the address asks about, with its figure, source and note in words
    changed : what all of the owner's own figures change for what is still missing
    """

    rules: tuple[OwnRule, ...]
    rates: tuple[OwnRate, ...]
    known: tuple[tuple[str, str], ...]
    rule: str
    figure: str
    unit: str
    about: str
    changed: tuple[OwnChange, ...]
    working: bool
    unchanged: bool
    country: str


def own_rates_page(view: View, standing: Standing[tuple[OwnChange, ...]], rule: str = "") -> OwnRatesPage:
    """The page.

    Parameters
    ----------
    standing : what the owner's own figures change
    rule : id of the rule to be replaced, if the address asks about one
    """
    build = view.build
    rules = _rules(build)
    own = bool(build.rule_overrides or build.rates)
    found = None if rules is None else _find(rules, rule)
    field = None if found is None else main_field(found)
    return OwnRatesPage(
        rules=tuple(_own_rule(place, each, rules) for place, each in enumerate(build.rule_overrides)),
        rates=tuple(_own_rate(view, place, each) for place, each in enumerate(build.rates)),
        known=() if rules is None else tuple(_known(rules, view.as_of, {each.currency for each in build.suppliers})),
        rule=rule,
        figure="" if found is None or field is None else _figure(found, field),
        unit="" if found is None or field is None else _unit(found, field),
        about="" if found is None else _about(found),
        changed=tuple(standing.value or ()) if own and standing.current else (),
        working=own and standing.working,
        unchanged=own and standing.current and not standing.value,
        country=build.owner.country,
    )


def _rules(build: Build) -> RuleSet | None:
    try:
        return rules_of(build)
    except Refused:
        return None


def _find(rules: RuleSet, id_: str) -> Any:
    try:
        return rules.by_id(id_.partition("/")[0])
    except KeyError:
        return None


def _known(rules: RuleSet, on: date, currencies: set[str]) -> list[tuple[str, str]]:
    """Rules that hold on a day and have a figure, by id, and the rates of customs for some currencies."""
    found = []
    for rule in rules.rules:
        field = main_field(rule)
        if field is not None and rule.holds_on(on) and not rule.id.startswith("general."):
            words = rule.note.split(".")[0][:60] or rule.kind.replace("-", " ")
            found.append((rule.id, f"{_figure(rule, field)} {_unit(rule, field)}: {words}".strip()))
    exchange = rules.on(on).exchange
    if exchange is not None:
        foreign = currencies - {rules.currency}
        found += [(f"{exchange.id}/{code}", f"the rate of customs, {exchange.quoted}") for code in foreign]
    return sorted(found)


def _figure(rule: Any, field: str) -> str:
    value = getattr(rule, field)
    return "" if value is None else f"{Decimal(value).normalize():f}"


def _unit(rule: Any, field: str) -> str:
    return UNITS.get(field, getattr(rule, "currency", ""))


def _about(rule: Any) -> str:
    since = f", as of {day(rule.as_of)}" if rule.as_of else ", no date known"
    return ". ".join(filter(None, (f"{rule.status[:1].upper()}{rule.status[1:]}{since}", rule.source, rule.note)))


def _own_rule(place: int, item: RuleOverride, rules: RuleSet | None) -> OwnRule:
    found = None if rules is None else _find(rules, item.rule)
    id_, _, named = item.rule.partition("/")
    field = named or (None if found is None else main_field(found))
    said, unused = f"{number(item.value)}", ""
    if found is not None and field and hasattr(found, field):
        unit = _unit(found, field)
        said = f"{number(item.value)} {unit} in place of {_figure(found, field) or 'nothing'} {unit}".strip()
    elif rules is not None:
        _, complaints = rules.with_overrides((item,))
        unused = "; ".join(complaints)
        if not unused and isinstance(found, Exchange):
            said = f"{number(item.value)} as the rate of customs for {named}, {found.quoted}"
        elif not unused and id_.startswith("duty."):
            said = f"{number(item.value)} % duty for heading {id_.partition('.')[2]}, which the tables lack"
    return OwnRule(place, item.rule, said, f"{item.source}, {day(item.day)}", unused)


def _own_rate(view: View, place: int, item: RateQuote) -> OwnRate:
    bare = view.build.model_copy(update={"rates": ()})
    rates, _ = load_rates(view.as_of, bare)
    home = view.currency
    try:
        reference = f"{rates.rate(item.currency, home):.5f} {home} by {rates.source}, {day(rates.day)}"
    except LookupError:
        reference = "no rate is known otherwise"
    later = [each for each in view.build.rates if each.currency == item.currency and item.day < each.day <= view.as_of]
    said = f"1 {item.currency} = {number(item.rate)} {home}"
    return OwnRate(place, said, f"{item.source}, {day(item.day)}", reference, item.day <= view.as_of and not later)


# changes


def with_own_rule(build: Build, form: Form, today: date) -> Build:
    """The build with a figure in place of a rule's; an earlier one for the same rule goes."""
    rule = form.required("rule", "Give the id of a rule, as it stands behind each amount.")
    value, source = form.number("value", at_least=0), form.required("source", "Say where it comes from.")
    when = form.day("day", today)
    if form.problems:
        return build
    mine = made(RuleOverride, rule=rule, value=value, source=source, day=when)
    rules = _rules(build)
    if rules is None:
        needed = (f"{build.owner.country.lower()}.duty", f"{build.owner.country.lower()}.tax")
        if rule not in needed:
            form.refuse("rule", "there are no rules for your country", rule, f"Set {needed[0]} and {needed[1]} first.")
    else:
        _, complaints = rules.with_overrides((mine,))
        if complaints:
            form.refuse("rule", "there is no such rule", rule, "Choose one of the list, or duty. and a heading.")
    kept = tuple(each for each in build.rule_overrides if each.rule != rule)
    return build.model_copy(update={"rule_overrides": (*kept, mine)})


def with_own_rate(build: Build, form: Form, today: date) -> Build:
    """The build with an exchange rate of the owner's; an earlier one of the same currency and day goes."""
    currency = form.required("currency", "Give its three letters, as GBP.").upper()
    if currency and currency not in known_currencies():
        form.refuse("currency", "not a currency code", currency, "Write it as GBP.")
    if currency == build.owner.currency:
        form.refuse("currency", "that is the home currency", currency, "Give the other one.")
    rate, source = form.number("rate", at_least=0), form.required("source", "Say where it comes from.")
    when = form.day("day", today)
    if when > today:
        form.refuse("day", "after today", when.isoformat(), "Give the day it was seen.")
    if form.problems:
        return build
    mine = made(RateQuote, currency=currency, rate=rate, day=when, source=source)
    kept = tuple(each for each in build.rates if (each.currency, each.day) != (currency, when))
    return build.model_copy(update={"rates": (*kept, mine)})


def show_own_rates(ask: Ask) -> Response:
    """The page."""
    rule = ask.form.text("rule") or ask.request.query_params.get("rule", "")[:200]
    return ask.show(
        "own_rates.html",
        own_rates_page(ask.view, ask.desk.own_changes.of(ask.view), rule),
        title="Rates and rules of your own",
    )


@router.get("/door/rates")
def show(ask: Asked) -> Response:
    """The page."""
    return show_own_rates(ask)


@router.post("/door/rates/rules")
def set_rule(ask: Asked) -> Response:
    """A figure in place of a rule's."""
    return ask.write(
        lambda build: with_own_rule(build, ask.form, ask.today),
        message=f"own figure for {ask.form.text('rule')[:80]}",
        back="/door/rates",
        again=show_own_rates,
    )


@router.post("/door/rates/exchange")
def set_rate(ask: Asked) -> Response:
    """An exchange rate in place of the reference rate."""
    return ask.write(
        lambda build: with_own_rate(build, ask.form, ask.today),
        message=f"own rate for {ask.form.text('currency')[:3].upper()}",
        back="/door/rates",
        again=show_own_rates,
    )


def _without(build: Build, list_name: str, place: int) -> Build:
    held = getattr(build, list_name)
    if place >= len(held):
        raise NotHereError(list_name, str(place))
    return build.model_copy(update={list_name: tuple(each for at, each in enumerate(held) if at != place)})


@router.post("/door/rates/rules/{place}/out")
def drop_rule(place: int, ask: Asked) -> Response:
    """The rule's own figure holds again."""
    return ask.write(
        lambda build: _without(build, "rule_overrides", place),
        message="own figure taken out",
        back="/door/rates",
        again=show_own_rates,
    )


@router.post("/door/rates/exchange/{place}/out")
def drop_rate(place: int, ask: Asked) -> Response:
    """The reference rate holds again."""
    return ask.write(
        lambda build: _without(build, "rates", place),
        message="own rate taken out",
        back="/door/rates",
        again=show_own_rates,
    )
