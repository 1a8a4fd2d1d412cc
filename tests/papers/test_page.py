"""The plan's page opens without a network, is sound HTML, and says the same on a phone, in the dark and on paper."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from plan_builds import build_of, offer, part, plan_of, supplier
from test_figures import made
from test_repeatable import workshop_build

from fishplate.build import Build
from fishplate.papers import plan_page
from fishplate.starters import load_demo

NAMES = ("demo", "workshop", "empty")
ALL = pytest.mark.parametrize("name", NAMES)
VOID = {"meta", "br", "path", "line", "rect", "circle", "col", "hr", "img", "input", "link"}


@cache
def page(name: str) -> str:
    builds = {"demo": load_demo, "workshop": workshop_build, "empty": build_of}
    return plan_page(made(name), builds[name]())


class Reader(HTMLParser):
    """Reads a page strictly: every element closed in order, ids and links noted."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.seen: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.faults: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.seen.append(tag)
        self.ids += [values["id"] or ""] if "id" in values else []
        self.links += [values["href"] or ""] if "href" in values else []
        if len(values) != len(attrs):
            self.faults.append(f"an attribute twice on {tag}")
        if any(key.startswith("on") for key in values):
            self.faults.append(f"a handler on {tag}")
        if tag in ("p", "ul", "ol", "table") and self.open and self.open[-1] == "p":
            self.faults.append(f"{tag} inside p")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open[-1] != tag:
            self.faults.append(f"</{tag}> closes {self.open[-1:]}")
        else:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.text.append(data)


def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    reader.close()
    return reader


@ALL
def test_it_asks_nothing_of_a_network_and_runs_nothing(name: str) -> None:
    text = page(name)
    bare = text.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"(https?:)?//[\w.-]+\.\w", bare)
    assert "<script" not in text
    assert not re.search(r"\b(src|srcset|@import|url)\s*[=(]", text)
    assert "javascript:" not in text


@ALL
def test_it_is_sound_html(name: str) -> None:
    reader = read(page(name))
    assert reader.faults == []
    assert reader.open == []
    assert [id_ for id_, count in Counter(reader.ids).items() if count > 1] == []
    assert {link.removeprefix("#") for link in reader.links if link.startswith("#")} <= set(reader.ids)
    assert reader.seen.count("h1") == 1
    assert page(name).startswith('<!doctype html>\n<html lang="en">')


@ALL
def test_every_chart_has_a_name_and_a_table_after_it(name: str) -> None:
    text = page(name)
    for match in re.finditer(r"<svg[^>]*class=\"chart\"[^>]*>", text):
        assert 'role="img"' in match[0]
        assert "aria-label" in match[0]
        rest = text[match.end() : text.find("</section>", match.end())]
        assert "<table" in rest


def test_what_a_person_names_is_shown_and_never_read_as_markup() -> None:
    nasty = '<img src=x onerror="alert(1)">&amp;'
    build = build_of(
        name=nasty, suppliers=[supplier("shop")], parts=[{**part("rack"), "name": nasty}],
        offers=[offer("rack-offer", "rack", "10 EUR")],
    )  # fmt: skip
    text = plan_page(plan_of(build), build)
    assert "<img" not in text
    assert "&lt;img src=x onerror=" in text
    assert read(text).faults == []


def test_actions_come_with_their_reasons_and_cautions() -> None:
    text = " ".join(read(page("demo")).text)
    plan = made("demo")
    for action in plan.actions[:12]:
        assert action.what in text
        for reason in (*action.reasons, *action.cautions):
            assert " ".join(reason.split()) in " ".join(text.split())


def test_every_line_of_the_purchases_is_there_with_its_consignment_s_sum() -> None:
    text = " ".join(" ".join(read(page("demo")).text).split())
    for line in made("demo").purchase.lines:
        assert line.part in text
    assert f"{made('demo').purchase.total:,.0f} EUR in all" in text


def test_every_assumption_is_there() -> None:
    text = " ".join(" ".join(read(page("workshop")).text).split()).lower()
    for assumption in made("workshop").assumptions:
        assert " ".join(str(assumption).split()).lower() in text


def test_an_undated_list_shows_sums_and_no_day() -> None:
    build = build_of(
        suppliers=[supplier("shop")], parts=[part("rack")], offers=[offer("rack-offer", "rack", "100 EUR")]
    )
    text = plan_page(plan_of(build), build)
    body = text.split("</style>")[1].split('id="ground"')[0]
    assert "100 EUR" in body
    assert "Nothing has a date yet" in body
    assert "2026" not in body.replace("2 March 2026", "")  # the day of the plan itself


