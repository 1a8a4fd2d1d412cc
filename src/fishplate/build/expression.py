"""Safe arithmetic over dimensions with units."""

from __future__ import annotations

import re


def names_in(text: str) -> frozenset[str]:
    """Dimension ids an expression uses."""
    return frozenset(re.findall(r"[a-z][a-z0-9_]*", text))
