"""Conductors: gauge, resistance, drop, and the current they may carry.

A conductor without a fuse near its source can set the vehicle alight; the fuse protects the conductor, not the device.
Traction batteries and anything above 60 V are for trained persons.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .arithmetic import FloatArray, Gauge, OutOfRange, Value, log, not_negative, positive, sqrt, within
from .tables import table

__all__ = [
    "ampacity",
    "area_for_drop",
    "current_of",
    "gauge_area",
    "gauge_diameter",
    "gauge_of",
    "next_fuse",
    "next_gauge",
    "next_section",
    "resistance",
    "section_for_circuit",
    "voltage_drop",
]

HAZARDS = ("high-voltage",)

# ohm*mm: annealed copper at 20 °C (IEC 60028); and as installers' tables take it, warm, 56 m/(ohm mm2)
ANNEALED_COPPER = 1.7241e-5
WARM_COPPER = 1 / 56_000
QUARTER_PI = float(np.pi / 4)


def current_of(power_w: Value, voltage_v: Value) -> Value:
    """Current of a device.

    Parameters
    ----------
    power_w : it takes [W]
    voltage_v : at it [V]

    Returns
    -------
    current [A]

    Raises
    ------
    OutOfRange
        if the voltage is not positive, or the power negative

    Notes
    -----
    power / voltage. Valid at steady state; motors and lamps draw several times as much as they start.

    References
    ----------
    Definition.

    Examples
    --------
    >>> round(current_of(25, 12), 2)
    2.08
    """
    positive(voltage_v=voltage_v)
    not_negative(power_w=power_w)
    return power_w / voltage_v


def gauge_diameter(gauge: Gauge) -> Value:
    """Diameter of a solid conductor by its American wire gauge.

    Parameters
    ----------
    gauge : AWG; 1/0 to 4/0, or 0, -1, -2, -3 for them [-]

    Returns
    -------
    diameter [mm]

    Raises
    ------
    OutOfRange
        if there is no such gauge

    Notes
    -----
    0.127 mm x 92^((36 - n) / 39). Valid for 4/0 to 40.

    References
    ----------
    ASTM B258, American wire gauge.

    Examples
    --------
    >>> round(gauge_diameter(10), 3)
    2.588
    """
    within(-3.0, 40.0, "from 4/0 (-3) to 40", gauge=gauge)
    return 0.127 * 92 ** ((36 - gauge) / 39)


def gauge_area(gauge: Gauge) -> Value:
    """Area of copper by its American wire gauge.

    Parameters
    ----------
    gauge : AWG; 1/0 to 4/0, or 0, -1, -2, -3 for them [-]

    Returns
    -------
    area [mm**2]

    Raises
    ------
    OutOfRange
        if there is no such gauge

    Notes
    -----
    That of the solid conductor; stranded ones come within a few percent. Valid as for `gauge_diameter`.

    References
    ----------
    ASTM B258, American wire gauge.

    Examples
    --------
    >>> round(gauge_area(10), 2)
    5.26
    """
    diameter = gauge_diameter(gauge)
    return QUARTER_PI * diameter * diameter


def gauge_of(area_mm2: Value) -> Value:
    """American wire gauge of an area of copper, between gauges too.

    Parameters
    ----------
    area_mm2 : of the copper [mm**2]

    Returns
    -------
    AWG, smaller for more copper; 0, -1, -2, -3 for 1/0 to 4/0 [-]

    Raises
    ------
    OutOfRange
        if the area is not above zero

    Notes
    -----
    36 - 39 log(d / 0.127 mm) / log 92, the inverse of `gauge_area`. Valid as that is; the gauge to buy in place of a
    metric conductor is the next whole one below, see `next_gauge`.

    References
    ----------
    ASTM B258, American wire gauge.

    Examples
    --------
    >>> round(gauge_of(2.5), 1), round(gauge_of(16), 1)
    (13.2, 5.2)
    """
    positive(area_mm2=area_mm2)
    return 36 - 39 * log(sqrt(area_mm2 / QUARTER_PI) / 0.127) / float(np.log(92))


def resistance(length_mm: Value, area_mm2: Value, *, resistivity_ohm_mm: float = ANNEALED_COPPER) -> Value:
    """Resistance of a conductor.

    Parameters
    ----------
    length_mm : of the conductor [mm]
    area_mm2 : of the copper [mm**2]
    resistivity_ohm_mm : 1.7241e-5 for annealed copper at 20 degC [ohm*mm]

    Returns
    -------
    resistance [ohm]

    Raises
    ------
    OutOfRange
        if the area or the resistivity is not positive, or the length negative

    Notes
    -----
    rho L / A. Valid for direct current at 20 degC; 0.4 % more for each kelvin above.

    References
    ----------
    IEC 60028 (from memory).

    Examples
    --------
    >>> round(resistance(1e6, gauge_area(10)), 2)
    3.28
    """
    positive(area_mm2=area_mm2, resistivity_ohm_mm=resistivity_ohm_mm)
    not_negative(length_mm=length_mm)
    return resistivity_ohm_mm * length_mm / area_mm2


def voltage_drop(
    current_a: Value, length_mm: Value, area_mm2: Value, *, resistivity_ohm_mm: float = WARM_COPPER
) -> Value:
    """Voltage lost along a circuit.

    Parameters
    ----------
    current_a : in the circuit [A]
    length_mm : of conductor, out and back [mm]
    area_mm2 : of the copper [mm**2]
    resistivity_ohm_mm : 1/56 000 as installers' tables have it; 1.64e-5 in ISO 10133's formula [ohm*mm]

    Returns
    -------
    drop [V]

    Raises
    ------
    OutOfRange
        if the area or the resistivity is not positive, or another figure negative

    Notes
    -----
    I rho L / A. Valid for direct current; joints and switches come on top. Starting values, common practice: 3 % for
    what matters, 10 % for the rest.

    References
    ----------
    ISO 10133 (small craft) as quoted publicly; a public cable sheet with 56 m/(ohm mm2).

    Examples
    --------
    >>> round(voltage_drop(10, 8000, 2.5), 3)
    0.571
    """
    not_negative(current_a=current_a)
    return current_a * resistance(length_mm, area_mm2, resistivity_ohm_mm=resistivity_ohm_mm)


def area_for_drop(
    current_a: Value, length_mm: Value, drop_v: Value, *, resistivity_ohm_mm: float = WARM_COPPER
) -> Value:
    """Copper a circuit needs to keep its drop.

    Parameters
    ----------
    current_a : in the circuit [A]
    length_mm : of conductor, out and back [mm]
    drop_v : allowed [V]
    resistivity_ohm_mm : 1/56 000 as installers' tables have it [ohm*mm]

    Returns
    -------
    area [mm**2]

    Raises
    ------
    OutOfRange
        if the drop or the resistivity is not positive, or another figure negative

    Notes
    -----
    I rho L / dU. Valid as for `voltage_drop`; the current it may carry is another matter, see `ampacity`.

    References
    ----------
    A public cable sheet with 56 m/(ohm mm2).

    Examples
    --------
    >>> round(area_for_drop(2.1, 36_000, 0.6), 2)
    2.25
    """
    positive(drop_v=drop_v, resistivity_ohm_mm=resistivity_ohm_mm)
    not_negative(current_a=current_a, length_mm=length_mm)
    return current_a * resistivity_ohm_mm * length_mm / drop_v


def next_section(area_mm2: Value) -> Value:
    """Standard section at or above an area.

    Parameters
    ----------
    area_mm2 : needed [mm**2]

    Returns
    -------
    section sold [mm**2]

    Raises
    ------
    OutOfRange
        if it is not above zero, or above the largest in the table

    Notes
    -----
    Valid for metric cable, 0.5 to 120 mm2.

    References
    ----------
    IEC 60228 (from memory).

    Examples
    --------
    >>> next_section(2.23)
    2.5
    """
    sizes = np.asarray(table("conductors")["sections"]["mm2"])
    within(1e-12, sizes[-1], f"above zero and at most {sizes[-1]:g} mm2", area_mm2=area_mm2)
    return _picked(sizes, np.searchsorted(sizes, area_mm2))


def _picked(held: FloatArray, place: Any) -> Value:
    found = held[place]
    return found if np.ndim(found) else float(found)


def next_gauge(area_mm2: Value) -> Value:
    """American wire gauge at or above an area, of those in the table of currents.

    Parameters
    ----------
    area_mm2 : needed [mm**2]

    Returns
    -------
    AWG; 0, -1, -2, -3 for 1/0 to 4/0 [-]

    Raises
    ------
    OutOfRange
        if it is not above zero, or above 4/0

    Notes
    -----
    Valid for gauges 18 to 4/0.

    References
    ----------
    ASTM B258, American wire gauge.

    Examples
    --------
    >>> next_gauge(3.78)
    10.0
    """
    gauges = np.asarray(table("conductors")["ampacity"]["awg"], dtype=float)
    areas = np.asarray(gauge_area(gauges))
    within(1e-12, float(areas[-1]), "above zero and at most 4/0 AWG (107 mm2)", area_mm2=area_mm2)
    return _picked(gauges, np.searchsorted(areas, area_mm2))


def ampacity(area_mm2: Value, insulation_degc: int, *, engine_space: bool = False) -> Value:
    """Current a single stranded copper conductor may carry all the time.

    Parameters
    ----------
    area_mm2 : of the copper [mm**2]
    insulation_degc : what its insulation is rated for: 60, 75, 80, 90 or 105 [degC]
    engine_space : it runs where the engine's heat is

    Returns
    -------
    current, that of the next smaller gauge in the table [A]

    Raises
    ------
    OutOfRange
        if the conductor is below 18 AWG or the rating is not in the table

    Notes
    -----
    Read down to the gauge at or below the area, but for half a percent; above 4/0 as that. Valid for boats' rules,
    conductors in free air at 30 degC (50 in engine spaces, by the table's factors); bundles carry less. A road
    vehicle's own code may ask for other figures.

    References
    ----------
    33 CFR 183.425, table 5.

    Examples
    --------
    >>> ampacity(6.0, 105), ampacity(6.0, 105, engine_space=True)
    (60.0, 51.0)
    """
    rows = table("conductors")["ampacity"]
    if str(insulation_degc) not in rows["amperes"]:
        raise OutOfRange("insulation_degc", f"one of {', '.join(rows['amperes'])}", str(insulation_degc))
    areas = np.asarray(gauge_area(np.asarray(rows["awg"], dtype=float))) / 1.005
    within(float(areas[0]), np.inf, "18 AWG (0.82 mm2) or more", area_mm2=area_mm2)
    factor = rows["engine_space_factor"][str(insulation_degc)] if engine_space else 1.0
    amperes = np.asarray(rows["amperes"][str(insulation_degc)], dtype=float) * float(factor)
    return _picked(amperes, np.searchsorted(areas, area_mm2, side="right") - 1)


def next_fuse(current_a: Value, conductor_a: Value, *, share: Value = 0.8) -> Value:
    """Fuse that bears a circuit's current and still guards its conductor.

    Parameters
    ----------
    current_a : of the circuit, all the time [A]
    conductor_a : what its conductor may carry, see `ampacity` [A]
    share : of its rating that a fuse bears all the time; 0.8 in a warm place, common practice [-]

    Returns
    -------
    the smallest rating sold that bears the current [A]

    Raises
    ------
    OutOfRange
        if a figure is not positive, or the fuse that bears the current no longer guards the conductor

    Notes
    -----
    Smallest rating of at least current / share. Valid for blade fuses up to 80 A and bolted ones up to 300 A; what
    draws more as it starts needs a slow fuse or a size more. Put it within 18 cm of the source, common practice.

    References
    ----------
    ISO 8820-3 (blade fuses, ratings as reprinted), ISO 8820-5 (bolted, from memory).

    Examples
    --------
    >>> next_fuse(11, 20)
    15.0
    """
    positive(current_a=current_a, conductor_a=conductor_a)
    within(0.1, 1.0, "from 0.1 to 1", share=share)
    ratings = np.asarray(table("conductors")["fuses"]["amperes"], dtype=float)
    wanted = np.asarray(current_a / share, dtype=float) - 1e-9
    within(0.0, float(ratings[-1]), f"at most {ratings[-1]:g} A", **{"the current over the share": wanted})
    found = _picked(ratings, np.searchsorted(ratings, wanted))
    if np.any(np.asarray(found) > conductor_a):
        least_a = float(np.max(np.asarray(found)))
        raise OutOfRange("conductor_a", f"at least the fuse of {least_a:g} A: take a larger conductor", "less")
    return found


def section_for_circuit(
    current_a: Value, length_mm: Value, drop_v: Value, insulation_degc: int, *, engine_space: bool = False
) -> Value:
    """Standard section that keeps a circuit's drop and bears its current.

    Parameters
    ----------
    current_a : of the circuit, all the time; its fuse's rating, for a conductor that fuse guards [A]
    length_mm : of conductor, out and back [mm]
    drop_v : allowed at that current [V]
    insulation_degc : what its insulation is rated for: 60, 75, 80, 90 or 105 [degC]
    engine_space : it runs where the engine's heat is

    Returns
    -------
    section sold [mm**2]

    Raises
    ------
    OutOfRange
        if a figure is negative or nothing, the rating is not in the table, or no section is enough

    Notes
    -----
    The larger of what `area_for_drop` and `ampacity` ask for, as sold, 1 mm2 or more. Valid as those are: single
    conductors in free air, direct current.

    References
    ----------
    As for `area_for_drop` and `ampacity`.

    Examples
    --------
    >>> section_for_circuit(20, 4000, 0.36, 105), section_for_circuit(60, 2000, 0.6, 75)
    (4.0, 10.0)
    """
    by_drop = np.asarray(area_for_drop(current_a, length_mm, drop_v), dtype=float)
    sizes = np.asarray(table("conductors")["sections"]["mm2"])
    sizes = sizes[sizes >= 1.0]
    carried = np.asarray(ampacity(sizes, insulation_degc, engine_space=engine_space))
    most = f"at most {carried[-1]:g} A"
    within(0.0, float(carried[-1]), most, current_a=current_a)
    within(0.0, float(sizes[-1]), f"at most {sizes[-1]:g} mm2", **{"the area for the drop": by_drop})
    place = np.maximum(np.searchsorted(carried, current_a), np.searchsorted(sizes, by_drop))
    return _picked(sizes, place)
