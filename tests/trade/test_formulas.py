"""Formulas against printed rules, against each other and against long-hand arithmetic."""

import contextlib
import inspect

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fishplate.build.units import conversion_factor
from fishplate.trade import (
    Calculation,
    OutOfRange,
    brakes,
    calculations,
    coupling,
    fasteners,
    gearing,
    hydraulics,
    springs,
    steering,
    weight,
    wiring,
)
from fishplate.trade.answers import example_of
from fishplate.trade.arguments import read_arguments
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


@given(st.floats(0.6, 0.95))
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


def test_share_and_rate_follow_from_the_parts() -> None:
    # a car of 1500 kg: two pistons of 54 and of 34 mm a side, discs at 110 and 115 mm, tyres of 310 mm, 6 MPa
    force = {}
    for axle, bore, radius in (("front", 54.0, 110.0), ("rear", 34.0, 115.0)):
        pads = hydraulics.piston_force(6.0, hydraulics.piston_area(bore))
        force[axle] = brakes.brake_force(2 * brakes.disc_torque(pads, 0.4, radius), 310.0)
    share = brakes.front_share(force["front"], force["rear"])
    assert share == pytest.approx(54**2 * 110 / (54**2 * 110 + 34**2 * 115))
    rate = brakes.braking_rate(force["front"] + force["rear"], 1500.0)
    assert rate == pytest.approx(4 * 0.4 * 6 * np.pi / 4 * (54**2 * 110 + 34**2 * 115) / 310 / (1500 * 9.80665))


@pytest.mark.parametrize("share", [0.1, 0.2, 1 / 3])
def test_pad_radius_is_near_that_of_even_pressure(share: float) -> None:
    # a new pad presses evenly: 2/3 (R^3 - r^3) / (R^2 - r^2)
    outer, inner = 140.0, 140.0 * (1 - share)
    even = 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2)
    assert 1 <= even / brakes.pad_radius(2 * outer, outer - inner) <= 1.014


def test_a_valve_holds_back_above_its_knee_alone() -> None:
    behind = brakes.valve_pressure(np.array([0.0, 2.0, 3.0, 5.0, 9.0]), 3.0, 0.4)
    assert behind == pytest.approx([0.0, 2.0, 3.0, 3.8, 5.4])
    # the share in front grows where it works
    shares = brakes.front_share(np.array([2.0, 5.0, 9.0]), behind[[1, 3, 4]] * 0.5)
    assert np.all(np.diff(shares) > 0)


def test_a_drum_in_servo_drags_two_and_a_half_times_one_without() -> None:
    plain, servo = (brakes.drum_torque(1500.0, factor, 127.0) for factor in (2.0, 5.0))
    assert servo / plain == pytest.approx(2.5)


@pytest.mark.parametrize(
    ("loads", "rate"), [((6000.0, 4000.0, 1500.0, 2500.0), 0.7), ((6000.0, 4000.0, 500.0, 2500.0), -0.1)]
)
def test_adhesion_is_refused_where_an_axle_has_no_load_left(
    loads: tuple[float, float, float, float], rate: float
) -> None:
    with pytest.raises(OutOfRange, match=r"rate must be|the load left on the rear axle must be"):
        brakes.adhesion_used(*loads, 0.7, rate)


def test_no_axle_is_said_to_carry_less_than_nothing() -> None:
    assert brakes.loads_when_braking(6000.0, 4000.0, 1500.0, 2500.0, 4000 * 2500 / 1500 / 10_000).rear == pytest.approx(
        0, abs=1e-9
    )
    for rate in (0.7, -1.1):
        with pytest.raises(OutOfRange, match="the load left on the"):
            brakes.loads_when_braking(6000.0, 4000.0, 1500.0, 2500.0, rate)
    with pytest.raises(OutOfRange, match="the load left on the rear axle"):
        brakes.ideal_forces(6000.0, 4000.0, 1500.0, 2500.0, 0.9)


def test_a_rear_axle_that_lifts_is_not_last_to_lock() -> None:
    assert not brakes.balance_keeps_rear_last(7500.0, 2500.0, 900.0, 2400.0, 1.0)


# --- hydraulics ---


