"""Angles of shafts and joints in space, and the joints of a shaft as its far end moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arithmetic import FloatArray, Value, atan2, hypot, numbers, positive


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

    Raises
    ------
    OutOfRange
        if all three are zero

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
    off_axis = hypot(across_mm, up_mm)
    positive(**{"the distance of the joints": hypot(off_axis, along_mm)})
    return atan2(off_axis, along_mm)


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

    Raises
    ------
    OutOfRange
        if the joints meet, or an axis has no length

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
    shaft = np.atleast_2d(np.asarray(rear_joint, dtype=float)) - numbers("front_joint", front_joint, (3,))
    length = np.linalg.norm(shaft, axis=-1)
    front = np.atleast_1d(joint_angle(np.broadcast_to(np.asarray(front_axis, dtype=float), shaft.shape), shaft))
    rear = np.atleast_1d(joint_angle(shaft, np.broadcast_to(np.asarray(rear_axis, dtype=float), shaft.shape)))
    return ShaftThroughTravel(length, front, rear, float(np.ptp(length)))
