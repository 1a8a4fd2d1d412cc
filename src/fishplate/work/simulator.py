"""The simulator: arrays made once from a build, then run as often as gates are asked about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from copy import copy

import numpy as np

from ..build import Assumption, Build, Facts
from ..build.calendar import hours_assumptions
from ..build.jobs import Job
from ..build.owner import Owner
from .again import Player, Prepared
from .assumed import help_assumptions, part_assumptions
from .hours import draw_hours, expected_hours_left
from .kernel_types import Draws, Floats32, GateArrays, Ints, Tally
from .model import CauseKind, FloatArray, Gates, Spreads, WorkReport
from .network import GateKey, network_arrays, wanted_jobs, work_network
from .never import never_starting
from .outside import mean_shop_weeks, withdrawals
from .owner_hours import calendar_arrays, owner_hours
from .ready import ready_jobs
from .rework import rework_of
from .stalls import Causes, stall_months

_TWO_YEARS = 104


class Simulator:
    """Simulated runs of what is left to do, with one pair of hands on the owner's calendar.

    Parameters
    ----------
    build, facts : the build and what is so on the day
    runs : number of runs
    seed : of the draws; the draws of a (run, job) depend on nothing else
    horizon_weeks : how far runs are followed [weeks]
    spreads : of the shared factors

    Raises
    ------
    ValueError
        if runs or horizon_weeks is not positive, or jobs wait for each other in a circle
    """

    def __init__(
        self,
        build: Build,
        facts: Facts,
        *,
        runs: int = 10_000,
        seed: int = 1,
        horizon_weeks: int = 520,
        spreads: Spreads | None = None,
    ) -> None:
        if runs < 1 or horizon_weeks < 1:
            raise ValueError("runs and horizon_weeks are at least 1")
        self.build, self.facts, self.runs, self.seed, self.horizon_weeks = build, facts, runs, seed, horizon_weeks
        self.spreads = spreads or Spreads()
        self._gated: dict[GateKey, list[int]] = defaultdict(list)
        jobs = wanted_jobs(build, facts)
        self._draws = draw_hours(build, facts, jobs, runs=runs, seed=seed, spreads=self.spreads)
        self.rework = rework_of(build, facts, jobs, self._draws.pace, seed=seed)
        self._hours = owner_hours(build.owner, facts, horizon_weeks)
        per_week = self._hours.per_week(min(_TWO_YEARS, horizon_weeks)) or 1.0
        weeks = {
            id_: expected_hours_left(job, facts) / per_week + mean_shop_weeks(build, job, self.spreads)
            for id_, job in jobs.items()
        }
        self._network = work_network(build, facts, weeks)
        for position, piece in enumerate(self._network.pieces):
            for key in piece.gates:
                self._gated[key].append(position)
        self._arrays = network_arrays(self._network, self._draws.jobs, self._draws.shops, self.rework.jobs)
        self._player = self._player_on(build.owner)
        self._holding: tuple[tuple[GateKey, ...], tuple[Ints, Ints]] | None = None
        self._rework: tuple[Mapping[str, float], Floats32] = {}, self.rework.draws({})
        self.assumptions: tuple[Assumption, ...] = (
            *hours_assumptions(build.owner),
            *self._draws.assumptions,
            *self.rework.assumptions,
            *help_assumptions(build.owner, jobs),
            *part_assumptions(self._network),
        )

    def _player_on(self, owner: Owner) -> Player:
        hours = owner_hours(owner, self.facts, self.horizon_weeks)
        return Player(self._arrays, calendar_arrays(hours, self._network.windows, owner, self.seed), self._gated)

    def with_owner(self, owner: Owner) -> Simulator:
        """The same jobs in the same order and with the same draws, in the hands of an owner otherwise placed."""
        other = copy(self)
        other.build = self.build.model_copy(update={"owner": owner})
        other._hours = owner_hours(owner, self.facts, self.horizon_weeks)
        other._player = other._player_on(owner)
        return other

    @property
    def jobs(self) -> Mapping[str, Job]:
        """Jobs still to be done, by id."""
        return self._network.jobs

    @property
    def hours(self) -> Mapping[str, FloatArray]:
        """Hours left by job, all factors included (runs,) [h]."""
        return {job: self._draws.hours[row] for job, row in self._draws.jobs.items()}

    @property
    def shop_weeks(self) -> Mapping[str, FloatArray]:
        """Weeks at the outside shop by job sent out, queue and slippage included (runs,) [weeks]."""
        return {job: self._draws.shop_days[row] / 7 for job, row in self._draws.shops.items()}

    @property
    def pace(self) -> FloatArray:
        """The owner's pace factor of each run (runs,)."""
        return self._draws.pace

    @property
    def craft_slippage(self) -> FloatArray:
        """Slippage factor of outside craft shops of each run (runs,)."""
        return self._draws.craft

    def finish_weeks(self, gates: Gates | None = None, *, runs: int | None = None) -> FloatArray:
        """When the last job is done and cured, run by run; inf where not within the horizon.

        Parameters
        ----------
        gates : when what is outside opens
        runs : only the first so many

        Returns
        -------
        (runs,) [weeks]
        """
        count = self.runs if runs is None else min(runs, self.runs)
        return self._player.finishes(self._prepared(gates or Gates(), count))

    def ends(
        self, jobs: Iterable[str], gates: Gates | None = None, *, runs: int | None = None
    ) -> dict[str, FloatArray]:
        """When some of the jobs still to be done are done, run by run; inf where not within the horizon.

        Parameters
        ----------
        gates, runs : as for `finish_weeks`

        Returns
        -------
        by job (runs,) [weeks]
        """
        wanted = set(jobs)
        last = {
            piece.node: row for row, piece in enumerate(self._network.pieces) if piece.last and piece.node in wanted
        }
        count = self.runs if runs is None else min(runs, self.runs)
        ends = self._player.ends(self._prepared(gates or Gates(), count))
        return {job: np.ascontiguousarray(ends[:, row]) for job, row in sorted(last.items())}

    def stand_on(self, gates: Gates, *, runs: int | None = None) -> None:
        """Tell from these gates which runs a change touches, until `run` or other gates are stood on.

        Parameters
        ----------
        gates, runs : as for `finish_weeks`
        """
        self._player.stand_on(self._prepared(gates, self.runs if runs is None else min(runs, self.runs)))

    @property
    def played_again(self) -> int:
        """How many runs the last call of `finish_weeks` had to play; the others went as before."""
        return self._player.played_again

    def run(self, gates: Gates | None = None) -> WorkReport:
        """All runs, with what they came to."""
        gates = gates or Gates()
        prepared = self._prepared(gates, self.runs)
        finish, starts, ends, tally = self._player.everything(prepared)
        columns = (np.ascontiguousarray(starts.T), np.ascontiguousarray(ends.T))
        return self._report(gates, list(prepared.keys), tally, finish, *columns)

    def _report(
        self, gates: Gates, keys: list[GateKey], tally: Tally, finish: FloatArray, starts: Floats32, ends: Floats32
    ) -> WorkReport:
        network = self._network
        first = {piece.node: row for row, piece in enumerate(network.pieces) if piece.number == 0}
        last = {piece.node: row for row, piece in enumerate(network.pieces) if piece.last}
        causes = Causes(keys, network)
        started = {job: starts[first[job]] for job in network.jobs}
        return WorkReport(
            finish_weeks=finish,
            need_weeks=self._needs(starts),
            starts=started,
            ends={job: ends[last[job]] for job in network.jobs},
            stalls=stall_months(tally, causes, self._hours, self.runs),
            ready=ready_jobs(self.build, self.facts, network, gates),
            critical=tuple(node for node in network.path.chain if node in network.jobs),
            slack_weeks={job: network.path.slack[job] for job in network.jobs},
            criticality=self._criticality(tally),
            decided_by=_decided_by(tally, causes, self.runs),
            unfinished_share=float(np.isinf(finish).mean()),
            horizon_weeks=self.horizon_weeks,
            withdrawals=withdrawals(
                self.build, self.facts, [network.jobs[id_] for id_ in self._draws.shops], self._draws.craft, self.seed
            ),
            never=never_starting(self.build.owner, network, gates, self._hours, started, self.horizon_weeks),
            assumptions=self.assumptions,
        )

    def _needs(self, starts: Floats32) -> dict[str, FloatArray]:
        needs = {}
        for (kind, id_), rows in sorted(self._gated.items()):
            if kind == "parts":
                needs[id_] = starts[rows].min(axis=0)
        return needs

    def _criticality(self, tally: Tally) -> dict[str, float]:
        """A job is on the chain where any of its pieces is, which its first or last piece need not be."""
        counts: dict[str, int] = dict.fromkeys(self._network.jobs, 0)
        for row, piece in enumerate(self._network.pieces):
            if piece.node in counts:
                counts[piece.node] = max(counts[piece.node], int(tally.critical[row]))
        return {job: count / self.runs for job, count in counts.items()}

    def _prepared(self, gates: Gates, runs: int) -> Prepared:
        given: dict[GateKey, float | FloatArray] = {}
        for kind in ("parts", "decisions", "interfaces", "jobs"):
            opening: Mapping[str, float | FloatArray] = getattr(gates, kind)
            given |= {(kind, id_): moment for id_, moment in opening.items() if (kind, id_) in self._gated}
        keys = tuple(sorted(given))
        opens = np.empty((len(keys), runs))
        for row, key in enumerate(keys):
            opens[row] = 7 * _moments(given[key], runs, key)
        if np.isnan(opens).any():
            kind, id_ = keys[int(np.flatnonzero(np.isnan(opens).any(axis=1))[0])]
            raise ValueError(f"{kind} {id_}: a moment is not a number")
        if gates.misfits != self._rework[0]:
            self._rework = gates.misfits, self.rework.draws(gates.misfits)
        draws = Draws(self._draws.hours, self._draws.shop_days, self._rework[1], self._draws.pace)
        return Prepared(runs, keys, GateArrays(*self._held_by(keys), opens), draws)

    def _held_by(self, keys: tuple[GateKey, ...]) -> tuple[Ints, Ints]:
        """Which of some gates hold each piece: (P + 1,), (pairs,); the same gates are mostly asked again."""
        if self._holding is None or keys != self._holding[0]:
            holds: list[list[int]] = [[] for _ in self._network.pieces]
            for row, key in enumerate(keys):
                for position in self._gated[key]:
                    holds[position].append(row)
            first = np.concatenate([[0], np.cumsum([len(rows) for rows in holds])]).astype(np.int64)
            self._holding = keys, (first, np.array([row for rows in holds for row in rows], dtype=np.int64))
        return self._holding[1]


def _moments(moment: float | FloatArray, runs: int, key: GateKey) -> float | FloatArray:
    if isinstance(moment, np.ndarray) and moment.ndim:
        if moment.shape[0] < runs or moment.ndim > 1:
            raise ValueError(f"{key[0]} {key[1]}: {moment.shape} moments for {runs} runs")
        return moment[:runs]
    return moment


def _decided_by(tally: Tally, causes: Causes, runs: int) -> dict[tuple[CauseKind, str], float]:
    shares: dict[tuple[CauseKind, str], float] = defaultdict(float)
    for row in np.flatnonzero(tally.head):
        shares[causes.of(int(row))] += float(tally.head[row]) / runs
    return dict(sorted(shares.items(), key=lambda item: (-item[1], item[0])))
