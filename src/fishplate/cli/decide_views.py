"""What `fishplate decide` shows of one decision, of the whole vehicle, and of a wish."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING

from .common import emit, progress_line, say, table

if TYPE_CHECKING:
    from ..build import Assumption, Build
    from ..decide.vehicle import Configuration
    from ..decide.weighed import Weighing
    from ..plan.vehicle import VehicleReport, WishReport

Names = Mapping[str, tuple[str, str]]


def show_weighing(build: Build, as_of: date, seed: int, decision: str, *, as_json: bool) -> None:
    """The options of one decision weighed; raises Refused where there is no such decision."""
    from ..build import Problem, Refused
    from ..decide.weighing import hundredths, weigh
    from ..plan.option_figures import measured
    from ..wiring import situation

    if decision not in build.index["decisions"]:
        known = ", ".join(build.index["decisions"]) or "none"
        raise Refused(
            [Problem("weigh", "no-such-decision", "there is no such decision", decision, f"It has: {known}.")]
        )
    found = situation(build, as_of, seed=seed)
    noun = build.find("decisions", decision)
    weighing = weigh(build, noun, measured(found, noun), seed=seed)
    if as_json:
        emit(asdict(weighing))
        return
    say(weighing.text or "Nothing says yet how good its options are: score them, and compare the swings.")
    if weighing.criteria:
        table(
            ("Criterion", "Worst", "Best", "Weight", "Between"),
            (
                (
                    item.name,
                    f"{item.worst:g}",
                    f"{item.best:g}",
                    f"{item.weight:.2f}",
                    f"{item.low:.2f} to {item.high:.2f}",
                )
                for item in weighing.criteria
            ),
            right=(1, 2, 3),
        )
    if weighing.options:
        rows = ((item.name, f"{item.value:.0f}", hundredths(item.ranks[0]), _beaten(weighing, item.dominated_by))
                for item in weighing.options)  # fmt: skip
        table(("Option", "Points", "Comes first", "Beaten by every criterion by"), rows, right=(1,))
    for item in weighing.learning[:3]:
        worth = f", worth about {item.money:,.0f} {build.owner.currency}" if item.money is not None else ""
        say(f"Knowing {item.what} for certain would change the choice {hundredths(item.turns)}{worth}.")
    _granted(weighing.assumptions)


def _beaten(weighing: Weighing, option: str | None) -> str:
    return next((item.name for item in weighing.options if item.option == option), "")


def show_configurations(build: Build, as_of: date, seed: int, *, as_json: bool) -> None:
    """Whole-vehicle choices that no other beats."""
    from ..plan.vehicle import vehicle_report
    from ..wiring import situation

    report = vehicle_report(situation(build, as_of, seed=seed), progress_line())
    if as_json:
        emit(_report_data(report))
        return
    for barrier in report.found.against_now:
        say(f"What the plan goes by can't be: {barrier.text}")
    if not report.shown:
        say("No choice satisfies every rule and condition. Together these leave none:")
        for barrier in report.found.fault:
            say(f"  {barrier.text}")
    else:
        say(f"{_counted(report)} that no other beats by cost, own hours and value alike")
        rows = [(*_figures(report.now), "nothing: as the plan goes")]
        rows += [(*_figures(item), _changes(item, report.names)) for item in report.shown]
        heads = (f"Cost [{report.currency}]", "Own hours", "Value", "Finish in weeks", "Other than the plan goes by")
        table(heads, rows, right=(0, 1, 2, 3))
    _granted((*report.assumptions, *report.found.assumptions))


def _counted(report: VehicleReport) -> str:
    best, count = len(report.found.frontier), report.found.count
    choices = "1 choice" if best == 1 else f"{best} choices"
    if count is None:
        return choices
    return f"{choices} of {count:,} that {'is' if count == 1 else 'are'} possible"


def show_wish(build: Build, as_of: date, seed: int, options: Sequence[str], *, as_json: bool) -> None:
    """What having some options takes, or why it can't be."""
    from ..plan.vehicle import wish_report
    from ..wiring import situation

    report = wish_report(situation(build, as_of, seed=seed), options, progress_line())
    if as_json:
        emit(_wish_data(report))
        return
    wish = " with ".join(f"“{report.names[option][1]}”" for option in report.wanted.options)
    if report.nearest is None:
        say(f"{wish} can't be. Together these are against it, and no fewer are:")
        for barrier in report.wanted.fault:
            say(f"  {barrier.text}")
    else:
        say(f"{wish} is possible. The nearest choice with it changes:")
        say(f"  {_changes(report.nearest, report.names) or 'nothing'}")
        heads = ("", f"Cost [{report.currency}]", "Own hours", "Value", "Finish in weeks")
        rows = (("as planned", *_figures(report.now)), ("with it", *_figures(report.nearest)))
        table(heads, rows, right=(1, 2, 3, 4))
    _granted(report.assumptions)


def _figures(item: Configuration) -> tuple[str, ...]:
    finish = "" if item.finish_weeks is None else f"{item.finish_weeks:.0f}"
    return f"{item.cost:,.0f}", f"{item.hours:,.0f}", f"{item.value:,.0f}", finish


def _changes(item: Configuration, names: Names) -> str:
    return "; ".join(f"{names[option][0]}: {names[option][1]}" for option in item.changes)


def _granted(assumptions: Sequence[Assumption]) -> None:
    found = dict.fromkeys(assumptions)
    if found:
        say(f"\nTaken for granted ({len(found)})")
        for assumption in found:
            say(f"  {assumption}")


def _report_data(report: VehicleReport) -> dict[str, object]:
    found = report.found
    return {
        "now": asdict(report.now),
        "against_now": [barrier.text for barrier in found.against_now],
        "complete": found.complete,
        "count": found.count,
        "frontier": [asdict(item) for item in found.frontier],
        "shown": [asdict(item) for item in report.shown],
        "fault": [barrier.text for barrier in found.fault],
        "doubts": [barrier.text for barrier in report.doubts],
        "currency": report.currency,
        "assumptions": [asdict(item) for item in report.assumptions],
    }


def _wish_data(report: WishReport) -> dict[str, object]:
    return {
        "options": report.wanted.options,
        "possible": report.nearest is not None,
        "fault": [barrier.text for barrier in report.wanted.fault],
        "now": asdict(report.now),
        "nearest": None if report.nearest is None else asdict(report.nearest),
        "currency": report.currency,
        "assumptions": [asdict(item) for item in report.assumptions],
    }
