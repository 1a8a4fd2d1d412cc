"""What goods cost at the door by each way home, in words: line by line, each with the rule behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from markupsafe import Markup

from ..build import Build
from ..build.money import minor_unit
from ..landed import PLAIN_WAYS, CostLine, LandedCost, RuleNote, RuleSet, WayHome
from ..papers.share_chart import ShareChart, shares_drawn
from .desk import View
from .outlooks import name_of_offer
from .words import day, exact, listed

_LACKING = {"freight-unknown": "freight", "mass-unknown": "freight by mass"}


@dataclass(frozen=True, slots=True)
class Ground:
    """The rule behind an amount.

    Parameters
    ----------
    said : what it rests on and since when, in words; flag : why to check it first, if there is a reason
    own : the owner set it; path : where to set one's own in its place, empty where it holds no figure
    """

    id: str
    said: str
    source: str
    url: str
    note: str
    flag: str = ""
    own: bool = False
    path: str = ""


@dataclass(frozen=True, slots=True)
class ItemShown:
    """One amount of what something costs at the door."""

    label: str
    amount: str
    note: str
    due: str
    ground: Ground


@dataclass(frozen=True, slots=True)
class WayShown:
    """Goods by one way home.

    Parameters
    ----------
    total, between : in words; refused : why they cannot come that way
    unknown : what could fall out otherwise, with the range it makes; flags : what to check first
    others : rules that bore on it without an amount of their own
    lacking : what is not counted because it is not known
    without_own : the total without what the owner set, where that changes it; trip : what the trip itself costs
    """

    anchor: str
    name: str
    total: str = ""
    between: str = ""
    refused: str = ""
    items: tuple[ItemShown, ...] = ()
    unknown: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    others: tuple[Ground, ...] = ()
    lacking: str = ""
    without_own: str = ""
    trip: str = ""
    trip_path: str = ""


def cheapest_first(ways: Iterable[WayHome]) -> list[WayHome]:
    """Ways home by their total; what cannot come that way last."""
    return sorted(ways, key=lambda way: (way.cost is None, 0 if way.cost is None else way.cost.exact, way.name))


def way_shown(view: View, rules: RuleSet, way: WayHome, place: int, without: WayHome | None = None) -> WayShown:
    """A way home in words.

    Parameters
    ----------
    rules : those in force, the owner's in their place
    without : the same way without what the owner set
    """
    anchor = f"way-{place}"
    if way.cost is None:
        return WayShown(anchor, way.name, refused=way.refused)
    cost = way.cost
    notes = {note.id: note for note in cost.rules}
    items = tuple(_item(line, notes, rules, cost.flags, view.build) for line in cost.lines)
    used = {item.ground.id for item in items}
    low, high = ends(cost)
    found = WayShown(
        anchor=anchor,
        name=way.name,
        total=exact(cost.total),
        between="" if low == high else f"{low.rpartition(' ')[0]} to {high}",
        items=items,
        unknown=tuple(f"{exact(doubt.low)} to {exact(doubt.high)}: {doubt.text}." for doubt in cost.doubts),
        flags=cost.flags,
        assumptions=tuple(str(item) for item in cost.assumptions),
        others=tuple(_ground(id_, notes, rules, cost.flags) for id_ in notes if id_ not in used),
        lacking=lacking(way),
    )
    if without is not None and without.cost is not None and without.cost.total != cost.total:
        found = replace(found, without_own=exact(without.cost.total))
    return found


def lacking(way: WayHome) -> str:
    """What of a way home is not counted because it is not known, in words."""
    if way.cost is None:
        return ""
    codes = {item.code for item in way.cost.assumptions}
    missing = [words for code, words in _LACKING.items() if code in codes]
    if way.name in PLAIN_WAYS.values():
        missing.append("the carrier's fees")
    return f"{listed(missing)} not known, so not counted" if missing else ""


def ends(cost: LandedCost) -> tuple[str, str]:
    """The lowest and the highest total it may come to, in words."""
    low, high = cost.ends
    return exact(low), exact(high)


def label_words(label: str, build: Build) -> str:
    """An amount's label, with the thing's name in place of its offer.

    Examples
    --------
    >>> label_words("import tax", Build())
    'Import tax'
    """
    count, times, id_ = label.rpartition(" × ")
    offer = build.index["offers"].get(id_)
    return f"{count}{times}{name_of_offer(build, offer)}" if offer is not None else f"{label[:1].upper()}{label[1:]}"


def _item(
    line: CostLine, notes: Mapping[str, RuleNote], rules: RuleSet, flags: Sequence[str], build: Build
) -> ItemShown:
    due = "asked on arrival" if line.due == "arrival" else ""
    ground = _ground(line.rule, notes, rules, flags)
    return ItemShown(label_words(line.label, build), exact(line.amount).rpartition(" ")[0], line.note, due, ground)


def _ground(id_: str, notes: Mapping[str, RuleNote], rules: RuleSet, flags: Sequence[str]) -> Ground:
    note = notes.get(id_)
    if note is None:
        try:
            rule = rules.by_id(id_)
        except KeyError:
            return Ground(id_, "", "", "", "")
        note = RuleNote(rule.id, rule.status, rule.as_of, rule.source, rule.url, rule.note)
    own = note.status == "owner"
    said = "Set by you" if own else f"{note.status[:1].upper()}{note.status[1:]}"
    said += f", {'on' if own else 'as of'} {day(note.as_of)}" if note.as_of else ", no date known"
    flag = next((text for text in flags if text.startswith(f"{id_}:")), "").removeprefix(f"{id_}:").strip()
    path = "" if id_.startswith("general.") else f"/door/rates?{urlencode({'rule': id_})}#rate"
    return Ground(id_, said, note.source, note.url, note.note, flag, own, path)


# shares

_PARTS = (
    ("goods", ("goods", "rounding")),
    ("freight", ("freight",)),
    ("the seller's tax", ("origin-tax",)),
    ("duty", ("duty",)),
    ("tax", ("tax",)),
    ("fees and exchange", ("fee", "exchange")),
)


def share_chart(name: str, ways: Sequence[WayHome], currency: str) -> ShareChart | None:
    """What the total of each way home is made of; None where none can be reckoned.

    A seller's tax that comes off the price is taken off the goods.
    """
    costs = [(way.name, way.cost) for way in ways if way.cost is not None]
    if not costs:
        return None
    figures = {part: [float(cost.sum_of(*kinds).amount) for _, cost in costs] for part, kinds in _PARTS}
    for place, tax in enumerate(figures["the seller's tax"]):
        figures["goods"][place] += min(0.0, tax)
    parts = tuple(
        (part, tuple(max(0.0, value) for value in values))
        for part, values in figures.items()
        if any(value > 0 for value in values)
    )
    return ShareChart(name, currency, "Way home", tuple(name for name, _ in costs), parts, minor_unit(currency))


def drawing(chart: ShareChart | None) -> Markup:
    """The chart as SVG."""
    return Markup(shares_drawn(chart))
