"""Why this and not that: for a part, the best plan with another seller, week or way home, and what it costs more."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from math import isfinite

from ..build import Build, Problem, Refused, date_at, week_of
from ..buy import Candidate, PurchasePlan, Shipment
from ..buy.why import Allowed, Alternative, as_cheap_as_it_is, otherwise
from .demand import Entry
from .loop import Round
from .market import Market
from .report import landed_by_line
from .sentences import day_words, list_words, name_of
from .study import Studied

SAME = 0.5


@dataclass(frozen=True, slots=True)
class Otherwise:
    """What is asked for instead of what the plan does.

    Parameters
    ----------
    supplier, route : id; empty: any but the plan's; None: not asked
    day : the week of that day; None: not asked
    earlier, later : in an earlier, or a later week than the plan has it
    """

    supplier: str | None = None
    route: str | None = None
    day: date | None = None
    earlier: bool = False
    later: bool = False


USUAL = (Otherwise(supplier=""), Otherwise(route=""), Otherwise(earlier=True), Otherwise(later=True))


@dataclass(frozen=True, slots=True)
class Answer:
    """The best plan with a part bought otherwise.

    Parameters
    ----------
    asked : what was asked, in words
    extra : what it costs more than the best plan with the part as it is; None if there is no such way [home currency]
    low, high : what the extra cost is at least and at most, as far as is proved
    lines : how the part would be bought, as (offer, supplier, order day, way home)
    parts_of_extra : what the extra cost is made of, as (what, home currency)
    moved : names of other parts that would then be bought otherwise too
    """

    asked: str
    extra: float | None
    low: float | None
    high: float | None
    lines: tuple[tuple[str, str, date, str], ...]
    parts_of_extra: tuple[tuple[str, float], ...]
    moved: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class Why:
    """A part as the plan buys it, beside other ways."""

    part: str
    name: str
    currency: str
    bought: str
    answers: tuple[Answer, ...]


def why(studied: Studied, chosen: Round, part: str, asked: tuple[Otherwise, ...] = USUAL) -> Why:
    """Why a part is bought as it is, and what each other way costs.

    Parameters
    ----------
    part : id of a part
    asked : what is asked for instead

    Raises
    ------
    Refused
        if there is no such part, supplier or route, or the part is not missing
    """
    _check(studied, part, asked)
    build = studied.situation.build
    lines = [chosen.market.entries[line.candidate] for line in chosen.purchase.lines if part in line.parts]
    base = as_cheap_as_it_is(chosen.market.problem(), chosen.purchase, part, recost=chosen.recosting.costs)
    return Why(
        part=part,
        name=build.find("parts", part).name,
        currency=build.owner.currency,
        bought=_bought(studied, chosen, part, lines),
        answers=_without_repeats(_answer(studied, chosen, part, lines, base, ask) for ask in asked),
    )


def _without_repeats(answers: Iterable[Answer]) -> tuple[Answer, ...]:
    """Answers, with few words where one is another's."""
    found: list[Answer] = []
    for answer in answers:
        same = next((a for a in found if a.lines and (a.lines, a.extra) == (answer.lines, answer.extra)), None)
        text = answer.text if same is None else f"{_first_up(answer.asked)}: as {same.asked}."
        found.append(replace(answer, text=text))
    return tuple(found)


def _check(studied: Studied, part: str, asked: tuple[Otherwise, ...]) -> None:
    build = studied.situation.build
    wanted = [("part", "parts", part), *(("supplier", "suppliers", ask.supplier) for ask in asked if ask.supplier)]
    wanted += [("route", "routes", ask.route) for ask in asked if ask.route]
    problems = [
        Problem(build.name, "unknown-id", f"there is no {what} {id_}", id_, f"`fishplate export` lists every {what}.")
        for what, name, id_ in wanted
        if id_ not in build.index[name]
    ]
    if not problems and part not in studied.situation.missing_parts:
        text = f"{name_of(build, 'parts', part)} is not missing: it is owned, on its way or not wanted"
        problems.append(
            Problem(f"part {part}", "not-missing", text, "", "Ask about a part that is still to be bought.")
        )
    if problems:
        raise Refused(problems)


