"""Sheets Fishplate writes itself and reads back field by field: each column is a field of a noun.

The sheets of parts, offers and what they rest on go both ways. Others are written for reading only.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any, Literal

from pydantic import BaseModel, ValidationError

from ..build import Build, Problem
from ..build.commerce import Offer, Supplier
from ..build.parts import Kit, Part, Stock, System
from .draft import Draft, problems_of, value_text
from .model import Cell, RowAction, RowPlan, Sheet

Kind = Literal["text", "number", "amount", "day", "yes-no", "words", "box", "contents"]


@dataclass(frozen=True, slots=True)
class Field:
    """A column: its header, the field it holds (a dot steps into a nested noun; empty: shown only), and its kind."""

    header: str
    path: str
    kind: Kind = "text"


@dataclass(frozen=True, slots=True)
class OwnSheet:
    """A sheet: its title, the list it holds, the noun's class and its columns; the first column is the id."""

    title: str
    list_name: str
    noun: type[BaseModel]
    stem: str
    fields: tuple[Field, ...]


OWN_SHEETS = (
    OwnSheet("Systems", "systems", System, "system", (
        Field("System id", "id"), Field("Name", "name"), Field("Hazards", "hazards", "words"), Field("Note", "note"),
    )),
    OwnSheet("Suppliers", "suppliers", Supplier, "supplier", (
        Field("Supplier id", "id"), Field("Name", "name"), Field("Country", "country"), Field("Currency", "currency"),
        Field("Origin tax", "origin_tax"), Field("Collects import tax", "collects_import_tax", "yes-no"),
        Field("Craft shop", "craft", "yes-no"), Field("Note", "note"),
    )),
    OwnSheet("Parts", "parts", Part, "part", (
        Field("Part id", "id"), Field("Name", "name"), Field("Part number", "part_number"),
        Field("System id", "system"),
        Field("Quantity", "quantity", "number"), Field("Unit", "unit"), Field("Category", "category"),
        Field("Phase", "phase"), Field("Origin", "origin"), Field("Tariff heading", "heading"),
        Field("Mass of one (kg)", "mass_kg", "number"), Field("Box (mm)", "box_mm", "box"),
        Field("Shelf life (weeks)", "shelf_weeks", "number"), Field("Order on", "order_on", "day"),
        Field("Note", "note"), Field("Source", "source"),
    )),
    OwnSheet("Kits", "kits", Kit, "kit", (
        Field("Kit id", "id"), Field("Name", "name"), Field("Contents", "contents", "contents"), Field("Note", "note"),
    )),
    OwnSheet("Stock", "stock", Stock, "stock", (
        Field("Stock id", "id"), Field("Part id", "part"), Field("Quantity", "quantity", "number"),
        Field("Place", "place"), Field("Condition", "condition"), Field("Since", "since", "day"), Field("Note", "note"),
    )),
    OwnSheet("Offers", "offers", Offer, "offer", (
        Field("Offer id", "id"), Field("Supplier id", "supplier"), Field("Part id", "part"), Field("Kit id", "kit"),
        Field("Price", "price.amount", "amount"), Field("Currency", "price.currency"), Field("Pack", "pack", "number"),
        Field("Tax included", "tax_included", "yes-no"), Field("Proof of origin", "proof_of_origin", "yes-no"),
        Field("Lead weeks, low", "lead_weeks.low", "number"),
        Field("Lead weeks, likely", "lead_weeks.likely", "number"),
        Field("Lead weeks, high", "lead_weeks.high", "number"),
        Field("Return days", "returns.days", "number"), Field("Return right ended by", "returns.ended_by", "words"),
        Field("Restocking (%)", "returns.restocking_percent", "number"),
        Field("Freight back", "returns.freight_back.amount", "amount"),
        Field("Freight back currency", "returns.freight_back.currency"),
        Field("Core charge", "core_charge.amount", "amount"), Field("Core charge currency", "core_charge.currency"),
        Field("Deposit (%)", "deposit_percent", "number"), Field("Seen", "seen", "day"),
        Field("Available from", "available_from", "day"), Field("Available until", "available_until", "day"),
        Field("Made to order", "made_to_order", "yes-no"), Field("Price holds until", "price_until", "day"),
        Field("Old part back within (days)", "core_days", "number"),
        Field("Warranty (months)", "warranty_months", "number"), Field("Warranty from", "warranty_from"),
        Field("Note", "note"), Field("Source", "source"),
    )),
)  # fmt: skip

