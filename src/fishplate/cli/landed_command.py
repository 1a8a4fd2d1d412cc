"""`fishplate landed`"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..build.formats import CANONICAL
from ..build.words import day_words
from .common import AS_OF, JSON_FLAG, emit, read_build, say, table, under
from .landed_papers import CARE, show_bill, show_declaration

if TYPE_CHECKING:
    from ..build import Assumption, Build, Money, Rates
    from ..landed import AtTheDoor, CostLine, LandedCost, OffersReport, TripAtTheDoor, WayHome

# Money in a note of the engine's, which writes it without groups.
_MONEY = re.compile(r"(?<![\d.,-])\d{4,}(?:\.\d+)?(?= [A-Z]{3}\b)")
WAYS = ["courier", "post", "freight", "collection", "delivery"]


@click.command("landed")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--offer", "offers", multiple=True, metavar="ID", help="Itemise this offer by each way home.")
@click.option("--price", metavar='"120 GBP"', help="Itemise goods at this price, without a build file.")
@click.option("--from", "start", metavar="CC", help="Country of the seller, with --price.")
@click.option(
    "--to",
    "destination",
    metavar="CC",
    default="NL",
    show_default=True,
    help="Country of the garage, with its province where taxes differ: CA-ON.",
)
@click.option("--mass", type=click.FloatRange(min=0), help="Mass of the goods [kg].")
@click.option("--heading", help="Tariff heading, 4 to 10 digits.")
@click.option("--origin", metavar="CC", help="Country the goods were made in.")
@click.option("--quantity", type=click.IntRange(min=1), default=1, show_default=True, help="How many, at --price each.")
@click.option("--freight", metavar='"18 GBP"', help="What the seller or carrier asks for freight.")
@click.option("--proof", is_flag=True, help="A proof of origin comes with the goods.")
@click.option("--business", is_flag=True, help="The build belongs to a business, not to a private person.")
@click.option("--route", "way", type=click.Choice(WAYS), help="The way home.")
@click.option("--travel", type=click.Choice(["air-sea", "land"]), help="How the owner travels to collect.")
@click.option(
    "--absence", type=click.FloatRange(min=0), default=24, show_default=True, help="Hours abroad, to collect."
)
@click.option("--tax-included/--tax-excluded", default=None, help="Whether the price carries the seller's own tax.")
@click.option(
    "--origin-tax",
    type=click.Choice(["charged", "taken-off", "refund", "none"]),
    help="What becomes of the seller's tax.",
)
@click.option("--gift", is_flag=True, help="The goods are a gift between private persons, and not bought.")
@click.option("--returning", is_flag=True, help="The goods were sent out before and come back as they were.")
@click.option("--general", is_flag=True, help="Goods that are no parts of a vehicle: tools, clothes.")
@click.option("--collects", is_flag=True, help="The seller collects the import tax at the sale.")
@click.option("--advance", metavar='"2.5 %, 15 EUR"', help="The carrier's charge for advancing duty and tax.")
@click.option("--entry-fee", metavar='"5 EUR"', help="The carrier's charge for the customs entry.")
@click.option("--currency", help="Home currency, with --price; that of the destination if left out.")
@click.option("--declaration", "trip", metavar="COLLECTION", help="The list for the border, of what a trip fetches.")
@click.option(
    "--paper", type=click.Path(path_type=Path, dir_okay=False), help="With --declaration: write it as a page to print."
)
@click.option("--bill", "order", metavar="ORDER", help="What was paid on an order's arrival, against the estimate.")
@AS_OF
@JSON_FLAG
def command(
    file: Path | None,
    as_of: date | None,
    as_json: bool,
    offers: tuple[str, ...],
    trip: str | None,
    order: str | None,
    paper: Path | None,
    **given: Any,
) -> None:
    """What goods cost at the garage door, by each way home, every amount with its rule.

    With a FILE: what each supplier offers of the parts still missing, by each way home, then each offer alone; --offer
    itemises; --declaration lists what a trip carries over the border; --bill compares what an order's arrival cost.
    With --price: goods outside any build.

    \f
    JSON keys: as_of, currency, rates (day, source), suppliers (supplier, what, ways), offers (offer, supplier, ways),
    trips (collection, day, total, lines, against (fetched, sent, saves, pays, text)), unpriced, assumptions, care. Of a
    way: route, total, lines (label, amount, kind, rule, note), rules (id, status, as_of, source, url, note), flags,
    assumptions, doubts (code, about, low, high, text); or route, refused.

    JSON keys with --declaration: collection, day, from, to, lines (supplier, what, quantity, paid, worth, heading,
    origin, proof, mass_kg, free, note), worth, free, duty, tax, papers, storage (label, amount, note), flags, problems,
    care. With --bill: order, reckoned, expected, billed, odd, lines (label, kind, expected, billed, odd, text), care.
    """
    from ..wiring import today

    day = as_of or today()
    if (file is None) == (given["price"] is None):
        raise click.UsageError("Give a build file, or goods with --price.")
    if (trip or order) and file is None:
        raise click.UsageError("--declaration and --bill need a build file.")
    if paper is not None and trip is None:
        raise click.UsageError("--paper needs --declaration.")
    if file is not None and trip is not None:
        show_declaration(read_build(file), day, trip, as_json=as_json, paper=paper)
        return
    if file is not None and order is not None:
        show_bill(read_build(file), day, order, as_json=as_json)
        return
    answer = _ad_hoc(day, given) if file is None else _for_build(read_build(file), day, offers)
    if as_json:
        emit(answer.data())
    else:
        _show(answer, itemised=bool(offers) or file is None)


@dataclass(frozen=True, slots=True)
class _Answer:
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


def _for_build(build: Build, day: date, wanted: Sequence[str]) -> _Answer:
    from dataclasses import replace

    from ..build import facts_of
    from ..landed import offers_at_the_door
    from ..wiring import load_rates, rules_of

    rates, said = load_rates(day, build)
    rules = rules_of(build)
    found = offers_at_the_door(build, facts_of(build, day), rules, rates, wanted)
    return _Answer(day, build.owner.currency, rates, replace(found, assumptions=(*said, *found.assumptions)))


def _ad_hoc(day: date, given: dict[str, Any]) -> _Answer:
    """Goods outside any build, itemised."""
    from ..build import Build, Problem, Refused
    from ..build.commerce import Route, Supplier
    from ..build.money import MAX_AMOUNT
    from ..build.owner import Owner
    from ..landed import AtTheDoor, Consignment, Goods, OffersReport, TravelAllowance, load_rules, way_home
    from ..wiring import load_rates, own_rules

    price = _money(given["price"], "--price")
    if price.amount * given["quantity"] > MAX_AMOUNT:
        raise click.BadParameter("the goods are worth more than a million million", param_hint="--quantity")
    country, _, region = given["destination"].partition("-")
    start, destination = _country(given["start"], "--from"), _country(country, "--to")
    rules = load_rules(destination, own=own_rules())
    currency = _currency(given["currency"]) or rules.currency
    rules.region_code(region)  # an unknown province is refused before anything is reckoned
    owner = Owner(country=destination, region=region, currency=currency, private_person=not given["business"])
    build = Build(owner=owner)
    rates, said = load_rates(day, build)
    supplier = Supplier(
        id="seller", name="the seller", country=start, currency=price.currency,
        origin_tax=given["origin_tax"], collects_import_tax=given["collects"],
    )  # fmt: skip
    inside = start in rules.single_market
    way = given["way"] or ("delivery" if inside else "courier")
    percent, minimum = _advance(given["advance"])
    route = Route(
        id=way, name=way, kind=way, from_country=start, fees_as_of=day,
        advance_percent=percent, advance_minimum=minimum, entry_fee=_optional(given["entry_fee"], "--entry-fee"),
    )  # fmt: skip
    freight = _optional(given["freight"], "--freight")
    goods = Goods(
        "goods", price * given["quantity"], given["quantity"], given["mass"], _heading(given["heading"]),
        given["origin"] and _country(given["origin"], "--origin"), proof=given["proof"],
        use="general" if given["general"] else "vehicle",
    )  # fmt: skip
    consignment = Consignment(
        supplier, None if way == "delivery" else route, (goods,), freight or price * 0, given["tax_included"], day,
        gift=given["gift"], returning=given["returning"],
    )  # fmt: skip
    quoted = way_home(way, consignment, build, rules, rates, TravelAllowance(given["travel"], given["absence"]))
    notes = (*said, *_left_out(given, way, inside=inside))
    if quoted.cost is None:
        raise Refused([Problem("goods", "no-cost", quoted.refused, "", "Correct the goods or the way home.")])
    found = OffersReport((), (AtTheDoor("the seller", "goods", (quoted,)),), (), (), notes)
    return _Answer(day, owner.currency, rates, found)


def _left_out(given: dict[str, Any], way: str, *, inside: bool) -> Iterable[Assumption]:
    from ..build import Assumption

    if way in ("courier", "post", "freight") and not inside and given["advance"] is None and given["entry_fee"] is None:
        text = "the carrier's fees for entry and for advancing duty and tax are not given: none are counted"
        yield Assumption("carrier-unknown", "goods", text)
    if way == "collection":
        yield Assumption("trip-unknown", "goods", "the cost of the trip itself is not counted")


def _money(text: str, option: str) -> Money:
    from pydantic import ValidationError

    from ..build import Money

    amount, _, currency = text.strip().rpartition(" ")
    try:
        money = Money(amount=Decimal(amount.strip()), currency=currency.upper())
    except (InvalidOperation, ValidationError):
        raise click.BadParameter(f'{text!r} is not an amount; write it as "120.50 GBP"', param_hint=option) from None
    if money.amount < 0:
        raise click.BadParameter(f"{text!r} is below zero", param_hint=option)
    return money


def _optional(text: str | None, option: str) -> Money | None:
    return None if text is None else _money(text, option)


def _currency(text: str | None) -> str | None:
    return None if text is None else _money(f"0 {text}", "--currency").currency


def _country(text: str | None, option: str) -> str:
    code = (text or "").strip().upper()
    if len(code) != 2 or not code.isascii() or not code.isalpha():
        raise click.BadParameter(f"{text or ''!r} is not a country; write its two letters, as GB", param_hint=option)
    return code


def _heading(text: str | None) -> str | None:
    if text is None:
        return None
    digits = text.replace(".", "").replace(" ", "")
    if not digits.isascii() or not digits.isdigit() or not 4 <= len(digits) <= 10 or len(digits) % 2:
        raise click.BadParameter(f"{text!r} is not a tariff heading of 4 to 10 digits", param_hint="--heading")
    return digits


def _advance(text: str | None) -> tuple[float, Money | None]:
    """A percentage and a minimum, either of which may be left out."""
    percent, minimum = 0.0, None
    for piece in (text or "").split(","):
        if piece.strip().endswith("%"):
            try:
                percent = float(piece.strip(" %"))
            except ValueError:
                raise click.BadParameter(f"{piece!r} is not a percentage", param_hint="--advance") from None
            if not 0 <= percent <= 100:
                raise click.BadParameter(f"{piece!r} is not between 0 and 100 %", param_hint="--advance")
        elif piece.strip():
            minimum = _money(piece, "--advance")
    return percent, minimum


def _show(answer: _Answer, *, itemised: bool) -> None:
    found = answer.found
    if found.together:
        say("By supplier, what it offers of the parts still missing, in one consignment")
        _totals(found.together)
    if itemised:
        for row in found.alone:
            for way in row.ways:
                _itemise(row, way)
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
                low, high = _ends(way.cost)
                between = "" if low == high else f"between {_figure(low)} and {_figure(high)}"
                shown.append((goods, under(way.name, between), CANONICAL.money(way.cost.total)))
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


def _ends(cost: LandedCost) -> tuple[Money, Money]:
    """The lowest and highest total that one doubt alone can make."""
    low = min([cost.total, *(doubt.low for doubt in cost.doubts)], key=lambda money: money.amount)
    high = max([cost.total, *(doubt.high for doubt in cost.doubts)], key=lambda money: money.amount)
    return low, high


def _figure(value: Money) -> str:
    """An amount where its currency is named elsewhere."""
    return CANONICAL.money(value).removesuffix(f" {value.currency}")


def _grouped(note: str) -> str:
    """A note with the thousands of its sums set apart."""
    return _MONEY.sub(lambda found: f"{Decimal(found[0]):,f}", note)


def _shared(found: OffersReport) -> list[str]:
    """Assumptions of the totals shown, each once; itemised quotes show their own."""
    costs = [way.cost for row in (*found.together, *found.alone) for way in row.ways if way.cost is not None]
    return list(dict.fromkeys(str(item) for cost in costs for item in cost.assumptions))


def _itemise(row: AtTheDoor, way: WayHome) -> None:
    say(f"{row.what} from {row.supplier}, by {way.name}")
    if way.cost is None:
        say(f"  not known: {way.refused}\n")
        return
    lines = [(under(line.label, _grouped(line.note)), _figure(line.amount), line.rule) for line in way.cost.lines]
    lines.append(("at the door", CANONICAL.money(way.cost.total), ""))
    table(("", "amount", "rule"), lines, right=(1,), whole=(2,))
    _notes("Ranges", [f"{CANONICAL.money(x.low)} to {CANONICAL.money(x.high)}: {x.text}" for x in way.cost.doubts])
    _notes("Rules", [f"{rule.id} ({rule.status}): {rule.source}. {rule.note}".strip() for rule in way.cost.rules])
    _notes("Check before relying on it", way.cost.flags)
    _notes("Taken for granted", [str(item) for item in way.cost.assumptions])


def _notes(head: str, lines: Sequence[str]) -> None:
    if lines:
        say(head)
        for line in lines:
            say(f"  {_grouped(line)}")
        say()
