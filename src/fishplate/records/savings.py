"""The savings book: what was saved and avoided against baselines frozen at order, less what having it early cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ..build import Build, Facts, Money, offer_contents
from ..build.commerce import Offer, PriceChange
from ..build.defaults import RESALE_SHARE, carrying_percent
from ..build.events import Claim, Order, OrderLine, Payment, Refund, Return, Settlement
from .against_list import listed_price
from .invoices import InvoiceState, invoice_states
from .ledger import given_back, ledger
from .lots import Lot, lots_of
from .model import OrderState, ToHome
from .orders import order_states
from .returns import refund_by_terms, return_rights, terms_of


@dataclass(frozen=True, slots=True)
class SavingsLine:
    """One line of an order in the savings book, home currency, all units together.

    Parameters
    ----------
    saving : list price of its week less what was paid; None if no list price is known
    frozen : the list price was written down with the order; else it is the one seen by then
    at_door : both prices are at the door, by the seller's usual way and by the way it came; else of the goods alone
    avoidance : the higher price, announced or seen since, less what was paid; None if there is none
    seen : the higher price was really seen; until then the avoidance is tentative
    carrying : money tied up from the order until it was fitted, or until today
    lapsed : what is likely lost on units that do not fit, or are not wanted, and can't go back any more
    returned : what units that went back cost all the same: kept by the seller, freight and charges, and sending them
    forfeited : what the seller kept of what had been paid for what was cancelled
    """

    order: str
    offer: str
    day: date
    paid: Money
    saving: Money | None
    frozen: bool
    at_door: bool
    avoidance: Money | None
    seen: bool
    carrying: Money
    lapsed: Money
    returned: Money
    forfeited: Money

    @property
    def kept(self) -> Money:
        """What stands in the book: the saving, or an avoidance that was seen if it is more, less what it cost.

        The two are never added: an avoidance contains the saving.
        """
        gain = self.saving or self.paid * 0
        if self.avoidance is not None and self.seen and self.avoidance.amount > gain.amount:
            gain = self.avoidance
        return gain - self.carrying - self.lapsed - self.returned - self.forfeited

    @property
    def tentative(self) -> Money:
        """What would be added if the announced price comes."""
        none = self.paid * 0
        if self.avoidance is None or self.seen:
            return none
        more = self.avoidance - (self.saving or none)
        return more if more.amount > 0 else none


@dataclass(frozen=True, slots=True)
class SavingsBook:
    """All lines, latest first; kept and tentative are their sums. without_rate : lines no rate is known for."""

    currency: str
    lines: tuple[SavingsLine, ...]
    kept: Money
    tentative: Money
    without_rate: tuple[tuple[str, str], ...]


def with_baselines(build: Build, order: Order) -> Order:
    """An order about to be written down, with the prices of its week and the core charges frozen in its lines."""
    return order.model_copy(update={"lines": tuple(_frozen(build, order, line) for line in order.lines)})


def _frozen(build: Build, order: Order, line: OrderLine) -> OrderLine:
    offer: Offer = build.find("offers", line.offer)
    listed = line.listed or listed_price(build, offer, order.day, line.price.currency)
    announced = line.announced or _announced(build, offer, order.day, listed)
    return line.model_copy(update={"listed": listed, "announced": announced, "core": line.core or offer.core_charge})


def _announced(build: Build, offer: Offer, day: date, listed: Money | None) -> Money | None:
    """The highest price announced for later than a day; None if no rise is."""
    rises = [change.percent for change in _rises(build, offer, day)]
    return None if listed is None or not rises else (listed * (1 + Decimal(str(max(rises))) / 100)).rounded()


def _rises(build: Build, offer: Offer, day: date) -> list[PriceChange]:
    """Rises of an offer announced for later than a day."""
    return [change for change in build.price_changes if change.day > day and change.percent > 0
            and _is_about(build, change, offer)]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Books:
    """What every line is reckoned from, read once."""

    build: Build
    facts: Facts
    to_home: ToHome
    lots: Mapping[str, tuple[Lot, ...]]
    can_go: Mapping[tuple[str, str], float]
    paid_invoices: tuple[InvoiceState, ...]
    forfeits: Mapping[str, Money]

    def none(self) -> Money:
        """Nothing, in home currency."""
        return Money(amount=Decimal(0), currency=self.build.owner.currency)

    def home(self, money: Money | None, day: date) -> Money:
        """Money of a day in home currency; nothing where no rate is known."""
        return (None if money is None else self.to_home(money, day)) or self.none()


def savings_book(build: Build, facts: Facts, to_home: ToHome) -> SavingsBook:
    """What every order line saved, up to the day of the facts.

    Notes
    -----
    Prices are at the door: as ordered, with what was really charged on arrival once that is paid, against the regular
    price by the seller's usual way home; a trip's own cost is left out. Where the order was not reckoned so, they are
    of the goods alone. The baseline is what was frozen with the order; where nothing was, the last regular price seen
    up to its day.
    Carrying cost is simple interest at the owner's yearly rate, unit by unit until it was fitted or went back. A unit
    found not to go, or that nothing planned calls for, and whose return has lapsed, is expected to fetch RESALE_SHARE
    of its price (common practice). What went back saved nothing; until its refund is written down, what its terms give
    counts. What was cancelled, or never came, saved nothing either; what had been paid for it is lost once what came
    back was written down, be it nothing. Pieces of a kit are taken to be worth the same.
    """
    as_of = facts.as_of
    can_go: dict[tuple[str, str], float] = defaultdict(float)
    for right in return_rights(build, as_of):
        can_go[right.order, right.part] += right.quantity
    paid = tuple(state for state in invoice_states(build, as_of)
                 if state.invoice.sent_by == "seller" and state.owed.amount <= 0)  # fmt: skip
    states = order_states(build, as_of)
    books = _Books(build, facts, to_home, lots_of(build, as_of), can_go, paid, _forfeits(build, states, as_of, to_home))
    lines, without = [], []
    for state in reversed(states):
        for position, line in enumerate(state.order.lines):
            made = _line(books, state, position)
            if made is None:
                without.append((state.order.id, line.offer))
            else:
                lines.append(made)
    none = books.none()
    return SavingsBook(
        none.currency, tuple(lines), sum((line.kept for line in lines), none),
        sum((line.tentative for line in lines), none), tuple(without),
    )  # fmt: skip


def _line(books: _Books, state: OrderState, position: int) -> SavingsLine | None:
    build, facts, to_home = books.build, books.facts, books.to_home
    order, line = state.order, state.order.lines[position]
    units = Decimal(str(line.quantity))
    offer: Offer = build.find("offers", line.offer)
    goods = to_home(line.price * units, order.day)
    if goods is None:
        return None
    listed = line.listed or listed_price(build, offer, order.day, line.price.currency)
    regular = None if listed is None else to_home(listed * units, order.day)
    higher, seen = _higher(build, offer, order, line, facts.as_of)
    dearer = None if higher is None else to_home(higher * units, order.day)
    whole, base, more = _at_the_door(build, facts, order, line, (goods, regular, dearer), to_home)
    whole += _invoiced_beyond(books, order, line)
    back = _returns(build, order, offer, facts.as_of)
    pieces = sum(offer_contents(build, offer).values()) * line.quantity
    gone = Decimal(str(sum(event.quantity for event in back) / pieces))
    kept = state.share_kept(position)
    stays = max(Decimal(0), kept - gone)
    less, unsettled = _claimed(books, state, position, whole)
    paid = (whole * stays) - less
    base, more = None if base is None else base * stays, None if more is None else more * stays
    rate = Decimal(str(carrying_percent(build.owner))) / 100
    lost = _lapsed_share(books, offer, state, pieces)
    return SavingsLine(
        order=order.id,
        offer=offer.id,
        day=order.day,
        paid=paid.rounded(),
        saving=None if base is None else (base - paid).rounded(),
        frozen=line.listed is not None,
        at_door=line.listed_at_door is not None and line.at_door is not None,
        avoidance=None if more is None or more.amount <= paid.amount else (more - paid).rounded(),
        seen=seen,
        carrying=(whole * (rate * _days_tied_up(books, state, position) / 365)).rounded(),
        lapsed=(whole * (lost * (1 - Decimal(str(RESALE_SHARE))))).rounded(),
        returned=sum(
            (_cost_of(build, event, facts.as_of, to_home) for event in back), whole * min(gone, kept) + unsettled
        ).rounded(),
        forfeited=_forfeited(books, state, position).rounded(),
    )


def _forfeits(build: Build, states: Sequence[OrderState], as_of: date, to_home: ToHome) -> Mapping[str, Money]:
    """Cancelled order -> what was paid for it and will not come back, at the rates at which it was paid; home currency.

    Until what came back was written down, be it nothing, all is still asked for and none is lost.
    """
    over = {state.order.id for state in states if state.cancelled_on is not None and given_back(build, state, as_of)}
    if not over:
        return {}
    found = {}
    for account in ledger(build, as_of, to_home).accounts:
        kept, paid = -account.owed.rounded(), account.paid
        if account.order.id in over and kept.amount > 0 and paid.amount > 0 and account.paid_home is not None:
            found[account.order.id] = account.paid_home * (kept.amount / paid.amount)
    return found


def _forfeited(books: _Books, state: OrderState, position: int) -> Money:
    """What was lost of a cancelled order, in the share of a line in what did not come."""
    lost = books.forfeits.get(state.order.id)
    if lost is None:
        return books.none()

    def worth(at: int, missing: float) -> Decimal:
        ordered = sum(item.ordered for item in state.lines if item.line == at)
        return state.value_of(at).amount * Decimal(str(missing / ordered)) if ordered else Decimal(0)

    mine = worth(position, sum(item.waiting for item in state.lines if item.line == position))
    # what a claim ended without is counted with the claim
    every = sum(worth(item.line, item.waiting + item.off) for item in state.lines)
    return lost * (mine / every) if every else books.none()


def _claimed(books: _Books, state: OrderState, position: int, whole: Money) -> tuple[Money, Money]:
    """What claims took off the price of what was kept, and what they left unpaid of what never came; home currency.

    A claim's money counts as promised until it has come.
    """
    parts = {line.part for line in state.lines if line.line == position}
    first = {line.part: line.line for line in reversed(state.lines)}
    ordered = sum(line.ordered for line in state.lines if line.line == position)
    off = sum(line.off for line in state.lines if line.line == position)
    less, came = books.none(), books.none()
    events = [event for event in books.build.events if event.day <= books.facts.as_of]
    claims = {event.id: event for event in events if isinstance(event, Claim) and event.order == state.order.id
              and event.part in parts and first[event.part] == position}  # fmt: skip
    for end in events:
        if not isinstance(end, Settlement) or end.claim not in claims or end.outcome in ("replacement", "refused"):
            continue
        back = [each for each in events if isinstance(each, Refund) and each.claim == end.claim]
        money = sum((each.home_amount or books.home(each.amount, each.day) for each in back), books.none())
        if not back:
            worth = whole * (Decimal(str(claims[end.claim].quantity)) / Decimal(str(ordered)))
            money = books.home(end.amount, end.day) if end.amount is not None or end.outcome != "refund" else worth
        if end.outcome == "refund":
            came += money
        else:
            less += money
    return less, whole * (Decimal(str(off)) / Decimal(str(ordered)) if ordered else Decimal(0)) - came


def _days_tied_up(books: _Books, state: OrderState, position: int) -> Decimal:
    """Days from the order until a unit of a line was fitted, went back or was given up; today while it was not."""
    order, as_of = state.order, books.facts.as_of
    ends = state.cancelled_on or as_of
    means = []
    for item in (line for line in state.lines if line.line == position):
        lots = [lot for lot in books.lots.get(item.part, ()) if lot.order == order.id]
        came = [(day, count) for lot in lots for day, count, _ in lot.gone] + [(as_of, lot.left) for lot in lots]
        days = sum(max(0, (day - order.day).days) * count for day, count in came)
        units = sum(count for _, count in came)
        mean = days / units if units else 0.0
        waits = item.waiting * (ends - order.day).days
        means.append((mean * item.arrived + waits) / item.ordered if item.ordered else 0.0)
    return Decimal(str(sum(means) / len(means))) if means else Decimal(0)


def _returns(build: Build, order: Order, offer: Offer, as_of: date) -> list[Return]:
    """What went back of an order's line as the owner wished; what came faulty was never owned."""
    parts = offer_contents(build, offer)
    return [event for event in build.events if isinstance(event, Return) and event.day <= as_of
            and event.order == order.id and event.part in parts and event.claim is None]  # fmt: skip


