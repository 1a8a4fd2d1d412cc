"""Starters: what a kind of rebuild usually takes, as systems, parts, decisions, jobs and places where parts meet.

Each is a TOML file in `outlines/`; what most rebuilds share stands in `common.toml`, and places with their dimensions,
conditions and stand-ins are those the engine of fit knows. Nothing in a starter is a price, a size or a date. How a
builder would score the options stands in its views, common practice or from memory.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from ..build import Build, Problem, Refused, build_from_data
from ..fit.usual import FOUNDATION, with_usual
from .reading import plain, with_links

NAMES = ("engine-swap", "electric-conversion", "off-road-axles", "brakes-suspension-wheels", "body-and-paint")
_FROM_PLACES = ("dimensions", "interfaces", "conditions", "stand_ins")


@dataclass(frozen=True, slots=True)
class Starter:
    """A kind of rebuild.

    Parameters
    ----------
    build : what it brings, as a build of its own
    known_by : words by which a job, decision or part of that id is known in another build
    """

    name: str
    title: str
    about: str
    build: Build
    known_by: Mapping[str, Any]


def starters() -> tuple[Starter, ...]:
    """Every starter, the largest change first."""
    return tuple(starter(name) for name in NAMES)


@cache
def starter(name: str) -> Starter:
    """A starter by its name.

    Raises
    ------
    Refused
        if there is none of that name

    Examples
    --------
    >>> starter("body-and-paint").title
    'Body and paint'
    """
    if name not in NAMES:
        raise Refused([Problem("starters", "no-such-starter", "there is no such starter", name, _choose())])
    text = _read(name)
    data = {key: plain(value, key) for key, value in text.items() if key in Build.model_fields}
    data["name"] = text["title"]
    _add_common(data, text)
    _add_views(data, {**_read("common")["views"], **text["views"]})
    _add_commitments(data, {**_read("common")["commits"], **text["commits"]})
    _add_places(data, text)
    known_by = {**_read("common")["known_by"], **text.get("known_by", {})}
    return Starter(name, text["title"], text["about"], build_from_data(data, source=f"starter {name}"), known_by)


def _choose() -> str:
    return f"Choose one of {', '.join(NAMES)}."


def _add_common(data: dict[str, Any], text: dict[str, Any]) -> None:
    """What most rebuilds share; a job that stands in both keeps the links of both."""
    shared, wanted = _common(), text["common"]
    own = {job["id"]: job for job in with_links(data["jobs"])}
    for job in shared["jobs"]:
        if job["id"] in wanted["jobs"]:
            known = own.pop(job["id"], {})
            asked = [id_ for id_ in job.get("decisions", ()) if id_ in wanted["decisions"]]
            own[job["id"]] = {**job, "decisions": asked, "after": [*job["after"], *known.get("after", ())]}
    data["jobs"] = list(own.values())
    listed = [item for item in shared["decisions"] if item["id"] in wanted["decisions"]]
    data["decisions"] = [dict(item) for item in (*listed, *data["decisions"])]
    for name in ("requirements", "allowances"):
        data[name] = [*shared[name], *data.get(name, ())]
    for name, users in (("systems", ("parts", "jobs")), ("workshops", ("jobs",)), ("states", ("jobs",))):
        used = {id_ for user in users for noun in data[user] for id_ in _named(noun, name)}
        data[name] = [item for item in shared[name] if item["id"] in used]


def _named(noun: dict[str, Any], name: str) -> list[str]:
    field = {"systems": "system", "workshops": "workshop", "states": "changes"}[name]
    value = noun.get(field) or []
    return [value] if isinstance(value, str) else value


def _add_views(data: dict[str, Any], views: Mapping[str, Any]) -> None:
    """What matters in each decision, and how good each option is by it: in order of weight, no swing compared."""
    for decision in (listed := [item for item in data["decisions"] if item["id"] in views]):
        view = views[decision["id"]]
        note = f"A starting value, {view['whence']}; yours wins."
        decision["swings"] = [{"criterion": criterion} for criterion in view["by"]]
        decision["options"] = [
            {
                **option,
                "scores": [
                    {"criterion": criterion, "points": plain(points, "points"), "note": note}
                    for criterion, points in zip(view["by"], view[option["id"]], strict=True)
                ],
            }
            for option in decision["options"]
        ]
    named = {swing["criterion"] for decision in listed for swing in decision["swings"]}
    data["criteria"] = [item for item in _common()["criteria"] if item["id"] in named]


def _add_commitments(data: dict[str, Any], commits: Mapping[str, str]) -> None:
    """What an option commits to, as its note."""
    for decision in data["decisions"]:
        decision["options"] = [
            {**option, "note": f"{commits[option['id']]} Common practice."} if option["id"] in commits else option
            for option in decision["options"]
        ]


def _add_places(data: dict[str, Any], text: dict[str, Any]) -> None:
    """Places where parts meet, with what fit knows of them, settled and closed by the starter's jobs."""
    bare = Build.model_validate({name: data[name] for name in ("systems", "parts")})
    sheet = [FOUNDATION] if text["foundation"] else []
    build = with_usual(bare, [*sheet, *(row["place"] for row in text["places"])])
    for name in _FROM_PLACES:
        data[name] = [noun.model_dump(mode="json", exclude_defaults=True) for noun in getattr(build, name)]
    when = {row["place"]: row for row in text["places"]}
    for interface in data["interfaces"]:
        row = when[interface["id"]]
        interface |= {field: row[field] for field in ("settle_by", "closed_by") if field in row}


@lru_cache(maxsize=1)
def _common() -> dict[str, Any]:
    data = {
        key: plain(value, key) for key, value in _read("common").items() if key not in ("known_by", "views", "commits")
    }
    data["jobs"] = with_links(data["jobs"])
    return data


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((files(__package__) / "outlines" / f"{name}.toml").read_text(encoding="utf-8"))
