"""Keys: what each does and where; one table for the page, the script and the documents."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Final


@dataclass(frozen=True, slots=True)
class Key:
    """A key and what it does.

    Parameters
    ----------
    keys : as they are named to the person; where : what has to be on the screen
    act : what the script calls it, of a single letter or sign that acts on the page as a whole; empty for the others
    """

    keys: str
    does: str
    where: str
    act: str = ""


EVERYWHERE: Final = "On every page"
FOUND: Final = "In what was found"
LINES: Final = "In the lists of parts and jobs"
TICKS: Final = "Where lines are ticked"
WORDS: Final = "In a group of words to tap"
KEYS: Final = (
    Key("/", "search everything", EVERYWHERE, "search"),
    Key("b", "bring in a part, a list, a page or a mail", EVERYWHERE, "bring"),
    Key("?", "show these keys", EVERYWHERE, "keys"),
    Key("Esc", "close what a key has opened, and go back to where you were", EVERYWHERE),
    Key("↓ ↑", "walk along what was found", FOUND),
    Key("Enter", "open it; in the field, the first", FOUND),
    Key("↓ ↑", "walk along the lines", LINES),
    Key("Enter or Space", "unfold the line", LINES),
    Key("x", "mark the line, or take its mark off", LINES, "mark"),
    Key("Shift and ↓ ↑", "mark the line and the next one", LINES),
    Key("e", "change all that is marked at once", LINES, "change"),
    Key("Esc", "take all marks off", LINES),
    Key("↓ ↑", "walk along the lines", TICKS),
    Key("x or Space", "tick the line, or take its tick off", TICKS),
    Key("Shift and ↓ ↑", "tick the line and the next one", TICKS),
    Key("1 to 9", "tap the first to the ninth", WORDS),
    Key("↓ ↑ ← →", "walk along them", WORDS),
)


def key_groups() -> Iterator[tuple[str, tuple[Key, ...]]]:
    """The keys by where they act, in the order of the table."""
    for where, keys in groupby(KEYS, key=lambda key: key.where):
        yield where, tuple(keys)


def key_acts() -> dict[str, str]:
    """Single keys that act on the page as a whole, with what the script calls it.

    Examples
    --------
    >>> key_acts()["/"]
    'search'
    """
    return {key.keys: key.act for key in KEYS if key.act}
