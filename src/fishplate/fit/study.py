"""What one assessment works on: conditions, what is known of their dimensions, and the joint draws."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from ..build import Assumption, Build, Facts
from ..build.expression import Expression
from ..build.interfaces import Settled
from ..build.units import INTERNAL_UNITS, parse_unit
from .cells import Cells, cells_of
from .draws import JointDraws, made_from
from .growth import growth_factor
from .intervals import Bounds, bounds_of
from .readings import DimensionState, dimension_states
from .rework import Rework, rework_of
from .sampling import (
    Chance,
    DryRun,
    Evaluable,
    JointSample,
    Judged,
    Mating,
    Ready,
    brought_together,
    joint_sample,
    ready,
)
from .worst_case import worst_case


@dataclass(frozen=True, slots=True)
class Study:
    """Everything the results are read off.

    Parameters
    ----------
    conditions : the wanted ones, by id; evaluable : those whose dimensions all have a value, in the order of the sample
    interfaces : id -> its wanted conditions; those whose conditions are all unwanted are left out
    rows : condition -> its row in the sample
    states : what is known of each dimension; those without a reading are left out
    certain : condition -> whether it holds, where bounds alone decide it
    """

    build: Build
    facts: Facts
    conditions: tuple[Judged, ...]
    evaluable: tuple[Evaluable, ...]
    rows: Mapping[str, int]
    interfaces: Mapping[str, tuple[str, ...]]
    states: Mapping[str, DimensionState]
    draws: JointDraws
    sample: JointSample
    certain: Mapping[str, bool]
    rework: Mapping[str, Rework]
    assumptions: tuple[Assumption, ...]
    _cells: dict[str, Cells] = field(default_factory=dict, compare=False)

    def cells(self, name: str) -> Cells:
        """The draws kept of a random dimension in cells."""
        if name not in self._cells:
            self._cells[name] = cells_of(self.sample.values[self.draws.row[name]])
        return self._cells[name]

    def position(self, condition: str) -> int | None:
        """Row of a condition in the sample; None if it can't be evaluated."""
        return self.rows.get(condition)

    def seen(self, condition: str) -> Settled | None:
        """What was seen of a condition on the vehicle, alone or with its whole interface."""
        alone = self.facts.settled_conditions.get(condition)
        return alone or self.facts.settled.get(self.build.find("conditions", condition).interface)

    def is_stale(self, condition: str) -> bool:
        """Whether a condition that can be evaluated rests on a stale reading."""
        row = self.position(condition)
        return row is not None and any(self.states[name].stale for name in self.evaluable[row].names)

    def together(self, conditions: tuple[str, ...], drawn: Chance) -> Chance:
        """The chance that conditions hold together: as drawn, unless bounds alone decide it."""
        if any(self.certain.get(condition) is False for condition in conditions):
            return Chance(0.0, 0.0)
        if all(self.certain.get(condition) is True for condition in conditions):
            return Chance(1.0, 0.0)
        return drawn

    def misfit_cost(self, condition: str, misfit: float) -> float:
        """Chance of misfit times late rework, in home currency."""
        return misfit * self.rework[condition].late


def study(
    build: Build,
    facts: Facts,
    *,
    seed: int = 1,
    samples: int = 20_000,
    at_hand: Study | None = None,
    keep: bool = False,
) -> Study:
    """Read the wanted conditions, pool the readings of their dimensions, and draw.

    Parameters
    ----------
    at_hand : an earlier study, whose draws are used again if they are of the same dimensions, as well known
    keep : hold all draws at hand for a later study
    """
    wanted = [item for item in sorted(build.conditions, key=lambda item: item.id) if item.id in facts.wanted_conditions]
    growth = {item.id: factor for item in build.dimensions if (factor := growth_factor(item)) != 1}
    conditions = tuple(ready(condition, growth) for condition in wanted)
    names = sorted({name for item in conditions for name in item.names})
    states, said = dimension_states(build, facts, names)
    evaluable = tuple(_evaluable(build, conditions, states))
    used = {name: states[name] for item in evaluable for name in item.names}
    if at_hand is not None and at_hand.draws.made_from == made_from(used, build.correlations, samples, seed):
        draws = at_hand.draws
    else:
        draws = JointDraws(used, build.correlations, samples=samples, seed=seed)
        if keep:
            draws.keep()
    interfaces = _interfaces(build, conditions)
    rows = {item.condition.id: position for position, item in enumerate(evaluable)}
    unseen = rows.keys() - facts.settled_conditions.keys()
    groups = [[rows[key] for key in keys if key in unseen] for keys in interfaces.values()]
    rework, assumed = rework_of(build, wanted)
    return Study(
        build=build,
        facts=facts,
        conditions=conditions,
        evaluable=evaluable,
        rows=rows,
        interfaces=interfaces,
        states=states,
        draws=draws,
        sample=joint_sample(draws, evaluable, groups),
        certain=_certain(evaluable, states),
        rework=rework,
        assumptions=(*said, *assumed, *_not_growing(conditions, growth)),
    )


