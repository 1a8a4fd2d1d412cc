"""What a misfit costs, put right now or found late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..build import Assumption, Build
from ..build.defaults import hour_worth, hour_worth_assumed
from ..build.interfaces import Condition, Consequence

# Our own default, where a condition states neither hours nor money.
LATE_HOURS = {
    Consequence.INCONVENIENCE: 2.0,
    Consequence.REWORK: 8.0,
    Consequence.HIDDEN: 16.0,
    Consequence.HAZARD: 16.0,
}
EARLY_SHARE = 0.25
# A fit that nobody has figures for fails so often, and one with stale figures at most so often: our own default.
MISFIT_UNKNOWN = 0.25


@dataclass(frozen=True, slots=True)
class Rework:
    """Cost of putting a misfit right now, and of finding it late, in home currency."""

    early: float
    late: float

    def expected(self, misfit: float) -> float:
        """The lesser of putting it right now and of the chance of finding it late."""
        return min(self.early, misfit * self.late)


def rework_of(build: Build, conditions: Sequence[Condition]) -> tuple[dict[str, Rework], tuple[Assumption, ...]]:
    """Rework of each condition by id, and what was assumed for those that state none."""
    worth, found = hour_worth(build.owner), {}
    no_late = no_early = 0
    for condition in conditions:
        if condition.late_hours is None and not condition.late_cost:
            late, no_late = LATE_HOURS[condition.consequence] * worth, no_late + 1
        else:
            hours = 0.0 if condition.late_hours is None else condition.late_hours.mean
            late = hours * worth + condition.late_cost
        early = condition.early_hours * worth + condition.early_cost
        if not early:
            early, no_early = EARLY_SHARE * late, no_early + 1
        found[condition.id] = Rework(early, late)
    return found, _said(build, no_late, no_early)


def _said(build: Build, no_late: int, no_early: int) -> tuple[Assumption, ...]:
    said = list(hour_worth_assumed(build.owner))
    if no_late:
        hours = ", ".join(f"{hours:g} h for {kind}" for kind, hours in LATE_HOURS.items())
        text = (
            f"rework of a misfit found late, where none is stated ({_conditions(no_late)}): {hours} (our own default)"
        )
        said.append(Assumption("late-rework-default", "build", text))
    if no_early:
        text = (
            f"putting a misfit right now, where no cost is stated ({_conditions(no_early)}): "
            f"a quarter of what it costs late (our own default)"
        )
        said.append(Assumption("early-rework-default", "build", text))
    return tuple(said)


def _conditions(count: int) -> str:
    return "1 condition" if count == 1 else f"{count} conditions"
