# ruff: noqa: E501 - pages as they are written
"""Products read from saved pages: forty shapes of page, written for this; names are invented.

What a property means is schema.org's: https://schema.org/Product, /Offer, /AggregateOffer, /ProductGroup,
/PriceSpecification, /OfferShippingDetails, /MerchantReturnPolicy. Values are held against extruct, an independent
reader of JSON-LD, microdata and RDFa, further down.
"""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from html import escape
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.build import Build
from fishplate.exchange.capture import capture
from fishplate.exchange.captured import Captured, Found
from fishplate.exchange.page_data import Item, read_page
from fishplate.exchange.saved_page import parsed

OFFER = {"@type": "Offer", "price": "38.50", "priceCurrency": "GBP"}
HUB = {
    "@context": "https://schema.org",
    "@type": "Product",
    "name": "Front hub",
    "sku": "S-17",
    "mpn": "FH-220",
    "offers": OFFER,
}


def page(*data: Any, head: str = "", body: str = "") -> bytes:
    """A page with blocks of JSON-LD in its head."""
    blocks = "".join(
        f'<script type="application/ld+json">{each if isinstance(each, str) else json.dumps(each)}</script>'
        for each in data
    )
    return f"<!doctype html><html><head>{head}{blocks}</head><body>{body}</body></html>".encode()


def captured(content: bytes, name: str = "page.html") -> Captured:
    found = capture(content, name, Build())
    assert found is not None
    return found


def only(content: bytes) -> Found:
    """The one product of a page."""
    (found,) = captured(content).found
    return found


MICRODATA = """<div itemscope itemtype="https://schema.org/Product"><h1 itemprop="name">Front hub</h1>
<span itemprop="mpn">FH-220</span><div itemprop="offers" itemscope itemtype="https://schema.org/Offer">
<span itemprop="price" content="38.50">38,50</span><meta itemprop="priceCurrency" content="GBP">
<link itemprop="availability" href="https://schema.org/InStock"></div></div>"""
RDFA = """<div vocab="https://schema.org/" typeof="Product"><h1 property="name">Front hub</h1><span property="mpn">FH-220</span>
<div property="offers" typeof="Offer"><span property="price" content="38.50">£ 38.50</span><meta property="priceCurrency" content="GBP"></div></div>"""
OPEN_GRAPH = """<meta property="og:title" content="Front hub"><meta property="product:price:amount" content="38.50">
<meta property="product:price:currency" content="GBP"><meta property="product:mfr_part_no" content="FH-220">"""

