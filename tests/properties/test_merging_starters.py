"""A starter in a running build: nothing of the build is lost or stands there twice, a second time adds nothing."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache

import networkx as nx
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from strategies import builds

from fishplate.build import Build, Refused, build_from_data, check_build
from fishplate.build.decisions import Strength
from fishplate.build.document import LISTS, LISTS_WITH_IDS
from fishplate.build.events import Work
from fishplate.starters import Merge, Starter, load_demo, merge, starter, starters
from fishplate.starters.matching import MATCHED

EVERY = pytest.mark.parametrize("item", starters(), ids=lambda item: item.name)
BASES = {"nothing": Build(), "demo": load_demo()} | {item.name: item.build for item in starters()}
BASE = pytest.mark.parametrize("base", BASES)
UNHURRIED = settings(deadline=None, suppress_health_check=list(HealthCheck), phases=[Phase.explicit, Phase.generate])
NAMES = st.sampled_from([item.name for item in starters()])


@lru_cache(maxsize=64)
def _merged(base: str, name: str) -> Merge:
    return merge(BASES[base], starter(name))


def _everything_is_kept(before: Build, after: Build) -> None:
    for name in LISTS:
        for noun in getattr(before, name):
            if name == "jobs":
                kept = after.find("jobs", noun.id)
                assert kept.after[: len(noun.after)] == noun.after
                assert kept.model_copy(update={"after": noun.after}) == noun
            else:
                assert noun in getattr(after, name)


@BASE
@EVERY
def test_nothing_is_lost_and_a_second_time_adds_nothing(base: str, item: Starter) -> None:
    once = _merged(base, item.name)
    _everything_is_kept(BASES[base], once.build)
    assert not list(check_build(once.build))
    again = merge(once.build, item)
    assert again.build == once.build
    assert again.added == again.waiting == ()
    assert len(again.same) >= len(once.added)


@EVERY
def test_all_of_a_starter_comes_into_an_empty_build(item: Starter) -> None:
    done = merge(Build(), item)
    assert not done.same
    assert not done.left_out
    for name in LISTS_WITH_IDS:
        assert [noun.id for noun in getattr(done.build, name)] == [noun.id for noun in getattr(item.build, name)]
    assert (done.build.edges, done.build.rules) == (item.build.edges, item.build.rules)


@BASE
@EVERY
def test_what_is_added_and_what_is_the_same_are_told_apart_whole(base: str, item: Starter) -> None:
    done = _merged(base, item.name)
    told = Counter((each.list_name, each.id) for each in (*done.added, *done.same))
    assert max(told.values()) == 1
    for name in MATCHED:
        added = [each for each in done.added if each.list_name == name]
        assert len(getattr(done.build, name)) == len(getattr(BASES[base], name)) + len(added)
        assert all(each.own in done.build.index[name] for each in (*added,))
    assert all(each.own in BASES[base].index[each.list_name] for each in done.same)


def test_two_starters_share_what_most_rebuilds_do() -> None:
    first, second = starter("engine-swap"), starter("brakes-suspension-wheels")
    both = merge(merge(Build(), first).build, second).build
    names = Counter(job.name for job in both.jobs)
    assert max(names.values()) == 1
    assert max(Counter(system.name for system in both.systems).values()) == 1
    assert {link.job for link in both.find("jobs", "inspection").after} >= {"heat-run", "brakes-bedded"}


def test_the_van_s_own_words_are_understood() -> None:
    done = merge(load_demo(), starter("engine-swap"))
    own = {(each.list_name, each.id): each.own for each in done.same}
    assert own["jobs", "mounts-tacked"] == "mounts-tack"
    assert own["jobs", "inspection"] == "inspection-day"
    assert own["decisions", "exhaust-way"] == "exhaust-route"
    assert own["interfaces", "track-rod-sump"] == "sump-steering"
    assert own["systems", "cooling"] == own["systems", "fuel"] == "cooling-fuel"
    # the belts at the seats are no drive belts, though both are belts
    assert ("interfaces", "accessories-frame") not in own


def test_what_is_done_waits_for_nothing_new() -> None:
    done_jobs = {event.job for event in load_demo().events if isinstance(event, Work) and event.done}
    done = _merged("demo", "engine-swap").build
    for job in done_jobs:
        assert done.find("jobs", job).after == load_demo().find("jobs", job).after


@BASE
@EVERY
def test_no_circle_of_fixing_decisions_is_closed(base: str, item: Starter) -> None:
    merged = _merged(base, item.name).build
    fixes = nx.DiGraph((edge.source, edge.target) for edge in merged.edges if edge.strength is Strength.FIXES)
    assert nx.is_directed_acyclic_graph(fixes)


def test_what_the_owner_holds_apart_is_added_under_another_id_once() -> None:
    item = starter("engine-swap")
    apart = {("jobs", "mounts-tacked"), ("interfaces", "mounts-frame"), ("dimensions", "bump_travel_front")}
    once = merge(load_demo(), item, apart=apart)
    added = {(each.list_name, each.id): each.own for each in once.added}
    assert added["jobs", "mounts-tacked"] == "mounts-tacked"
    assert added["interfaces", "mounts-frame"] == "mounts-frame-2"
    assert {each.interface for each in once.build.conditions} >= {"mounts-frame", "mounts-frame-2"}
    _everything_is_kept(load_demo(), once.build)
    assert merge(once.build, item, apart=apart).build == once.build
    assert merge(once.build, item).build == once.build


def test_what_has_the_same_name_is_the_same_whatever_is_said() -> None:
    done = merge(load_demo(), starter("engine-swap"), apart={("decisions", "power-unit")})
    assert ("decisions", "power-unit") in {(each.list_name, each.id) for each in done.same}


def test_a_dimension_of_the_same_id_and_another_kind_is_called_otherwise_in_arithmetic() -> None:
    own = build_from_data({"dimensions": [{"id": "caliper_reach", "name": "Reach", "unit": "kg"}]})
    done = merge(own, starter("brakes-suspension-wheels")).build
    assert done.find("dimensions", "caliper_reach").unit == "kg"
    assert done.find("dimensions", "caliper_reach_2").unit == "mm"
    condition = next(each for each in done.conditions if each.id == "caliper-in-barrel")
    assert "caliper_reach_2" in condition.names


def test_an_option_the_build_decides_without_is_left_out_and_said() -> None:
    done = merge(load_demo(), starter("brakes-suspension-wheels"))
    assert any("Arch lips rolled" in line for line in done.left_out)
    assert "lips-rolled" not in done.build.index["jobs"]
    assert done.build.find("decisions", "arch-work") == load_demo().find("decisions", "arch-work")


@settings(UNHURRIED, max_examples=12)
@given(builds(), NAMES, st.data())
def test_any_build_takes_a_starter_once(build: Build, name: str, data: st.DataObject) -> None:
    item = starter(name)
    everything = [(list_name, noun.id) for list_name in MATCHED for noun in getattr(item.build, list_name)]
    apart = frozenset(data.draw(st.lists(st.sampled_from(everything), max_size=5), label="held apart"))
    try:
        once = merge(build, item, apart=apart)
    except Refused:
        assert list(check_build(build))  # only a build that is at fault itself is refused
        return
    _everything_is_kept(build, once.build)
    assert merge(once.build, item, apart=apart).build == once.build


@settings(UNHURRIED, max_examples=6)
@given(st.lists(NAMES, min_size=2, max_size=4), st.sampled_from(["nothing", "demo"]))
def test_starters_may_come_in_any_order_and_again(order: list[str], base: str) -> None:
    build = BASES[base]
    for name in order:
        build = merge(build, starter(name)).build
    again = build
    for name in order:
        again = merge(again, starter(name)).build
    assert not list(check_build(again))
    assert {name: len(getattr(again, name)) for name in LISTS} == {name: len(getattr(build, name)) for name in LISTS}
