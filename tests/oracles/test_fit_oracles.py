"""Fit against independent libraries, closed forms and brute force."""

import math
from datetime import date

import numpy as np
import pytest
from GTC import set_correlation as correlate
from GTC import ureal
from hypothesis import given, settings
from hypothesis import strategies as st
from SALib.analyze import sobol as analyze_sobol
from SALib.sample import sobol as sample_sobol
from SALib.test_functions import Ishigami
from scipy import integrate, stats
from scipy.stats import qmc

from fishplate.build import Build, build_from_data, facts_of
from fishplate.build.expression import parse_expression
from fishplate.build.interfaces import Correlation
from fishplate.fit import FitReport, assess
from fishplate.fit.draws import JointDraws, correlation_matrix
from fishplate.fit.intervals import bounds_of, slopes_of
from fishplate.fit.normal import chi_square_tail, normal_scores, normal_share
from fishplate.fit.points import BLOCK, blocks
from fishplate.fit.preposterior import value_of_knowing
from fishplate.fit.readings import DimensionState, Shape
from fishplate.fit.shares import variance_shares
from fishplate.fit.worst_case import gradient, root_sum_square, worst_case


def drawn(draws: JointDraws) -> dict[str, np.ndarray]:
    values = np.concatenate([block for replicate in range(8) for block in draws.blocks(replicate)], axis=1)
    return {name: values[row].astype(float) for name, row in draws.row.items()}


def states(rows: dict[str, tuple[float, float, Shape]]) -> dict[str, DimensionState]:
    return {name: DimensionState(name, *row) for name, row in rows.items()}


# --- points ---


def test_scrambled_points_fill_every_interval_of_every_coordinate_once() -> None:
    points = np.concatenate(list(blocks(30, 4 * BLOCK, seed=5, replicate=2)), axis=1)
    cells = np.sort((points * points.shape[1]).astype(int), axis=1)
    assert (cells == np.arange(points.shape[1])).all()


def test_scrambled_points_are_as_even_as_those_of_scipy() -> None:
    ours = np.concatenate(list(blocks(6, 1024, seed=3, replicate=0)), axis=1).T.astype(float)
    theirs = qmc.Sobol(6, scramble=True, rng=np.random.default_rng(3)).random(1024)
    assert qmc.discrepancy(ours) < 1.5 * qmc.discrepancy(theirs)
    assert qmc.discrepancy(ours) < qmc.discrepancy(np.random.default_rng(3).random((1024, 6))) / 5


@pytest.mark.parametrize("shape", ["rectangular", "triangular", "normal"])
def test_draws_have_the_distribution_they_are_meant_to(shape: Shape) -> None:
    values = drawn(JointDraws(states({"x": (7.0, 2.0, shape)}), (), samples=8192, seed=1))["x"]
    width = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6)}.get(shape, 0) * 2
    meant = {
        "rectangular": stats.uniform(7 - width, 2 * width),
        "triangular": stats.triang(0.5, 7 - width, 2 * width),
        "normal": stats.norm(7, 2),
    }[shape]
    # one-dimensional net: the empirical distribution is within one draw of the true one
    assert stats.kstest(values, meant.cdf).statistic < 1e-3


def test_correlated_rectangular_draws_follow_the_copula_formula() -> None:
    given_states = states({"a": (0.0, 1.0, "rectangular"), "b": (5.0, 2.0, "rectangular"), "c": (0.0, 1.0, "normal")})
    values = drawn(
        JointDraws(given_states, [Correlation(first="a", second="b", coefficient=0.8)], samples=40_000, seed=2)
    )
    assert np.corrcoef(values["a"], values["b"])[0, 1] == pytest.approx(6 / math.pi * math.asin(0.4), abs=2e-3)
    assert np.corrcoef(values["a"], values["c"])[0, 1] == pytest.approx(0, abs=2e-3)


def test_perfect_correlation_moves_both_together() -> None:
    given_states = states({"a": (0.0, 1.0, "normal"), "b": (5.0, 2.0, "normal")})
    values = drawn(JointDraws(given_states, [Correlation(first="a", second="b", coefficient=-1)], samples=8000, seed=2))
    assert values["b"] == pytest.approx(5 - 2 * values["a"], abs=1e-4)


