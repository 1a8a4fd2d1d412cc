"""A quantity in cells of equal width, by which what goes with it is summed."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .draws import Drawn

CELLS = 160
Floats = NDArray[np.float64]

_MIDDLES: Floats = np.arange(CELLS, dtype=np.float64) + 0.5


class Cells(NamedTuple):
    """A quantity in cells of equal width.

    Parameters
    ----------
    cell : (draws,) the cell of each draw; share, middle : (cells,) chance and middle of each
    width : of a cell; 0 where all draws are the same
    """

    cell: NDArray[np.intp]
    share: Floats
    middle: Floats
    width: float


def cells_of(values: Drawn) -> Cells:
    """Draws of a quantity in cells."""
    exact = np.asarray(values, dtype=np.float64)
    low, width = float(exact.min()), float(np.ptp(exact)) / CELLS
    if width == 0:
        return Cells(np.zeros(exact.size, dtype=np.intp), np.ones(1), np.array([low]), 0.0)
    cell = np.minimum(((exact - low) / width).astype(np.intp), CELLS - 1)
    share = np.bincount(cell, minlength=CELLS).astype(np.float64) / exact.size
    middle: Floats = low + width * _MIDDLES
    return Cells(cell, share, middle, width)
