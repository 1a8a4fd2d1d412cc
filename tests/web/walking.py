"""A person at the pages, as a document tells it: fields by their labels, buttons by their words."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

from fastapi.testclient import TestClient


@dataclass
class Field:
    """One field: its name, what it holds, and whether that is sent unless it is ticked."""

    name: str
    value: str = ""
    label: str = ""
    sent: bool = True
    one_of: bool = False
    options: dict[str, str] = field(default_factory=dict)


@dataclass
class Form:
    """A form with its fields and buttons; buttons : words -> name and value."""

    action: str
    method: str
    fields: list[Field] = field(default_factory=list)
    buttons: dict[str, tuple[str, str]] = field(default_factory=dict)


class Screen(HTMLParser):
    """The forms of a page, as a person sees them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.labels: dict[str, str] = {}
        self._form: Form | None = None
        self._words: list[tuple[str, dict[str, str], list[str]]] = []
        self._select: Field | None = None
        self._ids: dict[str, Field] = {}
        self._held: list[Field] = []
        self.feed(text)
        for id_, label in self.labels.items():
            if id_ in self._ids:
                self._ids[id_].label = label

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = Form(has.get("action", ""), has.get("method", "get"))
            self.forms.append(self._form)
        if tag in ("label", "button", "option", "textarea"):
            self._words.append((tag, has, []))
        if self._form is None or tag not in ("input", "select", "textarea"):
            return
        kind = has.get("type", "text")
        found = Field(has.get("name", ""), has.get("value", ""))
        if kind in ("checkbox", "radio"):
            found.sent, found.one_of = "checked" in has, kind == "radio"
        elif kind == "file":
            found.sent = False
        self._form.fields.append(found)
        self._ids[has.get("id", "")] = found
        if tag == "select":
            self._select = found
        if self._words and self._words[-1][0] == "label":
            self._held.append(found)

    def handle_data(self, data: str) -> None:
        for _, _, words in self._words:
            words.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = None
        elif self._words and self._words[-1][0] == tag:
            self._close(*self._words.pop())

    def _close(self, tag: str, has: dict[str, str], data: list[str]) -> None:
        words = " ".join("".join(data).split())
        if tag == "label":
            if "for" in has:
                self.labels[has["for"]] = words
            for held in self._held:
                held.label = words
            self._held.clear()
        elif tag == "button" and self._form is not None:
            self._form.buttons[words] = has.get("name", ""), has.get("value", "")
        elif tag == "option" and self._select is not None:
            self._select.options[words] = has.get("value", words)
            if "selected" in has or len(self._select.options) == 1:
                self._select.value = has.get("value", words)
        elif tag == "textarea" and self._form is not None:
            self._form.fields[-1].value = "".join(data).strip()


@dataclass
class Person:
    """Somebody who opens pages, fills in what is told, and taps buttons."""

    client: TestClient

    def does(self, told: str) -> str:
        """Open a page and fill a form as told: the address, then `Label: value` a line, then `[Button]`.

        What stands indented below a line goes on with its value. Where several forms of a page have that button, the
        address the form goes to stands behind it.

        Returns
        -------
        the words of the page that comes then
        """
        address, *lines = told.strip().replace("\n  ", "\0").split("\n")
        answer = self.client.get(address)
        assert answer.status_code == 200, f"{address}: {answer.status_code}"
        if not lines:
            return words_of(answer.text)
        wanted = [tuple(part.strip() for part in line.split(":", 1)) for line in lines[:-1]]
        button, _, goes_to = lines[-1].strip().removeprefix("[").partition("]")
        form = _form(Screen(answer.text), button, goes_to.strip(), [label for label, _ in wanted])
        for label, value in wanted:
            _fill(form, label, value.replace("\0", "\n"))
        data: dict[str, list[str]] = {}
        for each in form.fields:
            if each.sent and each.name:
                data.setdefault(each.name, []).append(each.value)
        name, value = form.buttons[button]
        if name:
            data[name] = [value]
        path = re.sub(r"#.*", "", form.action) or address
        answer = self.client.post(path, data=data) if form.method == "post" else self.client.get(path, params=data)
        assert answer.status_code == 200, f"{address}, {button}: {words_of(answer.text)}"
        return words_of(answer.text)


def _form(screen: Screen, button: str, goes_to: str, labels: list[str]) -> Form:
    named = [form for form in screen.forms if button in form.buttons and form.action.endswith(goes_to)]
    found = [form for form in named if all(_field(form, label) for label in labels)]
    seen = [sorted(each.label for each in form.fields if each.label) for form in named]
    assert found, f"no form has {labels} and the button {button}; with that button: {seen}"
    return found[0]


def _field(form: Form, label: str) -> Field | None:
    exact = [each for each in form.fields if each.label == label]
    return (exact or [each for each in form.fields if each.label.startswith(label)] or [None])[0]


def _fill(form: Form, label: str, value: str) -> None:
    found = _field(form, label)
    assert found is not None
    if value == "yes" and not found.options:
        for each in form.fields:
            each.sent = each.sent and not (found.one_of and each.one_of and each.name == found.name)
        found.sent = True
    elif found.options:
        near = [each for words, each in found.options.items() if words.startswith(value)]
        assert near, f"{label}: no option {value}, but {list(found.options)}"
        found.value = near[0]
    else:
        found.value = value


def words_of(text: str) -> str:
    """What a page says, without its marks."""
    main = re.sub(r"<(script|style|nav)\b.*?</\1>", " ", text, flags=re.DOTALL)
    bare = re.sub(r"<[^>]+>", " ", main).replace("&#39;", "'").replace("&amp;", "&").replace("&#34;", '"')
    return " ".join(bare.split())
