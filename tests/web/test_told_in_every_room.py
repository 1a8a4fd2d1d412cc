"""Every room in the owner's units and locale: no figure is left as it is held inside."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient
from serving import served

from fishplate.build import Build
from fishplate.build.formats import Formats
from fishplate.plan import Plan
from fishplate.starters import load_demo

MONTHS = "January|February|March|May|June|July|October|December"
CANONICAL = re.compile(
    rf"(?<![\w.,])[1-9]\d{{0,2}}(?:,\d{{3}})+(?= [A-Z]{{3}}\b|\.\d|$)|(?<![\w.,])\d+\.\d+(?![\w.]*\d)"
    rf"|\d{{4}}-\d\d-\d\d|\b\d\d? (?:{MONTHS})\b"
)
METRIC = re.compile(r"(?<![\w.,/])[\d.,]*\d (?:mm|cm|m|km|kg|N|kN|N·m|bar|MPa|N/mm|°C)(?![\w²³])")
AS_WRITTEN = re.compile(r"“[^“”]*”|held as [\d.,]+ \S+|Heading [\d.]+", re.IGNORECASE)
# What looks as it is held, and is as the locale writes it.
USUAL = {"de_DE": r"[1-9]\d{0,2}(?:\.\d{3})+", "fr_CA": "", "en_US": r"[\d,]*\d(?:\.\d+)?"}
HEARD = ("title", "aria-label", "alt", "placeholder")
VOID = frozenset(("input", "br", "hr", "img", "link", "meta", "path", "rect", "line", "circle", "source", "wbr"))


class Words(HTMLParser):
    """What is read or heard of a page, or stands in a field of it; and where it leads."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.fields: list[str] = []
        self.links: list[str] = []
        self._left_alone = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if self._left_alone:
            self._left_alone += tag not in VOID
        elif has.get("translate") == "no" or tag in ("script", "style"):
            self._left_alone = 1
        else:
            self.words += [has[name] for name in HEARD if name in has]
            if tag == "input" and has.get("type", "text") in ("text", "search"):
                self.fields.append(has.get("value", ""))
        if tag == "a" and has.get("href", "").startswith("/"):
            self.links.append(has["href"])

    def handle_endtag(self, tag: str) -> None:
        self._left_alone -= bool(self._left_alone) and tag not in VOID

    def handle_data(self, data: str) -> None:
        if not self._left_alone:
            self.words.append(" ".join(data.split()))


def own_words(build: Build) -> re.Pattern[str]:
    """What the owner wrote with a figure in it, and the arithmetic of conditions."""

    def strings(value: object) -> Iterator[str]:
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict | list | tuple):
            for each in value.values() if isinstance(value, dict) else value:
                yield from strings(each)

    held = {text for text in strings(build.model_dump()) if " " in text and re.search(r"\d", text)}
    written = [text for text in held if re.search(r"[^\W\d_]{3}", text)]
    return re.compile("|".join(map(re.escape, sorted(written, key=len, reverse=True))), re.IGNORECASE)


def left_as_held(page: Words, shown: Formats, own: re.Pattern[str]) -> list[str]:
    """Figures of a page that are not as the owner reads them, each with the words around it."""
    found = []
    for words in filter(re.compile(r"\d").search, page.words):
        bare = own.sub("#", AS_WRITTEN.sub("“”", words))
        found += [
            bare[max(0, match.start() - 40) : match.end() + 20]
            for match in CANONICAL.finditer(bare)
            if not re.fullmatch(USUAL[shown.locale], match[0])
        ]
        found += METRIC.findall(bare) if shown.units != "metric" else []
    if shown.mark == ",":  # a limit keeps the unit it was given in, yet not its mark
        found += [words for words in page.fields if re.fullmatch(r"-?\d+\.\d+( \w+)?", words)]
    return found


def rooms(client: TestClient, most: int, of_a_kind: int) -> Iterator[tuple[str, Words]]:
    """Pages that links lead to, the first page first; a few of each kind."""
    todo, seen, kinds = ["/"], set[str](), dict[tuple[int, str, str, str], int]()
    while todo and len(seen) < most:
        path = urlsplit(todo.pop(0)).path
        parts = path.split("/")
        kind = (len(parts), parts[1], parts[2] if len(parts) == 4 else "", parts[-1] if len(parts) > 4 else "")
        if path in seen or kinds.get(kind, 0) >= of_a_kind:
            continue
        seen.add(path)
        kinds[kind] = kinds.get(kind, 0) + 1
        answer = client.get(path)
        if answer.status_code == 200 and "text/html" in answer.headers["content-type"]:
            page = Words()
            page.feed(answer.text)
            todo += [urljoin(path, link) for link in page.links]
            yield path, page


@pytest.mark.parametrize(
    ("shown", "most", "of_a_kind"),
    [
        pytest.param(Formats("imperial-fractions", "de_DE"), 50, 1, id="a few of each kind"),
        pytest.param(Formats("imperial-fractions", "de_DE"), 400, 12, id="all", marks=pytest.mark.long),
        pytest.param(Formats("metric", "fr_CA"), 150, 3, id="fr_CA", marks=pytest.mark.long),
        pytest.param(Formats("imperial", "en_US"), 150, 3, id="en_US", marks=pytest.mark.long),
    ],
)
def test_no_room_shows_a_figure_as_it_is_held(
    tmp_path: Path, demo_plan: Plan, shown: Formats, most: int, of_a_kind: int
) -> None:
    demo = load_demo()
    owner = demo.owner.model_copy(update={"units": shown.units, "locale": shown.locale})
    build = demo.model_copy(update={"owner": owner})
    own, seen = own_words(build), 0
    with served(tmp_path / "demo.fishplate", build, demo_plan) as client:
        for path, page in rooms(client, most, of_a_kind):
            seen += 1
            assert left_as_held(page, shown, own) == [], path
    assert seen > 40
