"""A report in a few sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..build.words import day_words
from .model import Fate, ImpactReport, PartFate
from .reach import Reach

NAME_OF_KIND = {"parts": "part", "dimensions": "dimension", "decisions": "decision"}


def summary(
    home: str,
    head: str,
    parts: Sequence[PartFate],
    reach: Reach,
    money: tuple[float, float, float],
    hours: float,
    cautions: Sequence[str],
) -> str:
    """What comes loose, in a few sentences after their head; `home` is the home currency."""
    loose = [
        *_fate_words(parts, home),
        *([f"about {hours:.0f} h of work to do again"] if hours >= 0.5 else []),
        *_counted(len(reach.dimensions), "dimension to take again", "dimensions to take again"),
        *_counted(len(reach.interfaces), "verdict gone", "verdicts gone"),
        *_counted(len(reach.releases), "order held again", "orders held again"),
        *_counted(len(reach.decisions), "decision open again", "decisions open again"),
    ]
    body = "; ".join(loose) if loose else "nothing else comes loose yet"
    if head.endswith(". "):
        body = body[:1].upper() + body[1:]
    low, likely, high = money
    span = f", between {low:.0f} and {high:.0f}" if high - low >= 0.5 else ""
    figures = f" Money lost: about {likely:.0f} {home}{span}." if high >= 0.5 else ""
    return f"{head}{body}.{figures}{''.join(f' {caution}' for caution in cautions)}"


def _fate_words(parts: Sequence[PartFate], home: str) -> Iterator[str]:
    for fate in reversed(Fate):
        found = [part for part in parts if part.fate is fate]
        if not found:
            continue
        count = len({part.part for part in found})
        loss = sum(part.loss for part in found)
        soonest = min((part.until for part in found if part.until), default=None)
        when = f" (the first until {day_words(soonest)})" if soonest and count > 1 else ""
        when = f" until {day_words(soonest)}" if soonest and count == 1 else when
        cost = f", {loss:.0f} {home}" if loss >= 0.5 else ""
        yield f"{count} {'part' if count == 1 else 'parts'} {fate}{when}{cost}"


def _counted(count: int, one: str, many: str) -> Iterator[str]:
    if count:
        yield f"{count} {one if count == 1 else many}"


def rest_of(report: ImpactReport) -> str:
    """What a change brings besides, after what comes loose by it; with a space before it, or empty."""
    said = [
        *(item.text for item in report.to_buy),
        *(item.text for item in report.prices),
        *report.dates,
        *_hours(report.more_hours),
        *report.whole,
    ]
    return "".join(f" {text}" for text in said)


def _hours(more: float) -> Iterator[str]:
    if abs(more) >= 0.5:
        yield f"About {abs(more):.0f} h of work {'more' if more > 0 else 'less'} are left to do."
