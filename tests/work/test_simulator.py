"""What the simulated owner does, on builds small enough to work out by hand. Seven hours a week: one a day."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from work_builds import AS_OF, CERTAIN, SEVEN_A_WEEK, build_of, days, job, run

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.commerce import Workshop
from fishplate.build.decisions import Decision, Option
from fishplate.build.events import Work
from fishplate.build.interfaces import Interface
from fishplate.build.jobs import Allowance, Gate, Job, Link, StopPoint
from fishplate.build.owner import DaysOff, Owner, SeasonHours
from fishplate.build.parts import Phase, System
from fishplate.work import Gates, Simulator, Spreads


def test_jobs_follow_each_other_at_the_owners_hours() -> None:
    report = run(build_of(job("strip", 3), job("weld", 4, "strip")))
    assert days(report.starts["weld"]) == 3
    assert days(report.finish_weeks) == 7
    assert report.unfinished_share == 0


def test_of_two_ready_jobs_the_one_with_least_slack_goes_first() -> None:
    report = run(build_of(job("a-short", 2), job("b-long", 3), job("c-last", 5, "b-long")))
    assert days(report.starts["b-long"]) == 0
    assert days(report.starts["a-short"]) == 8


def test_ties_go_by_id() -> None:
    report = run(build_of(job("beta", 2), job("alpha", 2)))
    assert days(report.starts["alpha"]) == 0
    assert days(report.starts["beta"]) == 2


def test_late_part_stalls_its_job_and_the_stall_names_it() -> None:
    report = run(build_of(job("fit", 4, to_keep=("rack",))), Gates(parts={"rack": 2.0}))
    assert days(report.starts["fit"]) == 14
    (month,) = report.stalls
    assert (month.month, month.hours) == ("2026-03", pytest.approx(14))
    assert [(cause.kind, cause.id) for cause in month.causes] == [("part", "rack")]
    # 14 of the 30 hours from 2 March on are not more than half
    assert month.chance == 0
    assert report.decided_by == {("part", "rack"): 1.0}


def test_month_counts_as_stalled_only_if_more_than_half_its_hours_are() -> None:
    report = run(build_of(job("fit", 4, to_keep=("rack",))), Gates(parts={"rack": 15.5 / 7}))
    assert report.stalls[0].chance == 1


def test_late_part_delays_only_what_comes_after_the_stop_point() -> None:
    stop = StopPoint(share=0.75, without=("rack",))
    build = build_of(job("fit", 8, to_keep=("rack", "column"), stop_points=(stop,)), job("other", 3))
    report = run(build, Gates(parts={"rack": 3.0}))
    assert days(report.starts["fit"]) == 0
    assert days(report.need_weeks["column"]) == 0
    assert days(report.need_weeks["rack"]) == 21
    assert days(report.starts["other"]) == 6  # the hands turn to other work at the stop point
    assert days(report.ends["fit"]) == 23


def test_need_is_the_stop_point_where_nothing_is_late() -> None:
    stop = StopPoint(share=0.75, without=("rack",))
    report = run(build_of(job("fit", 8, to_keep=("rack",), stop_points=(stop,))))
    assert days(report.need_weeks["rack"]) == 6
    assert days(report.finish_weeks) == 8


def test_part_needed_by_two_jobs_is_needed_by_the_first() -> None:
    report = run(build_of(job("try", 2, to_try=("rack",)), job("keep", 2, "try", to_keep=("rack",))))
    assert days(report.need_weeks["rack"]) == 0


def test_start_to_start_link_waits_for_the_start_and_its_lag() -> None:
    report = run(build_of(job("a", 10), job("b", 1, Link(job="a", kind="start-start", lag_days=4), workshop=None)))
    # the hands are busy until day 10 although it could start on day 4
    assert days(report.starts["b"]) == 10
    report = run(build_of(job("a", 1), job("b", 1, Link(job="a", kind="start-start", lag_days=4))))
    assert days(report.starts["b"]) == 4


def test_cure_and_lag_hold_the_next_job_but_not_the_hands() -> None:
    build = build_of(job("paint", 2, cure_days=5), job("trim", 3, Link(job="paint", lag_days=1)), job("wire", 4))
    report = run(build)
    assert days(report.starts["wire"]) == 2
    assert days(report.starts["trim"]) == 8
    assert [(cause.kind, cause.id, round(cause.hours, 6)) for cause in report.stalls[0].causes] == [
        ("cure", "paint", 2)
    ]


def test_finish_waits_for_the_last_cure() -> None:
    report = run(build_of(job("paint", 2, cure_days=5)))
    assert days(report.finish_weeks) == 7
    assert days(report.ends["paint"]) == 2


def test_work_sent_out_takes_the_owners_part_then_the_shops_time_beside_other_work() -> None:
    shop = Workshop(
        id="machinist",
        name="Machinist",
        queue_weeks=ThreePoint(low=1, likely=1, high=1),
        work_weeks=ThreePoint(low=2, likely=2, high=2),
    )
    build = build_of(
        job("block", 1, workshop="machinist"), job("engine", 5, "block"), job("wire", 4), workshops=(shop,)
    )
    report = run(build)
    assert days(report.ends["block"]) == 22
    assert days(report.starts["wire"]) == 1
    assert days(report.starts["engine"]) == 22
    assert {(cause.kind, cause.id) for month in report.stalls for cause in month.causes} == {("workshop", "machinist")}


def test_quoted_shop_times_slip_by_one_factor_for_all_shops() -> None:
    week = ThreePoint(low=1, likely=1, high=1)
    shops = tuple(Workshop(id=id_, name=id_, queue_weeks=week, work_weeks=week) for id_ in ("one", "two"))
    build = build_of(job("a", 0, workshop="one"), job("b", 0, workshop="two"), workshops=shops)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=400)
    assert simulator.shop_weeks["a"] == pytest.approx(simulator.shop_weeks["b"])
    assert simulator.shop_weeks["a"] == pytest.approx(2 * simulator.craft_slippage, rel=1e-5)
    assert float(np.median(simulator.craft_slippage)) == pytest.approx(2.0, rel=0.06)


def test_gate_holds_what_stands_before_it_until_what_stands_after_it_is_done() -> None:
    gate = Gate(
        id="dry-build", name="Dry build", kind="dry-build", after=("mock",), before=("paint",), interfaces=("arch",)
    )
    build = build_of(job("mock", 3), job("paint", 2), gates=(gate,), interfaces=(Interface(id="arch", name="Arch"),))
    assert days(run(build).starts["paint"]) == 3
    report = run(build, Gates(interfaces={"arch": 2.0}))
    assert days(report.starts["paint"]) == 14
    assert [(cause.kind, cause.id) for cause in report.stalls[0].causes] == [("interface", "arch")]


def test_decision_holds_the_jobs_that_name_it_and_the_one_it_must_be_frozen_before() -> None:
    option = Option(id="rack-steering", name="Rack")
    decision = Decision(id="steering", name="Steering", options=(option,), freeze_by="frozen")
    build = build_of(job("named", 1, decisions=("steering",)), job("frozen", 1), decisions=(decision,))
    report = run(build, Gates(decisions={"steering": 1.0}))
    assert days(report.starts["frozen"]) == 7
    assert days(report.starts["named"]) == 8
    assert report.stalls[0].causes[0].kind == "decision"


def test_job_that_settles_an_interface_does_not_wait_for_it() -> None:
    interface = Interface(id="arch", name="Arch", settle_by="try")
    build = build_of(job("try", 1, settles=("arch",), interfaces=("arch",)), interfaces=(interface,))
    assert days(run(build, Gates(interfaces={"arch": 5.0})).starts["try"]) == 0


def test_job_waits_for_its_months_and_rests_when_they_end() -> None:
    """From 2 March: 30 days to April. April holds 30 hours of 40; the rest waits for the next April."""
    build = build_of(job("paint", 40, months=(4,)), job("wire", 3))
    report = run(build)
    assert days(report.starts["paint"]) == 30
    assert days(report.starts["wire"]) == 0
    assert days(report.ends["paint"]) == (date(2027, 4, 11) - AS_OF).days
    assert {(cause.kind, cause.id) for month in report.stalls for cause in month.causes} == {("season", "paint")}


def test_tied_gates_share_the_stall() -> None:
    report = run(build_of(job("fit", 1, to_keep=("left", "right"))), Gates(parts={"left": 1.0, "right": 1.0}))
    assert [(cause.id, round(cause.hours, 9)) for cause in report.stalls[0].causes] == [("left", 3.5), ("right", 3.5)]


def test_hours_count_only_when_the_owner_has_them() -> None:
    owner = Owner(
        hours_per_week=7,
        seasons=(SeasonHours(months=(4,), hours=0),),
        days_off=(DaysOff(first=date(2026, 3, 4), last=date(2026, 3, 10)),),
    )
    report = run(build_of(job("a", 2), job("b", 21, "a"), job("c", 1, "b"), owner=owner))
    assert days(report.starts["b"]) == 9  # eleventh of March, after the days off
    # 21 of March's days are left to b, so c starts on the first of May: nothing is ever started in April
    assert days(report.starts["c"]) == (date(2026, 5, 1) - AS_OF).days
    assert report.stalls == ()


def test_as_of_in_the_middle_of_a_season_counts_from_that_day() -> None:
    owner = Owner(hours_per_week=7, seasons=(SeasonHours(months=(6,), hours=14),))
    report = run(build_of(job("a", 32), owner=owner), as_of=date(2026, 6, 15))
    # 16 days of June at two hours are 32
    assert days(report.finish_weeks) == 16


def test_all_days_off_never_finishes_and_says_so() -> None:
    owner = Owner(hours_per_week=7, days_off=(DaysOff(first=date(2026, 1, 1), last=date(2099, 1, 1)),))
    report = run(build_of(job("a", 1), owner=owner))
    assert report.unfinished_share == 1
    assert np.isinf(report.quantile(0.5))
    assert report.mean_weeks == 200
    assert "no hours at all" in report.never[0].what


def test_months_without_hours_are_reported_by_name() -> None:
    owner = Owner(hours_per_week=7, seasons=(SeasonHours(months=(6, 7), hours=0),))
    report = run(build_of(job("paint", 1, months=(6, 7)), job("trim", 1, "paint"), job("wire", 1), owner=owner))
    assert [problem.where for problem in report.never] == ["jobs (paint)", "jobs (trim)"]
    assert "June, July" in report.never[0].what
    assert "waits for “Paint”" in report.never[1].what
    assert days(report.ends["wire"]) == 1


def test_part_that_never_comes_is_reported_and_stalls_to_the_horizon() -> None:
    report = run(build_of(job("fit", 1, to_keep=("rack",))), Gates(parts={"rack": float("inf")}), weeks=50)
    assert report.unfinished_share == 1
    assert "rack does not come within 50 weeks" in report.never[0].what
    assert report.stalled_hours == pytest.approx(350)
    assert report.horizon_weeks == 50


def test_work_beyond_the_horizon_is_unfinished_not_cut_short() -> None:
    report = run(build_of(job("a", 100), job("b", 300, "a")), weeks=20)
    assert report.unfinished_share == 1
    assert np.isinf(report.ends["b"]).all()
    assert days(report.ends["a"]) == 100


def test_nothing_to_do_is_finished_at_once() -> None:
    report = run(Build())
    assert days(report.finish_weeks) == 0
    assert report.ready == report.stalls == report.critical == ()


def test_done_jobs_are_left_out_but_still_cure() -> None:
    build = build_of(
        job("paint", 5, cure_days=10),
        job("trim", 1, "paint"),
        events=(Work(id="w1", day=date(2026, 2, 26), job="paint", hours=5, done=True),),
    )
    report = run(build)
    assert set(report.starts) == {"trim"}
    assert days(report.starts["trim"]) == 6
    assert [(cause.kind, cause.id) for cause in report.stalls[0].causes] == [("cure", "paint")]


def test_hours_said_to_be_left_replace_the_estimate() -> None:
    build = build_of(job("weld", 10), events=(Work(id="w1", day=AS_OF, job="weld", hours=2, hours_left=3),))
    assert days(run(build).finish_weeks) == 3


def test_hours_worked_are_taken_off_the_draw() -> None:
    build = build_of(job("weld", 10), events=(Work(id="w1", day=AS_OF, job="weld", hours=4),))
    assert days(run(build).finish_weeks) == 6


def test_job_worked_longer_than_its_high_estimate_is_flagged() -> None:
    build = build_of(job("weld", 10), events=(Work(id="w1", day=AS_OF, job="weld", hours=25),))
    report = run(build)
    assert days(report.finish_weeks) == 1
    assert "hours-overrun" in {item.code for item in report.assumptions}


def test_part_worked_draws_lie_above_what_was_worked() -> None:
    wide = Job(id="weld", name="Weld", phase=Phase.ASSEMBLY, hours=ThreePoint(low=2, likely=5, high=20))
    build = build_of(wide, events=(Work(id="w1", day=AS_OF, job="weld", hours=8),))
    hours = Simulator(build, facts_of(build, AS_OF), runs=2000, spreads=CERTAIN).hours["weld"]
    # triangular above 8 of (2, 5, 20): left is 12 (1 - sqrt(1 - u)), mean a third of 12
    assert hours.mean() == pytest.approx(4.0, abs=0.25)
    assert hours.max() < 12


def test_stop_point_already_passed_needs_its_part_at_once() -> None:
    stop = StopPoint(share=0.5, without=("rack",))
    build = build_of(
        job("fit", 8, to_keep=("rack",), stop_points=(stop,)),
        events=(Work(id="w1", day=AS_OF, job="fit", hours=6, hours_left=2),),
    )
    assert days(run(build, Gates(parts={"rack": 1.0})).finish_weeks) == 9


def optional_build(chosen: str) -> Build:
    options = (Option(id="keep", name="Keep"), Option(id="swap", name="Swap", jobs=("mounts",), parts=("engine",)))
    decision = Decision(id="power", name="Power", options=options, chosen=chosen)
    return build_of(
        job("strip", 2), job("mounts", 5, "strip", to_try=("engine",)), job("close", 1, "mounts"), decisions=(decision,)
    )


def test_job_of_an_option_not_chosen_takes_no_time_but_passes_on_its_links() -> None:
    report = run(optional_build("keep"))
    assert set(report.starts) == {"strip", "close"}
    assert days(report.starts["close"]) == 2
    assert "engine" not in report.need_weeks
    assert days(run(optional_build("swap")).finish_weeks) == 8


def spread_build(*extra: Job) -> Build:
    points = ThreePoint(low=2, likely=5, high=15)
    jobs = [Job(id=f"j{k}", name=f"J{k}", phase=Phase.FINISH, hours=points) for k in range(4)]
    return Build(owner=SEVEN_A_WEEK, jobs=(*jobs, *extra))


def test_another_job_leaves_the_draws_of_the_rest_as_they_were() -> None:
    build, more = spread_build(), spread_build(job("a-new", 3), job("z-new", 3))
    one, two = (Simulator(b, facts_of(b, AS_OF), runs=300) for b in (build, more))
    for name in one.hours:
        assert np.array_equal(one.hours[name], two.hours[name])


def test_fewer_runs_are_the_first_of_more() -> None:
    build = spread_build()
    few, many = (Simulator(build, facts_of(build, AS_OF), runs=runs) for runs in (50, 400))
    assert np.array_equal(few.finish_weeks(), many.finish_weeks()[:50])
    assert np.array_equal(few.finish_weeks(), many.finish_weeks(runs=50))


def test_same_seed_same_runs_and_another_seed_others() -> None:
    build = spread_build()
    first, again, other = (Simulator(build, facts_of(build, AS_OF), runs=50, seed=s).finish_weeks() for s in (7, 7, 8))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_gate_that_opens_before_it_matters_changes_no_run() -> None:
    build = build_of(job("a", 20), job("b", 5, "a", to_keep=("rack",)))
    simulator = Simulator(build, facts_of(build, AS_OF), runs=200)
    earliest = float(simulator.run().need_weeks["rack"].min())
    assert np.array_equal(simulator.finish_weeks(), simulator.finish_weeks(Gates(parts={"rack": 0.99 * earliest})))


def test_gates_may_differ_from_run_to_run_and_the_fast_path_agrees_with_the_full_one() -> None:
    build = build_of(job("a", 2, to_keep=("rack",)))
    simulator = Simulator(build, facts_of(build, AS_OF), runs=3, spreads=CERTAIN)
    gates = Gates(parts={"rack": np.array([0.0, 1.0, np.inf])})
    report = simulator.run(gates)
    assert report.finish_weeks == pytest.approx([2 / 7, 9 / 7, np.inf])
    assert np.array_equal(report.finish_weeks, simulator.finish_weeks(gates))
    assert report.unfinished_share == pytest.approx(1 / 3)


@pytest.mark.parametrize("moment", [float("nan"), np.array([1.0, float("nan")]), np.array([1.0])])
def test_gate_without_a_moment_for_each_run_is_refused(moment: float) -> None:
    build = build_of(job("a", 2, to_keep=("rack",)))
    simulator = Simulator(build, facts_of(build, AS_OF), runs=2)
    with pytest.raises(ValueError, match="parts rack"):
        simulator.finish_weeks(Gates(parts={"rack": moment}))


def test_criticality_is_the_share_of_runs_on_the_chain_that_sets_the_finish() -> None:
    """Two parts are waited for side by side; in one run of four the second is the later."""
    build = build_of(
        job("left", 0, to_keep=("one",)),
        job("right", 0, to_keep=("two",)),
        job("last", 1, "left", "right"),
        job("free", 0),
    )
    simulator = Simulator(build, facts_of(build, AS_OF), runs=4, spreads=CERTAIN)
    gates = Gates(parts={"one": np.array([1.0, 5.0, 5.0, 5.0]), "two": np.array([3.0, 2.0, 2.0, 2.0])})
    report = simulator.run(gates)
    assert report.criticality == {"left": 0.75, "right": 0.25, "last": 1.0, "free": 0.0}
    assert report.decided_by == {("part", "one"): 0.75, ("part", "two"): 0.25}


def test_chain_runs_through_the_hands_where_they_were_what_it_waited_for() -> None:
    report = run(build_of(job("a", 5), job("b", 3)))
    assert report.criticality == {"a": 1.0, "b": 1.0}


def test_pace_is_learnt_from_done_jobs_and_drawn_towards_the_estimate() -> None:
    done = tuple(Work(id=f"w{k}", day=date(2026, 1, 5 + k), job=f"d{k}", hours=20, done=True) for k in range(5))
    build = build_of(*(job(f"d{k}", 10) for k in range(5)), job("left", 10), events=done)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=10, spreads=CERTAIN)
    # five of ten: the square root of 2
    assert simulator.pace == pytest.approx(np.full(10, 2**0.5))
    assert any(item.code == "pace-learnt" and "1.41" in item.text for item in simulator.assumptions)


def test_discovery_is_larger_before_the_strip_and_stated_allowances_replace_the_default() -> None:
    systems = (System(id="body", name="Body"), System(id="brakes", name="Brakes"))
    stated = Allowance(id="a1", kind="discovery", system="brakes", hours_percent=50)
    jobs = (
        job("strip", 10, phase=Phase.STRIP, system="body"),
        job("weld", 10, "strip", system="body"),
        job("bleed", 10, system="brakes"),
        job("brief", 10, phase=Phase.DEFINE, system="body"),
    )
    build = build_of(*jobs, systems=systems, allowances=(stated,))
    flat = Spreads(pace_log_sd=0, discovery_shape=0)
    simulator = Simulator(build, facts_of(build, AS_OF), runs=1, spreads=flat)
    found = {name: round(float(hours[0]), 3) for name, hours in simulator.hours.items()}
    assert found == {"strip": 13, "weld": 13, "bleed": 15, "brief": 10}
    done = build.model_copy(update={"events": (Work(id="w", day=date(2026, 2, 1), job="strip", hours=10, done=True),)})
    later = Simulator(done, facts_of(done, AS_OF), runs=1, spreads=flat)
    assert float(later.hours["weld"][0] / later.pace[0]) == pytest.approx(11.5, rel=1e-5)
    assert {item.about for item in later.assumptions if item.code == "discovery-default"} == {"body"}


def test_help_is_taken_for_granted_and_said() -> None:
    build = build_of(job("lift", 1, second_person=True))
    assert any(i.code == "second-person" and "lift" in i.text for i in run(build).assumptions)


@pytest.mark.parametrize("fields", [{"runs": 0}, {"horizon_weeks": 0}])
def test_no_runs_or_no_horizon_is_refused(fields: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="at least 1"):
        Simulator(Build(), facts_of(Build(), AS_OF), **fields)


def test_as_of_at_the_end_of_the_calendar_still_answers() -> None:
    assert days(run(build_of(job("a", 2)), as_of=date(9999, 12, 30)).finish_weeks) == 2
