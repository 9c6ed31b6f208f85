"""How often patterns are found where there are some, and where there are none.

Golfers' scores are Gaussian about one centre or four; days and swings are noise about them. Run
with ``-m slow``; the table is kept in results/patterns.csv.
"""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from norms.cohort.club_components import fit_club_components
from norms.cohort.club_swings import CohortSwings
from norms.cohort.frozen_shapes import NONE_FITS, mixture_of
from norms.cohort.pattern_search import PatternChoices
from norms.cohort.patterns import find_patterns
from norms.cohort.profile_parts import parts_of
from norms.cohort.typicality import fit_typicality
from norms.placement.pattern_names import plain_name
from norms.placement.whole_swing import nearest_handicap
from norms.records import Cohort, CohortDefinition
from norms.statistics.conformal import conformal_p
from norms.synthetic.shaped_club import (
    SHAPED_FEATURES,
    SHAPES,
    ShapedPlan,
    centres_apart,
    curves_of_scores,
    shape_club,
)

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results"
GAUSSIAN_COHORTS = 100
SEPARATED_COHORTS = 10
TYPICALITY_COHORTS = 150
NEWCOMERS = 20
SEED = 20260


def club(rng, plan, centres=None):
    drawn = shape_club(rng, plan, centres)
    n, per = plan.golfers, plan.sessions * plan.swings
    cohort = Cohort(
        definition=CohortDefinition(key="driver/all", club="driver"),
        golfers=tuple(f"Q{i:04d}" for i in range(n)),
        swing_counts=np.full(n, per),
        curves_cm=drawn.curves_cm.reshape(n, per, 3, 301).mean(axis=1),
        feature_names=SHAPED_FEATURES,
        features=drawn.features.reshape(n, per, -1).mean(axis=1),
    )
    return drawn, cohort, CohortSwings(drawn.golfer, drawn.session, drawn.levels, drawn.curves_cm)


def patterns_of(cohort, swings):
    components = fit_club_components(cohort, swings, {})
    return components, find_patterns(cohort, swings, components, PatternChoices(), plain_name)


def keep(name, rows):
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / name).write_text("\n".join(rows) + "\n", encoding="utf-8")


def test_patterns_are_found_where_there_are_some_and_only_there():
    rng = np.random.default_rng(SEED)
    from sklearn.metrics import adjusted_rand_score

    plan = ShapedPlan(golfers=160)
    none = 0
    for _ in range(GAUSSIAN_COHORTS):
        _, cohort, swings = club(rng, plan)
        none += not patterns_of(cohort, swings)[1].found
    agreements = []
    for _ in range(SEPARATED_COHORTS):
        drawn, cohort, swings = club(rng, plan, centres_apart(7.0))
        found = patterns_of(cohort, swings)[1]
        agreements.append(adjusted_rand_score(drawn.pattern, found.memberships.argmax(axis=1)))
    keep(
        "patterns.csv",
        [
            "cohorts,kind,measure,value",
            f"{GAUSSIAN_COHORTS},one Gaussian cloud,no types,{none}",
            f"{SEPARATED_COHORTS},four patterns 7 spreads apart,least adjusted Rand,"
            f"{min(agreements):.3f}",
            f"{SEPARATED_COHORTS},four patterns 7 spreads apart,mean adjusted Rand,"
            f"{np.mean(agreements):.3f}",
        ],
    )
    assert none >= 95
    assert min(agreements) >= 0.9


def test_typicality_is_uniform_for_new_members_and_small_for_strangers():
    rng = np.random.default_rng(SEED + 1)
    plan = ShapedPlan(golfers=60, level_shift=0.0)
    ps, strangers = {1: [], 3: []}, []
    for _ in range(TYPICALITY_COHORTS):
        _, cohort, swings = club(rng, plan)
        found = fit_typicality(cohort, swings, smallest_cell=5, seed=int(rng.integers(2**31)))
        mean = cohort.curves_cm.mean(axis=0)
        own = rng.normal(size=(NEWCOMERS, SHAPES))
        day = plan.day_sd * rng.normal(size=(NEWCOMERS, SHAPES))
        for place, m in ((0, 1), (2, 3)):
            seen = own + day + plan.swing_sd / np.sqrt(m) * rng.normal(size=(NEWCOMERS, SHAPES))
            overall = parts_of(curves_of_scores(seen) - mean).overall
            ps[m] += [conformal_p(one, found.overall_cm[place]) for one in overall]
        strange = curves_of_scores(own + day) + 20.0 * np.linspace(0, 1, 301)
        strangers += [
            conformal_p(one, found.overall_cm[0]) for one in parts_of(strange - mean).overall
        ]
    rows = ["swings,share of new members with p at or below,nominal,share"]
    for m, found in ps.items():
        for nominal in (0.05, 0.1, 0.25, 0.5, 0.75, 0.9):
            share = float(np.mean(np.array(found) <= nominal))
            rows.append(f"{m},p,{nominal},{share:.4f}")
    rows.append(f"1,largest p of a swing of a kind absent,,{max(strangers):.4f}")
    keep("typicality.csv", rows)
    for found in ps.values():
        for nominal in (0.05, 0.1, 0.25, 0.5, 0.75, 0.9):
            share = np.mean(np.array(found) <= nominal)
            # A grid of 61 values, and cohorts that share golfers: a standard error near 0.01.
            assert nominal - 0.045 <= share <= nominal + 0.03
    assert max(strangers) < 0.02


