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
from serving import AUTHOR, IdleRunner, serving

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


def hands_on(path: Path, build: Build, hands: int, seconds: float) -> tuple[list[Hand], BuildFile]:
    """So many hands on a build for so long, and the file they leave."""
    BuildFile.create(path, build, author=AUTHOR, message="started")
    jobs = [job.id for job in build.jobs][-3:]
    working = [Hand(number) for number in range(hands)]
    with serving(path, today=lambda: AS_OF, runner=IdleRunner()) as site:
        until = time.monotonic() + seconds
        threads = [threading.Thread(target=hand.work, args=(site.address, until, jobs)) for hand in working]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    return working, BuildFile.open(path)


def assert_nothing_was_lost_or_doubled(before: Build, hands: list[Hand], file: BuildFile) -> None:
    assert not [fault for hand in hands for fault in hand.faults]
    statuses = sum((hand.statuses for hand in hands), Counter[int]())
    assert not statuses.keys() - {200, 303, 409}, "a change is made, or refused because another hand was first"
    build = file.build()
    had = {part.id for part in before.parts}
    assert Counter(part.id for part in build.parts if part.id not in had) == Counter(
        part for hand in hands for part in hand.parts
    )
    assert int(build.find("parts", COUNTED).note or 0) == sum(hand.counted for hand in hands)
    logged = Counter(event.job for event in build.events if event.kind == "worked" and event.day == AS_OF)
    assert logged == +sum((hand.hours for hand in hands), Counter[str]())
    acknowledged = statuses[200] + statuses[303]
    assert acknowledged > 0
    assert [batch.number for batch in file.history()] == list(range(1, acknowledged + 2)), (
        "a batch for each, and no more"
    )


def test_what_a_few_hands_wrote_at_once_is_there_once(tmp_path: Path) -> None:
    before = large_build(jobs=40, parts=40, decisions=4, interfaces=10)
    hands, file = hands_on(tmp_path / "van.fishplate", before, hands=5, seconds=4)
    assert_nothing_was_lost_or_doubled(before, hands, file)
    assert sum(hand.statuses[409] for hand in hands) > 0, "no two hands ever met"


@pytest.mark.long
def test_what_twenty_hands_wrote_in_five_minutes_on_a_large_build_is_there_once(tmp_path: Path) -> None:
    before = long_build()
    hands, file = hands_on(tmp_path / "van.fishplate", before, hands=20, seconds=300)
    assert_nothing_was_lost_or_doubled(before, hands, file)
    assert document_data(file.build()) == document_data(BuildFile.open(file.path).build())
