"""Dimensions: what is known of each, what rests on it, a reading written down."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Facts
from ..build.interfaces import Condition, Dimension, Provenance, Reading
from .ask import Ask, Asked
from .desk import View, fresh_id, put, without
from .form import PHOTO_KINDS, Form, made
from .photos import NOT_SHOWN, photos
from .quantities import figure
from .together import Together, others, together
from .verdicts import Fitted, known_as_held
from .words import INSTRUMENTS, MEANINGS, day, number

if TYPE_CHECKING:
    from .kept import Standing

router = APIRouter()

WHENCE: Final = (
    (Provenance.MEASURED.value, "measured on the vehicle or the part"),
    (Provenance.STAND_IN.value, "from a stand-in, in mock-up"),
    (Provenance.SUPPLIER.value, "told by the supplier"),
    (Provenance.DRAWING.value, "from a drawing"),
    (Provenance.CATALOGUE.value, "from a catalogue"),
    (Provenance.OTHER_BUILDER.value, "told by another builder"),
    (Provenance.ESTIMATE.value, "estimated"),
)
CHOICES: Final = {
    "whence": WHENCE,
    "instruments": (("", "nothing in particular"), *INSTRUMENTS),
    "photo_kinds": ",".join(PHOTO_KINDS),
}


@dataclass(frozen=True, slots=True)
class Foot:
    """A dimension of the foundation sheet.

    Parameters
    ----------
    known : its value in words; state : "", "not measured", or "measured before a change"
    bears_on : how many interfaces rest on it
    """

    id: str
    name: str
    known: str
    state: str
    bears_on: int


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading as it is listed.

    Parameters
    ----------
    photo : its name among the attachments, if it is kept and can be shown
    """

    id: str
    value: str
    whence: str
    stale: str
    note: str
    photo: str


@dataclass(frozen=True, slots=True)
class Resting:
    """A condition that rests on a dimension."""

    interface: str
    name: str
    condition: str
    verdict: str
    share: str


@dataclass(frozen=True, slots=True)
class DimensionPage:
    """One dimension.

    Parameters
    ----------
    worth : what a reading of it would save, as a sentence; to_make, granted : of a provision, what to make it, and what
        that takes for granted
    how : what measuring it takes, in sentences
    together : what errs together with it; others : what could
    state, means, instrument : what the form starts with
    """

    dimension: Dimension
    known: str
    state: str
    worth: str
    to_make: str
    granted: tuple[str, ...]
    how: tuple[str, ...]
    taken: tuple[Taken, ...]
    resting: tuple[Resting, ...]
    together: tuple[Together, ...]
    others: tuple[tuple[str, str], ...]
    states: tuple[tuple[str, str], ...]
    instrument: str
    against: str
    working: bool


def foundation(view: View, fit: Fitted) -> tuple[Foot, ...]:
    """The foundation sheet: the few dimensions most else rests on."""
    bearing = interfaces_by_dimension(view.build)
    return tuple(
        Foot(item.id, item.name, known(view, item, fit), state_words(item.id, fit, view), len(bearing.get(item.id, ())))
        for item in view.build.dimensions
        if item.foundation
    )


def known(view: View, dimension: Dimension, fit: Fitted) -> str:
    """What is known of a dimension, in words; empty if the figures are not at hand."""
    if dimension.designates is not None:
        said = [item for item in view.build.readings if item.dimension == dimension.id and item.day <= view.as_of]
        return max(said, key=lambda item: item.day).designation if said else "not known"
    return "" if fit.of_plan else known_as_held(fit.states.get(dimension.id), dimension.unit, view.build.owner.formats)


def state_words(id_: str, fit: Fitted, view: View) -> str:
    """What is wrong with what is known of a dimension; empty if nothing is."""
    if fit.of_plan or view.build.find("dimensions", id_).designates is not None:
        return ""
    state = fit.states.get(id_)
    if state is None:
        return "not measured yet"
    if state.stale:
        return "taken before the vehicle changed"
    if state.own or view.build.find("dimensions", id_).provision:
        return ""
    return _not_own(view.build, id_)


def _not_own(build: Build, id_: str) -> str:
    """Says where a figure comes from that was not taken on this vehicle."""
    kinds = {reading.provenance for reading in build.readings if reading.dimension == id_}
    return "only estimated" if kinds == {Provenance.ESTIMATE} else "not measured here"


def interfaces_by_dimension(build: Build) -> dict[str, set[str]]:
    """Dimension -> the interfaces whose conditions name it."""
    found: dict[str, set[str]] = {}
    for condition in build.conditions:
        for name in dimensions_of(condition):
            found.setdefault(name, set()).add(condition.interface)
    return found