def test_normal_scores_agree_with_scipy() -> None:
    ends = [2.0**-24, 1 - 2.0**-24, 0.5, 0.075, 0.925, 0.0749999, 0.9250001]
    points = np.concatenate([np.linspace(1e-6, 1 - 1e-6, 20_001), ends]).astype(np.float32)
    ours = np.tile(points, (40, 1))
    normal_scores(ours)
    theirs = stats.norm.ppf(points.astype(float))
    assert np.abs(ours - theirs).max() < 3e-6
    assert (ours == ours[0]).all()


def test_normal_shares_agree_with_scipy() -> None:
    scores = np.linspace(-9, 9, 4001)
    found = normal_share(scores)
    assert np.abs(found - stats.norm.cdf(scores)).max() < 2e-7
    assert ((found > 0) & (found < 1)).all()


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 7, 12, 31])
def test_chi_square_tails_agree_with_scipy(freedom: int) -> None:
    for square in (0.0, 0.01, 0.5, 3.0, 12.0, 60.0, 900.0):
        assert chi_square_tail(freedom, square) == pytest.approx(float(stats.chi2.sf(square, freedom)), rel=1e-9)


# --- linear propagation ---


def test_correlated_linear_propagation_agrees_with_gtc() -> None:
    at = {"height": 820.0, "radius": 370.0, "travel": 95.0, "tilt": 0.06}
    spreads = {"height": 3.0, "radius": 2.0, "travel": 4.0, "tilt": 0.01}
    pairs = [("height", "radius", 0.6), ("radius", "travel", -0.4), ("height", "tilt", 0.3)]
    text = "hypot(height, travel) * cos(tilt) - radius^2 / height - travel * sin(tilt)"
    h, r, t, a = (ureal(at[name], spreads[name], independent=False) for name in at)
    named = dict(zip(at, (h, r, t, a), strict=True))
    for first, second, coefficient in pairs:
        correlate(coefficient, named[first], named[second])
    from GTC import cos, sin, sqrt

    theirs = sqrt(h * h + t * t) * cos(a) - r * r / h - t * sin(a)
    expression = parse_expression(text)
    matrix = correlation_matrix(
        tuple(at), [Correlation(first=a, second=b, coefficient=c) for a, b, c in pairs]
    )  # fmt: skip
    ours = root_sum_square(gradient(expression, at, spreads), np.array(list(spreads.values())), matrix)
    assert expression.evaluate(at) == pytest.approx(theirs.x, rel=1e-12)
    assert ours == pytest.approx(theirs.u, rel=1e-6)


# --- shares ---


def test_ishigami_shares_agree_with_salib() -> None:
    problem = {"num_vars": 3, "names": ["x1", "x2", "x3"], "bounds": [[-math.pi, math.pi]] * 3}
    theirs = analyze_sobol.analyze(
        problem, Ishigami.evaluate(sample_sobol.sample(problem, 8192, calc_second_order=False, seed=1)),
        calc_second_order=False, seed=1, num_resamples=10,
    )  # fmt: skip
    sd = math.pi / math.sqrt(3)
    values = drawn(
        JointDraws(states(dict.fromkeys(("x1", "x2", "x3"), (0.0, sd, "rectangular"))), (), samples=16_384, seed=1)
    )
    y = parse_expression("sin(x1) + 7 * sin(x2)^2 + 0.1 * (x3 / 1 rad)^4 * sin(x1)").evaluate(values)
    ours = variance_shares(np.stack([values[name] for name in problem["names"]]).astype(np.float32), np.asarray(y))
    assert ours == pytest.approx(theirs["S1"], abs=0.02)


def test_shares_of_a_linear_condition_are_exact() -> None:
    values = drawn(JointDraws(
        states({"a": (0.0, 3.0, "normal"), "b": (0.0, 4.0, "rectangular"), "c": (9.0, 1.0, "triangular")}),
        (), samples=16_384, seed=4,
    ))  # fmt: skip
    y = 2 * values["a"] - values["b"]
    # variances 36 and 16
    found = variance_shares(np.stack([values[name] for name in "abc"]).astype(np.float32), y.astype(np.float32))
    assert found == pytest.approx([36 / 52, 16 / 52, 0], abs=1e-3)


