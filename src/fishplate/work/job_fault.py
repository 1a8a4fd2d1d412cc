"""A fault of the work as it is entered, with the jobs it holds."""

from __future__ import annotations

from typing import NamedTuple

from ..build import Problem


class JobFault(NamedTuple):
    """A problem that keeps jobs from being done, whatever is in hand.

    Parameters
    ----------
    jobs : ids of the jobs it holds; by_calendar : an evening with the hours, or the help, that lack lifts it
    """

    problem: Problem
    jobs: tuple[str, ...]
    by_calendar: bool = False
