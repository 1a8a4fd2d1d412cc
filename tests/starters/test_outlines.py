"""Every starter hangs together: jobs, decisions, places and hazards, in words of its own."""

from __future__ import annotations

import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path

import networkx as nx
import pytest

from fishplate.build import Build, Rates, Refused, check_build, facts_of
from fishplate.build.cautions import hazard_lines
from fishplate.build.decisions import Strength
from fishplate.decide import order_decisions
from fishplate.decide.weighing import weigh
from fishplate.landed import load_rules
from fishplate.plan import Situation, plan
from fishplate.starters import Starter, load_demo, merge, outlines, starter, starters
from fishplate.starters.outlines import NAMES
from fishplate.work.pattern import pattern_faults

DAY = date(2026, 3, 2)
EVERY = pytest.mark.parametrize("item", starters(), ids=lambda item: item.name)
# Hands-on hours of such a rebuild, likely values added up: common practice, by how much of the vehicle it touches.
LIKELY_HOURS = {
    "engine-swap": (400, 800), "electric-conversion": (450, 750), "off-road-axles": (350, 600),
    "brakes-suspension-wheels": (140, 280), "body-and-paint": (600, 1100),
}  # fmt: skip
OUTLINES = Path(outlines.__file__).parent / "outlines"
TRADE = Path(__file__).parents[2].parent / "shared" / "trade"


def _order(build: Build) -> nx.DiGraph:
    """Jobs in order, gates among them."""
    graph = nx.DiGraph()
    graph.add_nodes_from(job.id for job in build.jobs)
    graph.add_edges_from((link.job, job.id) for job in build.jobs for link in job.after)
    for gate in build.gates:
        graph.add_edges_from((job, f"gate {gate.id}") for job in gate.after)
        graph.add_edges_from((f"gate {gate.id}", job) for job in gate.before)
    return graph


@EVERY
def test_a_starter_is_whole_and_holds_no_price_size_or_date(item: Starter) -> None:
    build = item.build
    assert not list(check_build(build))
    assert not build.offers
    assert not build.suppliers
    assert not build.readings
    assert not build.events
    assert not any(job.cost for job in build.jobs)
    assert item.title == build.name
    assert item.about


@EVERY
def test_no_job_is_an_orphan(item: Starter) -> None:
    graph = _order(item.build)
    assert [node for node in graph if not graph.in_degree(node)] == ["brief"]
    assert {*nx.ancestors(graph, "snag-list"), "snag-list"} == set(graph)


@EVERY
def test_every_part_is_tried_or_kept_by_a_job(item: Starter) -> None:
    named = {part for job in item.build.jobs for part in (*job.to_try, *job.to_keep)}
    assert {part.id for part in item.build.parts} == named


@EVERY
def test_each_decision_is_frozen_by_a_job_and_has_a_leading_option(item: Starter) -> None:
    for decision in item.build.decisions:
        assert decision.freeze_by is not None, decision.id
        assert len(decision.options) >= 2, decision.id
        assert decision.leading is not None, decision.id
        assert decision.late_hours is not None, decision.id


@EVERY
def test_decisions_have_an_order_and_no_large_knot(item: Starter) -> None:
    build = item.build
    fixes = nx.DiGraph((edge.source, edge.target) for edge in build.edges if edge.strength is Strength.FIXES)
    assert nx.is_directed_acyclic_graph(fixes)
    report = order_decisions(build, facts_of(build, DAY), start_weeks={}, order_by_weeks={})
    assert len(report.decisions) == len(build.decisions)
    assert max(map(len, report.blocks), default=1) <= 6


@EVERY
def test_each_decision_says_what_matters_in_it_and_how_good_each_option_is(item: Starter) -> None:
    build = item.build
    for decision in build.decisions:
        matters = [swing.criterion for swing in decision.swings]
        assert len(matters) >= 2, decision.id
        for option in decision.options:
            assert [score.criterion for score in option.scores] == matters, option.id
            for score in option.scores:
                assert 0 <= score.points.low < score.points.high <= 100, option.id
                assert "common practice" in score.note or "from memory" in score.note
    assert {criterion.id for criterion in build.criteria} == {
        swing.criterion for decision in build.decisions for swing in decision.swings
    }


