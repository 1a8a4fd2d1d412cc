"""How values are put into words: days, money, chances, what waiting costs, and the mark of a verdict.

Figures are canonical here; `Ask.show` tells the whole page in the owner's units and locale.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from math import ceil
from typing import Final, get_args

from markupsafe import Markup

from ..build import Money
from ..build.commerce import ReturnEnd
from ..build.formats import CANONICAL, current
from ..build.interfaces import Instrument, SpreadMeaning
from ..build.parts import Phase
from ..build.words import month_words
from ..plan import Action
from ..plan.sentences import chance_words, list_words
from ..store import Change, Conflict, change_words
from .fields import limit_field, number_field

_SUM: Final = re.compile(r"(?<=\d) (?=[A-Z]{3}\b)")


def day(value: date | None) -> str:
    """A day in words.

    Examples
    --------
    >>> day(date(2027, 2, 3)), day(None)
    ('3 February 2027', 'later than can be told')
    """
    return "later than can be told" if value is None else CANONICAL.day(value)


def moment(value: datetime) -> str:
    """A moment of the journal, in the time of this machine."""
    here = value.astimezone()
    return f"{day(here.date())}, {here:%H:%M}"


def amount(value: float, currency: str) -> str:
    """Expected money, to the whole unit.

    Examples
    --------
    >>> amount(1234.5, "EUR")
    '1,234 EUR'
    """
    return CANONICAL.amount(value, currency)


def plain(value: float) -> str:
    """Expected money without its currency, for columns that name it at their head."""
    return CANONICAL.grouped(value)


def listed(names: Sequence[str], most: int = 3) -> str:
    """Names joined as in a sentence; beyond `most` they are counted."""
    return list_words(list(names), most=most)


def exact(value: Money) -> str:
    """Money as it was written or paid.

    Examples
    --------
    >>> exact(Money.of("1038.5", "EUR"))
    '1,038.50 EUR'
    """
    return CANONICAL.money(value)


def number(value: float) -> str:
    """A number without needless digits.

    Examples
    --------
    >>> number(2.0), number(0.125)
    ('2', '0.125')
    """
    return CANONICAL.number(value)


def weeks_span(low: float, high: float) -> str:
    """From so many weeks to so many; in days where it may be less than one.

    Examples
    --------
    >>> weeks_span(0.3, 1.5), weeks_span(1, 5), weeks_span(1, 1)
    ('2 to 11 days', '1 to 5 weeks', '1 week')
    """
    unit, ends = ("day", (round(7 * low), ceil(7 * high))) if low < 1 else ("week", (low, high))
    first, last = (number(end) for end in ends)
    return f"{f'{first} to ' if first != last else ''}{last} {unit}{'' if last == '1' else 's'}"


def begun(text: str) -> str:
    """Words as they begin a sentence, all but the first letter as they are.

    Examples
    --------
    >>> begun("at least 0 N")
    'At least 0 N'
    """
    return text[:1].upper() + text[1:]


def unit_sign(unit: str) -> str:
    """The unit a figure is to be written down in, where none stands beside it yet."""
    return current().unit_sign(unit)


def in_field(value: float | Decimal) -> str:
    """A number as a field is filled with it: to the last digit, so that an untouched field changes nothing.

    Examples
    --------
    >>> in_field(1234567.25), in_field(4.0)
    ('1234567.25', '4')
    """
    return CANONICAL.typed(value)


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


def conflict_lines(conflict: Conflict) -> tuple[str, ...]:
    """What two hands wrote, field by field: as it is in the file, then as it was to be written."""
    lines = change_words(Change(*conflict.key, conflict.yours, conflict.theirs))
    return tuple(line[:1].upper() + line[1:] for line in lines)


def pairs(options: Sequence[tuple[str, str, str]]) -> list[tuple[str, str]]:
    """Options without their finer line, for a list to choose from."""
    return [(value, words) for value, words, _ in options]


MEANINGS = (
    (SpreadMeaning.LIMITS.value, "never off by more"),
    (SpreadMeaning.LIMITS_TRIANGULAR.value, "never off by more, seldom near it"),
    (SpreadMeaning.STANDARD_DEVIATION.value, "one standard deviation"),
    (SpreadMeaning.EXPANDED.value, "expanded, k = 2"),
)
INSTRUMENTS = tuple((name, name.replace("-", " ")) for name in get_args(Instrument))
RETURN_ENDS = {end: end.replace("-", " ") for end in get_args(ReturnEnd)} | {
    "bolted": "bolted on",
    "electrical": "connected",
}
# What a warranty counts from.
STARTS: Final = (
    ("receipt", "the day it comes"),
    ("fitting", "the day it is fitted"),
    ("order", "the day of the order"),
)
PHASE_WORDS = {
    Phase.DEFINE: "Define: to know what is wanted",
    Phase.STRIP: "Strip",
    Phase.STRUCTURE: "Structure: metal and welding",
    Phase.MOCK_UP: "Mock-up: to try it",
    Phase.BODY_FIT: "Body fit",
    Phase.FINISH: "Finish: paint and seal",
    Phase.ASSEMBLY: "Assembly: to keep",
    Phase.COMMISSION: "Commission: set up, inspect",
}


def together(text: str) -> str:
    """A sentence whose sums stay with their currency where its lines are broken.

    Examples
    --------
    >>> together("It costs 12.50 EUR in all.")
    'It costs 12.50\\xa0EUR in all.'
    """
    return _SUM.sub("\u00a0", text)


GLOBALS = {
    "number_field": number_field,
    "meanings": MEANINGS,
    "instruments": INSTRUMENTS,
    "return_ends": RETURN_ENDS,
    "phase_options": (("", "not yet"), *((phase.value, words) for phase, words in PHASE_WORDS.items())),
}

FILTERS = {
    "together": together,
    "pairs": pairs,
    "conflict_lines": conflict_lines,
    "day": day,
    "moment": moment,
    "month": month_words,
    "amount": amount,
    "plain": plain,
    "listed": listed,
    "exact": exact,
    "number": number,
    "chance": chance,
    "waiting": waiting,
    "mark": mark,
    "begun": begun,
    "limit_field": limit_field,
    "unit_sign": unit_sign,
}