def test_shares_of_a_kink_are_found_by_bins() -> None:
    values = drawn(JointDraws(states(dict.fromkeys("ab", (0.0, 1.0, "normal"))), (), samples=16_384, seed=4))
    y = np.abs(values["a"]) + 0.5 * values["b"]
    # Var|a| = 1 - 2/pi; Var(b/2) = 1/4
    kink = 1 - 2 / math.pi
    expected = [kink / (kink + 0.25), 0.25 / (kink + 0.25)]
    found = variance_shares(np.stack([values["a"], values["b"]]).astype(np.float32), y.astype(np.float32))
    assert found == pytest.approx(expected, abs=0.01)


def test_shares_of_dimensions_that_err_together_have_their_closed_form() -> None:
    """a, b standard normal with correlation r, y = 3 a + b^2: E[y | a] = 3 a + r^2 a^2, E[y | b] = 3 r b + b^2."""
    r = 0.9
    linked = [Correlation(first="a", second="b", coefficient=r)]
    values = drawn(JointDraws(states(dict.fromkeys("ab", (0.0, 1.0, "normal"))), linked, samples=16_384, seed=4))
    y = 3 * values["a"] + values["b"] ** 2
    expected = [(9 + 2 * r**4) / 11, (9 * r**2 + 2) / 11]
    both = np.stack([values["a"], values["b"]]).astype(np.float32)
    found = variance_shares(both, y.astype(np.float32), np.array([[1, r], [r, 1]]))
    assert found == pytest.approx(expected, abs=0.01)


def test_a_little_curve_counts_towards_its_share() -> None:
    # y = a + b^2 / 5 with b of 10 +- 2: Var = 9 and (4 * 10^2 * 4 + 2 * 16) / 25
    values = drawn(JointDraws(
        states({"a": (10.0, 3.0, "normal"), "b": (10.0, 2.0, "normal")}), (), samples=16_384, seed=4
    ))  # fmt: skip
    y = values["a"] + values["b"] ** 2 / 5
    curved = (1600 + 32) / 25
    found = variance_shares(np.stack([values["a"], values["b"]]).astype(np.float32), y.astype(np.float32))
    assert found == pytest.approx([9 / (9 + curved), curved / (9 + curved)], abs=2e-3)


def test_a_dimension_that_does_nothing_gets_no_share() -> None:
    names = [f"x{number}" for number in range(8)]
    values = drawn(JointDraws(states(dict.fromkeys(names, (0.0, 1.0, "rectangular"))), (), samples=16_384, seed=4))
    y = np.abs(values["x0"]) * values["x1"] ** 2
    found = variance_shares(np.stack([values[name] for name in names]).astype(np.float32), y.astype(np.float32))
    assert (found[2:] < 0.003).all()


def misfit_shares_of(expression: str, limit: str, spreads: dict[str, float]) -> dict[str, float]:
    build = build_from_data({
        "interfaces": [{"id": "i", "name": "I"}],
        "dimensions": [{"id": name, "name": name} for name in spreads],
        "readings": [
            {"id": name, "dimension": name, "value": 100, "spread": sd, "spread_means": "standard-deviation",
             "day": "2026-01-01"}
            for name, sd in spreads.items()
        ],
        "conditions": [{"id": "c", "interface": "i", "name": "C", "expression": expression, "at_least": limit}],
    })  # fmt: skip
    return dict(assess(build, facts_of(build, date(2026, 2, 1)), samples=20_000).conditions[0].misfit_shares)


