"""What is so on a day, from what happened up to it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from fishplate.build import Build, Facts, build_from_data, facts_of
from fishplate.build.facts import Choice, Incoming, JobState

DAY = date(2026, 3, 15)

BASE: dict[str, Any] = {
    "parts": [
        {"id": "hub", "name": "Hub", "quantity": 2},
        {"id": "disc", "name": "Disc", "quantity": 4},
        {"id": "nut", "name": "Nut", "quantity": 20},
    ],
    "kits": [{"id": "axle-kit", "name": "Axle kit", "contents": [{"part": "hub"}, {"part": "disc", "quantity": 2}]}],
    "suppliers": [{"id": "shop", "name": "Shop", "country": "DE", "currency": "EUR"}],
    "offers": [
        {"id": "hub-shop", "supplier": "shop", "part": "hub", "price": {"amount": "40", "currency": "EUR"}},
        {"id": "nuts-shop", "supplier": "shop", "part": "nut", "pack": 10, "price": {"amount": "5", "currency": "EUR"}},
        {"id": "kit-shop", "supplier": "shop", "kit": "axle-kit", "price": {"amount": "90", "currency": "EUR"}},
    ],
    "states": [{"id": "on-springs", "name": "On its springs"}],
    "jobs": [
        {
            "id": "strip", "name": "Strip", "phase": "strip", "hours": {"low": 5, "likely": 8, "high": 20},
            "changes": ["on-springs"],
        }
    ],
}  # fmt: skip


def build_with(*events: dict[str, Any], **lists: Any) -> Build:
    return build_from_data({**BASE, "events": list(events), **lists})


def happened(kind: str, id_: str, day: int, **fields: Any) -> dict[str, Any]:
    return {"kind": kind, "id": id_, "day": f"2026-03-{day:02}", **fields}


def ordered(id_: str, day: int, *lines: tuple[str, float], **fields: Any) -> dict[str, Any]:
    price = {"amount": "1", "currency": "EUR"}
    rows = [{"offer": offer, "quantity": quantity, "price": price} for offer, quantity in lines]
    return happened("ordered", id_, day, supplier="shop", lines=rows, **fields)


def arrived(id_: str, day: int, *lines: tuple[str, float], **fields: Any) -> dict[str, Any]:
    rows = [{"part": part, "quantity": quantity} for part, quantity in lines]
    return happened("arrived", id_, day, lines=rows, **fields)


def facts(*events: dict[str, Any], day: date = DAY, **lists: Any) -> Facts:
    return facts_of(build_with(*events, **lists), day)


def coming(found: Facts) -> list[tuple[str, float, str]]:
    return [(item.part, item.quantity, item.order) for item in found.incoming]


def test_stock_counts_from_the_day_it_is_there() -> None:
    stock = [{"id": "s1", "part": "hub", "quantity": 1, "since": "2026-03-15"}, {"id": "s2", "part": "hub"}]
    assert facts(stock=stock).owned["hub"] == 2
    assert facts(stock=stock, day=date(2026, 3, 14)).owned["hub"] == 1


def test_what_is_ordered_is_on_its_way_until_it_arrives() -> None:
    order = ordered("o1", 1, ("hub-shop", 2), promised="2026-04-01")
    assert facts(order).incoming == (
        Incoming("hub", 2, "o1", "hub-shop", date(2026, 3, 1), date(2026, 4, 1)),
    )  # fmt: skip
    part = facts(order, arrived("r1", 5, ("hub", 1), order="o1"))
    assert (coming(part), part.owned["hub"]) == ([("hub", 1, "o1")], 1)
    whole = facts(order, arrived("r1", 5, ("hub", 1), order="o1"), arrived("r2", 9, ("hub", 1), order="o1"))
    assert (coming(whole), whole.owned["hub"]) == ([], 2)


def test_an_event_counts_from_its_own_day_on() -> None:
    events = (ordered("o1", 15, ("hub-shop", 1)), arrived("r1", 16, ("hub", 1), order="o1"))
    assert coming(facts(*events, day=date(2026, 3, 14))) == []
    assert coming(facts(*events, day=date(2026, 3, 15))) == [("hub", 1, "o1")]
    assert coming(facts(*events, day=date(2026, 3, 16))) == []


def test_a_kit_and_a_pack_bring_what_they_hold() -> None:
    # two kits of 1 hub and 2 discs; three packs of 10 nuts
    assert coming(facts(ordered("o1", 1, ("kit-shop", 2), ("nuts-shop", 3)))) == [
        ("hub", 2, "o1"),
        ("disc", 4, "o1"),
        ("nut", 30, "o1"),
    ]


def test_one_arrival_fills_the_lines_of_an_order_one_after_the_other() -> None:
    order = ordered("o1", 1, ("hub-shop", 2), ("kit-shop", 1))
    found = facts(order, arrived("r1", 5, ("hub", 2), order="o1"))
    # of 2 + 1 hubs two are here: the kit's one is still to come
    assert [(item.part, item.quantity, item.offer) for item in found.incoming] == [
        ("hub", 1, "kit-shop"),
        ("disc", 2, "kit-shop"),
    ]
    assert coming(facts(order, arrived("r1", 5, ("hub", 3), order="o1"))) == [("disc", 2, "o1")]


def test_more_than_ordered_is_owned_but_never_owed() -> None:
    found = facts(ordered("o1", 1, ("hub-shop", 1)), arrived("r1", 5, ("hub", 3), order="o1"))
    assert (coming(found), found.owned["hub"]) == ([], 3)


def test_an_arrival_of_another_order_leaves_this_one_coming() -> None:
    events = (
        ordered("o1", 1, ("hub-shop", 1)), ordered("o2", 2, ("hub-shop", 1)), arrived("r1", 5, ("hub", 1), order="o2"),
    )  # fmt: skip
    assert coming(facts(*events)) == [("hub", 1, "o1")]


def test_a_cancelled_order_brings_no_more_but_keeps_what_came() -> None:
    events = (
        ordered("o1", 1, ("hub-shop", 2)),
        arrived("r1", 5, ("hub", 1), order="o1"),
        happened("cancelled", "c1", 10, order="o1"),
    )
    assert (coming(facts(*events)), facts(*events).owned["hub"]) == ([], 1)
    assert coming(facts(*events, day=date(2026, 3, 9))) == [("hub", 1, "o1")]


def test_what_goes_back_is_owned_no_more_and_not_on_its_way() -> None:
    events = (
        ordered("o1", 1, ("hub-shop", 2)),
        arrived("r1", 5, ("hub", 2), order="o1"),
        happened("returned", "a-return", 8, part="hub", order="o1"),
    )
    found = facts(*events)
    assert (found.owned["hub"], coming(found)) == (1, [])
    assert found.missing(build_with(*events), "hub") == 1


def test_what_comes_and_goes_on_one_day_comes_first() -> None:
    """The id of the return sorts before that of the arrival."""
    events = (arrived("r1", 8, ("hub", 1)), happened("returned", "a-return", 8, part="hub"))
    assert facts(*events).owned["hub"] == 0


def test_no_more_goes_back_than_is_owned() -> None:
    assert facts(happened("returned", "b1", 8, part="hub", quantity=3)).owned["hub"] == 0


def test_missing_is_what_neither_lies_there_nor_is_on_its_way() -> None:
    stock = [{"id": "s1", "part": "nut", "quantity": 3}]
    build = build_with(ordered("o1", 1, ("nuts-shop", 1)), stock=stock)
    found = facts_of(build, DAY)
    # wanted 20, in stock 3, on their way 10
    assert found.missing(build, "nut") == 7
    assert found.missing(build, "disc") == 4


def test_missing_is_never_below_nothing() -> None:
    build = build_with(stock=[{"id": "s1", "part": "hub", "quantity": 9}])
    assert facts_of(build, DAY).missing(build, "hub") == 0


def test_checking_and_fitting_and_paying_leave_what_is_owned() -> None:
    events = (
        arrived("r1", 5, ("hub", 1)),
        happened("checked", "c1", 6, part="hub", good=False),
        happened("fitted", "f1", 7, part="hub"),
        happened("paid", "p1", 7, amount={"amount": "40", "currency": "EUR"}),
    )
    assert facts(*events).owned == {"hub": 1}


def test_hours_add_up_until_the_job_is_done() -> None:
    events = (
        happened("worked", "w1", 1, job="strip", hours=2),
        happened("worked", "w2", 2, job="strip", hours=3, hours_left=4),
        happened("worked", "w3", 3, job="strip", hours=1),
    )
    assert facts(*events).jobs == {"strip": JobState(6, None, 3)}
    done = facts(*events, happened("worked", "w4", 4, job="strip", hours=5, done=True))
    assert done.jobs == {"strip": JobState(11, date(2026, 3, 4), 0)}
    assert done.is_done("strip")
    assert not done.is_done("weld")


def test_hours_booked_after_the_end_do_not_open_a_job_again_but_hours_left_do() -> None:
    events = (
        happened("worked", "w1", 1, job="strip", hours=2, done=True),
        happened("worked", "w2", 2, job="strip", hours=1),
    )
    assert facts(*events).jobs["strip"] == JobState(3, date(2026, 3, 1), 0)
    again = facts(*events, happened("worked", "w3", 3, job="strip", hours=0, hours_left=4))
    assert again.jobs["strip"] == JobState(3, None, 4)


def test_a_job_that_is_done_changes_the_states_it_names() -> None:
    assert facts(happened("worked", "w1", 4, job="strip", hours=2)).state_changed == {}
    done = happened("worked", "w1", 4, job="strip", hours=2, done=True)
    assert facts(done).state_changed == {"on-springs": date(2026, 3, 4)}
    assert facts(done, happened("changed", "s1", 9, state="on-springs")).state_changed == {
        "on-springs": date(2026, 3, 9)
    }


def test_the_last_look_at_an_interface_stands() -> None:
    looks = [
        {"interface": "arch", "day": "2026-03-10", "good": False, "by": "eye"},
        {"interface": "arch", "day": "2026-03-01", "good": True, "by": "template"},
        {"interface": "arch", "day": "2026-03-20", "good": True, "by": "tape"},
    ]
    found = facts(settled=looks, interfaces=[{"id": "arch", "name": "Arch"}])
    assert found.settled["arch"].by == "eye"


OPTIONS = [
    {"id": "rack", "name": "Rack", "parts": ["hub"], "jobs": ["strip"]},
    {"id": "box", "name": "Box", "parts": ["disc"]},
]


@pytest.mark.parametrize(
    ("fields", "option", "decided", "assumed"),
    [
        ({}, "rack", False, True),
        ({"leading": "box"}, "box", False, False),
        ({"leading": "rack", "chosen": "box"}, "box", True, False),
        ({"chosen": "box", "chosen_on": "2026-03-15"}, "box", True, False),
        ({"chosen": "box", "chosen_on": "2026-03-16"}, "rack", False, True),
        ({"leading": "box", "chosen": "rack", "chosen_on": "2026-03-16"}, "box", False, False),
    ],
)
def test_a_decision_goes_by_what_was_chosen_then_leading_then_first(
    fields: dict[str, str], option: str, decided: bool, assumed: bool
) -> None:
    decision = {"id": "steering", "name": "Steering", "options": OPTIONS, **fields}
    choice = facts(decisions=[decision]).choices["steering"]
    assert (choice.option.id, choice.decided, choice.assumed) == (option, decided, assumed)
    assert isinstance(choice, Choice)


def test_only_what_the_options_taken_call_for_is_wanted() -> None:
    decision = {"id": "steering", "name": "Steering", "options": OPTIONS, "leading": "box"}
    found = facts(decisions=[decision])
    assert found.wanted_parts == {"disc", "nut"}
    assert found.wanted_jobs == frozenset()
    assert facts().wanted_parts == {"hub", "disc", "nut"}


def test_a_part_two_decisions_name_is_wanted_if_either_takes_it() -> None:
    brakes = {"id": "brakes", "name": "Brakes", "options": [{"id": "big", "name": "Big", "parts": ["hub"]}]}
    steering = {"id": "steering", "name": "Steering", "options": OPTIONS, "leading": "box"}
    assert "hub" in facts(decisions=[steering, brakes]).wanted_parts


# part deliveries, faults, claims


def expected(found: Facts) -> list[tuple[str, float, str | None]]:
    return [(item.part, item.quantity, item.promised and item.promised.isoformat()) for item in found.incoming]


def test_a_delay_moves_the_lines_it_names_and_the_last_one_counts() -> None:
    order = ordered("o1", 1, ("hub-shop", 2), ("nuts-shop", 1), promised="2026-04-01")
    later = happened("delayed", "d1", 4, order="o1", offers=["hub-shop"], expected="2026-05-01")
    gone = happened("delayed", "d2", 6, order="o1", offers=["hub-shop"])
    assert expected(facts(order, later)) == [("hub", 2, "2026-05-01"), ("nut", 10, "2026-04-01")]
    found = facts(order, later, gone)
    assert expected(found) == [("hub", 2, None), ("nut", 10, "2026-04-01")]
    assert found.incoming[0].since == date(2026, 3, 6)


def test_a_line_has_its_own_day_where_one_was_given() -> None:
    order = ordered("o1", 1, ("hub-shop", 1), ("nuts-shop", 1), promised="2026-04-01")
    order["lines"][1]["expected"] = "2026-06-01"
    assert expected(facts(order)) == [("hub", 1, "2026-04-01"), ("nut", 10, "2026-06-01")]


def faulty(id_: str, day: int, part: str, count: float, bad: float) -> dict[str, Any]:
    line = {"part": part, "quantity": count, "faulty": bad, "fault": "damaged"}
    return happened("arrived", id_, day, order="o1", lines=[line])


def test_what_came_damaged_is_not_owned_and_is_owed_until_its_claim_ends() -> None:
    order, came = ordered("o1", 1, ("hub-shop", 2)), faulty("r1", 5, "hub", 2, 1)
    claim = happened("claimed", "c1", 6, order="o1", receipt="r1", part="hub")
    found = facts(order, came, claim)
    assert (found.owned["hub"], coming(found)) == (1, [("hub", 1, "o1")])
    assert found.incoming[0].since == date(2026, 3, 5)

    def ended(outcome: str) -> tuple[float, list[tuple[str, float, str]]]:
        end = facts(order, came, claim, happened("settled", "s1", 8, claim="c1", outcome=outcome))
        return end.owned["hub"], coming(end)

    assert ended("refund") == ended("refused") == (1, [])
    assert ended("price-reduction") == (2, [])
    assert ended("replacement") == (1, [("hub", 1, "o1")])


def test_a_replacement_fills_the_order_and_the_faulty_one_goes_back_without_being_owned() -> None:
    events = (
        ordered("o1", 1, ("hub-shop", 1)), faulty("r1", 5, "hub", 1, 1),
        happened("claimed", "c1", 6, order="o1", part="hub"),
        happened("settled", "s1", 7, claim="c1", outcome="replacement"),
        arrived("r2", 9, ("hub", 1), order="o1"),
        happened("returned", "b1", 10, order="o1", claim="c1", part="hub"),
    )  # fmt: skip
    found = facts(*events)
    assert (found.owned["hub"], coming(found)) == (1, [])


def test_what_was_short_and_is_refunded_does_not_come_and_is_not_owned() -> None:
    events = (
        ordered("o1", 1, ("hub-shop", 2)), arrived("r1", 5, ("hub", 1), order="o1"),
        happened("claimed", "c1", 6, order="o1", part="hub", fault="short"),
        happened("settled", "s1", 7, claim="c1", outcome="refund"),
    )  # fmt: skip
    assert (facts(*events).owned["hub"], coming(facts(*events))) == (1, [])


# where things lie, and stock-takes


def lies(found: Facts, part: str) -> tuple[dict[str, float], float]:
    return dict(found.lies[part].places), found.lies[part].fitted


def test_a_stock_take_corrects_what_is_owned_from_its_day_on() -> None:
    stock = [{"id": "s1", "part": "nut", "quantity": 15, "place": "shelf"}]
    counted = happened("counted", "k1", 4, part="nut", quantity=12, place="shelf")
    assert facts(counted, stock=stock).owned["nut"] == 12
    assert facts(counted, stock=stock, day=date(2026, 3, 3)).owned["nut"] == 15
    assert facts(counted, arrived("r1", 6, ("nut", 10)), stock=stock).owned["nut"] == 22


def test_a_stock_take_of_one_place_leaves_the_others_and_what_is_fitted() -> None:
    stock = [{"id": "s1", "part": "nut", "quantity": 6, "place": "shelf"}, {"id": "s2", "part": "nut", "quantity": 4}]
    events = (happened("fitted", "f1", 2, part="nut", quantity=3),
              happened("counted", "k1", 4, part="nut", quantity=1, place="shelf"))  # fmt: skip
    # of ten, the four that lay nowhere in particular go first: one is left there, six on the shelf
    assert lies(facts(events[0], stock=stock), "nut") == ({"": 1, "shelf": 6}, 3)
    assert lies(facts(*events, stock=stock), "nut") == ({"": 1, "shelf": 1}, 3)
    nothing = happened("counted", "k2", 5, part="nut", quantity=0)
    found = facts(*events, nothing, stock=stock)
    assert (lies(found, "nut"), found.owned["nut"]) == (({}, 3), 3)


def test_what_is_moved_lies_elsewhere_and_is_no_more_nor_less() -> None:
    stock = [{"id": "s1", "part": "nut", "quantity": 6, "place": "shelf"}]
    some = happened("moved", "m1", 2, part="nut", quantity=4, from_place="shelf", place="van")
    rest = happened("moved", "m2", 3, part="nut", place="box")
    too_many = happened("moved", "m3", 4, part="nut", quantity=99, from_place="box", place="van")
    assert lies(facts(some, stock=stock), "nut") == ({"shelf": 2, "van": 4}, 0)
    assert lies(facts(some, rest, stock=stock), "nut") == ({"box": 6}, 0)
    assert lies(facts(some, rest, too_many, stock=stock), "nut") == ({"van": 6}, 0)


def test_what_was_fitted_before_its_arrival_was_written_down_is_fitted() -> None:
    found = facts(happened("fitted", "f1", 2, part="hub"), arrived("r1", 5, ("hub", 2), place="shelf"))
    assert lies(found, "hub") == ({"shelf": 1}, 1)


def checked(id_: str, day: int, *, good: bool) -> dict[str, Any]:
    return happened("checked", id_, day, part="hub", good=good)


@pytest.mark.parametrize(
    ("then", "wrong"),
    [
        ([], True),
        ([checked("z", 5, good=True)], False),
        ([happened("returned", "z", 5, part="hub", quantity=2)], False),
        ([happened("fitted", "z", 5, part="hub")], False),
        ([arrived("a-later-one", 5, ("hub", 1))], False),
        ([arrived("z", 4, ("hub", 1))], True),
    ],
)
def test_a_part_found_not_right_is_so_until_something_else_is_known_of_it(
    then: list[dict[str, Any]], wrong: bool
) -> None:
    found = facts(arrived("r", 2, ("hub", 2)), checked("c", 4, good=False), *then)
    assert dict(found.wrong) == ({"hub": date(2026, 3, 4)} if wrong else {})
