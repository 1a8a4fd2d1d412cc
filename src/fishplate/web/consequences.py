"""What a change brings, before it is made: what comes loose, what it opens, what it can't go with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ..build import Build, offer_contents
from ..build.decisions import Decision, Option
from ..impact import ImpactReport, impact_of_change
from .desk import View, put
from .loosened import Loose, Told, told_of
from .weighing import clashes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ..decide import DecisionResult


@dataclass(frozen=True, slots=True)
class Turn:
    """A way a decision is to go.

    Parameters
    ----------
    option : the option taken; None if the decision is to be open again
    """

    decision: Decision
    option: Option | None

    @property
    def path(self) -> str:
        """Address of its page."""
        end = "reopen" if self.option is None else f"options/{self.option.id}"
        return f"/decisions/{self.decision.id}/{end}"


@dataclass(frozen=True, slots=True)
class Consequences:
    """What a turn changes.

    Parameters
    ----------
    lead : the sentence that says it
    figures : money and hours at stake, in sentences
    loose : what comes loose, by kind, the dearest first
    opens : orders and jobs that no longer wait for the decision
    """

    turn: Turn
    lead: str
    figures: tuple[str, ...]
    loose: tuple[Loose, ...]
    opens: tuple[Loose, ...]
    clashes: tuple[str, ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]


def turned(build: Build, turn: Turn, on: date, why: str = "") -> Build:
    """The build with a decision taken, or open again; without a reason the old one stays."""
    decision = build.find("decisions", turn.decision.id)
    new = {"why": why or decision.why}
    if turn.option is None:
        new |= {"chosen": None, "chosen_on": None, "leading": decision.chosen or decision.leading}
    else:
        new |= {"chosen": turn.option.id, "chosen_on": on}
    return put(build, "decisions", decision.model_copy(update=new))


def leaning(build: Build, decision: Decision, option: Option) -> Build:
    """The build with an option planned with until the decision is taken."""
    return put(build, "decisions", build.find("decisions", decision.id).model_copy(update={"leading": option.id}))


def consequences(
    view: View, turn: Turn, ordered: DecisionResult | None, rates: Mapping[str, float]
) -> Consequences:  # fmt: skip
    """What a turn changes on the day it is looked at.

    Parameters
    ----------
    ordered : what is known of the decision's place and what waits for it
    rates : currency -> home currency for one unit of it
    """
    choice = view.facts.choices[turn.decision.id]
    same = turn.option is not None and turn.option.id == choice.option.id
    after = turned(view.build, turn, view.as_of)
    report = None if same else impact_of_change(view.build, after, view.as_of, rates=rates)
    told = Told() if report is None else told_of(view, after, report)
    opens = turn.option is not None and not choice.decided and ordered is not None
    return Consequences(
        turn=turn,
        lead=_lead(view, turn, report),
        figures=told.figures,
        loose=told.loose,
        opens=tuple(_opens(view.build, turn, ordered)) if opens and ordered is not None else (),
        clashes=() if turn.option is None else clashes(view.build, view.facts, turn.decision, turn.option),
        cautions=told.cautions,
        assumed=told.assumed,
    )


def _lead(view: View, turn: Turn, report: ImpactReport | None) -> str:
    choice = view.facts.choices[turn.decision.id]
    now = f"“{choice.option.name}”"
    if turn.option is None:
        return f"The plan goes on by {now}, but what may not be ordered or begun before it is decided waits again."
    if report is None:
        return f"The plan goes by {now} already: nothing comes loose."
    if not report.loosens and not report.releases and not report.parts:
        return f"It gives up {now}. Nothing that was bought, made or measured rests on that yet."
    loss = report.money_high >= 0.5 or report.hours_high >= 0.5
    return f"It gives up {now}. " + ("This is what comes loose." if loss else "No money or work is lost by it.")


def _opens(build: Build, turn: Turn, ordered: DecisionResult) -> Iterator[Loose]:
    called = set() if turn.option is None else set(turn.option.parts)
    rivals = {part for option in turn.decision.options for part in option.parts} - called
    offers = [build.find("offers", id_) for id_ in ordered.holds_offers]
    parts = dict.fromkeys(part for offer in offers for part in offer_contents(build, offer) if part not in rivals)
    if parts:
        yield Loose("Orders that no longer wait for it", _names(build, "parts", tuple(parts)))
    if ordered.holds_jobs:
        yield Loose("Jobs that no longer wait for it", _names(build, "jobs", ordered.holds_jobs))


def _names(build: Build, list_name: str, ids: Sequence[str]) -> tuple[str, ...]:
    return tuple(build.find(list_name, id_).name for id_ in ids)
