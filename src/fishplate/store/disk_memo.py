"""Results worked out before, kept in the user's own cache folder: quick to lose, never in a file that is mailed."""

from __future__ import annotations

import os
import pickle
import secrets
from pathlib import Path
from typing import Any

MOST_FILES = 12


def cache_folder() -> Path:
    """Where this user's caches lie, after the XDG base directory specification; FISHPLATE_CACHE overrides it."""
    named = os.environ.get("FISHPLATE_CACHE")
    if named:
        return Path(named)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "fishplate"


class DiskMemo:
    """A memo with one file for each key; anything that goes wrong with it only costs time.

    Parameters
    ----------
    folder : made when first written to, readable by the user alone
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, key: str) -> dict[str, Any]:
        """What is kept under a key; empty if nothing is, or if it can't be read."""
        try:
            values = pickle.loads((self._folder / f"{key}.memo").read_bytes())
        except Exception:  # a cut-off file, an older layout: any fault means it is worked out again
            return {}
        return values if isinstance(values, dict) else {}

    def save(self, key: str, values: dict[str, Any]) -> None:
        """Keep values under a key, and let the oldest go."""
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            part = self._folder / f".{secrets.token_hex(8)}.part"
            part.write_bytes(pickle.dumps(values, protocol=pickle.HIGHEST_PROTOCOL))
            part.replace(self._folder / f"{key}.memo")
            kept = sorted(self._folder.glob("*.memo"), key=lambda path: path.stat().st_mtime, reverse=True)
            for old in kept[MOST_FILES:]:
                old.unlink(missing_ok=True)
        except OSError:
            return
