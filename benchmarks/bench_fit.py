"""How long an assessment takes, beside plain numpy that draws once and evaluates every expression on all draws.

The baseline gives chances only: no margins, shares, worst case, readings' worth or sentences, pseudo-random draws, and
expressions compiled by Python itself.
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from fishplate.build import Build, build_from_data, facts_of
from fishplate.fit import assess, measure_next, study

AS_OF = date(2026, 3, 2)
MEANINGS = ("limits", "limits-triangular", "standard-deviation", "expanded-k2")


def invented(conditions: int, dimensions: int, interfaces: int, *, seed: int = 1) -> Build:
    """Sums, roots, sines and greatest-of over four or five dimensions each; a quarter of the spreads not stated."""
    r = np.random.default_rng(seed)
    names = [f"d{number:03d}" for number in range(dimensions)]
    likely = dict(zip(names, r.uniform(50, 900, dimensions), strict=True))
    readings = [
        {"id": f"r_{name}", "dimension": name, "value": likely[name], "day": "2026-01-01",
         "spread": float(r.uniform(0.5, 5)) if number % 4 else None, "spread_means": MEANINGS[number % 4],
         "provenance": ("measured", "catalogue", "estimate")[number % 3]}
        for number, name in enumerate(names)
    ]  # fmt: skip
    rows = []
    for number in range(conditions):
        a, b, c, d, e = (str(name) for name in r.choice(names, 5, replace=False))
        text, value = (
            (f"{a} + {b} - {c}", likely[a] + likely[b] - likely[c]),
            (f"{a} - {b} - {c} + 15 mm", likely[a] - likely[b] - likely[c] + 15),
            (f"hypot({a}, {b}) - max({c}, {d})", math.hypot(likely[a], likely[b]) - max(likely[c], likely[d])),
            (f"{a} * sin(1 rad * {b} / {c}) + {d} - {e}",
             likely[a] * math.sin(likely[b] / likely[c]) + likely[d] - likely[e]),
        )[number % 4]  # fmt: skip
        rows.append(
            {"id": f"c{number:03d}", "interface": f"i{number % interfaces:03d}", "name": f"Condition {number}",
             "expression": text, "at_least": f"{value - float(r.uniform(-1, 8)):.2f} mm"}
        )  # fmt: skip
    return build_from_data({
        "interfaces": [{"id": f"i{number:03d}", "name": f"Place {number}"} for number in range(interfaces)],
        "dimensions": [{"id": name, "name": name} for name in names],
        "readings": readings,
        "conditions": rows,
    })  # fmt: skip


def plain_numpy(build: Build, samples: int, *, draws_too: bool = True) -> float:
    """Time to draw every dimension, unless that does not count, and evaluate each condition in turn [s]."""
    begun = time.perf_counter()
    r = np.random.default_rng(1)
    values: dict[str, Any] = {"hypot": np.hypot, "max": np.maximum, "sin": np.sin}
    for reading in build.readings:
        spread = reading.spread or 2.0
        kind = reading.spread_means
        noise = r.uniform(-1, 1, samples) if kind.startswith("limits") else r.standard_normal(samples)
        values[reading.dimension] = ((reading.value or 0.0) + spread * noise).astype(np.float32)
    if not draws_too:
        begun = time.perf_counter()
    for condition in build.conditions:
        text = condition.expression.replace(" mm", "").replace("1 rad", "1")
        limit = float((condition.at_least or "0").removesuffix(" mm"))
        np.mean(eval(compile(text, "", "eval"), {"__builtins__": {}}, values) >= limit)
    return time.perf_counter() - begun


def memory_mib() -> float:
    """Largest memory of the process so far [MiB]."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    return 0.0


