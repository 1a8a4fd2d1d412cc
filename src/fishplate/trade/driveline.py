"""Shafts and their joints: angles in space, speed variation, lines of several joints, critical speed, slip.

Angles of a shaft are set with the vehicle at its loaded height; the figures leave out wear, imbalance and play.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arithmetic import FloatArray, Value, acos, atan2, cos, hypot, not_negative, positive, sin, sqrt, tan, within

__all__ = [
    "ShaftThroughTravel",
    "SpeedExtremes",
    "angle_for_uniformity",
    "angle_for_variation",
    "angle_limit",
    "critical_speed",
    "critical_speed_lumped",
    "joint_angle",
    "joint_angles_in_line",
    "line_angle",
    "line_speed_extremes",
    "non_uniformity",
    "second_joint_limit",
    "shaft_angle",
    "shaft_through_travel",
    "speed_extremes",
    "speed_ratio",
]

QUARTER_TURN = float(np.pi / 2)


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


@dataclass(frozen=True, slots=True)
class ShaftThroughTravel:
    """A shaft as its far end moves.

    Parameters
    ----------
    length : between joint centres (n,) [mm]
    front_angle : working angle of the front joint (n,) [rad]
    rear_angle : working angle of the rear joint (n,) [rad]
    slip : longest less shortest [mm]
    """

    length: FloatArray
    front_angle: FloatArray
    rear_angle: FloatArray
    slip: float


def shaft_angle(along_mm: Value, across_mm: Value, up_mm: Value) -> Value:
    """Angle of a shaft to the axis it drives from, by the offsets of its far end.

    Parameters
    ----------
    along_mm : far joint from near joint, along the axis [mm]
    across_mm : far joint off the axis, one way square to it [mm]
    up_mm : far joint off the axis, the other way square to it [mm]

    Returns
    -------
    working angle of the near joint, 0 to half a turn [rad]

    Notes
    -----
    atan(sqrt(across^2 + up^2) / along): the true angle in space; adding the squares of the two views holds only for
    small angles. Valid for any offsets that are not all zero.

    References
    ----------
    Plane trigonometry.

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(shaft_angle(400, 30, 40)), 3)
    7.125
    """
    return atan2(hypot(across_mm, up_mm), along_mm)


def joint_angle(first: FloatArray, second: FloatArray) -> Value:
    """Working angle of a joint between two shafts in space.

    Parameters
    ----------
    first : direction of one shaft, of any length, in the sense of the drive (..., 3) [mm]
    second : direction of the other, in the same sense (..., 3) [mm]

    Returns
    -------
    angle, 0 to half a turn [rad]

    Raises
    ------
    OutOfRange
        if a direction has no length

    Notes
    -----
    atan2(|a x b|, a . b), which keeps its digits for small angles. Valid for directions that are not zero.

    References
    ----------
    W. Kahan, How Futile are Mindless Assessments of Roundoff, 2006, section 12.

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(joint_angle([1, 0, 0.05], [1, 0, -0.02])), 4)
    4.0082
    """
    a, b = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    positive(first=np.linalg.norm(a, axis=-1), second=np.linalg.norm(b, axis=-1))
    return atan2(np.linalg.norm(np.cross(a, b), axis=-1), np.sum(a * b, axis=-1))


def joint_angles_in_line(installation_angle_rad: FloatArray) -> FloatArray:
    """Signed joint angles of a line that lies in one plane.

    Parameters
    ----------
    installation_angle_rad : slope of each shaft in turn, front to rear (..., n) [rad]

    Returns
    -------
    slope of each shaft less that of the next (..., n - 1) [rad]

    Notes
    -----
    Valid where the shafts lie in one plane, seen square to it; elsewhere use `joint_angle`.

    References
    ----------
    Practice of service manuals (propeller shaft joint angle charts).

    Examples
    --------
    >>> np.round(np.degrees(joint_angles_in_line(np.radians([2.0, 2.85, 1.9]))), 2).tolist()
    [-0.85, 0.95]
    """
    result: FloatArray = -np.diff(np.asarray(installation_angle_rad, dtype=float), axis=-1)
    return result


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
        yoke before it, with the turn of the plane of the shafts added (..., n - 1) [rad]

    Returns
    -------
    resultant angle [rad]

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
        yoke before it, with the turn of the plane of the shafts added (n - 1,) [rad]

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
    resultant angle [rad]

    Raises
    ------
    OutOfRange
        if the speed is not positive

    Notes
    -----
    sqrt(acceleration) / speed, from acceleration = speed^2 b^2. Valid for angles up to about 15 degrees. Starting
    values, common practice; the maker's figure wins: 400 rad/s2 for what is felt in a two-joint line, which gives the
    printed chart within a tenth of a degree; 1000 rad/s2 as the most for a single joint.

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
    return sqrt(acceleration_rad_per_s2) / speed_rad_per_s


def second_joint_limit(first_angle_rad: Value, residual_angle_rad: Value) -> Value:
    """Largest angle of the second joint of a two-joint line, the first given.

    Parameters
    ----------
    first_angle_rad : working angle of the first joint [rad]
    residual_angle_rad : largest resultant angle the line may have [rad]

    Returns
    -------
    working angle of the second joint [rad]

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
    return hypot(first_angle_rad, residual_angle_rad)


