"""Stalls by month: from the kernel's tally to hours, chances and causes with names."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from .kernel_types import KINDS, Tally
from .model import CauseKind, StallCause, StallMonth
from .network import GateKey, WorkNetwork
from .owner_hours import OwnerHours

_OF_GATE: dict[str, CauseKind] = {"parts": "part", "decisions": "decision", "interfaces": "interface", "jobs": "job"}
_OF_PIECE: tuple[CauseKind, ...] = ("workshop", "season", "cure", "job", "cure", "bay")
_PAST = 4
_LEAST_HOURS = 1e-6


class Causes:
    """Names of the rows of the kernel's tally: gates first, then `KINDS` for each piece."""

    def __init__(self, keys: Sequence[GateKey], network: WorkNetwork) -> None:
        self._keys, self._pieces, self._opened_by = keys, network.pieces, network.opened_by

    def of(self, row: int) -> tuple[CauseKind, str]:
        """Kind and id of a row."""
        if row < len(self._keys):
            kind, id_ = self._keys[row]
            return _OF_GATE[kind], id_
        position, which = divmod(row - len(self._keys), KINDS)
        piece = self._pieces[position]
        if _OF_PIECE[which] == "workshop" and piece.job is not None and piece.job.workshop is not None:
            return "workshop", piece.job.workshop
        if _OF_PIECE[which] == "season" and piece.job is not None and not piece.job.months:
            return "helper", piece.node
        return _OF_PIECE[which], self._opened_by.get(piece.node, piece.node) if which == _PAST else piece.node


def stall_months(tally: Tally, causes: Causes, owner: OwnerHours, runs: int) -> tuple[StallMonth, ...]:
    """Months with stalled hours in any run, in order."""
    found = []
    days_an_hour = owner.days_an_hour
    for column in np.flatnonzero(tally.hours.sum(axis=0) / runs > _LEAST_HOURS).tolist():
        hours: dict[tuple[CauseKind, str], float] = defaultdict(float)
        for row in np.flatnonzero(tally.hours[:, column]).tolist():
            hours[causes.of(row)] += float(tally.hours[row, column]) / runs
        ordered = sorted(hours.items(), key=lambda item: (-item[1], item[0]))
        found.append(
            StallMonth(
                month=owner.months[column],
                chance=float(tally.over_half[column]) / runs,
                hours=sum(hours.values()),
                causes=tuple(
                    StallCause(kind, id_, amount, amount * float(days_an_hour[column]))
                    for (kind, id_), amount in ordered
                ),
            )
        )
    return tuple(found)
