"""What every noun shares: ids, three-point estimates, strictness."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, model_validator

Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_-]*$", max_length=80)]
# Conditions name dimensions in arithmetic, where a hyphen would be a minus.
DimensionId = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=80)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=400)]
Note = Annotated[str, StringConstraints(max_length=20_000)]
Country = Annotated[str, StringConstraints(pattern=r"^[A-Z]{2}$")]
Heading = Annotated[str, StringConstraints(pattern=r"^[0-9]{4}([0-9]{2}){0,3}$")]


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("not a finite number")
    return value


Number = Annotated[float, AfterValidator(_finite)]
NotNegative = Annotated[float, Field(ge=0, le=1e9), AfterValidator(_finite)]
# A count of parts over the content of a pack must stay a number, so nothing is let in that is all but zero.
Positive = Annotated[float, Field(ge=1e-6, le=1e9), AfterValidator(_finite)]
Share = Annotated[float, Field(ge=0, le=1)]
Percent = Annotated[float, Field(ge=0, le=100)]


class Noun(BaseModel):
    """Base of all nouns: frozen, and refusing fields it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class ThreePoint(Noun):
    """An estimate as low, likely, high; read as the limits and the mode of a triangular distribution.

    Examples
    --------
    >>> ThreePoint(low=2, likely=3, high=7).mean
    4.0
    """

    low: NotNegative
    likely: NotNegative
    high: NotNegative

    @model_validator(mode="after")
    def _ordered(self) -> ThreePoint:
        if not self.low <= self.likely <= self.high:
            raise ValueError("low, likely and high must rise in that order")
        return self

    @property
    def mean(self) -> float:
        """Mean of the triangular distribution."""
        return (self.low + self.likely + self.high) / 3
