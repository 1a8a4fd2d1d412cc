"""Lists, pages and mails in; the sheets a build is written to out.

- `read_tables`: any list file as sheets of cells; by kind `workbook`, `open_document`, `text_tables`; `container` tells
  the kind and refuses what is unsafe
- `find_tables`, `columns`, `rows`, `lines`: tables on a sheet, what a column is for, what a row is, what it says
- `capture`: a saved page, mail or text as what it tells of (`captured`), or a list; `saved_page` opens it,
  `page_data` and `page_products` read what a page says to programs, `goods_text` the lines of a mail,
  `taking_in` says what it would do
- `html_tables`, `aligned_text`, `goods_lines`: tables of pages and of plain text, and the goods in a table
- `amounts`, `times`, `names`, `words`: cells as people write them, in five languages
- `preview`: what an import would do, row by row, and doing it; `matching` and `placing` find each line's part
- `one_line`: one part in a line of text, as a person types it
- `confirmation`: an order from a supplier's confirmation; `calendar_file`: last days as iCalendar
- `own_sheets`, `export`: the sheets Fishplate writes and reads back field by field
- `model`: what these hand to each other
"""

from .export import export_csv, export_document, export_xlsx
from .model import (
    Cell,
    Change,
    ColumnUse,
    ImportOptions,
    ImportPreview,
    RowAction,
    RowPlan,
    Sheet,
)
from .preview import apply, preview
from .read_tables import read_tables

__all__ = [
    "Cell",
    "Change",
    "ColumnUse",
    "ImportOptions",
    "ImportPreview",
    "RowAction",
    "RowPlan",
    "Sheet",
    "apply",
    "export_csv",
    "export_document",
    "export_xlsx",
    "preview",
    "read_tables",
]