@given(POSITIVE, st.floats(12, 32), st.floats(3, 8), st.floats(1, 5))
def test_the_foot_makes_the_pressure_it_is_asked_for(force: float, bore: float, lever: float, booster: float) -> None:
    pressure = hydraulics.line_pressure(force * lever * booster, bore)
    assert hydraulics.pedal_force(pressure, bore, lever, booster=booster) == pytest.approx(force)
    moved = hydraulics.displacement(bore, 12.0)
    assert hydraulics.pedal_travel(moved, bore, lever, lost_stroke_mm=1.5) == pytest.approx(lever * 13.5)


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


def test_a_leaf_spring_of_one_leaf_is_a_beam_in_bending() -> None:
    # a triangle of spring steel, as wide at the clamp as all leaves together: s = F (s/2)^3 / (4 E I), I = n b t^3 / 12
    rate = springs.leaf_rate(9, 60, 7, 1200, modulus_mpa=206_000)
    inertia = 9 * 60 * 7**3 / 12
    assert rate == pytest.approx(2 * 2 * 206_000 * inertia / 600**3)
    # and all of them full: a cantilever of even width on either side, 3 E I / l^3
    full = springs.leaf_rate(9, 60, 7, 1200, modulus_mpa=206_000, full_leaves=9)
    assert full == pytest.approx(2 * 3 * 206_000 * inertia / 600**3)


def test_leaf_spring_example_of_the_handbook() -> None:
    # Bhandari, Design of Machine Elements, leaf springs (from memory): ten leaves and two full, 60 x 12 mm, 1.2 m,
    # 207 kN/mm2, 30 kN: nipped, 69.68 mm; 600 N/mm2 asks for a thickness of 11.18 mm
    rate = springs.leaf_rate(12, 60, 12, 1200, modulus_mpa=207_000, full_leaves=2)
    assert springs.static_deflection(30_000, rate) == pytest.approx(69.68, abs=0.006)
    assert springs.leaf_stress(30_000, 12, 60, np.sqrt(125), 1200) == pytest.approx(600)


def test_a_torsion_bar_is_an_anti_roll_bar_held_at_one_end() -> None:
    # the bar twists by d / a, the wheel feels its moment over a; an anti-roll bar twists by both wheels' travel
    rate = springs.torsion_bar_rate(24, 1100, 250, shear_modulus_mpa=80_000)
    bar = springs.bar_roll_rate(24, 1100, 250, 1.0, 1400, shear_modulus_mpa=80_000)
    assert bar == pytest.approx(rate * 1400**2)
    # the skin shears by G r / L for each radian of twist
    travel = 30.0
    stress = springs.torsion_bar_stress(rate * travel, 250, 24)
    assert stress == pytest.approx(80_000 * 12 / 1100 * travel / 250)


def test_an_air_spring_has_the_slope_of_its_gas() -> None:
    pressure, area, volume, step, air = 0.5, 12_000.0, 3e6, 0.01, 0.101325
    force = [
        ((pressure + air) * (volume / (volume - area * moved)) ** 1.38 - air) * (area + 2.0 * moved)
        for moved in (-step, step)
    ]
    slope = (force[1] - force[0]) / (2 * step)
    assert springs.air_rate(pressure, area, volume, exponent=1.38, area_change_mm=2.0) == pytest.approx(slope, rel=1e-4)
    # load up, pressure up, rate up: with much air above the load's own its frequency hardly moves
    frequency = [
        springs.natural_frequency(springs.air_rate(held, area, volume), held * area / 9.80665) for held in (0.8, 1.0)
    ]
    assert frequency[0] == pytest.approx(frequency[1], rel=0.02)


def test_share_of_damping_goes_there_and_back() -> None:
    damper = springs.critical_damping(25.0, 350.0, share=0.3, motion_ratio=0.7)
    assert springs.damping_share(damper, 25.0, 350.0, motion_ratio=0.7) == pytest.approx(0.3)


def test_roll_balances_springs_against_the_weight_that_leans_out() -> None:
    angle = springs.roll_angle(1500.0, 400.0, 0.5, 50e6)
    weight_n = 1500 * 9.80665
    assert 50e6 * angle == pytest.approx(weight_n * 400 * 0.5 + weight_n * 400 * angle)
    with pytest.raises(OutOfRange, match="the roll rate left"):
        springs.roll_angle(3000.0, 1800.0, 0.5, 50e6)


