"""What is known of each dimension: its readings pooled by their spreads, and whether they still hold."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

from ..build import Assumption, Build, Facts
from ..build.designations import parse_designation
from ..build.interfaces import Dimension, Instrument, Provenance, Reading, SpreadMeaning
from ..build.units import format_quantity, parse_unit
from ..build.words import day_words
from .normal import chi_square_tail

Shape = Literal["exact", "rectangular", "triangular", "normal"]

# Half-width over standard deviation, by shape; a normal one has no bounds, and three are taken where bounds are asked.
WIDTHS = {"exact": 0.0, "rectangular": math.sqrt(3), "triangular": math.sqrt(6), "normal": 3.0}
_OWN = (Provenance.MEASURED, Provenance.STAND_IN)
_DISAGREE = 0.05


@dataclass(frozen=True, slots=True)
class DimensionState:
    """What is known of one dimension, in internal units.

    Parameters
    ----------
    value : likely value; sd : standard deviation; shape : of its distribution, even about the value
    default : most of what is known of it rests on spreads taken from the table, not stated
    stale : every reading of it was taken before the state it was taken against changed
    own : it was measured, or settled with a stand-in, on this vehicle
    designation : instead of a number; the value is then an even draw from 0 to 1, which is right below `right`
    instrument : of the reading that says most; None if it was not measured
    """

    id: str
    value: float
    sd: float
    shape: Shape
    default: bool = False
    stale: bool = False
    own: bool = False
    designation: str = ""
    right: float = 1.0
    instrument: Instrument | None = None

    @property
    def half_width(self) -> float:
        """Distance from the value to its bounds; three standard deviations for a normal one."""
        return self.sd * WIDTHS[self.shape]

    @property
    def random(self) -> bool:
        """Whether it is anything but exact."""
        return self.sd > 0


@dataclass(frozen=True, slots=True)
class _Spread:
    value: float
    sd: float
    shape: Shape
    default: bool


def dimension_states(
    build: Build, facts: Facts, names: Sequence[str]
) -> tuple[Mapping[str, DimensionState], tuple[Assumption, ...]]:
    """What is known of the named dimensions on the day of the facts; those without a reading are left out."""
    found: dict[str, DimensionState] = {}
    assumptions: list[Assumption] = []
    readings: dict[str, list[Reading]] = {}
    for reading in build.readings:
        if reading.day <= facts.as_of:
            readings.setdefault(reading.dimension, []).append(reading)
    stand_ins = _stand_in_spreads(build)
    readings.update(_given(build, facts))
    for name in names:
        dimension = build.find("dimensions", name)
        taken = sorted(readings.get(name, ()), key=lambda reading: reading.id)
        state, said = _state_of(dimension, taken, facts, stand_ins.get(name))
        assumptions += said
        if state is not None:
            found[name] = state
    return found, tuple(assumptions)


def _given(build: Build, facts: Facts) -> dict[str, list[Reading]]:
    """Readings in whose place the options planned with give dimensions; own ones taken since one was decided count."""
    found = dict[str, list[Reading]]()
    for decision in build.decisions:
        choice = facts.choices[decision.id]
        for item in choice.option.dimensions:
            since = decision.chosen_on or facts.as_of
            own = [
                reading
                for reading in build.readings
                if choice.decided and reading.dimension == item.dimension and reading.provenance in _OWN
                and since <= reading.day <= facts.as_of
            ]  # fmt: skip
            if own:
                found[item.dimension] = own
            else:
                said = Reading(id=f"given-{choice.option.id}"[:80], day=facts.as_of, **item.model_dump())
                found.setdefault(item.dimension, []).append(said)
    return found


def _stand_in_spreads(build: Build) -> dict[str, float]:
    """Spread a stand-in gives the dimensions it settles, in each dimension's unit."""
    return {
        name: item.spread
        for item in reversed(build.stand_ins)
        if item.spread is not None
        for name in item.dimensions
    }  # fmt: skip


def _state_of(
    dimension: Dimension, readings: Sequence[Reading], facts: Facts, stand_in: float | None
) -> tuple[DimensionState | None, list[Assumption]]:  # fmt: skip
    fresh = [reading for reading in readings if not is_stale(reading, facts)]
    used, stale = (fresh, False) if fresh else (readings, True)
    if not used:
        return None, []
    assumptions = [_same_day_said(dimension, reading) for reading in used if _of_the_day(reading, facts)]
    if dimension.designates is not None:
        state, said = _designated(dimension, used, stale)
        return state, [*assumptions, *said]
    spreads = [_spread_of(dimension, reading, stale, stand_in) for reading in used]
    for reading, spread in zip(used, spreads, strict=True):
        if spread.default:
            assumptions.append(_default_said(dimension, reading, spread, stale))
    value, sd, shape, ratio = pool([(item.value, item.sd, item.shape) for item in spreads])
    if ratio > 1:
        assumptions.append(_disagreement_said(dimension, len(used), ratio))
    default = _rests_on_defaults(spreads)
    own = any(reading.provenance in _OWN for reading in used)
    finest = min(zip(spreads, used, strict=True), key=lambda pair: pair[0].sd)[1]
    instrument = finest.instrument if finest.provenance in _OWN else None
    return DimensionState(dimension.id, value, sd, shape, default, stale, own, instrument=instrument), assumptions


