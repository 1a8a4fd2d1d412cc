"""The whole main job on the demonstration build and on a large one, each run in a process of its own."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any


def _timed(arguments: list[str], folder: Path, environment: dict[str, str]) -> tuple[float, float]:
    """Wall seconds and peak memory [MiB] of one command."""
    program = (
        "import resource, sys; from fishplate.cli import cli\n"
        "try: cli.main(sys.argv[1:], standalone_mode=False)\n"
        "finally: print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)"
    )
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return time.perf_counter() - begun, float(done.stderr.split()[-1])


def rows() -> list[dict[str, Any]]:
    """First plan, plan after one changed price, first plan of a large generated build, help."""
    from fishplate.starters import demo_as_of, load_demo
    from fishplate.store import BuildFile

    from .builds import AS_OF, large_build, long_build

    found: list[dict[str, Any]] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        environment = {**os.environ, "FISHPLATE_CACHE": str(folder / "cache")}
        file = folder / "demo.fishplate"
        BuildFile.create(file, load_demo(), author="bench", message="demo")
        plan = ["plan", file.name, "--as-of", demo_as_of().isoformat(), "--json"]
        _timed([*plan, "--seed", "2"], folder, environment)  # compiles the kernel where it is not compiled yet
        first, memory = _timed(plan, folder, environment)
        note = "target 15 s, 500 MiB"
        found.append({"name": "plan demo, first", "seconds": first, "memory_mib": memory, "note": note})
        for name, change in (("one price", _dearer), ("hours of one job", _longer), ("one reading", _read_otherwise)):
            _change(file, name, change)
            again, memory = _timed(plan, folder, environment)
            found.append(
                {
                    "name": f"plan demo, {name} changed",
                    "seconds": again,
                    "memory_mib": memory,
                    "baseline": "first plan",
                    "baseline_seconds": first,
                    "note": "target 3 s",
                }
            )
        large = folder / "large.fishplate"
        BuildFile.create(large, large_build(), author="bench", message="generated")
        seconds, memory = _timed(["plan", large.name, "--as-of", AS_OF.isoformat(), "--json"], folder, environment)
        note = "target 60 s: 600 jobs, 500 parts, 80 decisions, 300 interfaces"
        found.append({"name": "plan generated, first", "seconds": seconds, "memory_mib": memory, "note": note})
        years = folder / "years.fishplate"
        BuildFile.create(years, long_build(), author="bench", message="generated")
        seconds, memory = _timed(["plan", years.name, "--as-of", AS_OF.isoformat(), "--json"], folder, environment)
        note = "no target: 1 500 jobs, 2 000 parts, 200 decisions, 600 interfaces"
        found.append({"name": "plan of years, first", "seconds": seconds, "memory_mib": memory, "note": note})
        help_seconds, memory = _timed(["--help"], folder, environment)
        found.append({"name": "--help", "seconds": help_seconds, "memory_mib": memory, "note": "target 0.3 s"})
    return found


def _change(file: Path, message: str, change: Callable[[dict[str, Any]], None]) -> None:
    from fishplate.build import build_from_data, format_document
    from fishplate.store import BuildFile

    build_file = BuildFile.open(file)
    snapshot = build_file.snapshot()
    data = json.loads(format_document(snapshot.build))
    change(data)
    build_file.write(build_from_data(data), revision=snapshot.revision, author="bench", message=message)


def _dearer(data: dict[str, Any]) -> None:
    price = data["offers"][0]["price"]
    price["amount"] = str(round(float(price["amount"]) * 1.03, 2))


def _longer(data: dict[str, Any]) -> None:
    hours = data["jobs"][-5]["hours"]
    hours |= {"likely": hours["likely"] + 0.5, "high": hours["high"] + 1.0}


def _read_otherwise(data: dict[str, Any]) -> None:
    data["readings"][0]["value"] += 0.2


if __name__ == "__main__":
    for row in rows():
        print(row)
    print(f"children's peak {resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024:.0f} MiB")
