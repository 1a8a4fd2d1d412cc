"""What can be changed about a part: it came, it lies elsewhere, it was fitted; its name, phase, offers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ..build import Build, offer_contents
from ..build.base import ThreePoint
from ..build.commerce import Offer, ReturnTerms, Sighting
from ..build.events import Fitting, Order, PartCount, Receipt
from ..build.money import Money
from ..build.parts import Part, Phase
from .desk import fresh_id, put
from .form import made


def phased(build: Build, part: str, phase: Phase | None) -> Build:
    """The build with a part needed in a phase."""
    return put(build, "parts", build.find("parts", part).model_copy(update={"phase": phase}))


def arrived(build: Build, part: str, count: float, day: date, *, order: str | None = None, place: str = "") -> Build:
    """The build with so many of a part received.

    Parameters
    ----------
    order : what they came on, if on any
    """
    receipt = made(
        Receipt,
        id=fresh_id(build, "events", f"arrived {day.isoformat()} {part}"),
        day=day,
        order=order,
        lines=(PartCount(part=part, quantity=count),),
        place=place,
    )
    return put(build, "events", receipt)


def came_too_early(build: Build, order: str | None, day: date) -> bool:
    """Whether something came before it was ordered."""
    found: Order | None = build.find("events", order) if order else None
    return found is not None and day < found.day


def moved(build: Build, key: str, place: str) -> Build:
    """The build with what came then, or is owned, lying elsewhere; `key` as in `Lying`."""
    list_name, _, id_ = key.partition("-")
    noun = build.index[list_name].get(id_) if list_name in ("stock", "events") else None
    return build if noun is None else put(build, list_name, noun.model_copy(update={"place": place}))


def fitted(build: Build, part: str, count: float, day: date, *, job: str | None = None) -> Build:
    """The build with so many of a part fitted."""
    stem = f"fitted {day.isoformat()} {part}"
    event = made(Fitting, id=fresh_id(build, "events", stem), day=day, part=part, quantity=count, job=job)
    return put(build, "events", event)


def changed(build: Build, part: str, **fields: object) -> Build:
    """The build with a part's fields as given; raises Refused with what it can't be."""
    return put(build, "parts", made(Part, **{**dict(build.find("parts", part)), **fields}))


def offer_changed(
    build: Build, id_: str, *, price: Money, lead: ThreePoint | None, returns: ReturnTerms | None, today: date
) -> Build:
    """The build with an offer's price, lead time and return terms; a price it had before is kept as seen then."""
    offer: Offer = build.find("offers", id_)
    given: dict[str, object] = {"lead_weeks": lead, "returns": returns}
    if price != offer.price:
        given |= {"price": price, "seen": today}
        if offer.seen is not None and offer.seen != today:
            seen = Sighting(offer=id_, day=offer.seen, price=offer.price)
            build = build.model_copy(update={"sightings": (*build.sightings, seen)})
    return put(build, "offers", made(Offer, **{**dict(offer), **given}))


def terms_of(
    days: float | None, ends: Sequence[str], restocking: float | None, old: ReturnTerms | None
) -> ReturnTerms | None:
    """Return terms as typed; None if no days were."""
    if days is None:
        return None
    freight = old.freight_back if old else None
    fields = {
        "days": int(days),
        "ended_by": tuple(ends),
        "restocking_percent": restocking or 0,
        "freight_back": freight,
    }
    return made(ReturnTerms, **fields)


def taken_off(build: Build, id_: str) -> Build:
    """The build without a part, and without offers of it alone."""
    gone = {offer.id for offer in build.offers if id_ in offer_contents(build, offer) and offer.part == id_}
    return build.model_copy(
        update={
            "parts": tuple(part for part in build.parts if part.id != id_),
            "offers": tuple(offer for offer in build.offers if offer.id not in gone),
            "sightings": tuple(item for item in build.sightings if item.offer not in gone),
        }
    )
