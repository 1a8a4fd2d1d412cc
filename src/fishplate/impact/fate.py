"""Until when each lot can be undone, and at what loss."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ..build import Assumption, Build, Facts, Money, UnknownRateError, date_at
from ..build.commerce import Offer, ReturnTerms
from ..build.defaults import LEAD_WEEKS, RESALE_SHARE, RETURNS
from ..build.events import Check, Fitting
from ..build.words import day_words
from .lots import Lot
from .model import Fate, PartFate


@dataclass(frozen=True, slots=True)
class Undoing:
    """Works out fates for one build on one day, in home currency.

    Parameters
    ----------
    rates : currency -> home currency for one unit of it
    """

    build: Build
    facts: Facts
    rates: Mapping[str, float]

    def not_ordered(self, part: str, quantity: float, *, certain: bool) -> PartFate:
        """Fate of what has not been ordered yet."""
        text = f"“{self.build.find('parts', part).name}”: not ordered yet; nothing is lost."
        return PartFate(part, Fate.NOT_ORDERED, quantity, None, 0.0, certain, text)

    def fate(self, lot: Lot, *, certain: bool) -> tuple[PartFate, tuple[Assumption, ...]]:
        """Fate of a lot, and what was taken for granted for it; raises UnknownRateError."""
        offer = self.build.find("offers", lot.offer) if lot.offer is not None else None
        if offer is None:
            text = "owned without a purchase on record; it can be sold or kept, no outlay is counted"
            return self._part_fate(lot, Fate.RESELLABLE, None, 0.0, text, certain), ()
        notes = list(self._notes(lot, offer))
        price = self.home(lot.price) * lot.quantity / lot.pieces
        if offer.made_to_order and (offer.returns is None or offer.returns.days == 0):
            return self._part_fate(lot, Fate.LOST, None, price, "made to order", certain), tuple(notes)
        until = self._cancel_until(lot, offer)
        if until is not None:
            return self._part_fate(lot, Fate.CANCELLABLE, until, 0.0, "not dispatched yet", certain), tuple(notes)
        until, why = self._return_until(lot, offer)
        core = self.home(offer.core_charge) * lot.quantity / offer.pack
        if until is not None:
            terms = offer.returns or RETURNS
            loss = price * terms.restocking_percent / 100 + self.home(terms.freight_back) + core
            return self._part_fate(lot, Fate.RETURNABLE, until, loss, why, certain), tuple(notes)
        notes.append(
            Assumption(
                "resale-share",
                "build",
                f"what can't go back is sold at {100 * RESALE_SHARE:.0f} % of its price (common practice)",
            )
        )
        loss = price * (1 - RESALE_SHARE) + core
        return self._part_fate(lot, Fate.RESELLABLE, None, loss, why, certain), tuple(notes)

    def home(self, money: Money | None) -> float:
        """Money in home currency; 0 for none; raises UnknownRateError."""
        if money is None:
            return 0.0
        home = self.build.owner.currency
        if money.currency == home:
            return float(money.amount)
        if money.currency not in self.rates:
            raise UnknownRateError(money.currency, home)
        return float(money.amount) * self.rates[money.currency]

    def _notes(self, lot: Lot, offer: Offer) -> list[Assumption]:
        about, notes = f"offer {offer.id}", []
        if offer.returns is None and not offer.made_to_order:
            text = "no return terms given: 14 days from receipt, until bolted or altered (common practice)"
            notes.append(Assumption("return-terms-default", about, text))
        if offer.lead_weeks is None and lot.received_on is None:
            text = "no lead time given: 1, 2 or 4 weeks to dispatch (common practice)"
            notes.append(Assumption("lead-time-default", about, text))
        if lot.from_kit:
            text = "a kit's price is spread evenly over its pieces; whether one piece can go back alone has to be asked"
            notes.append(Assumption("kit-price-share", about, text))
        return notes

    def _cancel_until(self, lot: Lot, offer: Offer) -> date | None:
        """Last day before the earliest dispatch, while the lot is on its way and that day has not passed."""
        if lot.received_on is not None or lot.ordered_on is None:
            return None
        lead = offer.lead_weeks or LEAD_WEEKS
        last = date_at(lot.ordered_on, (int(lead.low * 7) - 1) / 7)
        return last if last >= self.facts.as_of else None

    def _return_until(self, lot: Lot, offer: Offer) -> tuple[date | None, str]:
        """Last day on which it can go back, and why; None and why not."""
        terms = offer.returns or RETURNS
        if terms.days == 0:
            return None, "it can't go back"
        if lot.received_on is None:
            lead = offer.lead_weeks or LEAD_WEEKS
            ordered = lot.ordered_on or self.facts.as_of
            arrives = max(self.facts.as_of, lot.promised or date_at(ordered, round(lead.likely * 7) / 7))
            return date_at(arrives, terms.days / 7), "on its way; can go back once it has arrived"
        last = date_at(lot.received_on, terms.days / 7)
        if last < self.facts.as_of:
            return None, f"the right to return it ended on {day_words(last)}"
        ended = self._ended_by(lot, terms)
        return (None, f"the right to return it ended when it was {ended}") if ended else (last, "in hand")

    def _ended_by(self, lot: Lot, terms: ReturnTerms) -> str:
        """What ended the right to return a lot in hand; empty if nothing did."""
        since, until = lot.received_on or date.min, self.facts.as_of
        happened = [e for e in self.build.events if since <= e.day <= until and getattr(e, "part", "") == lot.part]
        begun = [
            self.build.find("jobs", job)
            for job, state in self.facts.jobs.items()
            if state.done_on is not None or state.hours_worked > 0
        ]
        fitted = any(isinstance(e, Fitting) for e in happened) or any(lot.part in job.to_keep for job in begun)
        tried = any(isinstance(e, Check) and e.how == "offered-up" for e in happened) or any(
            lot.part in job.to_try for job in begun
        )
        opened = any(isinstance(e, Check) for e in happened)
        if fitted and terms.ended_by:
            return "fitted"
        if tried and {"offered-up", "opened"} & set(terms.ended_by):
            return "offered up"
        return "opened" if opened and "opened" in terms.ended_by else ""

    def _part_fate(self, lot: Lot, fate: Fate, until: date | None, loss: float, why: str, certain: bool) -> PartFate:
        name = self.build.find("parts", lot.part).name
        when = f" until {day_words(until)}" if until else ""
        cost = f"; loss about {loss:.0f} {self.build.owner.currency}" if loss >= 0.5 else ""
        text = f"“{name}” ({lot.quantity:g}): {fate}{when} ({why}){cost}."
        return PartFate(lot.part, fate, lot.quantity, until, loss, certain, text)
