"""The foundation sheet of a build: which of its usual dimensions the owner has already, under a name of their own."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from ..build import Build
from ..build.interfaces import Condition, Dimension
from ..build.units import parse_unit


def own_sheet(build: Build, rows: Sequence[Mapping[str, Any]]) -> Mapping[str, str]:
    """Usual dimension -> the build's own that stands for it: of that id, else the only one its name is said of.

    Parameters
    ----------
    rows : the usual dimensions, each with its id, its unit and the sets of words it is `known_by`
    """
    found = {}
    for row in rows:
        own = [row["id"]] if row["id"] in build.index["dimensions"] else [
            item.id for item in build.dimensions if item.foundation and _is_it(item, row)
        ]  # fmt: skip
        if len(own) == 1:
            found[row["id"]] = own[0]
    return found


def put_to(condition: Condition, names: Mapping[str, str]) -> Condition:
    """A condition over the dimensions that stand for those it names."""
    texts = {name: getattr(condition, name) for name in ("expression", "at_least", "at_most")}
    changed: dict[str, Any] = {name: _renamed(text, names) for name, text in texts.items() if text is not None}
    if condition.mates is not None:
        changed["mates"] = tuple(names.get(each, each) for each in condition.mates)
    return condition.model_copy(update=changed)


def _renamed(text: str, names: Mapping[str, str]) -> str:
    return re.sub(r"[a-z]\w*", lambda word: names.get(word[0], word[0]), text)


def _is_it(item: Dimension, row: Mapping[str, Any]) -> bool:
    alike = item.designates is None and parse_unit(item.unit).kind == parse_unit(row.get("unit", "mm")).kind
    return alike and any(
        all(re.search(rf"\b{re.escape(word)}", item.name, re.IGNORECASE) for word in words) for words in row["known_by"]
    )
