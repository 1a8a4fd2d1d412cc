"""What somebody at a device on the network may do. The one place that says so."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Final

from fastapi import Request

from ..store.devices import Device, Role
from .hands import HAND

MAY: Final = {
    Role.OWNER: frozenset(("enter", "here", "calculate", "work", "turn", "own", "devices")),
    Role.HELPER: frozenset(("enter", "here", "calculate", "work", "turn")),
    Role.LOOKER: frozenset(("enter", "here")),
}
WORDS: Final = {
    Role.OWNER: "does everything, as at the machine that serves",
    Role.HELPER: "logs hours, jobs, readings, photos and what was counted; takes back what it wrote itself",
    Role.LOOKER: "only looks",
}
SAFE: Final = frozenset(("GET", "HEAD"))
READ_BY_OWNERS: Final = "/devices"


class NotAllowedError(Exception):
    """Somebody asked for what their device may not do."""


@cache
def rights() -> dict[str, str]:
    """The right that each address asks for, by its path as the route has it."""
    listed = tomllib.loads((files(__package__) / "rights.toml").read_text(encoding="utf-8"))
    return {path: right for right, paths in listed.items() for path in paths}


def right_for(path: str, parameters: Mapping[str, str]) -> str | None:
    """The right that a change asks for; None if none is declared.

    Parameters
    ----------
    path : as the route has it; parameters : what stands in its place

    Examples
    --------
    >>> right_for("/week/{kind}/{key}", {"kind": "do"}), right_for("/week/{kind}/{key}", {"kind": "buy"})
    ('work', 'own')
    """
    known = rights()
    return known.get(path.replace("{kind}", str(parameters.get("kind", "{kind}")))) or known.get(path)


def may(device: Device | None, right: str | None) -> bool:
    """Whether somebody has a right; what is declared nowhere nobody on the network has."""
    return device is None or right in MAY[device.role]


def may_read(device: Device | None, path: str) -> bool:
    """Whether somebody may look at a page: at all of them but the one that says who is let in."""
    return not path.startswith(READ_BY_OWNERS) or may(device, "devices")


async def permitted(request: Request) -> None:
    """Let a request through to its route, or raise NotAllowedError; every route of ours rests on it."""
    device = HAND.get()
    if device is None:
        return
    path = request.scope["route"].path
    is_read = request.method in SAFE
    if not (may_read(device, path) if is_read else may(device, right_for(path, request.path_params))):
        raise NotAllowedError