# shapes that all tell of the same hub at the same price
SHAPES = {
    "one block": page(HUB),
    "an array": page([{"@type": "WebSite", "name": "Saltmere"}, HUB]),
    "a graph": page({"@context": "https://schema.org", "@graph": [{"@type": "BreadcrumbList"}, HUB]}),
    "a graph with names for its nodes": page(
        {"@graph": [{**HUB, "@id": "#hub", "offers": {"@id": "#offer"}}, {**OFFER, "@id": "#offer"}]}
    ),
    "several blocks": page({"@type": "Organization", "name": "Saltmere"}, HUB),
    "main entity of the page": page({"@type": "WebPage", "mainEntity": HUB}),
    "a list of items": page({"@type": "ItemList", "itemListElement": [{"@type": "ListItem", "position": 1, "item": HUB}]}),
    "two types": page({**HUB, "@type": ["Product", "IndividualProduct"]}),
    "types with their vocabulary": page({**HUB, "@type": "http://schema.org/Product"}),
    "a price that is a number": page({**HUB, "offers": {**OFFER, "price": 38.5}}),
    "a price with its currency": page({**HUB, "offers": {"@type": "Offer", "price": "£38.50"}}),
    "a price with a comma": page({**HUB, "offers": {**OFFER, "price": "38,50"}}),
    "offers in an array": page({**HUB, "offers": [OFFER]}),
    "an offer that names its item": page({**OFFER, "itemOffered": {key: HUB[key] for key in HUB if key != "offers"}}),
    "a sum of one offer": page({**HUB, "offers": {"@type": "AggregateOffer", "lowPrice": "38.50", "highPrice": "38.50", "priceCurrency": "GBP"}}),
    "a sum that holds its offers": page({**HUB, "offers": {"@type": "AggregateOffer", "lowPrice": 1, "offers": [OFFER]}}),
    "a price specification": page({**HUB, "offers": {"@type": "Offer", "priceSpecification": {"@type": "UnitPriceSpecification", "price": 38.5, "priceCurrency": "GBP"}}}),
    "a struck price beside": page({**HUB, "offers": {"@type": "Offer", "priceSpecification": [
        {"@type": "UnitPriceSpecification", "price": 52, "priceCurrency": "GBP", "priceType": "https://schema.org/StrikethroughPrice"},
        {"@type": "UnitPriceSpecification", "price": 38.5, "priceCurrency": "GBP"}]}}),
    "a group with one variant": page({"@type": "ProductGroup", "name": "Hubs", "hasVariant": [HUB]}),
    "a variant that names its group": page({**HUB, "isVariantOf": {"@type": "ProductGroup", "name": "Hubs"}}),
    "a line break in a text": page('{"@type":"Product","name":"Front\nhub","mpn":"FH-220","offers":{"price":"38.50","priceCurrency":"GBP"}}'),
    "a comma too many": page('{"@type":"Product","name":"Front hub","mpn":"FH-220","offers":{"price":"38.50","priceCurrency":"GBP",},}'),
    "in a comment": page("<!--" + json.dumps(HUB) + "-->"),
    "in character data": page("//<![CDATA[\n" + json.dumps(HUB) + "\n//]]>"),
    "with a semicolon behind": page(json.dumps(HUB) + ";"),
    "a broken block before it": page("{not data", HUB),
    "microdata": page(body=MICRODATA),
    "microdata by reference": page(body="""<div itemscope itemtype="https://schema.org/Product" itemref="o n"></div>
        <p id="n"><b itemprop="name">Front hub</b> <i itemprop="mpn">FH-220</i></p>
        <div id="o" itemprop="offers" itemscope itemtype="https://schema.org/Offer"><data itemprop="price" value="38.50">x</data><meta itemprop="priceCurrency" content="GBP"></div>"""),
    "RDFa": page(body=RDFA),
    "RDFa with a prefix": page(body=RDFA.replace('vocab="https://schema.org/" typeof="', 'prefix="s: https://schema.org/" typeof="s:').replace('property="', 'property="s:')),
    "its head alone": page(head=OPEN_GRAPH),
    "JSON-LD and microdata": page(HUB, body=MICRODATA),
    "microdata without a price and a head with one": page(head=OPEN_GRAPH, body=MICRODATA.replace('itemprop="price"', "").replace('itemprop="priceCurrency"', "")),
    "UTF-16": page(HUB).decode().encode("utf-16"),
    "upper case": page(HUB).replace(b"<script", b"<SCRIPT").replace(b"application/ld+json", b"Application/LD+JSON"),
    "never closed": page(HUB).replace(b"</head>", b"").replace(b"</html>", b""),
    "a comment before it": b"<!-- kept -->\n" + page(HUB),
    "NUL bytes in it": page(HUB).replace(b"<body>", b"<body>\0\0"),
}  # fmt: skip


@pytest.mark.parametrize("shape", SHAPES)
def test_the_same_hub_is_read_from_every_shape_of_page(shape: str) -> None:
    found = only(SHAPES[shape])
    assert (found.name, found.part_number, found.price, found.currency) == (
        "Front hub",
        "FH-220",
        Decimal("38.50"),
        "GBP",
    )


def test_there_are_shapes_enough() -> None:
    assert len(SHAPES) >= 25


