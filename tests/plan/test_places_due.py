"""By when it has to be known whether parts go together: measuring has a day, whoever listed the place."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

import pytest
from plan_builds import AS_OF, build_of, job, part, plan_of

from fishplate.build import Build
from fishplate.fit import with_usual
from fishplate.fit.usual import FOUNDATION
from fishplate.plan import Action
from fishplate.plan.places_due import jobs_before


def build_with(place: dict[str, Any], *, settles: Iterable[str] = (), **fields: Any) -> Build:
    """A rack that meets a frame: mocked up, welded, painted, put together; six hours a week."""
    return build_of(
        systems=[{"id": "steering", "name": "Steering"}],
        parts=[part("rack", system="steering")],
        jobs=[
            job("mock-up", 12, phase="mock-up", settles=list(settles), system="steering"),
            job("weld", 12, "mock-up", phase="structure", system="steering"),
            job("paint", 12, "weld", phase="finish", system="steering"),
            job("fit", 12, "paint", to_keep=["rack"], system="steering"),
        ],
        interfaces=[{"id": "i", "name": "Rack and frame", **place}],
        **fields,
    )


@pytest.mark.parametrize(
    ("place", "settles", "jobs", "why"),
    [
        ({"settle_by": "weld"}, (), ("weld",), ""),
        ({"settle_by": "weld", "closed_by": "paint", "parts": ["rack"]}, (), ("paint", "weld"), ""),
        ({"parts": ["rack"]}, ("i",), ("mock-up",), ""),
        ({"parts": ["rack"]}, (), ("fit",), ", which fits one of its parts for good"),
        ({"systems": ["steering"]}, (), ("fit", "paint"), ", the first of its system after the mock-up"),
        ({}, (), (), ""),
    ],
)
def test_the_jobs_before_which_a_place_has_to_be_known(
    place: dict[str, Any], settles: tuple[str, ...], jobs: tuple[str, ...], why: str
) -> None:
    build = build_with(place, settles=settles)
    assert jobs_before(build, build.find("interfaces", "i"), lambda _: True)[:2] == (jobs, why)


def test_a_job_that_is_done_ends_no_time() -> None:
    build = build_with({"settle_by": "weld", "parts": ["rack"]})
    assert jobs_before(build, build.find("interfaces", "i"), {"paint", "fit"}.__contains__).jobs == ("fit",)


def measures(build: Build) -> dict[str, Action]:
    return {action.key: action for action in plan_of(build).actions if action.kind == "measure"}


def test_a_place_listed_without_a_job_is_measured_before_its_part_is_fitted_for_good() -> None:
    build = build_with(
        {"parts": ["rack"]},
        dimensions=[{"id": "gap", "name": "Gap"}],
        conditions=[{"id": "c", "interface": "i", "name": "Room", "expression": "gap", "at_least": "10 mm",
                     "late_hours": [20, 20, 20]}],
    )  # fmt: skip
    action = measures(build)["gap"]
    # 36 hours at six a week before it is fitted, begun today
    assert AS_OF + timedelta(weeks=4) <= action.by <= AS_OF + timedelta(weeks=7)
    assert "To be known before “Fit”, which fits one of its parts for good." in action.reasons
    assert dict(action.cost_of_waiting.curve)[13] > 0


def test_what_is_missing_of_the_foundation_sheet_is_due_before_the_first_job_that_anything_is_to_be_known_for() -> None:
    build = with_usual(build_with({"settle_by": "weld"}), [FOUNDATION])
    read = {"id": "r", "dimension": "wheelbase", "value": 2460, "spread": 3, "day": AS_OF - timedelta(days=9)}
    build = Build.model_validate({**build.model_dump(), "readings": [read]})
    found = measures(build)
    wanted = {item.id for item in build.dimensions} - {"wheelbase"}
    assert found.keys() == wanted
    first = found["track_front"]
    assert AS_OF + timedelta(weeks=1) <= first.by <= AS_OF + timedelta(weeks=3)
    assert first.free_until <= first.by
    assert "It is on the foundation sheet, which most else rests on: take it first." in first.reasons[0]
