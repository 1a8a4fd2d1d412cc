"""Under a low-value relief or without: a supplier's offers are bought in one way or the other, never partly in both.

A relief is only for the supplier's sole consignment, which brings all that is bought of it. Without a word to that
end a relaxation mixes the two: most of every part under relief, the rest in many shipments without.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .model import Candidate, Shipment

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


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

    def paid_back(self, suppliers: int, prices: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(suppliers,) what the rows' prices give back to a supplier without relief, and under it."""
        worth = prices * self.most
        plain, relieved = np.zeros(suppliers), np.zeros(suppliers)
        np.add.at(plain, self.supplier, np.where(self.relief, 0.0, worth))
        np.add.at(relieved, self.supplier, np.where(self.relief, worth, 0.0))
        return plain, relieved


def no_modes(candidates: int) -> Modes:
    """No rows."""
    nothing = np.zeros(0, dtype=np.int64)
    return Modes(np.full(candidates, -1), (), np.zeros(0), nothing, nothing > 0)


def modes_of(
    candidates: Sequence[Candidate],
    shipments: Sequence[Shipment],
    shipment: IntArray,
    supplier: IntArray,
    units: IntArray,
) -> Modes:
    """The rows of a grid.

    Parameters
    ----------
    shipment, units : of each candidate
    supplier : of each shipment
    """
    relief = np.array([s.relief for s in shipments], dtype=np.bool_)
    crossing = np.array([s.crossing for s in shipments], dtype=np.bool_)
    inside = np.isin(supplier, np.unique(supplier[relief])) & crossing
    row = np.full(len(candidates), -1)
    names: dict[str, int] = {}
    known: dict[tuple[str, int, bool], int] = {}
    first: list[int] = []
    for index in np.flatnonzero(inside[shipment]).tolist():
        bought, at = candidates[index], int(shipment[index])
        key = (bought.offer, id(bought.covers), shipments[at].relief)
        if key not in known:
            name = _name(bought, shipments[at])
            if name not in names:
                names[name] = len(names)
                first.append(at)
            known[key] = names[name]
        row[index] = known[key]
    at_first = np.array(first, dtype=np.int64)
    most = _most(row, shipment, units, len(names))
    return Modes(row, tuple(names), most, supplier[at_first], relief[at_first])


def _most(row: IntArray, shipment: IntArray, units: IntArray, size: int) -> FloatArray:
    """Most useful units of each row in one shipment, at all its prices by count together."""
    bound = np.flatnonzero(row >= 0)
    shipments = int(shipment.max(initial=0)) + 1
    together, place = np.unique(row[bound] * shipments + shipment[bound], return_inverse=True)
    most = np.zeros(size)
    np.maximum.at(most, together // shipments, np.bincount(place, units[bound], together.size))
    return most


def _name(bought: Candidate, sent: Shipment) -> str:
    brings = "+".join(f"{part}*{quantity:g}" for part, quantity in bought.covers.items())
    return f"{sent.supplier}|{bought.offer}|{brings}|{'relief' if sent.relief else 'plain'}"
