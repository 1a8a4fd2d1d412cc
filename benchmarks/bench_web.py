"""The pages: time to answer, nineteen in twenty, weight and first paint, on a build as large as one person's can be."""

from __future__ import annotations

import gzip
import tempfile
import time
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx2

from fishplate.build import Build, facts_of
from fishplate.plan import plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.store import BuildFile
from fishplate.store.plans import PLAN, dump_plan
from fishplate.web.desk import View
from fishplate.web.findable import index_of
from fishplate.web.kept import Standing
from fishplate.web.rooms import ROOMS
from fishplate.web.searching import search_page
from fishplate.wiring import situation

from .builds import AS_OF, long_build
from .served import Served, Timed, served

PARTS, TIMES = 500, 20
PAINTED = 5
CHROMIUM = "/usr/bin/chromium"
FIRST_PAINT = """() => new Promise(done => new PerformanceObserver(seen => {
  const found = seen.getEntriesByName("first-contentful-paint");
  if (found.length) done(found[0].startTime);
}).observe({type: "paint", buffered: true}))"""
ONE_OF_EACH = (
    "/parts/part-1500", "/jobs/job-1200", "/interfaces/place-300", "/interfaces/dimensions/dim_300_a",
    "/decisions/decision-100", "/decisions/decision-100/options/option-100-b", "/buying/offers/offer-1500-0",
    "/several/parts", "/several/jobs", "/schedule/gates", "/more", "/search?q=part+15", "/tonight/sheet",
)  # fmt: skip
Send = Callable[[httpx2.Client, int], httpx2.Response]


def build() -> Build:
    """The demo, its parts that nobody names repeated until there are 500, each with its offers."""
    demo = load_demo()
    parts, offers = list(demo.parts), list(demo.offers)
    number = 0
    while len(parts) < PARTS:
        part = demo.parts[number % len(demo.parts)]
        number += 1
        copy = part.model_copy(update={"id": f"{part.id}-{number}", "name": f"{part.name}, {number}", "quantity": 1})
        parts.append(copy)
        offers += [
            offer.model_copy(update={"id": f"{offer.id}-{number}", "part": copy.id})
            for offer in demo.offers
            if offer.part == part.id
        ]
    return demo.model_copy(update={"parts": tuple(parts), "offers": tuple(offers)})


def rows() -> list[dict[str, Any]]:
    """Processor time of the server within which nineteen answers in twenty come; the clock and the weight beside it."""
    return [*_long(), *_planned(), *_search(), *_weights()]


def _long() -> Iterator[dict[str, Any]]:
    """A build of 2 000 parts without a plan."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.fishplate"
        BuildFile.create(path, long_build(), author="bench")
        with served(path, AS_OF) as site:
            rooms = [room.path for room in ROOMS]
            pages = {address: _page(site, address) for address in (*rooms, *ONE_OF_EACH)}
            yield from (_row(f"2 000 parts: {address}", timed, 200) for address, timed in pages.items())
            yield from _painted(site, sorted(pages, key=lambda address: pages[address].sent)[-PAINTED:])
            yield from (_edit(site, *each) for each in _edits())


def _planned() -> Iterator[dict[str, Any]]:
    """A build of 500 parts with its plan."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "planned.fishplate"
        planned = build()
        file = BuildFile.create(path, planned, author="bench")
        made = plan(situation(planned, demo_as_of()), revision=1)
        file.memo_put(PLAN, dump_plan(made))
        first = made.actions[0]
        action = f"/week/{first.kind}/{quote(first.key, safe='')}"
        with served(path, demo_as_of()) as site:
            addresses = (*(room.path for room in ROOMS), action)
            yield from (_row(f"500 parts, planned: {address}", _page(site, address), 200) for address in addresses)


def _page(site: Served, address: str) -> Timed:
    site.settle(address)
    site.rest()
    timed = Timed()
    for _ in range(TIMES):
        site.ask(timed, lambda client: client.get(address))
    return timed


def _edit(site: Served, name: str, send: Send, status: int) -> dict[str, Any]:
    """An edit of a kind, made again and again; what it leaves to work out is done before the next."""
    timed = Timed()
    for _ in range(TIMES):
        revision = site.client.get("/api/plan").json()["revision"]
        site.ask(timed, lambda client, seen=revision: send(client, seen))  # type: ignore[misc]
        assert timed.status == status, f"{name}: {timed.status}"
    return _row(f"2 000 parts: {name}", timed, status)


