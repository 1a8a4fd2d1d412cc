"""A line's place in the build: its part, system, supplier, offer, stock and order, added or brought up to date.

What the list leaves empty stays as it is in the build. What is owned is never made less.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from rapidfuzz import fuzz

from ..build import Assumption, Incoming, facts_of
from ..build.calendar import LAST_DATE
from ..build.commerce import Offer, ReturnTerms, Sighting, Supplier
from ..build.events import Order, OrderLine, PartCount, Receipt
from ..build.parts import Hazard, Part, Stock, System
from .amounts import country_of_currency
from .draft import Draft
from .matching import Matcher
from .table_reader import Line
from .words import keys_by_word, plain

NOT_NAMED = "Supplier not named"
RETURN_ENDS_ASSUMED = "a return right is taken to end once a part is bolted on or altered (common practice)"


class Placer:
    """Places lines in a draft of the build.

    Parameters
    ----------
    draft : the build as the import leaves it; lines : all lines of the import, for what they say together
    day : the day of the import, for orders and receipts whose day the list does not give
    """

    def __init__(self, draft: Draft, lines: Sequence[Line], day: date | None) -> None:
        self.draft, self.day = draft, day
        self.matcher = Matcher(draft, lines)
        self.assumptions: dict[tuple[str, str], Assumption] = {}
        facts = facts_of(draft.build, LAST_DATE)
        self._owned: dict[str, float] = defaultdict(float, facts.owned)
        self._incoming: dict[str, list[Incoming]] = defaultdict(list)
        for coming in facts.incoming:
            self._incoming[coming.part].append(coming)
        self._owner: Any = draft.build.owner
        self._profiles = _profiles(lines)
        self._offers_of: dict[str, list[str]] = defaultdict(list)
        for offer in draft.build.offers:
            self._offers_of[offer.part or ""].append(offer.id)

    def place(self, line: Line) -> str:
        """Put a line into the draft; returns a word on what was done with it, empty if there is none."""
        self._not_ordered_yet(line)
        match = self.matcher.find(line)
        system = self._system(line)
        old = match.part if match else None
        part = old if match and match.alternative and old else self._part(line, old, system)
        self.matcher.claim(line, part, new=old is None)
        offer = self._offer(line, part)
        if offer is None and line.supplier:
            noted = merged_note(self.draft.nouns("parts")[part.id].note, [("Supplier", line.supplier)])
            self.draft.put("parts", part.model_copy(update={"note": noted}))
        if not (match and match.alternative):
            self._stock(line, part)
        self._order(line, part, offer)
        if match and match.alternative:
            return f"another offer for {part.name}, not another need for it"
        return ""

    def _not_ordered_yet(self, line: Line) -> None:
        """A day of ordering that is still ahead is one the owner means, and no order."""
        if line.ordered_on is not None and self.day is not None and line.ordered_on > self.day:
            line.said.append(
                f"{line.ordered_on} is still ahead: kept as the day it is meant to be ordered, not as an order"
            )
            line.order_on = line.order_on or line.ordered_on
            line.ordered, line.ordered_on = False, None

    def _assume(self, code: str, about: str, text: str) -> None:
        self.assumptions.setdefault((code, about), Assumption(code, about, text))

    # what it is

    def _system(self, line: Line) -> str | None:
        if not line.system:
            return None
        for system in self.draft.nouns("systems").values():
            if system.name.casefold() == line.system.casefold():
                return str(system.id)
        new = System(
            id=self.draft.new_id("systems", line.system, stem="system"),
            name=line.system,
            hazards=_hazards(line.system),
        )
        if new.hazards:
            text = (
                f"the system {new.name} is taken to be one on which careless work can hurt ({', '.join(new.hazards)})"
            )
            self._assume("system-hazard", f"system {new.id}", text)
        self.draft.put("systems", new)
        return new.id

    def _part(self, line: Line, old: Part | None, system: str | None) -> Part:
        given: dict[str, Any] = {
            "name": line.name,
            "part_number": line.part_number or None,
            "system": system,
            "quantity": float(line.quantity) if line.quantity else None,
            "unit": line.unit,
            "phase": line.phase,
            "origin": line.origin,
            "heading": line.heading,
            "mass_kg": float(line.mass_kg) if line.mass_kg is not None else None,
            "order_on": line.order_on,
        }
        given = {name: value for name, value in given.items() if value is not None}
        if old is None:
            id_ = self.draft.new_id("parts", line.name, stem="part")
            new = Part(id=id_, **given, note=merged_note("", line.notes), source=line.place)
        else:
            new = Part.model_validate({**dict(old), **given, "note": merged_note(old.note, line.notes)})
            if new != old:
                new = Part.model_validate({**dict(new), "source": line.place})
        self.draft.put("parts", new)
        return new

    # from whom, for how much

    def _supplier(self, line: Line) -> Supplier | None:
        """The line's supplier, a new one only for a price."""
        name = line.supplier or (f"{NOT_NAMED} ({line.price.currency})" if line.price else "")
        suppliers = self.draft.nouns("suppliers")
        for known in suppliers.values():
            if known.name.casefold() == name.casefold():
                found: Supplier = known
                return found
        if line.price is None:
            return None
        for known in suppliers.values():
            if fuzz.ratio(known.name.casefold(), name.casefold()) >= 88:
                line.said.append(f"the supplier {name} is kept apart from {known.name}, named much like it")
        new = self._new_supplier(name, line)
        self.draft.put("suppliers", new)
        return new

    def _new_supplier(self, name: str, line: Line) -> Supplier:
        id_ = self.draft.new_id("suppliers", name, stem="supplier")
        country, currency = self._profiles.get(name.casefold(), (None, None))
        currency = currency or (line.price.currency if line.price else None) or self._owner.currency
        if country is None:
            country = country_of_currency(currency)
            why = f"its prices are in {currency}"
            if country is None:
                country, why = self._owner.country, "the list does not say; your own is taken"
            self._assume("supplier-country", f"supplier {id_}", f"{name} is taken to be in {country}: {why}")
        return Supplier(id=id_, name=name, country=country, currency=currency)

    def _offer(self, line: Line, part: Part) -> Offer | None:
        """The line's offer; without a price there is none, unless the build has it already."""
        supplier = self._supplier(line)
        old = self._known_offer(part, supplier) if supplier else None
        if supplier is None or (line.price is None and old is None):
            return None
        new = self._new_offer(line, part, supplier) if old is None else self._updated_offer(line, old, supplier)
        self.draft.put("offers", new)
        if old is None:
            self._offers_of[part.id].append(new.id)
        self.matcher.know_offer(new)
        return new

    def _known_offer(self, part: Part, supplier: Supplier) -> Offer | None:
        offers: list[Offer] = [self.draft.nouns("offers")[id_] for id_ in self._offers_of[part.id]]
        same = sorted(
            (offer for offer in offers if offer.supplier == supplier.id), key=lambda offer: (offer.pack, offer.id)
        )
        if same:
            return same[0]
        names = self.draft.nouns("suppliers")
        unnamed = [offer for offer in offers if names[offer.supplier].name.startswith(f"{NOT_NAMED} (")]
        return unnamed[0] if unnamed else None

    def _terms(self, line: Line, old: Offer | None) -> dict[str, Any]:
        given: dict[str, Any] = {
            "tax_included": line.tax_included,
            "lead_weeks": line.lead_weeks,
            "seen": line.seen,
            "source": line.url or None,
        }
        if line.return_days is not None:
            given["returns"] = self._returns(line.return_days, old)
        return {name: value for name, value in given.items() if value is not None}

    def _returns(self, days: int, old: Offer | None) -> ReturnTerms:
        terms = returns_in(days, old)
        if terms.days and (old is None or old.returns is None):
            self._assume("return-ends", "build", RETURN_ENDS_ASSUMED)
        return terms

    def _new_offer(self, line: Line, part: Part, supplier: Supplier) -> Offer:
        id_ = self.draft.new_id("offers", f"{part.id[:40]}-{supplier.id[:30]}", stem="offer")
        given = {"id": id_, "supplier": supplier.id, "part": part.id, "price": line.price}
        return Offer.model_validate({**given, **self._terms(line, None)})

    def _updated_offer(self, line: Line, old: Offer, supplier: Supplier) -> Offer:
        given = {**self._terms(line, old), "supplier": supplier.id}
        if line.price is not None and line.price != old.price:
            if old.pack != 1:
                line.said.append(f"the build's offer is for a pack of {old.pack:g}; its price is left as it is")
            else:
                given["price"] = line.price
                if old.seen is not None and line.seen != old.seen:
                    self.draft.sight(Sighting(offer=old.id, day=old.seen, price=old.price))
        return Offer.model_validate({**dict(old), **given})

    # what is there or on its way

    def _stock(self, line: Line, part: Part) -> None:
        if line.have is None:
            return
        owned, said = self._owned[part.id], float(line.have)
        if said < owned:
            line.said.append(f"the list says {said:g} are there, the build holds {owned:g}; nothing is taken away")
        missing = said - owned - self._receive(line, part, said - owned)
        if missing > 0:
            held = self.draft.nouns("stock").get(part.id)
            if held is not None and held.part == part.id:
                new = Stock.model_validate({**dict(held), "quantity": held.quantity + missing})
            else:
                new = Stock(
                    id=self.draft.new_id("stock", part.id, stem="stock"),
                    part=part.id,
                    quantity=missing,
                    note=f"from {line.place}",
                )
            self.draft.put("stock", new)
        self._owned[part.id] = max(owned, said)

    def _receive(self, line: Line, part: Part, missing: float) -> float:
        """Book what is there as received on its order, if the build has it on its way; returns how many."""
        if self.day is None:
            return 0.0
        received = 0.0
        for coming in self._incoming[part.id]:
            count = min(coming.quantity, missing - received)
            if count > 0:
                id_ = self.draft.new_id("events", f"arrived-{part.id[:60]}", stem="arrived")
                counted = PartCount(part=part.id, quantity=count)
                self.draft.put(
                    "events",
                    Receipt(id=id_, day=max(self.day, coming.ordered_on), order=coming.order, lines=(counted,)),
                )
                received += count
        if received:
            line.said.append(f"{received:g} are booked as arrived on {self.day}, on the order the build holds")
        return received

    def _order(self, line: Line, part: Part, offer: Offer | None) -> None:
        if not line.ordered:
            return
        coming = sum(item.quantity for item in self._incoming[part.id])
        quantity = float(line.quantity or 1)
        if coming + self._owned[part.id] >= quantity:
            return
        day = line.ordered_on or self.day
        if offer is None or day is None:
            line.said.append("it is ordered, but without a price the order can't be kept; the status is kept as a note")
            part = Part.model_validate({**dict(part), "note": merged_note(part.note, [("Status", "ordered")])})
            self.draft.put("parts", part)
            return
        if line.ordered_on is None:
            line.said.append(f"ordered on a day the list does not give; {day} is taken")
        count = (quantity - coming - self._owned[part.id]) / offer.pack
        order_line = OrderLine(offer=offer.id, quantity=count, price=offer.price)
        id_ = self.draft.new_id("events", f"ordered-{offer.id[:60]}", stem="ordered")
        self.draft.put(
            "events", Order(id=id_, day=day, supplier=offer.supplier, lines=(order_line,), note=f"from {line.place}")
        )


