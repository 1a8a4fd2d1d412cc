"""Whose hand a request is: set by the guard, read by what writes and by what shows."""

from __future__ import annotations

from contextvars import ContextVar
from typing import Final

from ..store.devices import Device

# None is somebody at the machine that serves, who may do everything.
HAND: Final[ContextVar[Device | None]] = ContextVar("hand", default=None)
