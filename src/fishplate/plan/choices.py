"""What the owner has fixed: offers and weeks that are wanted, or ruled out, whatever would be cheaper."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..build import Build, offer_contents, week_of
from ..build.commerce import FixedChoice, Offer
from .sentences import day_words, name_of
from .situation import Situation


class Choices:
    """The owner's fixed choices, asked of an offer in a week."""

    def __init__(self, situation: Situation) -> None:
        self._situation = situation
        build = situation.build
        self._all = tuple(sorted(build.fixed_choices, key=lambda choice: choice.id))
        self._parts = {choice.id: frozenset(_parts_of(build, choice)) for choice in self._all}

    def bars(self, offer: Offer, week: float) -> Iterator[str]:
        """Ids of the choices that keep an offer from being ordered in a week."""
        contents = set(offer_contents(self._situation.build, offer)) if self._all else set[str]()
        for choice in self._all:
            if self._bars(choice, offer, contents & self._parts[choice.id], week):
                yield choice.id

    def allow(self, offer: Offer, week: float) -> bool:
        """Whether an offer may be ordered in a week."""
        return next(self.bars(offer, week), None) is None

    def weeks(self, offer: Offer) -> set[int]:
        """Weeks at which what is allowed of an offer changes, those beside them included."""
        found: set[int] = set()
        contents = set(offer_contents(self._situation.build, offer)) if self._all else set[str]()
        for choice in self._all:
            if contents & self._parts[choice.id]:
                for end in self._span(choice):
                    if math.isfinite(end):
                        found |= {math.floor(end) + step for step in (-1, 0, 1)}
        return {week for week in found if week >= 0}

    def first_week(self, offer: Offer) -> float:
        """First week in which an offer may be ordered; infinite if there is none."""
        if self.allow(offer, 0):
            return 0.0
        return next((float(week) for week in sorted(self.weeks(offer)) if self.allow(offer, week)), math.inf)

    def wanted(self, offer: Offer) -> FixedChoice | None:
        """The choice that wants this offer, if there is one."""
        return next((choice for choice in self._all if choice.wanted and choice.offer == offer.id), None)

    def _bars(self, choice: FixedChoice, offer: Offer, shared: set[str], week: float) -> bool:
        if not shared:
            return False
        if choice.offer is not None and choice.offer != offer.id:
            return choice.wanted
        first, last = self._span(choice)
        inside = first <= week <= last
        return inside != choice.wanted

    def _span(self, choice: FixedChoice) -> tuple[float, float]:
        as_of = self._situation.as_of
        first = -math.inf if choice.first is None else week_of(as_of, choice.first)
        last = math.inf if choice.last is None else week_of(as_of, choice.last)
        return first if first == -math.inf else float(math.floor(first)), last


def _parts_of(build: Build, choice: FixedChoice) -> list[str]:
    if choice.part is not None:
        return [choice.part]
    return list(offer_contents(build, build.find("offers", choice.offer or "")))


def choice_words(situation: Situation, choice: FixedChoice) -> str:
    """A choice in words: "you want the pump from Northgate ordered by 12 May"."""
    build, as_of = situation.build, situation.as_of
    if choice.offer is not None:
        offer = build.find("offers", choice.offer)
        what = name_of(build, "parts", offer.part) if offer.part else name_of(build, "kits", offer.kit or "")
        what += f" from {name_of(build, 'suppliers', offer.supplier)}"
    else:
        what = name_of(build, "parts", choice.part or "")
    days = []
    if choice.first is not None:
        days.append(f"from {day_words(choice.first, as_of)}")
    if choice.last is not None:
        days.append(f"until {day_words(choice.last, as_of)}")
    verb = "want" if choice.wanted else "do not want"
    said = f"you {verb} {what}" + (f" ordered {' '.join(days)}" if days else "")
    return f"{said} ({choice.why})" if choice.why else said
