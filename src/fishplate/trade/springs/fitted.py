"""Springs as they are fitted: together, leaning, seen at the wheel, under load."""

from __future__ import annotations

import numpy as np

from ..arithmetic import FloatArray, Value, cos, not_negative, positive, within

QUARTER_TURN = float(np.pi / 2)


def measured_rate(load_n: Value, deflection_mm: Value) -> Value:
    """Rate of a spring from a load and how far it gave.

    Parameters
    ----------
    load_n : put on [N]
    deflection_mm : it gave [mm]

    Returns
    -------
    rate [N/mm]

    Raises
    ------
    OutOfRange
        if it did not give, or bore nothing

    Notes
    -----
    load / deflection. Valid in the linear range, past the first tenth of the travel.

    References
    ----------
    A spring maker's technical notes.

    Examples
    --------
    >>> round(measured_rate(1334.5, 69.85), 2)
    19.11
    """
    positive(load_n=load_n, deflection_mm=deflection_mm)
    return load_n / deflection_mm


def series_rate(rate_n_per_mm: FloatArray) -> Value:
    """Rate of springs stacked on each other, or of spring and tyre.

    Parameters
    ----------
    rate_n_per_mm : of each (..., n) [N/mm]

    Returns
    -------
    rate of all [N/mm]

    Raises
    ------
    OutOfRange
        if a rate is not positive

    Notes
    -----
    1 / sum(1 / k). Valid until one of them is solid.

    References
    ----------
    Statics.

    Examples
    --------
    >>> round(series_rate([200, 500]), 1)
    142.9
    """
    rates = np.asarray(rate_n_per_mm, dtype=float)
    positive(rate_n_per_mm=rates)
    result = 1 / np.sum(1 / rates, axis=-1)
    return result if result.ndim else float(result)


def parallel_rate(rate_n_per_mm: FloatArray) -> Value:
    """Rate of springs side by side that move alike.

    Parameters
    ----------
    rate_n_per_mm : of each (..., n) [N/mm]

    Returns
    -------
    rate of all [N/mm]

    Raises
    ------
    OutOfRange
        if a rate is not positive

    Notes
    -----
    sum(k). Valid where all move the same way and as far.

    References
    ----------
    Statics.

    Examples
    --------
    >>> parallel_rate([35.0, 8.0])
    43.0
    """
    rates = np.asarray(rate_n_per_mm, dtype=float)
    positive(rate_n_per_mm=rates)
    result = np.sum(rates, axis=-1)
    return result if result.ndim else float(result)


def inclined_rate(rate_n_per_mm: Value, lean_rad: Value) -> Value:
    """Rate of a leaning spring along the way its moving end goes.

    Parameters
    ----------
    rate_n_per_mm : along the spring [N/mm]
    lean_rad : between the spring and the way its end goes [rad]

    Returns
    -------
    rate along that way [N/mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, or it leans by more than a quarter of a turn

    Notes
    -----
    k cos^2: once for the force, once for the travel. Valid for small travel. A single cosine, found in places,
    leaves the travel out.

    References
    ----------
    Statics; common practice.

    Examples
    --------
    >>> from math import radians
    >>> round(inclined_rate(100, radians(30)), 1)
    75.0
    """
    positive(rate_n_per_mm=rate_n_per_mm)
    within(-QUARTER_TURN, QUARTER_TURN, "within a quarter of a turn", lean_rad=lean_rad)
    return rate_n_per_mm * cos(lean_rad) * cos(lean_rad)


def wheel_rate(rate_n_per_mm: Value, motion_ratio: Value) -> Value:
    """Rate of a spring as the wheel feels it.

    Parameters
    ----------
    rate_n_per_mm : of the spring [N/mm]
    motion_ratio : travel of the spring to travel of the wheel [-]

    Returns
    -------
    rate at the wheel [N/mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    k m^2. Valid about the height at which the ratio was measured; on a plain lever the ratio is the spring's arm over
    the wheel's.

    References
    ----------
    D. C. Barton and J. D. Fieldhouse, Automotive Chassis Engineering, 2018, eq. 3.29 to 3.33.

    Examples
    --------
    >>> wheel_rate(100, 250 / 400)
    39.0625
    """
    positive(rate_n_per_mm=rate_n_per_mm, motion_ratio=motion_ratio)
    return rate_n_per_mm * motion_ratio * motion_ratio


def static_deflection(load_n: Value, rate_n_per_mm: Value) -> Value:
    """How far a spring gives under a load.

    Parameters
    ----------
    load_n : on the spring [N]
    rate_n_per_mm : of the spring [N/mm]

    Returns
    -------
    deflection [mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, or the load pulls

    Notes
    -----
    load / rate. Valid in the linear range.

    References
    ----------
    Statics.

    Examples
    --------
    >>> static_deflection(2500, 10)
    250.0
    """
    positive(rate_n_per_mm=rate_n_per_mm)
    not_negative(load_n=load_n)
    return load_n / rate_n_per_mm


def loaded_length(free_length_mm: Value, load_n: Value, rate_n_per_mm: Value) -> Value:
    """Length of a spring under a load.

    Parameters
    ----------
    free_length_mm : unloaded [mm]
    load_n : on the spring, not on the wheel [N]
    rate_n_per_mm : of the spring [N/mm]

    Returns
    -------
    length [mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, the load pulls, or the spring has no length left

    Notes
    -----
    free - load / rate. Valid in the linear range, above the solid length.

    References
    ----------
    Statics.

    Examples
    --------
    >>> loaded_length(330, 4000, 40)
    230.0
    """
    length = free_length_mm - static_deflection(load_n, rate_n_per_mm)
    positive(**{"the length left of the spring": length})
    return length


def ride_error(free_length_mm: Value, load_n: Value, rate_n_per_mm: Value, seat_gap_mm: Value) -> Value:
    """How much too long a spring stands at ride height.

    Parameters
    ----------
    free_length_mm : unloaded [mm]
    load_n : on the spring at ride height [N]
    rate_n_per_mm : of the spring [N/mm]
    seat_gap_mm : between its seats at the ride height wanted [mm]

    Returns
    -------
    positive where the vehicle stands high [mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, the load pulls, or the spring has no length left

    Notes
    -----
    Loaded length - gap; at the wheel divide by the motion ratio. Valid in the linear range.

    References
    ----------
    Statics.

    Examples
    --------
    >>> ride_error(330, 4000, 40, 226)
    4.0
    """
    return loaded_length(free_length_mm, load_n, rate_n_per_mm) - seat_gap_mm