def test_what_an_offer_says_of_terms_is_read() -> None:
    offer = {
        **OFFER,
        "availability": "https://schema.org/BackOrder",
        "priceValidUntil": "2026-12-31",
        "availabilityStarts": "2026-12-10T00:00:00Z",
        "itemCondition": "UsedCondition",
        "seller": {"@type": "Organization", "name": "Saltmere Stores"},
        "priceSpecification": {"@type": "PriceSpecification", "valueAddedTaxIncluded": True},
        "hasMerchantReturnPolicy": {"@type": "MerchantReturnPolicy", "merchantReturnDays": 30},
        "shippingDetails": {
            "@type": "OfferShippingDetails",
            "shippingRate": {"@type": "MonetaryAmount", "value": "6.90", "currency": "GBP"},
            "shippingDestination": {"@type": "DefinedRegion", "addressCountry": "NL"},
            "deliveryTime": {"@type": "ShippingDeliveryTime", "handlingTime": {"@type": "QuantitativeValue", "minValue": 0, "maxValue": 14, "unitCode": "DAY"}},
        },
    }  # fmt: skip
    found = only(
        page(
            {
                **HUB,
                "gtin13": "4006381333931",
                "weight": {"@type": "QuantitativeValue", "value": "2400", "unitCode": "GRM"},
                "depth": "60 mm",
                "width": {"value": 12, "unitCode": "CMT"},
                "height": "5 cm",
                "offers": offer,
            }
        )
    )
    assert found.price_until == date(2026, 12, 31)
    assert found.available_from == date(2026, 12, 10)
    assert found.seller == "Saltmere Stores"
    assert found.tax_included is True
    assert found.return_days == 30
    assert found.mass_kg == Decimal("2.4")
    assert found.trade_number == "4006381333931"
    assert found.lead_weeks is not None
    assert (found.lead_weeks.low, found.lead_weeks.likely, found.lead_weeks.high) == (0, 1, 2)
    notes = dict(found.notes)
    assert notes["Available"] == "on back order"
    assert notes["Condition"] == "used"
    assert notes["Freight, by the page"] == "6.90 GBP to NL"
    assert notes["Size, without packing"] == "60 mm × 12 cm × 5 cm"


def test_what_can_not_go_back_is_told_so() -> None:
    policy = {"@type": "MerchantReturnPolicy", "returnPolicyCategory": "https://schema.org/MerchantReturnNotPermitted"}
    assert only(page({**HUB, "offers": {**OFFER, "hasMerchantReturnPolicy": policy}})).return_days == 0


def test_variants_come_one_by_one_with_what_their_group_says() -> None:
    group = {
        "@type": "ProductGroup", "name": "Brake disc", "brand": {"@type": "Brand", "name": "Tarn"},
        "hasVariant": [
            {"@type": "Product", "sku": "D-280", "name": "Brake disc 280", "offers": OFFER},
            {"@type": "Product", "sku": "D-300", "name": "Brake disc 300", "offers": {**OFFER, "price": "44.00"}},
        ],
    }  # fmt: skip
    found = captured(page(group)).found
    assert [(each.shop_number, each.price) for each in found] == [
        ("D-280", Decimal("38.50")),
        ("D-300", Decimal("44.00")),
    ]
    assert all(("Made by", "Tarn") in each.notes for each in found)


def test_sellers_of_one_product_stay_apart() -> None:
    offers = [{**OFFER, "seller": {"name": "Saltmere"}}, {**OFFER, "price": "36.00", "seller": {"name": "Harrow Lane"}}]
    assert [(each.seller, each.price) for each in captured(page({**HUB, "offers": offers})).found] == [
        ("Saltmere", Decimal("38.50")),
        ("Harrow Lane", Decimal("36.00")),
    ]


def test_what_is_only_shown_beside_comes_last_and_says_so() -> None:
    found = captured(page({**HUB, "isRelatedTo": [{"@type": "Product", "name": "Grease", "offers": OFFER}]})).found
    assert [(each.name, each.beside) for each in found] == [("Front hub", False), ("Grease", True)]


def test_a_span_of_prices_is_said_and_the_lowest_taken() -> None:
    found = only(
        page(
            {**HUB, "offers": {"@type": "AggregateOffer", "lowPrice": "30", "highPrice": "50", "priceCurrency": "EUR"}}
        )
    )
    assert found.price == 30
    assert any("from 30 to 50" in said for said in found.said)


