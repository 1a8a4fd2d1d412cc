"""Screws: stress area, proof load, clamp and torque, thread engagement, and holes that need not agree exactly.

On brakes, steering, suspension, seats and belts use the grade, length and torque the maker names, and new self-locking
nuts; torque from a formula is a start where no figure exists.
"""

from __future__ import annotations

import re

import numpy as np

from ..build.designations import Thread, parse_designation
from .arithmetic import OutOfRange, Value, greatest, positive, within
from .tables import table

__all__ = [
    "clamp_load",
    "clamp_of_torque",
    "pitch_mismatch_allowed",
    "proof_load",
    "proof_stress",
    "stress_area",
    "stress_area_unified",
    "thread_engagement",
    "thread_stress_area",
    "tightening_torque",
]

HAZARDS = ("brakes", "steering", "suspension")

QUARTER_PI = float(np.pi / 4)
MPA_PER_PSI = 0.006894757293168361


def stress_area(diameter_mm: Value, pitch_mm: Value) -> Value:
    """Stress area of a metric thread.

    Parameters
    ----------
    diameter_mm : nominal [mm]
    pitch_mm : of the thread [mm]

    Returns
    -------
    area [mm**2]

    Raises
    ------
    OutOfRange
        if the pitch is not positive or the thread has no core

    Notes
    -----
    pi / 4 (d - 0.9382 P)^2. Valid for 60 degree metric threads.

    References
    ----------
    ISO 898-1, nominal stress area.

    Examples
    --------
    >>> round(stress_area(10, 1.5), 1)
    58.0
    """
    positive(pitch_mm=pitch_mm, **{"the core of the thread": diameter_mm - 0.9382 * pitch_mm})
    return QUARTER_PI * (diameter_mm - 0.9382 * pitch_mm) ** 2


def stress_area_unified(diameter_mm: Value, pitch_mm: Value) -> Value:
    """Tensile stress area of a unified thread.

    Parameters
    ----------
    diameter_mm : nominal [mm]
    pitch_mm : an inch over the threads in it [mm]

    Returns
    -------
    area [mm**2]

    Raises
    ------
    OutOfRange
        if the pitch is not positive or the thread has no core

    Notes
    -----
    pi / 4 (D - 0.9743 P)^2. Valid for unified threads.

    References
    ----------
    ASME B1.1; SAE J429.

    Examples
    --------
    >>> round(stress_area_unified(12.7, 25.4 / 13) / 25.4**2, 4)
    0.1419
    """
    positive(pitch_mm=pitch_mm, **{"the core of the thread": diameter_mm - 0.9743 * pitch_mm})
    return QUARTER_PI * (diameter_mm - 0.9743 * pitch_mm) ** 2


def thread_stress_area(designation: str) -> Value:
    """Stress area of a thread by its designation.

    Parameters
    ----------
    designation : such as M10x1.25 or 7/16-20 UNF

    Returns
    -------
    area [mm**2]

    Raises
    ------
    OutOfRange
        if it is a pipe thread, which carries no load
    DesignationError
        if it is not a thread

    Notes
    -----
    By `stress_area` or `stress_area_unified`. Valid as those are.

    References
    ----------
    As for those.

    Examples
    --------
    >>> round(thread_stress_area("M10x1.25"), 1)
    61.2
    """
    thread = parse_designation(designation, "thread")
    assert isinstance(thread, Thread)
    if thread.form == "metric":
        return stress_area(thread.major_mm, thread.pitch_mm)
    if thread.form == "unified":
        return stress_area_unified(thread.major_mm, thread.pitch_mm)
    raise OutOfRange("designation", "a metric or unified thread", f"a {thread.form} thread")


