"""Products on a page: what its items say by the vocabulary of schema.org, release 29 (2025), and what its head says.

Read of a Product (also in a ProductGroup, an ItemList or an Order): name, mpn, sku, gtin, weight, width, height, depth,
itemCondition, brand; of its Offer or AggregateOffer: price, lowPrice, highPrice, priceCurrency, priceSpecification,
availability, availabilityStarts, priceValidUntil, seller, shippingDetails, hasMerchantReturnPolicy. Of the head, by
the Open Graph protocol: og:title, og:url, og:site_name; product:price:amount and its like are common practice. Unit
codes are those of UN/CEFACT Recommendation 20.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, Final
from urllib.parse import urlsplit

from ..build.base import ThreePoint
from ..build.money import known_currencies
from ..build.numbers import Unreadable
from .amounts import AMBIGUOUS_SIGNS, find_currency, parse_mass_kg, parse_price
from .captured import Found
from .names import match_key, number_key
from .page_data import Item, PageData
from .times import parse_day

MOST_PRODUCTS: Final = 500
_DEPTH: Final = 12
_PRODUCTS: Final = frozenset(
    ("Product", "IndividualProduct", "ProductModel", "ProductGroup", "SomeProducts", "Vehicle", "ProductCollection")
)
_OFFERS: Final = frozenset(("Offer", "AggregateOffer", "OfferForPurchase", "Demand"))
_BESIDE: Final = frozenset(
    (
        "isRelatedTo",
        "isSimilarTo",
        "isAccessoryOrSparePartFor",
        "isConsumableFor",
        "addOn",
        "isVariantOf",
        "review",
        "itemReviewed",
    )
)
_NUMBERS: Final = ("gtin", "gtin13", "gtin14", "gtin12", "gtin8")
# UN/CEFACT Recommendation 20: KGM kilogram, GRM gram, LBR pound, ONZ ounce; MMT, CMT, MTR, INH, FOT lengths; DAY, WEE
_MASSES: Final = {"KGM": "kg", "GRM": "g", "LBR": "lb", "ONZ": "oz"}
_LENGTHS: Final = {"MMT": "mm", "CMT": "cm", "MTR": "m", "INH": "in", "FOT": "ft"}
_DAYS: Final = {"DAY": 1, "D": 1, "WEE": 7, "HUR": 1 / 24, "": 1}
_NOT_ASKED: Final = ("ListPrice", "StrikethroughPrice", "MSRP", "SRP", "MinimumAdvertisedPrice", "InvoicePrice")
_AVAILABLE: Final = {
    "InStock": "in stock", "OutOfStock": "out of stock", "PreOrder": "to be ordered before it comes",
    "PreSale": "sold before it comes", "BackOrder": "on back order", "LimitedAvailability": "few are left",
    "SoldOut": "sold out", "Discontinued": "no longer made", "InStoreOnly": "in the shop only",
    "OnlineOnly": "online only", "MadeToOrder": "made to order", "Reserved": "reserved",
}  # fmt: skip
_CONDITIONS: Final = {
    "NewCondition": "new",
    "UsedCondition": "used",
    "RefurbishedCondition": "refurbished",
    "DamagedCondition": "damaged",
}


def products(data: PageData, url: str) -> tuple[tuple[Found, ...], tuple[str, ...]]:
    """The products a page tells of, and what was noticed; those it only shows beside its own come last.

    Parameters
    ----------
    data : what the page says of itself; url : its address, empty if it is not known
    """
    page = _Page(data.head, url)
    found = list(_offered(page, data.items))
    notes = list(data.notes)
    if len(found) > MOST_PRODUCTS:
        notes.append(f"the page tells of more than {MOST_PRODUCTS} products; the first {MOST_PRODUCTS} are shown")
    merged = _merged(found[:MOST_PRODUCTS])
    own = [each for each in merged if not each.beside]
    if len(own) == 1:
        merged[merged.index(own[0])] = _filled(own[0], _by_head(page, data.title))
    elif not own:
        merged.extend(filter(None, [_by_head(page, data.title)]))
    return tuple(sorted(merged, key=lambda each: each.beside)), tuple(notes)


@dataclass(frozen=True, slots=True)
class _Page:
    """What holds for all of a page's products."""

    head: Mapping[str, str]
    url: str

    @property
    def seller(self) -> str:
        """Its name for itself, else its host."""
        return self.head.get("og:site_name", "")[:200] or host_of(self.url)


def host_of(url: str) -> str:
    """The host of an address, without the "www." before it; empty if it has none.

    Examples
    --------
    >>> host_of("https://www.saltmere.example/hubs/3")
    'saltmere.example'
    """
    try:
        host = urlsplit(url).hostname or ""
    except ValueError:
        return ""
    return host.removeprefix("www.")[:200]


# from items to products


