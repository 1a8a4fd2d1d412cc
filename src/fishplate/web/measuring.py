"""Measuring: what to measure for an evening's minutes and money, the sheet for it, and what was read written down."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.interfaces import Dimension, Provenance, Reading
from ..build.words import joined
from .ask import Ask, Asked
from .desk import View, fresh_id, put, put_all
from .dimensions import CHOICES, dimensions_of, inner, known, state_words
from .evenings import Budget
from .form import Form, made
from .kept import Standing
from .quantities import figure
from .verdicts import Fitted
from .words import INSTRUMENTS, in_field, number

if TYPE_CHECKING:
    from ..fit import Measure, MeasurePlan

router = APIRouter()
USUAL_MINUTES: Final = 90.0
LATER: Final = 5


@dataclass(frozen=True, slots=True)
class Slot:
    """A dimension to be read: a line of the sheet.

    Parameters
    ----------
    means : reading or stand-in; instrument : to read it with; of : the interfaces it decides
    known : what is known of it so far
    """

    id: str
    name: str
    unit: str
    how: str
    means: str
    instrument: str
    aid: str
    minutes: float
    of: str
    known: str
    designates: str


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing to do, as a sentence; path : where it is done, if not on the sheet."""

    text: str
    path: str
    link: str


@dataclass(frozen=True, slots=True)
class Read:
    """A reading of today."""

    dimension: str
    name: str
    value: str


@dataclass(frozen=True, slots=True)
class MeasuringPage:
    """What to measure next.

    Parameters
    ----------
    minutes, money : the budget as it was typed; query : the same for an address
    sheet : the whole foundation sheet is shown, not what an evening is best spent on
    things : what to do together; slots : the dimensions among them that are read at the vehicle
    later : what else would tell something, once it can be done
    """

    minutes: str
    money: str
    query: str
    sheet: bool
    text: str
    things: tuple[Thing, ...]
    slots: tuple[Slot, ...]
    later: tuple[str, ...]
    today: tuple[Read, ...]
    states: tuple[tuple[str, str], ...]
    has_sheet: bool
    working: bool
    said: str
    assumptions: tuple[str, ...]


def measuring_page(view: View, budget: Budget, found: Standing[MeasurePlan], fit: Fitted | None) -> MeasuringPage:
    """What to measure next for a budget.

    Parameters
    ----------
    found : what was worked out for it; fit : what is known of the dimensions
    """
    plan = found.value
    chosen = () if plan is None else plan.chosen
    rest = () if plan is None else [item for item in plan.measures if item not in chosen and item.net > 0]
    return MeasuringPage(
        minutes="" if budget.minutes is None else in_field(budget.minutes),
        money="" if budget.money is None else in_field(budget.money),
        query=query_of(budget),
        sheet=False,
        text="" if plan is None else plan.text,
        things=tuple(_thing(item) for item in chosen),
        slots=tuple(_slots(view, chosen, fit)),
        later=tuple(item.text for item in rest[:LATER]),
        today=tuple(_today(view)),
        states=_states(view.build),
        has_sheet=any(item.foundation for item in view.build.dimensions),
        working=found.working,
        said=found.said,
        assumptions=() if plan is None else tuple(item.text for item in plan.assumptions),
    )


def foundation_page(view: View, fit: Fitted | None) -> MeasuringPage:
    """The foundation sheet as it is measured, what is not known first."""
    wanted = [item for item in view.build.dimensions if item.foundation and not item.provision]
    wanted.sort(key=lambda item: fit is not None and not state_words(item.id, fit, view))
    slots = [_slot(view, item, "reading", _usual(item, fit), "", fit, item.minutes) for item in wanted]
    open_ = sum(1 for item in wanted if fit is not None and state_words(item.id, fit, view))
    text = f"{open_} of {len(wanted)} are still to be measured on this vehicle." if open_ else "All of it is measured."
    return MeasuringPage(
        minutes="", money="", query="foundation", sheet=True, text=text if wanted else "", things=(),
        slots=tuple(slots), later=(), today=tuple(_today(view)), states=_states(view.build),
        has_sheet=bool(wanted), working=fit is None, said="", assumptions=(),
    )  # fmt: skip


