"""Joint draws of delivery: one slippage shared by all suppliers in a run, so that delays come together."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ..build import Assumption, Build, Facts, week_of
from ..build.base import ThreePoint
from ..build.commerce import Offer, Route
from ..build.defaults import LEAD_WEEKS, lead_assumed, slippage
from ..records import LeadTimes
from .model import FloatArray

TRAVEL_DEFAULT = ThreePoint(low=0.3, likely=0.6, high=1.5)
SLIPPAGE_SPREAD = 0.25
SOONEST_ARRIVAL_WEEKS = 0.3
LEAST_SLIP = 0.2


@dataclass
class Deliveries:
    """Draws of how long offers take to come, `runs` of each, the same for every order week.

    Parameters
    ----------
    runs : number of joint draws
    seed : seed; each offer has its own stream, so adding one leaves the others alone
    learnt : supplier -> how its lead times turned out
    """

    build: Build
    facts: Facts
    runs: int
    seed: int
    learnt: Mapping[str, LeadTimes] = field(default_factory=dict)
    assumptions: dict[tuple[str, str], Assumption] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._shared = np.exp(
            SLIPPAGE_SPREAD * self._stream("slippage").standard_normal(self.runs) - SLIPPAGE_SPREAD**2 / 2
        )
        self._lead: dict[str, FloatArray] = {}
        self._travel: dict[str, FloatArray] = {}
        self._quantiles: dict[tuple[str, float], float] = {}

    def _stream(self, name: str) -> np.random.Generator:
        return np.random.default_rng([self.seed, zlib.crc32(name.encode())])

    def _assume(self, code: str, about: str, text: str) -> None:
        self._note(Assumption(code, about, text))

    def _note(self, assumption: Assumption) -> None:
        self.assumptions.setdefault((assumption.code, assumption.about), assumption)

    def _slip(self, offer: Offer) -> FloatArray:
        supplier = self.build.find("suppliers", offer.supplier)
        learnt = self.learnt.get(supplier.id)
        if learnt is not None:
            self._note(learnt.assumption())
            return np.maximum(LEAST_SLIP, 1 + (learnt.factor - 1) * self._shared)
        factor = slippage(supplier)
        kind = "craft shops" if supplier.craft else "suppliers"
        self._assume(
            "slippage", kind, f"quoted lead times of {kind} slip by a factor of {factor:g} on average (common practice)"
        )
        return 1 + (factor - 1) * self._shared

    def lead_weeks(self, offer: Offer) -> FloatArray:
        """Weeks from order to dispatch, slippage included, shape (runs,)."""
        if offer.id not in self._lead:
            quoted = offer.lead_weeks
            if quoted is None:
                quoted = LEAD_WEEKS
                self._note(lead_assumed(offer.id))
            self._lead[offer.id] = triangular(self._stream(f"lead {offer.id}"), quoted, self.runs) * self._slip(offer)
        return self._lead[offer.id]

    def travel_weeks(self, offer: Offer, route: Route | None) -> FloatArray:
        """Weeks on the road by a route, shape (runs,)."""
        name = f"travel {offer.supplier} {route.id if route else ''}"
        if name not in self._travel:
            weeks = TRAVEL_DEFAULT if route is None or route.weeks is None else route.weeks
            self._travel[name] = triangular(self._stream(name), weeks, self.runs)
        return self._travel[name]

    def lead_quantile(self, offer: Offer, share: float) -> float:
        """Weeks from order to dispatch that are enough with a chance."""
        key = offer.id, share
        if key not in self._quantiles:
            self._quantiles[key] = float(np.quantile(self.lead_weeks(offer), share))
        return self._quantiles[key]

    def incoming(self) -> dict[str, FloatArray]:
        """Moment the last of each ordered part arrives, weeks since as_of, shape (runs,)."""
        arrivals: dict[str, FloatArray] = {}
        for item in self.facts.incoming:
            offer = self.build.find("offers", item.offer)
            since = week_of(self.facts.as_of, item.since)
            if item.promised is not None:
                promised = week_of(self.facts.as_of, item.promised)
                moment = since + (promised - since) * self._slip(offer)
            else:
                moment = since + self.lead_weeks(offer) + self.travel_weeks(offer, None)
            moment = np.maximum(moment, SOONEST_ARRIVAL_WEEKS)
            arrivals[item.part] = np.maximum(arrivals.get(item.part, moment), moment)
        return arrivals


def triangular(stream: np.random.Generator, points: ThreePoint, runs: int) -> FloatArray:
    """Draws of a triangular distribution, shape (runs,); a point if low equals high."""
    if points.low == points.high:
        return np.full(runs, points.likely)
    return stream.triangular(points.low, points.likely, points.high, runs)
