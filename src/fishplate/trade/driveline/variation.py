"""How a joint, or a line of joints, speeds up and slows down within a turn, and which angles that allows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arithmetic import (
    FloatArray,
    OutOfRange,
    Value,
    acos,
    cos,
    hypot,
    least,
    not_negative,
    positive,
    sin,
    sqrt,
    tan,
    within,
)
from .angles import joint_angle

QUARTER_TURN = float(np.pi / 2)
STRAIGHT = 1e-9
# no Cardan joint of a vehicle is bent further; a hair more, for what rounding adds to 45 degrees
MOST_ANGLE = float(np.pi / 4) + 1e-9


@dataclass(frozen=True, slots=True)
class SpeedExtremes:
    """Speed of the driven shaft within a turn, as ratio to the driving one.

    Parameters
    ----------
    largest : at its fastest [-]
    smallest : at its slowest [-]
    """

    largest: Value
    smallest: Value


def speed_ratio(angle_rad: Value, rotation_rad: Value) -> Value:
    """Speed of the driven shaft of one Cardan joint to that of the driving one.

    Parameters
    ----------
    angle_rad : working angle of the joint [rad]
    rotation_rad : turn of the driving yoke from the plane of the two shafts [rad]

    Returns
    -------
    ratio [-]

    Raises
    ------
    OutOfRange
        if the angle is not below a quarter of a turn

    Notes
    -----
    cos b / (1 - sin^2 b cos^2 t). Valid for rigid shafts and a joint without play; a constant-velocity joint has 1.

    References
    ----------
    R. S. Khurmi, Theory of Machines, Hooke's joint.

    Examples
    --------
    >>> from math import radians
    >>> round(speed_ratio(radians(20), 0.0), 5)
    1.06418
    """
    within(0.0, QUARTER_TURN - 1e-9, "from zero to below a quarter of a turn", angle_rad=angle_rad)
    return cos(angle_rad) / (1 - (sin(angle_rad) * cos(rotation_rad)) ** 2)


def speed_extremes(angle_rad: Value) -> SpeedExtremes:
    """Fastest and slowest of the driven shaft of one Cardan joint within a turn.

    Parameters
    ----------
    angle_rad : working angle [rad]

    Returns
    -------
    both ratios

    Raises
    ------
    OutOfRange
        if the angle is not below a quarter of a turn

    Notes
    -----
    1 / cos b and cos b, twice a turn each. Valid as for `speed_ratio`.

    References
    ----------
    R. S. Khurmi, Theory of Machines, Hooke's joint.

    Examples
    --------
    >>> from math import radians
    >>> round(speed_extremes(radians(20)).smallest, 5)
    0.93969
    """
    within(0.0, QUARTER_TURN - 1e-9, "from zero to below a quarter of a turn", angle_rad=angle_rad)
    return SpeedExtremes(1 / cos(angle_rad), cos(angle_rad))


def angle_for_variation(variation: Value) -> Value:
    """Largest angle of one Cardan joint that keeps the driven speed within a band.

    Parameters
    ----------
    variation : fastest less slowest, as a share of the driving speed [-]

    Returns
    -------
    working angle [rad]

    Raises
    ------
    OutOfRange
        if the share is negative

    Notes
    -----
    Root of 1 / cos b - cos b = variation. Valid as for `speed_ratio`.

    References
    ----------
    R. S. Khurmi, Theory of Machines, Hooke's joint.

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(angle_for_variation(100 / 1200)), 2)
    16.43
    """
    not_negative(variation=variation)
    return acos((sqrt(variation**2 + 4) - variation) / 2)


def line_angle(angle_rad: FloatArray, phase_rad: FloatArray) -> Value:
    """Angle of the one joint that disturbs as much as a line of several.

    Parameters
    ----------
    angle_rad : working angle of each joint (..., n) [rad]
    phase_rad : for each joint after the first, how far its driving yoke is turned from standing in line with the
        yoke before it, less the turn of the plane of the shafts, see `line_in_space` (..., n - 1) [rad]

    Returns
    -------
    resultant angle [rad]

    Raises
    ------
    OutOfRange
        if an angle is not from zero to 45 degrees, or a phase is not a number

    Notes
    -----
    sqrt(|sum of b^2 with alternating sign, turned by twice the phase|). Valid for angles up to about 15 degrees; for
    larger ones look at `line_speed_extremes`.

    References
    ----------
    SAE AE-7, Universal Joint and Driveshaft Design Manual, 3.1.1 (from memory).

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(line_angle(np.radians([3.0, 5.0]), [0.0])), 3)
    4.0
    """
    angles = np.asarray(angle_rad, dtype=float)
    within(0.0, MOST_ANGLE, "from zero to 45 degrees", angle_rad=angles)
    within(-np.inf, np.inf, "numbers", phase_rad=np.asarray(phase_rad, dtype=float))
    turns = np.concatenate([np.zeros((*angles.shape[:-1], 1)), _turns(angles, phase_rad)], axis=-1)
    result = np.sqrt(np.abs(np.sum(angles**2 * np.exp(2j * np.cumsum(turns, axis=-1)), axis=-1)))
    return result if result.ndim else float(result)


def _turns(angles: FloatArray, phase_rad: FloatArray) -> FloatArray:
    """How far each driving yoke stands from the one before: a quarter turn when in line, and the phase."""
    phases = np.broadcast_to(np.asarray(phase_rad, dtype=float), (*angles.shape[:-1], angles.shape[-1] - 1))
    result: FloatArray = phases + QUARTER_TURN
    return result


def line_speed_extremes(angle_rad: FloatArray, phase_rad: FloatArray) -> SpeedExtremes:
    """Fastest and slowest of the last shaft of a line of Cardan joints within a turn.

    Parameters
    ----------
    angle_rad : working angle of each joint (n,) [rad]
    phase_rad : for each joint after the first, how far its driving yoke is turned from standing in line with the
        yoke before it, less the turn of the plane of the shafts, see `line_in_space` (n - 1,) [rad]

    Returns
    -------
    both ratios

    Raises
    ------
    OutOfRange
        if an angle is not below a quarter of a turn

    Notes
    -----
    The exact ratios of the joints multiplied over half a turn in steps of a quarter of a degree. Valid for rigid
    shafts without play.

    References
    ----------
    R. S. Khurmi, Theory of Machines, double Hooke's joint.

    Examples
    --------
    >>> round(line_speed_extremes(np.radians([20, 20]), [np.pi / 2]).largest, 6)
    1.132474
    """
    angles = np.asarray(angle_rad, dtype=float)
    rotation, ratio = np.linspace(0.0, np.pi, 721), np.ones(721)
    for angle, turn in zip(angles, [*_turns(angles, phase_rad), 0.0], strict=True):
        ratio = ratio * speed_ratio(float(angle), rotation)
        rotation = np.arctan2(np.sin(rotation), np.cos(angle) * np.cos(rotation)) + turn
    return SpeedExtremes(float(ratio.max()), float(ratio.min()))


@dataclass(frozen=True, slots=True)
class LineInSpace:
    """A line of Cardan joints whose shafts need not lie in one plane.

    Parameters
    ----------
    angle : working angle of each joint (n,) [rad]
    phase : for each joint after the first, twist of the shaft before it less the turn of the plane (n - 1,) [rad]
    resultant : angle of the one joint that disturbs as much [rad]
    largest : fastest of the last shaft within a turn, as ratio to the first [-]
    smallest : slowest of the last shaft within a turn, as ratio to the first [-]
    """

    angle: FloatArray
    phase: FloatArray
    resultant: float
    largest: float
    smallest: float


def line_in_space(direction: FloatArray, twist_rad: FloatArray) -> LineInSpace:
    """Joint angles, phase and what is left of the variation of a line in space.

    Parameters
    ----------
    direction : of each shaft in the sense of the drive, first to last, of any length (n + 1, 3) [mm]
    twist_rad : of each shaft between two joints: how far its rear yoke is turned from standing in line with its front
        yoke, right-handed about its direction (n - 1,) [rad]

    Returns
    -------
    the line

    Raises
    ------
    OutOfRange
        if there are not a twist for each shaft between two joints, a shaft has no length or a joint is bent by more
        than 45 degrees

    Notes
    -----
    The plane of two shafts stands square to their cross product; from joint to joint it turns about the shaft between,
    and the yokes must be turned with it to cancel. A joint that stands straight keeps the plane before it. Valid for
    rigid shafts without play; the resultant for angles up to about 15 degrees.

    References
    ----------
    SAE AE-7, Universal Joint and Driveshaft Design Manual (from memory); R. S. Khurmi, Theory of Machines.

    Examples
    --------
    >>> from math import degrees
    >>> line = line_in_space([[1000, 0, 0], [1000, 70, 0], [1000, 70, 70]], [0.0])
    >>> round(degrees(line.resultant), 2), round(degrees(line.phase[0]), 1)
    (5.66, -90.0)
    """
    shafts, twist = np.atleast_2d(np.asarray(direction, dtype=float)), np.asarray(twist_rad, dtype=float)
    if shafts.shape[-1] != 3 or twist.shape != (len(shafts) - 2,):
        raise OutOfRange("twist_rad", "one for each shaft between two joints", f"{twist.size} for {len(shafts)} shafts")
    angle = np.atleast_1d(joint_angle(shafts[:-1], shafts[1:]))
    phase = twist - _plane_turns(shafts, angle)
    extremes = line_speed_extremes(angle, phase)
    return LineInSpace(angle, phase, float(line_angle(angle, phase)), float(extremes.largest), float(extremes.smallest))


def _plane_turns(shafts: FloatArray, angle: FloatArray) -> FloatArray:
    """How far the plane of the shafts turns from joint to joint, about the shaft between."""
    along = shafts / np.linalg.norm(shafts, axis=1, keepdims=True)
    square, turns = np.cross(along[:-1], along[1:]), np.zeros(len(angle) - 1)
    for place in range(1, len(angle)):
        if angle[place] < STRAIGHT:  # no plane of its own: it keeps the one before
            square[place] = square[place - 1]
        first, second = square[place - 1], square[place]
        turns[place - 1] = np.arctan2(np.cross(first, second) @ along[place], first @ second)
    return turns


def non_uniformity(angle_rad: Value) -> Value:
    """Degree of non-uniformity of one Cardan joint.

    Parameters
    ----------
    angle_rad : working angle, or the resultant of a line [rad]

    Returns
    -------
    fastest less slowest, as a share of the driving speed [-]

    Raises
    ------
    OutOfRange
        if the angle is not below a quarter of a turn

    Notes
    -----
    tan b sin b, which is 1 / cos b - cos b. Valid as for `speed_ratio`. Starting value for a line of several joints:
    at most 0.0027, about 3 degrees in one joint; the maker's figure wins.

    References
    ----------
    Technical pages of a shaft maker, non-uniformity of jointed drivelines (limit 0.0027).

    Examples
    --------
    >>> from math import radians
    >>> round(non_uniformity(radians(3)), 5)
    0.00274
    """
    within(0.0, QUARTER_TURN - 1e-9, "from zero to below a quarter of a turn", angle_rad=angle_rad)
    return tan(angle_rad) * sin(angle_rad)


def angle_for_uniformity(non_uniformity: Value) -> Value:
    """Angle of one joint with a given degree of non-uniformity.

    Parameters
    ----------
    non_uniformity : fastest less slowest, as a share of the driving speed [-]

    Returns
    -------
    working angle [rad]

    Raises
    ------
    OutOfRange
        if the degree is negative

    Notes
    -----
    The inverse of `non_uniformity`. Valid as for `speed_ratio`.

    References
    ----------
    As for `non_uniformity`.

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(angle_for_uniformity(0.0027)), 2)
    2.98
    """
    return angle_for_variation(non_uniformity)


def angle_limit(speed_rad_per_s: Value, *, acceleration_rad_per_s2: Value) -> Value:
    """Largest resultant angle that keeps the driven shaft's acceleration within a limit.

    Parameters
    ----------
    speed_rad_per_s : speed of the shaft [rad/s]
    acceleration_rad_per_s2 : largest angular acceleration [rad/s**2]

    Returns
    -------
    resultant angle, 45 degrees at most, where joints end [rad]

    Raises
    ------
    OutOfRange
        if the speed is not positive

    Notes
    -----
    sqrt(acceleration) / speed, from acceleration = speed^2 b^2. Valid for angles up to about 15 degrees; at 30 it
    allows a thirtieth too much. Starting values, common practice; the maker's figure wins: 400 rad/s2 for what is felt
    in a two-joint line, which gives the printed chart within a tenth of a degree; 1000 rad/s2 as the most for a
    single joint.

    References
    ----------
    SAE AE-7, 3.1.1, as charted in a public guideline on installation angles.

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(angle_limit(1500 * np.pi / 30, acceleration_rad_per_s2=400)), 2)
    7.3
    """
    positive(speed_rad_per_s=speed_rad_per_s, acceleration_rad_per_s2=acceleration_rad_per_s2)
    return least(sqrt(acceleration_rad_per_s2) / speed_rad_per_s, float(np.pi / 4))


def second_joint_limit(first_angle_rad: Value, residual_angle_rad: Value) -> Value:
    """Largest angle of the second joint of a two-joint line, the first given.

    Parameters
    ----------
    first_angle_rad : working angle of the first joint [rad]
    residual_angle_rad : largest resultant angle the line may have [rad]

    Returns
    -------
    working angle of the second joint [rad]

    Raises
    ------
    OutOfRange
        if an angle is negative

    Notes
    -----
    sqrt(b1^2 + br^2). Valid for yokes in line, shafts in one plane, angles up to about 15 degrees.

    References
    ----------
    SAE AE-7, 3.1.1, as charted in a public guideline on installation angles.

    Examples
    --------
    >>> from math import degrees, radians
    >>> round(degrees(second_joint_limit(radians(4), radians(7.3))), 2)
    8.32
    """
    not_negative(first_angle_rad=first_angle_rad, residual_angle_rad=residual_angle_rad)
    return hypot(first_angle_rad, residual_angle_rad)
