"""Files that are not, or no longer, build files: refused in words, and left bit for bit as they were."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from fishplate.build import Build, Refused, format_document
from fishplate.store import BuildFile, Change
from fishplate.wiring import read_build

Damage = Callable[[Path], None]


def sql(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        for statement in statements:
            connection.execute(statement)


def cut_to(share: float) -> Damage:
    def damage(path: Path) -> None:
        data = path.read_bytes()
        path.write_bytes(data[: int(len(data) * share)])

    return damage


def another_programs(path: Path) -> None:
    path.unlink()
    sql(path, "CREATE TABLE notes (text)", "INSERT INTO notes VALUES ('milk')")


def another_programs_with_side_files(path: Path) -> None:
    path.unlink()
    sql(path, "PRAGMA journal_mode=WAL", "CREATE TABLE notes (text)")


def newer(path: Path) -> None:
    sql(path, "UPDATE meta SET value = '7' WHERE key = 'schema_version'")


BAD_FILES: dict[str, tuple[Damage, str]] = {
    "text": (lambda path: path.write_text("name,price\nhub,12\n") and None, "this is not a build file"),
    "a document": (lambda path: path.write_text('{"name": "Van"}') and None, "fishplate new --from"),
    "nothing": (lambda path: path.write_bytes(b""), "the file is empty"),
    "one byte": (lambda path: path.write_bytes(b"S"), "the file is empty"),
    "the first words of the header": (cut_to(0.0005), "not a build file|cut off or damaged"),
    "half": (cut_to(0.5), "cut off or damaged"),
    "all but the last page": (lambda path: path.write_bytes(path.read_bytes()[:-4096]) and None, "cut off or damaged"),
    "all but the last byte": (lambda path: path.write_bytes(path.read_bytes()[:-1]) and None, "cut off or damaged"),
    "another program's database": (another_programs, "another program's database"),
    "another program's, with side files": (another_programs_with_side_files, "another program's database"),
    "no tables": (lambda path: sql(path, "DROP TABLE meta"), "lacks tables a build file has"),
    "no layout": (lambda path: sql(path, "DELETE FROM meta"), "does not say which layout it has"),
    "layout in words": (lambda path: sql(path, "UPDATE meta SET value = 'old'"), "does not say which layout it has"),
    "written by a newer program": (newer, "written by a newer program ('layout 7'). Update Fishplate."),
}


@pytest.mark.parametrize(("damage", "words"), BAD_FILES.values(), ids=BAD_FILES.keys())
def test_a_bad_file_is_refused_and_left_alone(path: Path, file: BuildFile, damage: Damage, words: str) -> None:
    damage(path)
    before = path.read_bytes()
    with pytest.raises(Refused) as caught:
        BuildFile.open(path)
    text = str(caught.value)
    assert text.startswith(f"{path}: ")
    assert any(each in text for each in words.split("|")), text
    assert text.endswith(".")
    assert path.read_bytes() == before
    assert [each.name for each in path.parent.iterdir()] == [path.name]


ROTTEN_ROWS = {
    "not JSON": ("UPDATE nouns SET data = '{oops' WHERE id = 'hub'", "van.fishplate, parts (hub): not JSON ('{oops')."),
    "bytes": ("UPDATE nouns SET data = x'ff00' WHERE id = 'hub'", "van.fishplate, parts (hub): not JSON"),
    "a number": (
        "UPDATE nouns SET data = '7' WHERE id = 'hub'",
        "van.fishplate, parts 1: an object with fields belongs here ('7')",
    ),
    "a field gone": ("UPDATE nouns SET data = '{\"id\":\"hub\"}' WHERE id = 'hub'", "parts 1 (hub), name: a field"),
    "a list gone": ("DELETE FROM nouns WHERE list = 'suppliers'", "offers (hub-east), supplier: there is no such one"),
    "an unknown list": ("UPDATE nouns SET list = 'wheels' WHERE id = 'hub'", "van.fishplate, wheels: a field"),
    "nested too deep": (
        "UPDATE nouns SET data = replace(hex(zeroblob(50000)), '0', '[') WHERE id = 'hub'",
        "van.fishplate, parts (hub): not JSON",
    ),
}


@pytest.mark.parametrize(("statement", "words"), ROTTEN_ROWS.values(), ids=ROTTEN_ROWS.keys())
def test_a_row_gone_bad_is_named_and_can_not_be_written_over(
    path: Path, file: BuildFile, statement: str, words: str
) -> None:
    sql(path, statement)
    before = path.read_bytes()
    with pytest.raises(Refused) as caught:
        BuildFile.open(path).build()
    assert words in str(caught.value)
    with pytest.raises(Refused):
        BuildFile.open(path).write([Change("build", "name", "Bus")], revision=1, author="sam@garage")
    assert path.read_bytes() == before


def test_a_journal_row_gone_bad_is_named(path: Path, file: BuildFile) -> None:
    sql(path, "DROP TRIGGER journal_no_update", "UPDATE journal SET after = '{oops' WHERE id = 'hub'")
    with pytest.raises(Refused, match=r"van.fishplate, journal 3, parts \(hub\): not JSON"):
        BuildFile.open(path).history()


def test_every_row_gone_bad_is_named_at_once(path: Path, file: BuildFile) -> None:
    sql(path, "UPDATE nouns SET data = 'x' WHERE list = 'parts'")
    with pytest.raises(Refused) as caught:
        BuildFile.open(path).build()
    assert [problem.where for problem in caught.value.problems] == [
        "van.fishplate, parts (disc)",
        "van.fishplate, parts (hub)",
    ]


def test_a_folder_and_a_missing_file_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="this is a folder"):
        BuildFile.open(tmp_path)
    with pytest.raises(Refused, match="there is no such file"):
        BuildFile.open(tmp_path / "none.fishplate")
    assert list(tmp_path.iterdir()) == []


def test_pages_gone_bad_in_the_middle_are_refused(path: Path, file: BuildFile) -> None:
    data = bytearray(path.read_bytes())
    data[4096:] = b"\xff" * (len(data) - 4096)
    path.write_bytes(data)
    with pytest.raises(Refused, match="cut off or damaged"):
        BuildFile.open(path).build()
    assert path.read_bytes() == bytes(data)


def as_nobody(deed: Callable[[], None]) -> int:
    """Do something in a process without any rights of its own; its exit status."""
    child = os.fork()
    if child == 0:
        status = 70
        try:
            if os.getuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            deed()
            status = 0
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def read_and_write(path: Path) -> None:
    BuildFile.open(path).write([Change("build", "name", "Bus")], revision=1, author="kim@phone")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a second process with fewer rights")
@pytest.mark.parametrize(
    ("file_mode", "folder_mode", "deed", "words"),
    [
        (0o000, 0o755, "read", "can't be opened"),
        (0o444, 0o755, "write", "can't be written to"),
        (0o666, 0o555, "write", "can't be opened|can't be written to"),
    ],
)
def test_without_leave_the_file_is_refused_in_words(
    tmp_path_factory: pytest.TempPathFactory, small: Build, file_mode: int, folder_mode: int, deed: str, words: str
) -> None:
    folder = Path(os.path.realpath("/tmp")) / f"fishplate-leave-{os.getpid()}-{file_mode}-{folder_mode}"
    folder.mkdir(mode=0o755)
    path = folder / "van.fishplate"
    try:
        BuildFile.create(path, small, author="sam@garage")
        before = path.read_bytes()
        path.chmod(file_mode)
        folder.chmod(folder_mode)

        def attempt() -> None:
            if deed == "write":
                assert BuildFile.open(path).build() == small
            with pytest.raises(Refused) as caught:
                read_and_write(path)
            assert any(each in str(caught.value) for each in words.split("|")), str(caught.value)

        assert as_nobody(attempt) == 0
        assert path.read_bytes() == before
    finally:
        folder.chmod(0o755)
        path.unlink(missing_ok=True)
        folder.rmdir()


def test_read_build_reads_a_build_file_and_a_build_document_whatever_they_are_called(
    tmp_path: Path, file: BuildFile, small: Build
) -> None:
    document = tmp_path / "van.txt"
    document.write_text(format_document(small), encoding="utf-8")
    copy = tmp_path / "copy.json"
    copy.write_bytes(file.path.read_bytes())
    assert read_build(file.path) == read_build(document) == read_build(copy) == small


@pytest.mark.parametrize(
    "content", [b"", b"S", b"SQLite format 3\x00", b"SQLite format 3\x00" + bytes(600), b"\x00" * 5000]
)
def test_read_build_refuses_what_is_neither(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "van"
    path.write_bytes(content)
    with pytest.raises(Refused):
        read_build(path)
    assert path.read_bytes() == content


def test_read_build_refuses_a_folder_and_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="this is a folder"):
        read_build(tmp_path)
    with pytest.raises(Refused, match="there is no such file"):
        read_build(tmp_path / "none")
