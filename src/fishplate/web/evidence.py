"""Evidence: what an inspector will ask, what is there and missing, until when it can be seen; a book to print."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, get_args

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.approval import Evidence, EvidenceKind, Requirement
from ..plan.sentences import day_words
from ..records import RequirementState, requirement_states
from ..records.approval import WHO_DECIDES, lacking_words
from . import jobs, tonight
from .ask import Ask, Asked, Show
from .desk import fresh_id, put, without
from .form import made
from .photos import photos
from .words import listed

if TYPE_CHECKING:
    from .desk import View

router = APIRouter()
KINDS: Final[tuple[str, ...]] = get_args(EvidenceKind)
HEADS: Final = {"missing": "Still missing", "too-late": "Out of sight without it", "there": "There"}


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of evidence; photo : its name in the build file, if it can be shown."""

    id: str
    what: str
    day: date
    said: str
    photo: str


@dataclass(frozen=True, slots=True)
class Row:
    """A requirement.

    Parameters
    ----------
    said : what is there or missing, and until when it can be seen
    seen_at : jobs it can be seen at; hides : the job that hides it, as an id; wants, looked_at_by : as typed
    """

    id: str
    name: str
    standing: str
    said: str
    lookers: str
    seen_at: tuple[tuple[str, str], ...]
    hides: str
    hider: str
    wants: tuple[str, ...]
    looked_at_by: str
    source: str
    note: str
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class EvidencePage:
    """Every requirement, those whose evidence is missing first.

    Parameters
    ----------
    lead : how many have theirs, and what is hidden next
    groups : head and requirements; jobs : to choose from; open : the one that is unfolded
    """

    lead: str
    groups: tuple[tuple[str, tuple[Row, ...]], ...]
    jobs: tuple[tuple[str, str], ...]
    kinds: tuple[str, ...]
    open: str
    who_decides: str = WHO_DECIDES

    @property
    def row(self) -> Row:
        """The requirement that is unfolded."""
        return next(row for _, rows in self.groups for row in rows if row.id == self.open)


def evidence_page(view: View, open_: str = "", shown: Mapping[str, bool] | None = None) -> EvidencePage:
    """The page of all requirements.

    Parameters
    ----------
    open_ : the requirement that is unfolded; shown : photos kept in the file, and whether each can be shown
    """
    days = _days(view)
    states = requirement_states(view.build, view.facts)
    rows = {state.requirement.id: _row(view, state, days, shown or {}) for state in states}
    order = sorted(rows.values(), key=lambda row: days.get(row.id, date.max))  # what is hidden soonest first
    groups = [(head, tuple(row for row in order if row.standing == standing)) for standing, head in HEADS.items()]
    return EvidencePage(
        lead=_lead(view, order, days),
        groups=tuple((head, found) for head, found in groups if found),
        jobs=(("", "nothing hides it"), *((job.id, job.name) for job in view.build.jobs)),
        kinds=KINDS,
        open=open_,
    )


def _days(view: View) -> dict[str, date]:
    """By requirement, the day from which a job may hide it, by the last plan."""
    found = () if view.plan is None else view.plan.deadlines
    return {item.key: item.day for item in found if item.kind == "evidence"}


def _lead(view: View, rows: list[Row], days: Mapping[str, date]) -> str:
    there = sum(row.standing == "there" for row in rows)
    if not rows:
        return "Nothing is asked for yet."
    said = f"{there} of {len(rows)} {'has its' if len(rows) == 1 else 'have their'} evidence."
    late = sum(row.standing == "too-late" for row in rows)
    if late:
        said += f" {late} can't be seen any more."
    soonest = next((row for row in rows if row.standing == "missing" and row.id in days), None)
    if soonest is not None:
        day = day_words(max(days[soonest.id], view.as_of), view.as_of)
        said += f" The next to be hidden is “{soonest.name}”: “{soonest.hider}” may hide it from {day} on."
    return said


