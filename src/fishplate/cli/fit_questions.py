"""Single questions to `fishplate fit`: an evening's measuring, a provision, a tolerance budget, usual interfaces."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import emit, say

if TYPE_CHECKING:
    from ..build import Build, Facts
    from ..fit import Measure, MeasurePlan

MOST_LINES = 12


@dataclass(frozen=True, slots=True)
class Asked:
    """A build on a day, and how it is drawn."""

    build: Build
    facts: Facts
    seed: int
    samples: int


def evening(asked: Asked, minutes: float | None, money: float | None, *, as_json: bool) -> None:
    """What to measure within an evening's minutes and money."""
    from ..fit import measure_next, study
    from ..wiring import load_rates

    studied = study(asked.build, asked.facts, seed=asked.seed, samples=asked.samples)
    home = asked.build.owner.currency
    known, _ = load_rates(asked.facts.as_of, asked.build)
    rates = {code: float(known.rate(code, home)) for code in {known.base, *known.per_base}}
    plan = measure_next(asked.build, asked.facts, studied, minutes=minutes, money=money, rates=rates)
    if as_json:
        emit({"as_of": asked.facts.as_of, **_plan_data(plan)})
    else:
        say("\n".join(_plan_lines(plan)))


def _plan_data(plan: MeasurePlan) -> Mapping[str, Any]:
    fields = ("value", "cost", "net", "minutes", "money", "bound", "exact", "text")
    return {
        "measures": [_measure_data(item) for item in plan.measures],
        "chosen": [item.way.id for item in plan.chosen],
        **{name: getattr(plan, name) for name in fields},
        "assumptions": [asdict(item) for item in plan.assumptions],
    }


def _measure_data(item: Measure) -> Mapping[str, Any]:
    way = asdict(item.way)
    way["spreads"] = dict(item.way.spreads)
    return {**way, "interfaces": item.interfaces, "value": item.value, "cost": item.cost, "net": item.net,
            "text": item.text, "instruments": [asdict(each) for each in item.instruments]}  # fmt: skip


def _plan_lines(plan: MeasurePlan) -> Iterator[str]:
    yield plan.text
    yield from (f"  {item.text}" for item in plan.chosen)
    others = [item for item in plan.measures if item not in plan.chosen]
    if others:
        yield ""
        yield "Also worth knowing, each by itself"
        yield from (f"  {item.text}" for item in others[:MOST_LINES])
        if len(others) > MOST_LINES:
            yield f"  and {len(others) - MOST_LINES} more (--json lists all)"


def make(asked: Asked, dimension: str, *, as_json: bool) -> None:
    """The value to make a dimension."""
    from ..fit import provision

    _known(asked.build, "dimensions", dimension, "--provision")
    found = provision(asked.build, asked.facts, dimension, seed=asked.seed, samples=asked.samples)
    if as_json:
        emit({"as_of": asked.facts.as_of, **asdict(found)})
        return
    say(found.text)
    for assumption in found.assumptions:
        say(f"  {assumption}")


def budget(asked: Asked, condition: str, chance: float, *, as_json: bool) -> None:
    """Which dimension of a condition must be known to what spread."""
    from ..fit import tolerance_budget

    _known(asked.build, "conditions", condition, "--budget")
    try:
        found = tolerance_budget(asked.build, asked.facts, condition, chance, seed=asked.seed, samples=asked.samples)
    except KeyError:
        raise click.BadParameter(f"{condition!r} is not called for by what is chosen", param_hint="--budget") from None
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--budget") from None
    if as_json:
        emit({"as_of": asked.facts.as_of, **asdict(found)})
        return
    say(found.text)
    for name, spread in found.alone.items():
        dimension = asked.build.find("dimensions", name)
        alone = f"± {spread:.3g} {dimension.unit} alone would do" if spread is not None else "alone it would not do"
        say(f"  {dimension.name}: {alone}")


def _known(build: Build, list_name: str, key: str, hint: str) -> None:
    if key not in build.index[list_name]:
        known = ", ".join(sorted(build.index[list_name])[:40]) or "none"
        raise click.BadParameter(
            f"the build has no {list_name.removesuffix('s')} {key!r}; it has: {known}", param_hint=hint
        )


def usual(asked: Asked, *, as_json: bool) -> None:
    """The usual interfaces that the build does not list yet."""
    from ..fit import usual_interfaces
    from ..fit.sentences import inner

    found = usual_interfaces(asked.build)
    if as_json:
        emit({"usual": [asdict(item) for item in found]})
        return
    if not found:
        say("Every usual interface of the systems and parts in this build is listed.")
    for item in found:
        say(f"{item.id}\n  {item.text}")
        for name, how, tools in zip(item.dimensions, item.how, item.tools, strict=True):
            say(f"  - {name} ({tools}). {how}")
        if item.settles:
            say(f"  In mock-up, for {'; '.join(item.settles)}: {inner(item.stand_in or '')}.")


def add_usual(path: Path, ids: tuple[str, ...], *, as_json: bool) -> None:
    """Write usual interfaces into a build file, in one batch."""
    from ..fit import with_usual
    from ..wiring import author, open_file

    file = open_file(path)
    snapshot = file.snapshot()
    new = with_usual(snapshot.build, ids)
    lists = ("interfaces", "dimensions", "conditions", "stand_ins")
    counts = {name: len(getattr(new, name)) - len(getattr(snapshot.build, name)) for name in lists}
    revision = snapshot.revision
    if any(counts.values()):
        message = f"added usual interfaces: {', '.join(ids)}"[:200]
        revision = file.write(new, revision=snapshot.revision, author=author(), message=message)
    if as_json:
        emit({"file": str(path), "revision": revision, "added": counts})
        return
    if not any(counts.values()):
        say("All of it is in the build already; nothing was written.")
        return
    words = {name: name.replace("_", "-") for name in lists}
    said = ", ".join(
        f"{count} {words[name] if count > 1 else words[name].removesuffix('s')}"
        for name, count in counts.items()
        if count
    )
    say(f"Added {said}: {path} is at revision {revision}. To take it back: fishplate undo {path}.")
    say(f"What to measure for them: fishplate fit {path}")
