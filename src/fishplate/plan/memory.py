"""What an earlier plan worked out, so that planning again after a small change is quick.

Keys are digests of everything a result depends on, so a remembered result equals the one that would be worked out.
Only the purchase solver takes more than a result from memory: the last purchases of the build, whatever was changed
since, are its starting point, and where two plans are within the gap of each other it stays with the remembered one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from functools import cached_property
from struct import pack
from typing import Any, Protocol
from weakref import ReferenceType, ref

import numpy as np

from .. import __version__
from ..build import Build, Facts
from ..work import Gates, Simulator, WorkReport
from .model import FloatArray

# What fit and work do not depend on.
PRICED = frozenset(
    {
        *("kits", "suppliers", "offers", "sightings", "price_changes", "sale_windows"),
        *("enquiries", "fixed_choices", "routes", "collections", "rates"),
    }
)


class Memo(Protocol):
    """Somewhere to keep results between runs; losing them costs only time."""

    def load(self, key: str) -> dict[str, Any]:
        """What is kept under a key; empty if nothing is."""

    def save(self, key: str, values: dict[str, Any]) -> None:
        """Keep values under a key."""


class Forgetful:
    """Keeps nothing."""

    def load(self, key: str) -> dict[str, Any]:
        """Nothing."""
        return {}

    def save(self, key: str, values: dict[str, Any]) -> None:
        """Nothing is kept."""


def digest_of(build: Build, *parts: object, without: Iterable[str] = ()) -> str:
    """A digest of a build, lists left out as named, and of whatever else a result depends on."""
    return digest_of_text(build.model_dump_json(exclude=set(without)), *map(str, parts))


def digest_of_text(*parts: str) -> str:
    """A digest of some texts and the version of the program."""
    return hashlib.blake2b("\x1f".join((__version__, *parts)).encode(), digest_size=16).hexdigest()


class Remembered:
    """One run's view of the memo: what is asked is kept, what is not asked is let go.

    Parameters
    ----------
    key : digest of what the results depend on, prices apart
    whose : whose plan it is, whatever was changed since
    """

    def __init__(self, memo: Memo, key: str, whose: str) -> None:
        self._memo, self._key, self._whose = memo, key, whose
        self._old = memo.load(key)
        self._kept: dict[str, Any] = {}
        self._noted: dict[str, Any] = {}

    def recall(self, name: str, work_out: Callable[[], Any]) -> Any:
        """A result by name, worked out if it is not remembered."""
        if name not in self._kept:
            self._kept[name] = self._old[name] if name in self._old else work_out()
        return self._kept[name]

    def last(self, name: str) -> Any:
        """What was noted under a name last time; None if nothing was."""
        return self._old[name] if name in self._old else self._memo.load(self._whose).get(name)

    def note(self, name: str, value: Any) -> None:
        """Keep a value for next time, even if what it depends on is then changed."""
        self._kept[name] = self._noted[name] = value

    def save(self) -> None:
        """Hand what was used to the memo."""
        self._memo.save(self._key, self._kept)
        self._memo.save(self._whose, self._noted)


class RememberedSimulator:
    """A simulator that is only built when something is asked that was not asked before.

    Parameters
    ----------
    build, facts, runs, seed : as for `work.Simulator`
    remembered : answers from earlier runs of the same inputs
    """

    def __init__(self, build: Build, facts: Facts, *, runs: int, seed: int, remembered: Remembered) -> None:
        self._build, self._facts, self._runs, self._seed = build, facts, runs, seed
        self._remembered, self._digests = remembered, _GatesDigests()
        self._stand: tuple[Gates, int] | None = None

    @cached_property
    def _simulator(self) -> Simulator:
        return Simulator(self._build, self._facts, runs=self._runs, seed=self._seed)

    def stand_on(self, gates: Gates, *, runs: int) -> None:
        """What is asked from now on differs little from these gates."""
        self._stand = gates, runs

    @property
    def _standing(self) -> Simulator:
        if self._stand is not None:
            gates, runs = self._stand
            self._stand = None
            self._simulator.stand_on(gates, runs=runs)
        return self._simulator

    @property
    def assumptions(self) -> tuple[Any, ...]:
        """What the simulator took for granted."""
        return tuple(self._remembered.recall("work assumptions", lambda: tuple(self._simulator.assumptions)))

    def run(self, gates: Gates) -> WorkReport:
        """The whole report for some gates."""
        name = f"run {self._digests.of(gates)}"
        report: WorkReport = self._remembered.recall(name, lambda: self._simulator.run(gates))
        return report

    def ends(self, gates: Gates, jobs: Iterable[str], *, runs: int) -> dict[str, FloatArray]:
        """Moment each of some jobs is done in the first so many runs, shape (runs,)."""
        name = f"ends {runs} {self._digests.of(gates)}"

        found: dict[str, FloatArray] = self._remembered.recall(
            name, lambda: self._standing.ends(jobs, gates, runs=runs)
        )
        return found

    def finish_weeks(self, gates: Gates, *, runs: int | None = None) -> FloatArray:
        """Finish of each run for some gates, weeks, shape (runs,)."""
        name = f"finish {runs} {self._digests.of(gates)}"
        weeks: FloatArray = self._remembered.recall(name, lambda: self._standing.finish_weeks(gates, runs=runs))
        return weeks


class _GatesDigests:
    """Digests of gates. Most of the moments that are asked about were asked about before: each is read once."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[ReferenceType[FloatArray], bytes]] = {}
        self._misfits: tuple[Mapping[str, float], bytes] = {}, b""

    def of(self, gates: Gates) -> str:
        """A digest of the names and moments of all gates."""
        told = [self._of_misfits(gates.misfits)]
        for name in ("parts", "decisions", "interfaces", "jobs"):
            told.append(name.encode())
            moments = getattr(gates, name)
            for key in sorted(moments):
                told += f" {key} ".encode(), self._moment(moments[key])
        return hashlib.blake2b(b"".join(told), digest_size=16).hexdigest()

    def _of_misfits(self, misfits: Mapping[str, float]) -> bytes:
        if misfits is not self._misfits[0]:  # one plan asks about the same over and over
            self._misfits = misfits, repr(sorted(misfits.items())).encode()
        return self._misfits[1]

    def _moment(self, moment: float | FloatArray) -> bytes:
        if not isinstance(moment, np.ndarray):
            return pack("d", moment)
        known = self._known.get(id(moment))
        if known is None or known[0]() is not moment:
            content = hashlib.blake2b(np.ascontiguousarray(moment, dtype=np.float32).tobytes(), digest_size=16).digest()
            known = self._known[id(moment)] = ref(moment), content
        return known[1]
