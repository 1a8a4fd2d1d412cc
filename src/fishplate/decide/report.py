"""The front door: all decisions in order, with dates and what hangs on them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..build import Assumption, Build, Facts, Problem, date_at, offer_contents, sorted_problems
from ..build.decisions import Decision
from ..build.words import day_words, joined
from .dates import Moments, Need, day_text, latest_moments, modelled_moments, open_until
from .hanging import Hanging
from .model import DecisionReport, DecisionResult, StaysOpen, Tear
from .rules import contradictions, no_way_left, taken_too_soon
from .sequence import EXACT_BLOCK, Ordering, sequence_of

# Names in a sentence before the rest is counted.
NAMED = 3
# A date comes too late in one case of ten, unless another risk is asked for.
RISK = 0.1


def order_decisions(
    build: Build, facts: Facts, *, start_weeks: Moments, order_by_weeks: Moments, risk: float = RISK
) -> DecisionReport:
    """What to decide, in which order and by when.

    Parameters
    ----------
    start_weeks : early start of each job, as one moment (such as that it is not begun before with nine chances in ten)
        or in joint draws, shape (draws,) [weeks since as_of]; jobs left out set no date
    order_by_weeks : moment each part has to be ordered, in the same way [weeks since as_of]; parts left out set no date
    risk : chance that is taken of a date being too late, where moments are given in joint draws

    Returns
    -------
    DecisionReport; the same for the same build, whatever the order of its lists
    """
    decided = {id_: choice.decided for id_, choice in facts.choices.items()}
    ordering = sequence_of(build, (id_ for id_, done in decided.items() if not done))
    hanging = Hanging(build, facts)
    latest = latest_moments(build, facts, ordering, hanging, start_weeks, order_by_weeks, risk)
    order = ordering.in_order({id_: need.week for id_, need in latest.items()})
    ranks = {id_: position for position, id_ in enumerate(order, start=1)}
    stays = {
        id_: tuple(_stays_open(build, facts, build.find("decisions", id_), start_weeks, order_by_weeks, risk))
        for id_ in ordering.nodes
    }
    findings = [*contradictions(build, facts), *no_way_left(build, facts), *taken_too_soon(build, facts)]
    return DecisionReport(
        decisions=tuple(
            _result(
                build,
                facts,
                ordering,
                hanging,
                build.find("decisions", id_),
                ranks.get(id_, 0),
                latest.get(id_),
                stays.get(id_, ()),
            )
            for id_ in (*order, *sorted(id_ for id_, done in decided.items() if done))
        ),
        blocks=ordering.blocks,
        tears=ordering.tears,
        modelled_weeks=modelled_moments(build, ordering, decided),
        risk=risk,
        problems=sorted_problems(item for item in findings if isinstance(item, Problem)),
        assumptions=(
            *(item for item in findings if isinstance(item, Assumption)),
            *_assumptions(build, facts, ordering),
        ),
    )


def _stays_open(
    build: Build, facts: Facts, decision: Decision, start_weeks: Moments, order_by_weeks: Moments, risk: float
) -> Iterator[StaysOpen]:
    for option in decision.options:
        need = open_until(build, facts, option, start_weeks, order_by_weeks, risk)
        dated = need.week < math.inf
        until = date_at(facts.as_of, need.week) if dated else None
        yield StaysOpen(option.id, need.week if dated else None, until, need.because)


def _assumptions(build: Build, facts: Facts, ordering: Ordering) -> Iterator[Assumption]:
    for id_ in ordering.nodes:
        choice, decision = facts.choices[id_], build.find("decisions", id_)
        if choice.assumed:
            best = max(decision.options, key=lambda option: -1.0 if option.score is None else option.score)
            scored = best.score is not None and best.id != choice.option.id
            aside = f"; by your scores “{best.name}” would lead" if scored else ""
            text = f"“{decision.name}”: no option leads, so the first, “{choice.option.name}”, stands in{aside}"
            yield Assumption("leading-option-default", f"decision {id_}", text)
    for block in ordering.blocks:
        torn = [tear for tear in ordering.tears if tear.source in block]
        text = f"{_group(build, block)} form a loop: settle them as a group, {_first_step(build, facts, torn)}"
        yield Assumption("decision-loop", f"decision {block[0]}", text)
    if not ordering.proven:
        text = f"a loop of more than {EXACT_BLOCK} decisions is torn by rule of thumb, perhaps not in the fewest places"
        yield Assumption("decision-loop-large", "build", text)


def _group(build: Build, block: Sequence[str]) -> str:
    return joined([f"“{build.find('decisions', id_).name}”" for id_ in block])


def _first_step(build: Build, facts: Facts, torn: Sequence[Tear]) -> str:
    """The assumption a loop begins with."""
    assumed = sorted({tear.source for tear in torn})
    leads = [f"“{facts.choices[id_].option.name}” for “{build.find('decisions', id_).name}”" for id_ in assumed]
    strong = "; they fix each other, so no order does without it" if any(tear.fixes for tear in torn) else ""
    return f"beginning with {joined(leads)} assumed{strong}"


def _result(
    build: Build, facts: Facts, ordering: Ordering, hanging: Hanging, decision: Decision, rank: int,
    latest: Need | None, stays: tuple[StaysOpen, ...],
) -> DecisionResult:  # fmt: skip
    choice = facts.choices[decision.id]
    dated = latest is not None and latest.week < math.inf
    by = date_at(facts.as_of, latest.week) if latest is not None and dated else None
    assumes = tuple(sorted(tear.source for tear in ordering.tears if tear.target == decision.id))
    return DecisionResult(
        decision=decision.id,
        name=decision.name,
        rank=rank,
        decided=choice.decided,
        leading=choice.option.id,
        assumed=choice.assumed,
        block=next((block for block in ordering.blocks if decision.id in block), ()),
        assumes=assumes,
        by_week=latest.week if latest is not None and dated else None,
        by=by,
        free_until=None if by is None else max(by, facts.as_of),
        because=latest.because if latest is not None else "",
        open=stays,
        hangs=hanging.on(decision),
        holds_offers=() if choice.decided else hanging.offers(decision),
        holds_jobs=() if choice.decided else hanging.jobs(decision),
        text=_sentence(build, facts, ordering, hanging, decision, latest, assumes),
        by_risk=()
        if latest is None
        else tuple((chance, date_at(facts.as_of, week)) for chance, week in latest.by_risk if week < math.inf),
    )


def _sentence(
    build: Build,
    facts: Facts,
    ordering: Ordering,
    hanging: Hanging,
    decision: Decision,
    latest: Need | None,
    assumes: Sequence[str],
) -> str:
    choice = facts.choices[decision.id]
    if latest is None:
        on = f" on {day_words(decision.chosen_on)}" if decision.chosen_on else ""
        return f"“{decision.name}” is decided{on}: {choice.option.name}."
    when = ""
    if latest.week < 0:
        when = " now"
    elif latest.week < math.inf:
        when = f" by {day_text(facts, latest.week)}"
    waiting = _hanging_words(build, facts, ordering, hanging, decision)
    what = f"{waiting} on it" if waiting else "nothing waits for it yet"
    why = f" Why then: {latest.because}." if latest.because else ""
    taken = [f"“{facts.choices[id_].option.name}” for “{build.find('decisions', id_).name}”" for id_ in assumes]
    assumed = f" Assume {joined(taken)}: they form a loop." if taken else ""
    return f"Decide “{decision.name}”{when}: {what}.{why}{assumed}"


def _hanging_words(build: Build, facts: Facts, ordering: Ordering, hanging: Hanging, decision: Decision) -> str:
    """The things that hang on a decision directly: decisions after it, parts and jobs, then orders counted."""
    held = hanging.offers(decision)
    names = [
        *(build.find("decisions", id_).name for id_ in ordering.after(decision.id)),
        *(
            build.find("parts", id_).name
            for id_ in hanging.parts(decision)
            if id_ in facts.choices[decision.id].option.parts
        ),
        *(build.find("jobs", id_).name for id_ in hanging.jobs(decision)),
    ]
    words = [f"“{name}”" for name in dict.fromkeys(names)]
    if len(words) > NAMED + 1:
        words[NAMED:] = [f"{len(words) - NAMED} more"]
    orders = len({frozenset(offer_contents(build, build.find("offers", id_))) for id_ in held})
    if orders:
        words.append("1 order" if orders == 1 else f"{orders} orders")
    if not words:
        return ""
    several = len(words) > 1 or (orders > 1 and not names)
    return f"{joined(words)} {'hang' if several else 'hangs'}"
