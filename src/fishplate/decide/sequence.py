"""The order of decisions: what fixes comes before what it fixes; loops are torn where it costs least."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..build import Build
from ..build.decisions import Strength
from .model import Tear

# Up to this many decisions in one loop the fewest tears are found for certain.
EXACT_BLOCK = 12
# One torn edge that fixes weighs more than all edges that limit.
_FIXES_WEIGHT = 1_000_000

Link = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Ordering:
    """Open decisions, the loops among them, and the links left once these are torn.

    Parameters
    ----------
    nodes : ids of the open decisions, sorted
    links : (earlier, later) -> whether the link fixes; without loops
    blocks : each loop in the order to go through it
    tears : the links the order goes against
    proven : False if a loop was too large for the fewest tears to be found for certain
    """

    nodes: tuple[str, ...]
    links: Mapping[Link, bool]
    blocks: tuple[tuple[str, ...], ...]
    tears: tuple[Tear, ...]
    proven: bool

    def before(self, node: str) -> list[str]:
        """Decisions that come before this one."""
        return sorted(source for source, target in self.links if target == node)

    def after(self, node: str) -> list[str]:
        """Decisions that come after this one."""
        return sorted(target for source, target in self.links if source == node)

    def in_order(self, urgency: Mapping[str, float]) -> tuple[str, ...]:
        """All open decisions, none before what comes before it; the most urgent first, ties by id.

        A loop is gone through in one go, as urgent as its most urgent member.
        """
        group_of = {node: block for block in self.blocks for node in block}
        groups = {group_of.get(node, (node,)) for node in self.nodes}
        entering: dict[tuple[str, ...], set[Link]] = {
            group: {(s, t) for s, t in self.links if t in group and s not in group} for group in groups
        }

        def key(group: tuple[str, ...]) -> tuple[float, tuple[str, ...]]:
            return min(urgency[node] for node in group), group

        ready = [key(group) for group in groups if not entering[group]]
        heapq.heapify(ready)
        order: list[str] = []
        while ready:
            _, group = heapq.heappop(ready)
            order += group
            for later in sorted(groups):
                leaving = {(s, t) for s, t in entering[later] if s in group}
                entering[later] -= leaving
                if leaving and not entering[later]:
                    heapq.heappush(ready, key(later))
        return tuple(order)


def sequence_of(build: Build, open_decisions: Iterable[str]) -> Ordering:
    """The open decisions and their links, loops torn; edges that only nudge do not count."""
    nodes = tuple(sorted(open_decisions))
    links: dict[Link, bool] = {}
    for edge in build.edges:
        inside = edge.source in nodes and edge.target in nodes and edge.source != edge.target
        if inside and edge.strength is not Strength.NUDGES:
            link = (edge.source, edge.target)
            links[link] = links.get(link, False) or edge.strength is Strength.FIXES
    blocks, tears, proven = [], [], True
    for members in _loops(nodes, links):
        order = least_torn_order(members, links)
        proven = proven and len(members) <= EXACT_BLOCK
        place = {node: position for position, node in enumerate(order)}
        blocks.append(order)
        tears += [
            Tear(source, target, fixes)
            for (source, target), fixes in sorted(links.items())
            if source in place and target in place and place[source] > place[target]
        ]
    torn = {(tear.source, tear.target) for tear in tears}
    kept = {link: fixes for link, fixes in links.items() if link not in torn}
    return Ordering(nodes, kept, tuple(sorted(blocks)), tuple(tears), proven)


def _loops(nodes: Iterable[str], links: Iterable[Link]) -> list[tuple[str, ...]]:
    """Groups of more than one decision in which each leads to every other."""
    import networkx as nx

    graph = nx.DiGraph()
    graph.add_nodes_from(nodes)
    graph.add_edges_from(links)
    return sorted(tuple(sorted(group)) for group in nx.strongly_connected_components(graph) if len(group) > 1)


def least_torn_order(members: Sequence[str], links: Mapping[Link, bool]) -> tuple[str, ...]:
    """The order of a loop that goes against the fewest links that fix, then the fewest that limit.

    Parameters
    ----------
    members : ids of the loop
    links : (earlier, later) -> whether the link fixes

    Notes
    -----
    Dynamic programme over the sets already placed, exact up to EXACT_BLOCK members; beyond, the member with the least
    still to come before it is placed next. Ties go to the lower id.
    """
    names = sorted(members)
    if len(names) > EXACT_BLOCK:
        return _greedy_order(names, links)
    bit = {name: 1 << position for position, name in enumerate(names)}
    fixing, limiting = [0] * len(names), [0] * len(names)
    for (source, target), fixes in links.items():
        if source in bit and target in bit:
            row = fixing if fixes else limiting
            row[names.index(source)] |= bit[target]

    def torn(position: int, placed: int) -> int:
        strong, weak = fixing[position] & placed, limiting[position] & placed
        return strong.bit_count() * _FIXES_WEIGHT + weak.bit_count()

    everyone = (1 << len(names)) - 1
    to_go = [0] * (everyone + 1)
    follow = [0] * (everyone + 1)
    for placed in range(everyone - 1, -1, -1):
        choices = [
            (torn(position, placed) + to_go[placed | 1 << position], position)
            for position in range(len(names))
            if not placed >> position & 1
        ]
        to_go[placed], follow[placed] = min(choices)
    order, placed = [], 0
    while placed != everyone:
        order.append(names[follow[placed]])
        placed |= 1 << follow[placed]
    return tuple(order)


def _greedy_order(names: Sequence[str], links: Mapping[Link, bool]) -> tuple[str, ...]:
    left, order = set(names), []
    while left:
        waiting = dict.fromkeys(left, 0)
        for (source, target), fixes in links.items():
            if source in left and target in left:
                waiting[target] += _FIXES_WEIGHT if fixes else 1
        chosen = min(left, key=lambda name: (waiting[name], name))
        order.append(chosen)
        left.remove(chosen)
    return tuple(order)
