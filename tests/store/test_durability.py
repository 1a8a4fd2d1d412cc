"""An acknowledged write stays; a write cut off leaves nothing; two programs do not write at once."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import sqlite3
import threading
import time
import warnings
from contextlib import closing
from pathlib import Path

import pytest

from fishplate.build import Build, Refused, document_data
from fishplate.store import BuildFile, Change, RevisionConflict
from fishplate.store.connection import engine_for, reading, writing

KILLS = 24


def numbered(build: Build, number: int) -> list[Change]:
    """Changes to three nouns that all carry the same number."""
    (offer,) = document_data(build)["offers"]
    hub, disc = document_data(build)["parts"]
    return [
        Change("offers", "hub-east", {**offer, "price": {"amount": str(number), "currency": "EUR"}}),
        Change("parts", "hub", {**hub, "note": str(number)}),
        Change("parts", "disc", {**disc, "note": str(number)}),
    ]


def numbers_in(build: Build) -> list[int]:
    return [int(build.offers[0].price.amount), *(int(part.note) for part in build.parts)]


def write_for_ever(path: Path, build: Build, told: int) -> None:
    """Write batch after batch; say the number of each once it is acknowledged."""
    file = BuildFile.open(path)
    revision = file.revision
    while True:
        revision = file.write(numbered(build, revision + 1), revision=revision, author="kim@phone")
        os.write(told, f"{revision}\n".encode())


def killed_after(seconds: float, path: Path, build: Build) -> int:
    """Revision last acknowledged by a process that was killed while writing; 0 for none."""
    listening, told = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # other threads of the test run do not write here
        child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            write_for_ever(path, build, told)
        os._exit(70)
    os.close(told)
    first = os.read(listening, 64)  # on a busy machine the writer may be long in coming to its first write
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    assert os.WIFSIGNALED(os.waitpid(child, 0)[1]), "the writer stopped by itself"
    with open(listening, encoding="ascii") as stream:
        acknowledged = (first.decode("ascii") + stream.read()).split()
    return int(acknowledged[-1]) if acknowledged else 0


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a second process that can be killed")
def test_every_acknowledged_write_outlives_a_kill_and_none_is_half_made(path: Path, small: Build) -> None:
    file = BuildFile.create(path, small, author="sam@garage")
    file.write(numbered(small, 2), revision=1, author="sam@garage")
    draw = random.Random(7)
    cut_off = last = 0
    for _ in range(KILLS):
        acknowledged = killed_after(draw.uniform(0.0, 0.06), path, small)
        cut_off += path.with_name(f"{path.name}-journal").exists()
        file = BuildFile.open(path)
        revision, numbers = file.revision, numbers_in(file.build())
        assert revision >= max(acknowledged, last)
        assert set(numbers) == {revision}
        assert [batch.number for batch in file.history()] == list(range(1, revision + 1))
        assert all(len(batch.changes) == 3 for batch in file.history()[1:])
        last = revision
    assert last > KILLS, "the writers got nothing done between the kills"
    assert cut_off > 0, "no kill fell into a write"
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_connections_wait_for_the_disk(path: Path, file: BuildFile) -> None:
    """synchronous 3 is EXTRA (https://www.sqlite.org/pragma.html#pragma_synchronous)."""
    with writing(engine_for(path), path) as connection:
        pragmas = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "fullfsync")
        }
    assert pragmas == {"journal_mode": "delete", "synchronous": 3, "fullfsync": 1}


def test_a_file_at_rest_is_one_file(path: Path, file: BuildFile, small: Build) -> None:
    file.write(numbered(small, 2), revision=1, author="sam@garage")
    file.undo(revision=2, author="sam@garage")
    file.memo_put("plan", b"x")
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_a_file_another_program_left_with_side_files_becomes_one_file_again(
    path: Path, file: BuildFile, small: Build
) -> None:
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA journal_mode=WAL").fetchone() == ("wal",)
    file.write(numbered(small, 2), revision=1, author="sam@garage")
    assert numbers_in(BuildFile.open(path).build()) == [2, 2, 2]
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_a_second_writer_is_refused_while_the_first_writes(path: Path, file: BuildFile, small: Build) -> None:
    impatient = BuildFile.open(path, busy_seconds=0.05)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(Refused, match="another program is writing to this file"):
            impatient.write(numbered(small, 2), revision=1, author="kim@phone")
        assert impatient.build() == small, "reading goes on"
        assert impatient.memo_put("plan", b"x") is False
    assert impatient.write(numbered(small, 2), revision=1, author="kim@phone") == 2


def test_a_second_writer_waits_its_turn(path: Path, file: BuildFile, small: Build) -> None:
    with closing(sqlite3.connect(path, isolation_level=None, check_same_thread=False)) as other:
        other.execute("BEGIN IMMEDIATE")
        done = threading.Timer(0.1, lambda: other.execute("COMMIT"))
        done.start()
        assert file.write(numbered(small, 2), revision=1, author="kim@phone") == 2
        done.join()


def test_of_many_threads_writing_against_one_revision_one_wins(path: Path, file: BuildFile, small: Build) -> None:
    won: list[int] = []
    lost: list[RevisionConflict] = []

    def attempt(number: int) -> None:
        try:
            file.write(numbered(small, number), revision=1, author=f"hand-{number}")
            won.append(number)
        except RevisionConflict as conflict:
            lost.append(conflict)

    threads = [threading.Thread(target=attempt, args=(number,)) for number in range(10, 16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(won), len(lost)) == (1, 5)
    assert numbers_in(file.build()) == won * 3


def test_a_reader_sees_one_state_throughout(path: Path, file: BuildFile, small: Build) -> None:
    """A writer that commits between two questions of a reader waits or fails; the reader's answers agree."""
    impatient = BuildFile.open(path, busy_seconds=0.05)
    with reading(engine_for(path), path) as connection:
        count = "SELECT count(*) FROM batches"
        before = connection.exec_driver_sql(count).scalar_one()
        with pytest.raises(Refused, match="another program"):
            impatient.write(numbered(small, 2), revision=1, author="kim@phone")
        assert connection.exec_driver_sql(count).scalar_one() == before


def test_a_full_disk_is_refused_in_words_and_changes_nothing(path: Path, file: BuildFile, small: Build) -> None:
    """A limit on pages stands in for the end of the disk: SQLite reports both alike."""
    before = path.read_bytes()

    def fill() -> None:
        with writing(engine_for(path), path) as connection:
            connection.exec_driver_sql("PRAGMA max_page_count=1")
            connection.exec_driver_sql("CREATE TABLE filling AS SELECT zeroblob(1000000) AS content")

    with pytest.raises(Refused, match="there is no room left on the disk"):
        fill()
    assert path.read_bytes() == before
