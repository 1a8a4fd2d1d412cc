"""From offers to a purchase problem: every offer by every way home, week by week, with its expected cost."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ..build import Assumption, Money, offer_contents, week_of
from ..build.commerce import Collection, Offer, ReturnTerms, Route, Supplier
from ..build.defaults import RESALE_SHARE, returns_assumed
from ..buy import Candidate, PurchaseProblem, Shipment, Trip
from ..landed import (
    ChargeBand,
    charge_bands,
    core_assumed,
    core_weeks,
    route_problem,
)
from ..prices import Outlook
from ..records import fit_confirmations, terms_of
from .demand import Demand, Entry, Timing, Way
from .draws import Deliveries
from .model import FloatArray
from .offered import (
    MOST_PACKS,
    charged_mass,
    crosses_border,
    mixed_freight,
    month_index,
    most_allowance_saving,
    offer_heading,
    offer_mass,
    offer_origin,
    one_unit,
    packs_wanted,
    partly_in_kits,
    trip_cost,
)
from .situation import Situation

HORIZON_WEEKS = 104
TRIED_WEEKS = (1.0, 2.0, 4.0, 8.0, 13.0, 26.0)
CHANGE_OF_MIND = 0.25
UNKNOWN_MISFIT = 0.04
CONFIRMED_MISFIT = 0.3
# Our own default, in euros: what one missing unit of a part counts, so that a plan leaves out none it can buy.
UNMET_PENALTY = 20_000.0
OWN_DELIVERY = "own delivery"


@dataclass
class Market:
    """Builds the purchase problem and keeps what stands behind each candidate."""

    situation: Situation
    outlooks: Mapping[str, Outlook]
    deliveries: Deliveries
    demand: Demand
    not_before: Mapping[str, float] = field(default_factory=dict)
    assumptions: dict[tuple[str, str], Assumption] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.entries: dict[str, Entry] = {}
        self.arrivals: dict[str, FloatArray] = {}
        self.shipments: dict[str, Shipment] = {}
        self.bands: dict[str, ChargeBand] = {}
        self.trips: dict[str, Trip] = {}
        self._trip_costs: dict[str, float] = {}
        self.ruled_out: dict[str, str] = {}
        self._confirmed = fit_confirmations(self.situation.build, self.situation.as_of)
        self._partly_in_kits = partly_in_kits(self.situation, self.demand.missing)
        self._fill()

    def problem(self) -> PurchaseProblem:
        """The purchase problem over everything that can be ordered."""
        offered = {part for entry in self.entries.values() for part in entry.candidate.covers}
        return PurchaseProblem(
            needs={part: count for part, count in self.demand.missing.items() if part in offered},
            candidates=tuple(entry.candidate for entry in self.entries.values()),
            # the seller's own delivery crosses the border as any route does
            shipments=tuple(replace(s, route=s.route or OWN_DELIVERY) for s in self.shipments.values()),
            trips=tuple(self.trips.values()),
            cash_limits=self._cash_limits(),
            unmet_penalty=dict.fromkeys(self.demand.missing, self.situation.in_home(UNMET_PENALTY)),
        )

    def unoffered(self) -> dict[str, float]:
        """Missing parts that nobody is known to sell."""
        offered = {part for entry in self.entries.values() for part in entry.candidate.covers}
        return {part: count for part, count in self.demand.missing.items() if part not in offered}

    def told_saving(self, trip: str | None) -> float:
        """What the solver was told the allowance saves on a trip, home currency."""
        if trip is None:
            return 0.0
        return self.trip_fixed(trip) - self.trips[trip].fixed

    def trip_fixed(self, trip: str) -> float:
        """What making a trip costs by itself; nothing if it is made anyway, home currency."""
        if trip not in self._trip_costs:
            collection = self.situation.build.find("collections", trip)
            self._trip_costs[trip] = 0.0 if collection.decided else trip_cost(self.situation, collection)
        return self._trip_costs[trip]

    def _earliest(self, offer: Offer) -> float:
        """First week an offer may be ordered; beyond the horizon if what holds it never opens."""
        held = self.demand.holds.get(offer.id, (0.0, ""))[0]
        return min(max(held, self.not_before.get(offer.id, 0.0)), HORIZON_WEEKS + 1.0)

    def _fill(self) -> None:
        by_supplier: dict[str, list[Offer]] = defaultdict(list)
        for offer in self.situation.build.offers:
            if any(self.demand.missing.get(part, 0) > 0 for part in offer_contents(self.situation.build, offer)):
                by_supplier[offer.supplier].append(offer)
        for supplier_id in sorted(by_supplier):
            self._fill_supplier(self.situation.build.find("suppliers", supplier_id), by_supplier[supplier_id])

    def _fill_supplier(self, supplier: Supplier, offers: list[Offer]) -> None:
        weeks = self._order_weeks(supplier, offers)
        for way in self._ways(supplier):
            mixed = mixed_freight(supplier, way.route)
            if mixed:
                self.ruled_out[f"{supplier.name} by {way.name}"] = mixed
                continue
            problem = route_problem(supplier, way.route, (), self.situation.rules.single_market)
            if problem is not None:
                self.ruled_out[f"{supplier.name} by {way.name}"] = problem.what
                continue
            bands = self._bands(supplier, way, offers)
            self._say_unknown_masses(supplier, way, offers)
            for offer in offers:
                problem = route_problem(
                    supplier, way.route, (one_unit(self.situation, offer),), self.situation.rules.single_market
                )
                if problem is not None:
                    self.ruled_out[f"{offer.id} by {way.name}"] = problem.what
                    continue
                self._fill_offer(supplier, offer, way, bands, tuple(sorted({*weeks, *self._own_weeks(offer)})))

    def _say_unknown_masses(self, supplier: Supplier, way: Way, offers: list[Offer]) -> None:
        terms = next((t for t in supplier.freight if way.route is not None and t.route == way.route.id), None)
        if terms is None or terms.per_kg is None:
            return
        for offer in offers:
            for part in offer_contents(self.situation.build, offer):
                if self.situation.build.find("parts", part).mass_kg is None:
                    text = f"the mass of {part} is not known: freight by mass is left out for it"
                    self.assumptions[("mass-unknown", part)] = Assumption("mass-unknown", f"part {part}", text)

    def _bands(self, supplier: Supplier, way: Way, offers: list[Offer]) -> tuple[ChargeBand, ...]:
        situation = self.situation
        build = situation.build
        headings = {offer_heading(situation, offer) for offer in offers}
        origins = {offer_origin(situation, offer) for offer in offers}
        return charge_bands(
            *(supplier, way.route, build.owner, situation.rules, situation.rates, situation.as_of),
            build.rule_overrides,
            headings=sorted(headings, key=str),
            origins=sorted(origins, key=str),
        )

    def _fill_offer(
        self, supplier: Supplier, offer: Offer, way: Way, bands: tuple[ChargeBand, ...], weeks: tuple[int, ...]
    ) -> None:
        covers = {
            part: count
            for part, count in offer_contents(self.situation.build, offer).items()
            if self.demand.missing.get(part, 0) > 0
        }
        wanted = packs_wanted(self.demand.missing, covers)
        if wanted > MOST_PACKS:
            self.ruled_out[offer.id] = f"more than {MOST_PACKS:,} of it would be needed"
            return
        # One line brings the whole quantity, so that a part is not ordered in driblets to fill up free freight.
        count = 1 if self._partly_in_kits & covers.keys() else wanted
        covers = {part: each * count for part, each in covers.items()}
        outlook = self.outlooks[offer.id]
        timing = Timing(self.situation, self.deliveries, self.demand, offer, way, self._terms(offer).days)
        earliest = self._earliest(offer)
        lines = [_band_line(self.situation, offer, way.route, band) for band in bands]
        core = self._core(offer)
        for week in weeks:
            if week < earliest - 1e-9 or not outlook.available[week] or not timing.possible(week):
                continue
            price = float(outlook.expected[week])
            paid = price + core
            for position, (band, line) in enumerate(zip(bands, lines, strict=True)):
                if line.value(paid) * count > band.high_value:
                    continue
                shipment = self._shipment(supplier, way, week, position, band)
                self._add(offer, way, week, price, line, shipment, covers, count, wanted // count, timing)

    def _shipment(self, supplier: Supplier, way: Way, week: int, position: int, band: ChargeBand) -> Shipment:
        group = f"{supplier.id}|{way.key}|{week}"
        key = f"{group}|{position}"
        if key not in self.shipments:
            collection = way.collection
            if collection is not None and collection.id not in self.trips:
                self.trips[collection.id] = self._trip(collection)
            self.bands[key] = band
            self.shipments[key] = Shipment(
                key=key,
                group=group,
                supplier=supplier.id,
                route=way.route.id if way.route else None,
                collection=collection.id if collection else None,
                week=week,
                fixed=band.fixed + self.situation.order_effort,
                freight_fixed=band.freight_fixed + _half_a_step(supplier, way.route, band),
                free_freight_from=band.free_freight_from,
                low_value=band.low_value,
                high_value=band.high_value,
                relief=band.relief,
                crosses_border=crosses_border(self.situation, supplier),
                cash_month=month_index(self.situation, week),
            )
        return self.shipments[key]

    def _trip(self, collection: Collection) -> Trip:
        # The solver is told the most that the owner's allowance can save, so that its bound holds.
        return Trip(
            id=collection.id,
            fixed=self.trip_fixed(collection.id) - most_allowance_saving(self.situation, collection),
            capacity_kg=collection.capacity_kg,
            cash_month=month_index(self.situation, week_of(self.situation.as_of, collection.day)),
        )

    def _add(
        self,
        offer: Offer,
        way: Way,
        week: int,
        price: float,
        line: _BandLine,
        shipment: Shipment,
        covers: dict[str, float],
        count: int,
        max_units: int,
        timing: Timing,
    ) -> None:
        key = f"{offer.id}|{shipment.key}"
        core = self.situation.home(offer.core_charge) * count
        gross = price + self._core(offer)
        paid = line.cost(gross) * count - core
        expected = timing.expected(week)
        late_unit = expected.late / max_units
        carrying = paid * self.situation.keeping_per_week * expected.early_weeks
        carrying += core * self.situation.carrying_per_week * (timing.lead_median + core_weeks(offer))
        risk = self._risk(offer, paid, expected.lapsed, covers, week) + paid * expected.spoilt
        candidate = Candidate(
            key=key,
            offer=offer.id,
            shipment=shipment.key,
            covers=covers,
            cost=paid + late_unit + carrying + risk,
            value=line.value(gross) * count,
            mass_kg=offer_mass(self.situation, offer) * count,
            cash=self._cash(offer, paid + core, core, week, timing.lead_median),
            max_units=max_units,
        )
        self.entries[key] = Entry(candidate, offer, way, week, count, price, late_unit, carrying, risk, core)

    def _risk(self, offer: Offer, paid: float, lapsed: float, covers: Mapping[str, float], week: int) -> float:
        """Expected loss of one unit that does not fit, or is not wanted after all."""
        terms = self._terms(offer)
        misfit = max((self._misfit(part) for part in covers), default=0.0)
        confirmed = self._confirmed.get(offer.id)
        if confirmed is not None:
            misfit *= CONFIRMED_MISFIT
            self._say_confirmed()
        changed = max((CHANGE_OF_MIND for part in covers if week < self.demand.undecided.get(part, 0.0)), default=0.0)
        if changed:
            share = f"{100 * CHANGE_OF_MIND:.0f} %"
            text = f"an open decision goes the other way with a chance of {share} (our own default)"
            self.assumptions.setdefault(("change-of-mind", "build"), Assumption("change-of-mind", "build", text))
        if confirmed is not None and confirmed.takes_back:
            misfit = 0.0  # the seller bears it
        chance = 1 - (1 - misfit) * (1 - changed)
        if chance == 0:
            return 0.0
        lost = paid if offer.made_to_order else paid * (1 - RESALE_SHARE)
        back = paid * float(terms.restocking_percent) / 100 + self.situation.home(terms.freight_back)
        return chance * (lapsed * lost + (1 - lapsed) * min(back, lost))

    def _say_confirmed(self) -> None:
        share = f"{100 * (1 - CONFIRMED_MISFIT):.0f} %"
        text = f"a supplier's written confirmation of fit takes {share} off the chance of a misfit (our own default)"
        self.assumptions.setdefault(("fit-confirmed", "build"), Assumption("fit-confirmed", "build", text))

    def _misfit(self, part: str) -> float:
        """Chance that a part turns out not to go, or not to be wanted; a default where no interface tells."""
        if part in self.demand.misfit:
            return self.demand.misfit[part]
        odds = f"one time in {1 / UNKNOWN_MISFIT:.0f} (our own default)"
        text = f"a part of which no interface is stated is taken not to fit {odds}"
        self.assumptions.setdefault(("misfit-default", "build"), Assumption("misfit-default", "build", text))
        return UNKNOWN_MISFIT

    def _terms(self, offer: Offer) -> ReturnTerms:
        terms, assumed = terms_of(offer)
        if assumed and not offer.made_to_order:
            self.assumptions.setdefault(("return-default", offer.id), returns_assumed(offer.id))
        return terms

    def _core(self, offer: Offer) -> float:
        """Core charge of one unit of an offer, in the currency of its price."""
        if offer.core_charge is None:
            return 0.0
        self.assumptions.setdefault(("core-charge", offer.id), core_assumed(offer))
        return float(self.situation.rates.convert(offer.core_charge, offer.price.currency).amount)

    def _cash(self, offer: Offer, paid: float, core: float, week: int, lead: float) -> tuple[tuple[int, float], ...]:
        """What is paid when; a core charge comes back below zero."""
        deposit = float(offer.deposit_percent) / 100
        now, later = month_index(self.situation, week), month_index(self.situation, week + lead)
        back = ((month_index(self.situation, week + lead + core_weeks(offer)), -core),) if core else ()
        if deposit == 0 or now == later:
            return ((now, paid), *back)
        return ((now, paid * deposit), (later, paid * (1 - deposit)), *back)

    def _cash_limits(self) -> tuple[tuple[int, float], ...]:
        owner = self.situation.build.owner
        if owner.cash_per_month is None:
            return ()
        start, monthly = float(owner.cash_now or 0), float(owner.cash_per_month)
        months = month_index(self.situation, HORIZON_WEEKS) + 1
        return tuple((month, start + monthly * (month + 1)) for month in range(months))

    def _ways(self, supplier: Supplier) -> list[Way]:
        build, as_of = self.situation.build, self.situation.as_of
        ways = []
        for terms in supplier.freight:
            route: Route = build.find("routes", terms.route)
            if route.kind != "collection":
                ways.append(Way(route, None))
                continue
            trips = [trip for trip in build.collections if trip.route == route.id and trip.day > as_of]
            ways.extend(Way(route, trip) for trip in sorted(trips, key=lambda trip: (trip.day, trip.id)))
        if not supplier.freight:
            text = f"freight from {supplier.name} is not known: nothing added for it"
            self.assumptions[("freight-unknown", supplier.id)] = Assumption(
                "freight-unknown", f"supplier {supplier.id}", text
            )
            ways.append(Way(None, None))
        return ways

    def _order_weeks(self, supplier: Supplier, offers: list[Offer]) -> tuple[int, ...]:
        """Weeks worth ordering in: now, sales and rises, holds ending, need dates less lead time, and a thin grid."""
        exact: set[int] = {0, 1, 2, 4, 8, 13, 26}
        about: set[float] = set(range(8, HORIZON_WEEKS, 8))
        for offer in offers:
            exact |= self._price_weeks(offer)
            exact.add(math.ceil(self._earliest(offer) - 1e-9))
            about |= self._need_weeks(offer)
        for collection in self.situation.build.collections:
            if any(terms.route == collection.route for terms in supplier.freight):
                ready = week_of(self.situation.as_of, collection.day)
                leads = [float(np.quantile(self.deliveries.lead_weeks(offer), 0.9)) for offer in offers]
                exact |= {math.floor(ready - lead - 0.3) for lead in leads}
        last = self._last_week(offers)
        return tuple(sorted({week for week in exact | {_thin(week) for week in about} if 0 <= week <= last}))

    def _own_weeks(self, offer: Offer) -> set[int]:
        """Weeks in which the last plan orders an offer, and from which a held one may be if its hold is put off."""
        held = self._earliest(offer)
        planned = {week for week in self.demand.planned.get(offer.id, ()) if week < HORIZON_WEEKS}
        if held == 0:
            return planned
        moments = [held + weeks for weeks in TRIED_WEEKS] + [weeks + 1 for weeks in TRIED_WEEKS]
        return planned | {math.ceil(moment - 1e-9) for moment in moments if moment <= self._last_week([offer])}

    def _price_weeks(self, offer: Offer) -> set[int]:
        """Weeks around which the expected price moves."""
        listed = self.outlooks[offer.id].expected
        moves = np.flatnonzero(np.abs(np.diff(listed)) > 0.01 * np.maximum(listed[:-1], 1e-9))
        return {int(week) for week in moves} | {int(week) + 1 for week in moves}

    def _need_weeks(self, offer: Offer) -> set[float]:
        found: set[float] = set()
        for part in offer_contents(self.situation.build, offer):
            need = self.demand.needs.get(part)
            if need is not None:
                lead = float(np.quantile(self.deliveries.lead_weeks(offer), 0.8)) + 1
                found |= {math.floor(float(np.quantile(need, p)) - lead) for p in (0.02, 0.1, 0.3)}
        return found

    def _last_week(self, offers: list[Offer]) -> int:
        latest = 0.0
        for offer in offers:
            for part in offer_contents(self.situation.build, offer):
                need = self.demand.needs.get(part)
                latest = max(latest, 8.0 if need is None else float(np.quantile(need, 0.9)))
            latest = max(latest, self._earliest(offer))
        # every delay that waiting is priced at has to be possible
        return int(min(HORIZON_WEEKS - 1, max(latest + 4, 26)))


@dataclass(frozen=True, slots=True)
class _BandLine:
    """Cost and value of one unit as straight lines in its price."""

    cost_at_zero: float
    cost_slope: float
    value_slope: float

    def cost(self, price: float) -> float:
        return self.cost_at_zero + self.cost_slope * price

    def value(self, price: float) -> float:
        return self.value_slope * price


def _band_line(situation: Situation, offer: Offer, route: Route | None, band: ChargeBand) -> _BandLine:
    heading, origin = offer_heading(situation, offer), offer_origin(situation, offer)
    mass = charged_mass(situation, offer, route)
    currency = offer.price.currency
    zero = band.unit_cost(Money.of(0, currency), mass, heading, origin, offer.tax_included)
    thousand = band.unit_cost(Money.of(1000, currency), mass, heading, origin, offer.tax_included)
    value = band.value(Money.of(1000, currency), offer.tax_included)
    return _BandLine(zero, (thousand - zero) / 1000, value / 1000)


def _half_a_step(supplier: Supplier, route: Route | None, band: ChargeBand) -> float:
    """What taking a consignment's mass up to a whole step of the carrier adds on average, home currency."""
    if route is None or not route.mass_step_kg:
        return 0.0
    return band.unit_cost(Money.of(0, supplier.currency), route.mass_step_kg / 2)


def arrivals_of(market: Market, entry: Entry) -> FloatArray:
    """Moment an entry's goods are in hand, shape (runs,)."""
    key = f"{entry.offer.id}|{entry.way.key}|{entry.week}"
    if key not in market.arrivals:
        market.arrivals[key] = Timing(
            market.situation, market.deliveries, market.demand, entry.offer, entry.way, 0
        ).arrival(entry.week)
    return market.arrivals[key]


def _thin(week: float) -> int:
    """Far weeks are planned on a coarser grid: they are planned again before they come."""
    if week < 12:
        return int(week)
    return int(week) // 2 * 2 if week < 30 else int(week) // 4 * 4