def _designated(
    dimension: Dimension, used: Sequence[Reading], stale: bool
) -> tuple[DimensionState, list[Assumption]]:  # fmt: skip
    """The designation of the most trusted reading, the latest of them; halved in trust if another own one differs."""
    order = list(Provenance)
    best = min(used, key=lambda reading: (order.index(reading.provenance), -reading.day.toordinal(), reading.id))
    family = dimension.designates
    assert family is not None
    meant = parse_designation(best.designation, family)
    figures = replace(meant, text="")
    others = [item for item in used if replace(parse_designation(item.designation, family), text="") != figures]
    right: float = _table()["designation_right"]["estimate" if stale else best.provenance]
    about = f"dimension {dimension.id}"
    whence = "taken before a change" if stale else best.provenance
    often = f"is taken to be right {1000 * right:.0f} times in 1000 (our own default)"
    text = f"{dimension.name}: {best.designation} ({whence}) {often}"
    said = [Assumption("designation-default", about, text)]
    if any(item.provenance in _OWN or best.provenance not in _OWN for item in others):
        right /= 2
        text = f"{dimension.name}: its readings name {1 + len(others)} designations; find out which is right"
        said.append(Assumption("readings-disagree", about, text))
    own = best.provenance in _OWN
    state = DimensionState(
        dimension.id, 0.5, 0.5 / WIDTHS["rectangular"], "rectangular", False, stale, own, meant.text, right,
        best.instrument if own else None,
    )  # fmt: skip
    return state, said


def _rests_on_defaults(spreads: Sequence[_Spread]) -> bool:
    """Whether readings with a default spread carry most of the weight."""
    if len(spreads) == 1:
        return spreads[0].default and spreads[0].sd > 0
    least = min(item.sd for item in spreads)
    if least == 0:
        return False
    weights = [(least / item.sd) ** 2 for item in spreads]
    taken = math.fsum(weight for weight, item in zip(weights, spreads, strict=True) if item.default)
    return taken > 0.5 * math.fsum(weights)


def is_stale(reading: Reading, facts: Facts) -> bool:
    """Whether the state a reading was taken against changed after its day."""
    changed = None if reading.against is None else facts.state_changed.get(reading.against)
    return changed is not None and changed > reading.day


def _of_the_day(reading: Reading, facts: Facts) -> bool:
    """Whether the state a reading was taken against changed on its very day."""
    return reading.against is not None and facts.state_changed.get(reading.against) == reading.day


def _same_day_said(dimension: Dimension, reading: Reading) -> Assumption:
    text = f"{dimension.name}: its reading of {day_words(reading.day)} counts as taken after the change of the same day"
    return Assumption("same-day-reading", f"dimension {dimension.id}", text)


def pool(readings: Sequence[tuple[float, float, Shape]]) -> tuple[float, float, Shape, float]:
    """Readings of one thing as one: mean weighted by inverse variance.

    Parameters
    ----------
    readings : value, standard deviation and shape of each, in one unit

    Returns
    -------
    value, standard deviation, shape (normal where there are several), and the ratio by which the spread was widened:
    1 unless the readings disagree by more than their spreads allow (chi-square, 5 %), then sqrt(chi-square / (n - 1))

    Notes
    -----
    Weighted mean and widening as in R. T. Birge, Phys. Rev. 40 (1932) 207. Readings without spread outweigh all others.

    Examples
    --------
    >>> pool([(10.0, 3.0, "normal"), (16.0, 6.0, "normal")])
    (11.2, 2.683, 'normal', 1.0)
    """
    if len(readings) == 1:
        value, sd, shape = readings[0]
        return value, sd, shape if sd > 0 else "exact", 1.0
    exact = [value for value, sd, _ in readings if sd == 0]
    if exact:
        mean = math.fsum(exact) / len(exact)
        sd = math.sqrt(math.fsum((value - mean) ** 2 for value in exact) / max(1, len(exact) - 1))
        return mean, sd, "normal" if sd > 0 else "exact", 2.0 if sd > 0 else 1.0
    # against the smallest spread, so that no weight overflows
    least = min(sd for _, sd, _ in readings)
    weights = [(least / sd) ** 2 for _, sd, _ in readings]
    total = math.fsum(weights)
    mean = math.fsum(weight * value for weight, (value, _, _) in zip(weights, readings, strict=True)) / total
    square = math.fsum(((value - mean) / sd) ** 2 for value, sd, _ in readings)
    freedom = len(readings) - 1
    ratio = math.sqrt(square / freedom) if square > freedom and chi_square_tail(freedom, square) < _DISAGREE else 1.0
    return mean, ratio * least / math.sqrt(total), "normal", ratio


