"""Interfaces: a drawing of what meets what, the foundation sheet, each interface with its margins."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Facts
from ..build.expression import names_in
from ..build.interfaces import Condition, Consequence, Interface, Settled
from . import dimensions
from .ask import Ask, Asked
from .desk import View
from .dimensions import CHOICES, Foot, dimensions_of, foundation, known, share_words, shown_photos, state_words
from .form import Form, made
from .kept import Standing
from .margins import Bar, margin_bar
from .verdicts import Fitted, fitted_by_plan
from .words import day

if TYPE_CHECKING:
    from ..fit import ConditionResult, FitReport, InterfaceResult

router = APIRouter()
router.include_router(dimensions.router)

NEXT: Final = 3
NAMED_PARTS: Final = 2
IF_WRONG: Final = {
    Consequence.INCONVENIENCE: "If it is wrong, it is a nuisance.",
    Consequence.REWORK: "If it is wrong, it is work done again.",
    Consequence.HIDDEN: "If it is wrong, it is hidden once it is closed up: 99 chances in 100 are asked for.",
    Consequence.HAZARD: "If it is wrong, someone can be hurt: 99 chances in 100 are asked for.",
}
HOW_SURE: Final = (
    ("1.0", "as sure as one can be: measured or tried through its travel"),
    ("0.95", "fairly sure: looked at closely"),
    ("0.85", "it looked right"),
)


@dataclass(frozen=True, slots=True)
class Side:
    """One of two things that meet: systems, and the parts of them that count."""

    name: str
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rung:
    """An interface as it is drawn: two rails, and what joins them.

    Parameters
    ----------
    said : the rest of the sentence that the verdict's word begins
    check : that it still has to be looked at on the vehicle
    """

    id: str
    name: str
    verdict: str
    left: Side
    right: Side
    said: str
    check: str


@dataclass(frozen=True, slots=True)
class Group:
    """The interfaces of a system."""

    id: str
    name: str
    rungs: tuple[Rung, ...]


@dataclass(frozen=True, slots=True)
class Measure:
    """A dimension worth measuring."""

    dimension: str
    text: str
    can_now: bool


@dataclass(frozen=True, slots=True)
class InterfacesPage:
    """The drawing.

    Parameters
    ----------
    working : the verdicts of the build as it stands are being worked out; of_plan : those shown are the last plan's
    said : why they could not be worked out
    count, open_count : interfaces in all, and those that do not fit for sure; only_open : only these are drawn
    elsewhere : interfaces that are only met with another choice than the one planned with
    """

    summary: str
    working: bool
    of_plan: bool
    said: str
    foundation: tuple[Foot, ...]
    measures: tuple[Measure, ...]
    groups: tuple[Group, ...]
    count: int
    open_count: int
    only_open: bool
    elsewhere: tuple[tuple[str, str], ...]


def interfaces_page(view: View, fit: Standing[Fitted], *, only_open: bool = False) -> InterfacesPage:
    """The page of a build's interfaces.

    Parameters
    ----------
    only_open : draw only those that do not fit for sure
    """
    found = fit.value or (fitted_by_plan(view.build, view.plan) if view.plan is not None else None)
    if found is None:
        return InterfacesPage("", fit.working, False, fit.said, (), (), (), 0, 0, only_open, ())
    results = found.interfaces
    shown = {id_: result for id_, result in results.items() if not only_open or result.verdict != "fits"}
    return InterfacesPage(
        summary=_summary(found.report),
        working=fit.working,
        of_plan=found.of_plan,
        said=fit.said,
        foundation=foundation(view, found),
        measures=_measures(found.report),
        groups=_groups(view, shown),
        count=len(results),
        open_count=sum(1 for result in results.values() if result.verdict != "fits"),
        only_open=only_open,
        elsewhere=tuple((item.id, item.name) for item in view.build.interfaces if item.id not in results),
    )


def _summary(report: FitReport) -> str:
    counts = {verdict: sum(1 for item in report.interfaces if item.verdict == verdict) for verdict in _SAID}
    told = [f"{count} {_SAID[verdict][count != 1]}" for verdict, count in counts.items() if count]
    if not told:
        return ""
    *first, last = told
    places = len(report.interfaces)
    of = "The one place where parts meet" if places == 1 else f"Of {places} places where parts meet, "
    return f"{of}{', '.join(first)}{' and ' if first else ''}{last}." if places > 1 else f"{of} {last[2:]}."


_SAID: Final = {
    "fits": ("fits", "fit"),
    "in doubt": ("is in doubt", "are in doubt"),
    "does not fit": ("does not fit", "do not fit"),
    "not known": ("is not known", "are not known"),
}


def _measures(report: FitReport) -> tuple[Measure, ...]:
    worth = [item for item in report.measures if item.value >= 1]
    now = [item for item in worth if item.blocked_by_part is None and item.blocked_by_job is None]
    return tuple(Measure(item.dimension, item.text, True) for item in now[:NEXT])


def _groups(view: View, results: dict[str, InterfaceResult]) -> tuple[Group, ...]:
    groups = {system.id: (system.name, list[Rung]()) for system in view.build.systems}
    rest = list[Rung]()
    for interface in view.build.interfaces:
        if interface.id in results:
            rungs = groups[interface.systems[0]][1] if interface.systems else rest
            rungs.append(rung_of(view, interface, results[interface.id]))
    found = [Group(id_, name, tuple(rungs)) for id_, (name, rungs) in groups.items() if rungs]
    return (*found, Group("", "Elsewhere", tuple(rest))) if rest else tuple(found)


def rung_of(view: View, interface: Interface, result: InterfaceResult) -> Rung:
    """An interface as it is drawn."""
    left, right = sides(view.build, view.facts, interface)
    settled = view.facts.settled.get(interface.id)
    text, _, check = result.text.removeprefix(f"{interface.name}: ").partition(CHECK)
    said = _behind(text.strip(), result.verdict, settled)
    return Rung(interface.id, interface.name, result.verdict, left, right, said, check and CHECK + check)


CHECK: Final = "Verify it on the vehicle"


def _behind(text: str, verdict: str, settled: Settled | None) -> str:
    """What stands behind the verdict's word: the rest of its sentence, or what was seen."""
    if settled is not None:
        return f". {seen_words(settled)}"
    return text.removeprefix(verdict) if text.startswith(verdict) else f". {text[:1].upper()}{text[1:]}"


