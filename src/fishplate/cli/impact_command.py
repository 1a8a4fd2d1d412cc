"""`fishplate impact`"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, emit, read_build, table

if TYPE_CHECKING:
    from ..build import Build
    from ..build.graph import Node
    from ..impact import ImpactReport

LISTS = {"part": "parts", "dimension": "dimensions", "decision": "decisions"}
NEAR_SHOWN = 5


@click.command("impact")
@BUILD_FILE
@click.argument("thing", metavar="part:ID|dimension:ID|decision:ID")
@AS_OF
@JSON_FLAG
def command(file: Path, thing: str, as_of: date | None, as_json: bool) -> None:
    """What comes loose if a part, a dimension or a decision changes.

    Keys of --json: as_of, target (list, id), currency, parts (part, fate, quantity, until, loss, certain, text), jobs
    (job, hours, certain, text), stale, readings, interfaces, releases, decisions, following, money and hours (each low,
    likely, high), cautions, text, assumptions (code, about, text).
    """
    from ..build import facts_of
    from ..impact import impact_of
    from ..wiring import today
    from .common import home_rates

    build = read_build(file)
    day = as_of or today()
    target = target_in(build, thing)
    rates, _ = home_rates(build, day)
    report = impact_of(build, facts_of(build, day), target, rates=rates)
    if as_json:
        emit(_plain(build, report, day))
    else:
        _show(build, report)


def target_in(build: Build, thing: str) -> Node:
    """The list and id a person means by "part:ID" and the like; raises Refused, with near names."""
    from difflib import get_close_matches

    from ..build import Problem, Refused

    kind, colon, id_ = thing.partition(":")
    if not colon or kind not in LISTS:
        what, do = "not a thing whose change can be followed", "Write part:ID, dimension:ID or decision:ID."
        raise Refused([Problem("impact", "unknown-kind", what, thing, do)])
    nouns = build.index[LISTS[kind]]
    if id_ in nouns:
        return LISTS[kind], id_
    by_name: dict[str, str] = {noun.name.lower(): noun.id for noun in nouns.values()}
    if id_.strip().lower() in by_name:
        return LISTS[kind], by_name[id_.strip().lower()]
    near = get_close_matches(id_.lower(), [*sorted(nouns), *sorted(by_name)], n=NEAR_SHOWN, cutoff=0.5)
    ids = list(dict.fromkeys(by_name.get(word, word) for word in near))
    do = f"Near: {', '.join(ids)}." if ids else f"None of the build's {LISTS[kind]} is near."
    raise Refused([Problem("impact", "unknown-id", f"there is no such {kind}", id_, do)])


def _plain(build: Build, report: ImpactReport, day: date) -> dict[str, Any]:
    return {
        "as_of": day,
        "target": {"list": report.target[0], "id": report.target[1]},
        "currency": build.owner.currency,
        "parts": [asdict(fate) for fate in report.parts],
        "jobs": [asdict(job) for job in report.jobs],
        "stale": report.stale,
        "readings": report.readings,
        "interfaces": report.interfaces,
        "releases": report.releases,
        "decisions": report.decisions,
        "following": report.following,
        "money": {"low": report.money_low, "likely": report.money_likely, "high": report.money_high},
        "hours": {"low": report.hours_low, "likely": report.hours, "high": report.hours_high},
        "cautions": report.cautions,
        "text": report.text,
        "assumptions": [asdict(item) for item in report.assumptions],
    }


def _show(build: Build, report: ImpactReport) -> None:
    click.echo(report.text)
    if report.parts:
        rows = (
            (
                build.find("parts", fate.part).name,
                f"{fate.quantity:g}",
                str(fate.fate),
                "" if fate.until is None else f"{fate.until:%-d %b %Y}",
                f"{fate.loss:,.0f}",
                "" if fate.certain else "may no longer fit",
            )
            for fate in report.parts
        )
        click.echo()
        table(("Part", "Quantity", "Can be undone", "Until", f"Loss, {build.owner.currency}", ""), rows, right=(1, 4))
    for job in report.jobs:
        click.echo(job.text)
    for head, name, ids in (
        ("To be taken again", "dimensions", report.stale),
        ("Verdict gone", "interfaces", report.interfaces),
        ("Open again", "decisions", report.decisions),
        ("Worked on since, and perhaps in the way", "jobs", report.following),
    ):
        if ids:
            click.echo(f"{head}: {'; '.join(build.find(name, id_).name for id_ in ids)}")
    if report.assumptions:
        click.echo(f"\nTaken for granted ({len(report.assumptions)})")
        for assumption in report.assumptions:
            click.echo(f"  {assumption}")
