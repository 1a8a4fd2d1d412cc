"""Why this one, and many futures: asked for on the page, worked out beside it."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import AUTHOR

from fishplate.build import facts_of
from fishplate.plan import Plan
from fishplate.plan.stress import RuleResult, Stress, WorldResult
from fishplate.plan.why import Answer, Why
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.store.plans import EARLIER_WEEK, PLAN, dump_plan, earlier_plans, keep_plan, load_plan
from fishplate.web import stress as stress_room
from fishplate.web import why as why_room
from fishplate.web.beside import Answered, Asked, Beside
from fishplate.web.desk import View
from fishplate.web.worker import Errand, Progress


class Slow:
    """A runner that answers when it is told to."""

    def __init__(self) -> None:
        self.errands: list[Errand] = []
        self.finish: Any = None
        self.now = Progress()

    def start(self, errand: Errand, finished: Any) -> None:
        self.errands.append(errand)
        self.finish, self.now = finished, Progress(True, "prices", 0.4)

    def progress(self) -> Progress:
        return self.now

    def stop(self) -> None:
        self.now = Progress(said="The plan was stopped; the last one stands.")

    def close(self) -> None:
        self.now = Progress()


def view(plan: Plan | None = None) -> View:
    build, day = load_demo(), demo_as_of()
    return View(build, facts_of(build, day), 1, day, plan)


def asked(question: str) -> Asked:
    return Asked(1, demo_as_of(), question)


def test_a_question_is_worked_out_once_and_its_answer_kept(tmp_path: Path) -> None:
    runner = Slow()
    beside = Beside(lambda: runner)
    errand = Errand(tmp_path, demo_as_of())
    assert beside.of(asked("a")) is None
    beside.start(asked("a"), errand)
    beside.start(asked("a"), errand)
    assert len(runner.errands) == 1
    found = beside.of(asked("a"))
    assert found is not None
    assert (found.content, found.progress.share) == (None, 0.4)
    runner.finish(b"answer")
    runner.now = Progress()
    beside.start(asked("b"), errand)
    kept = beside.of(asked("a"))
    assert kept is not None
    assert kept.content == b"answer"
    beside.stop()
    assert beside.of(asked("b")) is None
    beside.close()


def test_the_page_of_a_part_says_what_another_way_costs() -> None:
    part = load_demo().parts[0]
    answer = Answer("from another seller", 12.0, 10.0, 14.0, (), (), (), "From another seller, at best …: 12 EUR more.")
    found = Why(part.id, part.name, "EUR", f"{part.name} is bought from North.", (answer,))
    content = why_room._adapter().dump_json(found)
    page = why_room.why_page(view(), part.id, Answered(content, Progress()))
    assert (page.state, page.bought, page.answers) == ("known", found.bought, (answer.text,))
    assert why_room.why_page(view(), part.id, None).state == "not asked for"
    assert why_room.why_page(view(), part.id, Answered(None, Progress(True, "prices", 0.4))).state == "working"
    assert why_room.why_page(view(), part.id, Answered(None, Progress(said="stopped"))).state == "failed"


def test_where_a_plain_rule_is_better_the_page_says_so_first() -> None:
    worse = RuleResult("all now", 120.0, 140.0, 20.0, 15.0, 25.0)
    better = RuleResult("first sale", 90.0, 110.0, -10.0, -14.0, -6.0)
    world = WorldResult("own", "as the outlook has it", 100.0, 130.0, 5.0, 5.0, 9.0, 9.0, 20, (worse, better))
    found = Stress(date(2026, 11, 16), "EUR", 200, (world,), (), ("A note.",))
    page = stress_room.stress_page(Answered(stress_room._adapter().dump_json(found), Progress()))
    assert len(page.better) == 1
    assert "first sale" in page.better[0]
    assert "10 EUR less (95 % interval -14 to -6)" in page.better[0]
    assert [rule.wins for rule in page.worlds[0].rules] == [False, True]


def test_what_hindsight_and_the_purse_say_is_shown(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    spending = RuleResult("all now", 120.0, 140.0, 20.0, 15.0, 25.0, 300.0)
    known = WorldResult("own", "as the outlook has it", 100.0, 130.0, 5.0, 5.0, 9.0, 9.0, 20, (spending,))
    between = WorldResult("slow", "deliveries take longer", 100.0, 130.0, 5.0, 25.0, 9.0, 39.0, 8, ())
    found = Stress(date(2026, 11, 16), "EUR", 200, (known, between), (), ())
    answered = Answered(stress_room._adapter().dump_json(found), Progress())
    monkeypatch.setattr(Beside, "of", lambda *_: answered)
    text = client.get("/buying/stress").text
    assert "Knowing everything beforehand would have saved 5 EUR on average" in text
    assert "between 5 and 25 EUR on average" in text
    assert "It takes up to 300 EUR more than you have by then" in text


@pytest.mark.parametrize("path", ["/buying/stress", "/buying/why/{part}"])
def test_the_pages_are_there_before_anything_was_asked(client: TestClient, demo_plan: Plan, path: str) -> None:
    offers = (load_demo().find("offers", line.offer) for line in demo_plan.purchase.lines)
    part = next(offer.part for offer in offers if offer.part)
    answer = client.get(path.format(part=part))
    assert answer.status_code == 200
    assert "button" in answer.text


def test_an_unknown_part_is_not_found(client: TestClient) -> None:
    assert client.get("/buying/why/nothing-such").status_code == 404


def test_the_last_plan_of_an_earlier_week_is_kept_beside_the_newest(tmp_path: Path, demo_plan: Plan) -> None:
    file = BuildFile.create(tmp_path / "demo.fishplate", load_demo(), author=AUTHOR, message="started")
    assert earlier_plans(file) is None
    keep_plan(file, dump_plan(demo_plan))
    again = replace(demo_plan, seed=2)
    keep_plan(file, dump_plan(again))
    assert file.memo_get(EARLIER_WEEK) is None, "of the same week"
    later = replace(demo_plan, as_of=date(2026, 11, 24))
    keep_plan(file, dump_plan(later))
    before, last = load_plan(file.memo_get(EARLIER_WEEK)), load_plan(file.memo_get(PLAN))
    assert (before, last) == (again, later)
    found = earlier_plans(file)
    assert found is not None
    assert (found.last, found.before) == (later, again)


@pytest.mark.long
def test_why_is_worked_out_in_a_process_of_its_own(tmp_path: Path, demo_plan: Plan) -> None:
    path = tmp_path / "demo.fishplate"
    keep_plan(BuildFile.create(path, load_demo(), author=AUTHOR, message="started"), dump_plan(demo_plan))
    offer = load_demo().find("offers", demo_plan.purchase.lines[0].offer)
    part = offer.part or load_demo().find("kits", offer.kit or "").contents[0].part
    beside = Beside()
    try:
        beside.start(asked("why"), why_room.WhyErrand(path, demo_as_of(), part=part))
        for _ in range(3000):
            found = beside.of(asked("why"))
            if found is not None and (found.content is not None or found.progress.said):
                break
            time.sleep(0.1)
        assert found is not None
        assert found.content is not None, found.progress.said
        page = why_room.why_page(view(demo_plan), part, found)
        assert "is bought from" in page.bought
        assert len(page.answers) == 4
    finally:
        beside.close()
