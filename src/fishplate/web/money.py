"""Money: where it stands in all, month by month, what was paid for what, what is set aside."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter
from fastapi.responses import Response
from markupsafe import Markup

from ..build import offer_contents
from ..build.defaults import hour_worth
from ..build.events import Receipt
from ..build.jobs import Allowance
from ..papers.charts import Chart, cash_chart, drawn
from ..plan import Plan
from ..records import Ledger, LineAgainstList, OrderAccount, PaidLine, against_list, ledger
from . import invoices, paying, saved, setting_aside
from .advice import offer_path
from .amounts import to_home, to_the_cent, with_original
from .ask import Ask, Asked
from .desk import View
from .ordering import counted
from .outlooks import name_of_offer
from .paying import PayForm, pay_form
from .shelf import owing_of
from .words import amount, day, exact, plain

router = APIRouter()
router.include_router(paying.router)
router.include_router(saved.router)
router.include_router(invoices.router)
router.include_router(setting_aside.router)
SMALL_THINGS = "small-things"


@dataclass(frozen=True, slots=True)
class Standing:
    """One share of what it all comes to; `what` says how it is reckoned."""

    name: str
    amount: str
    what: str


@dataclass(frozen=True, slots=True)
class MonthShown:
    """Money out in one month, home currency.

    Parameters
    ----------
    left : in hand after it if every month goes evenly; empty if it is not known what is in hand
    """

    month: str
    low: str
    even: str
    high: str
    left: str


@dataclass(frozen=True, slots=True)
class Owing:
    """An order that is not paid, or paid beyond what it costs."""

    what: str
    money: str
    form: PayForm | None


@dataclass(frozen=True, slots=True)
class PaidShown:
    """A payment, or what came back."""

    id: str
    day: date
    what: str
    amount: str
    whence: str
    note: str
    can_go: bool


@dataclass(frozen=True, slots=True)
class SystemShown:
    """What one area of the vehicle takes, whole units of home currency."""

    name: str
    paid: str
    owed: str
    to_buy: str
    whole: str


@dataclass(frozen=True, slots=True)
class AgainstShown:
    """An ordered line against its offer's price then."""

    day: date
    what: str
    path: str
    paid: str
    listed: str
    saved: str


@dataclass(frozen=True, slots=True)
class AllowanceShown:
    """Money set aside, home currency."""

    name: str
    whence: str
    aside: str
    drawn: str


@dataclass(frozen=True, slots=True)
class MoneyPage:
    """The page.

    Parameters
    ----------
    total, finish : the sentences that lead
    standing : what the total is made of
    months_said : how the months sit against what there is
    back : what others owe
    assumptions : those about the whole build; more : how many there are about single things
    """

    total: str
    finish: str
    standing: tuple[Standing, ...]
    sum: str
    chart: Chart | None
    months: tuple[MonthShown, ...]
    a_month: str
    months_said: str
    owing: tuple[Owing, ...]
    beyond: tuple[Owing, ...]
    pay: PayForm
    paid: tuple[PaidShown, ...]
    systems: tuple[SystemShown, ...]
    against: tuple[AgainstShown, ...]
    against_said: str
    allowances: tuple[AllowanceShown, ...]
    back: tuple[str, ...]
    without_rate: tuple[str, ...]
    assumptions: tuple[str, ...]
    more: int

    @property
    def drawing(self) -> Markup:
        """The months as SVG."""
        return Markup(drawn(self.chart))


