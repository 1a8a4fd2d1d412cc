"""The tables of a build file. Every row knows its build; every batch of changes knows its author."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

SCHEMA_VERSION: Final = 1
# In the header of the SQLite file, at byte 68: "Fshp".
APPLICATION_ID: Final = 0x46736870

metadata = sa.MetaData()

# The one table no migration may change: it says which layout the others have.
meta = sa.Table(
    "meta",
    metadata,
    sa.Column("build_id", sa.Text, primary_key=True),
    sa.Column("key", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)

migrations = sa.Table(
    "migrations",
    metadata,
    sa.Column("build_id", sa.Text, primary_key=True),
    sa.Column("version", sa.Integer, primary_key=True),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("backup", sa.Text, nullable=False),
)

# What the build holds now. The fields of the build itself (name, owner) are rows of the list "build".
nouns = sa.Table(
    "nouns",
    metadata,
    sa.Column("build_id", sa.Text, primary_key=True),
    sa.Column("list", sa.Text, primary_key=True),
    sa.Column("id", sa.Text, primary_key=True),
    sa.Column("position", sa.BigInteger, nullable=False),
    sa.Column("data", sa.Text, nullable=False),
)

batches = sa.Table(
    "batches",
    metadata,
    sa.Column("build_id", sa.Text, primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("takes", sa.Integer),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("author", sa.Text, nullable=False),
    sa.Column("message", sa.Text, nullable=False),
)

journal = sa.Table(
    "journal",
    metadata,
    sa.Column("build_id", sa.Text, primary_key=True),
    sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("batch", sa.Integer, nullable=False, index=True),
    sa.Column("list", sa.Text, nullable=False),
    sa.Column("id", sa.Text, nullable=False),
    sa.Column("before", sa.Text),
    sa.Column("after", sa.Text),
    sa.Column("before_position", sa.BigInteger),
    sa.Column("after_position", sa.BigInteger),
)

attachments = sa.Table(
    "attachments",
    metadata,
    sa.Column("build_id", sa.Text, primary_key=True),
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("sha256", sa.Text, nullable=False),
    sa.Column("media_type", sa.Text, nullable=False),
    sa.Column("size", sa.Integer, nullable=False),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("author", sa.Text, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
)

# Results worked out before. Not journaled; any row may go at any time.
memo = sa.Table(
    "memo",
    metadata,
    sa.Column("build_id", sa.Text, primary_key=True),
    sa.Column("key", sa.Text, primary_key=True),
    sa.Column("sequence", sa.Integer, nullable=False),
    sa.Column("size", sa.Integer, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
)

for _table in (batches, journal):
    for _verb in ("UPDATE", "DELETE"):
        _trigger = sa.DDL(  # type: ignore[no-untyped-call]
            f"CREATE TRIGGER {_table.name}_no_{_verb.lower()} BEFORE {_verb} ON {_table.name} "
            f"BEGIN SELECT RAISE(ABORT, 'the {_table.name} only grows'); END"
        )
        sa.event.listen(_table, "after_create", _trigger.execute_if(dialect="sqlite"))
