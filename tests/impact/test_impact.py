"""What comes loose if a part, a dimension or a decision changes."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from fishplate.build import UnknownRateError, build_from_data, facts_of
from fishplate.impact import ImpactReport, PartFate, impact_of

AS_OF = date(2026, 3, 2)


def euro(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def offer(**more: Any) -> dict[str, Any]:
    return {"id": "rim-offer", "supplier": "s", "part": "rim", "price": euro(100), **more}


def ordered(day: str = "2026-02-23", quantity: float = 4, price: float = 100, **more: Any) -> dict[str, Any]:
    lines = [{"offer": "rim-offer", "quantity": quantity, "price": euro(price)}]
    return {"kind": "ordered", "id": "order", "day": day, "supplier": "s", "lines": lines, **more}


def arrived(day: str, quantity: float = 4) -> dict[str, Any]:
    lines = [{"part": "rim", "quantity": quantity}]
    return {"kind": "arrived", "id": f"arrived-{day}", "day": day, "order": "order", "lines": lines}


SHOP: dict[str, Any] = {
    "suppliers": [{"id": "s", "name": "S", "country": "NL", "currency": "EUR"}],
    "parts": [{"id": "rim", "name": "Rim", "quantity": 4}],
}


def impact(target: tuple[str, str], *, rates: dict[str, float] | None = None, **lists: Any) -> ImpactReport:
    build = build_from_data({**SHOP, **lists})
    return impact_of(build, facts_of(build, AS_OF), target, rates=rates or {})


def rim_fate(**lists: Any) -> PartFate:
    (fate,) = (fate for fate in impact(("parts", "rim"), **lists).parts if fate.part == "rim")
    return fate


TERMS = {"days": 30, "ended_by": ["bolted"], "restocking_percent": 10, "freight_back": euro(15)}


def test_a_part_not_ordered_costs_nothing() -> None:
    fate = rim_fate(offers=[offer()])
    assert (fate.fate, fate.quantity, fate.loss, fate.certain) == ("not ordered", 4, 0, True)


def test_an_order_can_be_cancelled_until_the_day_before_it_may_be_dispatched() -> None:
    lead = {"low": 2, "likely": 3, "high": 5}
    fate = rim_fate(offers=[offer(lead_weeks=lead)], events=[ordered()])
    # ordered on 23 February, dispatched on 9 March at the earliest
    assert (fate.fate, fate.until, fate.loss) == ("cancellable", date(2026, 3, 8), 0)


def test_what_may_have_been_dispatched_can_only_go_back_after_it_came() -> None:
    lead = {"low": 0.5, "likely": 2, "high": 3}
    fate = rim_fate(offers=[offer(lead_weeks=lead, returns=TERMS)], events=[ordered()])
    # expected on 9 March, 30 days; 10 % of 400 and 15 for freight
    assert (fate.fate, fate.until) == ("returnable", date(2026, 4, 8))
    assert fate.loss == pytest.approx(55)


def test_a_promised_day_counts_before_the_quoted_lead_time() -> None:
    lead = {"low": 0.5, "likely": 2, "high": 3}
    offers = [offer(lead_weeks=lead, returns=TERMS)]
    assert rim_fate(offers=offers, events=[ordered(promised="2026-03-20")]).until == date(2026, 4, 19)


def test_what_is_in_hand_goes_back_within_the_terms() -> None:
    fate = rim_fate(offers=[offer(returns=TERMS)], events=[ordered("2026-02-01"), arrived("2026-02-10")])
    assert (fate.fate, fate.until) == ("returnable", date(2026, 3, 12))
    assert fate.loss == pytest.approx(0.10 * 400 + 15)
    assert fate.text == "“Rim” (4): returnable until 12 March 2026 (in hand); loss about 55 EUR."


def test_the_core_charge_is_part_of_the_loss() -> None:
    fate = rim_fate(
        offers=[offer(returns=TERMS, core_charge=euro(20))], events=[ordered("2026-02-01"), arrived("2026-02-10")]
    )
    assert fate.loss == pytest.approx(0.10 * 400 + 15 + 4 * 20)


def test_past_its_days_it_is_resold_at_the_stated_share() -> None:
    report = impact(
        ("parts", "rim"), offers=[offer(returns=TERMS)], events=[ordered("2026-01-01"), arrived("2026-01-05")]
    )
    (fate,) = report.parts
    # 40 % of 400 is lost
    assert (fate.fate, fate.until) == ("resellable", None)
    assert fate.loss == pytest.approx(160)
    assert "resale-share" in {note.code for note in report.assumptions}


@pytest.mark.parametrize(
    ("ended_by", "event", "fate"),
    [
        ("offered-up", {"kind": "checked", "part": "rim", "how": "offered-up"}, "resellable"),
        ("offered-up", {"kind": "checked", "part": "rim", "how": "counted"}, "returnable"),
        ("opened", {"kind": "checked", "part": "rim", "how": "counted"}, "resellable"),
        ("bolted", {"kind": "checked", "part": "rim", "how": "offered-up"}, "returnable"),
        ("bolted", {"kind": "fitted", "part": "rim"}, "resellable"),
    ],
)
def test_the_right_to_return_ends_with_what_the_terms_name(ended_by: str, event: dict[str, Any], fate: str) -> None:
    offers = [offer(returns={**TERMS, "ended_by": [ended_by]})]
    events = [ordered("2026-02-01"), arrived("2026-02-10"), {"id": "e", "day": "2026-02-20", **event}]
    assert rim_fate(offers=offers, events=events).fate == fate


def test_work_with_the_part_ends_the_right_as_fitting_does() -> None:
    job = {
        "id": "fit", "name": "Fit rims", "phase": "assembly", "hours": {"low": 1, "likely": 2, "high": 3},
        "to_keep": ["rim"],
    }  # fmt: skip
    worked = {"kind": "worked", "id": "w", "day": "2026-02-25", "job": "fit", "hours": 1}
    report = impact(
        ("parts", "rim"),
        offers=[offer(returns=TERMS)],
        events=[ordered("2026-02-01"), arrived("2026-02-10"), worked],
        jobs=[job],
    )
    assert report.parts[0].fate == "resellable"
    assert [(redo.job, redo.hours, redo.certain) for redo in report.jobs] == [("fit", 1, True)]


@pytest.mark.parametrize("events", [[ordered()], [ordered("2026-02-01"), arrived("2026-02-10")]])
def test_what_was_made_to_order_is_lost(events: list[dict[str, Any]]) -> None:
    fate = rim_fate(offers=[offer(made_to_order=True)], events=events)
    assert (fate.fate, fate.loss) == ("lost", pytest.approx(400))


def test_a_partial_delivery_has_two_fates() -> None:
    lead = {"low": 6, "likely": 7, "high": 8}
    events = [ordered("2026-02-20"), arrived("2026-03-01", 1)]
    fates = impact(("parts", "rim"), offers=[offer(returns=TERMS, lead_weeks=lead)], events=events).parts
    assert [(fate.fate, fate.quantity) for fate in fates] == [("returnable", 1), ("cancellable", 3)]


def test_what_already_went_back_is_not_counted() -> None:
    back = {"kind": "returned", "id": "back", "day": "2026-02-20", "order": "order", "part": "rim", "quantity": 3}
    events = [ordered("2026-02-01"), arrived("2026-02-10"), back]
    fates = impact(("parts", "rim"), offers=[offer(returns=TERMS)], events=events).parts
    assert [(fate.fate, fate.quantity) for fate in fates] == [("returnable", 1), ("not ordered", 3)]


def test_what_was_owned_before_counts_no_outlay() -> None:
    fate = rim_fate(stock=[{"id": "old", "part": "rim", "quantity": 4}])
    assert (fate.fate, fate.loss) == ("resellable", 0)


def test_a_kit_shares_its_price_over_its_pieces() -> None:
    kit = {"id": "set", "name": "Set", "contents": [{"part": "rim", "quantity": 4}, {"part": "cap", "quantity": 4}]}
    report = impact(
        ("parts", "rim"),
        parts=[*SHOP["parts"], {"id": "cap", "name": "Cap", "quantity": 4}],
        kits=[kit],
        offers=[{"id": "rim-offer", "supplier": "s", "kit": "set", "price": euro(800), "made_to_order": True}],
        events=[ordered(quantity=1, price=800)],
    )
    assert [fate.part for fate in report.parts] == ["rim"]
    assert report.parts[0].loss == pytest.approx(400)
    assert "kit-price-share" in {note.code for note in report.assumptions}


def test_foreign_money_is_turned_at_the_rate_and_refused_without_one() -> None:
    price = {"amount": "100", "currency": "GBP"}
    lists = {
        "offers": [offer(price=price, made_to_order=True)],
        "events": [ordered() | {"lines": [{"offer": "rim-offer", "quantity": 4, "price": price}]}],
    }
    assert impact(("parts", "rim"), rates={"GBP": 1.2}, **lists).money_low == pytest.approx(480)
    with pytest.raises(UnknownRateError):
        impact(("parts", "rim"), **lists)


def test_events_after_as_of_have_not_happened() -> None:
    fate = rim_fate(offers=[offer(returns=TERMS)], events=[ordered("2026-03-05")])
    assert fate.fate == "not ordered"


def job(id_: str, **more: Any) -> dict[str, Any]:
    return {
        "id": id_, "name": id_.capitalize(), "phase": "structure", "hours": {"low": 1, "likely": 5, "high": 9}, **more,
    }  # fmt: skip


def worked(id_: str, hours: float = 4, *, done: bool = True) -> dict[str, Any]:
    return {"kind": "worked", "id": f"w-{id_}", "day": "2026-02-20", "job": id_, "hours": hours, "done": done}


STANCE: dict[str, Any] = {
    "parts": [
        {"id": "rim", "name": "Rim", "quantity": 4},
        {"id": "tyre", "name": "Tyre", "quantity": 4},
        {"id": "arch", "name": "Arch section"},
        {"id": "seat", "name": "Seat"},
    ],
    "offers": [
        offer(),
        {"id": "arch-offer", "supplier": "s", "part": "arch", "price": euro(50), "made_to_order": True},
    ],
    "states": [{"id": "arches-cut", "name": "Arches cut"}],
    "interfaces": [
        {"id": "tyre-arch", "name": "Tyre to arch", "parts": ["tyre", "arch"], "hazards": ["steering"]},
        {"id": "seat-floor", "name": "Seat to floor", "parts": ["seat"]},
    ],
    "dimensions": [
        {"id": "tyre_height", "name": "Tyre height", "part": "tyre"},
        {"id": "arch_height", "name": "Arch height"},
        {"id": "seat_height", "name": "Seat height"},
    ],
    "readings": [
        {"id": "r1", "dimension": "tyre_height", "value": 700, "day": "2026-02-01"},
        {"id": "r2", "dimension": "arch_height", "value": 800, "day": "2026-02-01", "against": "arches-cut"},
        {"id": "r3", "dimension": "seat_height", "value": 300, "day": "2026-02-01"},
    ],
    "conditions": [
        {
            "id": "c1", "interface": "tyre-arch", "name": "Gap", "expression": "arch_height - tyre_height",
            "at_least": "15 mm",
        },
        {"id": "c2", "interface": "seat-floor", "name": "Gap", "expression": "seat_height", "at_least": "15 mm"},
    ],
    "releases": [{"id": "rel", "part": "arch", "interfaces": ["tyre-arch"]}],
    "decisions": [
        {
            "id": "size", "name": "Tyre size", "chosen": "big", "chosen_on": "2026-01-10", "freeze_by": "cut",
            "late_hours": {"low": 2, "likely": 4, "high": 6},
            "options": [
                {"id": "big", "name": "Big", "parts": ["tyre", "rim"]},
                {"id": "small", "name": "Small", "parts": ["rim"]},
            ],
        }
    ],
    "jobs": [
        job("cut", interfaces=["tyre-arch"], changes=["arches-cut"]),
        job("weld", after=[{"job": "cut"}]),
        job("trim", to_try=["tyre"], changes=["arches-cut"]),
        job("paint", after=[{"job": "weld"}]),
    ],
}  # fmt: skip


def test_a_part_takes_its_dimensions_verdicts_and_releases_with_it() -> None:
    report = impact(("parts", "tyre"), **STANCE)
    assert report.stale == ("tyre_height",)
    assert report.readings == ("r1",)
    assert report.interfaces == ("tyre-arch",)
    assert report.releases == ("rel",)
    assert report.decisions == ("size",)
    assert {fate.part: fate.certain for fate in report.parts} == {"tyre": True, "arch": False}
    assert report.jobs == ()
    assert "steering" in report.cautions[0]


def test_a_dimension_that_changes_takes_the_verdict_and_what_was_released_on_it() -> None:
    events = [
        {
            "kind": "ordered", "id": "o2", "day": "2026-02-25", "supplier": "s",
            "lines": [{"offer": "arch-offer", "quantity": 1, "price": euro(50)}],
        }
    ]  # fmt: skip
    report = impact(("dimensions", "tyre_height"), **STANCE, events=events)
    assert report.stale == ("tyre_height",)
    assert report.releases == ("rel",)
    lost = next(fate for fate in report.parts if fate.part == "arch")
    assert (lost.fate, lost.certain) == ("lost", False)
    # nothing is certain; half of the doubtful 50 is likely
    assert (report.money_low, report.money_likely, report.money_high) == (0, 25, 50)
    assert "impact-doubt-share" in {note.code for note in report.assumptions}


def test_jobs_done_on_a_verdict_are_looked_at_again_and_those_after_them_listed() -> None:
    report = impact(("dimensions", "tyre_height"), **STANCE, events=[worked("cut"), worked("weld")])
    assert [(redo.job, redo.hours, redo.certain) for redo in report.jobs] == [("cut", 4, False)]
    assert report.following == ("weld",)
    assert (report.hours_low, report.hours, report.hours_high) == (0, 2, 4)
    # the cut arch itself stands as long as the job is only looked at
    assert report.readings == ("r1",)


def test_work_to_be_redone_changes_the_state_that_readings_were_taken_against() -> None:
    report = impact(("parts", "tyre"), **STANCE, events=[worked("trim")])
    assert [(redo.job, redo.certain) for redo in report.jobs] == [("trim", True)]
    assert report.stale == ("arch_height", "tyre_height")
    assert report.readings == ("r1", "r2")


def test_what_is_unrelated_stays() -> None:
    report = impact(("dimensions", "seat_height"), **STANCE)
    assert report.interfaces == ("seat-floor",)
    assert [fate.part for fate in report.parts] == ["seat"]
    assert report.cautions == ()


def test_switching_an_option_gives_up_only_what_no_other_option_calls_for() -> None:
    report = impact(("decisions", "size"), **STANCE)
    assert {fate.part for fate in report.parts if fate.certain} == {"tyre"}
    assert report.decisions == ("size",)
    assert report.stale == ("tyre_height",)
    assert report.hours == 0


def test_a_change_after_the_freeze_adds_the_stated_hours() -> None:
    report = impact(("decisions", "size"), **STANCE, events=[worked("cut")])
    # 4 h on average for the late change; cut itself is looked at again, half of its 4 h
    assert (report.hours_low, report.hours, report.hours_high) == (4, 6, 8)


def test_decisions_that_rest_on_it_are_open_again() -> None:
    choices = [
        *STANCE["decisions"],
        {
            "id": "arches", "name": "Arches", "chosen": "wide", "chosen_on": "2026-02-01",
            "options": [{"id": "wide", "name": "Wide", "parts": ["arch"]}],
        },
    ]  # fmt: skip
    edges = [{"source": "size", "target": "arches", "strength": "fixes"}]
    report = impact(("decisions", "size"), **{**STANCE, "decisions": choices}, edges=edges)
    assert report.decisions == ("arches", "size")
    # the rim is called for whichever size is chosen
    assert {fate.part: fate.certain for fate in report.parts} == {"tyre": True, "arch": False}


def test_the_summary_says_it_in_a_sentence() -> None:
    events = [ordered("2026-02-01"), arrived("2026-02-10")]
    text = impact(("parts", "rim"), offers=[offer(returns=TERMS)], events=events).text
    assert text == (
        "If the part “Rim” changes: 1 part returnable until 12 March 2026, 55 EUR. Money lost: about 55 EUR."
    )


def test_nothing_comes_loose_where_nothing_rests() -> None:
    dimensions = [{"id": "shelf", "name": "Shelf width"}]
    text = impact(("dimensions", "shelf"), dimensions=dimensions).text
    assert text == "If the dimension “Shelf width” changes: 1 dimension to take again."


def test_other_kinds_are_refused() -> None:
    with pytest.raises(ValueError, match="parts, dimensions, decisions"):
        impact(("jobs", "x"))
    with pytest.raises(KeyError):
        impact(("parts", "nothing"))
