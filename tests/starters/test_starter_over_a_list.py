"""A starter brought into a build that began with a list: headings and sizes of the owner's own double nothing."""

from __future__ import annotations

import pytest

from fishplate.build import Build
from fishplate.build.parts import Part, System
from fishplate.starters import merge, starter
from fishplate.starters.matching import matches

HEADINGS = {"brakes-and-corners": "Brakes and corners", "wheels": "Wheels"}
LIST = {
    "Front calipers and brackets": ("brakes-and-corners", "new-calipers"),
    "Front discs": ("brakes-and-corners", "new-discs"),
    "Rear brake parts with handbrake": ("brakes-and-corners", "rear-brake-parts"),
    "Springs": ("brakes-and-corners", "new-springs"),
    "Wheels 16 x 6,5": ("wheels", "new-wheels"),
    "Tyres 215/70 R 16": ("wheels", "new-tyres"),
}


@pytest.fixture(scope="module")
def listed() -> Build:
    """A build as a list under headings leaves it."""
    parts = tuple(Part(id=f"own-{at}", name=name, system=LIST[name][0]) for at, name in enumerate(LIST))
    return Build(systems=tuple(System(id=id_, name=name) for id_, name in HEADINGS.items()), parts=parts)


def test_parts_under_headings_of_ones_own_are_found(listed: Build) -> None:
    same = {each.id: each.own_name for each in merge(listed, starter("brakes-suspension-wheels")).same}
    assert {id_: same.get(id_) for _, id_ in LIST.values()} == {id_: name for name, (_, id_) in LIST.items()}


def test_what_was_found_is_found_again(listed: Build) -> None:
    once = merge(listed, starter("brakes-suspension-wheels")).build
    again = merge(once, starter("brakes-suspension-wheels"))
    assert again.added == ()
    assert again.build == once


def test_a_part_of_one_name_under_another_heading_can_be_held_apart(listed: Build) -> None:
    found = merge(listed, starter("brakes-suspension-wheels"), apart=[("parts", "rear-brake-parts")])
    names = [part.name for part in found.build.parts]
    assert names.count("Rear brake parts with handbrake") == 2


def test_a_part_of_another_of_the_starters_areas_is_not_taken(listed: Build) -> None:
    moved = tuple(part.model_copy(update={"system": "wheels"}) for part in listed.parts)
    found = merge(listed.model_copy(update={"parts": moved}), starter("brakes-suspension-wheels"))
    assert "new-springs" not in {each.id for each in found.same}


def test_a_size_the_starter_names_is_not_overlooked() -> None:
    starter_ = Build(parts=(Part(id="bolt", name="Bolt M10"),))
    build = Build(parts=(Part(id="own", name="Bolt M8 x 20"),))
    found = matches(build, starter_)
    assert not found.same