def money_page(view: View, *, order: str = "") -> MoneyPage:
    """The page, from the events up to today and the last plan; a payment on an order is at hand if one is named."""
    build, plan = view.build, view.plan
    convert = to_home(build)
    books = ledger(build, view.as_of, convert)
    ahead = _ahead(view, plan, books)
    standing, total = _standing(view, books, ahead)
    owing = [account for account in books.accounts if account.owed.rounded().amount > 0]
    beyond = [account for account in books.accounts if account.owed.rounded().amount < 0]
    lines = against_list(build, view.as_of, convert)
    months = () if plan is None else plan.cash
    a_month = None if build.owner.cash_per_month is None else float(build.owner.cash_per_month)
    assumptions = () if plan is None else plan.assumptions
    chart = cash_chart(months, view.currency, a_month=a_month)
    return MoneyPage(
        total=_total_words(view, books, total),
        finish=_finish(plan),
        standing=standing,
        sum=to_the_cent(total, view.currency),
        chart=chart,
        months=tuple(_months(view, chart)),
        a_month="" if a_month is None else amount(a_month, view.currency),
        months_said=_months_said(view, chart),
        owing=tuple(_owing(view, account, pay=True) for account in owing),
        beyond=tuple(_owing(view, account, pay=False) for account in beyond),
        pay=pay_form(view, chosen=order, money=next((a.owed.rounded() for a in owing if a.order.id == order), None)),
        paid=tuple(_paid(view, line) for line in books.lines),
        systems=_systems(view, books, ahead),
        against=tuple(_against(view, line) for line in lines),
        against_said=_against_said(view, lines),
        allowances=tuple(_allowance(view, item, books, ahead) for item in build.allowances),
        back=tuple(owing.what for owing in owing_of(view)),
        without_rate=tuple(f"{exact(line.amount)} of {day(line.day)}" for line in books.without_rate),
        assumptions=tuple(dict.fromkeys(str(item) for item in assumptions if item.about == "build")),
        more=sum(item.about != "build" for item in assumptions),
    )


def _whole(books: Ledger, view: View) -> str:
    return amount(float(books.paid.amount), view.currency)


# what is to come


@dataclass(frozen=True, slots=True)
class _ToCome:
    """Money still to go out, home currency.

    Parameters
    ----------
    to_buy : by system; None for what names none, or several
    work : work sent out; trips : own hours left out
    """

    to_buy: Mapping[str | None, float]
    owed: Mapping[str | None, float]
    work: float
    trips: float

    @property
    def listed(self) -> float:
        """All of it."""
        return sum(self.to_buy.values()) + sum(self.owed.values()) + self.work + self.trips


def _ahead(view: View, plan: Plan | None, books: Ledger) -> _ToCome:
    build, facts = view.build, view.facts
    to_buy: dict[str | None, float] = defaultdict(float)
    trips = 0.0
    if plan is not None:
        for line in plan.purchase.lines:
            offer = build.index["offers"].get(line.offer)
            parts = {} if offer is None else offer_contents(build, offer)
            if any(facts.missing(build, part) > 0 for part in parts):
                systems = {build.find("parts", part).system for part in parts}
                to_buy[systems.pop() if len(systems) == 1 else None] += line.landed
        worth = hour_worth(build.owner)
        for trip in plan.purchase.collections:
            collection = build.index["collections"].get(trip.collection)
            trips += max(0.0, trip.trip_cost - (collection.hours * worth if collection is not None else 0.0))
    work = sum(job.cost for job in build.jobs if job.id in facts.wanted_jobs and not facts.is_done(job.id))
    owed = {item.system: float(item.owed.amount) for item in books.systems}
    return _ToCome(dict(to_buy), owed, work, trips)


def _total_words(view: View, books: Ledger, total: float) -> str:
    """What it all comes to; before the first plan what is still to be bought is not known."""
    known, paid = amount(total, view.currency), _whole(books, view)
    if view.plan is None:
        unknown = "What is still to buy is not known before the first plan."
        return f"Known so far: {known}, of which {paid} is paid. {unknown}"
    return f"Likely {known} in all, of which {paid} is paid."


def _standing(view: View, books: Ledger, ahead: _ToCome) -> tuple[tuple[Standing, ...], float]:
    code = view.currency
    to_buy = sum(ahead.to_buy.values())
    rows = [("Paid", float(books.paid.amount), "payments less what came back")]
    rows.append(("On order, not paid", float(books.owed.amount), "what orders still cost, at today's rates"))
    if view.plan is not None:
        rows.append(("Still to buy", to_buy, "at the door, as the last plan buys it"))
    if asked := _on_arrival(view, books):
        rows.append(("Asked on arrival", asked, "duty, tax and fees that are likely on what is on its way"))
    if ahead.trips:
        rows.append(("Trips to fetch it", ahead.trips, "own hours left out"))
    if ahead.work:
        rows.append(("Work sent out", ahead.work, "jobs not done that cost money"))
    for kind, name in ((SMALL_THINGS, "Small things"), ("discovery", "What is found on the way")):
        aside = sum(_aside(view, item, ahead) for item in view.build.allowances if item.kind == kind)
        if aside:
            rows.append((name, aside, "set aside, on top of what is listed"))
    total = sum(value for _, value, _ in rows)
    return tuple(Standing(name, to_the_cent(value, code), what) for name, value, what in rows), total


