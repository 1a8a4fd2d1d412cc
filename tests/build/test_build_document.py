"""The build document: read whole or refused whole, with every problem and its place."""

from __future__ import annotations

import copy
import json
import pickle
from typing import Any

import pytest

from fishplate.build import (
    Build,
    Refused,
    build_from_data,
    check_build,
    document_data,
    document_schema,
    format_document,
    parse_document,
)
from fishplate.build.document import LISTS, LISTS_WITH_IDS, REFERENCES


def problems(data: Any) -> list[str]:
    """Every problem of a document, in words."""
    with pytest.raises(Refused) as caught:
        parse_document(data if isinstance(data, str | bytes) else json.dumps(data), source="van.json")
    return [str(problem) for problem in caught.value.problems]


def job(id_: str, *after: str) -> dict[str, Any]:
    hours = {"low": 1, "likely": 2, "high": 3}
    return {"id": id_, "name": id_, "phase": "strip", "hours": hours, "after": [{"job": each} for each in after]}


def test_an_empty_object_is_a_build_with_nothing_in_it() -> None:
    assert parse_document("{}") == Build()


def test_defaults_and_empty_lists_are_left_out_of_a_document() -> None:
    build = build_from_data({"parts": [{"id": "hub", "name": "Hub", "quantity": 1, "unit": "each"}], "jobs": []})
    assert document_data(build) == {
        "format": "fishplate build", "version": 1, "name": "My build", "parts": [{"id": "hub", "name": "Hub"}],
    }  # fmt: skip


def test_amounts_keep_every_digit() -> None:
    price = {"amount": "38.5000000000000001", "currency": "EUR"}
    data = {
        "parts": [{"id": "hub", "name": "Hub"}],
        "suppliers": [{"id": "s", "name": "S", "country": "DE", "currency": "EUR"}],
        "offers": [{"id": "o", "supplier": "s", "part": "hub", "price": price}],
    }
    assert document_data(parse_document(json.dumps(data)))["offers"][0]["price"] == price


def test_problems_are_listed_all_at_once_with_their_places() -> None:
    found = problems(
        {
            "name": "Van",
            "colour": "green",
            "owner": {"currency": "EURO", "country": "nl"},
            "parts": [
                {"id": "Hub", "name": "Hub"},
                {"id": "disc", "quantity": 0},
                {"id": "nut", "name": "Nut", "mass_kg": "heavy", "box_mm": [1, 2]},
            ],
            "jobs": [{"id": "strip", "name": "Strip", "phase": "undress", "hours": {"low": 3, "likely": 2, "high": 4}}],
        }
    )
    places = [problem.split(": ")[0] for problem in found]
    assert places == [
        "van.json, colour",
        "van.json, jobs 1 (strip), hours",
        "van.json, jobs 1 (strip), phase",
        "van.json, owner, country",
        "van.json, owner, currency",
        "van.json, parts 1 (Hub), id",
        "van.json, parts 2 (disc), name",
        "van.json, parts 2 (disc), quantity",
        "van.json, parts 3 (nut), box_mm 3",
        "van.json, parts 3 (nut), mass_kg",
    ]
    assert found[0] == "van.json, colour: a field Fishplate does not know ('green'). Remove it, or check its spelling."
    assert "low, likely and high must rise in that order" in found[1]
    assert found[3] == (
        "van.json, owner, country: not a country code ('nl'). Use two capital letters after ISO 3166, such as DE or GB."
    )
    assert "parts 1 (Hub), id: not an id ('Hub'). Use lower-case letters" in found[5]
    assert "('heavy')" in found[-1]


def test_a_fault_in_an_event_is_placed_without_the_name_of_its_class() -> None:
    (found,) = problems({"events": [{"kind": "arrived", "id": "e1", "day": "2026-03-01", "lines": [{}]}]})
    assert found == "van.json, events 1 (e1), lines 1, part: a field that must be there is missing. Add it."


