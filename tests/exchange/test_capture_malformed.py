# ruff: noqa: E501 - pages as they are written
"""Pages, mails and texts that are not what they should be: any bytes give a draft or a refusal, soon and without harm."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fishplate.build import Build, Refused
from fishplate.exchange.capture import capture, order_tables
from fishplate.exchange.captured import Captured
from fishplate.exchange.taking_in import take_in

HUB = b'{"@type":"Product","name":"Front hub","offers":{"price":"38.50","priceCurrency":"GBP"}}'
BLOCK = b'<script type="application/ld+json">%s</script>'
PAGE = b"<!doctype html><html><head>%s</head><body>%s</body></html>"
MAIL = b"From: Saltmere <a@saltmere.example>\r\nSubject: Order\r\nMIME-Version: 1.0\r\n"


def read(data: bytes, name: str = "page.html") -> Captured | Refused | None:
    """What is read, or the refusal."""
    try:
        return capture(data, name, Build())
    except Refused as refused:
        return refused


# what is still read although something is wrong with the page
READ: dict[str, Callable[[], bytes]] = {
    "100 000 elements within each other after it": lambda: PAGE % (BLOCK % HUB, b"<div>" * 100_000),
    "30 000 items": lambda: PAGE % (BLOCK % HUB, b"<p itemscope itemtype=Product><b itemprop=name>x</b>" * 30_000),
    "a block nested 100 000 deep": lambda: PAGE % (BLOCK % (b"[" * 100_000) + BLOCK % HUB, b""),
    "a block of objects nested deep": lambda: PAGE % (BLOCK % (b'{"a":' * 50_000) + BLOCK % HUB, b""),
    "a list of 100 000 products": lambda: PAGE % (BLOCK % (b"[" + HUB + b",{}" * 100_000 + b"]"), b""),
    "NUL bytes": lambda: PAGE % (BLOCK % HUB, b"\0" * 1000),
    "a wrong encoding": lambda: b'<html><meta charset="utf-16">' + PAGE % (BLOCK % HUB, b"\xff\xfe\x80"),
    "an unknown encoding": lambda: b'<html><meta charset="no-such-thing">' + PAGE % (BLOCK % HUB, b"\x80"),
    "entities within entities": lambda: (
        b'<!DOCTYPE html [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]>' + PAGE % (BLOCK % HUB, b"&b;" * 1000)
    ),
    "an entity that names a file": lambda: (
        b'<!DOCTYPE html [<!ENTITY x SYSTEM "file:///etc/hostname">]>' + PAGE % (BLOCK % HUB, b"<p>&x;</p>")
    ),
    "20 000 attributes": lambda: PAGE % (BLOCK % HUB, b"<p " + b" ".join(b"a%d=1" % n for n in range(20_000)) + b">"),
    "a number of 100 000 digits": lambda: PAGE % (BLOCK % (b'{"@type":"Thing","a":' + b"9" * 100_000 + b"}") + BLOCK % HUB, b""),
    "an item that refers to itself": lambda: PAGE % (
        BLOCK % b'{"@graph":[{"@type":"Product","@id":"#a","name":"Front hub","isRelatedTo":{"@id":"#a"},'
        b'"offers":{"price":"38.50","priceCurrency":"GBP","itemOffered":{"@id":"#a"}}}]}', b""
    ),
    "elements that refer to each other": lambda: PAGE % (
        BLOCK % HUB, b'<p id=a itemscope itemref="b a"></p><p id=b itemscope itemprop=x itemref="a b"></p>' * 50
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", READ)
def test_what_is_well_said_in_a_page_is_read_whatever_else_is_in_it(case: str) -> None:
    found = read(READ[case]())
    assert isinstance(found, Captured)
    assert found.found[0].name == "Front hub"
    assert str(found.found[0].price) == "38.50"
    assert all(len(each.name) <= 400 for each in found.found)


@pytest.mark.long
def test_a_million_items_are_read_as_far_as_a_person_looks() -> None:
    found = read(PAGE % (BLOCK % HUB, b"<p itemscope>x" * 1_000_000))
    assert isinstance(found, Captured)
    assert found.found[0].name == "Front hub"


def test_scripts_are_neither_run_nor_read() -> None:
    body = b'<script>document.title = "Bought"; fetch("https://saltmere.example")</script><img src=x onerror=alert(1)>'
    found = read(PAGE % (b"<title>Front <b>hub</title>" + BLOCK % HUB, body))
    assert isinstance(found, Captured)
    assert "Bought" not in repr(found)
    assert "onerror" not in repr(found)


def test_names_are_text_whatever_is_written_in_them() -> None:
    name = '<script>alert(1)</script>\u202e"hub"\u0000'
    data = json.dumps({"@type": "Product", "name": name, "offers": {"price": 1, "priceCurrency": "EUR"}})
    found = read(PAGE % (BLOCK % data.replace("</", "<\\/").encode(), b""))
    assert isinstance(found, Captured)
    assert found.found[0].name == '<script>alert(1)</script>"hub"'


REFUSED: dict[str, tuple[str, Callable[[], bytes]]] = {
    "too large": ("20 MiB", lambda: b"<html>" + b" " * (21 * 1024 * 1024)),
    "a page with nothing in it": ("no product", lambda: b"<html><body></body></html>"),
    "a comment that never ends": ("", lambda: b"<!--" * 1000),
    "pieces within pieces": ("", lambda: MAIL + b"".join(
        b"Content-Type: multipart/mixed; boundary=b%d\r\n\r\n--b%d\r\n" % (n, n) for n in range(3000)
    )),
    "a mail without a line of goods": ("no line of goods", lambda: MAIL + b"\r\nHello, and goodbye\r\n"),
    "a mail with nothing in it": ("no page and no text", lambda: MAIL + b"\r\n"),
    "a mail that is a picture": ("no page and no text", lambda: MAIL + b"Content-Type: image/png\r\n\r\n\x89PNG"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_can_not_be_read_is_refused_with_what_to_do(case: str) -> None:
    words, made = REFUSED[case]
    found = read(made())
    assert isinstance(found, Refused)
    assert words in str(found.problems[0])
    assert found.problems[0].do


def test_a_broken_piece_of_a_mail_costs_no_more_than_itself() -> None:
    body = (
        b"Content-Type: multipart/alternative; boundary=cut\r\n\r\n--cut\r\nContent-Type: text/plain; charset=nonsense\r\n"
        b"Content-Transfer-Encoding: base64\r\n\r\nMiBicmFrZSBob3NlIDM4LjUwIEVVUgo\r\n--cut\r\n"
        b"Content-Type: text/html\r\nContent-Transfer-Encoding: base64\r\n\r\n!!!!\r\n--cut--"
    )
    found = read(MAIL + body, "mail.eml")
    assert isinstance(found, Captured)
    assert [each.name for each in found.found] == ["brake hose"]


PIECES = st.sampled_from([
    b"<html>", b"<div itemscope itemtype='https://schema.org/Product'>", b"<span itemprop=name>", b"Hub", b"</span>", b"</div>",
    b"<script type='application/ld+json'>", HUB, HUB[:40], b"</script>", b"<table><tr><td>", b"<td rowspan=9999 colspan=9999>",
    b"<!--", b"-->", b"\0", b"\xff\xfe", b"&#xD800;", b"\xed\xa0\x80", b"<meta charset=utf-7>", b"<![CDATA[", b"\r\n\r\n",
    b"From: a <a@b.example>\r\nSubject: =?x?q?=FF?=\r\n", b"MIME-Version: 1.0\r\n", b"Content-Type: multipart/mixed; boundary=x\r\n",
    b"--x\r\n", b"Date: 99 Foo 20260 25:61\r\n", b"2 x Hub 38.50 EUR\r\n", b"Qty\tPart\tPrice\r\n", b"2\tHub\t3 EUR\r\n", b"Price: ",
    b"Qty  Part  Price\n", b"$ 1.234,5 \n", b"\xc2\xa3 12.00 each\n", b"|---|---|\n", b"PK\x03\x04", b"Total 1.00\n", b'"',
])  # fmt: skip


@given(st.one_of(st.binary(max_size=400), st.lists(PIECES, max_size=14).map(b"".join)))
@settings(max_examples=150, deadline=None)
def test_any_bytes_are_a_draft_a_list_or_a_refusal(data: bytes) -> None:
    if not data.strip():
        return
    found = read(data, "thing")
    if isinstance(found, Refused):
        assert found.problems
        return
    if found is None:
        return
    preview = take_in(found, Build(), date(2026, 11, 30))
    assert len(preview.rows) == len(found.found)
    for row in preview.rows:
        assert row.problems or row.name
    assert order_tables(data, "thing", Build())
