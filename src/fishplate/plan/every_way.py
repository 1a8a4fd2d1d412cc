"""Every way to buy a few parts, tried in the order of what each costs at least, until the best is known for certain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .demand import Entry
from .futures import Futures
from .model import FloatArray
from .tried import Bought, Trier

MOST_WAYS, MOST_TRIED = 60_000, 6_000
TIE = 0.01
"""Less than this is no better [home currency]."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to buy all that is needed of one part.

    Parameters
    ----------
    cost : at the door in the cheapest band, keeping and what may not fit included, shape (runs,); late : what it costs
        by coming late, all else in hand, shape (runs,); fixed : least charge of the order it is in; home currency
    """

    entry: Entry
    cost: FloatArray
    late: FloatArray
    fixed: float

    @property
    def order(self) -> tuple[str, str, int]:
        """The order it goes into."""
        return self.entry.offer.supplier, self.entry.way.key, self.entry.week


def best_of_all(
    trier: Trier, drawn: Futures, choices: Sequence[Sequence[Choice]], base: FloatArray, known: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The best purchases in every future.

    Parameters
    ----------
    choices : of each part
    base : what the finish costs with everything in hand, shape (runs,)
    known : cost of the best purchases known so far, by the linear model, shape (runs,)

    Returns
    -------
    the same with what was found; what no purchases undercut: equal to it where all that could be better was tried;
    shape (runs,) each, home currency
    """
    if not choices:
        return known, known
    picks = np.indices([len(options) for options in choices]).reshape(len(choices), -1).T
    least = base + _least(choices, picks)
    promise = (least - known).min(axis=1)
    tries = 0
    for way in np.argsort(promise, kind="stable"):
        if promise[way] >= -TIE or tries >= MOST_TRIED:
            break
        if (least[way] < known - TIE).any():
            tries += 1
            found = [options[pick].entry for options, pick in zip(choices, picks[way], strict=True)]
            known = np.minimum(known, trier.cost(bought(found), drawn))
            least[way] = np.inf
    return known, np.minimum(known, least.min(axis=0))


def bought(entries: Sequence[Entry], units: Sequence[int] = ()) -> Bought:
    """What is bought, its charges by the linear model.

    Parameters
    ----------
    units : of each; one if none are given
    """
    weeks = tuple(np.array([entry.week]) for entry in entries)
    return Bought(tuple(entry.candidate.key for entry in entries), tuple(units) or (1,) * len(entries), weeks, None)


def _least(choices: Sequence[Sequence[Choice]], picks: NDArray[np.int_]) -> FloatArray:
    """What each set of choices costs at least beside the finish with everything in hand, shape (sets, runs)."""
    orders = {choice.order: number for number, choice in enumerate(c for options in choices for c in options)}
    total, late = 0.0, np.zeros(1)
    seen: list[NDArray[np.int_]] = []
    for options, pick in zip(choices, picks.T, strict=True):
        order = np.array([orders[choice.order] for choice in options])[pick]
        again = np.any([order == other for other in seen], axis=0) if seen else np.zeros(len(pick), dtype=bool)
        fixed = np.where(again, 0.0, np.array([choice.fixed for choice in options])[pick])
        total = total + np.array([choice.cost for choice in options])[pick] + fixed[:, None]
        late = np.maximum(late, np.array([choice.late for choice in options])[pick])
        seen.append(order)
    return np.asarray(total + late)
