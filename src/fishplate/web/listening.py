"""Two doors to the same pages: this machine's own, in clear on loopback, and the home network's, over https alone."""

from __future__ import annotations

import asyncio
import socket
import ssl
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Final

import uvicorn
from fastapi import FastAPI

from .certificate import Certificate
from .sharing import Share

LOOK_EACH_SECONDS: Final = 6 * 3600.0
# Forward secrecy and authenticated encryption alone (RFC 9325, 4.2).
CIPHERS: Final = "ECDHE+AESGCM:ECDHE+CHACHA20"
MOST_AT_ONCE: Final = 100


def at_home(app: FastAPI, share: Share) -> uvicorn.Config:
    """How the home network is served: what is sent in clear there fails before a page is asked."""
    return uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, proxy_headers=False, ws="none", lifespan="off",
        ssl_certfile=str(share.certificate.path), ssl_ciphers=CIPHERS, limit_concurrency=MOST_AT_ONCE,
        timeout_graceful_shutdown=3,
    )  # fmt: skip


def serve_both(
    app: FastAPI,
    port: int,
    share: Share,
    sockets: Sequence[socket.socket],
    renewed: Callable[[], Certificate],
    said: Callable[[str], None],
) -> None:
    """Serve until the person leaves.

    Parameters
    ----------
    port : on this machine
    sockets : already listening on the home network
    renewed : the certificate, a new one when it nears its end; said : tells the person that it changed
    """
    own = uvicorn.Config(
        app, host="127.0.0.1", port=port, log_level="warning", access_log=False, server_header=False,
        proxy_headers=False, ws="none", timeout_graceful_shutdown=3,
    )  # fmt: skip
    home = at_home(app, share)
    home.load()

    async def both() -> None:
        watch = asyncio.create_task(_renewing(home, share, renewed, said))
        await asyncio.gather(uvicorn.Server(own).serve(), uvicorn.Server(home).serve(list(sockets)))
        watch.cancel()

    with suppress(KeyboardInterrupt):
        asyncio.run(both())


async def _renewing(
    home: uvicorn.Config, share: Share, renewed: Callable[[], Certificate], said: Callable[[str], None]
) -> None:
    while True:
        await asyncio.sleep(LOOK_EACH_SECONDS)
        found = await asyncio.to_thread(renewed)
        if found.fingerprint != share.certificate.fingerprint:
            take_up(home.ssl, share, found)
            said(f"The certificate was renewed. SHA-256: {found.fingerprint}")


def take_up(context: ssl.SSLContext | None, share: Share, certificate: Certificate) -> None:
    """Answer with another certificate from the next connection on."""
    assert context is not None
    context.load_cert_chain(certificate.path)
    share.certificate = certificate
