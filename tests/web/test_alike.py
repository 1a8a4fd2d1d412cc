"""What is worked out beside the pages is worked out again only where a change bears on it, and never kept wrongly."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from serving import desk_of

from fishplate.build import Build, facts_of
from fishplate.build.commerce import Sighting
from fishplate.build.events import Receipt, Work
from fishplate.decide import order_decisions
from fishplate.fit import assess
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.alike import ASIDE, alike
from fishplate.web.desk import View
from fishplate.web.kept import Kept

DAY = demo_as_of()
DEMO = load_demo()
LONG = 20.0


def view(build: Build, revision: int = 1) -> View:
    return View(build, facts_of(build, DAY), revision, DAY, None)


def with_event(**fields: object) -> Build:
    job = next(job for job in DEMO.jobs if not facts_of(DEMO, DAY).is_done(job.id))
    event = Work.model_validate({"id": "new", "job": job.id, "day": DAY, "hours": 1, **fields})
    return DEMO.model_copy(update={"events": (*DEMO.events, event)})


@pytest.mark.parametrize("name", sorted(ASIDE))
def test_the_engines_do_not_read_what_is_left_aside(name: str) -> None:
    orders = tuple(event for event in DEMO.events if event.kind == "ordered")  # what is coming is in the facts as well
    facts = facts_of(DEMO, DAY)
    without = DEMO.model_copy(update={name: orders if name == "events" else ()})
    assert repr(assess(without, facts)) == repr(assess(DEMO, facts))
    assert order_decisions(without, facts, start_weeks={}, order_by_weeks={}) == order_decisions(
        DEMO, facts, start_weeks={}, order_by_weeks={}
    )


def test_hours_and_prices_seen_leave_verdicts_and_order_alone() -> None:
    offer = DEMO.offers[0]
    seen = DEMO.model_copy(
        update={"sightings": (*DEMO.sightings, Sighting(offer=offer.id, day=DAY, price=offer.price))}
    )
    assert alike(view(DEMO), view(with_event(), 2))
    assert alike(view(DEMO), view(seen, 2))


def test_what_bears_on_them_does_not() -> None:
    part, decision = DEMO.parts[0], DEMO.decisions[0]
    arrived = Receipt.model_validate({"id": "new", "day": DAY, "lines": [{"part": part.id}]})
    turned = decision.model_copy(update={"leading": decision.options[-1].id, "chosen": None, "chosen_on": None})
    others = (
        with_event(done=True),
        DEMO.model_copy(update={"events": (*DEMO.events, arrived)}),
        DEMO.model_copy(update={"decisions": (turned, *DEMO.decisions[1:])}),
        DEMO.model_copy(update={"readings": DEMO.readings[1:]}),
        DEMO.model_copy(update={"owner": DEMO.owner.model_copy(update={"hour_worth": 99.0})}),
    )
    for build in others:
        assert not alike(view(DEMO), view(build, 2))
    later = DAY + timedelta(days=1)
    assert not alike(view(DEMO), View(DEMO, facts_of(DEMO, later), 1, later, None))


def test_a_result_stands_for_a_change_that_leaves_it_alone() -> None:
    seen: list[int] = []

    def work(shown: View) -> int:
        seen.append(shown.revision)
        return shown.revision

    kept = Kept(work, alike)
    other = view(DEMO.model_copy(update={"readings": DEMO.readings[1:]}), 3)
    assert kept.of(view(DEMO), patience_seconds=LONG).value == 1
    standing = kept.of(view(with_event(), 2), patience_seconds=0)
    assert (standing.value, standing.current) == (1, True)
    assert kept.of(other, patience_seconds=LONG).value == 3
    assert kept.of(replace(other, revision=4), patience_seconds=0).current
    assert seen == [1, 3]


def test_what_is_made_of_a_view_is_made_once() -> None:
    seen: list[View] = []

    def count(shown: View) -> int:
        seen.append(shown)
        return len(shown.build.parts)

    shown = view(DEMO)
    assert shown.once(count) == shown.once(count) == len(DEMO.parts)
    other = replace(shown, revision=2)
    assert other.once(count) == len(DEMO.parts)
    assert seen == [shown, other]
    assert seen[1] is other


def test_a_page_does_not_wait_for_those_who_write(client: TestClient) -> None:
    desk = desk_of(client)
    known, found = desk.view(), []
    with desk._lock:  # as a write holds it
        asking = threading.Thread(target=lambda: found.append(desk.view()), daemon=True)
        asking.start()
        asking.join(20)
    assert found == [known]
