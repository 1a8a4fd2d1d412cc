"""What a change brings, before it is made: what comes loose, what it opens, what it can't go with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from ..build import Build, offer_contents
from ..build.decisions import Decision, Option
from ..build.words import joined
from ..impact import Fate, ImpactReport, impact_of_change
from .desk import View, put
from .weighing import clashes
from .words import amount, number

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
class Loose:
    """Things of one kind that come loose, each a sentence or a name."""

    title: str
    things: tuple[str, ...]


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


@dataclass(frozen=True, slots=True)
class Told:
    """What a change brings, in words.

    Parameters
    ----------
    changes : what is otherwise; figures : money and hours at stake, in sentences
    loose : what comes loose, by kind, the dearest first
    """

    changes: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    loose: tuple[Loose, ...] = ()
    cautions: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


def told_of(view: View, after: Build, report: ImpactReport) -> Told:
    """What a report says, for a page.

    Parameters
    ----------
    after : the build as it would be
    """
    return Told(
        changes=report.changes,
        figures=tuple(_figures(report, view.currency)),
        loose=tuple(_loose(_Names(view.build, after), report)),
        cautions=report.cautions,
        assumed=tuple(str(item) for item in report.assumptions),
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


def _figures(report: ImpactReport, currency: str) -> Iterator[str]:
    if report.money_high >= 0.5:
        span = _span(amount(report.money_low, ""), amount(report.money_high, ""))
        yield f"Money lost: about {amount(report.money_likely, currency)}{span}."
    if report.hours_high >= 0.5:
        span = _span(number(round(report.hours_low)), number(round(report.hours_high)))
        yield f"Work to do again: about {number(round(report.hours))} h{span}."


def _span(low: str, high: str) -> str:
    low, high = low.strip(), high.strip()
    return "" if low == high else f", between {low} and {high}"


@dataclass(frozen=True, slots=True)
class _Names:
    """Names of things that are in one of two builds."""

    before: Build
    after: Build

    def of(self, list_name: str, ids: Sequence[str]) -> tuple[str, ...]:
        return tuple(self.find(list_name, id_).name for id_ in ids)

    def find(self, list_name: str, id_: str) -> Any:
        known = self.before.index[list_name]
        return known[id_] if id_ in known else self.after.find(list_name, id_)

    def held(self, releases: Sequence[str]) -> tuple[str, ...]:
        """The parts whose orders are held, by release."""
        found = dict[str, None]()
        for id_ in releases:
            release = self.find("releases", id_)
            build = self.before if id_ in self.before.index["releases"] else self.after
            parts = [release.part] if release.part else offer_contents(build, build.find("offers", release.offer or ""))
            found |= dict.fromkeys(self.of("parts", tuple(parts)))
        return tuple(found)


MOST_NAMED: Final = 12


def _loose(names: _Names, report: ImpactReport) -> Iterator[Loose]:
    dear = sorted(report.parts, key=lambda part: -part.loss)
    bought = [part for part in dear if part.fate is not Fate.NOT_ORDERED]
    groups = tuple(f"{joined(names.of('decisions', group))}: settled as a group" for group in report.groups)
    found = (
        Loose("Parts it no longer calls for", tuple(part.text for part in dear if part.certain)),
        Loose("Parts that may no longer fit", tuple(part.text for part in bought if not part.certain)),
        Loose("To be bought besides", tuple(item.text for item in report.to_buy)),
        Loose("What costs otherwise", tuple(item.text for item in report.prices)),
        Loose("Work", (*(job.text for job in report.jobs), *_more_work(report))),
        Loose("Dimensions to take again", names.of("dimensions", report.stale)),
        Loose("Verdicts to be judged anew", names.of("interfaces", report.interfaces)),
        Loose("Orders held again until it is judged", names.held(report.releases)),
        Loose("Decisions open again, or to be looked at again", names.of("decisions", report.decisions)),
        Loose("Decisions that hang together in a circle", groups),
        Loose("Work begun after that, which may be in the way", names.of("jobs", report.following)),
        Loose("Days that move", report.dates),
        Loose("Jobs whose days may move", _few(names.of("jobs", report.waiting))),
        Loose("Orders whose day or price may move", _few(names.of("parts", report.orders))),
        Loose("All else", report.whole),
    )
    yield from (item for item in found if item.things)


def _more_work(report: ImpactReport) -> Iterator[str]:
    if abs(report.more_hours) >= 0.5:
        yield f"{abs(report.more_hours):.0f} h of work {'more' if report.more_hours > 0 else 'less'} are left to do."


def _few(names: tuple[str, ...]) -> tuple[str, ...]:
    if len(names) <= MOST_NAMED:
        return names
    return (*names[: MOST_NAMED - 1], f"and {len(names) - MOST_NAMED + 1} more")


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
