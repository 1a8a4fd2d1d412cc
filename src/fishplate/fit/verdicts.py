"""The verdict on a condition or an interface.

*Not known* if a needed dimension is missing or stale, or if default spreads decide it: they carry more than half of
the variance, and halving or doubling them would give another verdict. Else *fits* from a chance of 0.95 on (0.99 where
a misfit is hidden or a hazard), *does not fit* up to 0.05, *in doubt* between, and where the 95 % sampling interval of
the chance reaches over a limit.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..build.interfaces import Consequence, Settled
from .model import Verdict
from .sampling import Chance

FITS_FROM = 0.95
FITS_FROM_GRAVE = 0.99
DOES_NOT_FIT_TO = 0.05
MOSTLY = 0.5
_GRAVE = (Consequence.HIDDEN, Consequence.HAZARD)


def is_grave(consequence: Consequence) -> bool:
    """Whether a misfit is hidden after closing, or can hurt someone."""
    return consequence in _GRAVE


def needed_chance(consequences: Iterable[Consequence]) -> float:
    """The chance from which conditions with these consequences count as fitting."""
    return FITS_FROM_GRAVE if any(is_grave(item) for item in consequences) else FITS_FROM


def verdict_of(chance: Chance, needed: float) -> Verdict:
    """The verdict a chance supports, its sampling interval considered.

    Examples
    --------
    >>> verdict_of(Chance(0.97, 0.001), 0.95), verdict_of(Chance(0.951, 0.001), 0.95)
    (<Verdict.FITS: 'fits'>, <Verdict.IN_DOUBT: 'in doubt'>)
    """
    if chance.low >= needed:
        return Verdict.FITS
    if chance.high <= DOES_NOT_FIT_TO:
        return Verdict.DOES_NOT_FIT
    return Verdict.IN_DOUBT


def plain_verdict(chance: float, needed: float) -> Verdict:
    """The verdict of a chance taken as exact."""
    return verdict_of(Chance(chance, 0.0), needed)


def after_looking(chance: float | None, settled: Settled) -> float:
    """Chance that an interface is right after it was looked at on the vehicle.

    Bayes: `chance_right` is the chance that what was seen is so. Without a chance from figures, it stands alone.
    """
    seen = settled.chance_right if settled.good else 1 - settled.chance_right
    if chance is None or not 0 < seen < 1:
        return seen
    return chance * seen / (chance * seen + (1 - chance) * (1 - seen))
