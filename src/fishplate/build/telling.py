"""What is told about a build, in its owner's units and locale: the last thing that is done to a sentence or a page.

Engines, page models and papers hold canonical figures, so that each figure is told anew exactly once, here. What the
owner wrote stays as it was written, and on a page whatever stands in a field or is marked `translate="no"`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from html import escape
from typing import Any, Final

from .document import Build
from .formats import CANONICAL, Formats
from .retelling import Kept, retell, retold

_ALONE: Final = "script|style|textarea|code|pre"
_MARKS: Final = re.compile(rf"(<!--.*?-->|<(?:{_ALONE})\b.*?</(?:{_ALONE})>|<[^>]*>)", re.DOTALL)
_HEARD: Final = re.compile(r'(?<= )(title|aria-label|alt|placeholder)="([^"]*\d[^"]*)"')
_TAG: Final = re.compile(r"<(/?)([a-zA-Z][\w-]*)")
_AS_IT_IS: Final = ' translate="no"'
_LETTERS: Final = re.compile(r"[^\W\d_]{2}")


@dataclass(frozen=True)
class Teller:
    """Tells what is about one build as its owner reads figures.

    Parameters
    ----------
    formats : the owner's; kept : what the owner wrote that holds figures
    idle : whether nothing has to be told anew
    """

    formats: Formats = CANONICAL
    kept: tuple[str, ...] = ()
    idle: bool = False

    @classmethod
    def of(cls, build: Build) -> Teller:
        """The teller of a build's owner."""
        formats = build.owner.formats
        if formats == CANONICAL and all(formats.unit(item.unit) == item.unit for item in build.dimensions):
            return cls(idle=True)
        return cls(formats, tuple(_written(build, formats)))

    def text(self, text: str) -> str:
        """A sentence, or several."""
        return text if self.idle else retold(text, self.formats, self._kept)

    def page(self, html: str) -> str:
        """A page of HTML, or a piece of one: its words, and what is heard in place of a drawing.

        Examples
        --------
        >>> german = Teller(Formats(locale="de_DE"))
        >>> german.page('<p title="1.5 h">12.5 kg <i translate="no">12.5</i> <input value="12.5"></p>')
        '<p title="1,5 h">12,5 kg <i translate="no">12.5</i> <input value="12.5"></p>'
        """
        return html if self.idle else "".join(self._pieces(html))

    @cached_property
    def _kept(self) -> Kept:
        return Kept(self.kept)

    @cached_property
    def _kept_on_page(self) -> Kept:
        return Kept(map(_printed, self.kept))

    def _pieces(self, html: str) -> Iterator[str]:
        """Words and marks in turn; what stands in an element that is to stay as it is, as it is."""
        inside, depth = "", 0
        for at, piece in enumerate(_MARKS.split(html)):
            if at % 2 == 0:
                yield piece if depth else self._words(piece)
                continue
            if tag := _TAG.match(piece):
                if depth and tag[2] == inside:
                    depth += -1 if tag[1] else 1
                elif not depth and _AS_IT_IS in piece:
                    inside, depth = tag[2], 1
            yield piece if depth else _HEARD.sub(lambda match: f'{match[1]}="{self._words(match[2])}"', piece)

    def _words(self, text: str) -> str:
        return retold(text, self.formats, self._kept_on_page) if any(c.isdigit() for c in text) else text


def _printed(words: str) -> str:
    """Words as the templates print them."""
    return escape(words, quote=False).replace('"', "&#34;").replace("'", "&#39;")


def _written(build: Build, formats: Formats) -> Iterator[str]:
    """What the owner wrote that would be told anew; a bare figure is no words."""
    for text in sorted(set(_strings(build.model_dump()))):
        if any(c.isdigit() for c in text) and _LETTERS.search(_without_figures(text)) and retell(text, formats) != text:
            yield text.strip()


def _without_figures(text: str) -> str:
    return re.sub(r"[\d.,±/+-]+\s*(?:mm|cm|km|kg|g|m|N|bar|in|ft|lb|h|%|°C)?(?!\w)", "", text)


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from _strings(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _strings(each)
