"""How long the order of decisions, their ranks under doubt and the whole-vehicle choices take, in CPU time.

Baselines: for the order, a topological sort of the same graph without dates, words or what hangs on it; for the ranks,
plain numpy draws of weights and scores without learning, spans or sentences.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

import networkx as nx
import numpy as np

from fishplate.build import Build, build_from_data, facts_of
from fishplate.decide import order_decisions
from fishplate.decide.frontier import configurations
from fishplate.decide.vehicle import Choosing, Item, VehicleChoice, Way, rule_barriers
from fishplate.decide.weighing import DRAWS, weigh
from fishplate.starters import demo_as_of, load_demo

Result = TypeVar("Result")
CRITERIA = 4


def invented(decisions: int, *, seed: int = 1) -> Build:
    """Three options each with parts and scores by four criteria; edges forward, one in ten of them back."""
    r = np.random.default_rng(seed)

    def points() -> dict[str, float]:
        low, likely, high = sorted(float(each) for each in r.uniform(0, 100, 3))
        return {"low": low, "likely": likely, "high": high}

    listed, parts, edges = [], [], []
    for number in range(decisions):
        options = []
        for way in range(3):
            part = f"p{number:02d}-{way}"
            parts.append({"id": part, "name": f"Part {number} {way}"})
            scores = [{"criterion": f"c{criterion}", "points": points()} for criterion in range(CRITERIA)]
            options.append({"id": f"o{number:02d}-{way}", "name": f"Way {way}", "parts": [part], "scores": scores})
        swings = [{"criterion": f"c{criterion}"} for criterion in range(CRITERIA)]
        listed.append(
            {"id": f"d{number:02d}", "name": f"Decision {number}", "options": options, "leading": f"o{number:02d}-0",
             "swings": swings, "freeze_by": f"j{number:02d}"}
        )  # fmt: skip
        for target in r.choice(np.arange(number + 1, number + 6), 2, replace=False):
            if target < decisions:
                ends = (f"d{number:02d}", f"d{target:02d}")
                fixes = bool(r.random() < 0.5)
                edges.append({"source": ends[0], "target": ends[1], "strength": "fixes" if fixes else "limits"})
                if r.random() < 0.1:
                    edges.append({"source": ends[1], "target": ends[0], "strength": "limits"})
    jobs = [
        {"id": f"j{number:02d}", "name": f"Job {number}", "phase": "assembly",
         "hours": {"low": 2, "likely": 4, "high": 9}, "after": [{"job": f"j{number - 1:02d}"}] if number else []}
        for number in range(decisions)
    ]  # fmt: skip
    criteria = [{"id": f"c{criterion}", "name": f"Criterion {criterion}"} for criterion in range(CRITERIA)]
    rules = [
        {"option": f"o{number:02d}-1", "excludes": f"o{number + 3:02d}-2"} for number in range(0, decisions - 3, 4)
    ]
    return build_from_data(
        {"parts": parts, "decisions": listed, "edges": edges, "jobs": jobs, "criteria": criteria, "rules": rules}
    )


def choice_of(build: Build, *, seed: int = 1) -> VehicleChoice:
    """Whole-vehicle choices with invented figures for what the options bring."""
    r = np.random.default_rng(seed)
    items = {part.id: Item(float(r.uniform(20, 900)), float(r.uniform(1, 40))) for part in build.parts}
    choosings = tuple(
        Choosing(
            decision.id, decision.name,
            tuple(Way(option.id, option.name, option.parts, float(r.uniform(0, 100))) for option in decision.options),
            now=decision.leading or decision.options[0].id,
        )
        for decision in build.decisions
    )  # fmt: skip
    return VehicleChoice(choosings, items, tuple(rule_barriers(build)))


def timed(call: Callable[[], Result], *, again: int = 1) -> tuple[float, Result]:
    """CPU seconds of the fastest of some calls, and what came of it."""
    found, best = call(), float("inf")
    for _ in range(again):
        start = time.process_time()
        found = call()
        best = min(best, time.process_time() - start)
    return best, found


def sorted_only(build: Build) -> list[str]:
    """Decisions in some order that goes against no edge but those of a loop."""
    graph = nx.DiGraph((edge.source, edge.target) for edge in build.edges)
    graph.add_nodes_from(decision.id for decision in build.decisions)
    groups = nx.condensation(graph)
    return [node for group in nx.topological_sort(groups) for node in sorted(groups.nodes[group]["members"])]


def drawn_only(build: Build) -> list[int]:
    """How often each first option of a decision comes first, by as many pseudo-random draws."""
    r, found = np.random.default_rng(1), []
    for decision in build.decisions:
        if not all(len(option.scores) == len(decision.swings) > 0 for option in decision.options):
            continue
        weights = np.sort(r.dirichlet(np.ones(len(decision.swings)), DRAWS))[:, ::-1]
        points = np.stack(
            [
                np.stack([r.triangular(s.points.low, s.points.likely, s.points.high + 1e-9, DRAWS) for s in it.scores])
                for it in decision.options
            ]
        )
        found.append(int((np.einsum("dc,ocd->od", weights, points).argmax(axis=0) == 0).sum()))
    return found


def of_build(name: str, build: Build) -> Iterator[dict[str, Any]]:
    """Timings of one build."""
    facts = facts_of(build, demo_as_of())
    starts = {job.id: float(place) for place, job in enumerate(build.jobs)}
    orders = {part.id: float(place % 60) for place, part in enumerate(build.parts)}
    seconds, report = timed(lambda: order_decisions(build, facts, start_weeks=starts, order_by_weeks=orders))
    knots = max(map(len, report.blocks), default=0)
    yield {
        "name": f"order of decisions, {name}", "seconds": seconds, "baseline": "sorting alone",
        "baseline_seconds": timed(lambda: sorted_only(build))[0],
        "note": f"{len(report.decisions)} decisions, largest loop {knots}",
    }  # fmt: skip
    seconds, _ = timed(lambda: [weigh(build, decision, {}) for decision in build.decisions])
    yield {
        "name": f"ranks of options, {name}", "seconds": seconds, "baseline": "plain draws",
        "baseline_seconds": timed(lambda: drawn_only(build))[0], "note": f"{DRAWS} draws",
    }  # fmt: skip
    seconds, choices = timed(lambda: configurations(choice_of(build)))
    note = f"{len(choices.frontier)} choices nothing beats{'' if choices.complete else ', sampled'}"
    yield {"name": f"whole-vehicle choices, {name}", "seconds": seconds, "note": note}


def rows() -> list[dict[str, Any]]:
    """All timings of the engine of decisions."""
    return [*of_build("demonstration build", load_demo()), *of_build("80 decisions", invented(80))]


if __name__ == "__main__":
    for line in rows():
        print(line)