# Written for reading: title, list, and the fields shown.
SHOWN_SHEETS: tuple[tuple[str, str, tuple[str, ...]], ...] = tuple(
    (title, title.lower().replace("-", "_"), ("id", *fields.split()))
    for title, fields in (
        ("Jobs", "name system phase hours after to_try to_keep decisions interfaces note"),
        ("Decisions", "name leading chosen chosen_on freeze_by why note"),
        ("Interfaces", "name kind systems parts settle_by closed_by stand_in if_wrong check"),
        ("Dimensions", "name unit designates foundation provision part minutes tools how"),
        ("Readings", "dimension value designation spread spread_means provenance instrument against day note"),
        ("Conditions", "interface name kind expression mates at_least at_most consequence note source"),
        ("Stand-ins", "name dimensions hours cost spread note"),
        ("Events", "kind day note"),
    )
)


def shown_header(field: str, list_name: str) -> str:
    """Header of a column written for reading."""
    one = list_name[:-1].replace("_", "-").capitalize()
    return f"{one} id" if field == "id" else field.replace("_", " ").capitalize()


def own_sheet_of(sheet: Sheet) -> OwnSheet | None:
    """Which of our sheets a sheet is, by the columns it has; None if it is a stranger's."""
    headers = [cell.text.strip() for cell in sheet.rows[0]] if sheet.rows else []
    for own in OWN_SHEETS:
        needed = {own.fields[0].header, own.fields[1].header, own.fields[2].header}
        if headers[:1] == [own.fields[0].header] and needed <= set(headers):
            return own
    return None


def is_shown_sheet(sheet: Sheet) -> bool:
    """Whether a sheet is one of ours that is written for reading only."""
    headers = [cell.text.strip() for cell in sheet.rows[0]] if sheet.rows else []
    return any(
        title == sheet.name and headers[:2] == [shown_header(f, list_name) for f in fields[:2]]
        for title, list_name, fields in SHOWN_SHEETS
    )


# out


def cell_values(own: OwnSheet, noun: Any) -> list[Any]:
    """The values of a noun's row, one a column."""
    return [_out(field.kind, _at(noun, field.path)) for field in own.fields]


def _at(noun: Any, path: str) -> Any:
    for step in path.split("."):
        noun = getattr(noun, step, None)
    return noun


def _out(kind: Kind, value: Any) -> Any:
    if value is None:
        return None
    match kind:
        case "words":
            return ", ".join(value) or None
        case "box":
            return " × ".join(value_text(side) for side in value)
        case "contents":
            return "; ".join(f"{item.part} × {value_text(item.quantity)}" for item in value)
        case "yes-no":
            return "yes" if value else "no"
        case "text":
            return str(value)
        case _:
            return value


# in


def place_own_rows(own: OwnSheet, sheet: Sheet, draft: Draft) -> Iterator[RowPlan]:
    """Put the rows of one of our sheets into a draft, row by row."""
    headers = [cell.text.strip() for cell in sheet.rows[0]]
    fields = {headers.index(field.header): field for field in own.fields if field.header in headers}
    for row in range(1, len(sheet.rows)):
        if any(not cell.is_empty for cell in sheet.rows[row]):
            yield _place_row(own, sheet, row, fields, draft)