def test_two_prices_for_one_thing_are_both_told() -> None:
    found = only(
        page(
            HUB, body=MICRODATA.replace("38.50", "41.00").replace("</h1>", "</h1><meta itemprop=mpn content=FH-220>")
        ).replace(b'"name": "Saltmere"', b"")
    )
    assert found.price == Decimal("38.50")
    assert any("41.00 in another" in said for said in found.said)


@pytest.mark.parametrize("written", ["ask", "1.234", "0", "-5", "9" * 40, "1e9999", ""])
def test_a_price_that_is_none_is_not_made_one(written: str) -> None:
    found = only(page({**HUB, "offers": {"@type": "Offer", "price": written, "priceCurrency": "EUR"}}))
    assert found.price is None or (written == "1.234" and found.price == Decimal("1.234"))


def test_a_missing_currency_stays_open() -> None:
    found = only(page({**HUB, "offers": {"@type": "Offer", "price": 38.5}}))
    assert (found.price, found.currency, found.could_be) == (Decimal("38.5"), "", ())


def test_a_shared_sign_says_what_it_could_be() -> None:
    found = only(page({**HUB, "offers": {"@type": "Offer", "price": "$38.50"}}))
    assert found.currency == ""
    assert "CAD" in found.could_be


def test_a_title_alone_is_a_name_and_nothing_more() -> None:
    told = captured(b"<html><head><title>Front hub</title></head></html>")
    assert [(each.name, each.price) for each in told.found] == [("Front hub", None)]
    assert any("nothing but its title" in note for note in told.notes)


def test_where_and_when_it_was_saved_is_read_from_its_comments() -> None:
    told = captured(
        b"<!-- saved from url=(0033)https://www.saltmere.example/hub -->\n<!-- saved on 2026-11-23 -->" + page(HUB)
    )
    assert (told.url, told.day) == ("https://www.saltmere.example/hub", date(2026, 11, 23))
    assert told.found[0].seller == "saltmere.example"


def test_a_canonical_address_stands_in_for_where_it_was_saved() -> None:
    told = captured(page(HUB, head='<link rel="canonical" href="https://saltmere.example/hub">'))
    assert told.found[0].url == "https://saltmere.example/hub"


def archive(body: bytes, *, encoding: str = "8bit") -> bytes:
    """A page kept as MHTML (RFC 2557)."""
    head = (
        "From: <Saved>\r\nSnapshot-Content-Location: https://saltmere.example/hub\r\nSubject: Front hub\r\n"
        "Date: Mon, 23 Nov 2026 20:15:00 -0000\r\nMIME-Version: 1.0\r\n"
        'Content-Type: multipart/related; type="text/html"; boundary="cut"\r\n\r\n'
        f"--cut\r\nContent-Type: text/html; charset=utf-8\r\nContent-Transfer-Encoding: {encoding}\r\n"
        "Content-Location: https://saltmere.example/hub\r\n\r\n"
    )
    tail = (
        b"\r\n--cut\r\nContent-Type: image/png\r\nContent-Transfer-Encoding: base64\r\n\r\niVBORw0KGgo=\r\n--cut--\r\n"
    )
    return head.encode() + body + tail


@pytest.mark.parametrize("encoding", ["8bit", "quoted-printable", "base64"])
def test_a_page_kept_as_one_file_is_read_with_its_day_and_place(encoding: str) -> None:
    import base64
    import quopri

    body = {
        "8bit": page(HUB),
        "quoted-printable": quopri.encodestring(page(HUB)),
        "base64": base64.encodebytes(page(HUB)),
    }[encoding]
    told = captured(archive(body, encoding=encoding), "hub.mhtml")
    assert (told.kind, told.url, told.day) == ("page", "https://saltmere.example/hub", date(2026, 11, 23))
    assert told.found[0].price == Decimal("38.50")


