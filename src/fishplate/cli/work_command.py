"""`fishplate work`"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..build.words import day_words, month_words
from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, Within, emit, read_build, say, table

if TYPE_CHECKING:
    from ..build import Assumption, Build, Facts, Problem
    from ..work import GateState, Progress, ReadyJob, StallMonth, WorkReport, Worth

_QUANTILES = (0.1, 0.5, 0.8, 0.95)
_MONTHS_SHOWN = 12
_CAUSES_SHOWN = 3


@click.command("work")
@BUILD_FILE
@AS_OF
@SEED
@click.option(
    "--runs", type=click.IntRange(100, 100_000), default=4000, show_default=True, help="How often it is played through."
)
@click.option("--worth", is_flag=True, help="What an hour more, an evening with help, another bay would bring.")
@click.option("--hours", type=Within(0.1, 24), default=None, help="Hours you have tonight.")
@JSON_FLAG
def command(
    file: Path, as_of: date | None, seed: int, runs: int, worth: bool, hours: float | None, as_json: bool
) -> None:
    """When it will drive, what stalls it, what can be done tonight.

    Without a purchase plan: what is missing is taken as ordered today.

    \f
    Keys of --json: as_of, runs, horizon_weeks,
    finish (by quantile: week and date, null beyond the horizon), unfinished_share, stalls (month, chance, hours,
    causes), standing (kind, id, hours, days; most days first), ready (job, hours_left, until, unlocks, tools,
    second_person, cautions, text), critical (job, slack_weeks, criticality), decided_by (kind, id, share), never and
    impossible (where, what, do), gates (gate, open, text), withdrawals (workshop, chance, text), progress (earned,
    spent, whole, text), worth (what, weeks_sooner, standard_error, money, text; with --worth), assumptions (code,
    about, text).
    """
    from ..build import facts_of
    from ..plan.need_dates import learnt_slippage
    from ..wiring import today
    from ..work import Simulator, gate_states, impossible, progress, usual_gates, with_phase_jobs, worth_of_more

    day = as_of or today()
    given = read_build(file)
    build, by_phase = with_phase_jobs(given, facts_of(given, day))
    facts = facts_of(build, day)
    gates, supposed = usual_gates(build, facts, runs=runs, seed=seed, learnt=learnt_slippage(build, day))
    simulator = Simulator(build, facts, runs=runs, seed=seed)
    report = simulator.run(gates)
    assumptions = tuple(dict.fromkeys([*by_phase, *supposed, *report.assumptions]))
    more = worth_of_more(simulator, gates) if worth else ()
    beside = _Beside(impossible(build, facts), gate_states(build, facts), progress(build, facts), more)
    if as_json:
        emit(_plain(report, facts, runs, beside, assumptions))
    else:
        _show(build, facts, report, hours, beside, assumptions)


@dataclass(frozen=True, slots=True)
class _Beside:
    """What is told beside the runs."""

    impossible: Sequence[Problem]
    gates: Sequence[GateState]
    progress: Progress
    worth: Sequence[Worth]


def _plain(
    report: WorkReport, facts: Facts, runs: int, beside: _Beside, assumptions: Sequence[Assumption]
) -> dict[str, Any]:
    return {
        "as_of": facts.as_of,
        "runs": runs,
        "horizon_weeks": report.horizon_weeks,
        "finish": {f"p{p * 100:.0f}": _moment(facts.as_of, report.quantile(p)) for p in _QUANTILES},
        "unfinished_share": report.unfinished_share,
        "stalls": [
            {
                "month": stall.month,
                "chance": stall.chance,
                "hours": stall.hours,
                "causes": [{"kind": cause.kind, "id": cause.id, "hours": cause.hours} for cause in stall.causes],
            }
            for stall in report.stalls
        ],
        "standing": [
            {"kind": cause.kind, "id": cause.id, "hours": cause.hours, "days": cause.days} for cause in report.causes
        ],
        "ready": [_plain_ready(item) for item in report.ready],
        "critical": [
            {"job": job, "slack_weeks": report.slack_weeks[job], "criticality": report.criticality[job]}
            for job in report.critical
        ],
        "decided_by": [{"kind": kind, "id": id_, "share": share} for (kind, id_), share in report.decided_by.items()],
        "never": [{"where": item.where, "what": item.what, "do": item.do} for item in report.never],
        **_plain_beside(report, beside),
        "assumptions": [{"code": item.code, "about": item.about, "text": item.text} for item in assumptions],
    }


def _plain_beside(report: WorkReport, beside: _Beside) -> dict[str, Any]:
    whole = beside.progress.whole
    return {
        "impossible": [{"where": item.where, "what": item.what, "do": item.do} for item in beside.impossible],
        "gates": [{"gate": item.gate, "open": item.open, "text": item.text} for item in beside.gates],
        "withdrawals": [
            {"workshop": item.workshop, "chance": item.chance, "text": item.text} for item in report.withdrawals
        ],
        "progress": {
            "earned": whole.earned, "spent": whole.spent, "whole": whole.whole, "text": beside.progress.text,
        },
        "worth": [
            {
                "what": item.what, "weeks_sooner": item.weeks_sooner, "standard_error": item.standard_error,
                "money": item.money, "text": item.text,
            }
            for item in beside.worth
        ],
    }  # fmt: skip


def _plain_ready(item: ReadyJob) -> dict[str, Any]:
    return {
        "job": item.job,
        "hours_left": item.hours_left,
        "until": item.until,
        "unlocks": item.unlocks,
        "tools": item.tools,
        "second_person": item.second_person,
        "cautions": item.cautions,
        "text": item.text,
    }


def _moment(as_of: date, week: float) -> dict[str, Any] | None:
    from ..build import date_at

    return {"week": week, "date": date_at(as_of, week)} if math.isfinite(week) else None


def _show(
    build: Build,
    facts: Facts,
    report: WorkReport,
    hours: float | None,
    beside: _Beside,
    assumptions: Sequence[Assumption],
) -> None:
    say(f"{build.name}, as of {day_words(facts.as_of)}\n")
    _show_finish(facts, report)
    for problem in (*beside.impossible, *report.never):
        say(str(problem))
    if beside.progress.whole.spent > 0:
        say(" ".join(beside.progress.text) + "\n")
    _show_stalls(build, report.stalls)
    _show_standing(build, report)
    _show_said("Taken elsewhere if not begun:", [item.text for item in report.withdrawals])
    _show_said("Where the build stops and looks:", [item.text for item in beside.gates])
    _show_said("What one more would bring:", [item.text for item in beside.worth])
    _show_ready(build, report.ready, hours)
    _show_critical(build, report)
    say("Taken for granted:")
    for item in assumptions:
        about = "" if item.about == "build" else f"{item.about}: "
        say(f"  {about}{item.text}.")


def _show_finish(facts: Facts, report: WorkReport) -> None:
    from ..build import date_at

    if not report.starts:
        say("No jobs are left to do." if not report.never else "")
        return
    chances = ("1 in 10", "1 in 2", "8 in 10", "19 in 20")
    beyond = f"beyond {report.horizon_weeks} weeks"
    rows = []
    for p, chance in zip(_QUANTILES, chances, strict=True):
        week = report.quantile(p)
        day = day_words(date_at(facts.as_of, week)) if math.isfinite(week) else beyond
        rows.append((f"P{p * 100:.0f}", day, f"{chance} runs are finished by then"))
    table(("Finish", "Date", ""), rows)
    if report.unfinished_share > 0:
        say(f"{report.unfinished_share:.1%} of the runs are not finished within {report.horizon_weeks} weeks.\n")


def _show_stalls(build: Build, stalls: Sequence[StallMonth]) -> None:
    stalls = [stall for stall in stalls if stall.hours >= 0.1]
    if not stalls:
        say("No month has hours that no job could use.\n")
        return
    say("Hours that no ready job can use:")
    for stall in stalls[:_MONTHS_SHOWN]:
        causes = ", then ".join(_cause(build, cause.kind, cause.id) for cause in stall.causes[:_CAUSES_SHOWN])
        chance = f"more than half of the month with a chance of {_chance(stall.chance)}"
        say(f"  {month_words(stall.month)}: {stall.hours:.1f} h, {chance}, waiting most for {causes}.")
    if len(stalls) > _MONTHS_SHOWN:
        rest = stalls[_MONTHS_SHOWN:]
        say(f"  and {sum(stall.hours for stall in rest):.1f} h in {len(rest)} later months.")
    say()


def _show_standing(build: Build, report: WorkReport) -> None:
    causes = [cause for cause in report.causes if cause.days >= 1][:5]
    lines = [f"{_cause(build, cause.kind, cause.id)}: {cause.days:.0f} days ({cause.hours:.1f} h)" for cause in causes]
    _show_said("It stands still longest for:", lines)


def _show_said(title: str, lines: Sequence[str]) -> None:
    if lines:
        say("\n".join([title, *(f"  {line}" for line in lines), ""]))


def _chance(chance: float) -> str:
    return "less than 1 %" if chance < 0.01 else "more than 99 %" if chance > 0.99 else f"{chance:.0%}"


_LIST_OF = {"part": "parts", "decision": "decisions", "interface": "interfaces", "workshop": "workshops"}
_WORDS = {
    "part": "{name}",
    "decision": "the decision on {name}",
    "interface": "{name} to be settled",
    "workshop": "the work at {name}",
    "season": "the season for {name}",
    "cure": "{name} to cure",
    "job": "{name}",
    "helper": "a second person for {name}",
    "bay": "the bay or lift that {name} keeps",
}


def _cause(build: Build, kind: str, id_: str) -> str:
    noun = build.index[_LIST_OF.get(kind, "jobs")].get(id_)
    return _WORDS[kind].format(name=id_ if noun is None else noun.name)


def _show_ready(build: Build, ready: Sequence[ReadyJob], hours: float | None) -> None:
    from ..work.cautions import WHO_DECIDES

    if not ready:
        say("Nothing can be worked today: every job waits for something.\n")
        return
    say("Ready tonight:")
    for item in ready:
        fits = ""
        if hours is not None:
            end = "the stop point" if item.until else "the end"
            fits = (
                f" {hours:g} h tonight reach {end}."
                if item.hours_left <= hours
                else f" {hours:g} h tonight move it on."
            )
        say(f"  {item.text}{fits}")
        if item.tools:
            say(f"    Tools: {', '.join(item.tools)}.")
        if item.unlocks:
            say(f"    Waiting for it: {'; '.join(build.find('jobs', job).name for job in item.unlocks)}.")
        for caution in item.cautions[:-1]:
            say(f"    {caution}")
    if any(item.cautions for item in ready):
        say(f"  {WHO_DECIDES}")
    say()


def _show_critical(build: Build, report: WorkReport) -> None:
    if not report.critical:
        return
    rows = [
        (build.find("jobs", job).name, f"{report.slack_weeks[job]:.1f}", _chance(report.criticality[job]))
        for job in report.critical
    ]
    say("Longest chain of jobs, and how often each is on the chain that sets the finish:")
    table(("Job", "Slack, weeks", "Share of runs"), rows, right=(1, 2))
