"""Starters on the page: shown against the build, written as one change, nothing twice."""

from __future__ import annotations

import re
import threading
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, worked_out

from fishplate.starters import Merge, load_demo, merge, starter, starters
from fishplate.web.course import StoppedError, say
from fishplate.web.desk import View, merged_with
from fishplate.web.kept import KeptEach
from fishplate.web.starting import starters_page


def _send(client: TestClient, path: str, **fields: object):  # type: ignore[no-untyped-def]
    data = {"revision": str(desk_of(client).file.revision), "form": "starter", **fields}
    return client.post(path, data=data, follow_redirects=False)


def _accept(client: TestClient, path: str, **fields: list[str]):  # type: ignore[no-untyped-def]
    """Bring a starter in once what it comes to with these answers was shown."""
    apart = [key for key in fields.get("shown", []) if key not in fields.get("same", [])]
    answers = [*(("apart", key) for key in apart), *(("taken", key) for key in fields.get("taken", []))]
    worked_out(client, f"{path}?{urlencode(answers)}")
    return _send(client, path, **fields)


def test_every_starter_is_offered_with_its_size(client: TestClient) -> None:
    text = client.get("/start").text
    for offered, item in zip(starters_page(), starters(), strict=True):
        assert f"/start/{item.name}" in text
        assert offered.said in text


def test_what_is_new_and_what_is_the_same_is_shown_before_it_is_written(client: TestClient) -> None:
    text = worked_out(client, "/start/engine-swap").text
    assert "“Mounts and gearbox crossmember tacked” is your “Make the mounts and tack them”" in text
    assert "Propshaft, made to length" in text
    assert desk_of(client).view().build == load_demo()


def test_it_is_written_as_one_change_and_a_second_time_nothing_is_new(client: TestClient) -> None:
    revision = desk_of(client).file.revision
    assert _accept(client, "/start/body-and-paint").headers["location"] == "/start/body-and-paint/brought"
    page = worked_out(client, "/start/body-and-paint/brought").text
    assert "Decisions: 10" in page
    assert 'href="/schedule/gates"' in page
    build = desk_of(client).view().build
    assert desk_of(client).file.revision == revision + 1
    assert {part.id for part in load_demo().parts} < {part.id for part in build.parts}
    assert "All of it is in your build already" in worked_out(client, "/start/body-and-paint").text


def test_what_is_unticked_is_added_beside_ones_own(client: TestClient) -> None:
    shown = ["jobs:mounts-tacked", "jobs:first-start"]
    assert _accept(client, "/start/engine-swap", shown=shown, same=shown[1:]).status_code == 303
    jobs = desk_of(client).view().build.index["jobs"]
    assert "mounts-tacked" in jobs
    assert "first-start-2" not in jobs


def test_what_may_be_the_same_is_asked_with_no_as_the_answer(client: TestClient) -> None:
    text = worked_out(client, "/start/engine-swap").text
    assert re.search(r'name="taken" value="parts:swap-radiator">', text)  # not ticked
    assert "“Brake servo and master cylinder” is your “Brake servo, remote, in the line”" in text
    ticked = {"taken": ["parts:swap-radiator"]}
    assert "taken=parts%3Aswap-radiator" in _accept(client, "/start/engine-swap", **ticked).headers["location"]
    parts = desk_of(client).view().build.index["parts"]
    assert "swap-radiator" not in parts
    assert "servo-and-master" in parts


def test_a_starter_that_is_not_there_is_refused(client: TestClient) -> None:
    assert client.get("/start/boat").status_code in (404, 422)


def test_setting_it_beside_the_build_says_how_far_it_is_and_can_be_stopped(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, gate = threading.Event(), threading.Event()

    def slow(view: View, asked: tuple[str, frozenset[str], frozenset[str]]) -> Merge:
        say("Comparing parts", 0.2)
        begun.set()
        gate.wait(30)
        return merged_with(view, asked)

    monkeypatch.setattr(desk_of(client), "merges", KeptEach(slow))
    client.get("/start/body-and-paint?apart=jobs%3Asand")
    assert begun.wait(30)
    page = client.get("/start/body-and-paint?apart=jobs%3Asand").text
    assert "It is being set beside your build. Comparing parts:" in page
    assert 'name="apart" value="jobs:sand"' in page
    form = {"revision": "1", "apart": "jobs:sand"}
    stopped = client.post("/start/body-and-paint/stop", data=form)
    gate.set()
    assert stopped.url.query == b"apart=jobs%3Asand"
    assert "It was stopped; nothing is changed." in stopped.text
    client.get("/start/body-and-paint?apart=jobs%3Asand&again=yes")
    assert "Bring it in" in worked_out(client, "/start/body-and-paint?apart=jobs%3Asand").text


def test_bringing_one_in_tells_each_step_and_gives_up_where_it_is_told_to() -> None:
    said: list[tuple[str, float]] = []
    merge(load_demo(), starter("body-and-paint"), progress=lambda stage, share: said.append((stage, share)))
    assert [share for _, share in said] == sorted(share for _, share in said)
    assert {"Comparing parts", "Comparing jobs", "Fitting the rest in", "Checking the whole"} <= {it for it, _ in said}

    def stop(_stage: str, share: float) -> None:
        if share > 0.1:
            raise StoppedError

    with pytest.raises(StoppedError):
        merge(load_demo(), starter("body-and-paint"), progress=stop)


def test_a_starter_that_is_accepted_of_a_build_changed_meanwhile_is_merged_beside_the_request_and_shown(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked_out(client, "/start/body-and-paint")
    desk, gate = desk_of(client), threading.Event()

    def slow(view: View, asked: tuple[str, frozenset[str], frozenset[str]]) -> Merge:
        gate.wait(30)
        return merged_with(view, asked)

    desk.write(lambda build: build.model_copy(update={"name": "Another"}), revision=1, message="renamed")
    monkeypatch.setattr(desk, "merges", KeptEach(slow))
    found = _send(client, "/start/body-and-paint", shown=["jobs:sand"], same=[])
    assert found.headers["location"] == "/start/body-and-paint?apart=jobs%3Asand&anew=yes"
    assert desk.file.revision == 2
    gate.set()
    page = worked_out(client, found.headers["location"]).text
    assert "Nothing is brought in yet: your build, or what you ticked, is not what was shown before." in page
    assert _send(client, "/start/body-and-paint", shown=["jobs:sand"], same=[]).headers["location"].endswith("/brought")
    assert desk.file.revision == 3
