"""Brake torque, load transfer, balance between the axles and the adhesion they use.

Brakes stop the vehicle. The figures leave out fade, wear, boosters and electronic distribution; changes of balance are
judged by the local code and whoever inspects the vehicle, after a test on the vehicle itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arithmetic import STANDARD_GRAVITY, Value, least, not_negative, positive, within

__all__ = [
    "AxleForces",
    "adhesion_used",
    "balance_keeps_rear_last",
    "brake_force",
    "braking_rate",
    "disc_torque",
    "drum_torque",
    "equal_adhesion_rate",
    "front_share",
    "ideal_forces",
    "least_braking_rate",
    "loads_when_braking",
    "mean_deceleration",
    "pad_radius",
    "valve_pressure",
]

HAZARDS = ("brakes",)


@dataclass(frozen=True, slots=True)
class AxleForces:
    """A figure for each axle.

    Parameters
    ----------
    front : at the front axle [N]
    rear : at the rear axle [N]
    """

    front: Value
    rear: Value


@dataclass(frozen=True, slots=True)
class AdhesionUsed:
    """Share of its load that each axle asks of the road.

    Parameters
    ----------
    front : brake force to load at the front axle [-]
    rear : brake force to load at the rear axle [-]
    """

    front: Value
    rear: Value


def pad_radius(disc_outer_diameter_mm: Value, pad_height_mm: Value) -> Value:
    """Radius at which a pad's force acts.

    Parameters
    ----------
    disc_outer_diameter_mm : of the swept ring [mm]
    pad_height_mm : of the pad, along the radius [mm]

    Returns
    -------
    mean radius [mm]

    Raises
    ------
    OutOfRange
        if the pad is higher than the disc's radius

    Notes
    -----
    Middle of the pad, as for pads worn in. Valid within 1.4 %, from below, for new pads lower than a third of the
    radius.

    References
    ----------
    Common practice.

    Examples
    --------
    >>> pad_radius(280, 48)
    116.0
    """
    positive(disc_outer_diameter_mm=disc_outer_diameter_mm, pad_height_mm=pad_height_mm)
    positive(**{"the radius inside the pad": disc_outer_diameter_mm / 2 - pad_height_mm})
    return (disc_outer_diameter_mm - pad_height_mm) / 2


def disc_torque(pad_force_n: Value, friction: Value, radius_mm: Value) -> Value:
    """Torque of one disc brake.

    Parameters
    ----------
    pad_force_n : on each of the two pads [N]
    friction : between pad and disc [-]
    radius_mm : at which the pads act [mm]

    Returns
    -------
    torque at the wheel [N*mm]

    Raises
    ------
    OutOfRange
        if the friction or the radius is not positive, or the force negative

    Notes
    -----
    2 mu F r, one pad each side. Valid for friction at the temperature meant; take the pad maker's, often 0.35 to 0.45.

    References
    ----------
    Public engineering handbook, disc brakes.

    Examples
    --------
    >>> disc_torque(5000, 0.4, 120)
    480000.0
    """
    not_negative(pad_force_n=pad_force_n)
    positive(friction=friction, radius_mm=radius_mm)
    return 2 * friction * pad_force_n * radius_mm


def drum_torque(shoe_force_n: Value, brake_factor: Value, drum_radius_mm: Value) -> Value:
    """Torque of one drum brake.

    Parameters
    ----------
    shoe_force_n : of the wheel cylinder on one shoe [N]
    brake_factor : drum drag to that force: about 2 for a leading and a trailing shoe, 3 for two leading, 5 for two in
        servo, at friction of 0.38; common practice [-]
    drum_radius_mm : inside the drum [mm]

    Returns
    -------
    torque at the wheel [N*mm]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    C* F r. Valid for the friction the factor was taken at: a servo brake answers a tenth more friction with a quarter
    more torque, so left and right pull apart. Take the maker's factor.

    References
    ----------
    Automotive engineering handbooks, internal transmission ratio C* (from memory).

    Examples
    --------
    >>> drum_torque(2000, 2.0, 115)
    460000.0
    """
    not_negative(shoe_force_n=shoe_force_n)
    positive(brake_factor=brake_factor, drum_radius_mm=drum_radius_mm)
    return brake_factor * shoe_force_n * drum_radius_mm


def brake_force(torque_nmm: Value, rolling_radius_mm: Value) -> Value:
    """Force between tyre and road from the torque of a brake.

    Parameters
    ----------
    torque_nmm : of the brake, or of both on an axle [N*mm]
    rolling_radius_mm : of the tyre, loaded [mm]

    Returns
    -------
    force, as long as the tyre grips [N]

    Raises
    ------
    OutOfRange
        if the radius is not positive, or the torque negative

    Notes
    -----
    torque / radius. Valid at a steady rate; what slows the wheel itself is left out.

    References
    ----------
    Statics.

    Examples
    --------
    >>> brake_force(930_000, 310)
    3000.0
    """
    not_negative(torque_nmm=torque_nmm)
    positive(rolling_radius_mm=rolling_radius_mm)
    return torque_nmm / rolling_radius_mm


def front_share(front_force_n: Value, rear_force_n: Value) -> Value:
    """Share of the whole brake force at the front axle.

    Parameters
    ----------
    front_force_n : of both front wheels at some pedal force, see `brake_force` [N]
    rear_force_n : of both rear wheels at the same pedal force [N]

    Returns
    -------
    share [-]

    Raises
    ------
    OutOfRange
        if a force is negative, or there is none

    Notes
    -----
    front / (front + rear). Valid for one pedal force; with a valve in the rear line the share grows with the pedal:
    work it out at each pressure, see `valve_pressure`.

    References
    ----------
    Definition; UN Regulation No. 13-H, annex 5.

    Examples
    --------
    >>> front_share(6300, 2700)
    0.7
    """
    not_negative(front_force_n=front_force_n, rear_force_n=rear_force_n)
    positive(**{"the whole force": front_force_n + rear_force_n})
    return front_force_n / (front_force_n + rear_force_n)


def braking_rate(brake_force_n: Value, mass_kg: Value) -> Value:
    """Rate at which brakes slow a vehicle, as long as its tyres grip.

    Parameters
    ----------
    brake_force_n : of all wheels [N]
    mass_kg : of the vehicle, laden as meant [kg]

    Returns
    -------
    deceleration as a share of gravity [-]

    Raises
    ------
    OutOfRange
        if the mass is not positive, or the force negative

    Notes
    -----
    force / weight. Valid on the level, without what air, rolling and engine add. More than the adhesion of the road it
    can't be.

    References
    ----------
    Definition; UN Regulation No. 13-H, annex 5.

    Examples
    --------
    >>> round(braking_rate(9000, 1500), 3)
    0.612
    """
    not_negative(brake_force_n=brake_force_n)
    positive(mass_kg=mass_kg)
    return brake_force_n / (mass_kg * STANDARD_GRAVITY / 1000)


def valve_pressure(pressure_mpa: Value, knee_mpa: Value, slope: Value) -> Value:
    """Pressure behind a pressure-reducing valve in the rear line.

    Parameters
    ----------
    pressure_mpa : before the valve [MPa]
    knee_mpa : above which it reduces [MPa]
    slope : rise behind it to rise before it, above the knee; nought for one that holds [-]

    Returns
    -------
    pressure behind the valve [MPa]

    Raises
    ------
    OutOfRange
        if a pressure is negative, or the slope not from zero to one

    Notes
    -----
    p to the knee, then knee + slope (p - knee). Valid as pressure rises; on the way back it lags. A valve that senses
    load has its own knee for each load.

    References
    ----------
    R. Limpert, Brake Design and Safety, proportioning valves (from memory).

    Examples
    --------
    >>> valve_pressure(6.0, 3.0, 0.3)
    3.9
    """
    not_negative(pressure_mpa=pressure_mpa, knee_mpa=knee_mpa)
    within(0.0, 1.0, "from zero to one", slope=slope)
    return least(pressure_mpa, knee_mpa + slope * (pressure_mpa - knee_mpa))


def loads_when_braking(
    front_static_n: Value, rear_static_n: Value, height_mm: Value, wheelbase_mm: Value, rate: Value
) -> AxleForces:
    """Axle loads at a braking rate.

    Parameters
    ----------
    front_static_n : load on the front axle, standing [N]
    rear_static_n : load on the rear axle, standing [N]
    height_mm : of the centre of gravity [mm]
    wheelbase_mm : between the axles [mm]
    rate : deceleration as a share of gravity; negative when accelerating [-]

    Returns
    -------
    load on each axle

    Raises
    ------
    OutOfRange
        if the wheelbase is not positive, a load or the height negative, or an axle lifts at that rate

    Notes
    -----
    z h W / L moves to the front. Valid on the level, two axles, no trailer, until an axle lifts.

    References
    ----------
    UN Regulation No. 13-H, annex 5; T. D. Gillespie, Fundamentals of Vehicle Dynamics.

    Examples
    --------
    >>> loads_when_braking(6000, 4000, 500, 2500, 0.5).front
    7000.0
    """
    positive(wheelbase_mm=wheelbase_mm, **{"the whole load": front_static_n + rear_static_n})
    not_negative(front_static_n=front_static_n, rear_static_n=rear_static_n, height_mm=height_mm)
    moved = rate * height_mm * (front_static_n + rear_static_n) / wheelbase_mm
    loads = AxleForces(front_static_n + moved, rear_static_n - moved)
    hair = 1e-12 * (front_static_n + rear_static_n)  # an axle that just lifts carries nothing, but for rounding
    not_negative(
        **{"the load left on the front axle": loads.front + hair, "the load left on the rear axle": loads.rear + hair}
    )
    return loads


def ideal_forces(
    front_static_n: Value, rear_static_n: Value, height_mm: Value, wheelbase_mm: Value, adhesion: Value
) -> AxleForces:
    """Brake force of each axle when every wheel is at the limit of its grip.

    Parameters
    ----------
    front_static_n : load on the front axle, standing [N]
    rear_static_n : load on the rear axle, standing [N]
    height_mm : of the centre of gravity [mm]
    wheelbase_mm : between the axles [mm]
    adhesion : of tyre and road [-]

    Returns
    -------
    brake force of each axle

    Raises
    ------
    OutOfRange
        if the wheelbase is not positive, another figure negative, or the rear axle lifts before the tyres slide

    Notes
    -----
    adhesion x load, the rate being the adhesion. Valid as for `loads_when_braking`.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, braking performance.

    Examples
    --------
    >>> round(ideal_forces(6000, 3500, 350, 2400, 0.65).front)
    4485
    """
    not_negative(adhesion=adhesion)
    loads = loads_when_braking(front_static_n, rear_static_n, height_mm, wheelbase_mm, adhesion)
    return AxleForces(adhesion * loads.front, adhesion * loads.rear)


def adhesion_used(
    front_static_n: Value, rear_static_n: Value, height_mm: Value, wheelbase_mm: Value, front_share: Value, rate: Value
) -> AdhesionUsed:
    """Adhesion each axle uses at a braking rate, with a fixed share in front.

    Parameters
    ----------
    front_static_n : load on the front axle, standing [N]
    rear_static_n : load on the rear axle, standing [N]
    height_mm : of the centre of gravity [mm]
    wheelbase_mm : between the axles [mm]
    front_share : of the whole brake force at the front axle [-]
    rate : deceleration as a share of gravity [-]

    Returns
    -------
    adhesion used by each axle

    Raises
    ------
    OutOfRange
        if the share is not from zero to one, the rate negative, or no load is left on an axle at that rate

    Notes
    -----
    Brake force of the axle / its load. The axle with the higher figure locks first. Valid as for `loads_when_braking`.

    References
    ----------
    UN Regulation No. 13-H, annex 5 (from memory).

    Examples
    --------
    >>> used = adhesion_used(6000, 4000, 500, 2500, 0.72, 0.5)
    >>> round(used.front, 4), round(used.rear, 4)
    (0.5143, 0.4667)
    """
    within(0.0, 1.0, "from zero to one", front_share=front_share)
    not_negative(rate=rate)
    loads = loads_when_braking(front_static_n, rear_static_n, height_mm, wheelbase_mm, rate)
    positive(**{"the load left on the front axle": loads.front, "the load left on the rear axle": loads.rear})
    force = rate * (front_static_n + rear_static_n)
    return AdhesionUsed(front_share * force / loads.front, (1 - front_share) * force / loads.rear)


def equal_adhesion_rate(
    front_static_n: Value, rear_static_n: Value, height_mm: Value, wheelbase_mm: Value, front_share: Value
) -> Value:
    """Braking rate above which the rear axle locks first.

    Parameters
    ----------
    front_static_n : load on the front axle, standing [N]
    rear_static_n : load on the rear axle, standing [N]
    height_mm : of the centre of gravity [mm]
    wheelbase_mm : between the axles [mm]
    front_share : of the whole brake force at the front axle [-]

    Returns
    -------
    rate as a share of gravity [-]

    Raises
    ------
    OutOfRange
        if a length is not positive, a load negative, or the share not from zero to one

    Notes
    -----
    (share - front load / weight) L / h; negative where the rear locks first at every rate. Valid for a fixed share;
    below it the front locks first. A rear axle that locks first spins the vehicle.

    References
    ----------
    UN Regulation No. 13-H, annex 5 (from memory).

    Examples
    --------
    >>> round(equal_adhesion_rate(6000, 4000, 500, 2500, 0.72), 6)
    0.6
    """
    positive(height_mm=height_mm, wheelbase_mm=wheelbase_mm, **{"the whole load": front_static_n + rear_static_n})
    not_negative(front_static_n=front_static_n, rear_static_n=rear_static_n)
    within(0.0, 1.0, "from zero to one", front_share=front_share)
    return (front_share - front_static_n / (front_static_n + rear_static_n)) * wheelbase_mm / height_mm


def least_braking_rate(adhesion: Value, *, slope: float = 0.7) -> Value:
    """Rate a car must reach on a road of given adhesion before an axle locks.

    Parameters
    ----------
    adhesion : of tyre and road, 0.2 to 0.8 [-]
    slope : 0.7 in UN Regulation No. 13-H, 0.85 in No. 13 and its older text [-]

    Returns
    -------
    rate as a share of gravity [-]

    Raises
    ------
    OutOfRange
        if the adhesion is outside 0.2 to 0.8, or the slope above one or not positive

    Notes
    -----
    0.1 + slope (k - 0.2). Valid within the adhesions named. Ask the inspector which text applies to the vehicle.

    References
    ----------
    UN Regulation No. 13-H, annex 5; No. 13, annex 10 (from memory).

    Examples
    --------
    >>> round(least_braking_rate(0.5), 3)
    0.31
    """
    within(0.2, 0.8, "from 0.2 to 0.8", adhesion=adhesion)
    within(1e-9, 1.0, "above zero and at most one", slope=slope)
    return 0.1 + slope * (adhesion - 0.2)


def balance_keeps_rear_last(
    front_static_n: float, rear_static_n: float, height_mm: float, wheelbase_mm: float, front_share: float
) -> bool:
    """Whether a fixed balance keeps the front axle the first to lock, as asked of passenger cars.

    Parameters
    ----------
    front_static_n : load on the front axle, standing [N]
    rear_static_n : load on the rear axle, standing [N]
    height_mm : of the centre of gravity [mm]
    wheelbase_mm : between the axles [mm]
    front_share : of the whole brake force at the front axle [-]

    Returns
    -------
    true if the front uses more adhesion than the rear at every rate from 0.15 to 0.8; between 0.3 and 0.45 the rear
    may use up to the rate plus 0.05

    Raises
    ------
    OutOfRange
        if the share is not from zero to one, a length not positive or a load negative

    Notes
    -----
    Compared at steps of 0.001; false where the rear axle lifts below 0.8. Valid
    for category M1 with a fixed share, one loading: look at it laden and unladen.

    References
    ----------
    Council Directive 71/320/EEC, annex II, appendix, 3.1.1.

    Examples
    --------
    >>> balance_keeps_rear_last(6000, 4000, 500, 2500, 0.78), balance_keeps_rear_last(6000, 4000, 500, 2500, 0.66)
    (True, False)
    """
    rate = np.linspace(0.15, 0.8, 651)
    standing = loads_when_braking(front_static_n, rear_static_n, height_mm, wheelbase_mm, 0.0)
    if standing.rear <= 0.8 * height_mm * (standing.front + standing.rear) / wheelbase_mm:
        return False
    used = adhesion_used(front_static_n, rear_static_n, height_mm, wheelbase_mm, front_share, rate)
    allowed = (rate >= 0.3) & (rate <= 0.45) & (used.rear <= rate + 0.05)
    return bool(np.all((used.front > used.rear) | allowed))


def mean_deceleration(speed_from_mm_per_s: Value, distance_mm: Value) -> Value:
    """Mean fully developed deceleration, from the distance between 0.8 and 0.1 of the first speed.

    Parameters
    ----------
    speed_from_mm_per_s : at which braking began [mm/s]
    distance_mm : run between 0.8 and 0.1 of that speed [mm]

    Returns
    -------
    deceleration [mm/s**2]

    Raises
    ------
    OutOfRange
        if the speed or the distance is not positive

    Notes
    -----
    (0.8^2 - 0.1^2) v^2 / (2 s). Valid for a straight stop on the level.

    References
    ----------
    UN Regulation No. 13, annex 4.

    Examples
    --------
    >>> round(mean_deceleration(100e6 / 3600, 37_800) / 1000, 2)
    6.43
    """
    positive(speed_from_mm_per_s=speed_from_mm_per_s, distance_mm=distance_mm)
    return 0.63 * speed_from_mm_per_s * speed_from_mm_per_s / (2 * distance_mm)
