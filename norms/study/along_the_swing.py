"""Where along the swing the curves, and their rates, go with speed."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from norms.records.study import PARTS, Along, StudyFrame, StudyPlan
from norms.records.study_answer import AlongSwing
from norms.statistics.functional_mixed import CoefficientCurves, fit_coefficient_curves
from norms.statistics.permutation import MaxTTest
from norms.statistics.regression_permutation import between_curve_test, within_curve_test
from norms.statistics.within_between import Parts, within_and_between
from norms.study.design import Design
from norms.vocabulary import AXES, NODES

FloatArray = NDArray[np.float64]

LEAST_SPREAD: Final = 0.05
"""Share of an axis's greatest spread below which a node is not asked: every curve is zero at the
start by definition, and there is nothing to go with anything."""
_AXIS_SLICES: Final = tuple(slice(a * NODES, (a + 1) * NODES) for a in range(len(AXES)))


def along_the_swing(
    frame: StudyFrame, plan: StudyPlan, design: Design, rng: np.random.Generator
) -> tuple[AlongSwing, ...]:
    """Coefficient curves with joint bands, and one permutation test over everything asked.

    Parameters
    ----------
    frame : StudyFrame
        With the curves, or rates, that the plan asks for; what it lacks is not followed.
    plan : StudyPlan
    design : Design
    rng : numpy.random.Generator
    """
    kinds = [kind for kind in plan.along if _values(frame, kind) is not None]
    if not kinds:
        return ()
    parts = {kind: _parts(frame, kind, design) for kind in kinds}
    tests = _tests(plan, design, [parts[kind] for kind in kinds], rng)
    answers = []
    for place, kind in enumerate(kinds):
        curves = fit_coefficient_curves(
            design.outcome_mps,
            design.shared,
            parts[kind],
            design.golfers,
            rng,
            stretches=_AXIS_SLICES,
        )
        for part, test in enumerate(tests):
            answers.append(_answer(kind, part, curves, parts[kind], test, place))
    return tuple(answers)


def _values(frame: StudyFrame, kind: Along) -> FloatArray | None:
    return frame.curves_cm if kind == "curves" else frame.rates_cm_s


def _parts(frame: StudyFrame, kind: Along, design: Design) -> Parts:
    """Within and between parts of all 903 nodes; nodes of next to no spread are zero."""
    values = _values(frame, kind)
    assert values is not None
    flat = values[design.rows].reshape(len(design.rows), -1)
    parts = within_and_between(flat, design.golfers, design.clubs)
    return Parts(within=_without_flat(parts.within), between=_without_flat(parts.between))


def _without_flat(part: FloatArray) -> FloatArray:
    spread = part.std(axis=0)
    greatest = np.repeat([spread[axis].max() for axis in _AXIS_SLICES], NODES)
    return np.where(spread > LEAST_SPREAD * greatest, part, 0.0)


def _tests(
    plan: StudyPlan, design: Design, parts: Sequence[Parts], rng: np.random.Generator
) -> tuple[MaxTTest, MaxTTest]:
    """Tests within and between golfers, each over every node of every kind together."""
    every = Parts(
        within=np.concatenate([one.within for one in parts], axis=1),
        between=np.concatenate([one.between for one in parts], axis=1),
    )
    shared, count = design.shared, plan.relabellings
    within = within_curve_test(
        design.outcome_mps,
        shared,
        every,
        design.golfers,
        design.clubs,
        rng,
        relabellings=count,
        level=plan.level,
    )
    between = between_curve_test(
        design.outcome_mps,
        shared,
        every,
        design.golfers,
        rng,
        relabellings=count,
        level=plan.level,
    )
    return within, between


def _answer(
    kind: Along, part: int, curves: CoefficientCurves, parts: Parts, test: MaxTTest, place: int
) -> AlongSwing:
    size = len(AXES) * NODES
    mine = slice(place * size, (place + 1) * size)
    t, node_p = test.t[mine], test.node_p_values[mine]
    low, high = curves.limits()
    own = parts.within if part == 0 else parts.between
    largest = int(np.nanargmax(np.abs(t)))
    shape = (len(AXES), NODES)
    return AlongSwing(
        kind=kind,
        part=PARTS[part],
        value=curves.value[part].reshape(shape),
        low=low[part].reshape(shape),
        high=high[part].reshape(shape),
        spread=own.std(axis=0).reshape(shape),
        t=t.reshape(shape),
        node_p=node_p.reshape(shape),
        p_value=float(np.nanmin(node_p)),
        critical=test.critical,
        relabellings=test.relabellings,
        axis=AXES[largest // NODES],
        node=largest % NODES,
        unsettled=curves.unsettled,
        singular=curves.singular,
    )
