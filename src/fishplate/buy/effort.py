"""Work as a measure of time that is the same on every machine, however busy: what stops a search stops it always alike.

Iterations and looks of the solver and pieces of the search are counted at what they take on a usual machine [s]. The
clock is only a far backstop; a search that it stops may end otherwise next time, and says so.
"""

from __future__ import annotations

from time import perf_counter

BACKSTOP = 10.0
"""Times the work allowed, after which the clock ends a search."""
LEAST = 0.05
"""With less than this left nothing more is begun [s]."""
SIMPLEX = (3e-6, 2e-9)
"""Seconds for an iteration of a relaxation, and more for each entry of its matrix."""
BRANCHING, ROOT = 2.5e-6, 2e-5
"""Seconds between two looks of a whole-unit programme at its limits, and to begin it, for each entry of its matrix."""
PIECE = 5e-4
"""Seconds for a piece of a plan taken out and put in again."""
USUAL_CANDIDATES = 100_000
"""A problem of more candidates is given more work, in proportion."""


class Effort:
    """Work that may be spent, in usual seconds.

    Parameters
    ----------
    seconds : how much
    parent : what it is a part of: all that is spent of a part is spent of the whole
    """

    def __init__(self, seconds: float, parent: Effort | None = None) -> None:
        self.limit, self.spent, self._parent = max(seconds, 0.0), 0.0, parent
        self._end: float = perf_counter() + BACKSTOP * max(seconds, 0.5) if parent is None else parent._end
        self.by_clock = False

    def part(self, seconds: float) -> Effort:
        """A part of what is left, at most so much."""
        return Effort(min(seconds, self.left()), self)

    def spend(self, seconds: float) -> None:
        """Count work done."""
        self.spent += seconds
        if self._parent is not None:
            self._parent.spend(seconds)

    def left(self) -> float:
        """Work left [s]; none once the clock is over."""
        if self.clock() <= 0:
            self._say_by_clock()
            return 0.0
        return self.limit - self.spent

    def over(self) -> bool:
        """Whether too little is left to begin anything."""
        return self.left() <= LEAST

    def clock(self) -> float:
        """Time left by the clock [s]."""
        return self._end - perf_counter()

    def _say_by_clock(self) -> None:
        self.by_clock = True
        if self._parent is not None:
            self._parent._say_by_clock()


def simplex_seconds(iterations: float, entries: int) -> float:
    """Usual seconds of so many iterations on a matrix of so many entries."""
    return iterations * (SIMPLEX[0] + SIMPLEX[1] * entries)


def simplex_iterations(seconds: float, entries: int) -> int:
    """Iterations that so much work allows."""
    return max(1, int(seconds / (SIMPLEX[0] + SIMPLEX[1] * entries)))


def branching_seconds(looks: int, entries: int) -> float:
    """Usual seconds of a whole-unit programme after it has looked at its limits so many times."""
    return entries * (looks * BRANCHING + ROOT)


def seconds_for(candidates: int, seconds: float) -> float:
    """Work that a problem of so many candidates is given, where a usual one is given so much.

    >>> seconds_for(2_000, 8.0), seconds_for(300_000, 8.0)
    (8.0, 24.0)
    """
    return seconds * max(1.0, candidates / USUAL_CANDIDATES)
