"""Do I own this already? In words, wherever something is looked for or about to be ordered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import quote

from ..build import offer_contents
from ..build.parts import Part
from ..records import owned_already
from .desk import View
from .words import listed, number


@dataclass(frozen=True, slots=True)
class Found:
    """Something that is here or on order and may be what is meant: its name, its page, how many and where."""

    what: str
    path: str
    where: str


def found_by_words(view: View, text: str) -> tuple[Found, ...]:
    """What is owned or coming of a name or number."""
    return found_for(view, Part(id="looked-for", name=text, part_number=text))


def found_for(view: View, part: Part) -> tuple[Found, ...]:
    """What is owned or coming and may serve as a part; the part itself among it."""
    return tuple(_found(view, part))


def _found(view: View, part: Part) -> Iterator[Found]:
    for item in owned_already(view.build, view.facts, part):
        have = [f"{number(item.owned)} here"] if item.owned else []
        have += [f"{number(item.incoming)} on order"] if item.incoming else []
        free = f"; {number(item.free)} more than the build needs" if item.free else ""
        where = f", {listed(item.places)}" if item.places else ""
        yield Found(item.name, f"/parts/{quote(item.part, safe='')}", f"{', '.join(have)}{where}{free}")


def owned_before(view: View, offer: str) -> tuple[Found, ...]:
    """What is owned or coming of what an offer brings, asked before it is ordered; nothing for an offer not there."""
    found = view.build.index["offers"].get(offer)
    parts = {} if found is None else offer_contents(view.build, found)
    every = [item for part in parts for item in found_for(view, view.build.find("parts", part))]
    return tuple(dict.fromkeys(every))
