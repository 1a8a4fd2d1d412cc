"""Places in a list's order: numbers with room between them, so that a new noun moves no other."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from typing import Final

STEP: Final = 1 << 32


def place(order: Sequence[str], held: Mapping[str, int]) -> dict[str, int]:
    """A position for every id so that they sort as `order`, changing as few held ones as can be.

    Examples
    --------
    >>> place(["a", "x", "b"], {"a": 0, "b": 10})
    {'a': 0, 'x': 5, 'b': 10}
    """
    kept = _longest_rising([(held[id_], id_) for id_ in order if id_ in held])
    positions: dict[str, int] = {}
    waiting: list[str] = []
    last: int | None = None
    for id_ in order:
        if id_ not in kept:
            waiting.append(id_)
            continue
        if not _spread(waiting, last, held[id_], positions):
            return {each: (rank + 1) * STEP for rank, each in enumerate(order)}
        positions[id_] = last = held[id_]
        waiting = []
    _spread(waiting, last, None, positions)
    return positions


def _spread(ids: Sequence[str], low: int | None, high: int | None, positions: dict[str, int]) -> bool:
    """Put ids between two positions; False if there is no room."""
    if high is None:
        start, step = (0 if low is None else low), STEP
    elif low is None:
        start, step = high - STEP * (len(ids) + 1), STEP
    else:
        start, step = low, (high - low) // (len(ids) + 1)
    positions.update({id_: start + step * (rank + 1) for rank, id_ in enumerate(ids)})
    return step > 0 or not ids


def _longest_rising(items: Sequence[tuple[int, str]]) -> frozenset[str]:
    """Ids of a longest rising subsequence."""
    tails: list[int] = []
    ends: list[int] = []
    before: list[int | None] = []
    for index, (position, _) in enumerate(items):
        at = bisect_left(tails, position)
        before.append(ends[at - 1] if at else None)
        if at == len(tails):
            tails.append(position)
            ends.append(index)
        else:
            tails[at], ends[at] = position, index
    found, here = [], ends[-1] if ends else None
    while here is not None:
        found.append(items[here][1])
        here = before[here]
    return frozenset(found)