def _cost_of(build: Build, event: Return, as_of: date, to_home: ToHome) -> Money:
    """What sending back cost less what came back for it, or is to come by its terms; home currency."""
    refunds = [each for each in build.events if isinstance(each, Refund) and each.returned == event.id
               and each.day <= as_of]  # fmt: skip
    came = [each.home_amount or to_home(each.amount, each.day) for each in refunds]
    if event.refund is not None:
        came.append(to_home(event.refund, event.day))
    elif not any(each.what == "goods" for each in refunds) and (due := refund_by_terms(build, event)) is not None:
        came.append(to_home(due[0], event.day))
    cost = None if event.cost is None else to_home(event.cost, event.day)
    none = Money(amount=Decimal(0), currency=build.owner.currency)
    return (cost or none) - sum((money for money in came if money is not None), none)


def _at_the_door(
    build: Build, facts: Facts, order: Order, line: OrderLine, goods: tuple[Money, Money | None, Money | None],
    to_home: ToHome,
) -> tuple[Money, Money | None, Money | None]:  # fmt: skip
    """What was paid, the regular price and the higher one, at the door where both are known there.

    A dearer price is counted by what the goods alone cost more, so that an avoidance is not overstated.
    """
    _, regular, dearer = goods
    if line.listed_at_door is None or line.at_door is None:
        return goods
    base = line.listed_at_door
    more = None if dearer is None or regular is None else base + (dearer - regular)
    return line.at_door + _charged_beyond(build, facts, order, line, to_home), base, more


