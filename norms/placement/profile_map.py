"""The signed map of a golfer against the peers' mean curves: which axis, which phase, which way."""

from typing import Final, get_args

import numpy as np
from numpy.typing import NDArray
from scipy import special

from norms.cohort.profile_parts import PARTS, QUANTITIES, deviation_index, parts_of
from norms.placement.golfer_mean import GolferMean
from norms.records.components import Components
from norms.records.golfer_place import MapPart, ProfileMap
from norms.records.patterns import Typicality
from norms.vocabulary import Axis, Phase

FloatArray = NDArray[np.float64]

DETECTABLE_CONFIDENCE: Final = 0.95
_AXES: Final = {axis: axis for axis in get_args(Axis)}
_PHASES: Final = {phase: phase for phase in get_args(Phase)}


def profile_map(
    mean: GolferMean,
    peers_mean_cm: FloatArray,
    components: Components | None,
    typicality: Typicality | None,
) -> ProfileMap:
    """Distance of each axis in each phase, its sign, shape and share, and the overall deviation.

    Parameters
    ----------
    mean : GolferMean
    peers_mean_cm : ndarray, shape (3, 301)
        Mean curves of the peers, without the golfer.
    components : Components or None
        Of the club, for the smallest detectable changes.
    typicality : Typicality or None
        Of the cell, for the deviation index.

    Returns
    -------
    ProfileMap

    References
    ----------
    Baker et al. (2009), Gait Posture 30:265 (profile of parts, and their root mean square).
    """
    parts = parts_of(mean.swing.curve.values_cm - peers_mean_cm)
    squares = parts.distance**2
    total = float(squares.sum())
    shares = 100.0 * squares / total if total > 0 else np.full(len(PARTS), 100.0 / len(PARTS))
    detectable = _detectable(mean, components)
    overall = float(parts.overall)
    index = None
    if typicality is not None and overall > 0 and typicality.log_sd > 0:
        index = deviation_index(overall, typicality.log_mean, typicality.log_sd)
    return ProfileMap(
        parts=tuple(
            MapPart(
                axis=_AXES[axis],
                phase=_PHASES[phase],
                distance_cm=float(parts.distance[place]),
                signed_cm=float(parts.signed[place]),
                shape_cm=float(parts.shape[place]),
                share_pct=float(shares[place]),
                distance_detectable_cm=detectable.get(f"distance {axis} {phase}"),
                signed_detectable_cm=detectable.get(f"signed {axis} {phase}"),
            )
            for place, (axis, phase) in enumerate(PARTS)
        ),
        overall_cm=overall,
        overall_detectable_cm=detectable.get("overall"),
        index=index,
    )


def _detectable(mean: GolferMean, components: Components | None) -> dict[str, float]:
    """Smallest change between two such means that is more than noise, by quantity."""
    if components is None or components.part_names != QUANTITIES:
        return {}
    day = np.nan_to_num(components.part_day_sd_cm)
    variance = day**2 / mean.days + components.part_swing_sd_cm**2 / len(mean.codes)
    needed = special.ndtri((1.0 + DETECTABLE_CONFIDENCE) / 2.0) * np.sqrt(2.0 * variance)
    return {
        name: float(value)
        for name, value in zip(QUANTITIES, needed, strict=True)
        if np.isfinite(value)
    }
