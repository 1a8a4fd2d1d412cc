"""Every page that can be reached, and every form on it: whatever is typed, the answer is a page, never a failure."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

import pytest
from fastapi.testclient import TestClient
from serving import desk_of, served

from fishplate.plan import Plan
from fishplate.starters import load_demo

TYPED = ["", "x", "-1", "nan", "1e999", "0", "9" * 500, "2026-02-31", "0001-01-01", "\x00\x1b", "½ ø 猫", "<b>&amp;"]
MOST_PAGES = 200
EXPLORES = bool(os.environ.get("FISHPLATE_EXPLORE"))


@dataclass
class FormSeen:
    """A form as it stands on a page: where it goes, and its fields with their values."""

    action: str
    method: str
    fixed: dict[str, str] = field(default_factory=dict)
    typed: list[str] = field(default_factory=list)


class _Reader(HTMLParser):
    """Forms and links of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[FormSeen] = []
        self.links: list[str] = []
        self._open = False

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attributes}
        if tag == "form" and found.get("method") != "dialog":  # that one only closes what it stands in
            self.forms.append(FormSeen(found.get("action", ""), found.get("method", "get").lower()))
            self._open = True
        elif tag == "a" and found.get("href", "").startswith("/"):
            self.links.append(found["href"])
        elif tag == "div" and "?piece" in found.get("hx-get", ""):
            self.links.append(found["hx-get"].removesuffix("?piece"))
        elif self._open and tag in ("input", "select", "textarea") and found.get("name"):
            if found.get("type") == "hidden":
                self.forms[-1].fixed[found["name"]] = found.get("value", "")
            elif found.get("type") != "file":
                self.forms[-1].typed.append(found["name"])

    def handle_endtag(self, tag: str) -> None:
        self._open = self._open and tag != "form"


def pages(client: TestClient) -> Iterator[tuple[str, _Reader]]:
    """Every page that links lead to, the first page first; no two of one kind more than a few times."""
    seen, todo, kinds = set(), ["/"], dict[str, int]()
    while todo and len(seen) < MOST_PAGES:
        path = urlsplit(todo.pop(0)).path
        kind = path.rpartition("/")[0]
        if path in seen or kinds.get(kind, 0) >= 12:
            continue
        seen.add(path)
        kinds[kind] = kinds.get(kind, 0) + 1
        response = client.get(path)
        assert response.status_code < 400, f"{path}: a link leads to {response.status_code}"
        if "text/html" not in response.headers["content-type"]:
            continue
        reader = _Reader()
        reader.feed(response.text)
        todo += [urljoin(path, link) for link in reader.links]
        yield path, reader


def test_no_link_leads_nowhere_and_forms_say_what_they_were_made_from(client: TestClient) -> None:
    count = 0
    for path, reader in pages(client):
        count += 1
        for form in reader.forms:
            assert form.action.startswith("/"), path
            if form.method == "post" and "/plan" not in form.action:  # plans change nothing
                assert form.fixed.get("revision", "").isdigit(), f"{path}: {form.action} names no revision"
    assert count > 8


def kind_of(form: FormSeen) -> tuple[str, ...]:
    """What forms have in common that differ by what they are about: where they go, and their fields without ids."""
    parts = form.action.partition("?")[0].split("/")
    place = (*parts[:3], *parts[-1:]) if len(parts) > 4 else parts[:-1]
    return (form.method, *place, *sorted({name.partition("-")[0] for name in form.typed}))


@pytest.fixture(scope="module")
def forms(tmp_path_factory: pytest.TempPathFactory, demo_plan: Plan) -> list[FormSeen]:
    """A form of each kind that the pages of the demo hold; two where there is time."""
    found: dict[tuple[str, ...], list[FormSeen]] = {}
    with served(tmp_path_factory.mktemp("forms") / "demo.fishplate", load_demo(), demo_plan) as client:
        for _, reader in pages(client):
            for form in reader.forms:
                if form not in found.setdefault(kind_of(form), []):
                    found[kind_of(form)].append(form)
    return [form for alike in found.values() for form in alike[: 2 if EXPLORES else 1]]


@pytest.mark.parametrize("typed", TYPED)
def test_whatever_is_typed_the_answer_is_a_page(client: TestClient, forms: list[FormSeen], typed: str) -> None:
    """Each form gets a quarter of what can be typed, in turn; all of it where there is time."""
    assert len(forms) > 4
    for form in forms if EXPLORES else forms[TYPED.index(typed) % 4 :: 4]:
        fields = {**form.fixed, **dict.fromkeys(form.typed, typed)}
        if "revision" in fields:
            fields["revision"] = str(desk_of(client).file.revision)
        if form.method == "post":
            response = client.post(form.action, data=fields, follow_redirects=False)
        else:
            response = client.get(form.action, params=fields)
        assert response.status_code < 500, f"{form.action} with {typed!r}"
        assert response.status_code in (200, 303, 404, 409, 422), f"{form.action} with {typed!r}"
    desk_of(client).file.build()
