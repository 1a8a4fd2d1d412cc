"""Every condition on the same joint draws: how often it holds, alone and together, and by what margin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..build import Build
from ..build.designations import parse_designation
from ..build.expression import Expression, Value, parse_expression
from ..build.expression_nodes import Binary, Literal, Power, walk
from ..build.interfaces import Condition
from .draws import REPLICATES, Drawn, JointDraws
from .growth import grown
from .mating import Finding, mate
from .points import Single
from .readings import DimensionState

# Margins and values of so many draws are kept for quantiles, shares and the worth of a reading.
KEPT = 16_384
# Fewer where there are so many conditions that quantiles and shares would take longer than the draws.
MANY, KEPT_OF_MANY = 250, 8_192
# Student's t, 97.5 %, seven degrees of freedom: eight replicates (any table, e.g. ISO 2854).
INTERVAL = 2.365


# Where a designation is read wrong, the true one happens to be the one that mates so often: our own default.
LUCK = 0.25


@dataclass(frozen=True, slots=True)
class Ready:
    """A condition on figures, read and ready to be evaluated; `boundless` where something may be divided by zero."""

    condition: Condition
    expression: Expression
    at_least: Expression | None
    at_most: Expression | None
    names: tuple[str, ...]
    boundless: bool = False

    @property
    def margins(self) -> tuple[Expression, ...]:
        """How far it is above its lower limit, and below its upper one, each where there is one."""
        pairs = ((self.expression, self.at_least), (self.at_most, self.expression))
        return tuple(
            Expression(
                f"{above.text} - ({below.text})", Binary("-", above.root, below.root, (0, 0)), above.names | below.names
            )
            for above, below in pairs
            if above is not None and below is not None
        )  # fmt: skip

    def evaluate(self, values: Mapping[str, Value]) -> tuple[Value, Value]:
        """What varies (distance to the lower limit, or else to the upper one), and the least margin to the limits.

        Where something is divided by zero there is no margin: not-a-number.
        """
        varying, margin = self._margins(values)
        return varying, np.where(np.isfinite(margin), margin, np.nan) if self.boundless else margin

    def holds(self, values: Mapping[str, Value]) -> Value | NDArray[np.bool_]:
        """Whether it holds; as by its margin, without working that out where it need not be."""
        if self.boundless:
            return np.greater_equal(self.evaluate(values)[1], 0)
        value = self.expression.root.value(values)
        above = True if self.at_least is None else np.greater_equal(value, self.at_least.root.value(values))
        below = True if self.at_most is None else np.less_equal(value, self.at_most.root.value(values))
        return below if self.at_least is None else above if self.at_most is None else np.logical_and(above, below)

    def _margins(self, values: Mapping[str, Value]) -> tuple[Value, Value]:
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

    def holds(self, values: Mapping[str, Value]) -> Value | NDArray[np.bool_]:
        """Whether it mates."""
        return np.greater_equal(self.evaluate(values)[1], 0)


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
    boundless = any(map(_divides, filter(None, texts)))
    return Ready(condition, expression, at_least, at_most, names, boundless)


@lru_cache(maxsize=8192)
def _divides(text: str) -> bool:
    """Whether anything but a figure is divided by."""
    nodes = list(walk(parse_expression(text).root))
    powers = any(isinstance(node, Power) and node.exponent < 0 for node in nodes)
    return powers or any(
        isinstance(node, Binary) and node.sign == "/" and not isinstance(node.right, Literal) for node in nodes
    )


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
    values : (dimensions, kept) draws kept; margins : (conditions, kept) least margin of each condition on them
    between : row of a condition with two limits -> (kept,) what varies of it; the margin is what varies of the others
    misfits : (conditions, kept) whether each condition fails on each draw kept; one without a value fails
    """

    holds: tuple[Chance, ...]
    groups: tuple[Chance, ...]
    all_hold: Chance
    values: Drawn
    margins: Single
    between: Mapping[int, Single]
    misfits: NDArray[np.bool_]

    def varying(self, row: int) -> Single:
        """What varies of a condition: its distance to the lower limit, or else to the upper one."""
        return self.between.get(row, self.margins[row])


