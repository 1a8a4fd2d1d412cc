"""What to decide, in which order, by when."""

from __future__ import annotations

import random
from datetime import date
from typing import Any

import numpy as np
import pytest

from fishplate.build import Build, build_from_data, facts_of
from fishplate.build.graph import carries
from fishplate.decide import DecisionReport, DecisionResult, hanging, order_decisions
from fishplate.starters import demo_as_of, load_demo

AS_OF = date(2026, 3, 2)


def decision(id_: str, think: float = 1, **more: Any) -> dict[str, Any]:
    options = more.pop("options", [{"id": f"{id_}-a", "name": f"{id_} a"}])
    return {"id": id_, "name": id_.capitalize(), "options": options, "think_weeks": think, **more}


def edge(source: str, target: str, strength: str = "fixes") -> dict[str, str]:
    return {"source": source, "target": target, "strength": strength}


def job(id_: str, **more: Any) -> dict[str, Any]:
    return {
        "id": id_, "name": id_.capitalize(), "phase": "structure", "hours": {"low": 1, "likely": 2, "high": 3}, **more,
    }  # fmt: skip


def report(
    *, starts: dict[str, float] | None = None, order_by: dict[str, float] | None = None, **lists: Any
) -> DecisionReport:
    build = build_from_data(lists)
    return order_decisions(build, facts_of(build, AS_OF), start_weeks=starts or {}, order_by_weeks=order_by or {})


def only(found: DecisionReport, id_: str) -> DecisionResult:
    return next(result for result in found.decisions if result.decision == id_)


def order_of(found: DecisionReport) -> list[str]:
    return [result.decision for result in found.decisions if result.rank]


def test_what_fixes_comes_first() -> None:
    found = report(
        decisions=[decision("arch"), decision("tyre"), decision("wheel")],
        edges=[edge("tyre", "wheel"), edge("wheel", "arch")],
    )
    assert order_of(found) == ["tyre", "wheel", "arch"]
    assert [result.rank for result in found.decisions] == [1, 2, 3]
    assert found.blocks == ()


def test_an_edge_that_nudges_sets_no_order() -> None:
    assert order_of(report(decisions=[decision("b"), decision("a")], edges=[edge("b", "a", "nudges")])) == ["a", "b"]


def test_a_loop_is_torn_on_what_only_limits() -> None:
    found = report(
        decisions=[decision("brake"), decision("tyre"), decision("wheel")],
        edges=[edge("tyre", "wheel"), edge("brake", "tyre", "limits"), edge("wheel", "brake", "limits")],
    )
    # tyre fixes wheel and must stay before it; one of the two limits goes, and brake, tyre, wheel needs but one tear
    assert found.blocks == (("brake", "tyre", "wheel"),)
    assert [(tear.source, tear.target, tear.fixes) for tear in found.tears] == [("wheel", "brake", False)]
    assert only(found, "brake").assumes == ("wheel",)
    assert only(found, "brake").block == ("brake", "tyre", "wheel")
    (note,) = (note for note in found.assumptions if note.code == "decision-loop")
    assert note.text == (
        "“Brake”, “Tyre” and “Wheel” form a loop: settle them as a group, beginning with “wheel a” for “Wheel” assumed"
    )


def test_decisions_that_fix_each_other_are_named_as_a_group() -> None:
    found = report(decisions=[decision("a"), decision("b")], edges=[edge("a", "b"), edge("b", "a")])
    assert found.blocks == (("a", "b"),)
    assert [tear.fixes for tear in found.tears] == [True]
    assert "they fix each other" in next(n.text for n in found.assumptions if n.code == "decision-loop")


def test_a_decided_decision_breaks_the_loop() -> None:
    found = report(
        decisions=[decision("a", chosen="a-a", chosen_on="2026-02-01"), decision("b")],
        edges=[edge("a", "b"), edge("b", "a", "limits")],
    )
    assert found.blocks == found.tears == ()
    assert order_of(found) == ["b"]
    assert only(found, "a").rank == 0
    assert only(found, "a").text == "“A” is decided on 1 February 2026: a a."


