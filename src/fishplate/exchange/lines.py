"""One row of a list as what it says: a line. Each cell is read by its column's evidence; nothing is guessed in silence."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, TypeVar

from ..build import Build, Money, Problem
from ..build.base import ThreePoint
from ..build.money import minor_unit
from ..build.parts import Phase
from .amounts import (
    AMBIGUOUS_SIGNS,
    CurrencyHint,
    PriceReading,
    find_currency,
    format_currency_hint,
    number_price,
    parse_country,
    parse_mass_kg,
    parse_price,
    parse_quantity,
    unit_word,
)
from .columns import PRICE_FIELDS, header_tax, header_unit
from .displayed import decimals_shown, plain_number
from .model import Cell, ColumnUse, ImportOptions, Table
from .names import clean_text
from .numbers import UnreadableCell, ascii_digits, decimal_mark
from .times import as_day, day_order, parse_day, parse_lead_weeks
from .words import keys_by_word, plain, plain_words, words
from .workbook import uncomputed

_Read = TypeVar("_Read")


@dataclass(slots=True)
class Line:
    """What one row says. Fields left None are not said by the list.

    Parameters
    ----------
    have : how many of it are owned already; notes : label and text of what no field holds
    said : what was assumed or noticed; problems : what can't be read
    """

    table: Table
    row: int
    name: str = ""
    part_number: str = ""
    quantity: Decimal | None = None
    unit: str | None = None
    price: Money | None = None
    tax_included: bool | None = None
    supplier: str = ""
    supplier_country: str | None = None
    lead_weeks: ThreePoint | None = None
    phase: Phase | None = None
    system: str = ""
    url: str = ""
    mass_kg: Decimal | None = None
    origin: str | None = None
    heading: str | None = None
    seen: date | None = None
    have: Decimal | None = None
    ordered: bool = False
    ordered_on: date | None = None
    return_days: int | None = None
    notes: list[tuple[str, str]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    @property
    def place(self) -> str:
        """Where it stands."""
        return self.table.sheet.place(self.row)


@dataclass(frozen=True)
class LineReader:
    """Reads the rows of one table, knowing what each column is for.

    Parameters
    ----------
    table, uses : the table and what its columns are for; options : what the owner says about the list
    build : the build it goes into, for its suppliers' currencies and its owner's
    """

    table: Table
    uses: Sequence[ColumnUse]
    options: ImportOptions
    build: Build

    @cached_property
    def columns(self) -> dict[str, ColumnUse]:
        """The column of each field, of those that take one."""
        return {use.field: use for use in reversed(self.uses) if use.field}

    @cached_property
    def _marks(self) -> dict[str, str | None]:
        fields = (*PRICE_FIELDS, "quantity", "mass", "lead_time", "have")
        return {name: decimal_mark(map(_figure, self._texts(name))) or self.options.decimal for name in fields if name in self.columns}

    @cached_property
    def _orders(self) -> dict[str, str | None]:
        return {name: day_order(self._texts(name)) for name in ("seen", "ordered") if name in self.columns}

    def _texts(self, name: str) -> list[str]:
        column = self.columns[name].column
        cells = (self.table.sheet.cell(row, column) for row in self.table.rows)
        return [cell.text for cell in cells if not cell.is_empty and not cell.is_number]

    def cell(self, row: int, name: str) -> Cell | None:
        """The filled cell of a field in a row; None if the list has no such column or nothing stands in it."""
        use = self.columns.get(name)
        if use is None:
            return None
        cell = self.table.sheet.cell(row, use.column)
        return None if cell.is_empty and not cell.formula else cell

    def line(self, row: int, system: str = "") -> Line:
        """What a row says; faults are gathered in the line."""
        line = Line(self.table, row, system=system)
        self._identity(line)
        self._quantity(line)
        self._price(line)
        self._terms(line)
        self._progress(line)
        self._rest(line)
        return line

    def text(self, row: int, name: str) -> str:
        """Cleaned text of a field in a row."""
        cell = self.cell(row, name)
        return clean_text(cell.text)[0] if cell is not None else ""

    # what it is

    def _identity(self, line: Line) -> None:
        cell = self.cell(line.row, "name")
        name, cleaned = clean_text(cell.text) if cell is not None else ("", False)
        line.name = re.sub(r"^(?:[•·▪‣*–-]|\[[ x]?\])\s+", "", name)
        # a line break is layout; only what can't be seen is worth a word
        if cleaned and cell is not None and clean_text(cell.text.replace("\n", " ").replace("\t", " "))[1]:
            line.said.append("characters that can't be seen were taken out of the name")
        line.part_number = self._part_number(line)
        if not line.name and line.part_number:
            line.name = line.part_number
            line.said.append("the row has no name; its part number stands in")
        if cell is not None and cell.formula and cell.value is None:
            self._fault(line, "name", uncomputed(self._where(line, "name"), "name"))
        if len(line.name) > 400:
            self._fault(line, "name", Problem(self._where(line, "name"), "too-long", "a name longer than 400 characters", line.name[:40] + "...", "Shorten it; put the rest in a column of notes."))  # fmt: skip
        line.system = self.text(line.row, "system")[:400] or line.system
        line.phase = self._phase(line)

    def _part_number(self, line: Line) -> str:
        cell = self.cell(line.row, "part_number")
        if cell is None or cell.merged_from:
            return ""
        text = clean_text(cell.text)[0]
        return "" if plain(text) in {"", "na", "n a", "tbd", "tbc", "none"} else text[:400]

    def _phase(self, line: Line) -> Phase | None:
        text = self.text(line.row, "phase")
        if not text:
            return None
        found = keys_by_word("phases").get(plain(text))
        number = re.match(r"^(?:phase|fase|stage)?\s*([1-8])$", plain(text))
        if found is None and number is None:
            self._note(line, "phase", f'the phase "{text}" is none of the eight; it is kept as a note')
            return None
        return Phase(found) if found else list(Phase)[int(number[1]) - 1] if number else None

    # how many

    def _quantity(self, line: Line) -> None:
        cell = self.cell(line.row, "quantity")
        unit = self.text(line.row, "unit")
        line.unit = unit_word(unit)[:400] if unit else None
        if cell is not None and cell.merged_from:
            line.said.append("the quantity is merged with the row above; 1 is taken")
        elif cell is not None:
            reading = self._read(line, "quantity", cell, lambda: parse_quantity(_figure_text(cell), self._marks["quantity"]))
            if reading is not None:
                line.quantity = reading.quantity
                line.said.extend(said for said in reading.said if not said.startswith("quantity remark"))
                line.notes.extend(("Quantity", said.partition(": ")[2]) for said in reading.said if said.startswith("quantity remark"))
                if line.unit in (None, "each") and reading.unit not in ("", "each"):
                    line.unit = reading.unit[:400]
        if "quantity" not in self.columns:
            self._quantity_in_name(line)
        elif line.quantity is None and not line.problems and (cell is None or not cell.merged_from):
            line.said.append("the row gives no quantity; 1 is taken for a new part")

    def _quantity_in_name(self, line: Line) -> None:
        match = re.match(r"^(\d{1,3})\s*(?:[x×]|off|st\.?|stuks)\s+(?=\D)(.+)$", line.name, re.IGNORECASE)
        if match and int(match[1]):
            line.quantity, line.name = Decimal(match[1]), match[2]
            line.said.append(f"the quantity {match[1]} stands before the name")

    # at what price

    def _price(self, line: Line) -> None:
        count = line.quantity if line.quantity else Decimal(1)
        for name in ("unit_price", "price", "total_price", "estimate"):
            cell = self.cell(line.row, name)
            if cell is None:
                continue
            if cell.merged_from:
                line.said.append("the price is merged with another row's; none is taken for this one")
                return
            reading = self._read(line, name, cell, lambda cell=cell, name=name: self.price_reading(cell, name))  # type: ignore[misc]
            if reading is None:
                return
            if reading.likely is None:
                if name != "total_price":
                    self._no_price(line, name, reading)
                continue
            self._take_price(line, name, cell, reading, count if name == "total_price" else Decimal(1))
            return

    def price_reading(self, cell: Cell, name: str) -> PriceReading:
        """What a price cell says; a currency without a minor unit tells a mark before three digits to be no decimal."""
        if cell.is_number:
            return number_price(Decimal(_exact(cell)), cell.text)
        mark = self._marks[name]
        code = find_currency(cell.text).code or find_currency(self.columns[name].header).code
        if mark is None and code and minor_unit(code) == 0:
            mark = "." if "," in ascii_digits(cell.text) else ","
        return parse_price(cell.text, mark)

    def _no_price(self, line: Line, name: str, reading: PriceReading) -> None:
        if reading.why_none and reading.why_none not in line.said:
            line.said.append(reading.why_none)

    def _take_price(self, line: Line, name: str, cell: Cell, reading: PriceReading, count: Decimal) -> None:
        currency = self._currency(line, name, cell, reading.currency)
        if currency is None:
            return
        amount = reading.likely or Decimal(0)
        if count != 1:
            amount = (amount / count).quantize(Decimal("0.0001")).normalize()
            amount = amount.quantize(Decimal("0.01")) if amount == amount.quantize(Decimal("0.01")) else amount
            line.said.append(f"the price of one is the line's total divided by {count.normalize():f}")
        line.price = Money.of(f"{amount:f}", currency)
        if reading.low is not None and reading.high is not None:
            line.notes.append(("Price range", f"{reading.low:f}-{reading.high:f} {currency}"))
        line.said.extend(said for said in reading.said if not said.startswith("price remark"))
        line.notes.extend(("Price", said.partition(": ")[2]) for said in reading.said if said.startswith("price remark"))
        if name == "estimate":
            line.said.append("the price is the list's own estimate")
        own, title = header_tax(self.columns[name].header), header_tax(self.table.title)
        line.tax_included = reading.tax_included if reading.tax_included is not None else own if own is not None else title
        self._check_total(line, name, count)

    def _check_total(self, line: Line, name: str, count: Decimal) -> None:
        """Where a row gives the price of one and the line's total, they must agree; the price of one is taken."""
        total = self.cell(line.row, "total_price")
        if name not in ("unit_price", "price") or total is None or total.merged_from or line.price is None:
            return
        try:
            given = self.price_reading(total, "total_price").likely
        except UnreadableCell:
            return
        quantity = line.quantity or Decimal(1)
        expected = line.price.amount * quantity
        if given is None or abs(given - expected) <= Decimal("0.01") * max(quantity, Decimal(1)):
            return
        if name == "price" and abs(given - line.price.amount) <= Decimal("0.01"):
            return
        line.said.append(f"the line's total is {given:f}, yet {quantity.normalize():f} at {line.price.amount:f} make {expected:f}; the price of one is taken")  # fmt: skip

    # in which currency

    def _currency(self, line: Line, name: str, cell: Cell, own: CurrencyHint) -> str | None:
        """The currency of a price, from the nearest place that names one."""
        header = self.columns[name].header
        hints = [own, format_currency_hint(cell.number_format), self._currency_cell(line), find_currency(header)]
        for hint in hints:
            if hint.code:
                return hint.code
        title = find_currency(self.table.title)
        sign = next((hint.sign for hint in hints if hint.sign), title.sign)
        if sign:
            return self._of_sign(line, name, sign, title)
        return self._unnamed_currency(line, name, title)

    def _currency_cell(self, line: Line) -> CurrencyHint:
        text = self.text(line.row, "currency")
        if not text:
            return CurrencyHint()
        from ..build.money import known_currencies

        if text.upper() in known_currencies():
            return CurrencyHint(text.upper())
        hint = find_currency(text)
        if not hint.code and not hint.sign:
            self._fault(line, "currency", Problem(self._where(line, "currency"), "currency", "not a currency Fishplate knows", text, "Write its code, such as EUR or GBP."))  # fmt: skip
        return hint

    def _of_sign(self, line: Line, name: str, sign: str, title: CurrencyHint) -> str | None:
        """The currency a shared sign stands for, by supplier, title or owner; a problem if nothing tells."""
        could_be = AMBIGUOUS_SIGNS[sign]
        supplier = _known_supplier(self.build, self._supplier_name(line))
        country = self._country_hint(line)
        from_country = {"US": "USD", "CA": "CAD", "AU": "AUD", "NZ": "NZD", "SE": "SEK", "NO": "NOK", "DK": "DKK"}.get(country or "")
        for code, why in (
            (self.options.currency, "as you said"),
            (title.code, "after the list's title"),
            (supplier, "the supplier's currency"),
            (from_country, "after the supplier's country"),
            (self.build.owner.currency, "your own currency"),
        ):
            if code in could_be:
                line.said.append(f'"{sign}" is taken as {code}, {why}')
                return code
        where = self._where(line, name)
        self._fault(line, name, Problem(where, "ambiguous-currency", f'"{sign}" could be {" or ".join(could_be)}', sign, f"Say which with --currency {could_be[0]}, or write the code in the list."))  # fmt: skip
        return None

    def _country_hint(self, line: Line) -> str | None:
        try:
            return parse_country(self.text(line.row, "supplier_country"))
        except UnreadableCell:
            return None

    def _unnamed_currency(self, line: Line, name: str, title: CurrencyHint) -> str:
        supplier = _known_supplier(self.build, self._supplier_name(line))
        if self.options.currency:
            return self.options.currency
        if title.code:
            return title.code
        column = self._column_currency[name]
        for code, why in ((supplier, "the supplier's currency"), (column, "as the rest of the column")):
            if code:
                line.said.append(f"the price names no currency; {code} is taken, {why}")
                return code
        self.owner_currency_rows.append(line.row)
        return self.build.owner.currency

    @cached_property
    def owner_currency_rows(self) -> list[int]:
        """Rows whose price was taken in the owner's currency because nothing names another."""
        return []

    @cached_property
    def _column_currency(self) -> dict[str, str | None]:
        """The one currency a price column names where it names any."""
        found: dict[str, str | None] = {}
        for name in PRICE_FIELDS:
            if name in self.columns:
                cells = [self.table.sheet.cell(row, self.columns[name].column) for row in self.table.rows]
                codes = {find_currency(c.text).code or format_currency_hint(c.number_format).code for c in cells} - {None}
                found[name] = codes.pop() if len(codes) == 1 else None
        return found

    # from whom, when, on what terms

    def _supplier_name(self, line: Line) -> str:
        text = self.text(line.row, "supplier")
        if status_of(text) in ("have", "ordered") or text.casefold() in words("cells", "no_supplier") or plain(text) in plain_words("cells", "no_supplier"):
            return ""
        link = re.match(r"^(?:https?://)?(?:www\.)?([\w.-]+\.[a-z]{2,})(?:/\S*)?$", text, re.IGNORECASE)
        return (link[1] if link else text)[:400]

    def _terms(self, line: Line) -> None:
        line.supplier = self._supplier_name(line)
        shown = self.text(line.row, "supplier")
        if status_of(shown) in ("have", "ordered"):
            line.supplier = ""
            line.have = (line.quantity or Decimal(1)) if status_of(shown) == "have" else None
            line.ordered = status_of(shown) == "ordered"
        elif shown and shown != line.supplier:
            if "://" in shown or shown.startswith("www."):
                line.url = shown
            elif not line.supplier:
                line.notes.append((self.columns["supplier"].header or "Supplier", shown))
        self._optional(line, "supplier_country", lambda text: parse_country(text))
        self._optional(line, "origin", lambda text: parse_country(text))
        self._lead(line)
        self._mass(line)
        self._heading(line)
        self._returns(line)

    def _optional(self, line: Line, name: str, parse: Callable[[str], Any]) -> None:
        """Read a field that is not needed: what can't be read is kept as a note and said."""
        cell = self.cell(line.row, name)
        if cell is None:
            return
        try:
            setattr(line, name, parse(clean_text(cell.text)[0]))
        except UnreadableCell as fault:
            self._note(line, name, f'{self._label(name)}: "{cell.text.strip()[:60]}" is {fault.what}; it is kept as a note')

    def _lead(self, line: Line) -> None:
        unit = header_unit(self.columns["lead_time"].header, ("weeks", "days", "months")) if "lead_time" in self.columns else None

        def parse(text: str) -> ThreePoint | None:
            estimate, said = parse_lead_weeks(text, self._marks["lead_time"], unit=unit)
            line.said.extend([said] if said else [])
            return estimate

        cell = self.cell(line.row, "lead_time")
        if cell is None:
            return
        before = line.lead_weeks
        try:
            line.lead_weeks = parse(_figure_text(cell))
        except UnreadableCell as fault:
            line.lead_weeks = before
            self._note(line, "lead_time", f'{self._label("lead_time")}: "{cell.text.strip()[:60]}" is {fault.what}; it is kept as a note')

    def _mass(self, line: Line) -> None:
        cell = self.cell(line.row, "mass")
        if cell is None or cell.merged_from:
            return
        unit = header_unit(self.columns["mass"].header, ("kg", "g", "lb")) or ("kg" if cell.is_number and " kg" in cell.text else None)
        try:
            line.mass_kg = parse_mass_kg(_figure_text(cell), self._marks["mass"], unit=unit)
        except UnreadableCell as fault:
            self._note(line, "mass", f'{self._label("mass")}: "{cell.text.strip()[:60]}" is {fault.what}; it is kept as a note')

    def _heading(self, line: Line) -> None:
        text = re.sub(r"[\s.]", "", self.text(line.row, "heading"))
        if re.fullmatch(r"[0-9]{4}([0-9]{2}){0,3}", text):
            line.heading = text
        elif text:
            self._note(line, "heading", f'{self._label("heading")}: "{text[:60]}" is not a tariff heading of 4 to 10 digits; it is kept as a note')

    def _returns(self, line: Line) -> None:
        text = self.text(line.row, "return_days").casefold()
        if not text:
            return
        match = re.match(r"^(\d{1,4})\s*(\D*)$", ascii_digits(text))
        unit = keys_by_word("lead_units").get(plain(match[2]), "days" if not match[2] else None) if match else None
        if text in words("cells", "not_returnable"):
            line.return_days = 0
        elif match and unit in ("days", "weeks", "months") and int(match[1]) <= 500:
            line.return_days = int(match[1]) * {"days": 1, "weeks": 7, "months": 30}[unit]
        else:
            self._note(line, "return_days", "")

    # what has been done about it

    def _progress(self, line: Line) -> None:
        quantity = line.quantity or Decimal(1)
        self._day_of(line, "seen")
        self._have(line, quantity)
        self._ordered(line)
        status = self.text(line.row, "status")
        kind = status_of(status)
        if kind == "have":
            line.have = line.have if line.have is not None else quantity
        elif kind == "ordered":
            line.ordered = True
        elif kind is None and status:
            self._note(line, "status", "")
        if kind == "ordered" and (found := re.search(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}", status)):
            try:
                line.ordered_on = parse_day(found[0])
            except UnreadableCell:
                self._note(line, "status", "")

    def _have(self, line: Line, quantity: Decimal) -> None:
        cell = self.cell(line.row, "have")
        if cell is None or cell.merged_from:
            return
        text = clean_text(cell.text)[0].casefold()
        count = re.match(r"^(\d+)(?:\s*(?:/|of|van|von|de|x|off|st\.?|pcs)\s*\d*)?$", ascii_digits(text))
        if isinstance(cell.value, bool):
            line.have = quantity if cell.value else line.have
        elif count:
            line.have = Decimal(count[1]) if int(count[1]) else line.have
        elif text in words("cells", "yes") or as_day(cell.value) or status_of(text) == "have" or _is_day(text):
            line.have = quantity
        elif status_of(text) == "ordered":
            line.ordered = True
        elif text not in words("cells", "no"):
            self._note(line, "have", "")

    def _ordered(self, line: Line) -> None:
        cell = self.cell(line.row, "ordered")
        if cell is None or cell.merged_from:
            return
        text = clean_text(cell.text)[0].casefold()
        if isinstance(cell.value, bool):
            line.ordered = line.ordered or cell.value
        elif as_day(cell.value) or _is_day(text):
            line.ordered = True
            self._day_of(line, "ordered", into="ordered_on")
        elif text in words("cells", "yes") or status_of(text) == "ordered":
            line.ordered = True
        elif status_of(text) == "have":
            line.have = line.quantity or Decimal(1)
        elif text not in words("cells", "no"):
            self._note(line, "ordered", "")

    def _day_of(self, line: Line, name: str, *, into: str = "") -> None:
        cell = self.cell(line.row, name)
        if cell is None:
            return
        day = as_day(cell.value)
        try:
            setattr(line, into or name, day or parse_day(cell.text, self._orders[name]))
        except UnreadableCell as fault:
            self._note(line, name, f'{self._label(name)}: "{cell.text.strip()[:60]}" is left out: {fault.what}')

    # what is left

    def _rest(self, line: Line) -> None:
        for use in self.uses:
            cell = self.table.sheet.cell(line.row, use.column)
            text = clean_text(cell.text)[0]
            if use.field in ("", "note") and text and not (cell.is_number and use.header == "" and not use.field):
                line.notes.append((use.header or f"Column {use.letter}", text))
            elif use.field == "url" and text:
                line.url = line.url or text
                if line.url != text:
                    line.notes.append((use.header or "Link", text))
            if cell.note and not cell.merged_from:
                self._cell_note(line, use, cell.note)
        if line.row in self.table.sheet.hidden_rows:
            line.said.append("the row is hidden in the file")

    def _cell_note(self, line: Line, use: ColumnUse, note: str) -> None:
        text = clean_text(note)[0]
        if re.fullmatch(r"https?://\S+", text) and not line.url:
            line.url = text
        elif text != line.url:
            line.notes.append((f"{use.header or use.letter} (cell note)", text))

    # faults

    def _where(self, line: Line, name: str) -> str:
        use = self.columns[name]
        return self.table.sheet.place(line.row, use.column, use.header)

    def _label(self, name: str) -> str:
        return self.columns[name].header or name.replace("_", " ")

    def _fault(self, line: Line, name: str, problem: Problem) -> None:
        line.problems.append(problem)

    def _note(self, line: Line, name: str, said: str) -> None:
        line.notes.append((self._label(name), self.text(line.row, name)))
        if said:
            line.said.append(said)

    def _read(self, line: Line, name: str, cell: Cell, parse: Callable[[], _Read]) -> _Read | None:
        """Read a needed field; what can't be read is a problem of the row."""
        if cell.formula and cell.value is None:
            self._fault(line, name, uncomputed(self._where(line, name), self._label(name)))
            return None
        if isinstance(cell.value, str) and re.match(r"^(?:#[A-Z/0!?]+|Err:\d+)$", cell.value):
            self._fault(line, name, Problem(self._where(line, name), "error-value", "the cell holds a spreadsheet error", cell.value, "Correct the formula, or write the value."))  # fmt: skip
            return None
        try:
            return parse()
        except UnreadableCell as fault:
            got = clean_text(cell.text)[0]
            self._fault(line, name, Problem(self._where(line, name), fault.code, fault.what, got if len(got) <= 60 else got[:57] + "...", fault.do))  # fmt: skip
            return None


def _figure(text: str) -> str:
    """The first figure of a text, for telling decimal marks."""
    match = re.search(r"\d[\d.,'’\s]*\d|\d", ascii_digits(text))
    return match[0] if match else ""


def _exact(cell: Cell) -> str:
    """A number of a spreadsheet as text: rounded as shown, or to where floating point ends being exact."""
    value = cell.value
    assert isinstance(value, int | float)
    shown = decimals_shown(cell.number_format)
    places = max(shown, 2) if shown is not None else 6
    rounded = Decimal(plain_number(value)).quantize(Decimal(1).scaleb(-places)) if abs(value) < 1e15 else Decimal(plain_number(value))
    text = f"{rounded.normalize():f}" if rounded else "0"
    return f"{Decimal(text):.2f}" if Decimal(text) == Decimal(text).quantize(Decimal("0.01")) else text


def _figure_text(cell: Cell) -> str:
    """Text of a cell, or its exact number where the file holds one: a format never hides digits here."""
    if cell.is_number:
        assert isinstance(cell.value, int | float)
        return plain_number(round(cell.value, 6))
    return cell.text


def _known_supplier(build: Build, name: str) -> str | None:
    """Currency of the build's supplier of this name."""
    wanted = name.casefold()
    return next((supplier.currency for supplier in build.suppliers if supplier.name.casefold() == wanted), None)


def _is_day(text: str) -> bool:
    try:
        parse_day(text, "dmy")
    except UnreadableCell:
        return False
    return True


def status_of(text: str) -> str | None:
    """What a word of status says: "have", "ordered", "wanted", or None if it is not known.

    Examples
    --------
    >>> status_of("Ordered 3/4"), status_of("not ordered"), status_of("Geliefert"), status_of("blue") is None
    ('ordered', 'wanted', 'have', True)
    """
    bare = plain(text)
    if not bare:
        return None
    kinds = {kind: plain_words("cells", kind) for kind in ("wanted", "ordered", "have")}
    for kind, listed in kinds.items():
        if bare in listed:
            return kind
    if any(bare.startswith(f"{plain(word)} ") for word in words("cells", "not_words")):
        return "wanted"
    starts = [(len(word), kind) for kind, listed in kinds.items() for word in listed if len(word) > 2 and bare.startswith(f"{word} ")]
    return max(starts)[1] if starts else None