def joint_sample(draws: JointDraws, conditions: Sequence[Evaluable], groups: Sequence[Sequence[int]]) -> JointSample:
    """Evaluate all conditions on all draws.

    Parameters
    ----------
    groups : positions of the conditions that must hold together, e.g. at one interface
    """
    kept = min(KEPT if len(conditions) <= MANY else KEPT_OF_MANY, draws.samples)
    taken = _Kept(draws, conditions, kept)
    counts = np.zeros((REPLICATES, len(conditions) + len(groups) + 1))
    members = [list(group) for group in groups]
    for replicate in range(REPLICATES):
        for block in draws.blocks(replicate):
            counts[replicate] += _count(taken.evaluate(block), members)
    chances = _chances(counts, draws.per_replicate)
    single = len(conditions)
    return JointSample(
        tuple(chances[:single]), tuple(chances[single:-1]), chances[-1], taken.values, taken.margins, taken.between,
        ~(taken.margins >= 0),
    )  # fmt: skip


class _Kept:
    """Evaluates conditions block by block, and keeps the first draws with what they gave."""

    def __init__(self, draws: JointDraws, conditions: Sequence[Evaluable], kept: int) -> None:
        self.draws, self.conditions, self.kept, self.at = draws, conditions, kept, 0
        whole = draws.whole
        self.values = np.empty((len(draws.names), kept), dtype=draws.dtype) if whole is None else whole[:, :kept]
        self.margins = np.empty((len(conditions), kept), dtype=np.float32)
        two = [row for row, item in enumerate(conditions) if isinstance(item, Ready) and item.at_least and item.at_most]
        self.between = {row: np.empty(kept, dtype=np.float32) for row in two}

    def evaluate(self, block: Drawn) -> NDArray[np.bool_]:
        """Whether each condition holds on each draw of a block: (conditions, draws)."""
        named: dict[str, Value] = {**self.draws.constants, **{n: block[row] for n, row in self.draws.row.items()}}
        holds = np.empty((len(self.conditions), block.shape[1]), dtype=bool)
        room = min(block.shape[1], self.kept - self.at)
        span = slice(self.at, self.at + room)
        with np.errstate(all="ignore"):
            for row, item in enumerate(self.conditions):
                if not room:
                    holds[row] = item.holds(named)
                else:
                    varying, margin = item.evaluate(named)
                    np.greater_equal(margin, 0, out=holds[row])
                    self.margins[row, span] = margin if np.ndim(margin) == 0 else np.asarray(margin)[:room]
                    if row in self.between:
                        self.between[row][span] = varying if np.ndim(varying) == 0 else np.asarray(varying)[:room]
        if room and self.draws.whole is None:
            self.values[:, span] = block[:, :room]
        self.at += room
        return holds


def _count(holds: NDArray[np.bool_], groups: Sequence[Sequence[int]]) -> NDArray[np.float64]:
    """How many draws each condition, each group and all together hold on: row by row, which is quicker than by axis."""
    every = [np.count_nonzero(row) for row in holds]
    together = [np.count_nonzero(_all_of(holds, group)) for group in groups]
    return np.array([*every, *together, np.count_nonzero(_all_of(holds, range(len(holds))))], dtype=float)


def _all_of(holds: NDArray[np.bool_], rows: Sequence[int]) -> NDArray[np.bool_]:
    found = np.ones(holds.shape[1], dtype=bool)
    for row in rows:
        found &= holds[row]
    return found


def _chances(counts: NDArray[np.float64], each: int) -> list[Chance]:
    """Chances off 0 and 1 by half a draw, for draws alone make nothing certain; errors of at least one draw's worth.

    Parameters
    ----------
    counts : (replicates, chances) how many of `each` draws of a replicate hold
    """
    total = each * len(counts)
    found = np.clip(counts.sum(axis=0) / total, 0.5 / total, 1 - 0.5 / total)
    errors = np.maximum(np.std(counts / each, axis=0, ddof=1) / np.sqrt(len(counts)), 1 / total)
    return [Chance(float(chance), float(error)) for chance, error in zip(found, errors, strict=True)]


def holds_rescaled(
    item: Ready, draws: JointDraws, sample: JointSample, centres: Mapping[str, float], factor: float,
    few: int | None = None,
) -> NDArray[np.bool_]:  # fmt: skip
    """Whether a condition holds with the spreads of some dimensions scaled about their centres, on (a few) draws."""
    named: dict[str, Value] = dict(draws.constants)
    for name in item.names:
        if name in draws.row:
            values = sample.values[draws.row[name], :few]
            centre = centres.get(name)
            named[name] = values if centre is None else centre + (values - centre) * factor
    with np.errstate(all="ignore"):
        holds = item.holds(named)
    return np.broadcast_to(np.asarray(holds, dtype=bool), sample.margins[0, :few].shape)
