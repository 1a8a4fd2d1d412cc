"""Links that hold an axle or a wheel: instant centres, anti-squat, roll axis, and what changes through travel.

Links carry braking and cornering loads: brackets and welds are for a qualified welder to make or judge, and a changed
geometry for whoever approves the vehicle. The figures take bushes as points that do not give.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arithmetic import FloatArray, OutOfRange, Value, positive, within

__all__ = [
    "AxleCentres",
    "CarrierTravel",
    "SideCentre",
    "anti_squat",
    "axle_centres",
    "axle_through_travel",
    "instant_centre",
    "roll_centre",
    "wheel_through_travel",
]

HAZARDS = ("suspension", "welding")

_STEPS = 40
_CLOSE_MM = 1e-9


@dataclass(frozen=True, slots=True)
class SideCentre:
    """Where two link lines cross.

    Parameters
    ----------
    along : first coordinate [mm]
    up : second coordinate [mm]
    """

    along: Value
    up: Value


@dataclass(frozen=True, slots=True)
class AxleCentres:
    """How a beam axle on four links moves at a moment.

    Parameters
    ----------
    side_x : instant centre in side view, X; infinite for parallel links [mm]
    side_z : instant centre in side view, Z [mm]
    roll_z : height of the roll axis at the axle [mm]
    roll_slope : rise of the roll axis going rearward [-]
    """

    side_x: float
    side_z: float
    roll_z: float
    roll_slope: float


@dataclass(frozen=True, slots=True)
class CarrierTravel:
    """An axle or wheel carrier in each position; not-a-number where the links cannot reach it.

    Parameters
    ----------
    centre : of the hub or axle (m, 3) [mm]
    lean : about X, right end rising: camber (m,) [rad]
    steer : about Z, X turning to Y: toe, or steer of an axle (m,) [rad]
    pitch : about Y, nose rising: castor, or pinion angle (m,) [rad]
    """

    centre: FloatArray
    lean: FloatArray
    steer: FloatArray
    pitch: FloatArray


def instant_centre(
    lower_carrier: FloatArray, lower_body: FloatArray, upper_carrier: FloatArray, upper_body: FloatArray
) -> SideCentre:
    """Where the lines of two links cross, in one view.

    Parameters
    ----------
    lower_carrier : end of the lower link at axle or upright, along and up (..., 2) [mm]
    lower_body : its end at the body (..., 2) [mm]
    upper_carrier : end of the upper link at axle or upright (..., 2) [mm]
    upper_body : its end at the body (..., 2) [mm]

    Returns
    -------
    the crossing; infinite for parallel lines

    Notes
    -----
    Crossing of two lines. Valid for links that lie in the plane of the view; for links at a slant use `axle_centres`.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, suspensions.

    Examples
    --------
    >>> centre = instant_centre([2700, 300], [2100, 330], [2700, 500], [2300, 460])
    >>> round(centre.along, 2), round(centre.up, 2)
    (1366.67, 366.67)
    """
    a, b, c, d = (np.asarray(item, dtype=float) for item in (lower_carrier, lower_body, upper_carrier, upper_body))
    first, second, apart = b - a, d - c, c - a
    with np.errstate(divide="ignore", invalid="ignore"):
        share = _cross(apart, second) / _cross(first, second)
        point = a + share[..., None] * first
    return SideCentre(_number(point[..., 0]), _number(point[..., 1]))


def _cross(first: FloatArray, second: FloatArray) -> FloatArray:
    result: FloatArray = first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]
    return np.asarray(result)


def _number(value: FloatArray) -> Value:
    return value if np.ndim(value) else float(value)


def anti_squat(ahead_mm: Value, up_mm: Value, wheelbase_mm: Value, gravity_height_mm: Value) -> Value:
    """Share of squat under power that the links of a driven rear beam axle hold off.

    Parameters
    ----------
    ahead_mm : instant centre ahead of the rear contact [mm]
    up_mm : instant centre above the ground [mm]
    wheelbase_mm : between the axles [mm]
    gravity_height_mm : of the centre of gravity [mm]

    Returns
    -------
    share; one holds the rear at its height [-]

    Raises
    ------
    OutOfRange
        if the wheelbase or the height is not positive

    Notes
    -----
    (up / ahead) L / h. Valid for a beam axle that carries its own torque, all drive at the rear; for a differential
    on the body take heights from the hub.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, anti-squat; D. C. Barton and J. D. Fieldhouse, Automotive
    Chassis Engineering, 2018, eq. 3.63.

    Examples
    --------
    >>> round(anti_squat(1333.33, 366.667, 2700, 540), 3)
    1.375
    """
    positive(wheelbase_mm=wheelbase_mm, gravity_height_mm=gravity_height_mm)
    return up_mm / ahead_mm * wheelbase_mm / gravity_height_mm


def roll_centre(centre_across_mm: Value, centre_up_mm: Value, half_track_mm: Value) -> Value:
    """Height of the roll centre of an independent suspension.

    Parameters
    ----------
    centre_across_mm : instant centre in front view, from the middle of the vehicle, positive to the wheel's side [mm]
    centre_up_mm : instant centre above the ground [mm]
    half_track_mm : middle of the vehicle to the contact [mm]

    Returns
    -------
    height at the middle of the vehicle [mm]

    Raises
    ------
    OutOfRange
        if the half track is not positive

    Notes
    -----
    Line from the contact through the instant centre, at the middle. Valid for both sides alike, small roll.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, roll centre.

    Examples
    --------
    >>> roll_centre(-1500, 150, 750)
    50.0
    """
    positive(half_track_mm=half_track_mm)
    return centre_up_mm * half_track_mm / (half_track_mm - centre_across_mm)


def axle_centres(body_point: FloatArray, axle_point: FloatArray, axle_centre: FloatArray) -> AxleCentres:
    """Side-view instant centre and roll axis of a beam axle on four links, in space.

    Parameters
    ----------
    body_point : end of each link at the body, in the axes of the vehicle (4, 3) [mm]
    axle_point : end of each link at the axle, same order (4, 3) [mm]
    axle_centre : middle of the axle (3,) [mm]

    Returns
    -------
    both, at this height

    Raises
    ------
    OutOfRange
        if the links do not hold the axle sideways and fore and aft

    Notes
    -----
    The motions that leave every link its length: of those, the one without roll and the one without rise. Valid for
    four links, two of them slanting; a lateral rod beside parallel links binds and is not covered.

    References
    ----------
    Kinematics of rigid bodies; T. D. Gillespie, Fundamentals of Vehicle Dynamics, roll axis of solid axles.

    Examples
    --------
    >>> body = [[2100, -450, 330], [2100, 450, 330], [2300, -500, 460], [2300, 500, 460]]
    >>> axle = [[2700, -450, 300], [2700, 450, 300], [2700, -100, 500], [2700, 100, 500]]
    >>> centres = axle_centres(body, axle, [2700, 0, 350])
    >>> round(centres.side_x, 1), round(centres.roll_z, 1)
    (1366.7, 515.0)
    """
    body, axle, centre = (np.asarray(item, dtype=float) for item in (body_point, axle_point, axle_centre))
    arm, along = axle - centre, axle - body
    # one row a link: speed of the link's axle end along the link, for a motion (speed of the centre, rate of turning)
    rows = np.hstack([along, np.cross(arm, along)])
    size, free = _free_motions(rows)
    if size != 2:
        raise OutOfRange("body_point", "four links that leave only rise and roll free", f"{size} free motions")
    rise, roll = _without(free, 3), _without(free, 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        side = centre[0] + rise[2] / rise[4], centre[2] - rise[0] / rise[4]
        height, slope = centre[2] + roll[1] / roll[3], roll[5] / roll[3]
    return AxleCentres(float(side[0]), float(side[1]), float(height), float(slope))


def _free_motions(rows: FloatArray) -> tuple[int, FloatArray]:
    scale = np.array([1.0, 1.0, 1.0, 1e-3, 1e-3, 1e-3])  # so that turning by a millirad weighs like moving by a mm
    _, strength, motions = np.linalg.svd(rows * scale)
    kept = int(np.sum(strength > 1e-9 * strength[0]))
    return 6 - kept, motions[kept:] * scale


def _without(free: FloatArray, component: int) -> FloatArray:
    """The combination of two motions in which one component vanishes."""
    result: FloatArray = free[0] * free[1, component] - free[1] * free[0, component]
    return result


def axle_through_travel(
    body_point: FloatArray,
    axle_point: FloatArray,
    axle_centre: FloatArray,
    *,
    bump_mm: FloatArray,
    roll_rad: FloatArray,
) -> CarrierTravel:
    """Where a beam axle on four links goes as it rises and rolls.

    Parameters
    ----------
    body_point : end of each link at the body, in the axes of the vehicle (4, 3) [mm]
    axle_point : end of each link at the axle at ride height, same order (4, 3) [mm]
    axle_centre : middle of the axle at ride height (3,) [mm]
    bump_mm : rise of the middle of the axle, droop negative (m,) [mm]
    roll_rad : lean of the axle, right end rising (m,) [rad]

    Returns
    -------
    the axle in each position

    Raises
    ------
    OutOfRange
        if there are not four links

    Notes
    -----
    Link lengths kept, solved by Newton's method in space. Valid for rigid links and bushes; leaf springs are not
    links.

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
    return _through_travel(body_point, axle_point, axle_centre, bump, roll)


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
        if there are not five links

    Notes
    -----
    A wishbone is two links that share a ball joint, the track rod is the fifth. Link lengths kept, solved by
    Newton's method in space. Valid for rigid links and bushes; a strut that slides is not a link.

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
    bump = np.atleast_1d(np.asarray(bump_mm, dtype=float))
    return _through_travel(body_point, carrier_point, hub_centre, bump, None)


