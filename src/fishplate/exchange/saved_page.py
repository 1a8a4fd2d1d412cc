"""Pages and mails as a person keeps them: .html, .mhtml, .eml. They are opened, never run, and nothing is fetched.

Sources: MHTML is RFC 2557 over MIME, RFC 2045 and 2046; a mail is RFC 5322. The comment "saved from url=(...)..." at
the head of a page, and one that says when it was saved, are common practice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from email import message_from_bytes
from email.header import decode_header, make_header
from email.message import Message
from email.utils import parseaddr, parsedate_to_datetime
from itertools import islice
from typing import Any, Final

from ..build.numbers import Unreadable
from .container import is_message, refuse
from .names import clean_text
from .times import parse_day

MAX_PAGE_BYTES: Final = 20 * 1024 * 1024
_MOST_PIECES: Final = 2_000
_SAVED_FROM: Final = re.compile(rb"<!--\s*saved from url=\(\d{1,6}\)(\S{1,2000}?)\s*-->", re.IGNORECASE)
_COMMENT: Final = re.compile(rb"<!--(.{0,3000}?)-->", re.DOTALL)
_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d|\b\d{1,2} [A-Z][a-z]{2} \d{4}|\b[A-Z][a-z]{2} \d{1,2},? \d{4}")
_CHARSET: Final = re.compile(rb"<meta[^>]{0,300}?charset\s*=\s*[\"']?\s*([\w.:-]{2,40})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Saved:
    """A page or mail as it was kept.

    Parameters
    ----------
    root : root element of its page, None if it has none; text : its plain text, empty if it has none
    url : where the page stood; day : when it was saved or sent, None if it does not say
    sender, subject : of a mail
    """

    is_mail: bool
    root: Any
    text: str
    url: str = ""
    day: date | None = None
    sender: str = ""
    subject: str = ""
    notes: tuple[str, ...] = ()


def open_saved(data: bytes, name: str) -> Saved:
    """A page or mail from a file; raises Refused for what is too large or holds neither."""
    if len(data) > MAX_PAGE_BYTES:
        do = "Save it again without its pictures, as a page alone."
        refuse(name, "too-large", "the page is larger than 20 MiB", f"{len(data)} bytes", do)
    return _opened_message(data, name) if is_message(data) else _opened_page(data)


# pages


def _opened_page(data: bytes) -> Saved:
    root, notes = parsed(data)
    url, day = _saved_from(data)
    return Saved(False, root, "", url or _own_address(root), day, notes=notes)


def _saved_from(data: bytes) -> tuple[str, date | None]:
    """Address and day that a comment at the head of a saved page gives."""
    head = data[:65536]
    found = _SAVED_FROM.search(head)
    url = found[1].decode("utf-8", "replace") if found else ""
    days = (_day_saved(match[1].decode("latin-1")) for match in islice(_COMMENT.finditer(head), 50))
    return (url if is_address(url) else ""), next(filter(None, days), None)


def _day_saved(comment: str) -> date | None:
    """The day that a comment says a page was saved on."""
    _, saved, after = comment.partition("saved")
    found = _DAY.search(after) if saved else None
    try:
        return parse_day(found[0]) if found else None
    except Unreadable:
        return None


def _own_address(root: Any) -> str:
    """The address a page gives itself."""
    for element in root.iter("link", "meta") if root is not None else ():
        if "canonical" in (element.get("rel") or "").casefold().split() and is_address(element.get("href") or ""):
            return str(element.get("href")).strip()
        if element.get("property") == "og:url" and is_address(element.get("content") or ""):
            return str(element.get("content")).strip()
    return ""


def is_address(text: str) -> bool:
    """Whether a text is the address of a page."""
    return bool(re.match(r"^https?://[^\s/<>\"']+(?:[/?#][^\s<>\"']*)?$", text.strip(), re.IGNORECASE))


def parsed(data: bytes, charset: str = "") -> tuple[Any, tuple[str, ...]]:
    """The root element of a page and what is to be said about it; the root is None if there is nothing in it.

    Parameters
    ----------
    charset : of the bytes, where what carries them says
    """
    from lxml import etree

    text, said = _page_text(data, charset)
    # libxml2 stops at 256 elements within each other and at ten million characters in one: no page needs more
    parser = etree.HTMLParser(
        encoding="utf-8", no_network=True, remove_comments=True, remove_pis=True, huge_tree=False, recover=True
    )
    try:
        root = etree.fromstring(text.encode("utf-8", "replace"), parser)
    except (etree.LxmlError, ValueError):
        return None, said
    if any(error.type_name == "ERR_RESOURCE_LIMIT" for error in parser.error_log):
        said = (*said, "the page goes on beyond what Fishplate reads, deeper or longer; the rest of it was not read")
    return root, said


def _page_text(data: bytes, charset: str) -> tuple[str, tuple[str, ...]]:
    """A page's text by its own word on its encoding; where that is wrong, as it can be read."""
    from charset_normalizer import from_bytes

    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(encoding, "replace").replace("\0", ""), ()
    declared = _CHARSET.search(data[:8192])
    named = charset or (declared[1].decode("ascii", "replace") if declared else "")
    for encoding in filter(None, (named, "utf-8")):
        try:
            text = data.decode(encoding)
        except (UnicodeError, LookupError, ValueError):
            continue
        said = () if not named or encoding == named else (f"the page is not {named}, as it says; it was read as UTF-8",)
        return text.replace("\0", ""), said
    best = from_bytes(data[: 1 << 16]).best()
    encoding = best.encoding if best is not None else "cp1252"
    text = data.decode(encoding, "replace").replace("\0", "")
    return text, (f"the page does not say rightly how its letters are written; it was read as {encoding}",)


