"""Value of information: textbook trees exactly, the unit normal loss integral as tabulated."""

import math

import pytest
from scipy import stats

from fishplate.fit.preposterior import value_of_signal

# Hillier and Lieberman, Introduction to Operations Research, decision analysis: drill for oil or sell the land.
OIL = {"oil": 0.25, "dry": 0.75}
LAND = {"drill": {"oil": 700.0, "dry": -100.0}, "sell": {"oil": 90.0, "dry": 90.0}}
SURVEY = {"favourable": {"oil": 0.6, "dry": 0.2}, "unfavourable": {"oil": 0.4, "dry": 0.8}}
# Raiffa, Decision Analysis, 1968: the oil wildcatter, net of drilling; probabilities from memory.
HOLE = {"dry": 0.5, "wet": 0.3, "soaking": 0.2}
DRILLING = {"drill": {"dry": -70.0, "wet": 50.0, "soaking": 200.0}, "leave": dict.fromkeys(HOLE, 0.0)}
SOUNDING = {
    "none": {"dry": 0.6, "wet": 0.3, "soaking": 0.1},
    "open": {"dry": 0.3, "wet": 0.4, "soaking": 0.4},
    "closed": {"dry": 0.1, "wet": 0.3, "soaking": 0.5},
}
# Lecture slides on the value of perfect information: two small tables.
MARKET = {"up": 0.6, "down": 0.4}
MARKET_PAYOFF = {"x": {"up": 50_000.0, "down": 30_000.0}, "y": {"up": 100_000.0, "down": -40_000.0},
                 "z": {"up": 30_000.0, "down": 10_000.0}}  # fmt: skip
TREND = {"up": 0.5, "same": 0.3, "fall": 0.2}
TREND_PAYOFF = {"o1": {"up": 1500.0, "same": 300.0, "fall": -800.0}, "o2": {"up": 900.0, "same": 600.0, "fall": -200.0},
                "o3": dict.fromkeys(TREND, 500.0)}  # fmt: skip


def perfect(prior: dict[str, float]) -> dict[str, dict[str, float]]:
    return {state: {other: float(other == state) for other in prior} for state in prior}


@pytest.mark.parametrize(
    ("prior", "payoff", "likelihood", "printed"),
    [
        (OIL, LAND, SURVEY, 53.0),
        (OIL, LAND, perfect(OIL), 142.5),
        (HOLE, DRILLING, SOUNDING, 12.5),
        (HOLE, DRILLING, perfect(HOLE), 35.0),
        (MARKET, MARKET_PAYOFF, perfect(MARKET), 28_000.0),
        (TREND, TREND_PAYOFF, perfect(TREND), 350.0),
    ],
)
def test_textbook_trees_come_out_exactly(
    prior: dict[str, float], payoff: dict[str, dict[str, float]], likelihood: dict[str, dict[str, float]],
    printed: float,
) -> None:  # fmt: skip
    assert value_of_signal(prior, payoff, likelihood) == pytest.approx(printed, rel=1e-12)


def unit_normal_loss(z: float) -> float:
    return float(stats.norm.pdf(z) - z * stats.norm.sf(z))


@pytest.mark.parametrize(
    ("z", "printed"),
    [(0, 0.3989), (0.1, 0.3509), (0.25, 0.2863), (0.5, 0.1978), (0.69, 0.1453), (1.0, 0.0833), (1.5, 0.0293),
     (2.0, 0.0085), (2.5, 0.0020)],
)  # fmt: skip
def test_the_closed_form_used_by_the_oracles_is_the_tabulated_one(z: float, printed: float) -> None:
    """Schlaifer 1959, unit normal loss integral; Raiffa and Schlaifer 1961, table II. From memory."""
    assert unit_normal_loss(z) == pytest.approx(printed, abs=5.1e-5)


def test_a_signal_that_says_nothing_is_worth_nothing() -> None:
    deaf = {"hum": dict.fromkeys(OIL, 1.0)}
    assert value_of_signal(OIL, LAND, deaf) == pytest.approx(0, abs=1e-12)
    assert not math.isnan(value_of_signal(OIL, LAND, perfect(OIL)))
