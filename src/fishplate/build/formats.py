"""How an owner reads figures: units, and numbers, days and money by locale. Words stay English; what is kept stays SI.

Locale data is the Unicode Consortium's CLDR, as Babel carries it. Currency stands behind its amount as its ISO 4217
code in every locale, for a sign such as $ stands for several. Only skins use this: engines, files and JSON write
canonical figures, as `CANONICAL` shows them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Annotated, Final, Literal, get_args

from pydantic import AfterValidator

from .money import Money, minor_unit
from .units import UnitProblem, parse_unit

if TYPE_CHECKING:
    from babel import Locale as BabelLocale

UnitSystem = Literal["metric", "imperial", "imperial-fractions"]
UNIT_SYSTEMS: Final[tuple[UnitSystem, ...]] = get_args(UnitSystem)

# Offered on the page; any other locale of CLDR is taken as well.
LOCALES: Final[Mapping[str, str]] = {
    "en_GB": "English, United Kingdom", "en_US": "English, United States", "en_CA": "English, Canada",
    "en_AU": "English, Australia", "en_IE": "English, Ireland", "de_DE": "German, Germany",
    "de_CH": "German, Switzerland", "fr_FR": "French, France", "fr_CA": "French, Canada", "nl_NL": "Dutch, Netherlands",
    "sv_SE": "Swedish, Sweden", "nb_NO": "Norwegian, Norway", "da_DK": "Danish, Denmark", "fi_FI": "Finnish, Finland",
    "pl_PL": "Polish, Poland", "cs_CZ": "Czech, Czechia", "es_ES": "Spanish, Spain", "it_IT": "Italian, Italy",
    "pt_PT": "Portuguese, Portugal", "ja_JP": "Japanese, Japan",
}  # fmt: skip

# CLDR, supplemental data, measurementData, paperSize: where it is US-Letter; elsewhere A4.
_LETTER: Final = frozenset(["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"])

# What an owner of the other system is shown in place of a unit. A unit that stands in neither is shown as it is.
_IMPERIAL: Final = {
    "mm": "in", "cm": "in", "m": "ft", "km": "mi", "kg": "lb", "g": "oz", "N": "lbf", "kN": "lbf", "N*m": "lbf*ft",
    "N*mm": "lbf*in", "bar": "psi", "kPa": "psi", "MPa": "psi", "N/mm": "lbf/in", "km/h": "mph", "mm**2": "in**2",
    "degC": "degF",
}  # fmt: skip
_METRIC: Final = {
    "in": "mm", "thou": "mm", "ft": "m", "mi": "km", "lb": "kg", "oz": "g", "lbf": "N", "lbf*ft": "N*m",
    "lbf*in": "N*m", "psi": "bar", "lbf/in": "N/mm", "mph": "km/h",
}  # fmt: skip
_SIGNS: Final = {"degC": "°C", "degF": "°F", "deg": "°", "N*m": "N·m", "lbf*ft": "lb·ft", "lbf*in": "lb·in",
                 "mm**2": "mm²", "in**2": "in²", "N*mm": "N·mm", "lbf/in": "lb/in"}  # fmt: skip
FINEST_FRACTION: Final = 64
DIGITS: Final = 4


def known_locale(code: str) -> str:
    """A locale CLDR has formats for, as its code; raises ValueError.

    Examples
    --------
    >>> known_locale("de_AT")
    'de_AT'
    """
    if code not in LOCALES:
        from babel import Locale, UnknownLocaleError

        try:
            Locale.parse(code)
        except (UnknownLocaleError, ValueError):
            raise ValueError("not a locale, such as en_GB or de_DE") from None
    return code


LocaleCode = Annotated[str, AfterValidator(known_locale)]


@lru_cache(maxsize=32)
def _babel(locale: str) -> BabelLocale:
    from babel import Locale

    return Locale.parse(locale)


@lru_cache(maxsize=4096)
def _day(value: date, locale: str, style: str) -> str:
    from babel.dates import format_date, format_skeleton

    found = _babel(locale)
    is_whole = style in ("long", "medium")
    return format_date(value, style, found) if is_whole else format_skeleton(style, value, locale=found)


@dataclass(frozen=True)
class Formats:
    """Units and formats of an owner.

    Parameters
    ----------
    units : metric, imperial, or imperial with inch fractions; locale : a CLDR locale

    Examples
    --------
    >>> german = Formats(locale="de_DE")
    >>> german.money(Money.of("1234.5", "EUR")), german.day(date(2027, 2, 3)), german.typed(12.5)
    ('1.234,50 EUR', '3. Februar 2027', '12,5')
    """

    units: UnitSystem = "metric"
    locale: str = "en_GB"

    # numbers

    @cached_property
    def _marks(self) -> tuple[str, str]:
        symbols = _babel(self.locale).number_symbols["latn"]
        return str(symbols["decimal"]), str(symbols["group"])

    @property
    def mark(self) -> str:
        """The decimal mark the owner is used to."""
        return self._marks[0]

    def remarked(self, text: str) -> str:
        """Canonical digits, as 1,234.5, with the marks of the locale."""
        decimal, group = self._marks
        return text.translate({ord("."): decimal, ord(","): group})

    def number(self, value: float, digits: int = 6) -> str:
        """A number without needless digits, never in powers of ten and never in groups.

        Examples
        --------
        >>> Formats().number(2.0), Formats(locale="nl_NL").number(0.125), Formats().number(1234567.0)
        ('2', '0,125', '1234567')
        """
        rounded = float(f"{value:.{digits}g}") if abs(value) < 10**digits else float(round(value))
        return self.typed(rounded)

    def grouped(self, value: float | Decimal, decimals: int = 0) -> str:
        """A number to so many decimals, its thousands set apart.

        Examples
        --------
        >>> Formats(locale="sv_SE").grouped(1234.5, 2), Formats(locale="de_CH").grouped(1234.5, 2)
        ('1\\xa0234,50', '1’234.50')
        """
        return self.remarked(f"{value:,.{decimals}f}")

    def decimals(self, value: float, decimals: int) -> str:
        """A number to so many decimals, without groups."""
        return self.remarked(f"{round(value, decimals) + 0.0:.{decimals}f}")

    def typed(self, value: float | Decimal) -> str:
        """A number as a field is filled with it: to the last digit, so that it is read back as the same.

        Examples
        --------
        >>> Formats(locale="fr_FR").typed(0.1), Formats().typed(Decimal("12.50"))
        ('0,1', '12.50')
        >>> Formats().typed(4.0), Formats().typed(30)
        ('4', '30')
        """
        text = format(value if isinstance(value, Decimal) else Decimal(repr(float(value) + 0.0)), "f")
        if not isinstance(value, Decimal):
            text = text.rstrip("0").rstrip(".")
        return text.replace(".", self.mark)

    # money

    def money(self, value: Money) -> str:
        """Money as it was written or paid, to its minor unit."""
        return f"{self.grouped(value.rounded().amount, minor_unit(value.currency))} {value.currency}"

    def amount(self, value: float, currency: str, decimals: int = 0) -> str:
        """Expected money, to the whole unit unless more is asked for."""
        return f"{self.grouped(value, decimals)} {currency}"

    # days

    def day(self, value: date) -> str:
        """A day in words, its order and its month as the locale writes them.

        Examples
        --------
        >>> Formats(locale="en_US").day(date(2027, 2, 3)), Formats(locale="ja_JP").day(date(2027, 2, 3))
        ('February 3, 2027', '2027年2月3日')
        """
        return _day(value, self.locale, "long")

    def short_day(self, value: date) -> str:
        """A day with its month cut short, or in figures where the locale cuts it so."""
        return _day(value, self.locale, "medium")

    def day_of_year(self, value: date) -> str:
        """A day without its year."""
        return _day(value, self.locale, "MMMMd")

    def month(self, value: date) -> str:
        """A month and its year.

        Examples
        --------
        >>> Formats(locale="pl_PL").month(date(2027, 2, 3)), Formats().month(date(2027, 2, 3))
        ('luty 2027', 'February 2027')
        """
        return _day(value, self.locale, "yMMMM")

    def short_month(self, value: date) -> str:
        """A month cut short, and its year."""
        return _day(value, self.locale, "yMMM")

    @property
    def day_order(self) -> Literal["dmy", "mdy"] | None:
        """Whether day or month comes first where a day is written in figures; None where the year does.

        Examples
        --------
        >>> Formats().day_order, Formats(locale="en_US").day_order, Formats(locale="sv_SE").day_order
        ('dmy', 'mdy', None)
        """
        pattern = str(_babel(self.locale).date_formats["short"].pattern).casefold()
        first = next((mark for mark in pattern if mark in "dmy"), "y")
        return "dmy" if first == "d" else "mdy" if first == "m" else None

    @property
    def first_weekday(self) -> int:
        """The day a week begins with, Monday 1 to Sunday 7."""
        return int(_babel(self.locale).first_week_day) + 1

    @property
    def paper(self) -> str:
        """The usual size of paper, as style sheets name it: A4 or letter."""
        return "letter" if _babel(self.locale).territory in _LETTER else "A4"

    # quantities

    def unit(self, unit: str) -> str:
        """The unit shown in place of another; the same where there is none of the owner's system."""
        known = _METRIC if self.units == "metric" else _IMPERIAL
        try:
            return known.get(parse_unit(unit).symbol, unit)
        except UnitProblem:
            return unit

    def unit_sign(self, unit: str) -> str:
        """The unit shown in place of another, as it is printed.

        Examples
        --------
        >>> Formats("imperial").unit_sign("mm"), Formats().unit_sign("N*m")
        ('in', 'N·m')
        """
        return sign_of(self.unit(unit))

    def turned(self, value: float, unit: str, *, is_width: bool = False) -> float:
        """A value turned into the unit it is shown in; a width has no zero of its own."""
        shown = self.unit(unit)
        if shown == unit:
            return value
        if shown == "degF":
            return value * 1.8 + (0.0 if is_width else 32.0)
        return value * parse_unit(unit).factor / parse_unit(shown).factor

    def quantity(self, value: float, unit: str, spread: float | None = None) -> str:
        """A value with its unit in the owner's system, never finer than its spread allows.

        Parameters
        ----------
        value : in `unit`; spread : half its width, in `unit`; None where it is exact or not known

        Examples
        --------
        >>> Formats().quantity(12.5, "mm"), Formats("imperial").quantity(12.5, "mm", 0.25)
        ('12.5 mm', '0.49 in')
        >>> fractions = Formats("imperial-fractions")
        >>> fractions.quantity(34.925, "mm", 0.4), fractions.quantity(1600, "mm", 3)
        ('1 3/8 in', '63 in')
        >>> fractions.quantity(52.38, "mm", 0.01)  # finer than a fraction can say
        '2.0622 in'
        """
        shown = self.unit(unit)
        turned = self.turned(value, unit)
        width = None if spread is None else abs(self.turned(spread, unit, is_width=True))
        sign = sign_of(shown)
        if self.units == "imperial-fractions" and shown == "in" and (width is None or width >= 0.5 / FINEST_FRACTION):
            return f"{_fraction(turned, width)} {sign}"
        text = self.number(turned, DIGITS if width is None else 12) if not width else self._to(turned, width)
        return f"{text}{'' if sign == '°' else ' '}{sign}".strip()

    def like(
        self,
        value: float,
        unit: str,
        half_digit: float,
        *,
        is_width: bool = False,
        width: float | None = None,
        in_fractions: bool = True,
    ) -> str:
        """A value in the owner's unit, without the unit, about as fine as it was rounded.

        A fraction of an inch stands only where it is as true as the value: to its last digit, or within its width.

        Parameters
        ----------
        half_digit : half of its last digit, in `unit`; is_width : whether it is a difference
        width : half the width it is known within, in `unit`; None where that is not said
        in_fractions : whether an owner who reads fractions of an inch is told them

        Examples
        --------
        >>> Formats("imperial").like(12.5, "mm", 0.05), Formats("imperial-fractions").like(34.9, "mm", 0.05)
        ('0.492', '1 3/8')
        >>> fractions = Formats("imperial-fractions")
        >>> fractions.like(0.6, "mm", 0.05), fractions.like(9.5, "mm", 0.05, width=2)
        ('0.024', '3/8')
        """
        turned = self.turned(value, unit, is_width=is_width)
        half_step = abs(self.turned(half_digit, unit, is_width=True))
        if in_fractions and self.units == "imperial-fractions" and self.unit(unit) == "in":
            within = half_step if width is None else abs(self.turned(width, unit, is_width=True))
            off = abs(turned - round(turned * FINEST_FRACTION) / FINEST_FRACTION)
            if off <= half_step or within >= 0.5 / FINEST_FRACTION:
                return _fraction(turned, half_step)
        decimals = max(0, math.ceil(-math.log10(2 * half_step)))
        return self.decimals(turned, decimals)

    def _to(self, value: float, width: float) -> str:
        """A value to one digit of its half width, two where that begins with 1 or 2."""
        decimals = decimals_for(width)
        return (
            self.typed(float(round(value, decimals)) + 0.0) if decimals <= 0 else self.remarked(f"{value:.{decimals}f}")
        )


