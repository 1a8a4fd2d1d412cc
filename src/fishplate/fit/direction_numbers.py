"""Direction numbers for Sobol points: our own, found here and kept as a table.

A coordinate of a Sobol sequence is fixed by a primitive polynomial over the field of two elements and by as many odd
initial numbers as its degree (Sobol 1967; recurrence as in Bratley and Fox, ACM TOMS 14, 1988, 88-100). Polynomials are
found by trial, in order of degree. The initial numbers are drawn at random; for the first coordinates the draw whose
two-dimensional projections onto those before are most even, by the t-value of the digital net, is kept.

`python -m fishplate.fit.direction_numbers` prints the table again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

# All polynomials up to degree thirteen, and the coordinate that needs none.
COORDINATES = 1111
CHOSEN = 100
DRAWS = 24
LEVELS = 11
SEED = 20260101

Row = tuple[int, int, tuple[int, ...]]
Integers = NDArray[np.uint32]


@lru_cache(maxsize=1)
def table() -> tuple[Row, ...]:
    """Degree, inner coefficients and initial numbers of each coordinate after the first."""
    text = files("fishplate.fit").joinpath("data/direction_numbers.txt").read_text("ascii")
    rows = (tuple(map(int, line.split())) for line in text.splitlines() if line and not line.startswith("#"))
    return tuple((degree, inner, initial) for degree, inner, *initial_ in rows if (initial := tuple(initial_)))


@lru_cache(maxsize=4)
def generating_numbers(levels: int) -> Integers:
    """Odd numbers m of each coordinate and level, (COORDINATES, levels): point 2^k differs by m_k / 2^(k+1)."""
    found = np.ones((COORDINATES, levels), dtype=np.uint32)
    rows = table()
    for degree in range(1, 14):
        at = np.array([number for number, row in enumerate(rows, 1) if row[0] == degree])
        inner = np.array([rows[number - 1][1] for number in at], dtype=np.uint32)
        initial = np.array([rows[number - 1][2] for number in at], dtype=np.uint32)
        found[at, : min(degree, levels)] = initial[:, :levels]
        for level in range(degree, levels):
            found[at, level] = _next(found[at, :level], degree, inner)
    return found


def _next(before: Integers, degree: int, inner: Integers) -> Integers:
    """The recurrence of Bratley and Fox, for many coordinates at once."""
    oldest = before[:, -degree]
    new: Integers = oldest ^ (oldest << np.uint32(degree))
    for back in range(1, degree):
        taken = (inner >> np.uint32(degree - 1 - back)) & 1
        new = new ^ ((before[:, -back] << np.uint32(back)) * taken)
    return new


# --- finding them ----------------------------------------------------------------------------------------------------


def primitive_polynomials() -> Iterator[tuple[int, int]]:
    """Degree and inner coefficients of primitive polynomials over two elements, in order."""
    degree = 1
    while True:
        whole = (1 << degree) - 1
        for inner in range(1 << max(0, degree - 1)):
            polynomial = (1 << degree) | (inner << 1) | 1
            if _is_primitive(polynomial, degree, whole):
                yield degree, inner
        degree += 1


def _is_primitive(polynomial: int, degree: int, whole: int) -> bool:
    """Whether the powers of x modulo the polynomial run through all that are not nought."""
    if degree == 1:
        return True
    return _power(whole, polynomial, degree) == 1 and all(
        _power(whole // prime, polynomial, degree) != 1 for prime in _primes_of(whole)
    )


def _power(exponent: int, polynomial: int, degree: int) -> int:
    result, base = 1, 2
    while exponent:
        if exponent & 1:
            result = _product(result, base, polynomial, degree)
        base = _product(base, base, polynomial, degree)
        exponent >>= 1
    return result


def _product(first: int, second: int, polynomial: int, degree: int) -> int:
    result = 0
    while second:
        if second & 1:
            result ^= first
        first <<= 1
        if first >> degree & 1:
            first ^= polynomial
        second >>= 1
    return result


def _primes_of(number: int) -> Iterator[int]:
    factor = 2
    while factor * factor <= number:
        if number % factor == 0:
            yield factor
            while number % factor == 0:
                number //= factor
        factor += 1
    if number > 1:
        yield number


def find(coordinates: int = COORDINATES) -> Iterator[Row]:
    """The table's rows, found anew."""
    random = np.random.default_rng(SEED)
    earlier: list[list[int]] = [_matrix_rows([1] * LEVELS)]
    polynomials = primitive_polynomials()
    for number in range(1, coordinates):
        degree, inner = next(polynomials)
        trials = [_draw(random, degree) for _ in range(DRAWS if number < CHOSEN else 1)]
        best = (
            min(trials, key=lambda initial: _unevenness(degree, inner, initial, earlier)) if trials[1:] else trials[0]
        )
        earlier.append(_matrix_rows(_extended(degree, inner, best)))
        yield degree, inner, best


def _draw(random: np.random.Generator, degree: int) -> tuple[int, ...]:
    return tuple(1 + 2 * int(random.integers(0, 1 << level)) for level in range(degree))


def _extended(degree: int, inner: int, initial: Sequence[int]) -> list[int]:
    numbers = list(initial[:LEVELS])
    while len(numbers) < LEVELS:
        before = np.array([numbers], dtype=np.uint32)
        numbers.append(int(_next(before, degree, np.array([inner], dtype=np.uint32))[0]))
    return numbers


def _matrix_rows(numbers: Sequence[int]) -> list[int]:
    """Rows of the generating matrix, most significant digit first; bit k of a row belongs to level k."""
    return [
        sum(((number >> (level - digit)) & 1) << level for level, number in enumerate(numbers) if level >= digit)
        for digit in range(LEVELS)
    ]


def _unevenness(degree: int, inner: int, initial: Sequence[int], earlier: Sequence[list[int]]) -> int:
    rows = _matrix_rows(_extended(degree, inner, initial))
    return sum(t_value(rows, other) ** 2 for other in earlier)


def t_value(first: Sequence[int], second: Sequence[int]) -> int:
    """t of the two-dimensional net of two generating matrices: nought if every elementary box holds its one point."""
    levels, least = len(first), len(first)
    for taken in range(levels + 1):
        basis: list[int] = []
        if not all(_independent(row, basis) for row in first[:taken]):
            break
        further = 0
        while further < levels - taken and _independent(second[further], basis):
            further += 1
        least = min(least, taken + further)
    return levels - least


def _independent(row: int, basis: list[int]) -> bool:
    """Whether a row is independent of a basis, which then takes it in."""
    for other in basis:
        row = min(row, row ^ other)
    if row:
        basis.append(row)
    return bool(row)


if __name__ == "__main__":
    print(
        "# Degree, inner coefficients and initial numbers of each coordinate after the first; see direction_numbers.py."
    )
    for degree, inner, initial in find():
        print(degree, inner, *initial)
