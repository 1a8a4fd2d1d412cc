"""Help in place: each word and each empty place that is explained is used, and none is used that is not explained."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest

from fishplate.web.explaining import lacks, words

TEMPLATES = sorted(Path(str(files("fishplate.web") / "templates")).glob("*.html"))


def used(macro: str) -> set[str]:
    return {
        name
        for template in TEMPLATES
        for name in re.findall(rf'\b{macro}\("([^"]+)"', template.read_text(encoding="utf-8"))
    }


def test_every_word_on_a_page_is_explained_and_every_explained_word_stands_on_a_page() -> None:
    assert used("term") | used("heading") == set(words())


def test_every_empty_place_is_told_and_every_telling_is_used() -> None:
    assert used("empty") == set(lacks())


@pytest.mark.parametrize("name", sorted(words()))
def test_a_word_is_explained_in_a_sentence_or_three(name: str) -> None:
    word = words()[name]
    assert word.means.endswith(".")
    assert word.means[:1] in "“" or word.means[:1].isupper()
    assert len(word.means) <= 320


def test_no_word_stands_where_it_can_not_be_opened() -> None:
    """Nothing that is tapped may hold another thing to tap, and a summary opens its own."""
    nested = re.compile(r"<(summary|a|button|label|legend)\b[^>]*>(?:(?!</\1>).)*\{\{ term\(", re.DOTALL)
    faults = [template.name for template in TEMPLATES if nested.search(template.read_text(encoding="utf-8"))]
    assert not faults


def test_anchors_of_words_are_their_own() -> None:
    anchors = [word.anchor for word in words().values()]
    assert len(set(anchors)) == len(anchors)
