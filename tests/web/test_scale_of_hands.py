"""Many hands on one build at once: whatever was acknowledged is there, once; nothing fails."""

from __future__ import annotations

import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import httpx2
import pytest
from benchmarks.builds import AS_OF, large_build, long_build
from benchmarks.served import served
from playwright.sync_api import Browser, Page, sync_playwright
from serving import AUTHOR, IdleRunner, serving

from conftest import CHROMIUM, CHROMIUM_ARGUMENTS
from fishplate.build import Build, document_data
from fishplate.store import BuildFile

COUNTED = "part-0"
"""The part whose note every hand counts on."""


@dataclass
class Hand:
    """One browser, or program: what it was told is written, and every status it got."""

    number: int
    parts: list[str] = field(default_factory=list)
    hours: Counter[str] = field(default_factory=Counter)
    counted: int = 0
    statuses: Counter[int] = field(default_factory=Counter)
    faults: list[BaseException] = field(default_factory=list)

    def work(self, address: str, until: float, jobs: list[str]) -> None:
        """Add parts, log hours and count, in turn, until a moment [s, monotonic]."""
        try:
            with httpx2.Client(base_url=address, timeout=60) as client:
                client.get("/more")  # a page of ours, so that forms are taken
                turn = 0
                while time.monotonic() < until:
                    turn += 1
                    self._add_part(client, f"hand-{self.number}-{turn}")
                    self._log_hours(client, jobs[turn % 3])
                    self._count_on(client)
        except BaseException as fault:
            self.faults.append(fault)

    def _add_part(self, client: httpx2.Client, id_: str) -> None:
        if self._write(client, "parts", {"id": id_, "name": f"Part of hand {self.number}"}):
            self.parts.append(id_)

    def _count_on(self, client: httpx2.Client) -> None:
        read = client.get("/api/build/parts").json()
        part = next(part for part in read["parts"] if part["id"] == COUNTED)
        part["note"] = str(int(part.get("note") or 0) + 1)
        self.counted += self._write(client, "parts", part, revision=read["revision"])

    def _write(self, client: httpx2.Client, name: str, noun: dict[str, object], revision: int = 0) -> bool:
        revision = revision or client.get("/api/plan").json()["revision"]
        edit = {"revision": revision, "changes": [{"list": name, "id": noun["id"], "after": noun}]}
        response = client.post("/api/build", json=edit)
        self.statuses[response.status_code] += 1
        return response.status_code == 200

    def _log_hours(self, client: httpx2.Client, job: str) -> None:
        revision = client.get("/api/plan").json()["revision"]
        form = {"revision": str(revision), "form": f"hours-{job}", "day": AS_OF.isoformat(), "minutes": "30"}
        response = client.post(f"/jobs/{job}/hours", data=form)
        self.statuses[response.status_code] += 1
        self.hours[job] += response.status_code == 303


@dataclass
class Eyes:
    """Pages in real browsers, one after another in one thread: what they wrote, and every status they saw."""

    contexts: int
    hours: Counter[str] = field(default_factory=Counter)
    statuses: Counter[int] = field(default_factory=Counter)
    faults: list[BaseException] = field(default_factory=list)

    def work(self, address: str, until: float, jobs: list[str]) -> None:
        """Log hours by hand and look into the rooms, in turn, until a moment [s, monotonic]."""
        try:
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
                pages = [self._page(browser, address) for _ in range(self.contexts)]
                turn = 0
                while time.monotonic() < until:
                    turn += 1
                    page = pages[turn % len(pages)]
                    self._log_hours(page, jobs[turn % len(jobs)])
                    page.goto(("/parts", "/jobs", "/", "/money", "/decisions")[turn % 5])
                browser.close()
        except BaseException as fault:
            self.faults.append(fault)

    def _page(self, browser: Browser, address: str) -> Page:
        page = browser.new_context(base_url=address).new_page()
        page.set_default_timeout(60_000)
        page.on("response", lambda response: self._see(response.status))
        page.on("pageerror", lambda error: self.faults.append(error))
        return page

    def _see(self, status: int) -> None:
        if status >= 400:
            self.statuses[status] += 1

    def _log_hours(self, page: Page, job: str) -> None:
        page.goto(f"/jobs/{job}")
        page.get_by_text("Write down hours all the same").click()
        with page.expect_response(lambda response: response.request.method == "POST") as sent:
            page.get_by_role("button", name="30 min").click()
        self.statuses[sent.value.status] += sent.value.status < 400  # others are seen already
        self.hours[job] += sent.value.status == 303


def hands_on(path: Path, address: str, build: Build, workers: list[Hand | Eyes], seconds: float) -> BuildFile:
    """Some at a served build for so long, and the file they leave."""
    jobs = [job.id for job in build.jobs][-3:]
    until = time.monotonic() + seconds
    threads = [threading.Thread(target=worker.work, args=(address, until, jobs)) for worker in workers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return BuildFile.open(path)


def assert_nothing_was_lost_or_doubled(before: Build, workers: list[Hand | Eyes], file: BuildFile) -> None:
    assert not [fault for worker in workers for fault in worker.faults]
    hands = [worker for worker in workers if isinstance(worker, Hand)]
    statuses = sum((worker.statuses for worker in workers), Counter[int]())
    assert not statuses.keys() - {200, 303, 409}, "a change is made, or refused because another hand was first"
    build = file.build()
    had = {part.id for part in before.parts}
    assert Counter(part.id for part in build.parts if part.id not in had) == Counter(
        part for hand in hands for part in hand.parts
    )
    assert int(build.find("parts", COUNTED).note or 0) == sum(hand.counted for hand in hands)
    known = {event.id for event in before.events}
    logged = Counter(event.job for event in build.events if event.kind == "worked" and event.id not in known)
    assert logged == +sum((worker.hours for worker in workers), Counter[str]())
    acknowledged = statuses[200] + statuses[303]
    assert acknowledged > 0
    assert [batch.number for batch in file.history()] == list(range(1, acknowledged + 2)), (
        "a batch for each, and no more"
    )


def test_what_a_few_hands_wrote_at_once_is_there_once(tmp_path: Path) -> None:
    before, path = large_build(jobs=40, parts=40, decisions=4, interfaces=10), tmp_path / "van.fishplate"
    hands: list[Hand | Eyes] = [Hand(number) for number in range(5)]
    BuildFile.create(path, before, author=AUTHOR, message="started")
    with serving(path, today=lambda: AS_OF, runner=IdleRunner()) as site:
        file = hands_on(path, site.address, before, hands, seconds=4)
    assert_nothing_was_lost_or_doubled(before, hands, file)
    assert sum(hand.statuses[409] for hand in hands) > 0, "no two hands ever met"


@pytest.mark.long
def test_what_twenty_hands_wrote_in_five_minutes_on_a_large_build_is_there_once(tmp_path: Path) -> None:
    """Programs and browsers, the server in a process of its own."""
    before, path = long_build(), tmp_path / "van.fishplate"
    workers: list[Hand | Eyes] = [*(Hand(number) for number in range(17)), Eyes(3)]
    BuildFile.create(path, before, author=AUTHOR, message="started")
    with served(path, AS_OF) as site:
        file = hands_on(path, site.address, before, workers, seconds=300)
    assert_nothing_was_lost_or_doubled(before, workers, file)
    assert workers[-1].hours.total() > 0, "no browser ever wrote"
    assert document_data(file.build()) == document_data(BuildFile.open(path).build())
    print(sum((worker.statuses for worker in workers), Counter[int]()))