@pytest.mark.parametrize("room", [0.0, 2.0, 6.0])
def test_shares_of_the_misfit_of_a_linear_condition_have_their_closed_form(room: float) -> None:
    """Var(P(misfit | x)) is the chance that two conditions which share x alone both fail, less its square."""
    spreads = {"a": 3.0, "b": 2.0, "c": 1.0}
    whole = math.sqrt(sum(sd**2 for sd in spreads.values()))
    score, chance = -room / whole, float(stats.norm.cdf(-room / whole))
    found = misfit_shares_of("a + b - c", f"{100 - room} mm", spreads)
    for name, sd in spreads.items():
        alike = [[1, sd**2 / whole**2], [sd**2 / whole**2, 1]]
        both = float(stats.multivariate_normal([0, 0], alike).cdf([score, score]))
        assert found[name] == pytest.approx((both - chance**2) / (chance * (1 - chance)), abs=0.012)


def test_what_fails_only_together_has_no_share_of_its_own() -> None:
    # (a - 100) * (b - 100) < 0 half the time whatever the one is
    found = misfit_shares_of("(a - 100 mm) * (b - 100 mm)", "0 mm^2", {"a": 3.0, "b": 2.0})
    assert max(found.values()) < 0.005


def test_a_misfit_too_rare_to_tell_has_no_shares() -> None:
    assert misfit_shares_of("a - b", "-30 mm", {"a": 3.0, "b": 2.0}) == {}


def test_shares_of_the_misfit_agree_with_salib() -> None:
    problem = {"num_vars": 3, "names": list("abc"), "bounds": [[100, sd] for sd in (3.0, 2.0, 1.0)],
               "dists": ["norm"] * 3}  # fmt: skip
    sample = sample_sobol.sample(problem, 16_384, calc_second_order=False, seed=1)
    fails = (np.abs(sample[:, 0] - sample[:, 1]) + sample[:, 2] < 101.5).astype(float)
    theirs = analyze_sobol.analyze(problem, fails, calc_second_order=False, seed=1, num_resamples=10)
    ours = misfit_shares_of("abs(a - b) + c", "101.5 mm", {"a": 3.0, "b": 2.0, "c": 1.0})
    assert [ours[name] for name in "abc"] == pytest.approx(theirs["S1"], abs=0.025)


# --- worst case ---

NAMES = st.sampled_from(["a", "b", "c"]).map(str)
NUMBERS = st.sampled_from(["2", "0.5", "3"])


def _combined(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    pair = st.tuples(inner, inner)
    return st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
        pair.map(lambda p: f"max({p[0]}, {p[1]})"),
        pair.map(lambda p: f"hypot({p[0]}, {p[1]})"),
        pair.map(lambda p: f"(atan2({p[0]}, {p[1]}) / 1 rad)"),
        inner.map(lambda t: f"abs({t})"),
        inner.map(lambda t: f"sqrt({t})"),
        inner.map(lambda t: f"sin({t} * 1 rad)"),
        inner.map(lambda t: f"cos({t} * 1 rad)"),
        inner.map(lambda t: f"tan({t} * 1 rad)"),
        inner.map(lambda t: f"(asin({t} / 9) / 1 rad)"),
        inner.map(lambda t: f"(acos({t} / 9) / 1 rad)"),
        inner.map(lambda t: f"-{t}"),
        st.tuples(inner, st.sampled_from(["2", "3", "-1", "-2", "0.5"])).map(lambda t: f"({t[0]})^{t[1]}"),
        st.tuples(inner, inner, inner).map(lambda t: f"clip({t[0]}, {t[1]}, {t[2]})"),
    )


def assert_holds(text: str, low: float, high: float, found: np.ndarray) -> None:
    """Every value there is lies within bounds, but for the last digits."""
    found = found[np.isfinite(found)]
    # a last digit near nought is blown up by each root above it
    roots = text.count("sqrt") + text.count("^0.5")
    digit = max(1e-9, 4 * 1e-16**0.5**roots)
    slack = digit * max([1.0, *(abs(each) for each in (low, high) if math.isfinite(each))])
    assert (found >= low - slack).all()
    assert (found <= high + slack).all()


EXPRESSIONS = st.recursive(st.one_of(NAMES, NUMBERS), _combined, max_leaves=6)


