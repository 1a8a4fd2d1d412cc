"""Bell housings and adaptors: run-out by dial gauge, offset of a bore, dowels that correct it.

A gearbox is heavy and tips: lower it on a cradle made for it, nobody underneath. Turn the crank by hand, battery off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arithmetic import FloatArray, Value, hypot, not_negative

__all__ = ["BoreOffset", "bore_offset", "dowel_offset", "opposed_total", "total_indicator_reading"]

HAZARDS = ("lifting",)


@dataclass(frozen=True, slots=True)
class BoreOffset:
    """How far a bore stands off the axis of the crank.

    Parameters
    ----------
    across_mm : towards the three o'clock reading [mm]
    up_mm : towards the twelve o'clock reading [mm]
    distance_mm : in all [mm]
    """

    across_mm: Value
    up_mm: Value
    distance_mm: Value


def total_indicator_reading(reading_mm: FloatArray) -> Value:
    """Total indicator reading of a sweep.

    Parameters
    ----------
    reading_mm : around the bore or face, any number of places (..., n) [mm]

    Returns
    -------
    largest less smallest [mm]

    Notes
    -----
    Valid if the gauge returns to its first reading. Starting value for a manual gearbox: 0.13 mm, common practice,
    some makers 0.25; the gearbox maker's figure wins.

    References
    ----------
    An engine maker's service manual, flywheel housing alignment.

    Examples
    --------
    >>> round(total_indicator_reading([0.0, 0.08, -0.05, 0.08]), 2)
    0.13
    """
    result = np.ptp(np.asarray(reading_mm, dtype=float), axis=-1)
    return result if np.ndim(result) else float(result)


def opposed_total(first_mm: Value, opposite_mm: Value) -> Value:
    """Total of two opposed readings.

    Parameters
    ----------
    first_mm : nine o'clock, or twelve [mm]
    opposite_mm : three o'clock, or six [mm]

    Returns
    -------
    first less opposite [mm]

    Notes
    -----
    Valid for a round bore; half of it is the offset along that line.

    References
    ----------
    An engine maker's flywheel housing bore alignment.

    Examples
    --------
    >>> round(opposed_total(0.102, -0.051), 3)
    0.153
    """
    return first_mm - opposite_mm


def bore_offset(three_mm: Value, six_mm: Value, nine_mm: Value, twelve_mm: Value) -> BoreOffset:
    """Offset of a bore from the crank's axis, from four readings.

    Parameters
    ----------
    three_mm : reading at three o'clock, rising as the plunger is pushed in [mm]
    six_mm : at six o'clock [mm]
    nine_mm : at nine o'clock [mm]
    twelve_mm : at twelve o'clock [mm]

    Returns
    -------
    where the bore's centre stands, seen from the gauge

    Notes
    -----
    Half of each opposed total: where the wall is nearer the plunger reads more, so the bore stands the other way.
    Valid for a round bore and a gauge turned by the crank.

    References
    ----------
    Geometry; general workshop practice.

    Examples
    --------
    >>> offset = bore_offset(-0.05, 0.0, 0.10, 0.08)
    >>> round(offset.across_mm, 3), round(offset.up_mm, 3)
    (0.075, -0.04)
    """
    across, up = opposed_total(nine_mm, three_mm) / 2, opposed_total(six_mm, twelve_mm) / 2
    return BoreOffset(across, up, hypot(across, up))


def dowel_offset(total_indicator_reading_mm: Value) -> Value:
    """Offset of the dowels that bring a bore to the axis.

    Parameters
    ----------
    total_indicator_reading_mm : of the bore [mm]

    Returns
    -------
    offset wanted; choose the nearest step that is sold [mm]

    Raises
    ------
    OutOfRange
        if the reading is negative

    Notes
    -----
    Half the reading. Valid for a round bore; dowels come in steps of 0.178, 0.356 and 0.533 mm (0.007, 0.014, 0.021
    in), common practice. Both turned the same way.

    References
    ----------
    Geometry; general workshop practice.

    Examples
    --------
    >>> round(dowel_offset(0.3556), 4)
    0.1778
    """
    not_negative(total_indicator_reading_mm=total_indicator_reading_mm)
    return total_indicator_reading_mm / 2