def seen_words(settled: Settled) -> str:
    """What was seen on the vehicle, and when."""
    right = "right" if settled.good else "not right"
    return f"Seen to be {right} on the vehicle on {day(settled.day)}: {settled.by.rstrip('.')}."


def sides(build: Build, facts: Facts, interface: Interface) -> tuple[Side, Side]:
    """The two things that meet: its systems with their parts, or two parts of one system."""
    parts = [build.find("parts", id_) for id_ in interface.parts if id_ in facts.wanted_parts]
    names = [build.find("systems", id_).name for id_ in interface.systems]
    if len(names) > 1:
        own = tuple(part.name for part in parts if part.system == interface.systems[0])
        others = tuple(part.name for part in parts if part.system != interface.systems[0])
        return Side(names[0], _few(own)), Side(" and ".join(names[1:]), _few(others))
    home = names[0] if names else ""
    if len(parts) > 1:
        return Side(parts[0].name), Side(" and ".join(_few([part.name for part in parts[1:]])))
    return Side(home or interface.name), Side(parts[0].name if parts else "")


def _few(names: Sequence[str]) -> tuple[str, ...]:
    rest = len(names) - NAMED_PARTS
    return (*names[:NAMED_PARTS], f"{rest} more") if rest > 0 else tuple(names)


# one interface


@dataclass(frozen=True, slots=True)
class Figure:
    """A dimension as a condition uses it.

    Parameters
    ----------
    share : of the condition's doubt that rests on it; state : what is wrong with what is known of it
    """

    id: str
    name: str
    known: str
    state: str
    share: str


@dataclass(frozen=True, slots=True)
class Held:
    """A condition: what must hold, how sure that is, and what it rests on.

    Parameters
    ----------
    formula : the arithmetic with its limits; bar : its margin, if known
    worst : the range with every dimension at its bounds; late : what a misfit found late means
    """

    id: str
    name: str
    verdict: str
    said: str
    formula: str
    bar: Bar | None
    figures: tuple[Figure, ...]
    worst: str
    late: str
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class InterfacePage:
    """One interface.

    Parameters
    ----------
    facts : what there is to know of it, in sentences
    measures : what to measure for it, best first
    settled : what was seen on the vehicle; photo : of that
    whats : what can be seen: the whole, or one of its conditions
    """

    rung: Rung
    caution: str
    facts: tuple[str, ...]
    conditions: tuple[Held, ...]
    measures: tuple[Measure, ...]
    settled: str
    photo: str
    whats: tuple[tuple[str, str], ...]
    working: bool
    said: str


