"""What the order of each offer waits for, by its releases and by decisions that are still open."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Literal, TypeAlias

from ..build import Build, offer_contents
from ..build.commerce import Offer

Wait: TypeAlias = tuple[Literal["decide", "measure", "settle"], str]
"""What is waited for: a decision, a dimension or an interface, by id."""


def waits_of_offers(build: Build) -> Mapping[str, tuple[Wait, ...]]:
    """Offer -> all that its order may wait for, what is settled by now included; offers that wait for nothing left out.

    An offer waits for what its releases name, and, if it can't go back, for the decisions that call for it.
    """
    by_part: dict[str, list[Wait]] = defaultdict(list)
    by_offer: dict[str, list[Wait]] = defaultdict(list)
    for release in build.releases:
        waits: list[Wait] = [("decide", key) for key in release.decisions]
        waits += [("measure", key) for key in release.dimensions]
        waits += [("settle", key) for key in release.interfaces]
        if release.offer is not None:
            by_offer[release.offer] += waits
        elif release.part is not None:
            by_part[release.part] += waits
    called: dict[str, list[Wait]] = defaultdict(list)
    for decision in build.decisions:
        for part in dict.fromkeys(part for option in decision.options for part in option.parts):
            called[part].append(("decide", decision.id))
    found: dict[str, tuple[Wait, ...]] = {}
    for offer in build.offers:
        contents = offer_contents(build, offer)
        own = [*by_offer.get(offer.id, ()), *(wait for part in contents for wait in by_part.get(part, ()))]
        if cannot_go_back(offer):
            own += [wait for part in contents for wait in called.get(part, ())]
        if own:
            found[offer.id] = tuple(dict.fromkeys(own))
    return found


def cannot_go_back(offer: Offer) -> bool:
    """Whether an offer is made to order, or its seller takes nothing back."""
    return offer.made_to_order or (offer.returns is not None and offer.returns.days == 0)
