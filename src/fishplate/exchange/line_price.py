"""The price a line gives: of one, in which currency, with tax or without."""

from __future__ import annotations

from decimal import Decimal

from ..build import Build, Money
from ..build.money import known_currencies, minor_unit
from ..build.numbers import Unreadable, ascii_digits
from .amounts import (
    AMBIGUOUS_SIGNS,
    CurrencyHint,
    PriceReading,
    country_of_currency,
    find_currency,
    format_currency_hint,
    number_price,
    parse_country,
    parse_price,
)
from .columns import header_tax
from .displayed import decimals_shown, plain_number
from .model import Cell
from .table_reader import Line, TableReader

_CENT = Decimal("0.01")
_REMARK = "price remark: "


def read_price(reader: TableReader, line: Line) -> None:
    """Read a line's price: the price of one where the list has it, else from the line's total, else an estimate."""
    for name in ("unit_price", "price", "total_price", "estimate"):
        cell = reader.cell(line.row, name)
        if cell is None:
            continue
        if cell.merged_from:
            line.said.append("the price is merged with another row's; none is taken for this one")
            return
        reading = _reading(reader, line, name, cell)
        if reading is None:
            return
        if reading.likely is not None:
            _take(reader, line, name, cell, reading)
            return
        if name != "total_price" and reading.why_none not in line.said:
            line.said.append(reading.why_none)


def _reading(reader: TableReader, line: Line, name: str, cell: Cell) -> PriceReading | None:
    return reader.needed(line, name, cell, lambda: price_reading(reader, cell, name))


def price_reading(reader: TableReader, cell: Cell, name: str) -> PriceReading:
    """What a price cell says; in a currency without a minor unit a mark before three digits is no decimal mark.

    Raises
    ------
    Unreadable
        if it is neither an amount nor a known way to say there is none
    """
    if cell.is_number:
        return number_price(_exact(cell))
    mark = reader.marks[name]
    code = find_currency(cell.text).code or find_currency(reader.columns[name].header).code
    if mark is None and code and minor_unit(code) == 0:
        mark = "." if "," in ascii_digits(cell.text) else ","
    return parse_price(cell.text, mark)


def _exact(cell: Cell) -> Decimal:
    """A number of a spreadsheet: rounded as shown, never to less than the cent, or to where floats end being exact."""
    assert isinstance(cell.value, int | float)
    value = Decimal(plain_number(cell.value))
    shown = decimals_shown(cell.number_format)
    places = max(shown, 2) if shown is not None else 6
    return _short(round(value, places)) if abs(value) < 10**15 else value


def _short(amount: Decimal) -> Decimal:
    """The amount with two digits after the mark, or as many as it needs."""
    return amount.quantize(_CENT) if amount == amount.quantize(_CENT) else amount.normalize()


def _take(reader: TableReader, line: Line, name: str, cell: Cell, reading: PriceReading) -> None:
    currency = _currency(reader, line, name, cell, reading.currency)
    if currency is None or reading.likely is None:
        return
    amount, count = reading.likely, line.quantity or Decimal(1)
    if name == "total_price" and count != 1:
        amount = _short(round(amount / count, 4))
        line.said.append(f"the price of one is the line's total divided by {count.normalize():f}")
    line.price = Money.of(f"{amount:f}", currency)
    if reading.low is not None and reading.high is not None:
        line.notes.append(("Price range", f"{reading.low:f}-{reading.high:f} {currency}"))
    line.said.extend(said for said in reading.said if not said.startswith(_REMARK))
    line.notes.extend(("Price", said.removeprefix(_REMARK)) for said in reading.said if said.startswith(_REMARK))
    if name == "estimate":
        line.said.append("the price is the list's own estimate")
    hints = (reading.tax_included, header_tax(reader.columns[name].header), header_tax(reader.table.title))
    line.tax_included = next((hint for hint in hints if hint is not None), None)
    if name in ("unit_price", "price"):
        _check_total(reader, line, name)


def _check_total(reader: TableReader, line: Line, name: str) -> None:
    """Where a row gives the price of one and the line's total, they must agree; the price of one is taken."""
    total = reader.own_cell(line.row, "total_price")
    if total is None or line.price is None:
        return
    try:
        given = price_reading(reader, total, "total_price").likely
    except Unreadable:
        return
    quantity, price = line.quantity or Decimal(1), line.price.amount
    expected = price * quantity
    if given is None or abs(given - expected) <= _CENT * max(quantity, Decimal(1)):
        return
    if name == "price" and abs(given - price) <= _CENT:
        return
    made = f"yet {quantity.normalize():f} at {price:f} make {expected:f}"
    line.said.append(f"the line's total is {given:f}, {made}; the price of one is taken")


def _currency(reader: TableReader, line: Line, name: str, cell: Cell, own: CurrencyHint) -> str | None:
    """The currency of a price, from the nearest place that names one."""
    header = find_currency(reader.columns[name].header)
    hints = (own, format_currency_hint(cell.number_format), _currency_cell(reader, line), header)
    for hint in hints:
        if hint.code:
            return hint.code
    title = find_currency(reader.table.title)
    sign = next((hint.sign for hint in hints if hint.sign), title.sign)
    return _of_sign(reader, line, name, sign, title) if sign else _unnamed(reader, line, name, title)


def _currency_cell(reader: TableReader, line: Line) -> CurrencyHint:
    text = reader.text(line.row, "currency")
    if text.upper() in known_currencies():
        return CurrencyHint(text.upper())
    hint = find_currency(text)
    if text and not hint.code and not hint.sign:
        do = "Write its code, such as EUR or GBP."
        reader.fault(line, "currency", "currency", "not a currency Fishplate knows", text, do)
    return hint


def _of_sign(reader: TableReader, line: Line, name: str, sign: str, title: CurrencyHint) -> str | None:
    """The currency a shared sign stands for, by supplier, title or owner; a problem if nothing tells."""
    could_be = AMBIGUOUS_SIGNS[sign]
    country = _supplier_country(reader, line)
    there = next((code for code in could_be if country_of_currency(code) == country), None)
    for code, why in (
        (reader.options.currency, "as you said"),
        (title.code, "after the list's title"),
        (_known_supplier(reader.build, line.supplier), "the supplier's currency"),
        (there, "after the supplier's country"),
        (reader.build.owner.currency, "your own currency"),
    ):
        if code in could_be:
            line.said.append(f'"{sign}" is taken as {code}, {why}')
            return code
    what = f'"{sign}" could be {" or ".join(could_be)}'
    do = f"Say which with --currency {could_be[0]}, or write the code in the list."
    reader.fault(line, name, "ambiguous-currency", what, sign, do)
    return None


def _supplier_country(reader: TableReader, line: Line) -> str:
    try:
        return parse_country(reader.text(line.row, "supplier_country"))
    except Unreadable:
        return ""


def _unnamed(reader: TableReader, line: Line, name: str, title: CurrencyHint) -> str:
    """The currency of a price that names none."""
    if reader.options.currency:
        return reader.options.currency
    if title.code:
        return title.code
    supplier, column = _known_supplier(reader.build, line.supplier), reader.column_currency[name]
    for code, why in ((supplier, "the supplier's currency"), (column, "as the rest of the column")):
        if code:
            line.said.append(f"the price names no currency; {code} is taken, {why}")
            return code
    reader.owner_currency_rows.append(line.row)
    return reader.build.owner.currency


def _known_supplier(build: Build, name: str) -> str | None:
    """Currency of the build's supplier of this name."""
    wanted = name.casefold()
    return next((supplier.currency for supplier in build.suppliers if supplier.name.casefold() == wanted), None)
