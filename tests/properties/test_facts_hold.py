"""Facts come from what happened up to a day, in whatever order it was entered."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

from hypothesis import given
from hypothesis import strategies as st
from strategies import ANY_BUILD, builds, moments

from fishplate.build import Build, date_at, facts_of, week_of
from fishplate.build.events import StockTake
from fishplate.build.graph import carried_by, rests_on


@ANY_BUILD
@given(builds(most=4), moments)
def test_what_happens_later_does_not_count(build: Build, day: date) -> None:
    known = build.model_copy(update={"events": tuple(event for event in build.events if event.day <= day)})
    assert facts_of(build, day) == facts_of(known, day)


@ANY_BUILD
@given(builds(most=4), moments, st.randoms(use_true_random=False))
def test_events_may_be_entered_in_any_order(build: Build, day: date, random: Random) -> None:
    events = list(build.events)
    random.shuffle(events)
    assert facts_of(build.model_copy(update={"events": tuple(events)}), day) == facts_of(build, day)


@ANY_BUILD
@given(builds(most=4), moments)
def test_nothing_is_owned_owed_or_missing_below_zero(build: Build, day: date) -> None:
    facts = facts_of(build, day)
    assert all(count >= 0 for count in facts.owned.values())
    assert all(item.quantity > 0 for item in facts.incoming)
    for part in build.parts:
        coming = sum(item.quantity for item in facts.incoming if item.part == part.id)
        missing = facts.missing(build, part.id)
        assert missing >= 0
        assert missing + facts.owned.get(part.id, 0) + coming >= part.quantity * (1 - 1e-12)


@ANY_BUILD
@given(builds(most=4), moments)
def test_what_is_wanted_is_there_and_each_decision_has_a_choice(build: Build, day: date) -> None:
    facts = facts_of(build, day)
    assert facts.wanted_parts <= build.index["parts"].keys()
    assert facts.wanted_jobs <= build.index["jobs"].keys()
    assert facts.choices.keys() == build.index["decisions"].keys()
    assert all(choice.option in build.find("decisions", id_).options for id_, choice in facts.choices.items())


@ANY_BUILD
@given(builds(most=3))
def test_what_is_carried_is_what_rests_on_it_step_by_step(build: Build) -> None:
    """Reachability the other way round: a thing is carried if following what it rests on leads to the start."""
    edges = rests_on(build)

    def leads_to(thing: tuple[str, str], goal: tuple[str, str], seen: set[tuple[str, str]]) -> bool:
        for below in edges.get(thing, ()):
            if below == goal:
                return True
            if below not in seen:
                seen.add(below)
                if leads_to(below, goal, seen):
                    return True
        return False

    nodes = set(edges) | {below for needs in edges.values() for below in needs}
    for start in sorted(nodes)[:8]:
        assert carried_by(build, start) == {node for node in nodes - {start} if leads_to(node, start, set())}


@given(moments, st.integers(-20_000, 20_000))
def test_a_day_is_found_again_from_its_week(as_of: date, days: int) -> None:
    day = as_of + timedelta(days=days)
    assert date_at(as_of, week_of(as_of, day)) == day
    assert date_at(as_of, week_of(as_of, day) + 0.99 / 7) == day


@ANY_BUILD
@given(builds(most=4), moments)
def test_what_is_owned_lies_somewhere_or_is_fitted(build: Build, day: date) -> None:
    facts = facts_of(build, day)
    for part, lies in facts.lies.items():
        assert all(count > 0 for count in lies.places.values())
        assert lies.fitted >= 0
        assert facts.owned[part] == lies.lying + lies.fitted


@ANY_BUILD
@given(builds(most=4), moments, st.data())
def test_after_a_stock_take_of_everything_there_is_what_was_counted(
    build: Build, day: date, data: st.DataObject
) -> None:
    if not build.parts:
        return
    part = data.draw(st.sampled_from(build.parts)).id
    count = data.draw(st.integers(0, 50))
    take = StockTake(id="last-count", day=day, part=part, quantity=count)
    before, after = facts_of(build, day), facts_of(build.model_copy(update={"events": (*build.events, take)}), day)
    fitted = after.lies[part].fitted
    assert abs(after.owned[part] - count - fitted) < 1e-6
    assert {key: value for key, value in after.owned.items() if key != part} == {
        key: value for key, value in before.owned.items() if key != part
    }
    assert after.incoming == before.incoming
