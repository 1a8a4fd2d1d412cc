"""Options that contradict each other, and decisions taken before what fixes them."""

from __future__ import annotations

from collections.abc import Iterator

from ..build import Assumption, Build, Facts, Problem
from ..build.decisions import Strength


def contradictions(build: Build, facts: Facts) -> Iterator[Problem | Assumption]:
    """Rules broken by the options the build is planned with.

    A Problem where every option concerned is decided; an Assumption where one is only leading, and can still change.
    """
    taken = {choice.option.id: choice.decided for choice in facts.choices.values()}
    names = {option.id: option.name for decision in build.decisions for option in decision.options}
    for rule in build.rules:
        if not all(id_ in taken for id_ in rule.options):
            continue
        subject = " with ".join(f"“{names[id_]}”" for id_ in rule.options)
        mine = all(taken[id_] for id_ in rule.options)
        if rule.requires is not None and rule.requires not in taken:
            # the option that was taken in place of the one required
            rivals = [
                facts.choices[decision.id]
                for decision in build.decisions
                if any(option.id == rule.requires for option in decision.options)
            ]
            settled = mine and all(choice.decided for choice in rivals)
            yield _finding(rule.option, f"{subject} requires “{names[rule.requires]}”", rule.why, settled)
        if rule.excludes is not None and rule.excludes in taken:
            settled = mine and taken[rule.excludes]
            yield _finding(rule.option, f"{subject} excludes “{names[rule.excludes]}”", rule.why, settled)


def _finding(option: str, what: str, why: str, settled: bool) -> Problem | Assumption:
    reason = f" ({why.strip().rstrip('.')})" if why.strip() else ""
    if settled:
        return Problem(
            f"option {option}", "contradiction", f"{what}{reason}, yet both are decided otherwise", "",
            "Take one of the decisions again.",
        )  # fmt: skip
    return Assumption(
        "leading-options-contradict", f"option {option}", f"{what}{reason}; the options planned with go against it"
    )


def no_way_left(build: Build, facts: Facts) -> Iterator[Problem]:
    """That no way is left to go on, where more than one rule is at fault; a single one is told by itself."""
    if not any(contradictions(build, facts)):
        return
    from .impossible import no_way

    fault = no_way(build, facts)
    if sum(barrier.kind == "rule" for barrier in fault) > 1:
        what = f"no way is left to take every decision: {' '.join(barrier.text for barrier in fault)}".rstrip(".")
        yield Problem("rules", "no-way-left", what, "", "Let one of these go, or open a decision again.")


def taken_too_soon(build: Build, facts: Facts) -> Iterator[Problem]:
    """Decisions taken while one that fixes them is still open."""
    for edge in build.edges:
        early, fixing = facts.choices[edge.target], facts.choices[edge.source]
        if edge.strength is Strength.FIXES and early.decided and not fixing.decided:
            source = build.find("decisions", edge.source).name
            yield Problem(
                f"decision {edge.target}", "taken-before-what-fixes-it",
                f"it was decided while “{source}”, which fixes it, is open", "",
                f"Decide “{source}” with it in mind, or open it again.",
            )  # fmt: skip


def decision_faults(build: Build, facts: Facts) -> tuple[Problem, ...]:
    """What can't be among decisions as they were taken."""
    found = (*contradictions(build, facts), *no_way_left(build, facts), *taken_too_soon(build, facts))
    return tuple(item for item in found if isinstance(item, Problem))