def _through_travel(
    body_point: FloatArray, carrier_point: FloatArray, centre: FloatArray, bump: FloatArray, roll: FloatArray | None
) -> CarrierTravel:
    body, carrier, hub = (np.asarray(item, dtype=float) for item in (body_point, carrier_point, centre))
    wanted = 5 if roll is None else 4
    if body.shape != (wanted, 3) or carrier.shape != body.shape:
        raise OutOfRange("body_point", f"{wanted} links with two ends each", f"{body.shape} and {carrier.shape}")
    move, turn = _solved(body, carrier - hub, hub, bump, roll)
    across, along = turn[:, :, 1], turn[:, :, 0]
    return CarrierTravel(
        hub + move,
        np.arcsin(across[:, 2]),
        np.arctan2(-across[:, 0], across[:, 1]),
        np.arctan2(-along[:, 2], along[:, 0]),
    )


def _solved(
    body: FloatArray, arm: FloatArray, hub: FloatArray, bump: FloatArray, roll: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """Shift and rotation of the carrier in each position, every link at its length; Newton's method."""
    length = np.linalg.norm(hub + arm - body, axis=1)
    move, turn = np.zeros((bump.size, 3)), np.tile(np.eye(3), (bump.size, 1, 1))
    for _ in range(_STEPS):
        arms = np.einsum("mij,nj->mni", turn, arm)
        link = hub + move[:, None, :] + arms - body
        long = np.linalg.norm(link, axis=2)
        along = link / long[:, :, None]
        slopes, faults = [np.concatenate([along, np.cross(arms, along)], axis=2)], [long - length]
        slopes.append(np.tile(np.array([[[0.0, 0, 1, 0, 0, 0]]]), (bump.size, 1, 1)))
        faults.append((move[:, 2] - bump)[:, None])
        if roll is not None:
            across = turn[:, :, 1]
            slopes.append(
                np.concatenate([np.zeros_like(across), np.cross(across, [0.0, 0.0, 1.0])], axis=1)[:, None, :]
            )
            faults.append((across[:, 2] - np.sin(roll))[:, None])
        fault = np.concatenate(faults, axis=1)
        if np.abs(fault).max() < _CLOSE_MM:
            break
        step = -np.einsum("mij,mj->mi", np.linalg.pinv(np.concatenate(slopes, axis=1)), fault)
        move, turn = move + step[:, :3], _rotations(step[:, 3:]) @ turn
    lost = np.abs(fault).max(axis=1) > 1e-6
    move[lost], turn[lost] = np.nan, np.nan
    return move, turn


def _rotations(vector: FloatArray) -> FloatArray:
    """Rotation matrices of rotation vectors, by Rodrigues' formula; no step turns by more than half a radian."""
    angle = np.linalg.norm(vector, axis=1)
    vector = vector * np.minimum(1.0, 0.5 / np.maximum(angle, 1e-300))[:, None]
    angle = np.linalg.norm(vector, axis=1)[:, None, None]
    x, y, z = vector.T
    nought = np.zeros_like(x)
    skew = np.stack([nought, -z, y, z, nought, -x, -y, x, nought], axis=1).reshape(-1, 3, 3)
    first, second = np.sinc(angle / np.pi), np.sinc(angle / (2 * np.pi)) ** 2 / 2
    result: FloatArray = np.eye(3) + first * skew + second * (skew @ skew)
    return result
