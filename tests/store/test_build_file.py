"""Creating, reading, writing; undo and redo; writes against a stale revision."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from fishplate.build import Build, Refused, build_from_data, document_data
from fishplate.build.document import LISTS, LISTS_WITH_IDS
from fishplate.store import Batch, BuildFile, Change, RevisionConflict
from fishplate.store.rows import ABOUT, contents_of
from fishplate.store.wording import SINGULAR


def with_data(build: Build, **lists: Any) -> Build:
    return build_from_data({**document_data(build), **lists})


def with_price(build: Build, amount: str) -> Build:
    (offer,) = document_data(build)["offers"]
    return with_data(build, offers=[{**offer, "price": {"amount": amount, "currency": "EUR"}}])


def touched(batch: Batch) -> list[tuple[str, str]]:
    return [change.key for change in batch.changes]


def test_a_new_file_holds_the_build_and_nothing_else_lies_beside_it(path: Path, file: BuildFile, small: Build) -> None:
    assert BuildFile.open(path).build() == small
    assert [each.name for each in path.parent.iterdir()] == ["van.fishplate"]


def test_a_new_file_starts_at_revision_one_with_its_author(file: BuildFile) -> None:
    (batch,) = file.history()
    assert (batch.number, batch.kind, batch.author) == (1, "start", "sam@garage")
    assert batch.at == datetime(2026, 3, 14, 19, 0, tzinfo=UTC)
    assert file.revision == 1


def test_create_never_overwrites(path: Path, small: Build) -> None:
    path.write_text("precious")
    with pytest.raises(Refused, match="already a file of this name"):
        BuildFile.create(path, small, author="sam@garage")
    assert path.read_text() == "precious"
    assert [each.name for each in path.parent.iterdir()] == ["van.fishplate"]


def test_create_does_not_overwrite_a_file_that_came_in_between(
    path: Path, small: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two programs start the same file at once: both saw the name free."""
    BuildFile.create(path, small, author="sam@garage")
    monkeypatch.setattr("os.path.lexists", lambda _: False)
    with pytest.raises(Refused, match="already a file of this name"):
        BuildFile.create(path, small.model_copy(update={"name": "Bus"}), author="kim@phone")
    assert BuildFile.open(path).build() == small
    assert [each.name for each in path.parent.iterdir()] == ["van.fishplate"]


def test_create_does_not_follow_a_dangling_link(path: Path, small: Build) -> None:
    path.symlink_to(path.parent / "elsewhere")
    with pytest.raises(Refused, match="already a file of this name"):
        BuildFile.create(path, small, author="sam@garage")


def test_create_in_a_folder_that_is_not_there_is_refused(tmp_path: Path, small: Build) -> None:
    with pytest.raises(Refused, match="the disk refuses: No such file or directory"):
        BuildFile.create(tmp_path / "nowhere" / "van.fishplate", small, author="sam@garage")


def test_create_refuses_a_build_with_problems_and_leaves_nothing(path: Path, small: Build) -> None:
    broken = small.model_copy(update={"suppliers": ()})
    with pytest.raises(Refused, match="there is no such one among the suppliers"):
        BuildFile.create(path, broken, author="sam@garage")
    assert list(path.parent.iterdir()) == []