def dimensions_of(condition: Condition) -> tuple[str, ...]:
    """The dimensions a condition names, in the order it names them first."""
    texts = (condition.expression, condition.at_least, condition.at_most, *(condition.mates or ()))
    whole = " ".join(text for text in texts if text)
    return tuple(sorted(condition.names, key=lambda name: (whole.find(name), name)))


def dimension_page(
    view: View, dimension: Dimension, fit: Standing[Fitted], photos: Mapping[str, bool] | None = None
) -> DimensionPage:  # fmt: skip
    """The page of one dimension.

    Parameters
    ----------
    photos : those kept, and whether each can be shown
    """
    build, found = view.build, fit.value
    readings = [reading for reading in build.readings if reading.dimension == dimension.id]
    readings.sort(key=lambda reading: (reading.day, reading.id), reverse=True)
    measure = (
        None
        if found is None
        else next((item for item in found.report.measures if item.dimension == dimension.id), None)
    )
    used = (reading.instrument for reading in readings if reading.instrument)
    to_make, granted = _to_make(view, dimension)
    with_what = next(used, None) or dimension.instrument or (measure.instrument if measure is not None else None)
    return DimensionPage(
        dimension=dimension,
        known="" if found is None else known(view, dimension, found),
        state="" if found is None else state_words(dimension.id, found, view),
        worth="" if measure is None else measure.text,
        to_make=to_make,
        granted=granted,
        how=tuple(_how(build, view.facts, dimension)),
        taken=tuple(_taken(build, view.facts, reading, dimension.unit, photos or {}) for reading in readings),
        resting=() if found is None else tuple(_resting(build, dimension.id, found)),
        together=tuple(together(build, dimension.id)),
        others=others(build, dimension),
        states=(("", "in no particular state"), *((state.id, state.name) for state in build.states)),
        instrument=with_what or "",
        against=_against(readings, view.facts),
        working=fit.working,
    )


def _to_make(view: View, dimension: Dimension) -> tuple[str, tuple[str, ...]]:
    """Of a provision, the value that balances too little against too much, and what it takes for granted."""
    if not dimension.provision:
        return "", ()
    from ..fit import provision

    found = provision(view.build, view.facts, dimension.id)
    return found.text, tuple(item.text for item in found.assumptions)


def _against(readings: list[Reading], facts: Facts) -> str:
    """The state the last reading was taken against, if the vehicle is still in it."""
    state = readings[0].against if readings else None
    return state if state is not None and state not in facts.state_changed else ""


def _how(build: Build, facts: Facts, dimension: Dimension) -> Iterator[str]:
    tools = f" with {_listed(dimension.tools)}" if dimension.tools else ""
    yield f"It takes about {dimension.minutes:g} minutes{tools}."
    if dimension.how:
        yield dimension.how
    if dimension.job is not None and not facts.is_done(dimension.job):
        yield f"It can be measured once “{build.find('jobs', dimension.job).name}” is done."
    if dimension.part is not None and not facts.owned.get(dimension.part):
        yield f"Of the part “{build.find('parts', dimension.part).name}”, which is not in hand yet."
    for item in build.stand_ins:
        if dimension.id in item.dimensions:
            cost = f", {item.cost:g} {build.owner.currency}" if item.cost else ""
            spread = f"; it settles it to ± {item.spread:g} {dimension.unit}" if item.spread is not None else ""
            yield f"A stand-in will do: {item.name[:1].lower()}{item.name[1:]} ({item.hours:g} h{cost}){spread}."


