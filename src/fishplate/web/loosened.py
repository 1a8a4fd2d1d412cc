"""What comes loose by a change, in words for a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from ..build import Build, offer_contents
from ..build.words import joined
from ..impact import Fate, ImpactReport, impact_of_change
from .course import say
from .words import amount, number

if TYPE_CHECKING:
    from .desk import View

NAMED: Final = 3  # of each kind of things that come loose, so many are kept in the history


@dataclass(frozen=True, slots=True)
class Loose:
    """Things of one kind that come loose, each a sentence or a name.

    Parameters
    ----------
    folded : many, and unfolded only when asked for
    """

    title: str
    things: tuple[str, ...]
    folded: bool = False


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


def report_of(view: View, after: Build) -> ImpactReport:
    """What comes loose if the build becomes another, at the rates of the day."""
    from ..wiring import situation

    rates = situation(view.build, view.as_of).to_home
    return impact_of_change(view.build, after, view.as_of, rates=rates, progress=say)


def kept_lines(told: Told, first: Sequence[str] = ()) -> tuple[str, ...]:
    """What came of a change, short enough to be kept with its reason: a sentence a line.

    Examples
    --------
    >>> kept_lines(Told(loose=(Loose("Dimensions to take again", ("Track", "Bump travel")),)))
    ('Dimensions to take again: Track; Bump travel.',)
    >>> kept_lines(Told())
    ('Nothing that was bought, made, measured or decided came loose.',)
    """
    lines = [*first, *told.figures]
    for loose in told.loose:
        rest = len(loose.things) - NAMED
        things = (*loose.things[:NAMED], *([f"and {rest} more"] if rest > 0 else []))
        lines += [] if loose.folded else [f"{loose.title}: {'; '.join(thing.rstrip('.') for thing in things)}."]
    return tuple(lines) or ("Nothing that was bought, made, measured or decided came loose.",)


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
        Loose("Orders held again", names.held(report.releases)),
        Loose("Decisions open again, or to be looked at again", names.of("decisions", report.decisions)),
        Loose("Decisions that hang together in a circle", groups),
        Loose("Work begun after that, which may be in the way", names.of("jobs", report.following)),
        Loose("Days that move", report.dates),
        Loose("Jobs whose days may move", names.of("jobs", report.waiting), folded=True),
        Loose("Orders whose day or price may move", names.of("parts", report.orders), folded=True),
        Loose("All else", report.whole),
    )
    yield from (item for item in found if item.things)


def _more_work(report: ImpactReport) -> Iterator[str]:
    if abs(report.more_hours) >= 0.5:
        yield f"{abs(report.more_hours):.0f} h of work {'more' if report.more_hours > 0 else 'less'} are left to do."
