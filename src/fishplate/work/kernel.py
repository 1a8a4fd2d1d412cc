"""The event kernel: one pair of hands takes the ready piece of highest priority, run by run. Compiled by numba.

A piece waits for other pieces, gates, its months, a second person, the bay or lift. When the hands are free and nothing
is ready they stand still: a stall, whose cause is the last thing to open for the piece that ends it. Pieces without
hours take no hands, unless they take a place.
"""

from __future__ import annotations

import numpy as np

from .kernel_tools import (
    AT_END,
    AT_START,
    NOBODY,
    ZERO,
    called,
    compiled,
    copied,
    day_at,
    drop_event,
    drop_ready,
    hours_at,
    push_event,
    push_ready,
)
from .kernel_types import KINDS, Draws, Floats, Floats32, GateArrays, HandsCalendar, Ints, Network, Scratch, Tally

# rows of the tally for each piece, after those of the gates; _PAST is the cure of a job done before as_of, _BAY the
# time it keeps the bay or lift from others
_SHOP, _SEASON, _CURE, _JOB, _PAST, _BAY = 0, 1, 2, 3, 4, 5
# why a piece was put off when all it waited for had opened
_IN_TIME, _WINDOW, _PLACE = 0, 1, 2
_PLACES = 2


@copied
def _window(n: Network, c: HandsCalendar, piece: int, run: int) -> int:
    """The row of the piece's window in a run; the evenings with help differ between runs."""
    return int(n.window[piece] + (run % c.variants) * c.windows)


@copied
def _enter(n: Network, c: HandsCalendar, s: Scratch, events: int, piece: int, day: float, run: int) -> int:
    """All that a piece waited for has opened: it becomes an event, put off to its window."""
    if n.window[piece] >= 0 and day < c.hours.size:
        opens = c.opens[_window(n, c, piece, run), int(day)]
        if opens > day:
            s.why[piece] = _WINDOW
            day = float(opens)
    return push_event(s, events, day, piece)


@compiled
def _let_go(
    n: Network, c: HandsCalendar, s: Scratch, events: int, piece: int, day: float, by_start: bool, run: int
) -> int:
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
            events = _enter(n, c, s, events, other, s.opened[other], run)
    return events


@copied
def _first_free(c: HandsCalendar, s: Scratch, place: int) -> int:
    best = 0
    for k in range(1, c.slots[place]):
        if s.free_at[place, k] < s.free_at[place, best]:
            best = k
    return best


@copied
def _room_at(n: Network, c: HandsCalendar, s: Scratch, piece: int, now: float) -> float:
    """The moment from which there is room for a piece, noting who takes it until then; inf without any place."""
    moment = now
    for place in range(_PLACES):
        if n.holds[piece, place]:
            if c.slots[place] == 0:
                return np.inf
            best = _first_free(c, s, place)
            if s.free_at[place, best] > moment:
                moment = s.free_at[place, best]
                s.holder[piece] = s.held_by[place, best]
    return moment


@compiled
def _finish(n: Network, c: HandsCalendar, d: Draws, s: Scratch, events: int, piece: int, day: float, run: int) -> int:
    shop = n.shop[piece]
    end = day + (d.shop_days[shop, run] if shop >= 0 else 0.0)
    s.end[piece] = end
    for place in range(_PLACES):
        if n.holds[piece, place]:
            best = _first_free(c, s, place)
            # what was sent out stands elsewhere
            s.free_at[place, best] = day if shop >= 0 else end + n.cure[piece]
            s.held_by[place, best] = piece
    return _let_go(n, c, s, events, piece, end + n.cure[piece], AT_END, run)


@compiled
def _begin_run(n: Network, c: HandsCalendar, d: Draws, g: GateArrays, s: Scratch, run: int) -> int:
    events = ZERO
    s.free_at[:, :] = 0.0
    for piece in range(n.job.size):
        day = n.opens[piece]
        for k in range(g.first[piece], g.first[piece + 1]):
            day = max(day, g.opens[g.gate[k], run])
        s.opened[piece] = day
        s.start[piece] = np.inf
        s.end[piece] = np.inf
        s.binder[piece] = -1
        s.why[piece] = _IN_TIME
        s.waits[piece] = n.waits[piece]
        s.left[piece] = d.hours[n.job[piece], run] * n.share[piece] if n.job[piece] >= 0 else 0.0
        if n.verify[piece] >= 0:
            s.left[piece] += d.rework[n.verify[piece], run]
    for piece in range(n.job.size):
        if n.waits[piece] == 0:
            events = _enter(n, c, s, events, piece, s.opened[piece], run)
    return events


