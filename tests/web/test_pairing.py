"""Letting a device in by a code, and putting it out: what a person does, and what somebody hostile tries."""

from __future__ import annotations

import hashlib
import logging
import re
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from at_home import AT_HOME, ON_MACHINE, let_in, share_of, shared, stranger, van
from fastapi import FastAPI
from fastapi.testclient import TestClient

from fishplate.build import Refused
from fishplate.store.devices import DeviceBook, Role
from fishplate.web.invitations import LASTS_SECONDS, MOST_TRIES, Invitations, TooSoonError


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    """A shared build."""
    with shared(tmp_path, van()) as found:
        yield found


class Clock:
    """Monotonic seconds that a test moves."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


def wrong(code: str) -> str:
    return code[:-1] + ("0" if code[-1] != "0" else "1")


# the code by itself


def test_a_code_works_once() -> None:
    codes = Invitations(Clock())
    code = codes.make(Role.HELPER)
    assert codes.take(code.shown.lower(), lambda role: role) is Role.HELPER
    with pytest.raises(Refused, match="not open"):
        codes.take(code.shown, lambda role: role)


def test_a_code_ends_after_ten_minutes() -> None:
    clock = Clock()
    codes = Invitations(clock)
    code = codes.make(Role.HELPER)
    clock.now += LASTS_SECONDS - 1
    assert codes.open == code
    clock.now += 1
    assert codes.open is None
    with pytest.raises(Refused, match="not open"):
        codes.take(code.code, lambda role: role)


def test_a_code_closes_after_ten_wrong_tries_a_second_apart() -> None:
    clock = Clock()
    codes = Invitations(clock)
    code = codes.make(Role.OWNER)
    for _ in range(MOST_TRIES):
        clock.now += 1
        with pytest.raises(Refused, match="not open"):
            codes.take(wrong(code.code), lambda role: role)
        with pytest.raises(TooSoonError):
            codes.take(code.code, lambda role: role)
    clock.now += 1
    assert codes.was_tried
    with pytest.raises(Refused, match="not open"):
        codes.take(code.code, lambda role: role)


def test_a_code_stays_open_where_the_name_is_refused() -> None:
    codes = Invitations(Clock())
    code = codes.make(Role.OWNER)

    def refuse(role: Role) -> None:
        raise Refused([])

    with pytest.raises(Refused):
        codes.take(code.code, refuse)
    assert codes.take(code.code, lambda role: role) is Role.OWNER


def test_a_new_code_closes_the_one_before() -> None:
    codes = Invitations(Clock())
    first, second = codes.make(Role.OWNER), codes.make(Role.LOOKER)
    assert first.code != second.code
    assert len(first.code) == 8  # 40 bits
    with pytest.raises(Refused):
        codes.take(first.code, lambda role: role)


# the book of devices


def test_the_book_keeps_no_key_and_is_its_users_alone(tmp_path: Path) -> None:
    book = DeviceBook(tmp_path / "own", "b1")
    device, key = book.add("Phone", Role.HELPER)
    assert book.of(key) == device
    path = tmp_path / "own" / "devices.sqlite"
    assert (path.stat().st_mode & 0o777, path.parent.stat().st_mode & 0o777) == (0o600, 0o700)
    assert key.encode() not in path.read_bytes()
    assert hashlib.sha256(key.encode()).hexdigest().encode() in path.read_bytes()


def test_a_folder_that_others_may_write_to_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    folder = tmp_path / "own"
    folder.mkdir()
    folder.chmod(0o777)
    with pytest.raises(Refused, match="others may write"):
        DeviceBook(folder, "b1")
    assert folder.stat().st_mode & 0o777 == 0o777
    assert list(folder.iterdir()) == []


def test_a_key_is_good_for_its_own_build_alone(tmp_path: Path) -> None:
    _, key = DeviceBook(tmp_path, "b1").add("Phone", Role.OWNER)
    other = DeviceBook(tmp_path, "b2")
    assert other.of(key) is None
    other.put_out()
    other.put_out(1)
    assert DeviceBook(tmp_path, "b1").of(key) is not None


def test_a_device_that_was_away_for_half_a_year_is_let_in_no_longer(tmp_path: Path) -> None:
    now = datetime(2026, 3, 1, tzinfo=UTC)
    book = DeviceBook(tmp_path, "b1", lambda: now)
    _, key = book.add("Phone", Role.OWNER)
    now += timedelta(days=179)
    assert book.of(key) is not None
    now += timedelta(days=179)
    assert book.of(key) is not None
    now += timedelta(days=181)
    assert book.of(key) is None


@pytest.mark.parametrize("key", ["", "x", "x" * 43, "'" * 43, "\u20ac" * 43])
def test_a_key_nobody_gave_opens_nothing(tmp_path: Path, key: str) -> None:
    assert DeviceBook(tmp_path, "b1").of(key) is None


@pytest.mark.parametrize("name", ["", "  ", "tester@bench", "a\x00b", "a\u202eb", "x" * 61])
def test_a_name_that_could_pass_for_another_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(Refused):
        DeviceBook(tmp_path, "b1").add(name, Role.OWNER)


def test_a_name_that_is_taken_is_refused(tmp_path: Path) -> None:
    book = DeviceBook(tmp_path, "b1")
    book.add("Phone in the garage", Role.OWNER)
    with pytest.raises(Refused, match="another device"):
        book.add("phone  in the Garage", Role.HELPER)


# what a person does


def test_a_device_is_let_in_as_what_the_code_says(app: FastAPI) -> None:
    device = let_in(app, Role.LOOKER, "Tablet")
    assert "Van" in device.get("/").text
    (held,) = share_of(app).book.every()
    assert (held.name, held.role) == ("Tablet", Role.LOOKER)
    assert "let in as Tablet" in device.get("/pair").text


def test_its_cookie_is_for_this_host_over_https_out_of_reach_of_scripts_and_other_sites(app: FastAPI) -> None:
    device, code = stranger(app), share_of(app).invitations.make(Role.OWNER)
    device.get("/pair")
    answer = device.post("/pair", data={"code": code.shown, "name": "Phone"})
    (cookie,) = [each for each in answer.headers.get_list("set-cookie") if each.startswith("__Host-fishplate-")]
    assert {"Path=/", "Secure", "HttpOnly", "SameSite=Strict"} <= set(cookie.split("; "))
    assert "Domain" not in cookie
    for each in answer.headers.get_list("set-cookie"):
        assert "Secure" in each


def test_the_code_is_made_and_closed_on_the_page_and_can_be_scanned(app: FastAPI) -> None:
    with TestClient(app, base_url=ON_MACHINE) as machine:
        machine.get("/")
        page = machine.post("/devices/invitation", data={"role": "helper", "form": "invite"}).text
        code = share_of(app).invitations.open
        assert code is not None
        assert code.role is Role.HELPER
        assert code.shown in page
        assert "<svg" in page
        assert "style=" not in page
        assert page.index(code.shown) < page.index(share_of(app).certificate.fingerprint)
        assert page.count(share_of(app).certificate.fingerprint) == 1
        assert "If one figure differs" in page
        assert code.shown not in machine.post("/devices/invitation/close", data={"form": "x"}).text
        assert share_of(app).invitations.open is None
        refused = machine.post("/devices/invitation", data={"role": "king", "form": "invite"})
        assert refused.status_code == 422
        assert "Not one of the choices" in refused.text


def test_the_page_fills_in_the_code_that_was_scanned_and_lets_nobody_in_by_itself(app: FastAPI) -> None:
    code = share_of(app).invitations.make(Role.OWNER)
    page = stranger(app).get(f"/pair?code={code.shown}")
    assert f'value="{code.shown}"' in page.text
    assert "Van" not in page.text
    assert share_of(app).book.every() == ()
    assert share_of(app).invitations.open == code


def test_a_role_that_is_changed_counts_at_once(app: FastAPI) -> None:
    device = let_in(app, Role.OWNER)
    assert device.get("/devices").status_code == 200
    with TestClient(app, base_url=ON_MACHINE) as machine:
        machine.get("/")
        machine.post("/devices/1/role", data={"role": "looker", "form": "role-1"})
    assert device.get("/devices").status_code == 403


@pytest.mark.parametrize("path", ["/devices/1/out", "/devices/out"])
def test_a_device_that_is_put_out_sees_and_changes_nothing_from_then_on(app: FastAPI, path: str) -> None:
    device = let_in(app, Role.OWNER)
    stolen = dict(device.cookies)
    with TestClient(app, base_url=ON_MACHINE) as machine:
        machine.get("/")
        machine.post(path, data={"form": "x"})
    thief = stranger(app)
    thief.cookies.update(stolen)
    for each in (device, thief):
        answer = each.get("/")
        assert (answer.status_code, answer.headers["location"]) == (303, "/pair")
        assert each.get("/", headers={"HX-Request": "true"}).headers["hx-redirect"] == "/pair"
        assert each.post("/history/undo", data={"revision": "1"}).status_code == 401
        assert each.get("/api/build").status_code == 401
        assert each.post("/api/plan", json={}).status_code == 401


def test_without_sharing_there_is_no_door_and_the_page_says_how_to_share(empty: TestClient) -> None:
    assert empty.get("/pair").status_code == 404
    assert empty.post("/devices/invitation", data={"role": "owner"}).status_code == 404
    assert "--share" in empty.get("/devices").text


# what somebody hostile tries


def test_guessing_closes_the_code_and_says_so_to_whoever_serves(app: FastAPI) -> None:
    clock = Clock()
    share_of(app).invitations._clock = clock
    code = share_of(app).invitations.make(Role.OWNER)
    guesser = stranger(app)
    guesser.get("/pair")
    statuses = []
    for _ in range(2 * MOST_TRIES):
        statuses.append(guesser.post("/pair", data={"code": wrong(code.code), "name": "x"}).status_code)
        clock.now += 0.5
    assert statuses == [422, 429] * MOST_TRIES
    assert guesser.post("/pair", data={"code": code.code, "name": "x"}).status_code == 422
    assert share_of(app).book.every() == ()
    with TestClient(app, base_url=ON_MACHINE) as machine:
        assert "typed wrong ten times" in machine.get("/devices").text


def test_a_code_that_was_used_lets_nobody_else_in(app: FastAPI) -> None:
    code = share_of(app).invitations.make(Role.OWNER)
    first, second = stranger(app), stranger(app)
    for device, status in ((first, 303), (second, 422)):
        device.get("/pair")
        assert device.post("/pair", data={"code": code.shown, "name": "Phone"}).status_code == status
    assert len(share_of(app).book.every()) == 1


def test_a_wrong_code_and_none_at_all_are_told_alike(app: FastAPI) -> None:
    share_of(app).invitations._clock = clock = Clock()
    guesser = stranger(app)
    guesser.get("/pair")
    typed = {"code": "AAAA-AAAA", "name": "Phone"}
    none_open = guesser.post("/pair", data=typed).text
    share_of(app).invitations.make(Role.OWNER)
    clock.now += 5
    assert guesser.post("/pair", data=typed).text == none_open


def test_a_name_that_is_taken_is_told_only_to_who_has_the_code(app: FastAPI) -> None:
    let_in(app, Role.OWNER, "Phone")
    share_of(app).invitations.make(Role.OWNER)
    guesser = stranger(app)
    guesser.get("/pair")
    assert "another device" not in guesser.post("/pair", data={"code": "AAAA-AAAA", "name": "Phone"}).text


def test_a_key_brought_along_is_never_taken_up(app: FastAPI) -> None:
    victim, code = stranger(app), share_of(app).invitations.make(Role.OWNER)
    planted = "p" * 43
    victim.cookies.set(share_of(app).cookie, planted)
    victim.get("/pair")
    answer = victim.post("/pair", data={"code": code.shown, "name": "Phone"})
    assert planted not in answer.headers["set-cookie"]
    attacker = stranger(app)
    attacker.cookies.set(share_of(app).cookie, planted)
    assert attacker.get("/").status_code == 303


def test_letting_a_device_in_anew_ends_its_old_key(app: FastAPI) -> None:
    device = let_in(app, Role.LOOKER)
    old = dict(device.cookies)
    code = share_of(app).invitations.make(Role.HELPER)
    assert device.post("/pair", data={"code": code.shown, "name": "Phone in the garage"}).status_code == 303
    assert [each.role for each in share_of(app).book.every()] == [Role.HELPER]
    thief = stranger(app)
    thief.cookies.update(old)
    assert thief.get("/api/build").status_code == 401


def test_a_code_is_not_taken_from_a_page_of_another_site(app: FastAPI) -> None:
    code = share_of(app).invitations.make(Role.OWNER)
    device = stranger(app)
    data = {"code": code.shown, "name": "Phone"}
    assert device.post("/pair", data=data).status_code == 403  # never saw our page
    device.get("/pair")
    for headers in ({"Origin": "https://evil.example"}, {"Sec-Fetch-Site": "cross-site"}, {"Origin": "null"}):
        assert device.post("/pair", data=data, headers=headers).status_code == 403
    assert device.post("/pair", data=data, headers={"Origin": AT_HOME}).status_code == 303


def test_much_at_the_door_is_refused(app: FastAPI) -> None:
    device = stranger(app)
    device.get("/pair")
    assert device.post("/pair", data={"code": "x" * 20_000, "name": "x"}).status_code == 413

    def drip() -> Iterator[bytes]:
        for _ in range(40):
            yield b"code=" + b"x" * 1000

    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    assert device.post("/pair", content=drip(), headers=headers).status_code == 413


def test_neither_code_nor_key_is_written_anywhere(
    app: FastAPI, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, "fishplate")
    code = share_of(app).invitations.make(Role.HELPER)
    device = stranger(app)
    device.get(f"/pair?code={code.shown}")
    device.post("/pair", data={"code": code.shown, "name": "Phone"})
    device.post("/jobs/sand/hours", data={"revision": "1", "hours": "2"})
    key = next(value for name, value in device.cookies.items() if name.startswith("__Host-"))
    files = [path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()]
    assert len(files) >= 3
    for secret in (code.code, code.shown, key):
        assert secret not in caplog.text
        assert not [each for each in files if secret.encode() in each]
    build = sqlite3.connect(tmp_path / "van.fishplate")
    tables = {name for (name,) in build.execute("select name from sqlite_master")}
    build.close()
    assert "devices" not in tables
    assert not re.search(r"[?&]code=", device.get("/").text)
