"""What `fishplate landed` has to say of goods at the door: as plain values, and in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from ..build.formats import CANONICAL
from ..build.words import day_words
from .common import say, table, under
from .landed_papers import CARE

if TYPE_CHECKING:
    from ..build import Money, Rates
    from ..landed import AtTheDoor, CostLine, OffersReport, TripAtTheDoor, WayHome
    from ..landed.model import LineKind


@dataclass(frozen=True, slots=True)
class Answer:
    """Everything the command has to say."""

    day: date
    currency: str
    rates: Rates
    found: OffersReport

    def data(self) -> dict[str, Any]:
        """The answer as plain values, with the keys the command documents."""
        return {
            "as_of": self.day,
            "currency": self.currency,
            "rates": {"day": self.rates.day, "source": self.rates.source},
            "suppliers": [
                {"supplier": row.supplier, "what": row.what, "ways": [_way_data(way) for way in row.ways]}
                for row in self.found.together
            ],
            "offers": [
                {"offer": row.what, "supplier": row.supplier, "ways": [_way_data(way) for way in row.ways]}
                for row in self.found.alone
            ],
            "trips": [
                {
                    "collection": trip.collection,
                    "day": trip.day,
                    "total": str(trip.total),
                    "lines": _lines(trip.lines),
                    "against": _against(trip),
                }
                for trip in self.found.trips
            ],
            "unpriced": list(self.found.unpriced),
            "assumptions": [str(item) for item in self.found.assumptions],
            "care": CARE.format(day=self.day),
        }


def _way_data(way: WayHome) -> dict[str, Any]:
    if way.cost is None:
        return {"route": way.name, "refused": way.refused}
    cost = way.cost
    return {
        "route": way.name,
        "total": str(cost.total),
        "lines": _lines(cost.lines),
        "rules": [
            {"id": x.id, "status": x.status, "as_of": x.as_of, "source": x.source, "url": x.url, "note": x.note}
            for x in cost.rules
        ],
        "flags": list(cost.flags),
        "assumptions": [str(item) for item in cost.assumptions],
        "doubts": [
            {"code": x.code, "about": x.about, "low": str(x.low), "high": str(x.high), "text": x.text}
            for x in cost.doubts
        ],
    }


def _against(trip: TripAtTheDoor) -> dict[str, Any] | None:
    found = trip.against
    if found is None:
        return None
    sums = {"fetched": str(found.fetched), "sent": str(found.sent), "saves": str(found.saves)}
    return {**sums, "pays": found.pays, "text": found.text}


def _lines(lines: Iterable[CostLine]) -> list[dict[str, str]]:
    return [
        {"label": line.label, "amount": str(line.amount), "kind": line.kind, "rule": line.rule, "note": line.note}
        for line in lines
    ]


def show_answer(answer: Answer, *, itemised: bool) -> None:
    found = answer.found
    if found.together:
        say("By supplier, what it offers of the parts still missing, in one consignment")
        _totals(found.together)
    if itemised:
        for row in found.alone:
            _side_by_side(row)
            for names, way in _alike(row.ways):
                _itemise(row, names, way)
            _behind(row.ways)
    elif found.alone:
        say("Each offer alone, one unit")
        _totals(found.alone)
        say("With --offer ID an offer is itemised, with the rule behind each amount.\n")
    _show_trips(found.trips)
    if found.unpriced:
        say(f"No offer, so no price: {', '.join(found.unpriced)}.\n")
    _notes("Taken for granted in all", [*map(str, found.assumptions), *([] if itemised else _shared(found))])
    say(f"Rates of {day_words(answer.rates.day)}, {answer.rates.source}. {CARE.format(day=day_words(answer.day))}")


def _totals(rows: Iterable[AtTheDoor]) -> None:
    shown = []
    for row in rows:
        goods = under(row.supplier, row.what)
        for way in row.ways:
            if way.cost is None:
                shown.append((goods, under(way.name, way.refused), "not known"))
            else:
                low, high = way.cost.ends
                between = "" if low == high else f"between {_figure(low)} and {_figure(high)}"
                trip = "the trip itself left out" if way.fetched else ""
                shown.append((goods, under(way.name, between, trip), CANONICAL.money(way.cost.total)))
            goods = ""
    table(("supplier, and what", "way home", "at the door"), shown, right=(2,), whole=(0,))


def _show_trips(trips: Sequence[TripAtTheDoor]) -> None:
    if not trips:
        return
    say("Trips, not counted above: all that one trip fetches shares its cost and the owner's one allowance")
    rows = [
        (
            trip.collection,
            day_words(trip.day),
            CANONICAL.money(trip.total),
            ", ".join(f"{line.label} {CANONICAL.money(line.amount)}" for line in trip.lines),
        )
        for trip in trips
    ]
    table(("trip", "day", "costs", "of which"), rows, right=(2,))
    _notes("What is missing, fetched or sent", [f"{t.collection}: {t.against.text}" for t in trips if t.against])


def _figure(value: Money) -> str:
    """An amount where its currency is named elsewhere."""
    return CANONICAL.money(value).removesuffix(f" {value.currency}")


def _shared(found: OffersReport) -> list[str]:
    """Assumptions of the totals shown; of those that say the same of other goods, the first and how many follow."""
    costs = [way.cost for row in (*found.together, *found.alone) for way in row.ways if way.cost is not None]
    alike: dict[tuple[str, str], dict[str, None]] = {}
    for item in (item for cost in costs for item in cost.assumptions):
        alike.setdefault((item.code, item.about), {})[str(item)] = None
    return [f"{first}{f' (and {len(more)} more like it)' if more else ''}" for first, *more in alike.values()]


_PARTS: tuple[tuple[str, tuple[LineKind, ...]], ...] = (
    ("goods", ("goods", "origin-tax", "rounding")),
    ("freight", ("freight",)),
    ("duty and tax", ("duty", "tax")),
    ("fees, card", ("fee", "exchange")),
)


def _side_by_side(row: AtTheDoor) -> None:
    """Every way home for the same goods, cheapest first, with what each is made of."""
    if len(row.ways) < 2:
        return
    say(f"{row.what} from {row.supplier}, by every way home")
    shown = []
    for way in sorted(row.ways, key=lambda way: (way.cost is None, way.cost.exact if way.cost is not None else 0)):
        if way.cost is None:
            shown.append((under(way.name, way.refused), *[""] * len(_PARTS), "not known"))
            continue
        low, high = way.cost.ends
        between = "" if low == high else f"between {_figure(low)} and {_figure(high)}"
        trip = "the trip itself left out" if way.fetched else ""
        parts = [_figure(way.cost.sum_of(*kinds)) for _, kinds in _PARTS]
        shown.append((under(way.name, between, trip), *parts, CANONICAL.money(way.cost.total)))
    heads = ("way home", *(name for name, _ in _PARTS), "at the door")
    table(heads, shown, right=range(1, len(heads)), whole=(0,))


def _alike(ways: Sequence[WayHome]) -> Iterable[tuple[str, WayHome]]:
    """Ways home with their names; those that cost the same line by line together."""
    found: dict[object, list[WayHome]] = {}
    for way in ways:
        lines = way.name if way.cost is None else tuple((x.label, x.amount, x.rule) for x in way.cost.lines)
        found.setdefault(lines, []).append(way)
    return [(", ".join(way.name for way in same), same[0]) for same in found.values()]


def _itemise(row: AtTheDoor, names: str, way: WayHome) -> None:
    if way.cost is None:
        if len(row.ways) == 1:
            say(f"{row.what} from {row.supplier}, by {names}\n  not known: {way.refused}\n")
        return
    say(f"{row.what} from {row.supplier}, by {names}")
    lines = [(under(line.label, line.note), _figure(line.amount), line.rule) for line in way.cost.lines]
    lines.append(("at the door", CANONICAL.money(way.cost.total), ""))
    table(("", "amount", "rule"), lines, right=(1,), whole=(2,))
    _notes("Ranges", [f"{CANONICAL.money(x.low)} to {CANONICAL.money(x.high)}: {x.text}" for x in way.cost.doubts])


def _behind(ways: Sequence[WayHome]) -> None:
    """What stands behind the amounts, each once: what holds for some ways only names them."""
    costs = [(way.name, way.cost) for way in ways if way.cost is not None]
    rules = [f"{x.id} ({x.status}): {x.source}. {x.note}".strip() for _, cost in costs for x in cost.rules]
    flags = [(name, flag) for name, cost in costs for flag in cost.flags]
    assumed = [(name, str(item)) for name, cost in costs for item in cost.assumptions]
    _notes("Rules", list(dict.fromkeys(rules)))
    _notes("Check before relying on it", _once(flags, len(costs)))
    _notes("Taken for granted", _once(assumed, len(costs)))


def _once(said: Iterable[tuple[str, str]], every: int) -> list[str]:
    """Sentences said of several ways, each once; one that is not said of all of `every` names those it is said of."""
    names: dict[str, list[str]] = {}
    for name, text in said:
        names.setdefault(text, []).append(name)
    return [text if len(of) == every else f"{text} ({', '.join(of)})" for text, of in names.items()]


def _notes(head: str, lines: Sequence[str]) -> None:
    if lines:
        say(head)
        for line in lines:
            say(f"  {line}")
        say()
