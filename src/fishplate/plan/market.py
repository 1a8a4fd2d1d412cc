"""From offers to a purchase problem: every offer by every way home, week by week, with its expected cost."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from ..build import Assumption, date_at, offer_contents, week_of
from ..build.commerce import Collection, Offer, ReturnTerms, Route, Supplier
from ..build.defaults import RESALE_SHARE, returns_assumed
from ..buy import Candidate, PurchaseProblem, Shipment, Trip
from ..landed import ChargeBand, CostLine, core_assumed, core_weeks
from ..prices import Outlook
from ..records import fit_confirmations, terms_of
from .choices import Choices
from .demand import Demand, Entry, Timing, Way
from .door import BandLine, Doors, half_a_step
from .draws import Deliveries
from .levels import Level, levels_of
from .model import FloatArray
from .offered import MOST_PACKS, crosses_border, month_index, packs_wanted, partly_in_kits
from .order_weeks import HORIZON_WEEKS, OrderWeeks
from .owed import owed_on_orders
from .sentences import day_words, money_words
from .situation import Situation
from .storage import least_by_shipment, longest

CHANGE_OF_MIND = 0.25
UNKNOWN_MISFIT = 0.04
CONFIRMED_MISFIT = 0.3
# Our own default, in euros: what one missing unit of a part counts, so that a plan leaves out none it can buy.
UNMET_PENALTY = 20_000.0
OWN_DELIVERY = "own delivery"
SPOILT = 0.9
"""Chance of a shelf life over before the need, from which an order is not thought of."""
CREDIT_PERCENT = 10.0
MONEY_MONTHS = 4
"""Months ahead of which the first week is tried where money is short; later ones lie in the thin grid."""
SOON_WEEKS = 17.0
"""What is needed by then is needed soon, when the first weeks of these months are asked for."""


@dataclass(frozen=True, slots=True)
class _Own:
    """What holds of an offer in every week.

    Parameters
    ----------
    misfit : chance that it does not go where it must, at the owner's cost
    undecided : week until which a decision that calls for it is open
    restocking, freight_back : share of what was paid, and money, that sending it back costs [home currency]
    core, core_home : core charge of one, in the currency of its price and of home
    deposit : share paid with the order
    """

    return_days: int
    misfit: float
    undecided: float
    restocking: float
    freight_back: float
    core: float
    core_home: float
    deposit: float


@dataclass
class Market:
    """Builds the purchase problem and keeps what stands behind each candidate."""

    situation: Situation
    outlooks: Mapping[str, Outlook]
    deliveries: Deliveries
    demand: Demand
    not_before: Mapping[str, float] = field(default_factory=dict)
    doors: Doors | None = None
    free_choice: bool = False
    assumptions: dict[tuple[str, str], Assumption] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.door = self.doors or Doors(self.situation)
        self.choices = Choices(self.situation)
        self._weeks = OrderWeeks(
            *(self.situation, self.outlooks, self.deliveries, self.demand, self.choices, self._earliest),
            self._money_weeks(),
        )
        self.entries: dict[str, Entry] = {}
        self.arrivals: dict[str, FloatArray] = {}
        self.shipments: dict[str, Shipment] = {}
        self.bands: dict[str, ChargeBand] = {}
        self.trips: dict[str, Trip] = {}
        self.storage: dict[str, CostLine] = {}
        self.ruled_out: dict[str, str] = {}
        self._months: dict[float, int] = {}
        self._confirmed = fit_confirmations(self.situation.build, self.situation.as_of)
        self._partly_in_kits = partly_in_kits(self.situation, self.demand.missing)
        self._fill()

    def problem(self) -> PurchaseProblem:
        """The purchase problem over everything that can be ordered."""
        offered = {part for entry in self.entries.values() for part in entry.candidate.covers}
        kept = {key: float(line.amount.amount) for key, line in self.storage.items()}
        least = least_by_shipment(kept, {key: entry.candidate.shipment for key, entry in self.entries.items()})

        def cost(entry: Entry) -> float:
            more = kept.get(entry.candidate.key, 0.0) - least.get(entry.candidate.shipment, 0.0)
            return entry.candidate.cost + more / entry.whole

        return PurchaseProblem(
            needs={part: count for part, count in self.demand.missing.items() if part in offered},
            # storage is asked once for a consignment: the order bears what all its goods do, each what is beyond
            candidates=tuple(
                replace(entry.candidate, cost=cost(entry)) if key in kept else entry.candidate
                for key, entry in self.entries.items()
            ),
            # the seller's own delivery crosses the border as any route does
            shipments=tuple(
                replace(s, route=s.route or OWN_DELIVERY, fixed=s.fixed + least.get(s.key, 0.0))
                for s in self.shipments.values()
            ),
            trips=tuple(self.trips.values()),
            cash_limits=self._cash_limits(),
            unmet_penalty=dict.fromkeys(self.demand.missing, self.situation.in_home(UNMET_PENALTY)),
            credit=float(self.situation.build.owner.credit or 0),
            credit_cost=self._credit_cost(),
            supplier_cost=float(self.situation.build.owner.supplier_worth or 0),
        )

    def unoffered(self) -> dict[str, float]:
        """Missing parts that nobody is known to sell."""
        offered = {part for entry in self.entries.values() for part in entry.candidate.covers}
        return {part: count for part, count in self.demand.missing.items() if part not in offered}

    def saved(self, selection: Mapping[str, tuple[tuple[str, int], ...]]) -> dict[str, float]:
        """Trip -> what the owner's allowance saves on it, as the programme reckons it, home currency.

        Parameters
        ----------
        selection : shipment -> its lines as (candidate, units)
        """
        borne: dict[str, float] = defaultdict(float)
        for key, lines in selection.items():
            trip = self.shipments[key].collection
            if trip is not None:
                borne[trip] += sum(self.entries[line].candidate.relieved * units for line, units in lines)
        return {trip: min(value, self.trips[trip].allowance) for trip, value in borne.items()}

    def storage_of(self, lines: tuple[tuple[str, int], ...]) -> CostLine | None:
        """What the depot asks for keeping a consignment until its trip; None if nothing."""
        return longest(self.storage.get(candidate) for candidate, _units in lines)

    def trips_cost(self, selection: Mapping[str, tuple[tuple[str, int], ...]]) -> float:
        """What the trips of a selection cost, less what the owner's allowance saves on them, home currency."""
        saved = self.saved(selection)
        return sum(self.trips[trip].fixed - saving for trip, saving in sorted(saved.items()))

    def trip_fixed(self, trip: str) -> float:
        """What making a trip costs by itself; nothing if it is made anyway, home currency."""
        return self.door.trip_cost(trip)

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
        weeks = self._weeks.of_supplier(supplier, offers)
        own = {offer.id: tuple(sorted({*weeks, *self._weeks.of_offer(offer)})) for offer in offers}
        for way in self._ways(supplier):
            problem = self.door.problem(supplier, way)
            if problem:
                self.ruled_out[f"{supplier.name} by {way.name}"] = problem
                continue
            bands = self.door.bands(supplier, way, offers)
            self._say_unknown_masses(supplier, way, offers)
            self._say_unknown_boxes(way, offers)
            for offer in offers:
                problem = self.door.offer_problem(supplier, way, offer)
                if problem:
                    self.ruled_out[f"{offer.id} by {way.name}"] = problem
                    continue
                self._fill_offer(supplier, offer, way, bands, own[offer.id])

    def _say_unknown_masses(self, supplier: Supplier, way: Way, offers: list[Offer]) -> None:
        terms = next((t for t in supplier.freight if way.route is not None and t.route == way.route.id), None)
        if terms is None or terms.per_kg is None:
            return
        for offer in offers:
            for part in offer_contents(self.situation.build, offer):
                if self.situation.build.find("parts", part).mass_kg is None:
                    text = f"the mass of {part} is not known: freight by mass is left out for it"
                    self.assumptions[("mass-unknown", part)] = Assumption("mass-unknown", f"part {part}", text)

    def _say_unknown_boxes(self, way: Way, offers: list[Offer]) -> None:
        if way.collection is None or way.collection.capacity_m3 is None:
            return
        for part in {part for offer in offers for part in offer_contents(self.situation.build, offer)}:
            if self.situation.build.find("parts", part).box_mm is None:
                text = f"the packed size of {part} is not known: it is counted as taking no room on a trip"
                self.assumptions["box-unknown", part] = Assumption("box-unknown", f"part {part}", text)

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
        levels = tuple(levels_of(offer, wanted, in_one=not self._partly_in_kits & covers.keys()))
        outlook = self.outlooks[offer.id]
        own = self._own(offer, covers)
        timing = Timing(self.situation, self.deliveries, self.demand, offer, way, own.return_days)
        earliest = self._earliest(offer)
        lines = self.door.lines(offer, way, bands)
        for week in weeks:
            if week < earliest - 1e-9 or not outlook.available[week] or not timing.possible(week):
                continue
            if not (self.free_choice or self.choices.allow(offer, week)) or timing.expected(week).spoilt > SPOILT:
                continue
            for level in levels:
                price = float(outlook.expected[week]) * level.share
                for position, (band, line) in enumerate(zip(bands, lines, strict=True)):
                    least = self._least(supplier, band)
                    value = line.value(price + own.core) * level.count
                    if least <= band.high_value and value * level.least <= band.high_value:
                        shipment = self._shipment(supplier, way, week, position, band)
                        self._add(offer, way, week, price, line, shipment, covers, level, timing, own)

    def _least(self, supplier: Supplier, band: ChargeBand) -> float:
        """What an order in a band must be worth at least, the seller's least order included, home currency."""
        if supplier.minimum_order is None:
            return band.low_value
        return max(band.low_value, band.value(supplier.minimum_order))

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
                freight_fixed=band.freight_fixed + half_a_step(supplier, way.route, band),
                free_freight_from=band.free_freight_from,
                low_value=self._least(supplier, band),
                high_value=band.high_value,
                relief=band.relief,
                crosses_border=crosses_border(self.situation, supplier),
                cash_month=self._month(week),
            )
        return self.shipments[key]

    def _trip(self, collection: Collection) -> Trip:
        return Trip(
            id=collection.id,
            fixed=self.trip_fixed(collection.id),
            capacity_kg=collection.capacity_kg,
            capacity_m3=collection.capacity_m3,
            cash_month=month_index(self.situation, week_of(self.situation.as_of, collection.day)),
            allowance=self.door.allowance(collection),
        )

    def _add(
        self,
        offer: Offer,
        way: Way,
        week: int,
        price: float,
        line: BandLine,
        shipment: Shipment,
        covers: dict[str, float],
        level: Level,
        timing: Timing,
        own: _Own,
    ) -> None:
        first_level = (level.share, level.least) == (1.0, 1)
        key = f"{offer.id}|{shipment.key}" + ("" if first_level else f"|{level.count * level.least}")
        count = level.count
        core = own.core_home * count
        gross = price + own.core
        paid = line.cost(gross) * count - core
        expected = timing.expected(week)
        late_unit = expected.late / level.whole
        carrying = paid * self.situation.keeping_per_week * expected.early_weeks
        carrying += core * self.situation.carrying_per_week * (timing.lead_median + core_weeks(offer))
        risk = self._risk(offer, own, paid, expected.lapsed, week) + paid * expected.spoilt
        candidate = Candidate(
            key=key,
            offer=offer.id,
            shipment=shipment.key,
            covers={part: each * count for part, each in covers.items()},
            cost=paid + late_unit + carrying + risk,
            value=line.value(gross) * count,
            mass_kg=self.door.mass(offer) * count,
            cash=self._cash(offer, own.deposit, paid + core, core, week, timing.lead_median),
            max_units=level.most,
            min_units=level.least,
            relieved=self.door.relieved(offer, way, count, price),
            volume_m3=self.door.volume(offer) * count,
        )
        if way.collection is not None:
            arrives = min(date_at(self.situation.as_of, timing.at_depot(week)), way.collection.day)
            storage = self.door.storage(way.collection, arrives)
            if storage is not None:
                self.storage[key] = storage
        self.entries[key] = Entry(
            candidate, offer, way, week, count, price, late_unit, carrying, risk, core, level.share, level.whole
        )

    def _own(self, offer: Offer, covers: Mapping[str, float]) -> _Own:
        """What holds of an offer in every week."""
        terms, confirmed = self._terms(offer), self._confirmed.get(offer.id)
        misfit = max((self._misfit(part) for part in covers), default=0.0)
        if confirmed is not None:
            self._say_confirmed()
            misfit *= 0.0 if confirmed.takes_back else CONFIRMED_MISFIT  # what the seller takes back, the seller bears
        return _Own(
            terms.days,
            misfit,
            max((self.demand.undecided.get(part, 0.0) for part in covers), default=0.0),
            float(terms.restocking_percent) / 100,
            self.situation.home(terms.freight_back),
            self._core(offer),
            self.situation.home(offer.core_charge),
            float(offer.deposit_percent) / 100,
        )

    def _risk(self, offer: Offer, own: _Own, paid: float, lapsed: float, week: int) -> float:
        """Expected loss of one unit that does not fit, or is not wanted after all."""
        changed = CHANGE_OF_MIND if week < own.undecided else 0.0
        if changed:
            self._say_changed()
        chance = 1 - (1 - own.misfit) * (1 - changed)
        lost = paid if offer.made_to_order else paid * (1 - RESALE_SHARE)
        back = paid * own.restocking + own.freight_back
        return chance * (lapsed * lost + (1 - lapsed) * min(back, lost))

    def _say_changed(self) -> None:
        if ("change-of-mind", "build") not in self.assumptions:
            share = f"{100 * CHANGE_OF_MIND:.0f} %"
            text = f"an open decision goes the other way with a chance of {share} (our own default)"
            self.assumptions["change-of-mind", "build"] = Assumption("change-of-mind", "build", text)

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

    def _cash(
        self, offer: Offer, deposit: float, paid: float, core: float, week: int, lead: float
    ) -> tuple[tuple[int, float], ...]:
        """What is paid when; a core charge comes back below zero."""
        now, later = self._month(week), self._month(week + lead)
        back = ((self._month(week + lead + core_weeks(offer)), -core),) if core else ()
        if deposit == 0 or now == later:
            return ((now, paid), *back)
        return ((now, paid * deposit), (later, paid * (1 - deposit)), *back)

    def _month(self, week: float) -> int:
        if week not in self._months:
            self._months[week] = month_index(self.situation, week)
        return self._months[week]

    def _cash_limits(self) -> tuple[tuple[int, float], ...]:
        owner = self.situation.build.owner
        if owner.cash_per_month is None:
            return ()
        start, monthly = float(owner.cash_now or 0), float(owner.cash_per_month)
        months = month_index(self.situation, HORIZON_WEEKS) + 1
        owed = [0.0] * months
        for item in owed_on_orders(self.situation):
            week = week_of(self.situation.as_of, item.day)
            for month in range(min(month_index(self.situation, week), months), months):
                owed[month] += item.amount
        if any(owed):
            text = f"{money_words(max(owed), owner.currency)} still to be paid on orders is kept for them"
            self.assumptions["owed-kept", "build"] = Assumption("owed-kept", "build", text)
        return tuple((month, max(0.0, start + monthly * (month + 1) - owed[month])) for month in range(months))

    def _money_weeks(self) -> frozenset[int]:
        """First weeks of the next months, as long as what is needed soon can't be paid before."""
        as_of, weeks = self.situation.as_of, set[int]()
        cheapest: dict[str, float] = {}
        for offer in self.situation.build.offers:
            if offer.part is not None:
                each = self.situation.home(offer.price) / offer.pack
                cheapest[offer.part] = min(each, cheapest.get(offer.part, each))
        soon = {part for part, need in self.demand.needs.items() if float(np.median(need)) < SOON_WEEKS}
        needed = sum(cheapest.get(part, 0.0) * count for part, count in self.demand.missing.items() if part in soon)
        for month, there in self._cash_limits()[:MONEY_MONTHS]:
            if there >= needed:
                break
            year, following = divmod(as_of.month + month, 12)
            weeks.add(math.ceil(week_of(as_of, date(as_of.year + year, following + 1, 1)) - 1e-9))
        return frozenset(weeks)

    def _credit_cost(self) -> float:
        """What a unit of the most that is drawn of the credit costs: interest for a year [-]."""
        owner = self.situation.build.owner
        if not owner.credit:
            return 0.0
        percent = CREDIT_PERCENT if owner.credit_percent is None else owner.credit_percent
        stated = " (our own default)" if owner.credit_percent is None else ""
        text = f"the most that is drawn of the credit is taken to cost {percent:g} %{stated}, for a year"
        self.assumptions[("credit-cost", "build")] = Assumption("credit-cost", "build", text)
        return percent / 100

    def _ways(self, supplier: Supplier) -> list[Way]:
        build, as_of = self.situation.build, self.situation.as_of
        ways = []
        for terms in supplier.freight:
            route: Route = build.find("routes", terms.route)
            if route.kind != "collection":
                ways.append(Way(route, None))
                continue
            trips = [trip for trip in build.collections
                     if trip.route == route.id and trip.day > as_of and not self._closed(route, trip)]  # fmt: skip
            ways.extend(Way(route, trip) for trip in sorted(trips, key=lambda trip: (trip.day, trip.id)))
        if not supplier.freight:
            text = f"freight from {supplier.name} is not known: nothing added for it"
            self.assumptions[("freight-unknown", supplier.id)] = Assumption(
                "freight-unknown", f"supplier {supplier.id}", text
            )
            ways.append(Way(None, None))
        return ways

    def _closed(self, route: Route, trip: Collection) -> bool:
        """Whether a depot is closed on the day of a trip, which is then said."""
        if not route.open_weekdays or trip.day.isoweekday() in route.open_weekdays:
            return False
        day = day_words(trip.day, self.situation.as_of)
        text = f"nothing is planned for the trip of {day}: {route.name} is closed on {trip.day:%A}s"
        self.assumptions["trip-closed", trip.id] = Assumption("trip-closed", f"collection {trip.id}", text)
        return True


def arrivals_of(market: Market, entry: Entry) -> FloatArray:
    """Moment an entry's goods are in hand, shape (runs,)."""
    key = f"{entry.offer.id}|{entry.way.key}|{entry.week}"
    if key not in market.arrivals:
        market.arrivals[key] = Timing(
            market.situation, market.deliveries, market.demand, entry.offer, entry.way, 0
        ).arrival(entry.week)
    return market.arrivals[key]
