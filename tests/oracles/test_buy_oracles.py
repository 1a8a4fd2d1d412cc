"""The purchase programme against enumeration, and against the same programme handed whole to the solver."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from itertools import product
from math import ceil, inf
from pathlib import Path

import numpy as np
import pytest

from fishplate.buy import Candidate, PurchasePlan, PurchaseProblem, Shipment, Trip, recost_by_model, solve
from fishplate.buy.grid import compile_grid


def tiny(seed: int) -> PurchaseProblem:
    """A random problem small enough to enumerate: tiers, relief, free freight, kits, packs, trips, cash."""
    rng = np.random.default_rng(seed)
    parts = [f"p{k}" for k in range(int(rng.integers(2, 5)))]
    needs = {part: float(rng.choice([1, 1, 1, 2, 1.5])) for part in parts}
    trips = (Trip("van", float(rng.integers(0, 60)), float(rng.choice([6, 12, 50])), bool(rng.random() < 0.2)),)
    shipments: list[Shipment] = []
    for supplier in range(int(rng.integers(1, 4))):
        for week in range(int(rng.integers(1, 3))):
            shipments += _bands(rng, supplier, week)
    candidates = []
    for shipment in shipments:
        for number in range(int(rng.integers(1, 3))):
            kit = rng.random() < 0.3 and len(parts) > 1
            covered = rng.choice(len(parts), 2, replace=False) if kit else [rng.integers(len(parts))]
            covers = {parts[int(p)]: float(rng.choice([1, 1, 2, 0.5])) for p in covered}
            cost = float(rng.integers(5, 60)) + 0.25 * int(rng.integers(4))
            candidates.append(
                Candidate(f"{shipment.key}c{number}", f"o{number}", shipment.key, covers, cost,
                          float(rng.integers(0, 70)), float(rng.integers(1, 6)),
                          ((int(rng.integers(3)), cost),), int(rng.integers(1, 4)))
            )  # fmt: skip
    picked = rng.permutation(len(candidates))[:8]
    limits = tuple((m, float(rng.integers(10, 80) * (m + 1))) for m in (0, 2)) if rng.random() < 0.5 else ()
    penalty = {part: float(rng.choice([60, 150, 400])) for part in parts}
    return PurchaseProblem(needs, tuple(candidates[k] for k in picked), tuple(shipments), trips, limits, penalty)


def _bands(rng: np.random.Generator, supplier: int, week: int) -> list[Shipment]:
    name, kind = f"s{supplier}w{week}", rng.random()
    fixed, freight = float(rng.integers(0, 25)), float(rng.integers(0, 20))
    free = float(rng.integers(20, 120)) if rng.random() < 0.5 else None
    month = int(rng.integers(3)) if rng.random() < 0.5 else None
    if kind < 0.35:
        return [Shipment(name, name, f"s{supplier}", None, None, week, fixed, freight, free, cash_month=month)]
    if kind < 0.6:
        low = float(rng.choice([0, 0, 30]))
        return [Shipment(name, name, f"s{supplier}", "depot", "van", week, fixed, freight, free, low, cash_month=month)]
    edge = float(rng.integers(30, 90))
    relief = bool(rng.random() < 0.6)
    low_band = Shipment(f"{name}a", name, f"s{supplier}", "post", None, week, 0.0, freight, free, 0.0, edge, relief)
    return [low_band, Shipment(f"{name}b", name, f"s{supplier}", "post", None, week, fixed, freight, free, edge, inf)]


def rich(seed: int) -> PurchaseProblem:
    """As `tiny`, with prices by count, deposits, balances and cores, an allowance, credit, and suppliers that cost."""
    rng = np.random.default_rng(1000 + seed)
    problem = tiny(seed)
    by_key = {s.key: s for s in problem.shipments}
    candidates: list[Candidate] = []
    for c in problem.candidates[:6]:
        deposit = round(c.cost * float(rng.choice([0.2, 0.5])), 2)
        core = float(rng.choice([0.0, 0.0, 15.0]))
        cash = ((0, deposit), (1, c.cost - deposit + core), (2, -core))
        collected = by_key[c.shipment].collection is not None
        c = replace(c, cash=cash, relieved=float(rng.integers(0, 12)) if collected else 0.0)
        candidates.append(c)
        if rng.random() < 0.5 and len(candidates) < 8:
            least, price = int(rng.integers(2, 4)), round(c.cost * float(rng.uniform(0.3, 0.9)), 2)
            candidates.append(replace(c, key=f"{c.key}from{least}", cost=price, cash=((0, price),), min_units=least,
                                      max_units=4))  # fmt: skip
    trips = tuple(replace(t, allowance=float(rng.choice([0, 8, 20])), cash_month=1) for t in problem.trips)
    limits = tuple((m, float(rng.integers(5, 60) * (m + 1))) for m in (0, 1, 2))
    return replace(
        problem, candidates=tuple(candidates), trips=trips, cash_limits=limits if rng.random() < 0.7 else (),
        credit=float(rng.choice([0, 20, 60])), credit_cost=float(rng.choice([0.02, 0.3])),
        supplier_cost=float(rng.choice([0, 0, 15, 60])), cash_penalty=float(rng.choice([3, 10])),
    )  # fmt: skip


def bulky(seed: int) -> PurchaseProblem:
    """As `rich`, most of it to be collected in a van whose room gives out, before its mass does or after."""
    rng = np.random.default_rng(2000 + seed)
    problem = rich(seed)
    shipments = tuple(
        replace(s, route="depot", collection="van", relief=False) if rng.random() < 0.7 else s
        for s in problem.shipments
    )
    candidates = tuple(replace(c, volume_m3=0.05 * int(rng.integers(0, 9))) for c in problem.candidates[:6])
    trips = tuple(replace(t, capacity_m3=0.1 * int(rng.integers(1, 6))) for t in problem.trips)
    return replace(problem, candidates=candidates, shipments=shipments, trips=trips)


def cost_of(problem: PurchaseProblem, units: dict[str, int]) -> float:
    """Cost with penalties of a selection, written from the definitions alone; infinite if it cannot travel so."""
    shipments, trips = {s.key: s for s in problem.shipments}, {t.id: t for t in problem.trips}
    held: dict[str, list[tuple[Candidate, int]]] = {}
    for c in problem.candidates:
        if units[c.key]:
            held.setdefault(c.shipment, []).append((c, units[c.key]))
    used = [shipments[key] for key in held]
    if len({s.group for s in used}) < len(used):
        return inf
    if any(0 < units[c.key] < c.min_units for c in problem.candidates):
        return inf
    abroad = [s for s in used if s.relief or (s.crosses_border and s.route is not None)]
    if any(s.relief and sum(o.supplier == s.supplier for o in abroad) > 1 for s in used):
        return inf
    total, spent = 0.0, dict.fromkeys((m for m, _ in problem.cash_limits), 0.0)

    def pay(month: int | None, amount: float) -> None:
        for limit in spent:
            spent[limit] += amount if month is not None and month <= limit else 0.0

    for s in used:
        value = sum(c.value * n for c, n in held[s.key])
        if not s.low_value - 1e-6 <= value <= s.high_value + 1e-6:
            return inf
        free = s.free_freight_from is not None and value >= s.free_freight_from - 1e-6
        charges = s.fixed + (0.0 if free else s.freight_fixed)
        total += charges + sum(c.cost * n for c, n in held[s.key])
        pay(s.cash_month, charges)
    for c in problem.candidates:
        for month, amount in c.cash:
            pay(month, amount * units[c.key])
    for trip_id in {s.collection for s in used} - {None}:
        trip = trips[str(trip_id)]
        mass = sum(c.mass_kg * n for s in used if s.collection == trip_id for c, n in held[s.key])
        if trip.capacity_kg is not None and mass > trip.capacity_kg + 1e-9:
            return inf
        volume = sum(c.volume_m3 * n for s in used if s.collection == trip_id for c, n in held[s.key])
        if trip.capacity_m3 is not None and volume > trip.capacity_m3 + 1e-9:
            return inf
        borne = sum(c.relieved * n for s in used if s.collection == trip_id for c, n in held[s.key])
        total -= min(borne, trip.allowance)
        if not trip.paid_anyway:
            total += trip.fixed
            pay(trip.cash_month, trip.fixed)
    for part, need in problem.needs.items():
        got = sum(c.covers.get(part, 0.0) * units[c.key] for c in problem.candidates)
        total += problem.unmet_penalty[part] * max(0.0, need - got)
    total += problem.supplier_cost * len({s.supplier for s in used})
    over = max(0.0, max((spent[m] - limit for m, limit in problem.cash_limits), default=0.0))
    return (
        total + problem.credit_cost * min(over, problem.credit) + problem.cash_penalty * max(0.0, over - problem.credit)
    )


def most_useful(problem: PurchaseProblem, candidate: Candidate) -> int:
    """No more units than would cover every part of the candidate alone, or than its price asks for."""
    wanted = max(ceil(problem.needs[part] / q - 1e-9) for part, q in candidate.covers.items())
    return min(candidate.max_units, max(wanted, candidate.min_units))


def enumerated(problem: PurchaseProblem) -> float:
    """Least cost over all selections."""
    ranges = [range(most_useful(problem, c) + 1) for c in problem.candidates]
    keys = [c.key for c in problem.candidates]
    return min(cost_of(problem, dict(zip(keys, counts, strict=True))) for counts in product(*ranges))


def solved(problem: PurchaseProblem) -> PurchasePlan:
    return solve(problem, recost=recost_by_model(problem), time_limit=20, gap=0.0)


@pytest.mark.parametrize("block", range(8))
def test_tiny_problems_are_solved_to_the_enumerated_optimum(block: int) -> None:
    for seed in range(30 * block, 30 * block + 30):
        problem = tiny(seed)
        plan = solved(problem)
        best = enumerated(problem)
        units = {c.key: plan.units.get(c.key, 0) for c in problem.candidates}
        assert cost_of(problem, units) == pytest.approx(best, abs=1e-5), seed
        money = replace(problem, unmet_penalty=dict.fromkeys(problem.needs, 0.0), cash_limits=())
        assert plan.total == pytest.approx(cost_of(money, units), abs=1e-6), seed
        assert plan.bound <= best + 1e-5, seed
        assert plan.optimal, seed


def check_rich(seeds: range, made: Callable[[int], PurchaseProblem] = rich) -> None:
    """The solved plan costs what the enumerated best costs, its figures agree, and its bound holds."""
    for seed in seeds:
        problem = made(seed)
        plan = solved(problem)
        best = enumerated(problem)
        units = {c.key: plan.units.get(c.key, 0) for c in problem.candidates}
        assert cost_of(problem, units) == pytest.approx(best, abs=1e-5), seed
        uncounted = sum(problem.unmet_penalty[part] * need for part, need in compile_grid(problem).hopeless)
        assert plan.total + plan.penalty + uncounted == pytest.approx(best, abs=1e-5), seed
        assert plan.bound <= best + 1e-5, seed
        assert plan.optimal, seed


@pytest.mark.parametrize("block", range(2))
def test_prices_by_count_credit_and_allowances_are_solved_to_the_enumerated_optimum(block: int) -> None:
    check_rich(range(30 * block, 30 * block + 30))


def test_a_van_that_has_room_for_so_much_is_filled_as_enumeration_says() -> None:
    check_rich(range(20), bulky)
    overfilled = 0
    for problem in map(bulky, range(20)):
        trips = tuple(replace(trip, capacity_m3=None) for trip in problem.trips)
        units = solved(replace(problem, trips=trips)).units
        overfilled += cost_of(problem, {c.key: units.get(c.key, 0) for c in problem.candidates}) == inf
    assert overfilled > 3


@pytest.mark.long
def test_the_same_of_two_hundred_more() -> None:
    check_rich(range(60, 260))


@pytest.mark.parametrize("seed", range(40))
def test_a_plan_started_from_the_last_one_is_as_good_as_a_fresh_one(seed: int) -> None:
    problem = tiny(seed)
    if not problem.candidates:
        pytest.skip("nothing to buy in this instance")
    first = solved(problem)
    dearer = replace(problem.candidates[0], cost=problem.candidates[0].cost * 1.5)
    changed = replace(problem, candidates=(dearer, *problem.candidates[1:]))
    again = solve(changed, recost=recost_by_model(changed), time_limit=20, gap=0.0, start=first)
    units = {c.key: again.units.get(c.key, 0) for c in changed.candidates}
    assert cost_of(changed, units) == pytest.approx(enumerated(changed), abs=1e-5)


def test_fixed_choices_cost_what_enumeration_says() -> None:
    compared = 0
    for seed in range(80):
        problem = tiny(seed)
        forced = problem.candidates[0]
        ranges = [range(1, 2), *(range(most_useful(problem, c) + 1) for c in problem.candidates[1:])]
        keys = [c.key for c in problem.candidates]
        best = min(cost_of(problem, dict(zip(keys, counts, strict=True))) for counts in product(*ranges))
        problem = replace(problem, fixed={forced.key: 1})
        if best == inf:
            with pytest.raises(ValueError, match="fixed choices"):
                solved(problem)
            continue
        plan = solved(problem)
        assert plan.units[forced.key] == 1
        units = {key: plan.units.get(key, 0) for key in keys}
        assert cost_of(problem, units) == pytest.approx(best, abs=1e-5), seed
        compared += 1
    assert compared > 50


SHARED = Path(__file__).resolve().parents[2].parent / "shared" / "openbench"


def shared(name: str) -> str:
    """Text of a benchmark file kept outside the repository."""
    file = SHARED / name
    if not file.exists():
        pytest.skip(f"LOUD: {name} is not at hand, so the benchmark optima were not compared")
    return file.read_text(encoding="utf-8")


@pytest.mark.parametrize(("name", "optimum"), [("cap71", 932615.750), ("cap134", 928941.750)])
def test_warehouse_location_optima(name: str, optimum: float) -> None:
    """Beasley's OR-Library, uncapacitated warehouse location: a site is a shop, its fixed cost the delivery charge."""
    numbers = iter(float(word) for word in shared(f"uflp/{name}.txt").split())
    sites, customers = int(next(numbers)), int(next(numbers))
    fixed = [(next(numbers), next(numbers))[1] for _ in range(sites)]
    shipments = tuple(Shipment(f"s{k:02}", f"s{k:02}", f"s{k:02}", None, None, 0, fixed[k]) for k in range(sites))
    candidates = []
    for customer in range(customers):
        next(numbers)
        candidates += [
            Candidate(f"s{k:02}c{customer}", f"c{customer}", f"s{k:02}", {f"c{customer}": 1.0}, next(numbers), 1.0)
            for k in range(sites)
        ]
    plan = solved(PurchaseProblem({f"c{c}": 1.0 for c in range(customers)}, tuple(candidates), shipments))
    assert plan.total == pytest.approx(optimum, abs=0.01)
    assert plan.optimal


