"""Value of readings against closed forms, quadrature and brute-force nested sampling."""

import math
from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pytest
from scipy import integrate, stats

from fishplate.build import Build, build_from_data, facts_of
from fishplate.fit.cells import Cells, cells_of
from fishplate.fit.condition_results import condition_results
from fishplate.fit.draws import JointDraws
from fishplate.fit.preposterior import reading_of, value_of_knowing, value_of_reading
from fishplate.fit.readings import DimensionState
from fishplate.fit.study import study
from fishplate.fit.worth import Worth

Array = np.ndarray[Any, np.dtype[np.float64]]
DAY = date(2026, 3, 1)


def loss(z: float) -> float:
    """Unit normal loss integral."""
    return float(stats.norm.pdf(z) - z * stats.norm.sf(z))


def sum_by_cell(cells: Cells, gain: Array) -> Array:
    """Expected gain, known on every draw, that falls into each cell: mean in the cell times its chance."""
    found: Array = np.bincount(cells.cell, weights=gain, minlength=len(cells.share)) / gain.size
    return found


@pytest.fixture(scope="module")
def normal() -> Array:
    """Draws of a standard normal quantity as the engine makes them, among others."""
    states = {name: DimensionState(name, 0.0, 1.0, "normal") for name in "abx"}
    draws = JointDraws(states, (), samples=16_384, seed=3)
    blocks = [block for replicate in range(8) for block in draws.blocks(replicate)]
    return np.concatenate(blocks, axis=1)[draws.row["x"]].astype(float)


@pytest.mark.parametrize("break_even", [0.0, 0.25, 0.5, 1.0])
@pytest.mark.parametrize("noise", [0.05, 0.3, 1.0, 2.0])
def test_a_gain_linear_in_a_normal_quantity_has_its_closed_form(normal: Array, break_even: float, noise: float) -> None:
    cells = cells_of(normal)
    found = value_of_reading(reading_of(cells, noise), sum_by_cell(cells, normal - break_even))
    told = 1 / math.hypot(1, noise)  # standard deviation of the posterior mean
    # values below a hundredth of the spread hang on the mean of the draws, which is off by some 1e-5
    assert found == pytest.approx(told * loss(break_even / told), rel=0.01, abs=1e-4)


def test_a_perfect_reading_has_the_loss_integral(normal: Array) -> None:
    for break_even in (0.0, 0.5, 1.0, 1.5):
        found = value_of_knowing(np.argsort(normal), normal - break_even)
        assert found == pytest.approx(loss(break_even), rel=0.01)


def test_a_product_launch_is_worth_what_the_handbook_prints(normal: Array) -> None:
    """Render and Stair, Quantitative Analysis for Management, module M3: 6 a unit, break-even 6000, N(8000, 2885).

    Printed 2515.14 with the table's L(0.69); unrounded about 2501. Mean, deviation and result from memory.
    """
    gain = 6 * (8000 + 2885 * normal - 6000)
    assert value_of_knowing(np.argsort(normal), gain) == pytest.approx(2515.14, abs=25)


@pytest.mark.parametrize(("readings", "expected"), [(1, 22.227), (4, 51.814), (9, 64.468), (36, 74.93)])
def test_more_readings_rise_to_the_value_of_knowing(normal: Array, readings: int, expected: float) -> None:
    """Raiffa and Schlaifer 1961, formula; prior N(12, 4), break-even 10, slope 100, noise 6 a reading."""
    cells = cells_of(12 + 4 * normal)
    gain = sum_by_cell(cells, 100 * (12 + 4 * normal - 10))
    assert value_of_reading(reading_of(cells, 6 / math.sqrt(readings)), gain) == pytest.approx(expected, rel=0.01)


# --- a build's own conditions ---


Rows = dict[str, tuple[float, float, str]]


