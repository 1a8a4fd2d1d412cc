"""Places where parts usually meet, offered where a build has the systems or parts for them and does not list them yet.

The foundation sheet comes first: the few dimensions most else rests on. What is added brings its dimensions, conditions
and stand-in; whatever the build holds already under the same id is left as it is.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from typing import Any

from ..build import Build, Problem, Refused
from ..build.interfaces import Condition, Dimension, Interface, StandIn
from ..build.units import parse_unit
from .sentences import inner, list_words

FOUNDATION = "foundation"
# A build with so many dimensions on its foundation sheet has one.
_SHEET = 5


@dataclass(frozen=True, slots=True)
class UsualInterface:
    """A place that is usually worth listing, and is not listed yet.

    Parameters
    ----------
    systems, parts : ids of the build's own that make it apply
    dimensions, conditions : names of what it brings
    late_hours : rework where the misfit is found late, low, likely, high [h]; empty for the foundation sheet
    """

    id: str
    name: str
    systems: tuple[str, ...]
    parts: tuple[str, ...]
    dimensions: tuple[str, ...]
    conditions: tuple[str, ...]
    stand_in: str | None
    hazards: tuple[str, ...]
    consequence: str
    settle: str
    late_hours: tuple[float, ...]
    if_wrong: str
    check: str
    text: str


def usual_interfaces(build: Build) -> tuple[UsualInterface, ...]:
    """Places the build does not list yet, the foundation sheet first, then by what its own parts and systems ask for.

    Examples
    --------
    >>> from fishplate.build import build_from_data
    >>> build = build_from_data({"parts": [{"id": "wheel", "name": "Steel wheel"}]})
    >>> [item.id for item in usual_interfaces(build)][:2]
    ['foundation', 'tyre-arch-rear']
    """
    places = [item for row in _table()["place"] if (item := _offered(build, row)) is not None]
    ordered = sorted(places, key=lambda item: (not item.parts, -item.late_hours[1], item.id))
    return (*_sheet(build), *ordered)


def with_usual(build: Build, ids: Sequence[str]) -> Build:
    """The build with usual places added; raises Refused for an id that is not one, or a name used otherwise."""
    rows = {row["id"]: row for row in _table()["place"]}
    unknown = [key for key in ids if key != FOUNDATION and key not in rows]
    if unknown:
        raise Refused([_unknown(key, [FOUNDATION, *rows]) for key in unknown])
    chosen = [rows[key] for key in dict.fromkeys(ids) if key != FOUNDATION]
    dimensions = list(_dimensions(chosen, whole_sheet=FOUNDATION in ids))
    faults = [fault for item in dimensions if (fault := _clash(build, item)) is not None]
    if faults:
        raise Refused(faults)
    added: dict[str, list[Any]] = {"dimensions": dimensions, "interfaces": [], "conditions": [], "stand_ins": []}
    for row in chosen:
        added["interfaces"].append(_interface(build, row))
        added["conditions"] += _conditions(row)
        added["stand_ins"] += _stand_ins(row)
    return build.model_copy(
        update={
            name: (*getattr(build, name), *(item for item in items if item.id not in build.index[name]))
            for name, items in added.items()
        }
    )


def _unknown(key: str, known: Sequence[str]) -> Problem:
    near = get_close_matches(key, known, n=3)
    do = f"Did you mean {list_words(near)}?" if near else "List them with --usual."
    return Problem("usual interfaces", "no-such-interface", "there is no usual interface of that name", key, do)


# --- what is offered -------------------------------------------------------------------------------------------------


def _sheet(build: Build) -> Iterator[UsualInterface]:
    sheet = _table()[FOUNDATION]
    if sum(dimension.foundation for dimension in build.dimensions) >= _SHEET:
        return
    names = tuple(row["name"] for row in sheet["dimensions"] if row["id"] not in build.index["dimensions"])
    text = f"{sheet['name']}: {len(names)} dimensions. {sheet['why']}"
    yield UsualInterface(
        FOUNDATION, sheet["name"], (), (), names, (), None, (), "", "first of all", (), "", sheet["why"], text
    )


def _offered(build: Build, row: Mapping[str, Any]) -> UsualInterface | None:
    if row["id"] in build.index["interfaces"] or _is_listed(build, row["known_by"]):
        return None
    systems, parts = _systems(build, row), _parts(build, row)
    if not systems and not parts:
        return None
    return UsualInterface(
        id=row["id"],
        name=row["name"],
        systems=systems,
        parts=parts,
        dimensions=tuple(each["name"] for each in row["dimensions"]),
        conditions=tuple(each["name"] for each in row["conditions"]),
        stand_in=row["stand_in"]["name"] if "stand_in" in row else None,
        hazards=tuple(row["hazards"]),
        consequence=row["consequence"],
        settle=row["settle"],
        late_hours=tuple(float(hours) for hours in row["late_hours"]),
        if_wrong=row["if_wrong"],
        check=row["check"],
        text=_text(row),
    )


def _text(row: Mapping[str, Any]) -> str:
    low, likely, high = row["late_hours"]
    shown = [inner(each["name"]) for each in row["dimensions"]]
    names = "; ".join(shown if len(shown) <= 3 else [*shown[:2], f"{len(shown) - 2} more"])
    aid = f" {row['stand_in']['name']} can stand in." if "stand_in" in row else ""
    late = f"Found late: {low:g} to {high:g} hours, {likely:g} likely"
    return f"{row['name']}, to settle {row['settle']}: {names}.{aid} {late}. {row['if_wrong']}"


def _is_listed(build: Build, known_by: Sequence[Sequence[str]]) -> bool:
    """Whether an interface of the build is about this place already, by its name or id."""
    texts = [f"{item.name} {item.id}".replace("-", " ") for item in build.interfaces]
    return any(all(_begins_word(word, text) for word in words) for words in known_by for text in texts)


def _systems(build: Build, row: Mapping[str, Any]) -> tuple[str, ...]:
    texts = {item.id: f"{item.name} {item.id}" for item in build.systems}
    return tuple(key for key, text in texts.items() if any(_begins_word(word, text) for word in row["systems"]))


def _parts(build: Build, row: Mapping[str, Any]) -> tuple[str, ...]:
    texts = {item.id: f"{item.name} {item.id} {item.category}" for item in build.parts}
    return tuple(key for key, text in texts.items() if any(_begins_word(word, text) for word in row["parts"]))


def _begins_word(word: str, text: str) -> bool:
    return re.search(rf"\b{re.escape(word)}", text.replace("_", " "), re.IGNORECASE) is not None


# --- what is added ---------------------------------------------------------------------------------------------------


def _interface(build: Build, row: Mapping[str, Any]) -> Interface:
    return Interface(
        id=row["id"],
        name=row["name"],
        systems=_systems(build, row),
        parts=_parts(build, row),
        stand_in=row["stand_in"]["id"] if "stand_in" in row else None,
        hazards=tuple(row["hazards"]),
        if_wrong=row["if_wrong"],
        check=f"{row['check']} To be settled {row['settle']}.",
    )


def _dimensions(rows: Sequence[Mapping[str, Any]], *, whole_sheet: bool) -> Iterator[Dimension]:
    """The dimensions that places bring, and those of the foundation sheet that their conditions name."""
    sheet = {row["id"]: {**row, "foundation": True} for row in _table()[FOUNDATION]["dimensions"]}
    named = {name for row in rows for condition in _conditions(row) for name in condition.names}
    for key, fields in sheet.items():
        if whole_sheet or key in named:
            yield _dimension(fields)
    for row in rows:
        yield from (_dimension(fields) for fields in row["dimensions"])


def _dimension(fields: Mapping[str, Any]) -> Dimension:
    return Dimension.model_validate({**fields, "tools": tuple(fields.get("tools", ()))})


def _clash(build: Build, item: Dimension) -> Problem | None:
    """A dimension of the build that has the same id and is another kind of thing."""
    own: Dimension | None = build.index["dimensions"].get(item.id)
    if own is None or (own.designates == item.designates and parse_unit(own.unit).kind == parse_unit(item.unit).kind):
        return None
    what = f"the build has a dimension of this id that is not a {item.designates or parse_unit(item.unit).kind}"
    return Problem(f"dimensions ({item.id})", "id-taken", what, own.name, "Give yours another id first.")


def _conditions(row: Mapping[str, Any]) -> list[Condition]:
    low, likely, high = row["late_hours"]
    common = {
        "interface": row["id"],
        "consequence": row["consequence"],
        "late_hours": {"low": low, "likely": likely, "high": high},
        "source": _table()["limit_source"],
    }
    return [Condition.model_validate({**common, **fields}) for fields in row["conditions"]]


def _stand_ins(row: Mapping[str, Any]) -> list[StandIn]:
    return [StandIn.model_validate(row["stand_in"])] if "stand_in" in row else []


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("fishplate.fit").joinpath("data/usual_interfaces.toml").read_text("utf-8"))
