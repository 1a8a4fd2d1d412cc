"""What a change costs if it is made later: worked out beside the pages, by the plan."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING

from ..build import Build
from ..impact import Tweak, cheapest, moments, tweaked
from .course import say

if TYPE_CHECKING:
    from .desk import View

SHOWN = 6


def later(view: View, tweaks: tuple[Tweak, ...]) -> tuple[str, ...]:
    """The spans of days in which some changes cost the same, as sentences, the cheapest moment first."""
    from ..plan.ahead import steps_ahead
    from ..wiring import situation

    def edit(build: Build) -> Build:
        return reduce(lambda made, tweak: tweaked(made, tweak, view.as_of), tweaks, build)

    rates = situation(view.build, view.as_of).to_home
    steps = steps_ahead(view.build, view.facts, view.plan)
    found = moments(view.build, edit, view.as_of, steps, rates=rates, progress=say)
    if len(found) == 1:
        return ("As far as the plan looks ahead, it costs the same on every day.",)
    best = cheapest(found)
    lead = "Now is the cheapest moment." if best is found[0] else f"It is cheaper to wait: {_inner(best.text)}"
    rest = f"and {len(found) - SHOWN} more steps after that."
    told = tuple(item.text for item in found[:SHOWN])
    return (lead, *told, *([rest] if len(found) > SHOWN else []))


def _inner(text: str) -> str:
    return text[:1].lower() + text[1:]
