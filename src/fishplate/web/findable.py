"""What can be found in a build: every noun with a page, the rooms, the settings, the calculations."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from ..build import Build
from ..build.events import Invoice, Order
from ..build.interface_kinds import interface_kinds
from ..build.jobs import Job
from ..plan.sentences import day_words
from ..records import invoice_states, order_states, requirement_states
from .choosing import SUBJECTS, subject_of
from .explaining import words
from .finding import Index, Thing
from .holdings import holdings
from .outlooks import name_of_offer
from .rooms import ROOMS
from .waits import progress_words
from .words import INSTRUMENTS, day, exact, listed, number

if TYPE_CHECKING:
    from ..records import OrderState
    from .desk import View

# What the page of the owner's situation holds: words it can be found by.
SETTINGS: Final = (
    ("Time for the work", "hours a week, evenings, weekdays, seasons, public holidays, settings"),
    ("Money and patience", "budget, cash, credit, home currency, card, worth of an hour, cost of a week, settings"),
    ("How the work is done", "bays, lifts, garage, settings"),
    ("Who helps", "helper, second person, settings"),
    ("Days off", "holidays, away, settings"),
)
EVENT_WORDS: Final = {
    "paid": "Paid", "delayed": "Another day given", "arrived": "Arrived", "claimed": "Reported faulty",
    "settled": "Claim ended", "checked": "Checked", "fitted": "Fitted", "returned": "Sent back",
    "reclaimed": "Tax asked back", "refunded": "Money came back", "core-sent": "Old parts sent",
    "cancelled": "Cancelled", "worked": "Worked", "moved": "Moved", "counted": "Counted",
    "stage-shown": "Stage shown", "changed": "State changed",
}  # fmt: skip
# Words for where something stands; nothing is found by them that does not stand there.
STATES: Final = frozenset({
    "open", "decided", "done", "finished", "begun", "missing", "fitted", "late", "overdue", "paid", "unpaid",
    "answered", "dropped", "cancelled",
})  # fmt: skip
_INSTRUMENT: Final = dict(INSTRUMENTS)
_NOTE, _ABOUT, _STATE = 1.0, 2.0, 3.0
_BESIDE: Final = 3.0  # the name of what is no noun of the build, or only tells of one


def index_of(view: View) -> Index:
    """Everything that can be found, by its words."""
    return Index((thing for things in _THINGS for thing in things(view)), STATES)


def _at(room: str, id_: str, rest: str = "") -> str:
    return f"{room}/{quote(id_, safe='')}{rest}"


def _rooms(_view: View) -> Iterator[Thing]:
    for room in ROOMS:
        yield Thing("", "room", room.name, room.path)
    for name, holds in SETTINGS:
        yield Thing("", "setting", name, "/owner", "Under “Your situation”.", ((_ABOUT, holds),))


def _parts(view: View) -> Iterator[Thing]:
    systems, held = _names(view.build, "systems"), view.once(holdings)
    for part in view.build.parts:
        here = held[part.id]
        lies = tuple((_ABOUT, place) for place in here.places)
        about = ((_ABOUT, systems.get(part.system or "", "")), (_ABOUT, part.category), (_NOTE, part.note))
        state = "off the list" if part.dropped else str(here.has)
        said = "The build calls for it no longer." if part.dropped else f"{here.words(view.as_of)}."
        numbers = (part.part_number,) if part.part_number else ()
        yield Thing(part.id, "part", part.name, _at("/parts", part.id), said, (*about, *lies, (_STATE, state)), numbers)


def _systems(view: View) -> Iterator[Thing]:
    counts: dict[str, int] = {}
    for part in view.build.parts:
        counts[part.system or ""] = counts.get(part.system or "", 0) + 1
    for system in view.build.systems:
        count = counts.get(system.id, 0)
        said = f"{count} part{'' if count == 1 else 's'}."
        about = ((_NOTE, system.note), *((_ABOUT, hazard) for hazard in system.hazards))
        yield Thing(system.id, "system", system.name, _at("/buying/systems", system.id), said, about)


def _jobs(view: View) -> Iterator[Thing]:
    systems = _names(view.build, "systems")
    for job in view.build.jobs:
        said, state = _job_state(view, job)
        about = (
            (_ABOUT, systems.get(job.system or "", "")), (_ABOUT, job.phase.value), (_STATE, state), (_NOTE, job.note),
            *((_NOTE, tool) for tool in job.tools), *((_NOTE, hazard) for hazard in job.hazards),
        )  # fmt: skip
        yield Thing(job.id, "job", job.name, _at("/jobs", job.id), said, about)


def _job_state(view: View, job: Job) -> tuple[str, str]:
    """How far a job is, as a sentence and in the words it can be found by."""
    state = view.facts.jobs.get(job.id)
    if state is not None and state.done_on is not None:
        return f"Done on {day_words(state.done_on, view.as_of)}.", "done finished"
    if job.dropped:
        return "It is not to be done any more.", "dropped"
    if job.id not in view.facts.wanted_jobs:
        return "Only with another choice.", "with another choice"
    begun = progress_words(view, job)
    return (f"{begun[:1].upper()}{begun[1:]}.", "begun open") if begun else ("Not begun.", "open")


def _interfaces(view: View) -> Iterator[Thing]:
    systems, parts, kinds = _names(view.build, "systems"), _names(view.build, "parts"), interface_kinds()
    for item in view.build.interfaces:
        about = (
            (_ABOUT, kinds.get(item.kind or "", "")), *((_ABOUT, systems[each]) for each in item.systems),
            *((_NOTE, parts[each]) for each in item.parts), (_NOTE, item.if_wrong), (_NOTE, item.check),
        )  # fmt: skip
        yield Thing(item.id, "interface", item.name, _at("/interfaces", item.id), "", about)


def _conditions(view: View) -> Iterator[Thing]:
    names = _names(view.build, "interfaces")
    for item in view.build.conditions:
        where = names[item.interface]
        path = _at("/interfaces", item.interface, f"#condition-{item.id}")
        told = ((_ABOUT, where), (_NOTE, item.note), (_NOTE, " ".join(item.mates or ())), (_ABOUT, item.kind))
        yield Thing(item.id, "condition", item.name, path, f"At “{where}”.", told)


def _dimensions(view: View) -> Iterator[Thing]:
    latest = {reading.dimension: reading for reading in sorted(view.build.readings, key=lambda each: each.day)}
    parts = _names(view.build, "parts")
    for item in view.build.dimensions:
        reading = latest.get(item.id)
        last = "" if reading is None else reading.designation or f"{number(reading.value or 0.0)} {item.unit}".strip()
        said = "No reading yet." if reading is None else f"{last}, read on {day_words(reading.day, view.as_of)}."
        state = "no reading, not measured" if reading is None else "read"
        about = ((_ABOUT, item.id.replace("_", " ")), (_ABOUT, parts.get(item.part or "", "")), (_STATE, state))
        path = _at("/interfaces/dimensions", item.id)
        yield Thing(item.id, "dimension", item.name, path, said, (*about, (_NOTE, item.how)))
    for reading in view.build.readings:
        noun = view.build.find("dimensions", reading.dimension)
        value = reading.designation or f"{number(reading.value or 0.0)} {noun.unit}".strip()
        means = _INSTRUMENT.get(reading.instrument or "", "")
        said = f"Read on {day(reading.day)}{f', {means}' if means else ''}."
        told = ((_NOTE, reading.note), (_ABOUT, reading.provenance.value), (_ABOUT, f"{means} {day(reading.day)}"))
        path = _at("/interfaces/dimensions", noun.id)
        yield Thing(reading.id, "reading", f"{noun.name}: {value}", path, said, told)


def _decisions(view: View) -> Iterator[Thing]:
    for item in view.build.decisions:
        choice = view.facts.choices[item.id]
        on = f" on {day_words(item.chosen_on, view.as_of)}" if item.chosen_on and choice.decided else ""
        said = f"Decided{on}: {choice.option.name}." if choice.decided else f"Open; planned with {choice.option.name}."
        told = ((_STATE, "decided" if choice.decided else "open"), (_NOTE, item.note), (_NOTE, item.why))
        yield Thing(item.id, "decision", item.name, _at("/decisions", item.id), said, told)
        for option in item.options:
            taken = option.id == choice.option.id
            word = (
                ("Taken" if choice.decided else "Planned with") if taken else "Not taken" if choice.decided else "Open"
            )
            path = _at("/decisions", item.id, f"/options/{quote(option.id, safe='')}")
            more = ((_ABOUT, item.name), (_NOTE, option.note))
            yield Thing(option.id, "option", option.name, path, f"{word}, of “{item.name}”.", more)


def _suppliers(view: View) -> Iterator[Thing]:
    counts: dict[str, int] = {}
    for offer in view.build.offers:
        counts[offer.supplier] = counts.get(offer.supplier, 0) + 1
    for item in view.build.suppliers:
        count = counts.get(item.id, 0)
        said = f"In {item.country}; {count} offer{'' if count == 1 else 's'}."
        told = ((_ABOUT, f"{item.country} {item.currency}"), (_NOTE, item.note))
        yield Thing(item.id, "supplier", item.name, _at("/buying/suppliers", item.id), said, told)


def _enquiries(view: View) -> Iterator[Thing]:
    for enquiry in view.build.enquiries:
        seller = view.build.find("suppliers", enquiry.supplier).name
        path, state = _at("/buying/enquiries", enquiry.supplier), "answered" if enquiry.answered else "open"
        told = ((_STATE, state), (_NOTE, enquiry.answer), *((_NOTE, text) for text in enquiry.questions))
        said = f"Answered on {day(enquiry.answered)}." if enquiry.answered else "Not answered yet."
        yield Thing(enquiry.id, "enquiry", f"Questions to {seller}", path, said, told)


def _offers(view: View) -> Iterator[Thing]:
    build, sellers = view.build, _names(view.build, "suppliers")
    for item in build.offers:
        seen = f", seen on {day(item.seen)}" if item.seen else ""
        part = build.index["parts"].get(item.part or "")
        numbers = (part.part_number,) if part is not None and part.part_number else ()
        gone = item.available_until is not None and item.available_until < view.as_of
        told = ((_ABOUT, sellers[item.supplier]), (_NOTE, item.note), (_STATE, "no longer sold" if gone else ""))
        said = f"{exact(item.price)} from {sellers[item.supplier]}{seen}{'; no longer sold' if gone else ''}."
        name = name_of_offer(build, item)
        yield Thing(item.id, "offer", name, _at("/buying/offers", item.id), said, told, numbers)


def _orders(view: View) -> Iterator[Thing]:
    build, sellers = view.build, _names(view.build, "suppliers")
    for state in order_states(build, view.as_of):
        order = state.order
        seller, said = sellers[order.supplier], _order_said(view, state)
        names = [name_of_offer(build, build.find("offers", line.offer)) for line in order.lines]
        told = ((_ABOUT, " ".join(names)), (_STATE, said), (_NOTE, order.note), (_STATE, _late(view, state)))
        name = f"Order from {seller}, {day(order.day)}"
        yield Thing(order.id, "order", name, _order_path(state), f"{said}: {listed(names)}.", told)


def _invoices(view: View) -> Iterator[Thing]:
    for invoice in invoice_states(view.build, view.as_of):
        owed, due = invoice.owed.amount > 0, invoice.invoice.due
        late = owed and due is not None and due < view.as_of
        by = f", due on {day_words(due, view.as_of)}" if due else ""
        said = f"{exact(invoice.owed)} to pay{by}." if owed else "Paid."
        state = "paid" if not owed else "open unpaid overdue late" if late else "open unpaid"
        name = f"Invoice {invoice.invoice.number}, {day(invoice.invoice.day)}".replace(" ,", ",")
        numbers = (invoice.invoice.number,) if invoice.invoice.number else ()
        yield Thing(invoice.invoice.id, "invoice", name, "/money/invoices", said, ((_STATE, state),), numbers)


def _order_path(state: OrderState) -> str:
    """Where an order is shown, with all that happened with it."""
    return _at("/buying/orders", state.order.id)


def _order_said(view: View, state: OrderState) -> str:
    if state.cancelled_on is not None:
        return "Cancelled"
    if not state.is_open:
        return "All of it came"
    expected = [line.expected for line in state.waiting if line.expected is not None]
    if not expected:
        return "On its way, no day given"
    late = " overdue" if _late(view, state) else ""
    return f"On its way{late and ', late'}, promised for {day_words(max(expected), view.as_of)}"


def _late(view: View, state: OrderState) -> str:
    """Words for an order of which something was to be here by now."""
    late = any(line.expected is not None and line.expected < view.as_of for line in state.waiting)
    return "late overdue" if late else ""


def _places(view: View) -> Iterator[Thing]:
    here: dict[str, list[str]] = {}
    names = _names(view.build, "parts")
    for part, lies in view.facts.lies.items():
        for place, count in lies.places.items():
            if place and count > 0:
                here.setdefault(place, []).append(names[part])
    for place, parts in here.items():
        yield Thing(
            "", "place", place, "/shelf#places", f"{listed(parts)} {'lies' if len(parts) == 1 else 'lie'} there."
        )
    for trip in view.build.collections:
        where = f" at {trip.place}" if trip.place else ""
        state = "past" if trip.day < view.as_of else "to come"
        said = f"{day_words(trip.day, view.as_of)[:1].upper()}{day_words(trip.day, view.as_of)[1:]}; {state}."
        name = f"Collection on {day(trip.day)}{where}"
        yield Thing(
            trip.id, "collection", name, _at("/collections", trip.id), said, ((_STATE, state), (_NOTE, trip.note))
        )
    for route in view.build.routes:
        told = ((_ABOUT, f"{route.kind} {route.from_country}"), (_NOTE, route.note))
        yield Thing(route.id, "way home", route.name, _at("/door/ways", route.id), f"From {route.from_country}.", told)
    for shop in view.build.workshops:
        yield Thing(shop.id, "workshop", shop.name, "/shelf/workshops", "Work sent out.", ((_NOTE, shop.note),))


def _evidence(view: View) -> Iterator[Thing]:
    words = {
        "there": "Its evidence is there.",
        "missing": "Evidence is missing.",
        "too-late": "It can't be seen any more.",
    }
    for state in requirement_states(view.build, view.facts):
        item, said = state.requirement, words[state.standing]
        told = ((_STATE, said), (_STATE, "open" if state.missing else ""), (_NOTE, item.note), (_NOTE, item.source))
        pieces = tuple((_NOTE, f"{each.what} {each.kind or ''}") for each in state.evidence)
        yield Thing(item.id, "evidence", item.name, _at("/evidence", item.id), said, (*told, *pieces))


def _notes(view: View) -> Iterator[Thing]:
    """What happened, each with the page of what it is about."""
    orders = {state.order.id: _order_path(state) for state in order_states(view.build, view.as_of)}
    for event in view.build.events:
        if isinstance(event, Order | Invoice):
            continue
        subject, path = _subject(view.build, event, orders)
        name = f"{EVENT_WORDS[event.kind]}{f': {subject}' if subject else ''}"
        said = f"{day(event.day)}{f': {_short(event.note)}' if event.note else ''}."
        place = getattr(event, "place", "")
        yield Thing(
            event.id,
            "note",
            name,
            path,
            said,
            ((_NOTE, event.note), (_NOTE, place), (_NOTE, day(event.day))),
            weight=_BESIDE,
        )


def _subject(build: Build, event: object, orders: Mapping[str, str]) -> tuple[str, str]:
    """What an event is about, and where that is shown.

    Parameters
    ----------
    orders : where each order is shown
    """
    for field, list_name, room in (
        ("job", "jobs", "/jobs"), ("part", "parts", "/parts"), ("order", "events", ""),
        ("offer", "offers", "/buying/offers"), ("state", "states", ""), ("workshop", "workshops", ""),
    ):  # fmt: skip
        id_ = getattr(event, field, None)
        noun = build.index[list_name].get(id_ or "")
        if noun is None:
            continue
        if list_name == "events":
            return f"order from {build.find('suppliers', noun.supplier).name}", orders.get(noun.id, "/buying")
        if list_name == "offers":
            return name_of_offer(build, noun), _at(room, noun.id)
        elsewhere = "/interfaces/states" if list_name == "states" else "/shelf/workshops"
        return noun.name, _at(room, noun.id) if room else elsewhere
    lines = getattr(event, "lines", ())
    names = [build.find("parts", line.part).name for line in lines if hasattr(line, "part")]
    return (listed(names), "/shelf") if names else ("", "/history")


def _short(note: str) -> str:
    text = " ".join(note.split()).rstrip(".")
    return text if len(text) <= 120 else f"{text[:117].rsplit(' ', 1)[0]} …"


def _states(view: View) -> Iterator[Thing]:
    for item in view.build.states:
        on = view.facts.state_changed.get(item.id)
        said = f"It changed on {day(on)}." if on else "As it was when readings were taken."
        yield Thing(item.id, "state", item.name, "/interfaces/states", said, ((_NOTE, item.note),))
    for stand_in in view.build.stand_ins:
        path = _at("/interfaces/stand-ins", stand_in.id)
        yield Thing(stand_in.id, "stand-in", stand_in.name, path, "", ((_NOTE, stand_in.note),))


def _calculations(_view: View) -> Iterator[Thing]:
    from ..trade import calculations  # it brings numpy, which other pages do without

    for id_, item in calculations().items():
        told = ((_ABOUT, id_.replace("_", " ")), (_NOTE, item.settles))
        said = f"{SUBJECTS[subject_of(id_)]}."
        yield Thing(id_, "calculation", item.purpose.rstrip("."), _at("/calculations", id_), said, told, weight=_BESIDE)


def _words(_view: View) -> Iterator[Thing]:
    for item in words().values():
        yield Thing("", "word", item.name, f"/words#{item.anchor}", item.means, ((_ABOUT, item.trade),), weight=_BESIDE)


def _names(build: Build, list_name: str) -> dict[str, str]:
    return {noun.id: noun.name for noun in getattr(build, list_name)}


_THINGS: Final[tuple[Callable[[View], Iterator[Thing]], ...]] = (
    _rooms, _parts, _jobs, _decisions, _interfaces, _conditions, _dimensions, _suppliers, _enquiries, _offers, _orders,
    _invoices, _places, _evidence, _systems, _states, _words, _calculations, _notes,
)  # fmt: skip
