"""What each method for the hip joint centres makes of one capture, as a job on a file."""

from datetime import date
from pathlib import Path
from typing import Any

from norms.errors import NormsError
from norms.records import SwingLabel
from norms.swing.compare_hip_methods import HipMethodComparison
from norms.vocabulary import AXES, Hand
from pipelines.collect.file_work import FileWork
from pipelines.collect.profile import Profile
from pipelines.collect.shield import WorkerPool


def compare_methods(
    capture: Path, profile: Profile, *, hand: Hand, golfer: str | None = None
) -> HipMethodComparison:
    """Read a capture, shielded, and process it by every method it allows.

    Parameters
    ----------
    capture : Path
    profile : Profile
        Whose ``[pelvis]`` section names the method that the others are held against.
    hand : {"right", "left"}
    golfer : str, optional
        Code by which the profile may declare a leg length; else from the file's name.

    Returns
    -------
    HipMethodComparison

    Raises
    ------
    NormsError
        As for collecting; ``one_method_only`` where there is nothing to compare.
    """
    work = FileWork(path=capture, label=_label(capture, profile, golfer), hand=hand)
    with WorkerPool(profile, workers=1, job="pipelines.collect.work:hip_methods_of") as pool:
        ((_, result),) = pool.run([work])
    if isinstance(result, NormsError):
        raise result
    comparison: HipMethodComparison = result
    return comparison


def comparison_document(comparison: HipMethodComparison) -> dict[str, Any]:
    """A comparison as JSON-ready values: largest curve differences and feature differences."""
    return {
        "own_method": comparison.own.pelvis_method,
        "methods": [
            {
                "method": difference.method,
                "largest_curve_difference_cm": dict(
                    zip(AXES, difference.largest_cm.round(4).tolist(), strict=True)
                ),
                "feature_differences": {
                    name: round(value, 6) for name, value in difference.features.items()
                },
            }
            for difference in comparison.differences
        ],
        "not_possible": comparison.refused,
    }


def _label(capture: Path, profile: Profile, golfer: str | None) -> SwingLabel:
    """A label that says whose swing it is, as far as it is known; nothing is stored under it."""
    pattern = profile.file_name_pattern()
    named = (pattern.read(capture.stem) if pattern else None) or {}
    return SwingLabel(
        swing=capture.stem,
        golfer=golfer or named.get("golfer", "unnamed"),
        club="any",
        recorded_on=date.min,
        lab=profile.lab.name,
        source=capture.name,
        content_hash="",
    )
