"""Our own direction numbers against those of scipy, number theory and integrals in closed form."""

from importlib.resources import files
from itertools import combinations, islice
from math import gcd

import numpy as np
import pytest
from scipy.stats import qmc

from fishplate.fit.direction_numbers import (
    COORDINATES,
    LEVELS,
    _extended,
    _matrix_rows,
    find,
    generating_numbers,
    primitive_polynomials,
    t_value,
    table,
)
from fishplate.fit.points import BLOCK, blocks


def theirs() -> tuple[np.ndarray, np.ndarray]:
    """Polynomials and initial numbers of Joe and Kuo as scipy carries them."""
    with np.load(str(files("scipy.stats").joinpath("_sobol_direction_numbers.npz"))) as held:
        return held["poly"], held["vinit"]


def test_there_are_as_many_primitive_polynomials_as_number_theory_says() -> None:
    # phi(2^d - 1) / d of degree d
    for degree in range(1, 14):
        whole = 2**degree - 1
        coprime = sum(gcd(number, whole) == 1 for number in range(1, whole + 1))
        assert sum(row[0] == degree for row in table()) == coprime // degree


def test_the_polynomials_are_those_of_scipy() -> None:
    poly, _ = theirs()
    ours = {1 << degree | inner << 1 | 1 for degree, inner, _ in table()}
    assert ours == {int(each) for each in poly[1:COORDINATES]}
    assert [row[:2] for row in table()] == list(islice(primitive_polynomials(), COORDINATES - 1))


def test_the_recurrence_gives_the_points_of_scipy_from_its_numbers() -> None:
    poly, initial = theirs()
    rows = [[1] * LEVELS]
    for number in range(1, 30):
        degree = int(poly[number]).bit_length() - 1
        inner = (int(poly[number]) - (1 << degree)) >> 1
        rows.append(_extended(degree, inner, [int(each) for each in initial[number][:degree]]))
    points = np.zeros((2**8, 30))
    for index in range(2**8):
        for coordinate, numbers in enumerate(rows):
            value = 0
            for level in range(8):
                value ^= (numbers[level] << (31 - level - 1)) if index >> level & 1 else 0
            points[index, coordinate] = value / 2.0**31
    scipys = qmc.Sobol(30, scramble=False).random(2**8)
    order = np.lexsort(points.T), np.lexsort(scipys.T)
    assert points[order[0]] == pytest.approx(scipys[order[1]], abs=1e-9)


def test_the_table_is_found_again() -> None:
    assert tuple(find(25)) == table()[:24]
    assert len(table()) == COORDINATES - 1
    assert all(number % 2 == 1 and number < 2 << level for _, _, row in table() for level, number in enumerate(row))


def test_pairs_of_the_first_coordinates_are_about_as_even_as_those_of_joe_and_kuo() -> None:
    poly, initial = theirs()
    ours = [_matrix_rows([1] * LEVELS)] + [_matrix_rows(_extended(*row)) for row in table()[:39]]
    others = [_matrix_rows([1] * LEVELS)]
    for number in range(1, 40):
        degree = int(poly[number]).bit_length() - 1
        inner = (int(poly[number]) - (1 << degree)) >> 1
        others.append(_matrix_rows(_extended(degree, inner, [int(each) for each in initial[number][:degree]])))
    mean, their_mean = (
        np.mean([t_value(first, second) ** 2 for first, second in combinations(rows, 2)]) for rows in (ours, others)
    )
    assert mean < 1.05 * their_mean


@pytest.mark.parametrize("dimensions", [5, 20])
def test_a_product_in_closed_form_is_integrated_far_better_than_by_chance(dimensions: int) -> None:
    """Sobol's product of (|4x - 2| + a) / (1 + a), a = 1, 2, 3 …: its integral is 1."""
    weights = np.arange(1, dimensions + 1)[:, None]
    estimates, by_chance = [], []
    for replicate in range(8):
        points = np.concatenate(list(blocks(dimensions, BLOCK, 3, replicate)), axis=1).astype(float)
        drawn = np.random.default_rng(replicate).random(points.shape)
        for values, found in ((points, estimates), (drawn, by_chance)):
            found.append(float(np.prod((np.abs(4 * values - 2) + weights) / (1 + weights), axis=0).mean()))
    assert np.mean(estimates) == pytest.approx(1, abs=1e-3)
    assert np.std(estimates) < np.std(by_chance) / 10


def test_coordinates_beyond_the_table_are_even_and_not_tied_to_those_within() -> None:
    points = np.concatenate(list(blocks(COORDINATES + 40, BLOCK, seed=5, replicate=0)), axis=1)
    cells = np.sort((points * points.shape[1]).astype(int), axis=1)
    assert (cells == np.arange(points.shape[1])).all()
    ties = [abs(np.corrcoef(points[row], points[row + COORDINATES])[0, 1]) for row in range(40)]
    assert max(ties) < 0.1


def test_generating_numbers_begin_with_the_table() -> None:
    numbers = generating_numbers(17)
    for coordinate, (_, _, initial) in enumerate(table()[:200], 1):
        assert tuple(numbers[coordinate, : len(initial)]) == initial
