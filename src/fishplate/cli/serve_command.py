"""`fishplate serve`"""

from __future__ import annotations

import gc
from datetime import date
from pathlib import Path

import click

from .common import AS_OF, BUILD_FILE

PORT = 8137


def address(port: int = PORT) -> str:
    """Where the pages are."""
    return f"http://127.0.0.1:{port}/"


@click.command("serve")
@BUILD_FILE
@click.option("--port", type=click.IntRange(1024, 65535), default=PORT, show_default=True, help="Port to listen on.")
@AS_OF
def command(file: Path, port: int, as_of: date | None) -> None:
    """Open a build in the browser, on this machine alone.

    A build that does not exist is started. Leave with Ctrl-C.
    """
    import uvicorn

    from ..web import create_app
    from ..wiring import author, today

    if not file.exists():
        _start(file)
    app = create_app(file, today=(lambda: as_of) if as_of is not None else today, author=author())
    app.state.desk.view()
    # What is loaded by now stays; looking through it for garbage would hold an edit up for a twentieth of a second.
    gc.collect()
    gc.freeze()
    click.echo(f"{file.name} is at {address(port)} (Ctrl-C to leave)")
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="warning", server_header=False)


def _start(file: Path) -> None:
    from ..build import Build
    from ..store import BuildFile
    from ..wiring import author

    BuildFile.create(file, Build(name=file.stem[:400] or "My build"), author=author(), message="started")
    click.echo(f"{file}: started.")
