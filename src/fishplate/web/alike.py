"""Whether a change leaves alone all that verdicts and the order of decisions rest on."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Final

from ..build.document import LISTS

if TYPE_CHECKING:
    from ..build import Facts
    from .desk import View

ASIDE: Final = frozenset(
    (
        "events", "sightings", "price_changes", "sale_windows", "rates", "rule_overrides", "evidence", "put_off",
        "allowances",
    )
)  # fmt: skip
"""Lists that neither `fit` nor `decide` reads; of events, they read what is coming, which the facts say too."""


def alike(before: View, after: View) -> bool:
    """Whether verdicts and the order of decisions are the same in two views: hours, money and prices may differ."""
    one, other = before.build, after.build
    return (
        before.as_of == after.as_of
        and one.owner == other.owner
        and all(getattr(one, name) is getattr(other, name) for name in LISTS if name not in ASIDE)
        and _so(before.facts) == _so(after.facts)
    )


def _so(facts: Facts) -> dict[str, object]:
    """What is so, without the hours worked."""
    found = {field.name: getattr(facts, field.name) for field in fields(facts)}
    return found | {"jobs": {job: state.done_on for job, state in facts.jobs.items() if state.done_on is not None}}
