"""How long the simulation takes, beside the same network stepped through by numpy over all runs at once.

The baseline knows hours, links, lags, parts that come late and one pair of hands, at constant hours a day: no calendar,
seasons, stops or causes. It is timed on fewer runs and scaled to the full count, which the note says.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.interfaces import Interface
from fishplate.build.jobs import Gate, Job, Link
from fishplate.build.owner import Helper, Owner, SeasonHours
from fishplate.build.parts import Part, Phase
from fishplate.work import FloatArray, Gates, Simulator

AS_OF = date(2026, 3, 2)
BASELINE_RUNS = 500


def network(count: int) -> Build:
    """A layered network with parts on a third of its jobs, some seasons, cures and lags."""
    r = random.Random(count)
    jobs, parts = [], []
    for k in range(count):
        likely = r.uniform(1, 8)
        befores = sorted({r.randrange(max(0, k - 12), k) for _ in range(r.randint(1, 3))}) if k else []
        mine = (f"p{k}",) if r.random() < 0.35 else ()
        parts += [Part(id=id_, name=id_) for id_ in mine]
        jobs.append(
            Job(
                id=f"j{k:03d}",
                name=f"Job {k}",
                phase=Phase.ASSEMBLY,
                hours=ThreePoint(low=likely / 2, likely=likely, high=likely * 2.5),
                after=tuple(Link(job=f"j{b:03d}", lag_days=r.choice([0, 0, 0, 2])) for b in befores),
                to_keep=mine,
                months=(4, 5, 6, 7, 8, 9, 10) if r.random() < 0.04 else (),
                cure_days=r.choice([0, 0, 0, 0, 0, 3]),
            )
        )
    owner = Owner(hours_per_week=12, seasons=(SeasonHours(months=(12, 1), hours=5),))
    return Build(owner=owner, jobs=tuple(jobs), parts=tuple(parts))


def rich_network(count: int) -> Build:
    """The same with what adds hours or takes a place: verifying that may fail, gates, help, bay, recoats, rests."""
    build, r = network(count), random.Random(count)
    jobs = []
    for job in build.jobs:
        links = tuple(
            link.model_copy(update={"within_days": link.lag_days + 5, "redo_hours": 1}) if r.random() < 0.03 else link
            for link in job.after
        )
        new = {
            "after": links, "bay": r.random() < 0.3, "second_person": r.random() < 0.05,
            "setting_up_minutes": r.choice([0, 20]), "settles": (f"i-{job.id}",) if r.random() < 0.1 else (),
        }  # fmt: skip
        jobs.append(job.model_copy(update=new))
    ids = [job.id for job in jobs]
    gates = tuple(
        Gate(id=f"g{k}", name=f"Gate {k}", kind="re-plan", after=tuple(ids[k - 8 : k]), before=tuple(ids[k : k + 8]))
        for k in range(count // 4, count, count // 4)
    )
    owner = build.owner.model_copy(update={"helpers": (Helper(weekdays=(6,), chance=0.8),)})
    interfaces = tuple(Interface(id=f"i-{id_}", name=id_) for id_ in ids)
    return build.model_copy(update={"jobs": tuple(jobs), "gates": gates, "owner": owner, "interfaces": interfaces})


def rich_gates(build: Build) -> Gates:
    """Half of the parts come late, and a third of what is verified proves wrong."""
    return Gates(parts=gates_for(build).parts, misfits={item.id: 0.33 for item in build.interfaces})


def rich_rows(jobs: int, runs: int) -> Iterator[dict[str, Any]]:
    """All constraints at once, then twenty what-ifs: a part 13 weeks later each, only what it touches played again."""
    build = rich_network(jobs)
    simulator, gates = Simulator(build, facts_of(build, AS_OF), runs=runs), rich_gates(build)
    simulator.run(gates)
    plain = {"memory_mib": memory_mib(), "baseline": "", "baseline_seconds": None}
    again = Gates(parts={part.id: 0.0 for part in build.parts}, misfits=gates.misfits)
    seconds, processor = best_of(lambda: simulator.finish_weeks(again), 3), time.process_time()
    played = simulator.played_again
    simulator.finish_weeks(again)
    note = f"warm, two threads, {played} runs; {time.process_time() - processor:.2f} s of processor time"
    yield {
        "name": f"finish_weeks {jobs} jobs x {runs} runs, all constraints",
        "seconds": seconds,
        **plain,
        "note": note,
    }
    parts = [part.id for part in build.parts][:: max(1, len(build.parts) // 20)][:20]
    begun, processor, played = time.perf_counter(), time.process_time(), 0
    for part in parts:
        later = {**gates.parts, part: float(gates.parts.get(part, 0.0)) + 13}
        simulator.finish_weeks(Gates(parts=later, misfits=gates.misfits))
        played += simulator.played_again
    seconds = time.perf_counter() - begun
    note = f"{played} runs of {len(parts) * runs} played; {time.process_time() - processor:.2f} s of processor time"
    yield {"name": f"20 what-ifs {jobs} jobs x {runs} runs", "seconds": seconds, **plain, "note": note}


def numpy_by_step(build: Build, hours: FloatArray, gates: Gates, order: dict[str, int]) -> FloatArray:
    """Days to the finish at constant hours a day, one job a step in every run at once."""
    count, runs = hours.shape
    per_day = (build.owner.hours_per_week or 1) / 7
    lags = np.full((count, count), -np.inf)
    opened = np.zeros((runs, count))
    for job in build.jobs:
        here = order[job.id]
        opened[:, here] = max([7 * float(gates.parts.get(part, 0.0)) for part in job.to_keep], default=0.0)
        for link in job.after:
            lags[order[link.job], here] = link.lag_days + build.find("jobs", link.job).cure_days
    waits = np.tile(np.isfinite(lags).sum(axis=0), (runs, 1))
    now, finish, everyone = np.zeros(runs), np.zeros(runs), np.arange(runs)
    for _ in range(count):
        moment = np.where(waits == 0, opened, np.inf)
        now = np.maximum(now, moment.min(axis=1))
        chosen = (moment <= now[:, None]).argmax(axis=1)
        now += hours[chosen, everyone] / per_day
        np.maximum(opened, now[:, None] + lags[chosen], out=opened)
        waits -= np.isfinite(lags[chosen])
        waits[everyone, chosen] = -1
        finish = np.maximum(finish, now)
    return finish


def best_of(action: Callable[[], Any], times: int = 5) -> float:
    """Shortest of a few repetitions [s]."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        action()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def memory_mib() -> float:
    """Largest memory of the process so far [MiB]."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    return 0.0


def gates_for(build: Build) -> Gates:
    """Half of the parts come late."""
    return Gates(parts={part.id: 10.0 + 3 * n for n, part in enumerate(build.parts[::2])})


def row(name: str, jobs: int, runs: int, *, full: bool) -> dict[str, Any]:
    """One timing beside the baseline on the same jobs."""
    build = network(jobs)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=runs)
    gates = gates_for(build)
    # asked for the same again, finish_weeks has nothing to play
    action = (lambda: simulator.run(gates)) if full else (lambda: simulator.stand_on(gates))
    action()
    seconds = best_of(action)
    hours = np.array(list(simulator.hours.values()))[:, :BASELINE_RUNS]
    order = {job: position for position, job in enumerate(simulator.hours)}
    scaled = best_of(lambda: numpy_by_step(build, hours, gates, order), 2) * runs / BASELINE_RUNS
    note = (
        f"warm; baseline timed on {BASELINE_RUNS} runs and scaled to {runs}; without calendar, seasons, stops, causes"
    )
    return {
        "name": name,
        "seconds": seconds,
        "memory_mib": memory_mib(),
        "baseline": "numpy over runs, one job a step",
        "baseline_seconds": scaled,
        "note": note,
    }


def prepare_row(jobs: int, runs: int) -> dict[str, Any]:
    """Making the simulator: draws, network, calendar."""
    build = network(jobs)
    facts = facts_of(build, AS_OF)
    return {
        "name": f"prepare {jobs} jobs x {runs} runs",
        "seconds": best_of(lambda: Simulator(build, facts, runs=runs), 3),
        "memory_mib": memory_mib(),
        "baseline": "",
        "baseline_seconds": None,
        "note": "draws, network, calendar; once for any number of what-ifs",
    }


COLD = """
import time; begun = time.perf_counter()
from bench_work import *
build = network({jobs}); simulator = Simulator(build, facts_of(build, AS_OF), runs={runs})
simulator.finish_weeks(gates_for(build)); print(time.perf_counter() - begun, memory_mib())
"""


def cold_row(jobs: int, runs: int) -> dict[str, Any]:
    """A new process with the compiled kernel in the cache: imports, draws and the runs."""
    code = COLD.format(jobs=jobs, runs=runs)
    folder = __file__.rsplit("/", 1)[0]
    said = [
        subprocess.run(
            [sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=True
        ).stdout.split()
        for _ in range(2)
    ][-1]
    return {
        "name": f"cold finish_weeks {jobs} jobs x {runs} runs",
        "seconds": float(said[0]),
        "memory_mib": float(said[1]),
        "baseline": "",
        "baseline_seconds": None,
        "note": "new process, kernel from the compile cache; all imports, making the build and the draws included",
    }


def compile_row() -> dict[str, Any]:
    """A new process on a machine that has no compiled kernel yet."""
    code = COLD.format(jobs=60, runs=200).replace("perf_counter", "process_time")
    with tempfile.TemporaryDirectory() as empty:
        said = subprocess.run(
            [sys.executable, "-c", code],
            cwd=Path(__file__).parent,
            env={**os.environ, "NUMBA_CACHE_DIR": empty},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
    return {
        "name": "first compile, processor time",
        "seconds": float(said[0]),
        "memory_mib": float(said[1]),
        "baseline": "",
        "baseline_seconds": None,
        "note": "new process with an empty compile cache, 60 jobs x 200 runs; once on a machine",
    }


def rows() -> list[dict[str, Any]]:
    """All timings of the work engine."""
    return [
        row("every run played, 50 jobs x 2000 runs", 50, 2_000, full=False),
        row("run 60 jobs x 2000 runs", 60, 2_000, full=True),
        row("every run played, 400 jobs x 10000 runs", 400, 10_000, full=False),
        row("run 400 jobs x 10000 runs", 400, 10_000, full=True),
        *rich_rows(400, 10_000),
        prepare_row(60, 2_000),
        prepare_row(400, 10_000),
        cold_row(400, 10_000),
        compile_row(),
    ]


if __name__ == "__main__":
    for line in rows():
        print(line)
