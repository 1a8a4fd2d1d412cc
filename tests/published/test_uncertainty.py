"""Propagation of uncertainty, shares of variance, worth of a reading: against values printed elsewhere.

The values, their sources and tolerances stand in uncertainty.toml.
"""

import math
import tomllib
from datetime import date
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fishplate.build import build_from_data, facts_of
from fishplate.build.expression import parse_expression
from fishplate.build.interfaces import Correlation
from fishplate.fit import assess
from fishplate.fit.draws import JointDraws, correlation_matrix
from fishplate.fit.preposterior import value_of_knowing
from fishplate.fit.readings import DimensionState, Shape, dimension_states, pool
from fishplate.fit.sampling import INTERVAL
from fishplate.fit.shares import variance_shares
from fishplate.fit.worst_case import gradient, root_sum_square

TABLE: dict[str, Any] = tomllib.loads(Path(__file__).with_name("uncertainty.toml").read_text("utf-8"))


def test_every_value_has_a_source() -> None:
    assert all(entry["source"] and entry["status"] in ("from memory", "as printed") for entry in TABLE.values())


def states(values: dict[str, tuple[float, float]], shape: Shape = "normal") -> dict[str, DimensionState]:
    return {name: DimensionState(name, value, sd, shape) for name, (value, sd) in values.items()}


def drawn(draws: JointDraws) -> dict[str, np.ndarray]:
    values = np.concatenate([block for replicate in range(8) for block in draws.blocks(replicate)], axis=1)
    return {name: values[row].astype(float) for name, row in draws.row.items()}


# --- JCGM 100 (GUM) ---

H2 = TABLE["gum_h2"]
H2_EXPRESSIONS = {"R": "volt / amp * cos(phi)", "X": "volt / amp * sin(phi)", "Z": "volt / amp"}


def h2_states() -> dict[str, DimensionState]:
    inputs = H2["inputs"]
    return states({name: (inputs[key], inputs[f"u_{key}"]) for name, key in
                   (("volt", "V"), ("amp", "I"), ("phi", "phi"))})  # fmt: skip


def h2_correlations() -> list[Correlation]:
    pairs = {("volt", "amp"): "V_I", ("volt", "phi"): "V_phi", ("amp", "phi"): "I_phi"}
    return [Correlation(first=a, second=b, coefficient=H2["correlations"][key]) for (a, b), key in pairs.items()]


@pytest.mark.parametrize("name", ["R", "X", "Z"])
def test_impedance_from_correlated_readings_by_linear_propagation(name: str) -> None:
    known = h2_states()
    expression, at = parse_expression(H2_EXPRESSIONS[name]), {key: state.value for key, state in known.items()}
    widths = {key: state.sd for key, state in known.items()}
    matrix = correlation_matrix(tuple(known), h2_correlations())
    spread = root_sum_square(gradient(expression, at, widths), np.array(list(widths.values())), matrix)
    assert expression.evaluate(at) == pytest.approx(H2["expected"][name], abs=H2["tolerance"][name])
    assert spread == pytest.approx(H2["expected"][f"u_{name}"], abs=H2["tolerance"][f"u_{name}"])


def test_impedance_from_correlated_readings_by_joint_draws() -> None:
    values = drawn(JointDraws(h2_states(), h2_correlations(), samples=100_000, seed=1))
    found = {name: np.asarray(parse_expression(text).evaluate(values)) for name, text in H2_EXPRESSIONS.items()}
    for name in found:
        assert found[name].mean() == pytest.approx(H2["expected"][name], abs=H2["tolerance"][name])
        assert found[name].std() == pytest.approx(H2["expected"][f"u_{name}"], abs=H2["tolerance"][f"u_{name}"])
    for first, second in combinations(found, 2):
        key = f"r_{first}_{second}"
        together = np.corrcoef(found[first], found[second])[0, 1]
        assert together == pytest.approx(H2["expected"][key], abs=H2["tolerance"][key])


def test_gauge_block_by_linear_propagation() -> None:
    given, expected = TABLE["gum_h1"]["inputs"], TABLE["gum_h1"]["expected"]
    at = {
        "standard": given["lS_mm"], "difference": given["d_nm"] * 1e-6, "d_alpha": 0.0, "theta": given["theta_K"],
        "alpha": given["alphaS_per_K"], "d_theta": 0.0,
    }  # fmt: skip
    widths = {
        "standard": given["u_lS_nm"] * 1e-6, "difference": given["u_d_nm"] * 1e-6,
        "d_alpha": given["u_d_alpha_per_K"], "d_theta": given["u_d_theta_K"],
    }  # fmt: skip
    length = parse_expression("standard + difference - standard * (d_alpha * theta + alpha * d_theta)")
    spread = root_sum_square(gradient(length, at, widths), np.array(list(widths.values())), np.eye(4))
    assert length.evaluate(at) == pytest.approx(expected["l_mm"], abs=TABLE["gum_h1"]["tolerance"]["l_mm"])
    assert spread * 1e6 == pytest.approx(expected["u_l_nm"], abs=TABLE["gum_h1"]["tolerance"]["u_l_nm"])


@pytest.mark.parametrize("meaning", TABLE["spread_meanings"]["expected"])
def test_what_a_stated_spread_says_as_a_standard_deviation(meaning: str) -> None:
    row = TABLE["spread_meanings"]
    reading = {"id": "r", "dimension": "a", "value": 5, "spread": row["half_width"], "spread_means": meaning}
    build = build_from_data(
        {"dimensions": [{"id": "a", "name": "A"}], "readings": [{**reading, "day": "2026-01-01"}]}
    )  # fmt: skip
    known, _ = dimension_states(build, facts_of(build, date(2026, 1, 2)), ["a"])
    assert known["a"].sd == pytest.approx(row["expected"][meaning], abs=row["tolerance"])