def _usual(item: Dimension, fit: Fitted | None) -> str:
    """What a dimension is usually read with."""
    from ..fit.ways import instruments_for

    if item.designates:
        return item.instrument or ""
    state = None if fit is None else fit.states.get(item.id)
    return instruments_for(item, None if state is None else state.value)[0]


def query_of(budget: Budget) -> str:
    """A budget as it stands in an address.

    Examples
    --------
    >>> query_of(Budget(90.0, None)), query_of(Budget(None, 50.0))
    ('minutes=90&money=', 'minutes=&money=50')
    """
    given = {"minutes": budget.minutes, "money": budget.money}
    return urlencode({name: "" if value is None else number(round(value, 2)) for name, value in given.items()})


def _thing(item: Measure) -> Thing:
    way = item.way
    if way.means == "enquiry" and way.part is not None:
        return Thing(item.text, f"/parts/{way.part}", "See the part and who offers it")
    if way.means == "early purchase" and way.part is not None:
        return Thing(item.text, f"/parts/{way.part}", "See the part")
    if not way.dimensions and item.interfaces:
        return Thing(item.text, f"/interfaces/{item.interfaces[0]}", "Write down what was seen")
    return Thing(item.text, "", "")


def _slots(view: View, chosen: Sequence[Measure], fit: Fitted | None) -> Iterator[Slot]:
    seen = set()
    for item in chosen:
        way = item.way
        if way.means not in ("reading", "stand-in"):
            continue
        aid = "" if way.stand_in is None else inner(view.build.find("stand_ins", way.stand_in).name)
        for name in way.dimensions:
            if name not in seen:
                seen.add(name)
                wanted = view.build.find("dimensions", name)
                minutes = way.minutes if way.means == "reading" else wanted.minutes
                yield _slot(view, wanted, way.means, way.instrument or "", aid, fit, minutes)


def _slot(
    view: View, item: Dimension, means: str, instrument: str, aid: str, fit: Fitted | None, minutes: float
) -> Slot:
    of = {each.interface: None for each in view.build.conditions if item.id in dimensions_of(each)}
    names = [inner(view.build.find("interfaces", id_).name) for id_ in of]
    more = [f"{len(names) - 2} more"] if len(names) > 2 else []
    return Slot(
        item.id, item.name, item.unit, item.how, means, instrument, aid, minutes, joined([*names[:2], *more]),
        "" if fit is None else known(view, item, fit), item.designates or "",
    )  # fmt: skip


def _today(view: View) -> Iterator[Read]:
    for item in view.build.readings:
        if item.day == view.as_of and item.provenance in (Provenance.MEASURED, Provenance.STAND_IN):
            dimension = view.build.find("dimensions", item.dimension)
            value = item.designation if item.value is None else f"{number(item.value)} {dimension.unit}".strip()
            yield Read(dimension.id, dimension.name, value)


def _states(build: Build) -> tuple[tuple[str, str], ...]:
    return (("", "in no particular state"), *((state.id, state.name) for state in build.states))


# changes


def with_readings(build: Build, form: Form, today: date, *, photo: Callable[[], str]) -> Build:
    """The build with every reading of the sheet that was filled in.

    Parameters
    ----------
    form : for each dimension of "dimension": value-ID, spread-ID, with-ID, means-ID; day and against for all
    photo : keeps the photo that was sent, if one was, and gives its name; asked once the rest is found to be right
    """
    taken_on, against = form.day("day", today), form.text("against") or None
    if taken_on > today:
        form.refuse("day", "after today", taken_on.isoformat(), "Give the day they were taken on.")
    names = [name for name in dict.fromkeys(form.every("dimension")) if name in build.index["dimensions"]]
    filled = [name for name in names if form.text(f"value-{name}")]
    if not filled:
        form.refuse(f"value-{names[0]}" if names else "", "nothing is filled in", do="Fill in what was read.")
    before = build.index["readings"].keys()
    for name in filled:
        build = _with_reading(build, build.find("dimensions", name), form, taken_on, against)
    kept = "" if form.problems else photo()
    new = (item.model_copy(update={"photo": kept}) for item in build.readings if kept and item.id not in before)
    return put_all(build, "readings", {item.id: item for item in new})


