"""`fishplate fit`"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, Within, emit, read_build, say

if TYPE_CHECKING:
    from ..build import Build
    from ..fit import FitReport

MOST_MEASURES = 12


@click.command("fit")
@BUILD_FILE
@AS_OF
@SEED
@click.option(
    "--samples",
    type=click.IntRange(1000, 1_000_000),
    default=20_000,
    show_default=True,
    help="How many times the dimensions are drawn together.",
)
@click.option("--interface", default=None, help="Only this interface.")
@click.option("--minutes", type=Within(min=0), help="What to measure within so many minutes.")
@click.option("--money", type=Within(min=0), help="What to measure within so much home currency.")
@click.option("--provision", metavar="DIMENSION", help="The value to make this dimension.")
@click.option("--budget", metavar="CONDITION", help="What must be known to what spread for this condition.")
@click.option(
    "--chance",
    type=Within(0, 1, min_open=True, max_open=True),
    default=0.99,
    show_default=True,
    help="The chance wanted with --budget.",
)
@click.option("--usual", is_flag=True, help="List the usual interfaces that the build does not have yet.")
@click.option("--add-usual", multiple=True, metavar="ID", help="Add a usual interface; can be given several times.")
@JSON_FLAG
def command(
    file: Path, as_of: date | None, seed: int, samples: int, interface: str | None, minutes: float | None,
    money: float | None, provision: str | None, budget: str | None, chance: float, usual: bool,
    add_usual: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """Does it go together, how sure is that, and what to measure.

    \f
    With --json: as_of, conditions, interfaces, measures, misfit_chance, assumptions, samples, seed, chance,
    standard_error and looks (dry runs still to be made), each as the fit report names them; chances are null where a
    dimension has no reading.

    \b
    --minutes, --money  measures, chosen, value, cost, net, minutes, money, bound, exact, text, assumptions
    --provision         dimension, unit, value, low, high, open_below, open_above, chance, too_little, too_much,
                        expected_cost, conditions, missing, text, assumptions
    --budget            condition, chance, chance_now, chance_exact, chance_best, reachable, needs, minutes, cost,
                        alone, missing, text, cheapest
    --usual             usual: id, name, systems, parts, dimensions, conditions, stand_in, hazards, consequence,
                        settle, late_hours, if_wrong, check, text, kind, how, tools, settles
    --add-usual         file, revision, added
    """
    from ..build import facts_of
    from ..fit import assess
    from ..wiring import today
    from . import fit_questions

    if add_usual:
        return fit_questions.add_usual(file, add_usual, as_json=as_json)
    build = read_build(file)
    facts = facts_of(build, as_of or today())
    asked = fit_questions.Asked(build, facts, seed, samples)
    if usual:
        return fit_questions.usual(asked, as_json=as_json)
    if provision is not None:
        return fit_questions.make(asked, provision, as_json=as_json)
    if budget is not None:
        return fit_questions.budget(asked, budget, chance, as_json=as_json)
    if minutes is not None or money is not None:
        return fit_questions.evening(asked, minutes, money, as_json=as_json)
    report = assess(build, facts, seed=seed, samples=samples)
    if interface is not None:
        report = _only(build, report, interface)
    if as_json:
        emit({"as_of": facts.as_of, **_data(report)})
    else:
        say("\n".join(_lines(build, report, whole=interface is None)))
    return None


def _only(build: Build, report: FitReport, interface: str) -> FitReport:
    from dataclasses import replace

    if interface not in build.index["interfaces"]:
        known = ", ".join(sorted(build.index["interfaces"])) or "none"
        raise click.BadParameter(f"the build has no interface {interface!r}; it has: {known}", param_hint="--interface")
    return replace(
        report,
        conditions=tuple(item for item in report.conditions if item.interface == interface),
        interfaces=tuple(item for item in report.interfaces if item.interface == interface),
        measures=tuple(item for item in report.measures if interface in item.interfaces),
        looks=tuple(item for item in report.looks if item.interface == interface),
    )


def _data(report: FitReport) -> dict[str, Any]:
    return asdict(report)


def _lines(build: Build, report: FitReport, *, whole: bool) -> Iterator[str]:
    from ..fit import Verdict

    if not report.interfaces:
        yield "No interface is listed. Add the places where parts meet, and what must hold there."
        return
    for verdict in (Verdict.DOES_NOT_FIT, Verdict.NOT_KNOWN, Verdict.IN_DOUBT, Verdict.FITS):
        chosen = [item for item in report.interfaces if item.verdict is verdict]
        if chosen:
            yield f"{verdict.capitalize()}"
            for item in chosen:
                yield f"  {item.text}"
                yield from _condition_lines(build, report, item.interface, whole=whole)
            yield ""
    yield from _caution_lines(build, report)
    yield from _measure_lines(report)
    yield from _look_lines(report)
    if whole and report.chance is not None:
        yield _whole_line(report.chance)
    yield from _assumption_lines(report)


def _whole_line(chance: float) -> str:
    """How sure it is that all that can be worked out holds at once."""
    from ..fit.sentences import chance_words

    if chance == 1.0:
        return "Everything that can be worked out holds together, and nothing in it is in doubt."
    if chance == 0.0:
        return "Not everything that can be worked out can hold together."
    return f"Everything that can be worked out holds together: {chance_words(chance)} chance."


def _condition_lines(build: Build, report: FitReport, interface: str, *, whole: bool) -> Iterator[str]:
    """A line a condition; where one interface was asked for, what stands behind its figures too."""
    from ..fit.sentences import behind_figures

    for item in report.conditions:
        if item.interface == interface:
            yield f"    {item.text}"
            yield from () if whole else (f"      {line}" for line in behind_figures(build, item))


def _caution_lines(build: Build, report: FitReport) -> Iterator[str]:
    """What to mind, each thing once, where something is to be verified on the vehicle."""
    from ..build.cautions import of_figures
    from ..fit.cautions import interface_lines

    verify = [build.find("interfaces", item.interface) for item in report.interfaces if item.verify_on_vehicle]
    if verify:
        yield "What to mind"
        yield f"  {of_figures()}"
        yield from (
            f"  {line}" for line in dict.fromkeys(line for item in verify for line in interface_lines(build, item))
        )
        yield ""


def _measure_lines(report: FitReport) -> Iterator[str]:
    if report.measures:
        yield "What to measure, best first"
        yield from (f"  {item.text}" for item in report.measures[:MOST_MEASURES])
        if len(report.measures) > MOST_MEASURES:
            yield f"  and {len(report.measures) - MOST_MEASURES} more (--json lists all)"
        yield ""


def _look_lines(report: FitReport) -> Iterator[str]:
    if report.looks:
        yield "What to try on the vehicle"
        yield from (f"  {item.text}" for item in report.looks)
        yield ""


def _assumption_lines(report: FitReport) -> Iterator[str]:
    if report.assumptions:
        yield ""
        yield "Taken for granted"
        yield from (f"  {item}" for item in report.assumptions)
