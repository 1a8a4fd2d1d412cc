"""What `plan --json` gives: its keys, their kinds, and sums that add up."""

from __future__ import annotations

import json
import math
from datetime import date
from functools import cache
from typing import Any, Literal

import pytest
from plan_builds import AS_OF, build_of, job, offer, part, plan_of, situation_of, supplier
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter
from test_repeatable import workshop_build

from fishplate.plan import Plan, Situation, plan, plan_data
from fishplate.starters import demo_as_of, load_demo
from fishplate.wiring import situation

Share = Field(ge=0, le=1)
Amount = float
Month = Field(pattern=r"^\d{4}-\d{2}$")


class Shape(BaseModel):
    """An object with these keys and no others."""

    model_config = ConfigDict(extra="forbid", strict=True)


class CostOfWaiting(Shape):
    amount: Amount
    currency: str = Field(pattern="^[A-Z]{3}$")
    weeks: float = Field(gt=0)
    resolution: float = Field(ge=0)
    curve: list[tuple[float, float]]


class Action(Shape):
    kind: Literal["decide", "measure", "buy", "collect", "do"]
    key: str = Field(min_length=1)
    what: str = Field(min_length=1)
    by: date
    free_until: date
    cost_of_waiting: CostOfWaiting
    reasons: list[str]
    cautions: list[str]
    minutes: float | None
    blocked: bool


class Finish(Shape):
    p10: date | None
    p50: date | None
    p80: date | None
    p95: date | None


class Stall(Shape):
    month: str = Month
    chance: float = Share
    hours: float = Field(ge=0)
    causes: list[str]


class Line(Shape):
    part: str
    offer: str
    supplier: str
    units: int = Field(ge=1)
    order_by: date | None
    order_week: int = Field(ge=0)
    route: str
    collection: str | None
    shipment: str
    landed: Amount
    arrives_p50: date | None
    arrives_p90: date | None
    late_chance: float = Share
    late_cost: float = Field(ge=0)
    why: str


class Collection(Shape):
    collection: str
    day: date
    parts: list[str]
    trip_cost: Amount


class Purchase(BaseModel):
    model_config = ConfigDict(strict=True)

    total: float
    gap: float = Share
    lines: list[Line]
    collections: list[Collection]
    expected_cost: float
    unmet: dict[str, float]
    held: dict[str, str]
    note: str
    consignments: list[dict[str, Any]]
    timings: list[dict[str, Any]]
    waits: dict[str, list[list[str]]]


class Fit(Shape):
    interface: str
    condition: str
    verdict: Literal["fits", "does not fit", "in doubt", "not known"]
    chance: float | None
    standard_error: float | None
    shares: dict[str, float]
    text: str


class Cash(Shape):
    month: str = Month
    p10: float
    p50: float
    p90: float


class Question(Shape):
    key: str
    text: str
    worth: float = Field(ge=0)
    why: str


class PlanShape(BaseModel):
    """The keys that are promised; others may come beside them."""

    model_config = ConfigDict(strict=True)

    actions: list[Action]
    finish: Finish
    stall: list[Stall]
    ready_to_buy: list[dict[str, Any]]
    purchase: Purchase
    fit: list[Fit]
    cash: list[Cash]
    assumptions: list[dict[str, str]]
    questions: list[Question] = Field(max_length=3)
    seed: int
    revision: int
    as_of: date


@cache
def made(name: str) -> Plan:
    """A plan of each size, made once."""
    situations: dict[str, Situation] = {
        "workshop": situation_of(workshop_build()),
        "demo": situation(load_demo(), demo_as_of()),
        "empty": situation_of(build_of()),
    }
    return plan(situations[name], revision=7)


PLANS = pytest.mark.parametrize("name", ["workshop", "demo", "empty"])


@PLANS
def test_the_data_of_a_plan_has_the_promised_keys_and_kinds(name: str) -> None:
    text = json.dumps(plan_data(made(name)), allow_nan=False)
    shape = TypeAdapter(PlanShape).validate_json(text)
    assert shape.revision == 7
    assert {"actions", "finish", "purchase"} <= json.loads(text).keys()


@PLANS
def test_lines_and_trips_add_up_to_the_total_to_the_cent(name: str) -> None:
    purchase = made(name).purchase
    total = math.fsum(line.landed for line in purchase.lines) + math.fsum(t.trip_cost for t in purchase.collections)
    assert round(total, 2) == purchase.total


@PLANS
def test_lines_add_up_to_their_consignment_and_its_charges_too(name: str) -> None:
    purchase = made(name).purchase
    assert {line.shipment for line in purchase.lines} == {item.shipment for item in purchase.consignments}
    for item in purchase.consignments:
        lines = math.fsum(line.landed for line in purchase.lines if line.shipment == item.shipment)
        assert round(lines, 2) == item.total
        assert round(math.fsum(line.amount for line in item.lines), 2) == item.total


@PLANS
def test_nothing_is_bought_twice_or_left_out_in_silence(name: str) -> None:
    result = made(name)
    build = load_demo() if name == "demo" else workshop_build() if name == "workshop" else build_of()
    chosen = situation(build, demo_as_of()) if name == "demo" else situation_of(build)
    bought: dict[str, float] = {}
    for line in result.purchase.lines:
        item = build.find("offers", line.offer)
        contents = (
            {item.part: item.pack} if item.part else {c.part: c.quantity for c in build.find("kits", item.kit).contents}
        )
        for part_id, count in contents.items():
            bought[part_id] = bought.get(part_id, 0) + count * line.units
    for part_id in chosen.facts.wanted_parts:
        missing = chosen.facts.missing(build, part_id)
        assert bought.get(part_id, 0) >= missing - 1e-9 or part_id in result.purchase.unmet


@PLANS
def test_quantiles_rise_and_shares_are_shares(name: str) -> None:
    result = made(name)
    days = [day for day in (result.finish.p10, result.finish.p50, result.finish.p80, result.finish.p95) if day]
    assert days == sorted(days)
    for line in result.cash:
        assert line.p10 <= line.p50 <= line.p90
    for fit in result.fit:
        assert all(0 <= share <= 1.001 for share in fit.shares.values())
    assert 0 <= result.purchase.gap <= 1


@PLANS
def test_money_by_month_is_about_what_is_bought_with_work_and_small_things(name: str) -> None:
    result = made(name)
    months = sum(line.p50 for line in result.cash)
    dated = sum(line.landed for line in result.purchase.lines if line.order_by is not None)
    assert months >= 0.97 * dated


def test_the_demo_meets_its_gap_and_time_is_left() -> None:
    assert made("demo").purchase.gap <= 0.01


def test_a_price_in_a_currency_without_cents_adds_up() -> None:
    build = build_of(
        owner={"currency": "JPY"},
        suppliers=[supplier("shop")],
        parts=[part("a"), part("b"), part("c")],
        offers=[offer(f"{name}-offer", name, "33.33 EUR") for name in "abc"],
        jobs=[job("fit", 6, to_keep=["a", "b", "c"])],
    )
    purchase = plan_of(build).purchase
    assert all(line.landed == int(line.landed) for line in purchase.lines)
    assert sum(line.landed for line in purchase.lines) == purchase.total


def test_dates_are_days_and_not_moments() -> None:
    data = plan_data(made("workshop"))
    assert data["as_of"] == AS_OF.isoformat()
    assert all(len(line["order_by"]) == 10 for line in data["purchase"]["lines"])
