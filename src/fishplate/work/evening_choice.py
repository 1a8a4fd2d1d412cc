"""The best set of jobs for an evening's minutes: a small exact choice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

STEP_MINUTES: Final = 5
LONGEST_MINUTES: Final = 720
_LEAST_GAIN: Final = 1e-9


class Step(NamedTuple):
    """How far a job could be taken in one evening.

    Parameters
    ----------
    minutes : with setting up; worth : what it is worth, home currency; midway : it ends neither at a stop point nor
        at the job's end; goal : where it ends, "" for the job's end
    hours : hands-on hours of it [h]
    """

    minutes: float
    worth: float
    midway: bool = False
    goal: str = ""
    hours: float = 0.0


@dataclass(frozen=True, slots=True)
class Candidate:
    """A job that suits the evening, and how far it could be taken; at most one of its steps is chosen."""

    job: str
    steps: tuple[Step, ...]
    loud: bool = False


@dataclass(frozen=True, slots=True)
class Picked:
    """A job and how far it is taken."""

    job: str
    step: Step
    loud: bool


def best_evening(
    candidates: Sequence[Candidate], minutes: float, loud_minutes: float | None = None
) -> tuple[Picked, ...]:
    """The set of jobs worth most within an evening, loud ones first.

    At most one job is left midway, since a second would only be set up twice. Minutes count in steps of five, rounded
    up for jobs and down for the evening. Exact by dynamic programming over minutes, loud minutes and whether a job is
    left midway; of sets worth the same, the one that takes fewer minutes.

    Parameters
    ----------
    minutes : there are [min], at most 720 count
    loud_minutes : of them from the start until it must be quiet [min]; None: it may be loud throughout

    Examples
    --------
    >>> jobs = [Candidate("a", (Step(60, 5.0),)), Candidate("b", (Step(45, 3.0),)), Candidate("c", (Step(45, 3.0),))]
    >>> [picked.job for picked in best_evening(jobs, 90)]
    ['b', 'c']
    """
    slots = int(min(max(minutes, 0.0), LONGEST_MINUTES) // STEP_MINUTES)
    loud = slots if loud_minutes is None else min(slots, int(max(0.0, loud_minutes) // STEP_MINUTES))
    # worth[m, l, w]: most that m slots hold, l of them loud, with (w = 1) or without a job left midway
    worth = np.zeros((slots + 1, (0 if loud == slots else loud) + 1, 2))
    limited = loud < slots
    tables: list[npt.NDArray[np.int16]] = []
    for candidate in candidates:
        best, taken = worth.copy(), np.full(worth.shape, -1, dtype=np.int16)
        for number, step in enumerate(candidate.steps):
            _offer(worth, best, taken, number, step, candidate.loud and limited)
        tables.append(taken)
        worth = best
    return _told(candidates, tables, worth, limited=limited)


def _offer(
    worth: npt.NDArray[np.float64], best: npt.NDArray[np.float64], taken: npt.NDArray[np.int16],
    number: int, step: Step, loud: bool,
) -> None:  # fmt: skip
    """Take a step wherever it leads to more than what was best so far."""
    need = slots_of(step)
    noise = need if loud else 0
    if need >= worth.shape[0] or noise >= worth.shape[1]:
        return
    for midway in (0, 1):
        if step.midway and not midway:
            continue
        before = worth[: worth.shape[0] - need, : worth.shape[1] - noise, midway - int(step.midway)]
        here = (slice(need, None), slice(noise, None), midway)
        better = before + step.worth > best[here] + _LEAST_GAIN
        best[here] = np.where(better, before + step.worth, best[here])
        taken[here] = np.where(better, number, taken[here])


def slots_of(step: Step) -> int:
    """Slots of five minutes that a step takes."""
    return max(1, ceil(step.minutes / STEP_MINUTES - 1e-9))


def _told(
    candidates: Sequence[Candidate], tables: Sequence[npt.NDArray[np.int16]], worth: npt.NDArray[np.float64],
    *, limited: bool,
) -> tuple[Picked, ...]:  # fmt: skip
    loud = worth.shape[1] - 1
    most = worth[:, loud, 1].max()
    at = [int(np.argmax(worth[:, loud, 1] >= most - _LEAST_GAIN)), loud, 1]
    chosen: list[Picked] = []
    for candidate, taken in zip(reversed(candidates), reversed(tables), strict=True):
        number = int(taken[at[0], at[1], at[2]])
        if number < 0:
            continue
        step = candidate.steps[number]
        chosen.append(Picked(candidate.job, step, candidate.loud))
        at[0] -= slots_of(step)
        at[1] -= slots_of(step) if candidate.loud and limited else 0
        at[2] -= int(step.midway)
    return tuple(_in_order(chosen[::-1], limited=limited))


def _in_order(chosen: list[Picked], *, limited: bool) -> Iterator[Picked]:
    """Loud ones first where it must be quiet later; what is left midway last, so that the rest is surely done."""
    yield from sorted(chosen, key=lambda picked: (limited and not picked.loud, picked.step.midway))
