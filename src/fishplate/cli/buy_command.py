"""`fishplate buy`"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..build.words import day_words
from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, emit, progress_line, say, table, tell_about, under

if TYPE_CHECKING:
    from ..build import Build
    from ..plan import Plan


@click.command("buy")
@BUILD_FILE
@AS_OF
@SEED
@JSON_FLAG
def command(file: Path, as_of: date | None, seed: int, as_json: bool) -> None:
    """What to order, from whom, when and by which way home.

    \f
    JSON keys: total, gap, expected_cost, lines, collections, unmet, held, waits, note, consignments, timings,
    clash.
    """
    from ..plan import plan, plan_data
    from ..wiring import earlier_plan, memo, read_revision
    from .planning import situation_of

    build, revision = read_revision(file)
    tell_about(build)
    result = plan(
        situation_of(build, as_of, seed),
        revision=revision,
        progress=progress_line(),
        memo=memo(),
        earlier=earlier_plan(file),
    )
    if as_json:
        emit(plan_data(result)["purchase"])
        return
    _show(result, build)


def _show(result: Plan, build: Build) -> None:
    from ..plan.model import clash_lines

    purchase = result.purchase
    gap = f"gap {100 * purchase.gap:.2f} % for these dates"
    say(f"{purchase.total:,.2f} {result.currency} at the door, trips included; {gap}.")
    names = {supplier.id: supplier.name for supplier in build.suppliers}
    shipments: dict[str, list[tuple[str, ...]]] = {}
    for line in purchase.lines:
        day = day_words(line.order_by) if line.order_by else "not dated"
        head = f"{day}, {names[line.supplier]}, {line.route}" + (f" ({line.collection})" if line.collection else "")
        row = (
            under(f"{line.units} × {line.part}" if line.units > 1 else line.part, line.why),
            f"{line.landed:,.2f}",
            f"{line.arrives_p50:%-d %b %Y}" if line.arrives_p50 else "–",
            f"{line.late_cost:,.0f}" if line.late_cost >= 1 else "–",
        )
        shipments.setdefault(head, []).append(row)
    for head, rows in shipments.items():
        say(f"\n{head}")
        table(("what", f"at the door {result.currency}", "likely here", "lateness costs"), rows, right=(1, 3))
    for trip in purchase.collections:
        say(
            f"Trip {trip.collection} on {day_words(trip.day)}: "
            f"{trip.trip_cost:,.2f} {result.currency}, own hours included."
        )
    for text in clash_lines(purchase.clash):
        say(text)
    for offer, why in purchase.held.items():
        say(f"Held: {offer} waits for the {why}.")
    for part, count in purchase.unmet.items():
        say(f"Not bought: {count:g} × {build.find('parts', part).name}; no offer that can be ordered is known.")
    say("Estimates on the day's rates and rules; declare goods honestly: the authority or a licensed broker decides.")
