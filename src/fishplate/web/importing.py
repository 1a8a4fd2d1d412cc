"""Bring in a list, a page, a mail or a line; see what it would do, accept it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build, Problem, Refused
from ..build.money import known_currencies
from ..exchange import ImportPreview, RowAction, RowPlan, apply
from ..exchange.columns import FIELDS
from ..wiring import with_likely_bills
from .ask import Ask, Asked
from .bringing import Listed, Reading, keep_list, kept_list, read_listed
from .capturing import accept_capture, show_capture

router = APIRouter()
MAX_BYTES: Final = 20 * 1024 * 1024
MAX_LINE: Final = 300
PASTED: Final = "pasted text"
MEND: Final = "mend-"
READING_SECONDS: Final = 0.1  # how long a page waits for what was brought to be read, before it says that it is
WRITING_SECONDS: Final = 30.0  # how long a form that takes it in does
ACTION_WORDS: Final = {
    RowAction.ADD: "new",
    RowAction.UPDATE: "changes",
    RowAction.UNCHANGED: "as it is",
    RowAction.SKIP: "left out",
    RowAction.UNREADABLE: "can't be read",
}
COUNT_WORDS: Final = {
    RowAction.ADD: "{} new",
    RowAction.UPDATE: "{} changed",
    RowAction.UNCHANGED: "{} as they are",
    RowAction.SKIP: "{} left out (headings, sums and such)",
    RowAction.UNREADABLE: "{} that can't be read",
}
# What a column may be, as its menu says it, where the field's own name is not the plainest word.
FIELD_WORDS: Final = {
    "name": "name of the part",
    "quantity": "how many",
    "unit": "unit of the count",
    "unit_price": "price of one",
    "total_price": "price of the row",
    "estimate": "price, estimated",
    "supplier": "seller",
    "url": "address of its page",
    "origin": "country it was made in",
    "supplier_country": "country of the seller",
    "seen": "day the price was seen",
    "status": "how far it is",
    "have": "how many are there",
    "ordered": "whether it is ordered",
    "ordered_on": "day it was ordered",
    "order_on": "day you mean to order it",
    "return_days": "days to send it back",
    "heading": "tariff heading",
}


def _taken_for(field: str) -> str:
    """What a column is taken for, in words."""
    return FIELD_WORDS.get(field, field.replace("_", " "))


@dataclass(frozen=True, slots=True)
class Mend:
    """A cell that can't be read, and the field it is mended in; `got` is what stands in it."""

    field: str
    label: str
    got: str


@dataclass(frozen=True, slots=True)
class RowLine:
    """What an import does with one row, in words; mends : its cells that can't be read."""

    place: str
    action: str
    name: str
    detail: str
    said: tuple[str, ...]
    faults: tuple[str, ...]
    mends: tuple[Mend, ...] = ()


@dataclass(frozen=True, slots=True)
class ColumnLine:
    """What a column was taken for; `chooser` names the field that says otherwise, `chosen` is what it says."""

    chooser: str
    chosen: str
    header: str
    letter: str
    field: str
    why: str


@dataclass(frozen=True, slots=True)
class PreviewPage:
    """An import before it is done.

    Parameters
    ----------
    summary : how many rows do what
    unread : rows that can't be read; rows : all the others
    sheets : names of the sheets there are; chosen : which of them are read
    """

    key: str
    name: str
    summary: tuple[str, ...]
    changes_anything: bool
    unread: tuple[RowLine, ...]
    rows: tuple[RowLine, ...]
    columns: tuple[ColumnLine, ...]
    sheets: tuple[str, ...]
    reading: Reading
    notes: tuple[str, ...]
    assumptions: tuple[str, ...]
    problems: tuple[str, ...]
    fields: tuple[tuple[str, str], ...] = tuple((field, _taken_for(field)) for field in FIELDS)


def preview_page(
    listed: Listed, build: Build, found: ImportPreview, reading: Reading, sheets: tuple[str, ...]
) -> PreviewPage:
    """The page of a preview."""
    suppliers = suppliers_of(found, build)
    lines = [(row, _row_line(row, suppliers)) for row in found.rows]
    seen: dict[str, ColumnLine] = {}
    for use in found.columns:
        chooser = use.header.strip() or use.letter
        chosen = reading.mapping.get(chooser, "")
        seen.setdefault(
            chooser, ColumnLine(f"map-{chooser}", chosen, use.header, use.letter, _taken_for(use.field), use.why)
        )
    return PreviewPage(
        key=listed.key,
        name=listed.name,
        summary=tuple(COUNT_WORDS[action].format(count) for action in RowAction if (count := found.count(action))),
        changes_anything=found.changes_anything,
        unread=tuple(line for row, line in lines if row.action is RowAction.UNREADABLE),
        rows=tuple(line for row, line in lines if row.action is not RowAction.UNREADABLE),
        columns=tuple(seen.values()),
        sheets=sheets if len(sheets) > 1 else (),
        reading=reading,
        notes=found.notes,
        assumptions=tuple(item.text for item in found.assumptions),
        problems=tuple(str(problem) for problem in found.problems),
    )


