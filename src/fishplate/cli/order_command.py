"""`fishplate order`"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click

from .common import BUILD_FILE, DAY, JSON_FLAG, emit, say, table, tell_about


@click.command("order")
@BUILD_FILE
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--supplier", required=True, help="Id of the supplier that confirms it.")
@click.option("--day", type=DAY, default=None, help="Day of the order; today if left out.")
@click.option("--promised", type=DAY, default=None, help="Day the supplier gives for it.")
@click.option("--yes", is_flag=True, help="Write it without asking.")
@JSON_FLAG
def command(
    file: Path, source: Path, supplier: str, day: date | None, promised: date | None, yes: bool, as_json: bool
) -> None:
    """Take an order from a supplier's confirmation, a spreadsheet or a mail; shown before it is written.

    \f
    Keys of --json: rows (place, name, offer, how, quantity, price, why), notes (taken for granted in
    several rows), order (its id; null if refused), written.
    """
    from ..build import Refused
    from ..exchange.capture import order_tables
    from ..exchange.confirmation import read_confirmation, taken_as
    from ..exchange.container import read_bytes
    from ..wiring import author, open_file, today, with_likely_bills

    target = open_file(file)
    snapshot = target.snapshot()
    tell_about(snapshot.build)
    tables = order_tables(read_bytes(source), source.name, snapshot.build)
    found = read_confirmation(tables, snapshot.build, supplier, day or today(), promised=promised)
    if not as_json:
        rows = [(row.place, row.name, taken_as(snapshot.build, row), f"{row.quantity:g}", str(row.price or ""), row.why)
                for row in found.rows]  # fmt: skip
        table(("Row", "What it says", "Taken as", "Units", "Price", "Note"), rows, right=(3, 4), kept=(0, 1, 2))
        for note in found.notes:
            say(f"In several rows: {note}.")
    if found.order is None:
        raise Refused(found.problems)
    written = yes or (not as_json and sys.stdin.isatty() and click.confirm("Write this order?", default=False))
    if written:
        new = snapshot.build.model_copy(update={"events": (*snapshot.build.events, found.order)})
        message = f"ordered from {supplier}, by {source.name}"
        result = with_likely_bills(snapshot.build, new)
        target.write(result, revision=snapshot.revision, author=author(), message=message)
    if as_json:
        rows_data = [{"place": row.place, "name": row.name, "offer": row.offer, "how": row.how,
                      "quantity": row.quantity, "price": None if row.price is None else str(row.price), "why": row.why}
                     for row in found.rows]  # fmt: skip
        emit({"rows": rows_data, "notes": list(found.notes), "order": found.order.id, "written": written})
    elif written:
        say(f"Written. To take it back: fishplate undo {file}.")
    else:
        say("Nothing is written yet. To accept it, give the command again with --yes.")