def _row(view: View, state: RequirementState, days: Mapping[str, date], shown: Mapping[str, bool]) -> Row:
    build, wanted = view.build, state.requirement
    names = {job.id: job.name for job in build.jobs}
    return Row(
        id=wanted.id,
        name=wanted.name,
        standing=state.standing,
        said=" ".join(_said(view, state, days.get(wanted.id))),
        lookers=listed(list(wanted.looked_at_by), 6) if wanted.looked_at_by else "",
        seen_at=tuple((id_, names[id_]) for id_ in wanted.jobs),
        hides=wanted.visible_until or "",
        hider=names.get(wanted.visible_until or "", ""),
        wants=wanted.wants,
        looked_at_by=", ".join(wanted.looked_at_by),
        source=wanted.source,
        note=wanted.note,
        pieces=tuple(_piece(item, names, shown) for item in state.evidence),
    )


def _said(view: View, state: RequirementState, day: date | None) -> Iterator[str]:
    if not state.missing:
        count = len(state.evidence)
        yield f"{count} piece{'' if count == 1 else 's'} of evidence."
        return
    lacking = lacking_words(state)
    yield f"{lacking[:1].upper()}{lacking[1:]} {'are' if ' and ' in lacking else 'is'} missing."
    if state.hidden_on is not None:
        yield f"It was hidden on {day_words(state.hidden_on, view.as_of)}: ask the inspector what will do instead."
        return
    if state.hides is None:
        yield "Nothing hides it."
        return
    name = view.build.find("jobs", state.hides).name
    if state.hiding:
        yield f"“{name}” has begun and may hide it already: look today."
    else:
        until = "is done" if state.made_there else "begins"
        yield f"It can be seen until “{name}” {until}" + (f", perhaps {day_words(day, view.as_of)}." if day else ".")


def _piece(item: Evidence, names: Mapping[str, str], shown: Mapping[str, bool]) -> Piece:
    said = [item.kind or "", f"at “{names[item.job]}”" if item.job is not None else ""]
    if item.attachment and not shown.get(item.attachment, False):
        said.append("its photo is kept, but can't be shown here")
    photo = item.attachment if shown.get(item.attachment, False) else ""
    return Piece(item.id, item.what, item.day, ", ".join(filter(None, said)), photo)


# edits


def attached(
    build: Build, requirement: str, day: date, what: str, *, kind: str, job: str, attachment: str
) -> Build:  # fmt: skip
    """The build with a piece of evidence; raises Refused with what it can't be."""
    id_ = fresh_id(build, "evidence", f"{requirement} {day.isoformat()}")
    fields = {"id": id_, "requirement": requirement, "day": day, "what": what, "kind": kind or None}
    return put(build, "evidence", made(Evidence, **fields, job=job or None, attachment=attachment))


def removed(build: Build, requirement: str) -> Build:
    """The build without a requirement and its evidence."""
    left = tuple(item for item in build.evidence if item.requirement != requirement)
    return without(build.model_copy(update={"evidence": left}), "requirements", requirement)


# routes


def show_evidence(ask: Ask, open_: str = "") -> Response:
    """The page."""
    unfolded = open_ or ask.request.query_params.get("open", "")
    return ask.show("evidence.html", evidence_page(ask.view, unfolded, photos(ask)), title="Evidence")


@router.get("/evidence")
def show(ask: Asked) -> Response:
    """The page."""
    return show_evidence(ask)


@router.get("/evidence/book")
def show_book(ask: Asked) -> Response:
    """The book of evidence, to print."""
    return ask.show("evidence_book.html", evidence_page(ask.view, "", photos(ask)), title="Book of evidence")


@router.get("/evidence/{id_}")
def show_one(id_: str, ask: Asked) -> Response:
    """One requirement, and what is asked."""
    return _again(id_)(ask)


@router.post("/evidence")
def add(ask: Asked) -> Response:
    """Something else that an inspector will ask for."""
    name = ask.form.text("name")

    def edit(build: Build) -> Build:
        fields = _told(ask, build)
        if ask.form.problems:
            return build
        return put(build, "requirements", made(Requirement, id=fresh_id(build, "requirements", name), **fields))

    return ask.write(edit, message=f"asked for: {name[:150]}", back="/evidence", again=show_evidence)


