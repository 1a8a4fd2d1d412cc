"""From a field that a noun can't take to a problem in a person's words, with its place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from .base import Country, DimensionId, Heading, Id
from .problem import Problem

_WORDS = {
    "extra_forbidden": ("unknown-field", "a field Fishplate does not know", "Remove it, or check its spelling."),
    "missing": ("missing-field", "a field that must be there is missing", "Add it."),
    "tuple_type": ("not-a-list", "a list belongs here", "Write it in [ ], also if it is only one."),
    "model_type": ("not-an-object", "an object with fields belongs here", "Write it in { }."),
    "model_attributes_type": ("not-an-object", "an object with fields belongs here", "Write it in { }."),
    "union_tag_not_found": ("missing-field", "its kind is missing", 'Say what happened, as in "kind": "arrived".'),
}

_BOUNDS = {
    "greater_than_equal": "must be at least",
    "greater_than": "must be more than",
    "less_than_equal": "must be at most",
    "less_than": "must be less than",
}


def _pattern(annotated: Any) -> str:
    return str(annotated.__metadata__[0].pattern)


_SHAPES = {
    _pattern(Id): ("not an id", "Use lower-case letters, digits, - and _, and begin with a letter or digit."),
    _pattern(DimensionId): ("not an id of a dimension", "Use lower-case letters, digits and _; begin with a letter."),
    _pattern(Country): ("not a country code", "Use two capital letters after ISO 3166, such as DE or GB."),
    _pattern(Heading): ("not a tariff heading", "Use 4, 6, 8 or 10 digits without dots."),
}


def field_faults(error: ValidationError, raw: Any, source: str) -> Iterator[Problem]:
    """Every fault found in the data of a document.

    Parameters
    ----------
    raw : the data, in which ids of the places are looked up
    source : the document's name, first word of every place
    """
    for detail in error.errors(include_url=False):
        yield _problem_of(detail, raw, source)


def _problem_of(detail: ErrorDetails, raw: Any, source: str) -> Problem:
    code, what, do = fault_words(detail)
    got = detail.get("input")
    shown = "" if detail["type"] == "missing" or isinstance(got, dict | list | BaseModel) else _short(got)
    return Problem(_place(detail["loc"], raw, source), code, what, shown, do)


def fault_words(detail: ErrorDetails) -> tuple[str, str, str]:
    """Code of a fault in a field, what is wrong, and what to do."""
    kind, context = detail["type"], detail.get("ctx", {})
    if kind in _WORDS:
        return _WORDS[kind]
    code = kind.replace("_", "-")
    if kind == "union_tag_invalid":
        return code, f"{context['tag']!r} is no kind of event", f"Use one of {context['expected_tags']}."
    if kind == "string_pattern_mismatch" and context["pattern"] in _SHAPES:
        return code, *_SHAPES[context["pattern"]]
    if kind in _BOUNDS:
        (bound,) = (value for name, value in context.items() if name in ("ge", "gt", "le", "lt"))
        return code, f"{_BOUNDS[kind]} {np.format_float_positional(bound, trim='-')}", "Correct it."
    what = detail["msg"].removeprefix("Value error, ").rstrip(".")
    return code, what[:1].lower() + what[1:], "Correct it."


def _short(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _printable(text: str) -> str:
    """Text that is safe on a terminal and in a log."""
    return _short(text) if text.isprintable() else ascii(_short(text))[1:-1]


def _place(loc: tuple[int | str, ...], raw: Any, source: str) -> str:
    words, here = [source], raw
    for step in loc:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            # pydantic names the member of a union, which is not in the data
            if isinstance(step, str) and step in _UNION_TAGS:
                continue
            here = None
        if isinstance(step, int):
            name = here.get("id") if isinstance(here, dict) else None
            words[-1] += f" {step + 1}" + (f" ({_printable(name)})" if isinstance(name, str) else "")
        else:
            words.append(_printable(str(step)))
    return ", ".join(words)


_UNION_TAGS = {"ordered", "paid", "arrived", "checked", "fitted", "returned", "cancelled", "worked", "changed"}
