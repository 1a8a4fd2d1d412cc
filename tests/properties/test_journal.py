"""The journal against a model of it: a list of builds and a place in it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from strategies import builds

from fishplate.build import Build, Refused, build_from_data, document_data
from fishplate.build.document import LISTS
from fishplate.store import Batch, BuildFile, Change
from fishplate.store.positions import place
from fishplate.store.rows import Contents, Row, contents_of, document_of

ROOMY = settings(
    deadline=None,
    max_examples=12,
    stateful_step_count=12,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example],
)


class Journal(RuleBasedStateMachine):
    """Writes, undoes and redoes in any order, on a file and on a plain list beside it."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()

    def teardown(self) -> None:
        self.folder.cleanup()

    @initialize(build=builds(most=1))
    def start(self, build: Build) -> None:
        self.path = Path(self.folder.name) / "van.fishplate"
        self.file = BuildFile.create(self.path, build, author="a")
        self.states, self.here = [build], 0
        self.told: tuple[Batch, ...] = self.file.history()

    @rule(build=builds(most=2))
    def write_another(self, build: Build) -> None:
        self._write(build)

    @rule(name=st.sampled_from(LISTS), random=st.randoms(use_true_random=False))
    def write_in_another_order(self, name: str, random: Random) -> None:
        build = self.states[self.here]
        nouns = list(getattr(build, name))
        random.shuffle(nouns)
        self._write(build.model_copy(update={name: tuple(nouns)}))

    def _write(self, build: Build) -> None:
        before = self.file.revision
        now = self.file.write(build, revision=before, author="b")
        if document_data(build) == document_data(self.states[self.here]):
            assert now == before
        else:
            assert now == before + 1
            self.states = [*self.states[: self.here + 1], build]
            self.here += 1

    @rule(name=st.sampled_from(LISTS), other=builds(most=2), leave_out=st.booleans())
    def write_asked_for_changes(self, name: str, other: Build, leave_out: bool) -> None:
        """What a program asks for is refused, or leads where the whole document with those nouns would."""
        held = contents_of(self.states[self.here])
        brought = contents_of(other)[name]
        changes = [Change(name, id_, None if leave_out else data) for id_, data in brought.items()]
        wanted = {
            **held,
            name: {k: v for k, v in {**held[name], **brought}.items() if not leave_out or k not in brought},
        }
        rows = {(key, id_): Row(n, d) for n, (key, id_, d) in enumerate(_flat(wanted))}
        before = self.file.revision
        try:
            build = build_from_data(document_of(rows))
        except Refused:
            with pytest.raises(Refused):
                self.file.write(changes, revision=before, author="p")
            return
        now = self.file.write(changes, revision=before, author="p")
        assert self.file.build() == build
        if now > before:
            self.states = [*self.states[: self.here + 1], build]
            self.here += 1

    @precondition(lambda self: self.here > 0)
    @rule()
    def undo(self) -> None:
        self.file.undo(revision=self.file.revision, author="c")
        self.here -= 1

    @precondition(lambda self: self.here < len(self.states) - 1)
    @rule()
    def redo(self) -> None:
        self.file.redo(revision=self.file.revision, author="d")
        self.here += 1

    @precondition(lambda self: self.here == 0)
    @rule()
    def undo_nothing(self) -> None:
        with pytest.raises(Refused, match="nothing to take back"):
            self.file.undo(revision=self.file.revision, author="c")

    @rule()
    def open_again(self) -> None:
        self.file = BuildFile.open(self.path)

    @invariant()
    def the_file_holds_the_build(self) -> None:
        assert self.file.build() == self.states[self.here], "as it is remembered"
        assert BuildFile.open(self.path).build() == self.states[self.here], "as it is in the file"

    @invariant()
    def the_history_only_grows(self) -> None:
        told = self.file.history()
        assert told[: len(self.told)] == self.told
        assert [batch.number for batch in told] == list(range(1, len(told) + 1))
        self.told = told

    @invariant()
    def the_journal_told_from_the_start_gives_the_build(self) -> None:
        rows: dict[tuple[str, str], Row] = {}
        for change in (change for batch in self.told for change in batch.changes):
            was = rows.pop(change.key, None)
            assert (was and was.data, was and was.position) == (change.before, change.before_position)
            if change.after_position is not None:
                rows[change.key] = Row(change.after_position, change.after)
        assert Build.model_validate(document_of(rows)) == self.states[self.here]


def _flat(contents: Contents) -> Iterator[tuple[str, str, Any]]:
    return ((name, id_, data) for name, nouns in contents.items() for id_, data in nouns.items())


Journal.TestCase.settings = ROOMY
TestJournal = Journal.TestCase


ids = st.lists(st.sampled_from("abcdefghij"), unique=True)


@given(ids, st.dictionaries(st.sampled_from("abcdefghij"), st.integers(-20, 20)))
def test_places_sort_as_the_order_wanted(order: list[str], held: dict[str, int]) -> None:
    positions = place(order, held)
    assert sorted(positions, key=lambda id_: positions[id_]) == order
    assert len(set(positions.values())) == len(order)


@given(ids, ids)
def test_adding_and_removing_moves_nothing_that_stays(order: list[str], new: list[str]) -> None:
    held = place(order, {})
    wanted = [id_ for id_ in order if id_ not in new[::2]]
    for index, id_ in enumerate(each for each in new if each not in order):
        wanted.insert(index * 7 % (len(wanted) + 1), id_)
    positions = place(wanted, held)
    assert all(positions[id_] == held[id_] for id_ in wanted if id_ in held)


@given(st.permutations("abcdefg"), st.integers(0, 6), st.integers(0, 6))
def test_moving_one_noun_changes_one_place(order: list[str], taken: int, put: int) -> None:
    held = place(order, {})
    moved = list(order)
    moved.insert(put, moved.pop(taken))
    positions = place(moved, held)
    assert sum(positions[id_] != held[id_] for id_ in order) <= 1
