"""Angles, arches, links and holes against brute force and an independent solver."""

from collections.abc import Callable
from itertools import product
from math import atan2, cos, degrees, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares, root
from scipy.spatial.transform import Rotation

from fishplate.trade import OutOfRange, arches, axes, driveline, fasteners, housings, linkages, mounts, steering, wheels

AHEAD = np.array([2.0, 0.0, 0.0])

# --- axes ---


AXES = [(axes.from_iso_8855, axes.to_iso_8855), (axes.from_sae_j670, axes.to_sae_j670)]


@pytest.mark.parametrize(("there", "back"), AXES)
def test_axes_turned_twice_are_as_before(
    there: Callable[[np.ndarray], np.ndarray], back: Callable[[np.ndarray], np.ndarray]
) -> None:
    points = np.random.default_rng(1).normal(size=(20, 3))
    assert np.array_equal(back(there(points)), points)


def test_sets_of_axes_name_one_place_alike() -> None:
    # ahead, to the right and above the origin: X forward, Y left, Z up; X forward, Y right, Z down
    assert axes.from_iso_8855([900.0, -700, 250]).tolist() == axes.from_sae_j670([900.0, 700, -250]).tolist()


@pytest.mark.parametrize("convert", [pair[0] for pair in AXES])
def test_axes_conversion_turns_and_does_not_mirror(convert: Callable[[np.ndarray], np.ndarray]) -> None:
    matrix = convert(np.eye(3))
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    assert Rotation.from_matrix(matrix).magnitude() == pytest.approx(np.pi)


# --- joints ---


@given(st.floats(0.01, 0.7), st.floats(-3, 3))
def test_ratio_is_the_slope_of_the_driven_shafts_turn(angle: float, rotation: float) -> None:
    # the driven yoke stands square to the driving one: its pin is where the two planes cross
    def driven(turn: float) -> float:
        pin = np.array([0.0, cos(turn), sin(turn)])
        shaft = np.array([cos(angle), sin(angle), 0.0])
        other = np.cross(shaft, pin)
        across, up = np.array([-sin(angle), cos(angle), 0.0]), np.array([0.0, 0.0, 1.0])
        return atan2(float(other @ up), float(other @ across))

    step = 1e-5
    slope = (driven(rotation + step) - driven(rotation - step) + np.pi) % (2 * np.pi) - np.pi
    # at no turn the driving pin lies along Y, in the plane of the shafts
    assert driveline.speed_ratio(angle, rotation) == pytest.approx(slope / (2 * step), rel=1e-5)


def test_line_extremes_and_resultant_agree_for_small_angles() -> None:
    r = np.random.default_rng(4)
    for _ in range(20):
        angles, phases = np.radians(r.uniform(0, 6, 3)), r.uniform(-np.pi, np.pi, 2)
        extremes = driveline.line_speed_extremes(angles, phases)
        variation = extremes.largest - extremes.smallest
        assert driveline.non_uniformity(driveline.line_angle(angles, phases)) == pytest.approx(variation, abs=6e-5)


def turned_yokes(direction: np.ndarray, twist: np.ndarray, turn: float) -> float:
    """Turn of the last shaft of a line: from joint to joint the pins of the two yokes stand square to each other."""
    along = direction / np.linalg.norm(direction, axis=1, keepdims=True)
    first, last = (np.cross(each, [0.3, 0.5, 0.8]) for each in (along[0], along[-1]))
    pin = Rotation.from_rotvec(turn * along[0]).apply(first)
    for place, shaft in enumerate(along[1:]):
        pin = np.cross(shaft, pin)
        if place < len(twist):
            pin = Rotation.from_rotvec(twist[place] * shaft).apply(pin)
    return atan2(float(pin @ np.cross(along[-1], last)), float(pin @ last))


@pytest.mark.parametrize(
    ("across", "twist"),
    [
        ([(0, 0), (0.2, 0.1), (-0.1, 0.15)], [0.4]),
        ([(0, 0), (0.07, 0), (0.07, 0.07)], [0.0]),
        ([(0.1, 0), (-0.2, 0.1), (0.1, 0.25), (0, -0.1)], [1.1, -2.0]),
        # a joint that stands straight, in the middle and at the front
        ([(0.1, 0), (0, 0), (0, 0), (0.2, 0.3)], [0.3, 0.7]),
        ([(0, 0), (0, 0), (0.2, 0), (0.2, 0.3)], [0.3, 0.7]),
    ],
)
def test_a_line_in_space_varies_as_yokes_followed_by_hand(
    across: list[tuple[float, float]], twist: list[float]
) -> None:
    direction = np.array([(1.0, *each) for each in across])
    line = driveline.line_in_space(direction, np.array(twist))
    turns = np.linspace(0, np.pi, 241)
    ends = np.unwrap([turned_yokes(direction, np.array(twist), float(turn)) for turn in turns])
    slope = np.gradient(ends, turns)[2:-2]
    assert [line.largest, line.smallest] == pytest.approx([slope.max(), slope.min()], abs=5e-4)


