"""Spikes: a point that jumps away and comes back, as when another reflection is taken for it.

A jump is a step between neighbouring samples that differs from the steps around it. A pair of
jumps that lies close together and lands near where it began is a spike; a jump alone is left, and
told.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.ndimage import median_filter

from norms.errors import Notice
from norms.records import BoolArray, Capture, FloatArray
from norms.swing.condition import seen_samples
from norms.vocabulary import CENTRE_ROLE, FOOT_ROLES, HIP_ROLES, PELVIS_ROLES

NEIGHBOURS: Final = 4
"""Steps on either side with which a step is compared, by their median."""
TIMES_TYPICAL: Final = 8.0
"""A jump deviates by more than this many times the median deviation of the capture. The median
length of a three-dimensional normal error is 1.54 of its sd, so this is some 12 sd."""
LEAST_JUMP_CM: Final = 0.8
MOTION_SHARE: Final = 0.75
"""A jump also deviates by more than this share of the median step around it: a club head at full
speed bends its path from sample to sample without jumping."""
LONGEST_S: Final = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Spikes:
    """What was found on one point.

    Attributes
    ----------
    samples : ndarray of bool, shape (t,)
        True inside a spike.
    lasting_jumps : tuple of int
        First sample after each jump that does not come back.
    """

    samples: BoolArray
    lasting_jumps: tuple[int, ...]


def find_spikes(path_cm: FloatArray, rate_hz: float) -> Spikes:
    """Find spikes and lasting jumps on one point's path.

    Parameters
    ----------
    path_cm : ndarray, shape (t, 3)
        NaN where not seen; a step across a gap is not looked at.
    rate_hz : float

    Returns
    -------
    Spikes
    """
    inside = np.zeros(len(path_cm), dtype=bool)
    jumps = _jumps(path_cm)
    longest = max(2, round(LONGEST_S * rate_hz))
    lasting: list[int] = []
    k = 0
    while k < len(jumps):
        after = jumps[k + 1 :]
        back = [end for end in after if end - jumps[k] <= longest]
        end = next((end for end in back if _comes_back(path_cm, jumps[k], end)), None)
        if end is None:
            lasting.append(jumps[k])
            k += 1
        else:
            inside[jumps[k] : end] = True
            k += 1 + after.index(end) + 1
    return Spikes(samples=inside, lasting_jumps=tuple(lasting))


def without_spikes(capture: Capture) -> tuple[Capture, tuple[Notice, ...]]:
    """A capture whose spikes are gaps, and a word on each point that had any.

    Returns
    -------
    capture : Capture
        The same where no point spikes.
    notices : tuple of Notice
        ``spikes_removed``, and ``marker_jump`` for a point of the pelvis that jumps and stays.
    """
    suspects = [
        k
        for k, suspect in enumerate(_may_jump(capture.points_cm))
        if suspect and capture.roles[k] not in FOOT_ROLES  # only their medians are used
    ]
    points = capture.points_cm.copy() if suspects else capture.points_cm
    notices = []
    for k in suspects:
        role = capture.roles[k]
        spikes = find_spikes(capture.points_cm[:, k], capture.rate_hz)
        points[spikes.samples, k] = np.nan
        if count := int(spikes.samples.sum()):
            said = f"{role} jumps away and back; {count} sample{'s' * (count > 1)} left out"
            notices.append(Notice(code="spikes_removed", message=said))
        if role in (*PELVIS_ROLES, *HIP_ROLES, CENTRE_ROLE):
            for sample in spikes.lasting_jumps:
                said = f"{role} jumps at {sample / capture.rate_hz:.2f} s and stays; check it"
                notices.append(Notice(code="marker_jump", message=said))
    return (replace(capture, points_cm=points) if notices else capture), tuple(notices)


def _may_jump(points_cm: FloatArray) -> BoolArray:
    """Which points, shape (m,), are worth the search: none of those left out can jump.

    A jump longer than ``MOTION_SHARE`` of the steps around it bends the path by more than half
    of the mean of the steps before and after; one of ``TIMES_TYPICAL`` typical deviations bends
    it by more than four times the typical bend, since the bend of noise is larger than its step.
    """
    steps = np.diff(points_cm, axis=0)
    bends = np.diff(steps, axis=0)
    bend = np.sqrt(np.einsum("tma,tma->tm", bends, bends))
    length = np.sqrt(np.einsum("tma,tma->tm", steps, steps))
    typical = np.median(bend, axis=0)
    if np.isnan(typical).any():
        typical = np.array([np.median(b[np.isfinite(b)]) if np.isfinite(b).any() else 0.0
                            for b in bend.T])  # fmt: skip
    limit = np.maximum(np.maximum(4.0 * typical, LEAST_JUMP_CM), 0.25 * (length[1:] + length[:-1]))
    return np.asarray((bend > limit).any(axis=0))


def _jumps(path_cm: FloatArray) -> list[int]:
    """First samples after a jump, in order."""
    steps = np.diff(path_cm, axis=0)
    seen = seen_samples(steps)
    if seen.sum() < 2 * NEIGHBOURS + 1:
        return []
    kept = steps[seen]
    deviation = np.linalg.norm(kept - median_filter(kept, size=(2 * NEIGHBOURS + 1, 1)), axis=1)
    length = np.linalg.norm(kept, axis=1)
    around = median_filter(length, size=2 * NEIGHBOURS + 1)
    limit = np.maximum(
        max(LEAST_JUMP_CM, TIMES_TYPICAL * float(np.median(deviation))), MOTION_SHARE * around
    )
    return [int(k) + 1 for k in np.flatnonzero(seen)[deviation > limit]]


def _comes_back(path_cm: FloatArray, first: int, end: int) -> bool:
    """Whether the point at ``end`` lies where the motion before and after would have carried it."""
    before = _typical_step(path_cm[max(0, first - NEIGHBOURS) : first])
    after = _typical_step(path_cm[end : end + NEIGHBOURS])
    carried = (end - first + 1) * (before + after) / 2.0
    away = np.linalg.norm(path_cm[first] - path_cm[first - 1] - before)
    across = np.linalg.norm(path_cm[end] - path_cm[first - 1] - carried)
    return bool(across < 0.5 * away)


def _typical_step(stretch_cm: FloatArray) -> FloatArray:
    steps = np.diff(stretch_cm, axis=0)
    steps = steps[seen_samples(steps)]
    return np.asarray(np.median(steps, axis=0)) if len(steps) else np.zeros(3)
