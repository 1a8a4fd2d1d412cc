"""Run every benchmark and print one table: figure, baseline of the same run, ratio."""

from __future__ import annotations

import importlib
import platform
import sys
from pathlib import Path

from rich.console import Console
from rich.table import Table


def main() -> None:
    """Run the benchmarks named on the command line, or all of them."""
    here = Path(__file__).parent
    names = sys.argv[1:] or sorted(path.stem.removeprefix("bench_") for path in here.glob("bench_*.py"))
    table = Table("what", "seconds", "MiB", "baseline", "seconds", "ratio", "note")
    for name in names:
        for row in importlib.import_module(f"benchmarks.bench_{name}").rows():
            base = row.get("baseline_seconds")
            ratio = f"{row['seconds'] / base:.2f}" if base else ""
            memory = row.get("memory_mib")
            table.add_row(
                str(row["name"]),
                f"{row['seconds']:.3f}",
                f"{memory:.0f}" if memory else "",
                str(row.get("baseline") or ""),
                f"{base:.3f}" if base else "",
                ratio,
                str(row.get("note") or ""),
            )
    console = Console(width=None if sys.stdout.isatty() else 160)
    console.print(f"Python {platform.python_version()}, {platform.machine()}")
    console.print(table)


if __name__ == "__main__":
    main()
