"""What rests on what: one graph over the whole build.

A node is (list name, id). An edge runs from each thing to what it rests on.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from .document import Build
from .facts import offer_contents

Node = tuple[str, str]


def rests_on(build: Build) -> Mapping[Node, frozenset[Node]]:
    """For each node, the nodes it rests on directly."""
    edges: dict[Node, set[Node]] = defaultdict(set)
    for source, target in _edges(build):
        edges[source].add(target)
    return {node: frozenset(targets) for node, targets in edges.items()}


def carries(build: Build) -> Mapping[Node, frozenset[Node]]:
    """For each node, the nodes that rest on it directly."""
    edges: dict[Node, set[Node]] = defaultdict(set)
    for source, target in _edges(build):
        edges[target].add(source)
    return {node: frozenset(sources) for node, sources in edges.items()}


def carried_by(build: Build, start: Node) -> frozenset[Node]:
    """Every node that rests on `start`, directly or through others; `start` left out."""
    return carried_from(carries(build), start)


def carried_from(carrying: Mapping[Node, frozenset[Node]], start: Node) -> frozenset[Node]:
    """As `carried_by`, where what each node carries is known already."""
    seen: set[Node] = set()
    todo = [start]
    while todo:
        new = carrying.get(todo.pop(), frozenset()) - seen
        seen |= new
        todo += new
    return frozenset(seen - {start})


def _edges(build: Build) -> Iterator[tuple[Node, Node]]:
    yield from _part_edges(build)
    yield from _fit_edges(build)
    yield from _work_edges(build)


def _part_edges(build: Build) -> Iterator[tuple[Node, Node]]:
    for decision in build.decisions:
        for option in decision.options:
            yield from ((("parts", part), ("decisions", decision.id)) for part in option.parts)
            yield from ((("jobs", job), ("decisions", decision.id)) for job in option.jobs)
            yield from ((("conditions", item), ("decisions", decision.id)) for item in option.conditions)
            yield from ((("dimensions", item.dimension), ("decisions", decision.id)) for item in option.dimensions)
    for edge in build.edges:
        if edge.strength != "nudges":
            yield ("decisions", edge.target), ("decisions", edge.source)
    for offer in build.offers:
        yield from ((("offers", offer.id), ("parts", part)) for part in offer_contents(build, offer))
    for event in build.events:
        if event.kind == "ordered":
            yield from ((("events", event.id), ("offers", line.offer)) for line in event.lines)
    for release in build.releases:
        yield from _release_edges(build, release.id)


def _release_edges(build: Build, id_: str) -> Iterator[tuple[Node, Node]]:
    release = build.find("releases", id_)
    node: Node = ("releases", id_)
    held = [o.id for o in build.offers if o.id == release.offer or release.part in offer_contents(build, o)]
    yield from ((("offers", offer), node) for offer in held)
    for name in ("dimensions", "interfaces", "decisions"):
        yield from ((node, (name, id_)) for id_ in getattr(release, name))


def _fit_edges(build: Build) -> Iterator[tuple[Node, Node]]:
    for condition in build.conditions:
        yield ("interfaces", condition.interface), ("conditions", condition.id)
        yield from ((("conditions", condition.id), ("dimensions", name)) for name in condition.names)
    for dimension in build.dimensions:
        if dimension.part is not None:
            yield ("dimensions", dimension.id), ("parts", dimension.part)
    for reading in build.readings:
        if reading.against is not None:
            yield ("dimensions", reading.dimension), ("states", reading.against)


def _work_edges(build: Build) -> Iterator[tuple[Node, Node]]:
    for job in build.jobs:
        node: Node = ("jobs", job.id)
        yield from ((node, ("jobs", link.job)) for link in job.after)
        for name, ids in (
            ("parts", job.to_try),
            ("parts", job.to_keep),
            ("parts", job.works_on),
            ("decisions", job.decisions),
            ("interfaces", job.interfaces),
        ):
            yield from ((node, (name, id_)) for id_ in ids)
        yield from ((("states", state), node) for state in job.changes)
    for gate in build.gates:
        yield from ((("gates", gate.id), ("jobs", job)) for job in gate.after)
        yield from ((("gates", gate.id), ("interfaces", item)) for item in gate.interfaces)
        yield from ((("jobs", job), ("gates", gate.id)) for job in gate.before)
