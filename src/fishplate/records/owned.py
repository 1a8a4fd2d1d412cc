"""Do I own this already? What is here, on its way or lies about under another name, before something is bought."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from rapidfuzz import fuzz, utils

from ..build import Build, Facts
from ..build.parts import Part

Likeness = Literal["itself", "same number", "similar name"]
ALIKE = 80.0
SHORTEST_NUMBER = 4


@dataclass(frozen=True, slots=True)
class OwnedAlready:
    """A part that may be what is about to be bought.

    Parameters
    ----------
    likeness : of name or number, 0 to 100; 100 for the part itself, and for the same number
    free : how many are owned beyond what the build needs of it
    places : where it lies
    """

    part: str
    name: str
    how: Likeness
    likeness: float
    owned: float
    incoming: float
    free: float
    places: tuple[str, ...]


def owned_already(build: Build, facts: Facts, part: Part) -> tuple[OwnedAlready, ...]:
    """What is owned or on its way and may serve as a part, likeliest first.

    Parameters
    ----------
    part : the part to buy; it need not be in the build

    Notes
    -----
    Names are compared by their words in any order (RapidFuzz, token sort ratio); numbers by letters and digits alone.
    """
    found = [found for other in build.parts for found in _compared(facts, part, other)]
    return tuple(sorted(found, key=lambda item: (item.how != "itself", -item.likeness, item.part)))


def _compared(facts: Facts, part: Part, other: Part) -> Iterator[OwnedAlready]:
    owned = facts.owned.get(other.id, 0.0)
    incoming = sum(item.quantity for item in facts.incoming if item.part == other.id)
    if owned + incoming <= 0:
        return
    how: Likeness
    if other.id == part.id:
        how, likeness = "itself", 100.0
    elif _bare(part.part_number) == _bare(other.part_number) and len(_bare(part.part_number)) >= SHORTEST_NUMBER:
        how, likeness = "same number", 100.0
    else:
        how = "similar name"
        likeness = fuzz.token_sort_ratio(part.name, other.name, processor=utils.default_process)
        if likeness < ALIKE or _differ_by_figures(part.name, other.name):
            return
    needed = other.quantity if other.id in facts.wanted_parts else 0.0
    lies = facts.lies.get(other.id)
    places = () if lies is None else tuple(sorted(place for place in lies.places if place))
    free = max(0.0, owned + incoming - needed)
    yield OwnedAlready(other.id, other.name, how, likeness, owned, incoming, free, places)


def _bare(number: str) -> str:
    return "".join(char for char in number.casefold() if char.isalnum())


def _differ_by_figures(one: str, other: str) -> bool:
    """Whether two names hold different figures: M8 and M10 are not alike, however near their letters are."""

    def figures(name: str) -> set[str]:
        return set("".join(char if char.isdigit() else " " for char in name).split())

    return bool(figures(one) and figures(other) and figures(one) != figures(other))