def proof_stress(grade: str, *, diameter_mm: float = 10.0) -> float:
    """Proof stress of a property class or grade.

    Parameters
    ----------
    grade : class such as 8.8 or 10.9, stainless such as A2-70, or SAE grade 2, 5 or 8
    diameter_mm : nominal, as some change their stress with size; 10 mm where none is given [mm]

    Returns
    -------
    stress [MPa]

    Raises
    ------
    OutOfRange
        if the grade is not in the table, or not made so thick

    Notes
    -----
    Class 8.8 has 600 above 16 mm, grade 2 is lower above 3/4 in, grade 5 above 1 in. Of stainless steel it is the
    stress at 0.2 %, up to M24 (M20 by older tables). Valid at room temperature. A head without a mark has no grade.

    References
    ----------
    ISO 898-1; ISO 3506-1; SAE J429.

    Examples
    --------
    >>> proof_stress("10.9"), proof_stress("8.8", diameter_mm=20), proof_stress("A2-70")
    (830.0, 600.0, 450.0)
    """
    positive(diameter_mm=diameter_mm)
    rows = table("fasteners")["proof_stress"]
    plain = re.sub(r"^(?:CLASS|GRADE|GR|SAE)\b\.?|\s", "", grade.strip().upper().replace(",", "."))
    plain = re.sub(r"^GRADE", "", plain)
    for unit, scale in (("mpa", 1.0), ("psi", MPA_PER_PSI)):
        if plain in rows[unit]:
            return _at_size(grade, rows[unit][plain], diameter_mm) * scale
    raise OutOfRange("grade", f"one of {', '.join([*rows['mpa'], *rows['psi']])}", grade)


def _at_size(grade: str, steps: list[list[float]], diameter_mm: float) -> float:
    """The stress of the first step, each up to a diameter, that the diameter is within."""
    found = next((stress for up_to, stress in steps if diameter_mm <= up_to + 1e-9), None)
    if found is None:
        raise OutOfRange("diameter_mm", f"{steps[-1][0]:g} mm or less for {grade}", f"{diameter_mm:g}")
    return float(found)


def proof_load(area_mm2: Value, proof_stress_mpa: Value) -> Value:
    """Load a screw bears without stretching for good.

    Parameters
    ----------
    area_mm2 : stress area [mm**2]
    proof_stress_mpa : of its grade [MPa]

    Returns
    -------
    load [N]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    stress x area. Valid in tension, at room temperature.

    References
    ----------
    ISO 898-1.

    Examples
    --------
    >>> round(proof_load(58.0, 830), -2)
    48100.0
    """
    positive(area_mm2=area_mm2, proof_stress_mpa=proof_stress_mpa)
    return area_mm2 * proof_stress_mpa


def clamp_load(proof_load_n: Value, *, share: Value = 0.75) -> Value:
    """Clamp of a tightened screw.

    Parameters
    ----------
    proof_load_n : of the screw [N]
    share : 0.75 where it comes apart again, 0.90 where not; common practice [-]

    Returns
    -------
    load [N]

    Raises
    ------
    OutOfRange
        if the load is not positive, or the share not above zero and at most one

    Notes
    -----
    share x proof load. Valid for hard joints; a torque wrench reaches it within a quarter.

    References
    ----------
    Common practice; J. E. Shigley, Mechanical Engineering Design, preload.

    Examples
    --------
    >>> clamp_load(48_100)
    36075.0
    """
    positive(proof_load_n=proof_load_n)
    within(1e-9, 1.0, "above zero and at most one", share=share)
    return share * proof_load_n


def tightening_torque(clamp_n: Value, diameter_mm: Value, *, nut_factor: Value) -> Value:
    """Torque for a clamp.

    Parameters
    ----------
    clamp_n : wanted [N]
    diameter_mm : nominal [mm]
    nut_factor : 0.20 dry steel, 0.15 to 0.18 oiled or zinc plated, 0.12 anti-seize; common practice [-]

    Returns
    -------
    torque [N*mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive, or the nut factor not from 0.05 to 0.5

    Notes
    -----
    K F d. Valid within a quarter: friction decides. Never from dry to oiled with the same torque.

    References
    ----------
    J. E. Shigley, Mechanical Engineering Design, torque and preload.

    Examples
    --------
    >>> round(tightening_torque(36_075, 10, nut_factor=0.2) / 1000, 1)
    72.2
    """
    positive(clamp_n=clamp_n, diameter_mm=diameter_mm)
    within(0.05, 0.5, "from 0.05 to 0.5", nut_factor=nut_factor)
    return nut_factor * clamp_n * diameter_mm


