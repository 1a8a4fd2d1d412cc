"""Faults in what a person gave, and assumptions made for what they left out.

Both are values: they are gathered and shown together, never raised one by one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One fault in given input.

    Parameters
    ----------
    where : place a person can find: file, sheet, row, field, or the id of a part, job, dimension
    code : short stable name of the kind of fault, for programs
    what : what is wrong, as a sentence without the place
    got : the value received, as text; empty if nothing was received
    do : what to do about it

    Examples
    --------
    >>> print(Problem("offers.csv, row 14, price", "amount", "not an amount", "12,4O", "Use digits, as in 12.40."))
    offers.csv, row 14, price: not an amount ('12,4O'). Use digits, as in 12.40.
    """

    where: str
    code: str
    what: str
    got: str = ""
    do: str = ""

    def __str__(self) -> str:
        received = f" ({self.got!r})" if self.got else ""
        remedy = f" {self.do}" if self.do else ""
        return f"{self.where}: {self.what}{received}.{remedy}"


@dataclass(frozen=True, slots=True, order=True)
class Assumption:
    """Something an engine took for granted because the build does not say it.

    Parameters
    ----------
    code : short stable name of the kind of assumption, e.g. "lead-time-default"
    about : id of the thing it is about, e.g. "offer hub-front-a"; "build" for the whole
    text : the assumption as a sentence, with the value used and where it comes from
    """

    code: str
    about: str
    text: str

    def __str__(self) -> str:
        return self.text


def sorted_problems(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Problems without repeats, in order of place."""
    return tuple(sorted(set(problems)))
