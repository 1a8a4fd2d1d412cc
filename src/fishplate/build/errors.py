"""Refusals: exceptions that a skin turns into words, an exit status or a response.

FishplateError
└── Refused        input not taken; carries every Problem found
(further classes live with the capability that raises them)
"""

from __future__ import annotations

from collections.abc import Iterable

from .problem import Problem, sorted_problems


class FishplateError(Exception):
    """Base of everything Fishplate raises on purpose."""


class Refused(FishplateError):
    """Input was refused whole; nothing was changed.

    Parameters
    ----------
    problems : every fault found, in any order
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = sorted_problems(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)

    def __reduce__(self) -> tuple[type[Refused], tuple[tuple[Problem, ...]]]:
        return (type(self), (self.problems,))
