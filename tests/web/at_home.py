"""How tests share a build on a home network of their own."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from fastapi.testclient import TestClient
from serving import AUTHOR, IdleRunner

from fishplate.build import Build
from fishplate.build.base import ThreePoint
from fishplate.build.jobs import Job
from fishplate.build.parts import Phase
from fishplate.plan import Plan
from fishplate.starters import demo_as_of
from fishplate.store import BuildFile
from fishplate.store.devices import DeviceBook, Role
from fishplate.store.plans import PLAN, dump_plan
from fishplate.web import create_app
from fishplate.web.certificate import kept_certificate
from fishplate.web.listening import at_home
from fishplate.web.sharing import Share

ADDRESS = "192.168.7.20"
AT_HOME = f"https://{ADDRESS}:8138"
ON_MACHINE = "http://127.0.0.1:8137"


def van() -> Build:
    """A build with one job."""
    hours = ThreePoint(low=2, likely=3, high=5)
    return Build(name="Van", jobs=(Job(id="sand", name="Sand the floor", phase=Phase.STRIP, hours=hours),))


@contextmanager
def shared(
    folder: Path, build: Build, plan: Plan | None = None, *, address: str = ADDRESS, port: int = 8138
) -> Iterator[FastAPI]:
    """The pages of a build that is shared; plans are not worked out. What was there before is taken up again."""
    path = folder / "van.fishplate"
    if path.exists():
        file = BuildFile.open(path)
    else:
        file = BuildFile.create(path, build, author=AUTHOR, message="started")
        if plan is not None:
            file.memo_put(PLAN, dump_plan(plan))
    names = frozenset((address, "garage", "garage.local"))
    certificate = kept_certificate(folder / "own", names)
    share = Share(file.build_id, (address,), names, port, certificate, DeviceBook(folder / "own", file.build_id))
    day: date = demo_as_of()
    app = create_app(path, today=lambda: day, author=AUTHOR, runner=IdleRunner(), quiet_seconds=3600, share=share)
    yield app
    app.state.desk.close()


def share_of(app: FastAPI) -> Share:
    """What a build is shared with."""
    share: Share = app.state.share
    return share


def stranger(app: FastAPI) -> TestClient:
    """A device that was not let in."""
    return TestClient(app, base_url=AT_HOME, follow_redirects=False, raise_server_exceptions=False)


def let_in(app: FastAPI, role: Role, name: str = "Phone in the garage") -> TestClient:
    """A device that was let in by a code, as a person does it."""
    device, code = stranger(app), share_of(app).invitations.make(role)
    device.get("/pair")
    assert device.post("/pair", data={"code": code.shown, "name": name}).status_code == 303
    return device


@contextmanager
def serving_at_home(
    folder: Path, build: Build, plan: Plan | None = None, *, port: int = 0, secure: bool = True
) -> Iterator[FastAPI]:
    """Serve a build over https, or as the machine's own, on a free port of this machine or the one it was at before."""
    listener = socket.socket()
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listener.bind(("127.0.0.1", port))
    with shared(folder, build, plan, address="127.0.0.1", port=listener.getsockname()[1]) as app:
        config = at_home(app, share_of(app)) if secure else uvicorn.Config(app, log_level="warning", lifespan="off")
        app.state.config = config
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, args=([listener],), daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield app
        server.should_exit = True
        thread.join(10)
    listener.close()
