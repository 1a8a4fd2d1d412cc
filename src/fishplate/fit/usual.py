"""Places where parts usually meet, offered where a build has the systems or parts for them and does not list them yet.

The foundation sheet comes first: the few dimensions most else rests on. What is added brings its dimensions with how to
take each, its conditions and its stand-in; whatever the build holds already under the same id is left as it is.
Conditions that are alike at every interface of a kind are templates of `trade`, put to the place's own dimensions.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from ..build import Build, Problem, Refused
from ..build.base import ThreePoint
from ..build.interfaces import Condition, Consequence, Dimension, Interface, StandIn, is_dimension_id
from ..build.units import parse_unit
from ..trade.templates import TemplateDimension, template
from .own_sheet import own_sheet, put_to
from .sentences import inner, list_words

FOUNDATION = "foundation"


@dataclass(frozen=True, slots=True)
class UsualInterface:
    """A place that is usually worth listing, and is not listed yet.

    Parameters
    ----------
    systems, parts : ids of the build's own that make it apply
    dimensions, conditions : names of what it brings; how, tools : to take each of the dimensions, and with what
    settles : names of the dimensions that the stand-in settles
    kind : what meets what, a word of `interface_kinds`; empty where no template is for it
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
    kind: str = ""
    how: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()


def usual_interfaces(build: Build) -> tuple[UsualInterface, ...]:
    """Places the build does not list yet, the foundation sheet first, then by what its own parts and systems ask for.

    Examples
    --------
    >>> from fishplate.build import build_from_data
    >>> build = build_from_data({"parts": [{"id": "wheel", "name": "Steel wheel"}]})
    >>> [item.id for item in usual_interfaces(build)][:2]
    ['foundation', 'tyre-arch-rear']
    """
    listed = _listed(build)
    rows = (row for row in _table()["place"] if row["id"] not in listed)
    places = [item for row in rows if (item := _offered(build, row)) is not None]
    ordered = sorted(places, key=lambda item: (not item.parts, -item.late_hours[1], item.id))
    return (*_sheet(build), *ordered)


def with_usual(build: Build, ids: Sequence[str]) -> Build:
    """The build with usual places added; raises Refused for an id that is not one, or a name used otherwise."""
    rows = {row["id"]: row for row in _table()["place"]}
    unknown = [key for key in ids if key != FOUNDATION and key not in rows]
    if unknown:
        raise Refused([_unknown(key, [FOUNDATION, *rows]) for key in unknown])
    chosen = [rows[key] for key in dict.fromkeys(ids) if key != FOUNDATION]
    own = own_sheet(build, _table()[FOUNDATION]["dimensions"])
    dimensions = [
        item for item in _dimensions(chosen, whole_sheet=FOUNDATION in ids) if own.get(item.id, item.id) == item.id
    ]
    faults = [fault for item in dimensions if (fault := _clash(build, item)) is not None]
    if faults:
        raise Refused(faults)
    added: dict[str, list[Any]] = {"dimensions": dimensions, "interfaces": [], "conditions": [], "stand_ins": []}
    for row in chosen:
        added["interfaces"].append(_interface(build, row))
        added["conditions"] += [put_to(condition, own) for condition in usual_conditions(row["id"])]
        added["stand_ins"] += _stand_ins(row)
    return build.model_copy(
        update={
            name: (*getattr(build, name), *(item for item in items if item.id not in build.index[name]))
            for name, items in added.items()
        }
    )


def known_words(place: str) -> tuple[tuple[str, ...], ...]:
    """Sets of words an interface about a usual place is known by; none if it is not a usual place.

    Examples
    --------
    >>> ("caliper", "wheel") in known_words("wheel-caliper")
    True
    """
    return tuple(tuple(words) for row in _table()["place"] if row["id"] == place for words in row["known_by"])


def _unknown(key: str, known: Sequence[str]) -> Problem:
    near = get_close_matches(key, known, n=3)
    do = f"Did you mean {list_words(near)}?" if near else "List them with --usual."
    return Problem("usual interfaces", "no-such-interface", "there is no usual interface of that name", key, do)


# --- what is offered -------------------------------------------------------------------------------------------------


