"""What if: changes tried on a copy, with what comes loose and two plans side by side, before any is kept."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import reduce
from typing import Final
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from ..build import Build, Refused
from ..build.commerce import Offer
from ..build.edit_faults import edit_faults
from ..impact import KINDS, Kind, Tweak, tweaked
from ..store import with_reasons
from .ask import Ask, Asked, NotHereError
from .desk import View, put
from .kept import Standing
from .loosened import Told, kept_lines, report_of, told_of
from .side_by_side import Plans, both_plans
from .trials import TrialKey
from .words import day

router = APIRouter()

SCRATCH: Final = "what if"
MOST: Final = 20
HEADS: Final = {
    "Decisions and parts": ("decisions", "parts"),
    "Buying": ("offers", "suppliers", "events", "collections"),
    "What is measured": ("dimensions", "conditions", "states"),
    "Work": ("jobs", "workshops"),
    "You": ("owner", "allowances"),
}


@dataclass(frozen=True, slots=True)
class Tried:
    """A change on the copy: as it is named, and where it can be taken out again."""

    words: str
    number: int


@dataclass(frozen=True, slots=True)
class Adding:
    """What is asked for a further change.

    Parameters
    ----------
    kinds : head and (key, words) of every way a build can be otherwise; kind : the one chosen, empty before that
    things : (value, words) it can be done to; values : (value, words) it can become, where these are fixed
    value : what has to be said; empty for nothing
    """

    kinds: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    kind: str = ""
    words: str = ""
    things: tuple[tuple[str, str], ...] = ()
    thing: str = ""
    values: tuple[tuple[str, str], ...] = ()
    value: str = ""


@dataclass(frozen=True, slots=True)
class WhatIfPage:
    """Changes tried on a copy.

    Parameters
    ----------
    path : where what is asked of them goes; alone : one change by itself, not the copy
    tried : the changes; told : what comes of them, None as long as there is none, or they can't be made any more
    far : how far what comes of them is, None where nothing is asked for; refused : why they can't be made
    later : what they cost on later days
    """

    path: str
    alone: bool
    tried: tuple[Tried, ...]
    told: Told | None
    loosens: bool
    far: Standing[Loosened] | None
    refused: tuple[str, ...]
    plans: Plans | None
    later: Standing[tuple[str, ...]] | None
    adding: Adding | None


def changed_by(build: Build, tweaks: tuple[Tweak, ...], view: View) -> Build:
    """The build as it would be; raises Refused, too where the changes make something that can't be."""
    after = reduce(lambda made, tweak: tweaked(made, tweak, view.as_of), tweaks, build)
    if problems := list(edit_faults(build, after, source="what if")):
        raise Refused(problems)
    return after


def adding_for(build: Build, kind: str, thing: str = "") -> Adding:
    """What is asked for a further change of a kind; of none where there is nothing to do it to."""
    found = {
        head: tuple((key, it.words) for key, it in KINDS.items() if it.list_name in lists and not _empty(build, it))
        for head, lists in HEADS.items()
    }
    kinds = tuple((head, ways) for head, ways in found.items() if ways)
    how = KINDS.get(kind)
    if how is None or _empty(build, how):
        return Adding(kinds)
    things = tuple(_things(build, kind, how))
    values = tuple((job.id, job.name) for job in build.jobs) if kind == "job-after" else ()
    asked = "" if how.value is None or kind == "choose" else how.value
    return Adding(kinds, kind, how.words, things, thing, values, asked)


def _empty(build: Build, how: Kind) -> bool:
    if how.list_name == "events":
        return not any(event.kind == "ordered" for event in build.events)
    return how.list_name != "owner" and not getattr(build, how.list_name)


def _things(build: Build, kind: str, how: Kind) -> Iterator[tuple[str, str]]:
    """What it can be done to, each by what a person calls it; an option along with its decision."""
    if how.list_name == "owner":
        return
    for noun in getattr(build, how.list_name):
        if kind == "choose":
            yield from ((f"{noun.id} {item.id}", f"{noun.name}: {item.name}") for item in noun.options)
        elif how.list_name != "events" or noun.kind == "ordered":
            yield noun.id, name_of(build, how.list_name, noun.id)


