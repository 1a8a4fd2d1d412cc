"""Published networks and the merge of paths, through the work engine. Sources stand in networks.toml."""

from __future__ import annotations

import math
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.events import Work
from fishplate.build.jobs import Job
from fishplate.build.parts import Part, Phase
from fishplate.work import Earned, FloatArray, Gates, Simulator, critical_path, pert_mean_variance, progress

TABLES: dict[str, Any] = tomllib.loads(Path(__file__).with_name("networks.toml").read_text(encoding="utf-8"))
RUNS = 40_000


def links_of(after: dict[str, list[str]]) -> list[tuple[str, str]]:
    return [(before, job) for job, befores in after.items() for before in befores]


def below(deadline: float, mean: float, variance: float) -> float:
    return 0.5 * math.erfc((mean - deadline) / math.sqrt(2 * variance))


@pytest.mark.parametrize("column", ["es", "ef", "ls", "lf", "slack"])
def test_construction_plan_has_the_printed_table(column: str) -> None:
    table = TABLES["construction"]
    path = critical_path(table["duration"], links_of(table["after"]))
    assert getattr(path, column) == table[column]


def test_construction_plan_takes_44_weeks_along_the_printed_path() -> None:
    table = TABLES["construction"]
    path = critical_path(table["duration"], links_of(table["after"]))
    assert path.duration == table["project"]
    assert list(path.critical) == table["critical"] == list(path.chain)


def test_construction_three_points_have_the_printed_means_and_variances() -> None:
    table = TABLES["construction_three_point"]
    for job in table["low"]:
        mean, variance = pert_mean_variance(table["low"][job], table["likely"][job], table["high"][job])
        assert mean == pytest.approx(table["mean"][job], abs=1e-12)
        assert 9 * variance == pytest.approx(table["ninths_of_variance"][job], abs=1e-12)


def test_construction_meets_its_deadline_with_the_printed_chance() -> None:
    table, network = TABLES["construction_three_point"], TABLES["construction"]
    moments = {
        job: pert_mean_variance(table["low"][job], table["likely"][job], table["high"][job]) for job in table["low"]
    }
    path = critical_path({job: mean for job, (mean, _) in moments.items()}, links_of(network["after"]))
    variance = sum(moments[job][1] for job in path.chain)
    assert path.duration == pytest.approx(table["project_mean"], abs=1e-9)
    assert variance == pytest.approx(table["path_variance"], abs=1e-9)
    assert below(table["deadline"], path.duration, variance) == pytest.approx(table["chance"], abs=0.00005)


def test_construction_takes_70_weeks_if_all_goes_badly() -> None:
    table, network = TABLES["construction_three_point"], TABLES["construction"]
    assert critical_path(table["high"], links_of(network["after"])).duration == table["all_high"]


@pytest.mark.parametrize("name", ["arrows_a", "arrows_b"])
def test_activities_on_arrows_have_the_printed_table(name: str) -> None:
    table = TABLES[name]
    rows = table["rows"]
    durations = {f"{tail}-{head}": time for tail, head, time, *_ in rows}
    links = [(f"{a[0]}-{a[1]}", f"{b[0]}-{b[1]}") for a in rows for b in rows if a[1] == b[0]]
    path = critical_path(durations, links)
    assert path.duration == table["project"]
    for tail, head, _, *printed in rows:
        job = f"{tail}-{head}"
        assert [path.es[job], path.ef[job], path.ls[job], path.lf[job], path.slack[job]] == printed


def test_seventeen_week_network_has_the_printed_moments_and_path() -> None:
    table = TABLES["seventeen_weeks"]
    moments = {
        job: pert_mean_variance(table["low"][job], table["likely"][job], table["high"][job]) for job in table["low"]
    }
    for job, (mean, variance) in moments.items():
        assert mean == table["mean"][job]
        assert variance == pytest.approx(table["variance"][job], abs=0.005)
    path = critical_path({job: mean for job, (mean, _) in moments.items()}, links_of(table["after"]))
    assert path.duration == table["project"]
    assert list(path.chain) == table["critical"]


def test_stadium_is_ready_in_270_days_with_the_printed_chance() -> None:
    table = TABLES["stadium"]
    moments = [pert_mean_variance(*points) for points in zip(table["low"], table["likely"], table["high"], strict=True)]
    assert [mean for mean, _ in moments] == table["mean"]
    assert [variance for _, variance in moments] == pytest.approx(table["variance"], abs=0.005)
    durations = {job: mean for job, (mean, _) in zip(table["path"], moments, strict=True)}
    path = critical_path(durations, list(zip(table["path"], table["path"][1:], strict=False)))
    variance = sum(variance for _, variance in moments)
    assert path.duration == table["path_mean"]
    assert variance == pytest.approx(table["path_variance"], abs=0.015)
    z = (table["deadline"] - path.duration) / math.sqrt(variance)
    assert z == pytest.approx(table["z"], abs=0.005)
    # the printed chance is read from a table at z rounded to 0.56
    assert below(table["z"], 0, 1) == pytest.approx(table["chance"], abs=0.00005)
    assert below(table["deadline"], path.duration, variance) == pytest.approx(table["chance"], abs=0.0005)


