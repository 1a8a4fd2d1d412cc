"""What is looked at after an edit finds a fault exactly where the check of the whole build does."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from strategies import builds

from fishplate.build import Build, check_build
from fishplate.build.document import LISTS, LISTS_WITH_IDS
from fishplate.build.edit_faults import edit_faults, is_sound_after
from fishplate.build.interfaces import Correlation
from fishplate.build.jobs import Link
from fishplate.starters import load_demo

ROOMY = settings(
    deadline=None,
    max_examples=200 if os.environ.get("FISHPLATE_EXPLORE") else 10,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example],
)


@st.composite
def edits(draw: st.DrawFn) -> tuple[Build, Build]:
    """A sound build, and the same with a few lists or nouns taken from another, left out, doubled or exchanged."""
    before, other = draw(builds(most=2)), draw(builds(most=2))
    lists: dict[str, tuple[Any, ...]] = {}
    for name in draw(st.lists(st.sampled_from(LISTS), min_size=1, max_size=3, unique=True)):
        held, theirs = getattr(before, name), getattr(other, name)
        match draw(st.sampled_from(("one out", "one more", "one for another", "theirs", "turned", "alike"))):
            case "one out":
                lists[name] = held[1:]
            case "one more":
                lists[name] = (*held, *theirs[:1])
            case "one for another":
                lists[name] = (*theirs[:1], *held[1:])
            case "theirs":
                lists[name] = theirs
            case "turned":
                lists[name] = held[::-1]
            case _:
                lists[name] = tuple(noun.model_copy() for noun in held)
    return before, before.model_copy(update=lists)


@given(edits())
@ROOMY
def test_an_edit_is_found_faulty_exactly_where_the_whole_build_is(edit: tuple[Build, Build]) -> None:
    before, after = edit
    assert not list(check_build(before))
    whole = list(check_build(after))
    event(f"faulty: {bool(whole)}")
    assert is_sound_after(before, after) is not bool(whole)
    assert list(edit_faults(before, after)) == whole


@given(edits())
@settings(ROOMY, max_examples=4)
def test_a_copy_finds_its_own_nouns_by_id(edit: tuple[Build, Build]) -> None:
    before, _ = edit
    assert before.index  # from here on copies remember it
    after = before.model_copy(update={name: getattr(edit[1], name) for name in LISTS})
    assert after.index == {name: {noun.id: noun for noun in getattr(after, name)} for name in LISTS_WITH_IDS}
    assert after == edit[1]
    assert before.index == {name: {noun.id: noun for noun in getattr(before, name)} for name in LISTS_WITH_IDS}


def changed(build: Build, list_name: str, id_: str, **fields: Any) -> Build:
    nouns = {noun.id: noun for noun in getattr(build, list_name)}
    nouns[id_] = nouns[id_].model_copy(update=fields)
    return build.model_copy(update={list_name: tuple(nouns.values())})


def a_circle_of_jobs(build: Build) -> Build:
    later = next(job for job in build.jobs if job.after)
    return changed(build, "jobs", later.after[0].job, after=(Link(job=later.id),))


def a_gate_that_closes_a_circle(build: Build) -> Build:
    gate = next(gate for gate in build.gates if gate.before)
    return changed(build, "gates", gate.id, after=(*gate.after, gate.before[0]))


def another_unit(build: Build) -> Build:
    measured = next(c for c in build.conditions if c.expression and c.at_least and "mm" in c.at_least)
    named = next(item for item in build.dimensions if item.id in (measured.expression or ""))
    return changed(build, "dimensions", named.id, unit="kg")


def an_order_turned_into_an_arrival(build: Build) -> Build:
    paid = next(item for item in build.events if item.kind == "paid" and item.order)
    arrived = next(item for item in build.events if item.kind == "arrived")
    events = [arrived.model_copy(update={"id": paid.order}) if e.id == paid.order else e for e in build.events]
    return build.model_copy(update={"events": tuple(events)})


def an_option_that_a_rule_names_taken_out(build: Build) -> Build:
    rule = build.rules[0]
    decision = next(d for d in build.decisions if any(option.id == rule.option for option in d.options))
    left = tuple(option for option in decision.options if option.id != rule.option)
    return changed(build, "decisions", decision.id, options=left)


def a_dimension_correlated_with_itself(build: Build) -> Build:
    one = build.dimensions[0].id
    return build.model_copy(update={"correlations": (Correlation(first=one, second=one, coefficient=0.5),)})


def a_dimension_named_as_a_function(build: Build) -> Build:
    new = build.dimensions[0].model_copy(update={"id": "max"})
    return build.model_copy(update={"dimensions": (*build.dimensions, new)})


@pytest.mark.parametrize(
    "edit",
    [
        a_circle_of_jobs,
        a_gate_that_closes_a_circle,
        another_unit,
        an_order_turned_into_an_arrival,
        an_option_that_a_rule_names_taken_out,
        a_dimension_correlated_with_itself,
        a_dimension_named_as_a_function,
    ],
)
def test_a_fault_between_nouns_that_are_far_apart_is_found(edit: Callable[[Build], Build]) -> None:
    before = load_demo()
    after = edit(before)
    problems = list(check_build(after))
    assert problems, "the edit was meant to be faulty"
    assert list(edit_faults(before, after)) == problems