def test_letters_are_read_as_the_page_says_and_as_they_are_where_it_is_wrong() -> None:
    named = {**HUB, "name": "Bride d'essieu, côté gauche"}
    block = f'<script type="application/ld+json">{json.dumps(named, ensure_ascii=False)}</script>'
    western = f'<html><head><meta charset="windows-1252">{block}'.encode("cp1252")
    assert only(western).name == named["name"]
    wrong = captured(f'<html><head><meta charset="utf-16le-x">{block}'.encode())
    assert wrong.found[0].name == named["name"]
    assert any("as it says" in note for note in wrong.notes)


def test_a_page_with_a_list_and_no_product_is_a_list() -> None:
    body = "<table><tr><th>Part</th><th>Qty</th><th>Price</th></tr><tr><td>Disc</td><td>2</td><td>64.50 GBP</td></tr></table>"
    assert capture(page(body=body), "list.html", Build()) is None


# held against an independent reader


# its JSON reader takes no comments, semicolons or broken blocks
NOT_READ_BY_IT = frozenset(
    ("in a comment", "in character data", "with a semicolon behind", "a broken block before it", "upper case", "UTF-16")
)


@pytest.mark.parametrize("shape", [name for name in SHAPES if name not in NOT_READ_BY_IT])
def test_an_independent_reader_finds_the_same_values(shape: str) -> None:
    import extruct

    told = extruct.extract(
        SHAPES[shape].decode().replace("\0", ""), syntaxes=["json-ld", "microdata", "rdfa", "opengraph"]
    )
    text, found = json.dumps(told), only(SHAPES[shape])
    assert any(told.values())
    assert found.name.split()[0] in text
    assert any(written in text for written in ("38.50", "38.5", "38,50"))
    assert found.part_number in text


NAMES = st.sampled_from(["name", "price", "offers", "sku", "seller"])
TEXTS = st.text(st.sampled_from("abc 12.éß&<"), min_size=1, max_size=8).filter(lambda text: text.strip())
THINGS = st.recursive(TEXTS, lambda inside: st.lists(st.tuples(NAMES, inside), min_size=1, max_size=4), max_leaves=12)


def written(name: str, thing: Any, *, rdfa: bool) -> str:
    """A thing as microdata or RDFa under a property; at the top without one."""
    prop, scope = (
        ("property", 'typeof="Thing"') if rdfa else ("itemprop", 'itemscope itemtype="https://schema.org/Thing"')
    )
    under = f'{prop}="{name}"' if name else ""
    if isinstance(thing, str):
        return f"<span {under}>{escape(thing)}</span>"
    return f"<div {under} {scope}>{''.join(written(key, each, rdfa=rdfa) for key, each in thing)}</div>"


def plain_item(item: Item) -> dict[str, Any]:
    """An item as plain lists."""
    return {
        name: [plain_item(each) if isinstance(each, Item) else each for each in values]
        for name, values in item.properties.items()
    }


def plain_told(told: dict[str, Any]) -> dict[str, Any]:
    """The independent reader's microdata as plain lists."""
    listed = {
        name: values if isinstance(values, list) else [values] for name, values in told.get("properties", {}).items()
    }
    return {
        name: [plain_told(each) if isinstance(each, dict) else " ".join(each.split()) for each in values]
        for name, values in listed.items()
    }


@given(st.lists(st.tuples(NAMES, THINGS), min_size=1, max_size=4))
@settings(max_examples=60, deadline=None)
def test_microdata_is_the_tree_an_independent_reader_finds(thing: Any) -> None:
    from extruct.w3cmicrodata import MicrodataExtractor

    text = f"<!doctype html><html><body>{written('', thing, rdfa=False)}</body></html>"
    root, _ = parsed(text.encode())
    ours = [plain_item(item) for item in read_page(root, "").items]
    assert ours == [plain_told(each) for each in MicrodataExtractor().extract(text)]
    root, _ = parsed(f'<!doctype html><html><body vocab="https://schema.org/">{written("", thing, rdfa=True)}'.encode())
    assert [plain_item(item) for item in read_page(root, "").items] == ours
