"""How values are shown: days, money, chances, what waiting costs, and the mark of a verdict."""

from __future__ import annotations

from datetime import date, datetime

from markupsafe import Markup

from ..build import Money
from ..plan import Action
from ..plan.sentences import chance_words, money_words
from ..store import Conflict
from ..store.wording import noun_words, value_words


def day(value: date | None) -> str:
    """A day in words.

    Examples
    --------
    >>> day(date(2027, 2, 3)), day(None)
    ('3 February 2027', 'later than can be told')
    """
    return "later than can be told" if value is None else f"{value.day} {value:%B %Y}"


def moment(value: datetime) -> str:
    """A moment of the journal, in the time of this machine."""
    here = value.astimezone()
    return f"{day(here.date())}, {here:%H:%M}"


def month(value: str) -> str:
    """A month such as "2027-03" in words.

    Examples
    --------
    >>> month("2027-03")
    'March 2027'
    """
    return f"{date.fromisoformat(value + '-01'):%B %Y}"


def amount(value: float, currency: str) -> str:
    """Expected money, to the whole unit.

    Examples
    --------
    >>> amount(1234.5, "EUR")
    '1,234 EUR'
    """
    return money_words(value, currency)


def exact(value: Money) -> str:
    """Money as it was written or paid.

    Examples
    --------
    >>> exact(Money.of("1038.5", "EUR"))
    '1,038.50 EUR'
    """
    return f"{value.rounded().amount:,f} {value.currency}"


def number(value: float) -> str:
    """A number without needless digits.

    Examples
    --------
    >>> number(2.0), number(0.125)
    ('2', '0.125')
    """
    return f"{value:.6g}"


def chance(value: float | None) -> str:
    """A chance, never shown as 0 or 100 percent."""
    return "not known" if value is None else chance_words(value)


def waiting(action: Action) -> str:
    """What putting an action off is expected to cost, as a sentence."""
    cost = action.cost_of_waiting
    weeks = f"{cost.weeks:g} week{'' if cost.weeks == 1 else 's'}"
    if cost.amount > cost.resolution:
        return f"Putting it off {weeks} is expected to cost {amount(cost.amount, cost.currency)}."
    if cost.amount < -cost.resolution:
        return f"Better to wait: {amount(-cost.amount, cost.currency)} gained by {weeks}."
    return f"Waiting costs less than {amount(max(1.0, cost.resolution), cost.currency)}."


_MARKS = {
    "fits": '<path d="M1 9h10M17 9h10" class="rail"/><path d="M7 9h14" class="plate"/>',
    "in doubt": '<path d="M1 9h10M17 9h10" class="rail"/><path d="M7 9h14" class="plate loose"/>',
    "does not fit": '<path d="M1 5h10M17 13h10" class="rail"/>',
    "not known": '<path d="M1 9h10" class="rail"/><path d="M17 9h10" class="rail loose"/>',
}


def mark(verdict: str) -> Markup:
    """Two rails and what joins them: the shape says the verdict without colour. The word stands beside it."""
    return Markup(f'<svg class="mark" viewBox="0 0 28 18" aria-hidden="true">{_MARKS[verdict]}</svg>')


def conflict_name(conflict: Conflict) -> str:
    """What two hands changed."""
    words = noun_words(*conflict.key)
    return words[:1].upper() + words[1:]


FILTERS = {
    "conflict_name": conflict_name,
    "value": value_words,
    "day": day,
    "moment": moment,
    "month": month,
    "amount": amount,
    "exact": exact,
    "number": number,
    "chance": chance,
    "waiting": waiting,
    "mark": mark,
}
