"""The reference in docs/reference is what the code says today."""

from __future__ import annotations

import importlib.util
import re
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

DOCS = Path(__file__).parents[2] / "docs"


@cache
def maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_reference", DOCS / "make_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@cache
def pages() -> dict[str, str]:
    found: dict[str, str] = maker().pages()
    return found


def test_the_reference_is_up_to_date() -> None:
    kept = {path.name: path.read_text(encoding="utf-8") for path in (DOCS / "reference").glob("*.md")}
    old = sorted(name for name in {*kept, *pages()} if kept.get(name) != pages().get(name))
    assert not old, f"out of date: {', '.join(old)}; run: make reference"


@pytest.mark.parametrize(
    ("page", "line"),
    [
        ("build-document.md", "- `hours_per_week`: number, 0 or more, or not said; usual hours a week at the"),
        ("build-document.md", "- `supplier`: id of `suppliers`, required"),
        ("events.md", "- `home_amount`: Money, or not said; what it came to in home currency, as the bank booked it"),
        ("import-rules.md", "- `as_of`: day, or not said; the day it was last checked"),
    ],
)
def test_fields_are_told_with_type_meaning_and_unit(page: str, line: str) -> None:
    assert any(each.startswith(line) for each in pages()[page].splitlines())


def test_types_are_in_words() -> None:
    lines = [line for text in pages().values() for line in text.splitlines() if line.startswith("- `")]
    assert not [line for line in lines if re.search(r"typing\.|Annotated|<class|NoneType|Literal", line)]


def test_every_command_of_the_readme_is_in_the_reference() -> None:
    text = (DOCS.parent / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`fishplate ([a-z-]+)", text))
    assert named <= set(re.findall(r"^## fishplate ([a-z-]+)$", pages()["commands.md"], re.MULTILINE))


@pytest.mark.parametrize("path", sorted([*DOCS.glob("*.md"), DOCS.parent / "README.md"]), ids=lambda path: path.name)
def test_every_link_of_a_document_leads_somewhere(path: Path) -> None:
    targets = re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", path.read_text(encoding="utf-8"))
    missing = [target for target in targets if "://" not in target and not (path.parent / target).exists()]
    assert not missing
