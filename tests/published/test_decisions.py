"""Loops of decisions against published dependency matrices (design structure matrix)."""

from __future__ import annotations

from fishplate.build import build_from_data
from fishplate.decide.sequence import Ordering, sequence_of


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
