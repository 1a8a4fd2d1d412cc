"""Decisions that bear on each other in a circle: they are settled as a group."""

from __future__ import annotations

from collections.abc import Collection

from ..build import Build
from ..build.decisions import Strength


def coupled_groups(build: Build, decisions: Collection[str]) -> tuple[tuple[str, ...], ...]:
    """Groups with any of some decisions in them; an edge that only nudges couples nothing.

    Examples
    --------
    >>> from fishplate.build import build_from_data
    >>> def choice(name):
    ...     return {"id": name, "name": name.title(), "options": [{"id": f"{name}-a", "name": "A"}]}
    >>> stance = build_from_data({
    ...     "decisions": [choice("wheel"), choice("tyre"), choice("seat")],
    ...     "edges": [
    ...         {"source": "wheel", "target": "tyre", "strength": "fixes"},
    ...         {"source": "tyre", "target": "wheel", "strength": "limits"},
    ...     ],
    ... })
    >>> coupled_groups(stance, ["tyre", "seat"])
    (('tyre', 'wheel'),)
    """
    import networkx as nx

    graph = nx.DiGraph((e.source, e.target) for e in build.edges if e.strength is not Strength.NUDGES)
    found = (tuple(sorted(group)) for group in nx.strongly_connected_components(graph) if len(group) > 1)
    return tuple(sorted(group for group in found if set(group) & set(decisions)))
