"""Where an axle or a wheel goes as it rises and rolls, and how it turns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arithmetic import FloatArray, numbers, positive, within
from .holding import Bars, Slide, links, moved_to, rotations


@dataclass(frozen=True, slots=True)
class CarrierTravel:
    """A wheel carrier in each position; not-a-number where the links cannot reach it.

    Parameters
    ----------
    centre : of the hub (m, 3) [mm]
    lean : about X, right end rising: camber (m,) [rad]
    steer : about Z, X turning to Y: toe (m,) [rad]
    pitch : about Y, nose rising: castor (m,) [rad]
    """

    centre: FloatArray
    lean: FloatArray
    steer: FloatArray
    pitch: FloatArray


@dataclass(frozen=True, slots=True)
class AxleTravel:
    """A beam axle in each position; not-a-number where the links cannot reach it.

    Parameters
    ----------
    centre : of the axle (m, 3) [mm]
    lean : about X, right end rising (m,) [rad]
    steer : about Z, X turning to Y: steer of the axle (m,) [rad]
    pitch : about Y, nose rising: pinion angle (m,) [rad]
    give : most that the bushes of a link must give along it; nought with four links (m,) [mm]
    """

    centre: FloatArray
    lean: FloatArray
    steer: FloatArray
    pitch: FloatArray
    give: FloatArray


@dataclass(frozen=True, slots=True)
class StrutTravel:
    """A wheel carrier on a strut in each position; not-a-number where arm and rod cannot reach it.

    Parameters
    ----------
    centre : of the hub (m, 3) [mm]
    lean : about X, right end rising: camber (m,) [rad]
    steer : about Z, X turning to Y: toe (m,) [rad]
    pitch : about Y, nose rising: castor (m,) [rad]
    strut : top mount to the lower point on its axis (m,) [mm]
    """

    centre: FloatArray
    lean: FloatArray
    steer: FloatArray
    pitch: FloatArray
    strut: FloatArray


@dataclass(frozen=True, slots=True)
class MountedTravel:
    """A spring or damper between body and carrier in each position.

    Parameters
    ----------
    length : between its ends (m,) [mm]
    ratio : shortening to rise of the wheel, between neighbouring positions (m,) [-]
    """

    length: FloatArray
    ratio: FloatArray


def axle_through_travel(
    body_point: FloatArray,
    axle_point: FloatArray,
    axle_centre: FloatArray,
    *,
    bump_mm: FloatArray,
    roll_rad: FloatArray,
) -> AxleTravel:
    """Where a beam axle on links goes as it rises and rolls.

    Parameters
    ----------
    body_point : end of each link at the body, four or more, in the axes of the vehicle (n, 3) [mm]
    axle_point : end of each link at the axle at ride height, same order (n, 3) [mm]
    axle_centre : middle of the axle at ride height (3,) [mm]
    bump_mm : rise of the middle of the axle, droop negative (m,) [mm]
    roll_rad : lean of the axle, right end rising (m,) [rad]

    Returns
    -------
    the axle in each position

    Raises
    ------
    OutOfRange
        if there are fewer than four links, or a figure is not a number

    Notes
    -----
    Link lengths kept, solved by Newton's method in space. Valid for four rigid links; of more, such as four arms and a
    lateral rod, the axle goes where their bushes give least, all alike, and `give` says how much that is. Leaf
    springs are not links.

    References
    ----------
    Kinematics of rigid bodies.

    Examples
    --------
    >>> body = [[2100, -450, 330], [2100, 450, 330], [2300, -500, 460], [2300, 500, 460]]
    >>> axle = [[2700, -450, 300], [2700, 450, 300], [2700, -100, 500], [2700, 100, 500]]
    >>> moved = axle_through_travel(body, axle, [2700, 0, 350], bump_mm=[0, 80], roll_rad=[0, 0])
    >>> moved.centre[1].round(1).tolist()
    [2694.9, 0.0, 430.0]
    """
    bump, roll = np.broadcast_arrays(
        np.atleast_1d(np.asarray(bump_mm, dtype=float)), np.atleast_1d(np.asarray(roll_rad, dtype=float))
    )
    within(-1.0, 1.0, "from -1 to 1 rad", roll_rad=roll)
    body, axle = links(body_point, axle_point, 4, exactly=False)
    centre = numbers("axle_centre", axle_centre, (3,))
    moved = moved_to([Bars(body, axle - centre, centre)], _positions(bump), roll)
    return AxleTravel(centre + moved.shift, *_attitude(moved.turn), moved.fault)


def wheel_through_travel(
    body_point: FloatArray, carrier_point: FloatArray, hub_centre: FloatArray, *, bump_mm: FloatArray
) -> CarrierTravel:
    """Where an independent wheel on five links goes as it rises: camber, toe, castor and track.

    Parameters
    ----------
    body_point : end of each link at the body, in the axes of the vehicle (5, 3) [mm]
    carrier_point : end of each link at the wheel carrier at ride height, same order (5, 3) [mm]
    hub_centre : at ride height (3,) [mm]
    bump_mm : rise of the hub, droop negative (m,) [mm]

    Returns
    -------
    the carrier in each position

    Raises
    ------
    OutOfRange
        if there are not five links, or a figure is not a number

    Notes
    -----
    A wishbone is two links that share a ball joint, the track rod is the fifth. Link lengths kept, solved by
    Newton's method in space. Valid for rigid links and bushes; for a strut that slides see `strut_through_travel`, for
    a trailing arm `arm_through_travel`.

    References
    ----------
    Kinematics of rigid bodies.

    Examples
    --------
    >>> body = [[-150, 350, 200], [150, 350, 200], [-120, 420, 420], [120, 420, 420], [130, 350, 230]]
    >>> carrier = [[0, 700, 190], [0, 700, 190], [10, 670, 430], [10, 670, 430], [130, 700, 221]]
    >>> moved = wheel_through_travel(body, carrier, [0, 750, 310], bump_mm=[0, 60])
    >>> moved.centre[1].round(1).tolist()
    [-0.3, 743.7, 370.0]
    """
    body, carrier = links(body_point, carrier_point, 5, exactly=True)
    hub = numbers("hub_centre", hub_centre, (3,))
    moved = moved_to([Bars(body, carrier - hub, hub)], _positions(bump_mm), None)
    return CarrierTravel(hub + moved.shift, *_attitude(moved.turn))


def strut_through_travel(
    body_point: FloatArray,
    carrier_point: FloatArray,
    strut_top: FloatArray,
    strut_bottom: FloatArray,
    hub_centre: FloatArray,
    *,
    bump_mm: FloatArray,
) -> StrutTravel:
    """Where a wheel on a sliding strut, a lower arm and a track rod goes as it rises.

    Parameters
    ----------
    body_point : at the body: both pivots of the lower arm, then the track rod's inner end (3, 3) [mm]
    carrier_point : at the carrier: the arm's ball joint, twice, then the track rod's outer end, at ride height (3, 3)
        [mm]
    strut_top : middle of the strut's top mount, in the axes of the vehicle (3,) [mm]
    strut_bottom : a lower point on the axis the strut slides along, fixed to the carrier, at ride height (3,) [mm]
    hub_centre : at ride height (3,) [mm]
    bump_mm : rise of the hub, droop negative (m,) [mm]

    Returns
    -------
    the carrier in each position, and the strut's length

    Raises
    ------
    OutOfRange
        if there are not three links, the strut has no length, or a figure is not a number

    Notes
    -----
    Arm and rod keep their lengths, the strut's axis is fixed in the carrier and goes through its top mount; Newton's
    method in space. Valid for rigid links and bushes, and a strut that does not bend. The three links need not be an
    arm and a rod: two lateral links and a trailing one do as well.

    References
    ----------
    Kinematics of rigid bodies.

    Examples
    --------
    >>> body = [[-150, 350, 200], [150, 350, 200], [130, 350, 230]]
    >>> carrier = [[0, 700, 190], [0, 700, 190], [130, 690, 225]]
    >>> moved = strut_through_travel(body, carrier, [30, 580, 850], [0, 660, 300], [0, 750, 310], bump_mm=[0, 60])
    >>> round(float(moved.strut[0] - moved.strut[1]), 1), moved.centre[1].round(1).tolist()
    (59.2, [0.9, 745.6, 370.0])
    """
    body, carrier = links(body_point, carrier_point, 3, exactly=True)
    hub, top = numbers("hub_centre", hub_centre, (3,)), numbers("strut_top", strut_top, (3,))
    bottom = numbers("strut_bottom", strut_bottom, (3,))
    positive(**{"the length of the strut": float(np.linalg.norm(top - bottom))})
    slide = Slide(top, bottom - hub, hub)
    moved = moved_to([Bars(body, carrier - hub, hub), slide], _positions(bump_mm), None)
    lower = hub + moved.shift + moved.turn @ (bottom - hub)
    return StrutTravel(hub + moved.shift, *_attitude(moved.turn), np.linalg.norm(top - lower, axis=1))


def arm_through_travel(pivot_point: FloatArray, hub_centre: FloatArray, *, bump_mm: FloatArray) -> CarrierTravel:
    """Where a wheel on a trailing or semi-trailing arm, or a swing axle, goes as it rises.

    Parameters
    ----------
    pivot_point : two points of the axis the arm turns about, in the axes of the vehicle (2, 3) [mm]
    hub_centre : at ride height (3,) [mm]
    bump_mm : rise of the hub, droop negative (m,) [mm]

    Returns
    -------
    the hub in each position

    Raises
    ------
    OutOfRange
        if the two points are one, the hub lies on the axis, or a figure is not a number

    Notes
    -----
    The arm turns about its axis: camber and toe come from the axis' slant alone. Valid for rigid arms and bushes.

    References
    ----------
    Rotation by Rodrigues' formula.

    Examples
    --------
    >>> moved = arm_through_travel([[2300, -300, 300], [2350, -650, 300]], [2700, -720, 310], bump_mm=[0, 60])
    >>> moved.centre[1].round(1).tolist(), round(float(np.degrees(moved.lean[1])), 2)
    ([2692.9, -721.0, 370.0], 1.45)
    """
    pivots, hub = numbers("pivot_point", pivot_point, (2, 3)), numbers("hub_centre", hub_centre, (3,))
    bump = _positions(bump_mm)
    positive(**{"the distance of the two points": float(np.linalg.norm(pivots[1] - pivots[0]))})
    axis = (pivots[1] - pivots[0]) / np.linalg.norm(pivots[1] - pivots[0])
    arm = hub - pivots[0]
    outward = arm - (arm @ axis) * axis
    swing = np.cross(axis, outward)
    positive(**{"the reach of the arm": float(np.hypot(swing[2], outward[2]))})
    # the hub rises by swing_z sin - outward_z (1 - cos)
    reach = np.hypot(swing[2], outward[2])
    with np.errstate(invalid="ignore"):
        first = np.arctan2(outward[2], swing[2])
        sine = np.arcsin((bump + outward[2]) / reach)
    near = sine - first if swing[2] > 0 else np.pi - sine - first
    angle = (near + np.pi) % (2 * np.pi) - np.pi
    turn = rotations(angle[:, None] * axis, longest=np.inf)
    centre = pivots[0] + (arm @ axis) * axis + turn @ outward
    return CarrierTravel(centre, *_attitude(turn))


def length_through_travel(
    body_end: FloatArray,
    carrier_end: FloatArray,
    centre: FloatArray,
    lean_rad: FloatArray,
    steer_rad: FloatArray,
    pitch_rad: FloatArray,
) -> MountedTravel:
    """Length and motion ratio of a spring or damper on the carrier, from where the carrier goes.

    Parameters
    ----------
    body_end : its end at the body, in the axes of the vehicle (3,) [mm]
    carrier_end : its end at the carrier, less the hub's centre, at ride height (3,) [mm]
    centre : of the hub in each position, as the functions of travel give it (m, 3) [mm]
    lean_rad : of the carrier in each position (m,) [rad]
    steer_rad : of the carrier in each position (m,) [rad]
    pitch_rad : of the carrier in each position (m,) [rad]

    Returns
    -------
    length and ratio in each position

    Raises
    ------
    OutOfRange
        if there are not as many turns as positions, or fewer than two

    Notes
    -----
    The carrier's end is turned and moved with it. Valid where the unit sits on the carrier or the axle; for one on an
    arm follow the arm with `arm_through_travel`. The ratio squared, times the spring's rate, is the wheel rate.

    References
    ----------
    Kinematics of rigid bodies.

    Examples
    --------
    >>> moved = length_through_travel([0, 600, 800], [0, -60, -100], [[0, 750, 310], [0, 750, 370]], [0, 0], [0, 0],
    ...                               [0, 0])
    >>> moved.length.round(1).tolist(), moved.ratio.round(3).tolist()
    ([596.8, 537.6], [0.987, 0.987])
    """
    path = numbers("centre", centre, (-1, 3))
    given = {"lean_rad": lean_rad, "steer_rad": steer_rad, "pitch_rad": pitch_rad}
    lean, steer, pitch = (numbers(name, turn, (len(path),)) for name, turn in given.items())
    within(2, np.inf, "two or more", **{"the number of positions": len(path)})
    end = numbers("carrier_end", carrier_end, (3,))
    ends = path + _axes(lean, steer, pitch) @ end
    length = np.linalg.norm(numbers("body_end", body_end, (3,)) - ends, axis=1)
    positive(**{"the rise between neighbouring positions": np.abs(np.diff(path[:, 2]))})
    return MountedTravel(length, -np.gradient(length, path[:, 2]))


def _axes(lean: FloatArray, steer: FloatArray, pitch: FloatArray) -> FloatArray:
    """Rotation matrices that have the lean, steer and pitch of `_attitude`."""
    across = np.stack([-np.cos(lean) * np.sin(steer), np.cos(lean) * np.cos(steer), np.sin(lean)], axis=1)
    level, rise = np.cos(pitch), -np.sin(pitch)
    along = np.stack([level, -(level * across[:, 0] + rise * across[:, 2]) / across[:, 1], rise], axis=1)
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    axes: FloatArray = np.stack([along, across, np.cross(along, across)], axis=2)
    return axes


def _positions(bump_mm: FloatArray) -> FloatArray:
    return numbers("bump_mm", np.atleast_1d(np.asarray(bump_mm, dtype=float)), (-1,))


def _attitude(turn: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lean, steer and pitch of rotation matrices."""
    across, along = turn[:, :, 1], turn[:, :, 0]
    return (
        np.arcsin(across[:, 2]),
        np.arctan2(-across[:, 0], across[:, 1]),
        np.arctan2(-along[:, 2], along[:, 0]),
    )
