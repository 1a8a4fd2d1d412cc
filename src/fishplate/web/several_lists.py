"""The lists of which several lines can be changed at once: their fields, and why a line can't have a value."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from ..build import Build
from ..build.commerce import Sighting
from ..build.events import Move, Order
from ..build.jobs import Job
from ..build.parts import Phase
from .desk import fresh_id, put_all
from .form import made
from .holdings import Has, holdings
from .outlooks import name_of_offer
from .several_edits import Check, Field, Listing, Options
from .waits import runs_of_months
from .words import day, number

if TYPE_CHECKING:
    from .desk import View

NONE: Final = "none"
YES_NO: Final = (("yes", "yes"), ("no", "no"))
MAYBE: Final = ((NONE, "not said"), *YES_NO)
SEASONS: Final = {
    NONE: ("any month", ()),
    "spring": ("March to May", (3, 4, 5)),
    "summer": ("June to August", (6, 7, 8)),
    "autumn": ("September to November", (9, 10, 11)),
    "winter": ("December to February", (1, 2, 12)),
    "warm": ("April to September", (4, 5, 6, 7, 8, 9)),
    "cold": ("October to March", (1, 2, 3, 10, 11, 12)),
}


def _put_fields(list_name: str) -> Callable[[View, Build, Mapping[str, Mapping[str, Any]]], Build]:
    """Writes fields of nouns, checked as if each had been typed."""

    def write(_view: View, build: Build, changes: Mapping[str, Mapping[str, Any]]) -> Build:
        nouns = {id_: build.find(list_name, id_) for id_ in changes}
        return put_all(
            build,
            list_name,
            {id_: made(type(noun), **{**dict(noun), **changes[id_]}) for id_, noun in nouns.items()},
        )

    return write


def _put_offers(view: View, build: Build, changes: Mapping[str, Mapping[str, Any]]) -> Build:
    """Writes fields of offers; the day a price was seen before stays known."""
    offers = [build.find("offers", id_) for id_, fields in changes.items() if "seen" in fields]
    before = tuple(
        Sighting(offer=offer.id, day=offer.seen, price=offer.price)
        for offer in offers
        if offer.seen is not None and not any((s.offer, s.day) == (offer.id, offer.seen) for s in build.sightings)
    )
    build = build.model_copy(update={"sightings": (*build.sightings, *before)})
    return _put_fields("offers")(view, build, changes)


def _put_places(view: View, build: Build, changes: Mapping[str, Mapping[str, Any]]) -> Build:
    moves = [
        made(Move, id=fresh_id(build, "events", f"moved {view.as_of.isoformat()} {part}"), day=view.as_of, part=part,
             place=fields["place"])
        for part, fields in changes.items()
    ]  # fmt: skip
    return put_all(build, "events", {move.id: move for move in moves})


# what is typed, as values


def _chosen(text: str) -> str | None:
    return None if text == NONE else text


def _yes(text: str) -> bool:
    return text == "yes"


def _said(text: str) -> bool | None:
    return {"yes": True, "no": False}.get(text)


def _country(text: str) -> str:
    if len(text) != 2 or not text.isascii() or not text.isalpha():
        raise ValueError("not a country's two letters")
    return text.upper()


def _months(text: str) -> tuple[int, ...]:
    return SEASONS[text][1]


# values in words


def _of(list_name: str, nothing: str) -> Callable[[View, Any], str]:
    def words(view: View, value: Any) -> str:
        return nothing if value is None else str(view.build.find(list_name, value).name)

    return words


def _plain(nothing: str = "not said") -> Callable[[View, Any], str]:
    return lambda _view, value: str(value) if value not in (None, "") else nothing


def _yes_words(_view: View, value: Any) -> str:
    return "not said" if value is None else "yes" if value else "no"


def _day_words(_view: View, value: Any) -> str:
    return "no day said" if value is None else day(value)


def _phase_words(_view: View, value: Any) -> str:
    return "no phase" if value is None else Phase(value).value.replace("-", " ")


def _months_words(_view: View, value: Any) -> str:
    known = {months: words for words, months in SEASONS.values()}
    return known.get(tuple(sorted(value))) or runs_of_months(value)


# what can be chosen


def _named(list_name: str, nothing: str) -> Callable[[View], Options]:
    return lambda view: ((NONE, nothing), *((noun.id, noun.name) for noun in getattr(view.build, list_name)))


def _phases(view: View) -> Options:
    return tuple((phase.value, _phase_words(view, phase)) for phase in Phase)


def _fixed(options: Options) -> Callable[[View], Options]:
    return lambda _view: options


# why not


def _part_dropped(view: View) -> Check:
    held, coming = view.once(holdings), {item.part for item in view.facts.incoming}

    def why_not(id_: str, value: bool) -> str:
        if value and id_ in coming:
            return "it is on its way: cancel the order first"
        return "it is fitted" if value and held[id_].has is Has.FITTED else ""

    return why_not


def _job_done(view: View) -> Check:
    return lambda id_, _value: "it is done" if view.facts.is_done(id_) else ""


def _other_job_done(view: View) -> Check:
    return lambda _id, value: "that job is done already" if value is not None and view.facts.is_done(value) else ""


def _decided(view: View) -> Check:
    return lambda id_, _value: "it is decided" if view.facts.choices[id_].decided else ""


def _freezes(view: View) -> Check:
    decided, done = _decided(view), _other_job_done(view)
    return lambda id_, value: decided(id_, value) or done(id_, value)


def _seller(view: View) -> Check:
    orders = (event for event in view.build.events if isinstance(event, Order))
    ordered = {line.offer for order in orders for line in order.lines}

    def why_not(id_: str, value: str) -> str:
        if id_ in ordered:
            return "something was ordered by it"
        currency = view.build.find("suppliers", value).currency
        return "" if view.build.find("offers", id_).price.currency == currency else f"its price is not in {currency}"

    return why_not


def _until(view: View) -> Check:
    def why_not(id_: str, value: date) -> str:
        first = view.build.find("offers", id_).available_from
        return f"it can be ordered from {day(first)} on only" if first is not None and value < first else ""

    return why_not


def _seen_again(view: View) -> Check:
    def why_not(id_: str, value: date) -> str:
        seen = view.build.find("offers", id_).seen
        if value > view.as_of:
            return "that day is still to come"
        return f"it was seen later, on {day(seen)}" if seen is not None and value < seen else ""

    return why_not


# the lists


def _noun_now(list_name: str) -> Callable[[View, str, str], Any]:
    return lambda view, id_, field: getattr(view.build.find(list_name, id_), field)


def _ids(list_name: str) -> Callable[[View], Sequence[str]]:
    return lambda view: tuple(view.build.index[list_name])


def _name(list_name: str) -> Callable[[View, str], str]:
    return lambda view, id_: str(view.build.find(list_name, id_).name)


def _part_states(view: View) -> Callable[[str], str]:
    held, systems = view.once(holdings), {each.id: each.name for each in view.build.systems}

    def said(id_: str) -> str:
        part = view.build.find("parts", id_)
        state = "Called for no longer" if part.dropped else held[id_].words(view.as_of)
        return f"{systems.get(part.system or '', 'No system named')}. {state}."

    return said


def _job_states(view: View) -> Callable[[str], str]:
    def said(id_: str) -> str:
        job: Job = view.build.find("jobs", id_)
        state = "done" if view.facts.is_done(id_) else "not to be done" if job.dropped else "to do"
        return f"{_phase_words(view, job.phase).capitalize()}, {state}."

    return said


def _interface_states(view: View) -> Callable[[str], str]:
    def said(id_: str) -> str:
        by = view.build.find("interfaces", id_).settle_by
        return f"To be settled before “{view.build.find('jobs', by).name}”." if by else ""

    return said


def _offer_title(view: View, id_: str) -> str:
    offer = view.build.find("offers", id_)
    return f"{name_of_offer(view.build, offer)}, {view.build.find('suppliers', offer.supplier).name}"


def _offer_states(view: View) -> Callable[[str], str]:
    def said(id_: str) -> str:
        offer = view.build.find("offers", id_)
        return f"{offer.price}{f', seen on {day(offer.seen)}' if offer.seen else ''}."

    return said


def _decision_states(view: View) -> Callable[[str], str]:
    def said(id_: str) -> str:
        choice = view.facts.choices[id_]
        return f"{'Decided' if choice.decided else 'Open'}: {choice.option.name}."

    return said


def _lying_ids(view: View) -> Sequence[str]:
    return tuple(id_ for id_, item in view.facts.lies.items() if item.lying > 1e-9)


def _place_now(view: View, id_: str, _field: str) -> str:
    places = [place for place, count in view.facts.lies[id_].places.items() if count > 1e-9]
    return places[0] if len(places) == 1 else ", ".join(filter(None, places))


def _lying_states(view: View) -> Callable[[str], str]:
    return lambda id_: f"{_place_now(view, id_, 'place') or 'Nobody said where'}."


_SYSTEM: Final = Field(
    "system", "System", "choose", _of("systems", "no system"), _chosen, _named("systems", "no system"), moves=True
)
LISTINGS: Final = {
    listing.name: listing
    for listing in (
        Listing(
            "parts", "part", "parts", "/parts", "Parts",
            (
                _SYSTEM,
                Field("phase", "Phase", "choose", _phase_words, _chosen,
                      lambda view: ((NONE, "no phase"), *_phases(view)), moves=True),
                Field("category", "Category, by which prices move together", "text", _plain()),
                Field("origin", "Country it was made in", "text", _plain(), _country),
                Field("dropped", "The build calls for it no longer", "choose", _yes_words, _yes, _fixed(YES_NO),
                      _part_dropped),
            ),
            _ids("parts"), _name("parts"), _part_states, _noun_now("parts"), _put_fields("parts"),
        ),
        Listing(
            "jobs", "job", "jobs", "/jobs", "Jobs",
            (
                Field("phase", "Phase", "choose", _phase_words, str, _phases, _job_done, moves=True),
                _SYSTEM,
                Field("months", "Months it can be done in", "choose", _months_words, _months,
                      _fixed(tuple((key, words) for key, (words, _) in SEASONS.items())), _job_done),
                Field("second_person", "It takes a second person", "choose", _yes_words, _yes, _fixed(YES_NO),
                      _job_done),
                Field("loud", "It is loud", "choose", _yes_words, _said, _fixed(MAYBE), _job_done),
                Field("dry", "It needs a dry evening", "choose", _yes_words, _said, _fixed(MAYBE), _job_done),
                Field("dropped", "It is not to be done", "choose", _yes_words, _yes, _fixed(YES_NO), _job_done),
            ),
            _ids("jobs"), _name("jobs"), _job_states, _noun_now("jobs"), _put_fields("jobs"),
        ),
        Listing(
            "interfaces", "interface", "interfaces", "/interfaces", "Interfaces",
            (
                Field("settle_by", "To be settled before", "choose", _of("jobs", "no job"), _chosen,
                      _named("jobs", "no job"), _other_job_done),
                Field("closed_by", "Covered by", "choose", _of("jobs", "no job"), _chosen, _named("jobs", "no job"),
                      _other_job_done),
            ),
            _ids("interfaces"), _name("interfaces"), _interface_states, _noun_now("interfaces"),
            _put_fields("interfaces"),
        ),
        Listing(
            "offers", "offer", "offers", "/buying/prices?all", "Prices",
            (
                Field("supplier", "Supplier", "choose", _of("suppliers", ""), str,
                      lambda view: tuple((each.id, each.name) for each in view.build.suppliers), _seller, moves=True),
                Field("seen", "Seen again at the same price on", "day", _day_words, why_not=_seen_again),
                Field("price_until", "Last day the seller stands by the price", "day", _day_words),
                Field("available_until", "Last day it can be ordered", "day", _day_words, why_not=_until),
                Field("tax_included", "The price carries the seller's tax", "choose", _yes_words, _said,
                      _fixed(((NONE, "not known"), *YES_NO))),
                Field("proof_of_origin", "A proof of origin comes with it", "choose", _yes_words, _yes, _fixed(YES_NO)),
                Field("made_to_order", "Made to order", "choose", _yes_words, _yes, _fixed(YES_NO)),
            ),
            _ids("offers"), _offer_title, _offer_states, _noun_now("offers"), _put_offers,
        ),
        Listing(
            "decisions", "decision", "decisions", "/decisions", "Decisions",
            (
                Field("importance", "Importance, beside other decisions", "number",
                      lambda _view, value: number(value), why_not=_decided),
                Field("freeze_by", "To be settled before", "choose", _of("jobs", "no job"), _chosen,
                      _named("jobs", "no job"), _freezes),
            ),
            _ids("decisions"), _name("decisions"), _decision_states, _noun_now("decisions"), _put_fields("decisions"),
        ),
        Listing(
            "shelf", "part", "parts", "/shelf", "Shelf",
            (Field("place", "Where it lies", "text", _plain("where nobody said"), moves=True),),
            _lying_ids, _name("parts"), _lying_states, _place_now, _put_places,
        ),
    )
}  # fmt: skip
