"""`fishplate decide`"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, Within, emit, read_build, say, table

if TYPE_CHECKING:
    from ..build import Assumption
    from ..decide import DecisionReport, DecisionResult


@click.command("decide")
@BUILD_FILE
@AS_OF
@SEED
@click.option(
    "--risk",
    type=Within(0.01, 0.5),
    default=0.1,
    show_default=True,
    metavar="SHARE",
    help="The chance you accept that a date comes too late.",
)
@click.option("--weigh", "weighed", metavar="DECISION", default=None, help="Weigh the options of one decision.")
@click.option("--configurations", "whole", is_flag=True, help="Whole-vehicle choices that satisfy every rule.")
@click.option("--want", multiple=True, metavar="OPTION", help="What having this option takes, or why it can't be.")
@JSON_FLAG
def command(
    file: Path, as_of: date | None, seed: int, risk: float, weighed: str | None, whole: bool, want: tuple[str, ...],
    as_json: bool,
) -> None:  # fmt: skip
    """What to decide, in which order, by when, and what hangs on it.

    \f
    Keys of --json: as_of, risk, decisions (decision, name, rank, decided, leading, assumed, block, assumes, by_week,
    by, free_until, because, by_risk as risk and by, open as option, until and because, hangs as list and id,
    holds_offers, holds_jobs, modelled_week, text), blocks, tears (source, target, fixes), problems (where, code, what,
    got, do), assumptions (code, about, text).

    With --weigh, --configurations or --want (which may be given several times) the keys are those of what is shown.
    """
    if weighed or whole or want:
        from .decide_views import show_configurations, show_weighing, show_wish

        day = as_of or _today()
        if weighed:
            show_weighing(read_build(file), day, seed, weighed, as_json=as_json)
        elif want:
            show_wish(read_build(file), day, seed, want, as_json=as_json)
        else:
            show_configurations(read_build(file), day, seed, as_json=as_json)
        return
    _in_order(file, as_of or _today(), seed, risk, as_json=as_json)


def _today() -> date:
    from ..wiring import today

    return today()


def _in_order(file: Path, as_of: date, seed: int, risk: float, *, as_json: bool) -> None:
    from ..decide import order_decisions
    from ..plan.need_dates import due, order_by_weeks

    dates = due(read_build(file), as_of, seed)
    report = order_decisions(
        dates.build,
        dates.facts,
        start_weeks=dates.starts,
        order_by_weeks=order_by_weeks(dates.build, dates.facts, dates.needs),
        risk=risk,
    )
    assumptions = tuple(dict.fromkeys([*report.assumptions, *dates.assumptions]))
    if as_json:
        emit(_plain(report, dates.facts.as_of, assumptions))
    else:
        _show(report, assumptions)


def _plain(report: DecisionReport, as_of: date, assumptions: tuple[Assumption, ...]) -> dict[str, Any]:
    return {
        "as_of": as_of,
        "risk": report.risk,
        "decisions": [
            {
                "decision": result.decision,
                "name": result.name,
                "rank": result.rank,
                "decided": result.decided,
                "leading": result.leading,
                "assumed": result.assumed,
                "block": result.block,
                "assumes": result.assumes,
                "by_week": result.by_week,
                "by": result.by,
                "free_until": result.free_until,
                "because": result.because,
                "by_risk": [{"risk": chance, "by": day} for chance, day in result.by_risk],
                "open": [{"option": item.option, "until": item.until, "because": item.because} for item in result.open],
                "hangs": [{"list": name, "id": id_} for name, id_ in result.hangs],
                "holds_offers": result.holds_offers,
                "holds_jobs": result.holds_jobs,
                "modelled_week": report.modelled_weeks[result.decision],
                "text": result.text,
            }
            for result in report.decisions
        ],
        "blocks": report.blocks,
        "tears": [{"source": tear.source, "target": tear.target, "fixes": tear.fixes} for tear in report.tears],
        "problems": [
            {"where": item.where, "code": item.code, "what": item.what, "got": item.got, "do": item.do}
            for item in report.problems
        ],
        "assumptions": [{"code": item.code, "about": item.about, "text": item.text} for item in assumptions],
    }


def _by(result: DecisionResult) -> str:
    if result.by is None or result.by_week is None:
        return ""
    return "now" if result.by_week < 0 else f"{result.by:%-d %b %Y}"


def _show(report: DecisionReport, assumptions: tuple[Assumption, ...]) -> None:
    open_ones = [result for result in report.decisions if not result.decided]
    if not report.decisions:
        say("This build names no decisions.")
        return
    if not open_ones:
        say("Every decision is taken.")
    else:
        rows = (
            (
                str(result.rank),
                result.name,
                _by(result),
                str(len(result.holds_offers)),
                str(len(result.holds_jobs)),
                str(len(result.hangs)),
            )
            for result in open_ones
        )
        table(("", "Decision", "Decide by", "Offers held", "Jobs held", "Hangs on it"), rows, right=(0, 3, 4, 5))
    for result in open_ones:
        say(f"{result.text}\n")
    for problem in report.problems:
        say(f"{problem}\n")
    if assumptions:
        say(f"Taken for granted ({len(assumptions)})")
        for assumption in assumptions:
            say(f"  {assumption}")
