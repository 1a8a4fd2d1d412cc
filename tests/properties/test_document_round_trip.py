"""A build document read back is the build that was written, whatever is in it."""

from __future__ import annotations

from hypothesis import Phase, find, given, settings
from hypothesis import strategies as st
from strategies import ANY_BUILD, EVENT_KINDS, builds

from fishplate.build import Build, document_data, format_document, parse_document
from fishplate.build.document import LISTS

SEEK = settings(ANY_BUILD, max_examples=500, phases=[Phase.generate], database=None)


@ANY_BUILD
@given(builds())
def test_a_document_read_back_is_the_same_build(build: Build) -> None:
    text = format_document(build)
    again = parse_document(text)
    assert again == build
    assert format_document(again) == text


@ANY_BUILD
@given(builds())
def test_a_document_as_bytes_reads_as_its_text(build: Build) -> None:
    text = format_document(build)
    assert parse_document(text.encode()) == parse_document(text)


@ANY_BUILD
@given(builds(most=1), st.sampled_from(LISTS))
def test_a_document_with_only_some_nouns_reads_back(build: Build, left_out: str) -> None:
    """Lists nothing refers to may be dropped from a document, one at a time, without changing the rest."""
    data = {key: value for key, value in document_data(build).items() if key != left_out}
    assert document_data(Build.model_validate(data)) == data


def test_the_strategy_reaches_every_list_and_every_kind_of_event() -> None:
    missing = set(LISTS) | set(EVENT_KINDS)

    def all_seen(build: Build) -> bool:
        missing.difference_update(name for name in LISTS if getattr(build, name))
        missing.difference_update(event.kind for event in build.events)
        return not missing

    find(builds(), all_seen, settings=SEEK)