def test_a_disk_without_links_gets_its_file_by_rename(
    path: Path, small: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    assert BuildFile.create(path, small, author="sam@garage").build() == small
    with pytest.raises(Refused, match="already a file of this name"):
        BuildFile.create(path, small, author="sam@garage")
    assert [each.name for each in path.parent.iterdir()] == ["van.fishplate"]


@pytest.mark.parametrize("name", ["my van.fishplate", "50% done?.fishplate", "bus#2.fishplate", "ü é.fishplate"])
def test_awkward_names_are_names(tmp_path: Path, small: Build, name: str) -> None:
    BuildFile.create(tmp_path / name, small, author="sam@garage")
    assert BuildFile.open(tmp_path / name).build() == small
    assert [each.name for each in tmp_path.iterdir()] == [name]


def test_a_relative_path_outlives_a_change_of_folder(
    tmp_path: Path, small: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    file = BuildFile.create(Path("van.fishplate"), small, author="sam@garage")
    (tmp_path / "sub").mkdir()
    monkeypatch.chdir(tmp_path / "sub")
    assert file.build() == small


def test_only_what_differs_is_journaled(file: BuildFile, small: Build) -> None:
    assert file.write(with_price(small, "41.00"), revision=1, author="sam@garage", message="new list") == 2
    batch = file.history()[-1]
    assert touched(batch) == [("offers", "hub-east")]
    (change,) = batch.changes
    assert change.before["price"]["amount"] == "38.50"
    assert change.after["price"]["amount"] == "41.00"
    assert batch.message == "new list"


def test_writing_what_is_there_already_is_no_change(file: BuildFile, small: Build) -> None:
    assert file.write(small, revision=1, author="sam@garage") == 1
    assert len(file.history()) == 1


def test_a_noun_put_first_moves_no_other(file: BuildFile, small: Build) -> None:
    parts = [{"id": "nut", "name": "Nut"}, *document_data(small)["parts"]]
    file.write(with_data(small, parts=parts), revision=1, author="sam@garage")
    assert touched(file.history()[-1]) == [("parts", "nut")]
    assert [part.id for part in file.build().parts] == ["nut", "hub", "disc"]


def test_the_order_of_a_list_is_kept_and_can_be_undone(file: BuildFile, small: Build) -> None:
    file.write(small.model_copy(update={"parts": small.parts[::-1]}), revision=1, author="sam@garage")
    assert [part.id for part in file.build().parts] == ["disc", "hub"]
    file.undo(revision=2, author="sam@garage")
    assert [part.id for part in file.build().parts] == ["hub", "disc"]


def test_forty_nouns_put_in_the_same_place_keep_their_order(file: BuildFile, small: Build) -> None:
    """Room between two places halves each time and runs out; the list is then numbered afresh."""
    ids = ["hub", "disc"]
    build = small
    for count in range(40):
        ids.insert(1, f"washer-{count}")
        build = with_data(build, parts=[{"id": id_, "name": id_} for id_ in ids])
        file.write(build, revision=file.revision, author="sam@garage")
    assert [part.id for part in file.build().parts] == ids


def test_nouns_without_ids_are_told_apart_by_what_they_are_about(file: BuildFile, small: Build) -> None:
    sightings = document_data(small)["sightings"]
    twice = [sightings[0], sightings[0], sightings[1]]
    file.write(with_data(small, sightings=twice), revision=1, author="sam@garage")
    assert touched(file.history()[-1]) == [("sightings", "hub-east 2026-01-10 (2)")]
    assert document_data(file.build())["sightings"] == twice


def test_an_id_that_looks_like_a_second_one_is_not_taken_for_it() -> None:
    override = {"value": 1.0, "source": "s", "day": "2026-01-01"}
    rules = [{**override, "rule": rule} for rule in ("a", "a (2)", "a", "a")]
    contents = contents_of(build_from_data({"rule_overrides": rules}))
    assert list(contents["rule_overrides"]) == ["a", "a (2)", "a (3)", "a (4)"]


def test_every_list_has_a_word_and_a_way_to_tell_its_nouns_apart() -> None:
    assert set(SINGULAR) == {"build", *LISTS}
    assert set(ABOUT) == set(LISTS) - set(LISTS_WITH_IDS)
    for name, fields in ABOUT.items():
        element = Build.model_fields[name].annotation.__args__[0]  # type: ignore[union-attr]
        assert set(fields) <= set(element.model_fields), name


def test_changes_can_be_asked_for_one_by_one(file: BuildFile, small: Build) -> None:
    changes = [
        Change("parts", "disc"),
        Change("parts", "nut", {"id": "nut", "name": "Nut"}),
        Change("parts", "hub", small.parts[0].model_copy(update={"quantity": 4})),
        Change("build", "name", "Bus"),
    ]
    file.write(changes, revision=1, author="sam@garage")
    build = file.build()
    assert build.name == "Bus"
    assert [(part.id, part.quantity) for part in build.parts] == [("hub", 4), ("nut", 1)]
    assert set(touched(file.history()[-1])) == {change.key for change in changes}


def test_a_change_to_no_list_is_refused(file: BuildFile) -> None:
    with pytest.raises(Refused, match=r"wheels \(front\): a build has no such list"):
        file.write([Change("wheels", "front", {"id": "front"})], revision=1, author="sam@garage")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (Change("parts", "hub"), r"offers \(hub-east\), part: there is no such one among the parts"),
        (Change("parts", "hub", {"id": "hub"}), r"parts 1 \(hub\), name: a field that must be there is missing"),
        (Change("parts", "hub", "hub"), "parts 1: an object with fields belongs here"),
    ],
)
def test_a_write_that_would_leave_problems_is_refused_whole(
    path: Path, file: BuildFile, change: Change, words: str
) -> None:
    before = path.read_bytes()
    with pytest.raises(Refused, match=words):
        file.write([Change("build", "name", "Bus"), change], revision=1, author="sam@garage")
    assert path.read_bytes() == before


def test_undo_and_redo_walk_through_the_batches(file: BuildFile, small: Build) -> None:
    first, second = with_price(small, "41.00"), with_price(small, "42.00")
    file.write(first, revision=1, author="sam@garage", message="to 41")
    file.write(second, revision=2, author="sam@garage", message="to 42")
    taken = file.undo(revision=3, author="kim@phone")
    assert (taken.kind, taken.takes, taken.message, taken.author) == ("undo", 3, "to 42", "kim@phone")
    assert file.build() == first
    file.undo(revision=4, author="kim@phone")
    assert file.build() == small
    assert file.redo(revision=5, author="kim@phone").takes == 2
    assert file.build() == first
    assert file.redo(revision=6, author="kim@phone").takes == 3
    assert file.build() == second
    assert [batch.kind for batch in file.history()] == ["start", "edit", "edit", "undo", "undo", "redo", "redo"]


def test_the_start_of_a_file_can_not_be_undone(file: BuildFile) -> None:
    with pytest.raises(Refused, match="there is nothing to take back"):
        file.undo(revision=1, author="sam@garage")


