"""When parts arrive and decisions are taken where no purchase plan says so: what is missing is ordered today."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..build import Assumption, Build, Facts, Incoming, offer_contents, week_of
from ..build.base import ThreePoint
from ..build.defaults import CRAFT_SLIPPAGE, LEAD_WEEKS, SUPPLIER_SLIPPAGE
from .chance import stream, triangular
from .model import FloatArray, Gates

SLIPPAGE_LOG_SD = 0.3


def usual_gates(
    build: Build, facts: Facts, *, runs: int = 10_000, seed: int = 1, learnt: Mapping[str, float] | None = None
) -> tuple[Gates, tuple[Assumption, ...]]:
    """Gates for a build without a plan.

    Parts not in hand nor on their way are taken as ordered on as_of from the offer with the shortest likely lead time;
    open decisions are taken after their time to think.

    Parameters
    ----------
    learnt : supplier -> what its quoted lead times are multiplied by on average, where its own deliveries tell

    Returns
    -------
    gates with one moment a run (runs,) [weeks], and what was taken for granted
    """
    draws = _Arrivals(build, facts, runs, seed, learnt or {})
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
    return Gates(parts=parts, decisions=decisions), _assumptions(missing, decisions, draws.defaulted, draws.own)


class _Arrivals:
    """Lead times with slippage: one draw a run, scaled for suppliers, craft shops and those whose own is learnt."""

    def __init__(self, build: Build, facts: Facts, runs: int, seed: int, learnt: Mapping[str, float]) -> None:
        self._build, self._facts, self._runs, self._seed = build, facts, runs, seed
        common = np.exp(SLIPPAGE_LOG_SD * stream(seed, "supplier-slippage").standard_normal(runs))
        self._common: FloatArray = common
        self._learnt = learnt
        self.defaulted: set[str] = set()
        self.own: set[str] = set()

    def on_its_way(self, item: Incoming) -> FloatArray:
        since = week_of(self._facts.as_of, item.since)
        if item.promised is None:
            return _not_past(since + self._lead(item.offer))
        # the promise is a quoted lead time, and slips like one
        quoted = week_of(self._facts.as_of, item.promised) - since
        return _not_past(since + quoted * self._slip(item.offer))

    def ordered_today(self, part: str) -> FloatArray:
        offers = [offer for offer in self._build.offers if part in offer_contents(self._build, offer)]
        if not offers:
            self.defaulted.add(part)
            return self._draw(LEAD_WEEKS, part, SUPPLIER_SLIPPAGE * self._common)
        return self._lead(min(offers, key=lambda offer: ((offer.lead_weeks or LEAD_WEEKS).mean, offer.id)).id)

    def _lead(self, offer_id: str) -> FloatArray:
        offer = self._build.find("offers", offer_id)
        if offer.lead_weeks is None:
            self.defaulted.add(offer_id)
        return self._draw(offer.lead_weeks or LEAD_WEEKS, offer_id, self._slip(offer_id))

    def _slip(self, offer_id: str) -> FloatArray:
        """What the quoted lead times of an offer's supplier are multiplied by (runs,)."""
        supplier = self._build.find("suppliers", self._build.find("offers", offer_id).supplier)
        if supplier.id in self._learnt:
            self.own.add(supplier.name)
            return self._learnt[supplier.id] * self._common
        return (CRAFT_SLIPPAGE if supplier.craft else SUPPLIER_SLIPPAGE) * self._common

    def _draw(self, points: ThreePoint, about: str, slip: FloatArray) -> FloatArray:
        uniform = stream(self._seed, "lead", about).random(self._runs, dtype=np.float32)
        weeks: FloatArray = triangular(points, uniform) * slip
        return weeks


def _not_past(weeks: FloatArray) -> FloatArray:
    moments: FloatArray = np.maximum(weeks, 0.0)
    return moments


def _assumptions(
    missing: list[str], decisions: dict[str, float | FloatArray], defaulted: set[str], own: set[str]
) -> tuple[Assumption, ...]:
    slips = (
        f"quoted lead times slip by {SUPPLIER_SLIPPAGE:g}, of craft shops by {CRAFT_SLIPPAGE:g} (common practice), "
        f"one factor a run with a log standard deviation of {SLIPPAGE_LOG_SD:g} (own estimate); "
        "the way home is not counted"
    )
    found = [Assumption("lead-slippage", "build", slips)]
    if own:
        text = f"the lead times of {_few(own)} slip as their deliveries did, weighed with what is usual"
        found.append(Assumption("slippage-learnt", "build", text))
    if missing:
        text = f"{len(missing)} parts neither in hand nor on their way are taken as ordered today"
        found.append(Assumption("ordered-today", "build", text))
    if defaulted:
        text = f"lead time 1, 2 or 4 weeks (common practice): {_few(defaulted)}"
        found.append(Assumption("lead-time-default", "build", text))
    if decisions:
        text = f"{len(decisions)} open decisions are taken after their time to think, counted from today"
        found.append(Assumption("decided-after-thinking", "build", text))
    return tuple(found)


def _few(names: set[str]) -> str:
    return ", ".join(sorted(names)[:5]) + (" and others" if len(names) > 5 else "")
