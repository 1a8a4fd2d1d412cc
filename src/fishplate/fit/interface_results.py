"""The result for each interface: all its conditions jointly, and what was seen on the vehicle."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from ..build.interfaces import Interface, Settled
from .cautions import caution_for
from .condition_results import RESCALED, holds_with_defaults
from .confirmed import confirmed_by
from .model import ConditionResult, InterfaceResult, Verdict
from .sampling import Chance, Ready
from .sentences import interface_text
from .study import Study
from .verdicts import MOSTLY, after_looking, is_grave, needed_chance, plain_verdict, verdict_of


def interface_results(study: Study, conditions: Mapping[str, ConditionResult]) -> Iterator[InterfaceResult]:
    """One result for each interface, by id."""
    for group, (key, names) in enumerate(study.interfaces.items()):
        yield _result(study, study.build.find("interfaces", key), group, [conditions[name] for name in names])


def _result(study: Study, interface: Interface, group: int, results: list[ConditionResult]) -> InterfaceResult:
    consequences = [study.build.find("conditions", result.condition).consequence for result in results]
    needed, grave = needed_chance(consequences), any(is_grave(item) for item in consequences)
    settled = study.facts.settled.get(interface.id)
    drawn = _drawn(study, group, results)
    known = bool(results) and all(result.chance is not None or _alone(study, result) for result in results)
    if settled is not None:
        whole = after_looking(drawn.chance if known and drawn else None, settled)
        chance: Chance | None = Chance(whole * _bad_looks(study, results), 0.0)
        verdict = plain_verdict(chance.chance, needed) if chance else Verdict.NOT_KNOWN
    else:
        chance = drawn if known else None
        verdict = _verdict(drawn, results, needed)
    default = _default_share(study, results)
    swayed = settled is None and default > MOSTLY and _swayed(study, results, drawn, needed)
    if swayed and verdict is not Verdict.NOT_KNOWN:
        verdict = Verdict.NOT_KNOWN
    seen = settled.good if settled is not None else bool(results) and all(_alone_good(study, each) for each in results)
    verify = grave and not (seen and verdict is Verdict.FITS)
    return InterfaceResult(
        interface=interface.id,
        verdict=verdict,
        chance=None if chance is None else chance.chance,
        standard_error=None if chance is None else chance.standard_error,
        conditions=tuple(result.condition for result in results),
        missing=_union(results, "missing"),
        stale=_union(results, "stale"),
        settled=seen and verdict is Verdict.FITS,
        verify_on_vehicle=verify,
        text=" ".join(
            [
                interface_text(
                    study.build, interface, verdict, chance, results, settled=settled, verify=verify, default=default
                ),
                *(confirmed_by(study.build, study.facts.as_of, interface) if settled is None else ()),
            ]
        ),
        caution=caution_for(study.build, interface, grave=grave),
        default_share=default,
    )


def _default_share(study: Study, results: list[ConditionResult]) -> float:
    """Share of the doubt that rests on default spreads: of each condition's, by its chance of misfit."""
    open_ = [(1 - result.chance, result.default_share) for result in results
             if result.chance is not None and _alone(study, result) is None]  # fmt: skip
    total = sum(misfit for misfit, _ in open_)
    return sum(misfit * share for misfit, share in open_) / total if total > 0 else 0.0


def _swayed(study: Study, results: list[ConditionResult], drawn: Chance | None, needed: float) -> bool:
    """Whether all conditions together have another verdict with the default spreads halved or doubled."""
    rows = [study.position(result.condition) for result in results if _alone(study, result) is None]
    items = [study.evaluable[row] for row in rows if row is not None]
    if drawn is None or len(items) < 2:  # one alone was looked at by itself
        return False
    firm = [study.sample.misfits[study.rows[item.condition.id]] for item in items if not isinstance(item, Ready)]
    chances = [drawn.chance]
    for factor in RESCALED:
        holds = [holds_with_defaults(study, item, factor) for item in items if isinstance(item, Ready)]
        together = np.logical_and.reduce([*holds, *(~each[: len(holds[0])] for each in firm)]) if holds else ~firm[0]
        chances.append(float(together.mean()))
    return len({plain_verdict(chance, needed) for chance in chances}) > 1


def _drawn(study: Study, group: int, results: list[ConditionResult]) -> Chance | None:
    """Chance that those conditions hold together which can be evaluated or were looked at."""
    keys = tuple(result.condition for result in results if result.chance is not None and not _alone(study, result))
    looked = [after_looking(result.chance, seen) for result in results if (seen := _alone(study, result)) is not None]
    if not keys and not looked:
        return None
    drawn = study.together(keys, study.sample.groups[group]) if keys else Chance(1.0, 0.0)
    share = math.prod(looked)
    return Chance(drawn.chance * share, drawn.standard_error * share)


def _alone(study: Study, result: ConditionResult) -> Settled | None:
    return study.facts.settled_conditions.get(result.condition)


def _alone_good(study: Study, result: ConditionResult) -> bool:
    seen = _alone(study, result)
    return seen is not None and seen.good


def _bad_looks(study: Study, results: list[ConditionResult]) -> float:
    """What is left of an interface seen right after conditions of it were seen wrong."""
    looks = [seen for result in results if (seen := _alone(study, result)) is not None and not seen.good]
    return math.prod(1 - seen.chance_right for seen in looks)


def _verdict(drawn: Chance | None, results: list[ConditionResult], needed: float) -> Verdict:
    """Not known if a condition is not, unless those that are known already fail."""
    known = [result for result in results if result.verdict is not Verdict.NOT_KNOWN]
    if len(known) < len(results) or drawn is None:
        failing = any(result.verdict is Verdict.DOES_NOT_FIT for result in known)
        return Verdict.DOES_NOT_FIT if failing else Verdict.NOT_KNOWN
    return verdict_of(drawn, needed)


def _union(results: list[ConditionResult], field: str) -> tuple[str, ...]:
    return tuple(sorted({name for result in results for name in getattr(result, field)}))