def name_of(build: Build, list_name: str, id_: str) -> str:
    """What a person calls a thing."""
    noun = build.find(list_name, id_)
    match list_name:
        case "offers":
            return f"{_offered(build, noun)}, {build.find('suppliers', noun.supplier).name}"
        case "events":
            goods = ", ".join(dict.fromkeys(_offered(build, build.find("offers", it.offer)) for it in noun.lines))
            return f"{goods[:100]}, ordered on {day(noun.day)}"
        case "allowances":
            what = "Small things" if noun.kind == "small-things" else "What only shows once it is apart"
            return f"{what}, {build.find('systems', noun.system).name}" if noun.system else what
        case "conditions":
            return f"{build.find('interfaces', noun.interface).name}: {noun.name}"
        case "collections":
            return f"{build.find('routes', noun.route).name}, {day(noun.day)}"
        case _:
            return str(noun.name)


def _offered(build: Build, offer: Offer) -> str:
    return str(build.find("parts", offer.part).name if offer.part else build.find("kits", offer.kit or "").name)


def words_of(build: Build, tweak: Tweak) -> str:
    """A change as it is named on a list."""
    how = KINDS[tweak.kind]
    if how.list_name == "owner" or tweak.thing not in build.index[how.list_name]:
        return f"{how.words}: {_typed(how, tweak) or tweak.thing}"
    name = name_of(build, how.list_name, tweak.thing)
    if tweak.kind == "choose":
        options = {option.id: option.name for option in build.find("decisions", tweak.thing).options}
        return f"{name}: {options.get(tweak.value, tweak.value)}"
    value = name_of(build, "jobs", tweak.value) if tweak.value in build.index["jobs"] else _typed(how, tweak)
    return f"{how.words}: {name}{f' ({value})' if value else ''}"


def _typed(how: Kind, tweak: Tweak) -> str:
    """What a change was said to become; quoted where it holds a figure as the owner writes it."""
    if how.value != "New day":
        return f"“{tweak.value}”" if re.search(r"\d[.,]\d", tweak.value) else tweak.value
    try:
        return day(date.fromisoformat(tweak.value))
    except ValueError:
        return tweak.value


def what_if_page(ask: Ask, tweaks: tuple[Tweak, ...], path: str, *, alone: bool, adding: Adding | None) -> WhatIfPage:
    """The page of some changes."""
    view = ask.view
    if ask.request.query_params.get("again"):
        ask.desk.loosened.again(tweaks)
        ask.desk.later.again(tweaks)
    standing = ask.desk.loosened.of(view, tweaks) if tweaks else None
    found = standing.value if standing is not None and standing.current else None
    told = None if found is None else found.told
    refused = () if found is None else found.refused
    shown = told is not None
    return WhatIfPage(
        path=path,
        alone=alone,
        tried=tuple(Tried(words_of(view.build, tweak), number) for number, tweak in enumerate(tweaks)),
        told=told,
        loosens=found is not None and found.loosens,
        far=standing,
        refused=refused,
        plans=plans_now(ask, tweaks, path) if shown else None,
        later=ask.desk.later.of(view, tweaks) if shown else None,
        adding=adding,
    )


@dataclass(frozen=True, slots=True)
class Loosened:
    """What comes of changes that are tried; nothing but why, where they can't be made."""

    told: Told | None = None
    loosens: bool = False
    refused: tuple[str, ...] = ()


def loosened(view: View, tweaks: tuple[Tweak, ...]) -> Loosened:
    """What comes of some changes, made in their order."""
    try:
        after = changed_by(view.build, tweaks, view)
    except Refused as found:
        return Loosened(refused=tuple(f"{each.what[:1].upper()}{each.what[1:]}. {each.do}" for each in found.problems))
    report = report_of(view, after)
    return Loosened(told_of(view, after, report), report.loosens)


# the copy


def scratch_of(ask: Ask) -> tuple[Tweak, ...]:
    """The changes on the copy; those of things that are gone are left out."""
    try:
        held = json.loads(ask.desk.file.memo_get(SCRATCH) or b"[]")
        found = [Tweak(str(kind), str(thing), str(value)) for kind, thing, value in held]
    except (ValueError, TypeError):
        return ()
    return tuple(tweak for tweak in found if _is_there(ask.view.build, tweak))


def _is_there(build: Build, tweak: Tweak) -> bool:
    how = KINDS.get(tweak.kind)
    return how is not None and (how.list_name == "owner" or tweak.thing in build.index[how.list_name])


def keep_scratch(ask: Ask, tweaks: tuple[Tweak, ...]) -> None:
    """Keep the changes on the copy beside the build, where another device finds them; nothing of the build changes."""
    content = json.dumps([(tweak.kind, tweak.thing, tweak.value) for tweak in tweaks[-MOST:]])
    ask.desk.file.memo_put(SCRATCH, content.encode())


