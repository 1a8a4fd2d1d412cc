"""A starter brought into a running build: what is new is added, what is there already stays as it is.

Things of the build are never changed, but for jobs that now wait for a job more. A link, or a *fixes* edge, that would
close a circle through the build's own is left out, or weakened.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from ..build import Build, build_from_data, document_data
from ..build.document import REFERENCES
from ..build.events import Work
from ..trade.templates import put_in
from .matching import COMPARED, MATCHED, Key, Match, matches, name_of
from .outlines import Starter

# A build with so many dimensions on its foundation sheet has one.
_SHEET = 5


@dataclass(frozen=True, slots=True)
class Added:
    """A thing of a starter that is new to the build; id : in the starter, own : in the build."""

    list_name: str
    id: str
    name: str
    own: str


@dataclass(frozen=True, slots=True)
class Merge:
    """A starter in a build, before it is written.

    Parameters
    ----------
    build : with the starter in it
    added : what is new; same : what the build had already
    waiting : jobs of the build that now wait for a new one: (job, new job), by name
    left_out : what is not brought, and why, as sentences
    doubts : what may be the same and was brought beside the build's own
    """

    build: Build
    added: tuple[Added, ...]
    same: tuple[Match, ...]
    waiting: tuple[tuple[str, str], ...] = ()
    left_out: tuple[str, ...] = ()
    doubts: tuple[Match, ...] = ()


@dataclass
class _Bringing:
    """What is known while a starter is brought in.

    Parameters
    ----------
    ids : id in the build by list and id in the starter, of what is the same and of what is brought
    new : lists and ids in the starter of what is brought
    """

    own: Build
    starter: Build
    same: Mapping[Key, Match]
    ids: dict[Key, str] = field(default_factory=dict)
    options: dict[str, str] = field(default_factory=dict)
    new: set[Key] = field(default_factory=set)
    left_out: list[str] = field(default_factory=list)


def merge(
    build: Build,
    starter: Starter,
    *,
    apart: Collection[Key] = (),
    taken: Collection[Key] = (),
    progress: Callable[[str, float], None] | None = None,
) -> Merge:
    """A build with a starter brought in; a second time nothing is added.

    Parameters
    ----------
    apart : list and id, in the starter, of what is not the same although it is alike; one name is always one thing
    taken : the same, of what is in doubt
    progress : called with what is being done and the share done, 0 to 1; may raise, to have it given up

    Raises
    ------
    Refused
        if the two cannot go together
    """
    say = progress or (lambda _stage, _share: None)
    found = matches(build, starter.build, known_by=starter.known_by, apart=apart, taken=taken, say=say)
    same = found.same
    say("Fitting the rest in", COMPARED)
    work = _Bringing(build, starter.build, same)
    work.ids = {key: match.own for key, match in same.items()}
    work.new = {
        (name, noun.id) for name in MATCHED for noun in getattr(starter.build, name) if (name, noun.id) not in same
    }
    _map_options(work)
    _leave_out(work)
    _give_ids(work)
    nouns = {name: [*getattr(build, name), *_brought(work, name)] for name in MATCHED}
    waiting = _join(work, nouns)
    nouns["edges"] = [*build.edges, *_edges(work)]
    nouns["rules"] = [*build.rules, *_rules(work)]
    merged = build.model_copy(update={name: tuple(items) for name, items in nouns.items()})
    say("Checking the whole", 0.9)
    merged = build_from_data(document_data(merged), source="build with the starter")
    added = tuple(_added(work))
    doubts = tuple(each for each in found.doubts if (each.list_name, each.id) in work.new)
    return Merge(merged, added, tuple(same.values()), tuple(waiting), tuple(work.left_out), doubts)


def _added(work: _Bringing) -> Iterator[Added]:
    for name in MATCHED:
        for noun in getattr(work.starter, name):
            if (name, noun.id) in work.new:
                yield Added(name, noun.id, name_of(noun), work.ids[name, noun.id])


# --- what is brought -------------------------------------------------------------------------------------------------


def _map_options(work: _Bringing) -> None:
    """Options of decisions that are the same, by name; options of new decisions under ids of their own."""
    taken = {option.id for decision in work.own.decisions for option in decision.options}
    for decision in work.starter.decisions:
        match = work.same.get(("decisions", decision.id))
        if match is None:
            for option in decision.options:
                work.options[option.id] = _fresh(option.id, taken)
                taken.add(work.options[option.id])
            continue
        own = {option.name.casefold(): option.id for option in work.own.find("decisions", match.own).options}
        for option in decision.options:
            if option.name.casefold() in own:
                work.options[option.id] = own[option.name.casefold()]


def _leave_out(work: _Bringing) -> None:
    """What belongs only to options or places the build has otherwise, and what nothing that is brought asks for."""
    _leave_out_options(work)
    starter, new = work.starter, work.new
    kept = {id_ for name, id_ in new if name == "interfaces"}
    new -= {("conditions", item.id) for item in starter.conditions if item.interface not in kept}
    wanted = {item.stand_in for item in starter.interfaces if item.id in kept}
    new -= {("stand_ins", item.id) for item in starter.stand_ins if item.id not in wanted}
    named = {name for item in starter.conditions if ("conditions", item.id) in new for name in item.names}
    named |= {name for item in starter.stand_ins if ("stand_ins", item.id) in new for name in item.dimensions}
    sheet = sum(item.foundation for item in work.own.dimensions) < _SHEET
    new -= {
        ("dimensions", item.id)
        for item in starter.dimensions
        if item.id not in named and not (sheet and item.foundation)
    }
    new -= {("releases", item.id) for item in starter.releases if ("parts", item.part) not in new}
    new -= {
        ("requirements", item.id) for item in starter.requirements if not any(("jobs", job) in new for job in item.jobs)
    }
    weighed = {swing.criterion for item in starter.decisions if ("decisions", item.id) in new for swing in item.swings}
    new -= {("criteria", item.id) for item in starter.criteria if item.id not in weighed}
    for name, field_ in (("systems", "system"), ("workshops", "workshop")):
        used = {getattr(noun, field_, None) for list_, id_ in new for noun in (starter.index[list_][id_],)}
        new -= {(name, item.id) for item in getattr(starter, name) if item.id not in used}
    changed = {state for job in starter.jobs if ("jobs", job.id) in new for state in job.changes}
    new -= {("states", item.id) for item in starter.states if item.id not in changed}


def _leave_out_options(work: _Bringing) -> None:
    """Parts and jobs that only options call for which the build decides without."""
    called: dict[Key, list[tuple[str, bool]]] = {}
    for decision in work.starter.decisions:
        for option in decision.options:
            for name in ("parts", "jobs", "conditions"):
                for id_ in getattr(option, name):
                    called.setdefault((name, id_), []).append((decision.name, option.id in work.options))
    for key, callers in called.items():
        if key in work.new and not any(brought for _, brought in callers):
            work.new.discard(key)
            name = name_of(work.starter.find(*key))
            work.left_out.append(f"{name} is left out: your own “{callers[0][0]}” has no such option.")


def _give_ids(work: _Bringing) -> None:
    for name in MATCHED:
        taken = {noun.id for noun in getattr(work.own, name)}
        for noun in getattr(work.starter, name):
            if (name, noun.id) in work.new:
                work.ids[name, noun.id] = _fresh(noun.id, taken, joint="_" if name == "dimensions" else "-")
                taken.add(work.ids[name, noun.id])


def _fresh(id_: str, taken: Collection[str], *, joint: str = "-") -> str:
    """The id, or the first numbered one that is free.

    Examples
    --------
    >>> _fresh("hub", {"hub", "hub-2"})
    'hub-3'
    """
    number, result = 2, id_
    while result in taken:
        number, result = number + 1, f"{id_[:70]}{joint}{number}"
    return result


# --- as it stands in the build ---------------------------------------------------------------------------------------


def _brought(work: _Bringing, name: str) -> Iterator[Any]:
    """New things of a list, what they name called as the build calls it."""
    for noun in getattr(work.starter, name):
        if (name, noun.id) in work.new:
            data = noun.model_dump()
            for path, target in REFERENCES.get(name, {}).items():
                _rename(work, data, path.split("."), target)
            data["id"] = work.ids[name, noun.id]
            if name == "jobs":
                data["after"] = _links(work, noun)
            elif name == "conditions":
                _rename_arithmetic(work, data, noun.names)
            elif name == "decisions":
                _rename_options(work, data)
            yield type(noun).model_validate(data)


def _rename(work: _Bringing, data: dict[str, Any], path: list[str], target: str) -> None:
    head, *rest = path
    value = data.get(head)
    if rest:
        for item in value or ():
            _rename(work, item, rest, target)
    elif isinstance(value, str):
        data[head] = work.ids.get((target, value))
    elif value is not None:
        data[head] = tuple(work.ids[target, id_] for id_ in value if (target, id_) in work.ids)


def _links(work: _Bringing, job: Any) -> list[dict[str, Any]]:
    """Links to what is there; through a job that is left out, to what came before it."""
    found: dict[str, dict[str, Any]] = {}
    todo = list(job.after)
    while todo:
        link = todo.pop(0)
        own = work.ids.get(("jobs", link.job))
        if own is None:
            todo += work.starter.find("jobs", link.job).after
        else:
            found.setdefault(own, {**link.model_dump(), "job": own})
    return list(found.values())


def _rename_arithmetic(work: _Bringing, data: dict[str, Any], names: Iterable[str]) -> None:
    own = {name: work.ids["dimensions", name] for name in names}
    if all(name == id_ for name, id_ in own.items()):
        return
    for text in ("expression", "at_least", "at_most"):
        if data[text]:
            data[text] = put_in(data[text], own)
    if data["mates"]:
        data["mates"] = tuple(own.get(each, each) for each in data["mates"])


def _rename_options(work: _Bringing, data: dict[str, Any]) -> None:
    for option in data["options"]:
        option["id"] = work.options[option["id"]]
    for named in ("leading", "chosen"):
        if data[named] is not None:
            data[named] = work.options[data[named]]


# --- where new and own meet ------------------------------------------------------------------------------------------


class _Order:
    """What comes after what, to see whether one more link would close a circle."""

    def __init__(self, pairs: Iterable[tuple[str, str]]) -> None:
        self._later: dict[str, set[str]] = {}
        for earlier, later in pairs:
            self.add(earlier, later)

    def add(self, earlier: str, later: str) -> None:
        self._later.setdefault(earlier, set()).add(later)

    def leads(self, start: str, end: str) -> bool:
        """Whether the one comes before the other, or is it."""
        seen, todo = {start}, [start]
        while todo:
            for later in self._later.get(todo.pop(), set()) - seen:
                seen.add(later)
                todo.append(later)
        return end in seen


def _join(work: _Bringing, nouns: dict[str, list[Any]]) -> Iterator[tuple[str, str]]:
    """Jobs of the build wait for new ones where the starter says so; gates hold them too."""
    order = _Order((link.job, job.id) for job in nouns["jobs"] for link in job.after)
    for gate in work.own.gates:
        for job in (*gate.after, *gate.before):
            order.add(*((job, f"gate {gate.id}") if job in gate.after else (f"gate {gate.id}", job)))
    done = {event.job for event in work.own.events if isinstance(event, Work) and event.done}
    fixed = done | {job.id for job in work.own.jobs if job.dropped}
    own = {job.id: place for place, job in enumerate(nouns["jobs"])}
    said = []
    for theirs in work.starter.jobs:
        match = work.same.get(("jobs", theirs.id))
        for link in theirs.after if match and match.own not in fixed else ():
            new = work.ids.get(("jobs", link.job))
            if match and new and ("jobs", link.job) in work.new and not order.leads(match.own, new):
                order.add(new, match.own)
                job = nouns["jobs"][own[match.own]]
                nouns["jobs"][own[match.own]] = job.model_copy(
                    update={"after": (*job.after, link.model_copy(update={"job": new}))}
                )
                said.append((job.name, nouns["jobs"][own[new]].name))
    nouns["gates"] = [*work.own.gates, *_gates(work, nouns["gates"][len(work.own.gates) :], order, fixed)]
    return iter(said)


def _gates(work: _Bringing, gates: Iterable[Any], order: _Order, fixed: Collection[str]) -> Iterator[Any]:
    """New gates, without what would make them wait for themselves; one that holds nothing is left out."""
    theirs = {id_: id_own for (name, id_own), id_ in work.ids.items() if name == "gates"}
    for gate in gates:
        for job in gate.after:
            order.add(job, f"gate {gate.id}")
        held = tuple(job for job in gate.before if job not in fixed and not order.leads(job, f"gate {gate.id}"))
        for job in held:
            order.add(f"gate {gate.id}", job)
        if held and gate.after:
            yield gate.model_copy(update={"before": held})
        else:
            work.new.discard(("gates", theirs[gate.id]))


def _edges(work: _Bringing) -> Iterator[Any]:
    """Edges with a new decision at one end; a *fixes* edge that would close a circle only limits."""
    fixes = _Order((edge.source, edge.target) for edge in work.own.edges if edge.strength == "fixes")
    known = {(edge.source, edge.target) for edge in work.own.edges}
    for edge in work.starter.edges:
        ends = tuple(work.ids["decisions", end] for end in (edge.source, edge.target))
        if ends in known or not any(("decisions", end) in work.new for end in (edge.source, edge.target)):
            continue
        strength = edge.strength
        if strength == "fixes" and fixes.leads(ends[1], ends[0]):
            strength = type(strength)("limits")
        if strength == "fixes":
            fixes.add(*ends)
        yield edge.model_copy(update={"source": ends[0], "target": ends[1], "strength": strength})


def _rules(work: _Bringing) -> Iterator[Any]:
    """Rules between options that are there, one of them new."""
    own = {option.id for decision in work.own.decisions for option in decision.options}
    for rule in work.starter.rules:
        named = [rule.option, rule.requires or rule.excludes]
        ids = [work.options.get(option or "") for option in named]
        if None in ids or all(id_ in own for id_ in ids):
            continue
        field_ = "requires" if rule.requires else "excludes"
        yield rule.model_copy(update={"option": ids[0], field_: ids[1]})
