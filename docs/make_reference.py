"""Writes docs/reference from the code: `python docs/make_reference.py`, or `make reference`.

What stands there is never edited by hand. `tests/contracts/test_docs_reference.py` says when it is out of date.
"""

from __future__ import annotations

import importlib
import inspect
import re
import tomllib
import types
from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import copy
from datetime import date
from decimal import Decimal
from enum import Enum
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

import click
from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from fishplate.build import base, document, events
from fishplate.build.document import Build
from fishplate.build.expression_nodes import CONSTANTS, FUNCTIONS
from fishplate.build.expression_reader import MAX_CHARACTERS
from fishplate.build.interface_kinds import interface_kinds
from fishplate.cli import COMMANDS, cli
from fishplate.exchange.columns import FIELDS
from fishplate.exchange.words import column_words
from fishplate.landed import kinds
from fishplate.trade.catalogue import calculations, read_sections
from fishplate.trade.templates import templates
from fishplate.web.explaining import words
from fishplate.web.key_table import key_groups

HERE = Path(__file__).parent / "reference"
HEADS = Path(__file__).parent / "reference_heads.toml"
MADE = "<!-- Made from the code by `make reference`; not edited by hand. -->\n"

PLAIN: dict[Any, str] = {
    base.Id: "id", base.DimensionId: "id of a dimension", base.Text: "text", base.Note: "text, may be empty",
    base.Country: "country, two letters", base.Heading: "tariff heading, digits", base.Number: "number",
    base.NotNegative: "number, 0 or more", base.Positive: "number above 0", base.Share: "share, 0 to 1",
    base.Percent: "percent", str: "text", float: "number", int: "whole number", bool: "true or false", date: "day",
    Decimal: "number", base.ThreePoint: "estimate: low, likely, high",
}  # fmt: skip


def _head(page: str, **values: object) -> list[str]:
    """Title of a page and what is said before its entries."""
    head = tomllib.loads(HEADS.read_text(encoding="utf-8"))[page]
    return [f"# {head['title']}", "", head["text"].strip().format(**values), ""]


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"`{name}`" for name in sorted(names))


# commands


def commands() -> str:
    """Every command with its arguments and options."""
    return "\n".join([*_head("commands"), *(_command(name) for name in COMMANDS)])


def _command(name: str) -> str:
    module = importlib.import_module(f"fishplate.cli.{name.replace('-', '_')}_command")
    found: click.Command = copy(module.command)
    found._help_option = None  # one that was called by itself before keeps the option of then
    context = click.Context(
        found,
        click.Context(cli, info_name="fishplate", **cli.context_settings),
        name,
        max_content_width=100,
        terminal_width=100,
    )
    shown = f"## fishplate {name}\n\n{COMMANDS[name]}\n\n```text\n{found.get_help(context)}\n```\n"
    keys = inspect.cleandoc(found.help or "").partition("\f")[2].replace("\b", "").strip()
    return f"{shown}\nWhat `--json` writes:\n\n```text\n{keys}\n```\n" if keys else shown


# nouns


def build_document() -> str:
    """Lists of the build document, with every noun and field in them."""
    hints = get_type_hints(Build, include_extras=True)
    lines = _head("build-document")
    for name, field in Build.model_fields.items():
        if not (nouns := list(_nouns(hints[name]))):
            lines += [f"- `{name}`: {_type(hints[name])}{_default(field.default)}"]
    lines.append("")
    for name in Build.model_fields:
        nouns = [] if name == "events" else list(_nouns(hints[name]))
        if nouns:
            lines += [f"## {name}", ""]
            lines += [line for noun in nouns for line in _noun(noun, document.REFERENCES.get(name, {}))]
    parts = {noun.__name__: noun for name in hints for noun in _parts_of(hints[name])}
    tops = {noun.__name__ for name in hints for noun in _nouns(hints[name])}
    lines += ["## Parts of nouns", ""]
    for name in sorted(parts.keys() - tops):
        lines += [f"### {name}", "", *_noun(parts[name], {})]
    return "\n".join(lines) + "\n"


def events_page() -> str:
    """Every kind of event."""
    lines = _head("events")
    for noun in _nouns(events.Event):
        kind = get_args(get_type_hints(noun)["kind"])[0]
        references = document.REFERENCES.get("events", {})
        lines += [f"## {kind}", "", *_noun(noun, references, without=frozenset(("id", "day", "note", "kind")))]
    return "\n".join(lines) + "\n"


