"""The rooms of the page, in the order they are named in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Room:
    """A page a person goes to.

    Parameters
    ----------
    module : module of this package whose `router` answers
    at_hand : named at the foot of a phone's screen; the others are under More
    """

    module: str
    path: str
    name: str
    at_hand: bool = False


ROOMS: Final = (
    Room("week", "/", "This week", at_hand=True),
    Room("tonight", "/tonight", "Tonight", at_hand=True),
    Room("parts", "/parts", "Parts", at_hand=True),
    Room("interfaces", "/interfaces", "Interfaces"),
    Room("jobs", "/jobs", "Jobs", at_hand=True),
    Room("scheduling", "/schedule", "Week by week"),
    Room("evidence", "/evidence", "Evidence"),
    Room("measuring", "/measuring", "Measuring"),
    Room("calculations", "/calculations", "Calculations"),
    Room("decisions", "/decisions", "Decisions"),
    Room("what_if", "/what-if", "What if"),
    Room("buying", "/buying", "Buying"),
    Room("ahead", "/ahead", "Ahead"),
    Room("door", "/door", "At the door"),
    Room("collections", "/collections", "Collections"),
    Room("shelf", "/shelf", "Shelf"),
    Room("money", "/money", "Money"),
    Room("history", "/history", "History"),
    Room("importing", "/import", "Bring in"),
    Room("starting", "/start", "Starters"),
    Room("owner", "/owner", "Your situation"),
    Room("pairing", "/devices", "Devices"),
    Room("first_steps", "/first-steps", "First evenings"),
    Room("glossary", "/words", "Words"),
)


def room_of(path: str) -> Room | None:
    """The room a path belongs to.

    Examples
    --------
    >>> room_of("/parts/hub-front").name
    'Parts'
    """
    for room in ROOMS[1:]:
        if path == room.path or path.startswith(f"{room.path}/"):
            return room
    return ROOMS[0] if path == "/" or path.startswith("/week/") else None
