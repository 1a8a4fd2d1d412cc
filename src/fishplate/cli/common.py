"""What the commands share: reading a build, the day, JSON and tables out."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from contextvars import ContextVar
from datetime import date, datetime
from math import isfinite
from pathlib import Path
from shutil import get_terminal_size
from textwrap import fill
from typing import Any, Final, Literal

import click

from ..build import Assumption, Build, FishplateError
from ..build.formats import Formats
from ..build.numbers import Unreadable
from ..build.telling import Teller
from .unbroken import bound, loosed

# read before the options, so that they can be read as the owner of the build writes
BUILD_FILE = click.argument("file", type=click.Path(path_type=Path), is_eager=True)
JSON_FLAG = click.option(
    "--json", "as_json", is_flag=True, help="Write JSON for programs; the reference lists its keys."
)


class _Day(click.ParamType[date]):
    """A day: as 2026-03-14, by the name of its month, or in figures as the owner of the build at hand writes them."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        if isinstance(value, date):
            return value
        with suppress(ValueError):
            return date.fromisoformat(value)
        from ..exchange.times import parse_day

        try:
            return parse_day(value)
        except Unreadable as error:
            if error.code != "ambiguous-date":
                self.fail(f"{value!r} is not a day; write it as 2026-03-14", param, ctx)
            formats = _formats_at_hand(ctx)
            if formats is None or formats.day_order is None:
                self.fail(f"{value!r} can be read in two ways: {error}", param, ctx)
            day = parse_day(value, formats.day_order)
        click.echo(f"“{value}” is read as {formats.day(day)}, as your figures are written.", err=True)
        return day


def _formats_at_hand(ctx: click.Context | None) -> Formats | None:
    """Formats of the owner of the build that a command is given; None where there is none, or it can't be read."""
    from ..wiring import read_build as read

    path = None if ctx is None else ctx.params.get("file")
    try:
        return None if path is None else read(path).owner.formats
    except (FishplateError, OSError):
        return None  # the command says what is wrong with it


DAY: click.ParamType[date] = _Day()
AS_OF = click.option("--as-of", type=DAY, default=None, help="The day to plan from; today if left out.")
SEED = click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Where chance begins: the same number gives the same answer.",
)


class Within(click.FloatRange):
    """A figure within limits; what is no figure, such as nan, lies within none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The figure; a fault of the command line if it is none."""
        figure = float(super().convert(value, param, ctx))
        if not isfinite(figure):
            self.fail(f"{value!r} is not a figure; write it as 90 or 12.5", param, ctx)
        return figure


WIDEST: Final = 100
_LEAD: Final = re.compile(r"^ *(?:(?:\d+\.|!|-) +)?")
_CANONICAL: Final = Teller(idle=True)
_TELLER: ContextVar[Teller] = ContextVar("teller", default=_CANONICAL)


def read_build(path: Path) -> Build:
    """The build in a build file or build document, told about from here on as its owner reads; raises Refused."""
    from ..wiring import read_build as read

    build = read(path)
    tell_about(build)
    return build


def tell_about(build: Build) -> None:
    """Tell from here on in the units and locale of a build's owner."""
    _TELLER.set(Teller.of(build))


def told(text: str) -> str:
    """Words with their figures as the owner of the build reads them."""
    return _TELLER.get().text(text)


def say(text: str = "", *, nl: bool = True, err: bool = False) -> None:
    """Write words, told as the owner of the build reads figures; JSON goes by `emit`, as it is.

    A terminal gets lines no longer than it is wide; a pipe or file gets each as one line.
    """
    words, stream = told(text), sys.stderr if err else sys.stdout
    click.echo(wrapped(words, get_terminal_size().columns) if stream.isatty() else words, nl=nl, err=err)


def wrapped(text: str, width: int) -> str:
    """Lines broken between words, going on under where the words of each began.

    Parameters
    ----------
    width : most characters a line; a line is never longer than a person reads with ease

    Examples
    --------
    >>> print(wrapped("  1. Order the hub now: it takes weeks.", 26))
      1. Order the hub now: it
         takes weeks.
    """
    return "\n".join(_wrapped(line, min(width, WIDEST)) for line in text.split("\n"))


def _wrapped(line: str, width: int) -> str:
    if len(line) <= width:
        return line
    lead = len(line) - len(_LEAD.sub("", line))
    indent = " " * lead
    return loosed(fill(bound(line), width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False))


def emit(value: Any) -> None:
    """Write a value as JSON to stdout."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=1, default=_plain))


def _plain(value: Any) -> Any:
    if isinstance(value, date | datetime):
        return value.isoformat()
    return str(value)


def under(head: str, *said: str) -> str:
    """A cell of a table: a name, and what is said of it in lines of their own below; what is empty is left out."""
    return "\n  ".join(filter(None, (head, *said)))


def table(
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    right: Sequence[int] = (),
    whole: Sequence[int] = (),
    kept: Sequence[int] = (),
) -> None:
    """Write a table to stdout.

    Parameters
    ----------
    right : positions of columns set to the right; whole : of columns whose words are never cut, such as ids
    kept : of columns that hold what somebody wrote, which is not told otherwise
    """
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    from .hanging import Hanging

    grid = Table(box=SIMPLE_HEAD, pad_edge=False)
    for position, head in enumerate(heads):
        side: Literal["left", "right"] = "right" if position in right else "left"
        grid.add_column(told(head), justify=side, overflow="fold", no_wrap=position in whole)
    for row in rows:
        cells = [cell if at in kept else told(cell) for at, cell in enumerate(row)]
        grid.add_row(*(cell if at in {*right, *whole} else Hanging(cell) for at, cell in enumerate(cells)))
    Console(highlight=False, markup=False, width=None if sys.stdout.isatty() else 120).print(grid)


Progress = Callable[[str, float], None]


def progress_line() -> Progress:
    """A progress callback that keeps one line on stderr up to date, where stderr is a terminal."""
    stream = sys.stderr
    if not stream.isatty():
        return lambda _stage, _share: None

    def show(stage: str, share: float) -> None:
        stream.write(f"\r\x1b[K{stage} {share:.0%}" if share < 1 else "\r\x1b[K")
        stream.flush()

    return show


def home_rates(build: Build, as_of: date) -> tuple[dict[str, float], tuple[Assumption, ...]]:
    """Home currency for one unit of each currency a rate is known for; raises Refused."""
    from ..wiring import load_rates

    rates, assumptions = load_rates(as_of, build)
    home = build.owner.currency
    codes = sorted({home, rates.base, *rates.per_base})
    return {code: float(rates.rate(code, home)) for code in codes}, assumptions