def critical_speed(
    length_mm: Value,
    outer_diameter_mm: Value,
    inner_diameter_mm: Value,
    *,
    modulus_mpa: float,
    density_kg_per_mm3: float,
) -> Value:
    """First whirling speed of a tube between two joints.

    Parameters
    ----------
    length_mm : between joint centres [mm]
    outer_diameter_mm : of the tube [mm]
    inner_diameter_mm : of the tube, zero for a bar [mm]
    modulus_mpa : Young's modulus [MPa]
    density_kg_per_mm3 : of the tube [kg/mm**3]

    Returns
    -------
    speed of rotation [rad/s]

    Raises
    ------
    OutOfRange
        if a length is not positive

    Notes
    -----
    (pi / L)^2 sqrt(E I / (rho A)), pinned ends, first bending mode. Valid for a plain tube on stiff supports; yokes,
    slip joints and soft mounts lower it. Starting value, common practice: run at no more than 0.75 of it.

    References
    ----------
    R. D. Blevins, Formulas for Natural Frequency and Mode Shape, uniform beam (from memory).

    Examples
    --------
    >>> speed = critical_speed(1219.2, 76.2, 69.85, modulus_mpa=200_000, density_kg_per_mm3=7.85e-6)
    >>> round(speed * 30 / np.pi)
    8271
    """
    not_negative(inner_diameter_mm=inner_diameter_mm)
    positive(length_mm=length_mm, wall_mm=outer_diameter_mm - inner_diameter_mm)
    radius_of_gyration = hypot(outer_diameter_mm, inner_diameter_mm) / 4
    wave_speed = sqrt(1000 * modulus_mpa / density_kg_per_mm3)
    return np.pi**2 / (length_mm * length_mm) * radius_of_gyration * wave_speed


def critical_speed_lumped(
    length_mm: Value,
    outer_diameter_mm: Value,
    inner_diameter_mm: Value,
    *,
    modulus_mpa: float,
    density_kg_per_mm3: float,
) -> Value:
    """First whirling speed with the whole mass of the tube taken at mid-span: the cautious figure.

    Parameters
    ----------
    length_mm : between joint centres [mm]
    outer_diameter_mm : of the tube [mm]
    inner_diameter_mm : of the tube, zero for a bar [mm]
    modulus_mpa : Young's modulus [MPa]
    density_kg_per_mm3 : of the tube [kg/mm**3]

    Returns
    -------
    speed of rotation [rad/s]

    Raises
    ------
    OutOfRange
        if a length is not positive

    Notes
    -----
    sqrt(48 E I / (m L^3)), 0.70 of `critical_speed`. Valid as an estimate from below, for shafts with heavy joints.

    References
    ----------
    Textbook exercise on shaft design; R. D. Blevins (from memory).

    Examples
    --------
    >>> speed = critical_speed_lumped(1219.2, 76.2, 69.85, modulus_mpa=200_000, density_kg_per_mm3=7.85e-6)
    >>> round(speed * 30 / np.pi)
    5806
    """
    uniform = critical_speed(
        length_mm, outer_diameter_mm, inner_diameter_mm, modulus_mpa=modulus_mpa, density_kg_per_mm3=density_kg_per_mm3
    )
    return uniform * float(np.sqrt(48) / np.pi**2)


def shaft_through_travel(
    front_joint: FloatArray, rear_joint: FloatArray, front_axis: FloatArray, rear_axis: FloatArray
) -> ShaftThroughTravel:
    """Length, joint angles and slip of a shaft as its rear joint moves.

    Parameters
    ----------
    front_joint : centre of the front joint (3,) [mm]
    rear_joint : centre of the rear joint, in each position (n, 3) [mm]
    front_axis : direction of the shaft before the line, rearward (3,) [mm]
    rear_axis : direction of the shaft after the line, rearward, in each position (n, 3) [mm]

    Returns
    -------
    the shaft in each position

    Notes
    -----
    Distances and angles between points and directions. Valid for joint centres that do not move within their shafts.
    Take the positions from `linkages.axle_through_travel`, or measure them at bump, ride height and droop.

    References
    ----------
    Solid geometry.

    Examples
    --------
    >>> shaft = shaft_through_travel([0, 0, 0], [[1000, 0, -80], [1004, 0, 0]], [1, 0, 0], [[1, 0, 0], [1, 0, 0]])
    >>> round(shaft.slip, 3)
    0.805
    """
    shaft = np.asarray(rear_joint, dtype=float) - np.asarray(front_joint, dtype=float)
    length = np.linalg.norm(shaft, axis=-1)
    front = np.atleast_1d(joint_angle(np.broadcast_to(np.asarray(front_axis, dtype=float), shaft.shape), shaft))
    rear = np.atleast_1d(joint_angle(shaft, np.broadcast_to(np.asarray(rear_axis, dtype=float), shaft.shape)))
    return ShaftThroughTravel(length, front, rear, float(np.ptp(length)))
