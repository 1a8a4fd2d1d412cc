"""Devices: who was let in on the home network, and letting one in by a code that works once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from markupsafe import Markup

from ..build import Refused
from ..store.devices import Device, Role, device_name
from .ask import Ask, Asked, NotHereError, templates
from .hands import HAND
from .invitations import TooSoonError
from .rights import WORDS
from .sharing import Share

router = APIRouter()
ROLES: Final = tuple((role.value, role.value.capitalize(), words) for role, words in WORDS.items())


@dataclass(frozen=True, slots=True)
class Row:
    """A device that was let in.

    Parameters
    ----------
    here : whether it is the one that looks
    """

    id: int
    name: str
    role: str
    may: str
    since: datetime
    last: str
    here: bool


@dataclass(frozen=True, slots=True)
class CodeShown:
    """A code that is open, to type or to scan."""

    code: str
    may: str
    until: str
    drawing: Markup


@dataclass(frozen=True, slots=True)
class DevicesPage:
    """Who was let in, and the code that is open.

    Parameters
    ----------
    places : addresses the build is served at; none where it is not shared
    fingerprint : of the certificate, in pairs of figures; was_tried : whether the last code was closed by wrong tries
    """

    places: tuple[str, ...]
    fingerprint: str
    devices: tuple[Row, ...]
    code: CodeShown | None
    was_tried: bool


def devices_page(share: Share | None, here: Device | None, now: datetime) -> DevicesPage:
    """The page of devices; `here` is the one that looks, `now` in UTC."""
    if share is None:
        return DevicesPage((), "", (), None, was_tried=False)
    rows = tuple(
        Row(
            each.id, each.name, each.role.value, WORDS[each.role], each.since, since_words(each.last, now),
            here is not None and each.id == here.id,
        )
        for each in share.book.every()
    )  # fmt: skip
    held, code = share.invitations.open, None
    if held is not None:
        import segno

        drawing = segno.make_qr(pairing_address(share, held.shown)).svg_inline(
            scale=5, border=4, dark="#000", light="#fff", svgclass=None, lineclass=None
        )
        code = CodeShown(held.shown, WORDS[held.role], f"{held.until:%H:%M}", Markup(drawing))
    return DevicesPage(share.places, share.certificate.fingerprint, rows, code, share.invitations.was_tried)


def pairing_address(share: Share, code: str) -> str:
    """Where a code leads, for a device that scans it."""
    return f"{share.places[0]}pair?{urlencode({'code': code})}"


def since_words(then: datetime, now: datetime) -> str:
    """How long ago a device was there.

    Examples
    --------
    >>> since_words(datetime(2026, 3, 1, 20, 0), datetime(2026, 3, 1, 20, 3))
    'a moment ago'
    >>> since_words(datetime(2026, 3, 1, 20, 0), datetime(2026, 3, 3, 21, 0))
    '2 days ago'
    """
    minutes = int((now - then).total_seconds() // 60)
    if minutes < 5:
        return "a moment ago"
    for size, word in ((1440, "day"), (60, "hour"), (1, "minute")):
        if count := minutes // size:
            return f"{count} {word}{'' if count == 1 else 's'} ago"
    return "a moment ago"


# routes


def _share(ask: Ask) -> Share:
    share: Share | None = ask.request.app.state.share
    if share is None:
        raise NotHereError("share", "")
    return share


def show_devices(ask: Ask) -> Response:
    """The page."""
    page = devices_page(ask.request.app.state.share, HAND.get(), datetime.now(UTC))
    return ask.show("devices.html", {"it": page, "roles": ROLES}, title="Devices")


@router.get("/devices")
def show(ask: Asked) -> Response:
    """The page."""
    return show_devices(ask)


@router.post("/devices/invitation")
def invite(ask: Asked) -> Response:
    """A new code."""
    share, role = _share(ask), ask.form.choice("role", [role.value for role in Role])
    if ask.form.problems:
        ask.problems = tuple(ask.form.problems)
        return show_devices(ask)
    share.invitations.make(Role(role))
    return ask.leave("/devices")


@router.post("/devices/invitation/close")
def close(ask: Asked) -> Response:
    """The code is not to let anybody in."""
    _share(ask).invitations.close()
    return ask.leave("/devices")


@router.post("/devices/out")
def put_all_out(ask: Asked) -> Response:
    """No device is let in any more."""
    _share(ask).book.put_out()
    return ask.leave("/devices")


@router.post("/devices/{device}/role")
def let(device: int, ask: Asked) -> Response:
    """A device may do more, or less."""
    share, role = _share(ask), ask.form.choice("role", [role.value for role in Role])
    if ask.form.problems:
        ask.problems = tuple(ask.form.problems)
        return show_devices(ask)
    share.book.let(device, Role(role))
    return ask.leave("/devices")


@router.post("/devices/{device}/out")
def put_out(device: int, ask: Asked) -> Response:
    """A device is let in no longer."""
    _share(ask).book.put_out(device)
    return ask.leave("/devices")


# the door: what a device sees that was not let in yet, with nothing of the build


def _door(ask: Ask, status: int = 200) -> Response:
    code = ask.form.text("code") or ask.request.query_params.get("code", "")
    template = templates().get_template("pair.html")
    text = template.render(ask=ask, code=code[:40], here=HAND.get(), faults=ask.problems, title="Let this device in")
    return HTMLResponse(text, status)


@router.get("/pair")
def ask_code(ask: Asked) -> Response:
    """Asks for a code and for the device's name."""
    _share(ask)
    return _door(ask)


@router.post("/pair")
def enter(ask: Asked) -> Response:
    """Let a device in that has the code; one that was in already is known by its new name alone."""
    share, before = _share(ask), HAND.get()

    def entered(role: Role) -> str:
        if before is not None:
            share.book.put_out(before.id)
        return share.book.add(ask.form.text("name"), role)[1]

    try:
        device_name(ask.form.text("name"))
        key = share.invitations.take(ask.form.text("code"), entered)
    except TooSoonError:
        return PlainTextResponse("Wait a moment, then go back and try again.", 429, headers={"Retry-After": "2"})
    except Refused as refused:
        ask.problems = refused.problems
        return _door(ask, 422)
    response = RedirectResponse("/", 303)
    response.headers["Set-Cookie"] = share.cookie_with(key)
    return response
