"""What the kernel stands on: compiling, heaps kept in arrays, hours to days and back.

The kernel's cache on disk goes by kernel.py alone: after a change here, touch that file too.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar, cast

import numba
import numpy as np

from .kernel_types import HandsCalendar, Ints, Scratch

# A plain 0 or True counts as a type of its own, for which everything it is handed to would be compiled once more.
ZERO: Final = cast(int, np.int64(0))
NOBODY: Final = cast(int, np.int64(-1))
AT_START: Final = cast(bool, np.bool_(True))
AT_END: Final = cast(bool, np.bool_(False))

_Function = TypeVar("_Function", bound=Callable[..., Any])


def called(function: _Function) -> _Function:
    """The function as machine code, kept on disk where that can be, run beside other threads."""
    return _as_machine_code(function, no_cfunc_wrapper=True)


def compiled(function: _Function) -> _Function:
    """The same, called by such functions alone; a way in from Python takes as long to make as the function."""
    return _as_machine_code(function, no_cpython_wrapper=True, no_cfunc_wrapper=True)


def inlined(function: _Function) -> _Function:
    """The same, put where it is called: handing all the arrays to a small function takes longer than its work."""
    return _as_machine_code(function, forceinline=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)


def copied(function: _Function) -> _Function:
    """The same, copied before anything is compiled: it is never made by itself, which halves the first compile."""
    return cast(_Function, numba.njit(inline="always", error_model="numpy", nogil=True)(function))


def _as_machine_code(function: _Function, **more: bool) -> _Function:
    njit: Any = numba.njit
    # Nothing here allocates, and counting references to arrays in tuples would take forty times as long (_nrt).
    for options in ({"cache": True, "_nrt": False}, {"_nrt": False}):
        try:
            return cast(_Function, njit(error_model="numpy", nogil=True, **options, **more)(function))
        except (KeyError, RuntimeError):  # an option this numba does not know, or nowhere to keep a cache
            continue
    return cast(_Function, njit(error_model="numpy", nogil=True)(function))


@inlined
def push_event(s: Scratch, size: int, day: float, piece: int) -> int:
    """Add an event to the heap; its new size."""
    here = size
    while here > 0:
        above = (here - 1) >> 1
        if s.event_day[above] <= day:
            break
        s.event_day[here] = s.event_day[above]
        s.event_piece[here] = s.event_piece[above]
        here = above
    s.event_day[here] = day
    s.event_piece[here] = piece
    return size + 1


@inlined
def drop_event(s: Scratch, size: int) -> int:
    """Take the first event off the heap; its new size."""
    size -= 1
    day, piece = s.event_day[size], s.event_piece[size]
    here, below = 0, 1
    while below < size:
        if below + 1 < size and s.event_day[below + 1] < s.event_day[below]:
            below += 1
        if s.event_day[below] >= day:
            break
        s.event_day[here] = s.event_day[below]
        s.event_piece[here] = s.event_piece[below]
        here, below = below, 2 * below + 1
    s.event_day[here] = day
    s.event_piece[here] = piece
    return size


@inlined
def push_ready(ready: Ints, size: int, piece: int) -> int:
    """Add a piece to the heap of those ready; its new size."""
    here = size
    while here > 0:
        above = (here - 1) >> 1
        if ready[above] <= piece:
            break
        ready[here] = ready[above]
        here = above
    ready[here] = piece
    return size + 1


@inlined
def drop_ready(ready: Ints, size: int) -> int:
    """Take the piece of highest priority off the heap; its new size."""
    size -= 1
    piece = ready[size]
    here, below = 0, 1
    while below < size:
        if below + 1 < size and ready[below + 1] < ready[below]:
            below += 1
        if ready[below] >= piece:
            break
        ready[here] = ready[below]
        here, below = below, 2 * below + 1
    ready[here] = piece
    return size


@inlined
def hours_at(c: HandsCalendar, day: float) -> float:
    """Hours the owner has had by a moment."""
    whole = int(day)
    if whole >= c.hours.size:
        return float(c.cumulative[-1])
    return float(c.cumulative[whole] + (day - whole) * c.hours[whole])


@inlined
def day_at(c: HandsCalendar, hours: float) -> float:
    """The moment by which the owner has had so many hours, of which the horizon holds that many."""
    day = c.reached[int(hours / c.step)]
    while day > 0 and c.cumulative[day] >= hours:
        day -= 1
    while c.cumulative[day + 1] < hours:
        day += 1
    return float(day + (hours - c.cumulative[day]) / c.hours[day])
