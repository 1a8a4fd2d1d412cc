"""What knowing a future beforehand would have saved, against every way to buy in it."""

from __future__ import annotations

from datetime import timedelta
from itertools import product

import numpy as np
import pytest
from plan_builds import AS_OF, OWNER, build_of, job, offer, part, situation_of, supplier

from fishplate.build import Build
from fishplate.plan.foresight import Foresight
from fishplate.plan.futures import Futures, World
from fishplate.plan.main_job import settled
from fishplate.plan.tried import Bought, Trier

KNOWN = 3
"""Futures of each world that are gone through."""


def small(seed: int, *, kit: bool = False) -> Build:
    """Up to three parts of two sellers, one abroad; a sale; freight that may be free; jobs that soon need them."""
    rng = np.random.default_rng(seed)
    free = {"free_from": f"{int(rng.integers(200, 900))}.00 EUR"} if rng.random() < 0.5 else {}
    shop = supplier("shop", freight=[{"route": "post", "fixed": f"{int(rng.integers(0, 30))}.00 EUR", **free}])
    far = supplier("far", "GB", "GBP", freight=[{"route": "over", "fixed": "12.00 GBP"}])
    names = [f"p{number}" for number in range(2 if kit else int(rng.integers(1, 4)))]
    offers = []
    for name in names:
        price, lead = int(rng.integers(60, 900)), sorted(rng.integers(1, 10, 3).tolist())
        offers.append(offer(f"{name}-shop", name, f"{price}.00 EUR", lead_weeks=lead))
        if rng.random() < 0.6:
            offers.append(offer(f"{name}-far", name, f"{0.7 * price:.2f} GBP", "far", lead_weeks=lead))
    kits = [{"id": "both", "name": "Both", "contents": [{"part": name} for name in names]}] if kit else []
    if kit:
        offers.append({**offer("both-shop", "", "700.00 EUR"), "kit": "both"})
        del offers[-1]["part"]
    first = AS_OF + timedelta(weeks=int(rng.integers(2, 20)))
    sale = {
        "id": "s", "supplier": "shop", "chance": float(rng.uniform(0.2, 0.9)), "depth_percent": [5.0, 15.0, 30.0],
        "first": first, "last": first + timedelta(days=13),
    }  # fmt: skip
    jobs = [job(f"fit-{name}", int(rng.integers(5, 60)), "strip", to_keep=[name]) for name in names]
    return build_of(
        owner={**OWNER, "week_delay_cost": int(rng.integers(20, 120))},
        suppliers=[shop, far],
        parts=[part(name) for name in names],
        kits=kits,
        offers=offers,
        sale_windows=[sale],
        jobs=[job("strip", int(rng.integers(20, 120))), *jobs],
        routes=[
            {"id": "post", "name": "Post", "kind": "post", "from_country": "NL"},
            {"id": "over", "name": "Over", "kind": "post", "from_country": "GB"},
        ],
    )


def bounds(build: Build, world: World) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Regret of the plan in a few futures by trying every way to buy, and what is told of it, at least and at most."""
    studied, chosen, _, _ = settled(situation_of(build), progress=lambda _stage, _share: None)
    drawn = Futures(studied, world, 100)
    foresight, plan = Foresight(studied, chosen, KNOWN), Bought.of(chosen.market, chosen.purchase)
    told = foresight.regret(drawn, plan, (), lambda _share: None)
    trier, seen = Trier(studied, chosen, KNOWN), drawn.first(KNOWN)
    by_contents: dict[frozenset[str], dict[tuple[str, str, int], str]] = {}
    for key, entry in chosen.market.entries.items():
        same = by_contents.setdefault(frozenset(entry.candidate.covers), {})
        same.setdefault((entry.offer.id, entry.way.key, entry.week), key)
    parts = sorted(studied.situation.missing_parts)
    wholes = [list(by_contents[frozenset([part])].values()) for part in parts]
    ways = [*product(*wholes), *((key,) for key in by_contents.get(frozenset(parts), {}).values() if len(parts) > 1)]
    best = np.full(KNOWN, np.inf)
    for lines in ways:
        weeks = tuple(np.array([chosen.market.entries[line].week]) for line in lines)
        best = np.minimum(best, trier.cost(Bought(lines, (1,) * len(lines), weeks, None), seen))
    return trier.cost(plan.modelled(), seen) - best, told.least, told.most


@pytest.mark.parametrize("world", [World.OWN, World.SLOW])
@pytest.mark.parametrize("seed", [6, 9, 11])
def test_of_few_parts_the_regret_is_exact(seed: int, world: World) -> None:
    true, least, most = bounds(small(seed), world)
    assert least == pytest.approx(true, abs=0.02)
    assert most == pytest.approx(true, abs=0.02)


@pytest.mark.parametrize("world", [World.OWN, World.SLOW])
@pytest.mark.parametrize("seed", [1, 2])
def test_with_a_kit_the_regret_lies_between_what_is_told(seed: int, world: World) -> None:
    true, least, most = bounds(small(seed, kit=True), world)
    assert (least <= true + 0.02).all()
    assert (true <= most + 0.02).all()


@pytest.mark.long
@pytest.mark.parametrize("seed", range(20, 40))
def test_of_few_parts_the_regret_is_exact_in_twenty_more(seed: int) -> None:
    true, least, most = bounds(small(seed), World.OWN)
    assert (least <= true + 0.02).all()
    assert (true <= most + 0.02).all()
