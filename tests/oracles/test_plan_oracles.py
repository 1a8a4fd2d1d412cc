"""The plan's purchases against every choice of offer and week, and its cost of waiting against a reckoning anew."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import product
from typing import Any

import numpy as np
import pytest
from plan_builds import build_of, job, offer, part, situation_of, supplier

from fishplate.build import Build
from fishplate.plan import plan
from fishplate.plan.demand import Entry
from fishplate.plan.loop import Round, settle
from fishplate.plan.market import arrivals_of
from fishplate.plan.needs import delay_cost, gates_of
from fishplate.plan.opening import Delays, Opener
from fishplate.plan.recosting import Selection
from fishplate.plan.study import Studied, study
from fishplate.plan.waiting import Waiting, selection_of

MOST_CHOICES = 120_000


def tiny_build(seed: int) -> Build:
    """At most five parts, four jobs, two suppliers, with freight, free freight, a border, packs, sales and rises."""
    rng = np.random.default_rng(seed)
    names = [f"part{n}" for n in range(int(rng.integers(1, 4)))]
    hours = [float(rng.integers(4, 110)) for _ in range(int(rng.integers(1, 4)))]
    jobs = [job(f"job{n}", each, *([f"job{n - 1}"] if n else [])) for n, each in enumerate(hours)]
    for name in names:
        jobs[int(rng.integers(len(jobs)))].setdefault("to_keep", []).append(name)
    route = {"id": "van", "name": "Van", "kind": "courier", "from_country": "NL", "weeks": [0.3, 0.6, 1.5]}
    abroad = {**route, "id": "courier", "from_country": "GB", "advance_percent": 2.5, "entry_fee": "8 EUR"}
    free = {"free_from": f"{int(rng.integers(60, 200))} EUR"} if rng.random() < 0.5 else {}
    foreign = {"route": "courier", "fixed": "12 GBP", "per_kg": "1 GBP"}
    suppliers = [
        supplier("near", freight=[{"route": "van", "fixed": f"{int(rng.integers(4, 15))} EUR", **free}]),
        supplier("far", "GB", "GBP", origin_tax="taken-off", freight=[foreign]),
    ]
    offers = []
    for name in names:
        for seller, currency in (("near", "EUR"), ("far", "GBP")):
            if rng.random() < 0.7 or (seller == "far" and not any(o["part"] == name for o in offers)):
                low = float(rng.integers(1, 4))
                known = {
                    "lead_weeks": [low, low + 1, low + float(rng.integers(2, 6))],
                    "returns": {"days": int(rng.choice([0, 14, 60]))},
                }
                offers.append(
                    offer(f"{name}-{seller}", name, f"{int(rng.integers(20, 160))} {currency}", seller, **known)
                )
    return build_of(
        owner={"week_delay_cost": int(rng.choice([20, 75, 200]))},
        parts=[part(name, mass_kg=float(rng.integers(1, 6)), quantity=int(rng.integers(1, 3))) for name in names],
        jobs=jobs, routes=[route, abroad], suppliers=suppliers, offers=offers,
        price_changes=[{"id": "rise", "day": "2026-04-13", "percent": int(rng.integers(2, 25)), "supplier": "near"}],
    )  # fmt: skip


def settled(build: Build, **fields: Any) -> tuple[Studied, Round]:
    situation = situation_of(build, runs=150, waiting_runs=150, target_gap=0.0005, **fields)
    studied = study(situation, lambda _stage, _share: None)
    chosen, _ = settle(studied, Delays(), lambda _stage, _share: None)
    return studied, chosen


def choices_of(chosen: Round) -> dict[str, list[Entry]]:
    """Part -> every entry that brings it, whole quantities only."""
    found: dict[str, list[Entry]] = defaultdict(list)
    for entry in chosen.market.entries.values():
        (name,) = entry.candidate.covers
        assert entry.candidate.max_units == 1
        found[name].append(entry)
    return found


def allowed_bands(chosen: Round, selection: Selection) -> bool:
    """Whether every shipment keeps to its band's value, with one band for a supplier's week, and reliefs alone."""
    market = chosen.market
    groups, crossings = [], defaultdict(int)
    for key, lines in selection.items():
        shipment = market.shipments[key]
        value = sum(market.entries[candidate].candidate.value * units for candidate, units in lines)
        if not shipment.low_value - 1e-6 <= value <= shipment.high_value + 1e-6:
            return False
        groups.append(shipment.group)
        crossings[shipment.supplier] += shipment.crosses_border
    alone = all(not market.shipments[key].relief or crossings[market.shipments[key].supplier] == 1 for key in selection)
    return alone and len(set(groups)) == len(groups)


def cheapest(chosen: Round) -> float:
    """Least expected cost over every choice of offer, week and way for each part, costed exactly."""
    by_part = choices_of(chosen)
    # within one part, offer and band the exact costs differ by week alone: all weeks are tried
    best = math.inf
    for entries in product(*by_part.values()):
        lines: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for entry in entries:
            lines[entry.candidate.shipment].append((entry.candidate.key, 1))
        selection = {key: tuple(sorted(items)) for key, items in lines.items()}
        if allowed_bands(chosen, selection):
            best = min(best, sum(chosen.recosting.costs(selection).values()))
    return best


@pytest.mark.parametrize("seed", range(24))
def test_no_choice_of_offers_and_weeks_is_cheaper_than_the_plan_s_by_more_than_its_gap(seed: int) -> None:
    _, chosen = settled(tiny_build(seed))
    if math.prod(len(entries) for entries in choices_of(chosen).values()) > MOST_CHOICES:
        pytest.skip("too many choices to try all of them")
    best = cheapest(chosen)
    assert not chosen.purchase.unmet
    assert chosen.purchase.total >= best - 1e-6
    assert chosen.purchase.total <= best * (1 + chosen.purchase.gap) + 0.01
    assert chosen.purchase.total <= best * 1.005 + 0.01


def reckoned_total(studied: Studied, chosen: Round, selection: Selection) -> float:
    """Money and finish of a selection, written from the definitions: landed money, extras but lateness, delay."""
    market, situation = chosen.market, studied.situation
    money = sum(chosen.recosting.costs(selection).values())
    arrivals = dict(studied.incoming)
    for lines in selection.values():
        for candidate, units in lines:
            entry = market.entries[candidate]
            money -= entry.late * units
            for name in entry.candidate.covers:
                arrivals[name] = arrivals_of(market, entry)
    assert studied.simulator is not None
    ends = studied.simulator.run(chosen.gates).ends
    opener = Opener(situation, studied.fit, studied.decided.modelled_weeks, studied.waiting_jobs, studied.told)
    opened = opener.at(arrivals, ends, Delays())
    finish = studied.simulator.finish_weeks(gates_of(studied, opened, arrivals, Delays()))
    return money + delay_cost(situation, finish)


@pytest.mark.parametrize("seed", range(12))
def test_the_cost_of_waiting_of_an_order_is_that_of_its_cheapest_later_place(seed: int) -> None:
    """All else kept, the one order is moved to every later place; the least loss is what waiting is said to cost."""
    studied, chosen = settled(tiny_build(seed))
    run = studied.simulator.run(chosen.gates) if studied.simulator else None
    waiting = Waiting(studied, chosen, run)
    selection = selection_of(chosen)
    base = reckoned_total(studied, chosen, selection)
    by_part = choices_of(chosen)
    line = min(chosen.purchase.lines, key=lambda item: (item.week, item.candidate))
    entry = chosen.market.entries[line.candidate]
    (name,) = entry.candidate.covers
    fast = dict(waiting.cost("buy", [entry.offer.id])[0].curve)
    for weeks in (4.0, 13.0):
        if entry.week >= weeks:
            assert fast[weeks] == pytest.approx(0, abs=0.01)
            continue
        losses = []
        for other in by_part[name]:
            if other.offer.id == entry.offer.id and other.week < weeks:
                continue
            moved = {
                key: tuple(item for item in lines if item[0] != line.candidate) for key, lines in selection.items()
            }
            moved = {key: lines for key, lines in moved.items() if lines}
            key = other.candidate.shipment
            moved[key] = tuple(sorted((*moved.get(key, ()), (other.candidate.key, 1))))
            losses.append(reckoned_total(studied, chosen, moved) - base)
        exact = min(losses)
        # the fast figure picks its place by expected lateness, not by playing each through the work
        assert fast[weeks] >= exact - 0.02
        assert fast[weeks] <= exact + max(3.0, 0.1 * abs(exact))


def test_the_plan_names_the_offers_the_enumeration_names() -> None:
    build = tiny_build(3)
    _, chosen = settled(build)
    result = plan(situation_of(build, runs=150, waiting_runs=150, target_gap=0.0005))
    assert sorted(line.offer for line in result.purchase.lines) == sorted(line.offer for line in chosen.purchase.lines)
