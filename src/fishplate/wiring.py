"""The one place where store, clock, rates, rules and seed are put together, for every skin and test alike."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from .build import Build, Problem, Refused, parse_document


def today() -> date:
    """The day it is; the only reading of the clock."""
    return date.today()


def read_build(path: Path) -> Build:
    """The build in a build file or a build document; raises Refused."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise Refused([Problem(str(path), "no-such-file", "there is no such file", "", "Check the name.")]) from None
    except OSError as error:
        raise Refused(
            [Problem(str(path), "unreadable", f"it can't be read: {error.strerror}", "", "Check the file.")]
        ) from None
    return parse_document(data, source=path.name)
