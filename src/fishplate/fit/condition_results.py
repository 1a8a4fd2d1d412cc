"""The result for each condition, read off the study."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..build.interfaces import Settled
from .intervals import Bounds
from .model import ConditionResult, Verdict
from .points import Single
from .rework import MISFIT_UNKNOWN
from .sampling import MANY, Chance, Evaluable, Judged, Mating, Ready, holds_rescaled
from .sentences import condition_text
from .shares import default_share, misfit_share, variance_shares
from .study import Study, bounds, correlation_of, shown_unit
from .verdicts import MOSTLY, after_looking, needed_chance, plain_verdict, verdict_of
from .worst_case import WorstCase, gradient, root_sum_square, worst_case
from .worth import Stands

# Shares and quantiles of very many conditions are read off so many draws.
SHARED = 4096
# Fewer draws that fail, or that hold, say too little of what makes it fail.
TELLING = 100
# Default spreads decide a verdict if it is another with them halved or doubled.
RESCALED = (0.5, 2.0)
# What sums of decimals leave over in floating point is less than this share of the largest dimension.
ROUNDED = 1e-12


def condition_results(study: Study) -> Iterator[ConditionResult]:
    """One result for each wanted condition, by id."""
    for item in study.conditions:
        row = study.position(item.condition.id)
        yield _not_evaluable(study, item) if row is None else _evaluated(study, study.evaluable[row], row)


def how_conditions_stand(study: Study) -> Iterator[Stands]:
    """For each wanted condition its chance and what it lacks, as in its result."""
    for item in study.conditions:
        key, row = item.condition.id, study.position(item.condition.id)
        chance = None if row is None else study.together((key,), study.sample.holds[row]).chance
        yield Stands(key, chance, _missing(study, item) if row is None else (), _stale(study, item))


def _not_evaluable(study: Study, item: Judged) -> ConditionResult:
    settled = study.seen(item.condition.id)
    missing = _missing(study, item)
    verdict = Verdict.NOT_KNOWN if settled is None else _looked_at(None, settled, item)
    misfit = MISFIT_UNKNOWN if settled is None else 1 - after_looking(None, settled)
    return ConditionResult(
        condition=item.condition.id,
        interface=item.condition.interface,
        verdict=verdict,
        unit=shown_unit(item, study.build)[0],
        missing=missing,
        stale=_stale(study, item),
        misfit_cost=study.misfit_cost(item.condition.id, misfit),
        text=condition_text(study.build, item.condition, verdict, missing=missing, settled=settled),
    )


def _evaluated(study: Study, item: Evaluable, row: int) -> ConditionResult:
    condition = item.condition
    settled, stale = study.seen(condition.id), _stale(study, item)
    chance = study.together((condition.id,), study.sample.holds[row])
    shares = _shares(study, item, row)
    default = default_share(np.array(list(shares.values())), [study.states[name].default for name in shares])
    swayed = isinstance(item, Ready) and default > MOSTLY and _swayed(study, item, chance)
    verdict = _verdict(chance, item, stale=bool(stale), swayed=swayed)
    if settled is not None:
        verdict = _looked_at(chance.chance, settled, item)
    misfit = 1 - (chance.chance if settled is None else after_looking(chance.chance, settled))
    if stale and settled is None:
        misfit = min(misfit, MISFIT_UNKNOWN)
    figures = _figures(study, item, row) if isinstance(item, Ready) else NO_FIGURES
    return ConditionResult(
        condition=condition.id,
        interface=condition.interface,
        verdict=verdict,
        chance=chance.chance,
        standard_error=chance.standard_error,
        unit=figures.unit,
        nominal=figures.nominal,
        at_least=figures.at_least,
        at_most=figures.at_most,
        margin_p05=figures.margins[0],
        margin_p50=figures.margins[1],
        margin_p95=figures.margins[2],
        worst_low=figures.worst_low,
        worst_high=figures.worst_high,
        worst_margin=figures.worst_margin,
        worst_method=figures.worst_method,
        rss=figures.rss,
        shares=shares,
        misfit_shares=_misfit_shares(study, item, row),
        default_share=default,
        missing=(),
        stale=stale,
        misfit_cost=study.misfit_cost(condition.id, misfit),
        decided_by_defaults=swayed,
        text=condition_text(
            study.build, condition, verdict, chance=chance.chance, unit=figures.unit, margins=figures.margins,
            shares=shares, stale=stale, swayed=swayed, default=default, settled=settled,
            finding=item.finding if isinstance(item, Mating) else None,
        ),
    )  # fmt: skip


def _missing(study: Study, item: Judged) -> tuple[str, ...]:
    return tuple(name for name in item.names if name not in study.states)


def _stale(study: Study, item: Judged) -> tuple[str, ...]:
    return tuple(name for name in item.names if name in study.states and study.states[name].stale)


def _verdict(chance: Chance, item: Judged, *, stale: bool, swayed: bool) -> Verdict:
    if stale or swayed:
        return Verdict.NOT_KNOWN
    return verdict_of(chance, needed_chance([item.condition.consequence]))


def _looked_at(chance: float | None, settled: Settled, item: Judged) -> Verdict:
    return plain_verdict(after_looking(chance, settled), needed_chance([item.condition.consequence]))


def _swayed(study: Study, item: Ready, chance: Chance) -> bool:
    """Whether halving or doubling the default spreads would give another verdict."""
    needed = needed_chance([item.condition.consequence])
    others = [float(holds_with_defaults(study, item, factor).mean()) for factor in RESCALED]
    return len({plain_verdict(value, needed) for value in (chance.chance, *others)}) > 1


def holds_with_defaults(study: Study, item: Ready, factor: float) -> NDArray[np.bool_]:
    """Whether a condition holds with its default spreads scaled, draw by draw."""
    centres = {name: study.states[name].value for name in item.names if study.states[name].default}
    return holds_rescaled(item, study.draws, study.sample, centres, factor, _few(study))


def _shares(study: Study, item: Evaluable, row: int) -> dict[str, float]:
    names = [name for name in item.names if name in study.draws.row]
    few = _few(study)
    values = study.sample.values[[study.draws.row[name] for name in names], :few]
    linked = correlation_of(study, tuple(names)) if study.draws.linked(names) else None
    found = variance_shares(values, study.sample.varying(row)[:few], linked)
    return dict(zip(names, (float(share) for share in found), strict=True))


def _misfit_shares(study: Study, item: Evaluable, row: int) -> dict[str, float]:
    misfits = study.sample.misfits[row]
    failing = np.flatnonzero(misfits)
    if min(failing.size, misfits.size - failing.size) < TELLING:
        return {}
    names = (name for name in item.names if name in study.draws.row)
    return {name: misfit_share(study.cells(name), failing) for name in names}


@dataclass(frozen=True, slots=True)
class _Figures:
    unit: str
    nominal: float | None
    at_least: float | None
    at_most: float | None
    margins: tuple[float | None, float | None, float | None]
    worst_low: float | None
    worst_high: float | None
    worst_margin: float | None
    worst_method: str
    rss: float | None


NO_FIGURES = _Figures("", None, None, None, (None, None, None), None, None, None, "", None)


def _figures(study: Study, item: Ready, row: int) -> _Figures:
    unit, factor = shown_unit(item, study.build)
    likely = {name: study.states[name].value for name in item.names}
    boxes = {name: bounds(study.states[name]) for name in item.names}
    worst = worst_case(item.expression, boxes)

    def shown(value: float | None) -> float | None:
        return None if value is None or not math.isfinite(value) else float(value) / factor

    quantiles = _quantiles(study.sample.margins[row, : _few(study)])
    limits = [None if limit is None else float(limit.evaluate(likely)) for limit in (item.at_least, item.at_most)]
    return _Figures(
        unit=unit,
        nominal=shown(float(item.expression.evaluate(likely))),
        at_least=shown(limits[0]),
        at_most=shown(limits[1]),
        margins=(shown(quantiles[0]), shown(quantiles[1]), shown(quantiles[2])),
        worst_low=shown(worst.low),
        worst_high=shown(worst.high),
        worst_margin=shown(_worst_margin(item, worst, boxes)),
        worst_method=worst.method,
        rss=shown(_rss(study, item, likely)),
    )


def _worst_margin(item: Ready, worst: WorstCase, boxes: Mapping[str, Bounds]) -> float:
    """The least margin with every dimension at its bounds; limits may go by dimensions too."""
    if any(limit is not None and limit.names for limit in (item.at_least, item.at_most)):
        least = min(worst_case(margin, boxes).low for margin in item.margins)
    else:
        low, high = (
            math.nan if limit is None else float(limit.evaluate({})) for limit in (item.at_least, item.at_most)
        )
        least = float(np.fmin(worst.low - low, high - worst.high))
    largest = max((abs(end) for box in boxes.values() for end in box), default=0.0)
    return 0.0 if abs(least) < ROUNDED * largest else least


def _few(study: Study) -> int | None:
    return SHARED if len(study.evaluable) > MANY else None


def _quantiles(margins: Single) -> tuple[float, float, float]:
    """The draws with 5, 50 and 95 % of all below them; not-a-number ranks last."""
    ranks = [int(share * len(margins)) for share in (0.05, 0.5, 0.95)]
    low, middle, high = np.sort(margins)[ranks]
    return float(low), float(middle), float(high)


def _rss(study: Study, item: Ready, likely: dict[str, float]) -> float:
    names = tuple(name for name in sorted(item.expression.names) if name in study.draws.row)
    widths = {name: study.states[name].half_width for name in names}
    slopes = gradient(item.expression, likely, widths)
    return root_sum_square(slopes, np.array(list(widths.values())), correlation_of(study, names))
