"""The event kernel: one pair of hands takes the ready piece of highest priority, run by run. Compiled by numba.

A piece waits for other pieces, gates and its months. When the hands are free and nothing is ready they stand still: a
stall, whose cause is the last thing to open for the piece that ends it. Pieces without hours take no hands.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
import numpy as np

from .kernel_types import Draws, Floats, Floats32, GateArrays, HandsCalendar, Ints, Network, Scratch, Tally

_Function = TypeVar("_Function", bound=Callable[..., Any])
# rows of the tally for each piece, after those of the gates; _PAST is the cure of a job done before as_of
_SHOP, _SEASON, _CURE, _JOB, _PAST = 0, 1, 2, 3, 4
_KINDS = 5


def _compiled(function: _Function) -> _Function:
    njit: Any = numba.njit
    # Nothing here allocates, and counting references to arrays in tuples would take forty times as long (_nrt).
    for options in ({"cache": True, "_nrt": False}, {"_nrt": False}):
        try:
            return cast(_Function, njit(error_model="numpy", **options)(function))
        except (KeyError, RuntimeError):  # an option this numba does not know, or nowhere to keep a cache
            continue
    return cast(_Function, njit(error_model="numpy")(function))


@_compiled
def _push_event(s: Scratch, size: int, day: float, piece: int) -> int:
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


@_compiled
def _drop_event(s: Scratch, size: int) -> int:
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


@_compiled
def _push_ready(ready: Ints, size: int, piece: int) -> int:
    here = size
    while here > 0:
        above = (here - 1) >> 1
        if ready[above] <= piece:
            break
        ready[here] = ready[above]
        here = above
    ready[here] = piece
    return size + 1


@_compiled
def _drop_ready(ready: Ints, size: int) -> int:
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


@_compiled
def _hours_at(c: HandsCalendar, day: float) -> float:
    """Hours the owner has had by a moment."""
    whole = int(day)
    if whole >= c.hours.size:
        return float(c.cumulative[-1])
    return float(c.cumulative[whole] + (day - whole) * c.hours[whole])


@_compiled
def _day_at(c: HandsCalendar, hours: float) -> float:
    """The moment by which the owner has had so many hours, of which the horizon holds that many."""
    day = c.reached[int(hours / c.step)]
    while day > 0 and c.cumulative[day] >= hours:
        day -= 1
    while c.cumulative[day + 1] < hours:
        day += 1
    return float(day + (hours - c.cumulative[day]) / c.hours[day])


@_compiled
def _enter(n: Network, c: HandsCalendar, s: Scratch, events: int, piece: int, day: float) -> int:
    """All that a piece waited for has opened: it becomes an event, put off to its months."""
    window = n.window[piece]
    if window >= 0 and day < c.hours.size:
        opens = c.opens[window, int(day)]
        if opens > day:
            s.season[piece] = True
            day = float(opens)
    return _push_event(s, events, day, piece)


@_compiled
def _let_go(n: Network, c: HandsCalendar, s: Scratch, events: int, piece: int, day: float, by_start: bool) -> int:
    """Tell the pieces waiting for this one's start or end that it has come."""
    for k in range(n.after_first[piece], n.after_first[piece + 1]):
        if n.after_start[k] != by_start:
            continue
        other = n.after[k]
        moment = day + n.after_lag[k]
        if moment > s.opened[other]:
            s.opened[other] = moment
            s.binder[other] = piece
        s.waits[other] -= 1
        if s.waits[other] == 0:
            events = _enter(n, c, s, events, other, s.opened[other])
    return events


@_compiled
def _finish(n: Network, c: HandsCalendar, d: Draws, s: Scratch, events: int, piece: int, day: float, run: int) -> int:
    shop = n.shop[piece]
    end = day + (d.shop_days[shop, run] if shop >= 0 else 0.0)
    s.end[piece] = end
    return _let_go(n, c, s, events, piece, end + n.cure[piece], False)


