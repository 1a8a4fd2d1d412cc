"""What can be worked today: jobs of which everything is open now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping

import numpy as np

from ..build import Build, Facts
from ..build.jobs import Job
from .cautions import cautions_for
from .model import Gates, ReadyJob
from .network import GateKey, Piece, WorkNetwork, share_done


def ready_jobs(build: Build, facts: Facts, network: WorkNetwork, gates: Gates) -> tuple[ReadyJob, ...]:
    """Jobs that can go on today, least slack first.

    A part is in hand if enough is owned and it was not found wrong, a decision is open if taken, an interface if it was
    not seen to be wrong; and nothing of a job may be held longer by the gates.
    """
    passes = gate_check(build, facts, gates)
    held = {link.after for link in network.links if not _passes(network, link.before, passes, facts)}
    unlocks = unlocked(network)
    found = []
    for piece in network.pieces:
        job = piece.job
        if job is None or piece.number or job.id in held or not all(map(passes, piece.gates)):
            continue
        if network.opens_days.get(job.id, 0.0) > 0 or (job.months and facts.as_of.month not in job.months):
            continue
        found.append(_ready(build, facts, network, job, passes, unlocks[job.id]))
    return tuple(found)


def gate_check(build: Build, facts: Facts, gates: Gates) -> Callable[[GateKey], bool]:
    """Tells whether something outside is open now."""

    def passes(key: GateKey) -> bool:
        kind, id_ = key
        moment = getattr(gates, kind).get(id_)
        match kind:
            case "parts":
                right = facts.owned.get(id_, 0.0) - facts.wrong_counts.get(id_, 0.0)
                return bool(right >= build.find("parts", id_).quantity - 1e-9)
            case "decisions":
                return facts.choices[id_].decided
            case "interfaces" if id_ in facts.settled:
                return facts.settled[id_].good
            case _:
                return moment is None or bool(np.max(moment) <= 0)

    return passes


def _passes(network: WorkNetwork, node: str, passes: Callable[[GateKey], bool], facts: Facts) -> bool:
    """Whether a node to be done still holds nothing up: a gate, or a job not called for, with nothing before it."""
    if node in network.jobs or network.opens_days.get(node, 0.0) > 0:
        return False
    piece = next(piece for piece in network.pieces if piece.node == node)
    before = [link.before for link in network.links if link.after == node]
    return all(map(passes, piece.gates)) and all(_passes(network, other, passes, facts) for other in before)


def _ready(
    build: Build,
    facts: Facts,
    network: WorkNetwork,
    job: Job,
    passes: Callable[[GateKey], bool],
    unlocks: tuple[str, ...],
) -> ReadyJob:
    pieces = [piece for piece in network.pieces if piece.node == job.id]
    state = facts.jobs.get(job.id)
    said = state.hours_left if state is not None else None
    left = said if said is not None else job.hours.likely * (1 - share_done(job, facts))
    share, missing = _share_free(pieces, passes)
    until = "" if share >= 1 - 1e-9 and not missing else _stop_name(job, missing)
    hours = left * share
    hazards = [*job.hazards, *(build.find("systems", job.system).hazards if job.system else ())]
    cautions = cautions_for(hazards)
    text = _sentence(job, hours, until, unlocks, network.path.slack[job.id])
    return ReadyJob(job.id, hours, unlocks, job.tools, job.second_person, text, until, cautions)


def _share_free(pieces: Iterable[Piece], passes: Callable[[GateKey], bool]) -> tuple[float, tuple[str, ...]]:
    """The share of the hours left that can be worked, and the parts missing after that."""
    share = 0.0
    for piece in sorted(pieces, key=lambda piece: piece.number):
        missing = tuple(id_ for kind, id_ in piece.gates if not passes((kind, id_)))
        if missing:
            return share, missing
        share += piece.share
    return min(share, 1.0), ()


def _stop_name(job: Job, missing: tuple[str, ...]) -> str:
    names = [stop.name for stop in job.stop_points if stop.name and set(missing) & set(stop.without)]
    return names[0] if names else "it needs " + ", ".join(missing)


def unlocked(network: WorkNetwork) -> dict[str, tuple[str, ...]]:
    """By job, the jobs that wait for it, directly or through a gate."""
    follows: dict[str, list[str]] = defaultdict(list)
    for link in network.links:
        follows[link.before].append(link.after)
    return {job: tuple(sorted(_jobs_after(follows, network, job))) for job in network.jobs}


def _jobs_after(follows: Mapping[str, list[str]], network: WorkNetwork, job: str) -> set[str]:
    found: set[str] = set()
    todo = [job]
    while todo:
        new = set(follows.get(todo.pop(), ())) - found
        found |= new
        todo += [node for node in new if node not in network.jobs]
    return found & network.jobs.keys()


def _sentence(job: Job, hours: float, until: str, unlocks: tuple[str, ...], slack_weeks: float) -> str:
    text = f"{job.name}: about {round(hours, 1):g} h"
    text += f" up to the stop point: {until}" if until else " left" if job.workshop is None else " of your own part"
    if unlocks:
        text += f"; {'one job waits' if len(unlocks) == 1 else f'{len(unlocks)} jobs wait'} for it"
    text += "; nothing is more pressing" if slack_weeks <= 1e-9 else f"; it can slip {_slip_words(slack_weeks)}"
    return text + (", and takes a second person." if job.second_person else ".")


def _slip_words(weeks: float) -> str:
    """How long it can slip, in days below a fortnight.

    Examples
    --------
    >>> _slip_words(0.7), _slip_words(0.01), _slip_words(6.3)
    ('5 days', 'less than a day', '6 weeks')
    """
    days = round(weeks * 7)
    if days >= 14:
        return f"{weeks:.0f} weeks"
    return f"{days} day{'' if days == 1 else 's'}" if days else "less than a day"
