"""Axle and corner loads, centre of gravity, grip under power.

Weigh on level scales of equal height, springs settled. A vehicle raised on one end stands chocked on rated stands,
with nobody under it. Ratings of axles, tyres and the vehicle are for its papers, not for arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from .arithmetic import STANDARD_GRAVITY, FloatArray, OutOfRange, Value, positive, sqrt, within

__all__ = [
    "AxleLoads",
    "CornerTargets",
    "axle_loads",
    "axle_masses_of_items",
    "corner_targets",
    "cross_weight",
    "gravity_behind_front",
    "gravity_height",
    "largest_acceleration",
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
        if the wheelbase is not positive

    Notes
    -----
    Levers about the axles. Valid on the level, two axles.

    References
    ----------
    R. N. Jazar, Vehicle Dynamics, ch. 2.

    Examples
    --------
    >>> round(axle_loads(890, 780, 2350).front * 9.81 / 2, 1)
    2916.5
    """
    positive(wheelbase_mm=wheelbase_mm)
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
        if the whole load is not positive

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
    positive(whole_load=front_load + rear_load)
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
        if the raise is not above zero and below the wheelbase

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
    positive(mass_kg=mass_kg, raise_mm=raise_mm, wheelbase_less_raise_mm=wheelbase_mm - raise_mm)
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
        if a figure is not positive, or no axle of that name is driven

    Notes
    -----
    mu W_driven / W over 1 + mu h / L in front, 1 - mu h / L behind. Valid on the level, power to spare, no axle
    lifted.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, traction-limited acceleration.

    Examples
    --------
    >>> round(largest_acceleration(6000, 4000, 350, 2600, 0.6, driven="front") / 1000, 2)
    3.27
    """
    positive(wheelbase_mm=wheelbase_mm, adhesion=adhesion)
    moved, whole = adhesion * height_mm / wheelbase_mm, front_static_n + rear_static_n
    match driven:
        case "front":
            return STANDARD_GRAVITY * adhesion * front_static_n / whole / (1 + moved)
        case "rear":
            within(0.0, 0.999, "below one", transfer=moved)
            return STANDARD_GRAVITY * adhesion * rear_static_n / whole / (1 - moved)
        case "all":
            return STANDARD_GRAVITY * adhesion
    raise OutOfRange("driven", "front, rear or all", str(driven))


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
        if the whole load is not positive

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
    positive(whole_kg=whole)
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
        if a share is not from zero to one

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
    share = (left_front_share + right_front_share) / 2
    return CornerTargets(share, share * left_kg, share * right_kg, (1 - share) * left_kg, (1 - share) * right_kg)
