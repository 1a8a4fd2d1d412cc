"""What the build is made of: systems, parts, kits, stock."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Literal

from pydantic import Field, field_validator

from .base import Country, Heading, Id, Note, NotNegative, Noun, Positive, Text


class Phase(StrEnum):
    """The eight stages a part or job belongs to, in order."""

    DEFINE = "define"
    STRIP = "strip"
    STRUCTURE = "structure"
    MOCK_UP = "mock-up"
    BODY_FIT = "body-fit"
    FINISH = "finish"
    ASSEMBLY = "assembly"
    COMMISSION = "commission"

    @property
    def order(self) -> int:
        """Place in the sequence, 0 for define."""
        return list(Phase).index(self)


Hazard = Literal[
    "brakes",
    "steering",
    "suspension",
    "welding",
    "fuel",
    "gas",
    "high-voltage",
    "lifting",
    "airbags",
    "pressure",
    "paint",
    "asbestos",
]


class System(Noun):
    """An area of the vehicle."""

    id: Id
    name: Text
    hazards: tuple[Hazard, ...] = ()
    note: Note = ""


class PartPhoto(Noun):
    """A photo kept with a part, such as of the label on its box.

    Parameters
    ----------
    photo : name of an attachment
    day : when it was taken, by its own word; None if it does not say
    note : the line typed beside it
    """

    photo: Text
    day: date | None = None
    note: Note = ""


class Part(Noun):
    """Something the build needs.

    Parameters
    ----------
    quantity : how many the build needs, in `unit`
    category : word by which prices move together, e.g. "tyres", "electronics"
    phase : when it is needed, where no job names it yet
    origin : country where it was made (decides preference), heading : tariff heading, 4 to 10 digits
    mass_kg : mass of one [kg]; box_mm : length, width, height of one packed [mm]
    shelf_weeks : how long it keeps before it must be fitted [weeks]
    order_on : day the owner means to order it; the plan is compared with it, and not bound by it
    part_number : the number the maker or a list gives it
    source : where the row came from, e.g. "parts.xlsx, sheet Brakes, row 12"
    dropped : the build calls for it no longer; what was bought of it stays on record
    photos : of it or its label, in the order they were added
    """

    id: Id
    name: Text
    part_number: str = Field(default="", max_length=400)
    system: Id | None = None
    quantity: Positive = 1
    unit: Text = "each"
    category: str = ""
    phase: Phase | None = None
    origin: Country | None = None
    heading: Heading | None = None
    mass_kg: NotNegative | None = None
    box_mm: tuple[Positive, Positive, Positive] | None = None
    shelf_weeks: Positive | None = None
    order_on: date | None = None
    note: Note = ""
    source: str = ""
    dropped: bool = False
    photos: tuple[PartPhoto, ...] = ()


class KitContent(Noun):
    """A part and how many of it one kit holds."""

    part: Id
    quantity: Positive = 1


class Kit(Noun):
    """Parts offered together under one price."""

    id: Id
    name: Text
    contents: tuple[KitContent, ...]
    note: Note = ""

    @field_validator("contents")
    @classmethod
    def _not_empty(cls, contents: tuple[KitContent, ...]) -> tuple[KitContent, ...]:
        if not contents:
            raise ValueError("a kit holds at least one part")
        return contents


class Stock(Noun):
    """What is already owned: taken off, left over, from a donor."""

    id: Id
    part: Id
    quantity: Positive = 1
    place: str = ""
    condition: Literal["new", "good", "usable", "to be rebuilt", "unknown"] = "unknown"
    since: date | None = None
    note: Note = ""
