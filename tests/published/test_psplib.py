"""The scheduler on the published instances of PSPLIB, against their optima and against a plain model.

R. Kolisch, A. Sprecher (1996), European Journal of Operational Research 96, 205-216. All of j30 are closed; of j60 the
best known bounds stand beside the files. Limits are counted effort, so that a busy machine changes no verdict.
"""

from __future__ import annotations

import os
import threading

import pytest
from benchmarks.psplib import FOLDER, Solved, beside, instances, ours, warm

from fishplate.work.schedule_hands import HandsTime
from fishplate.work.schedule_model import Limits
from fishplate.work.schedule_orders import Orders

pytestmark = pytest.mark.skipif(not FOLDER.exists(), reason=f"NOT CHECKED against PSPLIB: no files at {FOLDER}")
# about thirty seconds of two unhurried cores
LIMITS = Limits(effort=20.0)
# of j60; breeding that only lets neighbours change places stays 2 to 3 % above
HARDEST = ("j609_9", "j609_10", "j6013_10", "j6041_7")


def assert_kept(solved: Solved) -> None:
    """Precedences and capacities, day by day."""
    instance, start = solved.instance, solved.starts
    assert solved.finish is not None
    for job, others in instance.followers.items():
        assert all(start[other] >= start[job] + instance.lengths[job] for other in others)
    for day in range(solved.finish):
        at_work = [job for job in start if start[job] <= day < start[job] + instance.lengths[job]]
        for n, capacity in enumerate(instance.capacities):
            assert sum(instance.needs[job][n] for job in at_work) <= capacity


def test_forty_of_j30_reach_the_published_optimum() -> None:
    """Every twelfth."""
    for instance in instances("j30", 12):
        found = ours(instance, Limits(effort=10.0))
        assert_kept(found)
        assert instance.lower == instance.upper == found.finish == found.bound, instance.name


@pytest.mark.long
def test_all_of_j30_reach_the_published_optimum() -> None:
    for instance in instances("j30"):
        found = ours(instance, LIMITS)
        assert_kept(found)
        assert found.finish == instance.upper, instance.name


@pytest.mark.long
def test_of_j60_no_fewer_are_proven_than_plainly_none_is_far_from_the_best_known_and_it_takes_no_longer() -> None:
    """One from each of the 48 parameters; all 480 where FISHPLATE_WHOLE is set."""
    warm()
    both = beside(instances("j60", 1 if os.environ.get("FISHPLATE_WHOLE") else 10), LIMITS)
    for found in both.ours:
        assert_kept(found)
        assert found.finish is not None
        assert found.instance.lower <= found.finish, found.instance.name
        assert found.bound <= found.instance.upper, found.instance.name
    assert sum(each.proven for each in both.ours) >= sum(each.proven for each in both.plainly)
    assert [(each.instance.name, each.finish) for each in both.ours if each.gap > 0.02] == []
    assert both.overhead <= 1.10


@pytest.mark.long
@pytest.mark.parametrize("name", HARDEST)
def test_breeding_alone_comes_near_the_best_known(name: str) -> None:
    """An order with a task moved far away is what it takes: neighbours that change places are pulled back."""
    (instance,) = (each for each in instances("j60") if each.name == name)
    orders = Orders(instance.problem, HandsTime(()), 1)
    near = int(1.02 * instance.upper)
    orders.best(Limits(effort=5.0), near, threading.Event())
    assert orders.finish is not None
    assert orders.finish <= near
