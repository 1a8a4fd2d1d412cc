"""Results kept in the user's cache folder: quick to lose, never believed when damaged."""

import stat
from pathlib import Path

import pytest

from fishplate.store import DiskMemo, cache_folder
from fishplate.store.disk_memo import MOST_FILES


def test_what_is_saved_is_loaded(tmp_path: Path) -> None:
    memo = DiskMemo(tmp_path / "cache")
    memo.save("a", {"x": [1, 2]})
    assert memo.load("a") == {"x": [1, 2]}
    assert memo.load("b") == {}


@pytest.mark.parametrize("damage", [b"", b"garbage", b"\x80\x05K\x01."])
def test_a_damaged_file_counts_as_nothing_kept(tmp_path: Path, damage: bytes) -> None:
    (tmp_path / "a.memo").write_bytes(damage)
    assert DiskMemo(tmp_path).load("a") == {}


def test_the_oldest_go_and_the_folder_is_the_users_alone(tmp_path: Path) -> None:
    memo = DiskMemo(tmp_path / "cache")
    for number in range(MOST_FILES + 3):
        memo.save(f"key{number}", {"n": number})
    assert len(list((tmp_path / "cache").iterdir())) == MOST_FILES
    assert stat.S_IMODE((tmp_path / "cache").stat().st_mode) == 0o700
    assert memo.load(f"key{MOST_FILES + 2}") == {"n": MOST_FILES + 2}


def test_a_folder_that_cannot_be_made_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    memo = DiskMemo(tmp_path / "file")
    memo.save("a", {"x": 1})
    assert memo.load("a") == {}


def test_the_folder_follows_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("FISHPLATE_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "fishplate"
    monkeypatch.setenv("FISHPLATE_CACHE", str(tmp_path / "own"))
    assert cache_folder() == tmp_path / "own"
