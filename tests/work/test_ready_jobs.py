"""What can be done tonight."""

from __future__ import annotations

from datetime import date

from work_builds import AS_OF, build_of, job, run

from fishplate.build.decisions import Decision, Option
from fishplate.build.events import Check, PartCount, Receipt, Work
from fishplate.build.interfaces import Interface, Settled
from fishplate.build.jobs import Gate, StopPoint
from fishplate.build.parts import System
from fishplate.work import Gates


def names(build, gates=None, as_of=AS_OF):  # type: ignore[no-untyped-def]
    return [item.job for item in run(build, gates, as_of=as_of).ready]


def test_job_is_ready_when_what_comes_before_is_done_and_its_parts_are_in_hand() -> None:
    build = build_of(job("a", 1), job("b", 1, "a"), job("c", 1, to_keep=("rack",)))
    assert names(build) == ["a"]
    arrived = Receipt(id="r", day=AS_OF, lines=(PartCount(part="rack"),))
    done = Work(id="w", day=AS_OF, job="a", hours=1, done=True)
    assert names(build.model_copy(update={"events": (arrived, done)})) == ["b", "c"]
    wrong = Check(id="k", day=AS_OF, part="rack", good=False)
    assert names(build.model_copy(update={"events": (arrived, done, wrong)})) == ["b"]


def test_job_is_ready_up_to_the_stop_point_where_a_part_is_missing() -> None:
    stop = StopPoint(share=0.75, without=("rack",), name="column hung")
    (ready,) = run(build_of(job("fit", 8, to_keep=("rack",), stop_points=(stop,)))).ready
    assert ready.hours_left == 6
    assert ready.until == "column hung"
    assert "up to the stop point: column hung" in ready.text


def test_open_decision_and_wrong_interface_and_later_gate_hold_a_job_back() -> None:
    decision = Decision(id="steering", name="Steering", options=(Option(id="rack", name="Rack"),))
    interface = Interface(id="arch", name="Arch")
    build = build_of(
        job("a", 1, decisions=("steering",)),
        job("b", 1, interfaces=("arch",)),
        job("c", 1),
        decisions=(decision,),
        interfaces=(interface,),
        settled=(Settled(interface="arch", day=AS_OF, good=False, by="plywood disc"),),
    )
    assert names(build) == ["c"]
    assert names(build, Gates(jobs={"c": 2.0})) == []


def test_job_out_of_its_months_or_still_curing_is_not_ready() -> None:
    build = build_of(job("paint", 1, months=(7,)), job("primer", 2, cure_days=3), job("sand", 1, "primer"))
    done = build.model_copy(update={"events": (Work(id="w", day=AS_OF, job="primer", hours=2, done=True),)})
    assert names(done) == []
    assert names(done, as_of=date(2026, 7, 1)) == ["paint", "sand"]


def test_gate_with_nothing_before_it_lets_its_jobs_be_ready() -> None:
    gate = Gate(id="look", name="Look", kind="re-plan", after=("strip",), before=("weld",))
    build = build_of(job("strip", 1), job("weld", 1), gates=(gate,))
    assert names(build) == ["strip"]
    done = build.model_copy(update={"events": (Work(id="w", day=AS_OF, job="strip", hours=1, done=True),)})
    assert names(done) == ["weld"]


def test_ready_job_names_what_waits_for_it_even_through_a_gate_and_its_tools() -> None:
    gate = Gate(id="look", name="Look", kind="re-plan", after=("strip",), before=("weld",))
    build = build_of(job("strip", 1, tools=("hoist",)), job("weld", 1), job("clean", 1, "strip"), gates=(gate,))
    (ready,) = run(build).ready
    assert ready.unlocks == ("clean", "weld")
    assert ready.tools == ("hoist",)


def test_hazards_of_job_and_system_bring_cautions_that_defer_to_the_local_code() -> None:
    systems = (System(id="brakes", name="Brakes", hazards=("brakes",)),)
    build = build_of(job("lines", 1, system="brakes", hazards=("lifting",)), job("trim", 1), systems=systems)
    ready = {item.job: item for item in run(build).ready}
    assert ready["trim"].cautions == ()
    assert [text.split(":")[0] for text in ready["lines"].cautions[:2]] == ["Brakes", "Lifting"]
    assert "licensed engineer" in ready["lines"].cautions[-1]


def test_ready_jobs_come_least_slack_first() -> None:
    build = build_of(job("a-short", 1), job("b-long", 9))
    assert names(build) == ["b-long", "a-short"]
