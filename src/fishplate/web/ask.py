"""One request: what is shown, what was typed, how a change is written and what comes back."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property
from importlib.resources import files
from typing import Annotated, Any, Final
from urllib.parse import quote, unquote

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from ..build import Build, Problem, Refused
from ..build.edit_faults import edit_faults
from ..build.formats import use
from ..store import Batch, RevisionConflict, with_reasons
from ..store.build_file import Note
from .desk import Desk, Edit, View
from .explaining import empty, heading, term
from .form import MAX_PHOTO_BYTES, PHOTO_KINDS, Form, photo_kind
from .hands import HAND
from .key_table import key_acts
from .looks import Look, loses_verdict
from .photo_facts import without_place
from .rights import may_read
from .rooms import ROOMS, room_of
from .sendings import HEADER as SENDING
from .sendings import Sent
from .small_photos import SMALL
from .words import FILTERS, GLOBALS

DONE: Final = "done"
MOST_SAID: Final = 400
MOST_WHY: Final = 2000
LOOK: Final = "look"  # the button that shows first what comes of a form
LOOKED: Final = "looked"  # the name of what was shown, sent with the form once it is to be written
WHY: Final = "looked-why"  # why it is done, typed where it was shown
TURNING_SECONDS: Final = 10.0  # how long a form waits for whether it turns a verdict over, before it is shown that
Show = Callable[["Ask"], Response]


class NotHereError(LookupError):
    """Something asked for is not in the build; told as a page that was not found."""


@dataclass(frozen=True, slots=True)
class Filled:
    """A form as the page shows it: with what was typed and what was wrong with it, if it was just refused.

    Parameters
    ----------
    key : names the form on its page, and the draft kept of it
    """

    key: str
    revision: int
    form: Form | None
    problems: tuple[Problem, ...] = ()

    def value(self, name: str, default: Any = "") -> Any:
        """What was typed, or the default."""
        return default if self.form is None else self.form.text(name)

    def has(self, name: str, value: str, default: bool = False) -> bool:
        """Whether a box is ticked, or one of several values was taken."""
        return default if self.form is None else value in self.form.every(name)

    def faults(self, name: str) -> list[Problem]:
        """What was wrong with a field."""
        return [problem for problem in self.problems if problem.where == name]

    @property
    def other_faults(self) -> list[Problem]:
        """What was wrong beside the fields, or with the form as a whole."""
        fields = set() if self.form is None else (self.form.fields.keys() | self.form.files.keys()) - {"form"}
        return [problem for problem in self.problems if problem.where not in fields]


class Ask:
    """One request, made for the route by `asked`."""

    def __init__(self, request: Request, desk: Desk, form: Form) -> None:
        self.request, self.desk, self.form = request, desk, form
        self.problems: tuple[Problem, ...] = ()
        self.explained: set[str] = set()
        self._photos: dict[str, str] = {}

    @cached_property
    def view(self) -> View:
        """What is shown; read once a request, after what it writes."""
        return self.desk.view()

    @property
    def today(self) -> date:
        """The day it is."""
        return self.desk.today()

    @property
    def in_place(self) -> bool:
        """Whether a piece of a page is asked for, not a whole one."""
        return "hx-request" in self.request.headers and "piece" in self.request.query_params

    def find(self, list_name: str, id_: str) -> Any:
        """A noun of the build; the page is not found if there is none."""
        try:
            return self.view.build.find(list_name, id_)
        except KeyError:
            raise NotHereError(list_name, id_) from None

    def told(self, text: str) -> str:
        """Words that do not leave on a page of their own telling: in a field, in a file."""
        return self.desk.teller().text(text)

    def filled(self, key: str) -> Filled:
        """A form for the page, by its key."""
        mine = bool(self.problems) and self.form.text("form") == key
        return Filled(key, self.view.revision, self.form if mine else None, self.problems if mine else ())

    def show(self, template: str, page: Any = None, *, title: str, status: int = 200) -> Response:
        """A page from its model; answers 422 where it shows a refused form."""
        if self.problems and status == 200:
            status = 422
        self.explained.clear()
        done, key, said = self._just_done()
        text = (
            templates()
            .get_template(template)
            .render(
                ask=self, view=self.view, page=page, title=title, done=done, done_key=key, read_as=said, **self._frame()
            )
        )
        response = HTMLResponse(self.desk.teller().page(text), status_code=status)
        if DONE in self.request.cookies:
            response.delete_cookie(DONE, samesite="strict")
        if status >= 400:
            response.headers["HX-Push-Url"] = "false"
        return response

    def write(
        self, edit: Edit, *, message: str, back: str | Callable[[], str], again: Show, verdicts: bool = False
    ) -> Response:
        """Change the build, in one batch, and go back to a page; or show first what comes of it, where that was asked.

        Parameters
        ----------
        edit : from the build as it is to the build as it shall be; reads the form, so that its faults are found
        message : what was done, for the history
        back : where to go then; called where only the edit tells
        again : shows the page the form is on, if it is refused
        verdicts : whether it is shown first, unasked, where a verdict is lost
        """
        came = self._came_of_it()
        if came is not None:
            message = with_reasons(message, self.form.text(WHY)[:MOST_WHY], came)
        elif self.form.ticked(LOOK) or self.form.ticked(LOOKED) or verdicts:
            look = self._look(edit, back)
            if look is not None and (shown := self._shown_first(look)) is not None:
                return shown
            self.form.problems.clear()  # writing it finds them again
            self.form.said.clear()

        def checked(build: Build) -> Build:
            try:
                new = edit(build)
            except Refused as refused:
                raise Refused([*self.form.problems, *refused.problems]) from None
            if self.form.problems:
                raise Refused(self.form.problems)
            return new

        try:
            sent = self._written_once(checked, message, back)
        except RevisionConflict:
            raise
        except Refused as refused:
            self.problems = refused.problems
            return again(self)
        return self.leave(sent.back, sent.revision)

    def _look(self, edit: Edit, back: str | Callable[[], str]) -> Look | None:
        """The edit, to be looked at; None if it can't be made, which writing it tells."""
        view = self.view
        try:
            after = edit(view.build)
        except Refused:
            return None
        if self.form.problems or list(edit_faults(view.build, after)):
            return None
        own = {LOOK, LOOKED, WHY}
        typed = [(name, value) for name, values in self.form.fields.items() if name not in own for value in values]
        typed += self._photos.items()
        why, anew = self.form.text(WHY), self.form.ticked(LOOKED)
        leave = back if isinstance(back, str) else back()
        return Look(view, after, self.request.url.path, tuple(typed), leave, why, anew)

    def _shown_first(self, look: Look) -> Response | None:
        """The page of what comes of an edit; None if that was not asked for and no verdict is lost."""
        asked = self.form.ticked(LOOK) or look.anew
        lost = None if asked else loses_verdict(look)
        if lost is False:
            return None
        name = self.desk.looks.begin(look)
        if not asked and lost is None:
            held = self.desk.looks.of(name, patience_seconds=TURNING_SECONDS)
            if held is not None and held[1].value is not None and not held[1].value.flips:
                return None
        return RedirectResponse(f"/before/{name}", status_code=303)

    def _came_of_it(self) -> tuple[str, ...] | None:
        """What was shown to come of the form before it is written; None if it must be shown first, or again.

        It is not held any more once the program was started again, unless the sending was written before that.
        """
        if not self.form.ticked(LOOKED):
            return None
        held = self.desk.looks.of(self.form.text(LOOKED), patience_seconds=0)
        if held is not None:
            return () if held[1].value is None else held[1].value.lines
        written = self.desk.sendings.of(self.request.headers.get(SENDING, ""), self.request.url.path)
        return None if written is None else ()

    def _written_once(self, edit: Edit, message: str, back: str | Callable[[], str]) -> Sent:
        """Write, unless the same sending was written already and only its answer never came."""
        name, path = self.request.headers.get(SENDING, ""), self.request.url.path

        def do(note: Note | None) -> int:
            return self.desk.write(edit, revision=self.revision, message=message, note=note)

        return self.desk.sendings.write(name, path, do, lambda: back if isinstance(back, str) else back())

    def keep_photo(self, field: str, words: str) -> str:
        """Keep an uploaded photo in the build file, without its place; returns its name there, empty if none came.

        Where the form was looked at before it is written, its photo is kept already.
        """
        already = self.form.text(f"kept_{field}")
        if already and any(each.name == already for each in self.desk.file.attachments()):
            return already
        if field not in self.form.files or self.form.problems:
            return ""
        name, content = self.form.files[field]
        kind = photo_kind(content)
        if not kind or len(content) > MAX_PHOTO_BYTES:
            self.form.refuse(field, "not a photo of at most 20 MiB", name, "Send a JPEG, PNG, WebP or HEIC picture.")
            return ""
        content = without_place(content)
        stem = "-".join("".join(c if c.isascii() and c.isalnum() else " " for c in words.casefold()).split())
        kept = f"{stem}-{hashlib.sha256(content).hexdigest()[:8]}.{PHOTO_KINDS[kind]}"
        self.desk.file.attach(kept, content, media_type=kind, author=self.desk.author)
        self.desk.small_photos.soon(hashlib.sha256(content).hexdigest(), SMALL, content)
        self._photos[f"kept_{field}"] = kept
        return kept

    def leave(self, back: str, revision: int | None = None) -> Response:
        """Go to a page after something was done; what was typed needs no keeping any more.

        Parameters
        ----------
        revision : the revision made, if the build was changed; the next page says what was written
        """
        response = RedirectResponse(back, status_code=303)
        said = "; ".join(self.form.said)[:MOST_SAID]
        value = quote(f"{revision or 0} {self.form.text('form')}\n{said}", safe="")
        response.set_cookie(DONE, value, samesite="strict", httponly=True)
        return response

    @property
    def revision(self) -> int:
        """The revision the person saw; today's if the form does not say."""
        text = self.form.text("revision")
        return int(text) if text.isdigit() and len(text) < 12 else self.view.revision

    def _just_done(self) -> tuple[Batch | None, str, str]:
        """The change made by the last request, the form it came from, and how its figures were read."""
        number, _, rest = unquote(self.request.cookies.get(DONE, "")).partition(" ")
        key, _, said = rest.partition("\n")
        if not number.isdigit() or int(number) != self.view.revision:  # or was changed again since
            return None, key, ""
        found = self.desk.file.history(since=int(number) - 1)
        return (found[-1] if found else None), key, said

    def _frame(self) -> dict[str, Any]:
        """What the base template needs."""
        return {
            "rooms": [room for room in ROOMS if may_read(HAND.get(), room.path)],
            "hand": HAND.get(),
            "here": room_of(self.request.url.path),
            "progress": self.desk.progress,
            "key_acts": key_acts(),
        }


