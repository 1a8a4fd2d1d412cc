"""Options weighed by criteria whose weights and scores are in doubt: which comes first, how surely, what would tell.

The value of an option is the sum of its points by each criterion times that criterion's weight (Keeney and Raiffa,
Decisions with Multiple Objectives, 1976); points run in a straight line from the stated worst to the stated best.
Chances of ranks are shares of joint draws of weights and scores (Lahdelma and Salminen, SMAA-2, Operations Research 49,
2001).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..build import Assumption, Build
from ..build.base import ThreePoint
from ..build.decisions import Criterion, Decision, Measure, Option, Swing
from .learning import perfect_information, what_would_tell
from .weighed import Mattering, Weighed, Weighing
from .weights import FloatArray, drawn_weights, triangular, uniforms_needed

DRAWS: Final = 4096
SURE: Final = 0.95
# Weights written without comparing swings may be a quarter off: our own default.
LOOSE: Final = 0.25

Measured = Mapping[str, Mapping[Measure, ThreePoint]]


@dataclass(frozen=True, slots=True)
class Scale:
    """A criterion of a decision with its scale, and the scores of every option; None: not known."""

    criterion: Criterion
    swing: Swing
    scores: tuple[ThreePoint | None, ...]

    def points(self, score: FloatArray | float) -> FloatArray:
        """Points out of 100."""
        worst, best = self.swing.worst, self.swing.best
        found: FloatArray = np.asarray(100 * (np.asarray(score) - worst) / (best - worst))
        return found


def weigh(build: Build, decision: Decision, measured: Measured, *, seed: int = 1, draws: int = DRAWS) -> Weighing:
    """The options of a decision weighed.

    Parameters
    ----------
    measured : option -> what the plan measures of it: money [home currency], own hours [h], finish [weeks]
    draws : joint draws of weights and scores; a power of two

    Returns
    -------
    Weighing; the same for the same build and seed, whatever the order of the options
    """
    scales = tuple(_scales(build, decision, measured))
    if not scales or len(decision.options) == 1:
        return _by_overall_score(decision)
    compared = [scale.swing.compared for scale in scales]
    count, options = len(scales), sorted(decision.options, key=lambda option: option.id)
    uniforms = _uniforms(uniforms_needed(count) + count * len(options), draws, seed)
    weights = drawn_weights(compared, uniforms[:, : uniforms_needed(count)])
    points = np.empty((draws, len(options), count))
    for place, scale in enumerate(scales):
        for row, option in enumerate(options):
            column = uniforms[:, uniforms_needed(count) + place * len(options) + row]
            points[:, row, place] = _drawn_points(scale, scale.scores[decision.options.index(option)], column)
    values = np.einsum("dc,doc->do", weights, points)
    weighed = _weighed(decision, scales, options, values, points)
    per_point = _money_per_point(scales, weights)
    learning = what_would_tell(scales, options, weights, points, per_point)
    best = weighed[0]
    return Weighing(
        decision=decision.id,
        basis="criteria",
        criteria=tuple(_matterings(scales, weights)),
        options=weighed,
        robust=best.ranks[0] >= SURE,
        safest=min(weighed, key=lambda item: (item.regret, item.option)).option,
        learning=learning,
        all_known=perfect_information(values),
        money_per_point=per_point,
        assumptions=tuple(_assumptions(decision, scales)),
        text=_sentence(weighed),
    )


def _uniforms(dimensions: int, draws: int, seed: int) -> FloatArray:
    """Quasi-random numbers between 0 and 1, shape (draws, dimensions)."""
    from scipy.stats import qmc

    found: FloatArray = qmc.Sobol(dimensions, rng=np.random.default_rng(seed)).random(draws)
    return found


def _drawn_points(scale: Scale, score: ThreePoint | None, uniform: FloatArray) -> FloatArray:
    return 100 * uniform if score is None else scale.points(triangular(score, uniform))


# scales


def _scales(build: Build, decision: Decision, measured: Measured) -> Iterator[Scale]:
    swings = {swing.criterion: swing for swing in decision.swings}
    if swings:
        for swing in decision.swings:
            criterion = build.find("criteria", swing.criterion)
            yield Scale(criterion, swing, _scores(decision, criterion, measured))
        return
    scored = {score.criterion for option in decision.options for score in option.scores}
    if not scored:
        return
    before = None
    for criterion in sorted(build.criteria, key=lambda item: (-item.weight, item.id)):
        scores = _scores(decision, criterion, measured)
        ends = default_ends(criterion, scores)
        if criterion.weight > 0 and ends is not None and (criterion.id in scored or criterion.measured):
            compared = None if before is None else _loosely(criterion.weight / before)
            yield Scale(
                criterion, Swing(criterion=criterion.id, worst=ends[0], best=ends[1], compared=compared), scores
            )
            before = criterion.weight


def _loosely(ratio: float) -> ThreePoint:
    percent = 100 * ratio
    return ThreePoint(low=(1 - LOOSE) * percent, likely=percent, high=min(100, (1 + LOOSE) * percent))


def _scores(decision: Decision, criterion: Criterion, measured: Measured) -> tuple[ThreePoint | None, ...]:
    return tuple(_score(option, criterion, measured) for option in decision.options)


def _score(option: Option, criterion: Criterion, measured: Measured) -> ThreePoint | None:
    if criterion.measured is not None:
        return measured.get(option.id, {}).get(criterion.measured)
    return next((score.points for score in option.scores if score.criterion == criterion.id), None)


def default_ends(criterion: Criterion, scores: Sequence[ThreePoint | None]) -> tuple[float, float] | None:
    """Worst and best of a scale nobody stated: 0 and 100, or the extremes of what is measured; None if they agree."""
    if criterion.measured is None:
        return 0.0, 100.0
    known = [score for score in scores if score is not None]
    if not known:
        return None
    worst, best = max(score.high for score in known), min(score.low for score in known)
    return (worst, best) if worst > best else None


# results


def _matterings(scales: Sequence[Scale], weights: FloatArray) -> Iterator[Mattering]:
    low, high = np.quantile(weights, (0.05, 0.95), axis=0)
    for place, scale in enumerate(scales):
        yield Mattering(
            criterion=scale.criterion.id,
            name=scale.criterion.name,
            unit=scale.criterion.unit,
            worst=scale.swing.worst,
            best=scale.swing.best,
            weight=float(weights[:, place].mean()),
            low=float(low[place]),
            high=float(high[place]),
        )


def rank_chances(values: FloatArray) -> FloatArray:
    """Chance of each option to come first, second, and so on; ties are shared.

    Parameters
    ----------
    values : shape (draws, options)

    Returns
    -------
    shape (options, ranks); rows and columns sum to 1
    """
    draws, count = values.shape
    chances = np.zeros((count, count))
    above = (values[:, None, :] > values[:, :, None]).sum(axis=2)
    level = (values[:, None, :] == values[:, :, None]).sum(axis=2)
    for rank in range(count):
        inside = (above <= rank) & (rank < above + level)
        chances[:, rank] = np.where(inside, 1 / level, 0.0).sum(axis=0) / draws
    return chances


def _weighed(
    decision: Decision, scales: Sequence[Scale], options: Sequence[Option], values: FloatArray, points: FloatArray
) -> tuple[Weighed, ...]:
    chances = rank_chances(values)
    low, high = np.quantile(values, (0.1, 0.9), axis=0)
    regret = np.quantile(values.max(axis=1, keepdims=True) - values, SURE, axis=0)
    means = points.mean(axis=0)
    found = []
    for row, option in enumerate(options):
        by, surely = _dominating(decision, scales, option)
        found.append(
            Weighed(
                option=option.id,
                name=option.name,
                value=float(values[:, row].mean()),
                low=float(low[row]),
                high=float(high[row]),
                ranks=tuple(float(chance) for chance in chances[row]),
                points=tuple(float(each) for each in means[row]),
                dominated_by=by,
                surely=surely,
                regret=float(regret[row]),
            )
        )
    return tuple(sorted(found, key=lambda item: (-item.value, item.option)))


def _dominating(decision: Decision, scales: Sequence[Scale], option: Option) -> tuple[str | None, bool]:
    """An option at least as good by every criterion: whatever the scores, or else by the likely ones."""
    place = decision.options.index(option)
    for surely in (True, False):
        for other in sorted(decision.options, key=lambda item: item.id):
            if other.id != option.id and _dominates(scales, decision.options.index(other), place, surely=surely):
                return other.id, surely
    return None, False


def _dominates(scales: Sequence[Scale], better: int, worse: int, *, surely: bool) -> bool:
    above = False
    for scale in scales:
        first, second = scale.scores[better], scale.scores[worse]
        if first is None or second is None:
            return False
        one = _points_span(scale, first)
        two = _points_span(scale, second)
        gap = one[0] - two[2] if surely else one[1] - two[1]
        if gap < 0:
            return False
        above = above or gap > 0
    return above


def _points_span(scale: Scale, score: ThreePoint) -> tuple[float, float, float]:
    low, likely, high = (float(scale.points(each)) for each in (score.low, score.likely, score.high))
    return min(low, high), likely, max(low, high)


def _money_per_point(scales: Sequence[Scale], weights: FloatArray) -> float | None:
    """What a point of value is worth: how much money makes it up."""
    for place, scale in enumerate(scales):
        mean = float(weights[:, place].mean())
        if scale.criterion.measured is Measure.MONEY and mean > 0:
            return abs(scale.swing.worst - scale.swing.best) / (100 * mean)
    return None


def _by_overall_score(decision: Decision) -> Weighing:
    """Options in the order of their score on the whole, where they have nothing else."""
    scored = sorted(
        (option for option in decision.options if option.score is not None),
        key=lambda option: (-(option.score or 0.0), option.id),
    )
    options = tuple(
        Weighed(
            option.id, option.name, option.score or 0.0, option.score or 0.0, option.score or 0.0,
            tuple(float(rank == place) for rank in range(len(scored))), (), None, False, 0.0,
        )
        for place, option in enumerate(scored)
    )  # fmt: skip
    text = f"By your score on the whole “{options[0].name}” comes first." if len(options) > 1 else ""
    basis = "overall" if text else "nothing"
    safest = options[0].option if options else ""
    return Weighing(decision.id, basis, (), options, False, safest, (), 0.0, None, (), text)


def _assumptions(decision: Decision, scales: Sequence[Scale]) -> Iterator[Assumption]:
    about = f"decision {decision.id}"
    if not decision.swings:
        text = f"“{decision.name}”: no swings were compared, so weights are those of the criteria, a quarter up or down"
        yield Assumption("weights-default", about, f"{text} (our own default)")
    for scale in scales:
        name, swing = scale.criterion.name, scale.swing
        if not decision.swings and scale.criterion.measured is not None:
            text = f"{name}: the scale runs from {swing.worst:g} to {swing.best:g}, the extremes of these options"
            yield Assumption("scale-default", about, text)
        for option, score in zip(decision.options, scale.scores, strict=True):
            if score is None:
                yield Assumption("score-unknown", about, f"{name}: “{option.name}” could be anything on the scale")
            elif not _within(scale, score):
                text = f"{name}: “{option.name}” lies beyond the scale, which is continued in a straight line"
                yield Assumption("score-beyond-scale", about, text)


def _within(scale: Scale, score: ThreePoint) -> bool:
    low, _, high = _points_span(scale, score)
    return low >= -1e-9 and high <= 100 + 1e-9


def hundredths(chance: float) -> str:
    """A chance as so many in a hundred, never none and never all unless certain.

    Examples
    --------
    >>> hundredths(0.834), hundredths(0.9999), hundredths(1.0)
    ('83 in 100', 'more than 99 in 100', 'always')
    """
    if chance >= 1:
        return "always"
    if chance <= 0:
        return "never"
    if chance > 0.99:
        return "more than 99 in 100"
    return "less than 1 in 100" if chance < 0.01 else f"{100 * chance:.0f} in 100"


def _sentence(weighed: Sequence[Weighed]) -> str:
    best, second = weighed[0], weighed[1]
    chance = best.ranks[0]
    if chance >= 1:
        return f"“{best.name}” comes first whatever weights and scores agree with what you said."
    if chance >= SURE:
        often = hundredths(chance)
        return f"“{best.name}” comes first {often}, over all weights and scores that agree with what you said."
    return (
        f"“{best.name}” comes out best on average, and first {hundredths(chance)}; "
        f"“{second.name}” is first {hundredths(second.ranks[0])}."
    )
