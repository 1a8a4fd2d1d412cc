"""The front door: does it go together, how sure, and what to measure."""

from __future__ import annotations

from ..build import Build, Facts
from .condition_results import condition_results
from .interface_results import interface_results
from .looks import looks
from .measure_next import measures
from .misfit import misfit_chances
from .model import FitReport
from .study import Study, study


def assess(
    build: Build, facts: Facts, *, seed: int = 1, samples: int = 20_000, at_hand: Study | None = None
) -> FitReport:
    """Everything known about fit on a day.

    Parameters
    ----------
    facts : the build as it stands; only wanted conditions count, and readings up to its day
    seed : of the joint draws; samples : at least so many of them
    at_hand : an earlier study; its draws are used again where they are the same

    Examples
    --------
    >>> from datetime import date
    >>> from fishplate.build import build_from_data, facts_of
    >>> build = build_from_data({
    ...     "interfaces": [{"id": "arch", "name": "Tyre in arch"}],
    ...     "dimensions": [{"id": "gap", "name": "Gap at full bump"}],
    ...     "readings": [{"id": "r1", "dimension": "gap", "value": 22, "spread": 5, "day": "2026-03-01"}],
    ...     "conditions": [{"id": "c1", "interface": "arch", "name": "Clearance", "expression": "gap",
    ...                     "at_least": "15 mm"}],
    ... })
    >>> assess(build, facts_of(build, date(2026, 3, 2))).conditions[0].text
    'Clearance: fits, whatever the dimensions within their limits, 7.0 mm to spare (2.5 to 11.5 mm in nine ...'
    """
    studied = study(build, facts, seed=seed, samples=samples, at_hand=at_hand)
    conditions = tuple(condition_results(studied))
    interfaces = tuple(interface_results(studied, {result.condition: result for result in conditions}))
    misfit_chance, assumed = misfit_chances(studied)
    keys = tuple(item.condition.id for item in studied.evaluable)
    whole = studied.together(keys, studied.sample.all_hold) if keys else None
    return FitReport(
        conditions=conditions,
        interfaces=interfaces,
        measures=measures(studied, conditions),
        looks=tuple(looks(studied)),
        misfit_chance=misfit_chance,
        assumptions=tuple(sorted({*studied.assumptions, *assumed})),
        samples=studied.draws.samples,
        seed=seed,
        chance=None if whole is None else whole.chance,
        standard_error=None if whole is None else whole.standard_error,
    )
