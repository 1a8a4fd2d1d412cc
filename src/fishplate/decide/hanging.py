"""What hangs on a decision, and what it holds."""

from __future__ import annotations

from ..build import Build, Facts, offer_contents
from ..build.decisions import Decision
from ..build.graph import Node, carried_by
from .dates import gated_jobs, ordered_parts


def hanging_on(build: Build, facts: Facts, decision: Decision) -> tuple[Node, ...]:
    """Everything open that rests on a decision, directly or through others, by list and id.

    Jobs that are done or not wanted, decisions already taken and orders that have arrived are left out.
    """
    coming = {item.order for item in facts.incoming}

    def is_open(node: Node) -> bool:
        name, id_ = node
        match name:
            case "jobs":
                return id_ in facts.wanted_jobs and not facts.is_done(id_)
            case "decisions":
                return not facts.choices[id_].decided
            case "events":
                return id_ in coming
            case _:
                return True

    return tuple(sorted(node for node in carried_by(build, ("decisions", decision.id)) if is_open(node)))


def held_jobs(build: Build, facts: Facts, decision: Decision) -> tuple[str, ...]:
    """Jobs that must not begin before the decision is taken."""
    return tuple(gated_jobs(build, facts, decision))


def held_offers(build: Build, facts: Facts, decision: Decision) -> tuple[str, ...]:
    """Offers that must not be ordered before the decision is taken.

    They are those a release names together with the decision, and those for parts its options call for that are made
    to order or cannot go back.
    """
    released = [release for release in build.releases if decision.id in release.decisions]
    called = {part for option in decision.options for part in option.parts}
    waiting = set(ordered_parts(build, facts, decision))
    held = []
    for offer in build.offers:
        contents = set(offer_contents(build, offer))
        final = offer.made_to_order or (offer.returns is not None and offer.returns.days == 0)
        named = any(offer.id == release.offer or release.part in contents for release in released)
        if contents & waiting and (named or (final and contents & called)):
            held.append(offer.id)
    return tuple(sorted(held))
