"""When parts arrive and decisions are taken where no purchase plan says so: what is missing is ordered today."""

from __future__ import annotations

import numpy as np

from ..build import Assumption, Build, Facts, Incoming, offer_contents, week_of
from ..build.base import ThreePoint
from ..build.defaults import CRAFT_SLIPPAGE, LEAD_WEEKS, SUPPLIER_SLIPPAGE
from .chance import stream, triangular
from .model import FloatArray, Gates

SLIPPAGE_LOG_SD = 0.3


def usual_gates(
    build: Build, facts: Facts, *, runs: int = 10_000, seed: int = 1
) -> tuple[Gates, tuple[Assumption, ...]]:
    """Gates for a build without a plan.

    Parts not in hand nor on their way are taken as ordered on as_of from the offer with the shortest likely lead time;
    open decisions are taken after their time to think.

    Returns
    -------
    gates with one moment a run (runs,) [weeks], and what was taken for granted
    """
    draws = _Arrivals(build, facts, runs, seed)
    parts: dict[str, float | FloatArray] = {}
    missing = []
    for part in sorted(facts.wanted_parts):
        if facts.owned.get(part, 0.0) >= build.find("parts", part).quantity - 1e-9:
            continue
        moments = [draws.on_its_way(item) for item in facts.incoming if item.part == part]
        if facts.missing(build, part) > 1e-9:
            missing.append(part)
            moments.append(draws.ordered_today(part))
        parts[part] = np.maximum.reduce(moments) if moments else 0.0
    decisions: dict[str, float | FloatArray] = {
        decision.id: decision.think_weeks for decision in build.decisions if not facts.choices[decision.id].decided
    }
    return Gates(parts=parts, decisions=decisions), _assumptions(missing, decisions, draws.defaulted)


class _Arrivals:
    """Lead times with slippage: one factor a run for all suppliers, one for all craft shops."""

    def __init__(self, build: Build, facts: Facts, runs: int, seed: int) -> None:
        self._build, self._facts, self._runs, self._seed = build, facts, runs, seed
        common = np.exp(SLIPPAGE_LOG_SD * stream(seed, "supplier-slippage").standard_normal(runs))
        self._slip = {False: SUPPLIER_SLIPPAGE * common, True: CRAFT_SLIPPAGE * common}
        self.defaulted: set[str] = set()

    def on_its_way(self, item: Incoming) -> FloatArray:
        since = week_of(self._facts.as_of, item.since)
        if item.promised is None:
            return _not_past(since + self._lead(item.offer))
        # the promise is a quoted lead time, and slips like one
        quoted = week_of(self._facts.as_of, item.promised) - since
        return _not_past(since + quoted * self._slip[self._is_craft(item.offer)])

    def ordered_today(self, part: str) -> FloatArray:
        offers = [offer for offer in self._build.offers if part in offer_contents(self._build, offer)]
        if not offers:
            self.defaulted.add(part)
            return self._draw(LEAD_WEEKS, part, craft=False)
        return self._lead(min(offers, key=lambda offer: ((offer.lead_weeks or LEAD_WEEKS).mean, offer.id)).id)

    def _lead(self, offer_id: str) -> FloatArray:
        offer = self._build.find("offers", offer_id)
        if offer.lead_weeks is None:
            self.defaulted.add(offer_id)
        return self._draw(offer.lead_weeks or LEAD_WEEKS, offer_id, craft=self._is_craft(offer_id))

    def _is_craft(self, offer_id: str) -> bool:
        supplier = self._build.find("suppliers", self._build.find("offers", offer_id).supplier)
        return bool(supplier.craft)

    def _draw(self, points: ThreePoint, about: str, *, craft: bool) -> FloatArray:
        uniform = stream(self._seed, "lead", about).random(self._runs, dtype=np.float32)
        weeks: FloatArray = triangular(points, uniform) * self._slip[craft]
        return weeks


def _not_past(weeks: FloatArray) -> FloatArray:
    moments: FloatArray = np.maximum(weeks, 0.0)
    return moments


def _assumptions(
    missing: list[str], decisions: dict[str, float | FloatArray], defaulted: set[str]
) -> tuple[Assumption, ...]:
    slips = (
        f"quoted lead times slip by {SUPPLIER_SLIPPAGE:g}, of craft shops by {CRAFT_SLIPPAGE:g} (common practice), "
        f"one factor a run with a log standard deviation of {SLIPPAGE_LOG_SD:g} (own estimate); "
        "the way home is not counted"
    )
    found = [Assumption("lead-slippage", "build", slips)]
    if missing:
        text = f"{len(missing)} parts neither in hand nor on their way are taken as ordered today"
        found.append(Assumption("ordered-today", "build", text))
    if defaulted:
        named = ", ".join(sorted(defaulted)[:5]) + (" and others" if len(defaulted) > 5 else "")
        found.append(Assumption("lead-time-default", "build", f"lead time 1, 2 or 4 weeks (common practice): {named}"))
    if decisions:
        text = f"{len(decisions)} open decisions are taken after their time to think, counted from today"
        found.append(Assumption("decided-after-thinking", "build", text))
    return tuple(found)