def interface_page(
    view: View, interface: Interface, fit: Standing[Fitted], photos: Iterable[str] = ()
) -> InterfacePage:  # fmt: skip
    """The page of one interface."""
    found = fit.value or (fitted_by_plan(view.build, view.plan) if view.plan is not None else None)
    result = None if found is None else found.interfaces.get(interface.id)
    settled = view.facts.settled.get(interface.id)
    left, right = sides(view.build, view.facts, interface)
    unknown = Rung(interface.id, interface.name, "not known", left, right, f". {_not_met(fit)}", "")
    return InterfacePage(
        rung=unknown if result is None else rung_of(view, interface, result),
        caution="" if result is None else result.caution,
        facts=tuple(_facts(view, interface)),
        conditions=() if found is None else tuple(_held(view, interface.id, found)),
        measures=() if found is None else tuple(_its_measures(found.report, interface.id)),
        settled="" if settled is None else seen_words(settled),
        photo=settled.photo if settled is not None and settled.photo in set(photos) else "",
        whats=(("", "all of it"), *((item.id, item.name) for item in view.build.conditions
                                    if item.interface == interface.id and item.id in view.facts.wanted_conditions)),
        working=fit.working,
        said=fit.said,
    )  # fmt: skip


def _not_met(fit: Standing[Fitted]) -> str:
    if fit.value is None:
        return "It is being worked out."
    return "These parts only meet with another choice than the one planned with."


def _facts(view: View, interface: Interface) -> Iterator[str]:
    build = view.build
    if interface.if_wrong:
        yield f"If it is wrong: {interface.if_wrong[:1].lower()}{interface.if_wrong[1:]}"
    if interface.check:
        yield f"To look at on the vehicle: {interface.check[:1].lower()}{interface.check[1:]}"
    for id_, words in ((interface.settle_by, "It has to be settled before"), (interface.closed_by, "It is covered by")):
        if id_ is not None:
            done = ", which is done" if view.facts.is_done(id_) else ""
            yield f"{words} “{build.find('jobs', id_).name}”{done}."
    if interface.stand_in is not None:
        item = build.find("stand_ins", interface.stand_in)
        cost = f", {item.cost:g} {build.owner.currency}" if item.cost else ""
        yield f"A stand-in settles it in mock-up: {item.name[:1].lower()}{item.name[1:]} ({item.hours:g} h{cost})."


def _its_measures(report: FitReport, interface: str) -> Iterator[Measure]:
    for item in report.measures:
        if interface in item.interfaces and item.value >= 1:
            yield Measure(item.dimension, item.text, item.blocked_by_part is None and item.blocked_by_job is None)


def _held(view: View, interface: str, fit: Fitted) -> Iterator[Held]:
    results = fit.conditions
    for condition in view.build.conditions:
        result = results.get(condition.id)
        if condition.interface != interface or result is None:
            continue
        looked = view.facts.settled_conditions.get(condition.id) or view.facts.settled.get(interface)
        yield Held(
            id=condition.id,
            name=condition.name,
            verdict=result.verdict,
            said=_behind(result.text.removeprefix(f"{condition.name}: "), result.verdict, looked),
            formula=formula(condition),
            bar=margin_bar(result),
            figures=tuple(_figures(view, condition, result, fit)),
            worst=_worst(result),
            late=_late(view, condition, result),
            source=condition.source,
            note=condition.note,
        )


def formula(condition: Condition) -> str:
    """What must hold, as a person reads it.

    Examples
    --------
    >>> formula(Condition(id="a", interface="b", name="Gap", expression="arch_height - tyre_radius", at_least="5 mm"))
    'arch height − tyre radius, at least 5 mm'
    """
    if condition.kind == "dry-run":
        tools = f", with {' and '.join(condition.tools)}" if condition.tools else ""
        return f"tried on the vehicle: in and out{tools}"
    if condition.mates is not None:
        return " into ".join(_spelled(mate) if mate in condition.names else mate for mate in condition.mates)
    limits = [f"{words} {_spelled(limit)}" for words, limit in
              (("at least", condition.at_least), ("at most", condition.at_most)) if limit is not None]  # fmt: skip
    return f"{_spelled(condition.expression)}, {' and '.join(limits)}"