def _on_arrival(view: View, books: Ledger) -> float:
    """What is likely to be asked on arrival of orders nothing has come of, and nothing was asked on; home currency."""
    begun = {event.order for event in view.build.events if isinstance(event, Receipt) and event.day <= view.as_of}
    begun |= {account.order.id for account in books.accounts if account.charges.amount}
    waiting = {item.order for item in view.facts.incoming} - begun
    bills = [account.order.likely_bill or () for account in books.accounts if account.order.id in waiting]
    return sum(float(line.amount.amount) for bill in bills for line in bill if line.kind != "freight")


def _aside(view: View, item: Allowance, ahead: _ToCome) -> float:
    """What an allowance sets aside of what is to come: of its system, or of all that has none of its own."""
    share = float(item.money_percent) / 100
    if item.system is not None:
        return share * (ahead.to_buy.get(item.system, 0.0) + ahead.owed.get(item.system, 0.0))
    own = {each.system for each in view.build.allowances if each.kind == item.kind and each.system is not None}
    taken = sum(ahead.to_buy.get(system, 0.0) + ahead.owed.get(system, 0.0) for system in own)
    return share * (ahead.listed - taken)


def _allowance(view: View, item: Allowance, books: Ledger, ahead: _ToCome) -> AllowanceShown:
    kind = "Small things" if item.kind == SMALL_THINGS else "What is found on the way"
    system = view.build.index["systems"].get(item.system or "")
    name = f"{kind}: {system.name}" if system is not None else kind
    own = item.system is None and any(each.kind == item.kind and each.system for each in view.build.allowances)
    of = "what is to come for it" if item.system else "all else that is to come" if own else "all that is to come"
    used = next(use.drawn for use in books.allowances if use.allowance == item.id)
    return AllowanceShown(
        name=name,
        whence=f"{item.money_percent:g} % of {of}",
        aside=to_the_cent(_aside(view, item, ahead), view.currency),
        drawn=exact(used.rounded()),
    )


def _finish(plan: Plan | None) -> str:
    if plan is None or plan.finish.p50 is None:
        return ""
    sure = f", four chances in five by {day(plan.finish.p80)}" if plan.finish.p80 is not None else ""
    return f"An even chance that it is finished by {day(plan.finish.p50)}{sure}."


# month by month


def _balances(view: View, chart: Chart) -> list[float] | None:
    """In hand after each month, if every month goes evenly; None if it is not known."""
    owner = view.build.owner
    if owner.cash_now is None and owner.cash_per_month is None:
        return None
    left, found = float(owner.cash_now or 0), []
    for even in chart.marks[1].values:
        left += float(owner.cash_per_month or 0) - (even or 0.0)
        found.append(left)
    return found


def _months(view: View, chart: Chart | None) -> Iterator[MonthShown]:
    if chart is None:
        return
    band, even = chart.marks[0], chart.marks[1]
    left = _balances(view, chart)
    for position, name in enumerate(chart.short):
        low = band.low[position] if band.low is not None else 0.0
        yield MonthShown(
            month=name,
            low=f"{low:,.0f}",
            even=f"{even.values[position] or 0.0:,.0f}",
            high=f"{band.values[position] or 0.0:,.0f}",
            left="" if left is None else f"{left[position]:,.0f}".replace("-", "−"),
        )


