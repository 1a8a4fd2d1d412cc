"""Ratios, road speed and engine speed, and what a change of tyre does to them."""

from __future__ import annotations

import numpy as np

from .arithmetic import FloatArray, Value, not_negative, positive

__all__ = ["engine_speed", "overall_ratio", "ratio_for_tyre", "road_speed", "speedometer_error", "tooth_ratio"]

TURN = float(2 * np.pi)


def tooth_ratio(driven_teeth: Value, driving_teeth: Value) -> Value:
    """Ratio of a pair of gears or chain wheels.

    Parameters
    ----------
    driven_teeth : on the wheel that is driven [-]
    driving_teeth : on the wheel that drives [-]

    Returns
    -------
    ratio, above one where it slows down [-]

    Raises
    ------
    OutOfRange
        if a count is not positive

    Notes
    -----
    driven / driving. Valid for any pair without slip. A public worked example gives 128/26 as 3.54; it is 4.92.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(tooth_ratio(41, 11), 3)
    3.727
    """
    positive(driven_teeth=driven_teeth, driving_teeth=driving_teeth)
    return driven_teeth / driving_teeth


def overall_ratio(ratio: FloatArray) -> Value:
    """Engine turns to one turn of the wheel.

    Parameters
    ----------
    ratio : gear, range, overdrive, axle, hub reduction: each in turn (..., n) [-]

    Returns
    -------
    their product [-]

    Raises
    ------
    OutOfRange
        if a ratio is not positive

    Notes
    -----
    Valid without slip; a torque converter slips.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(overall_ratio([0.8, 3.73]), 3)
    2.984
    """
    ratios = np.asarray(ratio, dtype=float)
    positive(ratio=ratios)
    result = np.prod(ratios, axis=-1)
    return result if result.ndim else float(result)


def road_speed(engine_speed_rad_per_s: Value, overall_ratio: Value, circumference_mm: Value) -> Value:
    """Road speed at an engine speed.

    Parameters
    ----------
    engine_speed_rad_per_s : of the engine [rad/s]
    overall_ratio : engine turns to one of the wheel [-]
    circumference_mm : rolled in one turn of the wheel, see `wheels.rolling_circumference` [mm]

    Returns
    -------
    speed [mm/s]

    Raises
    ------
    OutOfRange
        if the ratio or the circumference is not positive, or the speed negative

    Notes
    -----
    turns of the wheel x circumference. Valid without slip.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from math import pi
    >>> round(road_speed(5000 * pi / 30, 3.115, pi * 653.2) * 3600 / 1e6, 1)
    197.6
    """
    positive(overall_ratio=overall_ratio, circumference_mm=circumference_mm)
    not_negative(engine_speed_rad_per_s=engine_speed_rad_per_s)
    return engine_speed_rad_per_s / TURN / overall_ratio * circumference_mm


def engine_speed(road_speed_mm_per_s: Value, overall_ratio: Value, circumference_mm: Value) -> Value:
    """Engine speed at a road speed.

    Parameters
    ----------
    road_speed_mm_per_s : of the vehicle [mm/s]
    overall_ratio : engine turns to one of the wheel; one gives the wheel's own speed [-]
    circumference_mm : rolled in one turn of the wheel, see `wheels.rolling_circumference` [mm]

    Returns
    -------
    speed [rad/s]

    Raises
    ------
    OutOfRange
        if the ratio or the circumference is not positive, or the speed negative

    Notes
    -----
    The inverse of `road_speed`. Valid without slip.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from math import pi
    >>> round(engine_speed(90e6 / 3600, 3.9, 2050.0) * 30 / pi)
    2854
    """
    positive(overall_ratio=overall_ratio, circumference_mm=circumference_mm)
    not_negative(road_speed_mm_per_s=road_speed_mm_per_s)
    return road_speed_mm_per_s / circumference_mm * overall_ratio * TURN


def speedometer_error(old_circumference_mm: Value, new_circumference_mm: Value) -> Value:
    """What a speedometer shows above true speed after a change of tyre, where it was right before.

    Parameters
    ----------
    old_circumference_mm : of the tyre it was set for [mm]
    new_circumference_mm : of the tyre fitted [mm]

    Returns
    -------
    shown less true, as a share of true speed; negative where it reads low [-]

    Raises
    ------
    OutOfRange
        if a circumference is not positive

    Notes
    -----
    old / new - 1. Valid for a speedometer driven by the wheels. It must not read low,
    nor high by more than a tenth and 4 km/h (from memory).

    References
    ----------
    Definition; UN Regulation No. 39, 5.3.

    Examples
    --------
    >>> round(speedometer_error(2050, 2150), 4)
    -0.0465
    """
    positive(old_circumference_mm=old_circumference_mm, new_circumference_mm=new_circumference_mm)
    return old_circumference_mm / new_circumference_mm - 1


def ratio_for_tyre(old_ratio: Value, old_diameter_mm: Value, new_diameter_mm: Value) -> Value:
    """Axle ratio that gives a new tyre the engine speed of the old one.

    Parameters
    ----------
    old_ratio : axle ratio with the old tyre [-]
    old_diameter_mm : of the old tyre [mm]
    new_diameter_mm : of the new tyre [mm]

    Returns
    -------
    ratio [-]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    old ratio x new / old diameter. Valid for tyres of like build.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(ratio_for_tyre(3.73, 680, 760), 2)
    4.17
    """
    positive(old_ratio=old_ratio, old_diameter_mm=old_diameter_mm, new_diameter_mm=new_diameter_mm)
    return old_ratio * new_diameter_mm / old_diameter_mm
