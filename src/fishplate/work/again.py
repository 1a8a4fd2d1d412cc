"""Playing the runs: in two threads, and after a change only those that it touches.

A run is untouched if nothing opens earlier than before, and whatever opens later does so before the moment the piece it
holds began anyway. Such a run goes the same way to the last bit, so its finish is taken over.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .kernel_types import (
    Draws,
    Floats,
    Floats32,
    GateArrays,
    HandsCalendar,
    Ints,
    Network,
    Tally,
    scratch_for,
    tally_for,
)
from .model import FloatArray
from .network import GateKey

Moments = Mapping[GateKey, float | FloatArray]
_THREADS, _WORTH_A_THREAD = 2, 500
# starts are kept in single precision; a run within this of being touched is played again [days]
_CLOSE = 0.02


@dataclass(frozen=True, slots=True)
class Prepared:
    """What a set of runs is played with.

    Parameters
    ----------
    runs : how many of the first are played
    given : when gates open (runs,) or for all [days]; keys : in the order of the arrays
    arrays, draws : as the kernel reads them
    """

    runs: int
    given: Moments
    keys: Sequence[GateKey]
    arrays: GateArrays
    draws: Draws


@dataclass(frozen=True, slots=True)
class Played:
    """What came of runs: finish (R,), start of every piece (R, P) [weeks]."""

    prepared: Prepared
    finish: Floats
    starts: Floats32


class Player:
    """Plays runs of one network on one calendar.

    Parameters
    ----------
    gated : pieces that each gate holds
    """

    def __init__(self, network: Network, calendar: HandsCalendar, gated: Mapping[GateKey, Sequence[int]]) -> None:
        self._network, self._calendar, self._gated = network, calendar, gated
        self._base: Played | None = None
        self.played_again = 0

    def finishes(self, prepared: Prepared) -> Floats:
        """The finish of each run [weeks], only what changed played again."""
        base = self._base
        if base is None or base.prepared.runs < prepared.runs:
            finish, starts = np.empty(prepared.runs), self._moments(prepared.runs)
            self._play(prepared, np.arange(prepared.runs), finish, starts)
            self._base = Played(prepared, finish, starts)
            self.played_again = prepared.runs
            return finish.copy()
        touched = self._touched(base, prepared)
        finish = base.finish[: prepared.runs].copy()
        self._play(prepared, np.flatnonzero(touched), finish)
        self.played_again = int(touched.sum())
        return finish

    def everything(self, prepared: Prepared) -> tuple[Floats, Floats32, Floats32, Tally]:
        """Finish (R,), start and end of each piece (R, P) [weeks], and the tally."""
        finish, starts = np.empty(prepared.runs), self._moments(prepared.runs)
        ends = np.empty_like(starts)
        tally = self._play(prepared, np.arange(prepared.runs), finish, starts, ends, on=True)
        self._base = Played(prepared, finish, starts)
        return finish.copy(), starts, ends, tally

    def _moments(self, runs: int) -> Floats32:
        return np.empty((runs, self._network.job.size), dtype=np.float32)

    def _play(
        self,
        prepared: Prepared,
        which: Ints,
        finish: Floats,
        starts: Floats32 | None = None,
        ends: Floats32 | None = None,
        *,
        on: bool = False,
    ) -> Tally:
        """Play some runs into what is given."""
        from .kernel import play

        none = self._moments(0)
        into = (finish, none if starts is None else starts, none if ends is None else ends)
        gates, pieces, months = len(prepared.keys), self._network.job.size, self._calendar.month_hours.size

        def play_part(part: Ints, tally: Tally) -> None:
            world = self._network, self._calendar, prepared.draws, prepared.arrays
            play(*world, scratch_for(pieces), tally, part, *into)

        parts = np.array_split(which, _THREADS if which.size >= _WORTH_A_THREAD else 1)
        tallies = [tally_for(pieces, gates, months, on=on) for _ in parts]
        with ThreadPoolExecutor(len(parts)) as pool:
            list(pool.map(play_part, parts, tallies))
        return _added(tallies)

    def _touched(self, base: Played, prepared: Prepared) -> npt.NDArray[np.bool_]:
        """Which runs may go another way than in the base."""
        runs, before = prepared.runs, base.prepared
        touched = np.zeros(runs, dtype=np.bool_)
        if prepared.draws.rework is not before.draws.rework:
            touched |= (prepared.draws.rework[:, :runs] != before.draws.rework[:, :runs]).any(axis=0)
        for piece in self._changed_pieces(before.given, prepared.given, runs):
            old, new = (self._opens(piece, given, runs) for given in (before.given, prepared.given))
            # others rest for an urgent piece when it may be worked, be it begun then or not
            if self._network.urgent[piece]:
                touched |= new != old
            touched |= (new < old) | ((new > old) & (new > 7 * base.starts[:runs, piece] - _CLOSE))
        return touched

    def _changed_pieces(self, old: Moments, new: Moments, runs: int) -> list[int]:
        keys = [key for key in {**old, **new} if not _same(old.get(key, 0.0), new.get(key, 0.0), runs)]
        return sorted({piece for key in keys for piece in self._gated.get(key, ())})

    def _opens(self, piece: int, given: Moments, runs: int) -> FloatArray:
        """When the last gate of a piece opens (runs,) [days]."""
        opens = np.full(runs, self._network.opens[piece])
        for key in (key for key in given if piece in self._gated.get(key, ())):
            np.maximum(opens, _first(given[key], runs), out=opens)
        return opens


def _first(moments: float | FloatArray, runs: int) -> float | FloatArray:
    return moments[:runs] if isinstance(moments, np.ndarray) and moments.ndim else moments


def _same(old: float | FloatArray, new: float | FloatArray, runs: int) -> bool:
    return old is new or bool(np.all(_first(old, runs) == _first(new, runs)))


def _added(tallies: Sequence[Tally]) -> Tally:
    first = tallies[0]
    for other in tallies[1:]:
        for name in ("hours", "over_half", "critical", "head"):
            getattr(first, name)[:] += getattr(other, name)
    return first
