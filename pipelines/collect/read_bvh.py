"""BVH files, through pybvh: the joints' world positions."""

import re
from pathlib import Path

import numpy as np

from norms.errors import CaptureRefused
from pipelines.collect.raw_points import RawPoints

MOTION_HEAD = re.compile(
    r"^\s*Frames:\s*(?P<frames>\d+)\s*\n\s*Frame Time:\s*(?P<step>\S+)[ \t]*\n", re.MULTILINE
)


def read_bvh(path: Path) -> RawPoints:
    """Read the joints of a BVH file as points.

    Parameters
    ----------
    path : Path

    Returns
    -------
    RawPoints
        One point per joint, in the file's own axes; the unit is None, since BVH states none.

    Raises
    ------
    CaptureRefused
        If the file is empty, no BVH, cut short or damaged.
    """
    import pybvh

    text = path.read_bytes().decode("utf-8", errors="replace").replace("\r\n", "\n")
    if not text.strip():
        raise CaptureRefused(f"{path.name}: the file is empty", code="empty_file")
    if not text.lstrip().startswith("HIERARCHY"):
        raise CaptureRefused(
            f"{path.name}: not a BVH file: it does not begin with HIERARCHY", code="not_a_bvh"
        )
    _check_motion(path.name, text)
    try:
        # Which way is up is the profile's to say; naming an axis only stops a guess.
        motion = pybvh.read_bvh_file(path, world_up="+y")
        points = np.asarray(motion.joint_positions(), dtype=np.float64)
    except (ArithmeticError, ValueError, IndexError, KeyError, OSError) as fault:
        said = " ".join(str(fault).split(";")[0].split())[:120]
        raise CaptureRefused(f"{path.name}: damaged: {said}", code="damaged") from None
    if not np.isfinite(points).all():
        raise CaptureRefused(f"{path.name}: damaged: a joint without position", code="damaged")
    return RawPoints(
        labels=tuple(motion.joint_names), points=points, rate_hz=1.0 / float(motion.frame_time)
    )


def _check_motion(name: str, text: str) -> None:
    """Hold the stated count of frames and time step against the rows that are there."""
    head = MOTION_HEAD.search(text)
    if head is None:
        raise CaptureRefused(
            f"{name}: cut short: no lines 'Frames:' and 'Frame Time:'; export it again",
            code="cut_short",
        )
    if head["step"].startswith("-"):
        raise CaptureRefused(
            f"{name}: states a frame time of {head['step']} s; it is above zero", code="rate"
        )
    rows = sum(1 for line in text[head.end() :].splitlines() if line.strip())
    if rows < int(head["frames"]):
        raise CaptureRefused(
            f"{name}: cut short: the file holds {rows} of {head['frames']} frames; export it again",
            code="cut_short",
        )
