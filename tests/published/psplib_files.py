"""The single-mode files of PSPLIB, read, and a plain CP-SAT model of one to hold the scheduler against.

R. Kolisch, A. Sprecher (1996), PSPLIB - A project scheduling problem library, European Journal of Operational Research
96, 205-216. The files are not part of the project; where they are not beside it, what rests on them is skipped.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ortools.sat.python import cp_model

from fishplate.work.schedule_model import ScheduleProblem, Task, Wait

FOLDER = Path(__file__).parents[3] / "shared" / "psplib"


@dataclass(frozen=True)
class Instance:
    """One file: by job its length, needs and followers; what there is of each resource; the best known bounds."""

    name: str
    lengths: dict[int, int]
    needs: dict[int, list[int]]
    followers: dict[int, list[int]]
    capacities: list[int]
    lower: int
    upper: int

    @property
    def problem(self) -> ScheduleProblem:
        """As the scheduler takes it: days, and no hands."""
        tasks = tuple(
            Task(f"{job:03d}", length, uses={f"R{n}": need for n, need in enumerate(self.needs[job]) if need})
            for job, length in self.lengths.items()
        )
        waits = tuple(Wait(f"{a:03d}", f"{b:03d}") for a, others in self.followers.items() for b in others)
        return ScheduleProblem(tasks, waits, capacities={f"R{n}": held for n, held in enumerate(self.capacities)})

    def plain(self) -> cp_model.CpModel:
        """The textbook model: a start for each job, precedences, one cumulative for each resource."""
        model = cp_model.CpModel()
        horizon = sum(self.lengths.values())
        start = {job: model.new_int_var(0, horizon, "") for job in self.lengths}
        span = {job: model.new_fixed_size_interval_var(start[job], size, "") for job, size in self.lengths.items()}
        for job, others in self.followers.items():
            for other in others:
                model.add(start[other] >= start[job] + self.lengths[job])
        for n, held in enumerate(self.capacities):
            takers = [job for job in self.lengths if self.needs[job][n]]
            model.add_cumulative([span[job] for job in takers], [self.needs[job][n] for job in takers], held)
        model.minimize(start[max(start)])
        return model


def instances(size: str, step: int = 1) -> list[Instance]:
    """Every so-many-th instance of a size ("j30", "j60"), in the order of its table."""
    with (FOLDER / f"{size}_bounds.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))[::step]
    return [_read(FOLDER / row["file"], int(row["lb"]), int(row["ub"])) for row in rows]


def _read(path: Path, lower: int, upper: int) -> Instance:
    lines = path.read_text(encoding="latin-1").splitlines()
    followers = {row[0]: row[3:] for row in _rows(lines, "PRECEDENCE RELATIONS", 2)}
    asked = {row[0]: row[2:] for row in _rows(lines, "REQUESTS/DURATIONS", 3)}
    (capacities,) = _rows(lines, "RESOURCEAVAILABILITIES", 2)
    lengths = {job: numbers[0] for job, numbers in asked.items()}
    needs = {job: numbers[1:] for job, numbers in asked.items()}
    return Instance(path.stem, lengths, needs, followers, capacities, lower, upper)


def _rows(lines: list[str], title: str, skip: int) -> Iterator[list[int]]:
    begin = next(n for n, line in enumerate(lines) if line.startswith(title)) + skip
    for line in lines[begin:]:
        if line.startswith("*"):
            return
        yield [int(word) for word in line.split()]
