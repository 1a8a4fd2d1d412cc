"""Springs by themselves: what coils, leaves, bars and bellows give, and what they bear."""

from __future__ import annotations

import numpy as np

from ..arithmetic import Value, not_negative, positive, within

AIR_MPA = 0.101325


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
