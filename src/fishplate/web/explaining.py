"""Help where it is needed: a word that unfolds its meaning, and what belongs where nothing is yet."""

from __future__ import annotations

import html
import tomllib
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape


@dataclass(frozen=True, slots=True)
class Word:
    """A word and what it means; trade : what the trade calls it, where we say it plainer."""

    name: str
    means: str
    trade: str = ""

    @property
    def anchor(self) -> str:
        """Its place on the page of words."""
        return "-".join("".join(c if c.isalnum() else " " for c in self.name).split())


@dataclass(frozen=True, slots=True)
class Lack:
    """A place where nothing is yet.

    Parameters
    ----------
    nothing : that it is empty; why : what belongs here and what for; example : one line of it
    do, path : the one thing to do, and where
    """

    nothing: str
    why: str
    example: str
    do: str
    path: str


@cache
def words() -> Mapping[str, Word]:
    """Every word that is explained, by its name, in the order of the alphabet."""
    found = {name: Word(name, **fields) for name, fields in _read("glossary").items()}
    return dict(sorted(found.items(), key=lambda item: item[0].casefold()))


@cache
def lacks() -> Mapping[str, Lack]:
    """What belongs where nothing is yet, by the name of the place."""
    return {name: Lack(**fields) for name, fields in _read("empty_places").items()}


def _read(name: str) -> dict[str, dict[str, Any]]:
    """A table of sentences, ready for a page: an apostrophe stays one."""
    text = (files(__package__) / "data" / f"{name}.toml").read_text(encoding="utf-8")
    return {
        key: {field: Markup(html.escape(value, quote=False)) for field, value in fields.items()}
        for key, fields in tomllib.loads(text).items()
    }


@pass_context
def term(context: Context, name: str, says: str = "") -> Markup:
    """A word that unfolds its meaning, the first time it stands on a page; plain after that.

    Parameters
    ----------
    name : as in the data; says : the word as it stands in the sentence, if otherwise

    Raises
    ------
    KeyError
        if the word is not explained.
    """
    word, meaning = _explained(context, name, says)
    return word + meaning


@pass_context
def heading(context: Context, name: str, says: str, id_: str = "", tag: str = "h2", style: str = "") -> Markup:
    """A heading that holds such a word; its meaning stands behind it, so that a heading is named by its words alone.

    Parameters
    ----------
    says : the heading; where the word is only a part of it, that stands in brackets: "What [errs together] with it"
    id_, tag, style : its id, element and class

    Raises
    ------
    KeyError
        if the word is not explained.
    """
    before, _, rest = says.rpartition("[")
    shown, _, after = rest.partition("]")
    word, meaning = _explained(context, name, shown)
    named = Markup("".join(f' {key}="{escape(value)}"' for key, value in (("id", id_), ("class", style)) if value))
    return Markup("<{0}{1}>{2}{3}{4}</{0}>{5}").format(tag, named, before, word, after, meaning)


def _explained(context: Context, name: str, says: str) -> tuple[Markup, Markup]:
    """The word to tap and the meaning it unfolds; the word alone where the page has explained it."""
    word, ask = words()[name], context["ask"]
    shown = escape(says or name)
    if name in ask.explained:
        return shown, Markup()
    ask.explained.add(name)
    # a piece that is put into a page later must not repeat an id of that page
    place = f"-{zlib.crc32(ask.request.url.path.encode()):x}" if ask.in_place else ""
    button = Markup('<button type="button" class="term" popovertarget="word-{}">{}</button>')
    meaning = Markup(
        '<span popover id="word-{}" class="meaning" role="note">{} <a href="/words#{}">All words</a></span>'
    )
    anchor = word.anchor + place
    return button.format(anchor, shown), meaning.format(anchor, word.means, word.anchor)


def empty(name: str) -> Markup:
    """What belongs where nothing is yet, why, one line of it, and the one thing to do; KeyError if it is not told."""
    it = lacks()[name]
    return Markup(
        '<div class="empty"><p>{}</p><p class="soft">{}</p><p class="fine">For example: {}</p>'
        '<p class="onscreen"><a class="onward" href="{}">{}</a></p></div>'
    ).format(it.nothing, it.why, it.example, it.path, it.do)
