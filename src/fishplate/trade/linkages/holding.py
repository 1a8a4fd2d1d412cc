"""What holds a carrier, and where it goes with that: links of a fixed length, a strut that slides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arithmetic import FloatArray, OutOfRange, numbers, positive

_STEPS = 40
_CLOSE_MM = 1e-9


def links(
    body_point: FloatArray, carrier_point: FloatArray, wanted: int, *, exactly: bool
) -> tuple[FloatArray, FloatArray]:
    body, carrier = numbers("body_point", body_point, (-1, 3)), numbers("carrier_point", carrier_point, (-1, 3))
    enough = len(body) == wanted if exactly else wanted <= len(body)
    if len(carrier) != len(body) or not enough:
        many = f"{wanted} links" if exactly else f"{wanted} links or more,"
        raise OutOfRange("body_point", f"{many} with two ends each", f"{len(body)} and {len(carrier)}")
    positive(**{"the length of a link": np.linalg.norm(carrier - body, axis=1)})
    return body, carrier


def link_rows(arm: FloatArray, along: FloatArray) -> FloatArray:
    """One row a link: speed of its far end along it, for a motion (speed of the centre, rate of turning)."""
    rows: FloatArray = np.hstack([along, np.cross(arm, along)]) / np.linalg.norm(along, axis=1, keepdims=True)
    return rows


@dataclass(frozen=True, slots=True)
class Bars:
    """Links of a fixed length, from the body to arms of the carrier."""

    body: FloatArray
    arm: FloatArray
    hub: FloatArray

    def rows(self, shift: FloatArray, turn: FloatArray) -> tuple[FloatArray, FloatArray]:
        arms = np.einsum("mij,nj->mni", turn, self.arm)
        link = self.hub + shift[:, None, :] + arms - self.body
        long = np.linalg.norm(link, axis=2)
        along = link / long[:, :, None]
        length = np.linalg.norm(self.hub + self.arm - self.body, axis=1)
        return np.concatenate([along, np.cross(arms, along)], axis=2), long - length


@dataclass(frozen=True, slots=True)
class Slide:
    """A strut whose axis is fixed in the carrier and goes through a point of the body."""

    top: FloatArray
    arm: FloatArray
    hub: FloatArray

    def rows(self, shift: FloatArray, turn: FloatArray) -> tuple[FloatArray, FloatArray]:
        along = self.top - self.hub - self.arm
        square = np.linalg.svd(along[None, :])[2][1:]  # two directions across the strut
        across = np.einsum("mij,nj->mni", turn, square)
        lower = np.einsum("mij,j->mi", turn, self.arm)
        away = self.top - self.hub - shift - lower
        slopes = [-across, np.cross(across, away[:, None, :]) - np.cross(lower[:, None, :], across)]
        return np.concatenate(slopes, axis=2), np.einsum("mni,mi->mn", across, away)


@dataclass(frozen=True, slots=True)
class Moved:
    """Shift and rotation in each position, and the most that what holds the carrier is off."""

    shift: FloatArray
    turn: FloatArray
    fault: FloatArray


def moved_to(holds: Sequence[Bars | Slide], bump: FloatArray, roll: FloatArray | None) -> Moved:
    """The carrier in each position by Newton's method; of more than holds it, what is off least in squares."""
    shift, turn = np.zeros((bump.size, 3)), np.tile(np.eye(3), (bump.size, 1, 1))
    for _ in range(_STEPS):
        parts = [hold.rows(shift, turn) for hold in holds]
        slopes, fault = (np.concatenate(each, axis=1) for each in zip(*parts, strict=True))
        wanted, missing = _wanted(shift, turn, bump, roll)
        step = _least_step(slopes, fault, wanted, missing)
        shift, turn = shift + step[:, :3], rotations(step[:, 3:]) @ turn
        if np.abs(step).max() < _CLOSE_MM:
            break
    rigid = slopes.shape[1] + wanted.shape[1] == 6
    lost = (np.abs(step).max(axis=1) > 1e-6) | (np.abs(missing).max(axis=1) > 1e-6)
    off = np.abs(fault).max(axis=1)
    lost |= rigid & (off > 1e-6)
    shift[lost], turn[lost], off[lost] = np.nan, np.nan, np.nan
    return Moved(shift, turn, np.where(off < _CLOSE_MM * 100, 0.0, off))


def _wanted(
    shift: FloatArray, turn: FloatArray, bump: FloatArray, roll: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """Rise, and lean where it is given: how each changes, and what is missing."""
    slopes: list[FloatArray] = [np.tile(np.array([[[0.0, 0, 1, 0, 0, 0]]]), (bump.size, 1, 1))]
    missing: list[FloatArray] = [shift[:, 2] - bump]
    if roll is not None:
        across = turn[:, :, 1]
        slopes.append(np.concatenate([np.zeros_like(across), np.cross(across, [0.0, 0.0, 1.0])], axis=1)[:, None, :])
        missing.append(across[:, 2] - np.sin(roll))
    return np.concatenate(slopes, axis=1), np.stack(missing, axis=1)


def _least_step(slopes: FloatArray, fault: FloatArray, wanted: FloatArray, missing: FloatArray) -> FloatArray:
    """The step that gives what is wanted and leaves the least fault."""
    reach = np.linalg.pinv(wanted)
    given = -np.einsum("mij,mj->mi", reach, missing)
    free = np.eye(6) - reach @ wanted
    left = fault + np.einsum("mij,mj->mi", slopes, given)
    step: FloatArray = given - np.einsum("mij,mj->mi", np.linalg.pinv(slopes @ free, rcond=1e-9), left)
    return step


def rotations(vector: FloatArray, *, longest: float = 0.5) -> FloatArray:
    """Rotation matrices of rotation vectors, by Rodrigues' formula; no step turns by more than the longest."""
    angle = np.linalg.norm(vector, axis=1)
    vector = vector * np.minimum(1.0, longest / np.maximum(angle, 1e-300))[:, None]
    angle = np.linalg.norm(vector, axis=1)[:, None, None]
    x, y, z = vector.T
    nought = np.zeros_like(x)
    skew = np.stack([nought, -z, y, z, nought, -x, -y, x, nought], axis=1).reshape(-1, 3, 3)
    first, second = np.sinc(angle / np.pi), np.sinc(angle / (2 * np.pi)) ** 2 / 2
    result: FloatArray = np.eye(3) + first * skew + second * (skew @ skew)
    return result
