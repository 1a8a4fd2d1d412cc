"""`fishplate plan`"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, emit, progress_line, say, tell_about


@click.command("plan")
@BUILD_FILE
@AS_OF
@SEED
@JSON_FLAG
@click.option("--exact", is_flag=True, help="Check the leading actions by planning everything again.")
@click.option("--all", "everything", is_flag=True, help="Show every action and assumption.")
@click.option("--page", type=click.Path(path_type=Path), help="Also write the plan as one page of HTML.")
def command(
    file: Path, as_of: date | None, seed: int, as_json: bool, exact: bool, everything: bool, page: Path | None
) -> None:
    """What to decide, measure, buy, collect and do next, and why.

    \f
    JSON keys: actions, finish, stall, ready_to_buy, purchase, fit, cash, assumptions, questions, seed, revision,
    as_of, build_name, currency, expected_total, rounds, level, notes, critical, deadlines, exact,
    stability, changed_since, changes, faults, deciding, shelf.
    """
    from ..plan import check_exactly, plan, plan_data
    from ..wiring import earlier_plan, keep_plan, memo, read_revision, today
    from .planning import exact_words, show_plan, situation_of, write_page

    build, revision = read_revision(file)
    tell_about(build)
    situation = situation_of(build, as_of, seed)
    earlier = earlier_plan(file)
    result = plan(situation, revision=revision, progress=progress_line(), memo=memo(), earlier=earlier)
    if exact:
        result = check_exactly(situation, result, progress=progress_line())
    if result.as_of <= today() and (earlier is None or earlier.last.as_of <= result.as_of):
        keep_plan(file, result)
    if page is not None:
        write_page(result, build, page)
    if as_json:
        emit(plan_data(result))
        return
    show_plan(result, build, everything=everything)
    if exact:
        for line in exact_words(result):
            say(line)