@settings(max_examples=600, deadline=None, database=None)
@given(EXPRESSIONS, st.lists(st.tuples(st.floats(-4, 4), st.floats(0, 3)), min_size=3, max_size=3), st.integers(0, 99))
def test_interval_arithmetic_holds_every_value(
    text: str, boxes: list[tuple[float, float]], seed: int
) -> None:  # fmt: skip
    expression = parse_expression(text)
    box = {name: (low, low + width) for name, (low, width) in zip("abc", boxes, strict=True)}
    low, high = bounds_of(expression.root, box)
    if math.isnan(low) or math.isnan(high):
        return
    random = np.random.default_rng(seed)
    values = {name: random.uniform(*box[name], 200) for name in box}
    found = np.broadcast_to(np.asarray(expression.evaluate(values)), 200)
    assert_holds(text, low, high, found)


def test_an_interval_from_a_pole_on_is_the_whole_line() -> None:
    """A float at a right angle lies just before the pole, and counts as after it."""
    assert bounds_of(parse_expression("tan(a)").root, {"a": (math.pi / 2, math.pi)}) == (-math.inf, math.inf)


def test_where_each_dimension_stands_once_the_interval_is_reached() -> None:
    box = {"a": (1.0, 4.0), "b": (-2.0, 3.0), "t": (0.3, 2.0)}
    expression = parse_expression("a^2 * abs(b) - hypot(3, sin(t * 1 rad))")
    grid = np.array(np.meshgrid(*(np.linspace(*box[name], 81) for name in box))).reshape(3, -1)
    found = np.asarray(expression.evaluate(dict(zip(box, grid, strict=True))))
    worst = worst_case(expression, box)
    assert worst.method == "interval"
    assert (worst.low, worst.high) == pytest.approx((found.min(), found.max()), rel=1e-4)


@pytest.mark.parametrize(
    ("text", "box", "low", "high", "method"),
    [
        ("a - b - 0.1 * a", {"a": (10, 20), "b": (1, 2)}, 7, 17, "interval"),
        # by hand: the greatest lies inside, at a = 5, where no corner is
        ("a * (10 - a)", {"a": (2, 9)}, 9, 25, "search"),
        ("a * (10 - a)", {"a": (2, 10)}, 0, 25, "interval"),
        ("a^2 - a * b + b^2", {"a": (-1, 2), "b": (-1, 3)}, 0, 13, "search"),
        ("sqrt(a) - a", {"a": (0, 2)}, math.sqrt(2) - 2, 0.25, "interval"),
        ("hypot(a, b) - a", {"a": (-3, 4), "b": (1, 2)}, math.hypot(4, 1) - 4, math.hypot(3, 2) + 3, "interval"),
        ("clip(a, 0, 2) - 0.5 * a", {"a": (-3, 4)}, 0, 1.5, "search"),
        ("abs(a - b) + abs(a + b)", {"a": (-3, 4), "b": (-1, 2)}, 0, 8, "search"),
        ("1 / a + a", {"a": (-1, 2)}, -math.inf, math.inf, "search"),
        ("1 / a", {"a": (-1, 2)}, -math.inf, math.inf, "interval"),
    ],
)
def test_where_a_dimension_stands_twice_the_extreme_is_found_inside_too(
    text: str, box: dict[str, tuple[float, float]], low: float, high: float, method: str
) -> None:
    worst = worst_case(parse_expression(text), box)
    slack = 0.003 * (high - low) if method == "search" and math.isfinite(high - low) else 1e-9
    assert worst.method == method
    assert low - slack <= worst.low <= low + 1e-9 or worst.low == low
    assert high - 1e-9 <= worst.high <= high + slack or worst.high == high


@settings(max_examples=150, deadline=None, database=None)
@given(EXPRESSIONS, st.lists(st.tuples(st.floats(-4, 4), st.floats(0, 3)), min_size=3, max_size=3), st.integers(0, 99))
def test_slopes_and_the_worst_case_hold_every_value(
    text: str, boxes: list[tuple[float, float]], seed: int
) -> None:  # fmt: skip
    expression = parse_expression(text)
    box = {name: (low, low + width) for name, (low, width) in zip("abc", boxes, strict=True)}
    worst = worst_case(expression, box)
    random = np.random.default_rng(seed)
    values = {name: random.uniform(*box[name], 100) for name in box}
    found = np.broadcast_to(np.asarray(expression.evaluate(values)), 100)
    if worst.method != "corners":
        assert_holds(text, worst.low, worst.high, found)
    _, slopes = slopes_of(expression.root, box, expression.names)
    for name, (low, high) in slopes.items():
        if not (low >= 0 or high <= 0):
            continue
        # where it is said to rise all over the box it never falls between two points of it, and the other way round
        ends = [np.asarray(expression.evaluate({**values, name: np.full(100, end)})) for end in box[name]]
        rise = np.broadcast_to(ends[1] - ends[0], 100)
        rise = rise[np.isfinite(rise)]
        assert (rise >= -1e-6 * (1 + np.abs(rise).max(initial=0))).all() if low >= 0 else (rise <= 1e-6).all()


