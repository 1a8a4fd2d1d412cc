"""What an inspector will ask: there, missing or out of sight, and which job hides it."""

from __future__ import annotations

from datetime import date

import pytest

from fishplate.build import Build, Refused, document_data, facts_of, parse_document
from fishplate.build.approval import Evidence, Requirement
from fishplate.build.base import ThreePoint
from fishplate.build.decisions import Decision, Option
from fishplate.build.document import build_from_data
from fishplate.build.events import Work
from fishplate.build.jobs import Job
from fishplate.records import RequirementState, hidden_by, requirement_states, seen_at
from fishplate.records.approval import lacking_words

DAY = date(2026, 3, 2)
HOURS = ThreePoint(low=1, likely=2, high=3)
JOBS = tuple(Job(id=id_, name=id_.capitalize(), phase="structure", hours=HOURS) for id_ in ("weld", "underseal"))


def state(requirement: Requirement, *, evidence: tuple[Evidence, ...] = (), **fields: object) -> RequirementState:
    build = Build(jobs=JOBS, requirements=(requirement,), evidence=evidence, **fields)
    return requirement_states(build, facts_of(build, DAY))[0]


def worked(job: str, *, done: bool) -> tuple[Work, ...]:
    return (Work(id="w", day=DAY, job=job, hours=1, done=done),)


WELDS = Requirement(id="welds", name="Sill welds", visible_until="underseal", jobs=("weld",))
PHOTO = Evidence(id="p", requirement="welds", day=DAY, what="Both sides", kind="photo", job="weld")


def test_what_is_missing_is_seen_at_its_job_until_another_begins_to_hide_it() -> None:
    found = state(WELDS)
    assert (found.standing, found.hides, found.hiding) == ("missing", "underseal", False)
    assert hidden_by([found], "underseal") == (found,)
    assert seen_at([found], "weld") == (found,)
    assert seen_at([found], "underseal") == hidden_by([found], "weld") == ()
    assert state(WELDS, events=worked("underseal", done=False)).hiding


def test_once_the_job_that_hides_it_is_done_it_is_too_late() -> None:
    found = state(WELDS, events=worked("underseal", done=True))
    assert (found.standing, found.hidden_on, found.hides) == ("too-late", DAY, None)
    assert hidden_by([found], "underseal") == ()


def test_with_evidence_nothing_is_missing_even_out_of_sight() -> None:
    found = state(WELDS, evidence=(PHOTO,), events=worked("underseal", done=True))
    assert (found.standing, lacking_words(found)) == ("there", "")


def test_each_kind_that_is_asked_for_must_be_there() -> None:
    wants = WELDS.model_copy(update={"wants": ("photo", "certificate")})
    found = state(wants, evidence=(PHOTO,))
    assert (found.standing, found.lacking, lacking_words(found)) == ("missing", ("certificate",), "a certificate")
    unsaid = PHOTO.model_copy(update={"kind": None})
    assert lacking_words(state(wants, evidence=(unsaid,))) == "a photo and a certificate"
    assert lacking_words(state(WELDS)) == "evidence"


def test_evidence_of_a_later_day_is_not_there_yet() -> None:
    later = PHOTO.model_copy(update={"day": date(2026, 4, 1)})
    assert state(WELDS, evidence=(later,)).missing


def test_what_its_own_job_hides_can_be_seen_until_that_job_is_done() -> None:
    own = WELDS.model_copy(update={"visible_until": "weld"})
    found = state(own, events=worked("weld", done=False))
    assert (found.made_there, found.hiding, found.standing) == (True, False, "missing")
    assert hidden_by([found], "weld") == (found,)
    assert seen_at([found], "weld") == ()


def test_a_job_of_another_choice_hides_nothing() -> None:
    options = (Option(id="a", name="A"), Option(id="b", name="B", jobs=("underseal",)))
    decision = Decision(id="d", name="Coat", options=options, chosen="a")
    assert state(WELDS, decisions=(decision,)).hides is None


def test_evidence_names_a_job_that_is_there_and_comes_back_as_it_was_written() -> None:
    build = Build(jobs=JOBS, requirements=(WELDS,), evidence=(PHOTO,))
    assert build_from_data(document_data(build)) == build
    with pytest.raises(Refused, match="there is no such one among the jobs"):
        parse_document(build.model_copy(update={"jobs": JOBS[1:], "requirements": ()}).model_dump_json())