@_compiled
def _begin_run(n: Network, c: HandsCalendar, d: Draws, g: GateArrays, s: Scratch, run: int) -> int:
    events = 0
    for piece in range(n.job.size):
        day = n.opens[piece]
        for k in range(g.first[piece], g.first[piece + 1]):
            day = max(day, g.opens[g.gate[k], run])
        s.opened[piece] = day
        s.start[piece] = np.inf
        s.end[piece] = np.inf
        s.binder[piece] = -1
        s.season[piece] = False
        s.waits[piece] = n.waits[piece]
        s.left[piece] = d.hours[n.job[piece], run] * n.share[piece] if n.job[piece] >= 0 else 0.0
    for piece in range(n.job.size):
        if n.waits[piece] == 0:
            events = _enter(n, c, s, events, piece, s.opened[piece])
    return events


@_compiled
def _work(
    n: Network, c: HandsCalendar, d: Draws, s: Scratch, events: int, piece: int, now: float, run: int
) -> tuple[float, int]:
    """Work on a piece until it is done or its months end; the moment the hands are free again, inf if never."""
    have = _hours_at(c, now)
    target = have + s.left[piece]
    window = n.window[piece]
    if window >= 0:
        closes = c.closes[window, int(now)]
        if c.cumulative[closes] < target and closes < c.hours.size:
            s.left[piece] = target - c.cumulative[closes]
            s.season[piece] = True
            return float(closes), _enter(n, c, s, events, piece, float(closes))
    if target > c.cumulative[-1]:
        return np.inf, events
    done = max(now, _day_at(c, target)) if s.left[piece] > 0 else now
    return done, _finish(n, c, d, s, events, piece, done, run)


@_compiled
def _simulate(n: Network, c: HandsCalendar, d: Draws, g: GateArrays, s: Scratch, t: Tally, run: int) -> float:
    """One run; the day all is done and cured, inf if not within the horizon."""
    horizon = float(c.hours.size)
    events, ready = _begin_run(n, c, d, g, s, run), 0
    now, free, previous = 0.0, 0.0, -1
    while True:
        if now < horizon and c.hours[int(now)] == 0:
            now = float(c.next_day[int(now)])
        while events > 0 and s.event_day[0] <= now and s.event_day[0] < horizon:
            piece, day = s.event_piece[0], s.event_day[0]
            events = _drop_event(s, events)
            if n.hands[piece]:
                ready = _push_ready(s.ready, ready, piece)
            else:
                s.start[piece] = day
                events = _let_go(n, c, s, events, piece, day, True)
                events = _finish(n, c, d, s, events, piece, day, run)
        if now >= horizon:
            break
        if ready == 0:
            if events == 0:
                break
            now = min(s.event_day[0], horizon)
            continue
        piece = s.ready[0]
        ready = _drop_ready(s.ready, ready)
        if n.window[piece] >= 0 and c.opens[n.window[piece], int(now)] > now:
            events = _enter(n, c, s, events, piece, now)
            continue
        if t.on:
            _tally_stall(n, c, g, s, t, piece, free, now, run)
        if s.start[piece] == np.inf:
            s.start[piece] = now
            if previous >= 0 and s.opened[piece] < free and _hours_at(c, now) <= _hours_at(c, free):
                s.binder[piece] = previous
            events = _let_go(n, c, s, events, piece, now, True)
        now, events = _work(n, c, d, s, events, piece, now, run)
        free, previous = now, piece
        if now == np.inf:
            now = free = horizon
    return _end_run(n, c, g, s, t, free, run)


@_compiled
def _end_run(n: Network, c: HandsCalendar, g: GateArrays, s: Scratch, t: Tally, free: float, run: int) -> float:
    horizon = float(c.hours.size)
    finish, last = 0.0, -1
    for piece in range(n.job.size):
        done = s.end[piece] + n.cure[piece]
        if done > finish and (done < np.inf or s.waits[piece] == 0):
            finish, last = done, piece
    for piece in range(n.job.size):
        if s.end[piece] == np.inf:
            finish = np.inf
    if finish > horizon:
        finish = np.inf
    if t.on and last >= 0:
        _tally_end(n, c, g, s, t, last, free, finish, run)
    return finish


