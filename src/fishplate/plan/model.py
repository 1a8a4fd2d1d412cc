"""The plan: what to decide, measure, buy, collect and do, with every figure behind it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..build import Assumption, date_at
from ..prices import ReadyToBuy, Waits

FloatArray = NDArray[np.floating[Any]]


class ActionKind(StrEnum):
    """The five things there are to do."""

    DECIDE = "decide"
    MEASURE = "measure"
    BUY = "buy"
    COLLECT = "collect"
    DO = "do"


@dataclass(frozen=True, slots=True)
class CostOfWaiting:
    """What putting an action off costs.

    Parameters
    ----------
    amount : expected loss, home currency, if put off by `weeks`; negative: better to wait
    weeks : the delay for which the loss per week is largest, of those tried
    resolution : differences below this can't be told from sampling and solver error, home currency
    curve : (weeks, loss) for every delay tried
    """

    amount: float
    currency: str
    weeks: float
    resolution: float
    curve: tuple[tuple[float, float], ...] = ()

    @property
    def per_week(self) -> float:
        """Loss per week at that delay; 0 below the resolution."""
        return self.amount / self.weeks if abs(self.amount) > self.resolution else 0.0


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do next, and why.

    Parameters
    ----------
    key : what it acts on, stable from plan to plan: a decision, dimension, order, collection or job
    what : the sentence; by : the date the plan does it; free_until : the last day with no expected loss
    minutes : how long it takes, where that is known [min]; blocked : it can't be begun yet
    """

    kind: ActionKind
    key: str
    what: str
    by: date
    free_until: date
    cost_of_waiting: CostOfWaiting
    reasons: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    minutes: float | None = None
    blocked: bool = False


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """One line of the purchase plan; `landed` is money at the door, its share of freight and fees included.

    Parameters
    ----------
    order_by, arrives_p50, arrives_p90 : None where nothing says when it is needed, nor when it is best bought
    late_chance : that it comes after it is first needed; late_cost : what that is expected to cost, home currency
    """

    part: str
    offer: str
    supplier: str
    units: int
    order_by: date | None
    order_week: int
    route: str
    collection: str | None
    shipment: str
    landed: float
    arrives_p50: date | None
    arrives_p90: date | None
    late_chance: float
    late_cost: float = 0.0
    why: str = ""


@dataclass(frozen=True, slots=True)
class PlannedCollection:
    """A trip the plan makes, with what it brings."""

    collection: str
    day: date
    parts: tuple[str, ...]
    trip_cost: float


@dataclass(frozen=True, slots=True)
class ChargeLine:
    """One amount of a consignment's landed cost, home currency, with the rule it rests on.

    Parameters
    ----------
    kind : goods, freight, duty, tax, fee …
    """

    label: str
    amount: float
    kind: str
    rule: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class RuleGround:
    """Where a rule comes from, for a person who wants to check it."""

    id: str
    status: str
    as_of: date | None
    source: str
    url: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Range:
    """One thing not known for sure, and the consignment's total if it falls out well or badly, home currency."""

    low: float
    high: float
    text: str


@dataclass(frozen=True, slots=True)
class PlannedConsignment:
    """What a planned shipment costs at the door, line by line; the lines add up to the total.

    Parameters
    ----------
    flags : rules that are undated, old or expired on the day, and other warnings
    """

    shipment: str
    lines: tuple[ChargeLine, ...]
    total: float
    flags: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    ranges: tuple[Range, ...] = ()
    rules: tuple[RuleGround, ...] = ()


@dataclass(frozen=True, slots=True)
class OfferTiming:
    """Until when an offer of something missing may be waited for.

    Parameters
    ----------
    units : how many of the offer bring what is missing
    needed : when what it brings is first needed, one run in ten sooner; None: no date is known
    last_safe : last day on which ordering it costs less in lateness than it saves in having it early
    keeping_per_week : cost of having it a week early, as a share of its price
    look_cost : cost of looking at its price once, for one unit, home currency
    waits : what ordering it in a week costs beyond its price, counted from the plan's day; nothing if undated
    """

    offer: str
    units: int
    needed: date | None
    last_safe: date
    keeping_per_week: float
    look_cost: float
    waits: Waits = field(default_factory=Waits)


@dataclass(frozen=True, slots=True)
class PlannedClash:
    """What can't all be kept, in words, and ways out, the cheapest first; `text` says both in short."""

    conditions: tuple[str, ...]
    ways_out: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class PurchaseSummary:
    """What to order. `total` is landed money; `gap` the proven distance from the cheapest plan for these dates.

    Parameters
    ----------
    held : offer -> what its order waits for longest, in words; waits : offer -> all it waits for, as (verb, id)
    consignments : every planned shipment itemised
    timings : until when each offer of something missing may be waited for
    clash : why not everything can be bought within the money, and the cheapest way out; None if it can
    """

    total: float
    gap: float
    lines: tuple[PlannedLine, ...]
    collections: tuple[PlannedCollection, ...]
    expected_cost: float
    unmet: Mapping[str, float] = field(default_factory=dict)
    held: Mapping[str, str] = field(default_factory=dict)
    note: str = ""
    consignments: tuple[PlannedConsignment, ...] = ()
    timings: tuple[OfferTiming, ...] = ()
    waits: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    clash: PlannedClash | None = None


