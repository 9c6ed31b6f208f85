"""What is done with one capture file, from its path to a finished swing."""

import numpy as np

from norms.records import Capture, Swing
from norms.swing.compare_hip_methods import HipMethodComparison, compare_hip_methods
from norms.swing.plausibility import check_plausible
from norms.swing.process import process_capture
from norms.swing.uncertainty import process_with_uncertainty
from pipelines.collect.file_work import FileWork
from pipelines.collect.profile import Profile
from pipelines.collect.raw_points import RawPoints
from pipelines.collect.readers import read_points, reader_for
from pipelines.collect.to_capture import to_capture


def load_libraries(work: FileWork) -> None:
    """Load what reading this file needs, so that the time of an import is not the file's."""
    reader_for(work.path)


def swing_of(work: FileWork, profile: Profile) -> Swing:
    """Read a capture file and process it; unshielded, see ``pipelines.collect.shield``.

    Raises
    ------
    CaptureRefused, SwingRefused
        If the file is not a usable capture of one whole swing.
    """
    return process_capture(capture_of(work, profile), work.label, work.corrections)


def swing_with_uncertainty_of(work: FileWork, profile: Profile) -> Swing:
    """``swing_of`` with the standard uncertainty of each feature; slower, for single swings."""
    # The draws are of the capture's own noise: the same file gives the same numbers.
    rng = np.random.default_rng(int(work.label.content_hash[:16] or "0", 16))
    capture = capture_of(work, profile)
    return process_with_uncertainty(capture, work.label, rng, work.corrections)


def hip_methods_of(work: FileWork, profile: Profile) -> HipMethodComparison:
    """Read a capture file and process it by every method for the hip joint centres."""
    return compare_hip_methods(capture_of(work, profile), work.label)


def raw_points_of(work: FileWork, _: object) -> RawPoints:
    """Read a capture file's points in its own terms."""
    return read_points(work.path)


def capture_of(work: FileWork, profile: Profile) -> Capture:
    """Read a capture file and apply the profile."""
    raw = read_points(work.path)
    capture = to_capture(
        raw, profile, source=work.path.name, hand=work.hand, golfer=work.label.golfer
    )
    check_plausible(capture)
    return capture
