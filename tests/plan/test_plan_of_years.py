"""A build years under way, as large as one person's can be, is planned whole."""

from __future__ import annotations

import pytest
from benchmarks.builds import AS_OF, long_build

from fishplate.plan import plan
from fishplate.wiring import situation


@pytest.mark.long
def test_a_build_of_two_thousand_parts_is_planned_with_nothing_left_out() -> None:
    build = long_build()
    found = plan(situation(build, AS_OF, seed=1))
    assert not found.purchase.unmet
    assert found.purchase.gap <= 0.02
    assert found.purchase.clash is None
    assert {line.offer for line in found.purchase.lines} <= {offer.id for offer in build.offers}
    assert found.finish is not None
    assert len(found.actions) > 100
