"""What springs and dampers let the vehicle do: how it swings, and how it rolls."""

from __future__ import annotations

import numpy as np

from ..arithmetic import STANDARD_GRAVITY, Value, not_negative, positive, sqrt

TURN = float(2 * np.pi)


def natural_frequency(rate_n_per_mm: Value, mass_kg: Value) -> Value:
    """Frequency of a mass on a spring.

    Parameters
    ----------
    rate_n_per_mm : at the wheel, with the tyre in series where it counts [N/mm]
    mass_kg : it carries: the sprung mass of the corner [kg]

    Returns
    -------
    frequency [Hz]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    sqrt(k / m) / 2 pi. Valid undamped. Starting values, common practice: 1.0 to 1.5 Hz for a road vehicle, rear a
    tenth above front.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, ride.

    Examples
    --------
    >>> round(natural_frequency(60.922, 312), 2)
    2.22
    """
    positive(rate_n_per_mm=rate_n_per_mm, mass_kg=mass_kg)
    return sqrt(1000 * rate_n_per_mm / mass_kg) / TURN


def critical_damping(rate_n_per_mm: Value, mass_kg: Value, *, share: Value = 1.0, motion_ratio: Value = 1.0) -> Value:
    """Damper coefficient for a share of critical damping.

    Parameters
    ----------
    rate_n_per_mm : at the wheel [N/mm]
    mass_kg : sprung mass of the corner [kg]
    share : of critical damping; 0.2 to 0.4 for a road vehicle, common practice [-]
    motion_ratio : travel of the damper to travel of the wheel [-]

    Returns
    -------
    coefficient of the damper, bump and rebound averaged [N*s/mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    2 z sqrt(k m) / ratio^2. Valid for damping in proportion to speed; real dampers bend off, so compare at 0.1 to
    0.3 m/s.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, ride.

    Examples
    --------
    >>> round(critical_damping(25.0, 350, share=0.3), 3)
    1.775
    """
    positive(rate_n_per_mm=rate_n_per_mm, mass_kg=mass_kg, share=share, motion_ratio=motion_ratio)
    return 2 * share * sqrt(rate_n_per_mm * mass_kg / 1000) / (motion_ratio * motion_ratio)


def damping_share(
    coefficient_n_s_per_mm: Value, rate_n_per_mm: Value, mass_kg: Value, *, motion_ratio: Value = 1.0
) -> Value:
    """Share of critical damping that a damper gives.

    Parameters
    ----------
    coefficient_n_s_per_mm : of the damper: force over speed, bump and rebound averaged [N*s/mm]
    rate_n_per_mm : at the wheel [N/mm]
    mass_kg : sprung mass of the corner [kg]
    motion_ratio : travel of the damper to travel of the wheel [-]

    Returns
    -------
    share; 0.2 to 0.4 for a road vehicle, common practice [-]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    c m^2 / (2 sqrt(k m)), the inverse of `critical_damping`. Valid as that is.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, ride.

    Examples
    --------
    >>> round(damping_share(1.775, 25.0, 350), 3)
    0.3
    """
    not_negative(coefficient_n_s_per_mm=coefficient_n_s_per_mm)
    return coefficient_n_s_per_mm / critical_damping(rate_n_per_mm, mass_kg, motion_ratio=motion_ratio)


def roll_angle(mass_kg: Value, arm_mm: Value, lateral: Value, roll_rate_nmm_per_rad: Value) -> Value:
    """How far a body rolls in a bend.

    Parameters
    ----------
    mass_kg : sprung mass of the vehicle [kg]
    arm_mm : centre of gravity above the roll axis [mm]
    lateral : acceleration across, as a share of gravity [-]
    roll_rate_nmm_per_rad : of both axles together, springs and bars [N*mm/rad]

    Returns
    -------
    roll [rad]

    Raises
    ------
    OutOfRange
        if a figure is not positive, or the springs are too soft to hold it upright

    Notes
    -----
    W h a / (K - W h). Valid for small angles, steady bend; tyres add to it. `arches.rise_in_roll` says what it does
    in the arch.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, cornering, roll of the body.

    Examples
    --------
    >>> from math import degrees
    >>> round(degrees(roll_angle(1500, 400, 0.5, 50e6)), 2)
    3.82
    """
    positive(mass_kg=mass_kg, roll_rate_nmm_per_rad=roll_rate_nmm_per_rad)
    not_negative(arm_mm=arm_mm, lateral=lateral)
    leaning = mass_kg * STANDARD_GRAVITY / 1000 * arm_mm
    positive(**{"the roll rate left once the weight leans out": roll_rate_nmm_per_rad - leaning})
    return leaning * lateral / (roll_rate_nmm_per_rad - leaning)


def roll_rate(rate_n_per_mm: Value, spread_mm: Value) -> Value:
    """Moment of an axle's springs against roll.

    Parameters
    ----------
    rate_n_per_mm : of one side: at the wheel with the track, or of the spring with the distance between the springs
        [N/mm]
    spread_mm : between the two sides where that rate acts [mm]

    Returns
    -------
    moment for each radian of roll [N*mm/rad]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    k s^2 / 2. Valid for small roll. On a beam axle the springs stand inside the track, so use their own distance.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, roll stiffness.

    Examples
    --------
    >>> round(roll_rate(25.0, 1500) / 1e6, 3)
    28.125
    """
    positive(rate_n_per_mm=rate_n_per_mm, spread_mm=spread_mm)
    return rate_n_per_mm * spread_mm * spread_mm / 2


def bar_roll_rate(
    diameter_mm: Value,
    bar_length_mm: Value,
    arm_mm: Value,
    motion_ratio: Value,
    track_mm: Value,
    *,
    shear_modulus_mpa: Value,
) -> Value:
    """Moment of an anti-roll bar against roll.

    Parameters
    ----------
    diameter_mm : of the bar, solid [mm]
    bar_length_mm : that twists, between its arms [mm]
    arm_mm : bar to its link, square to both [mm]
    motion_ratio : travel of the link to travel of the wheel [-]
    track_mm : between the wheels [mm]
    shear_modulus_mpa : 79 000 to 82 000 for spring steel [MPa]

    Returns
    -------
    moment for each radian of roll [N*mm/rad]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    Twist alone: G pi d^4 / 32 L at the bar, over its arms to the wheels: x (m t / a)^2. Valid as a figure from
    above: arms that bend and bushes that give take a tenth to a third off.

    References
    ----------
    J. E. Shigley, Mechanical Engineering Design, torsion.

    Examples
    --------
    >>> round(bar_roll_rate(22, 900, 220, 0.6, 1500, shear_modulus_mpa=80_000) / 1e6, 1)
    34.2
    """
    positive(diameter_mm=diameter_mm, bar_length_mm=bar_length_mm, arm_mm=arm_mm, track_mm=track_mm)
    positive(motion_ratio=motion_ratio, shear_modulus_mpa=shear_modulus_mpa)
    twist = shear_modulus_mpa * float(np.pi) * diameter_mm**4 / (32 * bar_length_mm)
    lever = motion_ratio * track_mm / arm_mm
    return twist * lever * lever
