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
from fishplate.fit import assess

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


def plain_numpy(build: Build, samples: int) -> float:
    """Time to draw every dimension and evaluate every condition, one after the other [s]."""
    begun = time.perf_counter()
    r = np.random.default_rng(1)
    values: dict[str, Any] = {"hypot": np.hypot, "max": np.maximum, "sin": np.sin}
    for reading in build.readings:
        spread = reading.spread or 2.0
        kind = reading.spread_means
        noise = r.uniform(-1, 1, samples) if kind.startswith("limits") else r.standard_normal(samples)
        values[reading.dimension] = reading.value + spread * noise
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


def own_process(call: str) -> tuple[float, ...]:
    """What a new process prints, the quickest of three."""
    code = f"import time; begun = time.perf_counter()\nfrom bench_fit import *\n{call}"
    command, folder = [sys.executable, "-c", code], Path(__file__).parent
    said = [subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True).stdout for _ in range(3)]
    return min(tuple(float(word) for word in line.split()) for line in said)


def row(name: str, size: tuple[int, int, int], samples: int, *, cold: bool) -> dict[str, Any]:
    """One timing beside the baseline, each in a process of its own."""
    seconds, memory = own_process(f"assessed({size}, {samples}{', begun=begun' if cold else ''})")
    baseline, its_memory = own_process(f"print(plain_numpy(invented(*{size}), {samples}), memory_mib())")
    return {
        "name": name,
        "seconds": round(seconds, 3),
        "memory_mib": round(memory),
        "baseline": f"plain numpy, chances only ({its_memory:.0f} MiB)",
        "baseline_seconds": round(baseline, 3),
        "note": ("new process: imports, making the build and everything" if cold else "second assessment in a process"),
    }


def rows() -> list[dict[str, Any]]:
    """All timings of the fit engine."""
    large, demo = (500, 800, 170), (50, 70, 24)
    return [
        row("assess 500 conditions x 800 dimensions x 100000 draws, cold", large, 100_000, cold=True),
        row("assess 500 conditions x 800 dimensions x 100000 draws, warm", large, 100_000, cold=False),
        row("assess 50 conditions x 70 dimensions x 24 interfaces x 20000 draws, cold", demo, 20_000, cold=True),
        row("assess 50 conditions x 70 dimensions x 24 interfaces x 20000 draws, warm", demo, 20_000, cold=False),
    ]


if __name__ == "__main__":
    for line in rows():
        print(line)
