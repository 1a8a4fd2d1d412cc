"""The schedule of a build: weeks, stalls, what moved and why, what can't all be kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.commerce import Workshop
from fishplate.build.events import Work
from fishplate.build.interfaces import Interface
from fishplate.build.jobs import Gate, Job, Link, StopPoint
from fishplate.build.owner import DaysOff, Helper, Owner
from fishplate.build.parts import Part, Phase
from fishplate.work import Gates
from fishplate.work.schedule_plan import work_schedule
from fishplate.work.schedule_result import WorkSchedule
from fishplate.work.schedule_tasks import UNITS, drafted

AS_OF = date(2026, 3, 2)  # a Monday
PLAIN = {"phase": Phase.DEFINE}  # nothing is discovered while defining, so hours are as said


def job(id_: str, hours: float, *after: str, **fields: Any) -> Job:
    links = tuple(Link(job=name) for name in after)
    points = ThreePoint(low=hours, likely=hours, high=hours)
    return Job(**{"id": id_, "name": id_.capitalize(), "hours": points, "after": links, **PLAIN, **fields})


def build(*jobs: Job, hours: float = 7, **fields: Any) -> Build:
    owner = fields.pop("owner", Owner(hours_per_week=hours))
    return Build(name="Van", owner=owner, jobs=jobs, **fields)


def made(given: Build, gates: Gates | None = None, day: date = AS_OF, **options: Any) -> WorkSchedule:
    return work_schedule(given, facts_of(given, day), gates or Gates(), **options)


def planned(schedule: WorkSchedule, name: str) -> tuple[date, date]:
    found = next(item for item in schedule.jobs if item.job == name)
    return found.first, found.done


def days(number: int) -> date:
    return AS_OF + timedelta(days=number)


def test_hours_of_a_week_add_up_and_every_job_begins_and_ends_once() -> None:
    given = build(job("strip", 10), job("weld", 20, "strip"), job("paint", 5, "weld", cure_days=3))
    schedule = made(given)
    assert schedule.ended == "proven"
    assert schedule.stalled_hours == pytest.approx(3, abs=1.1)  # while the paint cures
    for week in schedule.weeks:
        assert sum(item.hours for item in week.jobs) + week.stalled == pytest.approx(week.hours, abs=0.05)
    for name in ("strip", "weld", "paint"):
        entries = [item for week in schedule.weeks for item in week.jobs if item.job == name]
        assert [item.begins for item in entries].count(True) == 1
        assert [item.ends for item in entries].count(True) == 1
        assert sum(item.hours for item in entries) == pytest.approx(
            next(j.hours for j in schedule.jobs if j.job == name), abs=0.1
        )
    assert schedule.finish is not None
    assert schedule.weeks[-1].last == schedule.finish


def test_what_waits_is_worked_around_and_the_stall_is_named() -> None:
    given = build(
        job("engine-in", 7, to_keep=("bell-housing",)),
        job("wiring", 7),
        parts=(Part(id="bell-housing", name="Bell housing"),),
    )
    schedule = made(given, Gates(parts={"bell-housing": 4.0}))
    assert planned(schedule, "wiring")[0] == AS_OF
    assert planned(schedule, "engine-in")[0] == days(28)
    (stall,) = schedule.stalls
    assert (stall.waiting, stall.opener.kind, stall.opener.id) == ("engine-in", "part", "bell-housing")
    assert stall.text.endswith("“Engine-in” waits until “Bell housing” comes on 30 March.")
    assert any(
        "with nothing to do, until “Bell housing” comes on 30 March" in text
        for week in schedule.weeks
        for text in week.text
    )


def test_a_stop_point_lets_a_job_begin_without_its_part() -> None:
    stop = StopPoint(share=0.5, without=("spring",), name="hung")
    given = build(job("axle", 14, to_keep=("spring",), stop_points=(stop,)), parts=(Part(id="spring", name="Spring"),))
    schedule = made(given, Gates(parts={"spring": 6.0}))
    assert planned(schedule, "axle")[0] == AS_OF
    (item,) = schedule.jobs
    assert item.opener is None
    assert item.resumed is not None
    assert (item.resumed.kind, item.resumed.day) == ("part", days(42))


def test_work_sent_out_leaves_the_hands_free() -> None:
    shop = Workshop(
        id="coater",
        name="The coater",
        queue_weeks=ThreePoint(low=1, likely=1, high=1),
        work_weeks=ThreePoint(low=1, likely=1, high=1),
    )
    given = build(
        job("coat", 1, workshop="coater"), job("fit", 2, "coat"), job("trim", 7), workshops=(shop,)
    )  # fmt: skip
    schedule = made(given)
    first, done = planned(schedule, "coat")
    assert first == AS_OF
    assert (done - first).days > 25  # two weeks, slippage of craft shops twice
    assert planned(schedule, "trim")[0] <= days(2)
    assert planned(schedule, "fit")[0] == done
    texts = [text for week in schedule.weeks for text in week.text]
    assert any(text.startswith("Coat: it goes to The coater, back about") for text in texts)
    assert "Coat: it is back from The coater." in texts


def test_days_off_and_weekdays_are_kept() -> None:
    owner = Owner(hours_per_week=6, weekdays=(6, 7), days_off=(DaysOff(first=days(12), last=days(20)),))
    schedule = made(build(job("strip", 12), owner=owner))
    # Saturdays and Sundays; the second weekend and the Saturday and Sunday after it are off
    assert planned(schedule, "strip")[0] == days(5)
    assert [(week.first, week.hours) for week in schedule.weeks[:2]] == [(AS_OF, 6), (days(7), 0)]
    assert schedule.weeks[1].text == ("No hours at the vehicle.",)


def test_a_second_person_is_there_on_their_days_only() -> None:
    owner = Owner(hours_per_week=7, helpers=(Helper(weekdays=(4,)),))
    given = build(job("hang-doors", 3, second_person=True), job("wiring", 10), owner=owner)
    draft = drafted(given, facts_of(given, AS_OF), Gates())
    schedule = made(given)
    assert len(draft.tasks_of["hang-doors"]) >= 3
    doors = next(item for item in schedule.jobs if item.job == "hang-doors")
    assert doors.first.isoweekday() == 4
    assert doors.last.isoweekday() == 4
    assert (doors.last - doors.first).days >= 14


def test_a_bay_stays_taken_while_it_cures_there() -> None:
    given = build(
        job("paint", 2, bay=True, cure_days=10),
        job("engine-in", 4, bay=True),
        job("wiring", 3),
        job("trim", 1, "engine-in"),
    )
    schedule = made(given)
    painted, engine = planned(schedule, "paint"), planned(schedule, "engine-in")
    assert engine[1] <= painted[0] or (engine[0] - painted[1]).days >= 10


def test_a_gate_passes_on_what_it_waits_for() -> None:
    gate = Gate(id="dry", name="Dry build", kind="dry-build", after=("weld",), interfaces=("arch",), before=("paint",))
    given = build(
        job("weld", 2), job("paint", 2), gates=(gate,),
        interfaces=(Interface(id="arch", name="Tyre to arch"),),
    )  # fmt: skip
    schedule = made(given, Gates(interfaces={"arch": 3.0}))
    assert planned(schedule, "paint")[0] == days(21)
    paint = next(item for item in schedule.jobs if item.job == "paint")
    assert paint.opener is not None
    assert (paint.opener.kind, paint.opener.id) == ("interface", "arch")


def test_a_doubtful_interface_is_verified_first() -> None:
    jobs = [job(name, 7) for name in ("aerial", "bonnet", "carpet")] + [job("sweep", 7, settles=("sump",))]
    given = build(*jobs, interfaces=(Interface(id="sump", name="Sump to rack"),))
    assert planned(made(given), "sweep")[0] != AS_OF
    assert planned(made(given, doubts={"sump": 0.4}), "sweep")[0] == AS_OF


def test_what_verifying_may_bring_is_reckoned_at_its_mean() -> None:
    rework = ThreePoint(low=10, likely=10, high=10)
    given = build(
        job("sweep", 7, settles=("sump",), rework=rework), interfaces=(Interface(id="sump", name="Sump to rack"),)
    )
    sure, doubtful = made(given).jobs[0].hours, made(given, doubts={"sump": 0.5}).jobs[0].hours
    assert doubtful - sure == pytest.approx(5, rel=0.15)


def test_what_moved_is_told_with_its_cause() -> None:
    given = build(
        job("gearbox-in", 7, to_keep=("bell-housing",)),
        job("first-start", 7, "gearbox-in"),
        parts=(Part(id="bell-housing", name="the bell housing"),),
    )
    before = made(given, Gates(parts={"bell-housing": 54 / 7}))
    now = made(given, Gates(parts={"bell-housing": 68 / 7}), last=before)
    assert now.baseline == AS_OF
    assert [change.job for change in now.changes] == ["gearbox-in", "first-start"]
    cause = "“the bell housing” comes on 9 May instead of 25 April."
    assert now.changes[0].text.startswith("“Gearbox-in” moved 2 weeks later, to ")
    assert all(change.text.endswith(cause) for change in now.changes)
    back = made(given, Gates(parts={"bell-housing": 54 / 7}), last=now)
    assert back.changes[1].text.endswith("sooner, to " + back.changes[1].text.split("to ")[1])
    assert back.changes[1].text.endswith("“the bell housing” comes on 25 April instead of 9 May.")


def test_more_hours_new_jobs_and_done_ones_are_told() -> None:
    given = build(job("strip", 7), job("weld", 7, "strip"), job("paint", 7, "weld"))
    before = made(given)
    longer = given.model_copy(
        update={"jobs": (given.jobs[0], job("weld", 28, "strip"), *given.jobs[2:], job("seal", 7, "paint"))}
    )
    texts = {change.job: change.text for change in made(longer, last=before).changes}
    assert "“Weld” takes" in texts["paint"]
    assert "now, not 7" in texts["paint"]
    assert texts["seal"].startswith("“Seal” is new: done ")
    done = given.model_copy(update={"events": (Work(id="w", day=AS_OF, job="strip", hours=7, done=True),)})
    assert {change.job: change.text for change in made(done, last=before).changes}["strip"] == "“Strip” is done."


def test_idle_weeks_are_told_as_less_done_than_planned() -> None:
    given = build(job("strip", 30), job("weld", 30, "strip"))
    before = made(given)
    texts = [change.text for change in made(given, day=days(21), last=before).changes]
    assert len(texts) == 2
    assert all(text.endswith("less was done since 2 March than was planned.") for text in texts)


def test_the_last_order_stays_where_another_gains_less_than_a_day() -> None:
    given = build(*(job(name, 5) for name in ("aerial", "bonnet", "carpet", "doors")))
    before = made(given)
    starts = {name: days(5 * position) for position, name in enumerate(["doors", "carpet", "bonnet", "aerial"])}
    turned = replace(before, starts=starts)
    again = made(given, last=turned)
    assert [item.job for item in again.jobs] == ["doors", "carpet", "bonnet", "aerial"]


def test_a_recoat_window_is_kept_by_waiting_with_the_first_coat() -> None:
    given = build(
        job("primer", 2),
        job("top-coat", 2, after=(Link(job="primer", within_days=3),), to_keep=("paint",)),
        parts=(Part(id="paint", name="Paint"),),
    )
    schedule = made(given, Gates(parts={"paint": 5.0}))
    assert planned(schedule, "top-coat")[0] == days(35)
    assert (days(35) - planned(schedule, "primer")[1]).days <= 3
    assert schedule.given_up == ()


def contradicting(redo: float) -> Build:
    """A coat that must be on within two days, after a shop that takes weeks."""
    return build(
        job("primer", 2),
        job("shop", 1, "primer", workshop="w"),
        job("top-coat", 2, after=(Link(job="primer", within_days=2, redo_hours=redo), Link(job="shop"))),
        job("trim", 40),
        workshops=(Workshop(id="w", name="The shop"),),
    )


def test_what_can_not_be_kept_costs_its_hours_and_is_said() -> None:
    schedule = made(contradicting(3))
    assert schedule.finish is not None
    assert schedule.given_up == ("“Top-coat” can't begin soon enough after “Primer”: 3 h more are reckoned for it.",)
    assert next(item.hours for item in schedule.jobs if item.job == "top-coat") == pytest.approx(5, rel=0.08)


def test_the_smallest_set_at_fault_is_named_with_a_remedy() -> None:
    schedule = made(contradicting(0))
    assert schedule.finish is None
    assert schedule.smallest
    whats = {fault.what for fault in schedule.faults}
    assert whats == {
        "“Shop” waits for “Primer”",
        "“Top-coat” waits for “Shop”",
        "“Top-coat” must begin within 2 days of “Primer”",
    }
    assert all(fault.do for fault in schedule.faults)


@pytest.mark.parametrize(
    ("given", "gates", "what"),
    [
        (build(job("strip", 3), hours=0), Gates(), "the owner has no hours at all within ten years"),
        (
            build(job("strip", 3, to_keep=("rack",)), parts=(Part(id="rack", name="Rack"),)),
            Gates(parts={"rack": float("inf")}),
            "“Rack” does not come within ten years, and “Strip” needs it",
        ),
        (
            build(job("strip", 3, lift=True), owner=Owner(hours_per_week=7, lifts=0)),
            Gates(),
            "there is room for no job in the lift",
        ),
    ],
)
def test_jobs_that_can_never_start_are_named(given: Build, gates: Gates, what: str) -> None:
    assert [fault.what for fault in made(given, gates).faults] == [what]


def test_a_day_that_can_not_be_met_names_what_holds_it() -> None:
    given = build(job("strip", 5), job("engine-in", 5, to_keep=("unit",)), parts=(Part(id="unit", name="Power unit"),))
    schedule = made(given, Gates(parts={"unit": 10.0}), deadline=days(50))
    assert {fault.what for fault in schedule.faults} == {
        "all is to be done by 21 April 2026",
        "“Engine-in” can't begin before “Power unit” comes on 11 May",
    }
    assert made(given, Gates(parts={"unit": 1.0}), deadline=days(50)).finish is not None


def test_nothing_left_to_do_is_done_today() -> None:
    schedule = made(build())
    assert (schedule.finish, schedule.jobs, schedule.stalls) == (AS_OF, (), ())


def test_the_units_of_an_hour_share_out_whole_minutes_a_week() -> None:
    given = build(job("strip", 3), hours=7.75)
    draft = drafted(given, facts_of(given, AS_OF), Gates())
    assert sum(draft.problem.hours[:7]) == 7.75 * UNITS
