"""Pairs of invented names, one as a starter has it and one as an owner may: the same, or not.

The names and which of them are one are our own, by common practice. Each pair stands alone in a build and a starter.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from fishplate.build import Build
from fishplate.build.base import ThreePoint
from fishplate.build.decisions import Decision, Option
from fishplate.build.interfaces import Interface
from fishplate.build.jobs import Job
from fishplate.build.parts import Part, Phase, System
from fishplate.starters import starter
from fishplate.starters.matching import Found, matches

# list, id in the starter, name in the starter, name of one's own, whether they are one
PAIRS = [
    ("parts", "a", "Anti-roll bar links", "Anti-roll bar link", True),
    ("parts", "a", "Tyres as chosen", "Tyre 205/75 R 16 C", True),
    ("parts", "a", "Springs", "Springs, wound to order", True),
    ("parts", "a", "Epoxy primer with hardener", "Epoxy primer with hardener, 5 l", True),
    ("parts", "a", "Brake fluid in date", "Brake fluid, 1 l", True),
    ("parts", "a", "Master cylinder to suit the calipers", "Tandem master cylinder", True),
    ("parts", "a", "Radiator and fan for the new unit", "Radiator, aluminium, cross-flow", True),
    ("parts", "a", "Front calipers and brackets as chosen", "Front callipers and brackets", True),
    ("parts", "a", "Exhaust pipes, silencers and catalyst", "Exhaust pipes and mufflers with catalyst", True),
    ("parts", "a", "Propshaft, made to length", "Prop shaft made to length", True),
    ("parts", "a", "Brake pads", "Brake pedal", False),
    ("parts", "a", "Front door seal", "Rear door seal", False),
    ("parts", "a", "Drive shaft, left, made to length", "Drive shaft, right, made to length", False),
    ("parts", "a", "Steering shaft joints", "Steering shaft boots", False),
    ("parts", "a", "Clutch master and slave with pipe", "Clutch master and slave with hose", True),
    ("parts", "a", "Engine loom with fuses", "Engine room with fuses", False),
    ("parts", "a", "Upper ball joint bolts", "Lower ball joint bolts", False),
    ("parts", "a", "Brake hoses for the travel", "Brake houses for the travel", True),
    ("parts", "a", "Fuel pump, filter and lines", "Fuel lamp, filter and lines", False),
    ("parts", "a", "Input shaft bearing", "Output shaft bearing", False),
    ("parts", "a", "Wheel studs and nuts with the right seat", "Wheel studs and nuts", True),
    ("jobs", "brief", "Write down what it is for, and where you would stop", "Write the brief, set the datum", True),
    ("jobs", "weigh-corners", "Weigh each wheel and note the heights", "Weigh all four wheels", True),
    ("jobs", "weigh-corners", "Weigh each wheel and note the heights", "Weigh out the hardener", False),
    ("jobs", "inspection", "Inspection, papers and insurer", "Inspection of the changed vehicle", True),
    ("jobs", "inspection", "Inspection, papers and insurer", "Borescope inspection", False),
    ("jobs", "first-start", "Filled, turned over, first start", "First start, leaks, charge, heat", True),
    ("jobs", "old-unit-out", "Old engine and gearbox out", "Old diesel, gearbox and tank out", True),
    ("jobs", "snag-list", "The snag list, worked to its end", "Short drives and the snag list", True),
    ("jobs", "a", "Order the front springs", "Order the rear springs", False),
    ("jobs", "a", "Front brakes dry: disc, bracket, caliper", "Front brakes dry: disc, bracket, calipers", True),
    ("jobs", "radiator-placed", "Radiator and fan in ply", "Hang the ply radiator, pipes in string", True),
    ("decisions", "wheel-size", "Wheel diameter, width and offset", "Wheels", True),
    ("decisions", "arch-treatment", "Arches", "Rear arch work", True),
    ("decisions", "underside-way", "Underside", "Coat under the floor", True),
    ("decisions", "brake-help", "Brake servo", "Brake servo bracket colour", False),
    ("interfaces", "manifold-lines", "Exhaust manifold beside brake lines", "Heater exhaust to fuel line", False),
    ("interfaces", "manifold-lines", "Exhaust manifold beside brake lines", "Manifold to brake lines", True),
    ("interfaces", "disc-flange", "Disc on its flange, parking brake inside", "Handbrake cable length", False),
    ("interfaces", "disc-flange", "Disc on its flange, parking brake inside", "Disc on the hub flange", True),
    ("interfaces", "wheel-caliper", "Wheel barrel and spokes over the caliper", "Front caliper inside the wheel", True),
    ("interfaces", "track-rod-sump", "Track rod against sump, housing and rim", "Sump to track rod at full lock", True),
    ("interfaces", "engine-radiator", "Front of the power unit to radiator", "Radiator grille to bonnet edge", False),
    ("interfaces", "starter-ring", "Starter on the ring gear", "Starter cable to its terminal", False),
    ("interfaces", "steering-column", "Steering column to rack", "Steering column past the power unit", True),
]  # fmt: skip


@dataclass(frozen=True)
class Reckoned:
    """Of the pairs taken as one, the share that are; of those that are, the share taken, and taken or asked about."""

    precision: float
    recall: float
    found: float


def build_of(list_name: str, id_: str, name: str) -> Build:
    systems = (System(id="body", name="Body"),)
    match list_name:
        case "parts":
            return Build(systems=systems, parts=(Part(id=id_, name=name),))
        case "jobs":
            hours = ThreePoint(low=1, likely=2, high=3)
            return Build(systems=systems, jobs=(Job(id=id_, name=name, phase=Phase.MOCK_UP, hours=hours),))
        case "decisions":
            options = (Option(id=f"{id_}-one", name="One"), Option(id=f"{id_}-two", name="Two"))
            return Build(systems=systems, decisions=(Decision(id=id_, name=name, options=options),))
    return Build(systems=systems, interfaces=(Interface(id=id_, name=name, systems=("body",)),))


def paired(list_name: str, id_: str, theirs: str, own: str) -> Found:
    known = starter("engine-swap").known_by
    return matches(build_of(list_name, "own", own), build_of(list_name, id_, theirs), known_by=known)


def key_of(list_name: str, id_: str) -> tuple[str, str]:
    return list_name, id_


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair[2]} | {pair[3]}")
def test_what_is_not_the_same_is_never_taken_as_the_same(pair: tuple[str, str, str, str, bool]) -> None:
    list_name, id_, theirs, own, one = pair
    assert one or key_of(list_name, id_) not in paired(list_name, id_, theirs, own).same


def test_most_of_what_is_the_same_is_taken_or_asked_about() -> None:
    result = reckon()  # by the likeness of letters alone it was 0.73, 0.76 and 0.76
    assert result.precision == 1
    assert result.recall >= 0.7
    assert result.found >= 0.9


def test_a_doubt_is_taken_only_where_the_owner_says_so() -> None:
    own, theirs = build_of("parts", "own", "Tandem master cylinder"), build_of("parts", "a", "Master cylinder")
    found = matches(own, theirs)
    assert [(each.own, each.id) for each in found.doubts] == [("own", "a")]
    assert ("parts", "a") not in found.same
    found = matches(own, theirs, taken=[("parts", "a")])
    assert found.same["parts", "a"].own == "own"
    assert not found.doubts


def reckon() -> Reckoned:
    taken = [key_of(pair[0], pair[1]) in paired(*pair).same for *pair, _ in PAIRS]
    asked = [bool(paired(*pair).doubts) for *pair, _ in PAIRS]
    one = [pair[-1] for pair in PAIRS]
    right = sum(is_one and was for is_one, was in zip(one, taken, strict=True))
    told = sum(is_one and (was or doubt) for is_one, was, doubt in zip(one, taken, asked, strict=True))
    return Reckoned(right / sum(taken), right / sum(one), told / sum(one))