@pytest.mark.parametrize(
    ("length", "load", "name"), [(300.0, -10.0, "load_n"), (100.0, 5000.0, "the length left of the spring")]
)
def test_a_spring_neither_pulls_nor_vanishes(length: float, load: float, name: str) -> None:
    with pytest.raises(OutOfRange, match=name):
        springs.loaded_length(length, load, 40.0)


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


def test_no_grip_drives_faster_than_lifts_the_front() -> None:
    # short and high: the front lifts at a b / h before all its grip is used
    for driven in ("rear", "all"):
        found = weight.largest_acceleration(2000.0, 8000.0, 1200.0, 2000.0, 1.5, driven=driven)
        assert found == pytest.approx(9806.65 * 0.2 * 2000 / 1200)


def test_a_bend_moves_load_until_the_vehicle_tips() -> None:
    # at the tipping rate the inner wheels bear nothing: half the mass has moved
    rate = weight.tipping_rate(1500.0, 640.0)
    assert weight.lateral_transfer(1600.0, 640.0, 1500.0, rate) == pytest.approx(800.0)


def test_centre_in_plan_comes_back_from_corners_of_four_heavy_things() -> None:
    r = np.random.default_rng(2)
    mass = r.uniform(100, 900, 4)
    # one on each wheel: left front, right front, left rear, right rear
    behind, across = np.array([0, 0, 2500.0, 2500]), np.array([-750.0, 750, -740, 740])
    point = weight.gravity_from_corners(*mass, 2500.0, 1500.0, 1480.0)
    assert point.behind_front_mm == pytest.approx(np.average(behind, weights=mass))
    assert point.right_of_middle_mm == pytest.approx(np.average(across, weights=mass))


def test_a_fifth_wheel_bears_less_than_a_drawbar_by_six_tenths() -> None:
    # UN R55: D = 0.6 g T R / (T + R - U), kN and tonnes, as reprinted in a public encyclopedia
    found = coupling.fifth_wheel_d_value(3500.0, 5000.0, 1500.0) / 1000
    assert found == pytest.approx(0.6 * 9.81 * 3.5 * 5 / (3.5 + 5 - 1.5))
    with pytest.raises(OutOfRange):
        coupling.fifth_wheel_d_value(3500.0, 1500.0, 1500.0)


def test_coupling_values_are_the_printed_formulas() -> None:
    # UN R55, 2.11: D = g T R / (T + R), kN and tonnes; Dc likewise; V = a x^2 / l^2 C
    assert coupling.d_value(2000.0, 1500.0) / 1000 == pytest.approx(9.81 * 2 * 1.5 / 3.5)
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


@pytest.mark.parametrize(
    ("grade", "diameter", "mpa"),
    [
        ("8.8", 16, 580), ("8.8", 16.1, 600), ("A2-70", 10, 450), ("a4-80", 10, 600), ("A2 - 50", 8, 210),
        ("Class 10.9", 12, 830), ("GR 5", 25.4, 586.1), ("grade 5", 27, 510.2), ("SAE 2", 20, 227.5), ("5.6", 10, 280),
    ],
)  # fmt: skip
def test_proof_stress_is_read_at_its_size(grade: str, diameter: float, mpa: float) -> None:
    assert fasteners.proof_stress(grade, diameter_mm=diameter) == pytest.approx(mpa, abs=0.06)


@pytest.mark.parametrize(("grade", "diameter"), [("9.8", 20), ("A2-70", 30), ("grade 8", 40), ("88", 10), ("", 10)])
def test_a_grade_that_is_not_made_so_thick_or_at_all_is_refused(grade: str, diameter: float) -> None:
    with pytest.raises(OutOfRange):
        fasteners.proof_stress(grade, diameter_mm=diameter)


def test_aluminium_asks_for_the_rule_of_thumb_of_two_diameters() -> None:
    # class 8.8 in cast aluminium of 250 MPa; Machinery's Handbook, factor J over nominal shear areas (from memory)
    for diameter, pitch in ((6.0, 1.0), (8.0, 1.25), (10.0, 1.5), (12.0, 1.75)):
        found = fasteners.thread_engagement(diameter, pitch, strength_ratio=800 / 250)
        assert 1.7 < found / diameter < 2.1
    # a weaker screw than its hole asks for no less than like material
    assert fasteners.thread_engagement(10, 1.5, strength_ratio=0.5) == fasteners.thread_engagement(10, 1.5)


