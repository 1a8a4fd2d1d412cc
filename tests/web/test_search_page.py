"""The page of search: every kind of thing that has a page is found, leads there, and says where it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.starters import load_demo
from fishplate.web.findable import index_of
from fishplate.web.finding import Index
from fishplate.web.kept import Standing
from fishplate.web.key_table import KEYS, key_acts, key_groups
from fishplate.web.searching import A_FEW, KINDS, search_page


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The demo without a plan; nothing is written to it."""
    with served(tmp_path_factory.mktemp("search") / "demo.fishplate", load_demo()) as client:
        client.get("/")
        desk_of(client).words.of(desk_of(client).view(), patience_seconds=20)
        yield client


@pytest.fixture(scope="module")
def index(pages: TestClient) -> Index:
    return index_of(desk_of(pages).view())


def test_every_kind_is_named_and_the_demo_has_one_of_nearly_each(index: Index) -> None:
    there = {thing.kind for thing in index.things}
    assert there <= KINDS.keys()
    assert KINDS.keys() - there <= {"invoice"}


def test_every_noun_with_a_page_can_be_found_by_its_name(index: Index) -> None:
    build = load_demo()
    for kind, nouns in {
        "part": build.parts, "job": build.jobs, "decision": build.decisions, "interface": build.interfaces,
        "condition": build.conditions, "dimension": build.dimensions, "supplier": build.suppliers,
        "evidence": build.requirements, "system": build.systems, "state": build.states,
    }.items():  # fmt: skip
        for noun in nouns:
            found = [thing.id for _, thing in index.find(noun.name) if thing.kind == kind]
            assert noun.id in found, f"{kind} {noun.name}"


def test_what_is_found_leads_to_a_page_that_is_there(pages: TestClient, index: Index) -> None:
    for kind in KINDS:
        for thing in [thing for thing in index.things if thing.kind == kind][:: max(1, 400 // 12)][:4]:
            path, place = urlsplit(thing.path).path, urlsplit(thing.path).fragment
            response = pages.get(path)
            assert response.status_code == 200, thing.path
            assert not place or f'id="{place}"' in response.text, thing.path


def test_the_page_needs_no_script(pages: TestClient) -> None:
    text = pages.get("/search", params={"q": "brake disc"}).text
    assert '<form method="get" action="/search"' in text
    assert re.search(r'<a href="/parts/front-disc" data-hit>Front brake disc.*</a> <span class="wait">In hand', text)


def test_more_of_a_kind_stand_on_a_page_of_their_own(pages: TestClient) -> None:
    text = pages.get("/search?q=brake").text
    more = re.search(r'<a href="(/search\?q=brake&amp;kind=job)" data-hit>(\d+) more', text)
    assert more is not None
    text = pages.get("/search", params={"q": "brake", "kind": "job"}).text
    assert text.count("data-hit>") == A_FEW + int(more[2])
    assert ">Parts</h2>" not in text


def test_interfaces_say_their_verdict(pages: TestClient) -> None:
    desk = desk_of(pages)
    fitted = desk.verdicts.of(desk.view(), patience_seconds=20).value
    interface = load_demo().interfaces[0]
    page = search_page(interface.name, "interface", Standing(index_of(desk.view()), True), fitted)
    said = next(hit.said for group in page.groups for hit in group.hits if hit.name == interface.name)
    assert said.lower().rstrip(".") in ("fits", "in doubt", "does not fit", "not known")


def test_interfaces_are_found_by_their_verdict(pages: TestClient, index: Index) -> None:
    desk = desk_of(pages)
    fitted = desk.verdicts.of(desk.view(), patience_seconds=20).value
    assert fitted is not None
    page = search_page("interfaces not known", "interface", Standing(index, True), fitted)
    names = {desk.view().build.find("interfaces", id_).name for id_, result in fitted.interfaces.items()
             if result.verdict.value == "not known"}  # fmt: skip
    assert names
    assert {hit.name for group in page.groups for hit in group.hits if hit.said == "Not known."} == names


@pytest.mark.parametrize("text", ["", "\x00\x1b", "<b>&amp;", "9" * 500, "½ ø 猫", "'; drop"])
def test_whatever_is_typed_the_answer_is_a_page(pages: TestClient, text: str) -> None:
    for kind in ("", "part", "nonsense"):
        response = pages.get("/search", params={"q": text, "kind": kind})
        assert response.status_code == 200
        assert "<b>&amp;" not in response.text.split('id="found"')[1]


def test_a_change_is_found_after_it_was_made(client: TestClient) -> None:
    desk = desk_of(client)
    desk.words.of(desk.view(), patience_seconds=20)
    part = desk.view().build.parts[0]
    client.post(f"/parts/{part.id}", data={
        "revision": str(desk.file.revision), "form": "x", "name": "Quillwort bracket", "quantity": "1", "unit": "each",
    })  # fmt: skip
    desk.words.of(desk.view(), patience_seconds=20)
    assert "Quillwort bracket" in client.get("/search?q=quilwort").text


def test_the_page_of_keys_tells_the_whole_table(pages: TestClient) -> None:
    text = pages.get("/keys").text
    for key in KEYS:
        assert f"<kbd>{key.keys}</kbd>" in text
        assert f"{key.does[:1].upper()}{key.does[1:]}." in text
    assert sum(len(keys) for _, keys in key_groups()) == len(KEYS)


def test_no_sign_has_two_acts_and_the_script_knows_each(pages: TestClient) -> None:
    acts = [key.keys for key in KEYS if key.act]
    assert len(acts) == len(set(acts))
    script = pages.get("/static/keys.js").text
    for act in key_acts().values():
        assert re.search(rf"^    {act}\(", script, re.MULTILINE), act
