"""The drawing of what meets what: page model of all interfaces, with the foundation sheet and what to measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from ..build import Build, Facts
from ..build.interfaces import Interface, Settled
from ..build.words import joined
from .desk import View
from .dimensions import Foot, foundation, inner
from .kept import Standing
from .verdicts import Fitted, fitted_by_plan
from .words import day

if TYPE_CHECKING:
    from ..fit import FitReport, InterfaceResult, UsualInterface

NEXT: Final = 3
NAMED_PARTS: Final = 2


@dataclass(frozen=True, slots=True)
class Side:
    """One of two things that meet: systems, and the parts of them that count."""

    name: str
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rung:
    """An interface as it is drawn: two rails, and what joins them.

    Parameters
    ----------
    said : the rest of the sentence that the verdict's word begins
    check : that it still has to be looked at on the vehicle
    """

    id: str
    name: str
    verdict: str
    left: Side
    right: Side
    said: str
    check: str


@dataclass(frozen=True, slots=True)
class Group:
    """The interfaces of a system."""

    id: str
    name: str
    rungs: tuple[Rung, ...]


@dataclass(frozen=True, slots=True)
class Measure:
    """A dimension worth measuring."""

    dimension: str
    text: str
    can_now: bool


@dataclass(frozen=True, slots=True)
class InterfacesPage:
    """The drawing.

    Parameters
    ----------
    working : the verdicts of the build as it stands are being worked out; of_plan : those shown are the last plan's
    said : why they could not be worked out
    count, open_count : interfaces in all, and those that do not fit for sure; only_open : only these are drawn
    elsewhere : interfaces that are only met with another choice than the one planned with
    """

    summary: str
    working: bool
    of_plan: bool
    said: str
    foundation: tuple[Foot, ...]
    measures: tuple[Measure, ...]
    groups: tuple[Group, ...]
    count: int
    open_count: int
    only_open: bool
    elsewhere: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Offered:
    """A place usually worth listing.

    Parameters
    ----------
    late : what it costs where it is found late
    taken : its dimensions: name, with what, how to take it
    settles : the dimensions its stand-in settles; holds : what must hold there; check : how it is looked at
    """

    id: str
    name: str
    text: str
    late: str
    taken: tuple[tuple[str, str, str], ...]
    stand_in: str
    settles: str
    holds: tuple[str, ...]
    check: str


def interfaces_page(view: View, fit: Standing[Fitted], *, only_open: bool = False) -> InterfacesPage:
    """The page of a build's interfaces.

    Parameters
    ----------
    only_open : draw only those that do not fit for sure
    """
    found = fit.value or (fitted_by_plan(view.build, view.plan) if view.plan is not None else None)
    if found is None:
        return InterfacesPage("", fit.working, False, fit.said, (), (), (), 0, 0, only_open, ())
    results = found.interfaces
    shown = {id_: result for id_, result in results.items() if not only_open or result.verdict != "fits"}
    return InterfacesPage(
        summary=_summary(found.report),
        working=fit.working,
        of_plan=found.of_plan,
        said=fit.said,
        foundation=foundation(view, found),
        measures=_measures(found.report),
        groups=_groups(view, shown),
        count=len(results),
        open_count=sum(1 for result in results.values() if result.verdict != "fits"),
        only_open=only_open,
        elsewhere=tuple((item.id, item.name) for item in view.build.interfaces if item.id not in results),
    )


def usual_page(build: Build) -> tuple[Offered, ...]:
    """Places where such parts usually meet and that are not listed yet."""
    from ..fit import usual_interfaces

    return tuple(_offered(item) for item in usual_interfaces(build))


def _offered(item: UsualInterface) -> Offered:
    what, late, wrong = item.text.removeprefix(item.name).strip(",: ").partition("Found late:")
    return Offered(
        id=item.id,
        name=item.name,
        text=what[:1].upper() + what[1:].rstrip(),
        late=late + wrong,
        taken=tuple(zip(item.dimensions, item.tools, item.how, strict=True)),
        stand_in=inner(item.stand_in or ""),
        settles=joined([f"“{name}”" for name in item.settles]),
        holds=item.conditions,
        check=item.check if item.conditions else "",
    )


def _summary(report: FitReport) -> str:
    counts = {verdict: sum(1 for item in report.interfaces if item.verdict == verdict) for verdict in _SAID}
    told = [f"{count} {_SAID[verdict][count != 1]}" for verdict, count in counts.items() if count]
    if not told:
        return ""
    *first, last = told
    places = len(report.interfaces)
    of = "The one place where parts meet" if places == 1 else f"Of {places} places where parts meet, "
    return f"{of}{', '.join(first)}{' and ' if first else ''}{last}." if places > 1 else f"{of} {last[2:]}."


_SAID: Final = {
    "fits": ("fits", "fit"),
    "in doubt": ("is in doubt", "are in doubt"),
    "does not fit": ("does not fit", "do not fit"),
    "not known": ("is not known", "are not known"),
}


def _measures(report: FitReport) -> tuple[Measure, ...]:
    worth = [item for item in report.measures if item.value >= 1]
    now = [item for item in worth if item.blocked_by_part is None and item.blocked_by_job is None]
    return tuple(Measure(item.dimension, item.text, True) for item in now[:NEXT])


def _groups(view: View, results: dict[str, InterfaceResult]) -> tuple[Group, ...]:
    groups = {system.id: (system.name, list[Rung]()) for system in view.build.systems}
    rest = list[Rung]()
    for interface in view.build.interfaces:
        if interface.id in results:
            rungs = groups[interface.systems[0]][1] if interface.systems else rest
            rungs.append(rung_of(view, interface, results[interface.id]))
    found = [Group(id_, name, tuple(rungs)) for id_, (name, rungs) in groups.items() if rungs]
    return (*found, Group("", "Elsewhere", tuple(rest))) if rest else tuple(found)


def rung_of(view: View, interface: Interface, result: InterfaceResult) -> Rung:
    """An interface as it is drawn."""
    left, right = sides(view.build, view.facts, interface)
    settled = view.facts.settled.get(interface.id)
    text, _, check = result.text.removeprefix(f"{interface.name}: ").partition(CHECK)
    said = behind_words(text.strip(), result.verdict, settled)
    return Rung(interface.id, interface.name, result.verdict, left, right, said, check and CHECK + check)


CHECK: Final = "Verify it on the vehicle"


def behind_words(text: str, verdict: str, settled: Settled | None) -> str:
    """What stands behind the verdict's word: the rest of its sentence, or what was seen."""
    if settled is not None:
        return f". {seen_words(settled)}"
    return text.removeprefix(verdict) if text.startswith(verdict) else f". {text[:1].upper()}{text[1:]}"


