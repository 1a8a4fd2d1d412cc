"""A small build, a file of it, and a clock that ticks by the minute."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fishplate.build import Build, build_from_data
from fishplate.store import BuildFile

SMALL = {
    "name": "Van",
    "owner": {"currency": "EUR", "hours_per_week": 6},
    "parts": [{"id": "hub", "name": "Hub"}, {"id": "disc", "name": "Disc", "quantity": 2}],
    "suppliers": [{"id": "east-shop", "name": "East Shop", "country": "DE", "currency": "EUR"}],
    "offers": [
        {"id": "hub-east", "supplier": "east-shop", "part": "hub", "price": {"amount": "38.50", "currency": "EUR"}}
    ],
    "sightings": [
        {"offer": "hub-east", "day": "2026-01-10", "price": {"amount": "39.00", "currency": "EUR"}},
        {"offer": "hub-east", "day": "2026-02-10", "price": {"amount": "38.50", "currency": "EUR"}},
    ],
}


@pytest.fixture
def clock() -> Callable[[], datetime]:
    def ticks() -> Iterator[datetime]:
        moment = datetime(2026, 3, 14, 19, 0, tzinfo=UTC)
        while True:
            yield moment
            moment += timedelta(minutes=1)

    ticking = ticks()
    return lambda: next(ticking)


@pytest.fixture
def small() -> Build:
    return build_from_data(SMALL)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "van.fishplate"


@pytest.fixture
def file(path: Path, small: Build, clock: Callable[[], datetime]) -> BuildFile:
    return BuildFile.create(path, small, author="sam@garage", clock=clock)
