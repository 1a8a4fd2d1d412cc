"""What tells a dimension sooner than the part itself; what is tried on the vehicle, and by when."""

from datetime import date, timedelta
from typing import Any

from plan_builds import AS_OF, asked, build_of, job, offer, part, plan_of, situation_of, supplier

from fishplate.build import Build
from fishplate.plan import Action, Plan, plan

FINAL = {"made_to_order": True, "returns": {"days": 0}}


class Shelf:
    """A memo in memory."""

    def __init__(self) -> None:
        self.kept: dict[str, dict[str, Any]] = {}

    def load(self, key: str) -> dict[str, Any]:
        return self.kept.get(key, {})

    def save(self, key: str, values: dict[str, Any]) -> None:
        self.kept[key] = values


def hub_and_shaft(**lists: Any) -> Build:
    """A shaft that can't go back and takes long, held by a dimension of a hub that is bought late."""
    base: dict[str, Any] = {
        "suppliers": [supplier("shop"), supplier("maker")],
        "parts": [part("shaft"), part("hub")],
        "offers": [
            offer("shaft-offer", "shaft", "200 EUR", "maker", **FINAL, lead_weeks=[4, 5, 6]),
            offer("hub-offer", "hub", "90 EUR", lead_weeks=[6, 7, 8]),
        ],
        "jobs": [job("strip", 12), job("frame", 120, "strip"), job("fit", 12, "frame", to_keep=["shaft", "hub"])],
        "dimensions": [{"id": "spline", "name": "Spline depth", "part": "hub"}],
        "releases": [{"id": "hold", "part": "shaft", "dimensions": ["spline"]}],
    }
    return build_of(**{**base, **lists})


def action_of(found: Plan, key: str) -> Action:
    return next(action for action in found.actions if action.key == key)


def line_of(found: Plan, offer_id: str) -> Any:
    return next(line for line in found.purchase.lines if line.offer == offer_id)


def test_a_supplier_who_can_answer_opens_the_order_before_the_part_is_in_hand() -> None:
    told, waits = plan_of(hub_and_shaft()), plan_of(hub_and_shaft(enquiries=[asked("shop", "hub-offer")]))
    # two weeks for the answer; in hand at the earliest after six, and a week to measure it
    assert line_of(told, "shaft-offer").order_week >= 2
    assert line_of(waits, "shaft-offer").order_week >= 7
    assert line_of(waits, "shaft-offer").order_by >= line_of(waits, "hub-offer").arrives_p50
    assert line_of(told, "hub-offer").order_week > line_of(waits, "hub-offer").order_week


def test_asking_is_said_with_what_it_takes_for_granted() -> None:
    told = plan_of(hub_and_shaft())
    assert action_of(told, "spline").what.startswith("Ask the supplier: Spline depth")
    assert not any("in hand" in reason for reason in action_of(told, "spline").reasons)
    said = [item.text for item in told.assumptions if item.code == "enquiry-answer"]
    assert said == ["Shop is asked for Spline depth, answers within 2 weeks and is right (our own default)"]
    waits = plan_of(hub_and_shaft(enquiries=[asked("shop")]))
    assert action_of(waits, "spline").what.startswith("Measure: Spline depth")
    assert "It waits for “Hub” to be in hand." in action_of(waits, "spline").reasons


def test_an_answer_that_is_still_to_come_is_asked_for_and_a_reading_ends_it() -> None:
    sent = {**asked("shop", "hub-offer"), "answered": None}
    assert action_of(plan_of(hub_and_shaft(enquiries=[sent])), "spline").what.startswith("Ask the supplier")
    reading = {"id": "r", "dimension": "spline", "value": 30, "day": AS_OF, "provenance": "supplier"}
    known = plan_of(hub_and_shaft(readings=[reading]))
    assert not any(action.key == "spline" for action in known.actions)


def test_an_offer_that_is_added_can_be_asked_about_even_with_a_memory_of_before() -> None:
    limits: dict[str, Any] = {
        "interfaces": [{"id": "i", "name": "Shaft in hub", "parts": ["hub", "shaft"], "settle_by": "fit"}],
        "conditions": [{"id": "c", "interface": "i", "name": "Spline engaged", "expression": "spline",
                        "at_least": "25 mm", "late_cost": 600}],
    }  # fmt: skip
    shelf = Shelf()
    only_shaft = hub_and_shaft(**limits, offers=[offer("shaft-offer", "shaft", "200 EUR", "maker", **FINAL)])
    before = plan(situation_of(only_shaft), memo=shelf)
    assert action_of(before, "spline").what.startswith("Measure")
    after = plan(situation_of(hub_and_shaft(**limits)), memo=shelf)
    assert action_of(after, "spline").what.startswith("Ask the supplier")