def test_an_empty_build_has_a_page() -> None:
    text = " ".join(read(page("empty")).text)
    assert "Nothing is left to order" in text
    assert "Which parts do you know you need" in text


def test_no_chance_is_shown_as_none_or_certain_and_no_word_is_a_traffic_light() -> None:
    text = " ".join(read(page("demo")).text)
    assert not re.search(r"(?<![\d.])0 % chance|(?<![\d.])100 % chance", text)
    assert not re.search(r"\b(red|amber|green|OK|WARNING|ERROR)\b", text)


def test_print_shows_the_reasons_and_keeps_actions_whole() -> None:
    style = page("demo").split("<style>")[1].split("</style>")[0]
    paper = style[style.index("@media print") :]
    assert "details::details-content" in paper
    assert "break-inside: avoid" in paper
    assert "@page" in style


def test_both_themes_have_every_colour() -> None:
    style = page("demo").split("<style>")[1].split("</style>")[0]
    themes = re.findall(r":root \{([^}]*)\}", style)
    names = [set(re.findall(r"(--\w+):", theme)) for theme in themes]
    assert len(names) == 3  # light, dark, paper
    assert names[0] == names[1] == names[2]
    for light, dark in ((themes[0], themes[1]),):
        for theme in (light, dark):
            colours = dict(re.findall(r"(--\w+): (#\w+)", theme))
            for ink in ("--ink", "--soft", "--accent"):
                assert contrast(colours[ink], colours["--paper"]) >= 4.5, ink


def contrast(first: str, second: str) -> float:
    """Contrast of two colours (WCAG 2.2, 1.4.3)."""
    lights = sorted((luminance(first), luminance(second)))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance of a colour written #rrggbb (WCAG 2.2)."""
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(digit * 2 for digit in digits)
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_contrast_of_black_on_white_is_twenty_one() -> None:
    """WCAG 2.2 gives contrast a range of 1 to 21."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.fixture(scope="module")
def chromium() -> Any:
    sync = pytest.importorskip("playwright.sync_api", reason="needs a browser driver")
    path = next((p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).exists()), None)
    if path is None:
        pytest.skip("no Chromium is installed")
    with sync.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.mark.browser
@pytest.mark.parametrize("width", [320, 390, 1440])
@pytest.mark.parametrize("name", NAMES)
def test_nothing_runs_off_the_side_and_nothing_is_fetched(chromium: Any, tmp_path: Path, name: str, width: int) -> None:
    file = tmp_path / "page.html"
    file.write_text(page(name), encoding="utf-8")
    view = chromium.new_page(viewport={"width": width, "height": 900})
    fetched: list[str] = []
    view.on("request", lambda request: fetched.append(request.url))
    view.goto(file.as_uri())
    assert fetched == [file.as_uri()]
    assert view.evaluate("document.documentElement.scrollWidth <= innerWidth")
    cut = view.evaluate(
        "[...document.querySelectorAll('td, th, p, li, caption')].filter(e => e.offsetParent && !e.closest('.wide')"
        " && e.getBoundingClientRect().right > innerWidth + 1).length"
    )
    assert cut == 0
    view.close()


@pytest.mark.browser
def test_on_paper_the_reasons_can_be_read(chromium: Any, tmp_path: Path) -> None:
    file = tmp_path / "page.html"
    file.write_text(page("demo"), encoding="utf-8")
    view = chromium.new_page()
    view.goto(file.as_uri())
    view.emulate_media(media="print")
    heights = view.evaluate(
        "[...document.querySelectorAll('.actions details ul')].map(list => list.getBoundingClientRect().height)"
    )
    assert heights
    assert min(heights) > 10
    assert view.evaluate("getComputedStyle(document.querySelector('nav')).display") == "none"
    view.close()


def test_a_build_by_any_name_has_a_page() -> None:
    build = Build(name="Т-образный 車 🚐")
    assert "Т-образный 車 🚐" in plan_page(plan_of(build), build)


def test_the_page_is_in_the_owners_locale() -> None:
    demo = load_demo()
    owner = demo.owner.model_copy(update={"locale": "de_DE", "units": "imperial"})
    text = plan_page(made("demo"), demo.model_copy(update={"owner": owner}))
    assert re.search(r"\d\.\d{3} EUR", text)
    assert not re.search(r"\d,\d{3} EUR|\d (?:January|March|December) |\d mm to spare", text)
    assert 'font-size="14"' in text  # marks of a drawing stay