def rule_language() -> str:
    """What every kind of import rule may hold."""
    lines = [*_head("import-rules"), *_noun(kinds.RuleBase, {})]
    found = [it for _, it in inspect.getmembers(kinds, inspect.isclass) if issubclass(it, kinds.RuleBase)]
    ordered = sorted(found, key=lambda it: inspect.getsourcelines(it)[1])
    for rule in ordered[1:]:
        kind = get_args(get_type_hints(rule)["kind"])[0]
        lines += [f"## {kind}", "", *_noun(rule, {}, without=frozenset(kinds.RuleBase.model_fields) | {"kind"})]
    lines += ["## Parts of rules", "", "### Tier", "", *_noun(kinds.Tier, {})]
    return "\n".join(lines) + "\n"


def _noun(noun: type[BaseModel], references: Mapping[str, str], without: frozenset[str] = frozenset()) -> list[str]:
    """A noun: its purpose and a line for each field."""
    sections = read_sections(noun.__doc__ or "")
    said = _said(sections.get("Parameters", ""))
    hints = get_type_hints(noun, include_extras=True)
    lines = [sections[""], ""]
    for name, field in noun.model_fields.items():
        if name in without:
            continue
        said_type = _type(hints[name])
        if name in references:
            said_type = re.sub(r"\bid\b", f"id of `{references[name]}`", said_type, count=1)
        means = f"; {said[name]}" if said.get(name) else ""
        lines.append(f"- `{name}`: {said_type}{_default(field.default)}{means}")
    return [*lines, ""]


def _said(text: str) -> dict[str, str]:
    """What a docstring says of each parameter; several may share a line, parted by semicolons."""
    found: dict[str, str] = {}
    names: list[str] = []
    for raw in text.splitlines():
        piece = raw.strip()
        head = re.match(r"([a-z][a-z0-9_]*(?:, [a-z][a-z0-9_]*)*) : (.*)", piece)
        if head:
            names = head[1].split(", ")
            found.update(dict.fromkeys(names, head[2]))
        elif names and piece:
            found.update({name: f"{found[name]} {piece}" for name in names})
    for name, words_of_it in list(found.items()):
        first, *others = re.split(r"; (?=[a-z][a-z0-9_]*(?:, [a-z][a-z0-9_]*)* : )", words_of_it)
        found[name] = first
        for other in others:
            heads, _, rest = other.partition(" : ")
            found.update(dict.fromkeys(heads.split(", "), rest))
    return found


def _type(hint: Any) -> str:
    """A type in words."""
    for known, said in PLAIN.items():
        if hint == known:
            return said
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _type(inner[0])
    if origin is Literal:
        return " | ".join(f"`{it}`" for it in inner)
    if origin in (Union, types.UnionType):
        given = [it for it in inner if it is not type(None)]
        return " or ".join(dict.fromkeys(map(_type, given))) + (", or not said" if len(given) < len(inner) else "")
    if origin in (tuple, list, frozenset):
        return f"list of {_type(inner[0])}" if inner[-1] is ... or len(inner) == 1 else " and ".join(map(_type, inner))
    if origin in (dict, Mapping):
        return f"{_type(inner[1])} by {_type(inner[0])}"
    if inspect.isclass(hint) and issubclass(hint, Enum):
        return " | ".join(f"`{it.value}`" for it in hint)
    return str(getattr(hint, "__name__", hint))


def _default(value: Any) -> str:
    if value is PydanticUndefined:
        return ", required"
    if value in (None, "", ()) or isinstance(value, BaseModel):
        return ""
    shown = value.value if isinstance(value, Enum) else str(value).lower() if isinstance(value, bool) else value
    shown = ", ".join(map(str, shown)) if isinstance(shown, tuple) else shown
    return f" ({shown})"


def _nouns(hint: Any) -> Iterator[type[BaseModel]]:
    """The nouns a hint names."""
    if inspect.isclass(hint) and issubclass(hint, BaseModel):
        yield hint
    for inner in get_args(hint):
        yield from _nouns(inner)


def _parts_of(hint: Any) -> Iterator[type[BaseModel]]:
    """The nouns a hint names, and those in their fields."""
    for noun in _nouns(hint):
        yield noun
        for inner in get_type_hints(noun, include_extras=True).values():
            yield from _parts_of(inner)


