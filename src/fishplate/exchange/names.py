"""Names as lists write them: cleaned of what can't be seen, and made into ids."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Container

# Direction marks, embeddings, overrides and isolates; zero-width space; byte order mark; soft hyphen.
_UNSEEN = re.compile("[\u061c\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff\u00ad]")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff\ud800-\udfff]")
_SPACE = re.compile(r"\s+")


def clean_text(text: str) -> tuple[str, bool]:
    """Text without control and direction characters, on one line; and whether any were taken out.

    Letters of every script stay as they are; only what can't be seen goes.

    Examples
    --------
    >>> clean_text("Brake\\u202e disc\\n front ")
    ('Brake disc front', True)
    """
    bare = _CONTROL.sub("", _UNSEEN.sub("", text))
    return _SPACE.sub(" ", unicodedata.normalize("NFC", bare)).strip(), bare != text


_LETTERS = {"ß": "ss", "æ": "ae", "ø": "o", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}


def match_key(name: str) -> str:
    """What two spellings of one name have in common: case, width and spacing do not count, letters and digits do.

    Examples
    --------
    >>> match_key("Brake Disc,  Front") == match_key("brake disc front")
    True
    >>> match_key('Bolt 3/8"') == match_key('Bolt 3/16"')
    False
    """
    folded = unicodedata.normalize("NFKC", clean_text(name)[0]).casefold()
    return " ".join(re.sub(r"[^\w/.+×-]+", " ", folded).split())


def number_key(part_number: str) -> str:
    """What two spellings of one part number have in common.

    Examples
    --------
    >>> number_key("AB-12 34") == number_key("ab1234")
    True
    """
    return re.sub(r"[\W_]+", "", unicodedata.normalize("NFKC", part_number).casefold())


def bare_letters(text: str) -> str:
    """Text in small letters without their accents.

    Examples
    --------
    >>> bare_letters("Bågen, Größe Ø280")
    'bagen, grosse o280'
    """
    folded = "".join(_LETTERS.get(c, c) for c in unicodedata.normalize("NFKD", text.casefold()))
    return "".join(c for c in folded if not unicodedata.combining(c))


def slug(name: str, taken: Container[str] = (), *, stem: str = "part") -> str:
    """An id made from a name: Latin letters and digits, hyphens between; another id if it is taken.

    A name without Latin letters or digits gets the stem and a short digest, so that it is the same each time.

    Examples
    --------
    >>> slug("Brake disc, Ø280 (front)")
    'brake-disc-o280-front'
    >>> slug("Bolt", {"bolt"})
    'bolt-2'
    """
    text = re.sub(r"[^a-z0-9]+", "-", bare_letters(name)).strip("-")
    if not text or _mostly_lost(name, text):
        digest = hashlib.sha256(match_key(name).encode("utf-8", "replace")).hexdigest()[:8]
        text = f"{stem}-{digest}"
    text = text[:72].strip("-")
    candidate, count = text, 1
    while candidate in taken:
        count += 1
        candidate = f"{text}-{count}"
    return candidate


def _mostly_lost(name: str, text: str) -> bool:
    """Whether most letters of a name have no Latin form, so that its id would not tell it from others."""
    letters = sum(c.isalnum() for c in name)
    return letters > 0 and 2 * sum(c.isalnum() for c in text) < letters