def _evaluable(
    build: Build, conditions: tuple[Judged, ...], states: Mapping[str, DimensionState]
) -> Iterator[Evaluable]:  # fmt: skip
    for item in conditions:
        if not isinstance(item, DryRun) and all(name in states for name in item.names):
            yield brought_together(item, build, states) if isinstance(item, Mating) else item


def _not_growing(conditions: tuple[Judged, ...], growth: Mapping[str, float]) -> Iterator[Assumption]:
    for item in conditions:
        if item.condition.hot and not growth.keys() & set(item.names):
            text = (
                f"{item.condition.name}: judged as cold, for no dimension of it names its material and how hot it gets"
            )
            yield Assumption("nothing-grows", f"condition {item.condition.id}", text)


def _interfaces(build: Build, conditions: tuple[Judged, ...]) -> dict[str, tuple[str, ...]]:
    stated = {condition.interface for condition in build.conditions}
    wanted: dict[str, list[str]] = {}
    for item in conditions:
        wanted.setdefault(item.condition.interface, []).append(item.condition.id)
    return {
        interface.id: tuple(wanted.get(interface.id, ()))
        for interface in sorted(build.interfaces, key=lambda interface: interface.id)
        if interface.id in wanted or interface.id not in stated
    }


def _certain(evaluable: tuple[Evaluable, ...], states: Mapping[str, DimensionState]) -> dict[str, bool]:
    """Conditions that hold, or fail, whatever value their dimensions take within the bounds stated for them."""
    found = {}
    for item in evaluable:
        if isinstance(item, Mating) or any(_boundless(states[name]) for name in item.names):
            continue
        boxes = {name: bounds(states[name]) for name in item.names}
        margins = [_surely_within(margin, boxes) for margin in item.margins]
        if all(low >= 0 for low, _ in margins):
            found[item.condition.id] = True
        elif any(high < 0 for _, high in margins):
            found[item.condition.id] = False
    return found


def _boundless(state: DimensionState) -> bool:
    """Whether nobody has stated bounds: those of a default are only usual."""
    return state.shape == "normal" or (state.default and state.random)


def _surely_within(margin: Expression, boxes: Mapping[str, Bounds]) -> Bounds:
    """Bounds that a margin can't pass; not-a-number where it may have no value."""
    low, high = bounds_of(margin.root, boxes)
    if low >= 0 or high < 0 or math.isnan(low):
        return low, high
    worst = worst_case(margin, boxes)
    return (low, high) if worst.method == "corners" else (worst.low, worst.high)


def bounds(state: DimensionState) -> tuple[float, float]:
    """Bounds of a dimension: its limits, or three standard deviations either way."""
    return state.value - state.half_width, state.value + state.half_width


def shown_unit(item: Judged, build: Build) -> tuple[str, float]:
    """The unit a condition is shown in, and its factor to the internal one: the limit's, else a dimension's."""
    if not isinstance(item, Ready):
        return "", 1.0
    dimensions = {name: build.find("dimensions", name).unit for name in item.names}
    kind = item.expression.kind({name: parse_unit(unit).kind for name, unit in dimensions.items()})
    limits: list[Expression] = [limit for limit in (item.at_least, item.at_most) if limit is not None]
    written = [limit.unit for limit in limits if limit.unit is not None and not limit.names]
    for symbol in (*written, *dimensions.values()):
        try:
            unit = parse_unit(symbol)
        except ValueError:  # such as mm², which only an expression reads
            continue
        if unit.kind == kind:
            return symbol, unit.factor
    return INTERNAL_UNITS.get(kind, "").replace("**", "^").replace("*", "·"), 1.0


def correlation_of(study: Study, names: tuple[str, ...]) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Correlation matrix of random dimensions."""
    rows = [study.draws.row[name] for name in names]
    return study.draws.correlation[np.ix_(rows, rows)]
