"""The golfer at address: the still stretch, the zero taken over it, and where the feet stand."""

from typing import Final

import numpy as np

from norms.errors import Notice
from norms.records import Capture, FloatArray, SwingEvents
from norms.swing.condition import seen_samples

STILL_STRETCH_S: Final = 0.25
"""Length of the stretch before the start over which the zero is averaged."""
STILL_WITHIN_CM: Final = 0.5
"""A pelvis that moves more than this within the still stretch is reported."""


def still_stretch(start_s: float, first: int, rate_hz: float) -> slice:
    """Samples of the still stretch that ends with the last sample at or before the start.

    Parameters
    ----------
    start_s : float
    first : int
        Sample of the capture that is number 0 here.
    rate_hz : float
    """
    address = int(start_s * rate_hz + 1e-9) - first
    begin = max(0, address - int(STILL_STRETCH_S * rate_hz))
    return slice(begin, max(address, begin) + 1)


def address_zero(
    smooth_cm: FloatArray, first: int, events: SwingEvents, rate_hz: float
) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Mean place over the still stretch at address, and a word if the pelvis moves in it."""
    still = smooth_cm[still_stretch(events.start.time_s, first, rate_hz)]
    moved = float(np.ptp(still, axis=0).max())
    if moved <= STILL_WITHIN_CM:
        return still.mean(axis=0), ()
    notice = Notice(
        code="moving_at_address",
        message=f"the pelvis moves {moved:.1f} cm in the still stretch before the start; "
        "the zero is its mean",
    )
    return still.mean(axis=0), (notice,)


def foot_at_address(capture: Capture, role: str, events: SwingEvents) -> FloatArray | None:
    """Median place of a foot over the still stretch at address."""
    path = capture.point(role)
    if path is None or capture.axes.source == "declared":
        return None
    end = int(events.address.time_s * capture.rate_hz) + 1
    stretch = path[max(0, end - int(STILL_STRETCH_S * capture.rate_hz)) : end]
    seen = stretch[seen_samples(stretch)]
    return np.asarray(np.median(seen, axis=0)) if len(seen) else None