@dataclass(frozen=True, slots=True)
class _At:
    """An item to look at: how it was come to, and the group or offer it belongs to."""

    item: Item
    depth: int = 0
    beside: bool = False
    group: Item | None = None
    offer: Item | None = None

    @property
    def is_product(self) -> bool:
        """Whether it is a product; a group that only names what its variants share is none."""
        types = set(self.item.types)
        shared = "ProductGroup" in types and not self.item.items("offers") and self.offer is None
        return bool(_PRODUCTS & types) and not shared and not self.item.items("hasVariant")

    def inside(self) -> Iterator[_At]:
        """The items that are its properties."""
        is_product, is_offer = self.is_product, bool(_OFFERS & set(self.item.types))
        for name, values in self.item.properties.items():
            for value in values if not (is_product and name == "offers") else ():
                if isinstance(value, Item):
                    yield _At(
                        value,
                        self.depth + 1,
                        self.beside or name in _BESIDE,
                        self.item if name == "hasVariant" else self.group,
                        self.item if is_offer and name == "itemOffered" else None,
                    )


def _offered(page: _Page, items: Sequence[Item]) -> Iterator[Found]:
    """A product for each offer of each product, in the order of the page."""
    waiting = [_At(item) for item in reversed(items)]
    seen: set[int] = set()
    count = 0
    while waiting and count <= MOST_PRODUCTS:
        at = waiting.pop()
        if id(at.item) in seen or at.depth > _DEPTH:
            continue
        seen.add(id(at.item))
        if at.is_product:
            for found in _of_product(page, at):
                count += 1
                yield replace(found, beside=at.beside)
        waiting.extend(reversed(list(at.inside())))


def _of_product(page: _Page, at: _At) -> Iterator[Found]:
    item, around = at.item, at.group or next(iter(at.item.items("isVariantOf")), None)
    name = item.text("name") or (around.text("name") if around else "") or item.text("title", "description")[:200]
    if not name:
        return
    said: list[str] = []
    brand = item.text("brand", "manufacturer") or (around.text("brand", "manufacturer") if around else "")
    notes = [("Made by", brand)] if brand and match_key(brand) not in match_key(name) else []
    size = _size(item)
    notes += [("Size, without packing", size)] if size else []
    base = Found(
        name=name[:400],
        part_number=item.text("mpn")[:200],
        shop_number=item.text("sku", "productID")[:200],
        trade_number=next((text for key in _NUMBERS if (text := item.text(key))), "")[:200],
        mass_kg=_mass(item, said),
        url=_address(item.text("url"), page.url),
        place=item.found_in,
        quantity=_count(item),
    )
    offers = item.items("offers") or ([at.offer] if at.offer else around.items("offers") if around else [])
    several = [each for offer in offers for each in _each_offer(offer)]
    for offer in several or [Item(("Offer",), item.found_in)]:
        yield _with_offer(base, page, item, offer, notes, list(said))


def _each_offer(offer: Item) -> Iterator[Item]:
    """The offer, or those a sum of offers holds."""
    inside = [each for each in offer.items("offers") if _priced(each)]
    yield from inside if "AggregateOffer" in offer.types and inside else [offer]


def _priced(offer: Item) -> bool:
    return bool(offer.text("price", "lowPrice") or offer.items("priceSpecification"))


def _with_offer(
    base: Found, page: _Page, item: Item, offer: Item, notes: Sequence[tuple[str, str]], said: list[str]
) -> Found:
    price, currency, could_be = _price(offer, said)
    spec = next(iter(_specifications(offer)), offer)
    available, condition = offer.text("availability"), offer.text("itemCondition") or item.text("itemCondition")
    more = [
        ("Available", _AVAILABLE.get(_last(available), _last(available))),
        ("Condition", _CONDITIONS.get(_last(condition), _last(condition))),
        ("Freight, by the page", _freight(offer)),
    ]
    return replace(
        base,
        price=price,
        currency=currency,
        could_be=could_be,
        tax_included={"true": True, "false": False}.get(spec.text("valueAddedTaxIncluded").casefold()),
        price_until=_day(offer.text("priceValidUntil", "validThrough") or spec.text("validThrough")),
        available_from=_day(offer.text("availabilityStarts")),
        seller=(offer.text("seller", "offeredBy") or page.seller)[:200],
        shop_number=base.shop_number or offer.text("sku")[:200],
        part_number=base.part_number or offer.text("mpn")[:200],
        lead_weeks=_lead(offer),
        return_days=_return_days(offer, item),
        url=base.url or _address(offer.text("url"), page.url) or page.url,
        notes=(*notes, *((label, text[:300]) for label, text in more if text)),
        said=tuple(said),
    )


def _last(name: str) -> str:
    return re.split(r"[/#:]", name.strip())[-1]


