"""What a plan takes for granted, as sentences by kind."""

from __future__ import annotations

from collections import defaultdict
from typing import Final

from ..build import Build
from .model import Plan

_NAMED: Final = (
    *((kind[:-1], kind) for kind in ("parts", "suppliers", "decisions", "dimensions", "interfaces", "jobs")),
    *(("decide", "decisions"), ("measure", "dimensions"), ("do", "jobs")),  # what the owner put off
)


def granted(plan: Plan, build: Build) -> tuple[tuple[str, ...], ...]:
    """Every assumption, named by what it is about, those of a kind together; kinds in the order they first come.

    A thing that is no longer in the build goes without its name.
    """
    names = _names(build)
    kinds: dict[str, list[str]] = defaultdict(list)
    for assumption in plan.assumptions:
        about, text = names.get(assumption.about, ""), str(assumption)
        said = f"{about}: {text}" if about and about not in text else text
        kinds[assumption.code].append(said[:1].upper() + said[1:] + ("" if said.endswith((".", "?")) else "."))
    return tuple(tuple(dict.fromkeys(texts)) for texts in kinds.values())


def _names(build: Build) -> dict[str, str]:
    """What an assumption can be about -> its name; of an offer, what it brings."""
    named = {f"{word} {id_}": str(noun.name) for word, kind in _NAMED for id_, noun in build.index[kind].items()}
    for offer in build.offers:
        brought = build.find("parts", offer.part) if offer.part else build.find("kits", offer.kit or "")
        named[f"offer {offer.id}"] = brought.name
    return named
