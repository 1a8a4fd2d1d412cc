"""Pedals, master cylinders, calipers and slaves: pressure, force and travel of clutch and brake.

Brakes stop the vehicle: the figures leave out swelling hoses, air, flexing calipers and boosters. Parts are matched by
their makers; what is put together otherwise is tested, and where the local code says so inspected, before it is
driven.
"""

from __future__ import annotations

import numpy as np

from .arithmetic import Value, not_negative, positive

__all__ = [
    "annulus_area",
    "displacement",
    "line_pressure",
    "pedal_force",
    "pedal_ratio",
    "pedal_travel",
    "piston_area",
    "piston_force",
    "slave_travel",
    "stroke_share",
]

HAZARDS = ("brakes",)

QUARTER_PI = float(np.pi / 4)


def piston_area(diameter_mm: Value, *, count: int = 1) -> Value:
    """Area of pistons.

    Parameters
    ----------
    diameter_mm : of one piston [mm]
    count : how many act on one side; an opposed caliper counts one side only [-]

    Returns
    -------
    area [mm**2]

    Raises
    ------
    OutOfRange
        if the diameter is not positive

    Notes
    -----
    count x pi d^2 / 4. Valid for round pistons; in a caliper with a piston each side the clamp is that of one side.

    References
    ----------
    Plane geometry.

    Examples
    --------
    >>> round(piston_area(69.85) / 25.4**2, 2)
    5.94
    """
    positive(diameter_mm=diameter_mm, count=float(count))
    return count * QUARTER_PI * diameter_mm * diameter_mm


def annulus_area(outer_diameter_mm: Value, inner_diameter_mm: Value) -> Value:
    """Area of the ring piston of a concentric release bearing.

    Parameters
    ----------
    outer_diameter_mm : of the ring [mm]
    inner_diameter_mm : of the ring [mm]

    Returns
    -------
    area [mm**2]

    Raises
    ------
    OutOfRange
        if the ring has no width

    Notes
    -----
    pi (D^2 - d^2) / 4. Valid for concentric slaves.

    References
    ----------
    Plane geometry.

    Examples
    --------
    >>> round(annulus_area(50.8, 34.925) / 25.4**2, 3)
    1.657
    """
    not_negative(inner_diameter_mm=inner_diameter_mm)
    positive(**{"the width of the ring": outer_diameter_mm - inner_diameter_mm})
    return QUARTER_PI * (outer_diameter_mm * outer_diameter_mm - inner_diameter_mm * inner_diameter_mm)


def displacement(bore_mm: Value, stroke_mm: Value) -> Value:
    """Volume a master cylinder moves.

    Parameters
    ----------
    bore_mm : of the cylinder [mm]
    stroke_mm : used [mm]

    Returns
    -------
    volume [mm**3]

    Raises
    ------
    OutOfRange
        if the bore is not positive, or the stroke negative

    Notes
    -----
    Area x stroke. Valid after the port is covered: the first 1 to 2 mm of stroke move nothing, common practice.

    References
    ----------
    Solid geometry.

    Examples
    --------
    >>> round(displacement(19.05, 25.4) / 25.4**3, 4)
    0.4418
    """
    not_negative(stroke_mm=stroke_mm)
    return piston_area(bore_mm) * stroke_mm


def pedal_ratio(pad_mm: Value, pin_mm: Value) -> Value:
    """Lever of a pedal.

    Parameters
    ----------
    pad_mm : pivot to the middle of the pad [mm]
    pin_mm : pivot to the pin of the push rod, square to the rod [mm]

    Returns
    -------
    travel at the pad to travel at the pin [-]

    Raises
    ------
    OutOfRange
        if a length is not positive

    Notes
    -----
    pad / pin. Valid where the push rod stands square to the line from the pivot to the pin. Starting values, common
    practice: brake without booster 5.5 to 6.5, with booster 3.5 to 4.5.

    References
    ----------
    Statics.

    Examples
    --------
    >>> pedal_ratio(300, 50)
    6.0
    """
    positive(pad_mm=pad_mm, pin_mm=pin_mm)
    return pad_mm / pin_mm


def pedal_force(pressure_mpa: Value, bore_mm: Value, pedal_ratio: Value, *, booster: Value = 1.0) -> Value:
    """Foot force a line pressure asks for.

    Parameters
    ----------
    pressure_mpa : wanted in the line [MPa]
    bore_mm : of the master cylinder [mm]
    pedal_ratio : travel at the pad to travel at the pin [-]
    booster : force out to force in, below where it runs out; one without [-]

    Returns
    -------
    force at the pad [N]

    Raises
    ------
    OutOfRange
        if a size is not positive, the pressure negative, or the booster below one

    Notes
    -----
    pressure x area / (ratio x booster). Valid without return springs and friction; two cylinders on a balance bar share
    the foot: take each with its share. Passenger cars are to reach their rate with 500 N at most, and stay
    controllable when the booster fails.

    References
    ----------
    Statics of fluids; UN Regulation No. 13-H, annex 3 (from memory).

    Examples
    --------
    >>> round(pedal_force(6.0, 19.05, 6.0))
    285
    """
    positive(pedal_ratio=pedal_ratio)
    not_negative(pressure_mpa=pressure_mpa, **{"the booster less one": booster - 1.0})
    return pressure_mpa * piston_area(bore_mm) / (pedal_ratio * booster)


