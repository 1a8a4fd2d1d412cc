"""What is there of each part: wanted, owned, fitted, on its way, and where it lies."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING

from ..build.events import Fitting, Receipt
from ..plan.sentences import day_words
from .words import listed, number

if TYPE_CHECKING:
    from .desk import View


class Has(StrEnum):
    """How far a part is, in the words the pages use."""

    MISSING = "missing"
    ON_ORDER = "on order"
    IN_HAND = "in hand"
    FITTED = "fitted"
    ELSEWHERE = "with another choice"


@dataclass(frozen=True, slots=True)
class Holding:
    """What is there of a part.

    Parameters
    ----------
    wanted : False if only a choice that is not planned with calls for it
    promised : the day the last of what is on its way was promised for
    places : where what is owned lies, as far as it was said
    wrong : the day it was found not right, if it lies about and was; wrong_count : how many were
    """

    quantity: float
    owned: float = 0.0
    fitted: float = 0.0
    coming: float = 0.0
    promised: date | None = None
    places: tuple[str, ...] = ()
    wanted: bool = True
    wrong: date | None = None
    wrong_count: float = 0.0

    @property
    def wrong_words(self) -> str:
        """That it was found not right, or how many of it were."""
        some = f"{number(self.wrong_count)} of {number(self.owned - self.fitted)} "
        return f"{some if self.wrong_count < self.owned - self.fitted else ''}found not right"

    @property
    def missing(self) -> float:
        """How many are neither owned nor on their way."""
        return max(0.0, self.quantity - self.owned - self.coming)

    @property
    def has(self) -> Has:
        """How far it is."""
        if not self.wanted and not self.owned and not self.coming:
            return Has.ELSEWHERE
        if self.fitted >= self.quantity - 1e-9:
            return Has.FITTED
        if self.owned >= self.quantity - 1e-9:
            return Has.IN_HAND
        return Has.MISSING if self.missing > 1e-9 else Has.ON_ORDER

    def words(self, as_of: date) -> str:
        """How far it is, as the beginning of a sentence."""
        lies = f", {listed(self.places, 2)}" if self.places else ""
        lies += f", {self.wrong_words} {day_words(self.wrong, as_of)}" if self.wrong else ""
        promised = f", promised for {day_words(self.promised, as_of)}" if self.promised else ""
        match self.has:
            case Has.ELSEWHERE:
                return "Only with another choice"
            case Has.FITTED:
                return "Fitted"
            case Has.IN_HAND:
                part = f", {number(self.fitted)} of them fitted" if self.fitted else ""
                return f"In hand{part}{lies}" + ("" if self.wanted else ", not needed as chosen")
            case Has.ON_ORDER:
                here = f"; {number(self.owned)} here{lies}" if self.owned else ""
                return f"On order{promised}{here}"
            case Has.MISSING:
                if not self.owned and not self.coming:
                    return "Missing"
                here = f"; {number(self.owned)} here{lies}" if self.owned else ""
                coming = f"; {number(self.coming)} on order{promised}" if self.coming else ""
                return f"{number(self.missing)} of {number(self.quantity)} missing{here}{coming}"


def holdings(view: View) -> Mapping[str, Holding]:
    """What is there of every part."""
    fitted: dict[str, float] = defaultdict(float)
    places: dict[str, dict[str, None]] = defaultdict(dict)
    for stock in view.build.stock:
        if stock.place and (stock.since is None or stock.since <= view.as_of):
            places[stock.part][stock.place] = None
    for event in view.build.events:
        if event.day > view.as_of:
            continue
        if isinstance(event, Fitting):
            fitted[event.part] += event.quantity
        elif isinstance(event, Receipt) and event.place:
            for line in event.lines:
                places[line.part][event.place] = None
    coming: dict[str, float] = defaultdict(float)
    promised: dict[str, date] = {}
    for item in view.facts.incoming:
        coming[item.part] += item.quantity
        if item.promised is not None:
            promised[item.part] = max(promised.get(item.part, item.promised), item.promised)
    owned, wanted = view.facts.owned, view.facts.wanted_parts
    return {
        part.id: Holding(
            part.quantity,
            owned.get(part.id, 0.0),
            min(fitted.get(part.id, 0.0), owned.get(part.id, 0.0)),
            coming.get(part.id, 0.0),
            promised.get(part.id),
            tuple(places.get(part.id, ())),
            part.id in wanted,
            view.facts.wrong.get(part.id),
            view.facts.wrong_counts.get(part.id, 0.0),
        )
        for part in view.build.parts
    }
