"""Sales that may come: the owner's expectations, weighed with the years seen, and sales that only sightings tell of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ..build import Build
from ..build.base import ThreePoint
from ..build.commerce import Offer, SaleWindow
from .seen import Seen, categories_of
from .wording import format_chance

# What the owner's expectation, and a sale nobody expects yet, weigh against years that were seen; our own defaults.
OWNER_YEARS, UNEXPECTED_YEARS = 3.0, 3.0
UNEXPECTED_CHANCE = 0.25
# Sales of different years within so many days of each other, by the calendar, are the same one.
SAME_SALE_DAYS = 21
# A sale that comes again may begin earlier, or end later, by so many days.
MARGIN_DAYS = 3
# What was nearly given away once is not expected to be given away.
DEEPEST_PERCENT = 95.0
# Days beyond are slips of the pen, and no calendar goes on for ever.
EARLIEST_YEAR, LATEST_YEAR = 1900, 9000
# No outlook reaches further than so many years.
MOST_OCCURRENCES = 5


@dataclass(frozen=True, slots=True)
class Window:
    """A sale that a seller may hold once.

    Parameters
    ----------
    id : the owner's window, with the year behind a later occurrence; or made from seller and day
    own : the owner's window, if it is one
    depth_percent : reduction low / likely / high [%]
    excluded, only : categories it leaves out; categories it is held to, all if None
    ground : what the chance and the depth rest on, in words
    """

    id: str
    supplier: str
    first: date
    last: date
    chance: float
    depth_percent: ThreePoint
    excluded: frozenset[str]
    only: frozenset[str] | None
    own: SaleWindow | None
    ground: str

    def holds_for(self, offer: Offer, categories: Iterable[str]) -> bool:
        """Whether it would take in an offer; one excluded category among a kit's parts leaves it out."""
        words = {category.strip().lower() for category in categories}
        inside = self.only is None or words <= self.only
        return self.supplier == offer.supplier and inside and not words & self.excluded


@dataclass(frozen=True, slots=True)
class _Look:
    """What was seen of an offer of one seller on a day: a reduction, or none."""

    day: date
    depth: float
    categories: frozenset[str]


def windows_ahead(build: Build, seen: Mapping[str, Seen], as_of: date, until: date) -> tuple[Window, ...]:
    """Every sale that may be held from a day up to another, by first day.

    Parameters
    ----------
    seen : what was seen of each offer up to as_of
    """
    looks: dict[str, list[_Look]] = {}
    for offer in build.offers:
        words = frozenset(category.strip().lower() for category in categories_of(build, offer))
        looks.setdefault(offer.supplier, []).extend(_looks(seen[offer.id], words))
    found = [
        window
        for own in build.sale_windows
        for window in _expected(own, looks.get(own.supplier, ()), as_of, until)
    ]  # fmt: skip
    for supplier in sorted(looks):
        found += [w for w in _unexpected(supplier, looks[supplier], as_of, until) if not _is_told(w, found)]
    return tuple(sorted(found, key=lambda window: (window.first, window.id)))


def _looks(seen: Seen, categories: frozenset[str]) -> Iterator[_Look]:
    sales = {sale.day: sale for sale in seen.sales if sale.day.year > EARLIEST_YEAR}
    yield from (_Look(sale.day, sale.depth, categories) for sale in sales.values())
    if seen.known_day:
        yield from (_Look(day, 0.0, categories) for day, _ in seen.regular if day not in sales)


def _is_told(window: Window, others: Iterable[Window]) -> bool:
    """Whether one of the owner's windows tells of the same sale."""
    near = timedelta(days=SAME_SALE_DAYS)
    return any(
        other.own is not None
        and other.supplier == window.supplier
        and other.first - near <= window.last
        and window.first <= other.last + near
        for other in others
    )


def _expected(own: SaleWindow, looks: Sequence[_Look], as_of: date, until: date) -> Iterator[Window]:
    """The owner's window and, if it comes every year, its later occurrences; the chance weighed with the years seen."""
    left_out = frozenset(word.strip().lower() for word in own.excluded)
    inside = [look for look in looks if not look.categories & left_out]
    ahead = max(0, as_of.year - own.last.year) if own.yearly else 0
    ahead += 1 if own.yearly and _shifted(own.last, ahead) < as_of else 0
    held, missed, depth = _years(_shifted(own.first, ahead), _shifted(own.last, ahead), inside, as_of)
    chance = (OWNER_YEARS * own.chance + held) / (OWNER_YEARS + held + missed)
    depths = _drawn_towards(own.depth_percent, depth, held)
    ground = _ground(own, held, missed, chance, depths)
    for shift in range(ahead, ahead + MOST_OCCURRENCES if own.yearly else 1):
        first, last = _shifted(own.first, shift), _shifted(own.last, shift)
        if last >= as_of and first <= until:
            id_ = own.id if shift == 0 else f"{own.id} {first.year}"
            yield Window(id_, own.supplier, first, last, chance, depths, left_out, None, own, ground)


