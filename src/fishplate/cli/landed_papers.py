"""What `fishplate landed` prints on paper: the list for the border, and a bill against the estimate."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..build.formats import CANONICAL
from ..build.words import day_words
from .common import emit, say, table, under

if TYPE_CHECKING:
    from ..build import Build, Money
    from ..build.commerce import Collection
    from ..landed import BillReport, DeclarationList, DeclaredLine

CARE = (
    "Estimates of {day}. Declare goods honestly and whole; the customs authority or a licensed broker decides "
    "what is due."
)


def show_declaration(build: Build, day: date, trip: str, *, as_json: bool, paper: Path | None = None) -> None:
    """The list for the border of a trip; raises Refused if there is no such trip.

    Parameters
    ----------
    paper : file it is written to as a page to print
    """
    from ..build import facts_of
    from ..landed import declaration_list
    from ..papers.declaration import declaration_page
    from ..wiring import load_rates, rules_of

    collection = _collection(build, trip)
    route = build.find("routes", collection.route)
    rates, _ = load_rates(day, build)
    rules = rules_of(build)
    found = declaration_list(build, facts_of(build, day), collection, rules, rates)
    if paper is not None:
        _write_paper(paper, declaration_page(found, collection, route, rates, build.owner.currency))
    if as_json:
        emit(_list_data(found))
    else:
        _print_list(found)


def _collection(build: Build, trip: str) -> Collection:
    from ..build import Problem, Refused

    if trip not in build.index["collections"]:
        what = "there is no such collection in the build"
        raise Refused([Problem(f"collection {trip}", "refers-to-nothing", what, trip, "Check the id.")])
    found: Collection = build.find("collections", trip)
    return found


def _write_paper(path: Path, text: str) -> None:
    """Write a page; raises Refused if the file can't be written."""
    from ..build import Problem, Refused

    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        what, do = f"it can't be written: {error.strerror}", "Choose another place."
        raise Refused([Problem(str(path), "not-written", what, "", do)]) from None


def _list_data(found: DeclarationList) -> dict[str, Any]:
    data = asdict(found)
    sums = {name: str(getattr(found, name)) for name in ("worth", "free", "duty", "tax")}
    lines = [
        {**asdict(line), "paid": str(line.paid), "worth": str(line.worth), "free": str(line.free)}
        for line in found.lines
    ]
    names = {"from": data.pop("start"), "to": data.pop("destination")}
    head = {"collection": data.pop("collection"), "day": data.pop("day"), **names, "lines": lines, **sums}
    problems = [str(problem) for problem in found.problems]
    storage = [{"label": line.label, "amount": str(line.amount), "note": line.note} for line in found.storage]
    said = {"papers": list(found.papers), "storage": storage, "flags": list(found.flags), "problems": problems}
    return {**head, **said, "care": found.care}


def _print_list(found: DeclarationList) -> None:
    say(f"Goods carried from {found.start} to {found.destination} on {day_words(found.day)}, trip {found.collection}")
    rows = [
        (
            str(place),
            under(f"{line.quantity:g} × {line.what}", *_said(line)),
            CANONICAL.money(line.paid),
            CANONICAL.money(line.worth),
        )
        for place, line in enumerate(found.lines, 1)
    ]
    rows.append(("", "in all", "", CANONICAL.money(found.worth)))
    table(("", "goods", "paid", "worth"), rows, right=(2, 3))
    free, duty, tax = map(CANONICAL.money, (found.free, found.duty, found.tax))
    say(f"Within the owner's own allowance: {free}. Expected: duty {duty}, tax {tax}.\n")
    notes = [f"{place}. {line.what}: {line.note}" for place, line in enumerate(found.lines, 1) if line.note]
    for head, lines in (
        ("To say about single lines", notes),
        ("Papers to have at hand", found.papers),
        ("Storage", [f"{line.label}: {CANONICAL.money(line.amount)}, {line.note}" for line in found.storage]),
        ("Before leaving", [str(problem) for problem in found.problems]),
        ("Check before relying on it", found.flags),
    ):
        if lines:
            say(head)
            for line in lines:
                say(f"  {line}")
            say()
    say(found.care)


def _said(line: DeclaredLine) -> tuple[str, str]:
    """Where goods come from, and what customs asks of them."""
    mass = "mass not known" if line.mass_kg is None else f"{line.mass_kg:g} kg"
    made = line.origin or "a place not known"
    return f"from {line.supplier}, made in {made}", f"heading {line.heading or 'not known'}, {mass}"


def show_bill(build: Build, day: date, order: str, *, as_json: bool) -> None:
    """What was paid on an order's arrival against the estimate; raises Refused if there is no such order."""
    from ..wiring import bill_report

    report, kept = bill_report(build, order, day)
    if as_json:
        emit(_bill_data(order, report, day, kept=kept))
    else:
        _print_bill(order, report, day, kept=kept)


def _bill_data(order: str, report: BillReport, day: date, *, kept: bool) -> dict[str, Any]:
    lines = [
        {
            "label": line.label, "kind": line.kind, "odd": line.odd, "text": line.text,
            "expected": None if line.expected is None else str(line.expected),
            "billed": None if line.billed is None else str(line.billed),
        }
        for line in report.lines
    ]  # fmt: skip
    sums = {"expected": str(report.expected), "billed": str(report.billed), "odd": report.odd}
    reckoned = "when ordered" if kept else "now"
    return {"order": order, "reckoned": reckoned, **sums, "lines": lines, "care": CARE.format(day=day)}


def _print_bill(order: str, report: BillReport, day: date, *, kept: bool) -> None:
    when = "kept when it was ordered" if kept else "reckoned now: none was kept when it was ordered"
    say(f"Order {order}: what its arrival cost, against the estimate {when}")
    rows = [
        (
            under(line.label, f"stands out: {line.text.removeprefix(f'{line.label}: ')}" if line.odd else ""),
            _sum(line.expected), _sum(line.billed),
        )
        for line in report.lines
    ]  # fmt: skip
    rows.append(("in all", _sum(report.expected), _sum(report.billed)))
    table(("", "expected", "billed"), rows, right=(1, 2))
    say(CARE.format(day=day_words(day)))


def _sum(money: Money | None) -> str:
    return "" if money is None else CANONICAL.money(money)
