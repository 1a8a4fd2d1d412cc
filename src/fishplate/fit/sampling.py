"""Every condition on the same joint draws: how often it holds, alone and together, and by what margin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..build import Build
from ..build.designations import parse_designation
from ..build.expression import Expression, Value, parse_expression
from ..build.interfaces import Condition
from .draws import REPLICATES, JointDraws
from .growth import grown
from .mating import Finding, mate
from .points import Single
from .readings import DimensionState

# Margins and values of so many draws are kept for quantiles, shares and the worth of a reading.
KEPT = 16_384
# Student's t, 97.5 %, seven degrees of freedom: eight replicates (any table, e.g. ISO 2854).
INTERVAL = 2.365


# Where a designation is read wrong, the true one happens to be the one that mates so often: our own default.
LUCK = 0.25


@dataclass(frozen=True, slots=True)
class Ready:
    """A condition on figures, read and ready to be evaluated."""

    condition: Condition
    expression: Expression
    at_least: Expression | None
    at_most: Expression | None
    names: tuple[str, ...]

    def evaluate(self, values: Mapping[str, Value]) -> tuple[Value, Value]:
        """What varies (distance to the lower limit, or else to the upper one), and the least margin to the limits."""
        value = self.expression.root.value(values)
        above = None if self.at_least is None else np.subtract(value, self.at_least.root.value(values))
        below = None if self.at_most is None else np.subtract(self.at_most.root.value(values), value)
        if above is None:
            return (value, value) if below is None else (below, below)
        return above, above if below is None else np.minimum(above, below)


@dataclass(frozen=True, slots=True)
class Mating:
    """A match of two designations; `rights` is how often each dimension's is right, in the order of `names`."""

    condition: Condition
    names: tuple[str, ...]
    finding: Finding | None = None
    rights: tuple[float, ...] = ()

    def evaluate(self, values: Mapping[str, Value]) -> tuple[Value, Value]:
        """Distance to the draw at which it comes to mate, or no longer to mate; both the same."""
        assert self.finding is not None
        pairs = list(zip(self.names, self.rights, strict=True))
        if self.finding.mates:
            margin: Value = _least([np.subtract(right, values[name]) for name, right in pairs])
        else:
            margin = -_least([np.subtract(1 - LUCK * (1 - right), values[name]) for name, right in pairs])
        return margin, margin


@dataclass(frozen=True, slots=True)
class DryRun:
    """A condition that is seen on the vehicle, and never computed."""

    condition: Condition
    names: tuple[str, ...] = ()


Evaluable = Ready | Mating
Judged = Ready | Mating | DryRun


def _least(values: Sequence[Value]) -> Value:
    least = values[0]
    for value in values[1:]:
        least = np.minimum(least, value)
    return least


def ready(condition: Condition, growth: Mapping[str, float] | None = None) -> Judged:
    """A condition ready to be evaluated; raises ExpressionError.

    Parameters
    ----------
    growth : factor of each dimension when hot, for a condition that is judged hot
    """
    if condition.kind == "dry-run":
        return DryRun(condition)
    names = tuple(sorted(condition.names))
    if condition.mates is not None:
        return Mating(condition, names)
    texts = (condition.expression, condition.at_least, condition.at_most)
    read = [None if text is None else parse_expression(text) for text in texts]
    if condition.hot and growth:
        read = [None if item is None else grown(item, growth) for item in read]
    expression, at_least, at_most = read
    assert expression is not None
    return Ready(condition, expression, at_least, at_most, names)


def brought_together(item: Mating, build: Build, states: Mapping[str, DimensionState]) -> Mating:
    """A match whose designations are all known, compared."""
    assert item.condition.mates is not None
    family = build.find("dimensions", item.names[0]).designates
    texts = [states[text].designation if text in item.names else text for text in item.condition.mates]
    first, second = (parse_designation(text, family) for text in texts)
    return replace(item, finding=mate(first, second), rights=tuple(states[name].right for name in item.names))


