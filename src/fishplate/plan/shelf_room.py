"""Months in which more parts lie about, not yet fitted, than the owner has room for, and what could come later."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from ..build import Assumption, Build, date_at, offer_contents
from ..build.words import month_words
from ..buy import PurchaseLine, Shipment
from ..work import WorkReport
from .demand import Entry
from .loop import Round
from .model import PlannedLine, ShelfMonth
from .sentences import day_words, money_words, name_of, quoted_list
from .study import Studied

MOST_LARGE: Final = 3
LAST_DAYS: Final = 5 * 366
"""What nothing says the end of is followed no further."""
LITTLE: Final = 0.005
"""Less is no room [m³]."""


@dataclass(frozen=True)
class _Peak:
    """The fullest day of a month: part -> room it takes on it [m³]."""

    day: date
    taken: Mapping[str, float]

    @property
    def volume(self) -> float:
        """All of it [m³]."""
        return sum(self.taken.values())


def shelf_months(
    studied: Studied, chosen: Round, run: WorkReport | None, lines: tuple[PlannedLine, ...]
) -> tuple[tuple[ShelfMonth, ...], tuple[Assumption, ...]]:
    """Each month whose fullest day holds more than there is room for; nothing where the owner does not say how much.

    Notes
    -----
    On median days. A part takes the room of its box from its arrival until the last job that keeps it begins, to the
    end where no job does; what came and is not fitted counts from today.
    """
    room = studied.situation.build.owner.shelf_m3
    if room is None:
        return (), ()
    moves = sorted(_moves(studied, run, lines))
    build = studied.situation.build
    boxes = {part: _box(build, part) for _, part, _ in moves}
    peaks = _peaks(studied.situation.as_of, moves, boxes)
    later = _Later(studied, chosen, lines)
    over = tuple(
        replace(_told(build, peak, room), later=later.cheapest(peak, peak.volume - room))
        for peak in peaks
        if peak.volume > room + LITTLE
    )
    return over, tuple(_assumed(build, [part for part, box in boxes.items() if box is None]))


def _moves(studied: Studied, run: WorkReport | None, lines: Iterable[PlannedLine]) -> Iterator[tuple[date, str, float]]:
    """(day, part, how many more lie about from then on; below zero: fewer)."""
    situation, build, facts = studied.situation, studied.situation.build, studied.situation.facts
    as_of = situation.as_of
    came: list[tuple[date, str, float]] = [
        (as_of, part, lies.lying) for part, lies in facts.lies.items() if lies.lying > 0
    ]
    came += [
        (date_at(as_of, float(np.median(studied.incoming[item.part]))), item.part, item.quantity)
        for item in facts.incoming
    ]
    for line in lines:
        if line.arrives_p50 is not None:
            contents = offer_contents(build, build.find("offers", line.offer))
            came += [(max(as_of, line.arrives_p50), part, count * line.units) for part, count in contents.items()]
    ends = _fitted(build, run, as_of)
    for day, part, count in came:
        until = ends.get(part)
        if until is None or until > day:
            yield day, part, count
            if until is not None:
                yield until, part, -count


def _fitted(build: Build, run: WorkReport | None, as_of: date) -> dict[str, date]:
    """Part -> the median day on which the last job that keeps it begins."""
    found: dict[str, date] = {}
    for job in build.jobs if run is not None else ():
        starts = run.starts.get(job.id) if run is not None else None
        moment = math.inf if starts is None else float(np.median(starts))
        if math.isfinite(moment):
            for part in job.to_keep:
                found[part] = max(found.get(part, as_of), date_at(as_of, moment))
    return found


def _box(build: Build, part: str) -> float | None:
    """Room that one of a part takes in its box [m³]."""
    box = build.find("parts", part).box_mm
    return None if box is None else math.prod(box) / 1e9


def _peaks(as_of: date, moves: list[tuple[date, str, float]], boxes: Mapping[str, float | None]) -> list[_Peak]:
    """The fullest day of each month from today to the last move; what comes and goes on one day never lay about."""
    by_day: dict[date, list[tuple[str, float]]] = defaultdict(list)
    for day, part, count in moves:
        if boxes[part] and (day - as_of).days <= LAST_DAYS:
            by_day[day].append((part, count * (boxes[part] or 0.0)))
    taken: dict[str, float] = defaultdict(float)
    peaks: list[_Peak] = []
    for day in _days(as_of, by_day):
        for part, volume in by_day.get(day, ()):
            taken[part] += volume
        peak = _Peak(day, {part: volume for part, volume in taken.items() if volume > LITTLE / 10})
        if not peaks or (peaks[-1].day.year, peaks[-1].day.month) != (day.year, day.month):
            peaks.append(peak)
        elif peak.volume > peaks[-1].volume + 1e-9:
            peaks[-1] = peak
    return peaks


def _days(as_of: date, by_day: Iterable[date]) -> list[date]:
    """Today, the days on which something moves, and the first of each month between."""
    days = {as_of, *by_day}
    last, month = max(days), as_of
    while (month := (month.replace(day=1) + timedelta(days=32)).replace(day=1)) <= last:
        days.add(month)
    return sorted(days)


def _told(build: Build, peak: _Peak, room: float) -> ShelfMonth:
    month = peak.day.isoformat()[:7]
    largest = sorted(peak.taken.items(), key=lambda item: (-item[1], item[0]))[:MOST_LARGE]
    large = tuple((name_of(build, "parts", part), round(volume, 2)) for part, volume in largest)
    named = ", ".join(f"“{name}” ({volume:.2g} m³)" for name, volume in large)
    text = (
        f"{month_words(month)}: {peak.volume:.2f} m³ lie about and are not yet fitted, "
        f"{peak.volume - room:.2f} m³ more than there is room for. The largest: {named}."
    )
    return ShelfMonth(month, round(peak.volume, 3), large, text)


class _Later:
    """What planned orders would cost if they were put off; the rest of the plan stays as it is."""

    def __init__(self, studied: Studied, chosen: Round, lines: Iterable[PlannedLine]) -> None:
        self._studied, self._market, self._bought = studied, chosen.market, chosen.purchase.lines
        self._planned = {(line.offer, line.shipment): line for line in lines}
        self._alike: dict[tuple[str, str, int], list[Entry]] = defaultdict(list)
        for entry in chosen.market.entries.values():
            self._alike[entry.offer.id, entry.way.key, entry.count].append(entry)
        self._values: dict[str, list[float]] = defaultdict(list)
        for bought in self._bought:
            self._values[bought.shipment].append(self._value(bought))

    def _value(self, bought: PurchaseLine) -> float:
        """What a line counts toward the band and the free freight of its consignment, home currency."""
        return bought.units * self._market.entries[bought.candidate].candidate.value

    def cheapest(self, peak: _Peak, over: float) -> str:
        """What lies about then and costs least to be bought after that month, for the room that frees.

        Parameters
        ----------
        over : how much more lies about than there is room for; to free more is worth nothing [m³]
        """
        build, as_of = self._studied.situation.build, self._studied.situation.as_of
        first = (peak.day.replace(day=1) + timedelta(days=32)).replace(day=1)
        found = []
        for bought in self._bought:
            line = self._planned.get((bought.offer, bought.shipment))
            room = sum(count * (_box(build, part) or 0.0) for part, count in bought.parts.items() if part in peak.taken)
            if line is None or line.arrives_p50 is None or line.arrives_p50 > peak.day or room < LITTLE:
                continue
            weeks = math.ceil((first - line.arrives_p50).days / 7)
            freed = min(room, over)
            later = self._from(bought, bought.week + weeks)
            found += [(more / freed, -room, more, week, line.part) for week, more in later]
        if not found:
            return "Nothing of it can come later: it is in hand, on its way, brought by a trip or sold only by then."
        _, taken, more, week, part = min(found)
        day = day_words(date_at(as_of, float(week)), as_of)
        costs = f"costs about {money_words(more, build.owner.currency)} more" if more >= 1 else "costs nothing more"
        return (
            f"Cheapest to buy later, for the room it frees: “{part}” ({-taken:.2g} m³), in the week of {day}; "
            f"with price, freight and lateness that {costs}."
        )

    def _from(self, bought: PurchaseLine, week: int) -> Iterator[tuple[int, float]]:
        """(week, what ordering a line then costs more), from a week on, by the same way, home currency.

        What a trip brings comes on the day of the trip, whenever it is ordered.
        """
        entry = self._market.entries[bought.candidate]
        if entry.way.collection is not None:
            return
        for later in self._alike[entry.offer.id, entry.way.key, entry.count]:
            candidate, shipment = later.candidate, self._market.shipments[later.candidate.shipment]
            value = sum(self._values[shipment.key]) + bought.units * candidate.value
            fits = candidate.min_units <= bought.units <= candidate.max_units
            if later.week >= week and fits and shipment.low_value <= value <= shipment.high_value:
                more = bought.units * (candidate.cost - entry.candidate.cost) + self._charges_more(bought, later)
                yield later.week, round(max(0.0, more), 2)

    def _charges_more(self, bought: PurchaseLine, later: Entry) -> float:
        """What the later consignment adds in charges of its own, less what the earlier one no longer takes."""
        theirs, mine = self._values[later.candidate.shipment], self._values[bought.shipment]
        new, old = (self._market.shipments[key] for key in (later.candidate.shipment, bought.shipment))
        added = _charges(new, [*theirs, bought.units * later.candidate.value]) - _charges(new, theirs)
        rest = [sum(mine) - self._value(bought)] if len(mine) > 1 else []
        return added + _charges(old, rest) - _charges(old, mine)


def _charges(shipment: Shipment, values: list[float]) -> float:
    """What a consignment is charged once, home currency; nothing without goods."""
    if not values:
        return 0.0
    line = shipment.free_freight_from
    return shipment.fixed + (0.0 if line is not None and sum(values) >= line else shipment.freight_fixed)


def _assumed(build: Build, unboxed: list[str]) -> Iterator[Assumption]:
    text = "counted as on the shelf on median days, until the last job that keeps it begins (our own default)"
    yield Assumption("shelf-room", "build", f"what lies about takes the room of its box, {text}")
    if unboxed:
        names = quoted_list([name_of(build, "parts", part) for part in sorted(unboxed)], most=len(unboxed))
        count = f"{len(unboxed)} parts have no box and are" if len(unboxed) > 1 else "1 part has no box and is"
        yield Assumption("shelf-unboxed", "build", f"{count} not counted in the room on the shelf: {names}")
