"""What rests on the thing that changes, and how surely it is touched."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from ..build import Build, Facts, offer_contents
from ..build.decisions import Option
from ..build.graph import Node, carried_from, carries


@dataclass(frozen=True, slots=True)
class Seeds:
    """Where a change begins.

    Parameters
    ----------
    nodes : what is certainly otherwise, in the build as it is
    turned : decision -> the option it takes instead, where that is known
    renewed : dimensions that are otherwise but need not be taken again: they were just read, or are gone
    stale : readings that no longer hold, taken against what has changed since
    interfaces, releases : touched too, though perhaps not in the build as it is
    reopened : decisions to be looked at again, whether or not anything else says so
    """

    nodes: frozenset[Node] = frozenset()
    turned: Mapping[str, Option] = field(default_factory=dict)
    renewed: frozenset[str] = frozenset()
    stale: frozenset[str] = frozenset()
    interfaces: frozenset[str] = frozenset()
    releases: frozenset[str] = frozenset()
    reopened: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Reach:
    """What a change touches, each tuple sorted by id.

    Parameters
    ----------
    parts, jobs : certainly touched
    parts_in_doubt, jobs_in_doubt : they meet it, or were released on the strength of it
    dimensions : no longer valid; readings : of them, to be taken again
    """

    parts: tuple[str, ...]
    parts_in_doubt: tuple[str, ...]
    jobs: tuple[str, ...]
    jobs_in_doubt: tuple[str, ...]
    following: tuple[str, ...]
    dimensions: tuple[str, ...]
    readings: tuple[str, ...]
    interfaces: tuple[str, ...]
    releases: tuple[str, ...]
    decisions: tuple[str, ...]


def reach_of(build: Build, facts: Facts, target: Node) -> Reach:
    """What a change of the target touches on the day of the facts, whatever it is changed to."""
    calling = {
        decision.id
        for decision in build.decisions
        if target[0] == "parts" and target[1] in facts.choices[decision.id].option.parts
    }
    seeds = Seeds(frozenset(_given_up(build, facts, target)), reopened=frozenset(calling))
    return spread(build, facts, seeds, doubtful=_part_of(build, target))


def spread(build: Build, facts: Facts, seeds: Seeds, *, doubtful: frozenset[str] = frozenset()) -> Reach:
    """What rests on the seeds in the build as it is.

    Jobs count only if they are done or begun. A job that merely comes after one to be redone is listed as following:
    it may be in the way, but its own work stands.

    Parameters
    ----------
    doubtful : parts that may no longer fit besides
    """
    walk = _Walk(build, facts, seeds, begun_jobs(facts))
    names: dict[str, set[str]] = defaultdict(set)
    for name, id_ in walk.reached():
        names[name].add(id_)
    names["interfaces"] |= seeds.interfaces
    names["releases"] |= seeds.releases
    maybe = names["parts"] | _partners(build, names) | doubtful
    replaced = {
        id_
        for id_ in names["dimensions"]
        if ("dimensions", id_) in seeds.nodes or build.find("dimensions", id_).part in names["parts"]
    }
    again = {
        reading.id
        for reading in build.readings
        if reading.day <= facts.as_of and (reading.dimension in replaced or reading.against in names["states"])
        if reading.dimension not in seeds.renewed
    }
    return Reach(
        parts=_sorted(walk.sure_parts),
        parts_in_doubt=_sorted(part for part in maybe - walk.sure_parts if part in facts.wanted_parts),
        jobs=_sorted(walk.sure_jobs & names["jobs"]),
        jobs_in_doubt=_sorted(names["jobs"] - walk.sure_jobs),
        following=_sorted(_following(build, names["jobs"]) & walk.begun),
        dimensions=_sorted(names["dimensions"] - seeds.renewed),
        readings=_sorted(again | seeds.stale),
        interfaces=_sorted(names["interfaces"]),
        releases=_sorted(names["releases"]),
        decisions=_sorted(id_ for id_ in names["decisions"] | seeds.reopened if facts.choices[id_].decided),
    )


def begun_jobs(facts: Facts) -> frozenset[str]:
    """Jobs that are done or begun."""
    return frozenset(job for job, state in facts.jobs.items() if state.done_on is not None or state.hours_worked > 0)


def _sorted(ids: Iterator[str] | set[str] | frozenset[str]) -> tuple[str, ...]:
    return tuple(sorted(ids))


def _given_up(build: Build, facts: Facts, target: Node) -> Iterator[Node]:
    """The target, and for a decision what only the option now planned with calls for."""
    yield target
    name, id_ = target
    if name != "decisions":
        return
    taken = facts.choices[id_].option
    for kind in ("parts", "jobs", "conditions"):
        rivals = {
            item
            for decision in build.decisions
            for option in decision.options
            if option is not taken and (decision.id == id_ or option is facts.choices[decision.id].option)
            for item in getattr(option, kind)
        }
        yield from ((kind, item) for item in getattr(taken, kind) if item not in rivals)


class _Walk:
    """From the seeds to all that rests on them, without going from a job to those after it or a thing to its offers."""

    def __init__(self, build: Build, facts: Facts, seeds: Seeds, begun: frozenset[str]) -> None:
        self.build, self.facts, self.seeds, self.begun = build, facts, seeds, begun
        self.sure_parts = frozenset(id_ for name, id_ in seeds.nodes if name == "parts")
        self.sure_jobs = frozenset(job for job in begun if self._surely(job))

    def reached(self) -> set[Node]:
        """Nodes that rest on the seeds, and those themselves."""
        bearing = carries(self.build)
        seen = {node for node in self.seeds.nodes if node[0] != "jobs" or node[1] in self.begun}
        todo = sorted(seen)
        while todo:
            ground = todo.pop()
            for node in bearing.get(ground, frozenset()) - seen:
                if self._goes_on(ground, node):
                    seen.add(node)
                    todo.append(node)
        return seen

    def _goes_on(self, ground: Node, node: Node) -> bool:
        name, id_ = node
        match ground[0], name:
            case (_, "offers" | "events" | "gates" | "requirements") | ("jobs" | "gates", "jobs"):
                return False
            case "jobs", "states":
                # work that is only looked at again leaves the vehicle as it was measured
                return ground[1] in self.sure_jobs
            case "decisions", "parts" | "conditions":
                return self._called_for(ground[1], name, id_)
            case "decisions", "jobs":
                gated = ground[1] in self.build.find("jobs", id_).decisions
                return id_ in self.begun and (gated or id_ in self.facts.choices[ground[1]].option.jobs)
            case _, "jobs":
                return id_ in self.begun
            case _, "conditions":
                return id_ in self.facts.wanted_conditions
            case _:
                return True

    def _called_for(self, decision: str, name: str, id_: str) -> bool:
        """Whether the option taken calls for it, and not every other it may be changed to."""
        taken, turned = self.facts.choices[decision].option, self.seeds.turned.get(decision)
        every = self.build.find("decisions", decision).options
        others = [option for option in every if option is not taken] if turned is None else [turned]
        stays = bool(others) and all(id_ in getattr(option, name) for option in others)
        return id_ in getattr(taken, name) and not stays

    def _surely(self, job: str) -> bool:
        noun, nodes = self.build.find("jobs", job), self.seeds.nodes
        uses = self.sure_parts & {*noun.to_try, *noun.to_keep, *noun.works_on}
        return bool(uses) or ("jobs", job) in nodes or any(("decisions", id_) in nodes for id_ in noun.decisions)


def _partners(build: Build, names: Mapping[str, set[str]]) -> set[str]:
    """Parts that meet at interfaces whose verdict goes, and parts released on the strength of what changes."""
    interfaces, releases = build.index["interfaces"], build.index["releases"]
    found = {part for id_ in names["interfaces"] if id_ in interfaces for part in interfaces[id_].parts}
    for id_ in names["releases"]:
        if id_ in releases:
            found.update(held_parts(build, id_))
    return found


def held_parts(build: Build, release: str) -> tuple[str, ...]:
    """Parts whose order a release holds."""
    noun = build.find("releases", release)
    return (noun.part,) if noun.part is not None else tuple(offer_contents(build, build.find("offers", noun.offer)))


def _part_of(build: Build, target: Node) -> frozenset[str]:
    if target[0] != "dimensions":
        return frozenset()
    part = build.find("dimensions", target[1]).part
    return frozenset() if part is None else frozenset((part,))


def _following(build: Build, jobs: set[str]) -> set[str]:
    carrying = carries(build)
    return {id_ for job in jobs for name, id_ in carried_from(carrying, ("jobs", job)) if name == "jobs"} - jobs
