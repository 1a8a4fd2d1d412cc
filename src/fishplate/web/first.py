"""What an edit that loosens something brings, shown before it is written: do it, or leave it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fastapi.responses import Response

from ..build import Build, Refused, facts_of
from ..impact import impact_of_change
from .ask import Ask, Show
from .desk import Edit, View
from .loosened import Told, told_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

SURE, LOOK = "sure", "look"


@dataclass(frozen=True, slots=True)
class Flip:
    """A verdict that becomes another."""

    interface: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class FirstPage:
    """What an edit brings.

    Parameters
    ----------
    path : where the form goes again; fields : all that was typed, to be sent again
    back : where to go if it is left
    """

    path: str
    fields: tuple[tuple[str, str], ...]
    back: str
    flips: tuple[Flip, ...]
    told: Told


def flips_of(view: View, after: Build, interfaces: Iterable[str]) -> tuple[Flip, ...]:
    """Verdicts that are lost, of some interfaces alone; what gets to fit, or was not known, loosens nothing."""
    ids = [id_ for id_ in interfaces if id_ in view.build.index["interfaces"] and id_ in after.index["interfaces"]]
    if not ids:
        return ()
    was, now = _verdicts(view, view.build, ids), _verdicts(view, after, ids)
    return tuple(
        Flip(view.build.find("interfaces", id_).name, was.get(id_, "not known"), now.get(id_, "not known"))
        for id_ in ids
        if was.get(id_) != now.get(id_) and was.get(id_, "not known") != "not known" and now.get(id_) != "fits"
    )


def _verdicts(view: View, build: Build, ids: list[str]) -> Mapping[str, str]:
    from ..fit import assess

    kept = {condition.id for condition in build.conditions if condition.interface in ids}
    facts = facts_of(build, view.as_of)
    wanted = frozenset(facts.wanted_conditions & kept)
    if not wanted:
        return {}
    small = build.model_copy(
        update={
            "conditions": tuple(item for item in build.conditions if item.id in kept),
            "interfaces": tuple(item for item in build.interfaces if item.id in ids),
        }
    )
    return {it.interface: it.verdict.value for it in assess(small, replace(facts, wanted_conditions=wanted)).interfaces}


def ask_first(
    ask: Ask, edit: Edit, *, message: str, back: str, again: Show, kept: Mapping[str, str] | None = None
) -> Response:
    """Write an edit, or show what it brings first: where a verdict flips, or where that was asked for.

    Parameters
    ----------
    kept : fields to be sent again beside those that were typed, such as the name of a photo that is kept already
    """
    if ask.form.ticked(SURE):
        why = ask.form.text("why")
        return ask.write(edit, message=(f"{message}: {why}" if why else message)[:200], back=back, again=again)
    if not ask.form.problems:
        page = _page(ask, edit, back, kept or {})
        if page is not None:
            return ask.show("before.html", page, title="Before it is written")
        ask.form.problems.clear()  # writing it finds them again
    return ask.write(edit, message=message, back=back, again=again)


def _page(ask: Ask, edit: Edit, back: str, kept: Mapping[str, str]) -> FirstPage | None:
    """What an edit brings; None if nothing comes loose by it, or it can't be made, which writing it tells."""
    from ..wiring import situation

    view = ask.view
    try:
        after = edit(view.build)
        if ask.form.problems:
            return None
        report = impact_of_change(view.build, after, view.as_of, rates=situation(view.build, view.as_of).to_home)
    except Refused:
        return None
    flips = flips_of(view, after, report.interfaces)
    if not flips and not ask.form.ticked(LOOK):
        return None
    typed = [(name, value) for name, values in ask.form.fields.items() if name != LOOK for value in values]
    return FirstPage(ask.request.url.path, (*typed, *kept.items()), back, flips, told_of(view, after, report))
