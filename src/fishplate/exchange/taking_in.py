"""What taking in a page or mail would do to a build: for each product a part, a supplier, an offer or a price seen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, Final

from pydantic import ValidationError
from rapidfuzz import fuzz

from ..build import Assumption, Build, Money, Problem, sorted_problems
from ..build.commerce import Offer, Sighting, Supplier
from ..build.parts import Part
from .amounts import country_of_currency
from .captured import Captured, Found
from .draft import Draft, problems_of
from .model import ImportPreview, RowAction, RowPlan
from .names import match_key, number_key
from .placing import NOT_NAMED, RETURN_ENDS_ASSUMED, merged_note, returns_in
from .preview import broken

ALIKE: Final = 88.0
OWN: Final = ""
LEFT_OUT: Final = "-"


@dataclass(frozen=True, slots=True)
class Likely:
    """A part that a product may be for.

    Parameters
    ----------
    sure : its number, its page or its very name says so; why : in words
    """

    part: str
    sure: bool
    why: str


def likely_parts(build: Build, found: Found) -> tuple[Likely, ...]:
    """The parts a product may be for, the surest first: by number, by page, by name, by a name much like it."""
    numbers = {number_key(each): each for each in found.numbers if len(number_key(each)) > 2}
    by_page = {offer.part for offer in build.offers if found.url and offer.source == found.url and offer.part}
    sure: list[Likely] = []
    for part in build.parts:
        if part.part_number and number_key(part.part_number) in numbers:
            sure.append(Likely(part.id, True, f"it has its number, {part.part_number}"))
        elif part.id in by_page:
            sure.append(Likely(part.id, True, "this page is an offer's already"))
        elif match_key(part.name) == match_key(found.name):
            sure.append(Likely(part.id, True, "it has its name"))
    known = {each.part for each in sure}
    near = (Likely(part.id, False, "its name is much like it") for part in alike(build, found.name))
    return (*sure, *(each for each in near if each.part not in known))


def alike(build: Build, name: str) -> tuple[Part, ...]:
    """Parts of much the same name, the likest first."""
    wanted = match_key(name)
    if len(wanted) < 3:
        return ()
    scored = [
        (fuzz.token_sort_ratio(wanted, key), part)
        for part in build.parts
        if fuzz.token_set_ratio(wanted, key := match_key(part.name)) >= ALIKE
    ]
    return tuple(part for _, part in sorted(scored, key=lambda item: (-item[0], item[1].id)))


def take_in(
    captured: Captured,
    build: Build,
    day: date,
    *,
    about: Mapping[int, str] | None = None,
    currency: str | None = None,
) -> ImportPreview:
    """What taking in a page or mail would do; nothing is written by it.

    Parameters
    ----------
    captured : what was found; build : what it goes into; day : today
    about : by place in `captured.found`, the id of the part a product is for, "" for a part of its own, "-" to leave
        it out; where nothing is said, the one part that is sure is taken, else it becomes a part of its own
    currency : of prices that name none
    """
    taking = _Taking(captured, Draft(build), day, currency)
    if captured.day is None:
        taking.assume(
            "seen-today", captured.name, "it does not say of which day it is; its prices are kept as seen today"
        )
    rows = tuple(taking.row(number, found, (about or {}).get(number)) for number, found in enumerate(captured.found))
    problems = [problem for row in rows for problem in row.problems]
    notes = (*captured.notes, *(f"not read: {line}" for line in captured.not_read))
    preview = ImportPreview(rows, (), notes, tuple(taking.assumptions.values()), sorted_problems(problems))
    return preview if problems else replace(preview, problems=broken(preview, build))


@dataclass(slots=True)
class _Taking:
    """A page or mail being taken into a draft."""

    captured: Captured
    draft: Draft
    today: date
    currency: str | None
    assumptions: dict[tuple[str, str], Assumption] = field(default_factory=dict)
    touched: set[str] = field(default_factory=set)

    @property
    def day(self) -> date:
        """The day the prices are of; a day to come is none."""
        return min(self.captured.day or self.today, self.today)

    def assume(self, code: str, about: str, text: str) -> None:
        """Note what is taken for granted, once."""
        self.assumptions.setdefault((code, about), Assumption(code, about, text))

    def row(self, number: int, found: Found, about: str | None) -> RowPlan:
        """What is done with one product."""
        place = f"{self.captured.name}, {found.place}" if self.captured.kind != "page" else self.captured.name
        plan = RowPlan(place, "", number + 1, RowAction.SKIP, found.name)
        if about == LEFT_OUT or (about is None and found.beside):
            why = "left out" if about == LEFT_OUT else "the page only shows it beside what it is about"
            return replace(plan, why=why)
        said = list(found.said)
        self.draft.begin()
        try:
            price, problems = self._price(found, place, said)
            why = "" if problems else self._place(found, price, about, said, place)
        except ValidationError as error:
            why, problems = "", list(problems_of(error, place))
        plan = replace(plan, why=why, said=tuple(dict.fromkeys(said)), problems=tuple(problems))
        if problems:
            self.draft.take_back()
            return replace(plan, action=RowAction.UNREADABLE)
        added, upserts = self.draft.adds("parts") or self.draft.adds("offers"), self.draft.upserts()
        action = RowAction.ADD if added else RowAction.UPDATE if upserts else RowAction.UNCHANGED
        return replace(plan, action=action, changes=self.draft.changes(), upserts=upserts)

    def _price(self, found: Found, place: str, said: list[str]) -> tuple[Money | None, list[Problem]]:
        if found.price is None:
            return None, []
        code = found.currency
        if not code and self.currency and (not found.could_be or self.currency in found.could_be):
            code = self.currency
            said.append(f"{code} is taken, as you said")
        if not code:
            what = (
                f"its sign could be {' or '.join(found.could_be)}" if found.could_be else "the price names no currency"
            )
            do = f"Say which it is, as {found.could_be[0] if found.could_be else 'EUR'}."
            return None, [Problem(f"{place}, {found.name[:60]}", "no-currency", what, f"{found.price:f}", do)]
        return Money.of(f"{found.price:f}", code), []

    def _place(self, found: Found, price: Money | None, about: str | None, said: list[str], place: str) -> str:
        likely = likely_parts(self.draft.build, found)
        sure = [each for each in likely if each.sure]
        if about is None and len(sure) == 1:
            about = sure[0].part
            said.append(f"it is taken to be for {self.draft.nouns('parts')[about].name}: {sure[0].why}")
        elif about is None and likely:
            names = ", ".join(self.draft.nouns("parts")[each.part].name for each in likely[:3])
            said.append(f"it is kept as a part of its own, though it may be {names}")
        held: Part | None = self.draft.nouns("parts").get(about) if about else None
        part = self._part(found, held, priced=price is not None, source=place)
        if price is None:
            return "it gives no price; nothing is kept of it" if held else "it gives no price yet"
        return self._offer(found, part, self._supplier(found, price, said), price, said)

    def _part(self, found: Found, held: Part | None, *, priced: bool, source: str) -> Part:
        if held is not None:
            mass = held.mass_kg if held.mass_kg is not None else found.mass_kg
            part = Part.model_validate({**dict(held), "mass_kg": None if mass is None else float(mass)})
        else:
            notes = [] if priced else list(_notes(found, None))
            part = Part(
                id=self.draft.new_id("parts", found.name, stem="part"),
                name=found.name,
                part_number=found.part_number,
                quantity=float(found.quantity or 1),
                unit=found.unit,
                mass_kg=None if found.mass_kg is None else float(found.mass_kg),
                note=merged_note("", notes),
                source=source,
            )
        self.draft.put("parts", part)
        return part

    def _supplier(self, found: Found, price: Money, said: list[str]) -> Supplier:
        name = found.seller or f"{NOT_NAMED} ({price.currency})"
        suppliers: Sequence[Supplier] = tuple(self.draft.nouns("suppliers").values())
        for known in suppliers:
            if known.name.casefold() == name.casefold():
                return known
        said.extend(
            f"the supplier {name} is kept apart from {known.name}, named much like it"
            for known in suppliers
            if fuzz.ratio(known.name.casefold(), name.casefold()) >= ALIKE
        )
        id_ = self.draft.new_id("suppliers", name, stem="supplier")
        country, why = country_of_currency(price.currency), f"its price is in {price.currency}"
        if country is None:
            country, why = self.draft.build.owner.country, "it does not say; your own is taken"
        self.assume("supplier-country", f"supplier {id_}", f"{name} is taken to be in {country}: {why}")
        new = Supplier(id=id_, name=name, country=country, currency=price.currency)
        self.draft.put("suppliers", new)
        return new

    def _offer(self, found: Found, part: Part, supplier: Supplier, price: Money, said: list[str]) -> str:
        held = self._held(found, part, supplier, price, said)
        if held is not None and held.seen is not None and self.day < held.seen:
            self.touched.add(held.id)
            self.draft.sight(Sighting(offer=held.id, day=self.day, price=price))
            return f"a price of {self.day.isoformat()}, before the one the build has"
        given = self._terms(found, part, held)
        if held is None:
            id_ = self.draft.new_id("offers", f"{part.id[:40]}-{supplier.id[:30]}", stem="offer")
            new = Offer.model_validate({"id": id_, "supplier": supplier.id, "part": part.id, "price": price, **given})
            why = "" if self.draft.adds("parts") else f"another offer for {part.name}"
        else:
            if price != held.price and held.seen not in (None, self.day):
                self.draft.sight(Sighting(offer=held.id, day=held.seen or self.day, price=held.price))
            if held.breaks and price != held.price:
                said.append("what more at once cost is left as it was")
            new = Offer.model_validate({**dict(held), **given, "price": price})
            why = f"the offer {supplier.name} has for {part.name}"
        self.touched.add(new.id)
        self.draft.put("offers", new)
        return why

    def _held(self, found: Found, part: Part, supplier: Supplier, price: Money, said: list[str]) -> Offer | None:
        """The build's offer of this part by this supplier, if this is a price of it."""
        offers: list[Offer] = [
            offer
            for offer in self.draft.nouns("offers").values()
            if (offer.part, offer.supplier) == (part.id, supplier.id) and offer.id not in self.touched
        ]
        fitting = [offer for offer in offers if offer.pack == 1 and offer.price.currency == price.currency]
        if offers and not fitting:
            said.append("its other offer is for a pack or in another currency; this one is kept beside it")
        return next((offer for offer in fitting if found.url and offer.source == found.url), next(iter(fitting), None))

    def _terms(self, found: Found, part: Part, held: Offer | None) -> dict[str, Any]:
        given: dict[str, Any] = {
            "tax_included": found.tax_included,
            "lead_weeks": found.lead_weeks,
            "price_until": found.price_until,
            "available_from": found.available_from,
            "source": found.url or (held.source if held else ""),
            "seen": self.day,
            "note": merged_note(held.note if held else "", _notes(found, part)),
        }
        if found.return_days is not None:
            given["returns"] = returns_in(found.return_days, held)
            if found.return_days and (held is None or held.returns is None):
                self.assume("return-ends", "build", RETURN_ENDS_ASSUMED)
        return {name: value for name, value in given.items() if value is not None}


def _notes(found: Found, part: Part | None) -> Iterator[tuple[str, str]]:
    """What no field holds, under its labels."""
    if found.part_number and part is not None and number_key(part.part_number) != number_key(found.part_number):
        yield "Part number", found.part_number
    if found.shop_number and found.shop_number != found.part_number:
        yield "Shop's number", found.shop_number
    if found.trade_number:
        yield "GTIN", found.trade_number
    yield from found.notes
