"""Whether an edit of a build without faults brought any in, told from what the edit can have touched.

A fault that `check_build` finds lies in one noun, or between a noun and what it names. Where neither was changed there
was no fault before and is none now; so only nouns that are others than before, and whatever names one that is gone, are
looked at. That the verdict is that of the whole check is held by `tests/properties/test_edit_faults.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import Any

from .document import (
    LISTS,
    LISTS_WITH_IDS,
    REFERENCES,
    Build,
    check_build,
    job_loops,
    loose_ends,
    named_ids,
)
from .problem import Problem


def edit_faults(before: Build, after: Build, *, source: str = "build document") -> Iterator[Problem]:
    """Faults of an edited build: those `check_build` finds, mostly without looking at all of it.

    Parameters
    ----------
    before : the build it was made from, in which `check_build` finds nothing; nouns the edit left alone are the same
        objects in both
    """
    if not is_sound_after(before, after):
        yield from check_build(after, source=source)


def is_sound_after(before: Build, after: Build) -> bool:
    """Whether an edit of a build without faults brought none in.

    Examples
    --------
    >>> is_sound_after(Build(), Build(name="Van"))
    True
    """
    edit = _Edit(before, after)
    return not any(edit.faults())


class _Edit:
    """What is another than before."""

    def __init__(self, before: Build, after: Build) -> None:
        self.before, self.after = before, after
        self.lists = {name for name in LISTS if getattr(before, name) is not getattr(after, name)}

    def faults(self) -> Iterator[object]:
        """Something for each fault that may have come in."""
        yield from self._repeated_ids()
        yield from self._dangling()
        if self.lists & {"decisions", "rules", "events"}:
            yield from loose_ends(self.after, "")
        if self._links_differ():
            yield from job_loops(self.after, "")
        if self.lists & {"dimensions", "conditions", "correlations", "readings", "settled", "decisions"}:
            yield from self._of_conditions()

    @cached_property
    def others(self) -> dict[str, tuple[Any, ...]]:
        """Nouns that were not there before, or not as they are, by list."""
        return {name: tuple(self._others(name)) for name in self.lists}

    def _others(self, name: str) -> Iterable[Any]:
        was = {id(noun) for noun in getattr(self.before, name)}
        return (noun for noun in getattr(self.after, name) if id(noun) not in was)

    def _repeated_ids(self) -> Iterator[str]:
        for name in self.lists.intersection(LISTS_WITH_IDS):
            if len(self.after.index[name]) < len(getattr(self.after, name)):
                yield name

    def _dangling(self) -> Iterator[str]:
        gone = {
            name: self.before.index[name].keys() - self.after.index[name].keys()
            for name in self.lists.intersection(LISTS_WITH_IDS)
        }
        for name, fields in REFERENCES.items():
            for path, target in fields.items():
                for noun in self.others.get(name, ()):
                    yield from (id_ for id_ in named_ids(noun, path) if id_ not in self.after.index[target])
                if gone.get(target):
                    for noun in getattr(self.after, name):
                        yield from (id_ for id_ in named_ids(noun, path) if id_ in gone[target])

    def _links_differ(self) -> bool:
        if "gates" in self.lists:
            return True
        was = self.before.index["jobs"]
        return any(
            job.after and (job.id not in was or was[job.id].after != job.after) for job in self.others.get("jobs", ())
        )

    def _of_conditions(self) -> Iterator[object]:
        from .condition_faults import condition_faults, correlation_faults, designation_faults

        if self._dimensions_differ():
            yield from condition_faults(self.after, "")
        elif self.others.get("conditions"):
            yield from condition_faults(self.after, "", self.others["conditions"])
        yield from designation_faults(self.after, "")
        if self.lists & {"correlations", "dimensions"}:
            yield from correlation_faults(self.after, "")

    def _dimensions_differ(self) -> bool:
        """Whether arithmetic may read otherwise: a dimension came, went, or is of another unit or family."""
        if "dimensions" not in self.lists:
            return False
        was, now = self.before.index["dimensions"], self.after.index["dimensions"]
        return was.keys() != now.keys() or any(
            (was[item.id].unit, was[item.id].designates) != (item.unit, item.designates)
            for item in self.others["dimensions"]
        )