def _invoiced_beyond(books: _Books, order: Order, line: OrderLine) -> Money:
    """What the seller's invoices that were paid ask for a line beyond what was ordered; home currency."""
    mine = [state for state in books.paid_invoices if state.invoice.order == order.id]
    asked = [item.amount for state in mine for item in state.invoice.lines if item.offer == line.offer]
    if not asked or any(money.currency != line.price.currency for money in asked):
        return books.none()
    ordered = sum((item.price * Decimal(str(item.quantity)) for item in order.lines if item.offer == line.offer),
                  line.price * 0)  # fmt: skip
    beyond = sum(asked, line.price * 0) - ordered
    if beyond.amount <= 0:
        return books.none()  # it may be for a part of it
    share = (line.price * Decimal(str(line.quantity))).amount / ordered.amount if ordered.amount else Decimal(0)
    return books.home(beyond * share, mine[0].invoice.day)


def _charged_beyond(build: Build, facts: Facts, order: Order, line: OrderLine, to_home: ToHome) -> Money:
    """What was paid on arrival beyond the likely bill, in the share of a line; nothing before it was paid."""
    none = Money(amount=Decimal(0), currency=build.owner.currency)
    paid = [event for event in build.events if isinstance(event, Payment) and event.order == order.id
            and event.what in ("duty", "tax", "fees") and event.day <= facts.as_of]  # fmt: skip
    known = [event.home_amount or to_home(event.amount, event.day) for event in paid]
    charged = [money for money in known if money is not None]
    if not charged or len(charged) < len(known) or order.likely_bill is None or line.at_door is None:
        return none
    likely = sum((item.amount for item in order.likely_bill if item.kind != "freight"), none)
    whole = sum((item.at_door for item in order.lines if item.at_door is not None), none)
    return (sum(charged, none) - likely) * (line.at_door.amount / whole.amount) if whole.amount else none


