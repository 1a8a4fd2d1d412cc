"""Under a low-value relief or without: a supplier's offers are bought in one way or the other, never partly in both.

A relief is only for the supplier's sole consignment, which brings all that is bought of it. Without a word to that
end a relaxation mixes the two: most of every part under relief, the rest in many shipments without.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .grid import BoolArray, FloatArray, Grid, IntArray, tally


@dataclass(frozen=True, slots=True)
class Modes:
    """Rows that bind offers to one mode: no more of an offer than is useful in the mode its supplier is in, else none.

    Parameters
    ----------
    row : (candidates,) row of each candidate, -1 where its supplier has no relief or it crosses no border
    names : supplier, offer, what it covers, and mode of each row
    most, supplier, relief : of each row: most useful units, supplier, whether under relief
    """

    row: IntArray
    names: tuple[str, ...]
    most: FloatArray
    supplier: IntArray
    relief: BoolArray

    def paid_back(self, grid: Grid, prices: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(suppliers,) what the rows' prices give back to a supplier without relief, and under it."""
        worth = prices * self.most
        plain = tally(self.supplier, np.where(self.relief, 0.0, worth), grid.suppliers)
        return plain, tally(self.supplier, np.where(self.relief, worth, 0.0), grid.suppliers)


def modes_of(grid: Grid) -> Modes:
    """The rows of a grid; none where choices are fixed, which may ask for more than is useful."""
    row = np.full(len(grid.candidates), -1)
    names: dict[str, int] = {}
    first: list[int] = []
    relieved = np.unique(grid.supplier[grid.relief])
    inside = np.isin(grid.supplier, relieved) & (grid.relief | grid.crossing)
    for candidate in np.flatnonzero(inside[grid.shipment]).tolist() if not grid.forced.any() else ():
        name = _name(grid, candidate)
        if name not in names:
            names[name] = len(names)
            first.append(int(grid.shipment[candidate]))
        row[candidate] = names[name]
    at = np.array(first, dtype=np.int64)
    return Modes(row, tuple(names), _most(grid, row, len(names)), grid.supplier[at], grid.relief[at])


def _most(grid: Grid, row: IntArray, size: int) -> FloatArray:
    """Most useful units of each row in one shipment, at all its prices by count together."""
    bound = np.flatnonzero(row >= 0)
    together, place = np.unique(row[bound] * len(grid.shipments) + grid.shipment[bound], return_inverse=True)
    sums = tally(place, grid.most[bound], together.size)
    most = np.zeros(size)
    np.maximum.at(most, together // max(1, len(grid.shipments)), sums)
    return most


def _name(grid: Grid, candidate: int) -> str:
    bought, sent = grid.candidates[candidate], grid.shipments[grid.shipment[candidate]]
    brings = "+".join(f"{part}*{quantity:g}" for part, quantity in bought.covers.items())
    return f"{sent.supplier}|{bought.offer}|{brings}|{'relief' if sent.relief else 'plain'}"
