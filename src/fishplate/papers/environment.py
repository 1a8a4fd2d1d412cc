"""The templates every paper is made from, and how they print a day."""

from __future__ import annotations

from datetime import date

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from ..build.words import day_words


def paper_environment() -> Environment:
    """The templates of this room: what is missing is a fault, and what is printed is escaped."""
    environment = Environment(
        loader=PackageLoader("fishplate.papers"),
        autoescape=select_autoescape(),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["day"] = _day
    return environment


def _day(value: date | None) -> str:
    return "later than can be told" if value is None else day_words(value)
