"""Interfaces: the drawing, margins, readings, what was seen on the vehicle."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.build import Build, build_from_data, facts_of
from fishplate.build.formats import Formats
from fishplate.build.units import UnitProblem
from fishplate.fit import ConditionResult
from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.web.desk import View
from fishplate.web.dimensions import dimension_page, dimensions_of
from fishplate.web.drawing import InterfacesPage, interfaces_page, sides
from fishplate.web.holding import formula, interface_page
from fishplate.web.kept import Kept, Standing
from fishplate.web.margins import margin_bar
from fishplate.web.quantities import read_figure
from fishplate.web.verdicts import Fitted, fitted, fitted_by_plan

JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(64)


def view_of(build: Build, plan: Plan | None = None, day: date | None = None) -> View:
    on = day or demo_as_of()
    return View(build, facts_of(build, on), 1, on, plan)


@pytest.fixture(scope="module")
def demo() -> tuple[View, Fitted]:
    view = view_of(load_demo())
    return view, fitted(view)


@pytest.fixture(scope="module")
def drawn(demo: tuple[View, Fitted]) -> InterfacesPage:
    view, fit = demo
    return interfaces_page(view, Standing(fit, current=True))


def rungs(page: InterfacesPage) -> dict[str, Any]:
    return {rung.id: rung for group in page.groups for rung in group.rungs}


# the drawing


def test_every_interface_is_drawn_once_or_named_as_met_only_with_another_choice(drawn: InterfacesPage) -> None:
    ids = [rung.id for group in drawn.groups for rung in group.rungs] + [id_ for id_, _ in drawn.elsewhere]
    assert sorted(ids) == sorted(interface.id for interface in load_demo().interfaces)


def test_an_interface_stands_under_its_first_system(drawn: InterfacesPage) -> None:
    group = next(group for group in drawn.groups if group.id == "wheels")
    assert "tyre-arch-rear" in [rung.id for rung in group.rungs]


def test_systems_are_drawn_as_the_sides_with_only_the_parts_that_are_wanted(demo: tuple[View, Fitted]) -> None:
    view, _ = demo
    left, right = sides(view.build, view.facts, view.build.find("interfaces", "tyre-arch-rear"))
    assert (left.name, left.parts) == ("Wheels and tyres", ("Tyre 215/75 R 16 C",))
    assert "Rear axle" in right.name


def test_parts_of_one_system_are_the_sides(demo: tuple[View, Fitted]) -> None:
    view, _ = demo
    left, right = sides(view.build, view.facts, view.build.find("interfaces", "strut-travel"))
    assert (left.name, right.name) == ("Front strut insert", "Strut top mount")


def test_the_summary_counts_every_verdict(drawn: InterfacesPage, demo: tuple[View, Fitted]) -> None:
    _, fit = demo
    known = [result.verdict for result in fit.report.interfaces]
    assert drawn.summary.startswith(f"Of {len(known)} places where parts meet")
    assert f"{known.count('in doubt')} are in doubt" in drawn.summary


def test_the_foundation_sheet_says_what_is_only_estimated_or_stale(drawn: InterfacesPage) -> None:
    feet = {foot.id: foot for foot in drawn.foundation}
    assert feet["bump_travel_rear"].state == "only estimated"
    assert feet["track_front"].state == "taken before the vehicle changed"
    assert feet["wheelbase"].state == ""
    assert len(feet) == sum(1 for item in load_demo().dimensions if item.foundation)


def test_only_what_can_be_measured_now_is_offered_first(drawn: InterfacesPage, demo: tuple[View, Fitted]) -> None:
    _, fit = demo
    blocked = {item.dimension for item in fit.report.measures if item.blocked_by_job or item.blocked_by_part}
    assert drawn.measures
    assert not {measure.dimension for measure in drawn.measures} & blocked


def test_only_what_is_open_is_drawn_when_asked(demo: tuple[View, Fitted], drawn: InterfacesPage) -> None:
    view, fit = demo
    page = interfaces_page(view, Standing(fit, current=True), only_open=True)
    assert len(rungs(page)) == page.open_count == drawn.open_count
    assert "fits" not in {rung.verdict for rung in rungs(page).values()}


def test_verdicts_of_the_plan_stand_in_until_those_of_the_build_are_known(demo_plan: Plan) -> None:
    view = view_of(load_demo(), demo_plan)
    page = interfaces_page(view, Standing(None, current=False))
    assert page.of_plan
    assert page.working
    held = {line.condition: line.verdict for line in demo_plan.fit}
    by_plan = fitted_by_plan(view.build, demo_plan)
    assert {key: result.verdict for key, result in by_plan.conditions.items()} == held
    assert rungs(page)["tyre-arch-front"].verdict == "not known"


def test_what_was_seen_on_the_vehicle_is_the_reason_given(drawn: InterfacesPage) -> None:
    rung = rungs(drawn)["mounts-frame"]
    assert rung.verdict == "fits"
    assert "Seen to be right on the vehicle on 19 July 2026" in rung.said


# margins


def result_of(**fields: Any) -> ConditionResult:
    build = build_from_data(
        {
            "interfaces": [{"id": "arch", "name": "Tyre in arch"}],
            "dimensions": [{"id": "gap", "name": "Gap"}],
            "readings": [{"id": "r1", "dimension": "gap", "value": 22, "spread": 5, "day": "2026-03-01"}],
            "conditions": [{"id": "c", "interface": "arch", "name": "C", "expression": "gap", "at_least": "15 mm"}],
        }
    )
    (result,) = fitted(view_of(build)).report.conditions
    return replace(result, **fields)


def test_with_one_limit_the_axis_is_the_expression_and_the_middle_is_its_likely_value() -> None:
    bar = margin_bar(result_of())
    assert bar is not None
    assert bar.limits[0].label == "at least 15 mm"
    ticks = {tick.label: tick.at for tick in bar.ticks}
    # 22 mm lies between the ticks for 20 and 25, two fifths of the way
    assert bar.middle == pytest.approx(ticks["20"] + 0.4 * (ticks["25 mm"] - ticks["20"]), abs=0.2)
    assert bar.rail[0] == 0
    assert bar.limit < bar.span[0] < bar.middle < bar.span[1]


def test_an_upper_limit_has_its_rail_to_the_right() -> None:
    bar = margin_bar(result_of(at_least=None, at_most=30.0, margin_p05=-2.0, margin_p50=3.0, margin_p95=8.0))
    assert bar is not None
    assert bar.rail[1] == 100
    assert bar.middle < bar.limit < bar.span[1]
    assert bar.text == "at most 30 mm; 22 to 32 mm in nine cases of ten, 27 mm in the middle"


def test_a_drawing_stands_in_the_owners_units_with_its_places_unmoved() -> None:
    metric, inches = margin_bar(result_of()), margin_bar(result_of(), Formats("imperial"))
    assert metric is not None
    assert inches is not None
    assert inches.limits[0].label == "at least 0.591 in"  # 15 mm
    assert inches.middle == pytest.approx(metric.middle, abs=0.2)
    assert inches.span == pytest.approx(metric.span, abs=0.2)
    assert " mm" not in inches.text + "".join(tick.label for tick in inches.ticks)


def test_with_two_limits_the_axis_is_the_distance_from_the_nearer() -> None:
    bar = margin_bar(result_of(at_least=8.0, at_most=22.0, margin_p05=1.0, margin_p50=4.0, margin_p95=6.5))
    assert bar is not None
    assert bar.axis == "distance from the nearer limit"
    assert [place.label for place in bar.limits] == ["at 8 or 22 mm", "midway"]


def test_a_margin_without_spread_is_still_drawn() -> None:
    bar = margin_bar(result_of(margin_p05=7.0, margin_p50=7.0, margin_p95=7.0))
    assert bar is not None
    assert bar.span == (bar.middle, bar.middle)


def test_no_margin_is_drawn_where_a_dimension_is_missing() -> None:
    assert margin_bar(result_of(margin_p05=None, margin_p50=None, margin_p95=None)) is None


def test_every_place_of_every_margin_of_the_demo_lies_on_its_axis(demo: tuple[View, Fitted]) -> None:
    _, fit = demo
    bars = [bar for result in fit.report.conditions if (bar := margin_bar(result)) is not None]
    assert len(bars) > 30
    for bar in bars:
        places = [*bar.rail, *bar.span, bar.middle, *(place.at for place in (*bar.ticks, *bar.limits))]
        assert all(0 <= at <= 100 for at in places)
        assert len(bar.ticks) >= 2


# one interface, one dimension


def test_an_interface_says_which_dimension_the_doubt_rests_on(demo: tuple[View, Fitted]) -> None:
    view, fit = demo
    page = interface_page(view, view.build.find("interfaces", "tyre-arch-rear"), Standing(fit, current=True))
    held = {condition.id: condition for condition in page.conditions}["rear-bump-215"]
    shares = {figure.id: figure.share for figure in held.figures}
    assert set(shares) == set(dimensions_of(view.build.find("conditions", "rear-bump-215")))
    assert int(shares["bump_travel_rear"].split()[0]) > 50
    assert "rear bump travel" in held.said
    assert "it lies between 0.5 and 26.5 mm; at worst 9.5 mm too little." in held.worst
    assert "lies with the rear bump travel from ride height" in held.worst
    assert any("rear bump travel" in measure.text for measure in page.measures)


def test_conditions_of_options_that_are_not_planned_with_are_not_judged(demo: tuple[View, Fitted]) -> None:
    view, fit = demo
    page = interface_page(view, view.build.find("interfaces", "tyre-arch-rear"), Standing(fit, current=True))
    assert "rear-bump-205" not in [condition.id for condition in page.conditions]


def test_a_hazard_says_that_someone_can_be_hurt_and_carries_its_caution(demo: tuple[View, Fitted]) -> None:
    view, fit = demo
    page = interface_page(view, view.build.find("interfaces", "sump-steering"), Standing(fit, current=True))
    assert any(text.startswith("Steering:") for text in page.cautions)
    assert "hurt" in page.conditions[0].late
    assert page.rung.check.startswith("Verify it on the vehicle")


def test_a_formula_is_spelled_out_with_its_limits(demo: tuple[View, Fitted]) -> None:
    view, _ = demo
    assert formula(view.build.find("conditions", "plunge-left")) == (
        "gearbox to hub left − shaft length left, at least 8 mm and at most 22 mm"
    )


def test_a_dimension_shows_its_readings_the_last_first_and_what_rests_on_it(demo: tuple[View, Fitted]) -> None:
    view, fit = demo
    page = dimension_page(view, view.build.find("dimensions", "arch_to_hub_rear"), Standing(fit, current=True))
    assert [taken.value for taken in page.taken] == ["470 ± 4 mm", "459 ± 3 mm"]
    assert page.taken[1].stale.startswith("The vehicle changed on")
    assert {resting.interface for resting in page.resting} == {"tyre-arch-rear"}


def test_a_state_that_has_changed_is_not_suggested_again(demo: tuple[View, Fitted]) -> None:
    view, fit = demo
    page = dimension_page(view, view.build.find("dimensions", "front_corner_load"), Standing(fit, current=True))
    assert page.against == ""


def test_what_is_to_be_made_says_which_value_balances_too_little_against_too_much(demo: tuple[View, Fitted]) -> None:
    view, fit = demo
    page = dimension_page(view, view.build.find("dimensions", "wheel_offset"), Standing(fit, current=True))
    assert page.to_make.startswith("Wheel offset to order: make it ")


# figures as they are typed


@pytest.mark.parametrize(
    ("text", "spread", "unit", "value", "width"),
    [
        ("12,5 mm", "", "mm", 12.5, None),
        ("12.5", "0,5", "mm", 12.5, 0.5),
        ('1 3/8"', "", "mm", 34.925, None),  # 35/8 of 25.4/10: 1.375 × 25.4, exact by definition
        ("1⅜ ”", '1/32"', "mm", 34.925, 0.79375),
        ("3/4", "1/64", "in", 0.75, 0.015625),
        ("7 ± 0,2 mm", "", "mm", 7, 0.2),
        ("2.5 cm +- 1 mm", "", "mm", 25, 1),
        ("4\u202f°", "", "deg", 4, None),
        ("−3", "", "mm", -3, None),
    ],
)
def test_a_figure_is_read_as_it_is_typed(text: str, spread: str, unit: str, value: float, width: float | None) -> None:
    found, its, _ = read_figure(text, spread, unit)
    assert found == pytest.approx(value, rel=1e-9)
    assert its == (None if width is None else pytest.approx(width, rel=1e-9))


@pytest.mark.parametrize("text", ["12,500", "5 kg", "twelve", "", "1/0", "7 ± ", "7 ± -1 mm", "1e400 mm"])
def test_a_figure_that_can_be_misread_is_refused(text: str) -> None:
    with pytest.raises(UnitProblem):
        read_figure(text, "", "mm")


# routes


def reading_form(client: TestClient, path: str, **fields: str) -> Any:
    fields = {"form": "reading", "revision": str(desk_of(client).view().revision), **fields}
    return client.post(path, data=fields, follow_redirects=False)


BUMP = "/interfaces/dimensions/bump_travel_rear"


def test_a_reading_is_written_with_everything_that_was_said_of_it(client: TestClient) -> None:
    response = reading_form(
        client, BUMP, value="3 5/8 in", spread="1/16", means="limits-triangular", provenance="measured",
        instrument="rule", against="on-stands", day="2026-11-15", note="Both sides.",
    )  # fmt: skip
    assert response.status_code == 303
    assert response.headers["location"] == BUMP
    reading = desk_of(client).view().build.readings[-1]
    assert (reading.dimension, reading.instrument, reading.against) == ("bump_travel_rear", "rule", "on-stands")
    assert reading.value == pytest.approx(92.075)  # 3.625 in
    assert reading.spread == pytest.approx(1.5875)
    assert (reading.day, reading.note, reading.spread_means) == (date(2026, 11, 15), "Both sides.", "limits-triangular")
    assert desk_of(client).file.history()[-1].message == "measured: Rear bump travel from ride height"


def test_a_reading_changes_the_verdict(client: TestClient) -> None:
    before = client.get("/interfaces/tyre-arch-rear").text
    assert "<strong>In doubt</strong>" in before
    response = reading_form(client, BUMP, value="84", spread="1", **{"for": "tyre-arch-rear"})
    assert response.headers["location"] == "/interfaces/tyre-arch-rear"
    desk = desk_of(client)
    settled = desk.verdicts.of(desk.view(), patience_seconds=20)
    assert settled.current
    assert settled.value is not None
    assert settled.value.interfaces["tyre-arch-rear"].verdict == "fits"
    after = client.get("/interfaces/tyre-arch-rear").text
    assert "bolt" in after
    assert "being worked out" not in after


def test_a_page_says_that_verdicts_are_being_worked_out_and_shows_the_last_ones(client: TestClient) -> None:
    desk = desk_of(client)
    first = desk.verdicts.of(desk.view(), patience_seconds=20).value
    slow = Kept[Fitted](lambda _view: (_ for _ in ()).throw(AssertionError))
    slow.of = lambda _view, **_: Standing(first, current=False)  # type: ignore[method-assign, assignment]
    desk.verdicts = slow
    text = client.get("/interfaces").text
    assert "being worked out" in text
    assert 'hx-get="/interfaces"' in text
    assert "Rear tyre to arch lip and tub" in text


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"value": ""}, "value"),
        ({"value": "3 kg"}, "value"),
        ({"value": "84", "spread": "x"}, "spread"),
        ({"value": "84", "day": "2027-01-01"}, "day"),
        ({"value": "84", "instrument": "divining-rod"}, "instrument"),
        ({"value": "84", "means": "hope"}, "means"),
    ],
)
def test_a_refused_reading_comes_back_with_the_fault_at_its_field(
    client: TestClient, fields: dict[str, str], field: str
) -> None:
    fields = {"form": "reading-bump_travel_rear", "note": "both sides, springs out", **fields}
    response = reading_form(client, BUMP, **fields)
    assert response.status_code == 422
    assert "both sides, springs out" in response.text
    assert f"reading-bump_travel_rear-{field}-fault" in response.text
    assert desk_of(client).view().revision == 1


def test_a_photo_is_kept_in_the_file_and_shown(client: TestClient) -> None:
    response = client.post(
        BUMP,
        data={"value": "90", "form": "f", "day": "2026-11-15"},
        files={"photo": ("IMG 1.jpg", JPEG, "image/jpeg")},
        follow_redirects=False,
    )
    assert response.status_code == 303
    name = desk_of(client).view().build.readings[-1].photo
    assert name.endswith(".jpg")
    assert f'src="/photos/{name}/small"' in client.get(BUMP).text
    shown = client.get(f"/photos/{name}")
    assert (shown.content, shown.headers["content-type"]) == (JPEG, "image/jpeg")
    assert shown.headers["x-content-type-options"] == "nosniff"


def test_what_is_no_picture_is_refused_as_a_photo(client: TestClient) -> None:
    script = b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"
    response = client.post(
        BUMP, data={"value": "90", "form": "reading-bump_travel_rear"},
        files={"photo": ("photo.jpg", script, "image/jpeg")},
    )  # fmt: skip
    assert response.status_code == 422
    assert "not a photo" in response.text.lower()
    assert desk_of(client).file.attachments() == ()
    assert desk_of(client).view().revision == 1


def test_no_photo_is_kept_with_a_reading_that_is_refused(client: TestClient) -> None:
    client.post(BUMP, data={"value": "?"}, files={"photo": ("a.jpg", JPEG, "image/jpeg")})
    assert desk_of(client).file.attachments() == ()


def test_a_reading_can_be_taken_out_and_comes_back_by_undo(client: TestClient) -> None:
    shown = client.post(f"{BUMP}/readings/bump-rear-1/out", data={"revision": "1"}).url.path
    assert "bump-rear-1" in desk_of(client).view().build.index["readings"]  # a verdict turns over: said first
    looked = {"revision": "1", "looked": shown.removeprefix("/before/")}
    client.post(f"{BUMP}/readings/bump-rear-1/out", data=looked)
    assert "bump-rear-1" not in desk_of(client).view().build.index["readings"]
    client.post("/history/undo", data={"revision": "2"})
    assert "bump-rear-1" in desk_of(client).view().build.index["readings"]


def test_what_is_seen_right_on_the_vehicle_settles_it(client: TestClient) -> None:
    response = client.post(
        "/interfaces/door-seal/seen",
        data={"good": "yes", "by": "Paper strip pulled all round", "sure": "1.0", "day": "2026-11-14"},
        files={"photo": ("seal.jpg", JPEG, "image/jpeg")},
        follow_redirects=False,
    )
    assert response.status_code == 303
    desk = desk_of(client)
    fit = desk.verdicts.of(desk.view(), patience_seconds=20).value
    assert fit is not None
    assert fit.interfaces["door-seal"].verdict == "fits"
    text = client.get("/interfaces/door-seal").text
    assert "Seen to be right on the vehicle on 14 November 2026: Paper strip pulled all round." in text
    assert 'alt="What was seen on the vehicle"' in text


def test_what_was_seen_can_be_taken_back_to_be_looked_at_again(client: TestClient) -> None:
    client.post("/interfaces/mounts-frame/unseen", data={"revision": "1"})
    assert "mounts-frame" not in desk_of(client).view().facts.settled


def test_seen_again_on_one_day_replaces_what_was_seen(client: TestClient) -> None:
    for good in ("yes", "no"):
        client.post("/interfaces/door-seal/seen", data={"good": good, "by": "Jo", "day": "2026-11-14"})
    seen = [item for item in desk_of(client).view().build.settled if item.interface == "door-seal"]
    assert [item.good for item in seen] == [False]


def test_who_looked_has_to_be_said(client: TestClient) -> None:
    response = client.post("/interfaces/door-seal/seen", data={"good": "yes", "form": "seen-door-seal"})
    assert response.status_code == 422
    assert "seen-door-seal-by-fault" in response.text


def test_what_must_be_known_unfolds_in_place_or_opens_by_itself(client: TestClient) -> None:
    path = "/interfaces/tyre-arch-rear/known/rear-bump-215"
    desk_of(client).verdicts.of(desk_of(client).view(), patience_seconds=20)
    assert f'hx-get="{path}?piece"' in client.get("/interfaces/tyre-arch-rear").text
    piece = client.get(f"{path}?piece", headers={"HX-Request": "true"}).text
    assert piece.startswith("<p>Room above the tyre at bump, 215:")
    assert "<h1>Room above the tyre at bump, 215</h1>" in client.get(path).text
    assert client.get("/interfaces/door-seal/known/rear-bump-215").status_code == 404
    assert client.get("/interfaces/tyre-arch-rear/known/rear-bump-205").status_code == 404


@pytest.mark.parametrize("path", ["/interfaces/none", "/interfaces/dimensions/none"])
def test_what_is_not_there_is_told_as_a_page(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404
    assert client.post(f"{path}/seen").status_code in (404, 405)


def test_a_build_without_interfaces_says_what_they_are_for(empty: TestClient) -> None:
    desk_of(empty).verdicts.of(desk_of(empty).view(), patience_seconds=20)
    assert "No place where parts meet is named yet" in empty.get("/interfaces").text


def test_usual_places_are_listed_by_ticking_them(tmp_path: Path) -> None:
    build = build_from_data({"parts": [{"id": "wheel", "name": "Steel wheel"}, {"id": "tyre", "name": "Tyre"}]})
    with served(tmp_path / "b.fishplate", build) as client:
        client.get("/")
        assert 'href="/interfaces/usual"' in client.get("/interfaces").text
        page = client.get("/interfaces/usual").text
        assert 'value="foundation" checked' in page
        assert 'value="tyre-arch-rear"' in page
        assert "15 dimensions. Most other places rest on these" in page
        assert "<strong>Rear axle, flange to flange</strong> (tape and square). Tape with a square on each" in page
        assert "In mock-up, plywood disc on a spare hub will do for “Middle of the vehicle to the rear" in page
        form = {"revision": "1", "form": "usual", "place": ["foundation", "tyre-arch-rear"]}
        assert client.post("/interfaces/usual", data=form, follow_redirects=False).status_code == 303
        desk = desk_of(client)
        assert "tyre-arch-rear" in desk.view().build.index["interfaces"]
        fit = desk.verdicts.of(desk.view(), patience_seconds=20).value
        assert fit is not None
        assert fit.interfaces["tyre-arch-rear"].verdict == "not known"
        text = client.get("/interfaces").text
        assert 'id="foundation"' in text
        assert "The one place where parts meet is not known." in text
        assert "Each side; take the lesser." in client.get("/interfaces/tyre-arch-rear").text


def test_nothing_ticked_is_refused_beside_the_list(client: TestClient) -> None:
    response = client.post("/interfaces/usual", data={"form": "usual"})
    assert response.status_code == 422
    assert "othing is ticked" in response.text
    assert client.post("/interfaces/usual", data={"form": "usual", "place": "moon"}).status_code == 422


def test_a_thread_is_written_down_as_it_is_marked_and_a_dry_run_as_it_was_seen(tmp_path: Path) -> None:
    mates = {"id": "thread", "name": "Threads mate", "kind": "match", "mates": ["hose_end", "M10x1"]}
    room = {"id": "room", "name": "Spanner gets in", "kind": "dry-run", "tools": ["11 mm spanner"]}
    build = build_from_data(
        {
            "interfaces": [{"id": "hose", "name": "Hose into the caliper"}],
            "dimensions": [{"id": "hose_end", "name": "Hose end", "designates": "thread"}],
            "conditions": [{"interface": "hose", **mates}, {"interface": "hose", **room}],
        }
    )
    day = demo_as_of()
    with served(tmp_path / "b.fishplate", build) as client:
        client.get("/")
        page = client.get("/interfaces/hose").text
        assert "hose end into M10x1" in page
        assert "tried on the vehicle: in and out, with 11 mm spanner" in page
        path = "/interfaces/dimensions/hose_end"
        assert reading_form(client, path, value="M10x1.0", day=day.isoformat()).status_code == 303
        assert desk_of(client).view().build.readings[0].designation == "M10x1.0"
        assert "M10x1.0" in client.get(path).text
        seen = {"good": "yes", "by": "Me, hose in hand", "what": "room", "day": (day - timedelta(days=1)).isoformat()}
        assert client.post("/interfaces/hose/seen", data=seen, follow_redirects=False).status_code == 303
        desk = desk_of(client)
        fit = desk.verdicts.of(desk.view(), patience_seconds=20).value
        assert fit is not None
        assert fit.conditions["room"].verdict == "fits"
        assert "Seen to be right on the vehicle" in client.get("/interfaces/hose").text
