"""What the file keeps besides the build: attachments, and results worked out before."""

from __future__ import annotations

from datetime import datetime
from typing import Final

import sqlalchemy as sa

from .model import Attachment
from .schema import attachments, memo

MEMO_BYTES: Final = 32 * 1024 * 1024


def attach(connection: sa.Connection, build_id: str, new: Attachment, content: bytes) -> None:
    """Keep an attachment."""
    connection.execute(
        sa.insert(attachments).values(
            build_id=build_id, name=new.name, sha256=new.sha256, media_type=new.media_type, size=new.size,
            at=new.at.isoformat(), author=new.author, content=content,
        )
    )  # fmt: skip


def attachments_of(connection: sa.Connection, build_id: str, name: str | None = None) -> tuple[Attachment, ...]:
    """Attachments by name, without content; only the one of a name, if given."""
    fields = [column for column in attachments.c if column.name not in {"build_id", "content"}]
    query = sa.select(*fields).where(attachments.c.build_id == build_id).order_by(attachments.c.name)
    if name is not None:
        query = query.where(attachments.c.name == name)
    return tuple(
        Attachment(row.name, row.media_type, row.sha256, row.size, datetime.fromisoformat(row.at), row.author)
        for row in connection.execute(query)
    )


def memo_get(connection: sa.Connection, build_id: str, key: str) -> bytes | None:
    """A result kept under a key."""
    here = (memo.c.build_id == build_id) & (memo.c.key == key)
    content = connection.execute(sa.select(memo.c.content).where(here)).scalar_one_or_none()
    return None if content is None else bytes(content)


def memo_put(connection: sa.Connection, build_id: str, key: str, content: bytes, *, most: int = MEMO_BYTES) -> bool:
    """Keep a result, dropping the oldest beyond `most` bytes; False if it alone is larger."""
    connection.execute(sa.delete(memo).where(memo.c.build_id == build_id, memo.c.key == key))
    if len(content) > most:
        return False
    last = sa.select(sa.func.coalesce(sa.func.max(memo.c.sequence), 0)).where(memo.c.build_id == build_id)
    sequence = int(connection.execute(last).scalar_one()) + 1
    connection.execute(
        sa.insert(memo).values(build_id=build_id, key=key, sequence=sequence, size=len(content), content=content)
    )
    kept = 0
    newest_first = sa.select(memo.c.sequence, memo.c.size).where(memo.c.build_id == build_id)
    for each, size in connection.execute(newest_first.order_by(memo.c.sequence.desc())).all():
        kept += size
        if kept > most:
            connection.execute(sa.delete(memo).where(memo.c.build_id == build_id, memo.c.sequence <= each))
            break
    return True