def latest_of(paths: list[FloatArray]) -> FloatArray:
    """Finish of a build whose jobs take no hours and each wait for one part: the paths merge at the end."""
    names = [f"path-{number}" for number in range(len(paths))]
    nothing = ThreePoint(low=0, likely=0, high=0)
    build = Build(
        parts=tuple(Part(id=name, name=name) for name in names),
        jobs=tuple(Job(id=f"end-{n}", name=n, phase=Phase.ASSEMBLY, hours=nothing, to_keep=(n,)) for n in names),
    )
    simulator = Simulator(build, facts_of(build, date(2026, 3, 2)), runs=RUNS)
    finish = simulator.finish_weeks(Gates(parts=dict(zip(names, paths, strict=True))))
    assert np.array_equal(finish, simulator.run(Gates(parts=dict(zip(names, paths, strict=True)))).finish_weeks)
    return finish


def three_standard_errors(sample: FloatArray) -> float:
    return 3 * float(sample.std(ddof=1)) / math.sqrt(sample.size)


@pytest.mark.parametrize("count", TABLES["equal_normals"]["count"])
def test_latest_of_equal_normal_paths_is_late_as_tabulated(count: int) -> None:
    table = TABLES["equal_normals"]
    random = np.random.default_rng(count)
    finish = latest_of([20 + random.standard_normal(RUNS) for _ in range(count)])
    expected = 20 + table["expected_latest"][table["count"].index(count)]
    assert finish.mean() == pytest.approx(expected, abs=three_standard_errors(finish) + 0.00005)


@pytest.mark.parametrize("table", TABLES["two_paths"])
def test_later_of_two_normal_paths_has_clarks_moments(table: dict[str, Any]) -> None:
    random = np.random.default_rng(4)
    first, second = (random.normal(*table[name], RUNS) for name in ("first", "second"))
    finish = latest_of([first, second])
    assert finish.mean() == pytest.approx(table["mean"], abs=three_standard_errors(finish))
    squares = (finish - finish.mean()) ** 2
    assert squares.mean() == pytest.approx(table["variance"], abs=three_standard_errors(squares))
    share = (np.abs(finish - first) < 1e-9).astype(float)
    assert share.mean() == pytest.approx(table["chance_first_later"], abs=three_standard_errors(share))


@pytest.mark.parametrize("count", TABLES["two_point"]["count"])
def test_latest_of_two_point_paths_has_the_closed_mean(count: int) -> None:
    table = TABLES["two_point"]
    random = np.random.default_rng(count)
    finish = latest_of([random.choice([1.0, 3.0], RUNS) for _ in range(count)])
    expected = table["mean_latest"][table["count"].index(count)]
    assert finish.mean() == pytest.approx(expected, abs=three_standard_errors(finish))


def test_fence_has_the_printed_indices_and_forecasts() -> None:
    table = TABLES["fence"]
    earned = Earned(*(table[name] for name in ("planned", "earned", "spent", "whole")))
    assert (earned.saved, earned.ahead) == (table["saved"], table["ahead"])
    assert earned.done_per_spent == pytest.approx(table["done_per_spent"], abs=0.0005)
    assert earned.done_per_planned == pytest.approx(table["done_per_planned"], abs=0.0005)
    for name in ("at_completion", "to_complete", "at_completion_saved"):
        assert getattr(earned, name) == pytest.approx(table[name], abs=1.01)


def test_task_worked_longer_than_estimated_is_as_far_as_printed() -> None:
    table = TABLES["single_task"]
    points = ThreePoint(low=table["estimate"], likely=table["estimate"], high=table["estimate"])
    worked = Work(id="w", day=date(2026, 3, 2), job="task", hours=table["worked"], hours_left=table["left"])
    build = Build(jobs=(Job(id="task", name="Task", phase=Phase.ASSEMBLY, hours=points),), events=(worked,))
    found = progress(build, facts_of(build, date(2026, 3, 2))).whole
    assert 100 * found.share == pytest.approx(table["percent"], abs=0.001)
    assert found.earned == pytest.approx(table["earned"], abs=0.0001)
    assert found.at_completion == pytest.approx(table["at_completion"], abs=0.0001)
    assert found.at_completion_saved == pytest.approx(table["at_completion_saved"], abs=0.0001)