# --- dry runs ---


def tried(consequence: str, **interface: Any) -> Build:
    return build_of(
        parts=[part("column")],
        offers=[offer("column-offer", "column", "150 EUR")],
        suppliers=[supplier("shop")],
        jobs=[
            job("strip", 12), job("close", 24, "strip"), job("drive", 6, "close", phase="commission"),
            job("trim", 6, "strip", to_keep=["column"]),
        ],
        interfaces=[{"id": "i", "name": "Column", "parts": ["column"], "hazards": ["steering"], **interface}],
        conditions=[{"id": "turns", "interface": "i", "name": "Turns lock to lock", "kind": "dry-run", "tools": ["bar"],
                     "consequence": consequence, "late_cost": 800, "note": "The joint touches first."}],
    )  # fmt: skip


def test_a_dry_run_is_an_action_before_the_job_that_covers_it() -> None:
    action = action_of(plan_of(tried("rework", closed_by="close")), "see-turns")
    assert action.kind == "measure"
    assert action.what == "Try on the vehicle: Turns lock to lock, Column (about 45 min)"
    assert action.by <= AS_OF + timedelta(weeks=2)  # the strip is 12 h at 6 h a week
    assert action.free_until <= action.by
    assert "with bar" in action.reasons[0]
    assert "It waits for “Column” to be in hand." in action.reasons
    assert "The joint touches first." in action.reasons
    assert any(caution.startswith("Steering:") for caution in action.cautions)
    # a quarter of the misfits nobody looked for is found late, at 800; looked for in time they cost a quarter of that
    assert action.cost_of_waiting.amount == 150


def test_a_hazard_is_tried_before_the_first_move_whatever_waiting_costs() -> None:
    grave, slight = (action_of(plan_of(tried(each)), "see-turns") for each in ("hazard", "inconvenience"))
    # strip 12 h and close 24 h at 6 h a week come before the first drive
    assert AS_OF < grave.by <= AS_OF + timedelta(weeks=7)
    assert slight.by > AS_OF + timedelta(weeks=26)
    assert "before it is closed up or first moved" in grave.reasons[0]


def test_what_was_tried_or_is_not_wanted_asks_for_nothing() -> None:
    build = tried("hazard", closed_by="close")
    seen = {"interface": "i", "condition": "turns", "day": date(2026, 2, 1), "by": "me"}
    data = build.model_dump(mode="json")
    assert not [a for a in plan_of(build_of(**{**data, "settled": [seen]})).actions if a.key == "see-turns"]


def test_a_dry_run_that_is_put_off_holds_the_job_that_waits_for_its_place() -> None:
    data = tried("rework").model_dump(mode="json")
    data["jobs"][1]["interfaces"] = ["i"]
    late = [{"kind": "measure", "what": "see-turns", "until": AS_OF + timedelta(weeks=20), "why": "no bar"}]
    soon, put_off = plan_of(build_of(**data)), plan_of(build_of(**{**data, "put_off": late}))
    assert soon.finish.p50 is not None
    assert put_off.finish.p50 is not None
    assert put_off.finish.p50 - soon.finish.p50 > timedelta(weeks=10)


def test_a_part_is_had_early_where_only_it_can_tell_before_its_place_is_to_be_settled() -> None:
    lists: dict[str, Any] = {
        "interfaces": [{"id": "i", "name": "Hub in frame", "parts": ["hub"], "settle_by": "frame"}],
        "conditions": [{"id": "c", "interface": "i", "name": "Spline engaged", "expression": "spline",
                        "at_least": "25 mm", "late_cost": 900}],
        "jobs": [job("strip", 72), job("frame", 120, "strip"), job("fit", 12, "frame", to_keep=["hub"])],
        "offers": [offer("hub-offer", "hub", "90 EUR", lead_weeks=[2, 3, 4])],
        "parts": [part("hub")],
        "releases": [],
    }  # fmt: skip
    waits = line_of(plan_of(hub_and_shaft(**lists, enquiries=[asked("shop")])), "hub-offer")
    told = line_of(plan_of(hub_and_shaft(**lists)), "hub-offer")
    # the frame is begun after twelve weeks, the hub fitted after thirty-two
    assert waits.order_week <= 8
    assert waits.arrives_p50 < AS_OF + timedelta(weeks=12)
    assert told.order_week >= 12
