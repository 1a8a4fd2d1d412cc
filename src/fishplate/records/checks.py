"""The strongest check of a part in hand that keeps the right to send it back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from ..build import Build
from ..build.commerce import ReturnEnd
from ..build.events import Check
from ..build.facts import found_wrong
from .model import ReturnRight

Step = Literal["counted", "measured", "offered-up", "fitted"]
# What each check does to a part, strongest first; the first that its terms allow is the best one.
_ENDS: Final[tuple[tuple[Step, frozenset[ReturnEnd]], ...]] = (
    ("fitted", frozenset({"opened", "offered-up", "bolted"})),
    ("offered-up", frozenset({"opened", "offered-up"})),
    ("measured", frozenset({"opened"})),
    ("counted", frozenset()),
)
_STRENGTH: Final[dict[str, int]] = {"counted": 0, "opened": 0, "measured": 1, "offered-up": 2, "bolted": 3}
_WORDS: Final[dict[Step, str]] = {
    "fitted": "fit it for trial, clean and undrilled",
    "offered-up": "offer it up with its faces taped, without a bolt drawn",
    "measured": "measure it on the bench against the drawing",
    "counted": "look at it in its packing: number, side and label; ask the seller for anything else",
}
_WRONG: Final = "It was checked and is not right: send it back while it can go."
_SOME_WRONG: Final = "{:g} of {:g}, as checked, {}: send {} back while {} can go."


@dataclass(frozen=True, slots=True)
class BestCheck:
    """What to do with a part while it can still go back.

    Parameters
    ----------
    how : the strongest check its terms allow, of those that can tell something
    dimensions : what to measure on it, of those that conditions with it rest on
    conditions : what it could be seen to do wrong
    done : it was checked as far as that already, and was good
    wrong_on : the day it, or some of it, was last found not right; None if it was not
    wrong : how many of those that can go back were found so
    text : as a sentence
    """

    part: str
    until: date
    how: Step
    dimensions: tuple[str, ...]
    conditions: tuple[str, ...]
    done: bool
    wrong_on: date | None
    text: str
    wrong: float = 0.0


def best_check(build: Build, right: ReturnRight, as_of: date) -> BestCheck:
    """The strongest check that leaves a return right standing.

    Notes
    -----
    A part that meets nothing is only measured: there is no place to offer it up to.
    """
    meets = [item for item in build.interfaces if right.part in item.parts]
    own = {item.id: item.name for item in build.dimensions if item.part == right.part}
    held = [item for item in build.conditions if item.names & own.keys() or item.interface in {i.id for i in meets}]
    rested = {name for item in held for name in item.names}
    dimensions = tuple(id_ for id_ in own if id_ in rested) or tuple(own)
    allowed = [step for step, ends in _ENDS if not ends & set(right.terms.ended_by)]
    how = next(step for step in allowed if meets or step in ("measured", "counted"))
    wrong_on, count = found_wrong(event for event in build.events if event.day <= as_of).get(right.part, (None, 0.0))
    wrong = min(count, right.quantity)
    done = wrong_on is None and _is_done(build, right, how, as_of)
    text = _text(how, [own[id_] for id_ in dimensions])
    if wrong_on is not None:
        text = _WRONG if wrong >= right.quantity else _some_wrong(wrong, right.quantity)
    return BestCheck(
        right.part, right.until, how, dimensions, tuple(item.id for item in held), done, wrong_on, text, wrong
    )


def _some_wrong(wrong: float, of: float) -> str:
    """That some of it are not right.

    Examples
    --------
    >>> _some_wrong(1, 4)
    '1 of 4, as checked, is not right: send it back while it can go.'
    """
    words = ("is not right", "it", "it") if wrong == 1 else ("are not right", "them", "they")
    return _SOME_WRONG.format(wrong, of, *words)


def _text(how: Step, dimensions: Sequence[str]) -> str:
    text = _WORDS[how]
    if how == "measured" and dimensions:
        text += ": " + ", ".join(dimensions)
    return text[:1].upper() + text[1:] + "."


def _is_done(build: Build, right: ReturnRight, how: Step, as_of: date) -> bool:
    """Whether as many as can go back were checked so far, and were good."""
    needed = 3 if how == "fitted" else _STRENGTH[how]
    good = [
        event for event in build.events
        if isinstance(event, Check) and event.part == right.part and event.good and right.came <= event.day <= as_of
        and _STRENGTH.get(event.how, 0) >= needed
    ]  # fmt: skip
    return sum(right.quantity if event.quantity is None else event.quantity for event in good) >= right.quantity
