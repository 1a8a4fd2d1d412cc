"""The speed at which a shaft whirls."""

from __future__ import annotations

import numpy as np

from ..arithmetic import Value, hypot, not_negative, positive, sqrt


def critical_speed(
    length_mm: Value,
    outer_diameter_mm: Value,
    inner_diameter_mm: Value,
    *,
    modulus_mpa: float,
    density_kg_per_mm3: float,
) -> Value:
    """First whirling speed of a tube between two joints.

    Parameters
    ----------
    length_mm : between joint centres [mm]
    outer_diameter_mm : of the tube [mm]
    inner_diameter_mm : of the tube, zero for a bar [mm]
    modulus_mpa : Young's modulus [MPa]
    density_kg_per_mm3 : of the tube [kg/mm**3]

    Returns
    -------
    speed of rotation [rad/s]

    Raises
    ------
    OutOfRange
        if a length, the wall or a property of the tube is not positive

    Notes
    -----
    (pi / L)^2 sqrt(E I / (rho A)), pinned ends, first bending mode. Valid for a plain tube on stiff supports; yokes,
    slip joints and soft mounts lower it. Starting value, common practice: run at no more than 0.75 of it.

    References
    ----------
    R. D. Blevins, Formulas for Natural Frequency and Mode Shape, uniform beam (from memory).

    Examples
    --------
    >>> speed = critical_speed(1219.2, 76.2, 69.85, modulus_mpa=200_000, density_kg_per_mm3=7.85e-6)
    >>> round(speed * 30 / np.pi)
    8271
    """
    not_negative(inner_diameter_mm=inner_diameter_mm)
    positive(length_mm=length_mm, modulus_mpa=modulus_mpa, density_kg_per_mm3=density_kg_per_mm3)
    positive(**{"the wall": outer_diameter_mm - inner_diameter_mm})
    radius_of_gyration = hypot(outer_diameter_mm, inner_diameter_mm) / 4
    wave_speed = sqrt(1000 * modulus_mpa / density_kg_per_mm3)
    return np.pi**2 / (length_mm * length_mm) * radius_of_gyration * wave_speed


def critical_speed_lumped(
    length_mm: Value,
    outer_diameter_mm: Value,
    inner_diameter_mm: Value,
    *,
    modulus_mpa: float,
    density_kg_per_mm3: float,
) -> Value:
    """First whirling speed with the whole mass of the tube taken at mid-span: the cautious figure.

    Parameters
    ----------
    length_mm : between joint centres [mm]
    outer_diameter_mm : of the tube [mm]
    inner_diameter_mm : of the tube, zero for a bar [mm]
    modulus_mpa : Young's modulus [MPa]
    density_kg_per_mm3 : of the tube [kg/mm**3]

    Returns
    -------
    speed of rotation [rad/s]

    Raises
    ------
    OutOfRange
        if a length, the wall or a property of the tube is not positive

    Notes
    -----
    sqrt(48 E I / (m L^3)), 0.70 of `critical_speed`. Valid as an estimate from below, for shafts with heavy joints.

    References
    ----------
    Textbook exercise on shaft design; R. D. Blevins (from memory).

    Examples
    --------
    >>> speed = critical_speed_lumped(1219.2, 76.2, 69.85, modulus_mpa=200_000, density_kg_per_mm3=7.85e-6)
    >>> round(speed * 30 / np.pi)
    5806
    """
    uniform = critical_speed(
        length_mm, outer_diameter_mm, inner_diameter_mm, modulus_mpa=modulus_mpa, density_kg_per_mm3=density_kg_per_mm3
    )
    return uniform * float(np.sqrt(48) / np.pi**2)
