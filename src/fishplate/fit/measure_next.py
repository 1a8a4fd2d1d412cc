"""What a perfect reading of a dimension would save.

A misfit can be put right now, or be left to chance and found late; one takes the lesser of `early` and P * `late`.
Knowing a dimension changes P, and with it the choice: its value is the expected lesser cost before, less after. Each
condition is taken as a choice of its own. Where readings are missing or stale they settle the condition together, from
a default chance of misfit, and share the value of that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ..build.interfaces import StandIn
from .model import ConditionResult, MeasureCandidate, Verdict
from .rework import MISFIT_UNKNOWN, Rework, hour_worth
from .sentences import inner, list_words, measure_text
from .study import Study

Floats = NDArray[np.float64]


def value_of_knowing(order: NDArray[np.intp], gain: Floats) -> float:
    """Expected value of knowing one quantity before choosing between two actions.

    Parameters
    ----------
    order : (draws,) positions of the draws by rising value of the quantity
    gain : (draws,) cost of the second action less cost of the first, on the same draws

    Returns
    -------
    E[min(0, gain)] with the choice made knowing the quantity, less min(0, E[gain]); never negative

    Notes
    -----
    The best choice is taken to be: one action inside an interval of the quantity, the other outside it. That is exact
    for limits on one side and on both. It costs a sort instead of a smoothing, and is found as the contiguous stretch
    of the sorted draws with the least, or the greatest, sum. For a gain linear in a normal quantity the value is the
    unit normal loss integral (Raiffa and Schlaifer 1961).
    """
    ordered = np.concatenate([[0.0], np.cumsum(gain[order])])
    whole = float(ordered[-1])
    least = float((ordered - np.maximum.accumulate(ordered)).min())
    most = float((ordered - np.minimum.accumulate(ordered)).max())
    return max(0.0, (min(whole, 0.0) - min(least, whole - most, whole, 0.0)) / gain.size)


def value_of_settling(rework: Rework, misfit: float) -> float:
    """Value of knowing for sure whether a condition holds, from its chance of misfit.

    Examples
    --------
    >>> value_of_settling(Rework(early=200, late=1000), 0.25)
    150.0
    """
    return rework.expected(misfit) - misfit * rework.expected(1.0)


def measures(study: Study, conditions: Sequence[ConditionResult]) -> tuple[MeasureCandidate, ...]:
    """Dimensions worth measuring, best first: by saving net of the owner's time, per minute."""
    open_conditions = [item for item in conditions if item.verdict is not Verdict.FITS]
    values: dict[str, float] = {}
    interfaces: dict[str, set[str]] = {}
    for name, results in _by_dimension(study, open_conditions).items():
        values[name] = _value(study, name, results)
        interfaces[name] = {result.interface for result in results}
    found = [_candidate(study, name, value, interfaces[name]) for name, value in sorted(values.items())]
    worth = hour_worth(study.build) / 60
    return tuple(sorted(found, key=lambda item: (-_rate(item, worth), item.dimension)))


def _rate(item: MeasureCandidate, minute_worth: float) -> float:
    return (item.value - item.minutes * minute_worth) / max(item.minutes, 1.0)


def _by_dimension(study: Study, results: Sequence[ConditionResult]) -> dict[str, list[ConditionResult]]:
    """Conditions by the dimensions of them that could be known better."""
    names = {item.condition.id: item.names for item in study.conditions}
    found: dict[str, list[ConditionResult]] = {}
    for result in results:
        for name in names[result.condition]:
            if name in result.missing or (name in study.states and _improvable(study, name)):
                found.setdefault(name, []).append(result)
    return found


def _value(study: Study, name: str, results: Sequence[ConditionResult]) -> float:
    """Value of a perfect reading of a dimension over all conditions it bears on."""
    order, total = None, 0.0
    for result in results:
        rework, row = study.rework[result.condition], study.position(result.condition)
        lacking = (*result.missing, *result.stale)
        if lacking:
            # the readings a condition lacks settle it together; until then no other one can
            misfit = MISFIT_UNKNOWN if result.chance is None else min(1 - result.chance, MISFIT_UNKNOWN)
            total += value_of_settling(rework, misfit) / len(lacking) if name in lacking else 0.0
        elif row is not None and result.condition not in study.certain:
            if order is None:
                order = np.argsort(study.sample.values[study.draws.row[name]].astype(np.float64))
            total += value_of_knowing(order, study.sample.misfits[row] * rework.late - rework.early)
    return total


def _improvable(study: Study, name: str) -> bool:
    """Stale; or else random, and taken with a default spread or not from this vehicle."""
    state = study.states[name]
    return state.stale or (state.random and (state.default or not state.own))


def _candidate(study: Study, name: str, value: float, interfaces: set[str]) -> MeasureCandidate:
    build, dimension = study.build, study.build.find("dimensions", name)
    part = dimension.part if dimension.part and study.facts.owned.get(dimension.part, 0.0) <= 0 else None
    job = dimension.job if dimension.job and not study.facts.is_done(dimension.job) else None
    stand_in = next(_stand_ins(build.stand_ins, name), None)
    waits = [f"the {inner(build.find('parts', part).name)} is in hand"] if part else []
    waits += [f"the job {build.find('jobs', job).name!r} is done"] if job else []
    blocked = f", once {list_words(waits)}" if waits else ""
    state = study.states.get(name)
    kind = "missing" if state is None else "stale" if state.stale else "known"
    return MeasureCandidate(
        dimension=name,
        minutes=dimension.minutes,
        value=value,
        interfaces=tuple(sorted(interfaces)),
        blocked_by_part=part,
        blocked_by_job=job,
        stand_in=stand_in,
        text=measure_text(build, dimension, value, kind, blocked, stand_in),
    )


def _stand_ins(stand_ins: Sequence[StandIn], name: str) -> Iterator[str]:
    return (item.id for item in sorted(stand_ins, key=lambda item: item.id) if name in item.dimensions)