def _listed(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def _taken(build: Build, facts: Facts, reading: Reading, unit: str, photos: Mapping[str, bool]) -> Taken:
    figure = reading.designation if reading.value is None else number(reading.value)
    spread = "" if reading.spread is None else f" ± {number(reading.spread)}"
    shown_unit = "" if reading.value is None else f" {unit}"
    means = dict(MEANINGS)[reading.spread_means.value] if reading.spread and reading.spread_means != "limits" else ""
    words = [dict(WHENCE)[reading.provenance.value]]
    if reading.instrument is not None:
        words.append(f"with the {reading.instrument.replace('-', ' ')}" if reading.instrument != "other" else "")
    words.append(f"on {day(reading.day)}")
    changed = None
    if reading.against is not None:
        changed = facts.state_changed.get(reading.against)
        words.append(f", {inner(build.find('states', reading.against).name)}")
    stale = f"The vehicle changed on {day(changed)}." if changed is not None and changed > reading.day else ""
    whence = " ".join(word for word in words if word).replace(" ,", ",")
    return Taken(
        id=reading.id,
        value=f"{figure}{spread}{shown_unit}{f' ({means})' if means else ''}",
        whence=f"{whence[:1].upper()}{whence[1:]}.",
        stale=stale,
        note=f"{reading.note} {NOT_SHOWN}".strip() if photos.get(reading.photo) is False else reading.note,
        photo=reading.photo if photos.get(reading.photo) else "",
    )


def inner(name: str) -> str:
    """A name as it stands inside a sentence.

    Examples
    --------
    >>> inner("Arch height"), inner("ABS ring width")
    ('arch height', 'ABS ring width')
    """
    return name if len(name) > 1 and name[1].isupper() else name[:1].lower() + name[1:]


def _resting(build: Build, id_: str, fit: Fitted) -> Iterator[Resting]:
    results = fit.conditions
    for condition in build.conditions:
        result = results.get(condition.id)
        if result is None or id_ not in dimensions_of(condition):
            continue
        name = build.find("interfaces", condition.interface).name
        share = share_words(result.shares.get(id_))
        yield Resting(condition.interface, name, condition.name, result.verdict, share)


def share_words(share: float | None) -> str:
    """Share of a condition's doubt that comes from a dimension.

    Examples
    --------
    >>> share_words(0.943), share_words(0.002), share_words(None)
    ('94 %', 'under 1 %', '')
    """
    if share is None:
        return ""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.995 <= share < 1 else f"{100 * share:.0f} %"


# changes


def measured(build: Build, dimension: Dimension, form: Form, today: date, *, photo: Callable[[], str]) -> Build:
    """The build with a reading of a dimension.

    Parameters
    ----------
    photo : keeps the photo that was sent, if one was, and gives its name; asked once the rest is found to be right
    """
    value, spread = (None, None) if dimension.designates else figure(form, dimension.unit)
    designation = form.required("value", "Write it down as it is marked.") if dimension.designates else ""
    means = _one_of(form, "means", [value for value, _ in MEANINGS])
    provenance = _one_of(form, "provenance", [value for value, _ in WHENCE])
    taken_on = form.day("day", today)
    if taken_on > today:
        form.refuse("day", "after today", taken_on.isoformat(), "Give the day it was taken on.")
    if form.problems:
        return build
    kept = photo()
    reading = made(
        Reading,
        id=fresh_id(build, "readings", f"{dimension.id} {taken_on.isoformat()}"),
        dimension=dimension.id,
        value=value,
        designation=designation,
        spread=spread,
        spread_means=means,
        provenance=provenance,
        instrument=form.text("instrument") or None,
        against=form.text("against") or None,
        day=taken_on,
        photo=kept,
        note=form.text("note"),
    )
    return put(build, "readings", reading)


def _one_of(form: Form, name: str, allowed: list[str]) -> str:
    """What was chosen, or the first if nothing was."""
    return form.choice(name, allowed) if form.text(name) else allowed[0]


# routes


def show_dimension(ask: Ask, id_: str) -> Response:
    """The page of one dimension."""
    dimension = ask.find("dimensions", id_)
    page = dimension_page(ask.view, dimension, ask.desk.verdicts.of(ask.view), photos(ask))
    return ask.show("dimension.html", {"it": page, "back": _interface(ask), **CHOICES}, title=dimension.name)


def _interface(ask: Ask) -> str:
    """The interface a person came from, if it is one."""
    id_ = ask.form.text("for") or ask.request.query_params.get("for", "")
    return id_ if id_ in ask.view.build.index["interfaces"] else ""


@router.get("/interfaces/dimensions/{id_}")
def show(id_: str, ask: Asked) -> Response:
    """One dimension."""
    return show_dimension(ask, id_)


@router.post("/interfaces/dimensions/{id_}")
def write_reading(id_: str, ask: Asked) -> Response:
    """Write down a reading."""
    dimension, came_from = ask.find("dimensions", id_), _interface(ask)

    def photo() -> str:
        return ask.keep_photo("photo", f"{dimension.id} {ask.form.text('day')}")

    def edit(build: Build) -> Build:
        return measured(build, dimension, ask.form, ask.today, photo=photo)

    back = f"/interfaces/{came_from}" if came_from else f"/interfaces/dimensions/{id_}"
    said, again = f"measured: {dimension.name}", lambda ask: show_dimension(ask, id_)
    return ask.write(edit, message=said, back=back, again=again, verdicts=True)


@router.post("/interfaces/dimensions/{id_}/readings/{reading}/out")
def take_out(id_: str, reading: str, ask: Asked) -> Response:
    """Take out a reading that is wrong."""
    dimension = ask.find("dimensions", id_)
    ask.find("readings", reading)
    return ask.write(
        lambda build: without(build, "readings", reading),
        message=f"took out a reading: {dimension.name}",
        back=f"/interfaces/dimensions/{id_}",
        again=lambda ask: show_dimension(ask, id_),
        verdicts=True,
    )
