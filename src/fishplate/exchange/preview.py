"""What an import would do, row by row, and doing it. Nothing is written by a preview."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from pydantic import ValidationError

from ..build import Assumption, Build, Problem, Refused, check_build, sorted_problems
from .columns import check_chosen, map_columns
from .draft import Draft, problems_of
from .find_tables import find_tables
from .model import ColumnUse, ImportOptions, ImportPreview, RowAction, RowPlan, Sheet, Upsert
from .own_sheets import OwnSheet, is_shown_sheet, own_sheet_of, place_own_rows
from .placing import Placer
from .rows import ReadRow, read_rows
from .table_reader import Line, TableReader
from .titles import by_shop, day_of_title, supplier_of_title, system_of_sheet, system_of_title


@dataclass(frozen=True, slots=True)
class _Read:
    """A table, what its columns are for, and its rows."""

    readers: tuple[TableReader, ...]
    rows: tuple[ReadRow, ...]

    @property
    def reader(self) -> TableReader:
        return self.readers[0]

    @property
    def uses(self) -> Iterator[ColumnUse]:
        """What each column is for; of a column that one of several readers takes, what that one says."""
        for uses in zip(*(reader.uses for reader in self.readers), strict=True):
            yield next((use for use in uses if use.field == "price"), uses[0])

    @property
    def sheet(self) -> Sheet:
        return self.reader.table.sheet

    @property
    def lines(self) -> Iterator[Line]:
        return (row.line for row in self.rows if row.line is not None)


def preview(
    tables: Sequence[Sheet],
    build: Build,
    mapping: Mapping[str, str] | None = None,
    *,
    options: ImportOptions | None = None,
) -> ImportPreview:
    """What importing sheets into a build would do.

    Parameters
    ----------
    tables : sheets as `read_tables` gives them
    build : the build they go into; it stays as it is
    mapping : field by column header or letter, where the owner says; "ignore" leaves a column out
    options : what else the owner says about the list

    Raises
    ------
    Refused
        if a chosen sheet, column or field does not exist, or no sheet holds a list
    """
    options = options or ImportOptions()
    sheets = _chosen_sheets(tables, options)
    draft, notes = Draft(build), [f"{sheet.label}: {note}" for sheet in sheets for note in sheet.notes]
    own_rows = [plan for own, sheet in _own(sheets) for plan in place_own_rows(own, sheet, draft)]
    read = _read_tables(_strangers(sheets, notes), build, mapping or {}, options, notes)
    if not read and not own_rows:
        _refuse_no_list(sheets)
    placer = Placer(draft, [line for item in read for line in item.lines], options.day)
    plans = [*own_rows, *(plan for item in read for plan in _plans(item, placer))]
    notes.extend(_gone(read, placer))
    assumptions = tuple(dict.fromkeys((*_table_assumptions(read, build), *placer.assumptions.values())))
    uses = tuple(use for item in read for use in item.uses)
    problems = [problem for plan in plans for problem in plan.problems]
    found = ImportPreview(tuple(plans), uses, tuple(notes), assumptions, sorted_problems(problems))
    return found if problems else replace(found, problems=broken(found, build))


def apply(found: ImportPreview, build: Build, *, skip_unreadable: bool = False) -> Build:
    """The build with an import done.

    Parameters
    ----------
    found : what `preview` said of this very build
    skip_unreadable : leave out the rows that can't be read, instead of refusing the whole

    Raises
    ------
    Refused
        if rows can't be read and are not to be left out, or the build would not hold together
    """
    if found.problems and not skip_unreadable:
        raise Refused(found.problems)
    result = _result(found, build)
    problems = tuple(check_build(result, source="import"))
    if problems:
        raise Refused(problems)
    return result


def _result(found: ImportPreview, build: Build) -> Build:
    lists: dict[str, dict[str, object]] = {}
    sightings = list(build.sightings)
    for upsert in (upsert for row in found.rows for upsert in row.upserts):
        if upsert.list_name == "sightings":
            sightings.append(upsert.noun)
        else:
            nouns = lists.setdefault(upsert.list_name, dict(build.index[upsert.list_name]))
            nouns[upsert.noun.id] = upsert.noun
    changed = {name: tuple(nouns.values()) for name, nouns in lists.items()}
    if len(sightings) != len(build.sightings):
        changed["sightings"] = tuple(sightings)
    return build.model_copy(update=changed) if changed else build


def broken(found: ImportPreview, build: Build) -> tuple[Problem, ...]:
    """Faults between nouns that the import would bring in."""
    return tuple(check_build(_result(found, build), source="import")) if found.changes_anything else ()


# which sheets


def _chosen_sheets(tables: Sequence[Sheet], options: ImportOptions) -> tuple[Sheet, ...]:
    wanted = {name.casefold() for name in options.sheets}
    names = {sheet.name.casefold() for sheet in tables}
    missing = sorted(name for name in options.sheets if name.casefold() not in names)
    if missing:
        there = (
            ", ".join(dict.fromkeys(sheet.name for sheet in tables if sheet.name)) or "none, as the file has no sheets"
        )
        raise Refused(
            Problem(tables[0].file, "no-such-sheet", "there is no such sheet", name, f"The sheets are: {there}.")
            for name in missing
        )
    return tuple(sheet for sheet in tables if not wanted or sheet.name.casefold() in wanted)


def _own(sheets: Iterable[Sheet]) -> Iterator[tuple[OwnSheet, Sheet]]:
    for sheet in sheets:
        own = own_sheet_of(sheet)
        if own is not None:
            yield own, sheet


def _strangers(sheets: Sequence[Sheet], notes: list[str]) -> Iterator[Sheet]:
    """Sheets that are not ours; ours that are for reading only are left alone, and it is said."""
    for sheet in sheets:
        if own_sheet_of(sheet) is None and is_shown_sheet(sheet):
            notes.append(f"{sheet.label}: written for reading; an import leaves it alone")
        elif own_sheet_of(sheet) is None:
            yield sheet


def _refuse_no_list(sheets: Sequence[Sheet]) -> None:
    raise Refused(
        Problem(
            sheet.label, "no-list", "no list of parts was found in it", "",
            "A list has a row of headers such as Part, Quantity, Price, or a column of names beside one of prices.",
        )
        for sheet in sheets
    )  # fmt: skip


# reading


def _read_tables(
    sheets: Iterable[Sheet], build: Build, mapping: Mapping[str, str], options: ImportOptions, notes: list[str]
) -> list[_Read]:
    found = [(sheet, find_tables(sheet)) for sheet in sheets]
    check_chosen(mapping, [table for _, tables in found for table in tables])
    read = []
    several = sum(bool(tables) for _, tables in found) > 1
    for sheet, tables in found:
        if not tables and any(sheet.rows):
            notes.append(f"{sheet.label}: no list was found in it; it is left alone")
        for table in tables:
            supplier, seen = supplier_of_title(table), day_of_title(table)
            reader = TableReader(table, map_columns(table, mapping), options, build, supplier, seen)
            if "name" not in reader.columns and "part_number" not in reader.columns:
                headers = ", ".join(filter(None, table.headers))
                notes.append(f"{sheet.label}: a table without a column of names is left alone ({headers})")
                continue
            system = system_of_title(table, several=len(tables) > 1) or system_of_sheet(sheet, several=several)
            readers = by_shop(reader)
            read.append(_Read(readers, tuple(read_rows(readers, system))))
    return read


# placing


def _plans(read: _Read, placer: Placer) -> Iterator[RowPlan]:
    for row in read.rows:
        place, number = read.sheet.place(row.row), read.sheet.first_row + row.row
        if row.line is None:
            yield RowPlan(place, read.sheet.name, number, RowAction.SKIP, row.name, why=row.why)
        else:
            yield _placed(row.line, RowPlan(place, read.sheet.name, number, RowAction.UNCHANGED, row.name), placer)


def _placed(line: Line, plan: RowPlan, placer: Placer) -> RowPlan:
    draft = placer.draft
    draft.begin()
    if not line.problems:
        try:
            why = placer.place(line)
        except ValidationError as error:
            line.problems.extend(problems_of(error, plan.place))
    if line.problems:
        draft.take_back()
        return replace(plan, action=RowAction.UNREADABLE, said=tuple(line.said), problems=tuple(line.problems))
    upserts = draft.upserts()
    added = draft.adds("parts") or draft.adds("offers")
    action = (
        RowAction.UNCHANGED
        if not upserts
        else RowAction.ADD
        if added and not _updates(upserts, draft)
        else RowAction.UPDATE
    )
    return replace(
        plan,
        action=action,
        name=line.name,
        why=why,
        changes=draft.changes(),
        upserts=upserts,
        said=tuple(dict.fromkeys(line.said)),
    )


def _updates(upserts: Sequence[Upsert], draft: Draft) -> bool:
    """Whether a row changes a part that was there before it."""
    return any(upsert.list_name == "parts" and not draft.adds("parts") for upsert in upserts)


def _gone(read: Sequence[_Read], placer: Placer) -> Iterator[str]:
    for label in dict.fromkeys(item.sheet.label for item in read):
        names = [part.name for part in placer.matcher.unclaimed(label)]
        if names:
            shown = ", ".join(names[:5]) + (", ..." if len(names) > 5 else "")
            gone = f"{len(names)} parts taken from it before are no longer in it ({shown})"
            yield f"{label}: {gone}; they stay in the build"


# what was taken for granted


def _table_assumptions(read: Sequence[_Read], build: Build) -> Iterator[Assumption]:
    for item in read:
        columns, label = item.reader.columns, item.sheet.label
        if rows := item.reader.owner_currency_rows:
            own = build.owner.currency
            text = f"{len(rows)} prices name no currency; {own}, your own, is taken unless you say otherwise"
            yield Assumption("currency-owner", label, f"{label}: {text}")
        if "quantity" not in columns:
            yield Assumption(
                "quantity-one",
                label,
                f"{label}: it has no column of quantities; one of each is taken where a row says none",
            )
        if item.reader.supplier and "supplier" not in columns and len(item.readers) == 1:
            yield Assumption(
                "supplier-title", label, f"{label}: the supplier is {item.reader.supplier}, after its title"
            )
        if item.reader.seen and "seen" not in columns:
            yield Assumption("seen-title", label, f"{label}: the prices are of {item.reader.seen}, after its title")
        if "unit_price" not in columns and "price" in columns and _counts_matter(item):
            header = columns["price"].header or "the price"
            text = f'"{header}" is taken as the price of one; say so if it is the price of the whole row'
            yield Assumption("price-of-one", label, f"{label}: {text}")
        if not item.reader.table.header_rows:
            yield Assumption(
                "no-header", label, f"{label}: it has no header; what each column is was told by what stands in it"
            )


def _counts_matter(item: _Read) -> bool:
    return any(line.quantity is not None and line.quantity != 1 and line.price is not None for line in item.lines)
