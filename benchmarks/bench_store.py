"""The build file: reading, writing, undoing; beside the same build as a plain document."""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fishplate.build import Build, build_from_data, document_data, format_document, parse_document
from fishplate.store import BuildFile

PARTS = 500


def build() -> Build:
    """500 parts, an offer and two sightings each, 150 jobs in a chain, 200 events."""
    hours = {"low": 2, "likely": 4, "high": 9}
    lead = {"low": 1, "likely": 2, "high": 4}
    price = {"amount": "41.00", "currency": "EUR"}
    return build_from_data(
        {
            "parts": [{"id": f"p{k}", "name": f"Part {k}", "mass_kg": 1.5, "phase": "finish"} for k in range(PARTS)],
            "suppliers": [{"id": "s", "name": "S", "country": "NL", "currency": "EUR"}],
            "offers": [
                {"id": f"o{k}", "supplier": "s", "part": f"p{k}", "price": price, "lead_weeks": lead}
                for k in range(PARTS)
            ],
            "sightings": [
                {"offer": f"o{k}", "day": f"2026-0{month}-01", "price": price} for k in range(PARTS) for month in (1, 2)
            ],
            "jobs": [
                {
                    "id": f"j{k}", "name": f"Job {k}", "phase": "finish", "hours": hours, "to_keep": [f"p{k}"],
                    "after": [{"job": f"j{k - 1}"}] if k else [],
                }
                for k in range(150)
            ],
            "events": [
                {"kind": "arrived", "id": f"e{k}", "day": "2026-02-01", "lines": [{"part": f"p{k}"}]}
                for k in range(200)
            ],
        }
    )  # fmt: skip


def rows() -> list[dict[str, Any]]:
    """Seconds of each step on a file of 500 parts, the middle of five."""
    data = build()
    text = format_document(data)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.fishplate"
        created = _once(lambda: BuildFile.create(path, data, author="bench"))
        file = BuildFile.open(path)
        dearer = _with_price(data, "42.00")
        written = _once(lambda: file.write(dearer, revision=1, author="bench"))
        undone = _once(lambda: file.undo(revision=2, author="bench"))
        return [
            _row("open and read 500 parts", _middle(lambda: BuildFile.open(path).build()),
                 "parse the JSON document", _middle(lambda: parse_document(text))),
            _row("create, 500 parts", created, note="one fsync or more each: depends on the disk"),
            _row("write one price", written),
            _row("undo it", undone),
            _row("whole history", _middle(file.history)),
        ]  # fmt: skip


def _with_price(data: Build, amount: str) -> Build:
    document = document_data(data)
    first = {**document["offers"][0], "price": {"amount": amount, "currency": "EUR"}}
    return build_from_data({**document, "offers": [first, *document["offers"][1:]]})


def _once(deed: Callable[[], object]) -> float:
    start = time.perf_counter()
    deed()
    return time.perf_counter() - start


def _middle(deed: Callable[[], object]) -> float:
    return statistics.median(_once(deed) for _ in range(5))


def _row(
    name: str, seconds: float, baseline: str = "", baseline_seconds: float | None = None, note: str = ""
) -> dict[str, Any]:
    return {
        "name": name, "seconds": seconds, "memory_mib": None, "baseline": baseline,
        "baseline_seconds": baseline_seconds, "note": note,
    }  # fmt: skip
