"""`fishplate tonight`"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, Within, emit, read_build, say

if TYPE_CHECKING:
    from ..plan.tonight import Tonight, TonightJob


@click.command("tonight")
@BUILD_FILE
@click.argument("minutes", type=Within(5, 1440))
@AS_OF
@click.option("--helper", is_flag=True, help="A second person is there.")
@click.option("--no-welder", is_flag=True, help="The welder is not at hand.")
@click.option(
    "--without", multiple=True, metavar="TOOL", help="A tool that is not at hand; can be given several times."
)
@click.option("--wet", is_flag=True, help="It rains, or everything is wet.")
@click.option("--warmth", type=Within(-60, 60), default=None, metavar="°C", help="How warm it is.")
@click.option("--loud", type=Within(0, 1440), default=None, metavar="MINUTES", help="Minutes until it must be quiet.")
@click.option(
    "--paper", type=click.Path(path_type=Path), help="Also write the shop sheet as one page of HTML to print."
)
@JSON_FLAG
def command(
    file: Path, minutes: float, as_of: date | None, helper: bool, no_welder: bool, without: tuple[str, ...],
    wet: bool, warmth: float | None, loud: float | None, paper: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """What to do with an evening of so many MINUTES: the best set of jobs, what they open and what to lay out.

    By the plan last made of the build file, if there is one.

    \f
    Keys of --json: as_of, said, minutes_left, jobs (job,
    name, minutes, hours, ends, said, opens, loud, laid, readings, figures, evidence, cautions), besides (kind, key,
    what, minutes, why), left_out (job, name, wants), cannot (job, name, why), who_decides, assumptions.
    """
    from ..build import facts_of
    from ..fit import assess
    from ..plan.tonight import closed_interfaces, tonight
    from ..wiring import earlier_plan, today
    from ..work.tonight import Evening

    build, day = read_build(file), as_of or today()
    facts = facts_of(build, day)
    missing = frozenset([*without, *(["welder"] if no_welder else [])])
    evening = Evening(minutes, helper, missing, wet, warmth, loud)
    closed = closed_interfaces(assess(build, facts)) if build.interfaces else {}
    earlier = earlier_plan(file)
    found = tonight(build, facts, evening, closed, None if earlier is None else earlier.last)
    if paper is not None:
        from ..papers.shop_sheet import shop_sheet_page

        paper.write_text(shop_sheet_page(found, build, day), encoding="utf-8")
    if as_json:
        emit(_plain(found, day))
    else:
        _show(found)


def _plain(found: Tonight, day: date) -> dict[str, Any]:
    from dataclasses import asdict

    jobs = []
    for job in found.jobs:
        laid = {key: [item._asdict() for item in getattr(job.laid, key)] for key in ("parts", "used_up")}
        laid |= {key: list(getattr(job.laid, key)) for key in ("tools", "steps", "stops")}
        told = {"readings": [it._asdict() for it in job.readings], "figures": [it._asdict() for it in job.figures]}
        jobs.append(
            {**asdict(job), **told, "laid": laid, "evidence": [asdict(it) | {"text": it.text} for it in job.evidence]}
        )
    return {
        "as_of": day,
        "said": found.said,
        "minutes_left": found.minutes_left,
        "jobs": jobs,
        "besides": [asdict(item) for item in found.besides],
        "left_out": [{"job": job, "name": name, "wants": wants} for job, name, wants in found.left_out],
        "cannot": [{"job": job, "name": name, "why": why} for job, name, why in found.cannot],
        "who_decides": found.who_decides,
        "assumptions": [asdict(item) for item in found.assumptions],
    }


def _show(found: Tonight) -> None:
    say(found.said)
    for job in found.jobs:
        say(f"\n{job.name}")
        for line in _lines(job):
            say(f"  {line}")
    if found.besides:
        say("\nIn the minutes left over:" if found.jobs else "\nInstead:")
        for item in found.besides:
            say(f"  {item.what}")
    for _, name, wants in found.left_out:
        say(f"\nLeft out: {name}, which takes {' and '.join(wants)}.")
    for _, name, why in found.cannot:
        say(f"\nLeft out: {name}. {why}")
    if found.who_decides:
        say(f"\n{found.who_decides}")
    for assumption in found.assumptions:
        say(f"Taken for granted: {assumption.text}.")


def _lines(job: TonightJob) -> list[str]:
    lines = [item.text for item in job.evidence]
    laid = [f"{item.name} ({item.where})" for item in (*job.laid.parts, *job.laid.used_up)]
    if laid or job.laid.tools:
        lines.append(f"Lay out: {', '.join([*laid, *job.laid.tools])}.")
    lines += job.laid.steps
    lines += job.laid.stops
    if job.figures:
        lines.append("Figures: " + "; ".join(f"{it.name} {it.text}" for it in job.figures) + ".")
    if job.readings:
        lines.append("Read while you are there: " + "; ".join(it.name for it in job.readings) + ".")
    return [*lines, *job.cautions]
