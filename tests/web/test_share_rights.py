"""What devices of each kind may do: every address that changes something has a declared right, and it is enforced."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from at_home import ON_MACHINE, let_in, share_of, shared, van
from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from fishplate.store.devices import Role
from fishplate.web.rights import MAY, right_for, rights

READS = {"GET", "HEAD", "OPTIONS"}


def every_route(routes: list[object]) -> Iterator[object]:
    """Routes of an app and of the routers in it."""
    for route in routes:
        inner = getattr(route, "original_router", None)
        if inner is None:
            yield route
        else:
            yield from every_route(inner.routes)


def writes(app: FastAPI) -> list[APIRoute]:
    """Routes that change or work out something."""
    found = []
    for route in every_route(list(app.routes)):
        if isinstance(route, APIRoute) and route.methods - READS:
            found.append(route)
        else:
            assert (getattr(route, "methods", None) or READS) <= READS, f"{route} writes past the rights"
    return found


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    """A shared build with a job."""
    with shared(tmp_path, van()) as found:
        yield found


def test_every_write_has_a_declared_right_and_every_right_an_address(app: FastAPI) -> None:
    paths = {route.path for route in writes(app)}
    assert len(paths) > 100
    assert sorted(path for path in paths if right_for(path, {}) is None) == []
    stale = {path for path in rights() if path not in paths and not path.startswith("/week/")}
    assert sorted(stale) == []
    assert set(rights().values()) == MAY[Role.OWNER]


def filled(path: str, **known: str) -> str:
    """A route's path with something in each place."""
    return re.sub(r"\{(\w+)(:\w+)?\}", lambda found: known.get(found[1], "1"), path)


def status(device: TestClient, path: str) -> int:
    if path.startswith("/api/"):
        return device.post(path, json={"revision": 1}).status_code
    return device.post(path, data={"revision": "1"}).status_code


@pytest.mark.parametrize("role", [Role.LOOKER, Role.HELPER])
def test_no_write_is_open_to_a_device_that_lacks_its_right(app: FastAPI, role: Role) -> None:
    device = let_in(app, role)
    history = len(app.state.desk.file.history())
    for route in writes(app):
        allowed = right_for(route.path, {}) in MAY[role]
        assert (status(device, filled(route.path)) != 403) is allowed, route.path
    for kind, allowed in (("do", True), ("measure", True), ("buy", False), ("decide", False), ("collect", False)):
        path = filled("/week/{kind}/{key}", kind=kind)
        assert (status(device, path) != 403) is (allowed and role is Role.HELPER), path
    assert len(app.state.desk.file.history()) == history


def test_an_address_without_a_declared_right_is_refused_even_to_an_owner(app: FastAPI) -> None:
    @app.post("/new-and-forgotten")
    def forgotten() -> str:
        return "done"

    assert status(let_in(app, Role.OWNER), "/new-and-forgotten") == 403
    with TestClient(app, base_url=ON_MACHINE) as machine:
        machine.get("/")
        assert status(machine, "/new-and-forgotten") == 200


@pytest.mark.parametrize(("role", "allowed"), [(Role.OWNER, 200), (Role.HELPER, 403), (Role.LOOKER, 403)])
def test_only_an_owner_sees_who_is_let_in_and_the_code(app: FastAPI, role: Role, allowed: int) -> None:
    device = let_in(app, role)
    code = share_of(app).invitations.make(Role.OWNER)
    page = device.get("/devices")
    assert page.status_code == allowed
    assert (code.shown in page.text) is (allowed == 200)
    first = device.get("/")
    assert first.status_code == 200
    assert "Here as Phone in the garage" in first.text
    assert ("which only looks" in first.text) is (role is Role.LOOKER)
    assert ('href="/devices"' in first.text) is (allowed == 200)
    assert device.get("/api/build").status_code == 200


def hours(device: TestClient, app: FastAPI, hours: str = "2") -> int:
    data = {"revision": str(app.state.desk.file.revision), "hours": hours, "form": "hours-sand"}
    return device.post("/jobs/sand/hours", data=data).status_code


def test_what_a_device_writes_carries_its_name(app: FastAPI) -> None:
    assert hours(let_in(app, Role.HELPER, "Phone of a friend"), app) == 303
    assert app.state.desk.file.history()[-1].author == "Phone of a friend"
    with TestClient(app, base_url=ON_MACHINE) as machine:
        machine.get("/")
        assert hours(machine, app) == 200
        assert "Phone of a friend" in machine.get("/history").text
    assert app.state.desk.file.history()[-1].author == "tester@bench"


def turn(device: TestClient, app: FastAPI, kind: str, *, ahead: int = 0) -> int:
    revision = app.state.desk.file.revision + ahead
    return device.post(f"/history/{kind}", data={"revision": str(revision)}).status_code


def test_a_helper_takes_back_its_own_change_alone(app: FastAPI) -> None:
    mine, other = let_in(app, Role.HELPER, "Mine"), let_in(app, Role.HELPER, "Other")
    hours(mine, app)
    assert turn(other, app, "undo") == 422
    assert "The last change is by Mine" in other.post("/history/undo", data={"revision": "2"}).text
    assert other.post("/api/undo", json={"revision": 2}).status_code == 422
    assert turn(mine, app, "undo") == 303
    assert turn(other, app, "redo") == 422
    assert turn(mine, app, "redo") == 303


def test_what_the_owner_took_back_a_helper_does_not_make_again(app: FastAPI) -> None:
    helper, owner = let_in(app, Role.HELPER, "Helper"), let_in(app, Role.OWNER, "Own phone")
    hours(helper, app)
    assert turn(owner, app, "undo") == 303
    assert turn(helper, app, "redo") == 422
    assert turn(owner, app, "redo") == 303
    assert turn(helper, app, "undo") == 422


def test_a_revision_that_is_yet_to_come_does_not_get_round_that(app: FastAPI) -> None:
    helper, owner = let_in(app, Role.HELPER, "Helper"), let_in(app, Role.OWNER, "Own phone")
    hours(helper, app)
    hours(owner, app)
    assert turn(helper, app, "undo", ahead=1) == 422
    assert turn(helper, app, "undo", ahead=-1) == 409
    assert len(app.state.desk.view().build.events) == 2
