"""Where a form was unfolded: in a list, whose address the browser names, or on a page of its own."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

from .ask import Ask


def list_behind(ask: Ask, path: str) -> dict[str, list[str]] | None:
    """What was asked of the list at a path that the form was unfolded in; None if it stood on a page of its own."""
    here = urlsplit(ask.request.headers.get("hx-current-url", ""))
    return parse_qs(here.query) if here.path == path else None
