"""The shop sheet: the jobs of an evening on one page, to print and to write on at the vehicle."""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Final

from jinja2 import Environment
from markupsafe import Markup

from ..build import Build
from ..build.formats import Formats
from ..build.telling import Teller
from ..plan.tonight import Tonight
from .environment import paper_environment

# Lines of each kind on one page, shared by its jobs, so that it stays one page.
LINES: Final = 18
LEAST_LINES: Final = 3


def shop_sheet_body(found: Tonight, formats: Formats) -> Markup:
    """The sheet as a piece of a page, without frame or look of its own; told by the page it stands on.

    Parameters
    ----------
    formats : the owner's, for the units that are to be written down in
    """
    most = max(LEAST_LINES, LINES // max(1, len(found.jobs)))
    template = _environment().get_template("shop_sheet_body.html")
    return Markup(template.render(found=found, most=most, unit=formats.unit_sign))


def shop_sheet_page(found: Tonight, build: Build, day: date) -> str:
    """The sheet as a self-contained page of HTML, for print, in the owner's units and locale; it needs no network.

    Parameters
    ----------
    day : the evening's
    """
    formats = build.owner.formats
    body, template = shop_sheet_body(found, formats), _environment().get_template("shop_sheet.html")
    return Teller.of(build).page(template.render(body=body, name=build.name, day=day, paper=formats.paper))


@cache
def _environment() -> Environment:
    return paper_environment()