@router.post("/evidence/{id_}")
def attach(id_: str, ask: Asked) -> Response:
    """Evidence for a requirement, from here, from a job's page or from Tonight."""
    name = ask.find("requirements", id_).name
    job = ask.form.text("at")

    def edit(build: Build) -> Build:
        form = ask.form
        kind = form.choice("kind", KINDS) if form.text("kind") else ""
        day = form.day("day", ask.today)
        if day > ask.today:
            form.refuse("day", "after today", day.isoformat(), "Give the day it was taken.")
        what = form.text("what") or ("Photo" if "photo" in form.files else "")
        if not what:
            form.refuse("what", "nothing was filled in", do="Say what it shows, or take a photo.")
        photo = ask.keep_photo("photo", f"{id_} {day.isoformat()}")
        if form.problems:
            return build
        at = job if job in build.index["jobs"] else ""
        return attached(build, id_, day, what, kind=kind or ("photo" if photo else ""), job=at, attachment=photo)

    back, again = _where_from(ask, id_, job)
    return ask.write(edit, message=f"evidence for {name}"[:200], back=back, again=again)


def _where_from(ask: Ask, id_: str, job: str) -> tuple[str, Show]:
    """Where a form of evidence was sent from: the page to go back to, and what shows it again."""
    known = job in ask.view.build.index["jobs"]
    match ask.form.text("from"):
        case "tonight":
            return f"/tonight?{tonight.evening_asked(ask).query}", tonight.show_tonight
        case "job" if known:
            return f"/jobs/{job}", lambda ask: jobs.show_job(ask, job)
        case _:
            return f"/evidence?open={id_}#requirement-{id_}", lambda ask: show_evidence(ask, id_)


@router.post("/evidence/{id_}/change")
def change(id_: str, ask: Asked) -> Response:
    """What is asked for, until when it can be seen, who may look at it."""
    name = ask.find("requirements", id_).name

    def edit(build: Build) -> Build:
        fields = _told(ask, build)
        if ask.form.problems:
            return build
        return put(build, "requirements", made(Requirement, **{**dict(build.find("requirements", id_)), **fields}))

    back = f"/evidence?open={id_}#requirement-{id_}"
    return ask.write(edit, message=f"changed what is asked: {name}"[:200], back=back, again=_again(id_))


@router.post("/evidence/{id_}/gone")
def remove(id_: str, ask: Asked) -> Response:
    """A requirement is not asked for any more."""
    name = ask.find("requirements", id_).name
    message = f"not asked any more: {name}"[:200]
    return ask.write(lambda build: removed(build, id_), message=message, back="/evidence", again=_again(id_))


@router.post("/evidence/{id_}/pieces/{piece}/gone")
def remove_piece(id_: str, piece: str, ask: Asked) -> Response:
    """A piece of evidence is taken out."""
    what = ask.find("evidence", piece).what
    back = f"/evidence?open={id_}#requirement-{id_}"

    def edit(build: Build) -> Build:
        return without(build, "evidence", piece)

    return ask.write(edit, message=f"took out the evidence {what}"[:200], back=back, again=_again(id_))


def _again(id_: str) -> Show:
    """Shows one requirement by itself."""

    def show(ask: Ask) -> Response:
        name = ask.find("requirements", id_).name
        return ask.show("requirement.html", evidence_page(ask.view, id_, photos(ask)), title=name)

    return show


def _told(ask: Ask, build: Build) -> dict[str, object]:
    form = ask.form
    known = build.index["jobs"]
    also = form.text("also_at")
    return {
        "name": form.required("name", "Say what is asked for."),
        "visible_until": form.choice("visible_until", list(known)) or None if form.text("visible_until") else None,
        "jobs": tuple(dict.fromkeys(id_ for id_ in (*form.every("jobs"), also) if id_ in known)),
        "wants": tuple(kind for kind in KINDS if kind in form.every("wants")),
        "looked_at_by": tuple(filter(None, (who.strip() for who in form.text("looked_at_by").split(",")))),
        "source": form.text("source"),
        "note": form.text("note"),
    }
