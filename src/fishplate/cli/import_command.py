"""`fishplate import`"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import JSON_FLAG, emit, say, table, tell_about

if TYPE_CHECKING:
    from ..build import Build
    from ..exchange import Change, ImportOptions, ImportPreview, RowPlan
    from ..store import BuildFile

_DECIMALS = {"point": ".", "comma": ","}


@click.command("import")
@click.argument("file", metavar="BUILD", type=click.Path(path_type=Path), is_eager=True)
@click.argument("source", metavar="LIST", type=click.Path(path_type=Path, allow_dash=True))
@click.option("--dry-run", is_flag=True, help="Show what it would do, and do nothing.")
@click.option("--yes", is_flag=True, help="Do it without asking.")
@click.option("--sheet", "sheets", multiple=True, help="Read this sheet only; can be given several times.")
@click.option(
    "--map", "pairs", multiple=True, metavar='"HEADER=FIELD"', help="What a column is for; ignore leaves it out."
)
@click.option("--currency", help="Currency of prices that name none, as EUR.")
@click.option("--decimal", type=click.Choice(list(_DECIMALS)), help="Decimal mark, where a column leaves it open.")
@click.option(
    "--part",
    "parts",
    multiple=True,
    metavar="[N=]ID",
    help="Of a page or mail: the part its (Nth) product is for; new for a part of its own, none to leave it out.",
)
@click.option("--skip-unreadable", is_flag=True, help="Leave out rows that can't be read, and take the others.")
@JSON_FLAG
def command(
    file: Path,
    source: Path,
    dry_run: bool,
    yes: bool,
    sheets: tuple[str, ...],
    pairs: tuple[str, ...],
    currency: str | None,
    decimal: str | None,
    parts: tuple[str, ...],
    skip_unreadable: bool,
    as_json: bool,
) -> None:
    """Take a parts list, a saved page or a mail into a build.

    A list is a spreadsheet (XLSX, ODS), CSV, TSV, Markdown or a table in a page. From a page saved by a browser (HTML,
    MHTML) it takes the products that the page describes for programs; from a mail (EML, or its text) the lines of
    goods. Prices become offers, or prices seen of offers the build has. LIST may be - for text on standard input.
    Nothing is fetched.

    Shows row by row what it will do, and does it once you say so. A build that does not exist is started. The same
    list imported again brings the build up to date and doubles nothing.

    \b
    Fields for --map:
      name part_number quantity unit unit_price price total_price estimate currency
      supplier supplier_country lead_time return_days phase system url note mass origin
      heading seen status have ordered ordered_on order_on ignore

    \f
    \b
    With --json:
      file, list     the build file and the list
      written        whether the build was changed; revision its number (null if not written)
      counts         rows by action: add, update, unchanged, skip, can't read
      rows           place, sheet, row, action, name, why, said, changes (list, id, field, before, after), problems
      columns        sheet, column, header, field, why
      notes, assumptions (code, about, text), problems (where, code, what, got, do)
    """
    from ..build import Refused
    from ..exchange import ImportOptions, apply
    from ..wiring import today, with_likely_bills

    target = _open(file)
    tell_about(target.build)
    options = ImportOptions(_currency(currency), _DECIMALS.get(decimal or ""), sheets, today())
    found = _found(source, target.build, _mapping(pairs), options, parts)
    if not as_json:
        _show(found)
    if found.problems and not skip_unreadable and not dry_run:
        if as_json:
            emit(_data(file, source, found, None))
        raise Refused(found.problems)
    revision = None
    if _agreed(found, dry_run=dry_run, yes=yes, as_json=as_json):
        result = with_likely_bills(target.build, apply(found, target.build, skip_unreadable=skip_unreadable))
        revision = target.write(result, f"imported {source.name}")
        if not as_json:
            say(f"Done: {file} is at revision {revision}. To take it back: fishplate undo {file}.")
    if as_json:
        emit(_data(file, source, found, revision))


def _found(
    source: Path, build: Build, mapping: Mapping[str, str], options: ImportOptions, parts: tuple[str, ...]
) -> ImportPreview:
    """What a list, page or mail would do; raises Refused."""
    from ..exchange import preview
    from ..exchange.capture import capture
    from ..exchange.container import filled, read_bytes
    from ..exchange.read_tables import tables_of
    from ..exchange.taking_in import take_in
    from ..wiring import today

    if str(source) == "-":
        data, name = filled(sys.stdin.buffer.read(), "text"), "text"
    else:
        data, name = read_bytes(source), source.name
    captured = capture(data, name, build)
    if captured is None:
        if parts:
            raise click.BadParameter("this is a list, not a page or mail", param_hint="--part")
        return preview(tables_of(data, name), build, mapping, options=options)
    about = _about(parts, len(captured.found), build)
    return take_in(captured, build, options.day or today(), about=about, currency=options.currency)


def _about(parts: tuple[str, ...], count: int, build: Build) -> dict[int, str]:
    """By place, the part a product is said to be for."""
    from ..exchange.taking_in import LEFT_OUT, OWN

    found = {}
    for given in parts:
        number, equals, id_ = given.rpartition("=")
        place = int(number) if number.isdecimal() and len(number) < 6 else 0 if equals or count > 1 else 1
        if not 1 <= place <= count:
            raise click.BadParameter(f"{given!r} names none of the {count}; write it as 2=ID", param_hint="--part")
        if id_ not in ("new", "none") and id_ not in build.index["parts"]:
            raise click.BadParameter(f"{id_!r} is no part of the build", param_hint="--part")
        found[place - 1] = {"new": OWN, "none": LEFT_OUT}.get(id_, id_)
    return found


@dataclass(frozen=True)
class _Target:
    """The build an import goes into, and the file it was read from; no file yet for a new build."""

    path: Path
    build: Build
    opened: BuildFile | None
    revision: int

    def write(self, result: Build, message: str) -> int:
        """Write the result in one transaction; returns the revision."""
        from ..store import BuildFile
        from ..wiring import author

        if self.opened is None:
            return BuildFile.create(self.path, result, author=author(), message=message).revision
        return self.opened.write(result, revision=self.revision, author=author(), message=message)


def _open(path: Path) -> _Target:
    from ..build import Build
    from ..wiring import open_file

    if not path.exists():
        return _Target(path, Build(name=path.stem[:400] or "My build"), None, 0)
    opened = open_file(path)
    snapshot = opened.snapshot()
    return _Target(path, snapshot.build, opened, snapshot.revision)


def _currency(code: str | None) -> str | None:
    from ..build.money import known_currencies

    if code is not None and code.upper() not in known_currencies():
        raise click.BadParameter(f"{code!r} is not a currency code; write it as EUR or GBP", param_hint="--currency")
    return code.upper() if code else None


def _mapping(pairs: tuple[str, ...]) -> dict[str, str]:
    mapping = {}
    for pair in pairs:
        header, equals, field = pair.rpartition("=")
        if not equals or not header.strip() or not field.strip():
            raise click.BadParameter(f'{pair!r} is not "HEADER=FIELD", such as "Cost=unit_price"', param_hint="--map")
        mapping[header.strip()] = field.strip()
    return mapping


def _agreed(found: ImportPreview, *, dry_run: bool, yes: bool, as_json: bool) -> bool:
    """Whether to write: said by --yes, or answered on a terminal; without either nothing is written."""
    if dry_run:
        return False
    if not found.changes_anything:
        if not as_json:
            say("Nothing would change.")
        return False
    if yes:
        return True
    if as_json or not (sys.stdin.isatty() and sys.stdout.isatty()):
        say("Nothing is written yet. To accept it, give the command again with --yes.", err=as_json)
        return False
    return click.confirm("Write this to the build?", default=False)


def _show(found: ImportPreview) -> None:
    if found.columns:
        say("Columns:")
        table(("Sheet", "Column", "Header", "Taken as", "Told by"), _column_rows(found), kept=(0, 1, 2))
    say("Rows:")
    table(("Row", "What", "Part", "Detail"), [_row(row) for row in found.rows], kept=(0, 2))
    for note in found.notes:
        say(f"Noticed: {note}.")
    for assumption in found.assumptions:
        say(f"Taken for granted: {assumption.text}.")
    counts = _counts(found)
    say(", ".join(f"{count} {action}" for action, count in counts.items() if count) + ".")


def _column_rows(found: ImportPreview) -> Iterator[tuple[str, ...]]:
    for use in found.columns:
        yield use.sheet, use.letter, use.header, use.field.replace("_", " ") or "-", use.why


def _row(row: RowPlan) -> tuple[str, str, str, str]:
    parts = [row.why, *_details(row)]
    parts += [str(problem.what) + (f" ({problem.got!r})" if problem.got else "") for problem in row.problems]
    parts += row.said
    return f"{row.sheet} {row.row}".strip(), str(row.action), row.name, "; ".join(filter(None, parts))


# What of a new noun is shown in a row, by list.
_BRIEF = {
    "parts": ("quantity", "unit", "system"),
    "offers": ("price", "supplier", "lead_weeks"),
    "suppliers": ("name", "country", "currency"),
    "stock": ("quantity",),
    "events": ("day",),
}
_ONE_OF = {"stock": "stock", "events": "event", "sightings": "price seen before"}


def _details(row: RowPlan) -> Iterator[str]:
    """What a row brings: of new nouns a few words, of known ones each field before and after."""
    nouns: dict[tuple[str, str], list[Change]] = {}
    for change in row.changes:
        nouns.setdefault((change.list_name, change.id), []).append(change)
    for (list_name, _), changes in nouns.items():
        word = _ONE_OF.get(list_name, list_name.removesuffix("s"))
        if changes[0].field == "id" or list_name == "sightings":
            after = {change.field: change.after for change in changes}
            shown = [after[field] for field in _BRIEF.get(list_name, ("name", "price", "day")) if field in after]
            yield ", ".join(shown) if list_name == "parts" else f"new {word}: {', '.join(shown)}"
        else:
            yield from (
                f"{_field(c)}: {c.before or 'none'} → {c.after or 'none'}" for c in changes if c.field != "source"
            )


def _field(change: Change) -> str:
    return change.field.replace("_", " ")


def _counts(found: ImportPreview) -> dict[str, int]:
    from ..exchange import RowAction

    return {str(action): found.count(action) for action in RowAction}


def _data(file: Path, source: Path, found: ImportPreview, revision: int | None) -> Mapping[str, Any]:
    return {
        "file": str(file),
        "list": str(source),
        "written": revision is not None,
        "revision": revision,
        "counts": _counts(found),
        "rows": [_row_data(row) for row in found.rows],
        "columns": [
            {"sheet": u.sheet, "column": u.letter, "header": u.header, "field": u.field, "why": u.why}
            for u in found.columns
        ],
        "notes": list(found.notes),
        "assumptions": [{"code": a.code, "about": a.about, "text": a.text} for a in found.assumptions],
        "problems": [_problem(problem) for problem in found.problems],
    }


def _row_data(row: RowPlan) -> Mapping[str, Any]:
    return {
        "place": row.place,
        "sheet": row.sheet,
        "row": row.row,
        "action": str(row.action),
        "name": row.name,
        "why": row.why,
        "said": list(row.said),
        "changes": [
            {"list": c.list_name, "id": c.id, "field": c.field, "before": c.before, "after": c.after}
            for c in row.changes
        ],
        "problems": [_problem(problem) for problem in row.problems],
    }


def _problem(problem: Any) -> Mapping[str, str]:
    return {key: getattr(problem, key) for key in ("where", "code", "what", "got", "do")}