def _months_said(view: View, chart: Chart | None) -> str:
    """How the months sit against what there is a month and in hand."""
    left = None if chart is None else _balances(view, chart)
    if chart is None:
        return ""
    if left is None:
        return "How much there is a month, and in hand, is not written down, so no month is held against it."
    short = next((position for position, value in enumerate(left) if value < 0), None)
    if short is not None:
        return (
            f"If every month goes evenly, {amount(-left[short], view.currency)} is short by the end of "
            f"{chart.points[short]}: put something off until there is enough, or set more aside."
        )
    least = min(range(len(left)), key=lambda position: left[position])
    return (
        f"If every month goes evenly there is always enough; the least is {amount(left[least], view.currency)} in hand "
        f"at the end of {chart.points[least]}."
    )


# what was paid


def _owing(view: View, account: OrderAccount, *, pay: bool) -> Owing:
    order = account.order
    supplier = view.build.find("suppliers", order.supplier).name
    owed = account.owed.rounded()
    home = to_home(view.build)(owed if pay else -owed, view.as_of)
    words = with_original(None if home is None else home.rounded(), owed if pay else -owed)
    form = pay_form(view, order=order.id, money=owed) if pay else None
    return Owing(f"{supplier}, ordered on {day(order.day)}", words, form)


def _paid(view: View, line: PaidLine) -> PaidShown:
    build = view.build
    order = build.index["events"].get(line.order or "")
    supplier = "" if order is None else build.find("suppliers", order.supplier).name
    allowance = build.index["allowances"].get(line.allowance or "")
    aside = "" if allowance is None else ("small things" if allowance.kind == SMALL_THINGS else "found on the way")
    whence = "" if line.amount.currency == view.currency else (
        "as the bank booked it" if line.booked else "at that day's rate"
    )  # fmt: skip
    return PaidShown(
        id=line.event,
        day=line.day,
        what=", ".join(filter(None, (line.what[:1].upper() + line.what[1:], supplier, aside))),
        amount=with_original(None if line.home is None else line.home.rounded(), line.amount),
        whence=whence,
        note=line.note,
        can_go=view.build.find("events", line.event).kind == "paid",
    )


def _systems(view: View, books: Ledger, ahead: _ToCome) -> tuple[SystemShown, ...]:
    paid = {item.system: float(item.paid.amount) for item in books.systems}
    names = {system.id: system.name for system in view.build.systems}
    found = []
    for system in [*names, None]:
        figures = (paid.get(system, 0.0), ahead.owed.get(system, 0.0), ahead.to_buy.get(system, 0.0))
        if any(figures):
            name = "No one system" if system is None else names[system]
            found.append(SystemShown(name, *(plain(value) for value in (*figures, sum(figures)))))
    return tuple(found)


def _against(view: View, line: LineAgainstList) -> AgainstShown:
    build = view.build
    offer = build.find("offers", line.offer)
    listed = "not known"
    if line.listed is not None and line.seen is not None:
        late = "first seen later, " if line.seen > line.day else "seen "
        listed = f"{exact(line.listed)}, {late}{day(line.seen)}"
    return AgainstShown(
        day=line.day,
        what=counted(line.quantity, name_of_offer(build, offer)),
        path=offer_path(offer.id),
        paid=exact(line.paid),
        listed=listed,
        saved=_saved(line),
    )


def _saved(line: LineAgainstList) -> str:
    if line.saved is None:
        return "not known"
    saved = line.saved.rounded()
    if saved.amount == 0:
        return "the same"
    home = None if line.saved_home is None else line.saved_home.rounded()
    less = saved.amount > 0
    words = with_original(home if less or home is None else -home, saved if less else -saved)
    return f"{words} less" if less else f"{words} more"


def _against_said(view: View, lines: Sequence[LineAgainstList]) -> str:
    known = [line.saved_home for line in lines if line.saved_home is not None]
    total = sum(float(money.amount) for money in known)
    if not known:
        return ""
    words = to_the_cent(abs(total), view.currency)
    return f"In all {words} {'less' if total >= 0 else 'more'} than the regular prices of the time, freight left aside."


# routes


def show_money(ask: Ask) -> Response:
    """The page."""
    page = money_page(ask.view, order=ask.request.query_params.get("order", ""))
    return ask.show("money.html", page, title="Money")


@router.get("/money")
def show(ask: Asked) -> Response:
    """The page."""
    return show_money(ask)
