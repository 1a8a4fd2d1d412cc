"""Random numbers by what they are for, and the triangular distribution."""

from __future__ import annotations

import hashlib

import numpy as np

from ..build.base import ThreePoint
from .kernel_types import Floats32


def stream(seed: int, *words: str) -> np.random.Generator:
    """Random numbers that belong to a seed and what they are for."""
    digest = hashlib.blake2b("\x1f".join([str(seed), *words]).encode(), digest_size=16).digest()
    return np.random.Generator(np.random.PCG64(int.from_bytes(digest, "little")))


def triangular(points: ThreePoint, uniform: Floats32) -> Floats32:
    """Triangular values at uniform ones, by the inverse distribution."""
    low, likely, high = (np.float32(value) for value in (points.low, points.likely, points.high))
    if high <= low:
        return np.full(uniform.shape, likely, dtype=np.float32)
    rising = np.sqrt(uniform * (high - low) * (likely - low))
    falling = np.sqrt((1 - uniform) * (high - low) * (high - likely))
    values: Floats32 = np.where(uniform * (high - low) < likely - low, low + rising, high - falling).astype(np.float32)
    return values


def triangular_share(points: ThreePoint, value: Floats32) -> Floats32:
    """Share of a triangular distribution below a value."""
    low, likely, high = points.low, points.likely, points.high
    if high <= low:
        return np.zeros_like(value)
    x = np.clip(value, low, high)
    rising = (x - low) ** 2 / ((high - low) * max(likely - low, 1e-12))
    falling = 1 - (high - x) ** 2 / ((high - low) * max(high - likely, 1e-12))
    shares: Floats32 = np.clip(np.where(x < likely, rising, falling), 0, 1).astype(np.float32)
    return shares
