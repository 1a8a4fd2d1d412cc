"""`fishplate enquiry`"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, emit, read_build, say


@click.command("enquiry")
@BUILD_FILE
@click.argument("supplier")
@AS_OF
@JSON_FLAG
def command(file: Path, supplier: str, as_of: date | None, as_json: bool) -> None:
    """What to ask a supplier: what is missing that it offers, and what only it can tell. Nothing is sent.

    \f
    Keys of --json: supplier, name, systems (name and what is wanted: offer, name, part_number, units),
    questions (about, text, offers, dimensions, each), text.
    """
    from dataclasses import asdict

    from ..build import Problem, Refused, facts_of
    from ..plan.enquiries import enquiry_sheet
    from ..wiring import today

    build = read_build(file)
    if supplier not in build.index["suppliers"]:
        do = f"Use one of: {', '.join(item.id for item in build.suppliers) or 'none yet'}."
        raise Refused([Problem("supplier", "no-such-supplier", "no supplier has this id", supplier, do)])
    sheet = enquiry_sheet(build, facts_of(build, as_of or today()), supplier)
    if as_json:
        emit({**asdict(sheet), "text": sheet.text})
    else:
        say(sheet.text, nl=False)
