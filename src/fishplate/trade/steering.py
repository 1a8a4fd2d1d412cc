"""Steering: lock angles, turning circle, where the axis meets the ground, bearings for a shaft of several joints.

Steering that binds or parts kills. Angles of steering shafts are set with the column, box and engine in place, checked
lock to lock through travel; welding steering parts is for licensed practice where it is allowed at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arithmetic import FloatArray, OutOfRange, Value, atan, numbers, positive, sin, tan, within

__all__ = ["GroundPoint", "inner_lock", "scrub_and_trail", "supports_needed", "turning_radius"]

HAZARDS = ("steering",)


@dataclass(frozen=True, slots=True)
class GroundPoint:
    """Where the steering axis meets the ground, from the middle of the tyre's contact.

    Parameters
    ----------
    scrub_mm : axis inside the contact, positive; outside it, negative [mm]
    trail_mm : axis ahead of the contact, positive [mm]
    """

    scrub_mm: float
    trail_mm: float


def supports_needed(joints: int) -> int:
    """Support bearings a steering shaft needs.

    Parameters
    ----------
    joints : in the shaft, two or more [-]

    Returns
    -------
    bearings between column and box [-]

    Raises
    ------
    OutOfRange
        if there are fewer than two joints

    Notes
    -----
    One for each joint beyond two. Valid where column and box hold both ends; keep each joint to 30 degrees, 35 at
    most.

    References
    ----------
    Two steering joint makers' guides.

    Examples
    --------
    >>> supports_needed(3)
    1
    """
    if joints < 2:
        raise OutOfRange("joints", "two or more", str(joints))
    return joints - 2


def inner_lock(outer_lock_rad: Value, wheelbase_mm: Value, pivot_distance_mm: Value) -> Value:
    """Angle of the inner wheel for pure rolling, the outer given.

    Parameters
    ----------
    outer_lock_rad : angle of the outer wheel [rad]
    wheelbase_mm : between the axles [mm]
    pivot_distance_mm : between the two steering axes at the ground [mm]

    Returns
    -------
    angle of the inner wheel [rad]

    Raises
    ------
    OutOfRange
        if the lock is not above zero and below a quarter of a turn

    Notes
    -----
    cot outer - cot inner = pivots / wheelbase. Valid at a walking pace; tyres that slip ask for less.

    References
    ----------
    The Ackermann condition; R. N. Jazar, Vehicle Dynamics, steering.

    Examples
    --------
    >>> from math import degrees, radians
    >>> round(degrees(inner_lock(radians(30), 2460, 1400)), 2)
    40.69
    """
    within(1e-9, np.pi / 2 - 1e-9, "above zero and below a quarter of a turn", outer_lock_rad=outer_lock_rad)
    positive(wheelbase_mm=wheelbase_mm, pivot_distance_mm=pivot_distance_mm)
    cotangent = 1 / tan(outer_lock_rad) - pivot_distance_mm / wheelbase_mm
    angle = atan(1 / cotangent)
    return angle + float(np.pi) * (np.asarray(angle) < 0) if np.ndim(angle) else float(angle) % float(np.pi)


def turning_radius(wheelbase_mm: Value, outer_lock_rad: Value, *, scrub_mm: Value = 0.0) -> Value:
    """Radius of the circle the outer front wheel runs on.

    Parameters
    ----------
    wheelbase_mm : between the axles [mm]
    outer_lock_rad : angle of the outer wheel at full lock [rad]
    scrub_mm : middle of the contact outside the steering axis, at the ground [mm]

    Returns
    -------
    radius to the middle of the outer tyre [mm]

    Raises
    ------
    OutOfRange
        if the lock is not above zero and at most a quarter of a turn

    Notes
    -----
    wheelbase / sin(lock) + scrub. Valid at a walking pace, rear wheels not steered.

    References
    ----------
    R. N. Jazar, Vehicle Dynamics, steering.

    Examples
    --------
    >>> from math import radians
    >>> round(turning_radius(2460, radians(30), scrub_mm=20))
    4940
    """
    within(1e-9, np.pi / 2, "above zero and at most a quarter of a turn", outer_lock_rad=outer_lock_rad)
    positive(wheelbase_mm=wheelbase_mm)
    return wheelbase_mm / sin(outer_lock_rad) + scrub_mm


def scrub_and_trail(lower_point: FloatArray, upper_point: FloatArray, contact_point: FloatArray) -> GroundPoint:
    """Where the steering axis meets the ground beside a tyre.

    Parameters
    ----------
    lower_point : on the axis, lower ball joint, in the axes of the vehicle (3,) [mm]
    upper_point : on the axis, upper joint or strut top (3,) [mm]
    contact_point : middle of the tyre's contact with the ground (3,) [mm]

    Returns
    -------
    scrub and trail; either side of the vehicle

    Raises
    ------
    OutOfRange
        if the axis lies level, or a point is not three numbers

    Notes
    -----
    The line through both points, at the height of the contact. Valid at the ride height measured. More offset
    inwards of a wheel takes as much off the scrub; keep what the maker chose as near as can be.

    References
    ----------
    ISO 8855, steering-axis offset at ground and castor offset.

    Examples
    --------
    >>> point = scrub_and_trail([0, 660, 200], [40, 600, 700], [0, 700, 0])
    >>> round(point.scrub_mm, 1), round(point.trail_mm, 1)
    (16.0, 16.0)
    """
    given = {"lower_point": lower_point, "upper_point": upper_point, "contact_point": contact_point}
    lower, upper, contact = (numbers(name, point, (3,)) for name, point in given.items())
    positive(**{"the height of the upper point above the lower": float(upper[2] - lower[2])})
    ground = lower + (upper - lower) * (contact[2] - lower[2]) / (upper[2] - lower[2])
    return GroundPoint(float(abs(contact[1]) - abs(ground[1])), float(contact[0] - ground[0]))
