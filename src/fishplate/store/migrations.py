"""From an older layout of the tables to the present one: backup first, then all steps in one transaction."""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from .connection import reading, spoken, sync_folder, writing
from .errors import refusal
from .schema import APPLICATION_ID, SCHEMA_VERSION, meta, migrations


@dataclass(frozen=True, slots=True)
class Migration:
    """One step between layouts.

    Parameters
    ----------
    version : the layout it leads to, from the one before
    title : what it does, in a few words
    apply : does it, in the transaction of the connection it is given; takes the build's id too
    """

    version: int
    title: str
    apply: Callable[[sa.Connection, str], None]


MIGRATIONS: Final[tuple[Migration, ...]] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """What a file says it is."""

    build_id: str
    version: int


def identify(engine: sa.Engine, path: Path) -> Found:
    """The build's id and the file's layout; raises Refused if it is not a build file. Writes nothing."""
    with reading(engine, path) as connection:
        return _identify(connection, path)


def _identify(connection: sa.Connection, path: Path) -> Found:
    if connection.exec_driver_sql("PRAGMA application_id").scalar_one() != APPLICATION_ID:
        raise refusal(path, "not-a-build-file", "this is another program's database", "Check the name.")
    # SQLite itself sees when whole pages are gone, but reads a page cut short as if it ended in zeros
    if path.stat().st_size % connection.exec_driver_sql("PRAGMA page_size").scalar_one():
        raise refusal(path, "damaged", "the file is cut off or damaged", "Go back to a backup copy.")
    rows = connection.execute(sa.select(meta.c.build_id, meta.c.value).where(meta.c.key == "schema_version")).all()
    if len(rows) != 1 or not rows[0].value.isdecimal():
        raise refusal(path, "damaged", "the file does not say which layout it has", "Go back to a backup copy.")
    return Found(rows[0].build_id, int(rows[0].value))


def migrate(engine: sa.Engine, path: Path, found: Found, steps: Sequence[Migration], *, at: datetime) -> None:
    """Bring a file to the present layout, or leave it as it was.

    Raises
    ------
    Refused
        if there is no way from its layout, the backup can't be made, or a step fails
    """
    with writing(engine, path) as connection:
        found = _identify(connection, path)
        if found.version == SCHEMA_VERSION:  # another program was quicker
            return
        way = _way(path, found.version, steps)
        backup = _back_up(engine, path, found.version, at)
        try:
            for step in way:
                step.apply(connection, found.build_id)
                _record(connection, found.build_id, step, at, backup)
        except Exception as error:
            what = f"it can't be brought to the present layout ({step.title}: {error})"
            do = f"It is unchanged, and a copy is in {backup.name}; open it with the program that wrote it."
            raise refusal(path, "migration-failed", what, do) from error


def _way(path: Path, version: int, steps: Sequence[Migration]) -> tuple[Migration, ...]:
    by_version = {step.version: step for step in steps}
    try:
        return tuple(by_version[each] for each in range(version + 1, SCHEMA_VERSION + 1))
    except KeyError:
        do = "Open it once with a program of the years between, then with this one."
        raise refusal(path, "too-old", "there is no way from its layout to the present", do, f"{version}") from None


def _record(connection: sa.Connection, build_id: str, step: Migration, at: datetime, backup: Path) -> None:
    migrations.create(connection, checkfirst=True)
    here = (meta.c.build_id == build_id) & (meta.c.key == "schema_version")
    connection.execute(sa.update(meta).where(here).values(value=str(step.version)))
    connection.execute(
        sa.insert(migrations).values(
            build_id=build_id, version=step.version, title=step.title, at=at.isoformat(), backup=backup.name
        )
    )


def _back_up(engine: sa.Engine, path: Path, version: int, at: datetime) -> Path:
    """A copy beside the file, safe on disk before the first change, while no one else may write.

    Copied by SQLite itself: closing a file of our own on it would drop the locks this process holds.
    """
    stem = f"{path.name}.backup-v{version}-{at:%Y%m%dT%H%M%SZ}"
    part = path.with_name(f".{stem}.{secrets.token_hex(4)}.part")
    try:
        with spoken(path), engine.connect() as connection, closing(sqlite3.connect(part)) as target:
            target.execute("PRAGMA synchronous=EXTRA")
            source = connection.connection.driver_connection
            assert isinstance(source, sqlite3.Connection)
            source.backup(target)
        return _named(part, path, stem)
    except OSError as error:
        what = f"no backup can be made before its layout changes: {error.strerror or error}"
        raise refusal(path, "no-backup", what, "It is unchanged; make room in its folder.") from error
    finally:
        part.unlink(missing_ok=True)


def _named(part: Path, path: Path, stem: str) -> Path:
    """The copy under the first free name."""
    count = 1
    while True:
        backup = path.with_name(stem if count == 1 else f"{stem}-{count}")
        if not os.path.lexists(backup):
            part.rename(backup)
            sync_folder(backup)
            return backup
        count += 1
