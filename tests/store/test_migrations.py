"""From an older layout to the present one.

Layout 0 here is the file a first sketch of the store wrote: the whole build document in one row, no journal.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa

from fishplate.build import Build, Refused, format_document, parse_document
from fishplate.store import BuildFile, Migration
from fishplate.store.connection import engine_for, writing
from fishplate.store.journal import append
from fishplate.store.model import Batch
from fishplate.store.rows import contents_of, differences
from fishplate.store.schema import APPLICATION_ID, metadata

THEN = datetime(2025, 11, 2, 20, 15, tzinfo=UTC)
NOW = datetime(2026, 3, 14, 19, 0, 5, tzinfo=UTC)
BACKUP = "van.fishplate.backup-v0-20260314T190005Z"


def write_layout_0(path: Path, build: Build) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executescript(
            f"""
            PRAGMA application_id={APPLICATION_ID};
            CREATE TABLE meta (build_id TEXT, key TEXT, value TEXT, PRIMARY KEY (build_id, key));
            CREATE TABLE document (build_id TEXT PRIMARY KEY, author TEXT, saved TEXT, json TEXT);
            INSERT INTO meta VALUES ('b0', 'schema_version', '0');
            """
        )
        row = ("b0", "sam@garage", THEN.isoformat(), format_document(build))
        connection.execute("INSERT INTO document VALUES (?, ?, ?, ?)", row)


def rows_from_document(connection: sa.Connection, build_id: str) -> None:
    """The step from layout 0 to 1."""
    author, saved, text = connection.exec_driver_sql("SELECT author, saved, json FROM document").one()
    for table in metadata.sorted_tables:
        if table.name != "meta":
            table.create(connection, checkfirst=True)
    changes = differences({}, contents_of(parse_document(text)))
    append(connection, build_id, Batch(1, "start", None, datetime.fromisoformat(saved), author, "", changes))
    connection.exec_driver_sql("DROP TABLE document")


STEP = Migration(1, "one row for each noun", rows_from_document)


@pytest.fixture
def old(path: Path, small: Build) -> bytes:
    write_layout_0(path, small)
    return path.read_bytes()


def opened(path: Path, *steps: Migration) -> BuildFile:
    return BuildFile.open(path, migrations=steps, clock=lambda: NOW)


def files(path: Path) -> list[str]:
    return sorted(each.name for each in path.parent.iterdir())


def test_an_older_file_is_brought_to_the_present_layout(path: Path, old: bytes, small: Build) -> None:
    file = opened(path, STEP)
    assert file.build() == small
    assert [(batch.author, batch.at) for batch in file.history()] == [("sam@garage", THEN)]
    assert BuildFile.open(path).build() == small
    assert BuildFile.open(path).write(small.model_copy(update={"name": "Bus"}), revision=1, author="sam@garage") == 2


def test_the_older_file_is_kept_beside_it(path: Path, old: bytes, small: Build) -> None:
    opened(path, STEP)
    assert files(path) == ["van.fishplate", BACKUP]
    with closing(sqlite3.connect(path.with_name(BACKUP))) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        (text,) = connection.execute("SELECT json FROM document").fetchone()
    assert parse_document(text) == small
    again = path.with_name("again.fishplate")
    again.write_bytes(path.with_name(BACKUP).read_bytes())
    assert opened(again, STEP).build() == small


def test_a_migration_leaves_its_record(path: Path, old: bytes) -> None:
    opened(path, STEP)
    with closing(sqlite3.connect(path)) as connection:
        record = connection.execute("SELECT build_id, version, title, at, backup FROM migrations").fetchall()
    assert record == [("b0", 1, "one row for each noun", NOW.isoformat(), BACKUP)]


def test_a_present_file_is_opened_without_a_backup(path: Path, file: BuildFile, small: Build) -> None:
    before = path.read_bytes()
    assert opened(path, STEP).build() == small
    assert files(path) == ["van.fishplate"]
    assert path.read_bytes() == before


def fails_at_the_end(connection: sa.Connection, build_id: str) -> None:
    rows_from_document(connection, build_id)
    raise ValueError("row 7 makes no sense")


def fails_in_sql(connection: sa.Connection, build_id: str) -> None:
    rows_from_document(connection, build_id)
    connection.exec_driver_sql("SELECT * FROM wheels")


def fails_after_filling_the_disk_cache(connection: sa.Connection, build_id: str) -> None:
    """Enough pages that SQLite has written some of them to the file before it fails."""
    rows_from_document(connection, build_id)
    connection.exec_driver_sql("CREATE TABLE filling AS SELECT zeroblob(16000000) AS content")
    raise ValueError("row 7 makes no sense")


@pytest.mark.parametrize("fails", [fails_at_the_end, fails_in_sql, fails_after_filling_the_disk_cache])
def test_a_migration_that_fails_halfway_leaves_the_file_as_it_was(
    path: Path, old: bytes, fails: Callable[[sa.Connection, str], None], small: Build
) -> None:
    with pytest.raises(Refused) as caught:
        opened(path, Migration(1, "one row for each noun", fails))
    assert "it can't be brought to the present layout (one row for each noun: " in str(caught.value)
    assert f"It is unchanged, and a copy is in {BACKUP}" in str(caught.value)
    assert path.read_bytes() == old
    assert files(path) == ["van.fishplate", BACKUP]
    assert opened(path, STEP).build() == small


def test_a_second_backup_of_the_same_second_does_not_replace_the_first(path: Path, old: bytes) -> None:
    for _ in range(2):
        with pytest.raises(Refused):
            opened(path, Migration(1, "one row for each noun", fails_at_the_end))
    assert files(path) == ["van.fishplate", BACKUP, f"{BACKUP}-2"]


def test_steps_are_taken_in_order_from_the_layout_found(path: Path, old: bytes) -> None:
    """A step that leads further than the present layout, or to one the file has passed, is not taken."""

    def never(connection: sa.Connection, build_id: str) -> None:
        raise AssertionError("not to be taken")

    file = opened(path, Migration(2, "later", never), STEP, Migration(0, "earlier", never))
    assert file.revision == 1


def test_a_file_with_no_way_to_the_present_is_refused_without_a_backup(path: Path, old: bytes) -> None:
    with pytest.raises(Refused, match="no way from its layout to the present"):
        BuildFile.open(path)
    assert path.read_bytes() == old
    assert files(path) == ["van.fishplate"]


def test_without_a_backup_nothing_is_changed(path: Path, old: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    def disk_full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "rename", disk_full)
    with pytest.raises(Refused, match="no backup can be made before its layout changes: No space left on device"):
        opened(path, STEP)
    assert path.read_bytes() == old
    assert files(path) == ["van.fishplate"]


def test_a_file_being_written_to_is_not_migrated(path: Path, old: bytes) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(Refused, match="another program is writing"):
            BuildFile.open(path, migrations=(STEP,), busy_seconds=0.05)
    assert path.read_bytes() == old
    assert files(path) == ["van.fishplate"]


def test_the_first_of_two_programs_migrates_for_both(path: Path, old: bytes, small: Build) -> None:
    """The second waited while the first migrated, and finds nothing left to do."""
    from fishplate.store.migrations import Found, migrate

    opened(path, STEP)
    migrate(engine_for(path), path, Found("b0", 0), (STEP,), at=NOW)
    assert BuildFile.open(path).build() == small
    assert files(path) == ["van.fishplate", BACKUP]


@pytest.mark.parametrize("table", ["journal", "batches"])
@pytest.mark.parametrize("verb", ["UPDATE {} SET build_id = 'x'", "DELETE FROM {}"])
def test_the_journal_only_grows(path: Path, file: BuildFile, table: str, verb: str) -> None:
    with (
        closing(sqlite3.connect(path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match=f"the {table} only grows"),
    ):
        connection.execute(verb.format(table))


def test_a_failure_of_our_own_inside_a_write_leaves_the_file_as_it_was(path: Path, file: BuildFile) -> None:
    before = path.read_bytes()

    def fail() -> None:
        with writing(engine_for(path), path) as connection:
            connection.exec_driver_sql("DELETE FROM nouns")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert path.read_bytes() == before
