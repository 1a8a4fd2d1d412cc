"""How long the trade's functions take on a million values, beside the bare formula in numpy."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from fishplate.build.expression import parse_expression
from fishplate.trade import arches, brakes, driveline, linkages, springs, template

COUNT = 1_000_000


def best_of(work: Callable[[], Any], times: int = 5) -> float:
    """Shortest of several runs [s]."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


def _row(name: str, work: Callable[[], Any], baseline: Callable[[], Any] | None, note: str = "") -> dict[str, Any]:
    return {
        "name": name, "seconds": best_of(work), "memory_mib": None, "baseline": "bare numpy" if baseline else None,
        "baseline_seconds": best_of(baseline) if baseline else None, "note": note,
    }  # fmt: skip


def _functions() -> list[dict[str, Any]]:
    r = np.random.default_rng(1)
    reach, diameter, width, pivot = (r.uniform(*span, COUNT) for span in ((400, 450), (700, 740), (200, 225), (40, 70)))
    free, load, rate, gap = (r.uniform(*span, COUNT) for span in ((300, 340), (3000, 4500), (30, 45), (210, 240)))
    angle, turn = r.uniform(0, 0.4, COUNT), r.uniform(0, 6.3, COUNT)
    front, rear, high, long = (r.uniform(*span, COUNT) for span in ((5e3, 7e3), (3e3, 5e3), (450, 650), (2400, 2700)))
    lock = parse_expression(template("tyre-room-at-lock").expression)
    values = {"arch_reach": reach, "tyre_diameter": diameter, "tyre_width": width, "pivot_to_tyre_centre": pivot}
    bare = lambda: reach - np.hypot(diameter / 2, width / 2 + pivot)  # noqa: E731
    return [
        _row("room at lock, 1e6", lambda: arches.lock_room(reach, diameter, width, pivot), bare),
        _row("room at lock, 1e6, as the template's expression", lambda: lock.evaluate(values), bare),
        _row("spring's ride error, 1e6", lambda: springs.ride_error(free, load, rate, gap),
             lambda: free - load / rate - gap),
        _row("Cardan speed ratio, 1e6", lambda: driveline.speed_ratio(angle, turn),
             lambda: np.cos(angle) / (1 - (np.sin(angle) * np.cos(turn)) ** 2)),
        _row("rate above which the rear locks first, 1e6",
             lambda: brakes.equal_adhesion_rate(front, rear, high, long, 0.75),
             lambda: (0.75 - front / (front + rear)) * long / high),
    ]  # fmt: skip


def _linkages() -> list[dict[str, Any]]:
    points = np.random.default_rng(2).uniform(-500, 500, (4, COUNT, 2))
    body = np.array([[2100.0, -450, 330], [2100, 450, 330], [2300, -500, 460], [2300, 500, 460]])
    axle = np.array([[2700.0, -450, 300], [2700, 450, 300], [2700, -100, 500], [2700, 100, 500]])
    bump, roll = np.linspace(-90, 90, 10_000), np.linspace(-0.06, 0.06, 10_000)
    centre = np.array([2700.0, 0, 350])
    return [
        _row("instant centre, 1e6", lambda: linkages.instant_centre(*points), None),
        _row("axle on four links, 1e4 positions",
             lambda: linkages.axle_through_travel(body, axle, centre, bump_mm=bump, roll_rad=roll), None,
             "Newton's method, all positions at once, to 1e-9 mm"),
    ]  # fmt: skip


def _command() -> dict[str, Any]:
    code = "from fishplate.cli import main; main(['calc', 'wheels.tyre_size', '205/65R15C'])"
    call = [sys.executable, "-c", code]
    return _row("fishplate calc wheels.tyre_size, whole command",
                lambda: subprocess.run(call, capture_output=True, check=True), None)  # fmt: skip


def rows() -> list[dict[str, Any]]:
    """Timings for the table of benchmarks."""
    return [*_functions(), *_linkages(), _command()]


if __name__ == "__main__":
    for row in rows():
        print(row)