def test_where_it_may_have_no_value_all_corners_are_tried() -> None:
    assert worst_case(parse_expression("sqrt(a * a - a * b + 4) - a"), {"a": (1.0, 3.0), "b": (1.0, 3.0)}) == (
        pytest.approx(-1), pytest.approx(1), "corners"
    )  # fmt: skip


def test_many_dimensions_that_each_turn_one_way_need_no_corners() -> None:
    names = [f"x{number}" for number in range(14)]
    text = "x0 * x0 + " + " - ".join(names)
    box = dict.fromkeys(names, (1.0, 3.0))
    # rises in x0, falls in the other thirteen
    assert worst_case(parse_expression(text), box) == (pytest.approx(1 + 1 - 39), pytest.approx(9 + 3 - 13), "interval")


# --- joint chance ---


def shared_build() -> Build:
    readings = {"height": (820, 4), "radius": (375, 3), "travel": (90, 6), "offset": (35, 2)}
    return build_from_data({
        "interfaces": [{"id": "arch", "name": "Arch"}, {"id": "strut", "name": "Strut"}],
        "dimensions": [{"id": name, "name": name} for name in readings],
        "readings": [
            {"id": name, "dimension": name, "value": value, "spread": sd, "spread_means": "standard-deviation",
             "day": "2026-01-01"}
            for name, (value, sd) in readings.items()
        ],
        "correlations": [{"first": "radius", "second": "offset", "coefficient": 0.5}],
        "conditions": [
            {"id": "c1", "interface": "arch", "name": "Up", "expression": "height - 2 * radius - travel / 3",
             "at_least": "30 mm"},
            {"id": "c2", "interface": "arch", "name": "Side", "expression": "offset * sin(80 deg)", "at_least": "30 mm",
             "at_most": "38 mm"},
            {"id": "c3", "interface": "strut", "name": "Strut", "expression": "hypot(radius, offset)",
             "at_most": "380 mm"},
        ],
    })  # fmt: skip


@pytest.fixture(scope="module")
def shared_report() -> FitReport:
    build = shared_build()
    return assess(build, facts_of(build, date(2026, 2, 1)), samples=100_000)


def test_joint_chances_agree_with_plain_monte_carlo(shared_report: FitReport) -> None:
    random, count = np.random.default_rng(11), 2_000_000
    height, travel = random.normal(820, 4, count), random.normal(90, 6, count)
    radius, offset = random.multivariate_normal([375, 35], [[9, 3], [3, 4]], count).T
    side = offset * math.sin(math.radians(80))
    holds = [
        height - 2 * radius - travel / 3 >= 30,
        (side >= 30) & (side <= 38),
        np.hypot(radius, offset) <= 380,
    ]
    # two million draws: standard error below 0.0004
    assert [item.chance for item in shared_report.conditions] == pytest.approx([h.mean() for h in holds], abs=0.002)
    assert shared_report.interfaces[0].chance == pytest.approx((holds[0] & holds[1]).mean(), abs=0.002)
    assert shared_report.chance == pytest.approx((holds[0] & holds[1] & holds[2]).mean(), abs=0.002)


def test_joint_chance_is_not_the_product_of_the_chances(shared_report: FitReport) -> None:
    arch, strut = (item.chance or 0 for item in shared_report.interfaces)
    assert abs((shared_report.chance or 0) - arch * strut) > 0.01


