"""Which part of the build a line is about: by part number, else by name, sheet, system and supplier.

The row's place and the file's name do not count, so a moved row and a renamed file still match; so does a renamed
sheet whose rows are mostly those of one known before.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..build.commerce import Offer
from ..build.parts import Part
from .draft import Draft
from .names import match_key, number_key
from .table_reader import Line


@dataclass(frozen=True, slots=True)
class Match:
    """The part a line is about; `alternative` if an earlier line of the same list is about it too."""

    part: Part
    alternative: bool = False


class Matcher:
    """Matches lines to parts, each part to one line, or to several that name different suppliers.

    Parameters
    ----------
    draft : the build as the import has left it so far; lines : all lines of the import
    """

    def __init__(self, draft: Draft, lines: Sequence[Line] = ()) -> None:
        self._draft = draft
        self._known_as = _known_as(draft, lines)
        self._claims: dict[str, list[Line]] = defaultdict(list)
        self._by_name: dict[str, list[str]] = defaultdict(list)
        self._by_number: dict[str, list[str]] = defaultdict(list)
        self._suppliers_of: dict[str, set[str]] = defaultdict(set)
        for part in draft.nouns("parts").values():
            self._know(part)
        for offer in draft.nouns("offers").values():
            self.know_offer(offer)

    def _know(self, part: Part) -> None:
        self._by_name[match_key(part.name)].append(part.id)
        if part.part_number:
            self._by_number[number_key(part.part_number)].append(part.id)

    def know_offer(self, offer: Offer) -> None:
        """Remember who offers a part."""
        if offer.part is not None:
            supplier = self._draft.nouns("suppliers").get(offer.supplier)
            self._suppliers_of[offer.part].add(supplier.name.casefold() if supplier else "")

    def claim(self, line: Line, part: Part, *, new: bool) -> None:
        """Note that a line is about a part."""
        self._claims[part.id].append(line)
        if new:
            self._know(part)

    def find(self, line: Line) -> Match | None:
        """The part a line is about; None if it is about a new one."""
        candidates = self._candidates(line)
        free = [part for part in candidates if part.id not in self._claims and self._may_be(part, line)]
        if free:
            return Match(min(free, key=lambda part: (*self._distance(part, line), part.id)))
        for part in candidates:
            if part.id in self._claims and _is_alternative(line, self._claims[part.id]):
                return Match(part, alternative=True)
        return None

    def _candidates(self, line: Line) -> Sequence[Part]:
        parts = self._draft.nouns("parts")
        by_name = [parts[id_] for id_ in self._by_name.get(match_key(line.name), ())]
        if not line.part_number:
            return by_name
        by_number = [parts[id_] for id_ in self._by_number.get(number_key(line.part_number), ())]
        return by_number or [part for part in by_name if not part.part_number]

    def _may_be(self, part: Part, line: Line) -> bool:
        """Whether a part of the same name is the line's: not if system and suppliers both say otherwise."""
        if (line.part_number and part.part_number) or line.supplier.casefold() in self._suppliers_of[part.id]:
            return True
        came_from = source_sheet(part)
        sheet = line.table.sheet.name
        if came_from is not None and came_from not in (sheet, self._known_as.get(sheet)):
            return False
        return not line.system or part.system is None or self._same_system(part, line)

    def _same_system(self, part: Part, line: Line) -> bool:
        system = self._draft.nouns("systems").get(part.system or "")
        return bool(system and system.name.casefold() == line.system.casefold())

    def _distance(self, part: Part, line: Line) -> tuple[bool, ...]:
        """How little a part is like a line; the least wins where several have the name."""
        return (
            bool(line.system) and not self._same_system(part, line),
            bool(line.supplier) and line.supplier.casefold() not in self._suppliers_of[part.id],
            line.quantity is not None and float(line.quantity) != part.quantity,
        )

    def unclaimed(self, sheet_label: str) -> Iterable[Part]:
        """Parts that an earlier import took from a sheet and that no line is about now."""
        for part in self._draft.build.parts:
            if part.source.startswith(f"{sheet_label}, row ") and part.id not in self._claims:
                yield part


def source_sheet(part: Part) -> str | None:
    """Name of the sheet an import took a part from, empty for a file without sheets; None if none did.

    Examples
    --------
    >>> source_sheet(Part(id="a", name="A", source="van.xlsx, sheet Brakes, row 12"))
    'Brakes'
    """
    match = re.match(r"^.+?(?:, sheet (.+))?, row \d+$", part.source)
    return (match[1] or "") if match else None


def _known_as(draft: Draft, lines: Iterable[Line]) -> dict[str, str]:
    """For a sheet no part came from yet, the sheet known before that most of its names are from."""
    names: dict[str, set[str]] = defaultdict(set)
    for line in lines:
        names[line.table.sheet.name].add(match_key(line.name))
    before: dict[str, set[str]] = defaultdict(set)
    for part in draft.build.parts:
        if (sheet := source_sheet(part)) is not None:
            before[sheet].add(match_key(part.name))
    found = {}
    for sheet in names.keys() - before.keys():
        gone = sorted(before.keys() - names.keys())
        best = max(gone, key=lambda old: len(before[old] & names[sheet]), default=None)
        if best is not None and 2 * len(before[best] & names[sheet]) >= len(names[sheet]):
            found[sheet] = best
    return found


def _is_alternative(line: Line, others: Sequence[Line]) -> bool:
    """Whether a line names another supplier for what earlier lines of the list ask for."""
    if not line.supplier or line.supplier.casefold() in {other.supplier.casefold() for other in others}:
        return False
    first = others[0]
    same_number = bool(line.part_number) and number_key(line.part_number) == number_key(first.part_number)
    return bool(first.supplier) and (
        same_number
        or (line.system.casefold() == first.system.casefold() and (line.quantity or 1) == (first.quantity or 1))
    )
