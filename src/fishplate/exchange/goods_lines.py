"""The goods in a table, as lines, without asking what they are to the build."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..build import Build
from .columns import map_columns
from .find_tables import find_tables
from .model import ImportOptions, Sheet
from .rows import ReadRow, RowKind, read_rows
from .table_reader import Line, TableReader


@dataclass(frozen=True, slots=True)
class GoodsRow:
    """A row of a table of goods.

    Parameters
    ----------
    line : what it says, None where it is passed over, for the reason in `why`
    own_currency : its price was taken in the owner's currency because nothing names another
    """

    row: ReadRow
    line: Line | None
    why: str = ""
    own_currency: bool = False


def goods_rows(sheet: Sheet, build: Build, options: ImportOptions, *, seller: str = "") -> Iterator[GoodsRow]:
    """The rows of a sheet's tables that have a column of names or part numbers.

    Parameters
    ----------
    seller : name of the supplier that rows are of which name none; a price without currency is in its currency
    """
    for table in find_tables(sheet):
        reader = TableReader(table, map_columns(table), options, build, seller, None)
        if "name" in reader.columns or "part_number" in reader.columns:
            for row in read_rows((reader,), ""):
                line = row.line if row.kind is RowKind.PART else None
                yield GoodsRow(row, line, row.why, row.row in reader.owner_currency_rows)
