"""What a web page says of itself to programs: items with properties, from JSON-LD, microdata, RDFa and its head.

A page is only read: no script in it runs, and nothing it names is fetched. What is wrong with it costs what is wrong,
not the rest. Sources: the HTML standard (WHATWG), microdata in its section 5; JSON-LD 1.1 (W3C, 2020); RDFa Lite 1.1
(W3C, 2015).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final
from urllib.parse import urljoin

from .names import clean_text

MOST_ITEMS: Final = 20_000
MOST_TEXT: Final = 2_000
MOST_VISITS: Final = 3_000_000
_DEPTH: Final = 40
_LINKED: Final = {
    "a": "href", "area": "href", "link": "href", "img": "src", "audio": "src", "embed": "src", "iframe": "src",
    "source": "src", "track": "src", "video": "src", "object": "data",
}  # fmt: skip


@dataclass(slots=True)
class Item:
    """A thing a page tells of: its types, such as Product, and what it says by each property.

    Parameters
    ----------
    types, properties : named without the vocabulary before them
    found_in : "JSON-LD", "microdata" or "RDFa"
    """

    types: tuple[str, ...]
    found_in: str
    properties: dict[str, list[Item | str]] = field(default_factory=dict)

    def add(self, name: str, value: Item | str) -> None:
        """One more value of a property."""
        self.properties.setdefault(name, []).append(value)

    def texts(self, *names: str) -> list[str]:
        """What it says in words by the first of these properties that says anything; of an item, its name."""
        for name in names:
            found = [text for value in self.properties.get(name, ()) if (text := _text_of(value))]
            if found:
                return found
        return []

    def text(self, *names: str) -> str:
        """The first of these words; empty if there are none."""
        return next(iter(self.texts(*names)), "")

    def items(self, *names: str) -> list[Item]:
        """The items under these properties."""
        return [value for name in names for value in self.properties.get(name, ()) if isinstance(value, Item)]


def _text_of(value: Item | str) -> str:
    if isinstance(value, str):
        return value
    return next((each for each in value.properties.get("name", ()) if isinstance(each, str)), "")


@dataclass(frozen=True, slots=True)
class PageData:
    """What a page says of itself.

    Parameters
    ----------
    items : those that are no property of another, in the order of the page, JSON-LD first
    head : the page's own properties in its head, by name in small letters; the first of each counts
    notes : what was noticed while reading, as sentences without their stop
    """

    title: str
    items: tuple[Item, ...]
    head: Mapping[str, str]
    notes: tuple[str, ...]


def read_page(root: Any, base: str, notes: Sequence[str] = ()) -> PageData:
    """What a parsed page says of itself.

    Parameters
    ----------
    root : its root element; base : the page's address, empty if it is not known
    """
    said = list(notes)
    items = [*_linked_data(root, said), *_Marked(base).read(root)]
    if len(items) > MOST_ITEMS:
        said.append(f"the page tells of more than {MOST_ITEMS} things; the rest was not read")
    return PageData(_title(root), tuple(items[:MOST_ITEMS]), _head(root), tuple(dict.fromkeys(said)))


def _title(root: Any) -> str:
    for tag in ("title", "h1"):
        for element in root.iter(tag):
            if text := _shown(element):
                return text
    return ""


def _head(root: Any) -> Mapping[str, str]:
    found: dict[str, str] = {}
    for element in root.iter("meta", "link"):
        name = element.get("property") or element.get("name") or element.get("rel") or ""
        value = element.get("content") or element.get("href") or ""
        if name and value:
            found.setdefault(name.strip().casefold()[:100], _tidy(value))
    return found


def _shown(element: Any) -> str:
    """The text in an element, on one line."""
    pieces, size = [], 0
    for piece in element.itertext():
        pieces.append(piece)
        size += len(piece)
        if size > 4 * MOST_TEXT:
            break
    return _tidy("".join(pieces))


def _tidy(text: str) -> str:
    return clean_text(text[: 4 * MOST_TEXT])[0][:MOST_TEXT]


# JSON-LD


def _linked_data(root: Any, said: list[str]) -> Iterator[Item]:
    known: dict[str, Item] = {}
    tops: list[Item] = []
    for number, element in enumerate(root.iter("script"), 1):
        kind = (element.get("type") or "").partition(";")[0].strip().casefold()
        if kind == "application/ld+json":
            try:
                data = _json(element.text or "", said)
            except (ValueError, RecursionError):
                said.append(f"script {number} of the page holds data that is broken; it was left out")
                continue
            tops.extend(_things(data, known, _DEPTH))
    yield from (_resolved(item, known) for item in tops)


def _json(text: str, said: list[str]) -> Any:
    """Data as pages write it: in a comment, with line breaks in texts, with a comma too many; raises ValueError."""
    bare = text.strip()
    for start, end in (("<!--", "-->"), ("//<![CDATA[", "//]]>"), ("// <![CDATA[", "// ]]>"), ("<![CDATA[", "]]>")):
        bare = bare.removeprefix(start).removesuffix(end).strip()
    try:
        return _loaded(bare)
    except ValueError:
        found = _loaded(_without_spare_commas(bare.rstrip("; \n\r\t")))
        said.append("data in the page is not quite well formed; it was read as far as it is clear")
        return found


def _loaded(text: str) -> Any:
    return json.loads(text, strict=False, parse_float=Decimal, parse_int=_whole, parse_constant=lambda _: None)


def _whole(digits: str) -> int | str:
    return int(digits) if len(digits) < 400 else digits[:400]


def _without_spare_commas(text: str) -> str:
    """The text without commas right before a closing bracket; what stands in quotation marks stays."""
    pieces = re.split(r'("(?:[^"\\]|\\.)*+")', text, flags=re.DOTALL)
    return "".join(
        piece if position % 2 else re.sub(r",(\s*[}\]])", r"\1", piece) for position, piece in enumerate(pieces)
    )


def _things(data: Any, known: dict[str, Item], depth: int) -> Iterator[Item]:
    """The items in data that are not properties of others."""
    if depth and isinstance(data, list):
        for each in data[:MOST_ITEMS]:
            yield from _things(each, known, depth - 1)
    elif depth and isinstance(data, dict):
        if "@graph" in data:
            yield from _things(data["@graph"], known, depth - 1)
        if "@type" in data:
            yield _thing(data, known, depth)


def _thing(data: Mapping[str, Any], known: dict[str, Item], depth: int) -> Item:
    item = Item(_types(data.get("@type")), "JSON-LD")
    name = data.get("@id")
    if isinstance(name, str):
        if "@type" not in data and len(data) == 1:
            item.add("@id", name)
        else:
            known.setdefault(name, item)
    for key, value in data.items():
        if isinstance(key, str) and not key.startswith("@"):
            for each in (value if isinstance(value, list) else [value])[:MOST_ITEMS]:
                _add(item, _short_name(key), each, known, depth - 1)
    return item


def _add(item: Item, name: str, value: Any, known: dict[str, Item], depth: int) -> None:
    if isinstance(value, dict):
        literal = value.get("@value")
        if literal is not None:
            value = literal
        elif depth > 0:
            item.add(name, _thing(value, known, depth))
            return
    if isinstance(value, bool):
        item.add(name, "true" if value else "false")
    elif isinstance(value, str | int | Decimal):
        text = _tidy(f"{value:f}" if isinstance(value, Decimal) and abs(value.adjusted()) < 100 else str(value))
        if text:
            item.add(name, text)


def _resolved(item: Item, known: Mapping[str, Item]) -> Item:
    """The item with what it only names, by its id, put in place."""
    seen: set[int] = set()
    waiting = [item]
    while waiting:
        at = waiting.pop()
        if id(at) in seen:
            continue
        seen.add(id(at))
        for values in at.properties.values():
            for position, value in enumerate(values):
                if isinstance(value, Item):
                    named = value.properties.get("@id", [""])[0]
                    values[position] = known.get(named, value) if isinstance(named, str) else value
                    waiting.append(value)
    return item


def _types(value: Any) -> tuple[str, ...]:
    listed = value if isinstance(value, list) else [value]
    return tuple(_short_name(each) for each in listed[:20] if isinstance(each, str))


def _short_name(name: str) -> str:
    """A name without the vocabulary before it.

    Examples
    --------
    >>> _short_name("https://schema.org/Product"), _short_name("schema:price"), _short_name("name")
    ('Product', 'price', 'name')
    """
    return re.split(r"[/#:]", name.strip().rstrip("/#:"))[-1][:100]


# microdata and RDFa


class _Marked:
    """Items marked in the elements of a page.

    Parameters
    ----------
    base : address that links are relative to
    """

    def __init__(self, base: str) -> None:
        self._base = base
        self._count = 0
        self._visits = 0

    def read(self, root: Any) -> Iterator[Item]:
        """The items that are no property of another."""
        if _has(root, "itemscope"):
            by_id = self._by_id(root) if _has(root, "itemref") else {}
            yield from self._under(root, "itemscope", "itemtype", "itemprop", "microdata", by_id)
        if _has(root, "typeof"):
            yield from self._under(root, "typeof", "typeof", "property", "RDFa", {})

    def _by_id(self, root: Any) -> Mapping[str, Any]:
        wanted = {name for element in root.iter() for name in (element.get("itemref") or "").split()}
        return {element.get("id"): element for element in root.iter() if element.get("id") in wanted}

    def _under(
        self, root: Any, scope: str, kind: str, prop: str, found_in: str, by_id: Mapping[str, Any]
    ) -> Iterator[Item]:
        """Walk the page once; each element knows the item it stands in."""
        tops: list[Item] = []
        waiting: list[tuple[Any, Item | None, int]] = [(root, None, 0)]
        while waiting and self._count <= MOST_ITEMS and self._visits < MOST_VISITS:
            element, around, depth = waiting.pop()
            self._visits += 1
            own = self._item(element, scope, kind, found_in)
            names = [_short_name(name) for name in (element.get(prop) or "").split()[:20]]
            if around is not None and names:
                value = own or self._value(element, found_in)
                for name in names if value else ():
                    around.add(name, value)
            elif own is not None:
                tops.append(own)
            within = own or around
            waiting.extend((child, within, depth) for child in reversed(element) if isinstance(child.tag, str))
            if own is not None and depth < _DEPTH:
                named = (element.get("itemref") or "").split()[:100]
                waiting.extend((by_id[name], own, depth + 1) for name in named if name in by_id)
        yield from tops

    def _item(self, element: Any, scope: str, kind: str, found_in: str) -> Item | None:
        if element.get(scope) is None:
            return None
        self._count += 1
        types = tuple(_short_name(each) for each in (element.get(kind) or "").split()[:20])
        return Item(types, found_in)

    def _value(self, element: Any, found_in: str) -> str:
        """What an element says as a property: what is written for programs, its link, or its text."""
        tag = element.tag
        if element.get("content") is not None and (found_in == "RDFa" or tag == "meta"):
            return _tidy(element.get("content"))
        if found_in == "RDFa" and element.get("resource"):
            return _tidy(element.get("resource"))
        if tag in _LINKED and element.get(_LINKED[tag]):
            return _tidy(_joined(self._base, element.get(_LINKED[tag])))
        if tag in ("data", "meter") and element.get("value") is not None:
            return _tidy(element.get("value"))
        if tag == "time" and element.get("datetime"):
            return _tidy(element.get("datetime"))
        # common practice: many pages write the plain value beside the shown one, though the standard knows no such
        return _tidy(element.get("content") or "") or _shown(element)


def _has(root: Any, attribute: str) -> bool:
    """Whether any element has an attribute; asked so that most pages need no walk."""
    return bool(root.xpath(f"boolean(//*[@{attribute}])"))


def _joined(base: str, link: str) -> str:
    try:
        return urljoin(base, link.strip())
    except ValueError:
        return link.strip()
