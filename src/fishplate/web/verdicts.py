"""What is known about fit: the report on the build as it stands, or the verdicts of the last plan."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..build import Build
from ..build.formats import Formats
from ..build.units import format_quantity, from_internal

if TYPE_CHECKING:
    from ..fit import ConditionResult, FitReport, InterfaceResult, Verdict
    from ..fit.readings import DimensionState
    from ..plan import Plan
    from .desk import View


@dataclass(frozen=True, slots=True)
class Fitted:
    """Verdicts, and what is known of every dimension.

    Parameters
    ----------
    states : dimension -> what is known of it; those without a reading are left out
    of_plan : the verdicts are the last plan's, without margins
    """

    report: FitReport
    states: Mapping[str, DimensionState]
    of_plan: bool = False

    @property
    def interfaces(self) -> dict[str, InterfaceResult]:
        """Results by interface."""
        return {result.interface: result for result in self.report.interfaces}

    @property
    def conditions(self) -> dict[str, ConditionResult]:
        """Results by condition."""
        return {result.condition: result for result in self.report.conditions}


def fitted(view: View) -> Fitted:
    """Everything known about fit in a build as it stands."""
    from ..fit import assess
    from ..fit.readings import dimension_states

    names = sorted(view.build.index["dimensions"])
    states, _ = dimension_states(view.build, view.facts, names)
    return Fitted(assess(view.build, view.facts), states)


def fitted_by_plan(build: Build, plan: Plan) -> Fitted:
    """The verdicts of a plan, until those of the build as it stands are worked out."""
    from ..fit import FitReport

    lines = [line for line in plan.fit if line.condition in build.index["conditions"]]
    conditions = tuple(
        _condition(build, line.condition, line.verdict, line.chance, line.text, line.shares) for line in lines
    )
    interfaces = tuple(
        _interface(build, interface.id, [result for result in conditions if result.interface == interface.id])
        for interface in build.interfaces
    )
    met = tuple(result for result in interfaces if result.conditions)
    return Fitted(FitReport(conditions, met, (), {}, (), 0, plan.seed), {}, of_plan=True)


def _condition(
    build: Build, id_: str, verdict: str, chance: float | None, text: str, shares: Mapping[str, float]
) -> ConditionResult:  # fmt: skip
    from ..fit import ConditionResult, Verdict

    return ConditionResult(
        condition=id_,
        interface=build.find("conditions", id_).interface,
        verdict=Verdict(verdict),
        chance=chance,
        shares=shares,
        text=text,
    )


def _interface(build: Build, id_: str, results: list[ConditionResult]) -> InterfaceResult:
    from ..fit import InterfaceResult

    name = build.find("interfaces", id_).name
    verdict = worst([result.verdict for result in results])
    return InterfaceResult(
        interface=id_,
        verdict=verdict,
        chance=None,
        standard_error=None,
        conditions=tuple(result.condition for result in results),
        missing=(),
        stale=(),
        settled=False,
        verify_on_vehicle=False,
        text=f"{name}: {verdict}.",
    )


def worst(verdicts: list[Verdict]) -> Verdict:
    """The verdict of conditions together, from theirs alone.

    Examples
    --------
    >>> from fishplate.fit import Verdict
    >>> worst([Verdict.FITS, Verdict.IN_DOUBT]), worst([])
    (<Verdict.IN_DOUBT: 'in doubt'>, <Verdict.NOT_KNOWN: 'not known'>)
    """
    from ..fit import Verdict

    for verdict in (Verdict.DOES_NOT_FIT, Verdict.NOT_KNOWN, Verdict.IN_DOUBT, Verdict.FITS):
        if verdict in verdicts:
            return verdict
    return Verdict.NOT_KNOWN


def known_words(state: DimensionState | None, unit: str) -> str:
    """What is known of a dimension, with its spread and what that means; to two digits of the spread.

    Examples
    --------
    >>> from fishplate.fit.readings import DimensionState
    >>> known_words(DimensionState("gap", 22.0, 2.886751, "rectangular"), "mm")
    '22 mm, give or take 5 at most'
    >>> known_words(DimensionState("gap", 1547.62, 0.4966, "normal"), "mm"), known_words(None, "mm")
    ('1547.62 mm, standard deviation 0.50', 'no reading')
    """
    if state is None:
        return "no reading"
    value = from_internal(state.value, unit)
    if not state.random:
        return f"{format_quantity(value, unit, digits=7)}, exact"
    width = from_internal(state.sd if state.shape == "normal" else state.half_width, unit)
    if state.shape == "normal":
        decimals = max(0, 1 - math.floor(math.log10(width)))
        return f"{value:.{decimals}f} {unit}".rstrip() + f", standard deviation {width:.{decimals}f}"
    return f"{format_quantity(value, unit, digits=7)}, give or take {format_quantity(width, '', digits=2)} at most"


def known_as_held(state: DimensionState | None, unit: str, formats: Formats) -> str:
    """The same, and the value in the unit it is held in where the owner reads another."""
    words = known_words(state, unit)
    if state is None or formats.unit(unit) == unit:
        return words
    return f"{words}; held as {format_quantity(from_internal(state.value, unit), unit, digits=7)}"
