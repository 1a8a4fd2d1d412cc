"""What buying a part otherwise costs more, against the enumeration of every plan."""

from __future__ import annotations

from itertools import product
from math import inf

import pytest
from test_buy_oracles import cost_of, most_useful, solved, tiny

from fishplate.buy import PurchaseProblem, recost_by_model
from fishplate.buy.why import Allowed, as_bought, only, otherwise


def enumerated(problem: PurchaseProblem, allowed: PurchaseProblem) -> float:
    """Least cost over all selections of the allowed candidates; needs and penalties are the problem's own."""
    kept = {c.key for c in allowed.candidates}
    ranges = [range(most_useful(problem, c) + 1 if c.key in kept else 1) for c in problem.candidates]
    keys = [c.key for c in problem.candidates]
    return min(cost_of(problem, dict(zip(keys, counts, strict=True))) for counts in product(*ranges))


@pytest.mark.parametrize("block", range(3))
def test_the_extra_cost_is_the_enumerated_difference_of_two_best_plans(block: int) -> None:
    compared = 0
    for seed in range(20 * block, 20 * block + 20):
        problem = tiny(seed)
        plan = solved(problem)
        suppliers = {s.key: s.supplier for s in problem.shipments}
        for part in sorted({part for line in plan.lines for part in line.parts if part in problem.needs}):
            now = {suppliers[line.shipment] for line in plan.lines if part in line.parts}
            elsewhere: Allowed = lambda _c, shipment, now=now: shipment.supplier not in now  # noqa: E731
            found = otherwise(problem, plan, part, elsewhere, recost=recost_by_model(problem), gap=0.0)
            changed = only(problem, part, elsewhere)
            if found.plan is None:
                assert not any(part in c.covers for c in changed.candidates)
                assert found.extra == inf
                continue
            base = enumerated(problem, as_bought(problem, plan, part))
            best = enumerated(problem, changed)
            assert found.extra == pytest.approx(best - base, abs=1e-4), (seed, part)
            assert found.low - 1e-4 <= best - base <= found.high + 1e-4, (seed, part)
            compared += 1
    assert compared > 10
