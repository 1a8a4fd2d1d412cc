# ruff: noqa: E501 - mails as they are written
"""Goods in mails and pasted text, and what taking them in does; names and numbers are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from fishplate.build import Build, Money, Refused
from fishplate.build.commerce import Offer, PriceBreak, Supplier
from fishplate.build.parts import Part
from fishplate.cli import main
from fishplate.exchange import RowAction, apply
from fishplate.exchange.capture import capture, order_tables
from fishplate.exchange.captured import Captured, Found
from fishplate.exchange.confirmation import read_confirmation
from fishplate.exchange.taking_in import LEFT_OUT, OWN, likely_parts, take_in
from fishplate.store import BuildFile

TODAY = date(2026, 11, 30)
CONFIRMATION = """\
Hello,

thank you for your order 20417 of 23 November.

2 x Brake hose front (BH-101)   £38.50   £77.00
1 x Bleed nipple M10x1   £1.20

Front hub
Part no: FH-220
Qty: 2
Price: £120.00

Subtotal: £318.20
Delivery: £9.00
Total: £327.20

Regards, Saltmere
https://saltmere.example/orders/20417
"""
QUOTE = """\
Dear customer, here is what you asked for:

Qty  Part                 Part no   Price each   Lead time
---  -------------------  --------  -----------  ---------
2    Brake hose, front    BH-101        38.50    2 weeks
10   Bolt M8 x 30                        0.45    in stock