@copied
def _extra(n: Network, d: Draws, s: Scratch, piece: int, rested: bool, now: float, run: int) -> float:
    """Hours more where a piece begins after a rest or too late [h]."""
    hours = n.setup[piece] if rested else 0.0
    for k in range(n.late_first[piece], n.late_first[piece + 1]):
        other = n.late_piece[k]
        since = 0.0 if other < 0 else s.start[other] if n.late_start[k] else s.end[other]
        if now > since + n.late_days[k] + 1e-9:
            hours += n.late_hours[k] * d.pace[run]
    return float(hours)


@copied
def _take_event(
    n: Network, c: HandsCalendar, d: Draws, s: Scratch, events: int, ready: int, run: int
) -> tuple[int, int]:
    """Let the next event happen: a piece becomes ready, or is begun and done if it takes no hands."""
    piece, day = s.event_piece[0], s.event_day[0]
    events = drop_event(s, events)
    if n.hands[piece]:
        return events, push_ready(s.ready, ready, piece)
    s.start[piece] = day
    events = _let_go(n, c, s, events, piece, day, AT_START, run)
    return _finish(n, c, d, s, events, piece, day, run), ready


@copied
def _meanwhile(
    n: Network, c: HandsCalendar, d: Draws, s: Scratch, events: int, ready: int, piece: int, now: float, run: int
) -> tuple[float, int, int]:
    """Let happen what comes while a piece is worked, up to something urgent; the moment of that, inf if nothing is."""
    target = hours_at(c, now) + s.left[piece]
    closes = c.hours.size
    if n.window[piece] >= 0:
        closes = c.closes[_window(n, c, piece, run), int(now)]
    while events > 0 and s.event_day[0] < closes and hours_at(c, s.event_day[0]) < target:
        if n.urgent[s.event_piece[0]]:
            return s.event_day[0], events, ready
        events, ready = _take_event(n, c, d, s, events, ready, run)
    return np.inf, events, ready


@copied
def _rest(n: Network, s: Scratch, piece: int, worked: float) -> None:
    """Put a piece down before it is done. Setting up takes half of what was worked at most, or it would never end."""
    s.left[piece] += min(n.setup[piece], 0.5 * worked) - worked


@copied
def _work(
    n: Network, c: HandsCalendar, d: Draws, s: Scratch, events: int, piece: int, now: float, urgent: float, run: int
) -> tuple[float, int]:
    """Work on a piece until it is done or has to rest; the moment the hands are free again, inf if never."""
    have = hours_at(c, now)
    target = have + s.left[piece]
    if n.window[piece] >= 0:
        closes = c.closes[_window(n, c, piece, run), int(now)]
        if closes <= urgent and c.cumulative[closes] < target and closes < c.hours.size:
            _rest(n, s, piece, c.cumulative[closes] - have)
            s.why[piece] = _WINDOW
            return float(closes), _enter(n, c, s, events, piece, float(closes), run)
    if urgent < c.hours.size and hours_at(c, urgent) < target:
        _rest(n, s, piece, hours_at(c, urgent) - have)
        return urgent, push_event(s, events, urgent, piece)
    if target > c.cumulative[-1]:
        return np.inf, events
    done = max(now, day_at(c, target)) if s.left[piece] > 0 else now
    return done, _finish(n, c, d, s, events, piece, done, run)


@copied
def _put_off(
    n: Network, c: HandsCalendar, s: Scratch, events: int, piece: int, now: float, run: int
) -> tuple[bool, int]:
    """Whether a piece whose turn has come is put off, to its window or until there is room."""
    if n.window[piece] >= 0 and c.opens[_window(n, c, piece, run), int(now)] > now:
        return True, _enter(n, c, s, events, piece, now, run)
    if not (n.holds[piece, 0] or n.holds[piece, 1]):
        return False, events
    room = _room_at(n, c, s, piece, now)
    if room <= now:
        return False, events
    if room < np.inf:
        s.why[piece] = _PLACE
        if s.start[piece] == np.inf:
            s.opened[piece] = room
            s.binder[piece] = s.holder[piece]
        events = _enter(n, c, s, events, piece, room, run)
    return True, events


