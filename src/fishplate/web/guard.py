"""What a request must be before a page sees it, and what every response says to the browser.

The page listens on loopback. A browser on the same machine may be shown a hostile page that sends requests here, or
that points its own name at this address; so the host named must be loopback, a request that changes something must
come from a page of ours, and must bring the cookie that only our pages get (SameSite=Strict).

A build that is shared listens on the home network too, over https alone, under the names it is shared by. There a
request comes from a device that was let in, or reaches nothing but the page that asks for a code. The device's key, in
a cookie of the same kind, stands for ours.
"""

from __future__ import annotations

import secrets
from hmac import compare_digest
from typing import Final
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ..build import Refused
from .hands import HAND
from .sharing import Share

MAX_BODY_BYTES: Final = 32 * 1024 * 1024
LOOPBACK: Final = frozenset(("127.0.0.1", "localhost", "::1"))  # names this server answers to on its own machine
TOKEN: Final = "fishplate"
SAFE: Final = frozenset(("GET", "HEAD", "OPTIONS"))
DOOR: Final = "/pair"
MAX_AT_DOOR_BYTES: Final = 16 * 1024
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
ON_NETWORK: Final = {"Strict-Transport-Security": "max-age=31536000"}
OTHER_SITE: Final = "This was sent by a page of another site. Nothing was changed."
TOO_MUCH: Final = "That is more than 32 MiB. Make it smaller and send it again."
OLD_PAGE: Final = "This page was loaded before the program was started again. Load it once more; nothing was changed."
NOT_LET_IN: Final = "This device was not let in, or is let in no longer. Nothing was changed."


class Guard:
    """Lets through what our own pages, local programs and devices that were let in ask, refuses the rest.

    Parameters
    ----------
    share : what the build is shared with on the home network; None if it is not
    """

    def __init__(self, app: ASGIApp, *, share: Share | None = None) -> None:
        self._app, self._share, self._token = app, share, secrets.token_urlsafe(24)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check a request, pass it on, add our headers to the response."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers, at_home = Headers(scope=scope), scope["scheme"] == "https"
        cookies = cookie_parser(headers.get("cookie", ""))
        refused = self._misdirected(scope, headers) or _too_large(headers, _most(scope))
        device = None
        if refused is None and at_home and self._share is not None and not scope["path"].startswith("/static/"):
            try:
                device = await run_in_threadpool(self._share.device, cookies)
                refused = None if device is not None else _at_the_door(scope, headers)
            except Refused:  # the book of devices can't be read
                refused = PlainTextResponse("Who may come in can't be looked up just now. Try again.", 503)
        has_token = self._has_token(cookies)
        refused = refused or _foreign(scope, headers, known=device is not None or has_token)
        answer = self._answering(scope, send, at_home=at_home, needs_token=not has_token and refused is None)
        if refused is not None:
            await refused(scope, receive, answer)
            return
        hand = HAND.set(device)
        try:
            await self._app(scope, _bounded(receive, _most(scope)), answer)
        finally:
            HAND.reset(hand)

    def _misdirected(self, scope: Scope, headers: Headers) -> Response | None:
        """A refusal of what was sent to a name that is not ours, or in clear over the network."""
        if scope["scheme"] == "https":
            names = frozenset[str]() if self._share is None else self._share.names
        else:
            listens_on = (scope.get("server") or ("",))[0]
            names = LOOPBACK if listens_on in LOOPBACK else frozenset()
        if _hostname(headers.get("host", "")) in names:
            return None
        return PlainTextResponse("This address answers only to its own name on this machine.", 421)

    def _answering(self, scope: Scope, send: Send, *, at_home: bool, needs_token: bool) -> Send:
        """Sends a response with our headers."""

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                out.update(headers_for(scope))
                if not scope["path"].startswith("/static/"):
                    out.setdefault("Cache-Control", "no-store")
                if needs_token:
                    out.append("Set-Cookie", f"{TOKEN}={self._token}; Path=/; HttpOnly; SameSite=Strict")
                if at_home:
                    message["headers"] = [_secure(*header) for header in message["headers"]]
            await send(message)

        return answer

    def _has_token(self, cookies: dict[str, str]) -> bool:
        return compare_digest(cookies.get(TOKEN, "").encode(), self._token.encode())


def headers_for(scope: Scope) -> dict[str, str]:
    """What every response says to the browser."""
    return {**HEADERS, **(ON_NETWORK if scope["scheme"] == "https" else {})}


def _most(scope: Scope) -> int:
    """How much a request may hold [bytes]: little from somebody who was not let in yet."""
    return MAX_AT_DOOR_BYTES if scope["path"] == DOOR else MAX_BODY_BYTES


def _too_large(headers: Headers, most: int) -> Response | None:
    length = headers.get("content-length", "0")
    if length.isascii() and length.isdigit() and len(length) < 20 and int(length) <= most:
        return None
    return PlainTextResponse(TOO_MUCH, 413)


def _at_the_door(scope: Scope, headers: Headers) -> Response | None:
    """What somebody meets who was not let in: the page that asks for a code, and nothing else."""
    if scope["path"] == DOOR:
        return None
    if "hx-request" in headers:
        return PlainTextResponse(NOT_LET_IN, 401, headers={"HX-Redirect": DOOR})
    if scope["method"] in SAFE and not scope["path"].startswith("/api/"):
        return RedirectResponse(DOOR, 303)
    return PlainTextResponse(NOT_LET_IN, 401)


def _foreign(scope: Scope, headers: Headers, *, known: bool) -> Response | None:
    """A refusal of a change that no page of ours and no program sent.

    Parameters
    ----------
    known : whether the request brought a cookie that only our pages get
    """
    if scope["method"] in SAFE:
        return None
    origin = headers.get("origin")
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return PlainTextResponse(OTHER_SITE, 403)
    if origin is not None and origin != f"{scope['scheme']}://{headers.get('host', '')}":
        return PlainTextResponse(OTHER_SITE, 403)
    if scope["path"].startswith("/api/"):
        # A page of another site can't send this kind without asking first.
        if not headers.get("content-type", "").startswith("application/json"):
            return PlainTextResponse("Send JSON, with the content type application/json.", 415)
    elif not known:
        # The page loads itself once more; what was typed is kept on the device.
        return PlainTextResponse(OLD_PAGE, 403, headers={"HX-Refresh": "true"})
    return None


def _secure(name: bytes, value: bytes) -> tuple[bytes, bytes]:
    """A header of a response over https: its cookies never travel in clear."""
    is_open = name.lower() == b"set-cookie" and b"; secure" not in value.lower()
    return name, value + b"; Secure" if is_open else value


def _hostname(host: str) -> str:
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


class TooLargeError(Exception):
    """A request went on beyond what it may hold."""


def _bounded(receive: Receive, most: int) -> Receive:
    """The same stream, cut off where a request that did not name its size grows too large."""
    seen = 0

    async def bounded() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            raise TooLargeError
        return message

    return bounded
