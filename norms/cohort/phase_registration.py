"""Registration within each phase, for cohort averages that show a typical golfer's timing.

Off unless asked for: a registered mean has sharper turns than the mean of golfers as they swing,
and the variance that registration removes is part of how golfers differ.
"""

from dataclasses import dataclass

import numpy as np

from norms.records import Cohort, FloatArray
from norms.records._arrays import freeze_fields
from norms.statistics.registration import register
from norms.vocabulary import AXES, NODES, NODES_PER_PHASE, PHASES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RegisteredCurves:
    """Golfers' curves on a common time within each phase.

    Attributes
    ----------
    curves_cm : ndarray, shape (n, 3, 301)
    own_nodes : ndarray, shape (n, 301)
        Node of the golfer's own curve that lies at each common node.
    removed_share : ndarray, shape (3,)
        Share of the variance between golfers that registration removed, by axis, at most 1; below 0
        where it added some.
    removed_share_by_phase : ndarray, shape (3, 3)
        The same by phase and axis.
    """

    curves_cm: FloatArray
    own_nodes: FloatArray
    removed_share: FloatArray
    removed_share_by_phase: FloatArray

    def __post_init__(self) -> None:
        count = len(self.curves_cm)
        freeze_fields(
            self,
            {
                "curves_cm": (count, len(AXES), NODES),
                "own_nodes": (count, NODES),
                "removed_share": (len(AXES),),
                "removed_share_by_phase": (len(PHASES), len(AXES)),
            },
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RegisteredCohort:
    """A group's golfers on a common time within each phase.

    Attributes
    ----------
    label : str
        Words of the group.
    golfers : int
    registered : RegisteredCurves
    mean_moved_cm : ndarray, shape (3,)
        Largest difference between the registered and the plain mean curve, by axis.
    """

    label: str
    golfers: int
    registered: RegisteredCurves
    mean_moved_cm: FloatArray


def register_cohort(cohort: Cohort) -> RegisteredCohort:
    """Register the golfers of a group within each phase.

    Parameters
    ----------
    cohort : Cohort
        Of two golfers or more.

    Returns
    -------
    RegisteredCohort
    """
    registered = register_phases(cohort.curves_cm)
    moved = registered.curves_cm.mean(axis=0) - cohort.curves_cm.mean(axis=0)
    return RegisteredCohort(
        label=cohort.definition.label,
        golfers=len(cohort.curves_cm),
        registered=registered,
        mean_moved_cm=np.abs(moved).max(axis=1),
    )


def register_phases(curves_cm: FloatArray) -> RegisteredCurves:
    """Register golfers' curves within each phase; events stay where they are.

    Parameters
    ----------
    curves_cm : ndarray, shape (n, 3, 301)
        One mean curve a golfer; sway, thrust and lift of a golfer share a warp.

    Returns
    -------
    RegisteredCurves

    Notes
    -----
    Method and source: ``norms.statistics.registration``.
    """
    out = curves_cm.copy()
    own = np.tile(np.arange(NODES, dtype=float), (len(curves_cm), 1))
    before, after = np.zeros((2, len(PHASES), len(AXES)))
    for k in range(len(PHASES)):
        first = k * (NODES_PER_PHASE - 1)
        nodes = slice(first, first + NODES_PER_PHASE)
        phase = register(curves_cm[:, :, nodes])
        out[:, :, nodes] = phase.curves
        own[:, nodes] = first + (NODES_PER_PHASE - 1) * phase.own_time
        before[k], after[k] = phase.variance_before, phase.variance_after
    return RegisteredCurves(
        curves_cm=out,
        own_nodes=own,
        removed_share=_removed(before.sum(axis=0), after.sum(axis=0)),
        removed_share_by_phase=_removed(before, after),
    )


def _removed(before: FloatArray, after: FloatArray) -> FloatArray:
    """Share removed; none where there is no variance beyond rounding, cm^2 summed over nodes."""
    some = before > 1e-12
    return np.asarray(np.where(some, 1.0 - after / np.where(some, before, 1.0), 0.0))
