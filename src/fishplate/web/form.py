"""What a person typed, read into values; problems are gathered, each under the name of its field."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from ..build import Money, Problem, Refused
from ..build.base import ThreePoint
from ..build.formats import current
from ..build.money import MAX_AMOUNT
from ..build.numbers import Unreadable
from ..build.quantities import MOST_CHARACTERS
from ..build.units import UnitProblem
from ..exchange.amounts import read_amount
from .fields import beside_field

Model = TypeVar("Model", bound=BaseModel)
PHOTO_KINDS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp", "image/heic": "heic"}
MAX_PHOTO_BYTES = 20 * 1024 * 1024


class Form:
    """One form as it was sent.

    A reader that can't take what was typed notes a problem and returns a stand-in, so that all faults are found in
    one pass; whoever writes the result refuses it while `problems` holds any.

    Parameters
    ----------
    fields : typed text by field name, every value of a repeated field
    files : uploaded files by field name, as name and content
    """

    def __init__(
        self, fields: Mapping[str, Sequence[str]], files: Mapping[str, tuple[str, bytes]] | None = None
    ) -> None:
        self.fields = {name: tuple(values) for name, values in fields.items()}
        self.files = dict(files or {})
        self.problems: list[Problem] = []
        self.formats = current()
        self.said: list[str] = []

    def text(self, name: str, default: str = "") -> str:
        """What was typed, without the blanks around it."""
        values = self.fields.get(name, ())
        return values[0].strip() if values and values[0].strip() else default

    def every(self, name: str) -> tuple[str, ...]:
        """Every value of a field that may be given several times."""
        return tuple(value.strip() for value in self.fields.get(name, ()) if value.strip())

    def ticked(self, name: str) -> bool:
        """Whether a box was ticked."""
        return bool(self.text(name))

    def required(self, name: str, do: str = "Fill it in.") -> str:
        """What was typed; a problem if nothing was."""
        text = self.text(name)
        if not text:
            self.refuse(name, "nothing was filled in", do=do)
        return text

    def number(self, name: str, *, at_least: float | None = None, at_most: float | None = None) -> float:
        """A number that must be there."""
        found = self.maybe_number(name, at_least=at_least, at_most=at_most)
        if found is None and not any(problem.where == name for problem in self.problems):
            self.refuse(name, "nothing was filled in", do="Give a number.")
        return 0.0 if found is None else found

    def maybe_number(self, name: str, *, at_least: float | None = None, at_most: float | None = None) -> float | None:
        """A number in the unit its noun holds it in, or None if the field was left empty.

        The field says beside it which unit a bare number is in; one that is written is turned into it.
        """
        text = self.text(name)
        if not text:
            return None
        found = self._read(name, text[: MOST_CHARACTERS + 1])
        if found is None:
            return None
        value, said = found
        if not abs(value) <= 1e12:
            self.refuse(name, "not a number", text, "Use digits, as in 12.5.")
        elif at_least is not None and value < at_least:
            self.refuse(name, f"less than {at_least:,.15g}", text, f"Give {at_least:,.15g} or more.")
        elif at_most is not None and value > at_most:
            self.refuse(name, f"more than {at_most:,.15g}", text, f"Give {at_most:,.15g} or less.")
        else:
            self.say(said)
            return value
        return None

    def _read(self, name: str, text: str) -> tuple[float, str] | None:
        """A number and how it was read; a fault is noted, and None returned."""
        beside = beside_field(self, name)
        try:
            return beside.read(text, self.formats.mark)
        except (UnitProblem, Unreadable) as problem:
            self._not_read(name, text, problem, beside.shown)
            return None

    def _not_read(self, name: str, text: str, problem: UnitProblem | Unreadable, unit: str) -> None:
        if isinstance(problem, Unreadable) and problem.code != "number":
            self.refuse(name, problem.what, text, problem.do)
        elif " measures " in str(problem):
            self.refuse(name, str(problem), text, f"Give it in {unit}." if unit else "Leave the unit out.")
        else:
            self.refuse(name, "not a number", text, "Use digits, as in 12.5.")

    def money(self, name: str, currency: str) -> Money | None:
        """An amount in a currency, or None if the field was left empty."""
        text = self.text(name)
        if not text:
            return None
        try:
            amount, said = read_amount(text[: MOST_CHARACTERS + 1], currency, self.formats.mark)
        except Unreadable as problem:
            self._not_read(name, text, problem, currency)
            return None
        if abs(amount) > MAX_AMOUNT:
            self.refuse(name, "not a number", text, "Use digits, as in 12.5.")
            return None
        self.say(said)
        return Money(amount=amount, currency=currency)

    def three_point(self, name: str) -> ThreePoint | None:
        """Low, likely and high from the fields NAME-low, NAME-likely, NAME-high; None if all were left empty."""
        names = [f"{name}-{point}" for point in ("low", "likely", "high")]
        values = [self.maybe_number(each, at_least=0, at_most=1e9) for each in names]
        given = [value for value in values if value is not None]
        if not given:
            return None
        likely = values[1] if values[1] is not None else given[0]
        low = values[0] if values[0] is not None else min(likely, given[0])
        high = values[2] if values[2] is not None else max(likely, given[-1])
        if not low <= likely <= high:
            self.refuse(names[1], "low, likely and high must rise in that order", f"{low:g} / {likely:g} / {high:g}")
            return None
        return ThreePoint(low=low, likely=likely, high=high)

    def day(self, name: str, default: date | None = None) -> date:
        """A day that must be there, unless there is a default."""
        found = self.maybe_day(name) or default
        if found is None and not any(problem.where == name for problem in self.problems):
            self.refuse(name, "nothing was filled in", do="Give a day, as in 2026-03-14.")
        return found or date.min

    def maybe_day(self, name: str) -> date | None:
        """A day, or None if the field was left empty."""
        text = self.text(name)
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.refuse(name, "not a day", text, "Write it as 2026-03-14.")
            return None

    def choice(self, name: str, allowed: Sequence[str]) -> str:
        """One of what may be chosen; a problem if it is not."""
        text = self.required(name, "Choose one.")
        if text and text not in allowed:
            self.refuse(name, "not one of the choices", text, "Choose one.")
            return ""
        return text

    def say(self, how: str) -> None:
        """Note how something was read that could be read in two ways; told once it is written."""
        if how and how not in self.said:
            self.said.append(how)

    def refuse(self, name: str, what: str, got: str = "", do: str = "Correct it.") -> None:
        """Note a problem with a field."""
        self.problems.append(Problem(name, "form", what, got[:60], do))


def made(model: type[Model], **fields: Any) -> Model:
    """A noun from values; raises Refused with each fault under the name of its field."""
    try:
        return model.model_validate(fields)
    except ValidationError as error:
        raise Refused(
            Problem(
                str(detail["loc"][0]) if detail["loc"] else "",
                detail["type"],
                detail["msg"].removeprefix("Value error, "),
                str(detail.get("input"))[:60],
                "Correct it.",
            )
            for detail in error.errors(include_url=False)
        ) from None


def photo_kind(content: bytes) -> str:
    """What a photo is by its first bytes; empty if it is none.

    Examples
    --------
    >>> photo_kind(b"\\xff\\xd8\\xff\\xe0")
    'image/jpeg'
    """
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return "image/heic" if content[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1") else ""