def test_linear_clearance_has_its_closed_form_chance(shared_report: FitReport) -> None:
    # mean 820 - 750 - 30 = 40; variance 16 + 4 * 9 + 4 = 56
    assert shared_report.conditions[0].chance == pytest.approx(stats.norm.cdf(10 / math.sqrt(56)), abs=5e-4)


def test_the_standard_error_is_that_of_repeated_assessments() -> None:
    build = shared_build()
    facts = facts_of(build, date(2026, 2, 1))
    reports = [assess(build, facts, samples=4000, seed=seed) for seed in range(40)]
    chances = [report.chance or 0 for report in reports]
    stated = math.sqrt(np.mean([(report.standard_error or 0) ** 2 for report in reports]))
    assert np.std(chances, ddof=1) == pytest.approx(stated, rel=0.35)


@pytest.mark.parametrize(("share", "expected"), [(1.5, 1 / 32), (1.0, 1 / 8), (0.5, 9 / 32)])
def test_two_equal_rectangles_add_to_a_triangle(share: float, expected: float) -> None:
    # x, y each +-10: P(x + y > t) = (20 - t)^2 / 800 for t from 0 to 20; here t = 10 * share
    build = build_from_data({
        "interfaces": [{"id": "i", "name": "I"}],
        "dimensions": [{"id": "x", "name": "X"}, {"id": "y", "name": "Y"}],
        "readings": [{"id": name, "dimension": name, "value": 100, "spread": 10, "day": "2026-01-01"} for name in "xy"],
        "conditions": [{"id": "c", "interface": "i", "name": "C", "expression": "x + y",
                        "at_least": f"{200 + 10 * share} mm"}],
    })  # fmt: skip
    report = assess(build, facts_of(build, date(2026, 2, 1)), samples=100_000)
    assert report.conditions[0].chance == pytest.approx(expected, abs=5e-4)


# --- worth of a reading ---


def test_worth_of_one_of_two_dimensions_agrees_with_quadrature() -> None:
    early, late, limit = 60.0, 300.0, -4.0
    values = drawn(
        JointDraws(states({"x": (0.0, 3.0, "normal"), "y": (0.0, 2.0, "normal")}), (), samples=16_384, seed=1)
    )
    gain = (values["x"] + values["y"] < limit) * late - early
    ours = value_of_knowing(np.argsort(values["x"]), gain)
    misfit = stats.norm.cdf(limit / math.sqrt(13))
    after, _ = integrate.quad(
        lambda x: min(early, late * stats.norm.cdf((limit - x) / 2)) * stats.norm.pdf(x, scale=3), -24, 24, limit=200
    )
    assert ours == pytest.approx(min(early, misfit * late) - after, rel=0.01)


def test_worth_of_knowing_both_sides_of_a_range_agrees_with_quadrature() -> None:
    early, late, half = 50.0, 200.0, 2.0
    values = drawn(
        JointDraws(states({"x": (0.5, 1.0, "normal"), "y": (0.0, 0.7, "normal")}), (), samples=16_384, seed=1)
    )
    gain = (np.abs(values["x"] + values["y"]) > half) * late - early
    ours = value_of_knowing(np.argsort(values["x"]), gain)

    def misfit(x: float, sd: float) -> float:
        return float(stats.norm.cdf((-half - x) / sd) + stats.norm.sf((half - x) / sd))

    after, _ = integrate.quad(
        lambda x: min(early, late * misfit(x, 0.7)) * stats.norm.pdf(x, 0.5, 1.0), -8, 8, limit=200
    )  # fmt: skip
    before = min(early, late * misfit(0.5, math.sqrt(1.49)))
    assert ours == pytest.approx(before - after, rel=0.01)


def test_worth_of_a_dimension_that_does_nothing_is_next_to_nothing() -> None:
    values = drawn(
        JointDraws(states({"x": (0.0, 1.0, "normal"), "y": (0.0, 1.0, "normal")}), (), samples=16_384, seed=1)
    )
    gain = (values["y"] < -0.8416) * 300.0 - 60.0  # chance 0.2: both choices cost the same, the worst case for noise
    assert value_of_knowing(np.argsort(values["x"]), gain) < 0.01 * 60
