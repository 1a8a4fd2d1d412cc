"""Which dimension must be known to what spread, for a condition to hold with a wanted chance; cheapest first.

The likely values are taken to stay as they are, and only their spreads to shrink: what it takes to be sure, not whether
it will turn out well. A reading to come is pooled with what is known. Spreads are told as half-widths of limits.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..build import Build, Facts
from ..build.units import format_quantity, parse_unit
from .measure_sentences import way_text_short
from .readings import WIDTHS
from .sampling import Ready
from .sentences import chance_words, dimension_words, list_words, the
from .study import Study
from .study import study as read_study
from .ways import Way, cost_of, ways

# After so many sets the best one found is told as such.
TRIES = 3_000
_HALVINGS = 24

Factors = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Need:
    """A dimension that must be known better.

    Parameters
    ----------
    spread_now, spread_wanted : half-widths of limits, in `unit`; what is wanted is the widest that does
    way : how, in words
    """

    dimension: str
    unit: str
    spread_now: float
    spread_wanted: float
    way: str


@dataclass(frozen=True, slots=True)
class ToleranceBudget:
    """What must be known to what spread.

    Parameters
    ----------
    chance_now : as known today; chance_exact : with every dimension exactly at its likely value, 0 or 1
    chance_best : with all that can be done; None, as all chances, if a dimension has no reading
    reachable : the wanted chance can be had by what can be done
    needs : the cheapest set of dimensions that does it, widest spreads that still do; empty if nothing is needed
    minutes, cost : of that set, own time [min] and home currency
    alone : dimension -> spread to which it alone would have to be known; None if even knowing it exactly is not enough
    missing : dimensions without a reading
    cheapest : no other set costs less; else none that costs less was found
    """

    condition: str
    chance: float
    chance_now: float | None
    chance_exact: float | None
    chance_best: float | None
    reachable: bool
    needs: tuple[Need, ...]
    minutes: float
    cost: float
    alone: Mapping[str, float | None]
    missing: tuple[str, ...]
    text: str
    cheapest: bool = True


def tolerance_budget(
    build: Build, facts: Facts, condition: str, chance: float, *, seed: int = 1, samples: int = 20_000
) -> ToleranceBudget:
    """Which dimensions of a condition must be known to what spread for a wanted chance.

    Parameters
    ----------
    condition : a wanted condition on figures; chance : wanted, above 0 and below 1

    Raises
    ------
    KeyError
        if no such condition is wanted; ValueError if it is not on figures, or the chance is not between 0 and 1
    """
    if not 0 < chance < 1:
        raise ValueError("a wanted chance lies between 0 and 1")
    study = read_study(build, facts, seed=seed, samples=samples)
    item = {each.condition.id: each for each in study.conditions}[condition]
    if not isinstance(item, Ready):
        raise ValueError(f"{condition} is not a condition on figures")
    missing = tuple(name for name in item.names if name not in study.states)
    if missing:
        text = f"{item.condition.name}: first of all there is no reading of {dimension_words(build, missing)}."
        return ToleranceBudget(condition, chance, None, None, None, False, (), 0.0, 0.0, {}, missing, text)
    return _budget(study, item, chance, _Chances(study, item), _ways_of(study, item))


class _Chances:
    """Chance of one condition with the spreads of its dimensions scaled about their likely values."""

    def __init__(self, study: Study, item: Ready) -> None:
        self.item = item
        self.states = {name: study.states[name] for name in item.names}
        self.random = tuple(name for name in item.names if name in study.draws.row)
        values = {name: study.sample.values[study.draws.row[name]].astype(np.float64) for name in self.random}
        self.apart = {name: values[name] - self.states[name].value for name in self.random}
        self._found: dict[tuple[float, ...], float] = {}

    def of(self, factors: Factors) -> float:
        """Chance with each dimension's spread times its factor, 1 where none is given."""
        key = tuple(factors.get(name, 1.0) for name in self.random)
        if key not in self._found:
            values: dict[str, float | NDArray[np.float64]] = {name: state.value for name, state in self.states.items()}
            for name, factor in zip(self.random, key, strict=True):
                values[name] = self.states[name].value + factor * self.apart[name]
            with np.errstate(all="ignore"):
                _, margin = self.item.evaluate(values)
            self._found[key] = float(np.mean(np.asarray(margin) >= 0))
        return self._found[key]

    def shown(self, chance: float) -> float:
        """A chance off 0 and 1 by half a draw, for draws alone make nothing certain."""
        edge = 0.5 / next((len(each) for each in self.apart.values()), 1)
        return min(max(chance, edge), 1 - edge) if self.random else chance

    def widest(self, known: Factors, chance: float) -> Factors:
        """The widest spreads between these and today's, all widened alike, that still give the chance."""
        low, high = 0.0, 1.0
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            wider = {name: factor + middle * (1 - factor) for name, factor in known.items()}
            low, high = (middle, high) if self.of(wider) >= chance else (low, middle)
        return {name: factor + low * (1 - factor) for name, factor in known.items()}


