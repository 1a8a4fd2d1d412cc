"""A supplier's order confirmation, from its spreadsheet: which offer each row is, and the order it would become."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from rapidfuzz import fuzz, utils

from ..build import Build, Money, Problem, Refused
from ..build.commerce import Offer, Supplier
from ..build.events import Order, OrderLine
from ..records import with_baselines
from .goods_lines import GoodsRow, goods_rows
from .model import ImportOptions, Sheet
from .names import match_key, number_key, slug
from .table_reader import Line

ALIKE = 85.0
# What the charge for an old part is called in lists (common practice).
CORE_WORDS = ("core charge", "core deposit", "core surcharge", "exchange surcharge", "old unit deposit", "core")


@dataclass(frozen=True, slots=True)
class ConfirmedRow:
    """A row of a confirmation.

    Parameters
    ----------
    offer : what it is taken for; None where the row is passed over, or is a charge
    how : "number", "name", "similar name", or "core" for the charge for its old part; "freight" for the order's freight
    why : it is passed over, differs from the offer, or what it is taken for
    """

    place: str
    name: str
    offer: str | None
    how: str = ""
    quantity: float = 1
    price: Money | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Confirmation:
    """What a confirmation says, and the order it would become; nothing is written yet.

    Parameters
    ----------
    order : None where problems stand in the way
    notes : what was taken for granted in several rows at once
    """

    rows: tuple[ConfirmedRow, ...]
    order: Order | None
    problems: tuple[Problem, ...]
    notes: tuple[str, ...] = ()


def read_confirmation(
    tables: Sequence[Sheet], build: Build, supplier: str, day: date, *, promised: date | None = None
) -> Confirmation:
    """An order from a supplier's confirmation.

    Parameters
    ----------
    tables : sheets as `read_tables` gives them
    supplier : id of the supplier; rows are matched with its offers, by part number, then by name, and a price that
        names no currency is in theirs
    day : day of the order; promised : day the supplier gives for it

    Raises
    ------
    Refused
        if there is no such supplier, or no list in the file
    """
    if supplier not in build.index["suppliers"]:
        do = f"Use one of: {', '.join(item.id for item in build.suppliers) or 'none yet'}."
        raise Refused([Problem("supplier", "no-such-supplier", "no supplier has this id", supplier, do)])
    offers = [offer for offer in build.offers if offer.supplier == supplier]
    found = list(_goods(tables, _priced_as_offered(build, supplier, offers), supplier, day))
    lines = [row.line for _, row in found if row.line is not None]
    if not lines:
        do = "It needs a row of headers such as Part, Quantity, Price."
        raise Refused([Problem(tables[0].label, "no-list", "no list of goods was found in it", "", do)])
    said = Counter(sentence for line in lines for sentence in line.said)
    notes = tuple(sentence for sentence, rows in said.items() if rows > 1)
    rows = tuple(_told(build, offers, [_row(build, offers, sheet, row, notes) for sheet, row in found]))
    notes += tuple(_off_its_total(found, rows))
    problems = tuple(problem for line in lines for problem in line.problems)
    problems += tuple(
        Problem(row.place, "no-such-offer", "nothing this supplier offers has that number or name", row.name,
                "Add the offer first, or take the row out.")
        for row in rows if row.offer is None and not row.why
    )  # fmt: skip
    problems += tuple(_unusable(rows))
    order = None if problems else _order(build, supplier, rows, day, promised)
    return Confirmation(rows, order, problems, notes)


def _priced_as_offered(build: Build, supplier: str, offers: Sequence[Offer]) -> Build:
    """The build with the supplier's currency that of all its offers, where they are in one."""
    currencies = {offer.price.currency for offer in offers}
    if len(currencies) != 1:
        return build
    (currency,) = currencies
    suppliers = tuple(
        each.model_copy(update={"currency": currency}) if each.id == supplier else each for each in build.suppliers
    )
    return build.model_copy(update={"suppliers": suppliers})


def _goods(tables: Sequence[Sheet], build: Build, supplier: str, day: date) -> Iterator[tuple[str, GoodsRow]]:
    """Rows of goods and of charges, each with the label of its sheet."""
    seller: Supplier = build.find("suppliers", supplier)
    for sheet in tables:
        for row in goods_rows(sheet, build, ImportOptions(day=day), seller=seller.name):
            if row.line is not None or row.row.charge:
                yield sheet.label, row


def _told(build: Build, offers: Sequence[Offer], rows: Sequence[ConfirmedRow]) -> Iterator[ConfirmedRow]:
    """The rows, freight in the currency of the goods, and core charges with the goods they are for."""
    currencies = [row.price.currency for row in rows if row.offer is not None and row.price is not None]
    taken = {row.offer for row in rows}
    bought = [offer for offer in offers if offer.id in taken]
    for row in rows:
        if row.how == "freight" and row.price is not None and currencies:
            yield replace(row, price=Money(amount=row.price.amount, currency=currencies[0]))
        elif row.offer is None and row.price is not None and (cored := _cored(build, bought, row.name)) is not None:
            why = f"the charge for the old part of {_name(build, cored)}"
            yield replace(row, offer=cored.id, how="core", why=why)
        else:
            yield row


def _cored(build: Build, bought: Sequence[Offer], name: str) -> Offer | None:
    """The offer whose old part a row is the charge for; None if it is no such row, or no single one is meant."""
    rest = _without_core(name)
    if rest is None:
        return None
    named = [offer for offer in bought if rest and fuzz.token_set_ratio(rest, _name(build, offer)) >= ALIKE]
    meant = named or [offer for offer in bought if offer.core_charge is not None]
    return meant[0] if len(meant) == 1 else None