@EVERY
def test_every_option_brings_something_or_says_what_it_commits_to(item: Starter) -> None:
    notes = []
    for decision in item.build.decisions:
        for option in decision.options:
            brings = (*option.parts, *option.jobs, *option.dimensions)
            assert brings or option.note.removesuffix("Common practice.").strip(), option.id
            assert not option.note or option.note.endswith(". Common practice."), option.id
            notes += [option.note] if option.note else []
    assert len(set(notes)) == len(notes)  # each says its own


@pytest.mark.parametrize("name", ["common", *NAMES])
def test_what_is_said_of_an_option_is_said_of_one_there_is(name: str) -> None:
    text = tomllib.loads((OUTLINES / f"{name}.toml").read_text("utf-8"))
    assert set(text["commits"]) <= {option["id"] for item in text["decisions"] for option in item["options"]}


@EVERY
def test_no_option_of_a_starter_is_surely_beaten_by_another(item: Starter) -> None:
    for decision in item.build.decisions:
        found = weigh(item.build, decision, {}, draws=256)
        assert not any(option.surely for option in found.options), decision.id


@pytest.mark.parametrize("base", ["nothing", pytest.param("demo", marks=pytest.mark.long)])
@pytest.mark.parametrize("first", NAMES)
def test_any_two_starters_leave_no_large_knot_and_each_knot_its_first_assumption(base: str, first: str) -> None:
    once = merge(load_demo() if base == "demo" else Build(), starter(first)).build
    for build in (once, *(merge(once, starter(name)).build for name in NAMES if name > first)):
        report = order_decisions(build, facts_of(build, DAY), start_weeks={}, order_by_weeks={})
        assert max(map(len, report.blocks), default=0) <= 6
        said = {item.about: item.text for item in report.assumptions if item.code == "decision-loop"}
        for block in report.blocks:
            torn = next(tear.source for tear in report.tears if tear.source in block)
            beginning = said[f"decision {block[0]}"].partition("beginning with ")[2]
            assert f"for “{build.find('decisions', torn).name}”" in beginning


@EVERY
def test_what_a_decision_fixes_is_not_frozen_before_it(item: Starter) -> None:
    graph, build = _order(item.build), item.build
    for edge in build.edges:
        if edge.strength is Strength.FIXES:
            first, then = (build.find("decisions", end).freeze_by for end in (edge.source, edge.target))
            assert first == then or not nx.has_path(graph, then, first), (edge.source, edge.target)


@EVERY
def test_places_are_settled_before_they_are_closed_and_by_a_job_that_sees_them(item: Starter) -> None:
    graph, build = _order(item.build), item.build
    settling = {place: job.id for job in build.jobs for place in job.settles}
    for place in build.interfaces:
        assert place.settle_by is not None, place.id
        assert place.id in settling, place.id
        assert settling[place.id] == place.settle_by or nx.has_path(graph, settling[place.id], place.settle_by), (
            place.id
        )
        if place.closed_by is not None:
            assert place.settle_by == place.closed_by or nx.has_path(graph, place.settle_by, place.closed_by), place.id
        assert any(condition.interface == place.id for condition in build.conditions), place.id


@EVERY
def test_hours_are_of_the_size_of_such_a_rebuild(item: Starter) -> None:
    low, high = LIKELY_HOURS[item.name]
    assert low <= sum(job.hours.likely for job in item.build.jobs) <= high
    for job in item.build.jobs:
        assert 1.2 <= job.hours.high / job.hours.low <= 16, job.id


@EVERY
def test_a_part_that_is_worked_on_is_not_fitted_before_nor_tried_after(item: Starter) -> None:
    assert not pattern_faults(item.build)


