"""One job a phase where no jobs are listed, and gates where no plan says."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from work_builds import AS_OF, build_of, job, run

from fishplate.build import Build, facts_of
from fishplate.build.base import ThreePoint
from fishplate.build.commerce import Offer, Supplier
from fishplate.build.decisions import Decision, Option
from fishplate.build.events import Order, OrderLine, PartCount, Receipt
from fishplate.build.money import Money
from fishplate.build.owner import Owner
from fishplate.build.parts import Part, Phase
from fishplate.work import usual_gates, with_phase_jobs
from fishplate.work.phases import typical_hours


def listed(**owner: float) -> Build:
    parts = (
        Part(id="primer", name="Primer", phase=Phase.FINISH),
        Part(id="rack", name="Rack", phase=Phase.MOCK_UP),
        Part(id="saw", name="Saw", phase=Phase.STRIP),
        Part(id="unknown", name="Unknown"),
    )
    return Build(owner=Owner(hours_per_week=7, **owner), parts=parts)


def test_each_phase_used_becomes_a_job_in_order() -> None:
    build, assumptions = with_phase_jobs(listed(), facts_of(listed(), AS_OF))
    assert [j.id for j in build.jobs] == ["strip", "mock-up", "finish", "assembly"]
    assert [j.to_try for j in build.jobs] == [("saw",), ("rack",), (), ()]
    assert [j.to_keep for j in build.jobs] == [(), (), ("primer",), ("unknown",)]
    assert [[link.job for link in j.after] for j in build.jobs] == [[], ["strip"], ["mock-up"], ["finish"]]
    assert {item.code for item in assumptions} == {"phase-hours-default", "phase-jobs", "phase-default"}
    assert "unknown" in next(item.text for item in assumptions if item.code == "phase-default")


def test_hours_said_to_be_left_are_shared_out_over_the_phases() -> None:
    given = listed(hours_left=500)
    build, assumptions = with_phase_jobs(given, facts_of(given, AS_OF))
    assert sum(j.hours.likely for j in build.jobs) == pytest.approx(500)
    assert "phase-hours-shared" in {item.code for item in assumptions}


def test_without_hours_left_the_size_of_the_list_scales_the_typical_hours() -> None:
    few = with_phase_jobs(listed(), facts_of(listed(), AS_OF))[0]
    assert few.jobs[0].hours.likely == pytest.approx(15.7)  # a tenth of 157, the least
    many = Build(parts=tuple(Part(id=f"p{k}", name="P", phase=Phase.STRIP) for k in range(130)))
    assert with_phase_jobs(many, facts_of(many, AS_OF))[0].jobs[0].hours == typical_hours()[Phase.STRIP]


def test_typical_hours_add_up_to_the_whole_restomod() -> None:
    points = typical_hours().values()
    assert (sum(p.low for p in points), sum(p.likely for p in points), sum(p.high for p in points)) == (891, 2105, 4753)


def test_build_with_jobs_or_without_parts_is_left_alone() -> None:
    for build in (build_of(job("a", 1, to_keep=("rack",))), Build()):
        assert with_phase_jobs(build, facts_of(build, AS_OF)) == (build, ())


def test_phase_jobs_give_need_dates_in_the_order_of_phases() -> None:
    given = listed(hours_left=500)
    build, _ = with_phase_jobs(given, facts_of(given, AS_OF))
    needs = run(build).need_weeks
    assert needs["saw"][0] < needs["rack"][0] < needs["primer"][0] < needs["unknown"][0]


def supplied(*events: object, lead: ThreePoint | None = None) -> Build:
    offer = Offer(id="o", supplier="s", part="rack", price=Money(amount=Decimal(10), currency="EUR"), lead_weeks=lead)
    return build_of(
        job("fit", 1, to_keep=("rack",)),
        suppliers=(Supplier(id="s", name="S", country="NL", currency="EUR"),),
        offers=(offer,),
        events=events,
    )


def order(promised: date | None = None) -> Order:
    return Order(
        id="ord",
        day=date(2026, 2, 16),
        supplier="s",
        lines=(OrderLine(offer="o", price=Money(amount=Decimal(10), currency="EUR")),),
        promised=promised,
    )


def rack_weeks(build: Build) -> tuple[np.ndarray, set[str]]:
    gates, assumptions = usual_gates(build, facts_of(build, AS_OF), runs=4000)
    return np.asarray(gates.parts["rack"]), {item.code for item in assumptions}


def test_missing_part_is_taken_as_ordered_today_and_its_lead_time_slips() -> None:
    weeks, codes = rack_weeks(supplied(lead=ThreePoint(low=5, likely=5, high=5)))
    assert float(np.median(weeks)) == pytest.approx(6.5, rel=0.03)
    assert "ordered-today" in codes
    assert "lead-time-default" not in codes
    assert "lead-time-default" in rack_weeks(supplied())[1]


def test_part_on_its_way_counts_from_the_order_and_never_lies_in_the_past() -> None:
    """Promised four weeks after the order of two weeks ago: 4 × 1.3 - 2 = 3.2 weeks at the median."""
    weeks, _ = rack_weeks(supplied(order(date(2026, 3, 16))))
    assert float(np.median(weeks)) == pytest.approx(3.2, rel=0.05)
    late, _ = rack_weeks(supplied(order(), lead=ThreePoint(low=0, likely=0, high=0)))
    assert late.max() == 0


def test_part_in_hand_has_no_gate_and_open_decisions_take_their_time_to_think() -> None:
    decision = Decision(id="d", name="D", options=(Option(id="o1", name="O"),), think_weeks=3)
    build = supplied(Receipt(id="r", day=AS_OF, lines=(PartCount(part="rack"),))).model_copy(
        update={"decisions": (decision,)}
    )
    gates, _ = usual_gates(build, facts_of(build, AS_OF), runs=10)
    assert gates.parts == {}
    assert gates.decisions == {"d": 3}
