"""Figures on the command line: nothing that is no figure gets past an option."""

from __future__ import annotations

from collections.abc import Iterator

import click
import pytest

from fishplate.cli import cli
from fishplate.cli.common import Within


def options(command: click.Command, name: str = "fishplate") -> Iterator[tuple[str, click.Parameter]]:
    if isinstance(command, click.Group):
        context = click.Context(command)
        for each in command.list_commands(context):
            found = command.get_command(context, each)
            assert found is not None
            yield from options(found, each)
    for parameter in command.params:
        yield f"{name} {parameter.name}", parameter


def test_every_figure_within_limits_is_a_figure() -> None:
    ranges = {name: each.type for name, each in options(cli) if isinstance(each.type, click.FloatRange)}
    assert len(ranges) >= 10
    assert [name for name, type_ in ranges.items() if not isinstance(type_, Within)] == []


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1e999"])
def test_what_is_no_figure_is_refused(text: str) -> None:
    with pytest.raises(click.BadParameter):
        Within().convert(text, None, None)


def test_no_seed_is_below_nought() -> None:
    seeds = {name: each.type for name, each in options(cli) if each.name == "seed"}
    assert len(seeds) >= 4
    assert [name for name, type_ in seeds.items() if not isinstance(type_, click.IntRange) or type_.min != 0] == []
