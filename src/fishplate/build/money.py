"""Money: a decimal amount in an ISO 4217 currency, and the rates between currencies."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, PlainSerializer

MAX_AMOUNT = Decimal("1e12")


@lru_cache(maxsize=1)
def known_currencies() -> frozenset[str]:
    """Codes of the currencies in ISO 4217, as the locale data lists them."""
    from babel.numbers import list_currencies

    return frozenset(code for code in list_currencies() if len(code) == 3 and code.isupper())


# ISO 4217, table of current currencies (list one): those whose minor unit is not a hundredth. From memory.
_NO_MINOR = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
_MINOR_UNITS = {
    **dict.fromkeys(_NO_MINOR.split(), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}


def minor_unit(currency: str) -> int:
    """Digits after the decimal point of a currency, by ISO 4217.

    Examples
    --------
    >>> minor_unit("EUR"), minor_unit("JPY"), minor_unit("KWD")
    (2, 0, 3)
    """
    return _MINOR_UNITS.get(currency, 2)


def _check_currency(code: str) -> str:
    if code not in _COMMON and code not in known_currencies():
        raise ValueError("not an ISO 4217 currency code, such as EUR or GBP")
    return code


# The locale data takes 50 ms to load; these need no look-up.
_COMMON = frozenset(("EUR", "GBP", "USD", "CHF", "NOK", "SEK", "DKK", "CAD", "AUD", "NZD", "JPY", "PLN", "CZK"))

Currency = Annotated[str, AfterValidator(_check_currency)]


def _check_amount(amount: Decimal) -> Decimal:
    if not amount.is_finite() or abs(amount) > MAX_AMOUNT:
        raise ValueError("not a finite amount below a million million")
    return amount


def _amount_text(amount: Decimal) -> str:
    return format(amount, "f")


Amount = Annotated[
    Decimal, AfterValidator(_check_amount), PlainSerializer(_amount_text, return_type=str, when_used="json")
]


class Money(BaseModel):
    """An amount of money.

    Parameters
    ----------
    amount : decimal amount in major units (euros, not cents); not rounded unless `rounded` is called
    currency : ISO 4217 code

    Examples
    --------
    >>> str(Money.of("12.345", "EUR").rounded())
    '12.35 EUR'
    >>> Money.of(1, "EUR") + Money.of(2, "GBP")
    Traceback (most recent call last):
    ...
    ValueError: cannot add GBP to EUR without a rate
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    amount: Amount
    currency: Currency

    @classmethod
    def of(cls, amount: Decimal | int | str | float, currency: str) -> Money:
        """Money from a number; a float is read by its shortest text, so 0.1 means 0.1."""
        return cls(amount=Decimal(str(amount)), currency=currency)

    def rounded(self) -> Money:
        """The amount rounded half up to the currency's minor unit."""
        quantum = Decimal(1).scaleb(-minor_unit(self.currency))
        # adding nothing takes the sign off a zero
        return Money(amount=self.amount.quantize(quantum, ROUND_HALF_UP) + 0, currency=self.currency)

    def _same(self, other: Money) -> None:
        if self.currency != other.currency:
            raise ValueError(f"cannot add {other.currency} to {self.currency} without a rate")

    def __add__(self, other: Money) -> Money:
        self._same(other)
        return Money(amount=self.amount + other.amount, currency=self.currency)

    def __sub__(self, other: Money) -> Money:
        return self + -other

    def __neg__(self) -> Money:
        return Money(amount=-self.amount, currency=self.currency)

    def __mul__(self, factor: Decimal | int) -> Money:
        return Money(amount=self.amount * factor, currency=self.currency)

    def __str__(self) -> str:
        return f"{self.rounded().amount:f} {self.currency}"

    def __repr__(self) -> str:
        return f"Money({self.amount} {self.currency})"


class UnknownRateError(LookupError):
    """No exchange rate is known between two currencies."""

    def __init__(self, source: str, target: str) -> None:
        self.source, self.target = source, target
        super().__init__(source, target)

    def __str__(self) -> str:
        return f"no exchange rate is known from {self.source} to {self.target}"


class Rates(BaseModel):
    """Exchange rates on one day, all against one base currency.

    Parameters
    ----------
    base : currency the rates are quoted against
    per_base : units of each currency for one unit of base; the base itself need not be listed
    day : day the rates are of
    source : who published or entered them

    Examples
    --------
    >>> rates = Rates(base="EUR", per_base={"GBP": Decimal("0.80")}, day=date(2026, 1, 5), source="example")
    >>> str(rates.convert(Money.of(100, "GBP"), "EUR"))
    '125.00 EUR'
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    base: Currency
    per_base: Mapping[str, Decimal]
    day: date
    source: str

    def rate(self, source: str, target: str) -> Decimal:
        """Units of target for one unit of source; raises UnknownRateError."""
        return self._per_base(target, source, target) / self._per_base(source, source, target)

    def _per_base(self, code: str, source: str, target: str) -> Decimal:
        if code == self.base:
            return Decimal(1)
        try:
            return self.per_base[code]
        except KeyError:
            raise UnknownRateError(source, target) from None

    def convert(self, money: Money, target: str) -> Money:
        """The same worth in another currency, unrounded; raises UnknownRateError."""
        if money.currency == target:
            return money
        return Money(amount=money.amount * self.rate(money.currency, target), currency=target)

    def model_post_init(self, context: Any) -> None:
        """Refuse rates that are not positive."""
        if any(not rate.is_finite() or rate <= 0 for rate in self.per_base.values()):
            raise ValueError("an exchange rate must be above zero")
