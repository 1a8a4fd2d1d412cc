"""The journal: every change with its before and after, in batches; undo and redo by batch."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, Final

import sqlalchemy as sa

from ..build import Problem, Refused
from .model import Batch, Change, Deed, Key, Mark
from .rows import Row, dump
from .schema import batches, journal, nouns

IDS_AT_ONCE: Final = 500  # SQLite binds no more than some thousands of values to a question


def held_rows(connection: sa.Connection, build_id: str, source: str) -> dict[Key, Row]:
    """What the file holds now; raises Refused naming every row that is not JSON."""
    return _rows(connection, nouns.c.build_id == build_id, source)


def _rows(connection: sa.Connection, some: sa.ColumnElement[bool], source: str) -> dict[Key, Row]:
    query = sa.select(nouns.c.list, nouns.c.id, nouns.c.position, nouns.c.data).where(some)
    rows: dict[Key, Row] = {}
    problems = []
    for name, id_, position, text in connection.execute(query):
        try:
            rows[name, id_] = Row(position, json.loads(text))
        except (ValueError, TypeError, RecursionError):
            problems.append(_rotten(f"{source}, {name} ({id_})", text))
    if problems:
        raise Refused(problems)
    return rows


def revision_of(connection: sa.Connection, build_id: str) -> int:
    """Number of the last batch."""
    query = sa.select(sa.func.coalesce(sa.func.max(batches.c.number), 0)).where(batches.c.build_id == build_id)
    return int(connection.execute(query).scalar_one())


def mark_of(connection: sa.Connection, build_id: str) -> Mark:
    """What tells the last batch."""
    columns = batches.c.number, batches.c.at, batches.c.author, batches.c.message
    query = sa.select(*columns).where(batches.c.build_id == build_id).order_by(batches.c.number.desc()).limit(1)
    row = connection.execute(query).one_or_none()
    return Mark(0, datetime.min, "", "") if row is None else Mark(row[0], datetime.fromisoformat(row[1]), *row[2:])


def with_befores(
    connection: sa.Connection, build_id: str, source: str, changes: Sequence[Change]
) -> tuple[Change, ...] | None:
    """Changes with what the file itself holds before them; None if a noun does not stand where they say."""
    found: dict[Key, Row] = {}
    for name in dict.fromkeys(change.list_name for change in changes):
        ids = [change.id for change in changes if change.list_name == name]
        for first in range(0, len(ids), IDS_AT_ONCE):
            some = (nouns.c.list == name) & nouns.c.id.in_(ids[first : first + IDS_AT_ONCE])
            found |= _rows(connection, some & (nouns.c.build_id == build_id), source)
    places = [None if (row := found.get(change.key)) is None else row.position for change in changes]
    if places != [change.before_position for change in changes]:
        return None
    return tuple(
        replace(change, before=found[change.key].data) if change.key in found else change for change in changes
    )


def append(connection: sa.Connection, build_id: str, batch: Batch) -> None:
    """Write a batch and make its changes: the one way a noun in the file ever changes."""
    connection.execute(
        sa.insert(batches).values(
            build_id=build_id, number=batch.number, kind=batch.kind, takes=batch.takes,
            at=batch.at.isoformat(), author=batch.author, message=batch.message,
        )
    )  # fmt: skip
    if not batch.changes:
        return
    query = sa.select(sa.func.coalesce(sa.func.max(journal.c.sequence), 0)).where(journal.c.build_id == build_id)
    first = int(connection.execute(query).scalar_one()) + 1
    connection.execute(
        sa.insert(journal),
        [
            {
                "build_id": build_id, "sequence": first + offset, "batch": batch.number,
                "list": change.list_name, "id": change.id,
                "before": _text(change.before, change.before_position),
                "after": _text(change.after, change.after_position),
                "before_position": change.before_position, "after_position": change.after_position,
            }
            for offset, change in enumerate(batch.changes)
        ],
    )  # fmt: skip
    _make(connection, build_id, batch.changes)


def _text(data: Any, position: int | None) -> str | None:
    return None if position is None else dump(data)


def _make(connection: sa.Connection, build_id: str, changes: Sequence[Change]) -> None:
    gone = [{"b_list": change.list_name, "b_id": change.id} for change in changes if change.before_position is not None]
    come = [
        {
            "build_id": build_id, "list": change.list_name, "id": change.id,
            "position": change.after_position, "data": dump(change.after),
        }
        for change in changes
        if change.after_position is not None
    ]  # fmt: skip
    if gone:
        here = (nouns.c.list == sa.bindparam("b_list")) & (nouns.c.id == sa.bindparam("b_id"))
        connection.execute(sa.delete(nouns).where(nouns.c.build_id == build_id, here), gone)
    if come:
        connection.execute(sa.insert(nouns), come)


def history(
    connection: sa.Connection, build_id: str, source: str, *, since: int = 0, only: Sequence[int] | None = None
) -> tuple[Batch, ...]:
    """Batches with their changes, oldest first: those after a revision, or those of the given numbers.

    Raises Refused if a row of them is not JSON.
    """
    chosen = batches.c.number > since if only is None else batches.c.number.in_(only)
    heads = connection.execute(
        sa.select(batches).where(batches.c.build_id == build_id, chosen).order_by(batches.c.number)
    ).all()
    chosen = journal.c.batch > since if only is None else journal.c.batch.in_(only)
    lines = sa.select(journal).where(journal.c.build_id == build_id, chosen).order_by(journal.c.sequence)
    changes: dict[int, list[Change]] = {}
    for line in connection.execute(lines):
        changes.setdefault(line.batch, []).append(
            Change(
                line.list,
                line.id,
                _data(line.after, line, source),
                _data(line.before, line, source),
                line.before_position,
                line.after_position,
            )
        )
    return tuple(
        Batch(
            head.number, head.kind, head.takes, datetime.fromisoformat(head.at), head.author, head.message,
            tuple(changes.get(head.number, ())),
        )
        for head in heads
    )  # fmt: skip


def heads(connection: sa.Connection, build_id: str) -> tuple[Batch, ...]:
    """All batches without their changes, oldest first."""
    rows = connection.execute(sa.select(batches).where(batches.c.build_id == build_id).order_by(batches.c.number))
    return tuple(
        Batch(row.number, row.kind, row.takes, datetime.fromisoformat(row.at), row.author, row.message, ())
        for row in rows
    )


def counts(connection: sa.Connection, build_id: str, numbers: Sequence[int]) -> dict[int, Counter[tuple[str, Deed]]]:
    """How many nouns of each list some batches added, removed, changed and moved, without reading them."""
    deed = sa.case(
        (journal.c.before.is_(None), "added"),
        (journal.c.after.is_(None), "removed"),
        (journal.c.before == journal.c.after, "moved"),
        else_="changed",
    )
    first = sa.func.min(journal.c.sequence)
    query = (
        sa.select(journal.c.batch, journal.c.list, deed, sa.func.count())
        .where(journal.c.build_id == build_id, journal.c.batch.in_(numbers))
        .group_by(journal.c.batch, journal.c.list, deed)
        .order_by(journal.c.batch, first)
    )
    found: dict[int, Counter[tuple[str, Deed]]] = {number: Counter() for number in numbers}
    for batch, name, what, count in connection.execute(query):
        found[batch][name, what] = count
    return found


def _data(text: str | None, line: Any, source: str) -> Any:
    try:
        return None if text is None else json.loads(text)
    except (ValueError, TypeError, RecursionError):
        where = f"{source}, journal {line.sequence}, {line.list} ({line.id})"
        raise Refused([_rotten(where, text)]) from None


def _rotten(where: str, text: Any) -> Problem:
    return Problem(where, "damaged-row", "not JSON", str(text)[:60], "Go back to a backup copy.")


def standing(connection: sa.Connection, build_id: str) -> tuple[list[int], list[int]]:
    """Batches that can be undone and those that can be redone, each with the next one last.

    A new edit drops what could be redone; the start of the file can't be undone.
    """
    done: list[int] = []
    undone: list[int] = []
    query = sa.select(batches.c.number, batches.c.kind, batches.c.takes).where(batches.c.build_id == build_id)
    for number, kind, takes in connection.execute(query.order_by(batches.c.number)):
        match kind:
            case "edit":
                done.append(number)
                undone.clear()
            case "undo":
                done.remove(takes)
                undone.append(takes)
            case "redo":
                undone.remove(takes)
                done.append(takes)
    return done, undone


def changed_since(
    connection: sa.Connection, build_id: str, source: str, revision: int
) -> dict[Key, tuple[Change, Change]]:
    """For every noun changed after a revision, the first and the last change to it."""
    found: dict[Key, tuple[Change, Change]] = {}
    for batch in history(connection, build_id, source, since=revision):
        for change in batch.changes:
            first, _ = found.get(change.key, (change, change))
            found[change.key] = (first, change)
    return found
