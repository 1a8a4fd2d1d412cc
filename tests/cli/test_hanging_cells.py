"""A line of a table that is broken goes on indented, and loses no word."""

from __future__ import annotations

from io import StringIO

import pytest
from rich.console import Console
from rich.table import Table

from fishplate.cli.common import wrapped
from fishplate.cli.hanging import Hanging


def drawn(words: str, width: int) -> list[str]:
    grid = Table(box=None, show_header=False, padding=0)
    grid.add_column(overflow="fold")
    grid.add_row(Hanging(words))
    out = StringIO()
    Console(file=out, width=width).print(grid)
    return [line.rstrip() for line in out.getvalue().splitlines()]


@pytest.mark.parametrize(
    ("words", "width", "lines"),
    [
        ("Bleed the brakes", 20, ["Bleed the brakes"]),
        ("Bleed the brakes and try them", 16, ["Bleed the brakes", "  and try them"]),
        ("Hub\n  made to our own drawing", 16, ["Hub", "  made to our", "    own drawing"]),
        ("It costs 12.50 EUR in all", 16, ["It costs", "  12.50 EUR in", "  all"]),
        ("Overlongwordwithoutend", 12, ["Overlongword", "  withoutend"]),
        ("", 12, [""]),
    ],
)
def test_broken_lines_are_indented(words: str, width: int, lines: list[str]) -> None:
    assert drawn(words, width) == lines


def test_a_figure_stays_with_its_unit_where_a_line_is_broken() -> None:
    assert wrapped("The axle of 120 kg costs 1,240.00 EUR with 21 % tax.", 36) == (
        "The axle of 120 kg costs\n1,240.00 EUR with 21 % tax."
    )
