"""Parts tapped into their phase, one after the other: eight words, one tap or one key each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import APIRouter
from fastapi.responses import Response

from ..build import Build
from ..build.parts import Part, Phase
from .ask import Ask, Asked
from .part import Tap, counted
from .part_edits import phased
from .words import PHASE_WORDS

if TYPE_CHECKING:
    from .desk import View

router = APIRouter()


@dataclass(frozen=True, slots=True)
class PhasingPage:
    """The next part without a phase.

    Parameters
    ----------
    part : None once every part has one
    left : how many there are, this one included; skipped : ids left for later
    """

    part: str | None
    title: str
    about: str
    taps: tuple[Tap, ...]
    left: int
    skipped: str
    skip: str


def phasing_page(view: View, skipped: tuple[str, ...] = ()) -> PhasingPage:
    """The page of the next part that nothing says the time of.

    Parameters
    ----------
    skipped : parts to leave for later
    """
    open_ = undated(view)
    left = [part for part in open_ if part.id not in skipped]
    if not left:
        return PhasingPage(None, "", "", (), len(open_), "", "")
    part = left[0]
    systems = {system.id: system.name for system in view.build.systems}
    about = ", ".join(filter(None, (systems.get(part.system or "", ""), part.part_number)))
    taps = tuple(Tap(phase, PHASE_WORDS[phase], on=False) for phase in Phase)
    return PhasingPage(
        part.id, counted(part), about, taps, len(open_), ",".join(skipped), ",".join((*skipped, part.id))
    )


def undated(view: View) -> tuple[Part, ...]:
    """Parts that are wanted, not yet owned, and of which neither a phase nor a job says when they are needed."""
    named = {part for job in view.build.jobs for part in (*job.to_try, *job.to_keep)}
    owned, wanted = view.facts.owned, view.facts.wanted_parts
    return tuple(
        part
        for part in view.build.parts
        if part.phase is None
        and part.id not in named
        and part.id in wanted
        and owned.get(part.id, 0.0) < part.quantity - 1e-9
    )


def _skipped(text: str) -> tuple[str, ...]:
    return tuple(filter(None, text[:20_000].split(",")))


def show_phasing(ask: Ask) -> Response:
    """The next part to tap."""
    asked = ask.request.query_params.get("skip", "") or ask.form.text("skip")
    return ask.show("phasing.html", phasing_page(ask.view, _skipped(asked)), title="When each part is needed")


@router.get("/parts/phases")
def show(ask: Asked) -> Response:
    """The page."""
    return show_phasing(ask)


@router.post("/parts/phases")
def tap(ask: Asked) -> Response:
    """A part goes into its phase."""
    part = ask.find("parts", ask.form.text("part"))
    skip = ask.form.text("skip")

    def edit(build: Build) -> Build:
        return phased(build, part.id, phase_of(ask))

    back = "/parts/phases" + (
        f"?skip={','.join(id_ for id_ in _skipped(skip) if id_ in ask.view.build.index['parts'])}" if skip else ""
    )
    return ask.write(edit, message=f"{part.name[:120]}: {ask.form.text('phase')[:20]}", back=back, again=show_phasing)


def phase_of(ask: Ask) -> Phase | None:
    """The phase that was tapped; None to take it out of any."""
    word = ask.form.text("phase")
    if word == "none":
        return None
    chosen = ask.form.choice("phase", [phase.value for phase in Phase])
    return Phase(chosen) if chosen else None
