"""The arrays the kernel works on. P pieces in order of priority, J jobs, S shop jobs, G gates, R runs; time in days."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Floats32 = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

KINDS = 6
"""Causes of each piece in the tally: workshop, window, cure, job, what is past, bay."""
MOST_PLACES = 8


class Network(NamedTuple):
    """Pieces of work, what each waits for and what waits for it.

    Parameters
    ----------
    hands : (P,) takes the owner's hands
    job : (P,) row of its job in the hours, -1 for a piece without any
    share : (P,) share of the job's hours left
    shop : (P,) row of the shop's time after the work, or -1
    cure : (P,) days after it before the next can start
    window : (P,) row of its months and need of help in the calendar, or -1
    resumes : (P,) the piece of the same job before it; P if the job was begun before as_of, -1 if it is the first
    setup : (P,) hours to set up again after a rest [h]
    holds : (P, 2) takes the bay, a lift
    urgent : (P,) others rest for it: it must begin in time, or needs a second person who is not always there
    any_urgent : whether there is such a piece
    verify : (P,) row of the rework that follows if what it verifies is wrong, or -1
    late_first, late_piece, late_days, late_hours, late_start : pieces from whose end, or start, each must begin within
        so many days, -1 for a day counted from as_of, and the hours it takes more if it does not (P + 1,), (windows,)
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
    resumes: Ints
    setup: Floats
    holds: Flags
    urgent: Flags
    any_urgent: bool
    verify: Ints
    late_first: Ints
    late_piece: Ints
    late_days: Floats
    late_hours: Floats
    late_start: Flags
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
    """Hours of each job (J, R) [h], days at the shop (S, R), rework (K, R) [h], the owner's pace (R,)."""

    hours: Floats32
    shop_days: Floats32
    rework: Floats32
    pace: Floats


class HandsCalendar(NamedTuple):
    """The owner's hours and the windows of the year. D days, W windows, M months.

    Parameters
    ----------
    cumulative : (D + 1,) hours before each day
    hours : (D,)
    next_day : (D + 1,) next day with hours, D if none
    reached, step : day in which every `step` of hours is reached
    opens, closes : (V W, D + 1) next day the window is open, and the day it closes then, for V variants of who comes
    windows, variants : W, V
    slots : (2,) bays and lifts
    month_of_day : (D,), first_day : (M + 1,), month_hours : (M,)
    """

    cumulative: Floats
    hours: Floats
    next_day: Ints
    reached: Ints
    step: float
    opens: Ints
    closes: Ints
    windows: int
    variants: int
    slots: Ints
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
    why : (P,) why it was put off when all had opened: not at all, its window, a place
    holder : (P,) the piece that kept the place
    free_at, held_by : (2, places) when each place is free again, and who holds it
    event_day, event_piece, ready : heaps
    """

    start: Floats
    end: Floats
    opened: Floats
    left: Floats
    binder: Ints
    waits: Ints
    why: Ints
    holder: Ints
    free_at: Floats
    held_by: Ints
    event_day: Floats
    event_piece: Ints
    ready: Ints


class Tally(NamedTuple):
    """What is gathered over the runs. C causes: gates, then `KINDS` for each piece, as in the kernel.

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
        why=np.zeros(pieces, dtype=np.int64),
        holder=np.zeros(pieces, dtype=np.int64),
        free_at=np.zeros((2, MOST_PLACES)),
        held_by=np.zeros((2, MOST_PLACES), dtype=np.int64),
        event_day=np.zeros(pieces + 1),
        event_piece=np.zeros(pieces + 1, dtype=np.int64),
        ready=np.zeros(pieces + 1, dtype=np.int64),
    )


def tally_for(pieces: int, gates: int, months: int, *, on: bool) -> Tally:
    """An empty tally; tiny where nothing is to be gathered."""
    causes = gates + KINDS * pieces if on else 1
    return Tally(
        on=on,
        hours=np.zeros((causes, months if on else 1)),
        stalled=np.zeros(months),
        over_half=np.zeros(months, dtype=np.int64),
        cause=np.zeros(pieces + gates + 1, dtype=np.int64),
        critical=np.zeros(pieces, dtype=np.int64),
        head=np.zeros(causes),
    )