def build_of(readings: Rows, condition: dict[str, Any], correlations: list[dict[str, Any]] | None = None) -> Build:
    return build_from_data({
        "interfaces": [{"id": "i", "name": "Place"}],
        "dimensions": [{"id": name, "name": name.upper()} for name in readings],
        "readings": [
            {"id": f"r_{name}", "dimension": name, "value": value, "spread": spread, "spread_means": means,
             "provenance": "estimate", "day": "2026-01-10"}
            for name, (value, spread, means) in readings.items()
        ],
        "conditions": [{"id": "c", "interface": "i", "name": "Condition", **condition}],
        "correlations": correlations or [],
    })  # fmt: skip


def worth_of(build: Build, samples: int = 20_000) -> Worth:
    studied = study(build, facts_of(build, DAY), seed=5, samples=samples)
    return Worth(studied, tuple(condition_results(studied)))


def costs(early: float, late: float) -> dict[str, Any]:
    return {"early_cost": early, "late_cost": late, "late_hours": {"low": 0, "likely": 0, "high": 0}}


def linear_normal_value(mean: float, total_sd: float, told_sd: float, early: float, late: float) -> float:
    """A margin N(mean, total_sd) of which readings tell a part N(0, told_sd): the rest fails with its own chance."""
    rest = math.sqrt(total_sd**2 - told_sd**2)

    def after(z: float) -> float:
        return min(early, late * float(stats.norm.cdf(-(mean + told_sd * z) / rest))) * float(stats.norm.pdf(z))

    before = min(early, late * float(stats.norm.cdf(-mean / total_sd)))
    return before - float(integrate.quad(after, -8, 8, limit=400, points=np.linspace(-6, 6, 25))[0])


@pytest.mark.parametrize(("noise_a", "noise_b"), [(0.5, 0.5), (1.0, 3.0), (0.2, 4.0)])
@pytest.mark.parametrize("linked", [0.0, 0.6])
def test_two_readings_together_agree_with_quadrature(noise_a: float, noise_b: float, linked: float) -> None:
    covariance = np.array([[9.0, linked * 6], [linked * 6, 4.0]])
    correlations = [{"first": "a", "second": "b", "coefficient": linked}] if linked else []
    rows = {"a": (20.0, 3.0, "standard-deviation"), "b": (7.0, 2.0, "standard-deviation"),
            "c": (1.0, 1.0, "standard-deviation")}  # fmt: skip
    condition = {"expression": "a - b - c", "at_least": "10 mm", **costs(200, 1000)}
    slopes = np.array([1.0, -1.0])
    noise = np.diag([noise_a**2, noise_b**2])
    told = slopes @ covariance @ np.linalg.inv(covariance + noise) @ covariance @ slopes
    total = slopes @ covariance @ slopes + 1
    expected = linear_normal_value(2.0, math.sqrt(total), math.sqrt(told), 200, 1000)
    found = worth_of(build_of(rows, condition, correlations)).of_set({"a": noise_a, "b": noise_b})
    # within half a hundredth of what putting it right now costs, the greatest value there can be
    assert found == pytest.approx(expected, rel=0.01, abs=1)


def test_single_readings_agree_with_quadrature_within_a_hundredth() -> None:
    rows = {"a": (20.0, 3.0, "standard-deviation"), "b": (7.0, 2.0, "standard-deviation")}
    condition = {"expression": "a - b", "at_least": "10 mm", **costs(200, 1000)}
    worth = worth_of(build_of(rows, condition), 100_000)
    for name, sd in (("a", 3.0), ("b", 2.0)):
        for noise in (0.1, 0.5, 1.0, 3.0):
            told = sd**2 / math.hypot(sd, noise)
            expected = linear_normal_value(3.0, math.hypot(3, 2), told, 200, 1000)
            assert worth.of_dimension(name, noise) == pytest.approx(expected, rel=0.01, abs=0.3)


# --- brute force ---