def suppliers_of(found: ImportPreview, build: Build) -> dict[str, str]:
    """Names of suppliers by id, those that come with the import included."""
    new = [upsert.noun for row in found.rows for upsert in row.upserts if upsert.list_name == "suppliers"]
    return {supplier.id: supplier.name for supplier in (*build.suppliers, *new)}


def _row_line(row: RowPlan, suppliers: Mapping[str, str]) -> RowLine:
    return RowLine(
        place=f"{row.sheet} {row.row}".strip(),
        action=ACTION_WORDS[row.action],
        name=row.name,
        detail=_detail(row, suppliers),
        said=row.said,
        faults=tuple(
            f"{problem.what[:1].upper()}{problem.what[1:]}{f' (“{problem.got}”)' if problem.got else ''}. {problem.do}"
            for problem in row.problems
        ),
        mends=tuple(_mends(row)),
    )


def _mends(row: RowPlan) -> Iterator[Mend]:
    """The cells of a row that can be mended, each by its place."""
    for problem in row.problems:
        _, found, column = problem.where.removeprefix(row.place).partition(", column ")
        if found:
            yield Mend(MEND + problem.where, f"{row.name}, column {column}", problem.got)


def _detail(row: RowPlan, suppliers: Mapping[str, str]) -> str:
    if row.action is RowAction.UPDATE:
        changed = (
            f"{_taken_for(change.field)}: {change.before or 'none'} → {change.after or 'none'}"
            for change in row.changes
            if change.field not in ("source", "id")
        )
        return "; ".join(filter(None, (row.why, *changed)))
    if row.action is not RowAction.ADD:
        return row.why
    part_is_new = any(change.list_name == "parts" for change in row.changes)
    new = {change.field: change.after for change in row.changes if change.list_name in ("parts", "offers")}
    count = new.get("quantity", "1") + (f" {new['unit']}" if new.get("unit", "each") != "each" else "")
    each = f"{count} × {new['price']}" if "price" in new else count
    if not part_is_new:
        each = f"another offer, at {new['price']}" if "price" in new else "another offer"
    supplier = suppliers.get(new.get("supplier", ""), new.get("supplier", ""))
    lead = f"lead time {_span(new['lead_weeks'])}" if new.get("lead_weeks") else ""
    return ", ".join(filter(None, (row.why, each, supplier, lead, new.get("phase", ""))))


def _span(weeks: str) -> str:
    """A lead time from its three points in text, from the least to the most.

    Examples
    --------
    >>> _span("3 / 3 / 3"), _span("9 / 10.5 / 12"), _span("1 / 1 / 1")
    ('3 weeks', '9 to 12 weeks', '1 week')
    """
    low, high = weeks.split(" / ")[0], weeks.split(" / ")[-1]
    return f"{low} to {high} weeks" if low != high else f"{low} week{'' if low == '1' else 's'}"


# what was sent


def file_name(name: str) -> str:
    """The name of an uploaded file without any folder, safe to write.

    Examples
    --------
    >>> file_name("../../list.csv"), file_name("")
    ('list.csv', 'list.csv')
    """
    kept = "".join(c for c in PurePosixPath(name.replace("\\", "/")).name if c.isprintable())[-100:].strip(". ")
    return kept or "list.csv"


def reading_of(values: Mapping[str, str], sheets: tuple[str, ...]) -> Reading:
    """How to read a list, from the fields of a form or an address; what is not one of the choices is left out."""
    currency = values.get("currency", "").strip().upper()
    if currency and currency not in known_currencies():
        what = "not a currency code"
        raise Refused([Problem("currency", "currency", what, currency, "Write it as EUR or GBP.")])
    decimal = values.get("decimal", "")
    chosen = {
        name.removeprefix("map-"): field
        for name, field in values.items()
        if name.startswith("map-") and (field in FIELDS or field == "ignore")
    }
    mended = tuple(
        (name.removeprefix(MEND), text.strip()[:MAX_LINE]) for name, text in values.items() if name.startswith(MEND)
    )
    return Reading(currency, decimal if decimal in (".", ",") else "", sheets, tuple(chosen.items()), mended)


# routes


def show_import(ask: Ask) -> Response:
    """Where a list is brought; for a build with nothing in it, the page it starts with."""
    has_parts = bool(ask.view.build.parts or ask.view.build.jobs)
    return ask.show("import.html" if has_parts else "start.html", title="Bring in" if has_parts else "This week")


