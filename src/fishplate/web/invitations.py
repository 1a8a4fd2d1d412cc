"""One-time codes that let a device in."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from hmac import compare_digest
from typing import Final, TypeVar

from ..build import Problem, Refused
from ..store.devices import Role

# 32 letters that are not mistaken for each other; eight of them are 40 bits.
LETTERS: Final = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
COUNT: Final = 8
LASTS_SECONDS: Final = 600.0
MOST_TRIES: Final = 10
PAUSE_SECONDS: Final = 1.0
Entered = TypeVar("Entered")


class TooSoonError(Exception):
    """A code was tried right after a wrong one."""


@dataclass(frozen=True, slots=True)
class Invitation:
    """A code that is open.

    Parameters
    ----------
    role : what the device it lets in may do
    ends : on the monotonic clock [s]; until : the same as a time of day
    """

    code: str
    role: Role
    ends: float
    until: datetime

    @property
    def shown(self) -> str:
        """The code as it is read out and typed."""
        return f"{self.code[:4]}-{self.code[4:]}"


class Invitations:
    """The one code that is open, if one is. It is used once, ends after ten minutes, and closes after ten wrong tries.

    Ten tries at 40 bits: a chance of 1 in 10^11 to guess it.

    Parameters
    ----------
    clock : monotonic [s]
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._open: Invitation | None = None
        self._tries, self._last_wrong = 0, float("-inf")

    @property
    def open(self) -> Invitation | None:
        """The code that is open now."""
        with self._lock:
            return self._still_open()

    @property
    def was_tried(self) -> bool:
        """Whether the last code was closed because of wrong tries."""
        return self._tries >= MOST_TRIES

    def make(self, role: Role) -> Invitation:
        """Open a new code; one that was open is closed."""
        code = "".join(secrets.choice(LETTERS) for _ in range(COUNT))
        until = datetime.now().astimezone() + timedelta(seconds=LASTS_SECONDS)
        with self._lock:
            self._open, self._tries = Invitation(code, role, self._clock() + LASTS_SECONDS, until), 0
            return self._open

    def close(self) -> None:
        """Close the code that is open."""
        with self._lock:
            self._open = None

    def take(self, typed: str, enter: Callable[[Role], Entered]) -> Entered:
        """Try a code, and use it up if it is right and whoever has it may enter.

        Parameters
        ----------
        enter : lets somebody in; if it refuses, the code stays open

        Raises
        ------
        Refused
            if the code is not open, in the same words whether it is wrong, used, ended or never was
        TooSoonError
            within a second of a wrong one
        """
        with self._lock:
            if self._clock() - self._last_wrong < PAUSE_SECONDS:
                raise TooSoonError
            held = self._still_open()
            if held is None or not compare_digest(plain_code(typed).encode(), held.code.encode()):
                self._wrong()
                do = "Check it, or ask for a new one where the build is served: each works once, for ten minutes."
                raise Refused([Problem("code", "no-such-code", "this code is not open", "", do)])
            entered = enter(held.role)
            self._open = None
            return entered

    def _wrong(self) -> None:
        self._last_wrong = self._clock()
        if self._open is not None:
            self._tries += 1
            if self._tries >= MOST_TRIES:
                self._open = None

    def _still_open(self) -> Invitation | None:
        if self._open is not None and self._clock() >= self._open.ends:
            self._open = None
        return self._open


def plain_code(typed: str) -> str:
    """A code as it is compared: without what stands between its letters, and with letters read as figures.

    Examples
    --------
    >>> plain_code(" ab12-3cdo l")
    'AB123CD01'
    """
    letters = "".join(each for each in typed[:40].upper() if each.isascii() and each.isalnum())
    return letters.translate(str.maketrans("OIL", "011"))