# tables


def interface_kinds_page() -> str:
    """Kinds of interface."""
    rows = [f"| `{kind}` | {name} |" for kind, name in interface_kinds().items()]
    return "\n".join([*_head("interface-kinds"), "| kind | what it is |", "|---|---|", *rows, ""])


def condition_templates() -> str:
    """Conditions that are ready, and the language they are written in."""
    lines = _head("conditions", most=MAX_CHARACTERS, functions=_listed(FUNCTIONS), constants=_listed(CONSTANTS))
    for item in templates():
        limits = " and ".join(
            f"{words_} {limit}" for words_, limit in (("at least", item.at_least), ("at most", item.at_most)) if limit
        )
        said = f"{item.name}{': ' + limits if limits else ''}. If it is wrong: {item.if_wrong}"
        bears = f"For: {_listed(item.interfaces)}. Found late it is {item.consequence.value}. Limit: {item.source}."
        lines += [f"### {item.id}", "", said, "", f"    {item.expression}", "", bears, ""]
        lines += [f"- `{it.id}`: {it.name}{f' [{it.unit}]' if it.unit else ''}. {it.how}" for it in item.dimensions]
        lines.append("")
    return "\n".join(lines) + "\n"


def calculations_page() -> str:
    """Every calculation."""
    lines = _head("calculations")
    subject = ""
    for item in calculations().values():
        if item.id.split(".")[0] != subject:
            subject = item.id.split(".")[0]
            lines += [f"## {subject}", "", *([f"{item.caution}", ""] if item.caution else [])]
        lines += [f"### {item.id}", "", item.purpose, ""]
        lines += [f"- {'takes' if it.required else 'may take'} `{it.name}`{_of(it.quantity)}" for it in item.parameters]
        lines += [f"- gives `{it.name or 'the value'}`{_of(it)}" for it in item.results]
        lines += ["", *([f"Validity: {_flat(item.notes)}", ""] if item.notes else [])]
        lines += [*([f"Source: {_flat(item.references)}", ""] if item.references else [])]
    return "\n".join(lines) + "\n"


def _of(quantity: Any) -> str:
    unit = f" [{quantity.unit}]" if quantity.unit else ""
    shape = f", shape {quantity.shape}" if quantity.shape else ""
    return f"{unit}{': ' + quantity.words if quantity.words else ''}{shape}"


def _flat(text: str) -> str:
    return " ".join(text.split())


def import_columns() -> str:
    """What a column of a list may be, and the words it is known by."""
    known = column_words()
    lines = [*_head("import-columns"), "| field | known by |", "|---|---|"]
    lines += [f"| `{field}` | {', '.join(sorted(known.get(field, ())))} |" for field in FIELDS]
    return "\n".join(lines) + "\n"


def keys_page() -> str:
    """What each key does, and where."""
    lines = _head("keys")
    for where, keys in key_groups():
        lines += [f"## {where}", "", *(f"- **{key.keys}**: {key.does}" for key in keys), ""]
    return "\n".join(lines)


def words_page() -> str:
    """Words of the trade and of Fishplate."""
    lines = _head("words")
    for it in words().values():
        trade = f" (in the trade: {it.trade})" if it.trade else ""
        lines.append(f"- **{it.name}**{trade}: {it.means}")
    return "\n".join(lines) + "\n"


PAGES: dict[str, Callable[[], str]] = {
    "commands": commands,
    "build-document": build_document,
    "events": events_page,
    "interface-kinds": interface_kinds_page,
    "conditions": condition_templates,
    "calculations": calculations_page,
    "import-columns": import_columns,
    "import-rules": rule_language,
    "keys": keys_page,
    "words": words_page,
}


def pages() -> dict[str, str]:
    """Every page by its file name, with an index."""
    found = {f"{name}.md": MADE + make() for name, make in PAGES.items()}
    index = [f"- [{text.splitlines()[1].lstrip('# ')}]({name})" for name, text in found.items()]
    return {"README.md": MADE + "\n".join(["# Reference", "", *index, ""]), **found}


def main() -> None:
    """Write the pages, and take out what is no longer one."""
    HERE.mkdir(exist_ok=True)
    found = pages()
    for old in HERE.glob("*.md"):
        if old.name not in found:
            old.unlink()
    for name, text in found.items():
        (HERE / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
