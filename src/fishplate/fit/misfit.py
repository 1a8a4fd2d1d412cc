"""The chance that a part does not go where it must."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..build import Assumption
from .rework import MISFIT_UNKNOWN
from .study import Study
from .verdicts import after_looking

Flags = NDArray[np.bool_]


def misfit_chances(study: Study) -> tuple[Mapping[str, float], tuple[Assumption, ...]]:
    """Chance of misfit of each wanted part that meets another, and what was assumed where nothing is known.

    A part fits if every interface fits that lists it or that has a condition on one of its dimensions: jointly on the
    same draws. An interface seen on the vehicle counts as it was seen. One without figures counts with a default.
    """
    failing = {key: _failing(study, keys) for key, keys in study.interfaces.items()}
    chances = {}
    for part, interfaces in sorted(_interfaces_of_parts(study).items()):
        seen = [key for key in interfaces if key in study.facts.settled]
        unseen = [key for key in interfaces if key not in study.facts.settled]
        holds = _joint(study, unseen, failing)
        for key in seen:
            holds *= after_looking(_alone(study, key, failing), study.facts.settled[key])
        lacking = any(failing[key] is None for key in unseen)
        chances[part] = 1 - holds * (1 - MISFIT_UNKNOWN if lacking else 1.0)
    return chances, _said(sum(found is None and key not in study.facts.settled for key, found in failing.items()))


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


def _failing(study: Study, conditions: tuple[str, ...]) -> Flags | None:
    """Whether an interface fails on each draw kept; None if a condition can't be evaluated, or none is stated."""
    rows = [study.position(condition) for condition in conditions]
    known = [row for row in rows if row is not None]
    if not known or len(known) < len(rows):
        return None
    found: Flags = np.logical_or.reduce(study.sample.misfits[known])
    return found


def _joint(study: Study, keys: list[str], failing: Mapping[str, Flags | None]) -> float:
    rows = [found for key in keys if (found := failing[key]) is not None]
    if not rows:
        return 1.0
    certain = [
        study.certain.get(condition) for key in keys if failing[key] is not None for condition in study.interfaces[key]
    ]
    if all(certain) or any(item is False for item in certain):
        return float(all(certain))
    held = 1 - float(np.logical_or.reduce(rows).mean())
    edge = 0.5 / len(rows[0])
    return min(max(held, edge), 1 - edge)


def _alone(study: Study, key: str, failing: Mapping[str, Flags | None]) -> float | None:
    return None if failing[key] is None else _joint(study, [key], failing)


def _said(unknown: int) -> tuple[Assumption, ...]:
    if not unknown:
        return ()
    count = "1 interface" if unknown == 1 else f"{unknown} interfaces"
    text = f"where a fit has no figures ({count}), a misfit is taken to happen one time in four (our own default)"
    return (Assumption("misfit-unknown-default", "build", text),)