def test_starters_say_what_goes_on_beside_what_and_what_is_sent_away() -> None:
    jobs = [job for item in starters() for job in item.build.jobs]
    assert {link.job for job in jobs for link in job.after if link.kind == "start-start"} >= {
        "brakes-filled", "unit-in", "engine-out", "axles-under",
    }  # fmt: skip
    assert {part for job in jobs for part in job.works_on} >= {"bright-parts", "hinge-pins", "mount-plate"}
    assert all(job.workshop for job in jobs if job.works_on)


def test_a_job_of_the_build_waits_for_a_new_one_as_the_starter_has_it() -> None:
    name = "brakes-suspension-wheels"
    build = starter(name).build
    own = build.find("jobs", "brakes-bled").model_copy(update={"after": ()})
    merged = merge(Build(systems=build.systems, jobs=(own,), parts=build.parts), starter(name)).build
    waits = {link.job: link.kind for link in merged.find("jobs", "brakes-bled").after}
    assert waits == {"brakes-filled": "start-start"}


@EVERY
def test_what_can_hurt_carries_its_caution(item: Starter) -> None:
    build = item.build
    for noun in (*build.jobs, *build.systems, *build.interfaces):
        assert len(hazard_lines(noun.hazards)) == len(set(noun.hazards))
    for job in build.jobs:
        for tool, hazard in (("welder", "welding"), ("hoist", "lifting"), ("jack", "lifting")):
            assert tool not in job.tools or hazard in job.hazards, job.id
        assert "spring compressor" not in job.tools or "suspension" in job.hazards, job.id
        ordering = job.name.startswith("Order") or job.id.startswith(("hub-", "heat-run"))
        if job.system == "brakes" and not ordering:
            assert "brakes" in job.hazards, job.id
        if {"battery-modules", "hv-cable", "bus-bars", "service-break"} & {*job.to_try, *job.to_keep}:
            assert "high-voltage" in job.hazards, job.id


@EVERY
def test_ordering_is_a_job_apart_from_measuring_and_fitting(item: Starter) -> None:
    orders = [job for job in item.build.jobs if job.name.startswith("Order")]
    assert orders
    for job in orders:
        assert not job.settles
        assert not job.to_keep
        assert job.hours.high <= 20


@EVERY
def test_each_requirement_can_still_be_seen_when_its_job_is_done(item: Starter) -> None:
    graph, build = _order(item.build), item.build
    for requirement in build.requirements:
        assert requirement.jobs, requirement.id
        for job in requirement.jobs if requirement.visible_until else ():
            until = requirement.visible_until
            assert job == until or nx.has_path(graph, job, until), (requirement.id, job)


@EVERY
def test_a_starter_plans_by_itself(item: Starter) -> None:
    rates = Rates(base="EUR", per_base={"GBP": Decimal("0.85")}, day=DAY, source="round figure")
    facts, rules = facts_of(item.build, DAY), load_rules(item.build.owner.country)
    result = plan(Situation(item.build, facts, DAY, 1, rules, rates, runs=100, waiting_runs=40))
    assert result.finish is not None
    assert result.actions


def test_a_starter_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(Refused, match="no such starter") as refusal:
        starter("boat")
    assert "engine-swap" in refusal.value.problems[0].do


@pytest.mark.skipif(not TRADE.exists(), reason="LOUD: the trade's estimates are not beside the repository")
@EVERY
def test_names_are_our_own(item: Starter) -> None:
    networks = tomllib.loads((TRADE / "networks.toml").read_text("utf-8"))["network"]
    decisions = tomllib.loads((TRADE / "decisions.toml").read_text("utf-8"))["decision"]
    theirs = {task["name"].casefold() for network in networks for task in network["task"]}
    theirs |= {decision["title"].casefold() for decision in decisions}
    theirs |= {decision["late_change"].casefold() for decision in decisions}
    own = [*item.build.jobs, *item.build.decisions]
    assert not theirs & {text.casefold() for noun in own for text in (noun.name, noun.note)}
