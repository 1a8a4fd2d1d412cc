"""The report on fit, and what it is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from ..build import Assumption


class Verdict(StrEnum):
    """Whether a condition or an interface holds, as far as is known."""

    FITS = "fits"
    IN_DOUBT = "in doubt"
    DOES_NOT_FIT = "does not fit"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class ConditionResult:
    """What is known of one condition.

    Parameters
    ----------
    chance : that it holds, given the spreads, a stale reading counting as an estimate; None if a dimension is missing.
        Kept off 0 and 1 unless bounds alone make it certain
    standard_error : of the chance, from sampling
    unit : of every figure below
    nominal, at_least, at_most : the expression and its limits at the likely values
    margin_p05, margin_p50, margin_p95 : quantiles of the least margin to the limits; below zero is a misfit
    worst_low, worst_high : least and greatest value of the expression with every dimension at its bounds; None where
        nothing bounds it, or it may have no value
    worst_margin : the least margin to the limits so; below zero is a misfit
    worst_method : "interval" (exact), "search" (never too narrow), "corners" (of the bounds; it may be worse between)
        or ""
    rss : half-width by root-sum-square of the dimensions' half-widths, correlations included
    shares : dimension -> its first-order share of the variance
    misfit_shares : dimension -> its first-order share in whether it fails; empty where too few draws fail, or hold
    default_share : share of that variance which rests on default spreads
    missing, stale : dimensions without a reading; dimensions whose readings were taken before a change
    misfit_cost : chance of misfit times late rework, in home currency
    decided_by_defaults : the verdict would be another with the default spreads halved or doubled
    """

    condition: str
    interface: str
    verdict: Verdict
    text: str
    chance: float | None = None
    standard_error: float | None = None
    unit: str = ""
    nominal: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    margin_p05: float | None = None
    margin_p50: float | None = None
    margin_p95: float | None = None
    worst_low: float | None = None
    worst_high: float | None = None
    worst_margin: float | None = None
    worst_method: str = ""
    rss: float | None = None
    shares: Mapping[str, float] = field(default_factory=dict)
    misfit_shares: Mapping[str, float] = field(default_factory=dict)
    default_share: float = 0.0
    missing: tuple[str, ...] = ()
    stale: tuple[str, ...] = ()
    misfit_cost: float = 0.0
    decided_by_defaults: bool = False


@dataclass(frozen=True, slots=True)
class InterfaceResult:
    """What is known of one interface: all its conditions jointly.

    Parameters
    ----------
    chance : that all its conditions hold; None if one of them can't be evaluated
    settled : it was seen to be right on the vehicle
    verify_on_vehicle : hidden or hazardous and not yet seen right: to be looked at before closing or first move
    caution : what to mind, from the hazards of the interface and its systems; empty if there are none
    default_share : share of the doubt that rests on default spreads
    """

    interface: str
    verdict: Verdict
    chance: float | None
    standard_error: float | None
    conditions: tuple[str, ...]
    missing: tuple[str, ...]
    stale: tuple[str, ...]
    settled: bool
    verify_on_vehicle: bool
    text: str
    caution: str = ""
    default_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Weighed:
    """A reading with one instrument: minutes, and what it saves, costs and leaves, in home currency."""

    instrument: str
    minutes: float
    value: float
    cost: float
    net: float


@dataclass(frozen=True, slots=True)
class MeasureCandidate:
    """A dimension worth measuring, by its best way.

    Parameters
    ----------
    minutes : how long it takes [min]
    value : expected value of sample information: the rework its reading is expected to save, the reading's own spread
        counted, before the cost of taking it, in home currency
    interfaces : whose verdicts it bears on
    blocked_by_part, blocked_by_job : what must be in hand, or done, before it can be read
    stand_in : the substitute that settles it in mock-up
    cost, net : own time and outlay; what is left of the value after it
    means : reading, stand-in, enquiry or early purchase; instrument : what to read it with
    needed : a verdict asks for it; else it only pays
    instruments : each that a reading was weighed with, the usual one first; empty where only one suits
    """

    dimension: str
    minutes: float
    value: float
    interfaces: tuple[str, ...]
    blocked_by_part: str | None
    blocked_by_job: str | None
    stand_in: str | None
    text: str
    cost: float = 0.0
    net: float = 0.0
    means: str = "reading"
    instrument: str | None = None
    needed: bool = True
    instruments: tuple[Weighed, ...] = ()


# What an action on something to be seen is named after; no dimension's id can hold a hyphen.
SEE = "see-"


@dataclass(frozen=True, slots=True)
class Look:
    """Something that no figure settles: to be tried on the vehicle, and written down as seen.

    Parameters
    ----------
    key : what an action on it is named after
    value : rework that trying it in time is expected to save, in home currency; minutes : about how long it takes [min]
    grave : a misfit would be hidden or a hazard: to be seen before it is closed up or first moved
    blocked_by_part : what must be in hand before, where nothing stands in for it
    """

    interface: str
    condition: str
    minutes: float
    value: float
    grave: bool
    blocked_by_part: str | None
    text: str

    @property
    def key(self) -> str:
        """Name of the action."""
        return f"{SEE}{self.condition}"


@dataclass(frozen=True, slots=True)
class FitReport:
    """Everything known about fit.

    Parameters
    ----------
    measures : best first, by saving net of its cost, per minute
    looks : dry runs still to be made
    misfit_chance : part -> chance that it does not go where it must
    samples : joint draws taken
    chance, standard_error : that every condition which can be evaluated holds, jointly; None if there is none
    """

    conditions: tuple[ConditionResult, ...]
    interfaces: tuple[InterfaceResult, ...]
    measures: tuple[MeasureCandidate, ...]
    misfit_chance: Mapping[str, float]
    assumptions: tuple[Assumption, ...]
    samples: int
    seed: int
    chance: float | None = None
    standard_error: float | None = None
    looks: tuple[Look, ...] = ()
