"""Orders of tasks that need no hands, tried out and crossed, compiled by numba. Nothing here allocates.

An order is turned into a schedule task by task, then pulled to the right and back to the left for as long as that
shortens it: double justification, Valls, Ballestín & Quintanilla (2005), European Journal of Operational Research 165,
375-386. Orders are crossed at two points and keep what must come first: Hartmann (1998), Naval Research Logistics 45,
733-750.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .kernel_tools import called, compiled, inlined
from .kernel_types import Flags, Floats, Ints

LANE = 16
"""Bits of one resource in a word; the highest of them is kept free to see that there was not enough."""
MOVED = 3
"""How often a task of a child may be moved to another place, one time in two."""
_RIVALS = 3


class Yard(NamedTuple):
    """Tasks in an order that keeps all waits. N tasks, W words of four resources each.

    Parameters
    ----------
    length, opens, tail : (N,) days; opens is the first day it can begin
    need : (N, W) of each resource, four to a word; capacity : (W,); guard : the highest bit of each lane
    before_first, before, before_gap : what each waits for (N + 1,), (waits,); days between end and start
    after_first, after, after_gap : the same from the other end
    latest : (N,) how late each can be, by waits alone: less is more urgent
    """

    length: Ints
    opens: Ints
    tail: Ints
    need: Ints
    capacity: Ints
    guard: int
    before_first: Ints
    before: Ints
    before_gap: Ints
    after_first: Ints
    after: Ints
    after_gap: Ints
    latest: Floats


class Bench(NamedTuple):
    """Room to work in. D days of the horizon.

    Parameters
    ----------
    free : (D, W); places : (D + 2,); start, key, order, child : (N,); taken : (N,)
    """

    free: Ints
    places: Ints
    start: Ints
    key: Ints
    order: Ints
    child: Ints
    taken: Flags


@inlined
def _fits(y: Yard, b: Bench, task: int, day: int) -> bool:
    """Whether a day has enough of all resources left."""
    left = y.guard
    for w in range(y.capacity.size):
        left &= (b.free[day, w] | y.guard) - y.need[task, w]
    return left == y.guard


@inlined
def _put(y: Yard, b: Bench, task: int, day: int) -> None:
    b.start[task] = day
    for at in range(day, day + y.length[task]):
        for w in range(y.capacity.size):
            b.free[at, w] -= y.need[task, w]


@inlined
def _emptied(y: Yard, b: Bench) -> None:
    for day in range(b.free.shape[0]):
        for w in range(y.capacity.size):
            b.free[day, w] = y.capacity[w]


@compiled
def _to_the_left(y: Yard, b: Bench, order: Ints) -> int:
    """Each task of an order as early as can be; the finish."""
    _emptied(y, b)
    finish = 0
    for k in range(order.size):
        task = order[k]
        start = y.opens[task]
        for p in range(y.before_first[task], y.before_first[task + 1]):
            other = y.before[p]
            start = max(start, b.start[other] + y.length[other] + y.before_gap[p])
        day = start + y.length[task] - 1
        while day >= start:
            if _fits(y, b, task, day):
                day -= 1
            else:
                start = day + 1
                day = start + y.length[task] - 1
        _put(y, b, task, start)
        finish = max(finish, start + y.length[task] + y.tail[task])
    return finish


@compiled
def _to_the_right(y: Yard, b: Bench, order: Ints, finish: int) -> int:
    """Each task of an order as late as can be; the first start."""
    _emptied(y, b)
    first = finish
    for k in range(order.size):
        task = order[k]
        end = finish - y.tail[task]
        for p in range(y.after_first[task], y.after_first[task + 1]):
            end = min(end, b.start[y.after[p]] - y.after_gap[p])
        start = end - y.length[task]
        day = start
        while day < start + y.length[task]:
            if _fits(y, b, task, day):
                day += 1
            else:
                start = day - y.length[task]
                day = start
        _put(y, b, task, start)
        first = min(first, start)
    return first


@compiled
def _by_key(b: Bench, most: int, order: Ints) -> None:
    """Tasks by their key, 0 to most; equal ones as they are numbered."""
    for at in range(most + 2):
        b.places[at] = 0
    for task in range(order.size):
        b.places[b.key[task] + 1] += 1
    for at in range(most + 1):
        b.places[at + 1] += b.places[at]
    for task in range(order.size):
        order[b.places[b.key[task]]] = task
        b.places[b.key[task]] += 1


@called
def tried(y: Yard, b: Bench, order: Ints) -> int:
    """The finish of an order, pulled together; the order becomes that of the starts, which stand in the bench."""
    last = order.size - 1
    finish = _to_the_left(y, b, order)
    while True:
        for task in range(order.size):
            # of those that end together the later one first, which may wait for the other
            b.key[last - task] = finish - b.start[task] - y.length[task]
        _by_key(b, finish, b.order)
        for k in range(order.size):
            b.order[k] = last - b.order[k]
        first = _to_the_right(y, b, b.order, finish)
        for task in range(order.size):
            b.key[task] = b.start[task] - first
        _by_key(b, finish - first, b.order)
        shorter = _to_the_left(y, b, b.order)
        if shorter >= finish:
            break
        finish = shorter
    for task in range(order.size):
        b.key[task] = b.start[task]
    _by_key(b, shorter, order)
    return shorter


@called
def drawn(y: Yard, b: Bench, looseness: float, order: Ints, seed: int) -> None:
    """An order at random, the more urgent rather first; `looseness` in days."""
    np.random.seed(seed)
    for task in range(order.size):
        b.taken[task] = False
    for k in range(order.size):
        chosen, least = -1, np.inf
        for task in range(order.size):
            free = not b.taken[task]
            for p in range(y.before_first[task], y.before_first[task + 1]):
                free = free and b.taken[y.before[p]]
            if free:
                rank = y.latest[task] - looseness * np.log(np.random.random() + 1e-12)
                if rank < least:
                    chosen, least = task, rank
        order[k] = chosen
        b.taken[chosen] = True


@compiled
def _moved(y: Yard, b: Bench, order: Ints) -> None:
    """Move one task to any place between what it waits for and what waits for it."""
    size = order.size
    at = np.random.randint(0, size)
    task, low, high = order[at], 0, size - 1
    for k in range(size):
        b.key[order[k]] = k
    for p in range(y.before_first[task], y.before_first[task + 1]):
        low = max(low, b.key[y.before[p]] + 1)
    for p in range(y.after_first[task], y.after_first[task + 1]):
        high = min(high, b.key[y.after[p]] - 1)
    to = np.random.randint(low, high + 1)
    while at < to:
        order[at] = order[at + 1]
        at += 1
    while at > to:
        order[at] = order[at - 1]
        at -= 1
    order[to] = task


@compiled
def _crossed(y: Yard, b: Bench, one: Ints, other: Ints) -> None:
    """A child of two orders: the middle as the other has it; then a few tasks are moved."""
    size = one.size
    low, high = np.random.randint(0, size), np.random.randint(0, size)
    if low > high:
        low, high = high, low
    for task in range(size):
        b.taken[task] = False
    k = 0
    for part in range(3):
        source = other if part == 1 else one
        stop = low if part == 0 else high if part == 1 else size
        for at in range(size):
            if k >= stop:
                break
            if not b.taken[source[at]]:
                b.child[k] = source[at]
                b.taken[source[at]] = True
                k += 1
    for _ in range(MOVED):
        if np.random.random() < 0.5:
            _moved(y, b, b.child)


@inlined
def _better_of_two(finish: Ints) -> int:
    one, other = np.random.randint(0, finish.size), np.random.randint(0, finish.size)
    return other if finish[other] < finish[one] else one


@compiled
def _is_there(orders: Ints, finish: Ints, child: Ints, ends: int) -> bool:
    for i in range(finish.size):
        if finish[i] == ends:
            same = True
            for k in range(child.size):
                if orders[i, k] != child[k]:
                    same = False
                    break
            if same:
                return True
    return False


@called
def bred(y: Yard, b: Bench, orders: Ints, finish: Ints, children: int, seed: int) -> None:
    """Cross orders so often; a child takes the place of a poor one, unless it is there already or is worse.

    Parameters
    ----------
    orders : (P, N) changed in place; finish : (P,) of each
    """
    np.random.seed(seed)
    for _ in range(children):
        _crossed(y, b, orders[_better_of_two(finish)], orders[_better_of_two(finish)])
        ends = tried(y, b, b.child)
        if _is_there(orders, finish, b.child, ends):
            continue
        worst = np.random.randint(0, finish.size)
        for _rival in range(_RIVALS):
            rival = np.random.randint(0, finish.size)
            if finish[rival] > finish[worst]:
                worst = rival
        if ends <= finish[worst]:
            finish[worst] = ends
            for k in range(b.child.size):
                orders[worst, k] = b.child[k]
