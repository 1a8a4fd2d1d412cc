"""Attachments, and results kept from one run to the next."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from fishplate.build import Refused
from fishplate.store import BuildFile, build_file
from fishplate.store.connection import engine_for, writing
from fishplate.store.memory import memo_put

PHOTO = b"\xff\xd8\xff\xe0 a photo"


def test_an_attachment_comes_back_as_it_was(file: BuildFile) -> None:
    told = file.attach("arch.jpg", PHOTO, media_type="image/jpeg", author="sam@garage")
    assert file.attachment("arch.jpg") == PHOTO
    assert file.attachments() == (told,)
    assert (told.sha256, told.size) == (hashlib.sha256(PHOTO).hexdigest(), len(PHOTO))
    assert (told.media_type, told.author) == ("image/jpeg", "sam@garage")


def test_attaching_the_same_twice_keeps_one(file: BuildFile) -> None:
    first = file.attach("arch.jpg", PHOTO, media_type="image/jpeg", author="sam@garage")
    assert file.attach("arch.jpg", PHOTO, media_type="image/jpeg", author="kim@phone") == first
    assert len(file.attachments()) == 1


def test_a_name_in_use_is_not_given_to_another_photo(file: BuildFile) -> None:
    file.attach("arch.jpg", PHOTO, media_type="image/jpeg", author="sam@garage")
    with pytest.raises(Refused, match="another attachment has this name"):
        file.attach("arch.jpg", b"other", media_type="image/jpeg", author="sam@garage")
    assert file.attachment("arch.jpg") == PHOTO


def test_a_name_nothing_has_is_refused(file: BuildFile) -> None:
    with pytest.raises(Refused, match=r"nothing is attached under this name \('none.jpg'\)"):
        file.attachment("none.jpg")


def test_an_attachment_too_large_is_refused(file: BuildFile, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(build_file, "MAX_ATTACHMENT_BYTES", 4)
    with pytest.raises(Refused, match="an attachment is at most 256 MiB"):
        file.attach("arch.jpg", PHOTO, media_type="image/jpeg", author="sam@garage")


def test_a_damaged_attachment_is_not_handed_out(path: Path, file: BuildFile) -> None:
    file.attach("arch.jpg", PHOTO, media_type="image/jpeg", author="sam@garage")
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE attachments SET content = x'00'")
    with pytest.raises(Refused, match="an attachment is damaged"):
        file.attachment("arch.jpg")


def test_attachments_do_not_change_the_build(file: BuildFile) -> None:
    file.attach("arch.jpg", PHOTO, media_type="image/jpeg", author="sam@garage")
    assert file.revision == 1


def test_a_result_is_kept_and_replaced(file: BuildFile) -> None:
    assert file.memo_get("plan") is None
    assert file.memo_put("plan", b"first") is True
    assert file.memo_put("plan", b"second") is True
    assert file.memo_get("plan") == b"second"
    assert file.revision == 1


def test_the_oldest_results_are_dropped_first(path: Path, file: BuildFile) -> None:
    with writing(engine_for(path), path) as connection:
        for key in ("a", "b", "c", "a", "d"):
            assert memo_put(connection, file.build_id, key, bytes(4), most=12)
    assert [file.memo_get(key) is not None for key in "abcd"] == [True, False, True, True]


def test_a_result_larger_than_the_room_is_not_kept_and_drops_the_stale_one_alone(path: Path, file: BuildFile) -> None:
    with writing(engine_for(path), path) as connection:
        assert memo_put(connection, file.build_id, "plan", b"old", most=12)
        assert memo_put(connection, file.build_id, "fit", b"old", most=12)
        assert not memo_put(connection, file.build_id, "plan", bytes(13), most=12)
    assert (file.memo_get("plan"), file.memo_get("fit")) == (None, b"old")