def test_a_choice_made_after_as_of_is_still_open() -> None:
    found = report(decisions=[decision("a", chosen="a-a", chosen_on="2026-03-05")])
    assert order_of(found) == ["a"]


def test_a_decision_is_due_its_thinking_time_before_the_job_it_gates() -> None:
    found = report(decisions=[decision("tyre", think=2)], jobs=[job("arch", decisions=["tyre"])], starts={"arch": 6})
    result = only(found, "tyre")
    assert result.by_week == pytest.approx(4)
    assert result.by == result.free_until == date(2026, 3, 30)
    assert result.holds_jobs == ("arch",)
    assert result.text == (
        "Decide “Tyre” by 30 March 2026: “Arch” hangs on it. Why then: the job “Arch” can begin 13 April 2026."
    )


def test_the_job_that_freezes_it_and_the_job_of_an_option_set_the_date_too() -> None:
    options = [{"id": "x", "name": "X", "jobs": ["weld"]}]
    found = report(
        decisions=[decision("tyre", think=1, freeze_by="paint", options=options)],
        jobs=[job("paint"), job("weld")],
        starts={"paint": 3, "weld": 5},
    )
    assert only(found, "tyre").by_week == pytest.approx(2)
    assert only(found, "tyre").holds_jobs == ("paint", "weld")


def test_the_part_an_option_calls_for_sets_the_date_only_while_it_is_missing() -> None:
    options = [{"id": "x", "name": "X", "parts": ["rim"]}]
    lists = {
        "decisions": [decision("tyre", options=options)],
        "parts": [{"id": "rim", "name": "Rim", "quantity": 4}],
        "order_by": {"rim": 3.0},
    }
    assert only(report(**lists), "tyre").by_week == pytest.approx(2)
    owned = report(**lists, stock=[{"id": "s", "part": "rim", "quantity": 4}])
    assert only(owned, "tyre").by_week is None
    assert only(owned, "tyre").text == "Decide “Tyre”: nothing waits for it yet."


def test_a_decision_leaves_time_for_those_after_it() -> None:
    found = report(
        decisions=[decision("tyre", think=1), decision("wheel", think=3)],
        edges=[edge("tyre", "wheel")],
        jobs=[job("arch", decisions=["wheel"])],
        starts={"arch": 10},
    )
    assert only(found, "wheel").by_week == pytest.approx(7)
    assert only(found, "tyre").by_week == pytest.approx(6)
    assert only(found, "tyre").because == "it fixes “Wheel”"


def test_an_overdue_decision_says_now_and_is_free_no_longer() -> None:
    found = report(decisions=[decision("tyre", think=3)], jobs=[job("arch", decisions=["tyre"])], starts={"arch": 1})
    result = only(found, "tyre")
    assert result.by_week == pytest.approx(-2)
    assert result.free_until == AS_OF
    assert result.text.startswith("Decide “Tyre” now: ")


def test_done_and_unwanted_jobs_set_no_date() -> None:
    options = [{"id": "x", "name": "X"}, {"id": "y", "name": "Y", "jobs": ["weld"]}]
    found = report(
        decisions=[decision("roof", options=options, leading="x"), decision("tyre")],
        jobs=[job("weld", decisions=["tyre"]), job("arch", decisions=["tyre"])],
        events=[{"kind": "worked", "id": "w", "day": "2026-02-01", "job": "arch", "hours": 2, "done": True}],
        starts={"weld": 4, "arch": 0},
    )
    assert only(found, "tyre").by_week is None


def test_among_equals_the_sooner_needed_comes_first() -> None:
    found = report(
        decisions=[decision("a"), decision("b"), decision("c")],
        jobs=[job("x", decisions=["b"]), job("y", decisions=["c"])],
        starts={"x": 8, "y": 2},
    )
    assert order_of(found) == ["c", "b", "a"]


def test_modelled_weeks_add_up_along_what_fixes() -> None:
    found = report(
        decisions=[
            decision("a", 2), decision("b", 3), decision("c", 1),
            decision("d", 9, chosen="d-a", chosen_on="2026-01-01"),
        ],
        edges=[edge("a", "b"), edge("a", "c", "limits"), edge("d", "a")],
    )  # fmt: skip
    assert found.modelled_weeks == {"a": 2, "b": 5, "c": 1, "d": 0}