@cache
def templates() -> Environment:
    """The page templates."""
    environment = Environment(
        loader=PackageLoader("fishplate.web"),
        autoescape=select_autoescape(),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(FILTERS)
    environment.globals.update(GLOBALS, static=static, term=term, heading=heading, empty=empty)
    return environment


@cache
def static(name: str) -> str:
    """Address of an asset, which changes when the asset does."""
    content = (files(__package__) / "static" / name).read_bytes()
    return f"/static/{name}?{hashlib.sha256(content).hexdigest()[:10]}"


async def asked(request: Request) -> Ask:
    """The request, with its form read, once."""
    if isinstance(held := getattr(request.state, "ask", None), Ask):
        return held
    fields: dict[str, list[str]] = {}
    uploads: dict[str, tuple[str, bytes]] = {}
    if request.headers.get("content-type", "").startswith(("application/x-www-form-urlencoded", "multipart/form-data")):
        async with request.form(max_files=8, max_fields=5000) as data:
            for name, value in data.multi_items():
                if not isinstance(value, UploadFile):
                    fields.setdefault(name, []).append(value)
                elif value.filename:
                    uploads[name] = value.filename, await value.read()
    desk: Desk = request.app.state.desk
    use((await run_in_threadpool(desk.view)).build.owner.formats)
    found = Ask(request, desk, Form(fields, uploads))
    request.state.ask = found
    return found


Asked = Annotated[Ask, Depends(asked)]
