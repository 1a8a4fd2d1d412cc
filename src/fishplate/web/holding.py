"""One interface: page model of what must hold there, how sure that is, and what it rests on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from ..build.expression import names_in
from ..build.interfaces import Condition, Consequence, Interface, Settled
from .desk import View
from .dimensions import dimensions_of, known, share_words, state_words
from .drawing import Measure, Rung, behind_words, rung_of, seen_words, sides
from .kept import Standing
from .margins import Bar, margin_bar
from .photos import NOT_SHOWN
from .verdicts import Fitted, fitted_by_plan

if TYPE_CHECKING:
    from ..fit import ConditionResult, FitReport

_HYPOTENUSE: Final = re.compile(r"hypot\(([^(),]+), ([^(),]+)\)")
IF_WRONG: Final = {
    Consequence.INCONVENIENCE: "If it is wrong, it is a nuisance.",
    Consequence.REWORK: "If it is wrong, it is work done again.",
    Consequence.HIDDEN: "If it is wrong, it is hidden once it is closed up: 99 chances in 100 are asked for.",
    Consequence.HAZARD: "If it is wrong, someone can be hurt: 99 chances in 100 are asked for.",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """A dimension as a condition uses it.

    Parameters
    ----------
    share : of the condition's doubt that rests on it; state : what is wrong with what is known of it
    how : to take it, where it still has to be taken
    """

    id: str
    name: str
    known: str
    state: str
    share: str
    how: str


@dataclass(frozen=True, slots=True)
class Held:
    """A condition: what must hold, how sure that is, and what it rests on.

    Parameters
    ----------
    formula : the arithmetic with its limits; bar : its margin, if known
    worst : the range with every dimension at its bounds, and what makes it fail; late : what a misfit found late means
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
    cautions: tuple[str, ...]
    facts: tuple[str, ...]
    conditions: tuple[Held, ...]
    measures: tuple[Measure, ...]
    settled: str
    photo: str
    whats: tuple[tuple[str, str], ...]
    working: bool
    said: str


def interface_page(
    view: View, interface: Interface, fit: Standing[Fitted], photos: Mapping[str, bool] | None = None
) -> InterfacePage:  # fmt: skip
    """The page of one interface."""
    from ..fit.cautions import cautions_at

    found = fit.value or (fitted_by_plan(view.build, view.plan) if view.plan is not None else None)
    result = None if found is None else found.interfaces.get(interface.id)
    settled = view.facts.settled.get(interface.id)
    left, right = sides(view.build, view.facts, interface)
    unknown = Rung(interface.id, interface.name, "not known", left, right, f". {_not_met(fit)}", "")
    return InterfacePage(
        rung=unknown if result is None else rung_of(view, interface, result),
        cautions=() if result is None or not result.caution else cautions_at(view.build, interface),
        facts=tuple(_facts(view, interface)),
        conditions=() if found is None else tuple(_held(view, interface.id, found)),
        measures=() if found is None else tuple(_its_measures(found.report, interface.id)),
        settled="" if settled is None else _seen(settled, photos or {}),
        photo=settled.photo if settled is not None and (photos or {}).get(settled.photo) else "",
        whats=(("", "all of it"), *((item.id, item.name) for item in view.build.conditions
                                    if item.interface == interface.id and item.id in view.facts.wanted_conditions)),
        working=fit.working,
        said=fit.said,
    )  # fmt: skip


def _seen(settled: Settled, photos: Mapping[str, bool]) -> str:
    return f"{seen_words(settled)} {NOT_SHOWN}" if photos.get(settled.photo) is False else seen_words(settled)


def _not_met(fit: Standing[Fitted]) -> str:
    if fit.value is None:
        return "It is being worked out."
    return "These parts only meet with another choice than the one planned with."


def _facts(view: View, interface: Interface) -> Iterator[str]:
    from ..fit import confirmed_by

    build = view.build
    yield from confirmed_by(build, view.as_of, interface)
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
    from ..fit.sentences import behind_figures

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
            said=behind_words(result.text.removeprefix(f"{condition.name}: "), result.verdict, looked),
            formula=formula(condition),
            bar=margin_bar(result, view.build.owner.formats),
            figures=tuple(_figures(view, condition, result, fit)),
            worst=" ".join(behind_figures(view.build, result)),
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
        return " into ".join(spelled(mate) if mate in condition.names else mate for mate in condition.mates)
    limits = [f"{words} {spelled(limit)}" for words, limit in
              (("at least", condition.at_least), ("at most", condition.at_most)) if limit is not None]  # fmt: skip
    return f"{spelled(condition.expression)}, {' and '.join(limits)}"


def spelled(text: str) -> str:
    """Arithmetic with its names spelled out and its signs as printed.

    Examples
    --------
    >>> spelled("reach - hypot(tyre_width / 2, 30)"), spelled("-20 deg")
    ('reach − √((tyre width / 2)² + (30)²)', '−20°')
    """
    for name in sorted(names_in(text), key=len, reverse=True):
        text = text.replace(name, name.replace("_", " "))
    text = _HYPOTENUSE.sub(r"√((\1)² + (\2)²)", text.replace(" deg", "°"))
    return text.replace(" - ", " − ").replace(" * ", " × ").replace("-", "−")


def _figures(view: View, condition: Condition, result: ConditionResult, fit: Fitted) -> Iterator[Figure]:
    for name in dimensions_of(condition):
        dimension = view.build.find("dimensions", name)
        share = share_words(result.shares.get(name))
        state = state_words(name, fit, view)
        how = dimension.how if state or name not in fit.states else ""
        yield Figure(name, dimension.name, known(view, dimension, fit), state, share, how)


def _late(view: View, condition: Condition, result: ConditionResult) -> str:
    words = IF_WRONG[condition.consequence]
    if result.misfit_cost < 1:
        return words
    return f"{words} Expected to cost {result.misfit_cost:,.0f} {view.currency} if nothing is done."


def what_must_be_known(view: View, condition: Condition) -> str:
    """To what spread the dimensions of a condition must be known for its verdict to be sure, as a sentence."""
    from ..fit import tolerance_budget
    from ..fit.verdicts import needed_chance

    wanted = needed_chance([condition.consequence])
    return tolerance_budget(view.build, view.facts, condition.id, wanted).text
