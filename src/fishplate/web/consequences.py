"""What a change brings, before it is made: what comes loose, what it opens, what it can't go with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ..build import Build, offer_contents
from ..build.decisions import Decision, Option
from .desk import View, put
from .loosened import Loose, Told, report_of, told_of
from .weighing import clashes

if TYPE_CHECKING:
    from ..decide import DecisionResult
    from ..impact import ImpactReport


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

    @property
    def key(self) -> tuple[str, str]:
        """The ids of the decision and of the option, empty if there is none."""
        return self.decision.id, "" if self.option is None else self.option.id


@dataclass(frozen=True, slots=True)
class Consequences:
    """What a turn changes.

    Parameters
    ----------
    lead : the sentence that says it
    figures : money and hours at stake, in sentences
    loose : what comes loose, by kind, the dearest first
    """

    lead: str
    figures: tuple[str, ...]
    loose: tuple[Loose, ...]
    clashes: tuple[str, ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]

    @property
    def told(self) -> Told:
        """What comes loose, to be kept with the decision."""
        return Told(figures=self.figures, loose=self.loose)


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


def turn_of(view: View, decision: str, option: str) -> Turn:
    """A turn by its ids, without an option for opening the decision again; raises KeyError."""
    found: Decision = view.build.find("decisions", decision)
    return Turn(found, found.option(option) if option else None)


def consequences(view: View, turn: Turn) -> Consequences:
    """What a turn changes on the day it is looked at."""
    choice = view.facts.choices[turn.decision.id]
    same = turn.option is not None and turn.option.id == choice.option.id
    after = turned(view.build, turn, view.as_of)
    report = None if same else report_of(view, after)
    told = Told() if report is None else told_of(view, after, report)
    return Consequences(
        lead=_lead(view, turn, report),
        figures=told.figures,
        loose=told.loose,
        clashes=() if turn.option is None else clashes(view.build, view.facts, turn.decision, turn.option),
        cautions=told.cautions,
        assumed=told.assumed,
    )


def opened(view: View, turn: Turn, ordered: DecisionResult) -> tuple[Loose, ...]:
    """Orders and jobs that no longer wait for a decision once it is taken.

    Parameters
    ----------
    ordered : what is known of its place and of what waits for it
    """
    opens = turn.option is not None and not view.facts.choices[turn.decision.id].decided
    return tuple(_opens(view.build, turn, ordered)) if opens else ()


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
