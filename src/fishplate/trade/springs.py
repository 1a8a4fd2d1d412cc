"""Springs and dampers: rates, stress, lengths under load, frequencies, roll.

Springs carry the vehicle and store enough to kill: compress them only with tools made for it, and cycle the suspension
without them. The figures leave out end friction, bushes and ageing.
"""

from __future__ import annotations

import numpy as np

from .arithmetic import STANDARD_GRAVITY, FloatArray, Value, cos, not_negative, positive, sqrt, within

__all__ = [
    "air_rate",
    "bar_roll_rate",
    "coil_stress",
    "critical_damping",
    "damping_share",
    "inclined_rate",
    "leaf_rate",
    "leaf_stress",
    "loaded_length",
    "measured_rate",
    "natural_frequency",
    "parallel_rate",
    "ride_error",
    "roll_angle",
    "roll_rate",
    "series_rate",
    "solid_length",
    "spring_rate",
    "static_deflection",
    "torsion_bar_rate",
    "torsion_bar_stress",
    "wheel_rate",
]

HAZARDS = ("suspension",)

TURN = float(2 * np.pi)
AIR_MPA = 0.101325
QUARTER_TURN = float(np.pi / 2)


def spring_rate(wire_mm: Value, coil_mm: Value, active_turns: Value, *, shear_modulus_mpa: Value) -> Value:
    """Rate of a round-wire helical compression spring.

    Parameters
    ----------
    wire_mm : thickness of the wire [mm]
    coil_mm : mean diameter of the coil, outside less one wire [mm]
    active_turns : that move; closed and ground ends take two [-]
    shear_modulus_mpa : 79 000 to 82 000 for spring steel [MPa]

    Returns
    -------
    rate [N/mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive, or the coil less than three wires wide

    Notes
    -----
    k = G d^4 / (8 D^3 n). Valid in the linear range, constant pitch, no end friction. Sources take moduli 6 % apart.

    References
    ----------
    J. E. Shigley, Mechanical Engineering Design, helical springs.

    Examples
    --------
    >>> round(spring_rate(12, 100, 6, shear_modulus_mpa=81_500), 2)
    35.21
    """
    positive(wire_mm=wire_mm, coil_mm=coil_mm, active_turns=active_turns, shear_modulus_mpa=shear_modulus_mpa)
    within(3.0, 1e6, "three wires or more", **{"the coil over its wire": coil_mm / wire_mm})
    return shear_modulus_mpa * wire_mm**4 / (8 * coil_mm**3 * active_turns)


def coil_stress(load_n: Value, wire_mm: Value, coil_mm: Value) -> Value:
    """Largest shear stress in a round-wire helical spring.

    Parameters
    ----------
    load_n : on the spring [N]
    wire_mm : thickness of the wire [mm]
    coil_mm : mean diameter of the coil [mm]

    Returns
    -------
    stress on the inside of the coil [MPa]

    Raises
    ------
    OutOfRange
        if a size is not positive, the load negative, or the coil less than three wires wide

    Notes
    -----
    Wahl: K 8 F D / (pi d^3), K = (4C - 1) / (4C - 4) + 0.615 / C, C = D / d. Valid for C of 3 and more. What the
    wire bears is for its maker to say; look at full bump.

    References
    ----------
    J. E. Shigley, Mechanical Engineering Design, helical springs; A. M. Wahl.

    Examples
    --------
    >>> round(coil_stress(3000, 12, 100), 1)
    519.9
    """
    not_negative(load_n=load_n)
    positive(wire_mm=wire_mm, coil_mm=coil_mm)
    index = coil_mm / wire_mm
    within(3.0, 1e6, "three wires or more", **{"the coil over its wire": index})
    wahl = (4 * index - 1) / (4 * index - 4) + 0.615 / index
    return wahl * 8 * load_n * coil_mm / (float(np.pi) * wire_mm**3)


def solid_length(wire_mm: Value, turns: Value) -> Value:
    """Length of a compressed spring with its coils touching.

    Parameters
    ----------
    wire_mm : thickness of the wire [mm]
    turns : in all, ends included [-]

    Returns
    -------
    length [mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    (turns - 0.25) x wire. Valid for tapered or ground ends; the bump stop must come first.

    References
    ----------
    A spring maker's technical notes on spring height.

    Examples
    --------
    >>> solid_length(12.7, 14) / 25.4
    6.875
    """
    positive(wire_mm=wire_mm, turns=turns)
    return (turns - 0.25) * wire_mm


