"""What hangs on a decision, and what it holds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property

from ..build import Build, Facts, offer_contents
from ..build.commerce import Offer
from ..build.decisions import Decision
from ..build.graph import Node, carried_from, carries
from ..build.jobs import Release


class Hanging:
    """What hangs on each decision of a build, and what each holds; what all of them share is gone through once."""

    def __init__(self, build: Build, facts: Facts) -> None:
        self._build, self._facts = build, facts
        self._coming = {item.order for item in facts.incoming}

    def on(self, decision: Decision) -> tuple[Node, ...]:
        """Everything open that rests on a decision, directly or through others, by list and id.

        Jobs that are done or not wanted, decisions already taken and orders that have arrived are left out.
        """
        carried = carried_from(self._carrying, ("decisions", decision.id))
        return tuple(sorted(node for node in carried if self._is_open(node)))

    def jobs(self, decision: Decision) -> tuple[str, ...]:
        """Wanted jobs not yet done that must not begin before the decision is taken, sorted."""
        named = {job for option in decision.options for job in option.jobs} | {decision.freeze_by}
        gated = self._gated.get(decision.id, frozenset())
        return tuple(sorted(gated | {job for job in named if job is not None and self._is_open(("jobs", job))}))

    def parts(self, decision: Decision) -> tuple[str, ...]:
        """Parts still to be ordered whose order waits for the decision, sorted.

        They are those its options call for, and those a release holds for it.
        """
        parts = {part for option in decision.options for part in option.parts}
        for release in self._build.releases:
            if decision.id in release.decisions:
                parts.update(held_parts(self._build, release))
        return tuple(sorted(part for part in parts if self._facts.missing(self._build, part) > 0))

    def offers(self, decision: Decision) -> tuple[str, ...]:
        """Offers that must not be ordered before the decision is taken, sorted.

        They are those a release names together with the decision, and those for parts its options call for that are
        made to order or cannot go back.
        """
        released = [release for release in self._build.releases if decision.id in release.decisions]
        called = {part for option in decision.options for part in option.parts}
        bringing = {offer.id: offer for part in self.parts(decision) for offer in self._bringing.get(part, ())}
        held = []
        for offer in bringing.values():
            contents = offer_contents(self._build, offer).keys()
            final = offer.made_to_order or (offer.returns is not None and offer.returns.days == 0)
            named = any(offer.id == release.offer or release.part in contents for release in released)
            if named or (final and contents & called):
                held.append(offer.id)
        return tuple(sorted(held))

    def _is_open(self, node: Node) -> bool:
        name, id_ = node
        match name:
            case "jobs":
                return id_ in self._facts.wanted_jobs and not self._facts.is_done(id_)
            case "decisions":
                return not self._facts.choices[id_].decided
            case "events":
                return id_ in self._coming
            case _:
                return True

    @cached_property
    def _carrying(self) -> Mapping[Node, frozenset[Node]]:
        return carries(self._build)

    @cached_property
    def _gated(self) -> Mapping[str, frozenset[str]]:
        """Open jobs that name a decision, by decision."""
        found: dict[str, set[str]] = defaultdict(set)
        for job in self._build.jobs:
            if job.decisions and self._is_open(("jobs", job.id)):
                for decision in job.decisions:
                    found[decision].add(job.id)
        return {decision: frozenset(jobs) for decision, jobs in found.items()}

    @cached_property
    def _bringing(self) -> Mapping[str, list[Offer]]:
        """Offers by the parts they bring."""
        found: dict[str, list[Offer]] = defaultdict(list)
        for offer in self._build.offers:
            for part in offer_contents(self._build, offer):
                found[part].append(offer)
        return found


def held_parts(build: Build, release: Release) -> list[str]:
    """Parts whose order a release holds."""
    if release.part is not None:
        return [release.part]
    return sorted(offer_contents(build, build.find("offers", release.offer or "")))