def _address(text: str, otherwise: str) -> str:
    from .saved_page import is_address

    return text.strip()[:2000] if is_address(text) else otherwise


# prices


def _specifications(offer: Item) -> list[Item]:
    """Price specifications of what is asked, a price struck through or recommended left out."""
    return [
        each
        for each in offer.items("priceSpecification")
        if _last(each.text("priceType")) not in _NOT_ASKED and "DeliveryChargeSpecification" not in each.types
    ]


def _price(offer: Item, said: list[str]) -> tuple[Decimal | None, str, tuple[str, ...]]:
    """Amount, currency code and, where only a sign is given, what it could stand for."""
    specs = _specifications(offer)
    spec = next((each for each in specs if each.text("price", "minPrice")), None)
    text = offer.text("price") or (spec.text("price", "minPrice") if spec else "") or offer.text("lowPrice")
    code = offer.text("priceCurrency") or (spec.text("priceCurrency") if spec else "")
    low, high = offer.text("lowPrice"), offer.text("highPrice")
    if low and high and low != high and text == low:
        said.append(f"prices on the page go from {low} to {high}; the lowest is taken")
    amount = read_amount(text, said)
    currency, could_be = read_currency(code, text)
    if code and not currency and not could_be:
        said.append(f'the page names the currency "{code[:20]}", which is none Fishplate knows')
    per = spec.items("referenceQuantity") if spec else []
    if amount is not None and per and per[0].text("value") not in ("", "1"):
        said.append(f"the price is for {per[0].text('value')} {per[0].text('unitText', 'unitCode')}".rstrip())
    return amount, currency, could_be


def read_amount(text: str, said: list[str]) -> Decimal | None:
    """An amount as pages write it; None, and a word on it, where it can't be read for sure.

    Examples
    --------
    >>> read_amount("38.50", []), read_amount("1.234,50 EUR", []), read_amount("ask", [])
    (Decimal('38.50'), Decimal('1234.50'), None)
    """
    bare = text.strip()
    if not bare:
        return None
    try:
        # schema.org: a full stop is the decimal mark, and nothing sets thousands apart
        reading = Decimal(bare) if re.fullmatch(r"\d{1,12}(?:\.\d{1,6})?", bare) else parse_price(bare[:200]).likely
    except (Unreadable, InvalidOperation) as error:
        what = error.what if isinstance(error, Unreadable) else "not an amount"
        said.append(f'the price "{bare[:40]}" was not taken: {what}')
        return None
    if reading is None or reading < 0 or reading > Decimal("1e9"):
        said.append(f'the price is given as "{bare[:40]}"; none is taken')
        return None
    if reading == 0:
        said.append("the price is given as nothing, which pages do where it is on request; none is taken")
        return None
    return reading


def read_currency(code: str, text: str) -> tuple[str, tuple[str, ...]]:
    """A currency's code by its code or sign, and what the sign could be if it stands for several."""
    if code.strip().upper() in known_currencies():
        return code.strip().upper(), ()
    for each in (code, text):
        hint = find_currency(each)
        if hint.code:
            return hint.code, ()
        if hint.sign:
            return "", AMBIGUOUS_SIGNS[hint.sign]
    return "", ()


# the rest of what is said


def _day(text: str) -> date | None:
    try:
        return parse_day(text) if text else None
    except Unreadable:
        return None


def _figure(text: str) -> Decimal | None:
    try:
        value = Decimal(text.strip()) if re.fullmatch(r"\s*\d{1,9}(?:\.\d{1,6})?\s*", text) else None
    except InvalidOperation:
        return None
    return value if value is None or value > 0 else None


def _mass(item: Item, said: list[str]) -> Decimal | None:
    shown = item.text("weight")
    for value in item.items("weight"):
        number, unit = value.text("value", "minValue"), value.text("unitCode") or value.text("unitText")
        shown = f"{number} {_MASSES.get(unit.upper(), unit)}"
    if not shown.strip():
        return None
    try:
        mass = parse_mass_kg(shown)
    except Unreadable as error:
        said.append(f'the weight "{shown[:40]}" was not taken: {error.what}')
        return None
    return mass if Decimal(0) < mass < Decimal(100_000) else None


def _size(item: Item) -> str:
    sides = []
    for name in ("depth", "width", "height"):
        shown = item.text(name)
        for value in item.items(name):
            unit = value.text("unitCode") or value.text("unitText")
            shown = f"{value.text('value')} {_LENGTHS.get(unit.upper(), unit)}"
        sides.append(" ".join(shown.split())[:40])
    return " × ".join(sides) if all(sides) else ""


def _count(item: Item) -> Decimal | None:
    return _figure(item.text("orderQuantity"))


