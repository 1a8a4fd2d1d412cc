"""What to do to know better, in the words of somebody who builds."""

from __future__ import annotations

from collections.abc import Sequence

from .instruments import Reckoned, clearly_better
from .sentences import dimension_words, list_words, the
from .study import Study
from .ways import Way

# Another instrument is spoken of where what it leaves differs by no more than this share; less than this is nothing.
CLOSE = 0.1
_NOTHING = 0.05

# A caliper is also a brake's, a rule also a law.
_TOOLS = {"caliper": "vernier caliper", "rule": "steel rule", "scale": "scales", "template": "gauge block"}


def way_text(study: Study, way: Way, value: float, cost: float) -> str:
    """One sentence on a thing to do and what it is worth."""
    head = f"{_doing(study, way, way.dimensions)}: {_price(study, way)}"
    return f"{head}, {_saving(study, way, value, cost)}{_once(study, way)}."


def way_text_short(study: Study, way: Way) -> str:
    """What to do, as part of a sentence: "with the tape", "by a stand-in"."""
    match way.means:
        case "stand-in":
            return f"with {the(study.build.find('stand_ins', way.stand_in or '').name)}"
        case "enquiry":
            return f"by asking {study.build.find('suppliers', way.supplier or '').name}"
        case "early purchase":
            return f"by having {the(study.build.find('parts', way.part or '').name)} early"
        case _:
            tool = tool_words(way.instrument)
            return f"with the {tool}" if tool else "by measuring it"


def tool_words(instrument: str | None) -> str:
    """An instrument as one asks for it; empty where it is none in particular."""
    if instrument is None or instrument == "other":
        return ""
    return _TOOLS.get(instrument, instrument.replace("-", " "))


def measure_text(
    study: Study, way: Way, name: str, value: float, cost: float, stand_in: str | None
) -> str:  # fmt: skip
    """One sentence on a dimension worth knowing better, by its best way."""
    build = study.build
    aid = ""
    if stand_in is not None and way.means != "stand-in":
        aid = f"; {the(build.find('stand_ins', stand_in).name)} can stand in"
    worth = _saving(study, way, value, cost)
    return f"{_doing(study, way, [name])}: {_price(study, way)}, {worth}{_once(study, way)}{aid}."


def instrument_text(study: Study, best: Reckoned, found: Sequence[Reckoned]) -> str:
    """Why not a finer or a quicker instrument: the usual one, one that leaves more alone, others where it is close."""
    if len(found) == 1 or best.net <= 0:
        return ""
    near = max(1.0, CLOSE * best.net)
    said = [
        f" {_why_not(study, best, other)}"
        for other in found
        if other is not best and (other is found[0] or other.net >= best.net - near)
    ]
    if best is not found[0]:
        tool, usual = (tool_words(each.way.instrument) for each in (best, found[0]))
        said.append(f" Where the {tool} can't be laid on, take the {usual}.")
    return "".join(said)


def _why_not(study: Study, best: Reckoned, other: Reckoned) -> str:
    tool = tool_words(other.way.instrument)
    longer, more = other.way.minutes - best.way.minutes, other.value - best.value
    minutes = f"{abs(longer):g} {'minute' if abs(longer) == 1 else 'minutes'}"
    takes = "as long" if longer == 0 else f"{minutes} {'more' if longer > 0 else 'less'}"
    amount = f"{abs(more):.{0 if abs(more) >= 10 else 1}f} {study.build.owner.currency}"
    if abs(more) < _NOTHING:
        return f"The {tool} takes {takes} and tells about as much here."
    if more < 0:
        return f"The {tool} takes {takes}, but would save {amount} less."
    if clearly_better(other, best):
        return f"The {tool} would save {amount} more, but its {minutes} more find no room here, or better use."
    return f"The {tool} takes {takes} and would save only {amount} more."


def _doing(study: Study, way: Way, names: Sequence[str]) -> str:
    build = study.build
    what = dimension_words(build, names)
    match way.means:
        case "stand-in":
            return f"Settle {what} with {the(build.find('stand_ins', way.stand_in or '').name)}"
        case "enquiry":
            return f"Ask {build.find('suppliers', way.supplier or '').name} for {what}"
        case "early purchase":
            return f"Buy {the(build.find('parts', way.part or '').name)} early and measure {what}"
        case _:
            return _measuring(study, way, names, what)


def _measuring(study: Study, way: Way, names: Sequence[str], what: str) -> str:
    dimension = study.build.find("dimensions", names[0])
    state = study.states.get(names[0])
    verb = "Settle" if dimension.provision else "Read" if dimension.designates else "Measure"
    again = " again" if state is not None and (state.stale or state.own) else ""
    tool = "" if dimension.provision else tool_words(way.instrument)
    return f"{verb} {what}{again}{f' with the {tool}' if tool else ''}"


def _price(study: Study, way: Way) -> str:
    outlay = f" and {way.money:.0f} {study.build.owner.currency}" if way.money >= 0.5 else ""
    return f"{way.minutes:g} minutes{outlay}"


def _saving(study: Study, way: Way, value: float, cost: float) -> str:
    currency = study.build.owner.currency
    money, takes = (f"{figure:.0f}" if figure >= 1 else "less than 1" for figure in (value, cost))
    of = "time and money" if way.money >= 0.5 else "time"
    if value < cost:
        return f"expected to save {money} {currency} of rework, less than the {cost:.0f} {currency} of {of} it takes"
    return f"expected to save {money} {currency} of rework for {takes} {currency} of {of}"


def _once(study: Study, way: Way) -> str:
    build = study.build
    part, job = way.blocked_by_part, way.blocked_by_job
    waits = [f"{the(build.find('parts', part).name)} is in hand"] if part else []
    waits += [f"the job “{build.find('jobs', job).name}” is done"] if job else []
    return f", once {list_words(waits)}" if waits else ""