def seen_words(settled: Settled) -> str:
    """What was seen on the vehicle, and when."""
    right = "right" if settled.good else "not right"
    return f"Seen to be {right} on the vehicle on {day(settled.day)}: {settled.by.rstrip('.')}."


def sides(build: Build, facts: Facts, interface: Interface) -> tuple[Side, Side]:
    """The two things that meet: its systems with their parts, or two parts of one system."""
    parts = [build.find("parts", id_) for id_ in interface.parts if id_ in facts.wanted_parts]
    names = [build.find("systems", id_).name for id_ in interface.systems]
    if len(names) > 1:
        own = tuple(part.name for part in parts if part.system == interface.systems[0])
        others = tuple(part.name for part in parts if part.system != interface.systems[0])
        return Side(names[0], _few(own)), Side(" and ".join([names[1], *map(inner, names[2:])]), _few(others))
    home = names[0] if names else ""
    if len(parts) > 1:
        return Side(parts[0].name), Side(" and ".join(_few([part.name for part in parts[1:]])))
    return Side(home or interface.name), Side(parts[0].name if parts else "")


def _few(names: Sequence[str]) -> tuple[str, ...]:
    rest = len(names) - NAMED_PARTS
    return (*names[:NAMED_PARTS], f"{rest} more") if rest > 0 else tuple(names)
