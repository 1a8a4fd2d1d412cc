"""`fishplate stress`"""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from pathlib import Path
from time import perf_counter

import click

from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, emit, progress_line, read_build, say


@click.command("stress")
@BUILD_FILE
@click.option("--futures", type=click.IntRange(20, 2000), default=200, show_default=True, help="How many of each kind.")
@AS_OF
@SEED
@JSON_FLAG
def command(file: Path, futures: int, as_of: date | None, seed: int, as_json: bool) -> None:
    """How the plan holds up over many futures, beside plain rules of buying and beside hindsight.

    The futures are the plan's own outlook, and four in which it is wrong. Ctrl-C stops it; nothing is written.

    \f
    JSON keys: as_of, currency, futures, worlds (world, words, mean, p90, regret, regret_most, regret_p90,
    regret_p90_most, foreseen, rules with name, mean, p90, difference, low, high, over), text, notes, seconds.
    """
    from ..plan.main_job import settled
    from ..plan.stress import stress
    from ..wiring import earlier_plan, memo
    from .planning import situation_of

    begun, progress = perf_counter(), progress_line()
    situation = situation_of(read_build(file), as_of, seed)
    studied, chosen, _, _ = settled(situation, progress=progress, memo=memo(), earlier=earlier_plan(file))
    found = stress(studied, chosen, progress, futures=futures)
    seconds = perf_counter() - begun
    if as_json:
        emit({**asdict(found), "seconds": round(seconds, 1)})
        return
    for line in (*found.text, "", *found.notes):
        say(line)
    say(f"{found.futures} futures of each of {len(found.worlds)} kinds in {seconds:.0f} seconds.")