@dataclass(frozen=True, slots=True)
class Chance:
    """A chance from draws, and its standard error from the scatter between replicates."""

    chance: float
    standard_error: float

    @property
    def low(self) -> float:
        """Lower end of the 95 % sampling interval."""
        return self.chance - INTERVAL * self.standard_error

    @property
    def high(self) -> float:
        """Upper end of the 95 % sampling interval."""
        return self.chance + INTERVAL * self.standard_error


@dataclass(frozen=True, slots=True)
class JointSample:
    """What the joint draws say.

    Parameters
    ----------
    holds : (conditions,) chance of each; groups : chance that all conditions of each group hold; all_hold : that all do
    values : (dimensions, kept) draws kept; varying, margins : (conditions, kept) of each condition on them
    misfits : (conditions, kept) whether each condition fails on each draw kept; one without a value fails
    """

    holds: tuple[Chance, ...]
    groups: tuple[Chance, ...]
    all_hold: Chance
    values: Single
    varying: Single
    margins: Single
    misfits: NDArray[np.bool_]


def joint_sample(draws: JointDraws, conditions: Sequence[Evaluable], groups: Sequence[Sequence[int]]) -> JointSample:
    """Evaluate all conditions on all draws.

    Parameters
    ----------
    groups : positions of the conditions that must hold together, e.g. at one interface
    """
    kept = min(KEPT, draws.samples)
    values = np.empty((len(draws.names), kept), dtype=np.float32)
    varying = np.empty((len(conditions), kept), dtype=np.float32)
    margins = np.empty_like(varying)
    counts = np.zeros((REPLICATES, len(conditions) + len(groups) + 1))
    at = 0
    for replicate in range(REPLICATES):
        for block in draws.blocks(replicate):
            size = block.shape[1]
            spread, margin = _evaluate(conditions, draws, block)
            counts[replicate] += _count(margin >= 0, groups)
            room = min(size, kept - at)
            if room > 0:
                values[:, at : at + room] = block[:, :room]
                varying[:, at : at + room] = spread[:, :room]
                margins[:, at : at + room] = margin[:, :room]
                at += room
    chances = [_chance(column, draws.per_replicate) for column in counts.T]
    single, misfits = len(conditions), ~(margins >= 0)
    return JointSample(
        tuple(chances[:single]), tuple(chances[single:-1]), chances[-1], values, varying, margins, misfits
    )


def _evaluate(conditions: Sequence[Evaluable], draws: JointDraws, block: Single) -> tuple[Single, Single]:
    named: dict[str, Value] = {**draws.constants, **{name: block[row] for name, row in draws.row.items()}}
    spread = np.empty((len(conditions), block.shape[1]), dtype=np.float32)
    margin = np.empty_like(spread)
    with np.errstate(all="ignore"):
        for position, item in enumerate(conditions):
            spread[position], margin[position] = item.evaluate(named)
    return spread, margin


def _count(holds: NDArray[np.bool_], groups: Sequence[Sequence[int]]) -> NDArray[np.float64]:
    together = [np.count_nonzero(holds[list(group)].all(axis=0)) for group in groups]
    return np.array([*np.count_nonzero(holds, axis=1), *together, np.count_nonzero(holds.all(axis=0))], dtype=float)


def _chance(counts: NDArray[np.float64], each: int) -> Chance:
    """Chance off 0 and 1 by half a draw, for draws alone make nothing certain; its error at least one draw's worth."""
    total = each * len(counts)
    chance = min(max(float(counts.sum()) / total, 0.5 / total), 1 - 0.5 / total)
    scatter = float(np.std(counts / each, ddof=1)) / np.sqrt(len(counts))
    return Chance(chance, max(float(scatter), 1 / total))


def rescaled_chance(
    item: Ready, draws: JointDraws, sample: JointSample, centres: Mapping[str, float], factor: float
) -> float:  # fmt: skip
    """Chance of a condition on the draws kept, with the spreads of some dimensions scaled about their centres."""
    named: dict[str, Value] = dict(draws.constants)
    for name in item.names:
        if name in draws.row:
            values = sample.values[draws.row[name]]
            centre = centres.get(name)
            named[name] = values if centre is None else centre + (values - np.float32(centre)) * np.float32(factor)
    with np.errstate(all="ignore"):
        _, margin = item.evaluate(named)
    return float(np.mean(np.asarray(margin) >= 0))