def assessed(size: tuple[int, int, int], samples: int, *, begun: float | None = None) -> None:
    """Print how long an assessment took and the largest memory; the second one, unless timed from `begun`."""
    build = invented(*size)
    facts = facts_of(build, AS_OF)
    if begun is None:
        assess(build, facts, samples=samples)
        begun = time.perf_counter()
    assess(build, facts, samples=samples)
    print(time.perf_counter() - begun, memory_mib())


def at_hand(size: tuple[int, int, int], samples: int, *, whole: bool) -> None:
    """Print how long the joint chances, or the whole report, took on draws at hand, and the largest memory."""
    build = invented(*size)
    facts = facts_of(build, AS_OF)
    kept = study(build, facts, samples=samples, keep=True)
    again = assess if whole else study
    again(build, facts, samples=samples, at_hand=kept)
    begun = time.perf_counter()
    again(build, facts, samples=samples, at_hand=kept)
    print(time.perf_counter() - begun, memory_mib())


def evening(minutes: float) -> None:
    """Print how long it took to choose what to measure within an evening on the demonstration build."""
    from fishplate.starters import demo_as_of, load_demo

    build = load_demo()
    facts = facts_of(build, demo_as_of())
    studied = study(build, facts)
    begun = time.perf_counter()
    measure_next(build, facts, studied, minutes=minutes)
    print(time.perf_counter() - begun, memory_mib())


def own_process(call: str) -> tuple[float, ...]:
    """What a new process prints, the quickest of three."""
    code = f"import time; begun = time.perf_counter()\nfrom bench_fit import *\n{call}"
    command, folder = [sys.executable, "-c", code], Path(__file__).parent
    said = [subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True).stdout for _ in range(3)]
    return min(tuple(float(word) for word in line.split()) for line in said)


def row(
    name: str, call: str, size: tuple[int, int, int], samples: int, note: str, *, draws: bool = True
) -> dict[str, Any]:
    """One timing beside the baseline, each in a process of its own."""
    seconds, memory = own_process(call)
    plain = f"print(plain_numpy(invented(*{size}), {samples}, draws_too={draws}), memory_mib())"
    baseline, its_memory = own_process(plain)
    what = "chances only" if draws else "chances only, arrays at hand"
    return {
        "name": name,
        "seconds": round(seconds, 3),
        "memory_mib": round(memory),
        "baseline": f"plain numpy, {what} ({its_memory:.0f} MiB)",
        "baseline_seconds": round(baseline, 3),
        "note": note,
    }


def rows() -> list[dict[str, Any]]:
    """All timings of the fit engine."""
    large, demo = (500, 800, 170), (50, 70, 24)
    of_large = "500 conditions x 800 dimensions x 100000 draws"
    of_demo = "50 conditions x 70 dimensions x 24 interfaces x 20000 draws"
    cold, warm = "new process: imports, making the build and everything", "second assessment in a process"
    seconds, memory = own_process("evening(90)")
    return [
        row(f"assess {of_large}, cold", f"assessed({large}, 100_000, begun=begun)", large, 100_000, cold),
        row(f"assess {of_large}, warm", f"assessed({large}, 100_000)", large, 100_000, warm),
        row(f"joint chances of {of_large}, draws at hand", f"at_hand({large}, 100_000, whole=False)", large, 100_000,
            "320 MB of draws held", draws=False),
        row(f"assess {of_large}, draws at hand", f"at_hand({large}, 100_000, whole=True)", large, 100_000,
            "margins, shares, worst case, worth of readings and sentences too", draws=False),
        row(f"assess {of_demo}, cold", f"assessed({demo}, 20_000, begun=begun)", demo, 20_000, cold),
        row(f"assess {of_demo}, warm", f"assessed({demo}, 20_000)", demo, 20_000, warm),
        {"name": "what to measure in 90 minutes, demonstration build", "seconds": round(seconds, 3),
         "memory_mib": round(memory), "note": "singly, and the set that saves most, with its bound"},
    ]  # fmt: skip


if __name__ == "__main__":
    for line in rows():
        print(line)
