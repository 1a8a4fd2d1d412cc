"""Connections to the file, set so that an acknowledged write survives a power cut; failures in words.

A rollback journal that is deleted after each transaction leaves a single file at rest. synchronous=EXTRA also
syncs the directory after that deletion, without which a power cut can bring the journal back and undo a commit
(https://www.sqlite.org/pragma.html#pragma_synchronous).
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy.pool import NullPool

from ..build import Refused
from .errors import refusal

BUSY_SECONDS: Final = 5.0

_PRAGMAS = ("synchronous=EXTRA", "fullfsync=ON", "foreign_keys=ON", "trusted_schema=OFF")


def engine_for(path: Path, *, busy_seconds: float = BUSY_SECONDS) -> sa.Engine:
    """An engine whose connections last one transaction, so that nothing holds the file in between."""

    uri = f"file:{quote(str(path.absolute()))}?mode=rw"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(uri, uri=True, timeout=busy_seconds, isolation_level=None)
        try:
            for pragma in _PRAGMAS:
                connection.execute(f"PRAGMA {pragma}")
        except BaseException:
            connection.close()
            raise
        return connection

    # The driver's own transactions are off (isolation_level=None): each begins below, in words.
    return sa.create_engine("sqlite://", creator=connect, poolclass=NullPool)


@contextmanager
def reading(engine: sa.Engine, path: Path) -> Iterator[sa.Connection]:
    """A connection that sees one state of the file throughout; raises Refused."""
    with spoken(path), engine.connect() as connection:
        connection.exec_driver_sql("BEGIN")
        yield connection
        connection.rollback()


@contextmanager
def writing(engine: sa.Engine, path: Path) -> Iterator[sa.Connection]:
    """A connection that alone may write, committed at the end, rolled back on any failure; raises Refused."""
    with spoken(path), engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA journal_mode=DELETE")
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        yield connection
        connection.commit()


@contextmanager
def spoken(path: Path) -> Iterator[None]:
    """Failures of the file as refusals in words."""
    try:
        yield
    except sa.exc.DBAPIError as error:
        if not isinstance(error.orig, sqlite3.Error):
            raise
        raise in_words(error.orig, path) from error
    except sqlite3.Error as error:
        raise in_words(error, path) from error


_WORDS = {
    "BUSY": ("busy", "another program is writing to this file", "Nothing was changed; try again in a moment."),
    "LOCKED": ("busy", "another program is writing to this file", "Nothing was changed; try again in a moment."),
    "READONLY": ("read-only", "the file can't be written to", "Give yourself leave to write, or copy it elsewhere."),
    "PERM": ("no-permission", "the file may not be opened", "Give yourself leave to read and write it."),
    "CANTOPEN": ("unreadable", "the file, or its folder, can't be opened", "Check leave to read and write in both."),
    "FULL": ("disk-full", "there is no room left on the disk", "Nothing was changed; make room and try again."),
    "IOERR": ("disk", "the disk failed to read or write", "Copy the file to another disk."),
    "NOTADB": (
        "not-a-build-file",
        "this is not a build file",
        "Check the name; a build document becomes one with fishplate new --from.",
    ),
    "CORRUPT": ("damaged", "the file is cut off or damaged", "Go back to a backup copy."),
    "ERROR": ("damaged", "the file lacks tables a build file has", "Go back to a backup copy."),
}


def in_words(error: sqlite3.Error, path: Path) -> Refused:
    """The refusal for a failure of the file; raises the error itself where it is our own fault."""
    name = getattr(error, "sqlite_errorname", "") or ""
    family = name.removeprefix("SQLITE_").split("_")[0]
    if family not in _WORDS or (family == "ERROR" and "no such" not in str(error)):
        raise error
    code, what, do = _WORDS[family]
    return refusal(path, code, what, do, str(error) if code in {"damaged", "disk"} else "")


def sync_folder(path: Path) -> None:
    """See to it that the name of a file outlasts a power cut, where the system can."""
    if os.name != "posix":
        return
    folder = os.open(path.absolute().parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