SHAPES = ("limits", "limits-triangular", "standard-deviation")
FORMS: list[tuple[str, Callable[..., Array]]] = [
    ("a - b - c", lambda a, b, c: a - b - c),
    ("hypot(a, b) - 2 * c", lambda a, b, c: np.hypot(a, b) - 2 * c),
    ("a * b / c - c", lambda a, b, c: a * b / c - c),
    ("abs(a - b) + c", lambda a, b, c: np.abs(a - b) + c),
    ("max(a, b) - c", lambda a, b, c: np.maximum(a, b) - c),
]


def drawn(random: np.random.Generator, row: tuple[float, float, str], size: int) -> Array:
    value, spread, means = row
    if means == "limits":
        return random.uniform(value - spread, value + spread, size)
    if means == "limits-triangular":
        return random.triangular(value - spread, value, value + spread, size)
    return random.normal(value, spread, size)


def given_reading(
    random: np.random.Generator, row: tuple[float, float, str], reading: Array, noise: float, n: int
) -> Array:
    """Draws of a quantity given each reading of it, (readings, n): the density on a fine grid, inverted."""
    value, spread, means = row
    reach = spread if means.startswith("limits") else 6 * spread
    grid = np.linspace(value - reach, value + reach, 4001)
    prior = {"limits": np.ones_like(grid), "limits-triangular": np.maximum(0, 1 - np.abs(grid - value) / spread)}.get(
        means, np.exp(-0.5 * ((grid - value) / spread) ** 2)
    )
    found = np.empty((len(reading), n))
    for position, each in enumerate(reading):
        log = -0.5 * ((each - grid) / noise) ** 2
        density = prior * np.exp(log - log.max())
        upper = np.cumsum(density)
        found[position] = np.interp(random.uniform(0, upper[-1], n), upper, grid)
    return found


def nested(case: dict[str, Any], *, outer: int, inner: int) -> tuple[float, float, float]:
    """Value of readings of all that is `told` by nested sampling: a low and a high estimate, and the standard error.

    The action picked on one half of the inner draws and paid on the other is never too good; picked and paid on the
    same draws it is never too bad. The truth lies between, but for the outer draws.
    """
    random = np.random.default_rng(case["seed"])
    rows, form, (early, late) = case["rows"], case["form"], case["costs"]
    values = {name: drawn(random, row, outer * inner).reshape(outer, inner) for name, row in rows.items()}
    for name, noise in case["told"].items():
        reading = drawn(random, rows[name], outer) + noise * random.standard_normal(outer)
        values[name] = given_reading(random, rows[name], reading, noise, inner)
    found = form(**values)
    fails = (found < case["limit"]) | (found > case["upper"])
    half = inner // 2
    first, second, both = fails[:, :half].mean(1), fails[:, half:].mean(1), fails.mean(1)
    before = min(early, late * float(both.mean()))
    honest = np.where(late * first < early, late * second, early)
    hopeful = np.minimum(late * both, early)
    error = float(np.std(hopeful, ddof=1) / math.sqrt(outer)) + late * float(np.std(both, ddof=1) / math.sqrt(outer))
    return before - float(honest.mean()), before - float(hopeful.mean()), error


def random_case(seed: int) -> dict[str, Any]:
    random = np.random.default_rng(1000 + seed)
    text, form = FORMS[seed % len(FORMS)]
    rows = {
        name: (float(random.uniform(60, 120)), float(random.uniform(0.5, 6)), SHAPES[int(random.integers(3))])
        for name in "abc"
    }
    centre = {name: np.array([row[0]]) for name, row in rows.items()}
    limit = round(float(form(**centre)[0]) - float(random.uniform(-4, 6)), 3)
    late = float(random.uniform(300, 2000))
    early = late * float(random.uniform(0.1, 0.8))
    name = "abc"[int(random.integers(3))]
    return {
        "seed": seed, "text": text, "form": form, "rows": rows, "limit": limit, "name": name,
        "noise": float(random.uniform(0.1, 1.5)) * rows[name][1] / 2, "costs": (early, late),
    }  # fmt: skip


