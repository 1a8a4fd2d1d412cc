"""What to lay out for a job: parts with where they lie, what is used up, tools, and the steps it is done in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from ..build import Build, Facts
from ..build.jobs import Job
from ..build.parts import Part
from ..build.words import joined
from .network import needed_from, share_done

# Categories of what is used up rather than fitted; anything counted by length, mass or volume is too.
USED_UP: Final = frozenset({"chemicals", "consumables", "fluids", "paint", "sealants", "welding"})
BY_PIECE: Final = frozenset({"each", "pair", "set", "sheet", "kit", "piece"})


class Laid(NamedTuple):
    """A part to lay out.

    Parameters
    ----------
    quantity : how many the build needs, in `unit`; places : where they lie and how many, "" where nobody said
    on_vehicle : how many are fitted already; to_try : it is only tried, to be kept as it came
    """

    part: str
    name: str
    quantity: float
    unit: str
    places: tuple[tuple[str, float], ...]
    on_vehicle: float
    to_try: bool

    @property
    def where(self) -> str:
        """Where it lies, in words.

        Examples
        --------
        >>> Laid("hose", "Hose", 2, "each", (("loft", 1.0), ("", 1.0)), 0, to_try=False).where
        '1 in loft, 1 where nobody said'
        """
        many = len(self.places) + bool(self.on_vehicle) > 1
        said = [f"{count:g} {_at(place)}" if many else _at(place).removeprefix("in ") for place, count in self.places]
        if self.on_vehicle:
            said.append(f"{self.on_vehicle:g} on the vehicle" if many else "on the vehicle")
        return ", ".join(said)


def _at(place: str) -> str:
    if not place:
        return "where nobody said"
    return place if place.split()[0].casefold() in _PLACE_WORDS else f"in {place}"


_PLACE_WORDS: Final = frozenset({"in", "on", "at", "under", "behind", "beside", "by", "above", "below", "with"})


@dataclass(frozen=True, slots=True)
class LaidOut:
    """What to lay out for a job.

    Parameters
    ----------
    parts, used_up : what goes to the vehicle, and what is used up on it, as far as it is here
    steps : what is done, one after the other, from the job's note; stops : stop points ahead, with what they wait for
    """

    parts: tuple[Laid, ...]
    used_up: tuple[Laid, ...]
    tools: tuple[str, ...]
    steps: tuple[str, ...]
    stops: tuple[str, ...]


def laid_out(build: Build, facts: Facts, job: Job) -> LaidOut:
    """What to lay out for a job, of what is owned."""
    found = list(_laid(build, facts, job))
    return LaidOut(
        parts=tuple(item for item in found if not _is_used_up(build.find("parts", item.part))),
        used_up=tuple(item for item in found if _is_used_up(build.find("parts", item.part))),
        tools=job.tools,
        steps=tuple(line.strip() for line in job.note.splitlines() if line.strip()),
        stops=tuple(_stops(build, facts, job)),
    )


def _laid(build: Build, facts: Facts, job: Job) -> Iterator[Laid]:
    for id_ in needed_from(facts, job):
        part: Part = build.find("parts", id_)
        lies = facts.lies.get(id_)
        if lies is None or lies.owned <= 0:
            continue
        places = tuple(sorted((place, count) for place, count in lies.places.items() if count > 0))
        to_try = id_ in job.to_try and id_ not in job.to_keep
        yield Laid(id_, part.name, part.quantity, part.unit, places, lies.fitted, to_try)


def _is_used_up(part: Part) -> bool:
    return part.category.casefold() in USED_UP or part.unit.casefold() not in BY_PIECE


def _stops(build: Build, facts: Facts, job: Job) -> Iterator[str]:
    done = share_done(job, facts)
    for stop in sorted(job.stop_points, key=lambda stop: stop.share):
        if stop.share > done:
            missing = [f"“{build.find('parts', id_).name}”" for id_ in stop.without]
            name = stop.name or f"{stop.share:.0%}".replace("%", " %")
            yield f"Can rest at: {name}" + (f", before it takes {joined(missing)}." if missing else ".")
