"""Prices, quantities, masses and countries as lists write them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from ..build.numbers import NUMBER_PATTERN, Unreadable, ascii_digits, is_ambiguous, parse_number
from .words import keys_by_word, plain, plain_words, words

# Signs that stand for one currency alone, or nearly so (common practice); "$" and "kr" stand for several.
_SIGNS = {
    "us$": "USD", "c$": "CAD", "ca$": "CAD", "can$": "CAD", "a$": "AUD", "au$": "AUD", "nz$": "NZD", "hk$": "HKD",
    "s$": "SGD", "r$": "BRL", "€": "EUR", "£": "GBP", "¥": "JPY", "￥": "JPY", "zł": "PLN", "kč": "CZK", "ft": "HUF",
    "₹": "INR", "₺": "TRY", "₩": "KRW", "₴": "UAH", "₽": "RUB", "₪": "ILS", "sfr.": "CHF", "sfr": "CHF", "fr.": "CHF",
    "euro": "EUR", "euros": "EUR", "eur.": "EUR", "pounds": "GBP", "gbp.": "GBP", "dkr": "DKK", "nkr": "NOK",
    "skr": "SEK",
}  # fmt: skip
AMBIGUOUS_SIGNS = {"$": ("USD", "CAD", "AUD", "NZD"), "kr": ("SEK", "NOK", "DKK"), "kr.": ("SEK", "NOK", "DKK")}
_ALL_SIGNS = sorted([*_SIGNS, *AMBIGUOUS_SIGNS], key=len, reverse=True)
_SIGN = re.compile(
    "|".join(
        rf"(?<![a-z]){re.escape(s)}(?![a-z])" if s[-1].isalpha() or s[-1] == "." else re.escape(s) for s in _ALL_SIGNS
    )
)
# Of the codes of ISO 4217, those that are not also English words in capitals, such as ALL, TRY and TOP.
_USUAL_CODES = frozenset((
    "EUR", "GBP", "USD", "CHF", "NOK", "SEK", "DKK", "CAD", "AUD", "NZD", "JPY", "PLN", "CZK", "HUF", "CNY", "ZAR",
    "INR", "MXN", "BRL", "SGD", "HKD", "ISK", "RON", "BGN", "KRW", "THB", "TWD", "ILS", "AED", "UAH", "RSD", "ARS",
    "CLP",
))  # fmt: skip
_CODE = re.compile(r"(?<![A-Za-z])([A-Za-z]{3})(?![A-Za-z])")

# Languages of a currency format such as [$$-409], by Microsoft's locale numbers (MS-LCID).
_LOCALES = {
    0x0409: "USD", 0x1009: "CAD", 0x0C0C: "CAD", 0x0C09: "AUD", 0x1409: "NZD", 0x0809: "GBP", 0x041D: "SEK",
    0x0414: "NOK", 0x0814: "NOK", 0x0406: "DKK", 0x0807: "CHF", 0x100C: "CHF", 0x0810: "CHF", 0x0411: "JPY",
}  # fmt: skip
_COUNTRY_OF = {
    "GBP": "GB", "USD": "US", "CAD": "CA", "AUD": "AU", "NZD": "NZ", "CHF": "CH", "SEK": "SE", "NOK": "NO",
    "DKK": "DK", "JPY": "JP", "PLN": "PL", "CZK": "CZ", "HUF": "HU", "CNY": "CN",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CurrencyHint:
    """What a text says about currency: a code, or a sign that several currencies share."""

    code: str | None = None
    sign: str = ""


@dataclass(frozen=True, slots=True)
class PriceReading:
    """A price as a cell gives it.

    Parameters
    ----------
    likely : the price; None where the cell says there is none (yet), for the reason in `why_none`
    low, high : the range, where the cell gives one
    tax_included : what the cell says about sales tax, None if nothing
    said : what was noticed, as sentences
    """

    likely: Decimal | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    currency: CurrencyHint = CurrencyHint()
    tax_included: bool | None = None
    why_none: str = ""
    said: tuple[str, ...] = ()


def currency_words() -> tuple[str, ...]:
    """The codes and signs by which lists name a currency, the longest first."""
    return tuple(
        sorted({*_ALL_SIGNS, *(code.casefold() for code in _USUAL_CODES)}, key=lambda word: (-len(word), word))
    )


def country_of_currency(currency: str) -> str | None:
    """The country that alone uses a currency, None where many do."""
    return _COUNTRY_OF.get(currency)


def find_currency(text: str) -> CurrencyHint:
    """The currency a text names, by code or sign; empty if it names none or several.

    Examples
    --------
    >>> find_currency("Price (GBP)").code, find_currency("£ each").code, find_currency("$").sign
    ('GBP', 'GBP', '$')
    """
    folded = text.casefold()
    codes = {word.upper() for word in _CODE.findall(text) if word.upper() in _USUAL_CODES}
    signs = set(_SIGN.findall(folded))
    codes |= {_SIGNS[sign] for sign in signs if sign in _SIGNS}
    if len(codes) == 1:
        return CurrencyHint(codes.pop())
    shared = [sign for sign in signs if sign in AMBIGUOUS_SIGNS]
    return CurrencyHint(sign=shared[0]) if shared and not codes else CurrencyHint()


def format_currency_hint(number_format: str) -> CurrencyHint:
    """The currency a spreadsheet's number format shows.

    Examples
    --------
    >>> format_currency_hint("[$£-809]#,##0.00").code, format_currency_hint("[$$-409]#,##0.00").code
    ('GBP', 'USD')
    >>> format_currency_hint('#,##0.00 "kr"').sign, format_currency_hint("0.00").code
    ('kr', None)
    """
    section = number_format.split(";")[0]
    bracket = re.search(r"\[\$([^\]-]*)(?:-([0-9A-Fa-f]+))?\]", section)
    if bracket is None:
        shown = re.sub(r"\\(.)", r"\1", section.replace('"', ""))
        return find_currency(re.sub(r"[#0?,._*()\[\]-]+", " ", shown))
    hint = find_currency(bracket[1].strip())
    if hint.code or not bracket[2]:
        return hint
    return CurrencyHint(_LOCALES.get(int(bracket[2], 16) & 0xFFFF), hint.sign) if hint.sign else hint


def tax_hint(text: str) -> bool | None:
    """Whether a text says that prices carry sales tax; None if it says nothing.

    Examples
    --------
    >>> tax_hint("Prijs excl. btw"), tax_hint("Price inc VAT"), tax_hint("Price")
    (False, True, None)
    """
    padded = f" {plain(text)} "
    included = any(f" {word} " in padded for word in plain_words("tax", "included"))
    excluded = any(f" {word} " in padded for word in plain_words("tax", "excluded"))
    return included if included != excluded else None


def read_amount(text: str, currency: str, mark: str | None = None) -> tuple[Decimal, str]:
    """An amount in a currency, as it is typed in a field: bare, or with its sign or code before or behind.

    Parameters
    ----------
    currency : the field's; mark : decimal mark the writer is used to

    Returns
    -------
    the amount, and how it was read where that is not plain

    Raises
    ------
    Unreadable
        if it is no amount, or in another currency, naming both

    Examples
    --------
    >>> read_amount("£12.50", "GBP"), read_amount("1.234 €", "EUR", ",")
    ((Decimal('12.50'), ''), (Decimal('1234'), '“1.234” is read as 1234'))
    """
    hint = find_currency(text)
    given = hint.code or ("" if currency in AMBIGUOUS_SIGNS.get(hint.sign, (currency,)) else hint.sign)
    if given and given != currency:
        raise Unreadable("currency", f"{given} where {currency} is wanted", f"Give the amount in {currency}.")
    body, about = _without_words(text)
    is_open = is_ambiguous(body) and ("," in body or mark == ",")
    amount = parse_number(body, mark if is_open else mark or ".")
    return amount, "; ".join((*([f"“{body}” is read as {amount:f}"] if is_open else []), *about))


_RANGE = re.compile(rf"^({NUMBER_PATTERN})\s*(?:-|–|—|\.\.\.?|…|to|tot|bis|à|a|/)\s*({NUMBER_PATTERN})$")
_ONE = re.compile(rf"^({NUMBER_PATTERN})(?:[.,]?\s*[-–—]+)?$")
_MULTIPLE = re.compile(rf"^(\d+)\s*[x×@]\s*(?:@\s*)?({NUMBER_PATTERN})$")


def parse_price(text: str, mark: str | None = None) -> PriceReading:
    """A price as a list writes it: sign or code before or after, a range, or words for "none yet".

    Raises
    ------
    Unreadable
        if it is neither an amount nor a known way to say there is none

    Examples
    --------
    >>> reading = parse_price("€ 1.234,50")
    >>> reading.likely, reading.currency.code
    (Decimal('1234.50'), 'EUR')
    >>> parse_price("120-150").likely
    Decimal('135')
    >>> parse_price("POA").why_none
    'the price is given as "POA"'
    """
    bare = " ".join(text.split())
    folded = bare.casefold().strip(" .")
    if not folded or bare.casefold() in words("cells", "no_price") or folded in words("cells", "no_price"):
        return PriceReading(why_none=f'the price is given as "{bare}"' if bare else "no price is given")
    if folded in words("cells", "free"):
        return PriceReading(likely=Decimal(0), said=("given free of charge",))
    body, remark = _split_remark(bare)
    hint, tax = find_currency(body), tax_hint(bare)
    body, about = _without_words(body)
    return _amount(body, bare, mark, hint, tax, (*remark, *about))


_IN_BRACKETS = re.compile(r"^(.*\d.*?)\s*[(\[](.+)[)\]]\s*$")
_NEGOTIABLE = re.compile(r"^(.*\d.*?)\s*\b(o\.?n\.?o\.?|obo|vb|vhb|fp|vraagprijs)$", re.IGNORECASE)
_PLUS_FREIGHT = re.compile(
    r"^([^+]*\d[^+]*?)\s*\+\s*"
    r"(.*(?:p ?& ?p|p\+p|post|ship|deliver|carriage|freight|verzend|porto|versand|fracht|env[íi]o).*)$",
    re.IGNORECASE,
)


def _split_remark(text: str) -> tuple[str, tuple[str, ...]]:
    """What stands in brackets after the amount is a remark; so is freight to be added, and that it can be haggled."""
    for pattern in (_PLUS_FREIGHT, _IN_BRACKETS, _NEGOTIABLE):
        if match := pattern.match(text):
            return match[1], (f"price remark: {match[2]}",)
    return text, ()


def _without_words(text: str) -> tuple[str, tuple[str, ...]]:
    """The amount alone, without signs, codes, tax words, "each" and "about"; and what is worth saying."""
    body = _SIGN.sub(" ", ascii_digits(text).casefold().replace("−", "-"))
    body = _CODE.sub(lambda match: " " if match[1].upper() in _USUAL_CODES else match[0], body).strip()
    if not any(c.isalpha() for c in body) and not body.startswith(("~", "±", "+")):
        return " ".join(body.split()), ()
    about, each, tax = _word_patterns()
    said: tuple[str, ...] = ()
    if match := about.match(body):
        body, said = body[match.end() :].strip(), (f'"{text}" is about, not exact',)
    body = each.sub("", body.strip())
    body = tax.sub(" ", re.sub(r"(?<=[^\W\d_])\.", "", body))
    body = re.sub(r"\s*\+\s*(?:vat|btw|mwst|tva|iva|p&p|post)$", "", body.strip())
    return " ".join(body.split()), said


@lru_cache(maxsize=1)
def _word_patterns() -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    """Words for "about" before an amount, for "each" after it, and for sales tax anywhere."""

    def any_of(listed: frozenset[str]) -> str:
        return "|".join(map(re.escape, sorted(listed, key=lambda word: (-len(word), word))))

    about = re.compile(rf"(?:{any_of(words('cells', 'about'))})(?=[\s\d])\s*")
    each = any_of(words("cells", "each_unit") - {"x", "u", "no", "no."})
    tax = any_of(words("tax", "included") | words("tax", "excluded"))
    return (
        about,
        re.compile(rf"(?<=[\d\s.,-])(?:/|p/|per |pro |par |por )?\s*(?:{each})$"),
        re.compile(rf"[,;+]?\s*\b(?:{tax})\b\.?(?:\s*(?:vat|btw|mwst|tva|iva|tax))?\.?"),
    )


def number_price(value: Decimal) -> PriceReading:
    """A price from a cell that the file itself holds as a number; raises Unreadable."""
    return _checked(PriceReading(value), f"{value:f}")


def _amount(
    body: str, shown: str, mark: str | None, hint: CurrencyHint, tax: bool | None, said: tuple[str, ...]
) -> PriceReading:
    negative = bool(re.match(r"^\(.*\)$", body))
    body = body.strip("() ") if negative else body
    if match := _ONE.match(body):
        value = parse_number(match[1], mark)
        return _checked(PriceReading(-value if negative else value, None, None, hint, tax, "", said), shown)
    if match := _RANGE.match(body):
        low, high = sorted((parse_number(match[1], mark), parse_number(match[2], mark)))
        middle = (low + high) / 2
        note = f'a range, "{shown}": its middle, {middle.normalize():f}, is taken'
        return _checked(PriceReading(middle, low, high, hint, tax, "", (*said, note)), shown)
    if match := _MULTIPLE.match(body):
        value = parse_number(match[2], mark)
        return _checked(
            PriceReading(value, None, None, hint, tax, "", (*said, f'"{shown}" is {match[1]} at {value:f} each')), shown
        )
    raise Unreadable("price", "not an amount", "Use digits, as in 12.40, or leave it empty.")


def _checked(reading: PriceReading, shown: str) -> PriceReading:
    value = reading.likely or Decimal(0)
    if value < 0:
        raise Unreadable("price", "a price cannot be below zero", "Correct it, or leave the row out of the list.")
    if value >= Decimal("1e12"):
        raise Unreadable("price", "too large to be a price", "Correct it.")
    if value == 0:
        return PriceReading(None, currency=reading.currency, why_none=f'a price of "{shown}" is taken as not yet known')
    return reading


@dataclass(frozen=True, slots=True)
class QuantityReading:
    """A quantity as a cell gives it; None where it says "as required" or the like."""

    quantity: Decimal | None
    unit: str = ""
    said: tuple[str, ...] = ()


_COUNT = re.compile(rf"^(?:x\s*)?({NUMBER_PATTERN}|[¼½¾])\s*(.*)$")


def unit_word(text: str) -> str:
    """The unit a word stands for; "each" for the many words of counting.

    Examples
    --------
    >>> unit_word("stuks"), unit_word("pr"), unit_word("set of 4"), unit_word("")
    ('each', 'pair', 'set of 4', 'each')
    """
    word = " ".join(text.split()).casefold().strip(".")
    if not word or word in words("cells", "each_unit") or f"{word}." in words("cells", "each_unit"):
        return "each"
    of = re.match(r"^(set|pack|box|pair|kit)s?\s*(?:of|van|of:|à|/)\s*(\d+)$", word)
    return f"{of[1]} of {of[2]}" if of else keys_by_word("units").get(plain(word), " ".join(text.split()))


def parse_quantity(text: str, mark: str | None = None) -> QuantityReading:
    """A quantity as a list writes it.

    Raises
    ------
    Unreadable
        if no quantity can be seen in it, or it is below zero

    Examples
    --------
    >>> parse_quantity("2 off"), parse_quantity("4x").quantity
    (QuantityReading(quantity=Decimal('2'), unit='each', said=()), Decimal('4'))
    >>> parse_quantity("1 pr").unit, parse_quantity("set of 4").unit
    ('pair', 'set of 4')
    """
    bare = " ".join(ascii_digits(text).split())
    folded = bare.casefold()
    if not folded or folded.strip(" .") in words("cells", "as_required") or folded in words("cells", "as_required"):
        return QuantityReading(None, said=(f'the quantity is given as "{bare}"',) if bare else ())
    if (
        unit_word(folded) not in {folded, "each"}
        or plain(folded) in keys_by_word("units")
        or re.match(r"^(set|pack|box|kit)s? of \d+$", folded)
    ):
        return QuantityReading(Decimal(1), unit_word(folded))
    both = re.match(rf"^({NUMBER_PATTERN})\s*(?:-|–|to|tot|bis)\s*({NUMBER_PATTERN})\s*(.*)$", folded)
    if both:
        high = parse_number(both[2], mark)
        return QuantityReading(high, unit_word(both[3]), (f'"{bare}": the larger, {high:f}, is taken',))
    match = _COUNT.match(folded)
    if match is None:
        raise Unreadable("quantity", "not a quantity", "Use digits, as in 4, and put the unit behind, as in 2 pair.")
    return _counted(parse_number(match[1], mark), bare[match.start(2) :].strip())


def _counted(count: Decimal, rest: str) -> QuantityReading:
    if count < 0:
        raise Unreadable("quantity", "a quantity cannot be below zero", "Correct it.")
    remark = re.match(r"^(.*?)\s*[(\[](.*?)[)\]]?$", rest)
    said: tuple[str, ...] = (f"quantity remark: {remark[2]}",) if remark and remark[2] else ()
    unit = remark[1] if remark else rest
    if re.match(r"^[x×*]\s*\d", unit) or len(unit) > 40 or (re.search(r"\d", unit) and " of " not in unit):
        raise Unreadable("quantity", "not one quantity", "Write one number, as in 10, and its unit behind.")
    return QuantityReading(count, unit_word(unit), said)


_MASS_FACTORS = {
    "kg": Decimal(1),
    "g": Decimal("0.001"),
    "lb": Decimal("0.45359237"),
    "oz": Decimal("0.028349523125"),
}  # exact
_MASS_WORDS = {
    "kgs": "kg",
    "kilo": "kg",
    "kilos": "kg",
    "gr": "g",
    "gram": "g",
    "grams": "g",
    "gramm": "g",
    "lbs": "lb",
    "pounds": "lb",
}


def parse_mass_kg(text: str, mark: str | None = None, *, unit: str | None = None) -> Decimal:
    """A mass [kg], from a number with its unit or with the unit of its column.

    Raises
    ------
    Unreadable
        if it is not a mass, or no unit is given anywhere

    Examples
    --------
    >>> parse_mass_kg("500 g"), parse_mass_kg("2,5", unit="kg")
    (Decimal('0.500'), Decimal('2.5'))
    """
    match = re.match(rf"^[~≈]?\s*({NUMBER_PATTERN})\s*([a-zA-Z]*)\.?$", ascii_digits(text).strip())
    if match is None:
        raise Unreadable("mass", "not a mass", "Write it as 2.5 kg.")
    word = match[2].casefold() or unit or ""
    word = _MASS_WORDS.get(word, word)
    if word not in _MASS_FACTORS:
        raise Unreadable(
            "mass", "a mass without a unit Fishplate knows", "Write kg, g or lb behind it or in the column's name."
        )
    value = parse_number(match[1], mark) * _MASS_FACTORS[word]
    if value < 0:
        raise Unreadable("mass", "a mass cannot be below zero", "Correct it.")
    return value


@lru_cache(maxsize=1)
def _country_names() -> dict[str, str]:
    from babel import Locale

    from .words import _data

    names: dict[str, str] = {}
    for language in ("en", "nl", "de", "fr", "es"):
        for code, name in Locale(language).territories.items():
            if len(code) == 2 and code.isalpha():
                names.setdefault(plain(name), code)
    for code, listed in _data()["countries"].items():
        names.update({plain(name): code for name in listed})
    return names


def parse_country(text: str) -> str:
    """A country's two-letter code, from its code or its name in five languages.

    Raises
    ------
    Unreadable
        if no country is called that

    Examples
    --------
    >>> parse_country("Duitsland"), parse_country("uk"), parse_country("SE")
    ('DE', 'GB', 'SE')
    """
    names = _country_names()
    bare = text.strip()
    if plain(bare) in names:
        return names[plain(bare)]
    if re.fullmatch(r"[A-Za-z]{2}", bare) and bare.upper() in names.values():
        return bare.upper()
    raise Unreadable("country", "not a country Fishplate knows", "Write its two-letter code, such as GB or DE.")
