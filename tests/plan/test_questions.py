"""The questions asked are those whose answers move the plan most: checked by answering them and planning again."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path
from statistics import mean
from typing import Any

import pytest
from plan_builds import AS_OF, build_of, job, offer, part, plan_of, situation_of, supplier
from test_levels import PHASES, SHEET, imported, widened

from fishplate.build import Build, build_from_data, document_data
from fishplate.plan import Plan, Question, plan

OWNER_ANSWERS: dict[str, list[dict[str, Any]]] = {
    "hours-per-week": [{"hours_per_week": 2.5}, {"hours_per_week": 10}],
    "hours-left": [{"hours_left": 200}, {"hours_left": 800}],
    "week-delay-cost": [{"week_delay_cost": 20}, {"week_delay_cost": 200}],
    "cash-per-month": [{"cash_per_month": 300, "cash_now": 500}, {"cash_per_month": 800, "cash_now": 1500}],
    "hour-worth": [{"hour_worth": 5}, {"hour_worth": 40}],
}
LEADS = ({"low": 0.5, "likely": 1, "high": 2}, {"low": 4, "likely": 6, "high": 10})


def answered(build: Build, key: str) -> list[Build]:
    """The build with the answers a person may well give."""
    kind, _, id_ = key.partition(":")
    data = document_data(build)

    def with_(name: str, noun_id: str, fields: dict[str, Any]) -> Build:
        changed = deepcopy(data)
        next(noun for noun in changed[name] if noun["id"] == noun_id).update(fields)
        return build_from_data(changed)

    if key in OWNER_ANSWERS:
        return [build_from_data({**data, "owner": {**data.get("owner", {}), **more}}) for more in OWNER_ANSWERS[key]]
    if kind == "lead":
        return [with_("offers", id_, {"lead_weeks": lead}) for lead in LEADS]
    if kind == "returns":
        return [with_("offers", id_, {"returns": {"days": days}}) for days in (0, 60)]
    if kind == "origin-tax":
        return [with_("suppliers", id_, {"origin_tax": answer}) for answer in ("charged", "taken-off")]
    if kind == "freight":
        return [_with_freight(data, id_, fixed) for fixed in (1, 3)]
    if kind == "offer":
        more = offer("told", id_, "40 EUR", build.suppliers[0].id)
        told = {**more, "price": {"amount": "40", "currency": "EUR"}, "lead_weeks": LEADS[0], "seen": AS_OF.isoformat()}
        return [build_from_data({**data, "offers": [*data["offers"], told]})]
    raise AssertionError(f"no answer is written for {key}")


def _with_freight(data: dict[str, Any], id_: str, times: int) -> Build:
    changed = deepcopy(data)
    seller = next(noun for noun in changed["suppliers"] if noun["id"] == id_)
    home = seller["country"] in ("NL", "DE")
    way = {"id": "way", "name": "Way", "kind": "courier", "from_country": seller["country"]}
    fees = {} if home else {"advance_percent": 2.5, "entry_fee": {"amount": "12", "currency": "EUR"}}
    changed["routes"] = [*changed.get("routes", []), {**way, **fees}]
    fixed = {"amount": str((6 if home else 25) * times), "currency": seller["currency"]}
    seller["freight"] = [{"route": "way", "fixed": fixed}]
    return build_from_data(changed)


def moved(build: Build, before: Plan, question: Question) -> float:
    """How far its answers move what the plan is expected to cost in all, days late included; mean of the answers."""
    after = [plan(situation_of(other, solver_seconds=1.0)) for other in answered(build, question.key)]
    return mean(abs(each.expected_total - before.expected_total) for each in after)


@pytest.mark.parametrize(
    "owner",
    [{}, {"hours_per_week": 6, "hours_left": 420, "cash_per_month": 2000}],
    ids=["nothing said", "hours and money said"],
)
def test_the_answer_to_the_first_question_moves_the_plan_more_than_that_to_the_third(
    tmp_path: Path, owner: dict[str, Any]
) -> None:
    build = imported(tmp_path, widened(SHEET, {}, PHASES), **owner)
    before = plan(situation_of(build))
    asked = [question for question in before.questions if question.key != "interfaces"]
    effects = [moved(build, before, question) for question in asked]
    assert effects[0] > effects[-1] * 0.8
    # what is not asked moves it less than the most telling one that is
    spared = next(line.offer for line in before.purchase.lines if line.part == "Steering rack gaiters")
    other = Question(f"returns:{spared}", "", 0.0, "")
    assert moved(build, before, other) < max(effects)


def test_the_worth_of_a_question_is_of_the_size_of_what_its_answers_move(tmp_path: Path) -> None:
    build = imported(tmp_path, widened(SHEET, {}, PHASES))
    before = plan(situation_of(build))
    for question in before.questions:
        effect = moved(build, before, question)
        assert question.worth / 4 < effect < question.worth * 4


def test_phases_are_worth_asking_first_because_they_date_every_line(tmp_path: Path) -> None:
    bare = plan(situation_of(imported(tmp_path, SHEET)))
    assert bare.questions[0].key == "phases"
    told = plan(situation_of(imported(tmp_path, widened(SHEET, {}, PHASES))))
    assert sum(line.order_by is not None for line in bare.purchase.lines) == 0
    assert all(line.order_by is not None for line in told.purchase.lines)


def test_what_is_known_is_not_asked() -> None:
    way = {"id": "van", "name": "Van", "kind": "courier", "from_country": "NL"}
    build = build_of(
        routes=[way],
        suppliers=[supplier("shop", freight=[{"route": "van", "fixed": "8 EUR"}])],
        parts=[part("rack", phase="assembly")],
        offers=[offer("rack-offer", "rack", "100 EUR")],
        jobs=[job("fit", 6, to_keep=["rack"])],
        interfaces=[{"id": "i", "name": "Rack and frame", "parts": ["rack"]}],
    )
    assert plan_of(build).questions == ()


def test_an_open_decision_without_a_leaning_is_asked_about() -> None:
    decision = {
        "id": "axle", "name": "Axle",
        "options": [{"id": "wide", "name": "Wide", "parts": ["rack"]}, {"id": "slim", "name": "Slim"}],
    }  # fmt: skip
    build = build_of(
        suppliers=[supplier("shop")], parts=[part("rack")], offers=[offer("rack-offer", "rack", "900 EUR")],
        jobs=[job("fit", 6, to_keep=["rack"])], decisions=[decision],
    )  # fmt: skip
    assert "leading:axle" in {question.key for question in plan_of(build).questions}
    leaning = build_of(
        suppliers=[supplier("shop")], parts=[part("rack")], offers=[offer("rack-offer", "rack", "900 EUR")],
        jobs=[job("fit", 6, to_keep=["rack"])], decisions=[{**decision, "leading": "wide"}],
    )  # fmt: skip
    assert "leading:axle" not in {question.key for question in plan_of(leaning).questions}


def test_a_part_nobody_sells_is_asked_about() -> None:
    plan = plan_of(build_of(parts=[part("rare")], jobs=[job("fit", 6, to_keep=["rare"])]))
    assert "offer:rare" in {question.key for question in plan.questions}
