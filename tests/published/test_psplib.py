"""The scheduler on the published instances of PSPLIB, against their optima and against a plain model.

R. Kolisch, A. Sprecher (1996), European Journal of Operational Research 96, 205-216. All of j30 are closed; of j60 the
best known bounds stand beside the files.
"""

from __future__ import annotations

import time

import pytest
from ortools.sat.python import cp_model
from psplib_files import FOLDER, Instance, instances

from fishplate.work.schedule_model import Found, Limits
from fishplate.work.schedule_solve import schedule

pytestmark = pytest.mark.skipif(not FOLDER.exists(), reason=f"NOT CHECKED against PSPLIB: no files at {FOLDER}")
SECONDS = 30.0


def scheduled(instance: Instance, limits: Limits) -> Found:
    found = schedule(instance.problem, limits)
    assert isinstance(found, Found)
    assert_kept(instance, found)
    return found


def assert_kept(instance: Instance, found: Found) -> None:
    """Precedences and capacities, day by day."""
    start = {job: found.places[f"{job:03d}"].start for job in instance.lengths}
    for job, others in instance.followers.items():
        assert all(start[other] >= start[job] + instance.lengths[job] for other in others)
    for day in range(found.finish):
        at_work = [job for job in start if start[job] <= day < start[job] + instance.lengths[job]]
        for n, capacity in enumerate(instance.capacities):
            assert sum(instance.needs[job][n] for job in at_work) <= capacity


def test_forty_of_j30_reach_the_published_optimum() -> None:
    """Every twelfth, within a deterministic effort."""
    for instance in instances("j30", 12):
        found = scheduled(instance, Limits(effort=10.0))
        assert instance.lower == instance.upper == found.finish, instance.name
        assert found.optimal, instance.name


@pytest.mark.long
def test_all_of_j30_reach_the_published_optimum() -> None:
    for instance in instances("j30"):
        found = scheduled(instance, Limits(effort=1e9, seconds=SECONDS))
        assert found.finish == instance.upper, instance.name


def proven_plainly(instance: Instance, seconds: float) -> tuple[bool, float]:
    """Whether the textbook model is solved to the end, and how long it took [s]."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = seconds
    begun = time.perf_counter()
    return solver.solve(instance.plain()) == cp_model.OPTIMAL, time.perf_counter() - begun


@pytest.mark.long
def test_of_j60_no_fewer_are_proven_than_plainly_and_none_is_far_from_the_best_known() -> None:
    ours = plainly = 0
    far: list[tuple[str, int, int]] = []
    for instance in instances("j60"):
        found = scheduled(instance, Limits(effort=1e9, seconds=SECONDS))
        ours += found.optimal
        plainly += proven_plainly(instance, SECONDS)[0]
        assert instance.lower <= found.finish, instance.name
        assert found.bound <= instance.upper, instance.name
        if found.finish > 1.02 * instance.upper:
            far.append((instance.name, found.finish, instance.upper))
    assert ours >= plainly
    assert far == []