@pytest.mark.parametrize(
    ("event", "words"),
    [
        ({"id": "e1", "day": "2026-03-01"}, "van.json, events 1 (e1): its kind is missing."),
        (
            {"id": "e1", "kind": "stolen", "day": "2026-03-01"},
            "van.json, events 1 (e1): 'stolen' is no kind of event. Use one of 'ordered', 'paid', ",
        ),
    ],
)
def test_an_event_of_no_known_kind_is_refused(event: dict[str, str], words: str) -> None:
    (found,) = problems({"events": [event]})
    assert words in found


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "van.json, line 1, column 1: not JSON"),
        ('{"name": "Van",\n "parts": [', "van.json, line 2, column 12: not JSON"),
        ("[]", "van.json: a build document is an object ('list')"),
        ("null", "van.json: a build document is an object ('NoneType')"),
        ('{"name": "a", "name": "b"}', "van.json: the key 'name' stands twice in one object"),
        ('{"owner": {"hours_per_week": NaN}}', "NaN is not a number a build can hold"),
        ('{"owner": {"hours_per_week": -Infinity}}', "-Infinity is not a number a build can hold"),
        ('{"owner": {"hours_per_week": 1e999}}', "van.json, owner, hours_per_week: "),
        ('{"owner": {"hour_worth": 1e13}}', "not a finite amount below a million million"),
        ('{"owner": {"hours_per_week": ' + "1" * 5000 + "}}", "van.json: Exceeds the limit"),
        ("[" * 100_000, "van.json: brackets are nested too deeply"),
        ('{"format": "parts list"}', "van.json, format: input should be 'fishplate build' ('parts list')"),
        ('{"version": 2}', "van.json: the document was written by a newer program ('version 2'). Update Fishplate."),
        ('{"version": 0}', "van.json, version: input should be 1 ('0')"),
        ('{"name": "\\ud800"}', "van.json, name: "),
        ('{"\\ud800": 1}', "van.json: input should be a valid string"),
        ('{"\\u001b[31m": 1}', "van.json, \\x1b[31m: a field Fishplate does not know"),
        ('{"parts": {"hub": 1}}', "van.json, parts: a list belongs here. Write it in [ ]"),
        ('{"parts": ["hub"]}', "van.json, parts 1: an object with fields belongs here ('hub'). Write it in { }."),
    ],
)
def test_a_document_that_is_not_one_is_refused(text: str, words: str) -> None:
    (found,) = problems(text)
    assert words in found
    assert found.encode().decode() == found, "can be printed"


def test_bytes_that_are_not_utf_8_are_placed() -> None:
    assert problems(b'{"name": "Caf\xe9"}') == ["van.json, byte 13: not UTF-8 text. Save it as UTF-8."]


def test_a_byte_order_mark_is_read_over() -> None:
    assert parse_document(b'\xef\xbb\xbf{"name": "Van"}').name == "Van"


def test_a_document_beyond_64_mebibytes_is_refused() -> None:
    assert "larger than 64 MiB" in problems('{"name": "' + "x" * (64 * 1024 * 1024) + '"}')[0]


def test_the_same_id_twice_in_a_list_is_refused_but_not_in_two_lists() -> None:
    hub = {"id": "hub", "name": "Hub"}
    assert problems({"parts": [hub, hub, hub]}) == [
        "van.json, parts (hub): 3 parts have this id ('hub'). Give each its own."
    ]
    assert build_from_data({"parts": [hub], "systems": [hub]}).find("systems", "hub").name == "Hub"


def _reference_cases() -> list[tuple[str, str, str]]:
    return [(name, path, target) for name, fields in REFERENCES.items() for path, target in fields.items()]


@pytest.mark.parametrize(("name", "path", "target"), _reference_cases())
def test_every_reference_names_a_list_with_ids_and_a_field_that_exists(name: str, path: str, target: str) -> None:
    assert name in LISTS
    assert target in LISTS_WITH_IDS
    if name != "events":
        models = [Build.model_fields[name].annotation.__args__[0]]  # type: ignore[union-attr]
        for step in path.split("."):
            assert step in models[-1].model_fields, path
            models.append(next(iter(getattr(models[-1].model_fields[step].annotation, "__args__", ())), None))


def test_every_reference_to_nothing_is_listed() -> None:
    found = problems(
        {
            "parts": [{"id": "hub", "name": "Hub", "system": "axle"}],
            "kits": [{"id": "kit", "name": "Kit", "contents": [{"part": "hub"}, {"part": "disc"}]}],
            "jobs": [{**job("fit", "strip"), "to_keep": ["hub", "nut"], "changes": ["empty"]}],
            "decisions": [
                {"id": "rack", "name": "Rack", "options": [{"id": "a", "name": "A", "parts": ["quick", "hub"]}]}
            ],
            "edges": [{"source": "rack", "target": "sump", "strength": "fixes"}],
            "rules": [{"option": "a", "excludes": "b"}],
            "settled": [{"interface": "arch", "day": "2026-01-01", "by": "eye"}],
        }
    )
    missing = "there is no such one among the"
    assert [problem[len("van.json, ") :] for problem in found] == [
        f"decisions (rack), options.parts: {missing} parts ('quick'). Add it to parts, or correct the id.",
        f"edges (1), target: {missing} decisions ('sump'). Add it to decisions, or correct the id.",
        f"jobs (fit), after.job: {missing} jobs ('strip'). Add it to jobs, or correct the id.",
        f"jobs (fit), changes: {missing} states ('empty'). Add it to states, or correct the id.",
        f"jobs (fit), to_keep: {missing} parts ('nut'). Add it to parts, or correct the id.",
        f"kits (kit), contents.part: {missing} parts ('disc'). Add it to parts, or correct the id.",
        f"parts (hub), system: {missing} systems ('axle'). Add it to systems, or correct the id.",
        "rules (a): no decision has this option ('b'). Correct the id.",
        f"settled (1), interface: {missing} interfaces ('arch'). Add it to interfaces, or correct the id.",
    ]


