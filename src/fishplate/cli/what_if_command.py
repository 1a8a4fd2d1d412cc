"""`fishplate what-if`"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..build import Build, Problem, Refused, build_from_data, format_document
from ..build.words import day_words
from .changing import CHANGES, with_changes
from .common import AS_OF, BUILD_FILE, JSON_FLAG, SEED, emit, progress_line, read_build, say

if TYPE_CHECKING:
    from ..plan.compare import Difference


@click.command("what-if")
@BUILD_FILE
@click.option(
    "--set",
    "settings",
    multiple=True,
    metavar="LIST:ID.FIELD=VALUE",
    help="Change one field, e.g. offers:hub-a.price.amount=210.",
)
@click.option("--decide", "choices", multiple=True, metavar="DECISION=OPTION", help="Take an option.")
@CHANGES
@AS_OF
@SEED
@JSON_FLAG
def command(
    file: Path,
    settings: tuple[str, ...],
    choices: tuple[str, ...],
    changes: tuple[str, ...],
    as_of: date | None,
    seed: int,
    as_json: bool,
) -> None:
    """Two plans side by side: as it is, and with a change. Nothing is written.

    The owner's fields are set as owner.FIELD=VALUE.

    \f
    JSON keys: finish_days, finish, money, total, moved, added,
    dropped, new_actions, gone_actions, stalled, changes (part, kind, text, cause), unmet, impact.
    """
    from ..impact import impact_of_change
    from ..plan import compare, plan
    from ..plan.compare import earlier_of
    from ..wiring import memo, today
    from .planning import situation_of

    day = as_of or today()
    build = read_build(file)
    changed = with_changes(changed_build(build, settings, choices, day, source=file.name), changes, day)
    before = plan(situation_of(build, day, seed), progress=progress_line(), memo=memo())
    near = earlier_of(before, build, changed)
    after = plan(situation_of(changed, day, seed), progress=progress_line(), memo=memo(), earlier=near)
    difference = compare(before, after, (build, changed))
    impact = impact_of_change(build, changed, day, rates=situation_of(build, day, seed).to_home).text
    if as_json:
        emit({**asdict(difference), "impact": impact})
        return
    say(f"{impact}\n")
    _show(difference, changed, before.currency)


def _show(difference: Difference, changed: Build, currency: str) -> None:
    if difference.finish_days is not None:
        days = difference.finish_days
        words = "does not move" if days == 0 else f"comes {abs(days)} days {'later' if days > 0 else 'sooner'}"
        say(f"Even-chance finish {words}: {_day(difference.finish[0])} → {_day(difference.finish[1])}.")
    say(f"Purchases at the door: {difference.money:+,.2f} {currency}; everything expected: {difference.total:+,.2f}.")
    if difference.unmet:
        gone = ", ".join(changed.find("parts", part).name for part in difference.unmet)
        say(f"Nobody would sell any more: {gone}. What is found elsewhere is in none of these sums.")
    say(f"Hours without useful work: {difference.stalled[0]:.0f} h → {difference.stalled[1]:.0f} h.")
    for change in difference.changes:
        if change.kind not in ("added", "dropped"):
            say(f"  {change.text}")
    for label, names in (("Bought besides", difference.added), ("No longer bought", difference.dropped)):
        if names:
            say(f"{label}: {', '.join(names)}")
    for label, names in (
        ("New among the first ten", difference.new_actions),
        ("Gone from them", difference.gone_actions),
    ):
        for name in names:
            say(f"{label}: {name}")


def _day(day: date | None) -> str:
    return "not known" if day is None else day_words(day)


def changed_build(
    build: Build, settings: tuple[str, ...], choices: tuple[str, ...], day: date, *, source: str
) -> Build:
    """The build with fields set and decisions taken; raises Refused with every fault."""
    data = json.loads(format_document(build))
    problems: list[Problem] = []
    for text in settings:
        _set(data, text, problems)
    for text in choices:
        decision, _, option = text.partition("=")
        _set(data, f"decisions:{decision}.chosen={option}", problems)
        _set(data, f"decisions:{decision}.chosen_on={day.isoformat()}", problems)
    if problems:
        raise Refused(problems)
    return build_from_data(data, source=source)


def _set(data: dict[str, Any], text: str, problems: list[Problem]) -> None:
    target, equals, value = text.partition("=")
    head, _, path = target.partition(".")
    list_name, colon, id_ = head.partition(":")
    noun: Any = data.setdefault("owner", {}) if head == "owner" else None
    if colon:
        noun = next((item for item in data.get(list_name, []) if item.get("id") == id_), None)
    if not equals or not path or noun is None:
        do = "Write LIST:ID.FIELD=VALUE, e.g. offers:hub-a.price.amount=210, or owner.FIELD=VALUE."
        problems.append(Problem(f"--set {text}", "unknown-target", "there is no such field to set", target, do))
        return
    *steps, last = path.split(".")
    for step in steps:
        noun = noun.setdefault(step, {})
        if not isinstance(noun, dict):
            problems.append(
                Problem(f"--set {text}", "unknown-target", "that field holds no fields", step, "Name a field.")
            )
            return
    noun[last] = _value(value)


def _value(text: str) -> Any:
    try:
        return json.loads(text)
    except json.JSONDecodeError:
        return text