@_compiled
def _causes(n: Network, g: GateArrays, s: Scratch, t: Tally, piece: int, run: int) -> int:
    """Note the last things that opened for a piece, shared if tied; how many there are."""
    base = g.opens.shape[0]
    while True:
        if s.season[piece]:
            t.cause[0] = base + _KINDS * piece + _SEASON
            return 1
        count, through = 0, -1
        day = s.opened[piece]
        for k in range(g.first[piece], g.first[piece + 1]):
            if g.opens[g.gate[k], run] == day and day > 0:
                t.cause[count] = g.gate[k]
                count += 1
        for k in range(n.before_first[piece], n.before_first[piece + 1]):
            other, lag = n.before[k], n.before_lag[k]
            cure = 0.0 if n.before_start[k] else n.cure[other]
            if (s.start[other] if n.before_start[k] else s.end[other] + cure) + lag != day:
                continue
            if lag + cure > 0:
                kind = _CURE
            elif n.shop[other] >= 0 and not n.before_start[k]:
                kind = _SHOP
            elif not n.hands[other]:
                through = other
                continue
            else:
                kind = _JOB
            t.cause[count] = base + _KINDS * other + kind
            count += 1
        if count == 0 and through < 0:
            # what it waited for was done before as_of: only curing or a lag is left of it
            t.cause[0] = base + _KINDS * piece + _PAST
            return 1
        if count > 0:
            return count
        piece = through


@_compiled
def _tally_stall(
    n: Network, c: HandsCalendar, g: GateArrays, s: Scratch, t: Tally, piece: int, free: float, now: float, run: int
) -> None:
    """Book the owner's hours between two moments to what the piece waited for last."""
    if _hours_at(c, now) - _hours_at(c, free) <= 1e-9:
        return
    count = _causes(n, g, s, t, piece, run)
    _book(c, t, count, free, now)


@_compiled
def _book(c: HandsCalendar, t: Tally, count: int, free: float, now: float) -> None:
    last = min(int(now), c.hours.size - 1)
    for month in range(c.month_of_day[int(free)], c.month_of_day[last] + 1):
        begin, end = max(free, float(c.first_day[month])), min(now, float(c.first_day[month + 1]))
        hours = _hours_at(c, end) - _hours_at(c, begin)
        t.stalled[month] += hours
        for k in range(count):
            t.hours[t.cause[k], month] += hours / count


@_compiled
def _tally_end(
    n: Network, c: HandsCalendar, g: GateArrays, s: Scratch, t: Tally, last: int, free: float, finish: float, run: int
) -> None:
    """The hours after the hands' last work, the months stalled, and the chain that set the finish."""
    horizon = float(c.hours.size)
    base = g.opens.shape[0]
    if _hours_at(c, min(finish, horizon)) - _hours_at(c, free) > 1e-9:
        if s.end[last] < np.inf and (n.cure[last] > 0 or n.shop[last] >= 0):
            count = 1
            t.cause[0] = base + _KINDS * last + (_CURE if n.cure[last] > 0 else _SHOP)
        else:
            count = _causes(n, g, s, t, last, run)
        _book(c, t, count, free, min(finish, horizon))
    for month in range(t.stalled.size):
        if t.stalled[month] > 0.5 * c.month_hours[month] and c.month_hours[month] > 0:
            t.over_half[month] += 1
        t.stalled[month] = 0.0
    here = last
    while True:
        t.critical[here] += 1
        if s.binder[here] < 0:
            break
        here = s.binder[here]
    if s.opened[here] > 0 or s.season[here]:
        count = _causes(n, g, s, t, here, run)
        for k in range(count):
            t.head[t.cause[k]] += 1.0 / count


@_compiled
def finishes(n: Network, c: HandsCalendar, d: Draws, g: GateArrays, s: Scratch, t: Tally, finish_weeks: Floats) -> None:
    """Fill the finish of each run [weeks]."""
    for run in range(finish_weeks.size):
        finish_weeks[run] = _simulate(n, c, d, g, s, t, run) / 7


@_compiled
def finishes_and_moments(
    n: Network,
    c: HandsCalendar,
    d: Draws,
    g: GateArrays,
    s: Scratch,
    t: Tally,
    finish_weeks: Floats,
    starts: Floats32,
    ends: Floats32,
) -> None:
    """Fill the finish of each run, and the start and end of each piece (P, R), and the tally [weeks]."""
    for run in range(finish_weeks.size):
        finish_weeks[run] = _simulate(n, c, d, g, s, t, run) / 7
        for piece in range(n.job.size):
            starts[piece, run] = s.start[piece] / 7
            ends[piece, run] = s.end[piece] / 7