def _freight(offer: Item) -> str:
    for details in offer.items("shippingDetails"):
        for rate in details.items("shippingRate"):
            to = [region.text("addressCountry") for region in details.items("shippingDestination")]
            amount = " ".join(filter(None, (rate.text("value", "minValue"), rate.text("currency"))))
            if amount:
                return f"{amount} to {to[0]}" if to and to[0] else amount
    return ""


def _lead(offer: Item) -> ThreePoint | None:
    """From order to dispatch, where the page gives it as a span of days."""
    for details in offer.items("shippingDetails"):
        for time in details.items("deliveryTime"):
            for span in time.items("handlingTime"):
                low, high = _figure_or_none(span.text("minValue", "value")), _figure(span.text("maxValue", "value"))
                days = _DAYS.get(span.text("unitCode").upper())
                if low is not None and high is not None and days and low <= high <= 3000:
                    weeks = [round(float(each) * days / 7, 6) for each in (low, (low + high) / 2, high)]
                    return ThreePoint(low=weeks[0], likely=weeks[1], high=weeks[2])
    return None


def _figure_or_none(text: str) -> Decimal | None:
    return Decimal(0) if re.fullmatch(r"\s*0+(?:\.0*)?\s*", text) else _figure(text)


def _return_days(offer: Item, item: Item) -> int | None:
    sellers = offer.items("seller")
    for policy in (each for at in (offer, item, *sellers) for each in at.items("hasMerchantReturnPolicy")):
        if _last(policy.text("returnPolicyCategory")) == "MerchantReturnNotPermitted":
            return 0
        days = _figure_or_none(policy.text("merchantReturnDays"))
        if days is not None and days == int(days) and 0 < days <= 3650:
            return int(days)
    return None


# the same product told of twice, and the head


def _merged(found: Sequence[Found]) -> list[Found]:
    """Products told of more than once, as in JSON-LD and in microdata, as one: the first says what counts."""
    kept: list[Found] = []
    for each in dict.fromkeys(found):
        twin = next((at for at, other in enumerate(kept) if _same(other, each)), None)
        if twin is None:
            kept.append(each)
        else:
            kept[twin] = _filled(kept[twin], each)
    return kept


def _same(one: Found, other: Found) -> bool:
    """Whether it is one product, told of in two ways; what one way tells of twice are two offers."""
    if one.place == other.place:
        return False
    numbers = {number_key(each) for each in one.numbers} & {number_key(each) for each in other.numbers}
    if not (numbers or match_key(one.name) == match_key(other.name)):
        return False
    return one.price == other.price or one.price is None or other.price is None or one.seller == other.seller


def _filled(one: Found, other: Found | None) -> Found:
    """A product with what it does not say taken from another telling of it."""
    if other is None:
        return one
    said = list(one.said)
    if None not in (one.price, other.price) and one.price != other.price:
        said.append(f"the page gives the price {one.price:f} in one place and {other.price:f} in another; "
                    f"{one.price:f} is taken")  # fmt: skip
    if one.currency and other.currency and one.currency != other.currency:
        said.append(f"the page names {one.currency} in one place and {other.currency} in another; "
                    f"{one.currency} is taken")  # fmt: skip
    skip = {"said", "place", "beside", "notes", "unit", "name"}
    if one.price is not None and other.price is None:
        skip |= {"tax_included"}
    given: dict[str, Any] = {
        each.name: getattr(other, each.name)
        for each in fields(Found)
        if each.name not in skip and getattr(one, each.name) in (None, "", ())
    }
    if "currency" in given and one.price is not None and other.price not in (None, one.price):
        given.pop("currency")  # the currency of another price is not this one's
    labels = {label for label, _ in one.notes}
    notes = (*one.notes, *(note for note in other.notes if note[0] not in labels))
    return replace(one, **given, notes=notes, said=tuple(dict.fromkeys((*said, *other.said))))


def _by_head(page: _Page, title: str) -> Found | None:
    """What the head of a page says of the one product it is about; None if it says nothing."""
    head = page.head
    name = head.get("og:title") or title
    if not name:
        return None
    said: list[str] = []
    text = next((head[key] for key in ("product:price:amount", "og:price:amount") if key in head), "")
    code = next((head[key] for key in ("product:price:currency", "og:price:currency") if key in head), "")
    sale = head.get("product:sale_price:amount")
    if sale:
        text, code = sale, head.get("product:sale_price:currency", code)
    price = read_amount(text, said)
    currency, could_be = read_currency(code, text)
    available = head.get("product:availability", head.get("og:availability", ""))
    return Found(
        name=name[:400],
        part_number=head.get("product:mfr_part_no", "")[:200],
        shop_number=head.get("product:retailer_item_id", "")[:200],
        price=price,
        currency=currency,
        could_be=could_be,
        seller=page.seller,
        url=page.url,
        notes=tuple(filter(lambda note: note[1], (("Available", available[:300]),))),
        said=tuple(said),
        place="head",
    )
