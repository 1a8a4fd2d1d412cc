"""Axle and corner loads, centre of gravity, grip under power.

Weigh on level scales of equal height, springs settled. A vehicle raised on one end stands chocked on rated stands,
with nobody under it. Ratings of axles, tyres and the vehicle are for its papers, not for arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from .arithmetic import (
    STANDARD_GRAVITY,
    FloatArray,
    OutOfRange,
    Value,
    greatest,
    least,
    not_negative,
    positive,
    sqrt,
    within,
)

__all__ = [
    "AxleLoads",
    "CornerTargets",
    "GravityPoint",
    "axle_loads",
    "axle_masses_of_items",
    "corner_targets",
    "cross_weight",
    "gravity_behind_front",
    "gravity_from_corners",
    "gravity_height",
    "largest_acceleration",
    "lateral_transfer",
    "tipping_rate",
]

HAZARDS = ("suspension", "lifting")


@dataclass(frozen=True, slots=True)
class AxleLoads:
    """What each axle carries.

    Parameters
    ----------
    front : on the front axle [kg]
    rear : on the rear axle [kg]
    """

    front: Value
    rear: Value


@dataclass(frozen=True, slots=True)
class CornerTargets:
    """What each corner should carry for an even cross.

    Parameters
    ----------
    front_share : of each side's load, in front [-]
    left_front : [kg]
    right_front : [kg]
    left_rear : [kg]
    right_rear : [kg]
    """

    front_share: Value
    left_front: Value
    right_front: Value
    left_rear: Value
    right_rear: Value


@dataclass(frozen=True, slots=True)
class GravityPoint:
    """Where the centre of gravity stands in plan.

    Parameters
    ----------
    behind_front_mm : behind the front axle [mm]
    right_of_middle_mm : to the right of the middle of the vehicle, negative to the left [mm]
    """

    behind_front_mm: Value
    right_of_middle_mm: Value


def axle_loads(mass_kg: Value, gravity_behind_front_mm: Value, wheelbase_mm: Value) -> AxleLoads:
    """Mass on each axle.

    Parameters
    ----------
    mass_kg : in all [kg]
    gravity_behind_front_mm : centre of gravity behind the front axle [mm]
    wheelbase_mm : between the axles [mm]

    Returns
    -------
    mass on each axle

    Raises
    ------
    OutOfRange
        if the wheelbase is not positive, or the mass negative

    Notes
    -----
    Levers about the axles; a centre behind the rear axle lifts the front. Valid on the level, two axles.

    References
    ----------
    R. N. Jazar, Vehicle Dynamics, ch. 2.

    Examples
    --------
    >>> round(axle_loads(890, 780, 2350).front * 9.81 / 2, 1)
    2916.5
    """
    positive(wheelbase_mm=wheelbase_mm)
    not_negative(mass_kg=mass_kg)
    rear = mass_kg * gravity_behind_front_mm / wheelbase_mm
    return AxleLoads(mass_kg - rear, rear)


def axle_masses_of_items(mass_kg: FloatArray, behind_front_mm: FloatArray, wheelbase_mm: float) -> AxleLoads:
    """What things placed along the vehicle put on its axles.

    Parameters
    ----------
    mass_kg : of each; negative for what is taken out (..., n) [kg]
    behind_front_mm : where each lies behind the front axle, negative ahead of it; a trailer's ball load lies at the
        ball (..., n) [mm]
    wheelbase_mm : between the axles [mm]

    Returns
    -------
    mass added to each axle

    Raises
    ------
    OutOfRange
        if the wheelbase is not positive

    Notes
    -----
    Levers about the axles, summed: what hangs behind the rear axle takes load off the front. Valid on the level.

    References
    ----------
    Statics.

    Examples
    --------
    >>> added = axle_masses_of_items([75, 40], [3500, 2000], 2460)
    >>> round(added.front, 1), round(added.rear, 1)
    (-24.2, 139.2)
    """
    positive(wheelbase_mm=wheelbase_mm)
    mass, place = np.asarray(mass_kg, dtype=float), np.asarray(behind_front_mm, dtype=float)
    rear, whole = np.sum(mass * place, axis=-1) / wheelbase_mm, np.sum(mass, axis=-1)
    return AxleLoads(_number(whole - rear), _number(rear))


def _number(value: FloatArray) -> Value:
    return value if np.ndim(value) else float(value)


def gravity_behind_front(front_load: Value, rear_load: Value, wheelbase_mm: Value) -> Value:
    """Centre of gravity behind the front axle, from the loads on the axles.

    Parameters
    ----------
    front_load : on the front axle, or on one front wheel [kg]
    rear_load : on the rear axle, or on one rear wheel [kg]
    wheelbase_mm : between the axles [mm]

    Returns
    -------
    distance [mm]

    Raises
    ------
    OutOfRange
        if the whole load or the wheelbase is not positive, or a load negative

    Notes
    -----
    L x rear / (front + rear). Valid on the level; masses or forces alike, as only their shares count.

    References
    ----------
    R. N. Jazar, Vehicle Dynamics, ch. 2.

    Examples
    --------
    >>> round(gravity_behind_front(2000, 1800, 2340), 1)
    1108.4
    """
    positive(wheelbase_mm=wheelbase_mm, **{"the whole load": front_load + rear_load})
    not_negative(front_load=front_load, rear_load=rear_load)
    return wheelbase_mm * rear_load / (front_load + rear_load)


def gravity_height(
    wheelbase_mm: Value,
    mass_kg: Value,
    front_level_kg: Value,
    front_raised_kg: Value,
    raise_mm: Value,
    axle_height_mm: Value,
) -> Value:
    """Height of the centre of gravity, from weighing with the rear raised.

    Parameters
    ----------
    wheelbase_mm : between the axles [mm]
    mass_kg : in all [kg]
    front_level_kg : on the front axle, level [kg]
    front_raised_kg : on the front axle, rear raised [kg]
    raise_mm : rear axle above the front one [mm]
    axle_height_mm : hub centres above the ground, level [mm]

    Returns
    -------
    height above the ground [mm]

    Raises
    ------
    OutOfRange
        if the raise is not above zero and below the wheelbase, or the front is not heavier with the rear raised

    Notes
    -----
    L dW / (W tan t) + axle height, sin t = raise / L. Valid with the suspension locked, tanks full or empty, brakes
    free. A sine in place of the tangent, found in places, is 2 % off at 11.5 degrees. Raise by 400 mm or more,
    chocked.

    References
    ----------
    A scale maker's technical article on centre of gravity height; common practice.

    Examples
    --------
    >>> round(gravity_height(2500, 1000, 550, 575, 500, 300), 1)
    606.2
    """
    positive(mass_kg=mass_kg, raise_mm=raise_mm, **{"the wheelbase less the raise": wheelbase_mm - raise_mm})
    not_negative(front_level_kg=front_level_kg, axle_height_mm=axle_height_mm)
    positive(
        **{
            "what raising adds to the front": front_raised_kg - front_level_kg,
            "the load left on the rear": mass_kg - front_raised_kg,
        }
    )
    tangent = raise_mm / sqrt(wheelbase_mm * wheelbase_mm - raise_mm * raise_mm)
    return wheelbase_mm * (front_raised_kg - front_level_kg) / (mass_kg * tangent) + axle_height_mm


def largest_acceleration(
    front_static_n: Value,
    rear_static_n: Value,
    height_mm: Value,
    wheelbase_mm: Value,
    adhesion: Value,
    *,
    driven: Literal["front", "rear", "all"],
) -> Value:
    """Acceleration the grip of the driven wheels allows.

    Parameters
    ----------
    front_static_n : load on the front axle, standing [N]
    rear_static_n : load on the rear axle, standing [N]
    height_mm : of the centre of gravity [mm]
    wheelbase_mm : between the axles [mm]
    adhesion : of tyre and road [-]
    driven : front, rear or all

    Returns
    -------
    acceleration [mm/s**2]

    Raises
    ------
    OutOfRange
        if a figure is negative or nothing, or no axle of that name is driven

    Notes
    -----
    mu W_driven / W over 1 + mu h / L in front, 1 - mu h / L behind; never more than lifts the front. Valid on the
    level, power to spare.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, traction-limited acceleration.

    Examples
    --------
    >>> round(largest_acceleration(6000, 4000, 350, 2600, 0.6, driven="front") / 1000, 2)
    3.27
    """
    positive(wheelbase_mm=wheelbase_mm, adhesion=adhesion, **{"the whole load": front_static_n + rear_static_n})
    not_negative(front_static_n=front_static_n, rear_static_n=rear_static_n, height_mm=height_mm)
    moved, whole = adhesion * height_mm / wheelbase_mm, front_static_n + rear_static_n
    match driven.strip().lower():
        case "front":
            return STANDARD_GRAVITY * adhesion * front_static_n / whole / (1 + moved)
        case "rear":
            within(0.0, 0.999, "below one", **{"the share of load that moves": moved})
            grip = STANDARD_GRAVITY * adhesion * rear_static_n / whole / (1 - moved)
            return least(grip, _lifting(front_static_n, whole, height_mm, wheelbase_mm))
        case "all":
            return least(adhesion * STANDARD_GRAVITY, _lifting(front_static_n, whole, height_mm, wheelbase_mm))
    raise OutOfRange("driven", "front, rear or all", str(driven))


def _lifting(front_static_n: Value, whole_n: Value, height_mm: Value, wheelbase_mm: Value) -> Value:
    """Acceleration at which the front axle lifts."""
    return STANDARD_GRAVITY * front_static_n * wheelbase_mm / whole_n / greatest(height_mm, 1e-9)


def lateral_transfer(mass_kg: Value, height_mm: Value, track_mm: Value, lateral: Value) -> Value:
    """Mass a bend moves from the inner to the outer wheels.

    Parameters
    ----------
    mass_kg : of the vehicle, or on one axle [kg]
    height_mm : of its centre of gravity [mm]
    track_mm : between the wheels [mm]
    lateral : acceleration across, as a share of gravity [-]

    Returns
    -------
    mass added outside and taken off inside [kg]

    Raises
    ------
    OutOfRange
        if the track is not positive, or a figure negative

    Notes
    -----
    m a h / t. Valid for the whole vehicle in a steady bend, until a wheel lifts; how the axles share it hangs on their
    roll rates and roll centres.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, cornering.

    Examples
    --------
    >>> lateral_transfer(1600, 600, 1500, 0.5)
    320.0
    """
    positive(track_mm=track_mm)
    not_negative(mass_kg=mass_kg, height_mm=height_mm, lateral=lateral)
    return mass_kg * lateral * height_mm / track_mm


def tipping_rate(track_mm: Value, height_mm: Value) -> Value:
    """Lateral acceleration at which a stiff vehicle would tip.

    Parameters
    ----------
    track_mm : between the wheels, mean of the axles [mm]
    height_mm : of the centre of gravity, laden as meant [mm]

    Returns
    -------
    acceleration as a share of gravity [-]

    Raises
    ------
    OutOfRange
        if a length is not positive

    Notes
    -----
    t / (2 h). Valid as a figure from above: springs, tyres and a load that shifts take a tenth to a fifth off, common
    practice. Lifting a vehicle or loading its roof lowers it; local code may set a least value.

    References
    ----------
    National Highway Traffic Safety Administration, ruling on rollover resistance, ch. V, static stability factor.

    Examples
    --------
    >>> tipping_rate(1500, 600)
    1.25
    """
    positive(track_mm=track_mm, height_mm=height_mm)
    return track_mm / (2 * height_mm)


def gravity_from_corners(
    left_front_kg: Value,
    right_front_kg: Value,
    left_rear_kg: Value,
    right_rear_kg: Value,
    wheelbase_mm: Value,
    front_track_mm: Value,
    rear_track_mm: Value,
) -> GravityPoint:
    """Where the centre of gravity stands in plan, from the loads on four wheels.

    Parameters
    ----------
    left_front_kg : on that wheel [kg]
    right_front_kg : on that wheel [kg]
    left_rear_kg : on that wheel [kg]
    right_rear_kg : on that wheel [kg]
    wheelbase_mm : between the axles [mm]
    front_track_mm : between the front contacts [mm]
    rear_track_mm : between the rear contacts [mm]

    Returns
    -------
    where it stands

    Raises
    ------
    OutOfRange
        if a length is not positive, a load negative, or there is none

    Notes
    -----
    Levers about the front axle and the middle of the vehicle. Valid on level scales; a cross that is uneven does not
    change it.

    References
    ----------
    Statics.

    Examples
    --------
    >>> point = gravity_from_corners(400, 420, 380, 400, 2500, 1500, 1480)
    >>> round(point.behind_front_mm, 1), round(point.right_of_middle_mm, 1)
    (1218.8, 18.6)
    """
    not_negative(
        left_front_kg=left_front_kg, right_front_kg=right_front_kg, left_rear_kg=left_rear_kg,
        right_rear_kg=right_rear_kg,
    )  # fmt: skip
    whole = left_front_kg + right_front_kg + left_rear_kg + right_rear_kg
    positive(
        wheelbase_mm=wheelbase_mm,
        front_track_mm=front_track_mm,
        rear_track_mm=rear_track_mm,
        **{"the whole load": whole},
    )
    across = (right_front_kg - left_front_kg) * front_track_mm + (right_rear_kg - left_rear_kg) * rear_track_mm
    return GravityPoint((left_rear_kg + right_rear_kg) * wheelbase_mm / whole, across / 2 / whole)


def cross_weight(left_front_kg: Value, right_front_kg: Value, left_rear_kg: Value, right_rear_kg: Value) -> Value:
    """Share of the load on the right front and left rear wheels.

    Parameters
    ----------
    left_front_kg : on that wheel [kg]
    right_front_kg : on that wheel [kg]
    left_rear_kg : on that wheel [kg]
    right_rear_kg : on that wheel [kg]

    Returns
    -------
    share [-]

    Raises
    ------
    OutOfRange
        if the whole load is not positive, or one is negative

    Notes
    -----
    (RF + LR) / all; some pages take the other diagonal. Valid on level scales, driver's weight in. Aim at one half
    for the road.

    References
    ----------
    A suspension tuner's public guide to corner weights.

    Examples
    --------
    >>> round(cross_weight(694, 606, 670, 585), 4)
    0.4994
    """
    whole = left_front_kg + right_front_kg + left_rear_kg + right_rear_kg
    positive(**{"the whole load": whole})
    not_negative(
        left_front_kg=left_front_kg, right_front_kg=right_front_kg, left_rear_kg=left_rear_kg,
        right_rear_kg=right_rear_kg,
    )  # fmt: skip
    return (right_front_kg + left_rear_kg) / whole


def corner_targets(left_kg: Value, right_kg: Value, left_front_share: Value, right_front_share: Value) -> CornerTargets:
    """What each corner should carry, the load of each side given.

    Parameters
    ----------
    left_kg : on the left side [kg]
    right_kg : on the right side [kg]
    left_front_share : of the left side's load, in front, as it stands [-]
    right_front_share : of the right side's load, in front, as it stands [-]

    Returns
    -------
    the share wanted and the four loads

    Raises
    ------
    OutOfRange
        if a share is not from zero to one, or a load negative

    Notes
    -----
    Both sides get the mean of the two shares. Valid where spring seats can be set; it moves load along diagonals only.

    References
    ----------
    A suspension tuner's public guide to corner weights.

    Examples
    --------
    >>> target = corner_targets(1364, 1191, 0.528, 0.490)
    >>> round(target.left_front), round(target.right_rear)
    (694, 585)
    """
    within(0.0, 1.0, "from zero to one", left_front_share=left_front_share, right_front_share=right_front_share)
    not_negative(left_kg=left_kg, right_kg=right_kg)
    share = (left_front_share + right_front_share) / 2
    return CornerTargets(share, share * left_kg, share * right_kg, (1 - share) * left_kg, (1 - share) * right_kg)
