"""Scrambled Sobol points, in blocks.

The points of a block are made by doubling, which keeps a large joint sample within a few tenths of a second. Each
replicate is scrambled on its own (a random linear map of the digits and a digital shift, after Matousek 1998), so that
the spread between replicates gives the sampling error of any estimate.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .direction_numbers import COORDINATES, generating_numbers

# Single precision holds 24 digits; one is spent on the half that keeps every point off 0 and 1.
DIGITS = 23
BLOCK = 4096

Integers = NDArray[np.uint32]
Single = NDArray[np.float32]


def blocks(dimensions: int, count: int, seed: int, replicate: int) -> Iterator[Single]:
    """Points of one replicate, a block at a time.

    Parameters
    ----------
    dimensions : how many coordinates a point has
    count : how many points in all

    Yields
    ------
    (dimensions, points) float32 in the open interval 0 to 1
    """
    levels = max(1, (count - 1).bit_length())
    columns, shift = _scrambled(dimensions, levels, np.random.default_rng([seed, replicate]))
    inner = min(levels, BLOCK.bit_length() - 1)
    base = _doubled(columns[:, :inner], shift)
    for start in range(0, count, BLOCK):
        high = start >> inner
        offset = np.zeros((dimensions, 1), dtype=np.uint32)
        for level in range(inner, levels):
            if high >> (level - inner) & 1:
                offset ^= columns[:, level : level + 1]
        size = min(BLOCK, count - start)
        yield ((base[:, :size] ^ offset).astype(np.float32) + np.float32(0.5)) * np.float32(2.0**-DIGITS)


def _doubled(columns: Integers, shift: Integers) -> Integers:
    dimensions, levels = columns.shape
    points = np.empty((dimensions, 1 << levels), dtype=np.uint32)
    points[:, 0] = shift
    for level in range(levels):
        size = 1 << level
        np.bitwise_xor(points[:, :size], columns[:, level : level + 1], out=points[:, size : 2 * size])
    return points


def _scrambled(dimensions: int, levels: int, random: np.random.Generator) -> tuple[Integers, Integers]:
    digits = _generating_digits(dimensions, levels)
    maps = np.tril(random.integers(0, 2, (dimensions, DIGITS, DIGITS), dtype=np.uint8), -1).astype(np.float32)
    maps += np.eye(DIGITS, dtype=np.float32)
    mixed = np.matmul(digits, maps.transpose(0, 2, 1)).astype(np.uint32) & 1
    weights = (1 << np.arange(DIGITS - 1, -1, -1)).astype(np.uint32)
    columns: Integers = (mixed * weights).sum(axis=2, dtype=np.uint32)
    return columns, random.integers(0, 1 << DIGITS, dimensions, dtype=np.uint32)


@lru_cache(maxsize=4)
def _generating_digits(dimensions: int, levels: int) -> NDArray[Any]:
    """Binary digits of the generating numbers, most significant first: (dimensions, levels, DIGITS) float32."""
    numbers = generating_numbers(levels)
    digits = np.zeros((COORDINATES, levels, DIGITS), dtype=np.float32)
    for digit in range(min(DIGITS, levels)):
        shifts = np.arange(levels - digit, dtype=np.uint32)
        digits[:, digit:, digit] = (numbers[:, digit:] >> shifts) & 1
    further = range(1, -(-dimensions // COORDINATES))
    return np.concatenate([digits, *(_reordered(digits, number) for number in further)])[:dimensions]


def _reordered(digits: NDArray[Any], number: int) -> NDArray[Any]:
    """The same points in another order, for coordinates beyond the table."""
    levels = digits.shape[1]
    random = np.random.default_rng([levels, number])
    mixing = np.triu(random.integers(0, 2, (levels, levels)), 1) + np.eye(levels)
    mixed: NDArray[Any] = (np.einsum("cld,lk->ckd", digits, mixing) % 2).astype(np.float32)
    return mixed
