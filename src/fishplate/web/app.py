"""The one place where the page is put together."""

from __future__ import annotations

import importlib
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Final

from fastapi import Depends, FastAPI, HTTPException, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException as PlainHTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from .. import __version__
from ..build import Refused
from ..store import RevisionConflict
from .ask import Ask, NotHereError, asked
from .beside import Beside
from .desk import QUIET_SECONDS, Desk
from .failures import note_failure
from .form import Form
from .guard import Guard, TooLargeError, headers_for
from .rights import NotAllowedError, permitted
from .rooms import ROOMS
from .sharing import Share
from .trials import Trials
from .worker import ProcessRunner, Runner

PACKED: Final = 5  # level of compression: beyond it, time grows and pages hardly shrink
_BESIDE_ROOMS: Final = ("planning", "more", "photos", "questions", "searching", "keys", "several", "first")


def create_app(
    path: Path,
    *,
    today: Callable[[], date],
    author: str,
    runner: Runner | None = None,
    quiet_seconds: float = QUIET_SECONDS,
    share: Share | None = None,
) -> FastAPI:
    """The page for one build file.

    Parameters
    ----------
    path : the build file; raises Refused if it can't be opened
    today : gives the day; author : who makes the changes
    runner : works out plans; a process of its own if left out
    quiet_seconds : how long to leave the file alone after a change before a plan starts by itself [s]
    share : what it is shared with on the home network; None where it is for this machine alone
    """
    make: Callable[[], Runner] = ProcessRunner if runner is None else lambda: runner
    desk = Desk(
        path, today=today, author=author, runner=make(), quiet_seconds=quiet_seconds, trials=Trials(make),
        beside=Beside(make),
    )  # fmt: skip

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        desk.start()
        yield
        desk.close()

    app = FastAPI(
        title="Fishplate", version=__version__, lifespan=lifespan, openapi_url="/api/openapi.json", docs_url=None,
        redoc_url=None, dependencies=[Depends(permitted)],
    )  # fmt: skip
    app.state.desk, app.state.share = desk, share
    for module in (*_BESIDE_ROOMS, *(room.module for room in ROOMS), "api"):
        in_schema = module == "api"
        app.include_router(importlib.import_module(f"{__package__}.{module}").router, include_in_schema=in_schema)
    app.mount("/static", _Assets(directory=str(files(__package__) / "static")), name="static")
    app.add_middleware(GZipMiddleware, compresslevel=PACKED)
    app.add_middleware(Guard, share=share)
    _add_failures(app)
    return app


class _Assets(StaticFiles):
    """Assets, kept by the browser for a year: their address changes with their content."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        return response


def _add_failures(app: FastAPI) -> None:
    """One table from what was raised to what the person sees."""
    app.add_exception_handler(RevisionConflict, _conflict)
    app.add_exception_handler(Refused, _refused)
    app.add_exception_handler(NotHereError, _not_here)
    app.add_exception_handler(NotAllowedError, _not_allowed)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(PlainHTTPException, _http)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(TooLargeError, _too_large)
    app.add_exception_handler(Exception, _own_failure)


async def _conflict(request: Request, error: Exception) -> Response:
    assert isinstance(error, RevisionConflict)
    if _is_api(request):
        return _problems(409, error)
    ask = await asked(request)
    return ask.show("conflict.html", error, title="Changed by two hands", status=409)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    if _is_api(request):
        return _problems(422, error)
    return await _page(request, 422, "Not taken", "Nothing was changed.", error)


async def _not_here(request: Request, _error: Exception) -> Response:
    return await _page(
        request, 404, "Not here", "There is nothing at this address. It may have been renamed or removed."
    )


async def _not_allowed(request: Request, _error: Exception) -> Response:
    words = "This device may not do that. Whoever serves the build can allow it, under Devices. Nothing was changed."
    return await _page(request, 403, "Not for this device", words)


async def _not_understood(request: Request, error: Exception) -> Response:
    if _is_api(request):
        assert isinstance(error, RequestValidationError)
        faults = [{"where": ", ".join(map(str, e["loc"])), "what": e["msg"]} for e in error.errors()]
        return JSONResponse({"problems": faults}, 422)
    return await _page(
        request, 422, "Not understood", "The address or the form is not one of ours. Nothing was changed."
    )


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, PlainHTTPException)
    if error.status_code == 404:
        return await _not_here(request, error)
    words = "This can't be asked here." if error.status_code == 405 else "The request could not be read."
    return await _page(request, error.status_code, "Not understood", f"{words} Nothing was changed.")


async def _too_large(request: Request, _error: Exception) -> Response:
    return await _page(request, 413, "Too large", "That is more than 32 MiB. Make it smaller and send it again.")


async def _own_failure(request: Request, _error: Exception) -> Response:
    words = f"Fishplate failed (incident {note_failure()}). Your build is unchanged."
    response = await _page(request, 500, "Our own failure", words)
    response.headers.update({**headers_for(request.scope), "Cache-Control": "no-store"})  # it never passes the guard
    return response


async def _page(request: Request, status: int, title: str, words: str, error: Refused | None = None) -> Response:
    if _is_api(request):
        return JSONResponse({"problems": [{"what": words}]}, status)
    problems = () if error is None else error.problems
    ask = Ask(request, request.app.state.desk, Form({}))
    return ask.show("refused.html", {"words": words, "problems": problems}, title=title, status=status)


def _is_api(request: Request) -> bool:
    return request.url.path.startswith("/api/")


def _problems(status: int, error: Refused) -> Response:
    keys = ("where", "code", "what", "got", "do")
    return JSONResponse({"problems": [{key: getattr(item, key) for key in keys} for item in error.problems]}, status)