def _sheet(build: Build) -> Iterator[UsualInterface]:
    sheet = _table()[FOUNDATION]
    own = own_sheet(build, sheet["dimensions"])
    missing = [item for key, item in _sheet_dimensions().items() if key not in own]
    if not missing:
        return
    name = sheet["name"] if len(missing) == len(_sheet_dimensions()) else f"The rest of the {inner(sheet['name'])}"
    text = f"{name}: {len(missing)} dimensions. {sheet['why']}"
    yield UsualInterface(
        FOUNDATION, name, (), (), tuple(item.name for item in missing), (), None, (), "", "first of all", (), "",
        sheet["why"], text, how=tuple(item.how for item in missing), tools=tuple(_with(item) for item in missing),
    )  # fmt: skip


def _offered(build: Build, row: Mapping[str, Any]) -> UsualInterface | None:
    systems, parts = _systems(build, row), _parts(build, row)
    if not systems and not parts:
        return None
    dimensions = brought(row["id"])
    return UsualInterface(
        id=row["id"],
        name=row["name"],
        systems=systems,
        parts=parts,
        dimensions=tuple(each.name for each in dimensions),
        conditions=tuple(each.name for each in usual_conditions(row["id"])),
        stand_in=row["stand_in"]["name"] if "stand_in" in row else None,
        hazards=tuple(row["hazards"]),
        consequence=row["consequence"],
        settle=row["settle"],
        late_hours=tuple(float(hours) for hours in row["late_hours"]),
        if_wrong=row["if_wrong"],
        check=row["check"],
        text=_text(row, dimensions),
        kind=row.get("kind", ""),
        how=tuple(each.how for each in dimensions),
        tools=tuple(_with(each) for each in dimensions),
        settles=tuple(each.name for each in dimensions if each.id in row.get("stand_in", {}).get("dimensions", ())),
    )


def _with(item: Dimension) -> str:
    return list_words(item.tools)


def _text(row: Mapping[str, Any], dimensions: Sequence[Dimension]) -> str:
    low, likely, high = row["late_hours"]
    shown = [inner(each.name) for each in dimensions]
    names = "; ".join(shown if len(shown) <= 3 else [*shown[:2], f"{len(shown) - 2} more"])
    aid = f" {row['stand_in']['name']} can stand in." if "stand_in" in row else ""
    late = f"Found late: {low:g} to {high:g} hours, {likely:g} likely"
    return f"{row['name']}, to settle {row['settle']}: {names}.{aid} {late}. {row['if_wrong']}"


def _listed(build: Build) -> frozenset[str]:
    """Usual places the build's interfaces are about already: by their id, else each the one its name says best."""
    rows = {row["id"]: row["known_by"] for row in _table()["place"]}
    others = [f"{item.name} {item.id}".replace("-", " ") for item in build.interfaces if item.id not in rows]
    best = (max((_said(text, known), key) for key, known in rows.items()) for text in others)
    return frozenset(rows.keys() & build.index["interfaces"].keys()) | {key for (_, words, _), key in best if words}


def _said(text: str, known_by: Sequence[Sequence[str]]) -> tuple[float, int, int]:
    """How near its beginning a name says all words of a set, for what it is about comes first; how many, how soon."""
    found = [[_word_at(word, text) for word in words] for words in known_by]
    return max(((-float(min(at)), len(at), -max(at)) for at in found if min(at) >= 0), default=(-math.inf, 0, 0))


def _systems(build: Build, row: Mapping[str, Any]) -> tuple[str, ...]:
    texts = {item.id: f"{item.name} {item.id}" for item in build.systems}
    return tuple(key for key, text in texts.items() if any(_begins_word(word, text) for word in row["systems"]))


def _parts(build: Build, row: Mapping[str, Any]) -> tuple[str, ...]:
    texts = {item.id: f"{item.name} {item.id} {item.category}" for item in build.parts}
    return tuple(key for key, text in texts.items() if any(_begins_word(word, text) for word in row["parts"]))


def _begins_word(word: str, text: str) -> bool:
    return _word_at(word, text) >= 0


def _word_at(word: str, text: str) -> int:
    """Where a word of a text begins so; -1 if none does."""
    found = re.search(rf"\b{re.escape(word)}", text.replace("_", " "), re.IGNORECASE)
    return -1 if found is None else found.start()


# --- what is added ---------------------------------------------------------------------------------------------------


def _interface(build: Build, row: Mapping[str, Any]) -> Interface:
    parts = _parts(build, row)
    of_parts = dict.fromkeys(system for part in parts if (system := build.find("parts", part).system) is not None)
    return Interface(
        id=row["id"],
        name=row["name"],
        kind=row.get("kind"),
        systems=_systems(build, row) or tuple(of_parts),
        parts=parts,
        stand_in=row["stand_in"]["id"] if "stand_in" in row else None,
        hazards=tuple(row["hazards"]),
        if_wrong=row["if_wrong"],
        check=f"{row['check']} To be settled {row['settle']}.",
    )


