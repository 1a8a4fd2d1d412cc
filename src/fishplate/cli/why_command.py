"""`fishplate why`"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path

import click

from .common import AS_OF, BUILD_FILE, DAY, JSON_FLAG, SEED, emit, progress_line, read_build, say

ANOTHER = ""


@click.command("why")
@BUILD_FILE
@click.argument("part")
@click.option("--supplier", is_flag=False, flag_value=ANOTHER, help="From this supplier; without an id: from another.")
@click.option("--route", is_flag=False, flag_value=ANOTHER, help="By this way home; without an id: by another.")
@click.option("--week", type=DAY, help="Ordered in the week of this day.")
@click.option("--earlier", is_flag=True, help="Ordered earlier than planned.")
@click.option("--later", is_flag=True, help="Ordered later than planned.")
@AS_OF
@SEED
@JSON_FLAG
def command(
    file: Path,
    part: str,
    supplier: str | None,
    route: str | None,
    week: date | None,
    earlier: bool,
    later: bool,
    as_of: date | None,
    seed: int,
    as_json: bool,
) -> None:
    """Why a part is bought as it is, and what another seller, week or way home would cost more.

    PART is its id. What is asked for together holds together; without options the usual questions are answered. The
    extra cost compares the best plan with the part bought so with the best in which it is bought as planned.

    \f
    JSON keys: part, name, currency, bought, answers (asked, extra, low, high, lines, parts_of_extra, moved, text).
    """
    from ..plan.main_job import settled
    from ..plan.why import USUAL, Otherwise, why
    from ..wiring import earlier_plan, memo
    from .planning import situation_of

    asked = Otherwise(supplier, route, week, earlier, later)
    situation = situation_of(read_build(file), as_of, seed)
    studied, chosen, _, _ = settled(situation, progress=progress_line(), memo=memo(), earlier=earlier_plan(file))
    found = why(studied, chosen, part, USUAL if asked == Otherwise() else (asked,))
    if as_json:
        emit(asdict(found))
        return
    say(found.bought)
    for answer in found.answers:
        say(answer.text)
