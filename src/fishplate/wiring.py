"""The one place where store, clock, rates, rules and seed are put together, for every skin and test alike."""

from __future__ import annotations

import getpass
import platform
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from .build import Build, Problem, Refused, parse_document

if TYPE_CHECKING:
    from .plan import Situation
    from .store import BuildFile


def today() -> date:
    """The day it is; the only reading of the clock."""
    return date.today()


def read_build(path: Path) -> Build:
    """The build in a build file or a build document; raises Refused."""
    if _is_database(path):
        return open_file(path).build()
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise Refused([Problem(str(path), "no-such-file", "there is no such file", "", "Check the name.")]) from None
    except OSError as error:
        raise Refused(
            [Problem(str(path), "unreadable", f"it can't be read: {error.strerror}", "", "Check the file.")]
        ) from None
    return parse_document(data, source=path.name)


def read_revision(path: Path) -> tuple[Build, int]:
    """A build and its file's revision; a build document counts as revision 0. Raises Refused."""
    if _is_database(path):
        snapshot = open_file(path).snapshot()
        return snapshot.build, snapshot.revision
    return read_build(path), 0


def situation(build: Build, as_of: date, *, seed: int = 1) -> Situation:
    """What a plan starts from: facts, the import rules of the owner's country, the day's rates; raises Refused."""
    from .build import facts_of
    from .landed import load_rules
    from .plan import Situation

    rates, assumptions = load_rates(as_of, build)
    rules = load_rules(build.owner.country)
    return Situation(build, facts_of(build, as_of), as_of, seed, rules, rates, assumptions)


def open_file(path: Path) -> BuildFile:
    """A build file, for reading and writing; raises Refused."""
    from .store import BuildFile

    return BuildFile.open(path)


def author() -> str:
    """Who makes a change, and on which device, as "name@device"."""
    try:
        name = getpass.getuser()
    except (OSError, KeyError, ImportError):  # no such user, or no name set
        name = "someone"
    return f"{name}@{platform.node() or 'unknown device'}"


def _is_database(path: Path) -> bool:
    """Whether a file is SQLite's, as it says itself.

    Asked of SQLite: closing a file of our own on a build file would drop the locks another thread holds on it.
    """
    uri = f"file:{quote(str(path.absolute()))}?mode=ro"
    try:
        with closing(sqlite3.connect(uri, uri=True)) as connection:
            connection.execute("PRAGMA application_id")
    except sqlite3.Error as error:
        return error.sqlite_errorname not in {"SQLITE_NOTADB", "SQLITE_CANTOPEN"}
    return True
