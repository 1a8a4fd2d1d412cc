"""What rests on something, in words: it can't be taken out while anything does."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from ..build import Build, Problem, Refused
from ..build.document import referring
from ..build.words import day_words, joined
from .dimensions import dimensions_of

_KINDS: Final = {
    "interfaces": "the interface", "conditions": "the condition", "stand_ins": "the stand-in", "jobs": "the job",
    "gates": "the gate", "releases": "the order held for", "decisions": "the decision", "readings": "the reading of",
    "events": "what happened on", "correlations": "the link of", "settled": "what was seen at",
    "requirements": "what an inspector asks:", "evidence": "the evidence",
    "dimensions": "the dimension", "suppliers": "the freight of", "collections": "the trip",
}  # fmt: skip
MOST: Final = 4


def resting(build: Build, list_name: str, id_: str, *, but: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """What rests on a noun, each in words.

    Parameters
    ----------
    but : lists whose nouns go with it
    """
    found = [_named(build, name, noun) for name, noun in referring(build, list_name, id_) if name not in but]
    if list_name == "dimensions":
        found += [_named(build, "conditions", noun) for noun in _conditions(build, id_)]
    return tuple(dict.fromkeys(found))


def refuse_resting(what: str, found: tuple[str, ...]) -> None:
    """Refuse to take something out that others rest on; raises Refused."""
    if found:
        shown = [*found[:MOST], f"{len(found) - MOST} more"] if len(found) > MOST else list(found)
        verb = "rests" if len(found) == 1 else "rest"
        words = f"{joined(shown)} {verb} on it"
        raise Refused([Problem("", "in-use", words, what[:60], "Change or take out what rests on it first.")])


def _conditions(build: Build, dimension: str) -> Iterator[Any]:
    return (item for item in build.conditions if dimension in dimensions_of(item))


def _named(build: Build, list_name: str, noun: Any) -> str:
    kind = _KINDS.get(list_name, list_name)
    match list_name:
        case "correlations":
            names = [build.find("dimensions", each).name for each in (noun.first, noun.second)]
            return f"{kind} “{names[0]}” with “{names[1]}”"
        case "settled":
            return f"{kind} “{build.find('interfaces', noun.interface).name}”"
        case "readings":
            return f"{kind} “{build.find('dimensions', noun.dimension).name}”"
        case "evidence":
            return f"{kind} “{noun.what}”"
        case "events":
            return f"{kind} {day_words(noun.day)}"
        case "releases":
            held = build.find("parts", noun.part).name if noun.part else noun.id
            return f"{kind} “{held}”"
        case _:
            return f"{kind} “{getattr(noun, 'name', noun.id)}”"