def test_yokes_turned_with_the_plane_cancel_where_yokes_in_line_do_not() -> None:
    # two joints of 4 degrees in planes square to each other: in line they add up, turned with the plane they cancel
    tangent = np.tan(np.radians(4.0))
    shafts = np.array([[1.0, 0, 0], [1.0, tangent, 0], [1.0, tangent, np.hypot(1, tangent) * tangent]])
    in_line, turned = (driveline.line_in_space(shafts, np.array([twist])) for twist in (0.0, np.pi / 2))
    assert degrees(in_line.resultant) == pytest.approx(4 * np.sqrt(2))
    assert turned.resultant == pytest.approx(0, abs=1e-6)
    assert turned.largest == pytest.approx(1.0)


def test_no_angle_is_allowed_beyond_where_joints_end() -> None:
    slow = driveline.angle_limit(np.array([10.0, 500.0]), acceleration_rad_per_s2=400)
    assert np.degrees(slow) == pytest.approx([45, 2.2918], abs=1e-3)
    with pytest.raises(OutOfRange, match="45 degrees"):
        driveline.line_angle(np.radians([50.0, 50.0]), np.array([0.0]))


@pytest.mark.parametrize("degree", [10.0, 20.0, 30.0])
def test_acceleration_of_one_joint_is_near_the_square_of_its_angle(degree: float) -> None:
    # at unit speed: the slope of the ratio over a turn, times the ratio's own unit speed
    turn = np.linspace(0, np.pi, 20_001)
    ratio = driveline.speed_ratio(np.radians(degree), turn)
    exact = np.abs(np.gradient(ratio, turn)).max()
    allowed = driveline.angle_limit(1.0, acceleration_rad_per_s2=exact)
    assert np.degrees(allowed) == pytest.approx(degree, rel=0.04 * (degree / 30) ** 2)


@pytest.mark.parametrize("twist", [[], [0.0, 0.0]])
def test_a_line_with_too_few_or_too_many_twists_is_refused(twist: list[float]) -> None:
    with pytest.raises(OutOfRange, match="one for each shaft between two joints"):
        driveline.line_in_space(np.eye(3) + 2, np.array(twist))


def test_equal_joints_cancel_and_a_third_can_too() -> None:
    assert driveline.line_angle(np.radians([4, 4]), np.array([0.0])) == pytest.approx(0, abs=1e-9)
    # 3-4-5: the outer two together undo the middle one
    assert driveline.line_angle(np.radians([3, 5, 4]), np.zeros(2)) == pytest.approx(0, abs=1e-6)


@given(st.lists(st.floats(-1, 1), min_size=6, max_size=6))
def test_angle_in_space_is_that_of_the_two_directions(parts: list[float]) -> None:
    a, b = np.array(parts[:3]) + AHEAD, np.array(parts[3:]) + AHEAD
    cosine = a @ b / np.linalg.norm(a) / np.linalg.norm(b)
    assert cos(float(driveline.joint_angle(a, b))) == pytest.approx(cosine, abs=1e-12)


def test_shaft_angle_is_the_joint_angle_to_its_own_axis() -> None:
    offsets = np.random.default_rng(2).uniform(-100, 400, (50, 3))
    direct = driveline.joint_angle(np.broadcast_to([1.0, 0.0, 0.0], (50, 3)), offsets)
    assert np.allclose(driveline.shaft_angle(offsets[:, 0], offsets[:, 1], offsets[:, 2]), direct)


def test_slip_is_longest_less_shortest() -> None:
    rear = np.array([[1000.0, 0, -80], [1004, 0, 0], [1001, 0, 80]])
    shaft = driveline.shaft_through_travel(np.zeros(3), rear, np.array([1.0, 0, 0]), np.array([[1.0, 0, 0]] * 3))
    lengths = np.sqrt((rear**2).sum(axis=1))
    assert shaft.slip == pytest.approx(lengths.max() - lengths.min())
    assert degrees(shaft.front_angle[0]) == pytest.approx(degrees(atan2(80, 1000)))


@pytest.mark.parametrize("angle", [-0.1, np.pi / 2, 2.0, float("nan")])
def test_a_joint_bent_too_far_is_refused(angle: float) -> None:
    with pytest.raises(OutOfRange, match="angle_rad"):
        driveline.speed_extremes(angle)


