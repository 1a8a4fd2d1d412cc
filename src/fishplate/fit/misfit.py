"""The chance that a part does not go where it must."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from ..build import Assumption
from .rework import MISFIT_UNKNOWN
from .sampling import Chance
from .study import Study
from .verdicts import after_looking


def misfit_chances(study: Study) -> tuple[Mapping[str, float], tuple[Assumption, ...]]:
    """Chance of misfit of each wanted part that meets another, and what was assumed where nothing is known.

    A part fits if every interface fits that lists it or that has a condition on one of its dimensions: jointly on the
    same draws. An interface seen on the vehicle counts as it was seen. Where a reading is missing a default stands in,
    and where one is stale the chance it gives, up to that default.
    """
    chances = {}
    for part, interfaces in sorted(_interfaces_of_parts(study).items()):
        seen = [key for key in interfaces if key in study.facts.settled]
        unseen = [key for key in interfaces if key not in study.facts.settled]
        chances[part] = 1 - _holds(study, unseen) * math.prod(_seen_right(study, key) for key in seen)
    unknown = [
        key
        for key, conditions in study.interfaces.items()
        if key not in study.facts.settled and (_lacking(study, key) or any(map(study.is_stale, conditions)))
    ]
    return chances, _said(len(unknown))


def _interfaces_of_parts(study: Study) -> dict[str, list[str]]:
    parts: dict[str, set[str]] = {}
    build = study.build
    for key in study.interfaces:
        for part in build.find("interfaces", key).parts:
            parts.setdefault(part, set()).add(key)
    for item in study.conditions:
        for name in item.names:
            part = build.find("dimensions", name).part
            if part is not None:
                parts.setdefault(part, set()).add(item.condition.interface)
    return {part: sorted(keys) for part, keys in parts.items() if part in study.facts.wanted_parts}


def _lacking(study: Study, interface: str) -> bool:
    """Whether no condition is stated, or one of them can neither be evaluated nor was looked at."""
    conditions, looked = study.interfaces[interface], study.facts.settled_conditions
    return not conditions or any(study.position(each) is None and each not in looked for each in conditions)


def _holds(study: Study, interfaces: Sequence[str]) -> float:
    """Chance that interfaces nobody has looked at fit together."""
    looked = study.facts.settled_conditions
    every = [condition for key in interfaces for condition in study.interfaces[key]]
    conditions = [condition for condition in every if condition not in looked]
    stale = [condition for condition in conditions if study.is_stale(condition)]
    fresh = _together(study, [condition for condition in conditions if condition not in stale])
    fresh *= math.prod(
        after_looking(_together(study, [each]) if study.position(each) is not None else None, looked[each])
        for each in every
        if each in looked
    )
    if any(_lacking(study, key) for key in interfaces):
        return fresh * (1 - MISFIT_UNKNOWN)
    return fresh * max(_together(study, stale), 1 - MISFIT_UNKNOWN)


def _seen_right(study: Study, interface: str) -> float:
    drawn = None if _lacking(study, interface) else _together(study, study.interfaces[interface])
    return after_looking(drawn, study.facts.settled[interface])


def _together(study: Study, conditions: Sequence[str]) -> float:
    """Chance that those conditions hold together which can be evaluated; 1 if there is none."""
    evaluable = tuple(condition for condition in conditions if study.position(condition) is not None)
    if not evaluable:
        return 1.0
    failing = np.logical_or.reduce(study.sample.misfits[[study.rows[condition] for condition in evaluable]])
    edge = 0.5 / len(failing)
    drawn = min(max(1 - float(failing.mean()), edge), 1 - edge)
    return study.together(evaluable, Chance(drawn, 0.0)).chance


def _said(unknown: int) -> tuple[Assumption, ...]:
    if not unknown:
        return ()
    count = "1 interface" if unknown == 1 else f"{unknown} interfaces"
    text = (
        f"where a reading is missing or stale ({count}), a misfit is taken to happen one time in four, "
        f"or less if the stale figures leave room (our own default)"
    )
    return (Assumption("misfit-unknown-default", "build", text),)
