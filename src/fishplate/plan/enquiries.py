"""What to ask a supplier: what is wanted of it as a system, and what is not known that it can tell."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..build import Build, Facts, offer_contents
from ..build.commerce import Offer, Supplier
from ..build.defaults import RESALE_SHARE
from ..build.parts import Part
from ..build.words import joined
from ..fit import supplier_to_ask
from ..records import fit_confirmations


@dataclass(frozen=True, slots=True)
class Wanted:
    """One thing asked for: the offer it stands for, its name and number, and how many of it."""

    offer: str
    name: str
    part_number: str
    units: float


@dataclass(frozen=True, slots=True)
class AskedFor:
    """A question to a supplier.

    Parameters
    ----------
    about : the kind of input it fills; offers, dimensions : ids of what it is asked of
    each : names that stand under the question, a line each, where it is asked of several
    """

    about: str
    text: str
    offers: tuple[str, ...] = ()
    dimensions: tuple[str, ...] = ()
    each: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EnquirySheet:
    """What to send to a supplier; systems : name of the area -> what is wanted for it."""

    supplier: str
    name: str
    systems: tuple[tuple[str, tuple[Wanted, ...]], ...]
    questions: tuple[AskedFor, ...]

    @property
    def text(self) -> str:
        """The sheet as plain text, ready to be copied."""
        lines = [f"To {self.name}", "", "I am rebuilding a vehicle and would like to order together:"]
        for system, wanted in self.systems:
            lines += ["", f"{system}:"]
            for item in wanted:
                number = f" (no. {item.part_number})" if item.part_number else ""
                lines.append(f"  {item.units:g} × {item.name}{number}")
        if self.questions:
            lines += ["", "Before I order, could you tell me:"]
            for place, question in enumerate(self.questions, 1):
                lines += [f"  {place}. {question.text}", *(f"     - {name}" for name in question.each)]
        return "\n".join([*lines, "", "Thank you."]) + "\n"


def enquiry_sheet(build: Build, facts: Facts, supplier: str) -> EnquirySheet:
    """The sheet for a supplier: what is missing that it offers, by system, and what only it can tell.

    Raises
    ------
    KeyError
        if there is no such supplier
    """
    seller: Supplier = build.find("suppliers", supplier)
    offers = [
        offer
        for offer in build.offers
        if offer.supplier == supplier
        and any(part in facts.wanted_parts and facts.missing(build, part) > 0 for part in offer_contents(build, offer))
    ]
    systems: dict[str, list[Wanted]] = defaultdict(list)
    for offer in offers:
        systems[_system(build, offer)].append(_wanted(build, facts, offer))
    questions = tuple(_questions(build, facts, seller, offers)) if offers else ()
    named = tuple((name, tuple(items)) for name, items in sorted(systems.items()))
    return EnquirySheet(supplier, seller.name, named, questions)


def _system(build: Build, offer: Offer) -> str:
    systems = {build.find("parts", part).system for part in offer_contents(build, offer)}
    only = systems.pop() if len(systems) == 1 else None
    return "The rest" if only is None else str(build.find("systems", only).name)


def _name(build: Build, offer: Offer) -> str:
    noun = build.find("parts", offer.part) if offer.part is not None else build.find("kits", offer.kit or "")
    return str(noun.name)


def _wanted(build: Build, facts: Facts, offer: Offer) -> Wanted:
    units = max(facts.missing(build, part) / count for part, count in offer_contents(build, offer).items())
    number = "" if offer.part is None else build.find("parts", offer.part).part_number
    return Wanted(offer.id, _name(build, offer), number, float(-(-units // 1)))


def _questions(build: Build, facts: Facts, seller: Supplier, offers: Sequence[Offer]) -> Iterator[AskedFor]:
    abroad = seller.country != build.owner.country
    yield from _of_offers(build, offers, abroad=abroad)
    if abroad and seller.origin_tax is None:
        yield AskedFor(
            "origin-tax", "When you send it abroad, do you take off your own sales tax, or can I claim it back?"
        )
    if not seller.freight:
        yield AskedFor("freight", f"What does sending it all to {build.owner.country} cost, and by which carrier?")
    if seller.claim_days is None:
        yield AskedFor("claim-days", "Within how many days must I report damage or a wrong count?")
    yield from _of_fit(build, facts, seller, offers)


def _of_offers(build: Build, offers: Sequence[Offer], *, abroad: bool) -> Iterator[AskedFor]:
    asks = (
        ("lead", "How long from order to dispatch, at best, usually and at worst",
         [offer for offer in offers if offer.lead_weeks is None]),
        ("returns", "Can it come back if it does not fit, within how many days, and what ends that",
         [offer for offer in offers if offer.returns is None and not offer.made_to_order]),
        ("tax", "Is sales tax in the price", [offer for offer in offers if offer.tax_included is None]),
        ("core", "Is an old part to be sent back, with what charge and by when",
         [offer for offer in offers if offer.core_charge is not None and offer.core_days is None]),
        ("warranty", "How long is the warranty, and does it start when it comes or when it is fitted",
         [offer for offer in offers if offer.warranty_months is None]),
        ("price", "Until when does the price hold", [offer for offer in offers if offer.price_until is None]),
        ("mass", "How heavy is it packed, and how large is the box",
         _parts_lack(build, offers, lambda part: part.mass_kg is None or part.box_mm is None)),
        ("origin", "In which country was it made, and under which tariff heading do you send it",
         _parts_lack(build, offers, lambda part: part.origin is None or part.heading is None) if abroad else []),
    )  # fmt: skip
    for about, text, lacking in asks:
        if lacking:
            ids = tuple(offer.id for offer in lacking)
            if len(lacking) == len(offers):
                yield AskedFor(about, f"{text}{', for all of it' if len(offers) > 1 else ''}?", ids)
            else:
                yield _asked(about, text, [_name(build, offer) for offer in lacking], ids)


def _asked(about: str, text: str, names: Sequence[str], offers: tuple[str, ...]) -> AskedFor:
    """A question that is asked of some things: in one sentence of one, with a line each of several."""
    each = tuple(dict.fromkeys(names))
    if len(each) == 1:
        return AskedFor(about, f"{each[0]}: {text[:1].lower()}{text[1:]}?", offers)
    return AskedFor(about, f"{text}, for each of these?", offers, each=each)


def _parts_lack(build: Build, offers: Sequence[Offer], lacks: Callable[[Part], bool]) -> list[Offer]:
    return [
        offer for offer in offers if any(lacks(_part(build, part)) for part in offer_contents(build, offer))
    ]  # fmt: skip


def _part(build: Build, id_: str) -> Part:
    part: Part = build.find("parts", id_)
    return part


def _of_fit(build: Build, facts: Facts, seller: Supplier, offers: Sequence[Offer]) -> Iterator[AskedFor]:
    """Dimensions that only it can tell, and its word that the parts that meet others will fit."""
    parts = {part: offer for offer in offers for part in offer_contents(build, offer)}
    used = {name for condition in build.conditions for name in condition.names}
    for dimension in build.dimensions:
        if dimension.part not in parts or dimension.id not in used:
            continue
        if supplier_to_ask(build, facts, dimension.id) == seller.id:
            how = "which designation" if dimension.designates else f"how many {dimension.unit}, and give or take what"
            text = f"{dimension.name} ({build.find('parts', dimension.part).name}): {how}?"
            yield AskedFor("dimension", text, (parts[dimension.part].id,), (dimension.id,))
    told, names, asked = fit_confirmations(build, facts.as_of), [], []
    for offer in offers:
        meets = [item for item in build.interfaces if item.id not in facts.settled
                 and set(item.parts) & offer_contents(build, offer).keys()]  # fmt: skip
        if meets and offer.id not in told:
            where = joined([item.name[:1].lower() + item.name[1:] for item in meets[:3]])
            names.append(f"{_name(build, offer)} ({where})")
            asked.append(offer.id)
    if asked:
        yield _asked("fits", "Will you confirm in writing that it fits, and take it back if not", names, tuple(asked))


@dataclass(frozen=True, slots=True)
class SystemBought:
    """A system bought one way, home currency.

    Parameters
    ----------
    suppliers : from whom; offers : which
    goods : at the door; orders : what each further order costs; misfit : expected loss on what does not go
    lacking : missing parts it leaves to be found elsewhere
    """

    suppliers: tuple[str, ...]
    offers: tuple[str, ...]
    goods: float
    orders: float
    misfit: float
    lacking: tuple[str, ...] = ()

    @property
    def total(self) -> float:
        """All of it."""
        return self.goods + self.orders + self.misfit


def system_choices(
    build: Build,
    facts: Facts,
    system: str,
    *,
    at_door: Mapping[str, float],
    per_order: Mapping[str, float],
    misfit: Mapping[str, float],
) -> tuple[SystemBought, ...]:
    """A system in pieces, each from where it is cheapest, and whole from each supplier that has any of it.

    Parameters
    ----------
    at_door : offer -> what one unit comes to at the door, home currency; offers not in it are left out
    per_order : supplier -> what an order with it costs beside the goods
    misfit : part -> chance that it does not go where it must

    Returns
    -------
    pieces first, then suppliers: those that have all of it first, by total

    Notes
    -----
    A misfit loses what a part can't be sold on for; a written confirmation of fit lowers its chance as in a plan. Kits
    count by what they hold of what is missing.
    """
    wanted = (part.id for part in build.parts if part.system == system and part.id in facts.wanted_parts)
    missing = {part: count for part in wanted if (count := facts.missing(build, part)) > 0}
    offers = [offer for offer in build.offers if offer.id in at_door and missing.keys() & offer_contents(build, offer)]
    sellers = sorted({offer.supplier for offer in offers})
    made = [_bought(build, facts, missing, [o for o in offers if o.supplier == seller], at_door, per_order, misfit)
            for seller in sellers]  # fmt: skip
    made.sort(key=lambda choice: (len(choice.lacking), choice.total, choice.suppliers))
    return (_bought(build, facts, missing, offers, at_door, per_order, misfit), *made) if offers else ()


def _bought(
    build: Build, facts: Facts, missing: Mapping[str, float], offers: Sequence[Offer], at_door: Mapping[str, float],
    per_order: Mapping[str, float], misfit: Mapping[str, float],
) -> SystemBought:  # fmt: skip
    """Greedily by cost for each part still wanted, so that a kit wins where it brings several."""
    from .market import CONFIRMED_MISFIT

    left, taken, goods, risk = dict(missing), [], 0.0, 0.0
    told = fit_confirmations(build, facts.as_of)
    while True:
        ranked = []
        for offer in offers:
            holds = offer_contents(build, offer)
            brings = {part: min(left[part], count) for part, count in holds.items() if left.get(part, 0) > 0}
            if brings:
                share = sum(count / missing[part] for part, count in brings.items())
                ranked.append((at_door[offer.id] / share, offer.id, offer, brings))
        if not ranked:
            break
        _, _, offer, brings = min(ranked, key=lambda item: item[:2])
        taken.append(offer)
        holds = offer_contents(build, offer)
        units = max(1.0, min(left[part] // holds[part] for part in brings))
        goods += units * at_door[offer.id]
        for part in brings:
            left[part] = max(0.0, left[part] - units * holds[part])
        word = told.get(offer.id)
        chance = max((misfit.get(part, 0.0) for part in brings), default=0.0)
        chance *= 1.0 if word is None else 0.0 if word.takes_back else CONFIRMED_MISFIT
        risk += chance * units * at_door[offer.id] * (1 - RESALE_SHARE)
    sellers = tuple(dict.fromkeys(offer.supplier for offer in taken))
    lacking = tuple(part for part, count in left.items() if count > 0)
    orders = sum(per_order.get(seller, 0.0) for seller in sellers)
    return SystemBought(sellers, tuple(dict.fromkeys(offer.id for offer in taken)), goods, orders, risk, lacking)