def _spelled(text: str) -> str:
    """Arithmetic with its names spelled out and its signs as printed."""
    for name in sorted(names_in(text), key=len, reverse=True):
        text = text.replace(name, name.replace("_", " "))
    return text.replace(" - ", " − ").replace(" * ", " × ").replace("-", "−")


def _figures(view: View, condition: Condition, result: ConditionResult, fit: Fitted) -> Iterator[Figure]:
    for name in dimensions_of(condition):
        dimension = view.build.find("dimensions", name)
        share = share_words(result.shares.get(name))
        yield Figure(name, dimension.name, known(view, dimension, fit), state_words(name, fit, view), share)


def _worst(result: ConditionResult) -> str:
    if result.worst_low is None or result.worst_high is None:
        return ""
    low, high = (f"{value:.4g}".replace("-", "−") for value in (result.worst_low, result.worst_high))
    unit = f" {result.unit}" if result.unit else ""
    return f"With every dimension at its bounds it lies between {low} and {high}{unit}."


def _late(view: View, condition: Condition, result: ConditionResult) -> str:
    words = IF_WRONG[condition.consequence]
    if result.misfit_cost < 1:
        return words
    return f"{words} Expected to cost {result.misfit_cost:,.0f} {view.currency} if nothing is done."


# changes


def seen(build: Build, interface: Interface, form: Form, today: date, *, photo: Callable[[], str]) -> Build:
    """The build with an interface seen on the vehicle.

    Parameters
    ----------
    photo : keeps the photo that was sent, if one was, and gives its name; asked once the rest is found to be right
    """
    good, by = form.choice("good", ("yes", "no")), form.required("by", "Say who looked, and how.")
    seen_on, sure = form.day("day", today), form.text("sure", HOW_SURE[0][0])
    if seen_on > today:
        form.refuse("day", "after today", seen_on.isoformat(), "Give the day it was seen on.")
    if form.problems:
        return build
    noun = made(
        Settled, interface=interface.id, condition=form.text("what") or None, day=seen_on, good=good == "yes", by=by,
        photo=photo(), chance_right=sure,
    )  # fmt: skip
    same = (noun.interface, noun.condition, noun.day)
    kept = tuple(item for item in build.settled if (item.interface, item.condition, item.day) != same)
    return build.model_copy(update={"settled": (*kept, noun)})


def unseen(build: Build, interface: Interface) -> Build:
    """The build with nothing seen of an interface."""
    kept = tuple(item for item in build.settled if item.interface != interface.id)
    return build.model_copy(update={"settled": kept})


# routes


def show_interface(ask: Ask, id_: str) -> Response:
    """The page of one interface."""
    interface = ask.find("interfaces", id_)
    page = interface_page(ask.view, interface, ask.desk.verdicts.of(ask.view), shown_photos(ask))
    return ask.show("interface.html", {"it": page, "how_sure": HOW_SURE, **CHOICES}, title=interface.name)


@router.get("/interfaces")
def show(ask: Asked) -> Response:
    """The page."""
    page = interfaces_page(
        ask.view, ask.desk.verdicts.of(ask.view), only_open="open" in ask.request.query_params
    )  # fmt: skip
    return ask.show("interfaces.html", page, title="Interfaces")


@router.get("/interfaces/{id_}")
def show_one(id_: str, ask: Asked) -> Response:
    """One interface."""
    return show_interface(ask, id_)


@router.post("/interfaces/{id_}/seen")
def see(id_: str, ask: Asked) -> Response:
    """Write down what was seen on the vehicle."""
    interface = ask.find("interfaces", id_)

    def edit(build: Build) -> Build:
        words = f"{id_} {ask.form.text('day')}"
        return seen(build, interface, ask.form, ask.today, photo=lambda: ask.keep_photo("photo", words))

    return ask.write(
        edit, message=f"seen on the vehicle: {interface.name}", back=f"/interfaces/{id_}",
        again=lambda ask: show_interface(ask, id_),
    )  # fmt: skip


@router.post("/interfaces/{id_}/unseen")
def unsee(id_: str, ask: Asked) -> Response:
    """Take back what was seen: it has to be looked at again."""
    interface = ask.find("interfaces", id_)
    return ask.write(
        lambda build: unseen(build, interface), message=f"to be looked at again: {interface.name}",
        back=f"/interfaces/{id_}", again=lambda ask: show_interface(ask, id_),
    )  # fmt: skip
