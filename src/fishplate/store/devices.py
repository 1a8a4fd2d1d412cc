"""Devices that were let in to a build on the home network; kept in the user's own folder, never in the build file.

Of a device's key only the SHA-256 is kept. A key is 256 random bits, so that its hash needs neither salt nor stretching
(NIST SP 800-63B, 5.1.1.2 asks for those of secrets that people choose).
"""

from __future__ import annotations

import hashlib
import os
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from ..build import Problem, Refused
from .build_file import Clock
from .connection import engine_for, reading, spoken, writing

IDLE_DAYS: Final = 180
SEEN_EACH: Final = timedelta(minutes=2)
MOST_LETTERS: Final = 60

_tables = sa.MetaData()
_devices = sa.Table(
    "devices",
    _tables,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("build_id", sa.Text, nullable=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("role", sa.Text, nullable=False),
    sa.Column("key_sha256", sa.Text, nullable=False, unique=True),
    sa.Column("since", sa.Text, nullable=False),
    sa.Column("last", sa.Text, nullable=False),
)


class Role(StrEnum):
    """What somebody at a device may do: everything; work; look."""

    OWNER = "owner"
    HELPER = "helper"
    LOOKER = "looker"


@dataclass(frozen=True, slots=True)
class Device:
    """A device that was let in.

    Parameters
    ----------
    since : when it was let in; last : when it was last there, to two minutes; both in UTC
    """

    id: int
    name: str
    role: Role
    since: datetime
    last: datetime


def own_folder(folder: Path) -> Path:
    """A folder that its user alone may write to, made if need be; raises Refused if others may, or it can't be."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        others_write = os.name == "posix" and folder.stat().st_mode & 0o022
    except OSError as error:
        do = "Make room for it, or name another folder in FISHPLATE_DATA."
        raise Refused([Problem(str(folder), "no-folder", f"can't be used: {error.strerror}", "", do)]) from None
    if others_write:
        do = "Take that right from them, or name another folder in FISHPLATE_DATA."
        raise Refused([Problem(str(folder), "open-folder", "others may write to this folder", "", do)])
    return folder


def device_name(typed: str) -> str:
    """A device's name as it stands in the history; raises Refused.

    Examples
    --------
    >>> device_name("  Phone  in the garage ")
    'Phone in the garage'
    """
    name = " ".join(typed.split())
    if not name:
        raise _refused_name("nothing was filled in", name, "Give the device a name, as in Phone in the garage.")
    if len(name) > MOST_LETTERS or not name.isprintable() or "@" in name:
        do = f"Use at most {MOST_LETTERS} letters, figures and spaces."
        raise _refused_name("not a name for a device", name[:MOST_LETTERS], do)
    return name


def _refused_name(what: str, got: str, do: str) -> Refused:
    return Refused([Problem("name", "device-name", what, got, do)])


class DeviceBook:
    """The devices that were let in to one build. Each call is a transaction, so that what other programs do is seen.

    Parameters
    ----------
    folder : the user's own folder; made if it is not there
    build_id : the build's
    """

    def __init__(self, folder: Path, build_id: str, clock: Clock = lambda: datetime.now(UTC)) -> None:
        self._path, self._build_id, self._clock = own_folder(folder) / "devices.sqlite", build_id, clock
        with spoken(self._path):
            try:
                os.close(os.open(self._path, os.O_CREAT | os.O_RDWR, 0o600))
                self._path.chmod(0o600)
            except OSError as error:
                raise Refused([Problem(str(self._path), "unreadable", str(error.strerror), "", "Check it.")]) from None
        self._engine = engine_for(self._path)
        with writing(self._engine, self._path) as connection:
            _tables.create_all(connection)

    def add(self, name: str, role: Role) -> tuple[Device, str]:
        """Let a device in; returns it and its key, which is kept nowhere. Raises Refused if the name is taken."""
        name, key, now = device_name(name), secrets.token_urlsafe(32), self._clock()
        with writing(self._engine, self._path) as connection:
            if name.casefold() in {row.name.casefold() for row in connection.execute(self._mine())}:
                raise _refused_name("another device has this name", name, "Give it another name.")
            made = connection.execute(
                sa.insert(_devices).values(
                    build_id=self._build_id, name=name, role=role.value, key_sha256=_hash(key),
                    since=now.isoformat(), last=now.isoformat(),
                )
            )  # fmt: skip
            (id_,) = made.inserted_primary_key or (0,)
        return Device(int(id_), name, role, now, now), key

    def of(self, key: str) -> Device | None:
        """The device a key belongs to; None if there is none, or if it was not there for half a year."""
        if len(key) != 43:
            return None
        now = self._clock()
        with reading(self._engine, self._path) as connection:
            row = connection.execute(self._mine().where(_devices.c.key_sha256 == _hash(key))).one_or_none()
        if row is None:
            return None
        found = _device(row)
        if now - found.last > timedelta(days=IDLE_DAYS):
            return None
        if now - found.last > SEEN_EACH:
            self._change(found.id, last=now.isoformat())
        return found

    def every(self) -> tuple[Device, ...]:
        """All devices, the one that was let in first at the head."""
        with reading(self._engine, self._path) as connection:
            return tuple(_device(row) for row in connection.execute(self._mine().order_by(_devices.c.id)))

    def let(self, id_: int, role: Role) -> None:
        """Change what somebody at a device may do, from now on."""
        self._change(id_, role=role.value)

    def put_out(self, id_: int | None = None) -> None:
        """Let a device in no longer; all of them if none is named."""
        mine = _devices.c.build_id == self._build_id
        with writing(self._engine, self._path) as connection:
            connection.execute(sa.delete(_devices).where(mine if id_ is None else mine & (_devices.c.id == id_)))

    def _mine(self) -> sa.Select[tuple[int, str, str, str, str]]:
        columns = _devices.c
        query = sa.select(columns.id, columns.name, columns.role, columns.since, columns.last)
        return query.where(columns.build_id == self._build_id)

    def _change(self, id_: int, **values: str) -> None:
        here = (_devices.c.build_id == self._build_id) & (_devices.c.id == id_)
        with writing(self._engine, self._path) as connection:
            connection.execute(sa.update(_devices).where(here).values(**values))


def _device(row: Any) -> Device:
    since, last = datetime.fromisoformat(row.since), datetime.fromisoformat(row.last)
    return Device(row.id, row.name, Role(row.role), since, last)


def _hash(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()
