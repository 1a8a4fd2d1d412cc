"""Decisions against networkx, every permutation, every choice, and weights drawn another way."""

from __future__ import annotations

import itertools
import random

import networkx as nx
import numpy as np
import pytest

from fishplate.build import build_from_data
from fishplate.build.base import ThreePoint
from fishplate.decide.frontier import configurations
from fishplate.decide.impossible import smallest_fault, wanted
from fishplate.decide.sequence import Ordering, least_torn_order, sequence_of
from fishplate.decide.vehicle import Barrier, Choosing, Item, VehicleChoice, Way
from fishplate.decide.weighing import rank_chances
from fishplate.decide.weights import drawn_weights, triangular, uniforms_needed

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


# weights and ranks


def test_ordered_weights_are_those_left_when_all_weights_are_drawn_and_others_thrown_away() -> None:
    generator = np.random.default_rng(5)
    ours = drawn_weights((None, None, None), generator.random((60_000, uniforms_needed(3))))
    every = generator.dirichlet((1, 1, 1), 360_000)
    kept = every[(every[:, 0] >= every[:, 1]) & (every[:, 1] >= every[:, 2])]
    assert len(kept) == pytest.approx(60_000, rel=0.02)
    for share in (0.1, 0.5, 0.9):
        assert np.quantile(ours, share, axis=0) == pytest.approx(np.quantile(kept, share, axis=0), abs=0.006)


def test_a_stated_comparison_takes_the_place_of_its_link() -> None:
    said = ThreePoint(low=50, likely=60, high=90)
    drawn = drawn_weights((None, said, None), np.random.default_rng(7).random((20_000, uniforms_needed(3))))
    ratio = 100 * drawn[:, 1] / drawn[:, 0]
    assert (ratio.min() >= 50, ratio.max() <= 90) == (True, True)
    assert float(ratio.mean()) == pytest.approx(said.mean, abs=0.3)
    assert float(ratio.std()) == pytest.approx(
        ((50**2 + 60**2 + 90**2 - 50 * 60 - 50 * 90 - 60 * 90) / 18) ** 0.5, rel=0.02
    )


def test_triangular_quantiles_are_those_of_the_distribution() -> None:
    from scipy.stats import triang

    shares = np.linspace(0.01, 0.99, 25)
    expected = triang.ppf(shares, 0.3, loc=10, scale=20)
    assert triangular(ThreePoint(low=10, likely=16, high=30), shares) == pytest.approx(expected)


def test_chances_of_ranks_with_two_criteria_are_lengths_of_stretches_of_the_weight() -> None:
    # weight w of the first criterion uniform from 0 to 1; a leads where 80 w + 20 (1 - w) > 50, c never
    weight = (np.arange(10_000) + 0.5) / 10_000
    values = np.stack((80 * weight + 20 * (1 - weight), np.full_like(weight, 50.0), np.full_like(weight, 10.0)), axis=1)
    expected = [[0.5, 0.5, 0.0], [0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]
    assert rank_chances(values) == pytest.approx(np.array(expected), abs=1e-4)


def test_ties_share_their_ranks() -> None:
    chances = rank_chances(np.array([[1.0, 1.0, 0.0]]))
    assert chances.tolist() == [[0.5, 0.5, 0.0], [0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]


# whole vehicles


def vehicle(seed: int, decisions: int, barriers: int) -> VehicleChoice:
    draw = random.Random(seed)
    items = {f"shared-{k}": Item(draw.randint(0, 90), draw.randint(0, 9)) for k in range(3)}
    choosings = []
    for d in range(decisions):
        ways = []
        for o in range(draw.choice((2, 3))):
            items[f"item-{d}-{o}"] = Item(draw.randint(0, 300), draw.randint(0, 20))
            brought = (f"item-{d}-{o}", f"shared-{draw.randrange(3)}")
            ways.append(Way(f"{d}-{o}", f"{d} {o}", brought, float(draw.randint(0, 100))))
        choosings.append(Choosing(f"d{d}", f"D{d}", tuple(ways), f"{d}-0"))
    options = [way.option for choosing in choosings for way in choosing.ways]
    found = []
    for number in range(barriers):
        some = frozenset(draw.sample(options, draw.choice((1, 2, 2, 3))))
        without = frozenset(draw.sample(options, 1)) if draw.random() < 0.5 else frozenset()
        found.append(Barrier("rule", str(number), f"rule {number}.", some - without, without))
    return VehicleChoice(tuple(choosings), items, tuple(found))


def every_choice(choice: VehicleChoice, barriers: tuple[Barrier, ...] | None = None) -> list[frozenset[str]]:
    asked = choice.barriers if barriers is None else barriers
    ways = [[way.option for way in choosing.ways] for choosing in choice.choosings]
    taken = (frozenset(each) for each in itertools.product(*ways))
    return [each for each in taken if not any(barrier.stands_against(each) for barrier in asked)]


def brute_frontier(choice: VehicleChoice) -> set[tuple[float, float, float]]:
    found = {(c.cost, c.hours, -c.value) for c in map(choice.of, every_choice(choice))}
    return {a for a in found if not any(b != a and all(x <= y for x, y in zip(b, a, strict=True)) for b in found)}


@pytest.mark.parametrize("seed", range(12))
def test_the_frontier_is_what_no_choice_beats(seed: int) -> None:
    choice = vehicle(seed, 6, 1 + seed)
    found = configurations(choice)
    expected = brute_frontier(choice)
    assert found.complete
    assert found.count == len(every_choice(choice))
    assert sorted((c.cost, c.hours, -c.value) for c in found.frontier) == sorted(expected)
    # points that were looked for one by one lie on it
    sampled = configurations(choice, enumerated=0)
    assert {(c.cost, c.hours, -c.value) for c in sampled.frontier} <= expected
    assert bool(sampled.frontier) == bool(expected)
    assert not sampled.complete


@pytest.mark.parametrize("seed", range(20))
def test_no_smaller_set_is_at_fault(seed: int) -> None:
    choice = vehicle(100 + seed, 4, 9)
    wish = tuple(way.option for way in (choice.choosings[0].ways[-1], choice.choosings[1].ways[-1]))

    def possible(barriers: tuple[Barrier, ...]) -> bool:
        return any(set(wish) <= taken for taken in every_choice(choice, barriers))

    fault = smallest_fault(choice, wish)
    if fault is None:
        assert possible(choice.barriers)
        return
    assert not possible(fault)
    assert all(possible(few) for size in range(len(fault)) for few in itertools.combinations(choice.barriers, size))


@pytest.mark.parametrize("seed", range(10))
def test_what_is_nearest_to_a_wish_changes_least_and_then_costs_least(seed: int) -> None:
    choice = vehicle(200 + seed, 5, 4)
    wish = choice.choosings[2].ways[1].option
    found = wanted(choice, (wish,))
    possible = [choice.of(taken) for taken in every_choice(choice) if wish in taken]
    assert found.is_possible == bool(possible)
    if found.nearest is not None:
        least = min((len(each.changes), each.cost) for each in possible)
        assert (len(found.nearest.changes), found.nearest.cost) == least