def plans_now(ask: Ask, tweaks: tuple[Tweak, ...], path: str) -> Plans:
    """How far the two plans are now."""
    view = ask.view
    trial = ask.desk.trials.of(_trial_key(view, tweaks))
    after = lambda: changed_by(view.build, tweaks, view)  # noqa: E731
    return both_plans(view, f"{path}/plans", after, trial, is_busy=ask.desk.is_busy)


def _trial_key(view: View, tweaks: tuple[Tweak, ...]) -> TrialKey:
    return TrialKey(view.revision, view.as_of, repr(tweaks))


def start_plans(ask: Ask, tweaks: tuple[Tweak, ...], path: str) -> Response:
    """Work out the plan as it would be."""
    view = ask.view
    try:
        after = changed_by(view.build, tweaks, view)
    except Refused:
        return RedirectResponse(path, status_code=303)
    ask.desk.trials.start(_trial_key(view, tweaks), after, view.plan if view.is_current else None)
    return show_plans(ask, tweaks, path)


def show_plans(ask: Ask, tweaks: tuple[Tweak, ...], path: str) -> Response:
    """The two plans as a piece of the page, or the page."""
    if ask.in_place:
        return ask.show("plans.html", plans_now(ask, tweaks, path), title="Two plans")
    return RedirectResponse(path, status_code=303)


def show_later(ask: Ask, tweaks: tuple[Tweak, ...], path: str) -> Response:
    """What it costs later as a piece of the page, or the page."""
    if ask.in_place:
        page = {"later": ask.desk.later.of(ask.view, tweaks), "path": path}
        return ask.show("later.html", page, title="Later")
    return RedirectResponse(path, status_code=303)


def stop_all(ask: Ask, tweaks: tuple[Tweak, ...], path: str) -> Response:
    """Give up what is being worked out of some changes; the page says so."""
    ask.desk.loosened.stop(tweaks)
    ask.desk.later.stop(tweaks)
    return show_later(ask, tweaks, path)


def keep(ask: Ask, tweaks: tuple[Tweak, ...], back: str, *, alone: bool) -> Response:
    """Make the changes, with their reason: kept with the decisions they take, and in the history."""
    why = ask.form.text("why")

    def edit(build: Build) -> Build:
        after = changed_by(build, tweaks, ask.view)
        for tweak in tweaks:
            if why and tweak.kind in ("choose", "reopen"):
                decision = after.find("decisions", tweak.thing)
                after = put(after, "decisions", decision.model_copy(update={"why": why[:20_000]}))
        return after

    named = "; ".join(words_of(ask.view.build, tweak) for tweak in tweaks)[:200]
    found = ask.desk.loosened.of(ask.view, tweaks).value
    message = with_reasons(named, why, kept_lines(found.told) if found is not None and found.told is not None else ())

    def again(ask: Ask) -> Response:
        return show_one(ask, tweaks[0]) if alone else show_copy(ask)

    done = ask.write(edit, message=message, back=back, again=again)
    if done.status_code == 303 and not alone:
        keep_scratch(ask, ())
    return done


# routes


def show_copy(ask: Ask) -> Response:
    """The page of the copy."""
    asked = ask.request.query_params
    kind = ask.form.text("kind") or asked.get("kind", "")
    adding = adding_for(ask.view.build, kind, ask.form.text("thing") or asked.get("thing", ""))
    page = what_if_page(ask, scratch_of(ask), "/what-if", alone=False, adding=adding)
    return ask.show("what_if.html", page, title="What if")


@router.get("/what-if")
def show(ask: Asked) -> Response:
    """The page."""
    return show_copy(ask)


@router.post("/what-if/changes")
def add(ask: Asked) -> Response:
    """A further change on the copy."""
    thing, _, option = ask.form.text("thing").partition(" ")
    tweak = Tweak(ask.form.text("kind"), thing, option or ask.form.text("value"))
    held = tuple(it for it in scratch_of(ask) if (it.kind, it.thing) != (tweak.kind, tweak.thing))
    try:
        changed_by(ask.view.build, (*held, tweak), ask.view)
    except Refused as refused:
        ask.problems = tuple(refused.problems)
        return show_copy(ask)
    keep_scratch(ask, (*held, tweak))
    return ask.leave("/what-if")


@router.post("/what-if/changes/{number}/out")
def take_out(number: int, ask: Asked) -> Response:
    """Without one of the changes."""
    keep_scratch(ask, tuple(tweak for at, tweak in enumerate(scratch_of(ask)) if at != number))
    return ask.leave("/what-if")


