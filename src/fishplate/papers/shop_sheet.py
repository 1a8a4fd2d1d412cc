"""The shop sheet: the jobs of an evening on one page, to print and to write on at the vehicle."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Final

from jinja2 import Environment
from markupsafe import Markup

from ..plan.tonight import Tonight
from .environment import paper_environment

# Lines of each kind on one page, shared by its jobs, so that it stays one page.
LINES: Final = 18
LEAST_LINES: Final = 3


def shop_sheet_body(found: Tonight) -> Markup:
    """The sheet as a piece of a page, without frame or look of its own."""
    most = max(LEAST_LINES, LINES // max(1, len(found.jobs)))
    return Markup(_environment().get_template("shop_sheet_body.html").render(found=found, most=most))


def shop_sheet_page(found: Tonight, name: str, day: date) -> str:
    """The sheet as a self-contained page of HTML, for print; it opens without a network.

    Parameters
    ----------
    name : the build's; day : the evening's
    """
    body = shop_sheet_body(found)
    return _environment().get_template("shop_sheet.html").render(body=body, name=name, day=day)


@cache
def _environment() -> Environment:
    return paper_environment()
