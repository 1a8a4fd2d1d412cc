"""What the records say reaches the plan: last days, learnt lead times, a written confirmation of fit."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
from icalendar import Calendar

from fishplate.build import Build, build_from_data, facts_of
from fishplate.exchange.calendar_file import CalendarDay, calendar_text, days_of
from fishplate.plan import Plan, plan
from fishplate.plan.draws import Deliveries
from fishplate.records import lead_times
from fishplate.wiring import situation

DAY = date(2026, 3, 2)


def eur(amount: float) -> dict[str, str]:
    return {"amount": str(amount), "currency": "EUR"}


def shop_build(*events: dict[str, Any], **fields: Any) -> Build:
    return build_from_data({
        "owner": {"hours_per_week": 6},
        "parts": [{"id": "pump", "name": "Fuel pump"}, {"id": "hose", "name": "Hose"}],
        "suppliers": [{"id": "shop", "name": "Shop", "country": "NL", "currency": "EUR"}],
        "offers": [
            {"id": "pumps", "supplier": "shop", "part": "pump", "price": eur(80), "core_charge": eur(25),
             "core_days": 60, "lead_weeks": {"low": 2, "likely": 2, "high": 2}, **fields},
            {"id": "hoses", "supplier": "shop", "part": "hose", "price": eur(300),
             "lead_weeks": {"low": 2, "likely": 2, "high": 2}, "returns": {"days": 30}},
        ],
        "workshops": [{"id": "paint", "name": "Paint shop", "withdraw_on": "2026-06-01"}],
        "events": list(events),
    })  # fmt: skip


ORDER = {"kind": "ordered", "id": "o", "day": "2026-03-02", "supplier": "shop",
         "lines": [{"offer": "pumps", "price": eur(80)}]}  # fmt: skip
CAME = {"kind": "arrived", "id": "r", "day": "2026-03-10", "order": "o", "lines": [{"part": "pump"}]}


def planned(build: Build, days: int = 10) -> Plan:
    return plan(situation(build, DAY + timedelta(days=days)), revision=1)


def test_a_plan_names_the_last_days_of_what_was_bought_and_the_check_to_make() -> None:
    found = planned(shop_build(ORDER, CAME))
    kinds = {item.kind: item for item in found.deadlines}
    assert kinds["core"].day == date(2026, 3, 10) + timedelta(days=60)
    assert kinds["withdraw"].day == date(2026, 6, 1)
    assert "bench" in kinds["return"].text  # it meets nothing, so it is measured
    checked = {"kind": "checked", "id": "k", "day": "2026-03-11", "part": "pump", "how": "measured"}
    again = {item.kind: item for item in planned(shop_build(ORDER, CAME, checked)).deadlines}
    assert "bench" not in again["return"].text


def test_what_is_to_be_done_with_a_part_that_can_go_back_leaves_its_right_standing() -> None:
    def told(*events: dict[str, Any]) -> list[str]:
        actions = planned(shop_build(ORDER, CAME, *events, returns={"days": 30, "ended_by": ["offered-up"]})).actions
        return [action.what for action in actions if ":" in action.key]

    def checked(*, good: bool) -> dict[str, Any]:
        return {"kind": "checked", "id": "k", "day": "2026-03-11", "part": "pump", "how": "measured", "good": good}

    assert told() == ["Measure “Fuel pump” on the bench"]
    assert told(checked(good=True)) == []
    assert told(checked(good=False)) == ["Send “Fuel pump” back"]
    found = planned(shop_build(ORDER, CAME, checked(good=False)))
    assert [item.about for item in found.assumptions if item.code == "found-wrong"] == ["part pump"]
    last_day = next(item.text for item in found.deadlines if item.kind == "return")
    assert "; kept all the same, it is expected to cost " in last_day, last_day


def test_a_calendar_reads_back_with_its_days_and_keeps_its_uids() -> None:
    found = planned(shop_build(ORDER, CAME))
    days = list(days_of(found))
    text = calendar_text(days, "Van №1", DAY)
    events = Calendar.from_ical(text).walk("VEVENT")
    assert sorted(event.decoded("dtstart") for event in events) == sorted(item.day for item in set(days))
    assert {"core", "return", "withdraw"} <= {str(event["uid"]).split("-")[0] for event in events}
    moved = [CalendarDay(item.day + timedelta(days=1), item.key, item.summary, item.text) for item in days]
    again = Calendar.from_ical(calendar_text(moved, "Van №1", DAY)).walk("VEVENT")
    assert {str(event["uid"]) for event in again} == {str(event["uid"]) for event in events}
    # RFC 5545: lines end with CR LF and hold at most 75 octets
    lines = text.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75


def test_every_entry_of_a_calendar_has_a_uid_of_its_own_and_an_order_keeps_it_from_week_to_week() -> None:
    two = [CalendarDay(DAY + timedelta(days=days), "warranty pump", "It ends", "It ends") for days in (10, 20)]
    events = Calendar.from_ical(calendar_text(two, "Van", DAY)).walk("VEVENT")
    assert len({str(event["uid"]) for event in events}) == 2
    # RFC 5545: dtstamp in UTC, dtend of a whole day not before its start
    assert all(event.decoded("dtstamp").utcoffset() == timedelta(0) for event in events)
    assert all(event.decoded("dtend") == event.decoded("dtstart") + timedelta(days=1) for event in events)

    data = shop_build(available_from=(DAY + timedelta(days=42)).isoformat()).model_dump(mode="json")
    hours = {"low": 3, "likely": 3, "high": 3}
    data["jobs"] = [{"id": "fit", "name": "Fit", "phase": "assembly", "hours": hours, "to_keep": ["pump"]}]

    def orders(days: int) -> set[str]:
        found = days_of(planned(build_from_data(data), days))
        return {item.key for item in found if item.key.startswith("buy") and item.day > DAY + timedelta(days=days)}

    assert orders(7) == orders(14) == {"buy pumps"}


def test_lead_times_that_were_longer_before_are_longer_in_the_plan() -> None:
    late = {**CAME, "day": "2026-05-11"}
    build, as_of = shop_build(ORDER, late), date(2026, 5, 20)
    facts, offer = facts_of(build, as_of), build.find("offers", "hoses")
    learnt = Deliveries(build, facts, 400, 1, lead_times(build, as_of))
    usual = Deliveries(build, facts, 400, 1)
    assert np.mean(learnt.lead_weeks(offer)) > 1.2 * np.mean(usual.lead_weeks(offer))
    assert [item.code for item in learnt.assumptions.values()] == ["slippage-learnt"]


def test_a_written_confirmation_of_fit_makes_the_risk_of_buying_less() -> None:
    build = shop_build()
    word = {"id": "q", "supplier": "shop", "confirmations": [{"offer": "hoses", "day": "2026-03-05"}]}
    takes = {**word, "confirmations": [{**word["confirmations"][0], "takes_back": True}]}  # type: ignore[dict-item]
    costs = []
    for enquiries in ([], [word], [takes]):
        data = build.model_dump(mode="json", exclude_defaults=True) | {"enquiries": enquiries}
        costs.append(planned(build_from_data(data)).purchase.expected_cost)
    assert costs[0] > costs[1] > costs[2]


def test_a_stock_take_decides_what_is_bought() -> None:
    counted = {"kind": "counted", "id": "k", "day": "2026-03-05", "part": "hose", "quantity": 1}
    gone = {**counted, "quantity": 0, "part": "pump", "id": "l"}
    bought = {line.offer for line in planned(shop_build(ORDER, CAME, counted)).purchase.lines}
    assert "hoses" not in bought
    assert "pumps" not in bought
    gone["day"] = "2026-03-11"
    assert "pumps" in {line.offer for line in planned(shop_build(ORDER, CAME, counted, gone)).purchase.lines}


def test_what_came_damaged_is_waited_for_and_what_was_refunded_is_bought_again() -> None:
    broken = {**CAME, "lines": [{"part": "pump", "faulty": 1, "fault": "damaged"}]}
    claim = {"kind": "claimed", "id": "c", "day": "2026-03-11", "order": "o", "part": "pump"}
    refund = {"kind": "settled", "id": "s", "day": "2026-03-12", "claim": "c", "outcome": "refund"}
    waiting = planned(shop_build(ORDER, broken, claim))
    assert "pumps" not in {line.offer for line in waiting.purchase.lines}
    again = planned(shop_build(ORDER, broken, claim, refund))
    assert "pumps" in {line.offer for line in again.purchase.lines}


def test_what_ends_a_return_right_is_one_thing_or_the_other() -> None:
    terms = {"days": 30, "ended_by": ["bolted", "altered"]}
    kinds = {item.kind: item.text for item in planned(shop_build(ORDER, CAME, returns=terms)).deadlines}
    assert "if it is not bolted or altered by then" in kinds["return"]
