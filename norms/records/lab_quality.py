"""Labs held in control: which sessions stand out, and how two labs differ."""

from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from norms.records._arrays import FloatArray, freeze_fields, frozen_array, set_field

Verdict = Literal["alike", "adjust_shift", "adjust_shift_and_scale", "apart"]
VERDICTS: tuple[Verdict, ...] = ("alike", "adjust_shift", "adjust_shift_and_scale", "apart")
"""From the mildest to the strictest."""
REPEATED_GOLFERS: Final = "repeated golfers"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabControl:
    """Control charts of one lab and club, in normal scores; a session is a day in the lab.

    Attributes
    ----------
    lab, club : str
    basis : str
        What was measured again: ``"repeated golfers"``, or the code of a repeated object.
    feature_names : tuple of str
        d names.
    sessions : tuple of datetime.date
        m days, rising.
    repeated_golfers : ndarray of int, shape (m,)
        Golfers of the session who were in the lab on another day too: what its shift rests on.
    shift : ndarray, shape (m, d)
        How far the session's repeated golfers were from their other days, in standard errors;
        NaN where none is repeated.
    drift : ndarray, shape (m, d)
        Exponentially weighted moving average of the shifts of the sessions in control.
    spread : ndarray, shape (m, d)
        Spread of swings within golfers against the club's, as a normal score; positive is more.
    limit : float
        ``shift`` and ``spread`` beyond ± ``limit`` are out of control. All features together
        raise no more false alarms than one chart would.
    drift_limit : ndarray, shape (m,)
        The same for ``drift``.
    out : ndarray of bool, shape (m,)
        Sessions to be held back until a person releases them.
    drifting : ndarray of bool, shape (m,)
    reasons : tuple of str
        One sentence for each session, empty where in control.
    """

    lab: str
    club: str
    feature_names: tuple[str, ...]
    sessions: tuple[date, ...]
    repeated_golfers: NDArray[np.int64]
    shift: FloatArray
    drift: FloatArray
    spread: FloatArray
    limit: float
    drift_limit: FloatArray
    out: NDArray[np.bool_]
    drifting: NDArray[np.bool_]
    reasons: tuple[str, ...]
    basis: str = REPEATED_GOLFERS

    def __post_init__(self) -> None:
        m, d = len(self.sessions), len(self.feature_names)
        freeze_fields(self, dict.fromkeys(("shift", "drift", "spread"), (m, d)))
        freeze_fields(self, {"drift_limit": (m,)})
        for name, kind in (("repeated_golfers", "int64"), ("out", "bool"), ("drifting", "bool")):
            set_field(self, name, frozen_array(name, getattr(self, name), (m,), dtype=kind))
        if len(self.reasons) != m:
            raise ValueError(f"reasons: {len(self.reasons)} entries for {m} sessions")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabEffect:
    """How a lab's values differ from the reference lab's, feature by feature, for one club.

    A golfer whose value is x in the reference lab has, in the other lab,
    ``centre + shift + scale * (x - centre)``.

    Attributes
    ----------
    lab, reference, club : str
    method : {"same_golfers", "different_golfers"}
        Golfers measured in both labs, or a mixed model that allows for level.
    golfers : int
        In both labs for ``"same_golfers"``, else in either.
    confidence : float
    feature_names : tuple of str
        d names.
    centre : ndarray, shape (d,)
        Mean of the golfers in the reference lab.
    shift, shift_low, shift_high, scale, scale_low, scale_high : ndarray, shape (d,)
        NaN where it cannot be told.
    allowed_shift : ndarray, shape (d,)
        Largest shift that is let pass, in the feature's unit.
    allowed_scale : float
        Largest ratio of scales, either way, that is let pass.
    verdicts : tuple of str
        d of ``VERDICTS``.
    """

    lab: str
    reference: str
    club: str
    method: Literal["same_golfers", "different_golfers"]
    golfers: int
    confidence: float
    feature_names: tuple[str, ...]
    centre: FloatArray
    shift: FloatArray
    shift_low: FloatArray
    shift_high: FloatArray
    scale: FloatArray
    scale_low: FloatArray
    scale_high: FloatArray
    allowed_shift: FloatArray
    allowed_scale: float
    verdicts: tuple[Verdict, ...]

    def __post_init__(self) -> None:
        d = len(self.feature_names)
        limits = ("shift", "shift_low", "shift_high", "scale", "scale_low", "scale_high")
        freeze_fields(self, dict.fromkeys(("centre", *limits, "allowed_shift"), (d,)))
        if len(self.verdicts) != d:
            raise ValueError(f"verdicts: {len(self.verdicts)} entries for {d} features")

    @property
    def verdict(self) -> Verdict:
        """The strictest verdict of any feature."""
        return max(self.verdicts, key=VERDICTS.index, default="alike")
