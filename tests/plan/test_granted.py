"""What a plan takes for granted, told by kind and by name."""

from __future__ import annotations

from dataclasses import replace

from plan_builds import build_of, offer, part, plan_of, supplier

from fishplate.build import Assumption
from fishplate.plan.granted import granted


def test_assumptions_of_a_kind_stand_together_each_named_by_what_it_is_about() -> None:
    build = build_of(parts=[part("hub")], suppliers=[supplier("shop")], offers=[offer("hub-shop", "hub", "40 EUR")])
    name = build.find("parts", "hub").name
    told = (
        Assumption("drift", "offer hub-shop", "its price rises 4 % a year"),
        Assumption("pace", "build", "the owner's pace is as estimated"),
        Assumption("drift", "offer gone-since", "its price rises 5 % a year."),
        Assumption("drift", "offer hub-shop", "its price rises 4 % a year"),
    )
    assert granted(replace(plan_of(build), assumptions=told), build) == (
        (f"{name}: its price rises 4 % a year.", "Its price rises 5 % a year."),
        ("The owner's pace is as estimated.",),
    )
