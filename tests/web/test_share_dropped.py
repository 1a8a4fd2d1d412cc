"""What is sent again because its answer never came is written once."""

from __future__ import annotations

import contextlib
import os
import signal
import threading
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from at_home import ON_MACHINE, let_in, shared, van
from fastapi import FastAPI
from fastapi.testclient import TestClient

from fishplate.store import BuildFile, memory
from fishplate.store.build_file import Note
from fishplate.store.devices import Role
from fishplate.web.sendings import HEADER, MEMO, Sendings, Sent


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    """A shared build."""
    with shared(tmp_path, van()) as found:
        yield found


def log(device: TestClient, sending: str, *, hours: str = "2", revision: str = "1") -> tuple[int, str]:
    data = {"revision": revision, "hours": hours, "form": "hours-sand"}
    answer = device.post("/jobs/sand/hours", data=data, headers={HEADER: sending} if sending else {})
    return answer.status_code, answer.headers.get("location", "")


def worked(app: FastAPI) -> list[float]:
    return [event.hours for event in app.state.desk.view().build.events]


def test_the_same_sending_is_written_once_and_answered_alike(app: FastAPI) -> None:
    device = let_in(app, Role.HELPER)
    assert log(device, "a") == log(device, "a") == (303, "/jobs/sand")
    assert worked(app) == [2]
    log(device, "b")
    assert worked(app) == [2, 2]
    log(device, "")
    log(device, "")
    assert len(worked(app)) == 4


def test_it_is_remembered_after_a_restart(app: FastAPI, tmp_path: Path) -> None:
    log(let_in(app, Role.HELPER), "a")
    app.state.desk.close()
    with shared(tmp_path, van()) as again:
        log(let_in(again, Role.HELPER, "Other"), "a")
        assert worked(again) == [2]


def test_what_was_refused_can_be_sent_again_corrected_or_not(app: FastAPI) -> None:
    device = let_in(app, Role.HELPER)
    assert log(device, "a", hours="many")[0] == 422
    assert log(device, "a", hours="3")[0] == 303
    assert worked(app) == [3]


def test_a_name_counts_for_its_own_address_alone(app: FastAPI) -> None:
    with TestClient(app, base_url=ON_MACHINE) as machine:
        machine.get("/")
        log(machine, "a")
        answer = machine.post("/parts/add", data={"name": "Hub", "form": "x"}, headers={HEADER: "a"})
        assert answer.status_code in (200, 422)
        assert answer.url.path.startswith("/parts")


def test_memory_is_bounded_and_damage_to_it_is_let_go(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fishplate.web.sendings.MOST", 5)
    file: BuildFile = app.state.desk.file
    held = Sendings(file, threading.RLock())
    for number in range(10):
        write(held, f"n{number}")
    write(held, "x" * 1000)
    again = Sendings(file, threading.RLock())
    assert again.of("n4", "/x") is None
    assert again.of("n5", "/x") == Sent("/x", 7, "/")
    assert again.of("x" * 1000, "/x") is None
    for damage in (b"", b"[[1]]", b"rubbish", b'{"a": 1}', b"\xff"):
        file.memo_put(MEMO, damage)
        assert Sendings(file, threading.RLock()).of("n5", "/x") is None


def write(sendings: Sendings, name: str) -> Sent:
    """Write another note on the first job, as a sending."""
    file = sendings._file

    def do(note: Note | None) -> int:
        now = file.snapshot()
        first, *others = now.build.jobs
        changed = first.model_copy(update={"note": f"{first.note}+"[-4000:]})
        new = now.build.model_copy(update={"jobs": (changed, *others)})
        return file.write(new, revision=now.revision, author="kim@phone", note=note)

    return sendings.write(name, "/x", do, lambda: "/")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a second process that can be killed")
@pytest.mark.parametrize("kept", [False, True])
def test_a_sending_cut_off_by_a_crash_is_written_once_when_it_comes_again(app: FastAPI, kept: bool) -> None:
    """Killed with its note made but nothing committed, it is not there; killed once it is committed, so is its note."""
    file: BuildFile = app.state.desk.file
    started = file.revision
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # other threads of the test run do not write here
        child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            again = BuildFile.open(file.path)
            die_after(again if kept else memory, "write" if kept else "memo_put")
            write(Sendings(again, threading.RLock()), "a")
        os._exit(70)
    assert os.WIFSIGNALED(os.waitpid(child, 0)[1]), "it was not killed"
    assert BuildFile.open(file.path).revision == started + kept
    sent = write(Sendings(BuildFile.open(file.path), threading.RLock()), "a")
    assert sent == Sent("/x", started + 1, "/")
    assert BuildFile.open(file.path).revision == started + 1


def die_after(owner: Any, name: str) -> None:
    """Let this process be killed as soon as a function of something has done its work."""
    does = getattr(owner, name)

    def last(*given: Any, **named: Any) -> None:
        does(*given, **named)
        os.kill(os.getpid(), signal.SIGKILL)

    setattr(owner, name, last)