# --- arches ---


def sampled_cylinder(diameter: float, width: float) -> np.ndarray:
    """Points on the surface of a tyre about the origin, its axle along Y."""
    turn = np.linspace(0, 2 * np.pi, 721)[:-1]
    ring = np.stack([np.cos(turn), np.zeros_like(turn), np.sin(turn)], axis=1) * diameter / 2
    tread = [ring + np.array([0, y, 0]) for y in np.linspace(-width / 2, width / 2, 61)]
    sides = [ring * share + np.array([0, y, 0]) for y in (-width / 2, width / 2) for share in np.linspace(0, 1, 61)]
    return np.concatenate(tread + sides)


def test_room_through_travel_agrees_with_the_surface_sampled() -> None:
    points = np.array([[-250.0, 640, 250], [60, 800, 420], [330, 690, 30]])
    centre, axis = np.array([0.0, 760, 0]), np.array([[-12.0, 720, -120], [18, 690, 150]])
    bump, lock, roll = np.array([-60.0, 0, 80]), np.radians([-32.0, 0, 28]), np.radians([-3.0, 2])
    room = arches.room_through_travel(points, centre, axis, 700, 205, bump_mm=bump, lock_rad=lock, roll_rad=roll)
    surface = sampled_cylinder(700, 205) + centre
    along = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
    for (i, rise), (j, turn), (k, lean) in product(enumerate(bump), enumerate(lock), enumerate(roll)):
        moved = Rotation.from_rotvec(along * turn).apply(surface - axis[0]) + axis[0]
        moved = Rotation.from_rotvec([lean, 0, 0]).apply(moved) + np.array([0, 0, rise])
        nearest = min(np.linalg.norm(moved - point, axis=1).min() for point in points)
        if room.room_mm[i, j, k] > 1:
            assert room.room_mm[i, j, k] == pytest.approx(nearest, abs=1.0)
        elif room.room_mm[i, j, k] < -8:
            assert nearest < 0.05 - room.room_mm[i, j, k] + 8
    assert room.least_mm == room.room_mm.min()


def test_lock_room_is_the_worst_of_all_locks_for_an_upright_axis() -> None:
    # a wall square to X behind the wheel, level with the hub
    reach, centre = 420.0, np.array([0.0, 60.0, 0.0])
    wall = np.stack([np.full(801, reach), np.linspace(-200, 600, 801), np.zeros(801)], axis=1)
    room = arches.room_through_travel(
        wall, centre, np.array([[0.0, 0, -100], [0, 0, 100]]), 729, 216,
        bump_mm=np.zeros(1), lock_rad=np.radians(np.linspace(-60, 60, 241)), roll_rad=np.zeros(1),
    )  # fmt: skip
    assert room.least_mm == pytest.approx(arches.lock_room(reach, 729, 216, 60), abs=0.05)


def test_pitch_circle_is_that_of_studs_laid_out() -> None:
    for holes in (3, 4, 5, 6, 8):
        studs = 56.0 * np.exp(2j * np.pi * np.arange(holes) / holes)
        assert wheels.pitch_circle(float(abs(studs[1] - studs[0])), holes) == pytest.approx(112.0)


# --- links ---

FOUR_BODY = np.array([[2100.0, -450, 330], [2120, 470, 325], [2300, -500, 460], [2290, 480, 470]])
FOUR_AXLE = np.array([[2700.0, -430, 300], [2700, 430, 305], [2690, -120, 500], [2710, 90, 510]])
CENTRE = np.array([2700.0, 0, 350])
FIVE_BODY = np.array([[-150.0, 350, 200], [150, 350, 200], [-120, 420, 420], [120, 420, 420], [130, 350, 230]])
FIVE_CARRIER = np.array([[0.0, 700, 190], [0, 700, 190], [10, 670, 430], [10, 670, 430], [130, 700, 221]])
HUB = np.array([0.0, 750, 310])


def by_scipy(
    body: np.ndarray, carrier: np.ndarray, centre: np.ndarray, bump: float, roll: float | None
) -> tuple[np.ndarray, np.ndarray]:
    """Centre and rotation of a carrier whose links keep their length, by Powell's hybrid method over Euler angles."""
    length = np.linalg.norm(carrier - body, axis=1)

    def faults(pose: np.ndarray) -> list[float]:
        turn = Rotation.from_euler("zyx", pose[3:])
        ends = centre + pose[:3] + turn.apply(carrier - centre)
        off = [*(np.linalg.norm(ends - body, axis=1) - length), pose[2] - bump]
        return off if roll is None else [*off, 1000 * (turn.apply([0, 1, 0])[2] - sin(roll))]

    found = root(faults, [0, 0, bump, 0, 0, 0], tol=1e-12)
    assert found.success
    return centre + found.x[:3], Rotation.from_euler("zyx", found.x[3:]).as_matrix()


