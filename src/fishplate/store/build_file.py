"""The build file: one build, one SQLite file, every change journaled in the transaction that made it."""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Self

import sqlalchemy as sa

from ..build import Build, Refused, build_from_data, check_build
from . import journal, memory
from .connection import BUSY_SECONDS, engine_for, reading, sync_folder, writing
from .errors import Conflict, RevisionConflict, refusal
from .held import Held, after, asked_for, changes_to, checked, held_of
from .migrations import MIGRATIONS, Migration, identify, migrate
from .model import Attachment, Batch, BatchKind, Change, Key, Snapshot
from .rows import applied, contents_of, differences
from .schema import APPLICATION_ID, SCHEMA_VERSION, attachments, meta, metadata
from .wording import batch_words, count_words

MAX_ATTACHMENT_BYTES: Final = 256 * 1024 * 1024

Clock = Callable[[], datetime]
Note = Callable[[int], tuple[str, bytes]]


def utc_now() -> datetime:
    """The moment it is, in UTC to the second."""
    return datetime.now(UTC).replace(microsecond=0)


class BuildFile:
    """A build file. Nothing holds it between calls, so it needs no closing.

    Parameters
    ----------
    path, build_id, engine : made by `create` or `open`
    clock : gives the moment written beside each change
    """

    def __init__(self, path: Path, build_id: str, engine: sa.Engine, clock: Clock) -> None:
        self.path, self.build_id = path, build_id
        self._engine, self._clock = engine, clock
        self._held: Held | None = None

    @classmethod
    def create(cls, path: Path, build: Build, *, author: str, message: str = "", clock: Clock = utc_now) -> Self:
        """Start a file holding a build; raises Refused if the path is taken or the build has problems."""
        _refuse_problems(build, path)
        if os.path.lexists(path):
            raise _taken(path)
        part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
        build_id = secrets.token_hex(16)
        try:
            with _disk(path):
                part.touch(exist_ok=False)
            with writing(engine_for(part), part) as connection:
                _lay_out(connection, build_id, build, author, message, clock())
            with _disk(path):
                _publish(part, path)
        finally:
            part.unlink(missing_ok=True)
        return cls(path, build_id, engine_for(path), clock)

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        clock: Clock = utc_now,
        busy_seconds: float = BUSY_SECONDS,
        migrations: Sequence[Migration] = MIGRATIONS,
    ) -> Self:
        """Open a file, bringing an older one to the present layout after a backup.

        Raises
        ------
        Refused
            if it is not a build file, is damaged, can't be read, or was written by a newer program
        """
        _refuse_unlikely(path)
        engine = engine_for(path, busy_seconds=busy_seconds)
        found = identify(engine, path)
        if found.version > SCHEMA_VERSION:
            what = "the file was written by a newer program"
            raise refusal(path, "newer-file", what, "Update Fishplate.", f"layout {found.version}")
        if found.version < SCHEMA_VERSION:
            migrate(engine, path, found, migrations, at=clock())
        return cls(path, found.build_id, engine, clock)

    @property
    def revision(self) -> int:
        """Number of the last batch of changes; undo and redo count as changes."""
        with reading(self._engine, self.path) as connection:
            return journal.revision_of(connection, self.build_id)

    def build(self) -> Build:
        """The build as it is now; raises Refused with every problem of a damaged one."""
        return self.snapshot().build

    def snapshot(self) -> Snapshot:
        """The build and its revision, read as one: what a later `write` is made against."""
        with reading(self._engine, self.path) as connection:
            held = self._held_in(connection)
        self._held = held
        return Snapshot(held.build, held.mark.number)

    def write(
        self,
        new: Build | Sequence[Change],
        *,
        revision: int,
        author: str,
        message: str = "",
        note: Note | None = None,
    ) -> int:
        """Write a changed build, or changes to it, in one batch; only nouns that differ are touched.

        Parameters
        ----------
        revision : the revision the changes were made against
        note : from the new revision to the key and content of a result to keep in the same transaction

        Returns
        -------
        the new revision; the old one if nothing differs

        Raises
        ------
        RevisionConflict
            if the file has changed since that revision; nothing is overwritten
        Refused
            if the new build has problems, or the file can't be written
        """
        with writing(self._engine, self.path) as connection:
            now_at = self._known_revision(connection, revision)
            held, since = self._held_in(connection), {}
            if revision < now_at:
                since = journal.changed_since(connection, self.build_id, self.path.name, revision)
                held = after(held, _taken_back(since), self.path.name)
            wanted = new if isinstance(new, Build) else self._asked_for(held, new)
            changes = changes_to(held, wanted)
            written = checked(held, changes, wanted, self.path.name)
            if since:
                raise RevisionConflict(self.path.name, revision, now_at, _conflicts(since, changes))
            batch = self._append(connection, now_at, "edit", None, author, message, changes) if changes else None
            number = now_at if batch is None else batch.number
            if note is not None:
                memory.memo_put(connection, self.build_id, *note(number))
        if batch is not None:
            self._held = replace(written, mark=batch.mark)
        return number

    def undo(self, *, revision: int, author: str) -> Batch:
        """Take back the last batch that stands; raises Refused if none is left, RevisionConflict if stale."""
        return self._turn("undo", revision, author)

    def redo(self, *, revision: int, author: str) -> Batch:
        """Make the last undone batch again; raises Refused if there is none, RevisionConflict if stale."""
        return self._turn("redo", revision, author)

    def history(self, *, since: int = 0, limit: int | None = None) -> tuple[Batch, ...]:
        """Batches after a revision, oldest first; with a limit, only so many of the last."""
        with reading(self._engine, self.path) as connection:
            if limit is not None:
                since = max(since, journal.revision_of(connection, self.build_id) - limit)
            return journal.history(connection, self.build_id, self.path.name, since=since)

    def heads(self) -> tuple[Batch, ...]:
        """All batches without their changes, oldest first."""
        with reading(self._engine, self.path) as connection:
            return journal.heads(connection, self.build_id)

    def words(self, numbers: Sequence[int], *, most: int) -> dict[int, tuple[str, ...]]:
        """What some batches did, by number, as `batch_words` says it; large ones are counted without being read."""
        with reading(self._engine, self.path) as connection:
            counts = journal.counts(connection, self.build_id, numbers)
            small = [number for number, count in counts.items() if count.total() <= most]
            read = journal.history(connection, self.build_id, self.path.name, only=small)
        words = {number: count_words(count) for number, count in counts.items()}
        return words | {batch.number: batch_words(batch.changes, most=most) for batch in read}

    def attach(self, name: str, content: bytes, *, media_type: str, author: str) -> Attachment:
        """Keep a photo, scan or paper under a name; raises Refused if the name has other content."""
        if len(content) > MAX_ATTACHMENT_BYTES:
            size = f"{len(content) / 2**20:.0f} MiB"
            raise refusal(self.path, "too-large", "an attachment is at most 256 MiB", "Make it smaller.", size)
        digest = hashlib.sha256(content).hexdigest()
        new = Attachment(name, media_type, digest, len(content), self._clock(), author)
        with writing(self._engine, self.path) as connection:
            held = memory.attachments_of(connection, self.build_id, name)
            if held and held[0].sha256 != digest:
                what = "another attachment has this name"
                raise refusal(self.path, "name-taken", what, "Give it another name.", name)
            if held:
                return held[0]
            memory.attach(connection, self.build_id, new, content)
        return new

    def attachments(self) -> tuple[Attachment, ...]:
        """What is attached, by name, without the content."""
        with reading(self._engine, self.path) as connection:
            return memory.attachments_of(connection, self.build_id)

    def attachment(self, name: str) -> bytes:
        """Content of an attachment; raises Refused if there is none, or if it is damaged."""
        with reading(self._engine, self.path) as connection:
            here = (attachments.c.build_id == self.build_id) & (attachments.c.name == name)
            row = connection.execute(sa.select(attachments.c.sha256, attachments.c.content).where(here)).one_or_none()
        if row is None:
            raise refusal(self.path, "no-such-attachment", "nothing is attached under this name", "Check it.", name)
        if hashlib.sha256(row.content).hexdigest() != row.sha256:
            raise refusal(self.path, "damaged", "an attachment is damaged", "Go back to a backup copy.", name)
        return bytes(row.content)

    def memo_get(self, key: str) -> bytes | None:
        """A result kept before, if it still is."""
        with reading(self._engine, self.path) as connection:
            return memory.memo_get(connection, self.build_id, key)

    def memo_put(self, key: str, content: bytes) -> bool:
        """Keep a result; False if it could not be, which loses nothing but time."""
        try:
            with writing(self._engine, self.path) as connection:
                return memory.memo_put(connection, self.build_id, key, content)
        except Refused:
            return False

    def _turn(self, kind: BatchKind, revision: int, author: str) -> Batch:
        with writing(self._engine, self.path) as connection:
            now_at = self._known_revision(connection, revision)
            if revision < now_at:
                since = journal.changed_since(connection, self.build_id, self.path.name, revision)
                raise RevisionConflict(self.path.name, revision, now_at, _conflicts(since, ()))
            done, undone = journal.standing(connection, self.build_id)
            stack = done if kind == "undo" else undone
            if not stack:
                what = "there is nothing to take back" if kind == "undo" else "nothing was taken back last"
                raise refusal(self.path, f"nothing-to-{kind}", what, "See fishplate log.")
            (taken,) = journal.history(connection, self.build_id, self.path.name, only=[stack[-1]])
            changes = taken.changes
            if kind == "undo":
                changes = tuple(change.reversed() for change in changes)
            message = taken.title if kind == "undo" else taken.message  # its reasons speak for it, not against it
            batch = self._append(connection, now_at, kind, taken.number, author, message, changes)
            held = self._held
        if held is not None and held.mark.number == now_at:
            self._held = replace(after(held, batch.changes, self.path.name), mark=batch.mark)
        return batch

    def _append(
        self,
        connection: sa.Connection,
        now_at: int,
        kind: BatchKind,
        takes: int | None,
        author: str,
        message: str,
        changes: Sequence[Change],
    ) -> Batch:
        known = journal.with_befores(connection, self.build_id, self.path.name, changes)
        if known is None:
            self._held = None
            what = "something else than Fishplate changed the file"
            raise refusal(self.path, "changed-beside", what, "Nothing was written; try again.")
        batch = Batch(now_at + 1, kind, takes, self._clock(), author, message, known)
        journal.append(connection, self.build_id, batch)
        return batch

    def _held_in(self, connection: sa.Connection) -> Held:
        """What the file holds: from memory, if its last batch is the one that is remembered."""
        held, mark = self._held, journal.mark_of(connection, self.build_id)
        if held is not None and held.mark == mark:
            return held
        return held_of(journal.held_rows(connection, self.build_id, self.path.name), mark, self.path.name)

    def _asked_for(self, held: Held, changes: Sequence[Change]) -> Build:
        build = asked_for(held, changes)
        if build is not None:
            return build
        return build_from_data(applied(held.rows(), changes, self.path.name), source=self.path.name)

    def _known_revision(self, connection: sa.Connection, revision: int) -> int:
        now_at = journal.revision_of(connection, self.build_id)
        if not 0 < revision <= now_at:
            what = f"the file is at revision {now_at} and never had this one"
            raise refusal(self.path, "unknown-revision", what, "Read it again.", str(revision))
        return now_at


