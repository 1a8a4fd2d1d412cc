"""Formulas against printed rules, against each other and against long-hand arithmetic."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fishplate.build.units import conversion_factor
from fishplate.trade import (
    OutOfRange,
    brakes,
    coupling,
    fasteners,
    gearing,
    hydraulics,
    springs,
    steering,
    weight,
    wiring,
)
from fishplate.trade.tables import table

POSITIVE = st.floats(1.0, 1e4)


# --- brakes ---

# One loading: 6000 N and 4000 N on the axles, 0.5 m high, 2.5 m long.
LOADS = (6000.0, 4000.0, 500.0, 2500.0)


def test_adhesion_used_agrees_with_long_hand() -> None:
    # UN R13-H, annex 5: f1 = T1 / (P1 + z h P / E), f2 = T2 / (P2 - z h P / E), at z 0.5 and 0.72 in front
    used = brakes.adhesion_used(*LOADS, 0.72, 0.5)
    assert used.front == pytest.approx(0.72 * 5000 / (6000 + 0.5 * 0.5 * 10000 / 2.5))
    assert used.rear == pytest.approx(0.28 * 5000 / (4000 - 0.5 * 0.5 * 10000 / 2.5))


@given(st.floats(0.55, 0.95))
def test_both_axles_use_alike_at_the_rate_where_they_cross(share: float) -> None:
    rate = brakes.equal_adhesion_rate(*LOADS, share)
    used = brakes.adhesion_used(*LOADS, share, rate)
    assert used.front == pytest.approx(used.rear)
    # there the adhesion used is the rate itself, as at the ideal forces
    assert used.front == pytest.approx(rate)


def test_rear_last_holds_exactly_where_the_curves_cross_above_the_range() -> None:
    # cross at 0.8: share = 0.6 + 0.8 h / L
    limit = 0.6 + 0.8 * 500 / 2500
    assert brakes.balance_keeps_rear_last(*LOADS, limit + 1e-4)
    assert not brakes.balance_keeps_rear_last(*LOADS, limit - 1e-3)


def test_least_rate_is_the_printed_line() -> None:
    # UN R13-H z >= 0.1 + 0.7 (k - 0.2); R13 with 0.85 (from memory)
    adhesion = np.array([0.2, 0.5, 0.8])
    assert brakes.least_braking_rate(adhesion) == pytest.approx([0.1, 0.31, 0.52])
    assert brakes.least_braking_rate(adhesion, slope=0.85) == pytest.approx([0.1, 0.355, 0.61])


def test_mean_deceleration_is_the_printed_formula() -> None:
    # UN R13, annex 4: (vb^2 - ve^2) / (25.92 (se - sb)), km/h and m
    speed, distance = 87.0, 41.5
    printed = ((0.8 * speed) ** 2 - (0.1 * speed) ** 2) / (25.92 * distance)
    assert brakes.mean_deceleration(speed * 1e6 / 3600, distance * 1000) / 1000 == pytest.approx(printed, rel=1e-9)


def test_braking_and_accelerating_move_load_opposite_ways() -> None:
    braking, powered = (brakes.loads_when_braking(*LOADS, rate) for rate in (0.4, -0.4))
    assert braking.front + braking.rear == pytest.approx(10_000)
    assert braking.front - 6000 == pytest.approx(6000 - powered.front)


# --- hydraulics ---


@given(POSITIVE, st.floats(5, 60), st.floats(5, 60), st.floats(1, 50))
def test_what_a_cylinder_gains_in_force_it_loses_in_travel(
    force: float, master: float, slave: float, stroke: float
) -> None:  # fmt: skip
    area = hydraulics.piston_area(slave)
    out = hydraulics.piston_force(hydraulics.line_pressure(force, master), area)
    assert out * hydraulics.slave_travel(master, stroke, area) == pytest.approx(force * stroke)


def test_concentric_slave_travels_by_its_ring() -> None:
    # 0.75 in x 1.25 in over a ring of 2.0 less 1.375 in: 0.552 in3, 1.657 in2, 0.333 in (from memory)
    ring = hydraulics.annulus_area(2.0 * 25.4, 1.375 * 25.4)
    assert hydraulics.slave_travel(0.75 * 25.4, 1.25 * 25.4, ring) / 25.4 == pytest.approx(0.333, abs=0.001)


# --- springs ---


def test_spring_examples_of_the_handbooks() -> None:
    # Khurmi, A Textbook of Machine Design, 23.2 (from memory): 6 mm wire, 75 mm outside, 84 kN/mm2;
    # 9.26 mm a turn at 383.4 N
    turn = springs.spring_rate(6, 69, 1, shear_modulus_mpa=84_000)
    assert springs.static_deflection(383.4, turn) == pytest.approx(9.26, abs=0.006)
    # Shigley, 10-1: 0.037 in wire, 7/16 in outside, 10.5 turns, 11.85e6 psi: 4.13 lbf/in (from memory)
    rate = springs.spring_rate(
        0.037 * 25.4, 0.400 * 25.4, 10.5, shear_modulus_mpa=11.85e6 * conversion_factor("psi", "MPa")
    )
    assert rate * conversion_factor("N/mm", "lbf/in") == pytest.approx(4.13, abs=0.006)


def test_leaning_spring_acts_by_the_square_of_the_cosine() -> None:
    rates = springs.inclined_rate(100.0, np.radians([10, 20, 30]))
    assert rates == pytest.approx([96.98, 88.30, 75.0], abs=0.006)


def test_leaning_spring_agrees_with_its_length_followed() -> None:
    # a spring of 300 mm leaning 30 degrees, its foot moved straight up by a hair
    lean, step = np.radians(30), 1e-4
    tall, wide = 300 * np.cos(lean), 300 * np.sin(lean)
    shortened = 300 - np.hypot(tall - step, wide)
    force = 100 * shortened * np.cos(lean)
    assert force / step == pytest.approx(float(springs.inclined_rate(100.0, lean)), rel=1e-4)


def test_stacked_springs_share_the_load_and_add_their_travel() -> None:
    rates, load = np.array([30.0, 50.0, 120.0]), 900.0
    travel = sum(springs.static_deflection(load, rate) for rate in rates)
    assert springs.series_rate(rates) == pytest.approx(load / travel)


def test_roll_rate_is_the_moment_of_two_springs() -> None:
    # a roll of a milliradian moves each side by half the spread times it
    moment = 2 * 25.0 * (1500 / 2 * 1e-3) * 1500 / 2
    assert springs.roll_rate(25.0, 1500.0) * 1e-3 == pytest.approx(moment)


def test_critical_damping_is_the_double_root() -> None:
    rate, mass = 25.0, 350.0
    damping = 1000 * float(springs.critical_damping(rate, mass))  # N s/m
    roots = np.roots([mass, damping, 1000 * rate])
    assert roots[0] == pytest.approx(roots[1], rel=1e-6)


# --- gearing, weight, coupling ---


@given(st.floats(50, 700), st.floats(2, 20), st.floats(1500, 3000))
def test_speed_and_engine_speed_are_inverse(speed: float, ratio: float, around: float) -> None:
    road = gearing.road_speed(speed, ratio, around)
    assert gearing.engine_speed(road, ratio, around) == pytest.approx(speed)


def test_a_larger_tyre_with_its_ratio_keeps_the_engine_speed() -> None:
    ratio = gearing.ratio_for_tyre(3.73, 680.0, 760.0)
    old, new = gearing.engine_speed(25_000.0, 3.73, np.pi * 680), gearing.engine_speed(25_000.0, ratio, np.pi * 760)
    assert old == pytest.approx(new)


def test_items_move_axle_loads_by_their_levers() -> None:
    together = weight.axle_masses_of_items(np.array([75.0, 40]), np.array([3500.0, 2000]), 2460.0)
    singly = [weight.axle_loads(75.0, 3500.0, 2460.0), weight.axle_loads(40.0, 2000.0, 2460.0)]
    assert together.rear == pytest.approx(sum(item.rear for item in singly))
    assert together.front + together.rear == pytest.approx(115.0)


def test_centre_of_gravity_comes_back_from_the_loads_it_makes() -> None:
    axles = weight.axle_loads(1240.0, 1180.0, 2460.0)
    assert weight.gravity_behind_front(axles.front, axles.rear, 2460.0) == pytest.approx(1180.0)


def test_height_comes_back_from_a_vehicle_raised_by_trigonometry() -> None:
    # centre 1180 behind, 590 high; axles 300 high; rear raised by 500 about the front axle
    wheelbase, behind, height, axle, mass, lift = 2460.0, 1180.0, 590.0, 300.0, 1240.0, 500.0
    tilt = np.arcsin(lift / wheelbase)
    rear = mass * (behind * np.cos(tilt) - (height - axle) * np.sin(tilt)) / (wheelbase * np.cos(tilt))
    level = float(weight.axle_loads(mass, behind, wheelbase).front)
    found = weight.gravity_height(wheelbase, mass, level, mass - rear, lift, axle)
    assert found == pytest.approx(height)


def test_driven_axles_limit_is_where_grip_meets_its_load() -> None:
    # 1800 kg, 2.6 m, 0.7 m high, middle, grip 0.7: 2.89 and 4.23 m/s2 by the lecture's formula (from memory)
    half = 900 * 9.80665
    front, rear = (
        weight.largest_acceleration(half, half, 700.0, 2600.0, 0.7, driven=axle) for axle in ("front", "rear")
    )
    assert (front / 1000, rear / 1000) == pytest.approx((2.89, 4.23), abs=0.006)
    loads = brakes.loads_when_braking(half, half, 700.0, 2600.0, -rear / 9806.65)
    assert 1.8 * rear == pytest.approx(0.7 * loads.rear)


def test_coupling_values_are_the_printed_formulas() -> None:
    # UN R55, 2.11: D = g T R / (T + R), kN and tonnes; Dc likewise; V = a x^2 / l^2 C
    assert coupling.d_value(2000.0, 1500.0) / 1000 == pytest.approx(9.80665 * 2 * 1.5 / 3.5)
    assert coupling.trailer_mass_for_d(coupling.d_value(2000.0, 1500.0), 2000.0) == pytest.approx(1500)
    assert coupling.v_value(5000.0, 6000.0, 5000.0, air_suspended=True) / 1000 == pytest.approx(1.8 * 1.44 * 5)
    assert coupling.v_value(5000.0, 4000.0, 5000.0) / 1000 == pytest.approx(2.4 * 5)


def test_support_bearings_are_joints_less_two() -> None:
    assert [steering.supports_needed(joints) for joints in (2, 3, 4)] == [0, 1, 2]


# --- screws, wires ---


def test_fine_threads_have_their_printed_area() -> None:
    # ISO 898-1, fine pitches (from memory)
    areas = [
        float(fasteners.thread_stress_area(thread)) for thread in ("M8x1", "M10x1.25", "M12x1.25", "M12x1.5", "M14x1.5")
    ]
    assert areas == pytest.approx([39.2, 61.2, 92.1, 88.1, 125], rel=0.004)


def test_a_pipe_thread_carries_no_load() -> None:
    with pytest.raises(OutOfRange, match="pipe"):
        fasteners.thread_stress_area("G 1/4")


def test_drop_and_area_are_inverse() -> None:
    area = wiring.area_for_drop(18.0, 9000.0, 0.36)
    assert wiring.voltage_drop(18.0, 9000.0, area) == pytest.approx(0.36)


def test_current_table_rises_with_size_and_with_insulation() -> None:
    rows = table("conductors")["ampacity"]
    amperes = np.array([rows["amperes"][rating] for rating in ("60", "75", "80", "90", "105")])
    assert amperes.shape[1] == len(rows["awg"])
    assert (np.diff(amperes, axis=1) > 0).all()
    assert (np.diff(amperes, axis=0) >= 0).all()


def test_a_metric_conductor_is_read_down_to_the_gauge_below_it() -> None:
    # 2.5 mm2 lies between 14 AWG (2.08) and 12 AWG (3.31)
    assert wiring.ampacity(2.5, 105) == 35
    with pytest.raises(OutOfRange, match="18 AWG"):
        wiring.ampacity(0.5, 105)


# --- what every formula owes ---


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_what_a_formula_does_not_hold_for_is_refused_by_name(bad: float) -> None:
    with pytest.raises(OutOfRange, match="wire_mm must be above zero"):
        springs.spring_rate(bad, 100.0, 6.0, shear_modulus_mpa=80_000.0)
    with pytest.raises(OutOfRange, match="wire_mm"):
        springs.spring_rate(np.array([10.0, bad]), 100.0, 6.0, shear_modulus_mpa=80_000.0)


def test_numbers_give_numbers_and_arrays_give_arrays() -> None:
    single = springs.natural_frequency(25.0, 350.0)
    several = springs.natural_frequency(np.array([25.0, 30.0]), 350.0)
    assert type(single) is float
    assert isinstance(several, np.ndarray)
    assert several[0] == single