def _edits() -> Iterator[tuple[str, Send, int]]:
    """One edit of each kind, with the status it is answered with."""
    today = AS_OF.isoformat()

    def form(path: str, **fields: str) -> Send:
        count = iter(range(10, 100))  # stands in for #

        def send(client: httpx2.Client, revision: int) -> httpx2.Response:
            number = next(count)
            data = {name: value.replace("#", str(number)) for name, value in fields.items()}
            at = path.replace("#", str(number))
            return client.post(at, data={"form": "bench", "revision": str(revision), **data}, follow_redirects=False)

        return send

    def program(client: httpx2.Client, revision: int) -> httpx2.Response:
        noun = {"id": f"new-{revision}", "name": "New"}
        return client.post(
            "/api/build", json={"revision": revision, "changes": [{"list": "parts", "id": noun["id"], "after": noun}]}
        )

    def turn(name: str) -> Send:
        return lambda client, revision: client.post(f"/api/{name}", json={"revision": revision})

    yield "hours on a job", form("/jobs/job-1400/hours", minutes="30", day=today), 303
    yield "a job done", form("/jobs/job-8#/hours", minutes="done", day=today), 303
    yield "a part changed", form("/parts/part-1500", name="Part #", quantity="1", note="#"), 303
    yield "a part arrived", form("/parts/part-1500/arrived", count="1", day=today), 303
    yield "a part fitted", form("/parts/part-1500/fitted", count="1", day=today), 303
    yield "a part added", form("/parts/add", name="Extra #", quantity="1"), 303
    yield (
        "a job added",
        form("/jobs", name="Extra #", phase="finish", **{"hours-low": "1", "hours-likely": "2", "hours-high": "3"}),
        303,
    )
    yield "a reading", form("/interfaces/dimensions/dim_300_a", value="100.#", day=today), 303
    yield "a price seen", form("/buying/offers/offer-1500-0/seen", price="4#.00", day=today), 303
    yield (
        "a decision taken",
        form("/decisions/decision-1#/options/option-1#-a", day=today, why="#"),
        303,
    )
    yield "a payment", form("/money/payments", amount="1#", what="other", day=today), 303
    yield "the owner's holidays", form("/owner/away", first="2027-07-#", last="2027-08-01", why="#"), 303
    yield "a noun, by a program", program, 200
    yield "taken back", turn("undo"), 200
    yield "made again", turn("redo"), 200


def _painted(site: Served, addresses: list[str]) -> Iterator[dict[str, Any]]:
    """When Chromium first paints something of the heaviest pages, the middle of five."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        for address in addresses:
            page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
            times = sorted(_first_paint(page, site.address + address) for _ in range(5))
            yield {
                "name": f"2 000 parts, first paint: {address}",
                "seconds": times[2],
                "note": f"clock; latest of five {times[-1]:.3f} s",
            }
        browser.close()


def _first_paint(page: Any, address: str) -> float:
    page.goto(address)
    return float(page.evaluate(FIRST_PAINT)) / 1000


def _row(name: str, timed: Timed, status: int) -> dict[str, Any]:
    assert timed.status == status, f"{name}: {timed.status}"
    processor, clock = timed.at_share()
    weight = f"; {timed.sent / 1000:.1f} kB packed" if timed.sent else ""
    return {"name": name, "seconds": processor, "note": f"clock {clock * 1000:.0f} ms{weight}"}


def _search() -> Iterator[dict[str, Any]]:
    """Processor time of a query, what can be found once gone through."""
    found = long_build()
    view = View(found, facts_of(found, AS_OF), 1, AS_OF, None)
    start = time.process_time()
    index = index_of(view)
    gone_through = time.process_time() - start
    names = [part.name for part in found.parts[::40]] + [job.name[:6] for job in found.jobs[::40]]
    asked = [*names, "missing parts", "open decisions", "braek hoes", "M10 x 1,25", "10"]
    seconds = []
    for text in asked:
        start = time.process_time()
        search_page(text, "", Standing(index, True), None)
        seconds.append(time.process_time() - start)
    seconds.sort()
    note = f"{len(index.things)} things, 19 in 20; once a change they are gone through in {gone_through:.2f} s, beside"
    yield {"name": "search: a query", "seconds": seconds[int(len(asked) * 0.95) - 1], "note": note}


def _weights() -> Iterator[dict[str, Any]]:
    assets = files("fishplate.web") / "static"
    for name in ("htmx.min.js", "keep.js", "keys.js", "look.css"):
        content = (assets / name).read_bytes()
        packed = len(gzip.compress(content, 9))
        yield {"name": f"weight of {name}", "seconds": 0.0, "note": f"{len(content)} bytes, {packed} packed"}
