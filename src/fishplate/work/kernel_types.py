"""The arrays the kernel works on. P pieces in order of priority, J jobs, S shop jobs, G gates, R runs; time in days."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Floats32 = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


class Network(NamedTuple):
    """Pieces of work, what each waits for and what waits for it.

    Parameters
    ----------
    hands : (P,) takes the owner's hands
    job : (P,) row of its job in the hours, -1 for a piece without any
    share : (P,) share of the job's hours left
    shop : (P,) row of the shop's time after the work, or -1
    cure : (P,) days after it before the next can start
    window : (P,) row of its months in the calendar, or -1
    opens : (P,) earliest day, from jobs done before
    waits : (P,) number of pieces it waits for
    after_first, after, after_lag, after_start : pieces that wait for each (P + 1,), (links,); lag in days;
        whether they wait for its start only
    before_first, before, before_lag, before_start : the same links from the other end
    gate_first, gate : gates each piece waits for (P + 1,), (pairs,)
    """

    hands: Flags
    job: Ints
    share: Floats
    shop: Ints
    cure: Floats
    window: Ints
    opens: Floats
    waits: Ints
    after_first: Ints
    after: Ints
    after_lag: Floats
    after_start: Flags
    before_first: Ints
    before: Ints
    before_lag: Floats
    before_start: Flags


class GateArrays(NamedTuple):
    """Which gates hold which piece, and when each opens.

    Parameters
    ----------
    first, gate : (P + 1,), (pairs,)
    opens : (G, R) [days]
    """

    first: Ints
    gate: Ints
    opens: Floats


class Draws(NamedTuple):
    """Hours of each job (J, R) [h], and days at the shop (S, R)."""

    hours: Floats32
    shop_days: Floats32


class HandsCalendar(NamedTuple):
    """The owner's hours and the windows of the year. D days, W windows, M months.

    Parameters
    ----------
    cumulative : (D + 1,) hours before each day
    hours : (D,)
    next_day : (D + 1,) next day with hours, D if none
    reached, step : day in which every `step` of hours is reached
    opens, closes : (W, D + 1) next day the window is open, and the day it closes then
    month_of_day : (D,), first_day : (M + 1,), month_hours : (M,)
    """

    cumulative: Floats
    hours: Floats
    next_day: Ints
    reached: Ints
    step: float
    opens: Ints
    closes: Ints
    month_of_day: Ints
    first_day: Ints
    month_hours: Floats


class Scratch(NamedTuple):
    """State of one run, used again for the next.

    Parameters
    ----------
    start, end : (P,) of the work, the shop's time included in the end
    opened : (P,) when the last thing it waited for opened
    left : (P,) hours left
    binder : (P,) the piece whose start, end or hands it waited for last, or -1
    waits : (P,) pieces still to wait for
    season : (P,) a window of the year was the last to open
    event_day, event_piece, ready : heaps
    """

    start: Floats
    end: Floats
    opened: Floats
    left: Floats
    binder: Ints
    waits: Ints
    season: Flags
    event_day: Floats
    event_piece: Ints
    ready: Ints


class Tally(NamedTuple):
    """What is gathered over the runs. C causes: gates, then five kinds for each piece, as in the kernel.

    Parameters
    ----------
    on : whether to gather at all
    hours : (C, M) stalled hours by cause and month
    stalled : (M,) of the run at hand; over_half : (M,) runs in which more than half of the month was stalled
    cause : (P + G,) the tied causes found last
    critical : (P,) runs in which a piece is on the chain that sets the finish
    head : (C,) runs in which the chain begins with waiting for this
    """

    on: bool
    hours: Floats
    stalled: Floats
    over_half: Ints
    cause: Ints
    critical: Ints
    head: Floats


def scratch_for(pieces: int) -> Scratch:
    """Empty state for so many pieces."""
    return Scratch(
        start=np.zeros(pieces),
        end=np.zeros(pieces),
        opened=np.zeros(pieces),
        left=np.zeros(pieces),
        binder=np.zeros(pieces, dtype=np.int64),
        waits=np.zeros(pieces, dtype=np.int64),
        season=np.zeros(pieces, dtype=np.bool_),
        event_day=np.zeros(pieces + 1),
        event_piece=np.zeros(pieces + 1, dtype=np.int64),
        ready=np.zeros(pieces + 1, dtype=np.int64),
    )


def tally_for(pieces: int, gates: int, months: int, *, on: bool) -> Tally:
    """An empty tally; tiny where nothing is to be gathered."""
    causes = gates + 5 * pieces if on else 1
    return Tally(
        on=on,
        hours=np.zeros((causes, months if on else 1)),
        stalled=np.zeros(months),
        over_half=np.zeros(months, dtype=np.int64),
        cause=np.zeros(pieces + gates + 1, dtype=np.int64),
        critical=np.zeros(pieces, dtype=np.int64),
        head=np.zeros(causes),
    )
