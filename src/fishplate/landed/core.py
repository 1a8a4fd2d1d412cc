"""Core charges: paid with the part, in its value at the border, and back once the old part is.

The customs value is what is paid or to be paid for the goods as a condition of their sale (Agreement on Implementation
of Article VII of the GATT 1994, article 1 and the note to it). Neither it nor the laws read here say that money to come
back for an old part is left out, so it is counted, and the duty and tax on it are taken not to come back: common
practice, the dearer reading, and said in every result it touches.
"""

from __future__ import annotations

from ..build.commerce import Offer
from ..build.money import Money, Rates
from ..build.problem import Assumption
from .figures import money_words

RETURNED_DAYS = 30
"""How soon an old part is back where the offer names no days: common practice [days]."""


def with_core(offer: Offer, price: Money, rates: Rates) -> Money:
    """What is paid for one unit of an offer with its core charge, in the currency of the price.

    Raises
    ------
    UnknownRateError
        if the core charge is in a currency without a rate
    """
    return price if offer.core_charge is None else price + rates.convert(offer.core_charge, price.currency)


def core_weeks(offer: Offer) -> float:
    """Weeks from having the part until the core charge is back."""
    return (RETURNED_DAYS if offer.core_days is None else offer.core_days) / 7


def core_assumed(offer: Offer) -> Assumption:
    """What is taken for granted about a core charge."""
    days = f"within {offer.core_days} days" if offer.core_days is not None else f"{RETURNED_DAYS} days after it came"
    charge = "" if offer.core_charge is None else f", {money_words(offer.core_charge)},"
    text = (
        f"the core charge of {offer.id}{charge} is paid with it, counts in its value at a border, and "
        f"comes back with the old part {days}, without the duty and tax on it (common practice: ask the seller)"
    )
    return Assumption("core-charge", f"offer {offer.id}", text)
