"""`fishplate landed`"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import AS_OF, JSON_FLAG, Within, emit, read_build
from .landed_answer import Answer, show_answer
from .landed_goods import WAYS, by_ways_of, outside_a_build
from .landed_papers import show_bill, show_declaration

if TYPE_CHECKING:
    from ..build import Build


@click.command("landed")
@click.argument("file", type=click.Path(path_type=Path), required=False, is_eager=True)
@click.option("--offer", "offers", multiple=True, metavar="ID", help="Itemise this offer by each way home.")
@click.option(
    "--goods",
    multiple=True,
    metavar='"2 x hub; 62 GBP; 4 kg; 8708.50; made in DE"',
    help="Goods in no list: name, price of one, mass of one, heading, made in, sides of its box. Once for each kind of "
    "thing in the consignment.",
)
@click.option("--price", metavar='"120 GBP"', help="Goods of one kind at this price, in place of --goods.")
@click.option("--from", "start", metavar="CC", help="Country of the seller, with --goods or --price.")
@click.option(
    "--to",
    "destination",
    metavar="CC",
    default="NL",
    show_default=True,
    help="Country of the garage, with its province where taxes differ: CA-ON.",
)
@click.option("--mass", type=Within(min=0), help="Mass of the goods [kg].")
@click.option("--heading", help="Tariff heading, 4 to 10 digits.")
@click.option("--origin", metavar="CC", help="Country the goods were made in.")
@click.option("--quantity", type=click.IntRange(min=1), default=1, show_default=True, help="How many, at --price each.")
@click.option("--freight", metavar='"18 GBP"', help="What the seller or carrier asks for freight.")
@click.option("--inland", metavar='"5 GBP"', help="The part of --freight beyond the border, where shown apart.")
@click.option("--proof", is_flag=True, help="A proof of origin comes with the goods.")
@click.option("--business", is_flag=True, help="The build belongs to a business, not to a private person.")
@click.option(
    "--route",
    "ways",
    multiple=True,
    type=click.Choice(WAYS),
    help="By this way home only; every usual one if left out.",
)
@click.option("--travel", type=click.Choice(["air-sea", "land"]), help="How the owner travels to collect.")
@click.option("--absence", type=Within(min=0), default=24, show_default=True, help="Hours abroad, to collect.")
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
@click.option(
    "--entry-fee",
    metavar='"5 EUR"',
    help='The carrier\'s charge for the customs entry; by steps of worth as "0 EUR up to 22 EUR, 12 EUR".',
)
@click.option("--fuel", type=Within(0, 100), help="The carrier's fuel surcharge on freight [%].")
@click.option("--currency", help="Home currency, without a build; that of the destination if left out.")
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
    With --goods or --price: goods in no list, side by side by the ways home of the build, or by every usual one.

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
    asked = bool(given["goods"]) or given["price"] is not None
    if file is None and not asked:
        raise click.UsageError("Give a build file, or goods with --goods or --price.")
    if given["goods"] and given["price"] is not None:
        raise click.UsageError("Give goods with --goods or with --price, not with both.")
    if given["goods"]:
        _none_of(ONE_KIND, "That stands in the line of each kind with --goods: leave out {}.")
    if asked and (offers or trip or order):
        raise click.UsageError("--offer, --declaration and --bill are for what the build lists: leave out the goods.")
    if file is not None and asked:
        _none_of(OF_THE_BUILD, "The build says that itself: leave out {}.")
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
    if file is None:
        answer = outside_a_build(day, given)
    elif asked:
        answer = by_ways_of(read_build(file), day, given)
    else:
        answer = _for_build(read_build(file), day, offers)
    if as_json:
        emit(answer.data())
    else:
        show_answer(answer, itemised=bool(offers) or asked)


ONE_KIND = ("mass", "heading", "origin", "quantity", "proof")
OF_THE_BUILD = ("destination", "currency", "business", "advance", "entry_fee", "fuel", "travel", "absence")


def _none_of(names: Sequence[str], what: str) -> None:
    """Options that would be left out of the reckoning are refused, not dropped."""
    context = click.get_current_context()
    typed = [name for name in names if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE]
    if typed:
        words = {"destination": "to", "entry_fee": "entry-fee"}
        raise click.UsageError(what.format(", ".join(f"--{words.get(name, name)}" for name in typed)))


def _for_build(build: Build, day: date, wanted: Sequence[str]) -> Answer:
    from dataclasses import replace

    from ..build import facts_of
    from ..landed import offers_at_the_door
    from ..wiring import load_rates, rules_of

    rates, said = load_rates(day, build)
    rules = rules_of(build)
    found = offers_at_the_door(build, facts_of(build, day), rules, rates, wanted)
    return Answer(day, build.owner.currency, rates, replace(found, assumptions=(*said, *found.assumptions)))
