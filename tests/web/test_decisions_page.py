"""Decisions: their order, what each option brings, what a choice changes before it is made."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import IdleRunner, desk_of, worked_out

from fishplate.build import Build, facts_of
from fishplate.decide import DecisionReport, order_decisions
from fishplate.plan import Plan, plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.store.plans import dump_plan
from fishplate.web.consequences import Turn, consequences, leaning, opened, turned
from fishplate.web.deciding import Known, decision_page, decisions_page, hangs_words
from fishplate.web.decisions import plans_of
from fishplate.web.desk import View, decision_order
from fishplate.web.kept import Kept, Standing
from fishplate.web.side_by_side import side_by_side
from fishplate.web.trials import Trial, TrialKey, Trials
from fishplate.web.weighing import part_brought, ways
from fishplate.web.words import day, waiting
from fishplate.web.worker import Progress
from fishplate.wiring import situation

DAY = demo_as_of()
HEATER = "/decisions/heating/options/heating-combi"


def view_of(build: Build, plan: Plan | None = None) -> View:
    return View(build, facts_of(build, DAY), 1, DAY, plan)


def report_of(view: View) -> Any:
    return order_decisions(view.build, view.facts, start_weeks={}, order_by_weeks={})


def turn_of(view: View, decision: str, option: str | None) -> Turn:
    noun = view.build.find("decisions", decision)
    return Turn(noun, None if option is None else noun.option(option))


def changes_of(view: View, decision: str, option: str | None) -> Any:
    return consequences(view, turn_of(view, decision, option))


@pytest.fixture
def view(demo_plan: Plan) -> View:
    return view_of(load_demo(), demo_plan)


# in which order


def test_open_decisions_come_by_the_plans_day_and_never_before_what_bears_on_them(view: View) -> None:
    page = decisions_page(view, report_of(view))
    place = {item.id: number for number, item in enumerate(page.open)}
    assert set(place) == {id_ for id_, choice in view.facts.choices.items() if not choice.decided}
    by = {action.key: action.by for action in view.plan.actions} if view.plan else {}
    days = [by[item.id] for item in page.open]
    assert days == sorted(days)
    torn = {(tear.source, tear.target) for tear in report_of(view).tears}
    for edge in view.build.edges:
        binds = edge.strength != "nudges" and (edge.source, edge.target) not in torn
        if binds and {edge.source, edge.target} <= place.keys():
            assert place[edge.source] < place[edge.target], edge


def test_the_cost_of_waiting_and_the_day_are_the_plans(view: View) -> None:
    page = decisions_page(view, report_of(view))
    assert view.plan is not None
    actions = {action.key: action for action in view.plan.actions if action.kind == "decide"}
    for item in page.open:
        assert item.cost == waiting(actions[item.id])
        assert item.by.startswith("Today" if actions[item.id].by <= DAY else f"By {day(actions[item.id].by)}")
    tyre = next(item for item in page.open if item.id == "tyre-size")
    assert "1 order hang on it" in tyre.hangs


def test_without_a_plan_what_bears_on_what_sets_the_order() -> None:
    view = view_of(load_demo())
    page = decisions_page(view, report_of(view))
    assert [item.id for item in page.open] == [d.decision for d in report_of(view).decisions if not d.decided]
    assert {item.cost for item in page.open} == {""}


def test_a_loop_is_named(view: View) -> None:
    (loop,) = decisions_page(view, report_of(view)).loops
    assert "form a loop: settle them as a group" in loop


def test_what_was_decided_keeps_its_reason_the_last_first(view: View) -> None:
    decided = decisions_page(view, report_of(view)).decided
    assert decided[0].id == "roof-form"
    assert decided[0].why == "Standing height without canvas; one opening less to seal."


# what each option brings


def page_of(view: View, id_: str) -> Any:
    standing: Standing[Any] = Standing(None, current=False)
    known = Known(report_of(view), standing, standing, standing)
    return decision_page(view, view.build.find("decisions", id_), situation(view.build, DAY), known)


def test_the_planned_option_costs_what_the_plan_pays_at_the_door(view: View) -> None:
    assert view.plan is not None
    way = next(way for way in page_of(view, "tyre-size").ways if way.id == "tyres-215")
    planned = sum(line.landed for line in view.plan.purchase.lines if "tyre-215" in line.offer)
    assert way.role == "leaned to"
    assert way.parts[0].money == pytest.approx(planned)
    assert way.parts[0].whence == "at the door, as planned"


def test_another_option_costs_its_cheapest_way_home_alone(view: View) -> None:
    way = next(way for way in page_of(view, "heating").ways if way.id == "heating-combi")
    (offer,) = [offer for offer in view.build.offers if offer.part == "heater-combi"]
    assert way.parts[0].money is not None
    assert way.parts[0].money >= float(offer.price.amount)
    assert "if bought alone" in way.parts[0].whence


def test_what_is_in_hand_or_on_its_way_costs_nothing_more(view: View) -> None:
    study = situation(view.build, DAY)
    assert part_brought(view, "rear-beam", study).figure == "in hand"
    assert part_brought(view, "rear-spring", study).figure == "on its way"


def test_a_part_nobody_offers_has_no_price(view: View) -> None:
    build = view.build.model_copy(update={"offers": (), "events": ()})
    alone = view_of(build)
    brought = part_brought(alone, "tyre-215", situation(build, DAY))
    assert (brought.figure, brought.money) == ("no price known", None)
    way = next(iter(ways(alone, build.find("decisions", "tyre-size"), situation(build, DAY))))
    assert "no price is known for 1 of its parts" in way.total


def test_jobs_come_with_their_hours(view: View) -> None:
    way = next(way for way in page_of(view, "arch-work").ways if way.id == "arches-widened")
    job = view.build.find("jobs", "arch-widen")
    assert way.jobs[0].hours == pytest.approx(job.hours.likely)
    assert "own work" in way.total


def test_what_an_option_can_t_go_with_is_said(view: View) -> None:
    stock = next(way for way in page_of(view, "wheels").ways if way.id == "wheels-stock")
    assert stock.clashes == (
        "It does not go with “215/75 R 16 C”, which the plan goes by. "
        "A 6 in rim is the narrowest for it; the maker says no under load.",
    )


# what a choice changes


def test_the_option_planned_with_lets_nothing_come_loose_and_lets_orders_go(view: View) -> None:
    changes = changes_of(view, "tyre-size", "tyres-215")
    assert changes.lead == "The plan goes by “215/75 R 16 C” already: nothing comes loose."
    assert changes.loose == ()
    result = next(item for item in report_of(view).decisions if item.decision == "tyre-size")
    opens = {item.title: item.things for item in opened(view, turn_of(view, "tyre-size", "tyres-215"), result)}
    assert "Steel wheel 16 x 6.5, made to our offset" in opens["Orders that no longer wait for it"]
    assert opens["Jobs that no longer wait for it"]


def test_changing_what_was_decided_says_parts_with_money_and_day_hours_readings_and_orders(view: View) -> None:
    changes = changes_of(view, "rear-axle", "axle-original")
    loose = {item.title: item.things for item in changes.loose}
    assert any("returnable until 11 December 2026" in text for text in loose["Parts that may no longer fit"])
    assert any("7 h to be done again" in text for text in loose["Work"])
    assert "Wheelbase" in loose["Dimensions to take again"]
    # the wheels wait for open decisions anyway
    assert loose["Orders held again"] == ("Handbrake cables, pair, made to length",)
    assert changes.figures[0].startswith("Money lost: about ")
    assert changes.figures[1].startswith("Work to do again: about ")
    assert changes.cautions


def test_what_waits_for_an_open_decision_is_not_said_to_be_held_again(view: View) -> None:
    changes = changes_of(view, "tyre-size", "tyres-205")
    assert "Orders held again" not in [item.title for item in changes.loose]


def test_a_turn_keeps_the_reason_and_the_day_and_opening_again_leans_to_what_was_chosen(view: View) -> None:
    taken = turned(view.build, turn_of(view, "heating", "heating-combi"), date(2026, 11, 10), "Hot water in March.")
    decision = taken.find("decisions", "heating")
    assert (decision.chosen, decision.chosen_on, decision.why) == (
        "heating-combi", date(2026, 11, 10), "Hot water in March.",
    )  # fmt: skip
    again = turned(taken, turn_of(view_of(taken), "heating", None), DAY)
    decision = again.find("decisions", "heating")
    assert (decision.chosen, decision.chosen_on, decision.leading) == (None, None, "heating-combi")
    assert decision.why == "Hot water in March."


def test_leaning_changes_what_is_planned_with_and_decides_nothing(view: View) -> None:
    turn = turn_of(view, "heating", "heating-combi")
    assert turn.option is not None
    choice = facts_of(leaning(view.build, turn.decision, turn.option), DAY).choices["heating"]
    assert (choice.option.id, choice.decided) == ("heating-combi", False)


# two plans


@pytest.fixture(scope="module")
def other_plan(demo_plan: Plan) -> Plan:
    """The plan with the smaller tyre decided."""
    build = load_demo()
    turn = turn_of(view_of(build), "tyre-size", "tyres-205")
    return plan(situation(turned(build, turn, DAY), DAY))


def test_two_plans_side_by_side_say_finish_money_and_verdicts(demo_plan: Plan, other_plan: Plan) -> None:
    both = side_by_side(load_demo(), demo_plan, other_plan)
    rows = {row.label: row for row in both.rows}
    money = rows["Still to be bought, at the door"]
    assert money.before == f"{demo_plan.purchase.total:,.0f} EUR"
    assert money.after == f"{other_plan.purchase.total:,.0f} EUR"
    assert "Even chance of being finished by" in rows
    assert [item.name for item in both.verdicts if "205" in item.name]
    assert all("215" in name for name in both.gone)
    assert any("205/75" in part for part in both.added)
    assert not set(both.added) & set(both.dropped)


def test_a_plan_beside_itself_differs_in_nothing(demo_plan: Plan) -> None:
    both = side_by_side(load_demo(), demo_plan, demo_plan)
    assert {row.change for row in both.rows} == {"the same"}
    assert (both.verdicts, both.gone, both.moved, both.added, both.dropped, both.elsewhere) == ((), (), (), (), (), ())


def test_how_far_two_plans_are_is_told(view: View, demo_plan: Plan, other_plan: Plan) -> None:
    turn = turn_of(view, "tyre-size", "tyres-205")

    def state(view: View, trial: Trial | None, *, is_busy: bool = False) -> str:
        return plans_of(view, turn, trial, is_busy=is_busy).state

    assert state(view, None) == "not asked for"
    assert state(view, Trial(None, Progress(True, "fit", 0.1))) == "working"
    assert state(view, Trial(None, Progress(said="No rate is known."))) == "failed"
    assert state(view, Trial(other_plan, Progress())) == "ready"
    behind = replace(view, plan=replace(demo_plan, revision=0))
    assert state(behind, Trial(other_plan, Progress())) == "behind"
    assert state(behind, Trial(other_plan, Progress()), is_busy=True) == "waiting"


def test_the_order_of_decisions_is_worked_out_beside_the_page(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = threading.Event()

    def slow(view: View) -> DecisionReport:
        gate.wait(30)
        return decision_order(view)

    monkeypatch.setattr(desk_of(client), "order", Kept(slow))
    page = client.get("/decisions").text
    gate.set()
    assert "The order to take them in is being worked out." in page
    assert "to take, in this order" in worked_out(client, "/decisions").text


class Slow(IdleRunner):
    """Works until it is told to finish."""

    def __init__(self) -> None:
        super().__init__()
        self.running, self.stopped, self.finish = False, 0, lambda _content: None

    def start(self, errand: Any, finished: Any) -> None:
        super().start(errand, finished)
        self.running, self.finish = True, finished

    def progress(self) -> Progress:
        return Progress(self.running)

    def stop(self) -> None:
        self.running, self.stopped = False, self.stopped + 1


def test_a_trial_is_done_once_and_another_gives_up_the_one_before(demo_plan: Plan) -> None:
    runner = Slow()
    trials = Trials(lambda: runner)
    first, second = TrialKey(1, DAY, "a"), TrialKey(1, DAY, "b")
    trials.start(first, load_demo())
    trials.start(first, load_demo())
    assert len(runner.errands) == 1
    stale = runner.finish
    trials.start(second, load_demo())
    assert (len(runner.errands), runner.stopped) == (2, 1)
    stale(dump_plan(demo_plan))  # comes too late
    found = trials.of(second)
    assert found is not None
    assert found.plan is None
    assert trials.of(first) is None
    runner.running = False
    runner.finish(dump_plan(demo_plan))
    found = trials.of(second)
    assert found is not None
    assert found.plan == demo_plan
    trials.start(second, load_demo())
    assert len(runner.errands) == 2
    folder = runner.errands[0].path.parent
    trials.close()
    assert not folder.exists()


def test_the_process_of_trials_ends_when_nothing_was_tried_for_a_while() -> None:
    closed = []
    runner = Slow()
    runner.close = lambda: closed.append(True)  # type: ignore[method-assign]
    trials = Trials(lambda: runner, rest_seconds=0.05)
    trials.start(TrialKey(1, DAY, "a"), load_demo())
    runner.running = False
    for _ in range(100):
        if closed:
            break
        time.sleep(0.02)
    assert closed == [True]
    trials.close()


# routes


def test_the_list_leads_to_each_decision(client: TestClient) -> None:
    text = worked_out(client, "/decisions").text
    for decision in load_demo().decisions:
        assert f'href="/decisions/{decision.id}"' in text
        assert client.get(f"/decisions/{decision.id}").status_code == 200


def test_deciding_goes_by_way_of_its_impact(client: TestClient) -> None:
    text = client.get("/decisions/heating").text
    assert 'method="post" action="/decisions/heating' not in text
    assert f'href="{HEATER}"' in text
    seen = worked_out(client, HEATER).text
    assert "It gives up “Diesel air heater”" in seen
    form = {"revision": "1", "form": "turn", "why": "Hot water in March.", "day": "2026-11-15"}
    response = client.post(HEATER, data=form, follow_redirects=False)
    assert (response.status_code, response.headers["location"]) == (303, "/decisions/heating")
    decision = desk_of(client).view().build.find("decisions", "heating")
    assert (decision.chosen, decision.chosen_on, decision.why) == (
        "heating-combi", date(2026, 11, 15), "Hot water in March.",
    )  # fmt: skip
    after = client.get("/decisions/heating").text
    assert "Decided on 15 November 2026" in after
    assert "Hot water in March." in after


def test_a_decision_is_opened_again_after_its_impact_was_seen_and_undone(client: TestClient) -> None:
    assert "See what opening it again changes" in client.get("/decisions/rear-axle").text
    assert "waits again" in worked_out(client, "/decisions/rear-axle/reopen").text
    client.post("/decisions/rear-axle/reopen", data={"revision": "1", "why": "The plate says less."})
    assert not desk_of(client).view().facts.choices["rear-axle"].decided
    client.post("/history/undo", data={"revision": "2"})
    assert desk_of(client).view().facts.choices["rear-axle"].decided


def test_leaning_to_another_option_is_planned_with(client: TestClient) -> None:
    response = client.post(f"{HEATER}/lean", data={"revision": "1"}, follow_redirects=False)
    assert response.headers["location"] == "/decisions/heating"
    assert desk_of(client).view().facts.choices["heating"].option.id == "heating-combi"


def test_a_decision_of_tomorrow_is_refused_and_the_reason_kept(client: TestClient) -> None:
    form = {"revision": "1", "form": "turn", "why": "Because it is warm.", "day": "2027-01-01"}
    response = client.post(HEATER, data=form)
    assert response.status_code == 422
    assert "Because it is warm." in response.text
    assert "turn-day-fault" in response.text
    assert desk_of(client).view().revision == 1


def test_two_plans_are_asked_for_and_shown_once_they_are_there(client: TestClient, demo_plan: Plan) -> None:
    desk = desk_of(client)
    runner = Slow()
    desk.trials = Trials(lambda: runner)
    assert "Plan it both ways" in client.get(HEATER).text
    assert runner.errands == []
    piece = client.post(f"{HEATER}/plans?piece", headers={"HX-Request": "true"}).text
    assert "Planning as it would be" in piece
    assert "<html" not in piece
    assert client.post(f"{HEATER}/plans", follow_redirects=False).headers["location"] == HEATER
    runner.running = False
    runner.finish(dump_plan(demo_plan))
    text = client.get(HEATER).text
    assert "Even chance of being finished by" in text
    assert "the same" in text


@pytest.mark.parametrize(
    "path",
    [
        "/decisions/none",
        "/decisions/heating/options/none",
        "/decisions/heating/reopen",
        "/decisions/none/reopen",
        "/decisions/heating/options/none/plans",
    ],
)
def test_what_is_not_there_is_told_as_a_page(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_a_build_without_decisions_says_what_they_are_for(empty: TestClient) -> None:
    assert "No decision is named yet" in worked_out(empty, "/decisions").text


@pytest.mark.parametrize("is_piece", [True, False])
def test_what_is_gone_is_told_in_the_place_that_asked_for_it(client: TestClient, is_piece: bool) -> None:
    """A decision may be opened again while its page still asks how far the two plans are."""
    headers = {"hx-request": "true"} if is_piece else {}
    response = client.get("/decisions/heating/reopen/plans?piece", headers=headers)
    assert response.status_code == 404
    assert "There is nothing at this address" in response.text
    assert ("<main" in response.text) != is_piece


def test_what_a_choice_changes_fills_its_place_once_it_is_worked_out(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    go = threading.Event()

    def slow(view: View, turn: Turn) -> Any:
        assert go.wait(20)
        return consequences(view, turn)

    monkeypatch.setattr("fishplate.web.consequences.consequences", slow)
    path = "/decisions/heating/options/heating-combi"
    waiting = client.get(path)
    assert waiting.status_code == 200
    assert "What it changes is being worked out" in waiting.text
    assert f'id="changes" hx-get="{path}"' in waiting.text
    assert 'name="why"' in waiting.text, "it can be decided meanwhile"
    go.set()
    desk_of(client).turns.of(desk_of(client).view(), ("heating", "heating-combi"), patience_seconds=20)
    filled = client.get(path).text
    assert "being worked out" not in filled.partition('id="plans"')[0]
    assert 'id="changes">' in filled


def test_a_colon_in_the_name_of_a_decision_is_no_end_of_it(client: TestClient) -> None:
    found = report_of(desk_of(client).view()).decisions[0]
    named = replace(found, text="Decide “Approval: which way” by 3 December 2026: “Tyre size” hangs on it.")
    assert hangs_words(named) == "“Tyre size” hangs on it."
