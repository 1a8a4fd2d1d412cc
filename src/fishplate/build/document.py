"""The build document: one build as JSON, complete or with only some nouns, lossless both ways."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date
from functools import cached_property
from graphlib import CycleError, TopologicalSorter
from typing import Any, Final, Literal, get_args

from pydantic import ConfigDict, ValidationError

from .approval import Evidence, PutOff, Requirement
from .base import Id, Note, Noun, Text
from .commerce import (
    Collection,
    Enquiry,
    FixedChoice,
    Offer,
    PriceChange,
    RateQuote,
    Route,
    RuleOverride,
    SaleWindow,
    Sighting,
    Supplier,
    Workshop,
)
from .decisions import Criterion, Decision, Edge, Rule
from .errors import Refused
from .events import Event
from .field_faults import field_faults
from .interfaces import Condition, Correlation, Dimension, Interface, Reading, Settled, StandIn, VehicleState
from .jobs import Allowance, Gate, Job, Release
from .owner import Owner
from .parts import Kit, Part, Stock, System
from .problem import Problem

FORMAT: Final = "fishplate build"
VERSION: Final = 1
MAX_BYTES = 64 * 1024 * 1024
_EVENTS: Final[tuple[Any, ...]] = get_args(get_args(Event)[0])
_EARLIER: Final = "index of what it was copied from"


class Build(Noun):
    """One vehicle project with its owner's situation. Every list may be empty."""

    model_config = ConfigDict(frozen=True, extra="forbid", ignored_types=(cached_property,))

    format: Literal["fishplate build"] = FORMAT
    version: Literal[1] = VERSION
    name: Text = "My build"
    started: date | None = None
    frame_origin: Note = ""
    owner: Owner = Owner()
    systems: tuple[System, ...] = ()
    parts: tuple[Part, ...] = ()
    kits: tuple[Kit, ...] = ()
    stock: tuple[Stock, ...] = ()
    suppliers: tuple[Supplier, ...] = ()
    offers: tuple[Offer, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    price_changes: tuple[PriceChange, ...] = ()
    sale_windows: tuple[SaleWindow, ...] = ()
    enquiries: tuple[Enquiry, ...] = ()
    fixed_choices: tuple[FixedChoice, ...] = ()
    routes: tuple[Route, ...] = ()
    collections: tuple[Collection, ...] = ()
    workshops: tuple[Workshop, ...] = ()
    rates: tuple[RateQuote, ...] = ()
    rule_overrides: tuple[RuleOverride, ...] = ()
    events: tuple[Event, ...] = ()
    states: tuple[VehicleState, ...] = ()
    interfaces: tuple[Interface, ...] = ()
    dimensions: tuple[Dimension, ...] = ()
    readings: tuple[Reading, ...] = ()
    correlations: tuple[Correlation, ...] = ()
    conditions: tuple[Condition, ...] = ()
    stand_ins: tuple[StandIn, ...] = ()
    settled: tuple[Settled, ...] = ()
    decisions: tuple[Decision, ...] = ()
    edges: tuple[Edge, ...] = ()
    rules: tuple[Rule, ...] = ()
    criteria: tuple[Criterion, ...] = ()
    jobs: tuple[Job, ...] = ()
    gates: tuple[Gate, ...] = ()
    allowances: tuple[Allowance, ...] = ()
    releases: tuple[Release, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    put_off: tuple[PutOff, ...] = ()

    @cached_property
    def index(self) -> Mapping[str, Mapping[str, Any]]:
        """Nouns by list name and id, for every list whose nouns have ids."""
        earlier = self.__dict__.pop(_EARLIER, {})
        index = {}
        for name in LISTS_WITH_IDS:
            nouns = getattr(self, name)
            listed, by_id = earlier.get(name, (None, None))
            index[name] = by_id if listed is nouns else {noun.id: noun for noun in nouns}
        return index

    def __copy__(self) -> Build:
        """A copy without the index, which would be wrong in a copy with other nouns (`model_copy`).

        What is indexed is remembered list by list: a list that stays the same is not gone through again.
        """
        copied = super().__copy__()
        index = copied.__dict__.pop("index", None)
        if index is not None:
            copied.__dict__[_EARLIER] = {name: (getattr(self, name), index[name]) for name in LISTS_WITH_IDS}
        return copied

    def find(self, list_name: str, id_: Id) -> Any:
        """The noun of a list with this id; raises KeyError."""
        return self.index[list_name][id_]


LISTS = tuple(name for name, field in Build.model_fields.items() if str(field.annotation).startswith("tuple"))
LISTS_WITH_IDS = tuple(
    name
    for name in LISTS
    if name not in {"sightings", "rates", "rule_overrides", "correlations", "settled", "edges", "rules", "put_off"}
)

# Which list a field's id is found in. A dot steps into a nested noun or each noun of a tuple.
REFERENCES: dict[str, dict[str, str]] = {
    "parts": {"system": "systems"},
    "kits": {"contents.part": "parts"},
    "stock": {"part": "parts"},
    "suppliers": {"freight.route": "routes"},
    "offers": {"supplier": "suppliers", "part": "parts", "kit": "kits"},
    "sightings": {"offer": "offers"},
    "price_changes": {"offer": "offers", "supplier": "suppliers"},
    "sale_windows": {"supplier": "suppliers"},
    "enquiries": {
        "supplier": "suppliers", "parts": "parts", "offers": "offers", "confirmations.offer": "offers",
    },
    "fixed_choices": {"part": "parts", "offer": "offers"},
    "collections": {"route": "routes"},
    "events": {
        "supplier": "suppliers", "route": "routes", "collection": "collections", "lines.offer": "offers",
        "lines.part": "parts", "part": "parts", "job": "jobs", "state": "states", "order": "events",
        "allowance": "allowances", "invoice": "events", "receipt": "events", "claim": "events", "returned": "events",
        "offer": "offers", "offers": "offers", "workshop": "workshops",
    },
    "interfaces": {
        "systems": "systems", "parts": "parts", "settle_by": "jobs", "closed_by": "jobs", "stand_in": "stand_ins",
    },
    "dimensions": {"part": "parts", "job": "jobs"},
    "readings": {"dimension": "dimensions", "against": "states"},
    "correlations": {"first": "dimensions", "second": "dimensions"},
    "conditions": {"interface": "interfaces"},
    "stand_ins": {"dimensions": "dimensions"},
    "settled": {"interface": "interfaces", "condition": "conditions"},
    "decisions": {
        "freeze_by": "jobs", "options.parts": "parts", "options.jobs": "jobs", "options.conditions": "conditions",
        "options.dimensions.dimension": "dimensions", "options.scores.criterion": "criteria",
        "swings.criterion": "criteria",
    },
    "edges": {"source": "decisions", "target": "decisions"},
    "jobs": {
        "system": "systems", "after.job": "jobs", "to_try": "parts", "to_keep": "parts", "works_on": "parts",
        "decisions": "decisions",
        "interfaces": "interfaces", "stop_points.without": "parts", "workshop": "workshops", "settles": "interfaces",
        "closes": "interfaces", "changes": "states",
    },
    "gates": {"after": "jobs", "interfaces": "interfaces", "before": "jobs"},
    "allowances": {"system": "systems"},
    "releases": {
        "part": "parts", "offer": "offers", "dimensions": "dimensions", "interfaces": "interfaces",
        "decisions": "decisions",
    },
    "requirements": {"visible_until": "jobs", "jobs": "jobs"},
    "evidence": {"requirement": "requirements", "job": "jobs"},
}  # fmt: skip

# What kind of event a field names, and what to call it.
NAMED_EVENTS: dict[str, tuple[str, str]] = {
    "order": ("ordered", "an order"), "invoice": ("invoiced", "an invoice"), "receipt": ("arrived", "an arrival"),
    "claim": ("claimed", "a claim"), "returned": ("returned", "a return"),
}  # fmt: skip


def parse_document(text: str | bytes, *, source: str = "build document") -> Build:
    """A build from its JSON document.

    Parameters
    ----------
    text : the document
    source : its name, used as the first word of every problem's place

    Raises
    ------
    Refused
        with every problem found; nothing is half taken

    Examples
    --------
    >>> parse_document('{"name": "Van"}').name
    'Van'
    """
    raw = _load_json(text, source)
    return build_from_data(raw, source=source)


def build_from_data(raw: Any, *, source: str = "build document") -> Build:
    """A build from the data of a document already read from JSON; raises Refused."""
    if not isinstance(raw, dict):
        raise Refused(
            [Problem(source, "not-an-object", "a build document is an object", type(raw).__name__, "Wrap it in { }.")]
        )
    if isinstance(raw.get("version"), int) and raw["version"] > VERSION:
        raise Refused(
            [
                Problem(
                    source,
                    "newer-document",
                    "the document was written by a newer program",
                    f"version {raw['version']}",
                    "Update Fishplate.",
                )
            ]
        )
    try:
        build = Build.model_validate(raw)
    except ValidationError as error:
        raise Refused(field_faults(error, raw, source)) from None
    problems = tuple(check_build(build, source=source))
    if problems:
        raise Refused(problems)
    return build


def format_document(build: Build) -> str:
    """The JSON document of a build; empty lists and defaults are left out.

    Examples
    --------
    >>> parse_document(format_document(Build(name="Van"))) == Build(name="Van")
    True
    """
    return json.dumps(document_data(build), ensure_ascii=False, indent=1) + "\n"


def document_data(build: Build) -> dict[str, Any]:
    """The document of a build as data, before it is written as JSON.

    Examples
    --------
    >>> document_data(Build(name="Van"))
    {'format': 'fishplate build', 'version': 1, 'name': 'Van'}
    """
    data = build.model_dump(mode="json", exclude_defaults=True)
    for event, noun in zip(data.get("events", ()), build.events, strict=False):
        event["kind"] = noun.kind
    return {"format": build.format, "version": build.version, "name": build.name, **data}


def noun_data(noun: Any) -> Any:
    """A noun as data, as it stands in the build document; what is data already stays as it is.

    Examples
    --------
    >>> noun_data(System(id="brakes", name="Brakes"))
    {'id': 'brakes', 'name': 'Brakes'}
    """
    if not isinstance(noun, Noun):
        return noun
    data = noun.model_dump(mode="json", exclude_defaults=True)
    if isinstance(noun, _EVENTS):
        data["kind"] = noun.kind  # it is the default of its field, yet tells what happened
    return data


def document_schema() -> dict[str, Any]:
    """JSON Schema of the build document."""
    return Build.model_json_schema()


def _load_json(text: str | bytes, source: str) -> Any:
    if len(text) > MAX_BYTES:
        raise Refused(
            [
                Problem(
                    source, "too-large", "the document is larger than 64 MiB", str(len(text)), "Split off attachments."
                )
            ]
        )
    try:
        if isinstance(text, bytes):
            text = text.decode("utf-8-sig")
        return json.loads(text, object_pairs_hook=_no_repeats, parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise Refused(
            [Problem(f"{source}, byte {error.start}", "not-utf-8", "not UTF-8 text", "", "Save it as UTF-8.")]
        ) from None
    except json.JSONDecodeError as error:
        where = f"{source}, line {error.lineno}, column {error.colno}"
        raise Refused(
            [Problem(where, "not-json", f"not JSON: {error.msg}", "", "Check for a cut-off file or a stray comma.")]
        ) from None
    except _BadJson as error:
        raise Refused([Problem(source, "bad-json", str(error), "", "Correct it in the file.")]) from None
    except ValueError as error:  # a whole number of thousands of digits
        raise Refused([Problem(source, "bad-json", str(error).split(";")[0], "", "Correct it in the file.")]) from None
    except RecursionError:
        raise Refused(
            [Problem(source, "too-deep", "brackets are nested too deeply", "", "Flatten the document.")]
        ) from None


class _BadJson(ValueError):
    pass


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    counts = Counter(key for key, _ in pairs)
    repeated = [key for key, count in counts.items() if count > 1]
    if repeated:
        raise _BadJson(f"the key {repeated[0]!r} stands twice in one object")
    return dict(pairs)


def _no_constant(name: str) -> float:
    raise _BadJson(f"{name} is not a number a build can hold")


def check_build(build: Build, *, source: str = "build document") -> Iterator[Problem]:
    """Faults between nouns: repeated ids, references to nothing, loops of jobs, conditions that can't be evaluated."""
    yield from _repeated_ids(build, source)
    yield from _dangling(build, source)
    yield from loose_ends(build, source)
    yield from job_loops(build, source)
    if build.dimensions or build.conditions or build.correlations:
        # they bring numpy, which the rest of a build does without
        from .condition_faults import condition_faults, correlation_faults, designation_faults

        yield from condition_faults(build, source)
        yield from designation_faults(build, source)
        yield from correlation_faults(build, source)


def _repeated_ids(build: Build, source: str) -> Iterator[Problem]:
    for name in LISTS_WITH_IDS:
        for id_, count in Counter(noun.id for noun in getattr(build, name)).items():
            if count > 1:
                yield Problem(
                    f"{source}, {name} ({id_})",
                    "repeated-id",
                    f"{count} {name} have this id",
                    id_,
                    "Give each its own.",
                )


def named_ids(noun: Any, path: str) -> Iterator[str]:
    """Ids a noun names in a field; path : as in `REFERENCES`."""
    head, _, rest = path.partition(".")
    value = noun.__dict__.get(head)  # a field that its kind does not have is asked for often, and slow to miss
    items = value if isinstance(value, tuple) else () if value is None else (value,)
    for item in items:
        if rest:
            yield from named_ids(item, rest)
        elif isinstance(item, str):
            yield item


def referring(build: Build, list_name: str, id_: str) -> Iterator[tuple[str, Any]]:
    """Nouns that name another by its id, with the list each is in; arithmetic that names a dimension is left out."""
    for name, fields in REFERENCES.items():
        paths = [path for path, target in fields.items() if target == list_name]
        for noun in getattr(build, name) if paths else ():
            if any(id_ in named_ids(noun, path) for path in paths):
                yield name, noun


def _dangling(build: Build, source: str) -> Iterator[Problem]:
    for name, fields in REFERENCES.items():
        for position, noun in enumerate(getattr(build, name)):
            label = getattr(noun, "id", position + 1)
            for path, target in fields.items():
                for id_ in named_ids(noun, path):
                    if id_ not in build.index[target]:
                        where = f"{source}, {name} ({label}), {path}"
                        yield Problem(
                            where,
                            "refers-to-nothing",
                            f"there is no such one among the {target}",
                            id_,
                            f"Add it to {target}, or correct the id.",
                        )


def loose_ends(build: Build, source: str) -> Iterator[Problem]:
    """References that a table of fields cannot express."""
    options = {option.id for decision in build.decisions for option in decision.options}
    for rule in build.rules:
        for id_ in (*rule.options, rule.requires, rule.excludes):
            if id_ is not None and id_ not in options:
                yield Problem(
                    f"{source}, rules ({rule.option})",
                    "refers-to-nothing",
                    "no decision has this option",
                    id_,
                    "Correct the id.",
                )
    for event in build.events:
        for field, (kind, words) in NAMED_EVENTS.items():
            name: str = event.__dict__.get(field) or ""
            named = build.index["events"].get(name)
            if named is not None and named.kind != kind:
                yield Problem(
                    f"{source}, events ({event.id}), {field}",
                    f"not-{words.replace(' ', '-')}",
                    f"that event is not {words}",
                    name,
                    f"Name {words}.",
                )


def _job_links(build: Build) -> Iterator[tuple[str, str]]:
    for job in build.jobs:
        yield from ((link.job, job.id) for link in job.after)
    for gate in build.gates:
        yield from ((job, f"gate {gate.id}") for job in gate.after)
        yield from ((f"gate {gate.id}", job) for job in gate.before)


def job_loops(build: Build, source: str) -> Iterator[Problem]:
    """Jobs and gates that wait for each other."""
    sorter: TopologicalSorter[str] = TopologicalSorter()
    for earlier, later in _job_links(build):
        sorter.add(later, earlier)
    try:
        sorter.prepare()
    except CycleError:
        yield from _named_loops(build, source)


def _named_loops(build: Build, source: str) -> Iterator[Problem]:
    import networkx as nx

    graph = nx.DiGraph(_job_links(build))
    for component in nx.strongly_connected_components(graph):
        inside = graph.subgraph(component)
        if len(component) == 1 and not inside.number_of_edges():
            continue
        # a gate's circle is told from its first job on
        cycle = min(_short_cycles(inside), key=lambda c: (len(c), c[0].startswith("gate "), c))
        loop = " → ".join(_named(build, node) for node in [*cycle, cycle[0]])
        yield Problem(
            f"{source}, jobs ({cycle[0]})",
            "loop",
            "these jobs wait for each other in a circle",
            loop,
            "Remove one of the links.",
        )


def _named(build: Build, node: str) -> str:
    """What a person calls a job or a gate."""
    gate = node.removeprefix("gate ")
    return f"gate “{build.find('gates', gate).name}”" if gate != node else f"“{build.find('jobs', node).name}”"


def _short_cycles(graph: Any) -> Iterator[list[str]]:
    """A shortest cycle through each node."""
    import networkx as nx

    for start in sorted(graph):
        paths = [
            nx.shortest_path(graph, successor, start)
            for successor in sorted(graph.successors(start))
            if nx.has_path(graph, successor, start)
        ]
        if paths:
            shortest = min(paths, key=len)
            yield [start, *shortest[:-1]]
