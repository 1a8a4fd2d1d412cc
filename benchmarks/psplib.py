"""The single-mode files of PSPLIB: read, scheduled by us, and by a plain CP-SAT model beside it.

    python -m benchmarks.psplib j60 10 30      every tenth of j60, thirty seconds each, two cores


R. Kolisch, A. Sprecher (1996), PSPLIB - A project scheduling problem library, European Journal of Operational Research
96, 205-216. The files are not part of the project; where they are not beside it, what rests on them is skipped.
"""

from __future__ import annotations

import csv
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from ortools.sat.python import cp_model

from fishplate.work.schedule_model import Found, Limits, ScheduleProblem, Task, Wait
from fishplate.work.schedule_solve import schedule

FOLDER = Path(__file__).parents[2] / "shared" / "psplib"


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


@dataclass(frozen=True)
class Solved:
    """What came of one instance.

    Parameters
    ----------
    finish, bound : days; finish None: no schedule was found
    processor : time of all threads [s]; seconds : by the clock
    starts : by job; of the scheduler alone
    """

    instance: Instance
    finish: int | None
    bound: int
    processor: float
    seconds: float
    starts: dict[int, int]

    @property
    def proven(self) -> bool:
        """Whether no schedule is shorter."""
        return self.finish == self.bound

    @property
    def gap(self) -> float:
        """Above the best known finish, as a share of it."""
        return float("inf") if self.finish is None else self.finish / self.instance.upper - 1


def ours(instance: Instance, limits: Limits) -> Solved:
    """As the scheduler does it."""
    begun, processor = time.perf_counter(), time.process_time()
    found = schedule(instance.problem, limits)
    assert isinstance(found, Found)
    processor, seconds = time.process_time() - processor, time.perf_counter() - begun
    starts = {job: found.places[f"{job:03d}"].start for job in instance.lengths}
    return Solved(instance, found.finish, found.bound, processor, seconds, starts)


def plainly(instance: Instance, limits: Limits) -> Solved:
    """As the textbook model does it, by two workers: as many threads as the scheduler takes."""
    begun, processor = time.perf_counter(), time.process_time()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = limits.seed
    solver.parameters.max_deterministic_time = limits.effort
    if limits.seconds is not None:
        solver.parameters.max_time_in_seconds = limits.seconds
    status = solver.solve(instance.plain())
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    finish = round(solver.objective_value) if found else None
    processor, seconds = time.process_time() - processor, time.perf_counter() - begun
    return Solved(instance, finish, round(solver.best_objective_bound), processor, seconds, {})


@dataclass(frozen=True)
class Beside:
    """The scheduler beside the plain model on the same instances."""

    ours: tuple[Solved, ...]
    plainly: tuple[Solved, ...]

    @property
    def overhead(self) -> float:
        """Processor time of ours as a multiple of the plain model's, over what both prove."""
        both = [(a, b) for a, b in zip(self.ours, self.plainly, strict=True) if a.proven and b.proven]
        return sum(a.processor for a, _ in both) / max(1e-9, sum(b.processor for _, b in both))


def beside(chosen: Iterable[Instance], limits: Limits) -> Beside:
    """Both on each, one after the other, so that both meet the same machine."""
    pairs = [(ours(instance, limits), plainly(instance, limits)) for instance in chosen]
    return Beside(tuple(a for a, _ in pairs), tuple(b for _, b in pairs))


def told(solved: Iterable[Solved]) -> str:
    """What came of a set, in a line."""
    held = list(solved)
    worst = max(held, key=lambda each: each.gap)
    proven, best = sum(each.proven for each in held), sum(each.gap <= 0 for each in held)
    return (
        f"{len(held)}: {proven} proven, {best} at the best known, worst {worst.gap:.1%} above ({worst.instance.name}), "
        f"processor {sum(each.processor for each in held):.0f} s, "
        f"clock {sum(each.seconds for each in held):.0f} s"
    )


def warm() -> None:
    """Import and compile beforehand what the first instance would wait for."""
    schedule(instances("j30", 480)[0].problem, Limits(effort=0.2))


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


def main(size: str, step: str, seconds: str, whose: str = "both") -> None:
    """Print each instance as it is done that is not at the best known or not proven, then the sums."""
    limits, by_us, by_plain = Limits(effort=1e9, seconds=float(seconds)), [], []
    warm()
    for instance in instances(size, int(step)):
        by_us.append(ours(instance, limits))
        if whose == "both":
            by_plain.append(plainly(instance, limits))
        if not by_us[-1].proven or by_us[-1].gap > 0:
            one = by_us[-1]
            print(f"  {instance.name}: {one.finish}, proven {one.bound}, best known {instance.upper}", flush=True)
    print(f"{size}, every {step}, {seconds} s and two threads each")
    print("ours  ", told(by_us))
    if by_plain:
        print("plain ", told(by_plain))
        overhead = Beside(tuple(by_us), tuple(by_plain)).overhead
        print(f"processor time of ours, of what both prove: {overhead:.2f} of the plain model's")


if __name__ == "__main__":
    main(*sys.argv[1:])
