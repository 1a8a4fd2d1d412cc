"""A list, page, mail or text that was brought: kept in the build file for a while, read beside the pages."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ..build import Build, Problem, Refused
from .ask import Ask, NotHereError

if TYPE_CHECKING:
    from ..exchange import ImportPreview
    from ..exchange.captured import Captured
    from ..exchange.confirmation import Confirmation
    from ..store import BuildFile
    from .desk import View


@dataclass(frozen=True, slots=True)
class Listed:
    """An uploaded list as it is kept between the preview and the accepting of it."""

    key: str
    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Reading:
    """How a list is to be read, where the person says."""

    currency: str = ""
    decimal: str = ""
    sheets: tuple[str, ...] = ()
    columns: tuple[tuple[str, str], ...] = ()
    mended: tuple[tuple[str, str], ...] = ()

    @property
    def mapping(self) -> Mapping[str, str]:
        """Field by header or letter of the column."""
        return dict(self.columns)


@dataclass(frozen=True, slots=True)
class ConfirmationAsked:
    """A kept confirmation, by its key, of which supplier it is, the day of the order and the day given for it."""

    supplier: str
    key: str
    day: date
    promised: date | None


@dataclass(frozen=True, slots=True)
class Brought:
    """What was brought, as it was read.

    Parameters
    ----------
    captured : what a page, mail or text tells of; found : else, what a list would do, with the names of its sheets
    problems : why it could not be read, where neither is there
    """

    captured: Captured | None = None
    found: ImportPreview | None = None
    sheets: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def keep_list(ask: Ask, name: str, content: bytes) -> str:
    """Keep a list in the build file for a while; returns its key."""
    key = hashlib.sha256(name.encode() + b"\0" + content).hexdigest()[:20]
    ask.desk.file.memo_put(f"list {key}", json.dumps(name).encode() + b"\n" + content)
    return key


def kept_list(ask: Ask, key: str) -> Listed:
    """A list that was kept; not here if it no longer is."""
    found = list_in(ask.desk.file, key)
    if found is None:
        raise NotHereError("list", key)
    return found


def list_in(file: BuildFile, key: str) -> Listed | None:
    """A list that was kept in a build file, if it still is."""
    found = file.memo_get(f"list {key}") if key.isalnum() else None
    if found is None:
        return None
    name, _, content = found.partition(b"\n")
    return Listed(key, json.loads(name), content)


def read_kept(file: BuildFile, view: View, key: str, reading: Reading) -> Brought:
    """What a kept list, page, mail or text holds, and what a list would do to a build."""
    listed = list_in(file, key)
    return Brought() if listed is None else read_listed(listed, view.build, view.as_of, reading)


def read_confirmed(file: BuildFile, view: View, asked: ConfirmationAsked) -> Confirmation:
    """What a kept confirmation would order; the reasons stand in it where it can't be read."""
    from ..exchange.confirmation import Confirmation

    listed = list_in(file, asked.key)
    try:
        if listed is not None:
            return read_order(listed, view.build, asked)
    except Refused as refused:
        return Confirmation((), None, refused.problems)
    return Confirmation((), None, (Problem(asked.key, "gone", "it is kept no longer", "", "Bring it again."),))


def read_order(listed: Listed, build: Build, asked: ConfirmationAsked) -> Confirmation:
    """What a confirmation would order of a build; raises Refused."""
    from ..exchange.capture import order_tables
    from ..exchange.confirmation import read_confirmation
    from ..exchange.container import filled

    tables = order_tables(filled(listed.content, listed.name), listed.name, build)
    return read_confirmation(tables, build, asked.supplier, asked.day, promised=asked.promised)


def read_listed(listed: Listed, build: Build, day: date, reading: Reading) -> Brought:
    """What was brought, read against a build."""
    from ..exchange import ImportOptions, preview
    from ..exchange.capture import capture
    from ..exchange.container import filled
    from ..exchange.read_tables import tables_of

    try:
        content = filled(listed.content, listed.name)
        captured = capture(content, listed.name, build)
        if captured is not None:
            return Brought(captured)
        tables = tables_of(content, listed.name)
        said = reading.currency or None, reading.decimal or None
        options = ImportOptions(*said, reading.sheets, day, reading.mended)
        found = preview(tables, build, reading.mapping, options=options)
    except Refused as refused:
        return Brought(problems=refused.problems)
    return Brought(found=found, sheets=tuple(dict.fromkeys(sheet.name for sheet in tables if sheet.name)))
