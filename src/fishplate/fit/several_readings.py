"""What several readings save together at one condition.

What they tell is put into one figure: the condition with every dimension at what is to be expected of it given all
readings. Between normal dimensions that err alone or together, and for a condition that is linear in them, that figure
says all there is to be said, and it is drawn as often as the dimensions were. What the readings tell beyond it, where
spreads have bounds or the condition bends, is added from fewer readings, for each of which what it leaves open is
drawn again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from ..build.expression import Value
from .cells import Floats
from .draws import Drawn
from .normal import normal_scores
from .preposterior import spread_in_cells, value_by_figure, value_of_knowing
from .rework import Rework
from .sampling import Evaluable
from .study import Study

Key = TypeVar("Key")
Kept = TypeVar("Kept")

# Errors drawn for every draw of the dimensions.
REPEATS = 4
# Readings simulated to the full, and draws of what each leaves open.
OUTER = 512
INNER = 256
# What was drawn for so many dimensions is kept at hand.
AT_HAND = 48


@dataclass(frozen=True, slots=True)
class _Told:
    """Readings of some of a condition's dimensions, which are `names`; those `at` the places are read.

    Parameters
    ----------
    noise : standard deviation of each reading, as a multiple of what is not known of its dimension
    pull : (names, read) how far each dimension follows each reading, all in standard deviations
    """

    item: Evaluable
    names: tuple[str, ...]
    at: tuple[int, ...]
    noise: Floats
    pull: Floats
    linked: bool


class SeveralReadings:
    """Values of sets of readings on one study."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self._errors: dict[tuple[str, int], Drawn] = {}
        self._opened: dict[tuple[str, float], tuple[Drawn, Drawn]] = {}

    def value(self, item: Evaluable, rework: Rework, told: Mapping[str, float]) -> float:
        """Expected saving by readings with these standard deviations, in home currency."""
        readings = self._told(item, told)
        found = self._by_one_figure(readings, rework)
        # where dimensions err together what is left open hangs together too; there one figure has to do
        return found if readings.linked else found + self._beyond(readings, rework)

    def _told(self, item: Evaluable, told: Mapping[str, float]) -> _Told:
        study = self.study
        names = tuple(name for name in item.names if name in study.draws.row)
        rows = [study.draws.row[name] for name in names]
        correlation = study.draws.correlation[np.ix_(rows, rows)]
        at = tuple(place for place, name in enumerate(names) if name in told)
        noise = np.array([told[names[place]] / study.states[names[place]].sd for place in at])
        read = correlation[np.ix_(at, at)] + np.diag(noise**2)
        pull: Floats = correlation[:, at] @ np.linalg.pinv(read)
        return _Told(item, names, at, noise, pull, study.draws.linked(names))

    # --- one figure ---

    def _by_one_figure(self, told: _Told, rework: Rework) -> float:
        study = self.study
        rows = [study.draws.row[told.names[place]] for place in told.at]
        true = (study.sample.values[rows] - self._middle(told, told.at)) / self._spread(told, told.at)
        count = true.shape[1] * REPEATS
        scores = np.tile(true, REPEATS)
        for position, place in enumerate(told.at):
            scores[position] += told.noise[position] * self._error(told.names[place], count)
        fails = np.tile(study.sample.misfits[study.rows[told.item.condition.id]], REPEATS)
        return value_by_figure(self._figure(told, scores), fails * rework.late - rework.early)

    def _figure(self, told: _Told, scores: Floats) -> Floats:
        """The condition at what is to be expected given readings, (read, readings) in standard deviations."""
        # no matrix product: its sum depends on the number of threads
        expected = self._middle(told) + self._spread(told) * np.einsum("ij,jk->ik", told.pull, scores)
        values: dict[str, Value] = {**self.study.draws.constants, **dict(zip(told.names, expected, strict=True))}
        with np.errstate(all="ignore"):
            varying, _ = told.item.evaluate(values)
        return np.array(np.broadcast_to(np.asarray(varying, dtype=np.float64), scores.shape[1]))

    def _middle(self, told: _Told, at: tuple[int, ...] | None = None) -> Floats:
        names = told.names if at is None else [told.names[place] for place in at]
        return np.array([[self.study.states[name].value] for name in names])

    def _spread(self, told: _Told, at: tuple[int, ...] | None = None) -> Floats:
        names = told.names if at is None else [told.names[place] for place in at]
        return np.array([[self.study.states[name].sd] for name in names])

    def _error(self, name: str, count: int) -> Drawn:
        """Evenly spread normal errors of readings of a dimension, in an order of their own."""
        if (name, count) not in self._errors:
            order = np.random.default_rng([self.study.draws.seed, 2, self.study.draws.row[name]]).permutation(count)
            scores = ((order[None, :] + 0.5) / count).astype(np.float32)
            normal_scores(scores)
            _put(self._errors, (name, count), scores[0])
        return self._errors[name, count]

    # --- beyond it ---

    def _beyond(self, told: _Told, rework: Rework) -> float:
        """What choosing by all readings saves over choosing by the one figure; both on the same readings."""
        study, outer = self.study, min(OUTER, int(self.study.sample.values.shape[1]))
        values: dict[str, Value] = dict(study.draws.constants)
        scores = np.empty((len(told.at), outer))
        rest = study.sample.values[:, -INNER:]
        for place, name in enumerate(told.names):
            if place not in told.at:
                values[name] = np.tile(rest[study.draws.row[name]], outer)
                continue
            position, state = told.at.index(place), study.states[name]
            readings, left = self._left_open(name, float(told.noise[position] * state.sd))
            scores[position] = (readings - state.value) / state.sd
            values[name] = left.reshape(-1)
        with np.errstate(all="ignore"):
            _, margin = told.item.evaluate(values)
        expected = (~(np.asarray(margin) >= 0)).reshape(outer, -1).mean(axis=1) * rework.late - rework.early
        by_all = max(0.0, min(float(expected.mean()), 0.0) - float(np.minimum(expected, 0).mean()))
        by_one = value_of_knowing(np.argsort(self._figure(told, scores), kind="stable"), expected)
        return max(0.0, by_all - by_one)

    def _left_open(self, name: str, sd: float) -> tuple[Drawn, Drawn]:
        """Readings of a dimension, (readings,), and draws of it given each of them, (readings, draws)."""
        if (name, sd) not in self._opened:
            row = self.study.draws.row[name]
            true = self.study.sample.values[row, :OUTER].astype(np.float64)
            readings: Floats = true + sd * self._error(name, true.size)
            left: Floats = self._given(name, readings, sd) if sd else np.repeat(readings[:, None], self._inner, axis=1)
            _put(self._opened, (name, sd), (readings, left.astype(np.float32)))
        return self._opened[name, sd]

    def _given(self, name: str, readings: Floats, sd: float) -> Floats:
        cells = self.study.cells(name)
        apart = ((readings[:, None] - cells.middle) / spread_in_cells(cells, sd)) ** 2
        weights = cells.share * np.exp(-0.5 * (apart - apart.min(axis=1, keepdims=True)))
        upper = np.cumsum(weights, axis=1)
        middle = (upper - weights / 2) / upper[:, -1:]
        order = np.random.default_rng([self.study.draws.seed, 1, self.study.draws.row[name]]).permutation(self._inner)
        ranks = (order + 0.5) / self._inner
        return np.array([np.interp(ranks, row, cells.middle) for row in middle])

    @property
    def _inner(self) -> int:
        return min(INNER, int(self.study.sample.values.shape[1]))


def _put(kept: dict[Key, Kept], key: Key, value: Kept) -> None:
    """Keep a value, and let the one kept longest go where there are many."""
    if len(kept) >= AT_HAND:
        del kept[next(iter(kept))]
    kept[key] = value