@pytest.mark.parametrize(("bump", "roll"), [(0.0, 0.0), (80.0, 0.0), (-90.0, 0.03), (40.0, -0.08)])
def test_an_axle_on_four_links_goes_where_an_independent_solver_puts_it(bump: float, roll: float) -> None:
    ours = linkages.axle_through_travel(
        FOUR_BODY, FOUR_AXLE, CENTRE, bump_mm=np.array([bump]), roll_rad=np.array([roll])
    )  # fmt: skip
    centre, turn = by_scipy(FOUR_BODY, FOUR_AXLE, CENTRE, bump, roll)
    assert np.allclose(ours.centre[0], centre, atol=1e-6)
    assert ours.pitch[0] == pytest.approx(atan2(-turn[2, 0], turn[0, 0]), abs=1e-9)
    assert ours.lean[0] == pytest.approx(roll, abs=1e-9)


@pytest.mark.parametrize("bump", [-70.0, -20.0, 60.0])
def test_a_wheel_on_five_links_goes_where_an_independent_solver_puts_it(bump: float) -> None:
    ours = linkages.wheel_through_travel(FIVE_BODY, FIVE_CARRIER, HUB, bump_mm=np.array([0.0, bump]))
    centre, turn = by_scipy(FIVE_BODY, FIVE_CARRIER, HUB, bump, None)
    assert np.allclose(ours.centre[1], centre, atol=1e-6)
    assert ours.lean[1] == pytest.approx(np.arcsin(turn[2, 1]), abs=1e-9)
    assert ours.steer[1] == pytest.approx(atan2(-turn[0, 1], turn[1, 1]), abs=1e-9)


def test_a_height_the_links_cannot_reach_has_no_value() -> None:
    ours = linkages.wheel_through_travel(FIVE_BODY, FIVE_CARRIER, HUB, bump_mm=np.array([20.0, 2000.0]))
    assert np.isfinite(ours.centre[0]).all()
    assert np.isnan(ours.centre[1]).all()


def test_axle_centres_are_what_a_small_travel_shows() -> None:
    body = np.array([[2100.0, -450, 330], [2100, 450, 330], [2300, -500, 460], [2300, 500, 460]])
    axle = np.array([[2700.0, -450, 300], [2700, 450, 300], [2700, -100, 500], [2700, 100, 500]])
    found = linkages.axle_centres(body, axle, CENTRE)
    step = 0.01
    rise = linkages.axle_through_travel(body, axle, CENTRE, bump_mm=np.array([-step, step]), roll_rad=np.zeros(2))
    moved, turned = np.diff(rise.centre, axis=0)[0], float(np.diff(rise.pitch)[0])
    assert found.side_x == pytest.approx(CENTRE[0] + moved[2] / turned, rel=1e-6)
    assert found.side_z == pytest.approx(CENTRE[2] - moved[0] / turned, rel=1e-6)
    lean = linkages.axle_through_travel(body, axle, CENTRE, bump_mm=np.zeros(2), roll_rad=np.array([-1e-5, 1e-5]))
    across, turn = float(np.diff(lean.centre[:, 1])[0]), 2e-5
    assert found.roll_z == pytest.approx(CENTRE[2] + across / turn, rel=1e-6)


def test_roll_axis_runs_through_where_slanting_links_meet() -> None:
    # lower links parallel in plan: the axis has their slope; upper links meet at X 2800, Z 510 (by the drawing)
    body = np.array([[2100.0, -450, 330], [2100, 450, 330], [2300, -500, 460], [2300, 500, 460]])
    axle = np.array([[2700.0, -450, 300], [2700, 450, 300], [2700, -100, 500], [2700, 100, 500]])
    found = linkages.axle_centres(body, axle, CENTRE)
    slope = (300 - 330) / (2700 - 2100)
    assert found.roll_slope == pytest.approx(slope)
    assert found.roll_z == pytest.approx(510 + slope * (2700 - 2800))
    plane = linkages.instant_centre(axle[0, [0, 2]], body[0, [0, 2]], axle[2, [0, 2]], body[2, [0, 2]])
    assert (found.side_x, found.side_z) == pytest.approx((plane.along, plane.up))