def leaf_rate(
    leaves: Value, width_mm: Value, thickness_mm: Value, span_mm: Value, *, modulus_mpa: Value, full_leaves: Value = 0.0
) -> Value:
    """Rate of a semi-elliptic leaf spring.

    Parameters
    ----------
    leaves : in all, of one thickness [-]
    width_mm : of a leaf [mm]
    thickness_mm : of a leaf [mm]
    span_mm : eye to eye, less what the clamp holds stiff [mm]
    modulus_mpa : Young's modulus, 200 000 to 207 000 for spring steel [MPa]
    full_leaves : of them as long as the main leaf, beside it, and not tapered [-]

    Returns
    -------
    rate at the axle [N/mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive, or more leaves are full than there are

    Notes
    -----
    4 E b t^3 (2 n_graduated + 3 n_full) / (3 s^3), the main leaf counted as graduated. Valid for an axle in the middle
    and small travel; friction between leaves adds a tenth or more until they slide, common practice. Of the clamp two
    thirds of the distance between its bolts count as stiff.

    References
    ----------
    R. S. Khurmi and J. K. Gupta, A Textbook of Machine Design, leaf springs (from memory).

    Examples
    --------
    >>> round(leaf_rate(7, 60, 8, 1100, modulus_mpa=205_000), 2)
    88.32
    """
    positive(leaves=leaves, width_mm=width_mm, thickness_mm=thickness_mm, span_mm=span_mm, modulus_mpa=modulus_mpa)
    not_negative(full_leaves=full_leaves, **{"the leaves that are not full": leaves - full_leaves})
    counted = 2 * (leaves - full_leaves) + 3 * full_leaves
    return 4 * modulus_mpa * width_mm * thickness_mm**3 * counted / (3 * span_mm**3)


def leaf_stress(load_n: Value, leaves: Value, width_mm: Value, thickness_mm: Value, span_mm: Value) -> Value:
    """Bending stress in the leaves of a semi-elliptic spring.

    Parameters
    ----------
    load_n : at the axle [N]
    leaves : in all, of one thickness [-]
    width_mm : of a leaf [mm]
    thickness_mm : of a leaf [mm]
    span_mm : eye to eye, less what the clamp holds stiff [mm]

    Returns
    -------
    stress at the clamp [MPa]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    1.5 F s / (n b t^2). Valid for leaves nipped so that all bear alike; a full leaf without nip bears half as much
    again. What the steel bears is for its maker to say; look at full bump.

    References
    ----------
    R. S. Khurmi and J. K. Gupta, A Textbook of Machine Design, leaf springs (from memory).

    Examples
    --------
    >>> round(leaf_stress(5000, 7, 60, 8, 1100), 1)
    306.9
    """
    not_negative(load_n=load_n)
    positive(leaves=leaves, width_mm=width_mm, thickness_mm=thickness_mm, span_mm=span_mm)
    return 1.5 * load_n * span_mm / (leaves * width_mm * thickness_mm * thickness_mm)


def torsion_bar_rate(diameter_mm: Value, bar_length_mm: Value, lever_mm: Value, *, shear_modulus_mpa: Value) -> Value:
    """Rate of a torsion bar at the end of its lever.

    Parameters
    ----------
    diameter_mm : of the bar, solid [mm]
    bar_length_mm : that twists, between its splines [mm]
    lever_mm : bar to where the rate is wanted, square to the bar and to the way that end goes [mm]
    shear_modulus_mpa : 76 000 to 82 000 for spring steel [MPa]

    Returns
    -------
    rate [N/mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    G pi d^4 / (32 L a^2). Valid with the lever near level; with the lever to the wheel's middle it is the wheel rate. A
    lever that hangs stiffens as it leaves level.

    References
    ----------
    J. E. Shigley, Mechanical Engineering Design, torsion.

    Examples
    --------
    >>> round(torsion_bar_rate(22, 1000, 300, shear_modulus_mpa=80_000), 2)
    20.44
    """
    positive(
        diameter_mm=diameter_mm, bar_length_mm=bar_length_mm, lever_mm=lever_mm, shear_modulus_mpa=shear_modulus_mpa
    )
    return shear_modulus_mpa * float(np.pi) * diameter_mm**4 / (32 * bar_length_mm * lever_mm * lever_mm)