def _spread_of(dimension: Dimension, reading: Reading, stale: bool, stand_in: float | None) -> _Spread:
    unit = parse_unit(dimension.unit)
    assert reading.value is not None  # a dimension that takes a number has no other readings
    value = reading.value * unit.factor
    spread, default = reading.spread, False
    if spread is None and reading.provenance is Provenance.STAND_IN:
        spread = stand_in
    if spread is None:
        half_width, default = default_half_width(reading, value, unit.kind), True
        sd, shape = half_width / WIDTHS["rectangular"], "rectangular"
    else:
        sd, shape = _standard_deviation(abs(spread * unit.factor), reading.spread_means)
    if stale:
        guess = _half_width(_table()["provenance"]["estimate"], value, unit.kind) / WIDTHS["rectangular"]
        if guess > sd:
            sd, shape, default = guess, "rectangular", True
    return _Spread(value, sd, shape, default)  # type: ignore[arg-type]


def _standard_deviation(spread: float, meaning: SpreadMeaning) -> tuple[float, Shape]:
    match meaning:
        case SpreadMeaning.LIMITS:
            return spread / WIDTHS["rectangular"], "rectangular"
        case SpreadMeaning.LIMITS_TRIANGULAR:
            return spread / WIDTHS["triangular"], "triangular"
        case SpreadMeaning.STANDARD_DEVIATION:
            return spread, "normal"
        case SpreadMeaning.EXPANDED:
            return spread / 2, "normal"


def default_half_width(reading: Reading, value: float, kind: str) -> float:
    """Half-width of the limits of a reading that states no spread, in the internal unit of its kind."""
    table = _table()
    if reading.provenance in _OWN and reading.instrument is not None:
        return _half_width(table["instrument"][reading.instrument], value, kind)
    return _half_width(table["provenance"][reading.provenance], value, kind)


def instrument_sd(instrument: Instrument, value: float, kind: str) -> float:
    """Standard deviation usual for a reading with an instrument, in the internal unit of its kind."""
    return _half_width(_table()["instrument"][instrument], value, kind) / WIDTHS["rectangular"]


def provenance_sd(provenance: Provenance, value: float, kind: str) -> float:
    """Standard deviation usual for a figure from a source, in the internal unit of its kind."""
    return _half_width(_table()["provenance"][provenance], value, kind) / WIDTHS["rectangular"]


def _half_width(row: Mapping[str, float], value: float, kind: str) -> float:
    absolute = {"length": row.get("length_mm", 0.0), "angle": math.radians(row.get("angle_deg", 0.0))}.get(kind, 0.0)
    # a share of an angle says nothing: zero is only where one counts from
    relative = 0.0 if kind == "angle" and absolute else row.get("percent", 0.0) / 100 * abs(value)
    return max(absolute, relative)


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("fishplate.fit").joinpath("data/default_spreads.toml").read_text("utf-8"))


def _default_said(dimension: Dimension, reading: Reading, spread: _Spread, stale: bool) -> Assumption:
    about = f"dimension {dimension.id}"
    width = spread.sd * WIDTHS["rectangular"] / parse_unit(dimension.unit).factor
    shown = format_quantity(width, dimension.unit, digits=2)
    if stale:
        text = (
            f"{dimension.name}: an old reading taken before a change counts as an estimate, ± {shown} (common practice)"
        )
        return Assumption("stale-as-estimate", about, text)
    means = reading.instrument if reading.provenance in _OWN and reading.instrument else f"{reading.provenance} value"
    text = f"{dimension.name}: ± {shown} taken as limits, usual for a {means} (common practice)"
    return Assumption("spread-default", about, text.replace("a estimate", "an estimate").replace("a angle", "an angle"))


def _disagreement_said(dimension: Dimension, count: int, ratio: float) -> Assumption:
    text = (
        f"{dimension.name}: its {count} readings disagree by more than their spreads allow, "
        f"so the spread was widened {ratio:.2g} times; find out which is wrong"
    )
    return Assumption("readings-disagree", f"dimension {dimension.id}", text)
