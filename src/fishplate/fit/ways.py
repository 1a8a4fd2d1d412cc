"""What can be done to know dimensions better: a reading, a stand-in, an enquiry to a supplier, an early purchase."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

from ..build import Assumption, Build, Facts, offer_contents
from ..build.commerce import Offer
from ..build.defaults import carrying_percent, hour_worth
from ..build.interfaces import Dimension, Instrument, Provenance, StandIn
from ..build.units import parse_unit
from .misfit import misfit_chances
from .readings import instrument_sd, is_stale, provenance_sd
from .study import Study

Means = Literal["reading", "stand-in", "enquiry", "early purchase"]

# A dimension that was measured here is read again only with something this much finer.
FINER = 0.7


@dataclass(frozen=True, slots=True)
class Way:
    """One thing to do, and what it tells.

    Parameters
    ----------
    spreads : dimension and standard deviation of what it tells of it, in internal units; 0 is exact
    minutes : own time [min]; money : outlay and risk, in home currency
    blocked_by_part, blocked_by_job : what must be in hand, or done, before
    """

    id: str
    means: Means
    spreads: tuple[tuple[str, float], ...]
    minutes: float
    money: float = 0.0
    instrument: Instrument | None = None
    stand_in: str | None = None
    supplier: str | None = None
    part: str | None = None
    blocked_by_part: str | None = None
    blocked_by_job: str | None = None

    @property
    def dimensions(self) -> tuple[str, ...]:
        """What it tells of."""
        return tuple(name for name, _ in self.spreads)

    @property
    def open(self) -> bool:
        """Whether it can be begun tonight."""
        return self.blocked_by_part is None and self.blocked_by_job is None


def cost_of(study: Study, way: Way) -> float:
    """Own time and outlay, in home currency."""
    return way.minutes * hour_worth(study.build.owner) / 60 + way.money


def needs_reading(study: Study, name: str) -> bool:
    """Whether a dimension is missing, stale, or uncertain without having been measured here with a stated spread."""
    state = study.states.get(name)
    return state is None or state.stale or (state.random and (state.default or not state.own))


def ways(
    study: Study, names: frozenset[str], rates: Mapping[str, float] | None = None
) -> tuple[tuple[Way, ...], tuple[Assumption, ...]]:
    """Everything that can be done to know the named dimensions better, by id.

    Parameters
    ----------
    rates : currency -> home currency for one unit, for what an early purchase ties up
    """
    said: list[Assumption] = []
    found = [
        *_readings(study, names),
        *_stand_ins(study, names),
        *_enquiries(study, names),
        *_early_purchases(study, names, rates or {}, said),
    ]
    if any(way.means == "enquiry" for way in found):
        text = f"an enquiry takes {instrument_table()['enquiry']['minutes']} minutes and is answered (our own default)"
        said.append(Assumption("enquiry-default", "build", text))
    return tuple(sorted(found, key=lambda way: way.id)), tuple(said)


# --- readings --------------------------------------------------------------------------------------------------------


def _readings(study: Study, names: frozenset[str]) -> Iterator[Way]:
    for name in sorted(names):
        dimension: Dimension = study.build.find("dimensions", name)
        found = _instrument(study, dimension)
        if found is None:
            continue
        instrument, sd = found
        yield Way(
            id=f"reading:{name}",
            means="reading",
            spreads=((name, sd),),
            minutes=dimension.minutes,
            instrument=instrument,
            blocked_by_part=_part_to_come(study, dimension),
            blocked_by_job=_job_to_do(study, dimension),
        )


def _instrument(study: Study, dimension: Dimension) -> tuple[Instrument | None, float] | None:
    """What to read a dimension with, and its standard deviation; None if nothing at hand is worth it."""
    if dimension.designates is not None:
        return ("thread-gauge" if dimension.designates == "thread" else None), 0.0
    state = study.states.get(dimension.id)
    value = 0.0 if state is None else state.value
    kind = parse_unit(dimension.unit).kind
    choices = instruments_for(dimension, None if state is None else value)
    if state is None or needs_reading(study, dimension.id):
        return choices[0], instrument_sd(choices[0], value, kind)
    for choice in choices:
        sd = instrument_sd(choice, value, kind)
        if 0 < sd < FINER * state.sd:
            return choice, sd
    return None


def instruments_for(dimension: Dimension, value: float | None) -> tuple[Instrument, ...]:
    """What to read a dimension with: what its owner names, then what is usual, finest first.

    Parameters
    ----------
    value : about how large it is, in the internal unit; None if nobody knows, then the longest reach comes first
    """
    table = instrument_table()
    named = named_instruments(dimension)
    kind = parse_unit(dimension.unit).kind
    usual = table["usual"].get(kind, table["usual"]["other"])
    if kind == "length":
        usual = [row for row in usual if value is not None and abs(value) <= row[1]] or usual[-1:]
    return tuple(dict.fromkeys([*named, *(row[0] for row in usual)]))


def named_instruments(dimension: Dimension) -> tuple[Instrument, ...]:
    """What its owner names to read a dimension with: the one, then those among its tools."""
    named = () if dimension.instrument is None else (dimension.instrument,)
    return (*named, *instruments_among(dimension.tools))


def instruments_among(tools: Iterable[str]) -> Iterator[Instrument]:
    """The instruments among tools, as owners write them."""
    words = instrument_table()["words"]
    for tool in tools:
        yield from [instrument for word, instrument in words if word in tool.lower()][:1]


def _part_to_come(study: Study, dimension: Dimension) -> str | None:
    part = dimension.part
    return part if part is not None and study.facts.owned.get(part, 0.0) <= 0 else None


def _job_to_do(study: Study, dimension: Dimension) -> str | None:
    job = dimension.job
    return job if job is not None and not study.facts.is_done(job) else None


# --- stand-ins, enquiries, early purchases ---------------------------------------------------------------------------


def _stand_ins(study: Study, names: frozenset[str]) -> Iterator[Way]:
    for stand_in in study.build.stand_ins:
        spreads = tuple(
            (name, _stand_in_sd(study, stand_in, name))
            for name in stand_in.dimensions
            if name in names and needs_reading(study, name)
        )
        if spreads:
            jobs = [_job_to_do(study, study.build.find("dimensions", name)) for name, _ in spreads]
            yield Way(
                id=f"stand-in:{stand_in.id}",
                means="stand-in",
                spreads=spreads,
                minutes=60 * stand_in.hours,
                money=stand_in.cost,
                stand_in=stand_in.id,
                blocked_by_job=next((job for job in jobs if job is not None), None),
            )


def _stand_in_sd(study: Study, stand_in: StandIn, name: str) -> float:
    dimension: Dimension = study.build.find("dimensions", name)
    if stand_in.spread is not None:
        return abs(stand_in.spread * parse_unit(dimension.unit).factor) / 3**0.5
    return _told_sd(study, dimension, Provenance.STAND_IN)


def _told_sd(study: Study, dimension: Dimension, provenance: Provenance) -> float:
    """Standard deviation of what a source tells of a dimension; a designation is told as it is."""
    if dimension.designates is not None:
        return 0.0
    state = study.states.get(dimension.id)
    return provenance_sd(provenance, 0.0 if state is None else state.value, parse_unit(dimension.unit).kind)


def _enquiries(study: Study, names: frozenset[str]) -> Iterator[Way]:
    """One letter a part: its supplier is asked for every dimension that nothing has told yet."""
    for part, inside in _by_part(study, names).items():
        offer = _offer(study.build, part)
        asked = [name for name in inside if supplier_to_ask(study.build, study.facts, name) is not None]
        if offer is None or not asked:
            continue
        told = [(name, _told_sd(study, study.build.find("dimensions", name), Provenance.SUPPLIER)) for name in asked]
        yield Way(
            id=f"enquiry:{part}",
            means="enquiry",
            spreads=tuple(told),
            minutes=float(instrument_table()["enquiry"]["minutes"]),
            supplier=offer.supplier,
            part=part,
        )


def _early_purchases(
    study: Study, names: frozenset[str], rates: Mapping[str, float], said: list[Assumption]
) -> Iterator[Way]:
    """A part bought before it is needed, and measured: what that ties up, and what going back may cost."""
    chances: Mapping[str, float] | None = None
    coming = {item.part for item in study.facts.incoming}
    for part, inside in _by_part(study, names).items():
        offer = _offer(study.build, part)
        if part in coming or offer is None:
            continue
        home = study.build.owner.currency
        rate = 1.0 if offer.price.currency == home else rates.get(offer.price.currency)
        if rate is None:
            text = f"no rate for {offer.price.currency} was given, so buying {part} early was left out"
            said.append(Assumption("early-purchase-rate", f"part {part}", text))
            continue
        chances = misfit_chances(study)[0] if chances is None else chances
        readings = list(_readings(study, frozenset(inside)))
        jobs = [way.blocked_by_job for way in readings if way.blocked_by_job is not None]
        yield Way(
            id=f"early purchase:{part}",
            means="early purchase",
            spreads=tuple(pair for way in readings for pair in way.spreads),
            minutes=sum(way.minutes for way in readings),
            money=_early_cost(study, offer, rate * float(offer.price.amount), chances.get(part, 0.0)),
            supplier=offer.supplier,
            part=part,
            blocked_by_job=min(jobs, default=None),
        )


def _early_cost(study: Study, offer: Offer, price: float, misfit: float) -> float:
    """Money tied up until the part is needed, and what a misfit costs: the restocking fee, or a part that stays."""
    weeks = float(instrument_table()["early_purchase"]["weeks"])
    tied_up = price * carrying_percent(study.build.owner) / 100 * weeks / 52
    goes_back = not offer.made_to_order and (offer.returns is None or offer.returns.days > 0)
    fee = offer.returns.restocking_percent / 100 if goes_back and offer.returns is not None else 0.0
    return tied_up + misfit * price * (fee if goes_back else 1.0)


def _by_part(study: Study, names: frozenset[str]) -> dict[str, list[str]]:
    """Dimensions of parts that are wanted and not in hand."""
    found: dict[str, list[str]] = {}
    for name in sorted(names):
        dimension: Dimension = study.build.find("dimensions", name)
        part = _part_to_come(study, dimension)
        if part is not None and part in study.facts.wanted_parts and needs_reading(study, name):
            found.setdefault(part, []).append(name)
    return found


def supplier_to_ask(build: Build, facts: Facts, name: str) -> str | None:
    """Who can be asked for a dimension of a part that is wanted and not in hand.

    None if nobody can, if it was told already, or if an answered enquiry about the part has left it out.
    """
    part = build.find("dimensions", name).part
    if part is None or part not in facts.wanted_parts or facts.owned.get(part, 0.0) > 0 or _told(build, facts, name):
        return None
    offer = _offer(build, part)
    return None if offer is None or _answered(build, facts, offer) else offer.supplier


def _answered(build: Build, facts: Facts, offer: Offer) -> bool:
    """Whether its supplier has answered an enquiry about it, or about nothing in particular."""
    return any(
        item.supplier == offer.supplier
        and item.answered is not None
        and item.answered <= facts.as_of
        and (not item.offers or offer.id in item.offers)
        for item in build.enquiries
    )


def answer_weeks() -> float:
    """How long a supplier takes to answer [weeks]."""
    return float(instrument_table()["enquiry"]["weeks"])


def dry_run_minutes() -> float:
    """How long a dry run takes, where nobody has said otherwise [min]."""
    return float(instrument_table()["dry_run"]["minutes"])


def _offer(build: Build, part: str) -> Offer | None:
    """The first offer, by id, of a part alone; else of a kit that holds it."""
    held = [offer for offer in build.offers if part in offer_contents(build, offer)]
    return min(held, key=lambda offer: (offer.part is None, offer.id), default=None)


def _told(build: Build, facts: Facts, name: str) -> bool:
    """Whether a drawing, its supplier or a reading of it has told a dimension, and it still holds."""
    trusted = (Provenance.MEASURED, Provenance.STAND_IN, Provenance.SUPPLIER, Provenance.DRAWING)
    return any(
        reading.dimension == name
        and reading.provenance in trusted
        and reading.day <= facts.as_of
        and not is_stale(reading, facts)
        for reading in build.readings
    )


@lru_cache(maxsize=1)
def instrument_table() -> dict[str, Any]:
    """Instruments, their reach and minutes, and other defaults of ways; common practice."""
    return tomllib.loads(files("fishplate.fit").joinpath("data/instruments.toml").read_text("utf-8"))
