"""Rests and valleys on a speed over time: where a movement sets in, turns round and dies out.

Pure searches on one array; sample numbers may be fractional.
"""

from typing import Final

import numpy as np

from norms.records import FloatArray

VALLEY_RISE: Final = 0.05
"""A speed minimum counts as passed when speed has risen by this share of the fastest speed."""
VALLEY_DEPTH: Final = 0.35
"""A change of direction slows the mover to less than this share of the fastest speed."""
STILL_SHARE: Final = 0.05
MOVING_SHARE: Final = 0.15
"""Shares of a phase's fastest speed between which its onset or its end is extrapolated."""
EXTRAPOLATED: Final = float(np.hypot(MOVING_SHARE, STILL_SHARE)) / (MOVING_SHARE - STILL_SHARE)
"""Sd of an extrapolated rest, which is 1.5 of the near crossing less 0.5 of the far, in theirs."""
TWITCH_SHARE: Final = 0.02
"""Speed, as a share of the fastest of the backswing, above which a stir at address counts."""
LEAST_BACKSWING_CM_S: Final = 30.0


def valley_before(speed: FloatArray, peak: int) -> int | None:
    """Nearest minimum before ``peak`` after which, going back, speed rises again."""
    rise = VALLEY_RISE * float(speed[peak])
    lowest, at = float(speed[peak]), peak
    for sample in range(peak - 1, -1, -1):
        value = float(speed[sample])
        if value < lowest:
            lowest, at = value, sample
        elif value > lowest + rise and lowest < VALLEY_DEPTH * speed[peak]:
            return at
    return None


def flat_stretch(speed: FloatArray, valley: int, level: float) -> tuple[int, int]:
    """First and last sample of the stretch around ``valley`` in which speed is below ``level``."""
    first = last = valley
    while first > 0 and speed[first - 1] < level:
        first -= 1
    while last < len(speed) - 1 and speed[last + 1] < level:
        last += 1
    return first, last


def rest_before(speed: FloatArray, top: int) -> float | None:
    """Sample at which the movement that leads to ``top`` sets in; None where it never rests."""
    fastest, at = 0.0, top
    for sample in range(top, -1, -1):
        value = float(speed[sample])
        if value > fastest:
            fastest, at = value, sample
        elif value < STILL_SHARE * fastest and sample < at and fastest > LEAST_BACKSWING_CM_S:
            rest = _extrapolate_rest(speed, sample, fastest, step=1)
            return max(rest, _last_twitch(speed, sample, int(rest), TWITCH_SHARE * fastest))
    return None


def _last_twitch(speed: FloatArray, sample: int, earliest: int, rise: float) -> float:
    """Sample of the lull after a last small movement between ``earliest`` and ``sample``.

    A waggle that dies just before the backswing sets in must not count as its beginning.
    """
    lowest, at = float(speed[sample]), sample
    for k in range(sample, earliest - 1, -1):
        value = float(speed[k])
        if value < lowest:
            lowest, at = value, k
        elif value > lowest + rise:
            return float(at)
    return float(earliest)


def rest_after(speed: FloatArray, impact: int) -> float | None:
    """Sample at which speed first dies after ``impact``: a rest, or a turning point near it."""
    fastest, at = 0.0, impact
    lowest, lowest_at = np.inf, impact
    for sample in range(impact, len(speed)):
        value = float(speed[sample])
        if value > fastest:
            fastest, at = value, sample
            lowest, lowest_at = np.inf, sample
        elif value < lowest:
            lowest, lowest_at = value, sample
        if value < STILL_SHARE * fastest and sample > at:
            rest = _extrapolate_rest(speed, sample, fastest, step=-1)
            turn = _turning_point(speed, sample)
            return min(rest, float(turn)) if turn is not None else rest
        if lowest < MOVING_SHARE * fastest and value > lowest + VALLEY_RISE * fastest:
            return float(lowest_at)
    return None


def _turning_point(speed: FloatArray, sample: int) -> int | None:
    """The minimum just ahead of ``sample`` if speed rises again within a few samples."""
    ahead = speed[sample : sample + 8]
    k = int(np.argmin(ahead))
    return sample + k if 0 < k < len(ahead) - 1 and ahead[-1] > 2.0 * ahead[k] + 1.0 else None


def _extrapolate_rest(speed: FloatArray, still: int, fastest: float, *, step: int) -> float:
    """Where speed, drawn as a straight line through its first rise, reaches zero.

    A threshold alone is passed late; the line through two thresholds leads back to the onset of
    a movement that sets in with constant acceleration, and within 30 ms of one that sets in
    without a jerk.
    """
    low = _crossing(speed, still, STILL_SHARE * fastest, step)
    high = _crossing(speed, still, MOVING_SHARE * fastest, step)
    rest = low - (high - low) * STILL_SHARE / (MOVING_SHARE - STILL_SHARE)
    return float(np.clip(rest, 0.0, len(speed) - 1.0))


def rest_spread(speed: FloatArray, rest: float, fastest: int, noise: float) -> float:
    """Sd, in samples, that noise in the speed gives an extrapolated rest.

    Parameters
    ----------
    speed : ndarray, shape (t,)
    rest : float
        Sample of the rest, before or after ``fastest``.
    fastest : int
        Sample of the fastest speed of the movement that begins or ends with the rest.
    noise : float
        Sd of the speed, in its unit.
    """
    level = MOVING_SHARE * float(speed[fastest])
    step = 1 if fastest > rest else -1
    sample = int(np.clip(round(rest), 0, len(speed) - 1))
    while sample != fastest and speed[sample] < level:
        sample += step
    slope = level / max(abs(sample - rest), 1.0)
    return EXTRAPOLATED * noise / slope


def _crossing(speed: FloatArray, sample: int, level: float, step: int) -> float:
    """First fractional sample from ``sample`` on, in direction ``step``, with that speed."""
    while speed[sample + step] < level:
        sample += step
    here, there = float(speed[sample]), float(speed[sample + step])
    return sample + step * (level - here) / (there - here) if there != here else float(sample)


def vertex_offset(values: FloatArray, k: int) -> float:
    """Offset of the vertex of the parabola through values k-1, k, k+1; within half a sample."""
    before, here, after = float(values[k - 1]), float(values[k]), float(values[k + 1])
    bend = before - 2.0 * here + after
    return float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend > 0 else 0.0
