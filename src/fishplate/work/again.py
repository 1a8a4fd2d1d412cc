"""Playing the runs: in two threads, and after a change only those that it touches.

A run is untouched if nothing opens earlier than before, and whatever opens later does so before the moment the piece it
holds began anyway. Such a run goes the same way to the last bit, so its finish is taken over.
"""

from __future__ import annotations

from collections import defaultdict
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

_THREADS, _WORTH_A_THREAD = 2, 500
# starts are kept in single precision; a run within this of being touched is played again [days]
_CLOSE = 0.02


@dataclass(frozen=True, slots=True)
class Prepared:
    """What a set of runs is played with.

    Parameters
    ----------
    runs : how many of the first are played
    keys : gates, in the order of the arrays
    arrays, draws : as the kernel reads them
    """

    runs: int
    keys: Sequence[GateKey]
    arrays: GateArrays
    draws: Draws


@dataclass(frozen=True, slots=True)
class Played:
    """What came of runs: finish (R,), start and end of every piece (R, P) [weeks]; None: nobody asked for ends."""

    prepared: Prepared
    finish: Floats
    starts: Floats32
    ends: Floats32 | None = None


class Player:
    """Plays runs of one network on one calendar.

    Parameters
    ----------
    gated : pieces that each gate holds
    """

    def __init__(self, network: Network, calendar: HandsCalendar, gated: Mapping[GateKey, Sequence[int]]) -> None:
        self._network, self._calendar, self._gated = network, calendar, gated
        self._gates_of: dict[int, list[GateKey]] = defaultdict(list)
        for key, pieces in gated.items():
            for piece in pieces:
                self._gates_of[piece].append(key)
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

    def stand_on(self, prepared: Prepared) -> Floats32:
        """Play all runs, and tell from them which of others are touched; the end of each piece (R, P) [weeks]."""
        finish, starts, ends = np.empty(prepared.runs), self._moments(prepared.runs), self._moments(prepared.runs)
        self._play(prepared, np.arange(prepared.runs), finish, starts, ends)
        self._base = Played(prepared, finish, starts, ends)
        self.played_again = prepared.runs
        return ends.copy()

    def ends(self, prepared: Prepared) -> Floats32:
        """The end of each piece in each run (R, P) [weeks], only what changed played again."""
        base = self._base
        if base is None or base.ends is None or base.prepared.runs < prepared.runs:
            return self.stand_on(prepared)
        touched = self._touched(base, prepared)
        ends = base.ends[: prepared.runs].copy()
        self._play(prepared, np.flatnonzero(touched), np.empty(prepared.runs), ends=ends)
        self.played_again = int(touched.sum())
        return ends

    def everything(self, prepared: Prepared) -> tuple[Floats, Floats32, Floats32, Tally]:
        """Finish (R,), start and end of each piece (R, P) [weeks], and the tally."""
        finish, starts = np.empty(prepared.runs), self._moments(prepared.runs)
        ends = np.empty_like(starts)
        tally = self._play(prepared, np.arange(prepared.runs), finish, starts, ends, on=True)
        self._base = Played(prepared, finish, starts, ends)
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
        if not which.size:
            return tally_for(0, 0, 0, on=False)
        gates, pieces, months = len(prepared.keys), self._network.job.size, self._calendar.month_hours.size

        def play_part(part: Ints, tally: Tally) -> None:
            world = self._network, self._calendar, prepared.draws, prepared.arrays
            play(*world, scratch_for(pieces), tally, part, *into)

        parts = np.array_split(which, _THREADS if which.size >= _WORTH_A_THREAD else 1)
        tallies = [tally_for(pieces, gates, months, on=on) for _ in parts]
        if len(parts) == 1:
            play_part(parts[0], tallies[0])
        else:
            with ThreadPoolExecutor(len(parts)) as pool:
                list(pool.map(play_part, parts, tallies))
        return _added(tallies)

    def _touched(self, base: Played, prepared: Prepared) -> npt.NDArray[np.bool_]:
        """Which runs may go another way than in the base."""
        runs, before = prepared.runs, base.prepared
        touched = np.zeros(runs, dtype=np.bool_)
        if prepared.draws.rework is not before.draws.rework:
            touched |= (prepared.draws.rework[:, :runs] != before.draws.rework[:, :runs]).any(axis=0)
        keys = sorted({*before.keys, *prepared.keys})
        rows = {key: row for row, key in enumerate(keys)}
        moments = [_by_key(each, rows, runs) for each in (before, prepared)]
        changed = np.flatnonzero((moments[0] != moments[1]).any(axis=1))
        for piece in sorted({piece for row in changed.tolist() for piece in self._gated.get(keys[row], ())}):
            held = [rows[key] for key in self._gates_of[piece] if key in rows]
            old, new = (np.maximum(each[held].max(axis=0), self._network.opens[piece]) for each in moments)
            # others rest for an urgent piece when it may be worked, be it begun then or not
            if self._network.urgent[piece]:
                touched |= new != old
            touched |= (new < old) | ((new > old) & (new > 7 * base.starts[:runs, piece] - _CLOSE))
        return touched


def _by_key(prepared: Prepared, rows: Mapping[GateKey, int], runs: int) -> FloatArray:
    """When each gate opens [days], shape (gates, runs); a gate that is not given holds nothing up."""
    if len(rows) == len(prepared.keys):
        return prepared.arrays.opens[:, :runs]
    moments = np.full((len(rows), runs), -np.inf)
    moments[[rows[key] for key in prepared.keys]] = prepared.arrays.opens[:, :runs]
    return moments


def _added(tallies: Sequence[Tally]) -> Tally:
    first = tallies[0]
    for other in tallies[1:]:
        for name in ("hours", "over_half", "critical", "head"):
            getattr(first, name)[:] += getattr(other, name)
    return first