def _bought(studied: Studied, chosen: Round, part: str, lines: list[Entry]) -> str:
    build, as_of = studied.situation.build, studied.situation.as_of
    name = build.find("parts", part).name
    if not lines:
        held = [
            hold for offer, hold in chosen.openings.holds.items()
            if any(e.offer.id == offer and part in e.candidate.covers for e in chosen.market.entries.values())
        ]  # fmt: skip
        because = f": its order waits for the {held[0][1]}" if held else ": no offer for it can be ordered"
        return f"{name} is not bought{because}."
    landed = landed_by_line(chosen)
    said = []
    for entry in lines:
        door = f"{landed[entry.candidate.key]:,.2f} {build.owner.currency} at the door"
        said.append(f"{_way(build, as_of, entry)}, {door}{_with(chosen, entry)}")
    return f"{name} is bought {' and '.join(said)}."


def _way(build: Build, as_of: date, entry: Entry) -> str:
    supplier = name_of(build, "suppliers", entry.offer.supplier)
    kit = f" in the kit {name_of(build, 'kits', entry.offer.kit)}" if entry.offer.kit else ""
    when = day_words(date_at(as_of, entry.week), as_of)
    return f"from {supplier}{kit} by {entry.way.name}, ordered {when if when == 'today' else f'on {when}'}"


def _with(chosen: Round, entry: Entry) -> str:
    others = sum(line.shipment == entry.candidate.shipment for line in chosen.purchase.lines) - 1
    return f", together with {others} other {'line' if others == 1 else 'lines'}" if others else ", by itself"


def _answer(
    studied: Studied, chosen: Round, part: str, lines: list[Entry], base: PurchasePlan, ask: Otherwise
) -> Answer:
    market, situation = chosen.market, studied.situation
    words = _words(situation.build, situation.as_of, ask)
    allowed = _allowed(market, part, lines, ask)
    if not any(part in e.candidate.covers and _holds(market, e, allowed) for e in market.entries.values()):
        return Answer(words, None, None, None, (), (), (), f"{_first_up(words)}: no offer can be ordered so.")
    costs = chosen.recosting.costs
    found = otherwise(market.problem(), chosen.purchase, part, allowed, recost=costs, as_it_is=base)
    assert found.plan is not None
    instead = [market.entries[line.candidate] for line in found.plan.lines if part in line.parts]
    shares = tuple(_shares(market, found.plan, found.as_it_is))
    moved = tuple(_moved(situation.build, market, part, found))
    text = _text(studied, words, found, instead, shares, moved)
    bought = tuple((e.offer.id, e.offer.supplier, date_at(situation.as_of, e.week), e.way.name) for e in instead)
    if not isfinite(found.extra):
        return Answer(words, None, None, None, (), (), (), text)
    figures = round(found.extra, 2), round(found.low, 2), round(found.high, 2)
    return Answer(words, *figures, bought, shares, moved, text)


def _holds(market: Market, entry: Entry, allowed: Allowed) -> bool:
    return allowed(entry.candidate, market.shipments[entry.candidate.shipment])


def _allowed(market: Market, part: str, lines: list[Entry], ask: Otherwise) -> Allowed:
    """What a candidate must be to answer what is asked; what is not asked for may be as in the plan or otherwise."""
    suppliers = {entry.offer.supplier for entry in lines}
    ways = {entry.way.key.split("|")[0] for entry in lines}
    first, last = min((e.week for e in lines), default=-1), max((e.week for e in lines), default=-1)
    week = _nearest(market, part, ask.day)

    def allowed(candidate: Candidate, shipment: Shipment) -> bool:
        entry = market.entries[candidate.key]
        route = entry.way.key.split("|")[0]
        if ask.supplier is not None and (
            shipment.supplier != ask.supplier if ask.supplier else shipment.supplier in suppliers
        ):
            return False
        if ask.route is not None and (route != ask.route if ask.route else route in ways):
            return False
        if (ask.earlier and entry.week >= first) or (ask.later and entry.week <= last):
            return False
        return ask.day is None or entry.week == week

    return allowed


