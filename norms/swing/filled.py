"""How much of the pelvis was filled or rebuilt, phase by phase, and the words for it."""

from itertools import pairwise

import numpy as np

from norms.errors import Notice
from norms.records import FloatArray, SwingEvents
from norms.swing.pelvis_path import PelvisPath
from norms.vocabulary import PHASE_NAMES, PHASES


def filled_share(centre: PelvisPath, events: SwingEvents, rate_hz: float) -> FloatArray:
    """Share of samples that were filled or rebuilt, by phase, shape (3,), 0 to 1."""
    samples = np.round(np.array(events.boundaries_s) * rate_hz).astype(int)
    return np.array([centre.filled[a : b + 1].mean() for a, b in pairwise(samples)])


def filled_notices(centre: PelvisPath, events: SwingEvents, rate_hz: float) -> tuple[Notice, ...]:
    """``gap_filled`` with the phases it concerns, and ``marker_rebuilt`` with the markers."""
    shares = filled_share(centre, events, rate_hz)
    if not shares.any():
        return ()
    parts = ", ".join(
        f"{share:.0%} of the {PHASE_NAMES[phase]}"
        for phase, share in zip(PHASES, shares, strict=True)
        if share > 0
    )
    filled = Notice(code="gap_filled", message=f"pelvis points were filled or rebuilt in {parts}")
    if not centre.rebuilt:
        return (filled,)
    said = f"{' and '.join(centre.rebuilt)} rebuilt from the other three pelvis markers"
    return (filled, Notice(code="marker_rebuilt", message=said))
