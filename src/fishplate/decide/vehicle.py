"""Choices for the whole vehicle: what there is to choose, what stands against it, what comes of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from ..build import Assumption, Build


@dataclass(frozen=True, slots=True)
class Item:
    """A part or a job that options bring; it counts once, however many of the options taken bring it.

    Parameters
    ----------
    cost : at the door, home currency; hours : own work [h]
    """

    cost: float = 0.0
    hours: float = 0.0


@dataclass(frozen=True, slots=True)
class Way:
    """An option among whole-vehicle choices.

    Parameters
    ----------
    items : what it brings, by key; value : how good it is beside the other ways, in points
    """

    option: str
    name: str
    items: tuple[str, ...] = ()
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Choosing:
    """A decision among whole-vehicle choices.

    Parameters
    ----------
    now : option the plan goes by; decided : whether it is taken, so that it stays
    """

    decision: str
    name: str
    ways: tuple[Way, ...]
    now: str
    decided: bool = False


@dataclass(frozen=True, slots=True)
class Barrier:
    """Something that must not be: all of some options taken, and none of some others.

    Parameters
    ----------
    kind : "rule", "condition" or "decided"; key : names it among those of its kind
    text : as a sentence
    """

    kind: str
    key: str
    text: str
    takes: frozenset[str]
    without: frozenset[str] = frozenset()

    def stands_against(self, taken: frozenset[str]) -> bool:
        """Whether it forbids a choice of options."""
        return self.takes <= taken and not self.without & taken


@dataclass(frozen=True)
class VehicleChoice:
    """All there is to choose.

    Parameters
    ----------
    items : what options bring, by key
    barriers : rules, conditions that do not fit, decisions that are taken
    """

    choosings: tuple[Choosing, ...]
    items: Mapping[str, Item]
    barriers: tuple[Barrier, ...]

    @cached_property
    def ways(self) -> Mapping[str, Way]:
        """Every way, by its option."""
        return {way.option: way for choosing in self.choosings for way in choosing.ways}

    @property
    def now(self) -> frozenset[str]:
        """The options the plan goes by."""
        return frozenset(choosing.now for choosing in self.choosings)

    def of(self, taken: frozenset[str]) -> Configuration:
        """What comes of taking some options, one of each decision."""
        brought = sorted({item for option in taken for item in self.ways[option].items})
        return Configuration(
            options=tuple(way.option for choosing in self.choosings for way in choosing.ways if way.option in taken),
            cost=sum(self.items[key].cost for key in brought),
            hours=sum(self.items[key].hours for key in brought),
            value=sum(self.ways[option].value for option in sorted(taken)),
            changes=tuple(sorted(taken - self.now)),
        )

    def against(self, taken: frozenset[str]) -> tuple[Barrier, ...]:
        """What stands against a choice."""
        return tuple(barrier for barrier in self.barriers if barrier.stands_against(taken))


@dataclass(frozen=True, slots=True)
class Configuration:
    """One whole-vehicle choice.

    Parameters
    ----------
    options : one of each decision, in the order of the decisions
    cost : what the options bring, home currency; hours : own work [h]; value : points over all decisions
    changes : options other than those the plan goes by
    finish_weeks : even chance to be finished by then, parts never waited for; None: not worked out [weeks since as_of]
    """

    options: tuple[str, ...]
    cost: float
    hours: float
    value: float
    changes: tuple[str, ...]
    finish_weeks: float | None = None


@dataclass(frozen=True, slots=True)
class Configurations:
    """Whole-vehicle choices none of which is worse than another by cost, hours and value alike.

    Parameters
    ----------
    now : the choice the plan goes by; against_now : what stands against it
    frontier : the cheapest first
    complete : whether it is the whole frontier; count : how many choices there are in all, where they were counted
    fault : the smallest set that leaves no choice at all
    """

    now: Configuration
    against_now: tuple[Barrier, ...]
    frontier: tuple[Configuration, ...]
    complete: bool
    count: int | None
    fault: tuple[Barrier, ...] = ()
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True, slots=True)
class Wanted:
    """What comes of wanting some options together.

    Parameters
    ----------
    fault : the smallest set of rules, conditions and taken decisions that makes it impossible; empty if it is possible
    nearest : the choice with it that changes least of what the plan goes by, and costs least; None if impossible
    """

    options: tuple[str, ...]
    fault: tuple[Barrier, ...]
    now: Configuration
    nearest: Configuration | None

    @property
    def is_possible(self) -> bool:
        """Whether there is a choice with all of them."""
        return self.nearest is not None


def rule_barriers(build: Build) -> Iterator[Barrier]:
    """The rules of a build as barriers."""
    names = {option.id: option.name for decision in build.decisions for option in decision.options}
    for number, rule in enumerate(build.rules, 1):
        subject = " with ".join(f"“{names[id_]}”" for id_ in rule.options)
        reason = rule.why.strip().rstrip(".")
        why = f" {reason[:1].upper()}{reason[1:]}." if reason else ""
        takes = frozenset(rule.options)
        if rule.requires is not None and rule.requires not in takes:
            text = f"{subject} needs “{names[rule.requires]}”.{why}"
            yield Barrier("rule", f"{number}-requires", text, takes, frozenset({rule.requires}))
        if rule.excludes is not None:
            text = f"{subject} does not go with “{names[rule.excludes]}”.{why}"
            yield Barrier("rule", f"{number}-excludes", text, takes | {rule.excludes})


def decided_barriers(choosings: tuple[Choosing, ...]) -> Iterator[Barrier]:
    """Decisions that are taken, as barriers against taking them otherwise."""
    for choosing in choosings:
        if choosing.decided:
            name = next(way.name for way in choosing.ways if way.option == choosing.now)
            text = f"“{choosing.name}” is decided: “{name}”."
            yield Barrier("decided", choosing.decision, text, frozenset(), frozenset({choosing.now}))
