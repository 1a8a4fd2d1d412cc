"""The sentences of the report."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from ..build import Build
from ..build.interfaces import Condition, Interface, Settled
from ..build.units import format_quantity
from ..build.words import day_words, joined
from .mating import Finding
from .model import ConditionResult, Verdict
from .sampling import Chance
from .verdicts import FITS_FROM, FITS_FROM_GRAVE, is_grave

# A smaller share of what makes a condition fail is not worth a word.
SHARE_TOLD: Final = 0.05
_PAUSES: Final = frozenset(",:;")
Margins = tuple[float | None, float | None, float | None]


def chance_words(chance: float) -> str:
    """A chance in words; never 0 % or 100 % unless certain.

    Examples
    --------
    >>> chance_words(0.834), chance_words(0.9996), chance_words(0.0002), chance_words(1.0)
    ('83 %', 'more than 99.9 %', 'less than 0.1 %', 'certain')
    """
    if chance in (0.0, 1.0):
        return "certain" if chance else "impossible"
    if chance > 0.999:
        return "more than 99.9 %"
    if chance < 0.001:
        return "less than 0.1 %"
    return f"{100 * chance:.1f} %" if chance > 0.985 or chance < 0.015 else f"{100 * chance:.0f} %"


def list_words(names: Sequence[str], *, most: int = 4) -> str:
    """Names joined as in a sentence.

    Examples
    --------
    >>> list_words(["a", "b", "c"])
    'a, b and c'
    """
    shown = list(names) if len(names) <= most else [*names[: most - 1], f"{len(names) - most + 1} more"]
    return joined(shown)


def dimension_words(build: Build, ids: Sequence[str]) -> str:
    """The names of dimensions as in the middle of a sentence, each with its article."""
    return list_words([the(build.find("dimensions", id_).name) for id_ in ids])


def the(name: str) -> str:
    """A name with its article inside a sentence; in quotes, whole, where it holds a pause of its own.

    Examples
    --------
    >>> the("Arch height"), the("Arch lip to hub, at ride height")
    ('the arch height', '“Arch lip to hub, at ride height”')
    """
    return f"“{name}”" if _PAUSES & set(name) else f"the {inner(name)}"


def inner(name: str) -> str:
    """A name as it stands inside a sentence.

    Examples
    --------
    >>> inner("Arch height"), inner("ABS ring width")
    ('arch height', 'ABS ring width')
    """
    return name if len(name) > 1 and name[1].isupper() else name[:1].lower() + name[1:]


def condition_text(
    build: Build,
    condition: Condition,
    verdict: Verdict,
    *,
    chance: float | None = None,
    unit: str = "",
    margins: Margins = (None, None, None),
    shares: Mapping[str, float] | None = None,
    missing: Sequence[str] = (),
    stale: Sequence[str] = (),
    swayed: bool = False,
    default: float = 0.0,
    settled: Settled | None = None,
    finding: Finding | None = None,
) -> str:
    """One sentence on a condition."""
    if settled is not None:
        bare = "; no photograph of it is kept" if condition.kind == "dry-run" and not settled.photo else ""
        return f"{condition.name}: {_seen(settled)}{bare}."
    head = f"{condition.name}: {verdict}"
    if condition.kind == "dry-run":
        tools = f", with {list_words([inner(tool) for tool in condition.tools])}" if condition.tools else ""
        return f"{head}; the dry run is still to be made: in and out on the vehicle{tools}."
    if missing:
        return f"{head}; there is no reading of {dimension_words(build, missing)}."
    if stale:
        what = f"{dimension_words(build, stale)} {_were(stale)} measured before the vehicle changed"
        return f"{head}; {what}. Measure again."
    if finding is not None:
        odds = f"{chance_words(chance or 0.0)} chance that it mates, for a designation can be wrong"
        return f"{head}; {finding.text} ({odds})."
    odds = f"{head}, {_odds(chance)}{_margin(unit, margins)}"
    if swayed:
        return f"{odds}, but the spreads were not stated and taken by default, and they decide it."
    most = _most(build, shares or {}) if verdict is not Verdict.FITS else ""
    rests = f"; {100 * default:.0f} % of the spread rests on defaults" if 0.005 <= default < 0.995 else ""
    asked = _asked(condition, verdict, chance)
    return f"{odds}{asked}{most}{rests if default < 0.995 else '; all of the spread rests on defaults'}."


def _odds(chance: float | None) -> str:
    words = chance_words(chance or 0.0)
    if words == "certain":
        return "whatever the dimensions within their limits"
    return "whatever the dimensions within their limits" if words == "impossible" else f"{words} chance that it holds"


def _margin(unit: str, margins: Margins) -> str:
    low, middle, high = margins
    if low is None or middle is None or high is None:
        return ""
    word = "to spare" if middle >= 0 else "too little"
    if high - low < 1e-9 * max(1.0, abs(middle)):
        return f", {format_quantity(abs(middle), unit, digits=3)} {word}"
    # two digits of the span are as fine as the figures are
    decimals = max(0, 1 - math.floor(math.log10(high - low)))
    most, near, far = (f"{round(abs(value), decimals) + 0.0:.{decimals}f}" for value in (middle, low, high))
    of = f" {unit}" if unit else ""
    if low < 0 < high:
        spread = f"{near}{of} too little to {far}{of} to spare"
    else:  # both on one side of the limit, the smaller first
        spread = f"{near} to {far}{of}" if low >= 0 else f"{far} to {near}{of}"
    return f", {most}{of} {word} ({spread} in nine cases of ten)"


def _most(build: Build, shares: Mapping[str, float]) -> str:
    if len(shares) < 2:
        return ""
    name, share = max(shares.items(), key=lambda item: (item[1], item[0]))
    if share < 0.3:
        return ""
    part = "most" if share >= 0.5 else "the largest part"
    return f"; {part} of the doubt comes from {dimension_words(build, [name])}"


def _asked(condition: Condition, verdict: Verdict, chance: float | None) -> str:
    """Why a chance that would do elsewhere does not do here."""
    grave = is_grave(condition.consequence)
    if verdict is not Verdict.IN_DOUBT or not grave or chance is None or chance < FITS_FROM:
        return ""
    return f"; {100 * FITS_FROM_GRAVE:.0f} % is asked for where a misfit is hidden or a hazard"


def behind_figures(build: Build, result: ConditionResult) -> Iterator[str]:
    """Sentences on the worst case of a condition, and on what makes it fail, where there is any to be told."""
    if result.worst_method:
        yield _worst(result)
    telling = sorted(result.misfit_shares.items(), key=lambda pair: (-pair[1], pair[0]))
    named = [(name, share) for name, share in telling if share >= SHARE_TOLD][:3]
    if len(telling) > 1 and named:
        each = [f"{100 * share:.0f} %{' lies' * (at == 0)} with {dimension_words(build, [name])}"
                for at, (name, share) in enumerate(named)]  # fmt: skip
        rest = "" if sum(share for _, share in telling) > 1 - SHARE_TOLD else "; the rest with how they fall together"
        yield f"Of whether it fails, {joined(each)} alone{rest}."


def _worst(result: ConditionResult) -> str:
    if result.worst_low is None or result.worst_high is None:
        return "With every dimension at its bounds nothing holds it: something is divided by nought, or has no value."
    low, high = (f"{value:.4g}".replace("-", "−") for value in (result.worst_low, result.worst_high))
    unit = f" {result.unit}" if result.unit else ""
    found = {"search": ", or a little less far", "corners": ", by all the corners; in between it may be worse"}
    head = f"With every dimension at its bounds it lies between {low} and {high}{unit}"
    margin = result.worst_margin
    word = "" if margin is None else f"; at worst {_spare(margin, unit)}"
    return f"{head}{found.get(result.worst_method, '')}{word}."


def _spare(margin: float, unit: str) -> str:
    return f"{abs(margin):.3g}{unit} {'to spare' if margin > 0 else 'too little'}" if margin else "nothing to spare"


def _were(ids: Sequence[str]) -> str:
    return "was" if len(ids) == 1 else "were"


def _seen(settled: Settled) -> str:
    seen = "seen to be right" if settled.good else "seen not to be right"
    return f"{seen} on the vehicle on {day_words(settled.day)} by {settled.by}"


def interface_text(
    build: Build,
    interface: Interface,
    verdict: Verdict,
    chance: Chance | None,
    results: Sequence[ConditionResult],
    *,
    settled: Settled | None,
    verify: bool,
    default: float = 0.0,
) -> str:
    """One or two sentences on an interface."""
    check = " Verify it on the vehicle before it is closed up or first moved." if verify else ""
    if settled is not None:
        return f"{interface.name}: {_seen(settled)}.{check}"
    if not results:
        return f"{interface.name}: {verdict}; no condition is stated. Look at it on the vehicle.{check}"
    return f"{interface.name}: {verdict}{_because(build, verdict, chance, results)}{_rests(verdict, default)}.{check}"


def _rests(verdict: Verdict, default: float) -> str:
    """How much of the doubt rests on spreads nobody stated, where there is doubt."""
    if verdict in (Verdict.FITS, Verdict.NOT_KNOWN) or default < 0.005:
        return ""
    much = "all" if default >= 0.995 else f"{100 * default:.0f} %"
    return f"; {much} of the doubt rests on spreads that were not stated"


def _because(build: Build, verdict: Verdict, chance: Chance | None, results: Sequence[ConditionResult]) -> str:
    if verdict is Verdict.NOT_KNOWN:
        missing = sorted({name for result in results for name in result.missing})
        stale = sorted({name for result in results for name in result.stale})
        if missing:
            return f"; there is no reading of {dimension_words(build, missing)}"
        if stale:
            return f"; {dimension_words(build, stale)} {_were(stale)} measured before the vehicle changed"
        waiting = [build.find("conditions", item.condition) for item in results if item.verdict is Verdict.NOT_KNOWN]
        if any(condition.kind == "dry-run" for condition in waiting):
            return f"; still to be tried on the vehicle: {list_words([f'“{item.name}”' for item in waiting])}"
        return "; spreads that were not stated decide it"
    if chance is None or len(results) == 0:
        return "; one of its conditions fails, whatever the others"
    count = "both" if len(results) == 2 else f"all {len(results)}"
    whole = "" if len(results) == 1 else f" {count} conditions together"
    words = chance_words(chance.chance)
    if words in ("certain", "impossible"):
        return ", whatever the dimensions within their limits"
    weakest = min(results, key=lambda result: (result.chance or 0.0, result.condition))
    name = build.find("conditions", weakest.condition).name
    tail = f"; weakest is “{name}”" if len(results) > 1 and verdict is not Verdict.FITS else ""
    return f", {words} chance that{whole or ' it'} hold{'' if whole else 's'}{tail}"
