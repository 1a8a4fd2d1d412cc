"""Dry runs still to be made: what no figure settles is tried on the vehicle, in time."""

from __future__ import annotations

from collections.abc import Iterator

from ..build.interfaces import Condition, Interface
from .model import Look
from .rework import MISFIT_UNKNOWN
from .sampling import DryRun
from .sentences import inner, list_words
from .study import Study
from .verdicts import is_grave
from .ways import dry_run_minutes
from .worth import value_of_settling


def looks(study: Study) -> Iterator[Look]:
    """One for each wanted dry run that was not seen yet, by id."""
    for item in study.conditions:
        if isinstance(item, DryRun) and study.seen(item.condition.id) is None:
            yield _look(study, item.condition)


def _look(study: Study, condition: Condition) -> Look:
    interface: Interface = study.build.find("interfaces", condition.interface)
    grave = is_grave(condition.consequence)
    waiting = [part for part in interface.parts if _is_to_come(study, part)] if interface.stand_in is None else []
    return Look(
        interface=interface.id,
        condition=condition.id,
        minutes=dry_run_minutes(),
        value=value_of_settling(study.rework[condition.id], MISFIT_UNKNOWN),
        grave=grave,
        blocked_by_part=min(waiting, default=None),
        text=_text(study, interface, condition, grave=grave),
    )


def _is_to_come(study: Study, part: str) -> bool:
    return part in study.facts.wanted_parts and study.facts.owned.get(part, 0.0) <= 0


def _text(study: Study, interface: Interface, condition: Condition, *, grave: bool) -> str:
    tools = f", with {list_words([inner(tool) for tool in condition.tools])}" if condition.tools else ""
    aid = ""
    if interface.stand_in is not None:
        aid = f" {study.build.find('stand_ins', interface.stand_in).name} can stand in."
    when = " before it is closed up or first moved" if grave else ""
    return f"Try it on the vehicle{when}: {inner(condition.name)}{tools}. No figure settles it.{aid}"