def pedal_travel(volume_mm3: Value, bore_mm: Value, pedal_ratio: Value, *, lost_stroke_mm: Value = 0.0) -> Value:
    """How far a pedal goes to move a volume.

    Parameters
    ----------
    volume_mm3 : taken up by calipers or slave [mm**3]
    bore_mm : of the master cylinder [mm]
    pedal_ratio : travel at the pad to travel at the pin [-]
    lost_stroke_mm : of the cylinder, before its port is covered, with the push rod's play [mm]

    Returns
    -------
    travel at the middle of the pad [mm]

    Raises
    ------
    OutOfRange
        if a size is not positive, or a travel negative

    Notes
    -----
    ratio x (volume / area + lost). Valid for a bled line that does not swell. Starting value, common practice: a brake
    pedal at no more than half of what it can go.

    References
    ----------
    Conservation of volume.

    Examples
    --------
    >>> round(pedal_travel(2850, 19.05, 6.0, lost_stroke_mm=1.5))
    69
    """
    positive(pedal_ratio=pedal_ratio)
    not_negative(volume_mm3=volume_mm3, lost_stroke_mm=lost_stroke_mm)
    return pedal_ratio * (volume_mm3 / piston_area(bore_mm) + lost_stroke_mm)


def line_pressure(force_n: Value, bore_mm: Value) -> Value:
    """Pressure a master cylinder makes.

    Parameters
    ----------
    force_n : on its push rod [N]
    bore_mm : of the cylinder [mm]

    Returns
    -------
    pressure [MPa]

    Raises
    ------
    OutOfRange
        if the bore is not positive, or the force negative

    Notes
    -----
    force / area. Valid without return spring and seal friction, up to the pressure the parts are rated for.

    References
    ----------
    Statics of fluids.

    Examples
    --------
    >>> round(line_pressure(1601, 25.4), 2)
    3.16
    """
    not_negative(force_n=force_n)
    return force_n / piston_area(bore_mm)


def piston_force(pressure_mpa: Value, area_mm2: Value) -> Value:
    """Force of a piston.

    Parameters
    ----------
    pressure_mpa : in the line [MPa]
    area_mm2 : of the pistons on one side [mm**2]

    Returns
    -------
    force [N]

    Raises
    ------
    OutOfRange
        if the area is not positive, or the pressure negative

    Notes
    -----
    pressure x area. Valid without seal friction.

    References
    ----------
    Statics of fluids.

    Examples
    --------
    >>> round(piston_force(1.0, 5000))
    5000
    """
    positive(area_mm2=area_mm2)
    not_negative(pressure_mpa=pressure_mpa)
    return pressure_mpa * area_mm2


def slave_travel(master_bore_mm: Value, master_stroke_mm: Value, slave_area_mm2: Value) -> Value:
    """Travel of a slave cylinder or release bearing.

    Parameters
    ----------
    master_bore_mm : of the master cylinder [mm]
    master_stroke_mm : used [mm]
    slave_area_mm2 : of the slave's piston or ring [mm**2]

    Returns
    -------
    travel [mm]

    Raises
    ------
    OutOfRange
        if a size is not positive, or the stroke negative

    Notes
    -----
    Volume moved / area. Valid for a bled line that does not swell. Check the clutch maker's release travel against
    it, and that over-travel cannot push the fingers too far.

    References
    ----------
    Conservation of volume.

    Examples
    --------
    >>> round(slave_travel(19.05, 31.75, annulus_area(50.8, 34.925)), 2)
    8.47
    """
    positive(slave_area_mm2=slave_area_mm2)
    return displacement(master_bore_mm, master_stroke_mm) / slave_area_mm2


def stroke_share(
    piston_diameter_mm: Value,
    piston_travel_mm: Value,
    master_bore_mm: Value,
    master_stroke_mm: Value,
    *,
    pistons: int = 2,
) -> Value:
    """Share of a master cylinder's stroke that its calipers take up.

    Parameters
    ----------
    piston_diameter_mm : of one caliper piston [mm]
    piston_travel_mm : each takes up, warm and with new pads [mm]
    master_bore_mm : of the master cylinder [mm]
    master_stroke_mm : of the circuit [mm]
    pistons : fed by the circuit, both sides of both calipers [-]

    Returns
    -------
    share of the stroke [-]

    Raises
    ------
    OutOfRange
        if a size is not positive, or the travel negative

    Notes
    -----
    pistons x area x travel / (master area x stroke). Valid for a bled circuit with hoses that do not swell. Starting
    value: at most 0.75, common practice, so that one circuit can fail and heat can come; the maker's figure wins.

    References
    ----------
    Conservation of volume.

    Examples
    --------
    >>> round(stroke_share(54, 0.6, 23.8, 16), 3)
    0.386
    """
    positive(piston_diameter_mm=piston_diameter_mm, master_stroke_mm=master_stroke_mm)
    not_negative(piston_travel_mm=piston_travel_mm)
    taken = piston_area(piston_diameter_mm, count=pistons) * piston_travel_mm
    return taken / displacement(master_bore_mm, master_stroke_mm)