All prices in EUR without VAT.
"""


def text(written: str, build: Build | None = None, name: str = "pasted text") -> Captured:
    found = capture(written.encode(), name, build or Build())
    assert found is not None
    return found


def mail(body: str, kind: str = "text/plain") -> bytes:
    head = (
        "From: Saltmere Stores <orders@saltmere.example>\r\nTo: me@home.example\r\nSubject: =?utf-8?q?Order_20417?=\r\n"
        f"Date: Mon, 23 Nov 2026 10:00:00 +0000\r\nMIME-Version: 1.0\r\nContent-Type: {kind}; charset=utf-8\r\n\r\n"
    )
    return (head + body.replace("\n", "\r\n")).encode()


def rows(captured: Captured) -> list[tuple[str, str, Decimal | None, Decimal | None, str]]:
    return [(each.name, each.part_number, each.quantity, each.price, each.currency) for each in captured.found]


THREE = [
    ("Brake hose front", "BH-101", Decimal(2), Decimal("38.50"), "GBP"),
    ("Bleed nipple M10x1", "", Decimal(1), Decimal("1.20"), "GBP"),
    ("Front hub", "FH-220", Decimal(2), Decimal("120.00"), "GBP"),
]


def test_goods_of_a_confirmation_are_read_and_the_rest_is_shown_as_not_read() -> None:
    found = text(CONFIRMATION)
    assert rows(found) == THREE
    assert "Total: £327.20" in found.not_read
    assert "Delivery: £9.00" in found.not_read
    assert all("hose" not in line for line in found.not_read)


def test_a_quoted_answer_reads_the_same() -> None:
    assert rows(text("".join(f"> {line}\n" for line in CONFIRMATION.splitlines()))) == THREE


def test_a_mail_tells_who_sent_it_and_when() -> None:
    found = capture(mail(CONFIRMATION), "order.eml", Build())
    assert found is not None
    assert rows(found) == THREE
    assert (found.kind, found.title, found.day) == ("mail", "Order 20417", date(2026, 11, 23))
    assert {each.seller for each in found.found} == {"Saltmere Stores"}


def test_a_mail_that_is_a_page_reads_the_same() -> None:
    table = "".join(
        f"<tr><td>{count} x</td><td>{name}</td><td>{price}</td></tr>"
        for count, name, price in ((2, "Brake hose front (BH-101)", "£38.50"), (1, "Bleed nipple M10x1", "£1.20"))
    )
    page = f"<html><head><style>b {{}}</style></head><body><p>Thank you.</p><table><tr><td><table>{table}</table></td></tr></table>"
    found = capture(mail(page, "text/html"), "order.eml", Build())
    assert found is not None
    assert rows(found) == THREE[:2]
    assert found.not_read == ("Thank you.",)


def test_columns_set_with_blanks_are_a_table() -> None:
    found = text(QUOTE)
    assert rows(found) == [
        ("Brake hose, front", "BH-101", Decimal(2), Decimal("38.50"), "EUR"),
        ("Bolt M8 x 30", "", Decimal(10), Decimal("0.45"), "EUR"),
    ]
    assert found.found[0].lead_weeks is not None
    assert found.found[0].lead_weeks.likely == 2
    assert "Dear customer, here is what you asked for:" in found.not_read


@pytest.mark.parametrize("line", [
    "2 x Brake hose 38.50 EUR", "2 × Brake hose €38,50", "Brake hose  2 pcs à 38,50 EUR", "- 2 Brake hose EUR 38.50 each",
    "Brake hose x2 €38.50", "2 Brake hose @ 38.50 EUR",
])  # fmt: skip
def test_lines_are_read_as_people_write_them(line: str) -> None:
    found = text(f"Hello\n\n{line}\n\nBye\n").found[0]
    assert (found.name, found.quantity, found.price, found.currency) == ("Brake hose", 2, Decimal("38.50"), "EUR")


@pytest.mark.parametrize("line", [
    "Total 38.50 EUR", "VAT 21%: 8.09 EUR", "Shipping: € 9,00", "Call us at 020 555 1250", "Ordered on 23.11.2026",
    "see https://saltmere.example/12.50", "Subtotal (2 items) £77.00", "10:30 to 12.00",
])  # fmt: skip
def test_lines_that_are_no_goods_are_not_taken_for_them(line: str) -> None:
    found = text(f"2 x Brake hose 38.50 EUR\n{line}\n")
    assert [each.name for each in found.found] == ["Brake hose"]
    assert found.not_read == (line,)


def test_a_shared_sign_anywhere_leaves_a_bare_price_open() -> None:
    found = text("Order\n\n2 x Brake hose 38.50\n1 x Bleed nipple $1.20\n4 x Stud nut 0.90 GBP\n").found
    assert [(each.currency, "CAD" in each.could_be) for each in found] == [("", False), ("", True), ("GBP", False)]


def test_rows_with_their_headings_stay_a_list() -> None:
    assert capture(b"Part\tQty\tPrice\nHub\t2\t3 EUR\nDisc\t1\t4 EUR\n", "pasted text", Build()) is None
    assert capture(b"Hub;2;3 EUR\nDisc;1;4 EUR\n", "pasted text", Build()) is None


def test_a_supplier_of_the_build_that_is_named_sells_it() -> None:
    build = Build(suppliers=(Supplier(id="s", name="Saltmere", country="GB", currency="GBP"),))
    assert {each.seller for each in text(CONFIRMATION, build).found} == {"Saltmere"}


# what becomes of it

HUB = Found(
    name="Front hub", part_number="FH-220", price=Decimal("38.50"), currency="GBP", seller="Saltmere", place="JSON-LD"
)
HELD = Build(
    suppliers=(Supplier(id="saltmere", name="Saltmere", country="GB", currency="GBP"),),
    parts=(Part(id="hub", name="Hub, front", part_number="fh 220"), Part(id="hub-rear", name="Hub rear")),
    offers=(
        Offer(
            id="o", supplier="saltmere", part="hub", price=Money.of("36", "GBP"), seen=date(2026, 10, 1), note="mine"
        ),
    ),
)


def brought(*found: Found, day: date | None = date(2026, 11, 23)) -> Captured:
    return Captured("hub.html", "page", "Hub", found, day=day)


def test_a_new_price_goes_to_the_offer_and_the_old_one_is_kept_as_seen() -> None:
    build = apply(take_in(brought(HUB), HELD, TODAY), HELD)
    assert len(build.parts) == 2
    (offer,) = build.offers
    assert (offer.price, offer.seen) == (Money.of("38.50", "GBP"), date(2026, 11, 23))
    assert offer.note.startswith("mine")
    assert [(each.offer, each.day, each.price) for each in build.sightings] == [
        ("o", date(2026, 10, 1), Money.of("36", "GBP"))
    ]


def test_a_page_kept_before_the_last_price_is_a_price_seen_then() -> None:
    build = apply(take_in(brought(HUB, day=date(2026, 9, 1)), HELD, TODAY), HELD)
    assert build.offers == HELD.offers
    assert [(each.day, each.price.amount) for each in build.sightings] == [(date(2026, 9, 1), Decimal("38.50"))]


def test_the_same_page_twice_changes_nothing_more() -> None:
    once = apply(take_in(brought(HUB), HELD, TODAY), HELD)
    again = take_in(brought(HUB), once, TODAY)
    assert not again.changes_anything
    assert again.rows[0].action is RowAction.UNCHANGED


def test_what_nothing_in_the_build_is_like_becomes_a_part_with_its_offer() -> None:
    found = replace(HUB, name="Wheel stud", part_number="WS-1", quantity=Decimal(8), mass_kg=Decimal("0.1"))
    build = apply(take_in(brought(found), HELD, TODAY), HELD)
    part, offer = build.parts[-1], build.offers[-1]
    assert (part.name, part.part_number, part.quantity, part.mass_kg) == ("Wheel stud", "WS-1", 8, 0.1)
    assert (offer.part, offer.supplier, offer.seen) == (part.id, "saltmere", date(2026, 11, 23))


def test_another_seller_is_another_offer_and_may_be_a_new_supplier() -> None:
    taken = take_in(brought(replace(HUB, seller="Harrow Lane")), HELD, TODAY)
    build = apply(taken, HELD)
    assert [each.name for each in build.suppliers] == ["Saltmere", "Harrow Lane"]
    assert len(build.offers) == 2
    assert any("taken to be in GB" in each.text for each in taken.assumptions)


def test_another_currency_or_a_pack_is_kept_beside_and_said() -> None:
    taken = take_in(brought(replace(HUB, currency="EUR")), HELD, TODAY)
    assert len(apply(taken, HELD).offers) == 2
    assert any("kept beside it" in said for said in taken.rows[0].said)


def test_prices_for_more_at_once_are_left_and_said() -> None:
    held = HELD.offers[0].model_copy(update={"breaks": (PriceBreak(units=4, price=Money.of("30", "GBP")),)})
    taken = take_in(brought(HUB), HELD.model_copy(update={"offers": (held,)}), TODAY)
    assert any("left as it was" in said for said in taken.rows[0].said)


def test_a_price_without_a_currency_is_asked_for_and_nothing_is_written() -> None:
    taken = take_in(brought(replace(HUB, currency="", could_be=("USD", "CAD"))), HELD, TODAY)
    assert "USD or CAD" in str(taken.problems[0])
    assert not taken.changes_anything
    with pytest.raises(Refused):
        apply(taken, HELD)
    assert not take_in(brought(replace(HUB, currency="")), HELD, TODAY, currency="GBP").problems


def test_what_was_said_about_a_product_counts() -> None:
    assert apply(take_in(brought(HUB), HELD, TODAY, about={0: "hub-rear"}), HELD).offers[-1].part == "hub-rear"
    assert len(apply(take_in(brought(HUB), HELD, TODAY, about={0: OWN}), HELD).parts) == 3
    assert not take_in(brought(HUB), HELD, TODAY, about={0: LEFT_OUT}).changes_anything


def test_a_part_of_much_the_same_name_is_named_and_not_taken() -> None:
    found = replace(HUB, name="Rear hub", part_number="")
    assert [(each.part, each.sure) for each in likely_parts(HELD, found)] == [("hub-rear", False)]
    taken = take_in(brought(found), HELD, TODAY)
    assert any("may be Hub rear" in said for said in taken.rows[0].said)


def test_two_variants_for_one_part_are_two_offers() -> None:
    two = (HUB, replace(HUB, name="Front hub, black", price=Decimal("41.00")))
    build = apply(take_in(brought(*two), HELD, TODAY, about={0: "hub", 1: "hub"}), HELD)
    assert sorted(each.price.amount for each in build.offers) == [Decimal("38.50"), Decimal("41.00")]


def test_a_confirmation_in_a_mail_becomes_an_order() -> None:
    build = apply(take_in(text(CONFIRMATION, HELD), HELD, TODAY), HELD)
    found = read_confirmation(
        order_tables(mail(CONFIRMATION), "order.eml", build), build, "saltmere", date(2026, 11, 23)
    )
    assert found.problems == ()
    assert found.order is not None
    assert [(each.quantity, str(each.price)) for each in found.order.lines] == [
        (2, "38.50 GBP"),
        (1, "1.20 GBP"),
        (2, "120.00 GBP"),
    ]


# by command


def test_a_page_is_imported_by_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    build, page = tmp_path / "van.fishplate", tmp_path / "hub.html"
    BuildFile.create(build, HELD, author="t")
    page.write_text(
        '<html><script type="application/ld+json">{"@type":"Product","name":"Front hub","mpn":"FH-220",'
        '"offers":{"price":"38.50","priceCurrency":"GBP","seller":{"name":"Saltmere"}}}</script>'
    )
    with pytest.raises(SystemExit) as left:
        main(["import", str(build), str(page), "--yes", "--part", "hub-rear"])
    assert left.value.code == 0
    assert "another offer for Hub rear" in " ".join(capsys.readouterr().out.split())
    assert BuildFile.open(build).build().offers[-1].part == "hub-rear"


@pytest.mark.parametrize("part", ["no-such-part", "2=hub", "x=hub"])
def test_a_part_that_is_none_is_misuse(part: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    build, page = tmp_path / "van.fishplate", tmp_path / "hub.html"
    BuildFile.create(build, HELD, author="t")
    page.write_text("<html><title>Front hub</title>")
    with pytest.raises(SystemExit) as left:
        main(["import", str(build), str(page), "--part", part])
    assert left.value.code == 2
    assert "--part" in capsys.readouterr().err
