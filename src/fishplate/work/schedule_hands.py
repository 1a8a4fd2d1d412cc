"""The axis of the hands' time, and what days its moments fall on."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import accumulate
from typing import NamedTuple


class Run(NamedTuple):
    """Days one after the other with the same time each.

    Parameters
    ----------
    first, after : days from the first to before the other
    units : on each of its days
    begin, end : hands' time before its first day, and by its end
    """

    first: int
    after: int
    units: int
    begin: int
    end: int


class HandsTime:
    """Hands' time by day.

    Parameters
    ----------
    hours : units on each day

    Examples
    --------
    >>> hands = HandsTime([4, 0, 0, 4, 4])
    >>> hands.end_day(4), hands.end_day(5), hands.start_day(4), hands.at(3)
    (0, 3, 3, 4)
    """

    def __init__(self, hours: Sequence[int]) -> None:
        self.hours = tuple(hours)
        self._before = [0, *accumulate(self.hours)]

    @property
    def days(self) -> int:
        """How many days are known."""
        return len(self.hours)

    @property
    def total(self) -> int:
        """Hands' time of all of them."""
        return self._before[-1]

    def at(self, day: int) -> int:
        """Hands' time before a day begins; all of it beyond the known days."""
        return self._before[min(max(day, 0), self.days)]

    def end_day(self, moment: int) -> int:
        """The day on which so much time has been worked; the number of known days if never."""
        return max(0, bisect_left(self._before, moment) - 1) if moment <= self.total else self.days

    def start_day(self, moment: int) -> int:
        """The day on which work that begins after so much time begins; the number of known days if never."""
        return bisect_right(self._before, moment) - 1 if moment < self.total else self.days

    def runs(self, until: int, *, idle: bool = False) -> tuple[Run, ...]:
        """Runs of days with time, up to a day; those without as well, if asked for."""
        found: list[Run] = []
        day = 0
        while day < min(until, self.days):
            after = day
            while after < min(until, self.days) and self.hours[after] == self.hours[day]:
                after += 1
            if idle or self.hours[day] > 0:
                found.append(Run(day, after, self.hours[day], self._before[day], self._before[after]))
            day = after
        return tuple(found)
