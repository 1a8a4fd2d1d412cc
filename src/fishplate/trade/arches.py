"""Room for a tyre in its arch: through bump, roll and lock, to lip and tub, and centred in the opening.

Contact at speed can burst a tyre or jam the steering. The figures take the tyre as a cylinder on rigid bushes; real
ones bulge, grow and give. See the wheel through its travel, by hand, before it is driven.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arithmetic import FloatArray, Value, hypot, not_negative, numbers, positive, sin

__all__ = [
    "TravelRoom",
    "bump_room",
    "centring",
    "lip_room",
    "lock_room",
    "rise_in_roll",
    "room_on_links",
    "room_through_travel",
    "tub_room",
]

HAZARDS = ("steering", "suspension")


@dataclass(frozen=True, slots=True)
class TravelRoom:
    """Least distance from a tyre to the body, over its travel.

    Parameters
    ----------
    room_mm : by bump, lock and roll, negative inside the tyre (b, s, r) [mm]
    least_mm : the smallest of them [mm]
    at_bump_mm : bump at which it is smallest [mm]
    at_lock_rad : lock at which it is smallest [rad]
    at_roll_rad : roll at which it is smallest [rad]
    """

    room_mm: FloatArray
    least_mm: float
    at_bump_mm: float
    at_lock_rad: float
    at_roll_rad: float


def bump_room(arch_to_hub_mm: Value, tyre_diameter_mm: Value, bump_travel_mm: Value) -> Value:
    """Room above a tyre at full bump.

    Parameters
    ----------
    arch_to_hub_mm : underside of the arch to hub centre, at ride height [mm]
    tyre_diameter_mm : overall [mm]
    bump_travel_mm : from ride height to the stop, compressed [mm]

    Returns
    -------
    room, negative where they meet [mm]

    Raises
    ------
    OutOfRange
        if the diameter is not positive, or the travel negative

    Notes
    -----
    arch - diameter / 2 - travel. Valid where the wheel moves straight up under the arch; see `rise_in_roll` for one
    wheel alone.

    References
    ----------
    Plane geometry; starting value 10 to 20 mm, common practice.

    Examples
    --------
    >>> bump_room(470, 729, 90)
    15.5
    """
    positive(tyre_diameter_mm=tyre_diameter_mm)
    not_negative(bump_travel_mm=bump_travel_mm)
    return arch_to_hub_mm - tyre_diameter_mm / 2 - bump_travel_mm


def lock_room(
    arch_reach_mm: Value, tyre_diameter_mm: Value, tyre_width_mm: Value, pivot_to_tyre_centre_mm: Value
) -> Value:
    """Room between a steered tyre's corner and the panel it sweeps towards.

    Parameters
    ----------
    arch_reach_mm : steering axis to the panel, level with the hub [mm]
    tyre_diameter_mm : overall [mm]
    tyre_width_mm : section on its rim [mm]
    pivot_to_tyre_centre_mm : steering axis to the middle of the tyre, level with the hub [mm]

    Returns
    -------
    room, negative where they meet [mm]

    Raises
    ------
    OutOfRange
        if a tyre's size is not positive

    Notes
    -----
    reach - hypot(diameter / 2, width / 2 + pivot): the corner farthest from an upright axis, in any lock that reaches
    it. Cautious by the rounding of the shoulder. Valid for a near upright axis; for others `room_through_travel`.

    References
    ----------
    Plane geometry; starting value 12 mm, common practice.

    Examples
    --------
    >>> round(lock_room(420, 729, 216, 60), 2)
    18.65
    """
    positive(tyre_diameter_mm=tyre_diameter_mm, tyre_width_mm=tyre_width_mm)
    return arch_reach_mm - hypot(tyre_diameter_mm / 2, tyre_width_mm / 2 + pivot_to_tyre_centre_mm)


def lip_room(
    lip_half_width_mm: Value, flange_width_mm: Value, offset_mm: Value, tyre_width_mm: Value
) -> Value:  # fmt: skip
    """Room between the outside of a tyre and the arch lip.

    Parameters
    ----------
    lip_half_width_mm : middle of the vehicle to the inside of the lip [mm]
    flange_width_mm : axle, flange to flange [mm]
    offset_mm : of the wheel, positive towards the street [mm]
    tyre_width_mm : section on its rim [mm]

    Returns
    -------
    room, negative where the tyre stands outside the lip [mm]

    Raises
    ------
    OutOfRange
        if the width is not positive

    Notes
    -----
    lip - (flange / 2 - offset + width / 2). Valid at ride height with the axle in the middle; add what it moves
    sideways.

    References
    ----------
    Plane geometry; starting value 8 to 20 mm, common practice.

    Examples
    --------
    >>> lip_room(835, 1560, 45, 216)
    -8.0
    """
    positive(tyre_width_mm=tyre_width_mm)
    return lip_half_width_mm - (flange_width_mm / 2 - offset_mm + tyre_width_mm / 2)


def tub_room(
    flange_width_mm: Value, offset_mm: Value, tyre_width_mm: Value, tub_half_width_mm: Value
) -> Value:  # fmt: skip
    """Room between the inside of a tyre and the tub, spring or frame inside it.

    Parameters
    ----------
    flange_width_mm : axle, flange to flange [mm]
    offset_mm : of the wheel, positive towards the street [mm]
    tyre_width_mm : section on its rim [mm]
    tub_half_width_mm : middle of the vehicle to the tub [mm]

    Returns
    -------
    room, negative where they meet [mm]

    Raises
    ------
    OutOfRange
        if the width is not positive

    Notes
    -----
    flange / 2 - offset - width / 2 - tub. Valid as for `lip_room`.

    References
    ----------
    Plane geometry; starting value 15 mm, common practice.

    Examples
    --------
    >>> tub_room(1560, 45, 216, 605)
    22.0
    """
    positive(tyre_width_mm=tyre_width_mm)
    return flange_width_mm / 2 - offset_mm - tyre_width_mm / 2 - tub_half_width_mm


def rise_in_roll(half_track_mm: Value, roll_rad: Value) -> Value:
    """How far one wheel of an axle rises into its arch as the body rolls over it.

    Parameters
    ----------
    half_track_mm : middle of the vehicle to the middle of the tyre [mm]
    roll_rad : of the axle against the body [rad]

    Returns
    -------
    rise [mm]

    Raises
    ------
    OutOfRange
        if the half track is not positive

    Notes
    -----
    half track x sin(roll). Valid for an axle that rolls about the middle of the vehicle at hub height.

    References
    ----------
    Plane geometry.

    Examples
    --------
    >>> from math import radians
    >>> round(rise_in_roll(780, radians(5)), 1)
    68.0
    """
    positive(half_track_mm=half_track_mm)
    return half_track_mm * sin(roll_rad)


def centring(ahead_mm: Value, behind_mm: Value) -> Value:
    """How far a wheel stands ahead of the middle of its arch opening.

    Parameters
    ----------
    ahead_mm : hub centre to the edge of the opening ahead of it, level with the hub [mm]
    behind_mm : hub centre to the edge behind it, level with the hub [mm]

    Returns
    -------
    distance to move the axle rearward; negative forward [mm]

    Notes
    -----
    (behind - ahead) / 2. Valid at ride height; an axle on arms or leaves moves fore and aft through its travel.

    References
    ----------
    Plane geometry; starting value within 5 mm, common practice.

    Examples
    --------
    >>> centring(395, 407)
    6.0
    """
    return (behind_mm - ahead_mm) / 2


def room_through_travel(
    body_point: FloatArray,
    tyre_centre: FloatArray,
    steering_axis: FloatArray,
    tyre_diameter_mm: float,
    tyre_width_mm: float,
    *,
    bump_mm: FloatArray,
    lock_rad: FloatArray,
    roll_rad: FloatArray,
) -> TravelRoom:
    """Least distance from a tyre to points of the body, through bump, lock and roll together.

    Parameters
    ----------
    body_point : points of the panel, in the axes of the vehicle (n, 3) [mm]
    tyre_centre : middle of the tyre at ride height, straight ahead (3,) [mm]
    steering_axis : a lower and an upper point of the axis it steers about (2, 3) [mm]
    tyre_diameter_mm : overall [mm]
    tyre_width_mm : section on its rim [mm]
    bump_mm : rises to look at, droop negative (b,) [mm]
    lock_rad : turns about the steering axis (s,) [rad]
    roll_rad : turns of the axle about a fore-and-aft line at hub height in the middle of the vehicle (r,) [rad]

    Returns
    -------
    the room in each position, and where it is least

    Raises
    ------
    OutOfRange
        if a tyre's size is not positive, the axis has no length, or a figure is not a number

    Notes
    -----
    The tyre is a cylinder: turned about the steering axis, then rolled, then raised. Valid for wheels that rise
    straight; take what the linkage does besides from `linkages`. It is cautious by the rounding of the shoulder.

    References
    ----------
    Solid geometry; rotation by Rodrigues' formula.

    Examples
    --------
    >>> room = room_through_travel([[0, 800, 470]], [0, 760, 0], [[0, 700, -100], [0, 700, 100]], 729, 216,
    ...                            bump_mm=[0, 90], lock_rad=[0], roll_rad=[0])
    >>> round(room.least_mm, 2), room.at_bump_mm
    (15.5, 90.0)
    """
    positive(tyre_diameter_mm=tyre_diameter_mm, tyre_width_mm=tyre_width_mm)
    given = {"bump_mm": bump_mm, "lock_rad": lock_rad, "roll_rad": roll_rad}
    bumps, locks, rolls = (
        numbers(name, np.atleast_1d(np.asarray(item, dtype=float)), (-1,)) for name, item in given.items()
    )
    points = numbers("body_point", np.atleast_2d(np.asarray(body_point, dtype=float)), (-1, 3))
    centre, (lower, upper) = numbers("tyre_centre", tyre_centre, (3,)), numbers("steering_axis", steering_axis, (2, 3))
    positive(**{"the length of the steering axis": float(np.linalg.norm(upper - lower))})
    middle = np.array([0.0, 0.0, centre[2]])
    room = np.empty((bumps.size, locks.size, rolls.size))
    for j, lock in enumerate(locks):
        steered = _turned(centre - lower, upper - lower, lock) + lower
        spindle = _turned(np.array([0.0, 1.0, 0.0]), upper - lower, lock)
        for k, roll in enumerate(rolls):
            hub = _turned(steered - middle, np.array([1.0, 0.0, 0.0]), roll) + middle
            axle = _turned(spindle, np.array([1.0, 0.0, 0.0]), roll)
            for i, bump in enumerate(bumps):
                away = points - hub - np.array([0.0, 0.0, bump])
                room[i, j, k] = _outside_cylinder(away, axle, tyre_diameter_mm / 2, tyre_width_mm / 2).min()
    at = np.unravel_index(int(room.argmin()), room.shape)
    return TravelRoom(room, float(room.min()), float(bumps[at[0]]), float(locks[at[1]]), float(rolls[at[2]]))


def room_on_links(
    body_point: FloatArray,
    tyre_diameter_mm: float,
    tyre_width_mm: float,
    centre: FloatArray,
    lean_rad: FloatArray,
    steer_rad: FloatArray,
    *,
    outwards_mm: float = 0.0,
) -> FloatArray:
    """Distance from a tyre to points of the body, wherever its links take it.

    Parameters
    ----------
    body_point : points of the panel, in the axes of the vehicle (n, 3) [mm]
    tyre_diameter_mm : overall [mm]
    tyre_width_mm : section on its rim [mm]
    centre : of the hub in each position, as the functions of travel in `linkages` give it (m, 3) [mm]
    lean_rad : of the carrier in each position (m,) [rad]
    steer_rad : of the carrier in each position, with the lock where it is steered (m,) [rad]
    outwards_mm : middle of the tyre from the centre given, towards the street [mm]

    Returns
    -------
    the least of each position, negative inside the tyre (m,) [mm]

    Raises
    ------
    OutOfRange
        if a tyre's size is not positive, or a figure is not a number

    Notes
    -----
    The tyre is a cylinder about its spindle. Valid for rigid links and bushes; cautious by the rounding of the
    shoulder. For wheels that rise straight `room_through_travel` looks at bump, lock and roll together.

    References
    ----------
    Solid geometry.

    Examples
    --------
    >>> room_on_links([[0, 800, 470]], 729, 216, [[0, 760, 0], [-4, 752, 90]], [0, 0.02], [0, 0]).round(1).tolist()
    [105.5, 14.5]
    """
    positive(tyre_diameter_mm=tyre_diameter_mm, tyre_width_mm=tyre_width_mm)
    points = numbers("body_point", np.atleast_2d(np.asarray(body_point, dtype=float)), (-1, 3))
    path = numbers("centre", np.atleast_2d(np.asarray(centre, dtype=float)), (-1, 3))
    given = {"lean_rad": lean_rad, "steer_rad": steer_rad}
    lean, steer = (
        numbers(name, np.atleast_1d(np.asarray(item, dtype=float)), (len(path),)) for name, item in given.items()
    )
    spindle = np.stack([-np.cos(lean) * np.sin(steer), np.cos(lean) * np.cos(steer), np.sin(lean)], axis=1)
    middle = path + np.sign(path[:, 1:2]) * outwards_mm * spindle
    radius, half = tyre_diameter_mm / 2, tyre_width_mm / 2
    room = [_outside_cylinder(points - at, axle, radius, half).min() for at, axle in zip(middle, spindle, strict=True)]
    return np.array(room)


def _turned(vector: FloatArray, axis: FloatArray, angle_rad: float) -> FloatArray:
    """A vector turned about an axis through the origin, by Rodrigues' formula."""
    unit = axis / np.linalg.norm(axis)
    turn, rest = np.sin(angle_rad), 1 - np.cos(angle_rad)
    result: FloatArray = vector + turn * np.cross(unit, vector) + rest * np.cross(unit, np.cross(unit, vector))
    return result


def _outside_cylinder(away: FloatArray, axis: FloatArray, radius: float, half_width: float) -> FloatArray:
    """Distance of points from a cylinder about the origin; inside it, minus the way out."""
    along = away @ axis
    beyond_side = np.abs(along) - half_width
    beyond_tread = np.linalg.norm(away - along[:, None] * axis, axis=1) - radius
    outside = np.hypot(np.maximum(beyond_side, 0), np.maximum(beyond_tread, 0))
    result: FloatArray = outside + np.minimum(np.maximum(beyond_side, beyond_tread), 0)
    return result