def clamp_of_torque(torque_nmm: Value, diameter_mm: Value, *, nut_factor: Value) -> Value:
    """Clamp that a torque is likely to give.

    Parameters
    ----------
    torque_nmm : at the wrench [N*mm]
    diameter_mm : nominal [mm]
    nut_factor : 0.20 dry steel, 0.15 to 0.18 oiled or zinc plated, 0.12 anti-seize; common practice [-]

    Returns
    -------
    load [N]

    Raises
    ------
    OutOfRange
        if a figure is not positive, or the nut factor not from 0.05 to 0.5

    Notes
    -----
    T / (K d), the inverse of `tightening_torque`. Valid within a quarter: hold the clamp with a quarter on top against
    the proof load, and with a quarter off against what the joint needs.

    References
    ----------
    J. E. Shigley, Mechanical Engineering Design, torque and preload.

    Examples
    --------
    >>> round(clamp_of_torque(72_150, 10, nut_factor=0.2))
    36075
    """
    positive(torque_nmm=torque_nmm, diameter_mm=diameter_mm)
    within(0.05, 0.5, "from 0.05 to 0.5", nut_factor=nut_factor)
    return torque_nmm / (nut_factor * diameter_mm)


def thread_engagement(diameter_mm: Value, pitch_mm: Value, *, strength_ratio: Value = 1.0) -> Value:
    """Least length of thread engaged that breaks the screw before it strips.

    Parameters
    ----------
    diameter_mm : nominal [mm]
    pitch_mm : of the thread [mm]
    strength_ratio : tensile strength of the screw to that of what it is screwed into; one for like material, 800 to 250
        for class 8.8 in cast aluminium [-]

    Returns
    -------
    length [mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    2 A / (0.5 pi (d - 0.64952 P)), and in weaker material as much more as the screw is stronger than it, less what its
    own thread is larger. Valid for full threads without play. Rules of thumb, common practice: 1 to 1.5 d in steel, 2 d
    in iron and aluminium; a thread insert where a thread is often undone.

    References
    ----------
    Machinery's Handbook; FED-STD-H28 (from memory).

    Examples
    --------
    >>> round(thread_engagement(10, 1.5), 2), round(thread_engagement(10, 1.5, strength_ratio=3.2), 1)
    (8.18, 18.8)
    """
    positive(strength_ratio=strength_ratio)
    like = 2 * stress_area(diameter_mm, pitch_mm) / (2 * QUARTER_PI * (diameter_mm - 0.64952 * pitch_mm))
    # shear areas per length of the nominal thread: the screw's at the hole's minor diameter, the hole's at the screw's
    minor, middle = diameter_mm - 1.08253 * pitch_mm, diameter_mm - 0.64952 * pitch_mm
    screw = minor * (0.5 * pitch_mm + 0.57735 * (middle - minor))
    hole = diameter_mm * (0.5 * pitch_mm + 0.57735 * (diameter_mm - middle))
    return like * greatest(1.0, strength_ratio * screw / hole)


def pitch_mismatch_allowed(first_hole_mm: Value, second_hole_mm: Value, screw_mm: Value) -> Value:
    """How much the pitch of two holes in one part may differ from the other's and both screws still pass.

    Parameters
    ----------
    first_hole_mm : diameter of the holes in one part [mm]
    second_hole_mm : diameter of the holes in the other; the screw's for a tapped hole [mm]
    screw_mm : diameter of the screw, over its thread [mm]

    Returns
    -------
    difference of pitch [mm]

    Raises
    ------
    OutOfRange
        if a hole is smaller than the screw

    Notes
    -----
    (first - screw) + (second - screw): each screw floats by half of that, at both holes. Valid for round holes,
    square to the face; nothing is left for screws that must locate.

    References
    ----------
    Floating fastener formula, ASME Y14.5 (from memory).

    Examples
    --------
    >>> pitch_mismatch_allowed(11.0, 10.5, 10.0)
    1.5
    """
    positive(screw_mm=screw_mm, **{"the room in the first hole": first_hole_mm - screw_mm + 1e-12})
    positive(**{"the room in the second hole": second_hole_mm - screw_mm + 1e-12})
    return first_hole_mm + second_hole_mm - 2 * screw_mm
