"""What every page has: a frame, headers, and a guard before it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from serving import IdleRunner, desk_of, served

from fishplate.plan import Plan
from fishplate.starters import demo_as_of, load_demo
from fishplate.store.plans import PLAN, dump_plan, load_plan
from fishplate.web.rooms import ROOMS
from fishplate.web.trials import TrialKey, Trials
from fishplate.web.worker import Errand, Finished


@pytest.mark.parametrize("path", [room.path for room in ROOMS] + ["/more", "/plan"])
def test_every_room_answers_with_its_name_and_a_strict_policy(client: TestClient, path: str) -> None:
    response = client.get(path)
    assert response.status_code == 200
    assert "<h1>" in response.text
    assert "default-src 'none'" in response.headers["content-security-policy"]
    assert "style=" not in response.text
    assert "https://" not in response.text


def test_a_host_that_is_not_this_machine_is_refused(client: TestClient) -> None:
    assert client.get("/", headers={"Host": "rebound.example:8137"}).status_code == 421


@pytest.mark.parametrize(
    "headers", [{"Origin": "http://evil.example"}, {"Sec-Fetch-Site": "cross-site"}, {"Origin": "null"}]
)
def test_a_form_of_another_site_changes_nothing(client: TestClient, headers: dict[str, str]) -> None:
    data = {"revision": "1", "form": "x", "list": ""}
    assert client.post("/history/undo", data=data, headers=headers).status_code == 403


def test_a_form_without_our_cookie_changes_nothing(client: TestClient) -> None:
    client.cookies.clear()
    assert client.post("/history/undo", data={"revision": "1"}).status_code == 403


def test_more_than_the_limit_is_refused(client: TestClient) -> None:
    response = client.post("/import", content=b"x", headers={"Content-Length": str(40 * 1024 * 1024)})
    assert response.status_code == 413


def test_a_body_that_does_not_say_its_size_is_cut_off(client: TestClient) -> None:
    def much() -> Iterator[bytes]:
        for _ in range(36):
            yield b"x=" + b"y" * 1024 * 1024

    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    assert client.post("/import", content=much(), headers=headers).status_code == 413


@pytest.mark.parametrize("path", ["/no-such", "/parts/no-such-part", "/week/decide/x", "/photos/none", "/import/none"])
def test_what_is_not_here_is_said_on_a_page(client: TestClient, path: str) -> None:
    response = client.get(path)
    assert response.status_code == 404
    assert "<main" in response.text


def test_a_form_that_can_not_be_read_is_refused(client: TestClient) -> None:
    headers = {"Content-Type": "multipart/form-data; boundary=x"}
    assert client.post("/import", content=b"--y\r\nrubbish", headers=headers).status_code in (400, 422)


def test_nothing_to_take_back_is_said_in_words(client: TestClient) -> None:
    response = client.post("/history/undo", data={"revision": "1"})
    assert response.status_code == 422
    assert "nothing to take back" in response.text


def test_a_failure_of_ours_shows_a_number_and_no_traceback(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail() -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr(desk_of(client).file, "heads", fail)
    quiet = TestClient(client.app, base_url="http://127.0.0.1:8137", raise_server_exceptions=False)
    response = quiet.get("/history")
    assert response.status_code == 500
    assert "incident" in response.text
    assert "secret detail" not in response.text


def test_text_of_the_build_is_shown_as_text(client: TestClient) -> None:
    desk = desk_of(client)
    desk.write(
        lambda build: build.model_copy(update={"name": "<script>alert(1)</script>"}),
        revision=1,
        message="<b>renamed</b>",
    )
    for path in ("/", "/history", "/more"):
        page = client.get(path).text
        assert "<script>alert" not in page
        assert "<b>renamed" not in page


def test_assets_are_local_and_kept(client: TestClient) -> None:
    page = client.get("/").text
    for address in re.findall(r'(?:src|href)="(/static/[^"]+)"', page):
        response = client.get(address)
        assert response.status_code == 200
        assert "immutable" in response.headers["cache-control"]
    assert client.get("/static/../app.py").status_code == 404


def test_a_plan_survives_its_keeping(demo_plan: Plan) -> None:
    assert load_plan(dump_plan(demo_plan)) == demo_plan


def test_a_plan_of_another_version_is_let_go() -> None:
    assert load_plan(b'{"as_of": "2026-01-01"}') is None
    assert load_plan(b"rubbish") is None


class Garbled(IdleRunner):
    """Makes plans that nobody can read."""

    def start(self, errand: Errand, finished: Finished) -> None:
        finished(b'{"as_of": "2026-01-01"}')


@pytest.mark.parametrize("planned", [True, False])
def test_a_plan_that_can_not_be_read_is_told_of_and_the_last_one_stands(
    tmp_path: Path, demo_plan: Plan, planned: bool
) -> None:
    with served(tmp_path / "van.fishplate", load_demo(), demo_plan if planned else None) as client:
        desk = desk_of(client)
        desk.runner = Garbled()
        client.get("/")
        client.post("/plan")
        for page in (client.get("/plan").text, client.get("/jobs").text):
            assert "A plan was made but can&#39;t be read here" in page
            assert "Stop the program and start it again, then plan again" in page
            assert ("Plan of 16 November" in page) == planned
        assert desk.view().plan == load_plan(desk.file.memo_get(PLAN)) == (demo_plan if planned else None)
        desk.runner = IdleRunner()
        assert "can&#39;t be read" not in client.post("/plan").text


def test_a_trial_that_can_not_be_read_is_told_of() -> None:
    made: list[Finished] = []

    class Waiting(IdleRunner):
        def start(self, errand: Errand, finished: Finished) -> None:
            made.append(finished)

    trials, key = Trials(Waiting), TrialKey(1, demo_as_of(), "a change")
    trials.start(key, load_demo())
    made[0](b"rubbish")
    trial = trials.of(key)
    trials.close()
    assert trial is not None
    assert trial.plan is None
    assert "can't be read here" in trial.progress.said
