"""What a study cannot say: what may cause what, what was not measured, what one lab carries."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from norms.records.study import StudyFrame, StudyPlan
from norms.records.study_answer import WithoutLab
from norms.statistics.mixed_models import MixedFits
from norms.statistics.within_between import within_and_between
from norms.study.design import Design
from norms.study.export import recoded_labs
from norms.study.feature_models import fit_features

ALWAYS_UNMEASURED = (
    "strength and speed of the body",
    "mobility of hips and back",
    "practice and coaching",
    "where the ball met the face",
    "effort asked of the swing",
)
"""No table of this kind holds them, and each may move both pelvis and ball."""


def adjusted_for(plan: StudyPlan, clubs: int) -> str:
    """What effects are adjusted for, in words; a club only where there are several."""
    names = [name.replace("_", " ") for name in plan.covariates]
    return ", ".join(["club", *names] if clubs > 1 else names) or "nothing"


def causal_sketch(plan: StudyPlan, clubs: int) -> tuple[str, ...]:
    """What may cause what in a study of so many clubs, in sentences that a reader can dispute."""
    outcome = plan.outcome.replace("_", " ")
    lines = [
        f"The pelvis may act on {outcome}; so may strength, mobility and practice, which also "
        "shape how the pelvis moves. A between-golfer effect mixes all of these.",
        "Within a golfer, body and build are the same in every swing; effort, fatigue, the day "
        "and where the face met the ball are not, and may move both pelvis and ball.",
        f"Adjusted for: {adjusted_for(plan, clubs)}. These may act on both sides; what is not "
        "named here is not taken out.",
    ]
    if "club_speed" in plan.covariates:
        lines.append(
            "Club speed stands between pelvis and ball: adjusting for it takes out the very way "
            "by which the pelvis would act, and leaves what remains of it."
        )
    if "handicap" in plan.covariates:
        lines.append(
            "Handicap may be a consequence of ball speed: adjusting for it can hide an effect or "
            "make one."
        )
    return tuple(lines)


def unmeasured(plan: StudyPlan) -> tuple[str, ...]:
    """Confounders that were not measured: those of any such table, and the plan's own."""
    return (*ALWAYS_UNMEASURED, *plan.confounders)


def without_each_lab(
    frame: StudyFrame, design: Design, columns: Sequence[int]
) -> tuple[WithoutLab, ...]:
    """Slopes of every feature with each lab left out in turn; nothing where there is one lab.

    Labs are called as in the analysis frame.
    """
    identifiers = recoded_labs(frame.labs)
    labs = np.array(frame.labs)[design.rows]
    if len(set(labs.tolist())) < 2:
        return ()
    found = []
    for lab in sorted(set(labs.tolist())):
        kept = labs != lab
        golfers = np.unique(design.golfers[kept], return_inverse=True)[1]
        part = replace(
            design,
            rows=design.rows[kept],
            outcome_mps=design.outcome_mps[kept],
            shared=design.shared[kept],
            golfers=golfers,
            clubs=design.clubs[kept],
        )
        values = frame.features[part.rows][:, list(columns)]
        parts = within_and_between(values, part.golfers, part.clubs)
        # A feature kept apart in the labs that are left has no value there.
        fits = fit_features(part, parts) if np.isfinite(values).any() else None
        found += [
            _without_lab(identifiers[lab], frame.feature_names[column], fits, place)
            for place, column in enumerate(columns)
        ]
    return tuple(found)


def _without_lab(lab: str, feature: str, fits: MixedFits | None, place: int) -> WithoutLab:
    if fits is None:
        return WithoutLab(lab=lab, feature=feature, golfers=0, within=None, between=None)
    within, between = fits.fixed[place, -2:]
    return WithoutLab(
        lab=lab,
        feature=feature,
        golfers=int(fits.groups[place]),
        within=float(within) if np.isfinite(within) else None,
        between=float(between) if np.isfinite(between) else None,
    )
