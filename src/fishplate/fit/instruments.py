"""Which instrument to take a reading with: each that suits a dimension, weighed by what it tells and what it takes.

The usual one stays unless another clearly saves more after its cost. What the others can be laid on in place of, within
which sizes and for how many minutes more or less, is common practice held as data.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from ..build import Build
from ..build.interfaces import Dimension, Instrument, Provenance
from ..build.units import parse_unit
from .model import Weighed
from .readings import DimensionState, instrument_sd
from .study import Study
from .ways import FINER, Way, cost_of, instrument_table, instruments_among, named_instruments, needs_reading
from .worth import Worth

# Another instrument than the usual one leaves at least this share more: spreads and draws tell no finer.
CLEARLY = 0.02


class Reckoned(NamedTuple):
    """A reading with one instrument, and what it saves by itself."""

    way: Way
    value: float
    cost: float

    @property
    def net(self) -> float:
        """What it saves after its cost."""
        return self.value - self.cost


def other_readings(study: Study, found: Iterable[Way]) -> Mapping[str, tuple[Way, ...]]:
    """For each reading, by its id, the same with the other instruments that suit it; only where there are some.

    Nothing but a size tells what can be laid on, and nothing but a spread what a finer one adds: a dimension that is
    missing or stale keeps its usual instrument, and so does one that is taken with more than an instrument.
    """
    at_hand: frozenset[str] | None = None
    others: dict[str, tuple[Way, ...]] = {}
    rare = frozenset(instrument_table()["not_in_every_garage"]["instruments"])
    for way in found:
        state = study.states.get(way.dimensions[0]) if way.means == "reading" else None
        if way.instrument is None or state is None or state.stale:
            continue
        dimension: Dimension = study.build.find("dimensions", state.id)
        suiting = [] if _set_up(dimension) else list(_in_place_of(way.instrument, dimension, state))
        if rare & set(suiting):
            at_hand = _named_anywhere(study.build) if at_hand is None else at_hand
            suiting = [each for each in suiting if each not in rare or each in at_hand]
        own = tuple(_with(way, each, dimension, state) for each in suiting)
        own = tuple(each for each in own if needs_reading(study, state.id) or each.spreads[0][1] < FINER * state.sd)
        if own:
            others[way.id] = own
    return others


def _set_up(dimension: Dimension) -> bool:
    """Whether it takes more than laying on an instrument: a straight edge, a plumb line, a string."""
    table = instrument_table()
    words = [tool.lower() for tool in dimension.tools]
    more = any(word in tool for word in table["in_place"]["not_with"] for tool in words)
    return more or dimension.provision or any(each not in table["minutes"] for each in named_instruments(dimension))


def _in_place_of(usual: Instrument, dimension: Dimension, state: DimensionState) -> Iterator[Instrument]:
    kind = parse_unit(dimension.unit).kind
    for instead_of, other, least, most in instrument_table()["in_place"].get(kind, ()):
        if instead_of == usual and (kind != "length" or least <= abs(state.value) <= most):
            yield other


def _named_anywhere(build: Build) -> frozenset[str]:
    """Instruments that the build tells of: named for a dimension, among tools, or used for a reading of one's own."""
    own = (Provenance.MEASURED, Provenance.STAND_IN)
    used = [item.instrument for item in build.readings if item.provenance in own and item.instrument is not None]
    among = instruments_among({tool for job in build.jobs for tool in job.tools})
    return frozenset([*used, *among, *(each for item in build.dimensions for each in named_instruments(item))])


def _with(way: Way, other: Instrument, dimension: Dimension, state: DimensionState) -> Way:
    """A reading with another instrument: getting at the place takes as long, laying on its own minutes."""
    minutes = instrument_table()["minutes"]
    takes = max(way.minutes + minutes[other] - minutes[way.instrument], min(way.minutes, minutes[other]))
    sd = instrument_sd(other, state.value, parse_unit(dimension.unit).kind)
    return replace(way, instrument=other, minutes=float(takes), spreads=((state.id, sd),))


def reckoned(study: Study, worth: Worth, usual: Way, others: Sequence[Way]) -> tuple[Reckoned, ...]:
    """A reading with its usual instrument, then with each other that could pay.

    A coarser one never tells more than the usual one, and none more than knowing for sure.
    """
    name, sd = usual.spreads[0]
    value = worth.of_dimension(name, sd)
    found = [Reckoned(usual, value, cost_of(study, usual))]
    for way in others:
        cost = cost_of(study, way)
        if (value if way.spreads[0][1] >= sd else worth.at_most(name)) > cost:
            found.append(Reckoned(way, worth.of_dimension(*way.spreads[0]), cost))
    return tuple(found)


def best_of(found: Sequence[Reckoned]) -> Reckoned:
    """The usual one, unless another pays and clearly saves more after its cost."""
    if len(found) == 1:
        return found[0]
    usual, best = found[0], max(found, key=lambda each: each.net)
    return best if best.net > 0 and clearly_better(best, usual) else usual


def clearly_better(one: Reckoned, other: Reckoned) -> bool:
    """Whether one leaves so much more than another that it is no accident of spreads and draws."""
    return one.net > other.net + CLEARLY * abs(other.net)


def weighed(found: Sequence[Reckoned]) -> tuple[Weighed, ...]:
    """What a report says of each; nothing where only one suits."""
    if len(found) < 2:
        return ()
    return tuple(Weighed(str(each.way.instrument), each.way.minutes, each.value, each.cost, each.net) for each in found)
