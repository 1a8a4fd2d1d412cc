"""The order of decisions against networkx and against every permutation."""

from __future__ import annotations

import itertools
import random

import networkx as nx
import pytest

from fishplate.build import build_from_data
from fishplate.decide.sequence import Ordering, least_torn_order, sequence_of

Links = dict[tuple[str, str], bool]


def random_links(seed: int, nodes: list[str], count: int) -> Links:
    generator = random.Random(seed)
    pairs = [(a, b) for a in nodes for b in nodes if a != b]
    return {pair: generator.random() < 0.5 for pair in generator.sample(pairs, count)}


def ordering_of(nodes: list[str], links: Links) -> Ordering:
    decisions = [{"id": id_, "name": id_, "options": [{"id": "o", "name": "O"}]} for id_ in nodes]
    edges = [{"source": s, "target": t, "strength": "fixes" if f else "limits"} for (s, t), f in links.items()]
    return sequence_of(build_from_data({"decisions": decisions, "edges": edges}), nodes)


@pytest.mark.parametrize("seed", range(25))
def test_the_order_is_topological_and_loops_are_the_components(seed: int) -> None:
    nodes = [f"n{k}" for k in range(12)]
    links = random_links(seed, nodes, 8 + seed)
    ordering = ordering_of(nodes, links)
    graph = nx.DiGraph(list(links))
    components = sorted(sorted(group) for group in nx.strongly_connected_components(graph) if len(group) > 1)
    assert sorted(sorted(block) for block in ordering.blocks) == components
    kept = nx.DiGraph(list(ordering.links))
    assert nx.is_directed_acyclic_graph(kept)
    order = ordering.in_order({node: random.Random(seed).random() for node in nodes})
    place = {node: position for position, node in enumerate(order)}
    assert sorted(order) == sorted(nodes)
    assert all(place[source] < place[target] for source, target in ordering.links)
    # only links inside a loop are torn
    assert all(any({t.source, t.target} <= set(block) for block in components) for t in ordering.tears)


@pytest.mark.parametrize("seed", range(20))
def test_no_permutation_tears_less(seed: int) -> None:
    nodes = list("abcdef")
    links = random_links(seed, nodes, 6 + seed % 15)

    def torn(order: tuple[str, ...]) -> tuple[int, int]:
        place = {node: position for position, node in enumerate(order)}
        against = [fixes for (source, target), fixes in links.items() if place[source] > place[target]]
        return sum(against), len(against) - sum(against)

    best = min((torn(order), order) for order in itertools.permutations(nodes))
    assert torn(least_torn_order(nodes, links)) == best[0]
    assert least_torn_order(nodes, links) == best[1]


def test_a_large_loop_is_still_ordered_without_loops_left() -> None:
    nodes = [f"n{k:02d}" for k in range(20)]
    links = random_links(3, nodes, 80)
    ordering = ordering_of(nodes, links)
    assert nx.is_directed_acyclic_graph(nx.DiGraph(list(ordering.links)))
    assert not ordering.proven
