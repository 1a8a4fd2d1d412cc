"""Mounts of a power unit: torque reaction, roll, what each mount carries.

A power unit is heavy: sling and stand rated for it, nobody underneath while it moves.
"""

from __future__ import annotations

import numpy as np

from .arithmetic import STANDARD_GRAVITY, FloatArray, OutOfRange, Value, numbers, positive

__all__ = ["mount_couple", "mount_loads", "reaction_torque", "roll_movement", "unit_roll"]

HAZARDS = ("lifting",)


def reaction_torque(engine_torque_nmm: Value, gear_ratio: Value) -> Value:
    """Torque the mounts of a power unit hold in a gear.

    Parameters
    ----------
    engine_torque_nmm : at the crank, with the converter's gain [N*mm]
    gear_ratio : between crank and what leaves the power unit: gear, and axle ratio where it is built in [-]

    Returns
    -------
    torque about the axis of what leaves it [N*mm]

    Raises
    ------
    OutOfRange
        if the ratio is not positive

    Notes
    -----
    torque x ratio. Valid at steady speed; a dropped clutch gives up to three times as much, common practice.

    References
    ----------
    Statics.

    Examples
    --------
    >>> reaction_torque(300_000, 3.5)
    1050000.0
    """
    positive(gear_ratio=gear_ratio)
    return engine_torque_nmm * gear_ratio


def mount_couple(torque_nmm: Value, span_mm: Value) -> Value:
    """Force a pair of mounts adds and takes off to hold a torque.

    Parameters
    ----------
    torque_nmm : held [N*mm]
    span_mm : between the two mounts [mm]

    Returns
    -------
    down on one, up on the other [N]

    Raises
    ------
    OutOfRange
        if the span is not positive

    Notes
    -----
    torque / span. Valid where the pair alone holds the torque.

    References
    ----------
    Statics.

    Examples
    --------
    >>> mount_couple(1_050_000, 600)
    1750.0
    """
    positive(span_mm=span_mm)
    return torque_nmm / span_mm


def unit_roll(torque_nmm: Value, rate_n_per_mm: Value, span_mm: Value) -> Value:
    """Roll of a power unit on its pair of mounts.

    Parameters
    ----------
    torque_nmm : held by the pair [N*mm]
    rate_n_per_mm : of one mount, along its load [N/mm]
    span_mm : between the two mounts [mm]

    Returns
    -------
    roll [rad]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    torque / (k s^2 / 2). Valid for small roll on mounts of even rate; rubber stiffens, stops come in.

    References
    ----------
    Statics.

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(unit_roll(1_050_000, 300, 600)), 2)
    1.11
    """
    positive(rate_n_per_mm=rate_n_per_mm, span_mm=span_mm)
    return torque_nmm / (rate_n_per_mm * span_mm * span_mm / 2)


def roll_movement(torque_nmm: Value, rate_n_per_mm: Value, span_mm: Value, arm_mm: Value) -> Value:
    """How far a place on the power unit moves as it rolls.

    Parameters
    ----------
    torque_nmm : held by the pair of mounts [N*mm]
    rate_n_per_mm : of one mount [N/mm]
    span_mm : between the two mounts [mm]
    arm_mm : the place from the axis of roll [mm]

    Returns
    -------
    movement, square to the arm [mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    arm x roll. Valid as for `unit_roll`; check by rocking the unit with a bar.

    References
    ----------
    Statics.

    Examples
    --------
    >>> round(roll_movement(1_050_000, 300, 600, 350), 2)
    6.81
    """
    return arm_mm * unit_roll(torque_nmm, rate_n_per_mm, span_mm)


def mount_loads(
    mount_point: FloatArray, mass_point: FloatArray, mass_kg: float, *, rate_n_per_mm: FloatArray | None = None
) -> FloatArray:
    """What each mount carries of a power unit at rest.

    Parameters
    ----------
    mount_point : of each mount, three or more, fore-aft and across (n, 2) [mm]
    mass_point : of the centre of gravity, fore-aft and across (2,) [mm]
    mass_kg : of the power unit with what hangs on it [kg]
    rate_n_per_mm : of each mount, up and down; all alike where none is given; of three it does not matter (n,) [N/mm]

    Returns
    -------
    load on each, negative where it is pulled up (n,) [N]

    Raises
    ------
    OutOfRange
        if all stand in a line, there are fewer than three, or the mass or a rate is not positive

    Notes
    -----
    Three equations of rest; of more than three mounts the unit settles as a stiff body on springs. Valid for a stiff
    unit and frame, mounts at one height: a shim of a millimetre shifts about as many newtons as the mount's rate.

    References
    ----------
    Statics.

    Examples
    --------
    >>> mount_loads([[0, -300], [0, 300], [700, 0]], [210, 15], 240).round(1).tolist()
    [764.9, 882.6, 706.1]
    """
    positive(mass_kg=mass_kg)
    points, middle = numbers("mount_point", mount_point, (-1, 2)), numbers("mass_point", mass_point, (2,))
    if len(points) < 3:
        raise OutOfRange("mount_point", "three places or more", str(len(points)))
    rates = np.ones(len(points)) if rate_n_per_mm is None else numbers("rate_n_per_mm", rate_n_per_mm, (len(points),))
    positive(rate_n_per_mm=rates)
    span = max(1.0, float(np.ptp(points)))
    plane = np.column_stack([np.ones(len(points)), (points - middle) / span])
    if np.linalg.matrix_rank(plane, tol=1e-6) < 3:
        raise OutOfRange("mount_point", "places that do not stand in a line", "a line")
    whole = np.array([mass_kg * STANDARD_GRAVITY / 1000, 0.0, 0.0])
    settled = np.linalg.solve(plane.T @ (rates[:, None] / rates.max() * plane), whole)
    loads: FloatArray = rates / rates.max() * (plane @ settled)
    return loads
