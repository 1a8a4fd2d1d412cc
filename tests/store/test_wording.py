"""Changes in words a person can read."""

from __future__ import annotations

from typing import Any

import pytest

from fishplate.store import Change, batch_words, change_words
from fishplate.store.wording import value_words


def euro(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "EUR"}


OPTION = {"id": "rack", "name": "Rack", "score": 50.0}

CHANGES: dict[str, tuple[Change, tuple[str, ...]]] = {
    "a price": (
        Change("offers", "x", {"id": "x", "price": euro("41.00")}, {"id": "x", "price": euro("38.5")}),
        ("price of offer x: 38.50 EUR → 41.00 EUR",),
    ),
    "two fields": (
        Change("parts", "x", {"id": "x", "mass_kg": 2.5, "phase": "strip"}, {"id": "x", "mass_kg": 1.0}),
        ("mass kg of part x: 1 → 2.5", "phase of part x: not set → strip"),
    ),
    "an estimate": (
        Change(
            "jobs", "x", {"hours": {"low": 2, "likely": 4, "high": 9}}, {"hours": {"low": 2, "likely": 3, "high": 5}}
        ),
        ("hours of job x: 2 / 3 / 5 → 2 / 4 / 9",),
    ),
    "a list of ids": (
        Change("jobs", "x", {"to_keep": ["hub", "disc"]}, {"to_keep": ["hub"]}),
        ("to keep of job x: hub → hub, disc",),
    ),
    "an option of a decision": (
        Change("decisions", "x", {"options": [{**OPTION, "score": 70.0}]}, {"options": [OPTION]}),
        ("options, rack, score of decision x: 50 → 70",),
    ),
    "an option more": (
        Change("decisions", "x", {"options": [OPTION, {"id": "box", "name": "Box"}]}, {"options": [OPTION]}),
        ("options, box of decision x: not set → name Box",),
    ),
    "options in another order": (
        Change("decisions", "x", {"options": [{"id": "b"}, {"id": "a"}]}, {"options": [{"id": "a"}, {"id": "b"}]}),
        ("options of decision x: a, b → b, a",),
    ),
    "terms inside an offer": (
        Change("offers", "x", {"returns": {"days": 30}}, {"returns": {"days": 14}}),
        ("returns, days of offer x: 14 → 30",),
    ),
    "an event": (
        Change("events", "x", {"id": "x", "kind": "worked", "done": True}, {"id": "x", "kind": "worked"}),
        ("done of event x: not set → yes",),
    ),
    "a name of the build": (Change("build", "name", "Bus", "Van"), ("name of the build: Van → Bus",)),
    "the owner": (
        Change(
            "build", "owner", {"currency": "GBP", "hours_per_week": 4.0}, {"currency": "EUR", "hours_per_week": 4.0}
        ),
        ("currency of owner of the build: EUR → GBP",),
    ),
    "a field of the build not set before": (
        Change("build", "started", "2026-03-01"),
        ("started of the build: not set → 2026-03-01",),
    ),
    "one added": (Change("parts", "x", {"id": "x", "name": "Hub"}), ("part x added: Hub",)),
    "one added without a name": (Change("sightings", "x 2026-03-01", {}), ("sighting x 2026-03-01 added",)),
    "one removed": (Change("parts", "x", None, {"id": "x", "name": "Hub"}), ("part x removed: Hub",)),
    "one moved": (Change("parts", "x", {"id": "x"}, {"id": "x"}, 1, 2), ("part x moved in its list",)),
}


@pytest.mark.parametrize(("change", "words"), CHANGES.values(), ids=CHANGES.keys())
def test_a_change_in_words(change: Change, words: tuple[str, ...]) -> None:
    assert change_words(change) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (True, "yes"),
        (1e6, "1000000"),
        (0.1 + 0.2, "0.3"),
        ([], "none"),
        ("", "none"),
        ("two\nlines", "two lines"),
        (euro("1000"), "1000.00 EUR"),
        ({"amount": "0.125", "currency": "KWD"}, "0.125 KWD"),
        ("long " * 40, ("long " * 40)[:79] + "…"),
    ],
)
def test_a_value_in_words(value: Any, words: str) -> None:
    assert value_words(value) == words


def test_many_changes_are_counted_by_kind() -> None:
    changes = [
        *(Change("parts", f"p{number}", {}) for number in range(30)),
        Change("supplier", "s", {}),
        *(Change("offers", f"o{number}", None, {}) for number in range(2)),
        Change("jobs", "j", {"a": 1}, {"a": 2}),
        Change("gates", "g", {}, {}, 1, 2),
        Change("build", "name", "Bus", "Van"),
    ]
    assert batch_words(changes) == (
        "30 parts added",
        "1 supplier added",
        "2 offers removed",
        "1 job changed",
        "1 gate moved",
        "1 of the build's own fields changed",
    )
    assert len(batch_words(changes, most=1000)) == len(changes)