def _ways_of(study: Study, item: Ready) -> list[Way]:
    """Everything that tells a dimension of the condition, whether or not it has to wait."""
    found, _ = ways(study, frozenset(item.names))
    return [way for way in found if set(way.dimensions) & set(item.names)]


def _factors(chances: _Chances, taken: Sequence[Way]) -> Factors:
    """What each spread is multiplied by once all these were done, pooled with what is known."""
    weights: dict[str, float] = {}
    for way in taken:
        for name, sd in way.spreads:
            if name in chances.random:
                weights[name] = weights.get(name, chances.states[name].sd ** -2) + (sd**-2 if sd > 0 else np.inf)
    return {name: weight**-0.5 / chances.states[name].sd for name, weight in weights.items()}


def _budget(study: Study, item: Ready, chance: float, chances: _Chances, found: Sequence[Way]) -> ToleranceBudget:
    now, exact = chances.of({}), chances.of(dict.fromkeys(chances.random, 0.0))
    best = chances.of(_factors(chances, found)) if found else now
    taken, cheapest = ((), True) if now >= chance else _cheapest(study, chances, found, chance)
    wanted = {} if not taken else chances.widest(_factors(chances, taken), chance)
    units = {name: parse_unit(study.build.find("dimensions", name).unit).factor for name in chances.random}
    now_wide = {name: chances.states[name].sd * WIDTHS["rectangular"] / units[name] for name in chances.random}
    telling = {name: [way for way in taken or () if name in way.dimensions] for name in wanted}
    order = sorted(wanted, key=lambda name: (min(cost_of(study, way) for way in telling[name]), name))
    needs = tuple(
        Need(name, study.build.find("dimensions", name).unit, now_wide[name], wanted[name] * now_wide[name],
             list_words([way_text_short(study, way) for way in telling[name]]))
        for name in order
        if wanted[name] < 1 - 1e-6
    )  # fmt: skip
    alone: dict[str, float | None] = {}
    for name in chances.random:
        enough = now < chance and chances.of({name: 0.0}) >= chance
        alone[name] = chances.widest({name: 0.0}, chance)[name] * now_wide[name] if enough else None
    return ToleranceBudget(
        condition=item.condition.id,
        chance=chance,
        chance_now=chances.shown(now),
        chance_exact=exact,
        chance_best=chances.shown(best),
        reachable=now >= chance or taken is not None,
        needs=needs,
        minutes=sum(way.minutes for way in taken or ()),
        cost=sum(cost_of(study, way) for way in taken or ()),
        alone=alone if now < chance else {},
        missing=(),
        text=_text(study, item, chance, chances.shown(now), exact, chances.shown(best), needs, taken, cheapest),
        cheapest=cheapest,
    )