@copied
def _simulate(n: Network, c: HandsCalendar, d: Draws, g: GateArrays, s: Scratch, t: Tally, run: int) -> float:
    """One run; the day all is done and cured, inf if not within the horizon."""
    horizon = float(c.hours.size)
    events, ready = _begin_run(n, c, d, g, s, run), ZERO
    now, free, previous = 0.0, 0.0, NOBODY
    while True:
        if now < horizon and c.hours[int(now)] == 0:
            now = float(c.next_day[int(now)])
        while events > 0 and s.event_day[0] <= now and s.event_day[0] < horizon:
            events, ready = _take_event(n, c, d, s, events, ready, run)
        if now >= horizon:
            break
        if ready == 0:
            if events == 0:
                break
            now = min(s.event_day[0], horizon)
            continue
        piece = s.ready[0]
        ready = drop_ready(s.ready, ready)
        waits, events = _put_off(n, c, s, events, piece, now, run)
        if waits:
            continue
        if t.on:
            _tally_stall(n, c, g, s, t, piece, free, now, run)
        if s.start[piece] == np.inf:
            s.start[piece] = now
            stood = hours_at(c, now) > hours_at(c, free) + 1e-9
            if previous >= 0 and s.opened[piece] < free and hours_at(c, now) <= hours_at(c, free):
                s.binder[piece] = previous
            rested = n.resumes[piece] >= 0 and (stood or n.resumes[piece] != previous)
            s.left[piece] += _extra(n, d, s, piece, rested, now, run)
            events = _let_go(n, c, s, events, piece, now, AT_START, run)
        urgent = np.inf
        if n.any_urgent and not n.urgent[piece]:
            urgent, events, ready = _meanwhile(n, c, d, s, events, ready, piece, now, run)
        now, events = _work(n, c, d, s, events, piece, now, urgent, run)
        free, previous = now, piece
        if now == np.inf:
            now = free = horizon
    return _end_run(n, c, g, s, t, free, run)


@compiled
def _end_run(n: Network, c: HandsCalendar, g: GateArrays, s: Scratch, t: Tally, free: float, run: int) -> float:
    horizon = float(c.hours.size)
    finish, last = 0.0, NOBODY
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


@compiled
def _causes(n: Network, g: GateArrays, s: Scratch, t: Tally, piece: int, run: int) -> int:
    """Note the last things that opened for a piece, shared if tied; how many there are."""
    base = g.opens.shape[0]
    while True:
        if s.why[piece] != _IN_TIME:
            placed = s.why[piece] == _PLACE
            t.cause[0] = base + KINDS * (s.holder[piece] if placed else piece) + (_BAY if placed else _SEASON)
            return 1
        count, through = ZERO, NOBODY
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
            t.cause[count] = base + KINDS * other + kind
            count += 1
        if count == 0 and through < 0:
            # what it waited for was done before as_of: only curing or a lag is left of it
            t.cause[0] = base + KINDS * piece + _PAST
            return 1
        if count > 0:
            return count
        piece = through


@compiled
def _tally_stall(
    n: Network, c: HandsCalendar, g: GateArrays, s: Scratch, t: Tally, piece: int, free: float, now: float, run: int
) -> None:
    """Book the owner's hours between two moments to what the piece waited for last."""
    if hours_at(c, now) - hours_at(c, free) <= 1e-9:
        return
    count = _causes(n, g, s, t, piece, run)
    _book(c, t, count, free, now)


@compiled
def _book(c: HandsCalendar, t: Tally, count: int, free: float, now: float) -> None:
    last = min(int(now), c.hours.size - 1)
    for month in range(c.month_of_day[int(free)], c.month_of_day[last] + 1):
        begin, end = max(free, float(c.first_day[month])), min(now, float(c.first_day[month + 1]))
        hours = hours_at(c, end) - hours_at(c, begin)
        t.stalled[month] += hours
        for k in range(count):
            t.hours[t.cause[k], month] += hours / count


@compiled
def _tally_end(
    n: Network, c: HandsCalendar, g: GateArrays, s: Scratch, t: Tally, last: int, free: float, finish: float, run: int
) -> None:
    """The hours after the hands' last work, the months stalled, and the chain that set the finish."""
    horizon = float(c.hours.size)
    base = g.opens.shape[0]
    if hours_at(c, min(finish, horizon)) - hours_at(c, free) > 1e-9:
        if s.end[last] < np.inf and (n.cure[last] > 0 or n.shop[last] >= 0):
            count = 1
            t.cause[0] = base + KINDS * last + (_CURE if n.cure[last] > 0 else _SHOP)
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
    if s.opened[here] > 0 or s.why[here] != _IN_TIME:
        count = _causes(n, g, s, t, here, run)
        for k in range(count):
            t.head[t.cause[k]] += 1.0 / count


@called
def play(
    n: Network,
    c: HandsCalendar,
    d: Draws,
    g: GateArrays,
    s: Scratch,
    t: Tally,
    which: Ints,
    finish_weeks: Floats,
    starts: Floats32,
    ends: Floats32,
) -> None:
    """Fill finish, start and end of each piece (R, P) of some runs [weeks], and the tally; (0, P) if not asked for."""
    for k in range(which.size):
        run = which[k]
        finish_weeks[run] = _simulate(n, c, d, g, s, t, run) / 7
        if starts.size > 0:
            for piece in range(n.job.size):
                starts[run, piece] = s.start[piece] / 7
        if ends.size > 0:
            for piece in range(n.job.size):
                ends[run, piece] = s.end[piece] / 7
