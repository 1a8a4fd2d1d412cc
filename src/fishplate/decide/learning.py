"""What knowing something for certain would be worth to a choice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..build.decisions import Option
from .weighed import Learning
from .weights import FloatArray

if TYPE_CHECKING:
    from .weighing import Scale


def perfect_information(values: FloatArray, chances: FloatArray | None = None) -> float:
    """Expected value of knowing the state of the world before choosing.

    Parameters
    ----------
    values : what each choice is worth in each state, shape (states, choices)
    chances : of the states; alike if left out

    Notes
    -----
    E[max over choices] less max of E over choices (Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961).

    Examples
    --------
    >>> perfect_information(np.array([[50.0, 100.0], [30.0, -40.0]]), np.array([0.6, 0.4]))
    28.0
    """
    share = np.full(len(values), 1 / len(values)) if chances is None else chances
    found = float(share @ values.max(axis=1) - (share @ values).max())
    return max(0.0, found)


def what_would_tell(
    scales: Sequence[Scale],
    options: Sequence[Option],
    weights: FloatArray,
    points: FloatArray,
    money_per_point: float | None,
) -> tuple[Learning, ...]:
    """What each score, each criterion and the weights would be worth to know, what is worth most first.

    Parameters
    ----------
    weights : shape (draws, criteria); points : shape (draws, options, criteria), drawn apart from each other

    Notes
    -----
    Weights and scores are independent, so that what is not known stands at its mean: exact but for the draws.
    """
    mean_weights, mean_points = weights.mean(axis=0), points.mean(axis=0)
    means = mean_points @ mean_weights
    found = []

    def learn(criterion: str, option: str, what: str, values: FloatArray) -> None:
        # centred, so that sampling error is not taken for knowledge
        values = values - values.mean(axis=0) + means
        gain = perfect_information(values)
        turns = float(np.mean(values.argmax(axis=1) != means.argmax()))
        if turns > 0 and gain > 1e-9:
            money = None if money_per_point is None else gain * money_per_point
            found.append(Learning(criterion, option, what, gain, money, turns))

    learn("", "", "how much each criterion matters", weights @ mean_points.T)
    for place, scale in enumerate(scales):
        name = scale.criterion.name
        known = points[:, :, place] * mean_weights[place]
        learn(scale.criterion.id, "", f"{name}, of every option", known)
        for row, values in _alone(known):
            learn(scale.criterion.id, options[row].id, f"{name}, of “{options[row].name}”", values)
    return tuple(sorted(found, key=lambda item: (-item.points, item.criterion, item.option)))


def _alone(known: FloatArray) -> Iterator[tuple[int, FloatArray]]:
    """Each option's score known by itself, the others at their mean."""
    for row in range(known.shape[1]):
        values = np.tile(known.mean(axis=0), (len(known), 1))
        values[:, row] = known[:, row]
        yield row, values
