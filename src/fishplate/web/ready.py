"""What can be worked today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Final

from ..plan.cannot_be import cannot_be
from ..plan.tonight import closed_interfaces as by_report
from ..work import Gates, ReadyJob
from ..work.tonight import network_today
from .words import listed

if TYPE_CHECKING:
    from ..work.network import WorkNetwork
    from .desk import View
    from .verdicts import Fitted

CLOSED_WEEKS: Final = inf


@dataclass(frozen=True, slots=True)
class Ready:
    """A job that can be worked today, and how many weeks it can slip."""

    job: ReadyJob
    slack_weeks: float


def closed_interfaces(found: Fitted | None) -> Mapping[str, str]:
    """Interfaces that were not seen right and do not fit for sure, with their verdict."""
    return by_report(None if found is None else found.report)


def ready_now(view: View, closed: Mapping[str, str]) -> tuple[Ready, ...]:
    """Jobs that can go on today, least slack first; none that can't be as it is entered.

    Parameters
    ----------
    closed : interfaces that do not fit for sure
    """
    from ..work.ready import ready_jobs

    build, facts = view.build, view.facts
    network = view.once(_network)
    gates = Gates(interfaces=dict.fromkeys(closed, CLOSED_WEEKS))
    open_, held = ready_jobs(build, facts, network, gates), view.once(held_by_faults)
    return tuple(Ready(item, network.path.slack[item.job]) for item in open_ if item.job not in held)


def held_by_faults(view: View) -> Mapping[str, str]:
    """By job that can't be as it is entered, a sentence on what stands in the way."""
    return cannot_be(view.build, view.facts)


def _network(view: View) -> WorkNetwork:
    return network_today(view.build, view.facts)


def the(tool: str) -> str:
    """A tool as a sentence names it."""
    return tool if tool.endswith("s") else f"the {tool}"


def until_words(view: View, ready: ReadyJob) -> str:
    """The stop point a ready job can come to, or the parts it needs then, by name."""
    needs = "it needs "
    if not ready.until.startswith(needs):
        return ready.until
    parts = view.build.index["parts"]
    names = [parts[id_].name if id_ in parts else id_ for id_ in ready.until.removeprefix(needs).split(", ")]
    return f"then it needs {listed(names)}"


def hours_words(hours: float) -> str:
    """A span of work in words.

    Examples
    --------
    >>> hours_words(0.5), hours_words(2.25), hours_words(16.0)
    ('30 min', '2.3 h', '16 h')
    """
    if hours < 1:
        return f"{max(5, 5 * round(hours * 12))} min"
    return f"{hours:.1f} h".replace(".0 h", " h") if hours < 10 else f"{hours:.0f} h"
