"""What a person sees of a build that can't be as it is entered: it is said first, and the pages stand."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from serving import served, worked_out
from walking import words_of

from fishplate.build import build_from_data
from fishplate.plan import plan
from fishplate.wiring import situation

AS_OF = date(2026, 11, 16)


def jobs_that_can_not_be(hours: dict[str, int]) -> list[dict[str, Any]]:
    """A coat that is due before what it waits for has cured, and a job for a bay."""
    return [
        {"id": "prime", "name": "Prime", "phase": "finish", "hours": hours},
        {"id": "fill", "name": "Fill", "phase": "finish", "hours": hours, "cure_days": 6, "after": [{"job": "prime"}]},
        {"id": "coat", "name": "Top coat", "phase": "finish", "hours": hours,
         "after": [{"job": "fill"}, {"job": "prime", "within_days": 3}]},
        {"id": "hang", "name": "Hang the doors", "phase": "assembly", "hours": hours, "bay": True},
    ]  # fmt: skip


def test_what_can_not_be_is_said_at_the_head_of_every_page_it_bears_on(tmp_path: Path) -> None:
    hours = {"low": 4, "likely": 4, "high": 6}
    build = build_from_data({
        "name": "Van",
        "owner": {"country": "NL", "hours_per_week": 8, "bays": 0},
        "jobs": [
            *jobs_that_can_not_be(hours),
        ],
        "decisions": [
            {"id": "unit", "name": "Power unit", "chosen": "old",
             "options": [{"id": "old", "name": "The old one"}, {"id": "new", "name": "A newer one"}]},
            {"id": "box", "name": "Gearbox", "chosen": "four",
             "options": [{"id": "four", "name": "Four speeds"}, {"id": "five", "name": "Five speeds"}]},
        ],
        "rules": [{"option": "old", "requires": "five"}],
    })  # fmt: skip
    found = plan(situation(build, AS_OF), revision=1)
    with served(tmp_path / "van.fishplate", build, found, day=AS_OF) as client:
        for path in ("/", "/jobs", "/tonight", "/schedule"):
            said = words_of(client.get(path).text)
            assert "What can't be as it is entered" in said, path
            assert "“Top coat” must begin within 3 days of “Prime”" in said, path
            assert "“Fill” waits for “Prime”" in said, path
            assert "There is no bay, and this job needs one: “Hang the doors”." in said, path
            assert "“The old one” requires “Five speeds”, yet both are decided otherwise" in said, path
        assert "“The old one” requires “Five speeds”" in words_of(worked_out(client, "/decisions").text)


def test_a_job_that_can_not_be_says_what_stands_in_the_way_wherever_it_could_begin(tmp_path: Path) -> None:
    hours = {"low": 1, "likely": 1, "high": 1}
    build = build_from_data({
        "name": "Van",
        "owner": {"country": "NL", "hours_per_week": 8, "bays": 0, "weekdays": [6], "helpers": [{"weekdays": [7]}]},
        "jobs": [
            *jobs_that_can_not_be(hours),
            {"id": "swap", "name": "Swap the unit", "phase": "assembly", "hours": hours},
            {"id": "lift", "name": "Lift the roof", "phase": "assembly", "hours": hours, "second_person": True},
            {"id": "sand", "name": "Sand the floor", "phase": "strip", "hours": hours},
        ],
        "decisions": [
            {"id": "unit", "name": "Power unit", "chosen": "old",
             "options": [{"id": "old", "name": "The old one", "jobs": ["swap"]}, {"id": "new", "name": "A newer one"}]},
            {"id": "box", "name": "Gearbox", "chosen": "four",
             "options": [{"id": "four", "name": "Four speeds"}, {"id": "five", "name": "Five speeds"}]},
        ],
        "rules": [{"option": "old", "requires": "five"}],
    })  # fmt: skip
    why = {
        "prime": "these can't all be kept: “Top coat” must begin within 3 days of “Prime”",
        "hang": "there is no bay, and this job needs one",
        "swap": "“The old one” requires “Five speeds”, yet both are decided otherwise",
        "lift": "“Lift the roof” takes a second person, who never comes on a day with hours",
    }
    with served(tmp_path / "van.fishplate", build, None, day=AS_OF) as client:
        jobs, evening = (words_of(client.get(path).text) for path in ("/jobs", "/tonight?minutes=600&helper=yes"))
        assert jobs.count("It can begin now") == 1
        for id_, text in why.items():
            said = f"It can't be done as it is entered: {text}"
            assert said in jobs, id_
            assert said in words_of(client.get(f"/jobs/{id_}").text), id_
            assert (said in evening) == (id_ != "lift"), id_
        assert "It can begin now" in words_of(client.get("/jobs/sand").text)
        assert "Do “Lift the roof”" in evening  # someone is there to help, this evening at least
        assert "“Prime”: about" not in evening