def _taken_back(since: Mapping[Key, tuple[Change, Change]]) -> tuple[Change, ...]:
    """What takes every noun back to how it was before changes."""
    return tuple(
        replace(last.reversed(), after=first.before, after_position=first.before_position)
        for first, last in since.values()
    )


def _conflicts(since: Mapping[Key, tuple[Change, Change]], yours: Sequence[Change]) -> Iterator[Conflict]:
    mine = {change.key: change for change in yours}
    for key, (_, last) in since.items():
        change = mine.get(key)
        yield Conflict(key, last.after, None if change is None else change.after, touched=change is not None)


def _refuse_problems(build: Build, path: Path) -> None:
    problems = tuple(check_build(build, source=path.name))
    if problems:
        raise Refused(problems)


def _taken(path: Path) -> Refused:
    return refusal(path, "exists", "there is already a file of this name", "Choose another name.")


def _refuse_unlikely(path: Path) -> None:
    """Refuse what can't be a build file, before SQLite would take an empty one for a new database."""
    with _disk(path):
        if not path.exists():
            raise refusal(path, "no-such-file", "there is no such file", "Check the name.")
        if path.is_dir():
            raise refusal(path, "a-folder", "this is a folder, not a build file", "Name the file in it.")
        if path.stat().st_size <= 1:  # SQLite takes a single byte for an empty file too
            raise refusal(path, "empty-file", "the file is empty", "Go back to a backup copy.")


@contextmanager
def _disk(path: Path) -> Iterator[None]:
    """Failures of the disk as refusals in words."""
    try:
        yield
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        what = f"the disk refuses: {error.strerror or error}"
        raise refusal(path, "unwritable", what, "Check the folder, and your leave to use it.") from error


def _lay_out(connection: sa.Connection, build_id: str, build: Build, author: str, message: str, at: datetime) -> None:
    connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    metadata.create_all(connection, checkfirst=False)
    values = {"schema_version": str(SCHEMA_VERSION), "created": at.isoformat()}
    connection.execute(
        sa.insert(meta), [{"build_id": build_id, "key": key, "value": value} for key, value in values.items()]
    )
    changes = differences({}, contents_of(build))
    journal.append(connection, build_id, Batch(1, "start", None, at, author, message, changes))


def _publish(part: Path, path: Path) -> None:
    """Give a finished file its name, never over another."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a disk without links, such as a memory stick
        if os.path.lexists(path):
            raise FileExistsError(path) from None
        part.rename(path)
    sync_folder(path)
