"""Test modules have names of their own, as pytest asks of tests outside packages."""

from collections import Counter
from pathlib import Path


def test_no_two_test_modules_share_a_name() -> None:
    names = Counter(path.name for path in Path(__file__).parents[1].rglob("*.py") if path.name != "conftest.py")
    assert [name for name, count in names.items() if count > 1] == []