def returns_in(days: int, old: Offer | None) -> ReturnTerms:
    """Return terms where only the days are told; what an offer says beside them stays."""
    if old is not None and old.returns is not None:
        return ReturnTerms.model_validate({**dict(old.returns), "days": days})
    return ReturnTerms(days=days, ended_by=("bolted", "altered") if days else ())


def _hazards(name: str) -> tuple[Hazard, ...]:
    known = keys_by_word("hazards")
    text = f" {plain(name)} "
    found: dict[Any, None] = {key: None for word, key in known.items() if f" {word} " in text}
    return tuple(found)


def _profiles(lines: Iterable[Line]) -> dict[str, tuple[str | None, str | None]]:
    """Country and currency of each supplier, as all lines of the list say them together."""
    countries: dict[str, str] = {}
    currencies: dict[str, Counter[str]] = defaultdict(Counter)
    for line in lines:
        name = line.supplier.casefold()
        if name and line.supplier_country:
            countries.setdefault(name, line.supplier_country)
        if name and line.price:
            currencies[name][line.price.currency] += 1
    names = {*countries, *currencies}
    return {name: (countries.get(name), _commonest(currencies[name])) for name in sorted(names)}


def _commonest(counts: Counter[str]) -> str | None:
    return min(counts, key=lambda code: (-counts[code], code)) if counts else None


def merged_note(note: str, labelled: Iterable[tuple[str, str]]) -> str:
    """A note with one line a label: new ones at the end, known ones in place of what they said before.

    Examples
    --------
    >>> merged_note("Colour: red\\nmine", [("Colour", "blue"), ("Size", "M")])
    'Colour: blue\\nmine\\nSize: M'
    """
    gathered: dict[str, list[str]] = defaultdict(list)
    for label, text in labelled:
        if text and text not in gathered[" ".join(label.split())]:
            gathered[" ".join(label.split())].append(text)
    lines = note.split("\n") if note else []
    for label, texts in gathered.items():
        if not texts:
            continue
        new = f"{label}: {'; '.join(texts)}"
        held = [position for position, line in enumerate(lines) if line.startswith(f"{label}: ")]
        if held:
            lines[held[0]] = new
        else:
            lines.append(new)
    return "\n".join(lines)[:20_000]
