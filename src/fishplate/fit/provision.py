"""The value to make a dimension while its counterpart is unknown: too little against too much.

Made to a value, a provision errs by its own making, and its counterparts by what is not known of them. Each condition
that then fails costs its late rework; or, where the owner says what a piece made too small or too large costs, that.
The value with the least expected cost is taken, in the middle of its range where a range does equally well.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..build import Assumption, Build, Facts
from ..build.expression import Value
from ..build.interfaces import Dimension
from ..build.units import format_quantity, parse_unit
from .draws import JointDraws
from .growth import growth_factor
from .readings import DimensionState, dimension_states, instrument_sd
from .rework import Rework, rework_of
from .sampling import Ready, ready
from .sentences import chance_words, dimension_words
from .ways import instruments_for

GRID = 161
SCAN = 4001
ENDS = 6000
# Values whose expected cost is this much of what is at stake above the least are as good as the best; less where
# nothing stands against going further; and what draws alone can't tell from the least, as a share of it.
_AS_GOOD, _AS_GOOD_OPEN, _UNTOLD = 0.01, 0.001, 0.003
# Costs are evened out over neighbouring values, a tenth of a standard deviation each way.
_EVEN = np.array([1.0, 2.0, 3.0, 2.0, 1.0]) / 9
# Where the best value lies outside where it was looked for, it is looked for so many times farther out.
_FARTHER = 8.0
# Values are tried so many standard deviations beyond where all holds at the likely values, and twice as far on a side,
# at most so many times, where costs there still change by this share of all.
_REACH, _TIMES, _STILL = 3.5, 12, 0.01
# A value that holds less often than this is said to be the least bad one.
_UNLIKELY = 0.5

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Provision:
    """What to make a dimension.

    Parameters
    ----------
    value : in `unit`; None if no condition that names it can be evaluated
    low, high : values within which the expected cost is next to the least
    open_below, open_above : no condition sets a limit on that side
    chance : that all its conditions hold at the value; too_little, too_much : that it comes out too small, too large
    expected_cost : of misfits at the value, in home currency
    conditions : those that were weighed; missing : dimensions without which others could not be
    """

    dimension: str
    unit: str
    value: float | None
    low: float | None
    high: float | None
    open_below: bool
    open_above: bool
    chance: float | None
    too_little: float | None
    too_much: float | None
    expected_cost: float | None
    conditions: tuple[str, ...]
    missing: tuple[str, ...]
    text: str
    assumptions: tuple[Assumption, ...]


def provision(build: Build, facts: Facts, dimension: str, *, seed: int = 1, samples: int = 8_000) -> Provision:
    """The value to make a dimension, from the conditions that name it; raises KeyError for one that is not there."""
    made: Dimension = build.find("dimensions", dimension)
    naming = _naming(build, facts, dimension)
    names = sorted({name for item in naming for name in item.names} - {dimension})
    states, said = dimension_states(build, facts, names)
    weighed = [item for item in naming if all(name in states or name == dimension for name in item.names)]
    missing = tuple(sorted(set(names) - states.keys()))
    if made.designates is not None or not weighed:
        return _unknown(build, made, missing, said)
    rework, assumed = rework_of(build, [item.condition for item in weighed])
    error, also = _making(build, facts, made)
    used = {name: states[name] for item in weighed for name in item.names if name != dimension}
    draws = JointDraws({**used, dimension: error}, build.correlations, samples=samples, seed=seed)
    trial = _Trial(made, weighed, draws, rework)
    found = trial.best(states)
    if found is None:
        return _unknown(build, made, missing, said)
    return _found(build, made, trial, found, missing, (*said, *assumed, *also))


def _naming(build: Build, facts: Facts, dimension: str) -> list[Ready]:
    growth = {item.id: factor for item in build.dimensions if (factor := growth_factor(item)) != 1}
    wanted = [item for item in build.conditions if item.id in facts.wanted_conditions]
    unseen = [
        item for item in wanted if item.id not in facts.settled_conditions and item.interface not in facts.settled
    ]
    read = [ready(item, growth) for item in sorted(unseen, key=lambda item: item.id)]
    return [item for item in read if isinstance(item, Ready) and dimension in item.names]


def _making(build: Build, facts: Facts, made: Dimension) -> tuple[DimensionState, tuple[Assumption, ...]]:
    """By how much the piece made misses its value: as it was measured before, else as fine as it can be measured."""
    found, _ = dimension_states(build, facts, [made.id])
    state = found.get(made.id)
    if state is not None and state.own and not state.default:
        return DimensionState(made.id, 0.0, state.sd, state.shape), ()
    kind = parse_unit(made.unit).kind
    tool = instruments_for(made, None)[0]
    sd = instrument_sd(tool, 0.0 if state is None else state.value, kind)
    width = format_quantity(sd * 3**0.5 / parse_unit(made.unit).factor, made.unit, digits=2)
    text = f"{made.name}: made to ± {width}, as fine as it is measured with a {tool} (common practice)"
    return DimensionState(made.id, 0.0, sd, "rectangular"), (
        Assumption("making-default", f"dimension {made.id}", text),
    )


@dataclass(frozen=True, slots=True)
class _Failing:
    """Chance of failing at each value tried: of each condition by side, of any on each side, of any at all."""

    little: Floats
    much: Floats
    any_little: Floats
    any_much: Floats
    any_at_all: Floats


class _Trial:
    """A provision tried at many values, on the same draws."""

    def __init__(
        self, made: Dimension, items: Sequence[Ready], draws: JointDraws, rework: Mapping[str, Rework]
    ) -> None:  # fmt: skip
        self.made, self.items, self.rework = made, items, rework
        blocks = [block for replicate in range(8) for block in draws.blocks(replicate)]
        drawn = np.concatenate(blocks, axis=1).astype(np.float64)
        self.values: dict[str, Value] = {**draws.constants, **{name: drawn[row] for name, row in draws.row.items()}}
        error = np.asarray(self.values.pop(made.id), dtype=np.float64)
        self.error = np.broadcast_to(error, drawn.shape[1] if len(drawn) else 1)
        self.step = 1e-3
        self.windows: list[tuple[float, float]] = []
        self._angle = parse_unit(made.unit).kind == "angle"

    def best(self, states: Mapping[str, DimensionState]) -> tuple[float, float, float, bool, bool] | None:
        """The value, its range as good, and whether nothing limits it below or above; None if no value is better."""
        likely = {name: state.value for name, state in states.items()}
        self.windows = [self._window(item, likely) for item in self.items]
        below, above = (all(np.isinf(window[end]) for window in self.windows) for end in (0, 1))
        ends = [end for window in self.windows for end in window if np.isfinite(end)]
        if not ends:
            return None
        self.step = max(1e-3, 1e-4 * max(map(abs, ends)))
        grid, costs = self._dip(min(ends), max(ends))
        least, most = float(costs.min()), float(costs.max())
        if most - least <= 1e-9 * most:
            return None
        if below != above:
            start, end = _around(costs, GRID - 1 if above else 0, least + _AS_GOOD_OPEN * (most - least))
            return float(grid[start if above else end]), float(grid[start]), float(grid[end]), below, above
        # by what the cheaper of the two mistakes costs: the dearer one would hide how it leans
        stake = min(float(costs[0]), float(costs[-1])) - least
        start, end = _around(costs, int(costs.argmin()), least + _AS_GOOD * stake + _UNTOLD * least)
        return self._lowest(float(grid[start]), float(grid[end])), float(grid[start]), float(grid[end]), below, above

    def _dip(self, low: float, high: float) -> tuple[Floats, Floats]:
        """Values beyond where all holds on either side, as far as costs still change, and what each costs.

        No farther: a cheap misfit is not made certain only to be safe from a dear one.
        """
        before = after = _REACH * self._slack((low + high) / 2)
        for _ in range(_TIMES):
            grid = np.linspace(low - before, high + after, GRID)
            costs = np.convolve(np.pad(self.costs(grid), len(_EVEN) // 2, mode="edge"), _EVEN, mode="valid")
            still = _STILL * float(np.ptp(costs))
            steep = (
                abs(float(costs[GRID // 20] - costs[0])) > still,
                abs(float(costs[-1 - GRID // 20] - costs[-1])) > still,
            )
            if not any(steep):
                break
            before, after = before * (2 if steep[0] else 1), after * (2 if steep[1] else 1)
        return grid, costs

    def _lowest(self, low: float, high: float) -> float:
        """The middle of the dip between two values, each weighted by how deep it lies: single draws don't decide it."""
        grid = np.linspace(low, high, GRID)
        costs = self.costs(grid)
        depth = np.maximum(costs[0], costs[-1]) - costs
        weights = np.maximum(depth, 0.0) ** 3
        return float(grid @ weights / weights.sum()) if weights.sum() > 0 else (low + high) / 2

    def _window(self, item: Ready, likely: Mapping[str, float]) -> tuple[float, float]:
        """Where a condition holds at the likely values: infinite where it never ends, one value if it never does."""
        size = self._size(item, likely)
        centre, step = 0.0, 0.0
        for reach in (size * _FARTHER**time for time in range(5)):
            grid = np.linspace(-reach, reach, SCAN)
            at = _widest(grid, self._room(item, likely, grid))
            inside = 0 < at < SCAN - 1
            if step == 0 or inside or not self._holds(item, likely, centre):
                centre, step = float(grid[at]), float(grid[1] - grid[0])
            if inside or self._angle:
                break
        for _ in range(3):
            grid = np.append(np.linspace(centre - 20 * step, centre + 20 * step, SCAN), centre)
            centre = float(grid[_widest(grid, self._room(item, likely, grid))])
            step = float(grid[1] - grid[0])
        return self._end(item, likely, centre, -size), self._end(item, likely, centre, size)

    def _size(self, item: Ready, likely: Mapping[str, float]) -> float:
        """A length the value is of the order of; of an angle half a turn."""
        if self._angle:
            return float(np.pi)
        sizes = [abs(likely[name]) for name in item.names if name != self.made.id]
        apart = [each for each in (item.expression, item.at_least, item.at_most) if each is not None]
        sizes += [abs(float(each.evaluate(likely))) for each in apart if self.made.id not in each.names]
        return 2 * max(sizes, default=1.0) + 1.0

    def _holds(self, item: Ready, likely: Mapping[str, float], value: float) -> bool:
        return bool(self._room(item, likely, np.array([value]))[0] >= 0)

    def _end(self, item: Ready, likely: Mapping[str, float], centre: float, size: float) -> float:
        """Where a condition no longer holds, gone from the centre the way of the size's sign."""
        if not self._holds(item, likely, centre):
            return centre
        steps = centre + size * np.geomspace(1e-9, 1 if self._angle else _FARTHER**4, ENDS)
        fails = np.flatnonzero(self._room(item, likely, steps) < 0)
        if not len(fails):
            return float(np.copysign(np.inf, size))
        good, bad = centre if fails[0] == 0 else float(steps[fails[0] - 1]), float(steps[fails[0]])
        for _ in range(50):
            middle = (good + bad) / 2
            good, bad = (middle, bad) if self._holds(item, likely, middle) else (good, middle)
        return good

    def _room(self, item: Ready, likely: Mapping[str, float], grid: Floats) -> Floats:
        """Margin of a condition at the likely values; not-a-number counts as none."""
        with np.errstate(all="ignore"):
            margin = np.asarray(item.evaluate({**likely, self.made.id: grid})[1], dtype=float)
        room: Floats = np.nan_to_num(np.broadcast_to(margin, grid.shape), nan=-np.inf)
        return room

    def _slack(self, value: float) -> float:
        """How far a condition moves by what is not known, in terms of the value: the most of any."""
        found = [1e-9 * max(1.0, abs(value)), float(self.error.std())]
        for item in self.items:
            with np.errstate(all="ignore"):
                here, there = (
                    np.asarray(item.evaluate({**self.values, self.made.id: at + self.error})[0])
                    for at in (value, value + self.step)
                )
            slopes = np.abs(there - here)[np.isfinite(there - here)]
            if slopes.size and slopes.mean() > 0:
                found.append(float(here[np.isfinite(here)].std() / slopes.mean()) * self.step)
        return max(found)

    def costs(self, grid: Floats) -> Floats:
        """Expected cost of misfits at each value."""
        failing = self.failing(grid)
        late = np.array([self.rework[item.condition.id].late for item in self.items])
        little, much = self.made.too_little_cost, self.made.too_much_cost
        costs: Floats = late @ failing.little if little is None else little * failing.any_little
        return costs + (late @ failing.much if much is None else much * failing.any_much)

    def doubtful(self, value: float) -> str | None:
        """The counterpart that moves the conditions most; None if no value would do even then, or none moves them."""
        if max(low for low, _ in self.windows) >= min(high for _, high in self.windows):
            return None
        moved: dict[str, float] = {}
        for item in self.items:
            with np.errstate(all="ignore"):
                room = np.asarray(item.evaluate({**self.values, self.made.id: value + self.error})[0])
            drawn = {**self.values, self.made.id: self.error}
            for name in item.names:
                if np.ndim(drawn[name]) and np.isfinite(room).all() and np.std(room) * np.std(drawn[name]) > 0:
                    moved[name] = max(moved.get(name, 0.0), abs(float(np.corrcoef(room, drawn[name])[0, 1])))
        most = max(moved, key=lambda name: (moved[name], name), default=None)
        return None if most == self.made.id else most

    def failing(self, grid: Floats) -> _Failing:
        """How often each condition fails on each side, at each value."""
        sides = [self._sides(item, window, grid) for item, window in zip(self.items, self.windows, strict=True)]
        little, much = (np.array([side[position] for side in sides]) for position in (0, 1))
        any_little, any_much = little.any(axis=0), much.any(axis=0)
        return _Failing(
            little.mean(axis=2), much.mean(axis=2), any_little.mean(axis=1), any_much.mean(axis=1),
            (any_little | any_much).mean(axis=1),
        )  # fmt: skip

    def _sides(
        self, item: Ready, window: tuple[float, float], grid: Floats
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Draws that fail for too little, and for too much: (values tried, draws) each.

        It is too little where more of it would give more room; where that is not to be told, below the middle.
        """
        shape = (len(grid), self.error.size)
        with np.errstate(all="ignore"):
            less, here, more = (
                np.broadcast_to(
                    np.asarray(item.evaluate({**self.values, self.made.id: grid[:, None] + by + self.error})[1]), shape
                )
                for by in (-self.step, 0.0, self.step)
            )
        fails = ~(here >= 0)
        beneath = np.isinf(window[1]) if np.isinf(window).any() else grid[:, None] < np.mean(window)
        little = fails & np.where(more == less, beneath, more > less)
        little = np.where(np.isnan(more - less), fails & beneath, little)
        return little, fails & ~little


def _widest(grid: Floats, room: Floats) -> int:
    """Where there is most room: not below nought where it holds above, and of equals the one nearest to nought."""
    usual = (grid >= 0) & (room >= 0)
    known = np.where(usual, room, -np.inf) if usual.any() else room
    equals = np.flatnonzero(known >= known.max() - 1e-9 * abs(known.max()))
    return int(min(equals, key=lambda at: (grid[at] < 0, abs(grid[at]))))


def _around(costs: Floats, at: int, allowed: float) -> tuple[int, int]:
    """First and last of the values next to one of them that cost no more than is allowed."""
    dear = costs > allowed
    before, after = np.flatnonzero(dear[:at]), np.flatnonzero(dear[at:])
    return (int(before[-1]) + 1 if len(before) else 0), (at + int(after[0]) - 1 if len(after) else len(costs) - 1)


def _found(
    build: Build, made: Dimension, trial: _Trial, found: tuple[float, float, float, bool, bool],
    missing: tuple[str, ...], said: Iterable[Assumption],
) -> Provision:  # fmt: skip
    best, low, high, below, above = found
    at = np.array([best])
    failing, factor = trial.failing(at), parse_unit(made.unit).factor
    chance = 1 - float(failing.any_at_all[0])
    edge = 0.5 / trial.error.size
    result = Provision(
        dimension=made.id,
        unit=made.unit,
        value=best / factor,
        low=low / factor,
        high=high / factor,
        open_below=below,
        open_above=above,
        chance=min(max(chance, edge), 1 - edge),
        too_little=float(failing.any_little[0]),
        too_much=float(failing.any_much[0]),
        expected_cost=float(trial.costs(at)[0]),
        conditions=tuple(item.condition.id for item in trial.items),
        missing=missing,
        text="",
        assumptions=tuple(sorted(set(said))),
    )
    return replace(result, text=_text(build, made, result, trial))


def _unknown(
    build: Build, made: Dimension, missing: tuple[str, ...], said: Iterable[Assumption]
) -> Provision:  # fmt: skip
    if missing:
        text = f"{made.name}: nothing to go by; there is no reading of {dimension_words(build, missing)}."
    else:
        text = f"{made.name}: no open condition depends on it, so nothing says what to make it."
    return Provision(
        made.id, made.unit, None, None, None, False, False, None, None, None, None, (), missing, text,
        tuple(sorted(set(said))),
    )  # fmt: skip


def _text(build: Build, made: Dimension, found: Provision, trial: _Trial) -> str:
    assert found.value is not None
    assert found.low is not None
    assert found.high is not None
    assert found.chance is not None
    open_ = found.open_below or found.open_above
    factor = parse_unit(made.unit).factor
    finest = float(trial.error.std()) / factor / 2 if open_ else (found.high - found.low) / 4
    # never rounded towards what does less well
    value = _rounded(found.value, finest, up=found.open_above, down=found.open_below)
    low, high = _rounded(found.low, finest, up=True), _rounded(found.high, finest, down=True)
    shown = [format_quantity(each, made.unit, digits=6) for each in (value, low, high)]
    at = "at least " if found.open_above else "at most " if found.open_below else ""
    range_ = "" if open_ or low >= high else f"; anywhere from {shown[1]} to {shown[2]} does about as well"
    odds = f"{chance_words(found.chance)} chance that all holds"
    lean = _lean(found)
    cost = f"{found.expected_cost:.0f} {build.owner.currency} of rework to be expected"
    without = f" What may still change it: {dimension_words(build, found.missing)}." if found.missing else ""
    if found.chance < _UNLIKELY:
        first = trial.doubtful(found.value * factor)
        why = (
            "" if first is None else f" while {dimension_words(build, [first])} is known no better: measure that first"
        )
        without = f" No value is likely to do{why or '; this one is the cheapest to put right'}.{without}"
    return f"{made.name}: make it {at}{shown[0]}; {odds}, {cost}{lean}{range_}.{without}"


def _rounded(value: float, finest: float, *, up: bool = False, down: bool = False) -> float:
    """A value to as many places as its worth is told to.

    Examples
    --------
    >>> _rounded(18.0634, 0.4), _rounded(18.0634, 0.4, up=True), _rounded(1547.6, 30.0)
    (18.1, 18.1, 1550.0)
    """
    if not finest > 0:
        return value
    places = -math.floor(math.log10(finest))
    step: float = 10.0**-places
    whole = math.ceil(value / step - 1e-9) if up else math.floor(value / step + 1e-9) if down else round(value / step)
    return round(whole * step, max(places, 0))


def _lean(found: Provision) -> str:
    """Which way it errs, where one is twice as likely as the other."""
    little, much = found.too_little or 0.0, found.too_much or 0.0
    if max(little, much) < 0.005:
        return ""
    if little > 2 * much:
        return "; if it errs, it is too little"
    return "; if it errs, it is too much" if much > 2 * little else "; it may err either way"
