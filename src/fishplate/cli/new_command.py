"""`fishplate new`"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from .common import BUILD_FILE, read_build


@click.command("new")
@BUILD_FILE
@click.option("--name", help="What the build is called.")
@click.option("--currency", help="Home currency, as EUR.")
@click.option("--country", help="Where the garage is, as NL.")
@click.option("--hours-per-week", type=float, help="Usual hours a week at the vehicle.")
@click.option("--from", "document", type=click.Path(path_type=Path), help="A build document or file to start from.")
def command(
    file: Path,
    name: str | None,
    currency: str | None,
    country: str | None,
    hours_per_week: float | None,
    document: Path | None,
) -> None:
    """Start a build file.

    With --from it begins with the build of a document or another file; the other options change what that says.
    """
    from ..build import Build, build_from_data, document_data
    from ..store import BuildFile
    from ..wiring import author

    data: dict[str, Any] = document_data(Build() if document is None else read_build(document))
    given = {"currency": currency, "country": country, "hours_per_week": hours_per_week}
    owner = {**data.get("owner", {}), **{key: value for key, value in given.items() if value is not None}}
    build = build_from_data(
        {**data, **({"name": name} if name is not None else {}), **({"owner": owner} if owner else {})},
        source=str(document) if document is not None else "new build",
    )
    message = "started" if document is None else f"started from {document.name}"
    BuildFile.create(file, build, author=author(), message=message)
    click.echo(f"{file}: {build.name}: {_amount(build)}.")
    for field, words in (("currency", "home currency {}"), ("country", "garage in {}")):
        if field not in owner:
            click.echo(f"Taken for granted: {words.format(getattr(build.owner, field))} (--{field} says otherwise).")


def _amount(build: Any) -> str:
    counts = ((len(build.parts), "parts"), (len(build.offers), "offers"), (len(build.jobs), "jobs"))
    held = [f"{count} {word if count != 1 else word[:-1]}" for count, word in counts if count]
    return ", ".join(held) or "nothing in it yet"
