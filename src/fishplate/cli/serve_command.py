"""`fishplate serve`"""

from __future__ import annotations

import gc
import sys
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .common import AS_OF, BUILD_FILE

if TYPE_CHECKING:
    from ..web.sharing import Share

PORT, SHARE_PORT = 8137, 8138
PORTS = click.IntRange(1024, 65535)


def address(port: int = PORT) -> str:
    """Where the pages are."""
    return f"http://127.0.0.1:{port}/"


@click.command("serve")
@BUILD_FILE
@click.option("--port", type=PORTS, default=PORT, show_default=True, help="Port to listen on.")
@AS_OF
@click.option("--share", "shared", is_flag=True, help="Answer on the home network too, to devices you let in.")
@click.option("--address", "addresses", multiple=True, help="With --share: an address to listen on; found if left out.")
@click.option("--share-port", type=PORTS, default=SHARE_PORT, show_default=True, help="With --share: its port.")
@click.option(
    "--let-in",
    type=click.Choice(["owner", "helper", "looker"]),
    default="helper",
    show_default=True,
    help="With --share: what the device may do that the first code lets in.",
)
def command(
    file: Path, port: int, as_of: date | None, shared: bool, addresses: tuple[str, ...], share_port: int, let_in: str
) -> None:
    """Open a build in the browser, on this machine alone, or with --share on the home network.

    A build that does not exist is started. Leave with Ctrl-C.
    """
    import uvicorn

    from ..web import create_app
    from ..wiring import author, today

    if addresses and not shared:
        raise click.UsageError("--address goes with --share.")
    if shared and port == share_port:
        raise click.UsageError("--port and --share-port must differ.")
    if not file.exists():
        _start(file)
    share = _share(file, addresses, share_port) if shared else None
    app = create_app(file, today=(lambda: as_of) if as_of is not None else today, author=author(), share=share)
    app.state.desk.view()
    # What is loaded by now stays; looking through it for garbage would hold an edit up for a twentieth of a second.
    gc.collect()
    gc.freeze()
    if share is None:
        click.echo(f"{file.name} is at {address(port)} (Ctrl-C to leave)")
        uvicorn.run(app, host="127.0.0.1", port=port, log_level="warning", server_header=False)
        return
    from ..web.certificate import kept_certificate
    from ..web.listening import serve_both
    from ..web.sharing import listening
    from ..wiring import data_folder

    sockets = listening(share.addresses, share.port)
    click.echo(f"{file.name} is at {address(port)} (Ctrl-C to leave)")
    _say(share, port, let_in)
    serve_both(app, port, share, sockets, partial(kept_certificate, data_folder(), share.names), click.echo)


def _start(file: Path) -> None:
    from ..build import Build
    from ..store import BuildFile
    from ..wiring import author

    BuildFile.create(file, Build(name=file.stem[:400] or "My build"), author=author(), message="started")
    click.echo(f"{file}: started.")


def _share(file: Path, addresses: tuple[str, ...], port: int) -> Share:
    """What a build is shared with; raises Refused."""
    from ..store.devices import DeviceBook
    from ..web.certificate import kept_certificate
    from ..web.sharing import Share, home_addresses, home_names
    from ..wiring import data_folder, open_file

    build_id = open_file(file).build_id
    found = home_addresses(addresses)
    names, folder = home_names(found), data_folder()
    certificate = kept_certificate(folder, names)
    return Share(build_id, found, names, port, certificate, DeviceBook(folder, build_id))


def _say(share: Share, port: int, let_in: str) -> None:
    """Where the build is on the network, what its certificate is, and a code that lets the first device in."""
    import segno

    from ..store.devices import Role
    from ..web.pairing import pairing_address
    from ..web.rights import WORDS

    click.echo(f"On the home network: {', '.join(share.places)}, to devices you let in.")
    click.echo(f"Its certificate, to compare in the browser there, SHA-256:\n{share.certificate.fingerprint}")
    if not _is_terminal():  # a code does not belong in a log
        click.echo(f"Codes that let devices in are made at {address(port)}devices on this machine.")
        return
    role = Role(let_in)
    code = share.invitations.make(role)
    click.echo(f"Until {code.until:%H:%M} this code lets one device in, which {WORDS[role]}: {code.shown}")
    segno.make_qr(pairing_address(share, code.shown)).terminal(sys.stdout, compact=True)
    click.echo(f"More codes, and who was let in, are at {address(port)}devices on this machine.")


def _is_terminal() -> bool:
    return sys.stdout.isatty()
