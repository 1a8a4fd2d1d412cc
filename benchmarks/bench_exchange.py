"""Time to read a list, say what importing it would do, and import it again."""

from __future__ import annotations

import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import xlsxwriter

from fishplate.build import Build
from fishplate.exchange import apply, preview, read_tables

HEADERS = ("Part", "Part number", "Qty", "Price each", "Supplier", "Lead time", "System")


def _list(count: int) -> Iterator[tuple[Any, ...]]:
    for n in range(count):
        price = round(3 + (n * 37) % 29_000 / 100, 2)
        yield f"Part {n}", f"N-{n}", n % 7 + 1, price, f"Supplier {n % 13}", f"{n % 6 + 1} wk", f"System {n % 9}"


def _workbook(path: Path, count: int) -> Path:
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Parts")
        sheet.write_row(0, 0, HEADERS)
        for number, row in enumerate(_list(count), 1):
            sheet.write_row(number, 0, row)
    return path


def _timed(work: Callable[[], Any]) -> tuple[Any, float, float]:
    begun = time.perf_counter()
    result = work()
    seconds = time.perf_counter() - begun
    tracemalloc.start()
    work()
    memory = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    return result, seconds, memory


def _bare(path: Path) -> float:
    """Seconds the spreadsheet library alone takes to load the file."""
    begun = time.perf_counter()
    openpyxl.load_workbook(path)
    return time.perf_counter() - begun


def rows() -> list[dict[str, Any]]:
    """One row a figure."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for count in (500, 5_000):
            path = _workbook(Path(folder) / f"{count}.xlsx", count)
            sheets, seconds, memory = _timed(lambda path=path: read_tables(path))
            found.append(_row(f"read a workbook of {count} rows", seconds, memory, "openpyxl alone", _bare(path)))
            preview_, seconds, memory = _timed(lambda sheets=sheets: preview(sheets, Build()))
            found.append(_row(f"say what importing {count} rows would do", seconds, memory))
            build = apply(preview_, Build())
            _, seconds, memory = _timed(lambda sheets=sheets, build=build: preview(sheets, build))
            found.append(_row(f"the same, into the build that has them ({count})", seconds, memory))
    return found


def _row(
    name: str, seconds: float, memory: float, baseline: str = "", baseline_seconds: float | None = None
) -> dict[str, Any]:
    return {
        "name": name,
        "seconds": seconds,
        "memory_mib": memory,
        "baseline": baseline,
        "baseline_seconds": baseline_seconds,
        "note": "seven columns",
    }


if __name__ == "__main__":
    for row in rows():
        print(row)