def _with_reading(build: Build, dimension: Dimension, form: Form, day: date, against: str | None) -> Build:
    id_ = dimension.id
    value, spread, designation = None, None, ""
    if dimension.designates:
        designation = form.text(f"value-{id_}")
    else:
        value, spread = figure(form, dimension.unit, f"value-{id_}", f"spread-{id_}")
    if form.problems:
        return build
    stand_in = form.text(f"means-{id_}") == "stand-in"
    reading = made(
        Reading, id=fresh_id(build, "readings", f"{id_} {day.isoformat()}"), dimension=id_, value=value, spread=spread,
        designation=designation, provenance=Provenance.STAND_IN if stand_in else Provenance.MEASURED,
        instrument=form.text(f"with-{id_}") or None, against=against, day=day,
    )  # fmt: skip
    return put(build, "readings", reading)


# routes


def _budget(ask: Ask) -> tuple[Budget, Form]:
    """The budget in the address or in the form; without one, an evening and no limit of money."""
    asked = {**ask.request.query_params, **{name: ask.form.text(name) for name in ask.form.fields}}
    form = Form({name: (str(text),) for name, text in asked.items()})
    minutes = form.maybe_number("minutes", at_least=1, at_most=10_000)
    money = form.maybe_number("money", at_least=0)
    return Budget(USUAL_MINUTES if "minutes" not in asked else minutes, money), form


def _page(ask: Ask) -> tuple[MeasuringPage, Form]:
    fit = ask.desk.verdicts.of(ask.view).value
    budget, form = _budget(ask)
    if "foundation" in ask.request.query_params or ask.form.ticked("foundation"):
        return foundation_page(ask.view, fit), form
    return measuring_page(ask.view, budget, ask.desk.evenings.of(ask.view, budget), fit), form


def show_measuring(ask: Ask) -> Response:
    """What to measure next, and the readings to write down."""
    page, budget = _page(ask)
    choices = {"it": page, "budget": budget, "instruments": (("", "anything"), *INSTRUMENTS), **CHOICES}
    return ask.show("measuring.html", choices, title="Measuring", status=422 if budget.problems else 200)


@router.get("/measuring")
def show(ask: Asked) -> Response:
    """The page."""
    return show_measuring(ask)


def _tools() -> dict[str, str]:
    """Instruments as one asks for them."""
    from ..fit.measure_sentences import tool_words

    return {name: tool_words(name) for name, _ in INSTRUMENTS}


@router.get("/measuring/sheet")
def show_sheet(ask: Asked) -> Response:
    """A sheet to be printed and taken to the vehicle."""
    page, _ = _page(ask)
    return ask.show("measuring_sheet.html", {"it": page, "words": _tools()}, title="Measuring sheet")


@router.post("/measuring")
def write_readings(ask: Asked) -> Response:
    """Write down what was read, all of it or nothing."""
    page, _ = _page(ask)
    filled = sum(1 for name in ask.form.every("dimension") if ask.form.text(f"value-{name}"))
    return ask.write(
        lambda build: with_readings(build, ask.form, ask.today, photo=lambda: ask.keep_photo("photo", "sheet")),
        message=f"measured {filled} {'dimension' if filled == 1 else 'dimensions'}",
        back=f"/measuring?{page.query}", again=show_measuring,
    )  # fmt: skip
