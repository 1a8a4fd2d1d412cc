"""Trailer couplings: the characteristic values that must stand on the plate, and the load on the ball.

A coupling holds a trailer on the road beside others. Only an approved coupling, fitted as its papers say, may be
used; the values here show whether one could do, and an inspector decides.
"""

from __future__ import annotations

from .arithmetic import Value, greatest, not_negative, positive, within

__all__ = ["ball_load", "d_value", "dc_value", "fifth_wheel_d_value", "trailer_mass_for_d", "v_value"]

HAZARDS = ("welding",)

# as the regulation takes it, not the standard 9.80665
GRAVITY_M_PER_S2 = 9.81


def d_value(towing_mass_kg: Value, trailer_mass_kg: Value) -> Value:
    """D value a coupling must have.

    Parameters
    ----------
    towing_mass_kg : largest permitted of the towing vehicle, with the ball load where there is one [kg]
    trailer_mass_kg : largest permitted of the trailer [kg]

    Returns
    -------
    force between the two [N]

    Raises
    ------
    OutOfRange
        if a mass is not positive

    Notes
    -----
    g T R / (T + R), g = 9.81 m/s2. Valid for trailers with a steered drawbar and, as is usual for coupling balls of
    class A, for centre-axle trailers up to 3500 kg.

    References
    ----------
    UN Regulation No. 55, 2.11 (paragraph from memory); the formulas as reprinted in a public handbook.

    Examples
    --------
    >>> round(d_value(2000, 1500) / 1000, 2)
    8.41
    """
    positive(towing_mass_kg=towing_mass_kg, trailer_mass_kg=trailer_mass_kg)
    return GRAVITY_M_PER_S2 * towing_mass_kg * trailer_mass_kg / (towing_mass_kg + trailer_mass_kg)


def trailer_mass_for_d(d_value_n: Value, towing_mass_kg: Value) -> Value:
    """Heaviest trailer a coupling's D value allows.

    Parameters
    ----------
    d_value_n : on the coupling's plate [N]
    towing_mass_kg : largest permitted of the towing vehicle [kg]

    Returns
    -------
    largest mass of the trailer [kg]

    Raises
    ------
    OutOfRange
        if the vehicle alone is too light for the formula to give an end

    Notes
    -----
    T D / (g T - D), from `d_value`. Valid as that is; the vehicle's and the trailer's own limits may be lower.

    References
    ----------
    UN Regulation No. 55, 2.11 (paragraph from memory); the formulas as reprinted in a public handbook.

    Examples
    --------
    >>> round(trailer_mass_for_d(8408.6, 2000))
    1500
    """
    positive(
        d_value_n=d_value_n, **{"the towing weight less the D value": GRAVITY_M_PER_S2 * towing_mass_kg - d_value_n}
    )
    return towing_mass_kg * d_value_n / (GRAVITY_M_PER_S2 * towing_mass_kg - d_value_n)


def dc_value(towing_mass_kg: Value, trailer_axle_mass_kg: Value) -> Value:
    """Dc value for a centre-axle trailer.

    Parameters
    ----------
    towing_mass_kg : largest permitted of the towing vehicle, with the ball load [kg]
    trailer_axle_mass_kg : on the trailer's axles when loaded to its limit, coupled [kg]

    Returns
    -------
    force between the two [N]

    Raises
    ------
    OutOfRange
        if a mass is not positive

    Notes
    -----
    g T C / (T + C). Valid for centre-axle trailers on couplings that carry a Dc value.

    References
    ----------
    UN Regulation No. 55, 2.11 (paragraph from memory); the formulas as reprinted in a public handbook.

    Examples
    --------
    >>> round(dc_value(2000, 1400) / 1000, 2)
    8.08
    """
    return d_value(towing_mass_kg, trailer_axle_mass_kg)