@router.get("/import")
def show(ask: Asked) -> Response:
    """The page."""
    return ask.show("import.html", title="Bring in")


@router.post("/import")
def bring(ask: Asked) -> Response:
    """What was uploaded, pasted or typed; what it would do comes next."""
    name, content = brought(ask)
    if line := _one_line(name, content):
        return ask.leave(f"/parts/add?{urlencode({'line': line})}")
    if not ask.form.problems and ask.form.text("currency"):
        response = ask.write(
            lambda build: _situated(build, ask), message="where the build stands", back="/", again=show_import
        )
        if response.status_code != 303:
            return response
    if ask.form.problems:
        ask.problems = tuple(ask.form.problems)
        return show_import(ask)
    return ask.leave(f"/import/{keep_list(ask, name, content)}")


def brought(ask: Ask) -> tuple[str, bytes]:
    """The list that was uploaded or pasted, with a name; notes a problem where there is none."""
    name, content = ask.form.files.get("list", ("", b""))
    text = ask.form.text("text")
    if not content and text:
        name, content = PASTED, text.encode()
    if not content:
        ask.form.refuse("list", "nothing was given", do="Choose a file, or type or paste it below.")
    elif len(content) > MAX_BYTES:
        ask.form.refuse("list", "larger than 20 MiB", name, "Split the list, or save the page without its pictures.")
    return file_name(name), content


def _one_line(name: str, content: bytes) -> str:
    """The line that was typed, if it was one; empty for a file and for what is a page."""
    text = content.decode("utf-8", "replace").strip() if name == PASTED and len(content) < 4 * MAX_LINE else ""
    return "" if "\n" in text or len(text) > MAX_LINE or text.startswith("<") else text


def _situated(build: Build, ask: Ask) -> Build:
    """The build with its name, the garage's country and the home currency."""
    currency, country = ask.form.text("currency").upper(), ask.form.text("country", build.owner.country).upper()
    if currency not in known_currencies():
        ask.form.refuse("currency", "not a currency code", currency, "Write it as EUR or GBP.")
    if not (len(country) == 2 and country.isascii() and country.isalpha()):
        ask.form.refuse("country", "not a country code", country, "Write two letters, as NL or GB.")
    name = ask.form.text("name", build.name)[:400]
    owner = build.owner.model_copy(update={"currency": currency, "country": country})
    return build.model_copy(update={"name": name, "owner": owner})


def show_preview(ask: Ask, key: str, reading: Reading) -> Response:
    """What a list, page or mail would do, once it is read."""
    listed = kept_list(ask, key)
    standing = ask.desk.brought.of(ask.view, (key, reading), patience_seconds=READING_SECONDS)
    if standing.value is None or not standing.current:
        url = ask.request.url
        page = {
            "name": listed.name,
            "said": standing.said,
            "path": f"{url.path}?{url.query}" if url.query else url.path,
            "over": ("/import", "Bring in"),
        }
        return ask.show("being_read.html", page, title="Bring in")
    brought = standing.value
    if brought.captured is not None:
        return show_capture(ask, key, brought.captured)
    if brought.found is None:
        refused = {"name": listed.name, "problems": brought.problems, "key": key}
        return ask.show("unread_list.html", refused, title="Bring in", status=422)
    seen = preview_page(listed, ask.view.build, brought.found, reading, brought.sheets)
    return ask.show("preview.html", seen, title="Bring in")


@router.get("/import/{key}")
def show_one(key: str, ask: Asked) -> Response:
    """What a list would do."""
    query = ask.request.query_params
    return show_preview(ask, key, reading_of(dict(query), tuple(query.getlist("sheet"))))


@router.post("/import/{key}")
def accept(key: str, ask: Asked) -> Response:
    """Do what was shown."""
    listed = kept_list(ask, key)
    reading = reading_of({name: ask.form.text(name) for name in ask.form.fields}, ask.form.every("sheet"))
    brought = ask.desk.brought.of(ask.view, (key, reading), patience_seconds=WRITING_SECONDS)
    if brought.value is None or not brought.current:
        return show_preview(ask, key, reading)
    if brought.value.captured is not None:
        return accept_capture(ask, key, brought.value.captured)
    read, seen = brought.value, ask.view.build

    def edit(build: Build) -> Build:
        now = read if build is seen else read_listed(listed, build, ask.today, reading)
        if now.found is None:
            raise Refused(now.problems)
        return with_likely_bills(build, apply(now.found, build, skip_unreadable=ask.form.ticked("skip")))

    message = f"imported {listed.name}"
    return ask.write(edit, message=message, back="/", again=lambda ask: show_preview(ask, key, reading))
