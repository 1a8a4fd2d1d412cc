"""Tyres and wheels by their designations: diameter, section on a rim, load and speed, offset and backspace.

A tyre's size code is arithmetic, not a tyre: makers' tyres differ by up to a centimetre in diameter and width. Load
and speed symbols are floors set by the vehicle's papers and local code; a change of size or offset may need approval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arithmetic import OutOfRange, Value, not_negative, positive, round_to_whole, within
from .sidewall import INCH, TyreSize, WheelSize, load_of, read_tyre, read_wheel, speed_of
from .tables import table

__all__ = [
    "TyreLimits",
    "WheelEdges",
    "WheelMoves",
    "backspace",
    "load_capacity",
    "measuring_rim",
    "offset_from_backspace",
    "pitch_circle",
    "rolling_circumference",
    "section_on_rim",
    "speed_capacity",
    "turns_over",
    "tyre_limits",
    "tyre_size",
    "wheel_change",
    "wheel_edges",
    "wheel_size",
]

HAZARDS = ("suspension",)

LIP_MM = 12.7
ROLLING_FACTOR_RADIAL = 3.05


@dataclass(frozen=True, slots=True)
class WheelEdges:
    """Where the bead seats of a wheel stand from its mounting face.

    Parameters
    ----------
    inner_mm : bead seat towards the vehicle's middle, from the mounting face [mm]
    outer_mm : bead seat towards the street, from the mounting face [mm]
    """

    inner_mm: Value
    outer_mm: Value


@dataclass(frozen=True, slots=True)
class TyreLimits:
    """How large a tyre may be.

    Parameters
    ----------
    width_mm : at its widest [mm]
    smallest_mm : least overall diameter [mm]
    largest_mm : largest overall diameter [mm]
    """

    width_mm: Value
    smallest_mm: Value
    largest_mm: Value


@dataclass(frozen=True, slots=True)
class WheelMoves:
    """How far the bead seats of another wheel stand from those of the first.

    Parameters
    ----------
    inwards_mm : inner bead seat, towards the vehicle's middle; negative where it leaves room [mm]
    outwards_mm : outer bead seat, towards the street; negative where it leaves room [mm]
    middle_outwards_mm : middle of the tyre, which moves scrub and track [mm]
    """

    inwards_mm: Value
    outwards_mm: Value
    middle_outwards_mm: Value


def tyre_size(designation: str) -> TyreSize:
    """A tyre's figures from its designation.

    Parameters
    ----------
    designation : as on the sidewall: metric, inch, light truck, commercial, with or without load index, speed symbol,
        load range and what else stands there; what is not known is refused

    Returns
    -------
    its sizes, loads and speed

    Raises
    ------
    NotASize
        if it is not a tyre's designation, or does not say how high the tyre is

    Notes
    -----
    diameter = rim code x 25.4 + 2 x section x ratio. Valid for the nominal size on the measuring rim, unloaded; what a
    tyre on sale may differ by is `tyre_limits`. Sizes in inches alone (7.50R16, 6.00-16) and by letter (FR78-15) do
    not say how high they are: measure.

    References
    ----------
    ISO 4000-1 (passenger), ISO 4223-1 (terms); UN Regulations No. 30 and 54 (load and speed symbols).

    Examples
    --------
    >>> tyre = tyre_size("205/65R15C 102/100T")
    >>> round(tyre.diameter_mm, 1), tyre.load_kg, tyre.use
    (647.5, 850.0, 'commercial')
    """
    return read_tyre(designation)


def wheel_size(designation: str) -> WheelSize:
    """A wheel's figures from its designation.

    Parameters
    ----------
    designation : such as 7Jx16 ET45 5x112 CB66.6; offset, pattern and bore may be left out

    Returns
    -------
    its sizes

    Raises
    ------
    NotASize
        if it is not a wheel's designation

    Notes
    -----
    Inches become mm; the width is between the bead seats. Valid for the designation as stamped; measure the bore.

    References
    ----------
    ISO 3911 (wheels and rims, designation and marking), from memory.

    Examples
    --------
    >>> wheel = wheel_size("7Jx16 ET45 5x112 CB66.6")
    >>> round(wheel.width_mm, 1), wheel.offset_mm, wheel.holes, wheel.bore_mm
    (177.8, 45.0, 5, 66.6)
    """
    return read_wheel(designation)


def load_capacity(load_index: int) -> float:
    """Mass one tyre may carry.

    Parameters
    ----------
    load_index : as on the sidewall [-]

    Returns
    -------
    mass on one wheel [kg]

    Raises
    ------
    NotASize
        if the index is not in the table, 0 to 170

    Notes
    -----
    Valid at the inflation the maker names for that load, up to the speed of the symbol; less for camber and for
    trailers as the maker says.

    References
    ----------
    UN Regulations No. 30 and 54, annex 4.

    Examples
    --------
    >>> load_capacity(91)
    615.0
    """
    return load_of(load_index)


def speed_capacity(speed_symbol: str) -> float:
    """Speed up to which a tyre carries its load.

    Parameters
    ----------
    speed_symbol : as on the sidewall

    Returns
    -------
    speed [mm/s]

    Raises
    ------
    NotASize
        if the symbol is not in the table

    Notes
    -----
    H stands between U and V; A takes a figure, A1 to A8. Valid in service as the maker says.

    References
    ----------
    UN Regulations No. 30 and 54.

    Examples
    --------
    >>> round(speed_capacity("T") * 3600 / 1e6)
    190
    """
    return speed_of(speed_symbol)


def tyre_limits(section_mm: Value, ratio: Value, rim_diameter_mm: Value, *, diagonal: bool = False) -> TyreLimits:
    """How large a tyre of a size may be, new and inflated, and still bear that size.

    Parameters
    ----------
    section_mm : nominal section on its measuring rim [mm]
    ratio : height to width [-]
    rim_diameter_mm : of the bead seat, by its code [mm]
    diagonal : it is built diagonally or bias-belted, not radial

    Returns
    -------
    its width and its diameters

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    Width: 4 % above nominal, 6 % if diagonal. Diameter: sidewall 3 % lower to 4 % higher, 8 % if diagonal. Valid for
    road tyres by their size code; protective ribs stand up to 8 mm wider, snow treads a percent higher, and a tyre in
    use grows. Leave room for the largest while no tyre is bought.

    References
    ----------
    UN Regulation No. 30, 6.1.4 and 6.1.5 (from memory).

    Examples
    --------
    >>> limits = tyre_limits(205, 0.65, 381)
    >>> round(limits.width_mm, 1), round(limits.smallest_mm, 1), round(limits.largest_mm, 1)
    (213.2, 639.5, 658.2)
    """
    positive(section_mm=section_mm, ratio=ratio, rim_diameter_mm=rim_diameter_mm)
    twice = 2 * section_mm * ratio
    wider, higher = (1.06, 1.08) if diagonal else (1.04, 1.04)
    return TyreLimits(wider * section_mm, rim_diameter_mm + 0.97 * twice, rim_diameter_mm + higher * twice)


def measuring_rim(section_mm: Value, ratio: Value, *, share: Value = 0.0) -> Value:
    """Width of the rim on which a tyre's section is stated.

    Parameters
    ----------
    section_mm : nominal section [mm]
    ratio : height to width, 0.30 to 0.95 [-]
    share : of the section; zero for that of the ratio [-]

    Returns
    -------
    width between the bead seats [mm]

    Raises
    ------
    OutOfRange
        if the section is not positive or the ratio is not from 0.30 to 0.95

    Notes
    -----
    Section x share, rounded to half an inch: 0.70 from ratio 0.75 up, 0.75 from 0.60, 0.80 from 0.50, 0.85 from 0.45,
    0.90 below. Valid for metric passenger sizes. Some pages take 0.70 down to ratio 0.50: half an inch or more too
    narrow from 70 on down.

    References
    ----------
    ISO 4000-1 (from memory); agrees with a tyre shop's published table of twelve sizes.

    Examples
    --------
    >>> round(measuring_rim(225, 0.60) / 25.4, 1), round(measuring_rim(225, 0.45) / 25.4, 1)
    (6.5, 7.5)
    """
    positive(section_mm=section_mm)
    not_negative(share=share)
    within(0.30, 0.95, "from 0.30 to 0.95", ratio=ratio)
    rows = table("tyres")["measuring_rim"]
    place = np.searchsorted(rows["from_ratio"], np.asarray(ratio) + 1e-9) - 1
    taken = np.where(np.asarray(share) > 0, share, np.asarray(rows["share"])[place])
    return round_to_whole((taken if taken.ndim else float(taken)) * section_mm / INCH * 2) * (INCH / 2)


def section_on_rim(section_mm: Value, measuring_rim_mm: Value, rim_mm: Value) -> Value:
    """Section of a tyre on a rim other than its measuring rim.

    Parameters
    ----------
    section_mm : nominal section, or as the maker states it [mm]
    measuring_rim_mm : width of the rim it is stated on [mm]
    rim_mm : width of the rim it goes on [mm]

    Returns
    -------
    section, without raised lettering [mm]

    Raises
    ------
    OutOfRange
        if a width is not positive

    Notes
    -----
    0.4 of the change in rim width: 0.2 in for each half inch. Valid within the rims the maker allows.

    References
    ----------
    UN Regulation No. 30, 6.1.1.1: S = S1 + K (A - A1), K = 0.4.

    Examples
    --------
    >>> round(section_on_rim(216, 152.4, 165.1), 2)
    221.08
    """
    positive(section_mm=section_mm, measuring_rim_mm=measuring_rim_mm, rim_mm=rim_mm)
    return section_mm + 0.4 * (rim_mm - measuring_rim_mm)


def rolling_circumference(diameter_mm: Value, *, factor: float = ROLLING_FACTOR_RADIAL) -> Value:
    """Distance a loaded tyre rolls in one turn.

    Parameters
    ----------
    diameter_mm : overall diameter, unloaded [mm]
    factor : 3.05 for a radial tyre; pi for an unloaded circle [-]

    Returns
    -------
    distance [mm]

    Raises
    ------
    OutOfRange
        if the diameter or the factor is not positive

    Notes
    -----
    factor x diameter. Valid at about the rated load and 60 km/h; the makers' tables agree within half a percent.

    References
    ----------
    ETRTO Standards Manual, rolling circumference of radial tyres (from memory).

    Examples
    --------
    >>> round(rolling_circumference(805.2), 1)
    2455.9
    """
    positive(diameter_mm=diameter_mm, factor=factor)
    return factor * diameter_mm


def turns_over(distance_mm: Value, diameter_mm: Value, *, factor: float = ROLLING_FACTOR_RADIAL) -> Value:
    """Turns of a tyre over a distance.

    Parameters
    ----------
    distance_mm : along the road [mm]
    diameter_mm : overall diameter, unloaded [mm]
    factor : 3.05 for a radial tyre [-]

    Returns
    -------
    turns [-]

    Raises
    ------
    OutOfRange
        if the diameter or the factor is not positive, or the distance negative

    Notes
    -----
    distance / rolling circumference. Valid as for `rolling_circumference`.

    References
    ----------
    As for `rolling_circumference`.

    Examples
    --------
    >>> round(turns_over(1_609_344, 31.7 * 25.4))
    655
    """
    not_negative(distance_mm=distance_mm)
    return distance_mm / rolling_circumference(diameter_mm, factor=factor)


def wheel_edges(rim_mm: Value, offset_mm: Value) -> WheelEdges:
    """Where the bead seats of a wheel stand from its mounting face.

    Parameters
    ----------
    rim_mm : width between the bead seats [mm]
    offset_mm : mounting face outside the middle of the rim, positive towards the street [mm]

    Returns
    -------
    inner and outer, each from the mounting face

    Raises
    ------
    OutOfRange
        if the width is not positive

    Notes
    -----
    width / 2 + offset inwards, width / 2 - offset outwards; the lips and the tyre's bulge come on top. Valid for any
    wheel.

    References
    ----------
    Definition of offset, ISO 3911 (from memory).

    Examples
    --------
    >>> round(wheel_edges(203.2, 45).inner_mm - wheel_edges(177.8, 45).inner_mm, 2)
    12.7
    """
    positive(rim_mm=rim_mm)
    return WheelEdges(rim_mm / 2 + offset_mm, rim_mm / 2 - offset_mm)


def wheel_change(old_rim_mm: Value, old_offset_mm: Value, new_rim_mm: Value, new_offset_mm: Value) -> WheelMoves:
    """What another wheel takes inside, and how far it stands out.

    Parameters
    ----------
    old_rim_mm : width between the bead seats of the wheel it replaces [mm]
    old_offset_mm : of that, positive towards the street [mm]
    new_rim_mm : width between the bead seats of the other wheel [mm]
    new_offset_mm : of that; less the thickness of a spacer [mm]

    Returns
    -------
    how far each edge moves

    Raises
    ------
    OutOfRange
        if a width is not positive

    Notes
    -----
    Differences of `wheel_edges`. Valid for the wheel alone: a wider tyre adds half of what it is wider on each side. A
    change of offset moves the scrub radius by as much; local code often limits it, and the track.

    References
    ----------
    Definition of offset, ISO 3911 (from memory).

    Examples
    --------
    >>> moves = wheel_change(152.4, 45, 177.8, 35)
    >>> round(moves.inwards_mm, 1), round(moves.outwards_mm, 1)
    (2.7, 22.7)
    """
    old, new = wheel_edges(old_rim_mm, old_offset_mm), wheel_edges(new_rim_mm, new_offset_mm)
    return WheelMoves(new.inner_mm - old.inner_mm, new.outer_mm - old.outer_mm, old_offset_mm - new_offset_mm)


def backspace(rim_mm: Value, offset_mm: Value, *, lip_mm: float = LIP_MM) -> Value:
    """Mounting face to the inner edge of the wheel.

    Parameters
    ----------
    rim_mm : width between the bead seats [mm]
    offset_mm : positive towards the street [mm]
    lip_mm : thickness of one lip, outside the bead seat [mm]

    Returns
    -------
    backspace, over the inner lip [mm]

    Raises
    ------
    OutOfRange
        if the width is not positive

    Notes
    -----
    width / 2 + lip + offset. Valid where the lip is measured: half an inch is common practice, but some pages leave it
    out and are wrong by as much.

    References
    ----------
    Common practice.

    Examples
    --------
    >>> round(backspace(8 * 25.4, 0) / 25.4, 2)
    4.5
    """
    positive(rim_mm=rim_mm)
    not_negative(lip_mm=lip_mm)
    return rim_mm / 2 + lip_mm + offset_mm


def offset_from_backspace(rim_mm: Value, backspace_mm: Value, *, lip_mm: float = LIP_MM) -> Value:
    """Offset of a wheel whose backspace was measured.

    Parameters
    ----------
    rim_mm : width between the bead seats [mm]
    backspace_mm : mounting face to a straight edge across the inner lip [mm]
    lip_mm : thickness of one lip, outside the bead seat [mm]

    Returns
    -------
    offset, positive towards the street [mm]

    Raises
    ------
    OutOfRange
        if the width is not positive

    Notes
    -----
    The inverse of `backspace`. Valid as it is.

    References
    ----------
    Common practice.

    Examples
    --------
    >>> round(offset_from_backspace(177.8, 146.6), 1)
    45.0
    """
    return backspace_mm - backspace(rim_mm, 0.0, lip_mm=lip_mm)


def pitch_circle(chord_mm: Value, holes: int) -> Value:
    """Circle of a hub's studs, from the distance between two neighbours.

    Parameters
    ----------
    chord_mm : between the centres of two neighbouring studs [mm]
    holes : number of studs, evenly spaced [-]

    Returns
    -------
    diameter of the circle [mm]

    Raises
    ------
    OutOfRange
        if there are fewer than three studs

    Notes
    -----
    chord / sin(pi / n). Valid for evenly spaced studs: half a millimetre across the chord is nearly one on the
    circle of five, so 112, 114.3 and 115 mm are told apart only with a caliper.

    References
    ----------
    Plane geometry.

    Examples
    --------
    >>> round(pitch_circle(65.83, 5), 1)
    112.0
    """
    positive(chord_mm=chord_mm)
    if holes < 3:
        raise OutOfRange("holes", "three or more", str(holes))
    return chord_mm / float(np.sin(np.pi / holes))
