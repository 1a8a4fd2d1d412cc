"""Loops of decisions, weights and the value of information against published figures."""

from __future__ import annotations

import numpy as np
import pytest

from fishplate.build import build_from_data
from fishplate.decide.learning import perfect_information
from fishplate.decide.sequence import Ordering, sequence_of
from fishplate.decide.weights import drawn_weights, rank_order_centroid, swing_weights, uniforms_needed


def ordering_of(needs: list[str]) -> Ordering:
    """Row i, column j = 1 where element i needs element j."""
    ids = [f"e{position + 1:02d}" for position in range(len(needs))]
    option = [{"id": "o", "name": "O"}]
    edges = [
        {"source": ids[j], "target": ids[i], "strength": "limits"}
        for i, row in enumerate(needs)
        for j, mark in enumerate(row)
        if mark == "1"
    ]
    decisions = [{"id": id_, "name": id_, "options": option} for id_ in ids]
    return sequence_of(build_from_data({"decisions": decisions, "edges": edges}), ids)


def blocks_of(ordering: Ordering) -> list[list[int]]:
    return sorted(sorted(int(id_[1:]) for id_ in block) for block in ordering.blocks)


# Yassine (2004), An introduction to modeling and analyzing complex product development processes using the design
# structure matrix method: thirteen tasks. Status: matrix looked up; the published partition is a picture, its two
# coupled blocks and six levels restated. Tolerance: exact.
THIRTEEN = [
    "0000000000000", "0001000000000", "1001100101001", "1000000000000", "1111001101101", "0100000010000",
    "0011100101001", "0101000001000", "0011000001001", "0101000100000", "0011100101001", "0000000000001",
    "0111101111110",
]  # fmt: skip
LEVELS = [[1], [4], [2], [8, 10], [3, 5, 7, 9, 11, 12, 13], [6]]


def test_thirteen_tasks_form_two_coupled_blocks() -> None:
    assert blocks_of(ordering_of(THIRTEEN)) == [[3, 5, 7, 9, 11, 12, 13], [8, 10]]


def test_thirteen_tasks_are_ordered_by_their_levels() -> None:
    ordering = ordering_of(THIRTEEN)
    order = [int(id_[1:]) for id_ in ordering.in_order(dict.fromkeys(ordering.nodes, 0.0))]
    place = {task: level for level, tasks in enumerate(LEVELS) for task in tasks}
    assert [place[task] for task in order] == sorted(place[task] for task in order)


def test_seven_sparse_elements_are_one_coupled_block() -> None:
    # Sample matrix of the encyclopedia entry on the design structure matrix. Status: looked up in part. Exact.
    seven = ["0100010", "0001000", "1000001", "0000100", "0100010", "0010000", "1000100"]
    assert blocks_of(ordering_of(seven)) == [[1, 2, 3, 4, 5, 6, 7]]


# Barron and Barrett (1996), Decision quality using ranked attribute weights, Management Science 42: rank-order centroid
# weights. Status: the row of five looked up, the others from memory and recomputed. Tolerance: the printed digits.
CENTROIDS = {
    2: (0.75, 0.25),
    3: (0.6111, 0.2778, 0.1111),
    4: (0.5208, 0.2708, 0.1458, 0.0625),
    5: (0.4567, 0.2567, 0.1567, 0.09, 0.04),
    6: (0.4083, 0.2417, 0.1583, 0.1028, 0.0611, 0.0278),
    7: (0.3704, 0.2276, 0.1561, 0.1085, 0.0728, 0.0442, 0.0204),
}


@pytest.mark.parametrize(("count", "printed"), CENTROIDS.items())
def test_rank_order_centroid_weights(count: int, printed: tuple[float, ...]) -> None:
    assert rank_order_centroid(count) == pytest.approx(printed, abs=5.1e-5)


@pytest.mark.parametrize("count", CENTROIDS)
def test_weights_of_which_only_the_order_is_known_have_the_centroid_as_their_mean(count: int) -> None:
    uniforms = np.random.default_rng(3).random((40_000, uniforms_needed(count)))
    drawn = drawn_weights((None,) * count, uniforms)
    assert drawn.mean(axis=0) == pytest.approx(CENTROIDS[count], abs=0.004)
    assert (np.diff(drawn, axis=1) <= 0).all()


def test_swing_weights_and_value_of_an_office() -> None:
    # Goodwin and Wright, Decision Analysis for Management Judgment, chapter on SMART: closeness, visibility, image,
    # size, comfort, parking. Status: looked up in part (swings 70, 30, 20, 10 from memory). Tolerance: 1e-9; the book
    # rounds weights to whole percents before it adds up.
    percents = (100 * swing_weights([100, 80, 70, 30, 20, 10])).round()
    assert percents.tolist() == [32, 26, 23, 10, 6, 3]
    values = np.array([100, 60, 100, 75, 0, 90])
    assert (percents * values).tolist() == [3200, 1560, 2300, 750, 0, 270]
    assert float(percents @ values) / 100 == pytest.approx(80.8, abs=1e-9)


def test_value_of_perfect_information() -> None:
    # Two tables of lecture slides on the expected value of perfect information. Status: looked up. Tolerance: 1e-6.
    first = np.array([[50000.0, 100000.0, 30000.0], [30000.0, -40000.0, 10000.0]])
    assert perfect_information(first, np.array([0.6, 0.4])) == pytest.approx(28000, abs=1e-6)
    second = np.array([[1500.0, 900.0, 500.0], [300.0, 600.0, 500.0], [-800.0, -200.0, 500.0]])
    assert perfect_information(second, np.array([0.5, 0.3, 0.2])) == pytest.approx(350, abs=1e-6)
