"""The choice for an evening against trying every set of jobs, on small sets."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import product
from math import ceil

import pytest

from fishplate.work.evening_choice import Candidate, Step, best_evening


def best_by_trying_all(candidates: Sequence[Candidate], minutes: float, loud_minutes: float | None) -> float:
    """The most that any set is worth: every way to take each job so far, or not at all."""
    best = 0.0
    for taken in product(*[[None, *candidate.steps] for candidate in candidates]):
        chosen = [(step, item.loud) for step, item in zip(taken, candidates, strict=True) if step is not None]
        used = sum(5 * ceil(step.minutes / 5) for step, _ in chosen)
        loud = sum(5 * ceil(step.minutes / 5) for step, is_loud in chosen if is_loud)
        if used > minutes or sum(step.midway for step, _ in chosen) > 1:
            continue
        if loud_minutes is not None and loud > loud_minutes:
            continue
        best = max(best, sum(step.worth for step, _ in chosen))
    return best


def some_jobs(draw: random.Random) -> list[Candidate]:
    return [
        Candidate(
            f"job-{number}",
            tuple(
                Step(draw.randint(1, 130), draw.choice([0.0, 1.0, draw.uniform(-1, 20)]), midway=draw.random() < 0.4)
                for _ in range(draw.randint(0, 4))
            ),
            loud=draw.random() < 0.4,
        )
        for number in range(draw.randint(0, 5))
    ]


@pytest.mark.parametrize("seed", range(200))
def test_no_set_is_worth_more_than_the_one_chosen(seed: int) -> None:
    draw = random.Random(seed)
    candidates, minutes = some_jobs(draw), draw.choice([0, 15, 45, 90, 120, 240])
    loud = draw.choice([None, None, 0, 30, 60, 500])
    picked = best_evening(candidates, minutes, loud)
    assert sum(item.step.worth for item in picked) == pytest.approx(best_by_trying_all(candidates, minutes, loud))
    assert len({item.job for item in picked}) == len(picked)
    assert sum(5 * ceil(item.step.minutes / 5) for item in picked) <= minutes
    assert sum(item.step.midway for item in picked) <= 1
    if loud is not None:
        noise = [item.loud for item in picked]
        assert sum(5 * ceil(item.step.minutes / 5) for item in picked if item.loud) <= loud
        assert loud >= minutes or noise == sorted(noise, reverse=True)  # loud ones while it may be loud