@router.post("/what-if/away")
def throw_away(ask: Asked) -> Response:
    """None of them."""
    keep_scratch(ask, ())
    return ask.leave("/what-if")


@router.post("/what-if/keep")
def keep_copy(ask: Asked) -> Response:
    """All of them."""
    tweaks = scratch_of(ask)
    return keep(ask, tweaks, "/what-if", alone=False) if tweaks else ask.leave("/what-if")


@router.get("/what-if/plans")
def copy_plans(ask: Asked) -> Response:
    """Two plans side by side, as far as they are."""
    return show_plans(ask, scratch_of(ask), "/what-if")


@router.post("/what-if/plans/stop")
def stop_copy(ask: Asked) -> Response:
    """Give up planning with the changes."""
    ask.desk.trials.stop()
    return show_plans(ask, scratch_of(ask), "/what-if")


@router.post("/what-if/plans")
def plan_copy(ask: Asked) -> Response:
    """Plan with the changes, beside the plan as it is."""
    return start_plans(ask, scratch_of(ask), "/what-if")


@router.post("/what-if/stop")
def stop_report(ask: Asked) -> Response:
    """Give up working out what comes of the changes, and what they cost on later days."""
    return stop_all(ask, scratch_of(ask), "/what-if")


@router.get("/what-if/later")
def copy_later(ask: Asked) -> Response:
    """What the changes cost on later days."""
    return show_later(ask, scratch_of(ask), "/what-if")


def one_of(ask: Ask, kind: str, thing: str) -> tuple[Tweak, str]:
    """A change by itself and its page; not here if there is no such thing, or it needs to be said what it becomes."""
    tweak = Tweak(kind, thing)
    how = KINDS.get(kind)
    if how is None or how.value is not None or how.list_name == "owner" or not _is_there(ask.view.build, tweak):
        raise NotHereError("what-if", thing)
    return tweak, f"/what-if/{kind}/{quote(thing)}"


def show_one(ask: Ask, tweak: Tweak) -> Response:
    """The page of one change by itself."""
    _, path = one_of(ask, tweak.kind, tweak.thing)
    page = what_if_page(ask, (tweak,), path, alone=True, adding=None)
    return ask.show("what_if.html", page, title=words_of(ask.view.build, tweak))


@router.get("/what-if/{kind}/{thing}")
def show_alone(kind: str, thing: str, ask: Asked) -> Response:
    """One change, before it is made."""
    return show_one(ask, one_of(ask, kind, thing)[0])


@router.post("/what-if/{kind}/{thing}")
def do_alone(kind: str, thing: str, ask: Asked) -> Response:
    """Make one change."""
    tweak, _ = one_of(ask, kind, thing)
    lists = {"parts": f"/parts/{thing}", "jobs": f"/jobs/{thing}", "decisions": f"/decisions/{thing}"}
    return keep(ask, (tweak,), lists.get(KINDS[kind].list_name, "/"), alone=True)


@router.get("/what-if/{kind}/{thing}/plans")
def plans_alone(kind: str, thing: str, ask: Asked) -> Response:
    """Two plans side by side, as far as they are."""
    tweak, path = one_of(ask, kind, thing)
    return show_plans(ask, (tweak,), path)


@router.post("/what-if/{kind}/{thing}/plans")
def plan_alone(kind: str, thing: str, ask: Asked) -> Response:
    """Plan with one change, beside the plan as it is."""
    tweak, path = one_of(ask, kind, thing)
    return start_plans(ask, (tweak,), path)


@router.post("/what-if/{kind}/{thing}/plans/stop")
def stop_alone(kind: str, thing: str, ask: Asked) -> Response:
    """Give up planning with one change."""
    tweak, path = one_of(ask, kind, thing)
    ask.desk.trials.stop()
    return show_plans(ask, (tweak,), path)


@router.post("/what-if/{kind}/{thing}/stop")
def stop_alone_report(kind: str, thing: str, ask: Asked) -> Response:
    """Give up working out what comes of one change, and what it costs on later days."""
    tweak, path = one_of(ask, kind, thing)
    return stop_all(ask, (tweak,), path)


@router.get("/what-if/{kind}/{thing}/later")
def later_alone(kind: str, thing: str, ask: Asked) -> Response:
    """What one change costs on later days."""
    tweak, path = one_of(ask, kind, thing)
    return show_later(ask, (tweak,), path)