def fifth_wheel_d_value(towing_mass_kg: Value, trailer_mass_kg: Value, imposed_mass_kg: Value) -> Value:
    """D value a fifth wheel must have for a semi-trailer.

    Parameters
    ----------
    towing_mass_kg : largest permitted of the towing vehicle, with what the semi-trailer puts on it [kg]
    trailer_mass_kg : largest permitted of the semi-trailer [kg]
    imposed_mass_kg : that the semi-trailer puts on the fifth wheel [kg]

    Returns
    -------
    force between the two [N]

    Raises
    ------
    OutOfRange
        if a mass is not positive, or more is imposed than the semi-trailer weighs

    Notes
    -----
    0.6 g T R / (T + R - U). Valid for fifth wheels and their king pins on roads; the coupling's plate names the mass it
    may bear as well.

    References
    ----------
    UN Regulation No. 55, 2.11 (paragraph from memory); the formula as reprinted in a public encyclopedia.

    Examples
    --------
    >>> round(fifth_wheel_d_value(3500, 5000, 1500) / 1000, 2)
    14.72
    """
    positive(towing_mass_kg=towing_mass_kg, trailer_mass_kg=trailer_mass_kg, imposed_mass_kg=imposed_mass_kg)
    positive(**{"what the axles of the semi-trailer carry": trailer_mass_kg - imposed_mass_kg})
    whole = towing_mass_kg + trailer_mass_kg - imposed_mass_kg
    return 0.6 * GRAVITY_M_PER_S2 * towing_mass_kg * trailer_mass_kg / whole


def v_value(
    trailer_axle_mass_kg: Value, body_length_mm: Value, drawbar_length_mm: Value, *, air_suspended: bool = False
) -> Value:
    """V value for a centre-axle trailer above 3500 kg.

    Parameters
    ----------
    trailer_axle_mass_kg : on the trailer's axles when loaded to its limit, coupled [kg]
    body_length_mm : of the trailer's loading space [mm]
    drawbar_length_mm : coupling point to the middle of the axles [mm]
    air_suspended : the towing vehicle's driven axle is, or equally soft

    Returns
    -------
    amplitude of the vertical force [N]

    Raises
    ------
    OutOfRange
        if a figure is not positive

    Notes
    -----
    a (x / l)^2 C, a = 1.8 m/s2 with air suspension, else 2.4; (x / l)^2 not below one. Valid for a ball load of at
    most 10 % of the trailer and 1000 kg.

    References
    ----------
    UN Regulation No. 55, 2.11 (paragraph from memory); the formulas as reprinted in a public handbook.

    Examples
    --------
    >>> round(v_value(5000, 6000, 5000) / 1000, 2)
    17.28
    """
    positive(
        trailer_axle_mass_kg=trailer_axle_mass_kg, body_length_mm=body_length_mm, drawbar_length_mm=drawbar_length_mm
    )
    ratio = body_length_mm / drawbar_length_mm
    return (1.8 if air_suspended else 2.4) * greatest(ratio * ratio, 1.0) * trailer_axle_mass_kg


def ball_load(mass_kg: Value, ahead_of_axle_mm: Value, drawbar_length_mm: Value) -> Value:
    """Load on the ball from the place of a centre-axle trailer's mass.

    Parameters
    ----------
    mass_kg : of the trailer, laden [kg]
    ahead_of_axle_mm : its centre of gravity ahead of the axle [mm]
    drawbar_length_mm : ball to axle [mm]

    Returns
    -------
    load on the ball [kg]

    Raises
    ------
    OutOfRange
        if the drawbar is not positive, the mass negative, or it lies beyond the ball

    Notes
    -----
    mass x ahead / drawbar. Valid on the level. Too little makes the trailer sway (a coupling maker asks for 4 % of the
    trailer at least), too much lifts the front axle: keep to what vehicle, coupling and trailer each name.

    References
    ----------
    Statics.

    Examples
    --------
    >>> ball_load(1500, 200, 4000)
    75.0
    """
    positive(drawbar_length_mm=drawbar_length_mm)
    not_negative(mass_kg=mass_kg)
    within(
        -1.0,
        1.0,
        "no further from the axle than the ball",
        **{"the place of the mass over the drawbar": ahead_of_axle_mm / drawbar_length_mm},
    )
    return mass_kg * ahead_of_axle_mm / drawbar_length_mm