@dataclass(frozen=True, slots=True)
class Finish:
    """When the last job is done, as dates by chance; None if no hours are known."""

    p10: date | None
    p50: date | None
    p80: date | None
    p95: date | None


@dataclass(frozen=True, slots=True)
class StallLine:
    """Stalled hours in one month, with their causes in words."""

    month: str
    chance: float
    hours: float
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DecidingLine:
    """Something that sets the finish, and how often.

    Parameters
    ----------
    kind : "jobs", or the list of what is outside the work: "parts", "decisions", "interfaces", "workshops"
    id : of it; of a season, a cure or a helper the job's
    chance : that it is on the chain of jobs that sets the finish; of what is outside, that this chain begins with it
    text : a sentence
    """

    kind: str
    id: str
    chance: float
    text: str


@dataclass(frozen=True, slots=True)
class CashLine:
    """Money going out in one month, home currency."""

    month: str
    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, slots=True)
class ShelfMonth:
    """A month in which more lies about, not yet fitted, than there is room for.

    Parameters
    ----------
    m3 : most at once [m³]; large : the largest parts then, each with the room it takes [m³]
    text : a sentence; later : what costs least to be bought later, in words
    """

    month: str
    m3: float
    large: tuple[tuple[str, float], ...]
    text: str
    later: str = ""


@dataclass(frozen=True, slots=True)
class FitLine:
    """One condition with its verdict."""

    interface: str
    condition: str
    verdict: str
    chance: float | None
    standard_error: float | None
    shares: Mapping[str, float]
    text: str


@dataclass(frozen=True, slots=True)
class Question:
    """A question whose answer can change the plan, with how much it can change it."""

    key: str
    text: str
    worth: float
    why: str


@dataclass(frozen=True, slots=True)
class Deadline:
    """A day after which something can't be done any more.

    Parameters
    ----------
    kind : "return": a right to send back ends; "evidence": a job hides it; "withdraw": from a workshop
    """

    day: date
    kind: str
    key: str
    text: str


@dataclass(frozen=True, slots=True)
class ExactCheck:
    """An action's cost of waiting by a full re-plan beside the fast figure."""

    kind: ActionKind
    key: str
    fast: float
    exact: float
    weeks: float
    fast_rank: int
    exact_rank: int


@dataclass(frozen=True, slots=True)
class Stability:
    """How near a plan stays to the last one.

    Parameters
    ----------
    since : the day of the last plan
    lines : how many of its orders still matter; stay : how many of them the plan keeps
    changes : orders given up and orders new; cheapest_changes : the same count for the cheapest plan
    cost : what it costs more than the cheapest plan found; room : how much more it might cost, home currency
    proven : whether no plan within the room has fewer changes, in the linear model of charges
    """

    since: date
    lines: int
    stay: int
    changes: int
    cheapest_changes: int
    cost: float
    room: float
    proven: bool
    text: str


@dataclass(frozen=True, slots=True)
class PlanChange:
    """What is ordered otherwise than in an earlier plan, and why, where that can be told.

    Parameters
    ----------
    kind : "moved", "elsewhere", "added", "dropped", "ordered" or "price"
    cause : in words; empty where none can be told
    """

    part: str
    kind: str
    text: str
    cause: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole plan for one build on one day.

    Parameters
    ----------
    faults : what can't be as it is entered, each with what to do; the plan goes on without
    deciding : what sets the finish, the likeliest first
    shelf : months in which more lies about than there is room for
    stability : how near it stays to the last plan; None without one
    changed_since : the day of the plan that `changes` are told from: the last one of an earlier week, if there is one
    """

    as_of: date
    seed: int
    revision: int
    build_name: str
    currency: str
    actions: tuple[Action, ...]
    finish: Finish
    stall: tuple[StallLine, ...]
    ready_to_buy: tuple[ReadyToBuy, ...]
    purchase: PurchaseSummary
    fit: tuple[FitLine, ...]
    cash: tuple[CashLine, ...]
    assumptions: tuple[Assumption, ...]
    questions: tuple[Question, ...]
    expected_total: float
    rounds: int
    level: int
    notes: tuple[str, ...] = ()
    critical: tuple[str, ...] = ()
    deadlines: tuple[Deadline, ...] = ()
    exact: tuple[ExactCheck, ...] = ()
    stability: Stability | None = None
    changed_since: date | None = None
    changes: tuple[PlanChange, ...] = ()
    faults: tuple[str, ...] = ()
    deciding: tuple[DecidingLine, ...] = ()
    shelf: tuple[ShelfMonth, ...] = ()


def clash_lines(found: PlannedClash | None) -> Iterator[str]:
    """A clash in sentences, the other ways out last."""
    if found is not None:
        yield found.text
        yield from (f"Or: {way}." for way in found.ways_out[1:])


def day_at(as_of: date, week: float) -> date | None:
    """The date of a moment; None if it never comes."""
    return date_at(as_of, week) if np.isfinite(week) else None
