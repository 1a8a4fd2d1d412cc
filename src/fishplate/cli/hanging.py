"""A cell of a table whose lines, where they are broken, go on a little to the right of where they began."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console, ConsoleOptions
from rich.measure import Measurement
from rich.text import Text

from .unbroken import bound, loosed

_STEP = 2


class Hanging:
    """Words in a cell; a line that is broken goes on indented, so that it is not read as a line of its own."""

    def __init__(self, words: str) -> None:
        self._words = words

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        """The widths it can take: its longest word indented, to its longest line."""
        found = Measurement.get(console, options, Text(bound(self._words)))
        return Measurement(min(found.minimum + _STEP, found.maximum), found.maximum)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Text]:
        """Its lines, none wider than the column."""
        for line in self._words.split("\n"):
            yield from _broken(console, line, options.max_width)


def _broken(console: Console, line: str, width: int) -> Iterator[Text]:
    bare = bound(line.lstrip(" "))
    lead, step = len(line) - len(line.lstrip(" ")), _STEP if width > 4 * _STEP else 0
    first, *rest = [each.plain for each in Text(bare).wrap(console, max(1, width - lead), overflow="fold")] or [""]
    yield Text(" " * lead + loosed(first.rstrip()))
    if rest:
        left = bare.removeprefix(first.rstrip()).lstrip(" ")
        for each in Text(left).wrap(console, max(1, width - lead - step), overflow="fold"):
            yield Text(" " * (lead + step) + loosed(each.plain.rstrip()))
