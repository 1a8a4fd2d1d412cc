"""`fishplate impact`"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .changing import CHANGES, with_changes
from .common import AS_OF, BUILD_FILE, JSON_FLAG, emit, read_build, say, table

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ..build import Build, Problem
    from ..build.graph import Node
    from ..impact import ImpactReport

LISTS = {"part": "parts", "dimension": "dimensions", "decision": "decisions"}
# What becomes of other things, and the list each is in.
ENDS = {
    "offer": ("withdraw", "offers"), "supplier": ("supplier-gone", "suppliers"), "order": ("cancel", "events"),
    "job": ("drop-job", "jobs"), "workshop": ("workshop", "workshops"), "state": ("state", "states"),
}  # fmt: skip
NEAR_SHOWN = 5


@click.command("impact")
@BUILD_FILE
@click.argument("thing", metavar="[KIND:ID]", required=False)
@CHANGES
@AS_OF
@JSON_FLAG
def command(file: Path, thing: str | None, changes: tuple[str, ...], as_of: date | None, as_json: bool) -> None:
    """What comes loose if something changes, before it is so. Nothing is written.

    part:ID, dimension:ID or decision:ID: whatever it is changed to. offer:ID is withdrawn, supplier:ID gives up,
    order:ID is cancelled, job:ID is left out, workshop:ID is given up, state:ID of the vehicle changes.
    --change says what becomes of it.

    \f
    Keys of --json: as_of, target (list, id), currency, changes, parts (part, fate, quantity, until, loss, certain,
    text), to_buy (part, quantity, soonest, latest, text), prices (part, before, after, text), jobs (job, hours,
    certain, text), more_hours, stale, readings, interfaces, releases, decisions, groups, following, waiting, orders,
    offers, dates, whole, money and hours (each low, likely, high), cautions, text, assumptions (code, about, text).
    """
    from ..build import facts_of
    from ..impact import impact_of, impact_of_change
    from ..wiring import today
    from .common import home_rates

    build = read_build(file)
    day = as_of or today()
    rates, _ = home_rates(build, day)
    kind = (thing or "").partition(":")[0]
    if thing and kind not in ENDS and not changes:
        target = target_in(build, thing, LISTS)
        report = impact_of(build, facts_of(build, day), target, rates=rates)
    else:
        report = impact_of_change(build, _changed(build, thing, changes, day), day, rates=rates)
    if as_json:
        emit(_plain(build, report, day))
    else:
        _show(build, report)


def _changed(build: Build, thing: str | None, changes: tuple[str, ...], day: date) -> Build:
    """The build as it would be; raises Refused."""
    from ..build import Problem, Refused
    from ..impact import Tweak, tweaked

    if thing and (kind := thing.partition(":")[0]) not in ENDS:
        what, do = "said twice", "Say what it becomes with --change alone."
        raise Refused([Problem("impact", "twice", what, thing, do)] if kind in LISTS else [_unknown_kind(thing)])
    if not thing and not changes:
        raise Refused([_unknown_kind("")])
    if thing:
        lists = {name: list_name for name, (_, list_name) in ENDS.items()}
        _, id_ = target_in(build, thing, lists)
        build = tweaked(build, Tweak(ENDS[thing.partition(":")[0]][0], id_), day)
    return with_changes(build, changes, day)


def _unknown_kind(thing: str) -> Problem:
    from ..build import Problem

    names = [f"{name}:ID" for name in (*LISTS, *ENDS)]
    do = f"Write {', '.join(names[:-1])} or {names[-1]}, or say it with --change."
    return Problem("impact", "unknown-kind", "not a thing whose change can be followed", thing, do)


def target_in(build: Build, thing: str, lists: Mapping[str, str]) -> Node:
    """The list and id a person means by "part:ID" and the like; raises Refused, with near names."""
    from difflib import get_close_matches

    from ..build import Problem, Refused

    kind, colon, id_ = thing.partition(":")
    if not colon or kind not in lists:
        raise Refused([_unknown_kind(thing)])
    list_name = lists[kind]
    nouns = build.index[list_name]
    if id_ in nouns:
        return list_name, id_
    by_name: dict[str, str] = {getattr(noun, "name", noun.id).lower(): noun.id for noun in nouns.values()}
    if id_.strip().lower() in by_name:
        return list_name, by_name[id_.strip().lower()]
    near = get_close_matches(id_.lower(), [*sorted(nouns), *sorted(by_name)], n=NEAR_SHOWN, cutoff=0.5)
    ids = list(dict.fromkeys(by_name.get(word, word) for word in near))
    do = f"Near: {', '.join(ids)}." if ids else f"None of the build's {list_name} is near."
    raise Refused([Problem("impact", "unknown-id", f"there is no such {kind}", id_, do)])


def _plain(build: Build, report: ImpactReport, day: date) -> dict[str, Any]:
    return {
        "as_of": day,
        "target": {"list": report.target[0], "id": report.target[1]},
        "currency": build.owner.currency,
        "changes": report.changes,
        "parts": [asdict(fate) for fate in report.parts],
        "to_buy": [asdict(item) for item in report.to_buy],
        "prices": [asdict(item) for item in report.prices],
        "jobs": [asdict(job) for job in report.jobs],
        "more_hours": report.more_hours,
        "stale": report.stale,
        "readings": report.readings,
        "interfaces": report.interfaces,
        "releases": report.releases,
        "decisions": report.decisions,
        "groups": report.groups,
        "following": report.following,
        "waiting": report.waiting,
        "orders": report.orders,
        "offers": report.offers,
        "dates": report.dates,
        "whole": report.whole,
        "money": {"low": report.money_low, "likely": report.money_likely, "high": report.money_high},
        "hours": {"low": report.hours_low, "likely": report.hours, "high": report.hours_high},
        "cautions": report.cautions,
        "text": report.text,
        "assumptions": [asdict(item) for item in report.assumptions],
    }


def _show(build: Build, report: ImpactReport) -> None:
    say(report.text)
    if report.parts:
        rows = (
            (
                _name(build, "parts", fate.part),
                f"{fate.quantity:g}",
                str(fate.fate),
                "" if fate.until is None else f"{fate.until:%-d %b %Y}",
                f"{fate.loss:,.0f}",
                "" if fate.certain else "may no longer fit",
            )
            for fate in report.parts
        )
        say()
        table(("Part", "Quantity", "Can be undone", "Until", f"Loss, {build.owner.currency}", ""), rows, right=(1, 4))
    for job in report.jobs:
        say(job.text)
    for head, name, ids in (
        ("To be taken again", "dimensions", report.stale),
        ("Verdict gone", "interfaces", report.interfaces),
        ("Open again", "decisions", report.decisions),
        ("Worked on since, and perhaps in the way", "jobs", report.following),
        ("Days that may move", "jobs", report.waiting),
        ("Orders that may move", "parts", report.orders),
    ):
        if ids:
            say(f"{head}: {'; '.join(_name(build, name, id_) for id_ in ids)}")
    if report.assumptions:
        say(f"\nTaken for granted ({len(report.assumptions)})")
        for assumption in report.assumptions:
            say(f"  {assumption}")


def _name(build: Build, list_name: str, id_: str) -> str:
    """What it is called; a thing that only comes with the change goes by its id."""
    noun = build.index[list_name].get(id_)
    return id_ if noun is None else str(noun.name)