# --- JCGM 101 (distributions by Monte Carlo) ---


@pytest.mark.parametrize("key", ["jcgm_101_normal", "jcgm_101_rectangular", "jcgm_101_dominant"])
def test_interval_of_a_sum_by_joint_draws(key: str) -> None:
    row = TABLE[key]
    given = states({f"x{number}": (0.0, float(sd)) for number, sd in enumerate(row["sd"])}, row["shape"])
    values = drawn(JointDraws(given, (), samples=200_000, seed=1))
    total = np.asarray(parse_expression("x0 + x1 + x2 + x3").evaluate(values))
    # the distribution is even, so the shortest interval is the one between the 2.5 and 97.5 % points
    low, high = np.quantile(total, [0.025, 0.975])
    assert total.std() == pytest.approx(row["expected"]["sd"], abs=0.05)
    assert low == pytest.approx(row["expected"]["low95"], abs=row["tolerance"])
    assert high == pytest.approx(row["expected"]["high95"], abs=row["tolerance"])


# --- shares of variance ---


@pytest.mark.parametrize(("samples", "tolerance"), [(1 << 20, "tolerance"), (16_384, "tolerance_of_few")])
def test_shares_of_the_ishigami_function(samples: int, tolerance: str) -> None:
    row = TABLE["ishigami"]
    given = states(dict.fromkeys(("x1", "x2", "x3"), (0.0, math.pi / math.sqrt(3))), "rectangular")
    values = drawn(JointDraws(given, (), samples=samples, seed=1))
    y = parse_expression("sin(x1) + 7 * sin(x2)^2 + 0.1 * (x3 / 1 rad)^4 * sin(x1)").evaluate(values)
    found = variance_shares(np.stack([values[name] for name in row["expected"]]).astype(np.float32), np.asarray(y))
    assert found == pytest.approx(list(row["expected"].values()), abs=row[tolerance])


# --- worth of a reading ---


@pytest.mark.parametrize("position", range(5))
def test_worth_of_knowing_a_normal_quantity_is_the_unit_normal_loss(position: int) -> None:
    row = TABLE["unit_normal_loss"]
    slope, sd = 40.0, 2.5
    values = drawn(JointDraws(states({"x": (100.0, sd)}), (), samples=16_384, seed=1))["x"]
    # the break-even point lies z standard deviations from the mean: slope * sd * L(z)
    gain = slope * (values - 100 + row["z"][position] * sd)
    expected = slope * sd * row["expected"][position]
    tolerance = slope * sd * row["tolerance"]
    assert value_of_knowing(np.argsort(values), gain) == pytest.approx(expected, abs=tolerance)
    assert value_of_knowing(np.argsort(values), -gain) == pytest.approx(expected, abs=tolerance)


# --- pooling ---


def test_readings_are_weighted_by_inverse_variance() -> None:
    row = TABLE["weighted_mean"]
    readings: list[tuple[float, float, Shape]] = [
        (float(value), float(sd), "normal") for value, sd in zip(row["values"], row["sd"], strict=True)
    ]  # fmt: skip
    value, sd, _, ratio = pool(readings)
    assert value == pytest.approx(row["expected"]["value"], abs=row["tolerance"]["value"])
    assert sd == pytest.approx(row["expected"]["sd"], abs=row["tolerance"]["sd"])
    assert ratio == 1.0


@pytest.mark.parametrize("position", range(5))
def test_readings_disagree_from_the_tabled_five_percent_point(position: int) -> None:
    row = TABLE["chi_square"]
    freedom, point = row["freedom"][position], row["expected"][position]

    def ratio(square: float) -> float:
        # n readings of spread one, one of them off: chi-square = off^2 (n - 1) / n
        off = math.sqrt(square * (freedom + 1) / freedom)
        return pool([(off, 1.0, "normal"), *[(0.0, 1.0, "normal")] * freedom])[3]

    assert ratio(point - 0.0005) == 1.0
    assert ratio(point + 0.0005) == pytest.approx(math.sqrt(point / freedom), rel=1e-3)


# --- chance of one condition ---


@pytest.mark.parametrize("position", range(7))
def test_chance_of_a_normal_clearance_is_the_tabled_one(position: int) -> None:
    row = TABLE["standard_normal"]
    z, sd = row["z"][position], 2.0
    build = build_from_data({
        "interfaces": [{"id": "i", "name": "I"}],
        "dimensions": [{"id": "a", "name": "A"}],
        "readings": [{"id": "r", "dimension": "a", "value": 100, "spread": sd, "spread_means": "standard-deviation",
                      "day": "2026-01-01"}],
        "conditions": [{"id": "c", "interface": "i", "name": "C", "expression": "a",
                        "at_least": f"{100 - z * sd:.4f} mm"}],
    })  # fmt: skip
    report = assess(build, facts_of(build, date(2026, 1, 2)), samples=400_000)
    assert report.conditions[0].chance == pytest.approx(row["expected"][position], abs=row["tolerance"])


def test_the_sampling_interval_uses_the_tabled_factor() -> None:
    assert TABLE["student"]["expected"] == INTERVAL


# --- units ---


@pytest.mark.parametrize("text", TABLE["pound_force"]["expected"])
def test_pounds_of_force_and_of_mass(text: str) -> None:
    row = TABLE["pound_force"]
    assert parse_expression(text).evaluate({}) == pytest.approx(row["expected"][text], rel=row["relative_tolerance"])
