"""Axes of the vehicle: X rearward, Y to its right, Z up (ISO 4130), and the conversion for texts that use others."""

from __future__ import annotations

import numpy as np

from .arithmetic import FloatArray

__all__ = ["from_iso_8855", "from_sae_j670", "to_iso_8855", "to_sae_j670"]

_HALF_TURN_ABOUT_Z = np.array([-1.0, -1.0, 1.0])
_HALF_TURN_ABOUT_Y = np.array([-1.0, 1.0, -1.0])


def from_iso_8855(points: FloatArray) -> FloatArray:
    """Points or directions of a text with X forward, Y to the left, in the axes of the vehicle.

    Parameters
    ----------
    points : coordinates (..., 3) [mm]

    Returns
    -------
    the same points with X rearward, Y to the right, Z up (..., 3) [mm]

    Notes
    -----
    A half turn about Z; both sets are right-handed. Origins are not moved: state where each set has its own. Valid for
    points, directions, forces and moments alike.

    References
    ----------
    ISO 8855:2011 (X forward, Y left, Z up); ISO 4130:1978 and SAE J182 (X rearward, Z up). Y to the right: from
    memory of SAE J1100, and the one sense that leaves the set right-handed.

    Examples
    --------
    >>> from_iso_8855([1200.0, 700.0, 300.0]).tolist()
    [-1200.0, -700.0, 300.0]
    """
    result: FloatArray = np.asarray(points, dtype=float) * _HALF_TURN_ABOUT_Z
    return result


def to_iso_8855(points: FloatArray) -> FloatArray:
    """Points or directions of the vehicle in the axes of ISO 8855.

    Parameters
    ----------
    points : coordinates with X rearward, Y to the right (..., 3) [mm]

    Returns
    -------
    the same points with X forward, Y to the left, Z up (..., 3) [mm]

    Notes
    -----
    The same half turn: done twice it changes nothing. Valid as for `from_iso_8855`.

    References
    ----------
    As for `from_iso_8855`.

    Examples
    --------
    >>> to_iso_8855([0.0, 800.0, 350.0]).tolist()
    [-0.0, -800.0, 350.0]
    """
    return from_iso_8855(points)


def from_sae_j670(points: FloatArray) -> FloatArray:
    """Points or directions of a text with Z downwards, in the axes of the vehicle.

    Parameters
    ----------
    points : coordinates with X forward, Y to the right, Z down (..., 3) [mm]

    Returns
    -------
    the same points with X rearward, Y to the right, Z up (..., 3) [mm]

    Notes
    -----
    A half turn about Y; both sets are right-handed. Origins are not moved: state where each set has its own. Valid for
    points, directions, forces and moments alike. Newer editions of the text allow Z up as well: look which it means.

    References
    ----------
    SAE J670, vehicle axis system with Z down (from memory).

    Examples
    --------
    >>> from_sae_j670([1200.0, 700.0, -300.0]).tolist()
    [-1200.0, 700.0, 300.0]
    """
    result: FloatArray = np.asarray(points, dtype=float) * _HALF_TURN_ABOUT_Y
    return result


def to_sae_j670(points: FloatArray) -> FloatArray:
    """Points or directions of the vehicle in the axes of a text with Z downwards.

    Parameters
    ----------
    points : coordinates with X rearward, Y to the right, Z up (..., 3) [mm]

    Returns
    -------
    the same points with X forward, Y to the right, Z down (..., 3) [mm]

    Notes
    -----
    The same half turn: done twice it changes nothing. Valid as for `from_sae_j670`.

    References
    ----------
    As for `from_sae_j670`.

    Examples
    --------
    >>> to_sae_j670([100.0, 800.0, 350.0]).tolist()
    [-100.0, 800.0, -350.0]
    """
    return from_sae_j670(points)