def decimals_for(width: float) -> int:
    """Decimals that show no more than a half width warrants (GUM 7.2.6: at most two significant digits of it).

    Examples
    --------
    >>> decimals_for(0.5), decimals_for(0.12), decimals_for(30.0)
    (1, 2, -1)
    """
    power = math.floor(math.log10(width))
    return -power + (1 if width / 10.0**power < 3 else 0)


def sign_of(unit: str) -> str:
    """A unit as it is printed."""
    return _SIGNS.get(unit, unit)


def _fraction(value: float, width: float | None) -> str:
    """Inches to the nearest 1/64, coarser where a step would be finer than half the half width.

    Examples
    --------
    >>> _fraction(1.375, None), _fraction(-0.5, None), _fraction(0.7, 0.25), _fraction(63.0, None)
    ('1 3/8', '-1/2', '3/4', '63')
    """
    parts = FINEST_FRACTION
    while width is not None and parts > 1 and 1 / parts < width / 2:
        parts //= 2
    counted = int((Decimal(repr(abs(value))) * parts).quantize(Decimal(1), ROUND_HALF_EVEN))
    whole, over = divmod(counted, parts)
    common = math.gcd(over, parts)
    part = f"{over // common}/{parts // common}" if over else ""
    text = f"{whole} {part}".strip() if whole or not part else part
    return f"-{text}" if value < 0 and counted else text


CANONICAL: Final = Formats()
_CURRENT: ContextVar[Formats] = ContextVar("formats", default=CANONICAL)


def current() -> Formats:
    """The formats of whoever is being answered: canonical unless a skin said otherwise."""
    return _CURRENT.get()


def use(formats: Formats) -> None:
    """Answer in these formats from here on, in this request or command."""
    _CURRENT.set(formats)


@contextmanager
def using(formats: Formats) -> Iterator[None]:
    """Answer in these formats for a while."""
    token = _CURRENT.set(formats)
    try:
        yield
    finally:
        _CURRENT.reset(token)