def agrees(case: dict[str, Any], *, outer: int, inner: int) -> None:
    condition = {"expression": case["text"], "at_least": f"{case['limit']} mm", **costs(*case["costs"])}
    found = worth_of(build_of(case["rows"], condition), 50_000).of_dimension(case["name"], case["noise"])
    case |= {"told": {case["name"]: case["noise"]}, "upper": math.inf}
    low, high, error = nested(case, outer=outer, inner=inner)
    assert low - 3 * error <= found <= high + 3 * error, (case["seed"], low, found, high, error)


@pytest.mark.parametrize("seed", range(10))
def test_a_reading_agrees_with_nested_sampling(seed: int) -> None:
    agrees(random_case(seed), outer=1500, inner=400)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(50))
def test_fifty_readings_agree_with_nested_sampling(seed: int) -> None:
    agrees(random_case(seed), outer=6000, inner=1000)


def agrees_together(seed: int, *, outer: int, inner: int) -> None:
    """Two or three readings at once; every third condition has limits on both sides."""
    case, random = random_case(seed), np.random.default_rng(seed)
    names = sorted(random.choice(list("abc"), size=int(random.integers(2, 4)), replace=False).tolist())
    case["told"] = {name: float(random.uniform(0.05, 1.5)) * case["rows"][name][1] / 2 for name in names}
    case["upper"] = case["limit"] + 6 if seed % 3 == 0 else 1e9
    limits = {"at_least": f"{case['limit']} mm"} | ({"at_most": f"{case['upper']} mm"} if seed % 3 == 0 else {})
    condition = {"expression": case["text"], **limits, **costs(*case["costs"])}
    found = worth_of(build_of(case["rows"], condition)).of_set(case["told"])
    low, high, error = nested(case, outer=outer, inner=inner)
    assert low - 3 * error <= found <= high + 3 * error, (seed, low, found, high, error)


@pytest.mark.parametrize("seed", [0, 12, 42])
def test_readings_taken_together_agree_with_nested_sampling(seed: int) -> None:
    agrees_together(seed, outer=1500, inner=200)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(50))
def test_fifty_sets_of_readings_agree_with_nested_sampling(seed: int) -> None:
    agrees_together(seed, outer=6000, inner=500)


@pytest.mark.parametrize("seed", range(8))
def test_readings_of_normal_dimensions_together_have_their_closed_form(seed: int) -> None:
    """A linear margin of three normal dimensions, two of them read, erring together in every other case."""
    random = np.random.default_rng(seed)
    spreads, room, early = random.uniform(0.5, 4, 3), random.uniform(-3, 6), float(random.uniform(50, 500))
    late, linked = early / float(random.uniform(0.1, 0.8)), 0.7 * (seed % 2)
    rows = {name: (value, float(sd), "standard-deviation") for name, value, sd in zip("abc", (20, 7, 1), spreads,
                                                                                      strict=True)}  # fmt: skip
    noise = random.uniform(0.02, 1.5, 2) * spreads[:2]
    covariance = np.diag(spreads**2)
    covariance[0, 1] = covariance[1, 0] = linked * spreads[0] * spreads[1]
    slopes = np.array([1.0, -1.0, -1.0])
    read = covariance[:2, :2] + np.diag(noise**2)
    told = slopes @ covariance[:, :2] @ np.linalg.inv(read) @ covariance[:2] @ slopes
    expected = linear_normal_value(
        float(room), math.sqrt(slopes @ covariance @ slopes), math.sqrt(told), early, late
    )  # fmt: skip
    correlations = [{"first": "a", "second": "b", "coefficient": linked}] if linked else []
    condition = {"expression": "a - b - c", "at_least": f"{12 - room} mm", **costs(early, late)}
    found = worth_of(build_of(rows, condition, correlations)).of_set({"a": noise[0], "b": noise[1]})
    assert found == pytest.approx(expected, rel=0.01, abs=0.006 * early)
