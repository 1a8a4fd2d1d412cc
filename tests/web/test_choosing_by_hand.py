"""Decisions, ways, what bears on what, swings and scores written by hand; options compared; the whole vehicle."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import facts_of, format_document
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.beside import Answered
from fishplate.web.comparing import by_risk_words, comparison, dated, stays_open, weighed
from fishplate.web.desk import View
from fishplate.web.kept import Standing
from fishplate.web.whole import WholeErrand, whole_page
from fishplate.web.worker import Progress


@pytest.fixture(scope="module")
def view() -> View:
    build = load_demo()
    return View(build, facts_of(build, demo_as_of()), 1, demo_as_of(), None)


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The demo build without a plan; a first page was loaded, so that forms are taken."""
    with served(tmp_path / "demo.fishplate", load_demo()) as found:
        found.get("/")
        yield found


def shown(response: object) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", getattr(response, "text")))  # noqa: B009


# comparing


def test_options_are_compared_in_words_with_a_chart_and_its_table(view: View) -> None:
    decision = view.build.find("decisions", "wheels")
    found = comparison(decision, Standing(weighed(view, "wheels"), True), "EUR")
    assert found.lead.startswith("“Steel 6")
    assert len(found.standing) >= 3
    assert found.chart is not None
    assert [round(total) for total in found.chart.sums] == [100, 100, 100]
    assert [name for name, _, _ in found.matters] == ["Lasts, and can be mended on the road", "Cost at the door",
                                                      "Pleasure to use and look at"]  # fmt: skip
    assert any("would change the choice" in text for text in found.learning)


def test_what_is_not_weighed_says_what_leads_by_the_score_on_the_whole(view: View) -> None:
    decision = view.build.find("decisions", "side-windows")
    found = comparison(decision, Standing(weighed(view, "side-windows"), True), "EUR")
    assert found.lead == "By your score on the whole “Left fixed, right sliding” comes first."
    assert found.chart is None


def test_less_risk_means_deciding_sooner(view: View) -> None:
    report = dated(view)
    result = next(item for item in report.decisions if item.decision == "second-battery")
    days = [by for _, by in result.by_risk]
    assert days == sorted(days)
    assert days[0] < days[-1]
    assert result.by == dict(result.by_risk)[report.risk]
    words = by_risk_words(report, "second-battery", view.as_of)
    assert words.startswith("By the chance you take of being too late. One in fifty: by ")
    assert "; an even chance: by " in words
    assert by_risk_words(None, "second-battery", view.as_of) == ""


def test_an_option_stays_open_until_what_it_brings_is_due(view: View) -> None:
    words = stays_open(dated(view), "second-battery")
    assert set(words) == {"second-agm", "second-lithium"}
    assert words["second-agm"].startswith("Open at no cost until ")
    assert "has to be ordered by" in words["second-agm"]


# by hand


def test_a_decision_is_written_with_its_ways_weighed_and_taken_out(client: TestClient) -> None:
    page = client.post("/decisions/new", data={"name": "Awning", "ways": "Wind-out\nLoop on\n\nWind-out"})
    assert page.url.path == "/decisions/awning"
    build = desk_of(client).view().build
    assert [option.name for option in build.find("decisions", "awning").options] == ["Wind-out", "Loop on"]

    answers = {"importance": "2"}
    for criterion, place, compared in (("cost", "2", "half"), ("pleasure", "1", "unsaid")):
        answers |= {f"worst-{criterion}": "0", f"best-{criterion}": "100", f"place-{criterion}": place,
                    f"compared-{criterion}": compared}  # fmt: skip
    client.post("/decisions/awning/swings", data=answers)
    scores = {"wind-out-pleasure-low": "60", "wind-out-pleasure-likely": "70", "wind-out-pleasure-high": "90"}
    page = client.post("/decisions/awning/scores", data={**scores, "loop-on-pleasure-likely": "40"})
    assert page.url.path == "/decisions/awning"
    decision = desk_of(client).view().build.find("decisions", "awning")
    assert [swing.criterion for swing in decision.swings] == ["pleasure", "cost"]
    assert decision.swings[1].compared is not None
    assert (decision.importance, decision.swings[1].compared.likely) == (2, 50)
    assert decision.options[0].scores[0].points.high == 90

    client.post("/decisions/awning/out")
    assert "awning" not in desk_of(client).view().build.index["decisions"]


def test_a_place_given_twice_is_refused_and_what_was_typed_stays(client: TestClient) -> None:
    answers = {"form": "swings-heating"}
    for criterion in ("durability", "pleasure"):
        answers |= {f"worst-{criterion}": "7", f"best-{criterion}": "93", f"place-{criterion}": "1"}
    page = client.post("/decisions/heating/swings", data=answers)
    assert page.status_code == 422
    assert "Another has this place" in shown(page)
    assert 'value="93"' in page.text