def torsion_bar_stress(force_n: Value, lever_mm: Value, diameter_mm: Value) -> Value:
    """Shear stress at the skin of a torsion bar.

    Parameters
    ----------
    force_n : at the end of the lever [N]
    lever_mm : bar to that end, square to the force [mm]
    diameter_mm : of the bar, solid [mm]

    Returns
    -------
    stress [MPa]

    Raises
    ------
    OutOfRange
        if a length is not positive

    Notes
    -----
    16 F a / (pi d^3). Valid for a round bar away from its splines. What the bar bears, and which way it was pre-set, is
    for its maker to say: a bar pre-set for one side is not put on the other.

    References
    ----------
    J. E. Shigley, Mechanical Engineering Design, torsion.

    Examples
    --------
    >>> round(torsion_bar_stress(3000, 300, 22), 1)
    430.5
    """
    not_negative(force_n=force_n)
    positive(lever_mm=lever_mm, diameter_mm=diameter_mm)
    return 16 * force_n * lever_mm / (float(np.pi) * diameter_mm**3)


def air_rate(
    gauge_pressure_mpa: Value,
    area_mm2: Value,
    volume_mm3: Value,
    *,
    exponent: Value = 1.3,
    area_change_mm: Value = 0.0,
) -> Value:
    """Rate of an air spring.

    Parameters
    ----------
    gauge_pressure_mpa : above the air around it [MPa]
    area_mm2 : it acts on: load over gauge pressure [mm**2]
    volume_mm3 : of air, with reservoirs that stay open [mm**3]
    exponent : 1.0 moved slowly, 1.4 fast; 1.3 on the road, common practice [-]
    area_change_mm : how much that area grows for each mm of bump; nought for a straight piston [mm]

    Returns
    -------
    rate [N/mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive, or the exponent is not from 1.0 to 1.4

    Notes
    -----
    n (p + p_air) A^2 / V + p dA/ds, the air around it at 0.101325 MPa. Valid about the height at which area and volume
    were taken; near its stops a bellows is stiffer.

    References
    ----------
    Law of gases; J. Reimpell and others, The Automotive Chassis (from memory).

    Examples
    --------
    >>> round(air_rate(0.5, 10_000, 2_000_000, exponent=1.38), 2)
    41.49
    """
    positive(gauge_pressure_mpa=gauge_pressure_mpa, area_mm2=area_mm2, volume_mm3=volume_mm3)
    within(1.0, 1.4, "from 1.0 to 1.4", exponent=exponent)
    stiff = exponent * (gauge_pressure_mpa + AIR_MPA) * area_mm2 * area_mm2 / volume_mm3
    return stiff + gauge_pressure_mpa * area_change_mm


def measured_rate(load_n: Value, deflection_mm: Value) -> Value:
    """Rate of a spring from a load and how far it gave.

    Parameters
    ----------
    load_n : put on [N]
    deflection_mm : it gave [mm]

    Returns
    -------
    rate [N/mm]

    Raises
    ------
    OutOfRange
        if it did not give, or bore nothing

    Notes
    -----
    load / deflection. Valid in the linear range, past the first tenth of the travel.

    References
    ----------
    A spring maker's technical notes.

    Examples
    --------
    >>> round(measured_rate(1334.5, 69.85), 2)
    19.11
    """
    positive(load_n=load_n, deflection_mm=deflection_mm)
    return load_n / deflection_mm


def series_rate(rate_n_per_mm: FloatArray) -> Value:
    """Rate of springs stacked on each other, or of spring and tyre.

    Parameters
    ----------
    rate_n_per_mm : of each (..., n) [N/mm]

    Returns
    -------
    rate of all [N/mm]

    Raises
    ------
    OutOfRange
        if a rate is not positive

    Notes
    -----
    1 / sum(1 / k). Valid until one of them is solid.

    References
    ----------
    Statics.

    Examples
    --------
    >>> round(series_rate([200, 500]), 1)
    142.9
    """
    rates = np.asarray(rate_n_per_mm, dtype=float)
    positive(rate_n_per_mm=rates)
    result = 1 / np.sum(1 / rates, axis=-1)
    return result if result.ndim else float(result)


def parallel_rate(rate_n_per_mm: FloatArray) -> Value:
    """Rate of springs side by side that move alike.

    Parameters
    ----------
    rate_n_per_mm : of each (..., n) [N/mm]

    Returns
    -------
    rate of all [N/mm]

    Raises
    ------
    OutOfRange
        if a rate is not positive

    Notes
    -----
    sum(k). Valid where all move the same way and as far.

    References
    ----------
    Statics.

    Examples
    --------
    >>> parallel_rate([35.0, 8.0])
    43.0
    """
    rates = np.asarray(rate_n_per_mm, dtype=float)
    positive(rate_n_per_mm=rates)
    result = np.sum(rates, axis=-1)
    return result if result.ndim else float(result)