def test_a_new_change_drops_what_could_be_redone(file: BuildFile, small: Build) -> None:
    file.write(with_price(small, "41.00"), revision=1, author="sam@garage")
    file.undo(revision=2, author="sam@garage")
    file.write(with_price(small, "43.00"), revision=3, author="sam@garage")
    with pytest.raises(Refused, match="nothing was taken back last"):
        file.redo(revision=4, author="sam@garage")
    file.undo(revision=4, author="sam@garage")
    assert file.build() == small
    with pytest.raises(Refused, match="there is nothing to take back"):
        file.undo(revision=5, author="sam@garage")


def test_a_stale_write_to_the_same_noun_names_it_with_both_values(file: BuildFile, small: Build) -> None:
    file.write(with_price(small, "41.00"), revision=1, author="sam@garage")
    with pytest.raises(RevisionConflict) as caught:
        file.write(with_price(small, "35.00"), revision=1, author="kim@phone")
    (conflict,) = caught.value.conflicts
    assert conflict.key == ("offers", "hub-east")
    assert conflict.touched
    assert conflict.theirs["price"]["amount"] == "41.00"
    assert conflict.yours["price"]["amount"] == "35.00"
    assert "offer hub-east: changed by both: in the file" in str(caught.value)
    assert "price 41.00 EUR; yours" in str(caught.value)
    assert file.build() == with_price(small, "41.00")
    assert len(file.history()) == 2


def test_a_stale_write_to_another_noun_says_what_changed(file: BuildFile, small: Build) -> None:
    file.write(with_price(small, "41.00"), revision=1, author="sam@garage")
    with pytest.raises(RevisionConflict, match="offer hub-east: changed since by another hand") as caught:
        file.write(small.model_copy(update={"name": "Bus"}), revision=1, author="kim@phone")
    assert [conflict.touched for conflict in caught.value.conflicts] == [False]
    assert file.build().name == "Van"


def test_a_stale_write_knows_what_was_removed_and_added(file: BuildFile, small: Build) -> None:
    file.write(
        [Change("parts", "disc"), Change("build", "frame_origin", "front axle")], revision=1, author="sam@garage"
    )
    mine = with_data(small, parts=[{"id": "hub", "name": "Hub"}, {"id": "disc", "name": "Disc", "quantity": 3}])
    with pytest.raises(RevisionConflict) as caught:
        file.write(mine, revision=1, author="kim@phone")
    told = {conflict.key: (conflict.theirs, conflict.touched) for conflict in caught.value.conflicts}
    assert told == {("parts", "disc"): (None, True), ("build", "frame_origin"): ("front axle", False)}


def test_a_stale_undo_is_refused(file: BuildFile, small: Build) -> None:
    file.write(with_price(small, "41.00"), revision=1, author="sam@garage")
    file.write(with_price(small, "42.00"), revision=2, author="sam@garage")
    with pytest.raises(RevisionConflict):
        file.undo(revision=2, author="kim@phone")
    assert file.build() == with_price(small, "42.00")


@pytest.mark.parametrize("revision", [0, -1, 2, 99])
def test_a_revision_the_file_never_had_is_refused(file: BuildFile, small: Build, revision: int) -> None:
    with pytest.raises(Refused, match="is at revision 1 and never had this one"):
        file.write(small.model_copy(update={"name": "Bus"}), revision=revision, author="sam@garage")


def test_a_conflict_survives_being_sent_between_processes(file: BuildFile, small: Build) -> None:
    file.write(with_price(small, "41.00"), revision=1, author="sam@garage")
    with pytest.raises(RevisionConflict) as caught:
        file.write(with_price(small, "35.00"), revision=1, author="kim@phone")
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.conflicts) == (str(caught.value), caught.value.conflicts)


def test_history_can_start_at_a_revision_or_be_cut_to_the_last(file: BuildFile, small: Build) -> None:
    for amount in ("41.00", "42.00", "43.00"):
        file.write(with_price(small, amount), revision=file.revision, author="sam@garage")
    assert [batch.number for batch in file.history(since=2)] == [3, 4]
    assert [batch.number for batch in file.history(limit=1)] == [4]
    assert [batch.number for batch in file.history(since=3, limit=3)] == [4]


def test_a_snapshot_is_what_a_write_is_made_against(file: BuildFile, small: Build) -> None:
    snapshot = file.snapshot()
    assert (snapshot.build, snapshot.revision) == (small, 1)
    assert file.write(with_price(snapshot.build, "41.00"), revision=snapshot.revision, author="sam@garage") == 2


def test_times_come_from_the_clock_the_file_was_opened_with(
    path: Path, file: BuildFile, small: Build, clock: Callable[[], datetime]
) -> None:
    BuildFile.open(path, clock=clock).write(with_price(small, "41.00"), revision=1, author="sam@garage")
    assert file.history()[-1].at == datetime(2026, 3, 14, 19, 1, tzinfo=UTC)


def test_the_rest_of_the_program_does_without_the_database_library() -> None:
    code = "import sys, fishplate.cli, fishplate.build, fishplate.wiring; sys.exit('sqlalchemy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