def test_a_way_brings_parts_and_sets_dimensions(client: TestClient) -> None:
    data = {"name": "Radiant", "part": "heater-air", "given-0": "bump_travel_rear", "given-0-value": "80",
            "given-0-spread": "2", "score": "30"}  # fmt: skip
    client.post("/decisions/heating/ways/new", data=data)
    option = desk_of(client).view().build.find("decisions", "heating").option("radiant")
    assert (option.parts, option.dimensions[0].value, option.dimensions[0].spread) == (("heater-air",), 80, 2)
    client.post("/decisions/heating/ways/radiant/change", data={**data, "name": "Radiant plate", "given-0": ""})
    option = desk_of(client).view().build.find("decisions", "heating").option("radiant")
    assert (option.name, option.dimensions) == ("Radiant plate", ())
    client.post("/decisions/heating/ways/radiant/out")
    assert len(desk_of(client).view().build.find("decisions", "heating").options) == 2


def test_what_a_rule_names_or_what_is_decided_stays(client: TestClient) -> None:
    assert client.post("/decisions/heating/ways/heating-combi/out").status_code == 422
    assert client.post("/decisions/rear-axle/ways/axle-wide/out").status_code == 422
    assert client.post("/decisions/tyre-size/out").status_code == 422
    assert "It can't be taken out: it is decided so" in shown(client.get("/decisions/rear-axle/ways/axle-wide/change"))


def test_edges_and_rules_are_written_changed_and_taken_out(client: TestClient) -> None:
    edge = {"source": "heating", "target": "side-windows", "strength": "limits", "why": "The flue goes through."}
    page = client.post("/decisions/bearing/edge", data=edge)
    assert "“Heating” limits “Side windows”: the flue goes through." in shown(page)
    client.post("/decisions/bearing/edge", data={**edge, "strength": "fixes"})
    edges = desk_of(client).view().build.edges
    assert [e.strength.value for e in edges if (e.source, e.target) == ("heating", "side-windows")] == ["fixes"]
    client.post("/decisions/bearing/out", data={"edge": "heating side-windows"})
    assert len(desk_of(client).view().build.edges) == len(edges) - 1
    assert client.post("/decisions/bearing/out", data={"edge": "heating side-windows"}).status_code == 422

    rule = {"option": "windows-one", "also": "layout-across", "kind": "excludes", "other": "heating-air"}
    page = client.post("/decisions/bearing/rule", data=rule)
    assert "“Right sliding only” with “Bed across the rear” does not go with “Diesel air heater”." in shown(page)
    client.post("/decisions/bearing/out", data={"rule": "windows-one layout-across requires  excludes heating-air"})
    assert len(desk_of(client).view().build.rules) == len(load_demo().rules)


def test_what_matters_is_written_and_stays_while_it_is_weighed(client: TestClient) -> None:
    client.post("/decisions/matters/new", data={"name": "Mass", "unit": "kg", "weight": "5"})
    assert desk_of(client).view().build.find("criteria", "mass").unit == "kg"
    client.post("/decisions/matters/mass/change", data={"name": "Mass carried", "unit": "kg", "measured": ""})
    assert desk_of(client).view().build.find("criteria", "mass").name == "Mass carried"
    client.post("/decisions/matters/mass/out")
    assert "mass" not in desk_of(client).view().build.index["criteria"]
    page = client.post("/decisions/matters/durability/out", data={"form": "criterion-out-durability"})
    assert page.status_code == 422
    assert "on it" in shown(page)


# the whole vehicle


def answer_to(tmp_path: Path, *wishes: str) -> Answered:
    path = tmp_path / "build.json"
    path.write_text(format_document(load_demo()), encoding="utf-8")
    errand = WholeErrand(path, demo_as_of(), wishes=wishes)
    return Answered(errand.answer(None, lambda _stage, _share: None), Progress())


def test_choices_for_the_whole_vehicle_are_shown_beside_what_the_plan_goes_by(view: View, tmp_path: Path) -> None:
    page = whole_page(view, (), answer_to(tmp_path))
    assert re.search(r"These are \d+( of \d+)? that no other beats by cost", page.lead)
    assert page.now is not None
    assert page.now.changes == ()
    assert any("Wheels: Steel 6 in from the shelf, offset 55" in item.changes for item in page.choices)
    assert all(item.finish for item in page.choices)


def test_a_wish_that_can_t_be_names_what_is_against_it(view: View, tmp_path: Path) -> None:
    wishes = ("wheels-alloy", "arches-rolled")
    page = whole_page(view, wishes, answer_to(tmp_path, *wishes))
    assert page.lead == "“Alloy 7 in” with “Roll the lips only” can't be had."
    assert page.fault == ("“Alloy 7 in” does not go with “Roll the lips only”. The 7 in rim stands 14 mm further out.",)


def test_how_far_the_whole_vehicle_is_is_told(client: TestClient) -> None:
    assert "Work it out" in shown(client.get("/decisions/whole"))
    assert "What it takes to have these together" in shown(client.get("/decisions/whole?want=heating-combi"))
    assert "What it takes" not in shown(client.get("/decisions/whole?want=nothing-such"))