def _without_core(name: str) -> str | None:
    """What a core charge is for, by the name of its row; None if it is none."""
    key = match_key(name)
    for words in CORE_WORDS:
        if key == words or key.startswith(f"{words} ") or key.endswith(f" {words}"):
            return key.removeprefix(words).removesuffix(words).strip().removeprefix("for ")
    return None


def _off_its_total(found: Sequence[tuple[str, GoodsRow]], rows: Sequence[ConfirmedRow]) -> Iterator[str]:
    """That the last total it states is not what its rows come to, where nothing else tells why."""
    totals = [row.row.amount for _, row in found if row.row.charge == "total" and row.row.amount is not None]
    money = [row.price * Decimal(str(row.quantity)) for row in rows if row.price is not None and row.how]
    if not totals or not money or len({each.currency for each in money}) > 1:
        return
    whole = sum(money[1:], money[0])
    if abs(whole.amount - totals[-1]) > Decimal("0.01") * len(money):
        stated = Money(amount=totals[-1], currency=whole.currency)
        yield f"its last total is {stated}, its rows taken here come to {whole}: look what else it asks"


def _row(build: Build, offers: Sequence[Offer], sheet: str, goods: GoodsRow, notes: Sequence[str]) -> ConfirmedRow:
    line = goods.line
    if line is None:
        place, amount = f"{sheet}, row {goods.row.row + 1}", goods.row.amount
        if goods.row.charge == "freight" and amount is not None:
            price = Money(amount=amount, currency=build.owner.currency)
            return ConfirmedRow(place, goods.row.name, None, "freight", price=price, why="the freight of the order")
        return ConfirmedRow(place, goods.row.name, None, why=goods.row.why)
    found, how = _offer(build, offers, line)
    quantity = 1.0 if line.quantity is None else float(line.quantity)
    if found is None:
        return ConfirmedRow(line.place, line.name, None, quantity=quantity, price=line.price)
    why = [sentence for sentence in line.said if sentence not in notes]
    if line.price is None:
        why.append(f"no price in the row; the offer's {found.price} is taken")
    elif line.price != found.price:
        why.append(f"{line.price} here, {found.price} offered")
    if found.pack != 1:
        why.append(f"taken as {quantity:g} pack{'' if quantity == 1 else 's'} of {found.pack:g}")
    return ConfirmedRow(line.place, line.name, found.id, how, quantity, line.price or found.price, "; ".join(why))


def _offer(build: Build, offers: Sequence[Offer], line: Line) -> tuple[Offer | None, str]:
    names = {offer.id: _name(build, offer) for offer in offers}
    if line.part_number:
        for offer in offers:
            number = "" if offer.part is None else build.find("parts", offer.part).part_number
            if number and number_key(number) == number_key(line.part_number):
                return offer, "number"
    same = [offer for offer in offers if match_key(names[offer.id]) == match_key(line.name)]
    if same:
        return same[0], "name"
    scored = sorted(
        ((fuzz.token_sort_ratio(line.name, names[offer.id], processor=utils.default_process), offer.id, offer)
         for offer in offers),
        key=lambda item: (-item[0], item[1]),
    )  # fmt: skip
    clear = scored and scored[0][0] >= ALIKE and (len(scored) == 1 or scored[1][0] < scored[0][0])
    return (scored[0][2], "similar name") if clear else (None, "")


def taken_as(build: Build, row: ConfirmedRow) -> str:
    """What a row is taken for, in words."""
    if row.how == "freight":
        return "freight"
    if row.offer is None:
        return "left out" if row.why else "not known"
    name = _name(build, build.find("offers", row.offer))
    return f"old part of {name}" if row.how == "core" else name


def _name(build: Build, offer: Offer) -> str:
    noun = build.find("parts", offer.part) if offer.part is not None else build.find("kits", offer.kit or "")
    return str(noun.name)


def _unusable(rows: Sequence[ConfirmedRow]) -> Iterator[Problem]:
    currencies = {row.price.currency for row in rows if row.offer is not None and row.price is not None}
    if len(currencies) > 1:
        yield Problem("confirmation", "currencies", "its rows are in several currencies", ", ".join(sorted(currencies)),
                      "Name one currency in the header.")  # fmt: skip
    for row in rows:
        if row.offer is not None and row.quantity <= 0:
            yield Problem(row.place, "no-quantity", "none of it is ordered", f"{row.quantity:g}", "Take the row out.")


def _order(build: Build, supplier: str, rows: Sequence[ConfirmedRow], day: date, promised: date | None) -> Order:
    cores = {row.offer: row.price for row in rows if row.how == "core"}
    lines = [
        OrderLine(offer=row.offer, quantity=row.quantity, price=row.price, core=cores.get(row.offer))
        for row in rows
        if row.offer is not None and row.price is not None and row.how != "core"
    ]
    freight = [row.price for row in rows if row.how == "freight" and row.price is not None]
    seller: Supplier = build.find("suppliers", supplier)
    id_ = slug(f"ordered {day.isoformat()} {seller.id}", build.index["events"], stem="ordered")
    order = Order(
        id=id_, day=day, supplier=supplier, lines=tuple(lines), promised=promised,
        freight=sum(freight[1:], freight[0]) if freight else None,
    )  # fmt: skip
    return with_baselines(build, order)