def _years(first: date, last: date, looks: Iterable[_Look], as_of: date) -> tuple[int, int, float]:
    """Earlier years in which a sale was seen within a span of the calendar, years in which only regular prices were,
    and the mean depth."""
    margin = timedelta(days=MARGIN_DAYS)
    spans = [(_shifted(first, -back) - margin, _shifted(last, -back) + margin) for back in range(1, 20)]
    depths, missed = [], 0
    for begin, end in spans:
        seen = [look for look in looks if begin <= look.day <= end]
        on = [look.depth for look in seen if look.depth > 0]
        if on:
            depths.append(sum(on) / len(on))
        elif seen and end < as_of:
            missed += 1
    return len(depths), missed, sum(depths) / len(depths) if depths else 0.0


def _shifted(day: date, years: int) -> date:
    """The same day of another year; 28 February for the 29th."""
    year = min(LATEST_YEAR, max(EARLIEST_YEAR, day.year + years))
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)


def _drawn_towards(expected: ThreePoint, seen: float, years: int) -> ThreePoint:
    """The owner's depths shifted towards those seen."""
    shift = years / (OWNER_YEARS + years) * (100 * seen - expected.mean)
    low, likely, high = (
        min(DEEPEST_PERCENT, max(0.0, value + shift)) for value in (expected.low, expected.likely, expected.high)
    )
    return ThreePoint(low=low, likely=likely, high=high) if years else expected


def _ground(own: SaleWindow, held: int, missed: int, chance: float, depths: ThreePoint) -> str:
    if not held + missed:
        return f"your own expectation of {format_chance(own.chance)}; no year of it was seen"
    share = 100 * OWNER_YEARS / (OWNER_YEARS + held + missed)
    text = (
        f"your expectation of {format_chance(own.chance)} ({share:.0f} % of the weight) and {held} of {held + missed} "
        f"years seen ({100 - share:.0f} %) make {format_chance(chance)}"
    )
    return text + (f"; the depths seen make it {depths.mean:.0f} % off" if held else "")


def _unexpected(supplier: str, looks: Sequence[_Look], as_of: date, until: date) -> Iterator[Window]:
    """Sales seen in the past that may come again at the same time of year."""
    left = sorted((look for look in looks if look.depth > 0), key=lambda look: look.day)
    while left:
        newest = left[-1].day
        same = [look for look in left if abs(_days_off(look.day, newest)) <= SAME_SALE_DAYS]
        left = [look for look in left if look not in same]
        offsets = [_days_off(look.day, newest) for look in same]
        margin = timedelta(days=MARGIN_DAYS)
        first, last = newest + timedelta(days=min(offsets)) - margin, newest + timedelta(days=max(offsets)) + margin
        only = frozenset[str]().union(*(look.categories for look in same))
        inside = [look for look in looks if look.categories <= only]
        held, missed, depth = _years(_shifted(first, 1), _shifted(last, 1), inside, as_of)
        chance = (UNEXPECTED_YEARS * UNEXPECTED_CHANCE + held) / (UNEXPECTED_YEARS + held + missed)
        percent = min(DEEPEST_PERCENT, 100 * depth)
        depths = ThreePoint(low=0.6 * percent, likely=percent, high=min(DEEPEST_PERCENT, 1.4 * percent))
        ground = (
            f"nobody expects it, but it was seen in {held} of {held + missed} years at this time; with a chance of "
            f"{format_chance(UNEXPECTED_CHANCE)} worth {UNEXPECTED_YEARS:g} years (our own default) that makes "
            f"{format_chance(chance)}"
        )
        for years in range(1, until.year - newest.year + 1):
            begin, end = _shifted(first, years), _shifted(last, years)
            if end >= as_of and begin <= until:
                id_ = f"seen {supplier} {begin.isoformat()}"
                yield Window(id_, supplier, begin, end, chance, depths, frozenset(), only, None, ground)


def _days_off(day: date, other: date) -> int:
    """Days between two days by the calendar, years left out, -182 to 182."""
    return round(((day - other).days + 182.625) % 365.25 - 182.625)