def test_an_order_named_by_an_event_is_an_order() -> None:
    paid = {"kind": "paid", "day": "2026-03-01", "amount": {"amount": "1", "currency": "EUR"}}
    found = problems({"events": [{**paid, "id": "e1"}, {**paid, "id": "e2", "order": "e1"}]})
    assert found == ["van.json, events (e2), order: that event is not an order ('e1'). Name an order."]


@pytest.mark.parametrize(
    ("jobs", "loops"),
    [
        ([job("a", "a")], ["“a” → “a”"]),
        ([job("a", "b"), job("b", "a")], ["“a” → “b” → “a”"]),
        # the circle through all four is longer than the one of b and c within it
        ([job("a", "d"), job("b", "a", "c"), job("c", "b"), job("d", "c")], ["“b” → “c” → “b”"]),
        (
            [job("a", "b"), job("b", "a"), job("x", "y"), job("y", "x"), job("free", "a")],
            ["“a” → “b” → “a”", "“x” → “y” → “x”"],
        ),
        ([job("a"), job("b", "a"), job("c", "a"), job("d", "b", "c")], []),
    ],
)
def test_jobs_in_a_circle_are_named_by_the_smallest(jobs: list[dict[str, Any]], loops: list[str]) -> None:
    data = {"jobs": jobs}
    assert [problem.got for problem in check_build(Build.model_validate(data))] == loops


def test_a_circle_through_a_gate_is_told_from_a_job_on() -> None:
    gate = {"id": "dry", "name": "Dry build", "kind": "dry-build", "after": ["paint"], "before": ["weld"]}
    (found,) = problems({"jobs": [job("weld"), job("paint", "weld")], "gates": [gate]})
    assert found == (
        "van.json, jobs (paint): these jobs wait for each other in a circle "
        "('“paint” → gate “Dry build” → “weld” → “paint”'). Remove one of the links."
    )


def test_a_copy_with_other_nouns_finds_the_other_nouns() -> None:
    """The index of a build is made once and kept; a copy must not keep that of its original."""
    build = build_from_data({"systems": [{"id": "axle", "name": "Axle"}]})
    assert build.find("systems", "axle").name == "Axle"
    other = build.model_copy(update={"systems": ()})
    with pytest.raises(KeyError):
        other.find("systems", "axle")
    assert build.find("systems", "axle").name == "Axle"


def test_a_build_is_itself_after_copying_pickling_and_finding() -> None:
    build = build_from_data({"systems": [{"id": "axle", "name": "Axle"}]})
    fresh = copy.deepcopy(build)
    build.find("systems", "axle")
    assert build == fresh == pickle.loads(pickle.dumps(build))


def test_refusals_survive_being_sent_between_processes() -> None:
    with pytest.raises(Refused) as caught:
        parse_document("[]")
    assert pickle.loads(pickle.dumps(caught.value)).problems == caught.value.problems


@pytest.mark.parametrize("quantity", [0, 1e-300, 5e-324])
def test_next_to_nothing_of_a_part_is_refused(quantity: float) -> None:
    """What is needed over what a pack holds must stay a number."""
    with pytest.raises(Refused) as caught:
        build_from_data({"parts": [{"id": "bolt", "name": "Bolt", "quantity": quantity}]})
    (problem,) = caught.value.problems
    assert problem.what == "must be at least 0.000001"


def test_the_schema_knows_every_list() -> None:
    schema = document_schema()
    assert set(LISTS) <= set(schema["properties"])
    assert schema["additionalProperties"] is False


def test_a_long_chain_of_jobs_is_no_circle_and_no_depth_is_too_deep() -> None:
    jobs = [job("job-0"), *(job(f"job-{number}", f"job-{number - 1}") for number in range(1, 3000))]
    assert len(build_from_data({"jobs": jobs}).jobs) == 3000


def test_format_is_stable() -> None:
    build = build_from_data({"systems": [{"id": "axle", "name": "Achse ⌀ 30"}]})
    assert format_document(build) == (
        '{\n "format": "fishplate build",\n "version": 1,\n "name": "My build",\n "systems": [\n  {\n'
        '   "id": "axle",\n   "name": "Achse ⌀ 30"\n  }\n ]\n}\n'
    )