def _nearest(market: Market, part: str, day: date | None) -> int | None:
    """The week nearest to a day among those that the part can be ordered in."""
    if day is None:
        return None
    week = week_of(market.situation.as_of, day)
    weeks = {entry.week for entry in market.entries.values() if part in entry.candidate.covers}
    return min(weeks, key=lambda each: (abs(each - week), each), default=None)


def _words(build: Build, as_of: date, ask: Otherwise) -> str:
    said = []
    if ask.supplier is not None:
        said.append(f"from {name_of(build, 'suppliers', ask.supplier)}" if ask.supplier else "from another seller")
    if ask.route is not None:
        said.append(f"by {name_of(build, 'routes', ask.route)}" if ask.route else "by another way home")
    if ask.day is not None:
        said.append(f"ordered about {day_words(ask.day, as_of)}")
    said += ["ordered earlier"] * ask.earlier + ["ordered later"] * ask.later
    return " and ".join(said) or "as it is"


def _shares(market: Market, plan: PurchasePlan, base: PurchasePlan) -> Iterator[tuple[str, float]]:
    """What the difference of two plans is made of, unmet parts and money to be found apart."""
    after, before = _split(market, plan), _split(market, base)
    for what, amount in after.items():
        if abs(amount - before[what]) >= SAME:
            yield what, round(amount - before[what], 2)


def _split(market: Market, plan: PurchasePlan) -> dict[str, float]:
    entries = [(market.entries[line.candidate], line.units) for line in plan.lines]
    found = {
        "for being late": sum(entry.late * units for entry, units in entries),
        "for lying there early": sum(entry.carrying * units for entry, units in entries),
        "for what may not fit": sum(entry.risk * units for entry, units in entries),
        "of own time for orders": market.situation.order_effort * len(plan.shipments),
    }
    return {"at the door": plan.total - sum(found.values()), **found, "in penalties": plan.penalty}


def _moved(build: Build, market: Market, part: str, found: Alternative) -> Iterator[str]:
    """Other parts that are bought otherwise than in the plan with the part as it is."""
    assert found.plan is not None
    before, after = _ways(market, found.as_it_is), _ways(market, found.plan)
    for other in sorted(before.keys() | after.keys()):
        if other != part and before.get(other) != after.get(other):
            yield name_of(build, "parts", other)


def _ways(market: Market, plan: PurchasePlan) -> dict[str, set[tuple[str, str]]]:
    found: dict[str, set[tuple[str, str]]] = {}
    for line in plan.lines:
        for part in line.parts:
            found.setdefault(part, set()).add((line.offer, market.shipments[line.shipment].group))
    return found


def _text(
    studied: Studied,
    words: str,
    found: Alternative,
    instead: list[Entry],
    shares: tuple[tuple[str, float], ...],
    moved: tuple[str, ...],
) -> str:
    situation = studied.situation
    currency = situation.build.owner.currency
    if not instead:
        return f"{_first_up(words)}: every such way costs more than going without it."
    ways = " and ".join(_way(situation.build, situation.as_of, entry) for entry in instead)
    said = f"{_first_up(words)}, at best {ways}: {_more(found.extra, currency)}"
    if len(shares) > 1 or (shares and abs(shares[0][1] - found.extra) >= SAME):
        said += " (" + ", ".join(f"{_more(amount, currency)} {what}" for what, amount in shares) + ")"
    if moved:
        said += f"; {list_words(list(moved))} would then be bought otherwise too"
    if found.extra < -SAME:
        said += "; the plan as it is misses this, within what it may miss"
    doubt = max(found.extra - found.low, found.high - found.extra)
    if doubt > max(1.0, 0.1 * abs(found.extra)):
        said += f"; shown to within {max(doubt, 1.0):,.0f} {currency}"
    return said + "."


def _more(amount: float, currency: str) -> str:
    if abs(amount) < SAME:
        return "the same"
    return f"{abs(amount):,.0f} {currency} {'more' if amount > 0 else 'less'}"


def _first_up(words: str) -> str:
    return words[:1].upper() + words[1:]