# four arms and a lateral rod: the commonest coil-sprung beam axle
RODDED_BODY = np.array([[2100.0, -450, 330], [2100, 450, 330], [2150, -450, 520], [2150, 450, 520], [2720, -480, 420]])
RODDED_AXLE = np.array([[2700.0, -450, 300], [2700, 450, 300], [2650, -450, 500], [2650, 450, 500], [2720, 430, 400]])


@pytest.mark.parametrize(("bump", "roll"), [(80.0, 0.0), (0.0, 0.08), (60.0, -0.05)])
def test_an_axle_on_five_links_goes_where_its_bushes_give_least(bump: float, roll: float) -> None:
    ours = linkages.axle_through_travel(
        RODDED_BODY, RODDED_AXLE, CENTRE, bump_mm=np.array([bump]), roll_rad=np.array([roll])
    )  # fmt: skip

    def stretched(pose: np.ndarray) -> np.ndarray:
        # rise and lean are given; the four that are left are free
        turn = Rotation.from_euler("zyx", [pose[2], pose[3], 0.0]).as_matrix()
        lean = np.arcsin(np.sin(roll) / np.hypot(turn[2, 1], turn[2, 2])) - atan2(turn[2, 1], turn[2, 2])
        turn = turn @ Rotation.from_rotvec([lean, 0, 0]).as_matrix()
        ends = CENTRE + np.array([pose[0], pose[1], bump]) + (RODDED_AXLE - CENTRE) @ turn.T
        return np.linalg.norm(ends - RODDED_BODY, axis=1) - np.linalg.norm(RODDED_AXLE - RODDED_BODY, axis=1)

    found = least_squares(stretched, np.zeros(4), x_scale=[1, 1, 1e-3, 1e-3], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert ours.centre[0] == pytest.approx(CENTRE + np.array([found.x[0], found.x[1], bump]), abs=1e-5)
    assert ours.give[0] == pytest.approx(np.abs(found.fun).max(), abs=1e-6)
    assert ours.lean[0] == pytest.approx(roll, abs=1e-9)


def test_a_lateral_rod_puts_the_roll_centre_where_it_crosses_the_middle() -> None:
    found = linkages.axle_centres(RODDED_BODY, RODDED_AXLE, CENTRE)
    crossing = 420 + (400 - 420) * 480 / (480 + 430)
    # 20 mm behind the middle of the axle, on an axis of the arms' slope
    assert found.roll_z == pytest.approx(crossing - 20 * found.roll_slope, abs=0.5)
    assert -0.05 < found.roll_slope < -0.04


def test_wheel_centres_are_what_a_small_travel_shows() -> None:
    found = linkages.wheel_centres(FIVE_BODY, FIVE_CARRIER, HUB, HUB * [1, 1, 0])
    step = 0.01
    moved = linkages.wheel_through_travel(FIVE_BODY, FIVE_CARRIER, HUB, bump_mm=np.array([-step, step]))
    lean, steer = (float(np.diff(each)[0]) / (2 * step) for each in (moved.lean, moved.steer))
    assert (found.camber_gain, found.steer_gain) == (pytest.approx(lean, rel=1e-6), pytest.approx(steer, rel=1e-6))
    across = float(np.diff(moved.centre[:, 1])[0]) / (2 * step)
    assert (found.front_y, found.front_z) == (
        pytest.approx(HUB[1] - 1 / lean, rel=1e-6), pytest.approx(HUB[2] + across / lean, rel=1e-6),
    )  # fmt: skip


def test_wishbones_in_one_plane_have_the_roll_centre_of_the_drawing() -> None:
    body, carrier = FIVE_BODY.copy(), FIVE_CARRIER.copy()
    carrier[2:4, 0], body[4, 2], carrier[4, 2] = 0.0, 200.0, 190.0
    found = linkages.wheel_centres(body, carrier, HUB, HUB * [1, 1, 0])
    plane = linkages.instant_centre(carrier[0, 1:], body[0, 1:], carrier[2, 1:], body[2, 1:])
    assert (found.front_y, found.front_z) == (pytest.approx(plane.along), pytest.approx(plane.up))
    assert found.roll_z == pytest.approx(linkages.roll_centre(plane.along, plane.up, HUB[1]))
    assert not np.isfinite(found.side_x)


STRUT_BODY = np.array([[-150.0, 350, 200], [150, 350, 200], [130, 350, 230]])
STRUT_CARRIER = np.array([[0.0, 700, 190], [0, 700, 190], [130, 690, 225]])
STRUT_TOP, STRUT_BOTTOM = np.array([30.0, 580, 850]), np.array([0.0, 660, 300])


@pytest.mark.parametrize("bump", [-80.0, 50.0])
def test_a_wheel_on_a_strut_goes_where_an_independent_solver_puts_it(bump: float) -> None:
    ours = linkages.strut_through_travel(
        STRUT_BODY, STRUT_CARRIER, STRUT_TOP, STRUT_BOTTOM, HUB, bump_mm=np.array([0.0, bump])
    )

    def faults(pose: np.ndarray) -> np.ndarray:
        turn = Rotation.from_euler("zyx", pose[3:])
        ends, lower = (HUB + pose[:3] + turn.apply(each - HUB) for each in (STRUT_CARRIER, STRUT_BOTTOM))
        off = np.linalg.norm(ends - STRUT_BODY, axis=1) - np.linalg.norm(STRUT_CARRIER - STRUT_BODY, axis=1)
        aside = np.cross(turn.apply(STRUT_TOP - STRUT_BOTTOM), STRUT_TOP - lower) / 500
        return np.array([*off, *aside, pose[2] - bump])

    found = least_squares(faults, np.zeros(6), xtol=1e-15, ftol=1e-15, gtol=1e-15)
    turn = Rotation.from_euler("zyx", found.x[3:])
    assert ours.centre[1] == pytest.approx(HUB + found.x[:3], abs=1e-6)
    assert ours.lean[1] == pytest.approx(np.arcsin(turn.as_matrix()[2, 1]), abs=1e-9)
    lower = HUB + found.x[:3] + turn.apply(STRUT_BOTTOM - HUB)
    assert ours.strut[1] == pytest.approx(np.linalg.norm(STRUT_TOP - lower), abs=1e-6)
    assert ours.strut[0] == pytest.approx(np.linalg.norm(STRUT_TOP - STRUT_BOTTOM))


@pytest.mark.parametrize(
    ("pivots", "hub"),
    [
        ([[2300, -300, 300], [2350, -650, 320]], [2700, -720, 310]),  # semi-trailing, left
        ([[2300, 300, 300], [2300, 650, 300]], [2700, 720, 310]),  # trailing, right
        ([[300, 650, 310], [300, 300, 290]], [-100, 720, 310]),  # leading
        ([[-200, 20, 300], [200, 20, 300]], [0, 700, 310]),  # swing axle
    ],
)
@pytest.mark.parametrize("bump", [-90.0, 70.0])
def test_an_arm_turns_its_wheel_about_its_pivots(pivots: list[list[float]], hub: list[float], bump: float) -> None:
    ours = linkages.arm_through_travel(np.array(pivots), np.array(hub), bump_mm=np.array([bump]))
    start, axis = np.array(pivots[0], dtype=float), np.subtract(pivots[1], pivots[0])
    axis = axis / np.linalg.norm(axis)
    turn = least_squares(
        lambda turn: (start + Rotation.from_rotvec(turn[0] * axis).apply(hub - start))[2] - hub[2] - bump, [0.0],
        xtol=1e-15, ftol=1e-15, gtol=1e-15,
    ).x[0]  # fmt: skip
    rotation = Rotation.from_rotvec(turn * axis)
    assert ours.centre[0] == pytest.approx(start + rotation.apply(hub - start), abs=1e-6)
    assert ours.lean[0] == pytest.approx(np.arcsin(rotation.as_matrix()[2, 1]), abs=1e-9)


@pytest.mark.parametrize("bump", [-60.0, 45.0])
def test_a_damper_on_the_carrier_is_as_long_as_its_end_carried_by_hand(bump: float) -> None:
    moved = linkages.wheel_through_travel(FIVE_BODY, FIVE_CARRIER, HUB, bump_mm=np.array([bump - 0.01, bump + 0.01]))
    top, foot = np.array([20.0, 560, 780]), np.array([15.0, 640, 260])
    found = linkages.length_through_travel(top, foot - HUB, moved.centre, moved.lean, moved.steer, moved.pitch)
    centre, turn = by_scipy(FIVE_BODY, FIVE_CARRIER, HUB, bump, None)
    length = np.linalg.norm(top - (centre + turn @ (foot - HUB)))
    assert found.length.mean() == pytest.approx(length, abs=1e-4)
    assert found.ratio[0] == pytest.approx(-float(np.diff(found.length)[0]) / 0.02)
    # the strut's own length is told twice over
    strut = linkages.strut_through_travel(
        STRUT_BODY, STRUT_CARRIER, STRUT_TOP, STRUT_BOTTOM, HUB, bump_mm=np.array([0.0, bump])
    )
    again = linkages.length_through_travel(
        STRUT_TOP, STRUT_BOTTOM - HUB, strut.centre, strut.lean, strut.steer, strut.pitch
    )
    assert again.length == pytest.approx(strut.strut, abs=1e-6)


def test_room_on_links_is_that_of_a_straight_rise_where_the_links_do_nothing_else() -> None:
    points = np.array([[-250.0, 640, 250], [60, 800, 420], [330, 690, 30]])
    bump, lock = np.array([-60.0, 0, 80]), np.radians(20.0)
    straight = arches.room_through_travel(
        points, np.array([0.0, 760, 0]), np.array([[0.0, 760, -100], [0, 760, 100]]), 700, 205,
        bump_mm=bump, lock_rad=np.array([lock]), roll_rad=np.zeros(1),
    )  # fmt: skip
    path = np.array([[0.0, 760, rise] for rise in bump])
    found = arches.room_on_links(points, 700, 205, path, np.zeros(3), np.full(3, lock))
    assert found == pytest.approx(straight.room_mm[:, 0, 0])
    # on the left the tyre stands to the left of its hub, and the figures are the same
    mirrored = arches.room_on_links(
        points * [1, -1, 1], 700, 205, (path - [0, 15, 0]) * [1, -1, 1], np.zeros(3), np.zeros(3), outwards_mm=15
    )
    assert mirrored == pytest.approx(arches.room_on_links(points, 700, 205, path, np.zeros(3), np.zeros(3)))


def test_an_arm_has_no_place_beyond_its_reach() -> None:
    ours = linkages.arm_through_travel(np.array([[0.0, 0, 0], [0, 1, 0]]), np.array([400.0, 0, 0]), bump_mm=[300, 401])
    assert ours.centre[0] == pytest.approx([np.sqrt(400**2 - 300**2), 0, 300])
    assert np.isnan(ours.centre[1]).all()


@pytest.mark.parametrize(
    ("links", "said"),
    [
        (lambda: linkages.axle_centres(FOUR_BODY * np.nan, FOUR_AXLE, CENTRE), "body_point must be finite numbers"),
        (lambda: linkages.axle_centres(FOUR_BODY[:3], FOUR_AXLE[:3], CENTRE), "4 links or more, with two ends each"),
        (lambda: linkages.wheel_through_travel(FOUR_BODY, FOUR_AXLE, HUB, bump_mm=[0.0]), "5 links with two ends"),
        (lambda: linkages.wheel_through_travel(FIVE_BODY, FIVE_CARRIER, HUB, bump_mm=[np.nan]), "bump_mm must be fin"),
        (lambda: linkages.axle_centres(FOUR_BODY, FOUR_BODY, CENTRE), "the length of a link must be above zero"),
        (lambda: linkages.strut_through_travel(STRUT_BODY, STRUT_CARRIER, STRUT_TOP, STRUT_TOP, HUB, bump_mm=[0.0]),
         "the length of the strut must be above zero"),
        (lambda: linkages.anti_squat(0.0, 300.0, 2500.0, 500.0), "the distance of centre and contact must"),
        (lambda: linkages.roll_centre(750.0, 150.0, 750.0), "the distance of centre and contact must"),
    ],
)  # fmt: skip
def test_links_that_are_none_are_refused_in_words(links: Callable[[], object], said: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        links()
    assert said in str(refusal.value)


def test_full_anti_dive_carries_the_load_that_moves() -> None:
    # the links' lift at the front, share x force x up / behind, is what braking moves there, force x h / L
    assert linkages.anti_dive(1200.0, 1200.0 * 500 / 2500 / 0.7, 2500.0, 500.0, front_share=0.7) == pytest.approx(1.0)


def test_parallel_links_have_their_centre_nowhere() -> None:
    centre = linkages.instant_centre(
        *(np.array(point, dtype=float) for point in ([0, 0], [500, 0], [0, 200], [500, 200]))
    )
    assert not np.isfinite(centre.along)


def test_full_anti_squat_leaves_the_rear_springs_alone() -> None:
    # the change of the rear spring, m a (h / l - e / d), vanishes at e / d = h / l (Barton and Fieldhouse, eq. 3.63)
    for height, wheelbase, ahead in ((500.0, 2500.0, 1250.0), (620.0, 2800.0, 900.0)):
        assert linkages.anti_squat(ahead, ahead * height / wheelbase, wheelbase, height) == pytest.approx(1.0)


def test_links_that_do_not_hold_the_axle_are_refused() -> None:
    loose = np.array([[2100.0, -450, 330], [2100, 450, 330], [2100, -450, 530], [2100, 450, 530]])
    with pytest.raises(OutOfRange, match="leave only rise and roll free"):
        linkages.axle_centres(loose, loose + 300 * AHEAD, CENTRE)


# --- steering, housings, mounts, holes ---


@given(st.floats(0.05, 1.2), st.floats(1800, 3500), st.floats(1000, 1700))
def test_both_front_wheels_turn_about_one_point(outer: float, wheelbase: float, pivots: float) -> None:
    inner = float(steering.inner_lock(outer, wheelbase, pivots))
    # each axle line meets the rear axle's line wheelbase / tan(lock) from its own pivot
    assert wheelbase / np.tan(outer) - pivots == pytest.approx(wheelbase / np.tan(inner), abs=1e-5)
    assert outer < inner < np.pi


def test_steering_axis_meets_the_ground_alike_on_both_sides() -> None:
    points = np.array([[0.0, 660, 200], [40, 600, 700], [0, 700, 0]])
    right, left = (steering.scrub_and_trail(*(points * [1, side, 1])) for side in (1, -1))
    assert right == left


def test_a_bore_off_centre_reads_twice_its_offset_and_is_found() -> None:
    # a bore of radius 60 whose centre stands 0.18 right and 0.10 up of the gauge's axis
    turn = np.linspace(0, 2 * np.pi, 3601)
    across, up, radius = 0.18, 0.10, 60.0
    along = across * np.cos(turn) + up * np.sin(turn)
    wall = along + np.sqrt(radius**2 - (across * np.sin(turn) - up * np.cos(turn)) ** 2)
    reading = radius - wall  # pushed in where the wall is near
    found = housings.bore_offset(reading[0], reading[2700], reading[1800], reading[900])
    assert (found.across_mm, found.up_mm) == pytest.approx((across, up), abs=1e-6)
    total = housings.total_indicator_reading(reading)
    assert housings.dowel_offset(total) == pytest.approx(np.hypot(across, up), rel=1e-4)


def test_three_mounts_carry_the_mass_and_balance_it() -> None:
    points = np.array([[0.0, -300], [0, 310], [720, 20]])
    loads = mounts.mount_loads(points, np.array([250.0, 12]), 230.0)
    assert loads.sum() == pytest.approx(230 * 9.80665)
    assert loads @ points == pytest.approx(230 * 9.80665 * np.array([250.0, 12]))


def test_four_mounts_settle_as_a_stiff_body_on_springs() -> None:
    places = np.array([[0.0, -300], [20, 290], [700, -150], [680, 180]])
    rates, middle = np.array([300.0, 320, 500, 450]), np.array([250.0, 12])
    loads = mounts.mount_loads(places, middle, 260.0, rate_n_per_mm=rates)
    assert loads.sum() == pytest.approx(260 * 9.80665)
    assert loads @ places / loads.sum() == pytest.approx(middle)
    # all give in one plane: the fourth stands where the plane through the other three puts it
    give = loads / rates
    plane = np.linalg.solve(np.column_stack([np.ones(3), places[:3]]), give[:3])
    assert give[3] == pytest.approx(plane @ [1.0, *places[3]])
    # of three the rates do not matter
    three = [mounts.mount_loads(places[:3], middle, 260.0, rate_n_per_mm=each) for each in (None, rates[:3])]
    assert three[0] == pytest.approx(three[1])


def test_mounts_in_a_line_are_refused() -> None:
    with pytest.raises(OutOfRange, match="line"):
        mounts.mount_loads(np.array([[0.0, 0], [100, 100], [200, 200]]), np.array([50.0, 60]), 200.0)


def test_both_screws_pass_exactly_as_far_as_the_holes_allow() -> None:
    # one part's holes at 0 and p, the other's shifted and q apart; a screw passes where the two holes leave its size
    def passes(first: float, second: float, screw: float, mismatch: float) -> bool:
        shifts = np.linspace(-3, 3, 6001)
        lens = [(first + second) / 2 - np.abs(shift) for shift in (shifts, shifts + mismatch)]
        room = np.minimum(np.minimum(lens[0], lens[1]), min(first, second))
        return bool((room >= screw - 1e-9).any())

    r = np.random.default_rng(8)
    for _ in range(50):
        screw = float(r.uniform(6, 14))
        first, second = (screw + float(r.uniform(0, 1.5)) for _ in range(2))
        allowed = float(fasteners.pitch_mismatch_allowed(first, second, screw))
        assert passes(first, second, screw, allowed - 0.002)
        assert not passes(first, second, screw, allowed + 0.004)


def test_rise_in_roll_is_the_end_of_the_axle() -> None:
    turned = Rotation.from_rotvec([radians(4), 0, 0]).apply([0, 780, 0])
    assert arches.rise_in_roll(780, radians(4)) == pytest.approx(turned[2])
