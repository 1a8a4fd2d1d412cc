"""`fishplate export`"""

from __future__ import annotations

from pathlib import Path

import click

from .common import BUILD_FILE, JSON_FLAG, emit, read_build


@click.command("export")
@BUILD_FILE
@click.option(
    "--to", "target", type=click.Path(path_type=Path), required=True, help="File to write: .xlsx, .json, .csv."
)
@JSON_FLAG
def command(file: Path, target: Path, as_json: bool) -> None:
    """Write a build to a spreadsheet or a build document.

    A workbook (.xlsx) has a sheet for each list; its systems, suppliers, parts, kits, stock and offers can be changed
    there and imported again. A build document (.json) holds everything. A table (.csv) holds parts with their offers.

    \f
    With --json: file, parts, offers.
    """
    from ..exchange.export import EXPORTERS

    exporter = EXPORTERS.get(target.suffix.lower())
    if exporter is None:
        raise click.BadParameter(f"{target.name!r} ends in none of {', '.join(EXPORTERS)}", param_hint="--to")
    if target.resolve() == file.resolve():
        raise click.BadParameter("this is the build itself; name another file", param_hint="--to")
    build = read_build(file)
    exporter(build, target)
    if as_json:
        emit({"file": str(target), "parts": len(build.parts), "offers": len(build.offers)})
    else:
        click.echo(f"{target}: {len(build.parts)} parts, {len(build.offers)} offers written.")
