"""How links let an axle or a wheel move at a moment: instant centres, roll centres, anti-squat and anti-dive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arithmetic import FloatArray, OutOfRange, Value, absolute, numbers, positive, within
from .holding import link_rows, links

_TURNING = np.array([1.0, 1.0, 1.0, 1e-3, 1e-3, 1e-3])  # so that turning by a millirad weighs like moving by a mm


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
    """How a beam axle on links moves at a moment.

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
class WheelCentres:
    """How an independent wheel moves at a moment.

    Parameters
    ----------
    front_y : instant centre in front view, Y; infinite where camber stays [mm]
    front_z : instant centre in front view, Z [mm]
    side_x : instant centre in side view, X; infinite where castor stays [mm]
    side_z : instant centre in side view, Z [mm]
    roll_z : height of the roll centre, both sides alike [mm]
    camber_gain : lean for each mm of bump, right end rising [rad/mm]
    steer_gain : toe for each mm of bump, X turning to Y [rad/mm]
    """

    front_y: float
    front_z: float
    side_x: float
    side_z: float
    roll_z: float
    camber_gain: float
    steer_gain: float


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
        if the wheelbase or the height is not positive, or the centre stands over the contact

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
    positive(
        wheelbase_mm=wheelbase_mm,
        gravity_height_mm=gravity_height_mm,
        **{"the distance of centre and contact": absolute(ahead_mm)},
    )
    return up_mm / ahead_mm * wheelbase_mm / gravity_height_mm


def anti_dive(
    behind_mm: Value, up_mm: Value, wheelbase_mm: Value, gravity_height_mm: Value, *, front_share: Value
) -> Value:
    """Share of dive under braking that the links of the front axle hold off.

    Parameters
    ----------
    behind_mm : instant centre in side view behind the front contact [mm]
    up_mm : instant centre above the ground [mm]
    wheelbase_mm : between the axles [mm]
    gravity_height_mm : of the centre of gravity [mm]
    front_share : of the whole brake force at the front axle [-]

    Returns
    -------
    share; one holds the front at its height [-]

    Raises
    ------
    OutOfRange
        if a length is not positive, the share is not from zero to one, or the centre stands over the contact

    Notes
    -----
    front share x (up / behind) L / h. Valid for brakes at the wheels; for brakes at the differential take heights from
    the hub. For the lift of the rear take its own centre ahead of its contact, and the rear share.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, anti-dive.

    Examples
    --------
    >>> round(anti_dive(2000, 200, 2500, 500, front_share=0.6), 3)
    0.3
    """
    positive(
        wheelbase_mm=wheelbase_mm,
        gravity_height_mm=gravity_height_mm,
        **{"the distance of centre and contact": absolute(behind_mm)},
    )
    within(0.0, 1.0, "from zero to one", front_share=front_share)
    return front_share * up_mm / behind_mm * wheelbase_mm / gravity_height_mm


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
        if the half track is not positive, or the centre stands over the contact

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
    positive(
        half_track_mm=half_track_mm,
        **{"the distance of centre and contact": absolute(half_track_mm - centre_across_mm)},
    )
    return centre_up_mm * half_track_mm / (half_track_mm - centre_across_mm)


def axle_centres(body_point: FloatArray, axle_point: FloatArray, axle_centre: FloatArray) -> AxleCentres:
    """Side-view instant centre and roll axis of a beam axle on links, in space.

    Parameters
    ----------
    body_point : end of each link at the body, four or more, in the axes of the vehicle (n, 3) [mm]
    axle_point : end of each link at the axle, same order (n, 3) [mm]
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
    four links. Of more, such as four arms and a lateral rod, the motion is taken in which their bushes give least, all
    alike; a radius arm is two links that share their end at the body.

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
    body, axle = links(body_point, axle_point, 4, exactly=False)
    centre = numbers("axle_centre", axle_centre, (3,))
    rows = link_rows(axle - centre, axle - body)
    rise, roll = _freed(rows, given=2, still=3), _freed(rows, given=3, still=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        side = centre[0] + rise[2] / rise[4], centre[2] - rise[0] / rise[4]
        height, slope = centre[2] + roll[1] / roll[3], roll[5] / roll[3]
    return AxleCentres(float(side[0]), float(side[1]), float(height), float(slope))


def wheel_centres(
    body_point: FloatArray, carrier_point: FloatArray, hub_centre: FloatArray, contact_point: FloatArray
) -> WheelCentres:
    """Instant centres, roll centre, camber and toe gain of an independent wheel on five links, in space.

    Parameters
    ----------
    body_point : end of each link at the body, in the axes of the vehicle (5, 3) [mm]
    carrier_point : end of each link at the wheel carrier, same order (5, 3) [mm]
    hub_centre : of the wheel (3,) [mm]
    contact_point : middle of the tyre's contact with the ground (3,) [mm]

    Returns
    -------
    what it does, at this height

    Raises
    ------
    OutOfRange
        if there are not five links that leave the wheel its rise alone

    Notes
    -----
    The one motion that leaves every link its length. Valid at the height measured; a wishbone is two links that share
    a ball joint, the track rod is the fifth. Look at `wheel_through_travel` for what it comes to.

    References
    ----------
    Kinematics of rigid bodies; T. D. Gillespie, Fundamentals of Vehicle Dynamics, suspensions.

    Examples
    --------
    >>> body = [[-150, 350, 200], [150, 350, 200], [-120, 420, 420], [120, 420, 420], [130, 350, 230]]
    >>> carrier = [[0, 700, 190], [0, 700, 190], [10, 670, 430], [10, 670, 430], [130, 700, 221]]
    >>> centres = wheel_centres(body, carrier, [0, 750, 310], [0, 750, 0])
    >>> round(centres.roll_z, 1), round(float(np.degrees(centres.camber_gain)) * 1000, 2)
    (61.3, 16.17)
    """
    body, carrier = links(body_point, carrier_point, 5, exactly=True)
    hub, contact = numbers("hub_centre", hub_centre, (3,)), numbers("contact_point", contact_point, (3,))
    rise = _freed(link_rows(carrier - hub, carrier - body), given=2)
    ground = rise[:3] + np.cross(rise[3:], contact - hub)
    with np.errstate(divide="ignore", invalid="ignore"):
        front = hub[1] - rise[2] / rise[3], hub[2] + rise[1] / rise[3]
        side = hub[0] + rise[2] / rise[4], hub[2] - rise[0] / rise[4]
        roll = contact[2] + contact[1] * ground[1] / ground[2]
    return WheelCentres(
        float(front[0]), float(front[1]), float(side[0]), float(side[1]), float(roll), float(rise[3]), float(rise[5])
    )


def _freed(rows: FloatArray, *, given: int, still: int | None = None) -> FloatArray:
    """The motion with one component given as one and, if named, another as nought, that stretches links least."""
    others = [place for place in range(6) if place not in (given, still)]
    scale = _TURNING[others]
    held = rows[:, others] * scale
    if np.linalg.matrix_rank(held, tol=1e-9 * np.abs(held).max()) < len(others):
        free = "rise and roll" if still is not None else "rise"
        raise OutOfRange("body_point", f"links that leave only {free} free", "more or others")
    motion: FloatArray = np.zeros(6)
    motion[given] = 1.0
    motion[others] = scale * np.linalg.lstsq(held, -rows[:, given], rcond=None)[0]
    motion[np.abs(motion) < 1e-13] = 0.0  # a turn that is nothing but rounding puts the centre at infinity
    return motion