def _dimensions(rows: Sequence[Mapping[str, Any]], *, whole_sheet: bool) -> Iterator[Dimension]:
    """The dimensions that places bring, and those of the foundation sheet that their conditions name."""
    named = {name for row in rows for condition in usual_conditions(row["id"]) for name in condition.names}
    for key, dimension in _sheet_dimensions().items():
        if whole_sheet or key in named:
            yield dimension
    seen: set[str] = set()
    for row in rows:
        yield from (item for item in brought(row["id"]) if item.id not in seen)
        seen |= {item.id for item in brought(row["id"])}


@lru_cache(maxsize=1)
def _sheet_dimensions() -> dict[str, Dimension]:
    return {row["id"]: _dimension({**row, "foundation": True}) for row in _table()[FOUNDATION]["dimensions"]}


@cache
def brought(place: str) -> tuple[Dimension, ...]:
    """Dimensions a place brings, those of the foundation sheet left out: its own, then what its templates ask for."""
    row = _row(place)
    asked = dict(_asked_for(row))
    own = [{**fields, "how": fields.get("how") or _how(asked, fields["id"])} for fields in row["dimensions"]]
    known = {*_sheet_dimensions(), *(fields["id"] for fields in own)}
    more = [item.model_dump() | {"id": id_} for id_, item in asked.items() if id_ not in known]
    return tuple(_dimension(fields) for fields in (*own, *more))


def _asked_for(row: Mapping[str, Any]) -> Iterator[tuple[str, TemplateDimension]]:
    """(id in the build, dimension of a template that it stands for)"""
    for fields in row.get("templates", ()):
        for item in template(fields["template"]).dimensions:
            put = fields.get("with", {}).get(item.id, item.id)
            if is_dimension_id(put):
                yield put, item


def _how(asked: Mapping[str, TemplateDimension], id_: str) -> str:
    return asked[id_].how if id_ in asked else ""


def _dimension(fields: Mapping[str, Any]) -> Dimension:
    kept = {name: value for name, value in fields.items() if name != "known_by"}
    return Dimension.model_validate({**kept, "tools": tuple(fields.get("tools", ()))})


def _clash(build: Build, item: Dimension) -> Problem | None:
    """A dimension of the build that has the same id and is another kind of thing."""
    own: Dimension | None = build.index["dimensions"].get(item.id)
    if own is None or (own.designates == item.designates and parse_unit(own.unit).kind == parse_unit(item.unit).kind):
        return None
    what = f"the build has a dimension of this id that is not a {item.designates or parse_unit(item.unit).kind}"
    return Problem(f"dimensions ({item.id})", "id-taken", what, own.name, "Give yours another id first.")


@cache
def usual_conditions(place: str) -> tuple[Condition, ...]:
    """Conditions a place brings: from templates, then its own; what a misfit costs goes by the place."""
    row = _row(place)
    low, likely, high = row["late_hours"]
    late = {"low": low, "likely": likely, "high": high}
    common = {
        "interface": row["id"],
        "consequence": row["consequence"],
        "late_hours": late,
        "source": _table()["limit_source"],
    }
    from_templates = [_from_template(row, fields, late) for fields in row.get("templates", ())]
    return (*from_templates, *(Condition.model_validate({**common, **fields}) for fields in row["conditions"]))


def _from_template(row: Mapping[str, Any], fields: Mapping[str, Any], late: Mapping[str, float]) -> Condition:
    """A template over the place's own dimensions, as grave as the graver of the two."""
    chosen = template(fields["template"])
    names = {name: fields.get("with", {}).get(name, name) for name in chosen.names}
    made = chosen.condition(fields["id"], row["id"], names)
    grave = max(made.consequence, Consequence(row["consequence"]), key=list(Consequence).index)
    changed = {"name": fields.get("name", made.name), "consequence": grave, "late_hours": ThreePoint(**late)}
    return made.model_copy(update=changed)


def _stand_ins(row: Mapping[str, Any]) -> list[StandIn]:
    return [StandIn.model_validate(row["stand_in"])] if "stand_in" in row else []


def _row(place: str) -> Mapping[str, Any]:
    return next(row for row in _table()["place"] if row["id"] == place)


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(files("fishplate.fit").joinpath("data/usual_interfaces.toml").read_text("utf-8"))
