"""One part: what is there of it, what waits for it, what it rests on, who offers it, until when it can go back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from ..build import Build, Money, offer_contents
from ..build.commerce import Offer, ReturnTerms
from ..build.events import Order, Receipt
from ..build.expression import names_in
from ..build.parts import Part, Phase
from ..plan.model import PlannedLine
from ..plan.sentences import day_words
from ..records import return_rights
from .holdings import holdings
from .part_photos import PhotoShown, photos_of
from .words import PHASE_WORDS, RETURN_ENDS, amount, day, exact, in_field, listed, number, weeks_span

if TYPE_CHECKING:
    from .desk import View

WORST: Final = ("does not fit", "not known", "in doubt", "fits")


@dataclass(frozen=True, slots=True)
class Link:
    """Something the part hangs on or that hangs on it; `verdict` of an interface, empty where none is known."""

    path: str
    name: str
    said: str = ""
    verdict: str = ""


@dataclass(frozen=True, slots=True)
class Tap:
    """A phase as a button."""

    phase: str
    word: str
    on: bool


@dataclass(frozen=True, slots=True)
class OfferLine:
    """An offer, in words and as its form shows it.

    Parameters
    ----------
    landed : at the door, where the plan buys it
    price, lead, days, ends, restocking : as typed
    """

    id: str
    supplier: str
    what: str
    landed: str
    lead_words: str
    returns_words: str
    price: str
    currency: str
    lead: tuple[str, str, str]
    days: str
    ends: tuple[str, ...]
    restocking: str


@dataclass(frozen=True, slots=True)
class Lying:
    """What came on one day or is owned, and where it lies.

    Parameters
    ----------
    key : "stock" or "events", and the id
    with_it : what else came then and lies there
    """

    key: str
    said: str
    place: str
    with_it: str


@dataclass(frozen=True, slots=True)
class PartPage:
    """A part with everything about it.

    Parameters
    ----------
    said : how far it is; goes_back : until when it can go back; plan : what the plan does
    jobs, decisions, interfaces : what needs it, calls for it, meets at it
    waiting : how many are to be expected at the next arrival; orders : what they can have come on
    fit_now : how many lie there unfitted; fit_jobs : what they can have been fitted in
    """

    id: str
    name: str
    title: str
    said: str
    goes_back: tuple[str, ...]
    plan: tuple[str, ...]
    jobs: tuple[Link, ...]
    decisions: tuple[Link, ...]
    interfaces: tuple[Link, ...]
    taps: tuple[Tap, ...]
    phase_words: str
    offers: tuple[OfferLine, ...]
    lying: tuple[Lying, ...]
    waiting: str
    orders: tuple[tuple[str, str], ...]
    order: str
    place: str
    places: tuple[str, ...]
    fit_now: str
    fit_jobs: tuple[tuple[str, str], ...]
    quantity: str
    unit: str
    part_number: str
    system: str
    systems: tuple[tuple[str, str], ...]
    order_on: str
    note: str
    source: str
    photos: tuple[PhotoShown, ...]


def part_page(view: View, id_: str) -> PartPage:
    """The page of a part; raises KeyError if there is none."""
    build = view.build
    part: Part = build.find("parts", id_)
    held = view.once(holdings)
    holding = held[id_]
    coming = [item for item in view.facts.incoming if item.part == id_]
    jobs = [job for job in build.jobs if id_ in (*job.to_try, *job.to_keep)]
    waiting = coming[0].quantity if coming else (holding.missing or part.quantity)
    return PartPage(
        id=id_,
        name=part.name,
        title=counted(part),
        said=holding.words(view.as_of) + ".",
        goes_back=tuple(_goes_back(view, id_)),
        plan=tuple(_plan(view, id_)),
        jobs=tuple(_jobs(view, id_)),
        decisions=tuple(_decisions(view, id_)),
        interfaces=tuple(_interfaces(view, id_)),
        taps=tuple(Tap(phase, phase.value.replace("-", " ").capitalize(), part.phase is phase) for phase in Phase),
        phase_words=PHASE_WORDS[part.phase] if part.phase else "",
        offers=tuple(_offers(view, id_)),
        lying=tuple(_lying(view, id_)),
        waiting=number(waiting),
        orders=(*((item.order, _order_words(build, item.order)) for item in coming), ("", "on no order")),
        order=coming[0].order if coming else "",
        place=holding.places[-1] if holding.places else "",
        places=tuple(sorted({place for each in held.values() for place in each.places})),
        fit_now=number(holding.owned - holding.fitted) if holding.owned > holding.fitted + 1e-9 else "",
        fit_jobs=(
            *((job.id, job.name) for job in sorted(jobs, key=lambda job: id_ not in job.to_keep)),
            ("", "no job that is listed"),
        ),
        quantity=in_field(part.quantity),
        unit=part.unit,
        part_number=part.part_number,
        system=part.system or "",
        systems=(("", "none named"), *((system.id, system.name) for system in build.systems)),
        order_on=part.order_on.isoformat() if part.order_on else "",
        note=part.note,
        source=part.source,
        photos=photos_of(part),
    )


def counted(part: Part) -> str:
    """A part's name with how many are wanted, where that is not one.

    Examples
    --------
    >>> counted(Part(id="a", name="Hose", quantity=3, unit="m")), counted(Part(id="b", name="Hub"))
    ('3 m Hose', 'Hub')
    """
    if part.unit != "each":
        return f"{in_field(part.quantity)} {part.unit} {part.name}"
    return part.name if part.quantity == 1 else f"{in_field(part.quantity)} × {part.name}"


def planned(view: View) -> Mapping[str, tuple[PlannedLine, Offer]]:
    """By part, the plan's line that brings it; nothing for what was ordered since."""
    found: dict[str, tuple[PlannedLine, Offer]] = {}
    for line in view.plan.purchase.lines if view.plan else ():
        offer: Offer | None = view.build.index["offers"].get(line.offer)
        for part in offer_contents(view.build, offer) if offer else ():
            if offer is not None and view.facts.missing(view.build, part) > 1e-9:
                found.setdefault(part, (line, offer))
    return found