def _higher(build: Build, offer: Offer, order: Order, line: OrderLine, as_of: date) -> tuple[Money | None, bool]:
    """The highest regular price seen after the order, or else the announced one, and whether it was seen.

    A rise whose day has come and that the regular price seen since does not show was none.
    """
    seen = [(s.day, s.price) for s in build.sightings if s.offer == offer.id and not s.sale]
    seen += [(offer.seen, offer.price)] if offer.seen is not None else []
    seen = [(day, price) for day, price in seen if order.day < day <= as_of and price.currency == line.price.currency]
    higher = [price for _, price in seen if price.amount > line.price.amount]
    if higher:
        return max(higher, key=lambda price: price.amount), True
    comes = [change.day for change in _rises(build, offer, order.day)]
    if comes and any(day >= max(comes) for day, _ in seen):
        return None, False
    if line.announced is not None and line.announced.currency == line.price.currency:
        return line.announced, False
    base = line.listed or listed_price(build, offer, order.day, line.price.currency)
    return _announced(build, offer, order.day, base), False


def _is_about(build: Build, change: PriceChange, offer: Offer) -> bool:
    if change.offer is not None:
        return change.offer == offer.id
    categories = {build.find("parts", part).category for part in offer_contents(build, offer)}
    return change.supplier in (None, offer.supplier) and (not change.category or change.category in categories)


def _lapsed_share(books: _Books, offer: Offer, state: OrderState, pieces: float) -> Decimal:
    """Share of a line that is no use and can't go back any more."""
    if terms_of(offer)[0].days == 0:
        return Decimal(0)
    lost, every = 0.0, sum(line.ordered for line in state.lines if line.offer == offer.id)
    for part in offer_contents(books.build, offer):
        lies = sum(lot.left for lot in books.lots.get(part, ()) if lot.order == state.order.id)
        useless = lies if part not in books.facts.wanted_parts else min(lies, books.facts.wrong_counts.get(part, 0.0))
        lost += max(0.0, useless - books.can_go.get((state.order.id, part), 0.0))
    return Decimal(str(min(1.0, lost / max(every, pieces))))  # of all lines with the offer, each the same share
