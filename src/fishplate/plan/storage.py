"""What a depot asks for keeping goods from the day they reach it until they are fetched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from ..build.commerce import Collection
from ..landed import CostLine, LandedCost, RuleNote, storage_line
from .sentences import day_words
from .situation import Situation


def kept_until(situation: Situation, collection: Collection, arrives: date) -> CostLine | None:
    """What the depot of a trip asks for keeping a consignment until then; None if nothing.

    Parameters
    ----------
    arrives : the day the first of it reaches the depot
    """
    route = situation.build.find("routes", collection.route)
    line = storage_line(collection, route, arrives, situation.build.owner, situation.rates)
    if line is None:
        return None
    return replace(line, note=f"there about {day_words(arrives, situation.as_of)}: {line.note}")


def longest(lines: Iterable[CostLine | None]) -> CostLine | None:
    """The most that is asked for any of some goods of one consignment: it is kept from when the first of it comes."""
    return max(filter(None, lines), key=lambda line: line.amount.amount, default=None)


def least_by_shipment(storage: Mapping[str, float], shipments: Mapping[str, str]) -> dict[str, float]:
    """Shipment -> what keeping any of its goods costs at least, home currency.

    Parameters
    ----------
    storage : candidate -> what keeping it costs, home currency; shipments : candidate -> its shipment
    """
    if not storage:
        return {}
    found: dict[str, float] = {}
    for candidate, shipment in shipments.items():
        found[shipment] = min(found.get(shipment, float("inf")), storage.get(candidate, 0.0))
    return {shipment: least for shipment, least in found.items() if least > 0}


def with_storage(situation: Situation, cost: LandedCost, line: CostLine | None) -> LandedCost:
    """What a consignment costs at the door, with what the depot asks for keeping it."""
    if line is None:
        return cost
    more, rule = line.amount, situation.rules.by_id(line.rule)
    note = RuleNote(rule.id, rule.status, rule.as_of, rule.source, rule.url, rule.note)
    return replace(
        cost,
        lines=(*cost.lines, line),
        total=cost.total + more,
        exact=cost.exact + more.amount,
        doubts=tuple(replace(doubt, low=doubt.low + more, high=doubt.high + more) for doubt in cost.doubts),
        rules=(*cost.rules, note),
        range=None if cost.range is None else (cost.range[0] + more, cost.range[1] + more),
    )
