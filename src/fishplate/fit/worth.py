"""What knowing dimensions better would save, for each condition and for all.

A misfit can be put right now, or be left to chance and found late: one takes the lesser of `early` and P * `late`. A
reading changes P, and with it the choice. Each condition is a choice of its own. One dimension at a time is read off
the joint draws; several at once are simulated. Where readings are missing or stale they settle a condition together,
from a default chance of misfit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from .cells import Cells, Floats
from .preposterior import (
    PERFECT,
    reading_of,
    value_of_knowing,
    value_of_reading,
    value_of_signal,
)
from .rework import MISFIT_UNKNOWN, Rework
from .sampling import Evaluable
from .several_readings import SeveralReadings
from .study import Study

# Less than this in home currency is not worth reckoning.
_NOTHING = 0.01

Spreads = frozenset[tuple[str, float]]


def value_of_settling(rework: Rework, misfit: float) -> float:
    """Value of knowing for sure whether a condition holds, from its chance of misfit.

    Examples
    --------
    >>> value_of_settling(Rework(early=200, late=1000), 0.25)
    150.0
    """
    prior = {"holds": 1 - misfit, "fails": misfit}
    payoff = {
        "put right": dict.fromkeys(prior, -rework.early),
        "leave": {"holds": 0.0, "fails": -rework.late},
    }
    sure = {state: {other: float(other == state) for other in prior} for state in prior}
    return value_of_signal(prior, payoff, sure)


class Standing(Protocol):
    """How a condition stands: the chance that it holds, if it has one, and what it lacks."""

    @property
    def condition(self) -> str: ...
    @property
    def chance(self) -> float | None: ...
    @property
    def missing(self) -> tuple[str, ...]: ...
    @property
    def stale(self) -> tuple[str, ...]: ...


class Stands(NamedTuple):
    """How a condition stands, and nothing else of it."""

    condition: str
    chance: float | None
    missing: tuple[str, ...]
    stale: tuple[str, ...]


@dataclass(slots=True)
class _Open:
    """A condition that is still to be known: how it is evaluated, what it costs, what it lacks."""

    item: Evaluable | None
    row: int | None
    rework: Rework
    names: tuple[str, ...]
    lacking: frozenset[str]
    misfit: float
    settling: float = -1.0
    failing: NDArray[np.intp] | None = None
    by_cell: tuple[str, Floats] = "", np.empty(0)


class Worth:
    """Values of readings on one study; what was found is kept."""

    def __init__(self, study: Study, conditions: Sequence[Standing]) -> None:
        self.study = study
        self._open = {found.condition: self._opened(found) for found in conditions if self._counts(found)}
        self.by_dimension: dict[str, tuple[str, ...]] = {}
        for key, open_ in self._open.items():
            for name in open_.names:
                self.by_dimension[name] = (*self.by_dimension.get(name, ()), key)
        self._order: dict[str, NDArray[np.intp]] = {}
        self._several = SeveralReadings(study)
        self._joint: dict[tuple[str, Spreads], float] = {}

    def _counts(self, result: Standing) -> bool:
        if self.study.seen(result.condition) is not None:
            return False
        return result.condition not in self.study.certain or bool(result.stale)

    def _opened(self, result: Standing) -> _Open:
        study, row = self.study, self.study.position(result.condition)
        item = None if row is None else study.evaluable[row]
        names = study.build.find("conditions", result.condition).names
        misfit = MISFIT_UNKNOWN if result.chance is None else min(1 - result.chance, MISFIT_UNKNOWN)
        lacking = frozenset((*result.missing, *result.stale))
        return _Open(item, row, study.rework[result.condition], tuple(sorted(names)), lacking, misfit)

    # --- one dimension ---

    def of_dimension(self, name: str, sd: float) -> float:
        """Saving by one reading over all conditions it bears on; its share where others are lacking too."""
        keys = self.by_dimension.get(name, ())
        total = 0.0
        for key in keys:
            open_ = self._open[key]
            if name in open_.lacking:
                total += value_of_settling(open_.rework, open_.misfit) / len(open_.lacking)
        return total + sum(self._values(name, sd, [key for key in keys if not self._open[key].lacking]))

    def at_most(self, name: str) -> float:
        """No reading of a dimension saves more at conditions that lack nothing: they would be known for sure."""
        keys = [key for key in self.by_dimension.get(name, ()) if not self._open[key].lacking]
        return sum(self._open[key].settling for key in keys if self._matters(key))

    def _values(self, name: str, sd: float, keys: Sequence[str]) -> list[float]:
        """Saving at each condition that lacks nothing."""
        if not keys or name not in self.study.draws.row:
            return [0.0] * len(keys)
        cells = self.study.cells(name)
        if cells.width == 0:  # single precision can't tell its draws apart
            return [0.0] * len(keys)
        opens = [self._open[key] if self._matters(key) else None for key in keys]
        if not any(opens):
            return [0.0] * len(keys)
        if sd <= PERFECT * cells.width:
            order = self._order_of(name)
            return [0.0 if open_ is None else value_of_knowing(order, self._gain(open_)) for open_ in opens]
        reading = reading_of(cells, sd)
        return [
            0.0 if open_ is None else value_of_reading(reading, self._by_cell(open_, name, cells)) for open_ in opens
        ]

    def _matters(self, key: str) -> bool:
        """Whether even knowing a condition for sure would save anything to speak of."""
        open_ = self._open[key]
        if open_.settling < 0:
            misfits = self.study.sample.misfits[open_.row]
            open_.settling = value_of_settling(open_.rework, np.count_nonzero(misfits) / misfits.size)
        return open_.settling >= _NOTHING

    def _gain(self, open_: _Open) -> Floats:
        """Cost of leaving it, less that of putting it right, on each draw kept."""
        assert open_.row is not None
        gain: Floats = self.study.sample.misfits[open_.row] * open_.rework.late - open_.rework.early
        return gain

    def _by_cell(self, open_: _Open, name: str, cells: Cells) -> Floats:
        """The expected gain that falls into each cell: only draws that fail are counted one by one.

        What was found for a dimension is kept for its other instruments.
        """
        if open_.by_cell[0] == name:
            return open_.by_cell[1]
        if open_.failing is None:
            open_.failing = np.flatnonzero(self.study.sample.misfits[open_.row])
        failing = np.bincount(cells.cell[open_.failing], minlength=len(cells.share)) / cells.cell.size
        open_.by_cell = name, failing * open_.rework.late - cells.share * open_.rework.early
        return open_.by_cell[1]

    def _order_of(self, name: str) -> NDArray[np.intp]:
        if name not in self._order:
            self._order[name] = np.argsort(self.study.sample.values[self.study.draws.row[name]], kind="stable")
        return self._order[name]

    # --- several dimensions ---

    def of_set(self, spreads: Mapping[str, float]) -> float:
        """Saving by several readings together, over all conditions they bear on."""
        keys = {key for name in spreads for key in self.by_dimension.get(name, ())}
        return sum(self.at_condition(key, spreads) for key in sorted(keys))

    def at_condition(self, key: str, spreads: Mapping[str, float]) -> float:
        """Saving by several readings together at one condition."""
        open_ = self._open[key]
        told = frozenset((name, spreads[name]) for name in open_.names if name in spreads)
        if open_.lacking:
            whole = open_.lacking <= {name for name, _ in told}
            return value_of_settling(open_.rework, open_.misfit) if whole else 0.0
        told = frozenset(pair for pair in told if pair[0] in self.study.draws.row)
        if not told:
            return 0.0
        if (key, told) not in self._joint:
            self._joint[key, told] = self._together(key, open_, dict(told))
        return self._joint[key, told]

    def _together(self, key: str, open_: _Open, told: Mapping[str, float]) -> float:
        """Saving by readings at a condition that lacks nothing: never less than by one of them."""
        best = max(self._values(name, sd, [key])[0] for name, sd in told.items())
        if len(told) == 1 or not self._matters(key):
            return best
        assert open_.item is not None
        return max(best, self._several.value(open_.item, open_.rework, told))

    def conditions_of(self, names: Sequence[str]) -> tuple[str, ...]:
        """Conditions that any of the dimensions bears on."""
        return tuple(sorted({key for name in names for key in self.by_dimension.get(name, ())}))
