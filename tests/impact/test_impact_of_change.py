"""What comes loose by one concrete change, of every kind."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from test_impact import STANCE, euro, job, ordered, worked

from fishplate.build import Build, Refused, build_from_data, check_build, offer_contents
from fishplate.build.commerce import Offer
from fishplate.impact import (
    ImpactReport,
    Step,
    Tweak,
    changes_between,
    cheapest,
    effects,
    impact_of_change,
    moments,
    tweaked,
)

AS_OF = date(2026, 3, 2)
SUPPLIERS: list[dict[str, Any]] = [
    {"id": "s", "name": "Seller", "country": "NL", "currency": "EUR"},
    {"id": "t", "name": "Trader", "country": "NL", "currency": "EUR"},
]


def van(**lists: Any) -> Build:
    return build_from_data({"suppliers": SUPPLIERS, **STANCE, **lists})


def after(build: Build, kind: str, thing: str = "", value: str = "") -> Build:
    changed = tweaked(build, Tweak(kind, thing, value), AS_OF)
    assert not list(check_build(changed))
    return changed


def impact(build: Build, kind: str, thing: str = "", value: str = "") -> ImpactReport:
    return impact_of_change(build, after(build, kind, thing, value), AS_OF, rates={})


def test_another_option_gives_up_its_parts_and_brings_none() -> None:
    report = impact(van(), "choose", "size", "small")
    assert {fate.part: str(fate.fate) for fate in report.parts if fate.certain} == {"tyre": "not ordered"}
    assert report.changes == ("“Tyre size” is decided for “Small”, not “Big”.",)
    assert report.stale == ("tyre_height",)
    assert report.decisions == ()
    assert "steering" in report.cautions[0]


def test_deciding_for_what_is_planned_with_loosens_nothing() -> None:
    choices = [{**STANCE["decisions"][0], "chosen": None, "chosen_on": None, "leading": "big"}]
    report = impact(van(decisions=choices), "choose", "size", "big")
    assert not report.loosens
    assert report.changes == ("“Tyre size” is decided for “Big”.",)


def test_opening_a_decision_again_names_it_and_what_it_holds() -> None:
    releases = [{"id": "rel", "part": "arch", "decisions": ["size"]}]
    report = impact(van(releases=releases), "reopen", "size")
    assert report.decisions == ("size",)
    assert report.releases == ("rel",)
    assert [fate.fate for fate in report.parts if fate.certain] == []


def test_a_part_left_out_keeps_what_was_bought_of_it_on_record() -> None:
    build = van(events=[ordered("2026-01-01"), arrived("2026-01-05")])
    report = impact(build, "drop-part", "rim")
    (fate,) = (fate for fate in report.parts if fate.part == "rim")
    assert (fate.fate, fate.quantity, fate.certain) == ("resellable", 4, True)
    assert after(build, "drop-part", "rim").events == build.events


def arrived(day: str, quantity: float = 4) -> dict[str, Any]:
    lines = [{"part": "rim", "quantity": quantity}]
    return {"kind": "arrived", "id": f"arrived-{day}", "day": day, "order": "order", "lines": lines}


def test_another_part_in_its_place_has_to_be_bought() -> None:
    build = van(events=[ordered("2026-02-27")])
    changed = after(build, "replace", "rim", "Wider rim")
    report = impact_of_change(build, changed, AS_OF, rates={})
    assert [(item.quantity, item.soonest) for item in report.to_buy] == [(4, None)]
    assert "nobody offers it yet" in report.to_buy[0].text
    assert {fate.part for fate in report.parts if fate.certain} == {"rim"}
    assert "rim-instead" in changed.decisions[0].options[0].parts


def test_fewer_of_a_part_give_up_the_mildest_first() -> None:
    build = van(events=[ordered("2026-02-27", quantity=3)])
    report = impact(build, "quantity", "rim", "2")
    # one was not ordered yet, and one of the three on order is over
    assert [(str(f.fate), f.quantity) for f in report.parts if f.part == "rim"] == [
        ("not ordered", 1), ("cancellable", 1)
    ]  # fmt: skip


def test_more_of_a_part_are_to_be_bought_and_its_lead_time_says_when() -> None:
    offers = [{**STANCE["offers"][0], "lead_weeks": {"low": 2, "likely": 3, "high": 4}}, STANCE["offers"][1]]
    report = impact(van(offers=offers), "quantity", "rim", "6")
    (more,) = report.to_buy
    assert (more.quantity, more.soonest, more.latest) == (2, AS_OF + timedelta(weeks=2), AS_OF + timedelta(weeks=4))
    assert not report.loosens


@pytest.mark.parametrize(
    ("kind", "value", "text"),
    [
        ("price", "130", "“Rim” (4): 80 EUR more at the cheapest seller."),
        ("withdraw", "", "“Rim” (4): 160 EUR more at the cheapest seller."),
    ],
)
def test_a_price_or_a_withdrawal_is_told_by_the_next_cheapest_seller(kind: str, value: str, text: str) -> None:
    offers = [*STANCE["offers"], {"id": "other", "supplier": "t", "part": "rim", "price": euro(140)}]
    offers[0] = {**offers[0], "price": euro(110 if kind == "price" else 100)}
    report = impact(van(offers=offers), kind, "rim-offer", value)
    assert [move.text for move in report.prices] == [text]
    assert "rim-offer" in report.offers
    assert "rim" in report.orders


@pytest.mark.parametrize(("kind", "thing"), [("supplier-gone", "s"), ("cancel", "order")])
def test_an_order_that_is_cancelled_has_to_be_bought_again(kind: str, thing: str) -> None:
    report = impact(van(events=[ordered("2026-02-27")]), kind, thing)
    assert [item.quantity for item in report.to_buy] == [4]
    assert report.dates == ("“Rim” (4): what was ordered on 27 February 2026 does not come any more.",)


def test_a_late_order_moves_the_jobs_that_wait_for_it() -> None:
    jobs = [job("fit", to_keep=["rim"]), job("drive", after=[{"job": "fit"}]), job("sew")]
    decisions = [{**STANCE["decisions"][0], "freeze_by": None}]
    build = van(events=[ordered("2026-02-27", promised="2026-03-10")], jobs=jobs, decisions=decisions)
    report = impact(build, "delay", "order", "2026-04-10")
    assert report.dates == ("“Rim” (4): promised for 10 April 2026, before for 10 March 2026.",)
    assert report.waiting == ("drive", "fit")
    assert not report.loosens


def test_a_trip_on_another_day_says_what_is_on_it() -> None:
    routes = [{"id": "depot", "name": "Depot", "kind": "collection", "from_country": "DE"}]
    trips = [{"id": "trip", "route": "depot", "day": "2026-04-04"}]
    order = ordered("2026-02-27", route="depot", collection="trip")
    report = impact(van(events=[order], routes=routes, collections=trips), "collection", "trip", "2026-04-18")
    assert report.dates == ("The trip of 4 April 2026 is made on 18 April 2026, 14 days later; on it: Rim.",)


def test_a_new_reading_takes_the_verdict_but_is_not_to_be_taken_again() -> None:
    report = impact(van(), "reading", "tyre_height", "790")
    assert report.interfaces == ("tyre-arch",)
    assert report.stale == ()
    assert report.readings == ()
    assert report.releases == ("rel",)


def test_a_vehicle_that_changes_makes_only_older_readings_stale() -> None:
    newer = {"id": "r4", "dimension": "arch_height", "value": 801, "day": "2026-03-02", "against": "arches-cut"}
    assert impact(van(), "state", "arches-cut").readings == ("r2",)
    assert impact(van(), "state", "arches-cut").stale == ("arch_height",)
    report = impact(van(readings=[*STANCE["readings"], newer]), "state", "arches-cut")
    assert (report.readings, report.stale, report.interfaces) == (("r2",), (), ("tyre-arch",))


def test_a_condition_that_changes_takes_its_verdict_alone() -> None:
    build = van()
    moved = build.conditions[1].model_copy(update={"at_least": "20 mm"})
    changed = build.model_copy(update={"conditions": (build.conditions[0], moved)})
    assert impact_of_change(build, changed, AS_OF, rates={}).interfaces == ("seat-floor",)


def test_words_alone_change_nothing() -> None:
    build = van()
    changed = build.model_copy(update={"parts": (build.parts[0].model_copy(update={"note": "blue"}), *build.parts[1:])})
    report = impact_of_change(build, changed, AS_OF, rates={})
    assert report.nothing
    assert report.changes == ()


def test_a_job_left_out_loses_the_hours_worked_and_lets_others_come_sooner() -> None:
    report = impact(van(events=[worked("cut"), worked("weld", done=False)]), "drop-job", "weld")
    assert [(redo.job, redo.certain) for redo in report.jobs] == [("weld", True)]
    assert report.more_hours == pytest.approx(-1)
    assert "paint" in report.waiting


def test_hours_of_work_move_everything_by_one_pair_of_hands() -> None:
    report = impact(van(), "job-hours", "trim", "9")
    assert report.more_hours == pytest.approx(4)
    assert any("one pair of hands" in text for text in report.whole)


def test_a_job_after_another_waits_for_it() -> None:
    assert "trim" in impact(van(), "job-after", "trim", "weld").waiting


@pytest.mark.parametrize(("kind", "words"), [("hours", "one pair of hands"), ("cash", "every order")])
def test_the_owners_hours_and_money_move_the_whole(kind: str, words: str) -> None:
    report = impact(van(), kind, value="12")
    assert any(words in text for text in report.whole)
    assert not report.loosens


def test_a_workshop_given_up_moves_its_jobs() -> None:
    shops = [{"id": "shop", "name": "Shop"}]
    jobs = [*STANCE["jobs"][:-1], job("paint", after=[{"job": "weld"}], workshop="shop")]
    report = impact(van(workshops=shops, jobs=jobs), "workshop", "shop")
    assert report.waiting == ("paint",)


def test_decisions_that_bear_on_each_other_are_named_as_a_group() -> None:
    choices = [*STANCE["decisions"], {"id": "arches", "name": "Arches", "options": [{"id": "wide", "name": "Wide"}]}]
    edges = [
        {"source": "size", "target": "arches", "strength": "fixes"},
        {"source": "arches", "target": "size", "strength": "limits"},
    ]
    assert impact(van(decisions=choices, edges=edges), "choose", "size", "small").groups == (("arches", "size"),)


def test_a_change_costs_nothing_until_the_part_is_ordered_and_less_until_it_is_fitted() -> None:
    offers = [
        {**STANCE["offers"][0], "returns": {"days": 30, "ended_by": ["bolted"], "restocking_percent": 10}},
        STANCE["offers"][1],
    ]
    jobs = [*STANCE["jobs"], job("mount", to_keep=["rim"])]
    later = build_from_data(
        {"suppliers": SUPPLIERS, **STANCE, "offers": offers, "jobs": jobs,
         "events": [ordered("2026-03-10"), arrived("2026-03-12"), worked("mount", 5) | {"day": "2026-03-20"}]}
    )  # fmt: skip
    build = later.model_copy(update={"events": ()})
    steps = [
        Step(date(2026, 3, 10), "the rims are ordered", later.events[:1]),
        Step(date(2026, 3, 12), "the rims come", later.events[1:2]),
        Step(date(2026, 3, 20), "the rims are fitted", later.events[2:]),
    ]
    found = moments(build, lambda now: tweaked(now, Tweak("drop-part", "rim"), AS_OF), AS_OF, steps, rates={})
    assert [(item.first, round(item.money), round(item.hours)) for item in found] == [
        (AS_OF, 0, 0),
        (date(2026, 3, 12), 40, 0),  # 10 % of 400 to send it back; the order could be cancelled until then
        (date(2026, 3, 20), 160, 5),
    ]
    assert found[1].ended_by == "the rims are fitted"
    assert cheapest(found) == found[0]
    assert found[0].text == "Until 11 March 2026, before the rims come: it costs nothing."


@pytest.mark.parametrize(
    ("tweak", "words"),
    [
        (Tweak("paint-it", "rim"), "not a way a build can be otherwise"),
        (Tweak("drop-part", "nothing"), "not among the parts"),
        (Tweak("quantity", "rim", "many"), "not a number"),
        (Tweak("choose", "size", "huge"), "not one of its options"),
        (Tweak("job-after", "trim", "trim"), "not another job"),
    ],
)
def test_what_can_not_be_tried_is_refused_with_what_to_do(tweak: Tweak, words: str) -> None:
    with pytest.raises(Refused, match=words):
        tweaked(van(), tweak, AS_OF)


@pytest.mark.parametrize(
    ("locale", "units", "tweak", "value"),
    [
        ("de_DE", "metric", Tweak("quantity", "rim", "1,234"), 1.234),
        ("en_GB", "metric", Tweak("quantity", "rim", "1,234"), 1234),
        ("de_DE", "metric", Tweak("quantity", "rim", "1.234"), 1234),
        ("de_DE", "metric", Tweak("reading", "tyre_height", "700,5"), 700.5),
        ("en_US", "imperial", Tweak("reading", "tyre_height", "27 1/2"), 698.5),
        ("en_US", "imperial", Tweak("reading", "tyre_height", "700 mm"), 700),
    ],
)
def test_what_is_typed_is_read_as_the_owner_writes(locale: str, units: str, tweak: Tweak, value: float) -> None:
    build = van()
    owner = build.owner.model_copy(update={"locale": locale, "units": units})
    found = tweaked(build.model_copy(update={"owner": owner}), tweak, AS_OF)
    held = found.find("parts", "rim").quantity if tweak.kind == "quantity" else found.readings[-1].value
    assert held == pytest.approx(value, rel=1e-12)


def test_a_limit_is_held_with_the_point_whatever_mark_it_is_typed_with() -> None:
    build = van()
    owner = build.owner.model_copy(update={"locale": "de_DE"})
    condition = STANCE["conditions"][0]["id"]
    found = tweaked(build.model_copy(update={"owner": owner}), Tweak("limit", condition, "at least 12,50 mm"), AS_OF)
    assert found.find("conditions", condition).at_least == "12.50 mm"


def test_changes_name_nouns_without_ids_by_what_tells_them_apart() -> None:
    build = van()
    sighting = {"offer": "rim-offer", "day": "2026-03-01", "price": euro(90)}
    seen = build_from_data({"suppliers": SUPPLIERS, **STANCE, "sightings": [sighting]})
    (change,) = changes_between(build, seen)
    assert (change.list_name, change.id, change.before) == ("sightings", "rim-offer 2026-03-01", None)


def test_a_job_more_comes_before_another_and_adds_its_hours() -> None:
    build = van()
    more = after(build, "more-work", "paint", "Seal the pump 6")
    assert more.find("jobs", "seal-the-pump").hours.likely == 6
    assert {link.job for link in more.find("jobs", "paint").after} == {"weld", "seal-the-pump"}
    report = impact_of_change(build, more, AS_OF, rates={})
    assert report.more_hours == pytest.approx(6)
    assert "paint" in report.waiting
    assert not report.loosens


def test_a_part_more_is_to_be_bought_for_its_job() -> None:
    report = impact(van(), "more-parts", "weld", "Valve stem")
    assert [item.text for item in report.to_buy] == ["“Valve stem” (1): to be bought; nobody offers it yet."]


def test_a_limit_that_is_otherwise_has_its_verdict_judged_anew() -> None:
    condition = STANCE["conditions"][0]
    report = impact(van(), "limit", condition["id"], "at least 40 mm")
    assert condition["interface"] in report.interfaces
    assert any("40 mm" in text for text in report.changes)


def test_more_set_aside_and_a_dearer_week_move_the_whole_plan_and_loosen_nothing() -> None:
    allowances = [
        {"id": "found", "kind": "discovery", "hours_percent": 30},
        {"id": "bits", "kind": "small-things", "money_percent": 9},
    ]
    build = van(allowances=allowances)
    assert after(build, "set-aside", "found", "50").find("allowances", "found").hours_percent == 50
    assert after(build, "set-aside", "bits", "12").find("allowances", "bits").money_percent == 12
    for kind, thing in (("set-aside", "found"), ("week-cost", "")):
        report = impact(build, kind, thing, "70")
        assert report.whole
        assert not report.loosens


@pytest.mark.parametrize(
    ("kind", "thing", "value"),
    [
        ("more-work", "weld", "Seal"), ("more-work", "weld", "Seal the pump"), ("more-parts", "weld", " "),
        ("limit", STANCE["conditions"][0]["id"], ""), ("set-aside", "found", "much"),
    ],
)  # fmt: skip
def test_a_change_that_is_not_whole_is_refused(kind: str, thing: str, value: str) -> None:
    build = van(allowances=[{"id": "found", "kind": "discovery"}])
    with pytest.raises(Refused):
        tweaked(build, Tweak(kind, thing, value), AS_OF)


def test_what_offers_bring_is_looked_up_a_few_times_not_once_for_each_part(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = 0

    def counted(build: Build, offer: Offer) -> dict[str, float]:
        nonlocal seen
        seen += 1
        return offer_contents(build, offer)

    monkeypatch.setattr(effects, "offer_contents", counted)
    parts = [{"id": f"p{n}", "name": f"Part {n}"} for n in range(40)]
    offers = [{"id": f"o{n}", "part": f"p{n}", "supplier": "s", "price": euro(9)} for n in range(40)]
    build = van(parts=[*STANCE["parts"], *parts], offers=[*STANCE.get("offers", ()), *offers])
    impact(build, "choose", "size", "small")
    assert 0 < seen <= 3 * len(build.offers)


def test_what_is_otherwise_is_told_by_names_and_units_not_by_ids_and_fields() -> None:
    hours = {"low": 1, "likely": 2, "high": 4}
    data: dict[str, Any] = {
        "owner": {"weekdays": [6], "seasons": []},
        "systems": [{"id": "rear", "name": "Rear axle"}],
        "parts": [{"id": "p1", "name": "Hub"}, {"id": "p2", "name": "Lower arm"}],
        "jobs": [{"id": "j1", "name": "Fit it", "phase": "assembly", "hours": hours, "to_try": ["p1"], "cure_days": 1}],
        "allowances": [{"id": "a1", "kind": "discovery", "system": "rear", "hours_percent": 8}],
    }
    before = build_from_data(data)
    job = {**data["jobs"][0], "to_try": ["p2"], "system": "rear", "cure_days": 3, "months": [11, 12]}
    after = build_from_data(data | {
        "owner": {"weekdays": [6, 7], "seasons": [{"months": [12], "hours": 0}]},
        "jobs": [job],
        "allowances": [{**data["allowances"][0], "hours_percent": 55}],
    })  # fmt: skip
    said = impact_of_change(before, after, date(2026, 3, 2), rates={}).changes
    assert "Your weekdays: Saturday, Sunday, not Saturday." in said
    assert "Your seasons are otherwise." in said
    assert "The allowance “what only shows once it is apart, Rear axle”: hours 55 %, not 8 %." in said
    (told,) = [line for line in said if line.startswith("The job “Fit it”")]
    assert "cure 3 days, not 1 day" in told
    assert "months November, December, not none" in told
    assert "system “Rear axle”, not none" in told
    assert "to try also “Lower arm”; to try no longer “Hub”" in told