def test_a_pipe_thread_carries_no_load() -> None:
    with pytest.raises(OutOfRange, match="pipe"):
        fasteners.thread_stress_area("G 1/4")


def test_drop_and_area_are_inverse() -> None:
    area = wiring.area_for_drop(18.0, 9000.0, 0.36)
    assert wiring.voltage_drop(18.0, 9000.0, area) == pytest.approx(0.36)


@given(st.floats(-3, 40))
def test_a_gauge_comes_back_from_its_area(gauge: float) -> None:
    assert wiring.gauge_of(wiring.gauge_area(gauge)) == pytest.approx(gauge, abs=1e-9)


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


def test_the_fuse_stands_between_current_and_conductor() -> None:
    current = np.array([1.0, 8.0, 12.0, 50.0])
    conductor = wiring.ampacity(np.array([1.0, 1.5, 2.5, 16.0]), 105)
    fuse = wiring.next_fuse(current, conductor)
    assert fuse.tolist() == [2, 10, 15, 70]
    assert np.all((current <= 0.8 * fuse) & (fuse <= conductor))
    with pytest.raises(OutOfRange, match="take a larger conductor"):
        wiring.next_fuse(30.0, 35.0)


@given(st.floats(1, 90), st.floats(500, 20_000), st.floats(0.2, 1.5), st.sampled_from([60, 75, 90, 105]))
def test_a_circuits_section_is_the_least_that_does_both(
    current: float, length: float, drop: float, insulation: int
) -> None:
    sizes = [size for size in table("conductors")["sections"]["mm2"] if size >= 1]
    enough = [
        size for size in sizes
        if wiring.voltage_drop(current, length, size) <= drop and wiring.ampacity(size, insulation) >= current
    ]  # fmt: skip
    if enough:
        assert wiring.section_for_circuit(current, length, drop, insulation) == enough[0]
    else:
        with pytest.raises(OutOfRange):
            wiring.section_for_circuit(current, length, drop, insulation)


def test_tables_are_read_alike_for_a_number_and_for_an_array() -> None:
    areas = np.array([0.9, 2.5, 5.3, 16.0, 70.0])
    assert wiring.next_section(areas).tolist() == [wiring.next_section(float(area)) for area in areas]
    assert wiring.next_gauge(areas).tolist() == [wiring.next_gauge(float(area)) for area in areas]
    assert wiring.ampacity(areas, 90).tolist() == [wiring.ampacity(float(area), 90) for area in areas]
    for read in (wiring.next_section, wiring.next_gauge):
        with pytest.raises(OutOfRange):
            read(0.0)


# --- what every formula owes ---


NUMBERS = [item for item in calculations().values() if any(each.kind == "number" for each in item.parameters)]


@pytest.mark.parametrize("item", NUMBERS, ids=lambda item: item.id)
def test_an_array_gives_what_its_numbers_give(item: Calculation) -> None:
    values, _, _ = read_arguments(item, [], example_of(item))
    alike = [name for name, value in inspect.signature(item.function).parameters.items() if value.annotation == "Value"]
    for name in alike:
        if (value := values.get(name)) is None:
            continue
        near = value * np.array([1.0, 0.999])
        whole, parts = item.function(**values | {name: near}), [item.function(**values | {name: each}) for each in near]
        for field in [each.name for each in item.results]:
            one, *several = (getattr(each, field, each) for each in (whole, *parts))
            assert np.broadcast_to(one, 2) == pytest.approx(np.array(several, dtype=float), rel=1e-12), (name, field)


@pytest.mark.parametrize("item", NUMBERS, ids=lambda item: item.id)
@pytest.mark.parametrize("share", [0.0, -1.0])
def test_nothing_and_less_than_nothing_give_a_finite_figure_or_words(item: Calculation, share: float) -> None:
    values, _, _ = read_arguments(item, [], example_of(item))
    for name in (each.name for each in item.parameters if each.kind == "number" and each.name in values):
        with contextlib.suppress(OutOfRange):
            found = item.function(**values | {name: share * values[name]})
            for field in [each.name for each in item.results]:
                assert np.all(np.isfinite(np.asarray(getattr(found, field, found), dtype=float))), (name, field)


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
