"""The words parts lists use, in five languages, from the data file beside this module."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from functools import lru_cache
from importlib import resources
from typing import Any


@lru_cache(maxsize=1)
def _data() -> dict[str, dict[str, Any]]:
    text = (resources.files(__package__) / "data" / "words.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@lru_cache(maxsize=20_000)
def plain(text: str) -> str:
    """Text without case, accents and punctuation, for comparing words.

    Examples
    --------
    >>> plain("  Prix unitaire (€) :")
    'prix unitaire'
    >>> plain("Stück-Preis")
    'stuck preis'
    """
    bare = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    bare = bare.replace("ß", "ss")
    words = re.sub(r"[^\w#]+", " ", bare).replace("_", " ").split()
    return " ".join(words)


@lru_cache(maxsize=64)
def words(section: str, key: str) -> frozenset[str]:
    """Words of one list, casefolded as they stand in the data file."""
    return frozenset(word.casefold() for word in _data()[section][key])


@lru_cache(maxsize=64)
def plain_words(section: str, key: str) -> frozenset[str]:
    """Words of one list, each as `plain` gives it; words that are only punctuation are left out."""
    return frozenset(filter(None, map(plain, _data()[section][key])))


@lru_cache(maxsize=16)
def keys_by_word(section: str) -> dict[str, str]:
    """For each plain word of a section, the key it stands under; the first key wins."""
    found: dict[str, str] = {}
    for key, listed in _data()[section].items():
        for word in listed:
            found.setdefault(plain(word), key)
    return found


@lru_cache(maxsize=1)
def column_words() -> dict[str, tuple[str, ...]]:
    """For each field, the plain phrases that name its column."""
    return {field: tuple(filter(None, map(plain, listed))) for field, listed in _data()["columns"].items()}
