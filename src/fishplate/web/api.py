"""The JSON API: read the build and the plan, change the build, run a plan. Described at /api/openapi.json."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, HTTPException, Request
from pydantic import BaseModel, ConfigDict, Field

from ..build import document_data
from ..build.document import LISTS
from ..plan import plan_data
from ..store import Change, batch_words
from .desk import Desk

router = APIRouter(prefix="/api", tags=["build"])


def _desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


TheDesk = Annotated[Desk, Depends(_desk)]


class Asked(BaseModel):
    """One noun to put in or take out.

    Parameters
    ----------
    list : a list of the build document, or "build" for one of its own fields, such as owner
    id : the noun's id, or the field's name
    after : the noun as in the build document; null takes it out
    """

    model_config = ConfigDict(extra="forbid")

    list: str
    id: str
    after: Any = None


class Edit(BaseModel):
    """Changes to make together, against the revision they were thought out for."""

    model_config = ConfigDict(extra="forbid")

    revision: int = Field(ge=1)
    changes: list[Asked] = Field(min_length=1, max_length=10_000)
    message: str = Field(default="", max_length=400)


@router.get("/build")
def read_build(desk: TheDesk) -> dict[str, Any]:
    """The build document and its revision."""
    view = desk.view()
    return {"revision": view.revision, "build": document_data(view.build)}


@router.get("/build/{name}")
def read_list(name: str, desk: TheDesk) -> dict[str, Any]:
    """One list of the build document, such as parts."""
    if name not in LISTS:
        raise HTTPException(404)
    view = desk.view()
    nouns = [noun.model_dump(mode="json", exclude_defaults=True) for noun in getattr(view.build, name)]
    if name == "events":
        nouns = [{"kind": noun.kind, **data} for noun, data in zip(view.build.events, nouns, strict=True)]
    return {"revision": view.revision, name: nouns}


@router.post("/build")
def change_build(edit: Annotated[Edit, Body()], desk: TheDesk) -> dict[str, int]:
    """Make changes in one batch. 409 if what they touch was changed since, 422 with every problem if refused."""
    changes = [Change(item.list, item.id, item.after) for item in edit.changes]
    message = edit.message or "changed through the interface for programs"
    return {"revision": desk.change(changes, revision=edit.revision, message=message)}


@router.post("/undo")
def undo(desk: TheDesk, revision: Annotated[int, Body(embed=True, ge=1)]) -> dict[str, int]:
    """Take back the last change."""
    return {"revision": desk.undo(revision=revision).number}


@router.post("/redo")
def redo(desk: TheDesk, revision: Annotated[int, Body(embed=True, ge=1)]) -> dict[str, int]:
    """Make the last undone change again."""
    return {"revision": desk.redo(revision=revision).number}


@router.get("/history")
def read_history(desk: TheDesk, since: int = 0) -> list[dict[str, Any]]:
    """Batches of changes after a revision, oldest first."""
    return [
        {
            "revision": batch.number,
            "kind": batch.kind,
            "takes": batch.takes,
            "at": batch.at.isoformat(),
            "author": batch.author,
            "message": batch.message,
            "changes": list(batch_words(batch.changes)),
        }
        for batch in desk.file.history(since=max(0, since))
    ]


@router.get("/plan")
def read_plan(desk: TheDesk) -> dict[str, Any]:
    """The last plan, whether it is of this revision and day, and how far the next one is."""
    view = desk.view()
    return {
        "revision": view.revision,
        "is_current": view.is_current,
        "changes_since": view.changes_since,
        "progress": asdict(desk.progress),
        "plan": None if view.plan is None else plan_data(view.plan),
    }


@router.post("/plan", status_code=202)
def start_plan(desk: TheDesk, _nothing: Annotated[dict[str, Any] | None, Body()] = None) -> dict[str, Any]:
    """Plan now, in a process of its own."""
    desk.plan_now()
    return asdict(desk.progress)


@router.post("/plan/stop")
def stop_plan(desk: TheDesk, _nothing: Annotated[dict[str, Any] | None, Body()] = None) -> dict[str, Any]:
    """Give up the plan that is being worked out; the last one stands."""
    desk.stop_planning()
    return asdict(desk.progress)