def _cheapest(
    study: Study, chances: _Chances, found: Sequence[Way], chance: float
) -> tuple[Sequence[Way] | None, bool]:
    """The cheapest set of ways that gives the chance, and whether none is cheaper; None if all together do not.

    Knowing more is taken never to lower the chance, as is so where the likely values fit.
    """
    if not found or chances.of(_factors(chances, found)) < chance:
        return None, True
    search = _Search(study, chances, chance, _added(study, chances, found, chance))
    search.go([], sorted(found, key=lambda way: (-cost_of(study, way), way.id)))
    return search.best, search.tries > 0


class _Search:
    """Every set of ways but those that can't be cheaper than the best so far, or can't give the chance."""

    def __init__(self, study: Study, chances: _Chances, chance: float, best: Sequence[Way]) -> None:
        self.study, self.chances, self.chance = study, chances, chance
        self.best, self.tries = list(best), TRIES

    def go(self, taken: list[Way], left: Sequence[Way]) -> None:
        """Try a set with some of what is left, dearest first; what is too dear is left away early."""
        if self.tries <= 0 or self._value(taken) >= self._value(self.best):
            return
        if self._does(taken):
            self.best = list(taken)
            return
        if not left or not self._does([*taken, *left]):
            return
        self.go(taken, left[1:])
        self.go([*taken, left[0]], left[1:])

    def _does(self, taken: Sequence[Way]) -> bool:
        self.tries -= 1
        return self.chances.of(_factors(self.chances, taken)) >= self.chance

    def _value(self, taken: Sequence[Way]) -> tuple[float, int]:
        return round(sum(cost_of(self.study, way) for way in taken), 6), len(taken)


def _added(study: Study, chances: _Chances, found: Sequence[Way], chance: float) -> Sequence[Way]:
    """One at a time, by chance gained for its cost; then what turned out not to be needed is left away."""
    taken: list[Way] = []
    while chances.of(_factors(chances, taken)) < chance:
        now = chances.of(_factors(chances, taken))
        left = [way for way in found if way not in taken]
        taken.append(
            max(left, key=lambda way: (chances.of(_factors(chances, [*taken, way])) - now) / (1 + cost_of(study, way)))
        )
    for way in sorted(taken, key=lambda way: -cost_of(study, way)):
        rest = [other for other in taken if other is not way]
        if chances.of(_factors(chances, rest)) >= chance:
            taken = rest
    return taken


def _text(
    study: Study, item: Ready, chance: float, now: float, exact: float, best: float, needs: Sequence[Need],
    taken: Sequence[Way] | None, cheapest: bool,
) -> str:  # fmt: skip
    build, name, wanted = study.build, item.condition.name, f"{100 * chance:g} %"
    if now >= chance:
        return f"{name}: {chance_words(now)} as it is known today; nothing needs to be known better for {wanted}."
    if exact == 0:
        return f"{name}: the likely values themselves do not fit; no reading makes it {wanted}, only another value."
    if taken is None:
        return f"{name}: {chance_words(now)} now and {chance_words(best)} with all that can be measured: not {wanted}."
    told = [f"{the(build.find('dimensions', need.dimension).name)} to {_spreads(need)}" for need in needs]
    cost, minutes = sum(cost_of(study, way) for way in taken), sum(way.minutes for way in taken)
    head = f"{name}: {chance_words(now)} now; for {wanted} know {list_words(told, most=12)}"
    more = "" if cheapest else " Something cheaper may do; not every set was tried."
    return f"{head}. {minutes:g} minutes, {cost:.0f} {build.owner.currency} in all.{more}"


def _spreads(need: Need) -> str:
    """Wanted and present spread, with a third digit where two don't tell them apart."""
    for digits in (2, 3):
        wanted, now = (
            format_quantity(each, need.unit, digits=digits) for each in (need.spread_wanted, need.spread_now)
        )
        if wanted != now:
            break
    return f"± {wanted} ({need.way}; now ± {now})"
