"""What must be known to what spread for a wanted chance, cheapest first."""

import random
import sys
from datetime import date
from itertools import combinations
from typing import Any

import pytest
from scipy import stats

from fishplate.build import Build, build_from_data, facts_of
from fishplate.fit import ToleranceBudget, tolerance_budget

DAY = date(2026, 3, 1)


def stack(*rows: tuple[str, float, float, float], at_least: float = 10.0, **more: Any) -> Build:
    """A sum of lengths of 100 mm and more: name, value, standard deviation, minutes to read with a tape."""
    return build_from_data({
        "interfaces": [{"id": "i", "name": "Stack"}],
        "dimensions": [
            {"id": name, "name": name.capitalize(), "minutes": minutes, "tools": ["tape"]}
            for name, _, _, minutes in rows
        ],
        "readings": [
            {"id": f"r_{name}", "dimension": name, "value": value, "spread": sd, "spread_means": "standard-deviation",
             "provenance": "estimate", "day": "2026-01-10"}
            for name, value, sd, _ in rows
        ],
        "conditions": [
            {"id": "c", "interface": "i", "name": "Room", "expression": " - ".join(row[0] for row in rows),
             "at_least": f"{at_least} mm"}
        ],
        **more,
    })  # fmt: skip


def budget(build: Build, chance: float = 0.99) -> ToleranceBudget:
    return tolerance_budget(build, facts_of(build, DAY), "c", chance)


def test_one_dimension_must_be_known_to_what_the_normal_table_says() -> None:
    # margin 6 mm; 0.99 needs 6 / 2.3263 = 2.579 mm in all
    found = budget(stack(("gap", 416, 5, 20), ("lip", 400, 0.5, 20)))
    wanted = (2.5792**2 - 0.5**2) ** 0.5
    assert found.chance_now == pytest.approx(float(stats.norm.cdf(6 / (25.25**0.5))), abs=3e-3)
    assert [need.dimension for need in found.needs] == ["gap"]
    assert found.needs[0].spread_wanted == pytest.approx(wanted * 3**0.5, rel=0.03)
    assert found.alone["gap"] == pytest.approx(wanted * 3**0.5, rel=0.03)
    assert found.alone["lip"] is None
    assert "with the tape" in found.needs[0].way


def test_the_cheapest_set_is_chosen() -> None:
    rows = (("a", 730, 4, 90), ("b", 300, 3, 10), ("c", 200, 3, 10), ("d", 210, 3, 10))
    found = budget(stack(*rows), 0.95)

    # a tape tells to 0.87 mm, pooled with what is known
    def after(known: tuple[str, ...]) -> float:
        left = sum(1 / (1 / sd**2 + 1 / 0.866**2) if name in known else sd**2 for name, _, sd, _ in rows)
        return float(stats.norm.cdf(10 / left**0.5))

    minutes = {row[0]: row[3] for row in rows}
    sets = [each for size in range(1, 5) for each in combinations(minutes, size) if after(each) >= 0.95]
    cheapest = min(sum(minutes[name] for name in each) for each in sets)
    assert found.minutes == cheapest
    assert after(tuple(need.dimension for need in found.needs)) >= 0.95
    assert all(need.spread_wanted < need.spread_now for need in found.needs)


@pytest.mark.parametrize("seed", range(6))
def test_of_many_ways_no_set_is_cheaper_than_the_one_told(seed: int) -> None:
    rng = random.Random(seed)
    sds = [rng.choice([0.5, 1.0, 2.0, 4.0, 6.0]) for _ in range(11)]
    minutes = [rng.choice([5.0, 10.0, 20.0, 45.0, 90.0]) for _ in sds]
    room = rng.uniform(0.7, 1.4) * sum(sd**2 for sd in sds) ** 0.5
    values = [1660 + room, *[150.0] * 10]
    build = stack(
        *((f"d{at:02d}", *each) for at, each in enumerate(zip(values, sds, minutes, strict=True))), at_least=160
    )
    found = budget(build, 0.95)
    # a tape tells to 0.87 mm, and is taken up where that is finer by three tenths
    finer = [at for at, sd in enumerate(sds) if 0.7 * sd > 0.866]
    cheapest = float("inf")
    for size in range(len(finer) + 1):
        for each in combinations(finer, size):
            left = sum(1 / (1 / sd**2 + (at in each) / 0.75) for at, sd in enumerate(sds))
            if stats.norm.cdf(room / left**0.5) >= 0.9515:  # clear of what the draws can't tell from 0.95
                cheapest = min(cheapest, sum(minutes[at] for at in each))
    assert found.cheapest
    assert found.minutes <= cheapest < float("inf")


def test_where_not_every_set_was_tried_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules[tolerance_budget.__module__], "TRIES", 1)
    found = budget(stack(("a", 730, 4, 90), ("b", 300, 3, 10), ("c", 200, 3, 10), ("d", 210, 3, 10)), 0.95)
    assert found.reachable
    assert not found.cheapest
    assert found.text.endswith("Something cheaper may do; not every set was tried.")


def test_what_is_sure_enough_needs_nothing() -> None:
    found = budget(stack(("gap", 460, 5, 20), ("lip", 400, 5, 20)))
    assert (found.needs, found.reachable, found.cost) == ((), True, 0)
    assert "nothing needs to be known better" in found.text


def test_likely_values_that_do_not_fit_are_not_mended_by_readings() -> None:
    found = budget(stack(("gap", 405, 5, 20), ("lip", 400, 5, 20)))
    assert (found.reachable, found.chance_exact, found.needs) == (False, 0.0, ())
    assert "the likely values themselves do not fit" in found.text


def test_what_no_reading_reaches_is_said_with_the_best_there_is() -> None:
    found = budget(stack(("gap", 410.5, 5, 20), ("lip", 400, 5, 20)))
    assert not found.reachable
    assert found.chance_best is not None
    assert 0.5 < found.chance_best < 0.99
    assert "with all that can be measured: not 99 %" in found.text


def test_a_dimension_without_a_reading_comes_first() -> None:
    build = stack(("gap", 416, 5, 20), ("lip", 400, 5, 20))
    data = build.model_dump(mode="json")
    data["readings"] = data["readings"][:1]
    found = budget(build_from_data(data))
    assert (found.missing, found.chance_now) == (("lip",), None)
    assert "there is no reading of the lip" in found.text


def test_a_stand_in_that_settles_several_is_weighed_as_one() -> None:
    rows = (("gap", 616, 4, 60), ("lip", 300, 4, 60), ("arm", 300, 0.1, 60))
    disc = {"id": "disc", "name": "Disc", "dimensions": ["gap", "lip"], "hours": 1, "spread": 1.5}
    found = budget(stack(*rows, stand_ins=[disc]), 0.95)
    assert found.minutes == 60
    assert {need.way for need in found.needs} == {"with the disc"}


def test_of_many_dimensions_only_what_is_needed_is_named() -> None:
    rows = tuple((f"d{number:02d}", 2000.0 if number == 0 else 150.0, 1.5, 10.0) for number in range(13))
    found = budget(stack(*rows, at_least=189.0), 0.99)
    assert found.reachable
    assert 0 < len(found.needs) < 13


@pytest.mark.parametrize("chance", [0.0, 1.0, 1.5])
def test_a_chance_outside_nought_to_one_is_refused(chance: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        budget(stack(("gap", 416, 5, 20)), chance)
