"""How prices move where nothing is known of an offer's own: consumer prices, and what its category adds to them."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True, slots=True)
class DriftPrior:
    """How prices move where nothing is known of an offer's own, all as shares [-].

    Parameters
    ----------
    index : rise of consumer prices in a year; over_index : what the category's regular prices rise beyond it
    spread : one standard deviation of the yearly rise between offers; shared : the part of it that a category shares
    step : how far one sighting stands off a smooth trend; scatter : from week to week
    index_source : whose index
    """

    index: float
    over_index: float
    spread: float
    shared: float
    step: float
    scatter: float
    index_source: str = ""

    @property
    def yearly(self) -> float:
        """Expected rise of the regular price in a year, as a share [-]."""
        return self.index + self.over_index


@dataclass(frozen=True, slots=True)
class DriftTable:
    """Priors by category and currency; `default` where a category is not listed, `other` where a currency is not."""

    default: Mapping[str, float]
    by_category: Mapping[str, Mapping[str, float]]
    index: Mapping[str, float]
    other: float
    index_source: str

    def prior(self, categories: Sequence[str], currency: str) -> DriftPrior:
        """The prior of an offer: its category's, or the mean over the categories of a kit's parts."""
        found = [self.by_category.get(category.strip().lower(), self.default) for category in categories]
        rows = found or [self.default]
        mean = {name: math.fsum(row[name] for row in rows) / len(rows) for name in _NAMES}
        source = self.index_source if currency in self.index else "our own default"
        return DriftPrior(index=self.index.get(currency, self.other), index_source=source, **mean)


_NAMES = ("over_index", "spread", "shared", "step", "scatter")


@lru_cache(maxsize=1)
def drift_table() -> DriftTable:
    """The tables in data/drift.toml and data/indices.toml."""
    drift, index = _read("drift"), _read("indices")
    usual = _shares(drift["default"])
    listed = {name: {**usual, **_shares(row)} for row in drift["category"] for name in row["names"]}
    by_currency = {code: percent / 100 for code, percent in index["yearly_percent"].items()}
    return DriftTable(usual, listed, by_currency, index["other_percent"] / 100, index["source"])


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath(f"data/{name}.toml").read_text(encoding="utf-8"))


def _shares(row: Mapping[str, float]) -> dict[str, float]:
    return {name: row[key] / 100 for name in _NAMES if (key := f"{name}_percent") in row}
