"""What a request must be before a page sees it, and what every response says to the browser.

The page listens on loopback. A browser on the same machine may be shown a hostile page that sends requests here, or
that points its own name at this address; so the host named must be loopback, a request that changes something must
come from a page of ours, and must bring the cookie that only our pages get (SameSite=Strict).
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from hmac import compare_digest
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MAX_BODY_BYTES: Final = 32 * 1024 * 1024
LOOPBACK: Final = frozenset(("127.0.0.1", "localhost", "::1"))
TOKEN: Final = "fishplate"
SAFE: Final = frozenset(("GET", "HEAD", "OPTIONS"))
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """Lets through what our own pages and local programs ask, refuses the rest.

    Parameters
    ----------
    hosts : names this server answers to
    """

    def __init__(self, app: ASGIApp, *, hosts: Iterable[str] = LOOPBACK) -> None:
        self._app, self._hosts, self._token = app, frozenset(hosts), secrets.token_urlsafe(24)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check a request, pass it on, add our headers to the response."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = self._refusal(scope["method"], scope["path"], headers)
        if refused is not None:
            status, words = refused
            await PlainTextResponse(words, status_code=status, headers=HEADERS)(scope, receive, send)
            return
        has_token = self._has_token(headers)

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out[name] = value
                if not scope["path"].startswith("/static/"):
                    out.setdefault("Cache-Control", "no-store")
                if not has_token:
                    out.append("Set-Cookie", f"{TOKEN}={self._token}; Path=/; HttpOnly; SameSite=Strict")
            await send(message)

        await self._app(scope, _bounded(receive), answer)

    def _refusal(self, method: str, path: str, headers: Headers) -> tuple[int, str] | None:
        host = headers.get("host", "")
        if _hostname(host) not in self._hosts:
            return 421, "This address answers only to its own name on this machine."
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MAX_BODY_BYTES:
            return 413, "That is more than 32 MiB. Make it smaller and send it again."
        if method in SAFE:
            return None
        origin = headers.get("origin")
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "This was sent by a page of another site. Nothing was changed."
        if origin is not None and urlsplit(origin).netloc != host:
            return 403, "This was sent by a page of another site. Nothing was changed."
        if path.startswith("/api/"):
            # A page of another site can't send this kind without asking first.
            if not headers.get("content-type", "").startswith("application/json"):
                return 415, "Send JSON, with the content type application/json."
        elif not self._has_token(headers):
            return (
                403,
                "This page was loaded before the program was started again. Load it once more; nothing was changed.",
            )
        return None

    def _has_token(self, headers: Headers) -> bool:
        sent = cookie_parser(headers.get("cookie", "")).get(TOKEN, "")
        return compare_digest(sent.encode(), self._token.encode())


def _hostname(host: str) -> str:
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


class TooLargeError(Exception):
    """A request went on beyond what it may hold."""


def _bounded(receive: Receive) -> Receive:
    """The same stream, cut off where a request that did not name its size grows too large."""
    seen = 0

    async def bounded() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MAX_BODY_BYTES:
            raise TooLargeError
        return message

    return bounded