def inclined_rate(rate_n_per_mm: Value, lean_rad: Value) -> Value:
    """Rate of a leaning spring along the way its moving end goes.

    Parameters
    ----------
    rate_n_per_mm : along the spring [N/mm]
    lean_rad : between the spring and the way its end goes [rad]

    Returns
    -------
    rate along that way [N/mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, or it leans by more than a quarter of a turn

    Notes
    -----
    k cos^2: once for the force, once for the travel. Valid for small travel. A single cosine, found in places,
    leaves the travel out.

    References
    ----------
    Statics; common practice.

    Examples
    --------
    >>> from math import radians
    >>> round(inclined_rate(100, radians(30)), 1)
    75.0
    """
    positive(rate_n_per_mm=rate_n_per_mm)
    within(-QUARTER_TURN, QUARTER_TURN, "within a quarter of a turn", lean_rad=lean_rad)
    return rate_n_per_mm * cos(lean_rad) * cos(lean_rad)


def wheel_rate(rate_n_per_mm: Value, motion_ratio: Value) -> Value:
    """Rate of a spring as the wheel feels it.

    Parameters
    ----------
    rate_n_per_mm : of the spring [N/mm]
    motion_ratio : travel of the spring to travel of the wheel [-]

    Returns
    -------
    rate at the wheel [N/mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    k m^2. Valid about the height at which the ratio was measured; on a plain lever the ratio is the spring's arm over
    the wheel's.

    References
    ----------
    D. C. Barton and J. D. Fieldhouse, Automotive Chassis Engineering, 2018, eq. 3.29 to 3.33.

    Examples
    --------
    >>> wheel_rate(100, 250 / 400)
    39.0625
    """
    positive(rate_n_per_mm=rate_n_per_mm, motion_ratio=motion_ratio)
    return rate_n_per_mm * motion_ratio * motion_ratio


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


def static_deflection(load_n: Value, rate_n_per_mm: Value) -> Value:
    """How far a spring gives under a load.

    Parameters
    ----------
    load_n : on the spring [N]
    rate_n_per_mm : of the spring [N/mm]

    Returns
    -------
    deflection [mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, or the load pulls

    Notes
    -----
    load / rate. Valid in the linear range.

    References
    ----------
    Statics.

    Examples
    --------
    >>> static_deflection(2500, 10)
    250.0
    """
    positive(rate_n_per_mm=rate_n_per_mm)
    not_negative(load_n=load_n)
    return load_n / rate_n_per_mm


def loaded_length(free_length_mm: Value, load_n: Value, rate_n_per_mm: Value) -> Value:
    """Length of a spring under a load.

    Parameters
    ----------
    free_length_mm : unloaded [mm]
    load_n : on the spring, not on the wheel [N]
    rate_n_per_mm : of the spring [N/mm]

    Returns
    -------
    length [mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, the load pulls, or the spring has no length left

    Notes
    -----
    free - load / rate. Valid in the linear range, above the solid length.

    References
    ----------
    Statics.

    Examples
    --------
    >>> loaded_length(330, 4000, 40)
    230.0
    """
    length = free_length_mm - static_deflection(load_n, rate_n_per_mm)
    positive(**{"the length left of the spring": length})
    return length


def ride_error(free_length_mm: Value, load_n: Value, rate_n_per_mm: Value, seat_gap_mm: Value) -> Value:
    """How much too long a spring stands at ride height.

    Parameters
    ----------
    free_length_mm : unloaded [mm]
    load_n : on the spring at ride height [N]
    rate_n_per_mm : of the spring [N/mm]
    seat_gap_mm : between its seats at the ride height wanted [mm]

    Returns
    -------
    positive where the vehicle stands high [mm]

    Raises
    ------
    OutOfRange
        if the rate is not positive, the load pulls, or the spring has no length left

    Notes
    -----
    Loaded length - gap; at the wheel divide by the motion ratio. Valid in the linear range.

    References
    ----------
    Statics.

    Examples
    --------
    >>> ride_error(330, 4000, 40, 226)
    4.0
    """
    return loaded_length(free_length_mm, load_n, rate_n_per_mm) - seat_gap_mm


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
