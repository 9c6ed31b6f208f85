"""Sums of smooth steps: curves that are C3, exactly known, and exactly still outside their steps.

A step rises along the septic polynomial 35u⁴ − 84u⁵ + 70u⁶ − 20u⁷, whose first three
derivatives vanish at both ends, so that neither a velocity nor an acceleration ever jumps.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Step(NamedTuple):
    """A rise by ``height`` (any unit) from ``begin_s`` to ``end_s``, flat before and after."""

    begin_s: float
    end_s: float
    height: float


def _progress(step: Step, times_s: FloatArray) -> FloatArray:
    return np.clip((times_s - step.begin_s) / (step.end_s - step.begin_s), 0.0, 1.0)


def sum_of_steps(steps: tuple[Step, ...], times_s: FloatArray) -> FloatArray:
    """Value of the sum of ``steps`` at ``times_s``, shape (t,), in the unit of the heights."""
    total = np.zeros_like(times_s)
    for step in steps:
        u = _progress(step, times_s)
        total += step.height * (u * u) ** 2 * (35.0 + u * (-84.0 + u * (70.0 - 20.0 * u)))
    return total


def rate_of_steps(steps: tuple[Step, ...], times_s: FloatArray) -> FloatArray:
    """First derivative of the sum of ``steps``, shape (t,), per second."""
    total = np.zeros_like(times_s)
    for step in steps:
        u = _progress(step, times_s)
        total += step.height / (step.end_s - step.begin_s) * 140.0 * (u * (1.0 - u)) ** 3
    return total