def _place_row(own: OwnSheet, sheet: Sheet, row: int, fields: dict[int, Field], draft: Draft) -> RowPlan:
    place, draft_row = sheet.place(row), sheet.first_row + row
    draft.begin()
    data: dict[str, Any] = {}
    problems: list[Problem] = []
    for column, field in fields.items():
        cell = sheet.cell(row, column)
        if cell.is_empty and not cell.formula:
            continue
        try:
            _put(data, field.path.split("."), _in(field.kind, cell))
        except (ValueError, InvalidOperation):
            problems.append(
                Problem(
                    sheet.place(row, column, field.header),
                    "not-readable",
                    f"not {_WANTED[field.kind]}",
                    cell.text[:60],
                    "Correct it there.",
                )
            )
    name = str(data.get("name") or data.get("id") or "")
    if not problems:
        problems.extend(_upsert(own, data, draft, place))
    if problems:
        draft.take_back()
        return RowPlan(place, sheet.name, draft_row, RowAction.UNREADABLE, name, problems=tuple(problems))
    upserts = draft.upserts()
    action = RowAction.UNCHANGED if not upserts else RowAction.ADD if draft.adds(own.list_name) else RowAction.UPDATE
    return RowPlan(place, sheet.name, draft_row, action, name, draft.changes(), upserts=upserts)


_WANTED = {
    "number": "a number", "amount": "an amount", "day": "a day such as 2026-03-14", "yes-no": "yes or no",
    "box": "a box such as 300 × 200 × 100", "contents": "contents such as hub × 2; bolt × 8", "text": "text",
    "words": "words",
}  # fmt: skip


def _upsert(own: OwnSheet, data: dict[str, Any], draft: Draft, place: str) -> Iterator[Problem]:
    """Put a row's data over the noun it is about, or make a new one of it."""
    held = draft.nouns(own.list_name).get(data.get("id", ""))
    if "id" not in data:
        data["id"] = draft.new_id(own.list_name, _new_name(data), stem=own.stem)
    base = held.model_dump() if held is not None else {}
    try:
        draft.put(own.list_name, own.noun.model_validate(_over(base, data)))
    except ValidationError as error:
        yield from problems_of(error, place)


def _new_name(data: dict[str, Any]) -> str:
    return str(data.get("name") or f"{data.get('part') or data.get('kit') or 'new'}-{data.get('supplier', '')}")


def _over(base: dict[str, Any], data: dict[str, Any]) -> dict[str, Any]:
    """Data laid over a noun's; what the sheet does not hold stays."""
    merged = dict(base)
    for key, value in data.items():
        old = merged.get(key)
        merged[key] = _over(old, value) if isinstance(old, dict) and isinstance(value, dict) else value
    return merged


def _put(data: dict[str, Any], steps: Sequence[str], value: Any) -> None:
    for step in steps[:-1]:
        data = data.setdefault(step, {})
    data[steps[-1]] = value


def _in(kind: Kind, cell: Cell) -> Any:
    if cell.formula and cell.value is None:
        raise ValueError
    text = cell.text
    match kind:
        case "number":
            return cell.value if cell.is_number else float(_plain_decimal(text))
        case "amount":
            return Decimal(str(cell.value)) if cell.is_number else _plain_decimal(text)
        case "day":
            return _day(cell)
        case "yes-no":
            return (
                {"yes": True, "no": False, "true": True, "false": False}[text.strip().casefold()]
                if text.strip().casefold() in ("yes", "no", "true", "false")
                else _fail()
            )
        case "words":
            return tuple(word.strip() for word in text.split(",") if word.strip())
        case "box":
            return tuple(float(_plain_decimal(side)) for side in re.split(r"[×x*]", text))
        case "contents":
            return tuple(_content(item) for item in text.split(";") if item.strip())
        case _:
            return str(cell.value) if isinstance(cell.value, str) else text


def _fail() -> Any:
    raise ValueError


def _plain_decimal(text: str) -> Decimal:
    value = Decimal(text.strip().replace(",", "."))
    return value if value.is_finite() else _fail()


def _content(item: str) -> dict[str, Any]:
    part, _, quantity = item.partition("×")
    return {"part": part.strip(), "quantity": float(_plain_decimal(quantity or "1"))}


def _day(cell: Cell) -> date:
    if isinstance(cell.value, datetime):
        return cell.value.date()
    return cell.value if isinstance(cell.value, date) else date.fromisoformat(cell.text.strip()[:10])


def nouns_of(build: Build, own: OwnSheet) -> Sequence[Any]:
    """The nouns a sheet holds."""
    nouns: Sequence[Any] = getattr(build, own.list_name)
    return nouns