def test_none_fits_is_said_of_new_members_as_often_as_stated():
    rng = np.random.default_rng(SEED + 2)
    plan = ShapedPlan(golfers=100, level_shift=0.0)
    said, asked, strange = 0, 0, 0
    for _ in range(40):
        _, cohort, swings = club(rng, plan)
        components, found = patterns_of(cohort, swings)
        shift = components.level_shifts.mean(axis=0)
        own = rng.normal(size=(NEWCOMERS, SHAPES))
        seen = own + np.hypot(plan.day_sd, plan.swing_sd) * rng.normal(size=own.shape)
        mixture, noise = mixture_of(found), components.noise(1)
        for curves, counts in ((curves_of_scores(seen), True), (curves_of_scores(seen + 8), False)):
            density = -mixture.log_density(components.scores(curves) - shift, noise)
            hits = sum(conformal_p(one, found.strangeness[0]) <= NONE_FITS for one in density)
            if counts:
                said, asked = said + hits, asked + NEWCOMERS
            else:
                strange += hits
    keep(
        "none_fits.csv",
        ["kind,asked,share told that none fits", f"new members,{asked},{said / asked:.4f}",
         f"swings of a kind absent,{asked},{strange / asked:.4f}"],
    )  # fmt: skip
    assert 0.02 <= said / asked <= 0.08
    assert strange / asked >= 0.95


def test_interval_of_the_nearest_handicap_covers():
    rng = np.random.default_rng(SEED + 3)
    plan = ShapedPlan(golfers=120, level_shift=0.0)
    slope = np.array([0.8, -0.5, 0.0, 0.3, 0.0])
    hits, widths = [], []
    for _ in range(60):
        drawn = shape_club(rng, plan)
        handicaps = rng.uniform(0, 30, plan.golfers)
        trend = curves_of_scores(slope * ((handicaps - 15) / 8)[:, None])
        curves = drawn.curves_cm + trend[drawn.golfer]
        per = plan.sessions * plan.swings
        codes = tuple(f"Q{i:04d}" for i in range(plan.golfers))
        cohort = Cohort(
            definition=CohortDefinition(key="driver/all", club="driver"),
            golfers=codes,
            swing_counts=np.full(plan.golfers, per),
            curves_cm=curves.reshape(plan.golfers, per, 3, 301).mean(axis=1),
            feature_names=(),
            features=np.empty((plan.golfers, 0)),
        )
        swings = CohortSwings(drawn.golfer, drawn.session, drawn.levels, curves)
        known = dict(zip(codes, handicaps.tolist(), strict=True))
        components = fit_club_components(cohort, swings, known)
        for truth in rng.uniform(3, 27, NEWCOMERS):
            own = rng.normal(size=SHAPES) + slope * (truth - 15) / 8
            seen = own + np.hypot(plan.day_sd, plan.swing_sd) * rng.normal(size=SHAPES)
            mean = SimpleNamespace(
                swing=SimpleNamespace(curve=SimpleNamespace(values_cm=curves_of_scores(seen))),
                codes=("one",),
                days=1,
            )
            found = nearest_handicap(mean, components)
            hits.append(found.low <= truth <= found.high)
            widths.append(found.high - found.low)
    keep(
        "nearest_handicap.csv",
        ["newcomers,swings,coverage,mean width in strokes",
         f"{len(hits)},1,{np.mean(hits):.4f},{np.mean(widths):.2f}"],
    )  # fmt: skip
    assert 0.87 <= np.mean(hits) <= 0.95