OFFER = {"supplier": "s", "price": {"amount": "10", "currency": "EUR"}, "part": "rim"}
SHOP = {
    "suppliers": [{"id": "s", "name": "S", "country": "NL", "currency": "EUR"}],
    "parts": [{"id": "rim", "name": "Rim"}],
}


def test_offers_that_cannot_go_back_are_held() -> None:
    options = [{"id": "x", "name": "X", "parts": ["rim"]}]
    offers = [
        {"id": "made", **OFFER, "made_to_order": True},
        {"id": "final", **OFFER, "returns": {"days": 0}},
        {"id": "free", **OFFER, "returns": {"days": 14}},
        {"id": "unsaid", **OFFER},
    ]
    found = report(decisions=[decision("tyre", options=options)], offers=offers, **SHOP)
    assert only(found, "tyre").holds_offers == ("final", "made")
    assert ("offers", "free") in only(found, "tyre").hangs
    assert only(found, "tyre").text == "Decide “Tyre”: “Rim” and 1 order hang on it."


def test_an_offer_held_by_a_release_is_held() -> None:
    found = report(
        decisions=[decision("tyre")],
        offers=[{"id": "free", **OFFER, "returns": {"days": 14}}],
        releases=[{"id": "r", "part": "rim", "decisions": ["tyre"]}],
        order_by={"rim": 5},
        **SHOP,
    )
    result = only(found, "tyre")
    assert result.holds_offers == ("free",)
    assert result.by_week == pytest.approx(4)
    assert {("releases", "r"), ("offers", "free")} <= set(result.hangs)


def test_what_hangs_is_followed_to_the_end_and_leaves_out_what_is_over() -> None:
    found = report(
        decisions=[decision("tyre"), decision("wheel")],
        edges=[edge("tyre", "wheel")],
        jobs=[
            job("arch", decisions=["wheel"]),
            job("paint", after=[{"job": "arch"}]),
            job("strip", decisions=["tyre"]),
        ],
        events=[{"kind": "worked", "id": "w", "day": "2026-02-01", "job": "strip", "hours": 2, "done": True}],
    )
    assert only(found, "tyre").hangs == (("decisions", "wheel"), ("jobs", "arch"), ("jobs", "paint"))


def test_decided_options_that_exclude_each_other_are_a_problem() -> None:
    decisions = [
        decision("a", chosen="a-a", chosen_on="2026-02-01"),
        decision("b", chosen="b-a", chosen_on="2026-02-01"),
    ]
    rule = {"option": "a-a", "excludes": "b-a", "why": "no room"}
    (problem,) = report(decisions=decisions, rules=[rule]).problems
    assert problem.code == "contradiction"
    assert "“a a” excludes “b a” (no room)" in str(problem)


def test_leading_options_that_contradict_are_an_assumption() -> None:
    options = [{"id": "x", "name": "X"}, {"id": "y", "name": "Y"}]
    decisions = [decision("a"), decision("b", options=options, leading="x")]
    found = report(decisions=decisions, rules=[{"option": "a-a", "requires": "y"}])
    assert found.problems == ()
    assert "leading-options-contradict" in {note.code for note in found.assumptions}
    agreed = report(decisions=decisions, rules=[{"option": "a-a", "requires": "x"}])
    assert "leading-options-contradict" not in {note.code for note in agreed.assumptions}


def test_deciding_before_what_fixes_it_is_a_problem() -> None:
    found = report(
        decisions=[decision("tyre"), decision("wheel", chosen="wheel-a", chosen_on="2026-02-01")],
        edges=[edge("tyre", "wheel")],
    )
    assert [problem.code for problem in found.problems] == ["taken-before-what-fixes-it"]


def test_a_decision_without_a_leading_option_says_which_scores_best() -> None:
    options = [{"id": "x", "name": "X", "score": 40}, {"id": "y", "name": "Y", "score": 70}]
    found = report(decisions=[decision("a", options=options)])
    assert only(found, "a").assumed
    (note,) = found.assumptions
    assert note.text == "“A”: no option leads, so the first, “X”, stands in; by your scores “Y” would lead"