def _plan(view: View, id_: str) -> Iterator[str]:
    if view.plan is None or id_ not in (lines := planned(view)):
        return
    line, offer = lines[id_]
    as_of = view.as_of
    supplier = view.build.find("suppliers", offer.supplier).name
    when = order_words(line, as_of)
    kit = f", in the kit “{view.build.find('kits', offer.kit).name}”" if offer.kit else ""
    door = f"{amount(line.landed, view.plan.currency)} at the door"
    yield f"The plan orders it {when} from {supplier}{kit}, by “{line.route}”: {door}."
    own = view.build.find("parts", id_).order_on
    if own is not None:
        yield f"You mean to order it on {day_words(own, as_of)}; in many futures that is tried beside the plan."
    if line.arrives_p50 is not None:
        late = f"; nine chances in ten by {day_words(line.arrives_p90, as_of)}" if line.arrives_p90 else ""
        yield f"An even chance that it is here by {day_words(line.arrives_p50, as_of)}{late}."
    if line.why:
        yield line.why[:1].upper() + line.why[1:].rstrip(".") + "."


def order_words(line: PlannedLine, as_of: date) -> str:
    """When a planned line is to be ordered."""
    if line.order_by is None:
        return "at any time"
    return "today" if line.order_by <= as_of else f"by {day_words(line.order_by, as_of)}"


def _goes_back(view: View, id_: str) -> Iterator[str]:
    for right in return_rights(view.build, view.as_of):
        if right.part == id_:
            ends = f", unless {ends_words(right.terms)} before" if right.terms.ended_by else ""
            fee = f", less {right.terms.restocking_percent:g} %" if right.terms.restocking_percent else ""
            assumed = " (common practice; its terms are not known)" if right.assumed else ""
            supplier = view.build.find("suppliers", right.supplier).name
            until = day_words(right.until, view.as_of)
            yield f"{number(right.quantity)} can go back to {supplier} until {until}{ends}{fee}{assumed}."


def ends_words(terms: ReturnTerms) -> str:
    """What ends a return right early."""
    return " or ".join(RETURN_ENDS[end] for end in terms.ended_by)


# what hangs together


def _jobs(view: View, id_: str) -> Iterator[Link]:
    for job in view.build.jobs:
        if id_ in (*job.to_try, *job.to_keep):
            use = "to try it" if id_ in job.to_try else "to keep it"
            state = (
                "done"
                if view.facts.is_done(job.id)
                else ""
                if job.id in view.facts.wanted_jobs
                else "with another choice"
            )
            yield Link(f"/jobs/{job.id}", job.name, ", ".join(filter(None, (use, state))))


def _decisions(view: View, id_: str) -> Iterator[Link]:
    for decision in view.build.decisions:
        for option in decision.options:
            if id_ in option.parts:
                choice = view.facts.choices[decision.id]
                taken = choice.option.id == option.id
                said = (
                    ("decided" if choice.decided else "planned with, not decided")
                    if taken
                    else "not the option planned with"
                )
                yield Link(f"/decisions/{decision.id}", f"{decision.name}: {option.name}", said)


