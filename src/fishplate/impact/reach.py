"""What rests on the thing that changes, and how surely it is touched."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..build import Build, Facts, offer_contents
from ..build.graph import Node, carried_by, rests_on


@dataclass(frozen=True, slots=True)
class Reach:
    """What a change touches, each tuple sorted by id.

    Parameters
    ----------
    parts, jobs : certainly touched
    parts_in_doubt, jobs_in_doubt : they meet it, or were released on the strength of it
    dimensions : no longer valid; replaced : those of them that belong to what changes, whatever they were taken against
    states : states of the vehicle that change with jobs certainly to be redone
    """

    parts: tuple[str, ...]
    parts_in_doubt: tuple[str, ...]
    jobs: tuple[str, ...]
    jobs_in_doubt: tuple[str, ...]
    following: tuple[str, ...]
    dimensions: tuple[str, ...]
    replaced: tuple[str, ...]
    states: tuple[str, ...]
    interfaces: tuple[str, ...]
    releases: tuple[str, ...]
    decisions: tuple[str, ...]


def reach_of(build: Build, facts: Facts, target: Node) -> Reach:
    """What a change of the target touches on the day of the facts.

    Jobs count only if they are done or begun. A job that merely comes after one to be redone is listed as following:
    it may be in the way, but its own work stands.
    """
    certain = set(_given_up(build, facts, target))
    begun = {job for job, state in facts.jobs.items() if state.done_on is not None or state.hours_worked > 0}
    sure_parts = {id_ for name, id_ in certain if name == "parts"}
    sure_jobs = {job for job in begun if _surely(build, job, sure_parts, certain)}
    names: dict[str, set[str]] = defaultdict(set)
    for name, id_ in _walk(build, facts, certain, begun, sure_jobs):
        names[name].add(id_)
    doubtful = names["parts"] | _partners(build, names) | _part_of(build, target)
    return Reach(
        parts=tuple(sorted(sure_parts)),
        parts_in_doubt=tuple(sorted(part for part in doubtful - sure_parts if part in facts.wanted_parts)),
        jobs=tuple(sorted(sure_jobs & names["jobs"])),
        jobs_in_doubt=tuple(sorted(names["jobs"] - sure_jobs)),
        following=tuple(sorted(_following(build, names["jobs"]) & begun)),
        dimensions=tuple(sorted(names["dimensions"])),
        replaced=tuple(
            sorted(
                id_
                for id_ in names["dimensions"]
                if ("dimensions", id_) == target or build.find("dimensions", id_).part in names["parts"]
            )
        ),
        states=tuple(sorted(names["states"])),
        interfaces=tuple(sorted(names["interfaces"])),
        releases=tuple(sorted(names["releases"])),
        decisions=tuple(sorted(_reopened(build, facts, target, names["decisions"]))),
    )


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


def _walk(build: Build, facts: Facts, start: Iterable[Node], begun: set[str], sure_jobs: set[str]) -> set[Node]:
    """Nodes that rest on the start, without going from a job to those after it or from a thing to its offers."""
    bearing: dict[Node, set[Node]] = defaultdict(set)
    for node, grounds in rests_on(build).items():
        for ground in grounds:
            bearing[ground].add(node)
    seen = {node for node in start if node[0] != "jobs" or node[1] in begun}
    todo = sorted(seen)
    while todo:
        ground = todo.pop()
        for node in bearing[ground] - seen:
            if _goes_on(build, facts, ground, node, begun, sure_jobs):
                seen.add(node)
                todo.append(node)
    return seen


def _goes_on(build: Build, facts: Facts, ground: Node, node: Node, begun: set[str], sure_jobs: set[str]) -> bool:
    name, id_ = node
    match ground[0], name:
        case (_, "offers" | "events" | "gates") | ("jobs" | "gates", "jobs"):
            return False
        case "jobs", "states":
            # work that is only looked at again leaves the vehicle as it was measured
            return ground[1] in sure_jobs
        case "decisions", "parts" | "conditions":
            taken = facts.choices[ground[1]].option
            others = [option for option in build.find("decisions", ground[1]).options if option is not taken]
            stays = bool(others) and all(id_ in getattr(option, name) for option in others)
            return id_ in getattr(taken, name) and not stays
        case "decisions", "jobs":
            gated = ground[1] in build.find("jobs", id_).decisions
            return id_ in begun and (gated or id_ in facts.choices[ground[1]].option.jobs)
        case _, "jobs":
            return id_ in begun
        case _, "conditions":
            return id_ in facts.wanted_conditions
        case _:
            return True


def _surely(build: Build, job: str, parts: set[str], certain: set[Node]) -> bool:
    noun = build.find("jobs", job)
    uses = parts & {*noun.to_try, *noun.to_keep}
    return bool(uses) or ("jobs", job) in certain or any(("decisions", id_) in certain for id_ in noun.decisions)


def _partners(build: Build, names: dict[str, set[str]]) -> set[str]:
    """Parts that meet at interfaces whose verdict goes, and parts released on the strength of what changes."""
    found = {part for id_ in names["interfaces"] for part in build.find("interfaces", id_).parts}
    for id_ in names["releases"]:
        release = build.find("releases", id_)
        held = (
            [release.part] if release.part is not None else offer_contents(build, build.find("offers", release.offer))
        )
        found.update(held)
    return found


def _part_of(build: Build, target: Node) -> set[str]:
    if target[0] != "dimensions":
        return set()
    part = build.find("dimensions", target[1]).part
    return set() if part is None else {part}


def _following(build: Build, jobs: set[str]) -> set[str]:
    return {id_ for job in jobs for name, id_ in carried_by(build, ("jobs", job)) if name == "jobs"} - jobs


def _reopened(build: Build, facts: Facts, target: Node, reached: set[str]) -> set[str]:
    """Decisions taken that are open again: those that rest on the target, and those whose option calls for the part."""
    calling = {
        decision.id
        for decision in build.decisions
        if target[0] == "parts" and target[1] in facts.choices[decision.id].option.parts
    }
    return {id_ for id_ in reached | calling if facts.choices[id_].decided}
