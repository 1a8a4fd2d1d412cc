"""Recoats, rests, help, places, verifying and shared parts, on builds small enough to work out by hand."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from work_builds import AS_OF, CERTAIN, build_of, days, job, run

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.commerce import Workshop
from fishplate.build.events import Work
from fishplate.build.interfaces import Interface, Settled
from fishplate.build.jobs import Gate, Job, Link, StopPoint
from fishplate.build.owner import Helper, Owner, SeasonHours
from fishplate.build.parts import Part, Phase
from fishplate.work import Gates, Simulator, four_jobs, gate_states, impossible, progress, worth_of_more
from fishplate.work.network import wanted_jobs, work_network

HELPED_WHEN_AWAY = Owner(hours_per_week=7, weekdays=(6,), helpers=(Helper(weekdays=(7,)),))
NOTHING_STATED = Owner(hours_per_week=7)


def causes(build: Build, gates: Gates | None = None) -> set[tuple[str, str]]:
    return {(cause.kind, cause.id) for month in run(build, gates).stalls for cause in month.causes}


@pytest.mark.parametrize(("late", "end"), [(4, 7), (6, 11)])
def test_a_coat_that_comes_too_late_is_rubbed_down_first(late: float, end: float) -> None:
    """Primer cures two days and takes paint within five; paint takes two hours, three more if it comes later."""
    link = Link(job="primer", within_days=5, redo_hours=3)
    build = build_of(job("primer", 1, cure_days=2), job("paint", 2, link, to_keep=("paint-tin",)))
    report = run(build, Gates(parts={"paint-tin": (1 + late) / 7}))
    assert days(report.starts["paint"]) == 1 + late
    assert days(report.ends["paint"]) == (end if late == 4 else 1 + late + 2 + 3)


def test_what_must_begin_in_time_goes_before_what_has_less_slack() -> None:
    link = Link(job="primer", within_days=3, redo_hours=9)
    build = build_of(job("primer", 1), job("paint", 1, link), job("long", 20), job("longer", 20, "long"))
    report = run(build)
    assert days(report.starts["paint"]) <= days(report.ends["primer"]) + 3


def test_a_coat_put_on_before_today_counts_its_days() -> None:
    link = Link(job="primer", within_days=5, redo_hours=3)
    done = Work(id="w1", day=date(2026, 2, 20), job="primer", hours=1, done=True)
    build = build_of(job("primer", 1), job("paint", 2, link), events=(done,))
    assert days(run(build).ends["paint"]) == 5
    soon = done.model_copy(update={"day": date(2026, 2, 28)})
    assert days(run(build.model_copy(update={"events": (soon,)})).ends["paint"]) == 2


def test_taking_a_job_up_again_after_a_wait_costs_setting_up_but_going_on_does_not() -> None:
    stop = StopPoint(share=0.5, without=("rack",))
    fit = job("fit", 8, to_keep=("rack",), stop_points=(stop,), setting_up_minutes=60)
    assert days(run(build_of(fit)).ends["fit"]) == 8
    assert days(run(build_of(fit), Gates(parts={"rack": 1.0})).ends["fit"]) == 12
    assert days(run(build_of(fit), Gates(parts={"rack": 0.0})).ends["fit"]) == 8


def test_a_second_person_comes_on_certain_days_and_other_work_goes_on_meanwhile() -> None:
    """Saturdays alone: one hour on 7 March, one on the 14th; the second takes up again what was put down."""
    owner = Owner(hours_per_week=7, helpers=(Helper(weekdays=(6,)),))
    build = build_of(job("lift-in", 2, second_person=True), job("wire", 30), owner=owner)
    report = run(build)
    assert days(report.starts["lift-in"]) == 5
    assert days(report.ends["lift-in"]) == 13
    assert days(report.finish_weeks) == 32
    alone = build_of(job("lift-in", 2, second_person=True), owner=owner)
    assert causes(alone) == {("helper", "lift-in")}


def test_a_helper_by_chance_comes_as_often_as_stated() -> None:
    owner = Owner(hours_per_week=7, helpers=(Helper(hours_per_week=3.5),))
    build = build_of(job("lift-in", 1, second_person=True), owner=owner)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=3200, spreads=CERTAIN)
    waited = 7 * simulator.run().starts["lift-in"]
    # every other day by chance: the wait is geometric with mean 1; 32 ways for the days to fall
    assert waited.mean() == pytest.approx(1, abs=3 * 2**0.5 / 32**0.5)
    assert any(item.code == "second-person" for item in simulator.assumptions)


def test_what_cures_in_the_bay_keeps_others_out_and_a_second_bay_lets_them_in() -> None:
    jobs = (job("paint", 5, cure_days=10, bay=True), job("weld", 3, bay=True))
    report = run(build_of(*jobs))
    assert days(report.starts["weld"]) == 15
    (cause,) = report.causes
    assert (cause.kind, cause.id, cause.hours, cause.days) == ("bay", "paint", pytest.approx(10), pytest.approx(10))
    assert days(run(build_of(*jobs, owner=Owner(hours_per_week=7, bays=2))).starts["weld"]) == 5
    assert report.criticality == {"paint": 1.0, "weld": 1.0}


def test_a_long_job_rests_for_a_coat_that_must_follow_in_time() -> None:
    link = Link(job="primer", within_days=5, redo_hours=9)
    build = build_of(job("primer", 1, cure_days=3), job("paint", 40, link), job("weld", 30, setting_up_minutes=30))
    report = run(build)
    assert days(report.starts["weld"]) == 1
    assert days(report.starts["paint"]) == 4
    assert days(report.ends["paint"]) == 44
    assert days(report.finish_weeks) == 1 + 40 + 30 + 0.5


def test_what_proves_wrong_when_verified_takes_hours_to_put_right() -> None:
    points = ThreePoint(low=4, likely=4, high=4)
    interfaces = (Interface(id="arch", name="Arch"),)
    build = build_of(job("try", 2, settles=("arch",), rework=points), job("next", 1, "try"), interfaces=interfaces)
    assert days(run(build).finish_weeks) == 3
    assert days(run(build, Gates(misfits={"arch": 1.0})).finish_weeks) == 7
    simulator = Simulator(build, facts_of(build, AS_OF), runs=4000, spreads=CERTAIN)
    half = 7 * simulator.finish_weeks(Gates(misfits={"arch": 0.3}))
    assert half.mean() == pytest.approx(3 + 0.3 * 4, abs=3 * 4 * (0.3 * 0.7 / 4000) ** 0.5)
    seen = build.model_copy(update={"settled": (Settled(interface="arch", day=AS_OF, good=True, by="owner"),)})
    assert days(run(seen, Gates(misfits={"arch": 1.0})).finish_weeks) == 3


@pytest.mark.parametrize("chance", [-0.1, 1.1, float("nan")])
def test_a_chance_of_misfit_beyond_nought_and_one_is_refused(chance: float) -> None:
    build = build_of(job("try", 2, settles=("arch",)), interfaces=(Interface(id="arch", name="Arch"),))
    with pytest.raises(ValueError, match="misfits arch"):
        run(build, Gates(misfits={"arch": chance}))


def test_a_part_at_the_finishers_can_not_be_used_meanwhile() -> None:
    jobs = (
        job("try", 2, to_try=("arm",)),
        job("coat", 1, works_on=("arm",), cure_days=6),
        job("keep", 1, to_keep=("arm",)),
    )
    build = build_of(*jobs, job("other", 2)).model_copy(update={"parts": (Part(id="arm", name="Arm"),)})
    report = run(build)
    assert days(report.starts["coat"]) >= days(report.ends["try"])
    assert days(report.starts["keep"]) >= days(report.ends["coat"]) + 6
    told = {(item.about, item.code) for item in report.assumptions}
    assert {("coat", "part-in-one-place"), ("keep", "part-in-one-place")} <= told


def test_the_four_jobs_of_a_part_take_it_and_the_bay_twice() -> None:
    points = ThreePoint(low=4, likely=4, high=4)
    part = Part(id="arm", name="Arm")
    jobs = four_jobs(part, mock_up=points, finish=points, assembly=points, cure_days=3)
    build = build_of(*jobs)
    facts = facts_of(build, AS_OF)
    assert not impossible(build, facts)
    assert [each.bay for each in jobs] == [True, True, False, True]
    assert work_network(build, facts, {}).shared_parts == ()
    assert days(run(build).finish_weeks) == 4 + 1 + 4 + 3 + 4


def test_a_part_fitted_for_good_before_it_is_finished_is_a_fault() -> None:
    jobs = (job("keep", 1, to_keep=("arm",)), job("coat", 1, "keep", works_on=("arm",)))
    build = build_of(*jobs)
    (fault,) = impossible(build, facts_of(build, AS_OF))
    assert fault.code == "pattern"
    assert "Coat" in fault.what


def test_a_shop_that_has_the_work_already_is_waited_for_less() -> None:
    week = ThreePoint(low=3, likely=3, high=3)
    shop = Workshop(
        id="mill", name="Mill", queue_weeks=week, work_weeks=week,
        booked_on=date(2026, 2, 16), withdraw_on=date(2026, 3, 6),
    )  # fmt: skip
    build = build_of(job("block", 0, workshop="mill"), workshops=(shop,))
    report = run(build)
    assert days(report.finish_weeks) == 7 + 21
    (withdrawal,) = report.withdrawals
    assert (withdrawal.workshop, withdrawal.chance) == ("mill", 1.0)
    begun = shop.model_copy(update={"began_on": date(2026, 2, 23)})
    report = run(build.model_copy(update={"workshops": (begun,)}))
    assert days(report.finish_weeks) == 14
    assert report.withdrawals == ()


def impossible_codes(*jobs: Job, owner: Owner = NOTHING_STATED) -> list[str]:
    build = build_of(*jobs, owner=owner)
    return [problem.code for problem in impossible(build, facts_of(build, AS_OF))]


def test_impossible_calendars_are_named_with_the_setting_at_fault() -> None:
    none = Owner(hours_per_week=7, seasons=(SeasonHours(months=tuple(range(1, 13)), hours=0),))
    build = build_of(job("a", 1), owner=none)
    (problem,) = impossible(build, facts_of(build, AS_OF))
    assert (problem.code, problem.do != "") == ("no-hours", True)
    assert "seasons" in problem.what
    winter = Owner(hours_per_week=7, seasons=(SeasonHours(months=(12, 1), hours=0),))
    assert impossible_codes(job("a", 1, months=(12, 1)), owner=winter) == ["season-without-hours"]
    sundays = Owner(hours_per_week=7, weekdays=(6,), helpers=(Helper(weekdays=(7,)),))
    assert impossible_codes(job("a", 1, second_person=True), owner=sundays) == ["helper-never-comes"]
    assert impossible_codes(job("a", 1, lift=True), owner=Owner(hours_per_week=7, lifts=0)) == ["no-lift"]
    late = job("b", 1, Link(job="a", within_days=2))
    assert impossible_codes(job("a", 1, cure_days=3), late) == ["window-closed"]
    assert impossible_codes(job("a", 1, cure_days=2), late, owner=winter) == []


@pytest.mark.parametrize(
    ("fields", "owner", "words"),
    [
        ({"lift": True}, Owner(hours_per_week=7, lifts=0), "needs a lift"),
        ({"second_person": True}, HELPED_WHEN_AWAY, "second person"),
    ],
)
def test_jobs_that_never_start_say_which_place_or_person_is_missing(
    fields: dict[str, bool], owner: Owner, words: str
) -> None:
    gate = Gate(id="look", name="Look", kind="re-plan", after=("a",), before=("b",))
    report = run(build_of(job("a", 1, **fields), job("b", 1), owner=owner, gates=(gate,)))
    assert words in report.never[0].what
    assert "waits for “A”" in report.never[1].what  # through the gate


def test_an_hour_more_a_week_is_worth_what_the_calendar_says() -> None:
    owner = Owner(hours_per_week=7, week_delay_cost=100, bays=1)
    build = build_of(job("a", 56), job("b", 56, bay=True), owner=owner)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=50, spreads=CERTAIN)
    hour, bay = worth_of_more(simulator)
    assert (hour.what, bay.what) == ("hour", "bay")
    assert hour.weeks_sooner == pytest.approx(16 - 14, abs=1e-6)
    assert hour.money == pytest.approx(200, abs=1e-3)
    assert bay.weeks_sooner == 0
    assert "no sooner" in bay.text
    again = Simulator(build, facts_of(build, AS_OF), runs=50, spreads=CERTAIN).finish_weeks()
    assert np.array_equal(simulator.finish_weeks(), again)


def test_gates_tell_what_they_wait_for_and_what_is_welded_too_late() -> None:
    gates = (
        Gate(id="last", name="Last welds", kind="last-welds", after=("mounts",), before=("paint",)),
        Gate(id="tack", name="Mounts", kind="tacked", interfaces=("mount",), before=("mounts",)),
    )
    jobs = (
        job("brackets", 1, hazards=("welding",)),
        job("mounts", 1, "brackets", hazards=("welding",)),
        job("exhaust", 1, hazards=("welding",)),
        job("paint", 1),
    )
    build = build_of(*jobs, gates=gates, interfaces=(Interface(id="mount", name="Mount to rail"),))
    last, tack = gate_states(build, facts_of(build, AS_OF))
    assert not last.open
    assert (last.welds, last.after_it, last.holds) == (("brackets", "mounts"), ("exhaust",), ("paint",))
    assert "stays tacked until seen to be right: “Mount to rail”" in tack.text
    done = tuple(
        Work(id=f"w{k}", day=AS_OF, job=each, hours=1, done=True) for k, each in enumerate(("brackets", "mounts"))
    )
    assert gate_states(build, facts_of(build.model_copy(update={"events": done}), AS_OF))[0].open


def test_progress_tells_hours_done_spent_and_left_in_words() -> None:
    events = (
        Work(id="w1", day=date(2026, 2, 1), job="strip", hours=30, done=True),
        Work(id="w2", day=date(2026, 2, 20), job="weld", hours=10, hours_left=30),
    )
    build = build_of(
        job("strip", 20, phase=Phase.STRIP), job("weld", 40, "strip"), job("trim", 40, "weld"), events=events
    )
    facts = facts_of(build, AS_OF)
    found = progress(
        build, facts, planned={"strip": date(2026, 1, 20), "weld": date(2026, 2, 28), "trim": date(2026, 9, 1)}
    )
    assert (found.whole.planned, found.whole.earned, found.whole.spent, found.whole.whole) == (60, 30, 40, 100)
    assert found.whole.to_complete == pytest.approx(100 / 0.75 - 40)
    assert found.text == (
        "30 of 100 estimated hours are done, in 40 hours worked.",
        "What was to take one hour has taken 80 minutes so far.",
        "If the rest goes the same way, 93 hours are left.",
        "That is 30 hours fewer than the earlier plan had done by now.",
    )
    assert found.systems[0].used == 10
    assert set(wanted_jobs(build, facts)) == {"weld", "trim"}


def test_nothing_listed_and_nothing_spent_have_no_indices() -> None:
    found = progress(Build(), facts_of(Build(), AS_OF)).whole
    assert (found.done_per_spent, found.at_completion, found.ahead, found.share) == (None, None, None, 0)


def test_pace_learnt_narrows_its_own_spread_and_weighs_wide_estimates_less() -> None:
    def pace(points: ThreePoint, count: int) -> tuple[float, float]:
        from fishplate.work import Spreads
        from fishplate.work.pace import pace_of

        jobs = tuple(Job(id=f"d{k}", name=f"D{k}", phase=Phase.ASSEMBLY, hours=points) for k in range(count))
        events = tuple(Work(id=f"w{k}", day=date(2026, 1, 5), job=f"d{k}", hours=20, done=True) for k in range(count))
        build = build_of(*jobs, events=events)
        found = pace_of(build, facts_of(build, AS_OF), Spreads())
        return found.median, found.log_sd

    sure = ThreePoint(low=10, likely=10, high=10)
    assert pace(sure, 5) == (pytest.approx(2**0.5, rel=1e-6), pytest.approx(0.2 * 0.5**0.5))
    assert pace(sure, 45)[0] == pytest.approx(2**0.9, rel=1e-6)
    wide = pace(ThreePoint(low=2, likely=10, high=18), 5)
    assert 1 < wide[0] < 1.5
    assert wide[1] > pace(sure, 5)[1]