def test_multi_shop_optima_proven_by_two_other_solvers() -> None:
    """Forty-two generated baskets, half with free delivery from a spend threshold."""
    instances = json.loads(shared("multishop/generated.json"))["instances"]
    for instance in instances:
        shipments = tuple(
            Shipment(f"s{s:02}", f"s{s:02}", f"s{s:02}", None, None, 0, 0.0, float(delivery), free)
            for s, (delivery, free) in enumerate(zip(instance["delivery"], instance["free_from"], strict=True))
        )
        candidates = tuple(
            Candidate(f"s{s:02}i{i}", f"s{s:02}i{i}", f"s{s:02}", {f"i{i}": 1.0}, float(price), float(price))
            for s, prices in enumerate(instance["price"])
            for i, price in enumerate(prices)
            if price is not None
        )
        plan = solved(PurchaseProblem({f"i{i}": 1.0 for i in range(instance["items"])}, candidates, shipments))
        assert plan.total == pytest.approx(instance["optimal"], abs=0.01), instance["id"]
        assert plan.optimal, instance["id"]


def rationed(worth: list[float], cost: list[list[float]], budget: list[float]) -> PurchaseProblem:
    """Projects as parts whose leaving out costs their worth; each budget a cumulative money limit."""
    shipments = tuple(Shipment(f"p{k:03}", f"p{k:03}", f"p{k:03}", None, None, 0, 0.0) for k in range(len(worth)))
    candidates = tuple(
        Candidate(f"p{k:03}", f"p{k:03}", f"p{k:03}", {f"p{k:03}": 1.0}, 0.0, 1.0,
                  cash=tuple((m, row[k] - (cost[m - 1][k] if m else 0.0)) for m, row in enumerate(cost)))
        for k in range(len(worth))
    )  # fmt: skip
    names = [f"p{k:03}" for k in range(len(worth))]
    return PurchaseProblem(
        dict.fromkeys(names, 1.0), candidates, shipments, cash_limits=tuple(enumerate(budget)),
        unmet_penalty=dict(zip(names, worth, strict=True)), cash_penalty=1e4,
    )  # fmt: skip


def test_capital_budgeting_optima() -> None:
    """Weingartner & Ness (1967), eight programmes with two budgets; optimum in each file."""
    for number in range(1, 9):
        words = iter(shared(f"mkp/weing{number}.dat").split())
        n, m, optimum = int(next(words)), int(next(words)), float(next(words))
        worth = [float(next(words)) for _ in range(n)]
        cost = [[float(next(words)) for _ in range(n)] for _ in range(m)]
        plan = solved(rationed(worth, cost, [float(next(words)) for _ in range(m)]))
        assert sum(worth) - plan.penalty == pytest.approx(optimum, abs=1e-3), number


def test_multiple_budget_optima() -> None:
    """Petersen (1967), programmes with five or ten budgets; optimum in the header of each."""
    words = iter(shared("mkp/mknap1.txt").split())
    for _ in range(int(next(words))):
        n, m, optimum = int(next(words)), int(next(words)), float(next(words))
        worth = [float(next(words)) for _ in range(n)]
        cost = [[float(next(words)) for _ in range(n)] for _ in range(m)]
        plan = solved(rationed(worth, cost, [float(next(words)) for _ in range(m)]))
        assert sum(worth) - plan.penalty == pytest.approx(optimum, abs=1e-3)