def test_the_report_does_not_depend_on_the_order_of_the_lists() -> None:
    ids = ["a", "b", "c", "d", "e"]
    pairs = [("a", "b"), ("b", "c"), ("c", "a"), ("d", "c"), ("e", "d"), ("c", "e")]
    decisions = [decision(id_) for id_ in ids]
    edges = [edge(s, t, "limits" if s in "ce" else "fixes") for s, t in pairs]
    first = report(decisions=decisions, edges=edges)
    for seed in range(5):
        shuffle = random.Random(seed)
        shuffle.shuffle(decisions)
        shuffle.shuffle(edges)
        assert report(decisions=decisions, edges=edges) == first


def test_long_lists_are_counted_in_the_sentence() -> None:
    jobs = [job(f"job-{n}", decisions=["tyre"]) for n in range(6)]
    text = only(report(decisions=[decision("tyre")], jobs=jobs), "tyre").text
    assert text == "Decide “Tyre”: “Job-0”, “Job-1”, “Job-2” and 3 more hang on it."


def test_a_build_without_decisions_gives_an_empty_report() -> None:
    assert report().decisions == ()


def test_no_loop_of_the_demonstration_is_over_six_and_each_names_what_it_begins_by_assuming() -> None:
    build = load_demo()
    found = order_decisions(build, facts_of(build, demo_as_of()), start_weeks={}, order_by_weeks={})
    assert found.blocks
    assert max(len(block) for block in found.blocks) <= 6
    for block in found.blocks:
        note = next(item.text for item in found.assumptions if item.about == f"decision {block[0]}")
        assumed = {tear.source for tear in found.tears if tear.source in block}
        assert all(build.find("decisions", id_).name in note.partition("beginning with")[2] for id_ in assumed)
        assert assumed


def test_a_date_in_joint_draws_is_too_late_as_often_as_the_risk_says() -> None:
    draws = np.arange(100, dtype=float)
    lists: dict[str, Any] = {
        "decisions": [decision("wheel", 2), decision("tyre", 1)],
        "edges": [edge("tyre", "wheel")],
        "jobs": [job("arch", decisions=["wheel"]), job("hub", decisions=["wheel"])],
    }
    build = build_from_data(lists)
    found = order_decisions(
        build, facts_of(build, AS_OF), start_weeks={"arch": draws, "hub": draws[::-1]}, order_by_weeks={}, risk=0.2
    )
    # the sooner of two jobs that begin at w and 99 - w: with one chance in five before week 9
    assert only(found, "wheel").by_week == 9 - 2
    assert only(found, "tyre").by_week == 9 - 2 - 1
    assert only(found, "wheel").because.startswith("the job “Arch”")


def test_an_option_stays_open_until_its_own_parts_and_jobs_are_due() -> None:
    options = [
        {"id": "steel", "name": "Steel", "parts": ["rim"]},
        {"id": "alloy", "name": "Alloy", "jobs": ["turn"]},
        {"id": "none", "name": "None"},
    ]
    found = report(
        decisions=[decision("wheel", options=options)], parts=[{"id": "rim", "name": "Rim"}], jobs=[job("turn")],
        starts={"turn": 6.0}, order_by={"rim": 3.0},
    )  # fmt: skip
    stays = {item.option: (item.week, item.because.split()[0]) for item in only(found, "wheel").open if item.until}
    assert stays == {"steel": (3.0, "“Rim”"), "alloy": (6.0, "the")}
    assert [item.until for item in only(found, "wheel").open if item.option == "none"] == [None]


def test_what_rests_on_what_is_gone_through_once_however_many_decisions(monkeypatch: pytest.MonkeyPatch) -> None:
    gone_through: list[Build] = []

    def counted(build: Build) -> object:
        gone_through.append(build)
        return carries(build)

    monkeypatch.setattr(hanging, "carries", counted)
    build = load_demo()
    assert len(build.decisions) > 3
    order_decisions(build, facts_of(build, demo_as_of()), start_weeks={}, order_by_weeks={})
    assert len(gone_through) == 1