def _interfaces(view: View, id_: str) -> Iterator[Link]:
    build = view.build
    own = {dimension.id for dimension in build.dimensions if dimension.part == id_}
    conditions: dict[str, list[str]] = {}
    for condition in build.conditions if own else ():
        texts = [text for text in (condition.expression, condition.at_least, condition.at_most) if text]
        if any(own & set(names_in(text)) for text in texts):
            conditions.setdefault(condition.interface, []).append(condition.name)
    verdicts: dict[str, list[str]] = {}
    for line in view.plan.fit if view.plan else ():
        verdicts.setdefault(line.interface, []).append(line.verdict)
    for interface in build.interfaces:
        if id_ in interface.parts or interface.id in conditions:
            said = listed(conditions.get(interface.id, []), 4) if interface.id in conditions else ""
            verdict = next((word for word in WORST if word in verdicts.get(interface.id, ())), "")
            yield Link(f"/interfaces/{interface.id}", interface.name, said, verdict)


# offers


def _offers(view: View, id_: str) -> Iterator[OfferLine]:
    build = view.build
    kits = {kit.id for kit in build.kits if any(item.part == id_ for item in kit.contents)}
    lines = {line.offer: line for line in view.plan.purchase.lines} if view.plan else {}
    for offer in build.offers:
        if offer.part == id_ or offer.kit in kits:
            line = lines.get(offer.id)
            landed = f"{amount(line.landed, view.currency)} at the door for what the plan orders" if line else ""
            yield _offer(build, offer, landed)


def _offer(build: Build, offer: Offer, landed: str) -> OfferLine:
    pack = f" for {offer.pack:g}" if offer.pack != 1 else ""
    kit = f" for the kit {build.find('kits', offer.kit).name}" if offer.kit else ""
    tax = {True: ", tax included", False: ", without tax", None: ""}[offer.tax_included]
    seen = f", seen {day(offer.seen)}" if offer.seen else ""
    lead, terms = offer.lead_weeks, offer.returns
    return OfferLine(
        id=offer.id,
        supplier=build.find("suppliers", offer.supplier).name,
        what=f"{exact(offer.price)}{pack}{kit}{tax}{seen}",
        landed=landed,
        lead_words=lead_words(offer),
        returns_words=returns_words(terms),
        price=price_text(offer.price),
        currency=offer.price.currency,
        lead=(in_field(lead.low), in_field(lead.likely), in_field(lead.high)) if lead else ("", "", ""),
        days=in_field(terms.days) if terms else "",
        ends=terms.ended_by if terms else (),
        restocking=in_field(terms.restocking_percent) if terms and terms.restocking_percent else "",
    )


def price_text(price: Money) -> str:
    """An amount as it is typed: to the minor unit, or as far as it goes.

    Examples
    --------
    >>> price_text(Money.of("38.5", "EUR")), price_text(Money.of("0.125", "EUR"))
    ('38.50', '0.125')
    """
    shown = price.rounded().amount
    return f"{shown:f}" if shown == price.amount else f"{price.amount.normalize():f}"


def lead_words(offer: Offer) -> str:
    """How long from order to dispatch."""
    lead = offer.lead_weeks
    if lead is None:
        return "How long it takes is not known."
    return f"{weeks_span(lead.low, lead.high)} to dispatch."


def returns_words(terms: ReturnTerms | None) -> str:
    """When it can go back."""
    if terms is None:
        return "Whether it can go back is not known."
    if not terms.days:
        return "It can't go back."
    ends = f", unless {ends_words(terms)}" if terms.ended_by else ""
    fee = f", less {terms.restocking_percent:g} %" if terms.restocking_percent else ""
    return f"It can go back within {terms.days} days{ends}{fee}."


# where it lies


def _lying(view: View, id_: str) -> Iterator[Lying]:
    names = {part.id: part.name for part in view.build.parts}
    for stock in view.build.stock:
        if stock.part == id_:
            since = f" since {day(stock.since)}" if stock.since else ""
            condition = "" if stock.condition == "unknown" else f", {stock.condition}"
            yield Lying(f"stock-{stock.id}", f"{number(stock.quantity)} owned{since}{condition}", stock.place, "")
    for event in view.build.events:
        if isinstance(event, Receipt) and event.day <= view.as_of:
            count = sum(line.quantity for line in event.lines if line.part == id_)
            others = [names[line.part] for line in event.lines if line.part != id_]
            if count:
                came = f"{number(count)} came on {day(event.day)}"
                yield Lying(f"events-{event.id}", came, event.place, listed(others, 2) if others else "")


def _order_words(build: Build, id_: str) -> str:
    order: Order = build.find("events", id_)
    return f"{build.find('suppliers', order.supplier).name}, {day(order.day)}"