# mails and pages kept as one


def _opened_message(data: bytes, name: str) -> Saved:
    try:
        message = message_from_bytes(re.sub(rb"\AFrom [^\n]{0,300}\n", b"", data.lstrip(b"\xef\xbb\xbf\r\n")))
        pieces = list(_pieces(message))
    except Exception:  # what is no message makes the standard library's reader fail in many ways, recursion among them
        refuse(name, "damaged", "it begins as a mail or saved page and can't be read", "", "Save it again.")
    is_mail = not _is_archive(message)
    page = _first(pieces, "text/html", _start(message))
    plain = _first(pieces, "text/plain", "")
    root, notes = parsed(*_content(page)) if page is not None else (None, ())
    text = _plain_text(plain) if plain is not None else ""
    if root is None and not text.strip():
        refuse(name, "no-page", "there is no page and no text in it", "", "Save it again, whole.")
    url = "" if is_mail else _header(message, "Snapshot-Content-Location") or _location(page)
    return Saved(
        is_mail,
        root,
        text,
        url if is_address(url) else "" if is_mail else _own_address(root),
        _mail_day(_header(message, "Date")),
        _sender(message) if is_mail else "",
        clean_text(_header(message, "Subject"))[0][:400],
        notes,
    )


def _is_archive(message: Message) -> bool:
    """Whether it is a page saved with what belongs to it, not a mail."""
    related = message.get_content_type() == "multipart/related"
    return related and bool(message.get("Snapshot-Content-Location") or not parseaddr(_header(message, "From"))[1])


def _pieces(message: Message) -> Iterator[Message]:
    """The pieces of a message that hold something, attachments left out."""
    waiting, count = [message], 0
    while waiting and count < _MOST_PIECES:
        piece = waiting.pop()
        count += 1
        inside = piece.get_payload() if piece.is_multipart() else None
        if isinstance(inside, list):
            waiting.extend(reversed([each for each in inside if isinstance(each, Message)]))
        elif piece.get_content_disposition() != "attachment":
            yield piece


def _start(message: Message) -> str:
    return str(message.get_param("start") or "")


def _first(pieces: list[Message], kind: str, start: str) -> Message | None:
    fitting = [piece for piece in pieces if piece.get_content_type() == kind]
    named = [piece for piece in fitting if start and piece.get("Content-ID") == start]
    return next(iter([*named, *fitting]), None)


def _content(piece: Message) -> tuple[bytes, str]:
    """Content of a piece, and how its letters are written."""
    try:
        content = piece.get_payload(decode=True)
        charset = piece.get_content_charset() or ""
    except (ValueError, LookupError, AssertionError):
        content, charset = b"", ""
    return (content if isinstance(content, bytes) else b""), charset


def _plain_text(piece: Message) -> str:
    return _page_text(*_content(piece))[0]


def _location(piece: Message | None) -> str:
    return _header(piece, "Content-Location") if piece is not None else ""


def _header(message: Message, name: str) -> str:
    try:
        return " ".join(str(make_header(decode_header(str(message.get(name) or "")))).split())[:2000]
    except (ValueError, LookupError):
        return ""


def _sender(message: Message) -> str:
    """Whom a mail is from: the name, else what stands before the address's ending."""
    shown, address = parseaddr(_header(message, "From"))
    return clean_text(shown)[0][:400] or clean_text(address.rpartition("@")[2])[0][:400]


def _mail_day(text: str) -> date | None:
    """The day of a date as mails write it."""
    try:
        return parsedate_to_datetime(text.strip()).date()
    except (ValueError, TypeError, IndexError, OverflowError):
        return None
