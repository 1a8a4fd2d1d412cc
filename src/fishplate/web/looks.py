"""Edits that are looked at before they are written: what comes of each is worked out beside the pages."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from ..build import facts_of
from ..build.document import LISTS
from .course import say
from .kept import Kept, Standing
from .loosened import Told, kept_lines, report_of, told_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ..build import Build, Facts
    from .desk import View

HELD: Final = 16


@dataclass(frozen=True, slots=True)
class Look:
    """An edit that is not written yet.

    Parameters
    ----------
    view : the build as it is; after : as it would be
    path : where the form goes again; fields : all that was typed, to be sent again
    back : where to go if it is left
    why : why it is done, if that was typed already; anew : whether it was looked at before, by a program that was
        started again since
    """

    view: View
    after: Build
    path: str
    fields: tuple[tuple[str, str], ...]
    back: str
    why: str = ""
    anew: bool = False


@dataclass(frozen=True, slots=True)
class Flip:
    """A verdict that becomes another."""

    interface: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class Looked:
    """What comes of an edit: verdicts that are lost, and all else."""

    flips: tuple[Flip, ...]
    told: Told

    @property
    def lines(self) -> tuple[str, ...]:
        """What is kept of it in the history, a sentence a line."""
        return kept_lines(self.told, tuple(f"{it.interface}: {it.was}, then {it.now}." for it in self.flips))


class Looks:
    """The last edits that were looked at, by the name each was given."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: OrderedDict[str, tuple[Look, Kept[Looked]]] = OrderedDict()

    def begin(self, look: Look) -> str:
        """Hold an edit; the name it has from now on is returned."""
        name = secrets.token_urlsafe(9)
        with self._lock:
            self._held[name] = look, Kept(lambda _view: looked_at(look))
            while len(self._held) > HELD:
                self._held.popitem(last=False)
        return name

    def of(self, name: str, *, patience_seconds: float) -> tuple[Look, Standing[Looked]] | None:
        """An edit and what comes of it, as far as that is worked out; None if it is not held any more."""
        held = self._find(name)
        return None if held is None else (held[0], held[1].of(held[0].view, patience_seconds=patience_seconds))

    def stop(self, name: str) -> None:
        """Give up working out what comes of an edit."""
        if held := self._find(name):
            held[1].stop()

    def again(self, name: str) -> None:
        """Have it worked out when it is asked for next, if it was stopped or could not be."""
        if held := self._find(name):
            held[1].again()

    def _find(self, name: str) -> tuple[Look, Kept[Looked]] | None:
        with self._lock:
            return self._held.get(name)


def looked_at(look: Look) -> Looked:
    """What comes of an edit."""
    report = report_of(look.view, look.after)
    say("Judging what it touches anew", 0.95)
    return Looked(flips_of(look.view, look.after, report.interfaces), told_of(look.view, look.after, report))


def loses_verdict(look: Look) -> bool | None:
    """Whether an edit loses a verdict, where that is seen at once; None where it takes the longer look.

    At once is only seen what readings come to, since nothing but their own dimensions' interfaces rests on them.
    """
    before, after = look.view.build, look.after
    if any(getattr(before, name) != getattr(after, name) for name in LISTS if name != "readings"):
        return None
    read = {item.dimension for item in {*before.readings} ^ {*after.readings}}
    touched = {item.interface for item in after.conditions if not read.isdisjoint(item.names)}
    return bool(flips_of(look.view, after, sorted(touched)))


def flips_of(view: View, after: Build, interfaces: Iterable[str]) -> tuple[Flip, ...]:
    """Verdicts that are lost, of some interfaces alone; what gets to fit, or was not known, loosens nothing."""
    ids = [id_ for id_ in interfaces if id_ in view.build.index["interfaces"] and id_ in after.index["interfaces"]]
    if not ids:
        return ()
    was, now = _verdicts(view.build, view.facts, ids), _verdicts(after, facts_of(after, view.as_of), ids)
    return tuple(
        Flip(view.build.find("interfaces", id_).name, was.get(id_, "not known"), now.get(id_, "not known"))
        for id_ in ids
        if was.get(id_) != now.get(id_) and was.get(id_, "not known") != "not known" and now.get(id_) != "fits"
    )


def _verdicts(build: Build, facts: Facts, ids: list[str]) -> Mapping[str, str]:
    from ..fit import assess

    kept = {condition.id for condition in build.conditions if condition.interface in ids}
    wanted = frozenset(facts.wanted_conditions & kept)
    if not wanted:
        return {}
    small = build.model_copy(
        update={
            "conditions": tuple(item for item in build.conditions if item.id in kept),
            "interfaces": tuple(item for item in build.interfaces if item.id in ids),
        }
    )
    return {it.interface: it.verdict.value for it in assess(small, replace(facts, wanted_conditions=wanted)).interfaces}
