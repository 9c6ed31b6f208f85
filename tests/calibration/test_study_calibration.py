"""How often a study errs where there is nothing, and how often its intervals hold the truth.

Invented golfers with unequal numbers of swings. Run with ``-m slow``; tables are kept in
results/study_effects.csv and results/study_along.csv.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from norms.statistics.cluster_robust import group_sums, robust_estimate
from norms.statistics.functional_mixed import fit_coefficient_curves
from norms.statistics.mixed_models import fit_random_intercepts
from norms.statistics.mixed_slopes import fit_random_slope
from norms.statistics.regression_permutation import between_curve_test, within_curve_test
from norms.statistics.within_between import within_and_between

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results"
SEED = 20266
COHORTS = 1_000
FEATURES = 8
CURVE_COHORTS = 2_000
BAND_COHORTS = 500
RELABELLINGS = 199
WITHIN, BETWEEN = 0.4, -0.7
NODES = np.linspace(0, 1, 61)
WAVES = np.stack([np.sin((k + 1) * 2 * NODES + k) for k in range(6)])


def invented(golfers, golfer_sd, rng, columns=FEATURES, slope_sd=0.0):
    counts = rng.integers(1, 13, golfers)
    code = np.repeat(np.arange(golfers), counts)
    x = rng.normal(size=(golfers, columns))[code] + 0.6 * rng.normal(size=(len(code), columns))
    age = rng.normal(size=golfers)[code]
    parts = within_and_between(x, code, np.zeros(len(code)))
    noise = golfer_sd * rng.normal(size=golfers)[code] + rng.normal(size=len(code)) + 0.8 * age
    noise += slope_sd * rng.normal(size=golfers)[code] * parts.within[:, 0]
    return code, np.column_stack([np.ones(len(code)), age]), x, parts, noise


def pooled_p(x, y, shared):
    design = np.column_stack([shared, x])
    fixed = np.linalg.lstsq(design, y, rcond=None)[0]
    rest = len(y) - design.shape[1]
    variance = ((y - design @ fixed) ** 2).sum() / rest
    error = np.sqrt(variance * np.linalg.inv(design.T @ design)[-1, -1])
    return 2 * stats.t.sf(abs(fixed[-1] / error), rest)


def robust_within(y, shared, parts, code, fit, place=0):
    """The within effect of one model, its error robust by golfer, as studies state it."""
    sums = group_sums(
        y,
        np.column_stack([shared, parts.within[:, place], parts.between[:, place]]),
        np.ones((len(y), 1)),
        [[fit.group_variance[place]]],
        fit.residual_variance[place],
        code,
        fit.fixed[place],
    )
    return robust_estimate(sums, [0, 0, 1, 0])


def test_false_positives_and_coverage_of_within_and_between_effects():
    rng = np.random.default_rng(SEED)
    lines = [
        "golfers,golfer_sd,fits,pooled_false_pct,within_false_pct,between_false_pct,"
        "within_covered_pct,between_covered_pct,singular_pct"
    ]
    rows = []
    for golfers, golfer_sd in ((25, 3.0), (60, 3.0), (60, 1.0), (250, 3.0)):
        pooled, false, covered, singular = [], [], [], []
        for _ in range(COHORTS):
            code, shared, x, parts, noise = invented(golfers, golfer_sd, rng)
            own = np.stack([parts.within, parts.between], axis=2)
            null = fit_random_intercepts(noise, shared, own, code)
            within = [
                robust_within(noise, shared, parts, code, null, place).p_value[0]
                for place in range(FEATURES)
            ]
            false.append([np.array(within) <= 0.05, null.effect(3).p_value <= 0.05])
            pooled.append(pooled_p(x[:, 0], noise, shared) <= 0.05)
            singular.append(null.singular.mean())
            y = noise + WITHIN * parts.within[:, 0] + BETWEEN * parts.between[:, 0]
            fit = fit_random_intercepts(y, shared, own[:, :1], code)
            both = robust_within(y, shared, parts, code, fit), fit.effect(3)
            for one, truth in zip(both, (WITHIN, BETWEEN), strict=True):
                low, high = one.interval()
                covered.append(bool(low[0] <= truth <= high[0]))
        rates = 100 * np.array(false).mean(axis=(0, 2))
        held = 100 * np.array(covered).reshape(-1, 2).mean(axis=0)
        rows.append((100 * np.mean(pooled), *rates, *held))
        numbers = ",".join(f"{value:.2f}" for value in rows[-1])
        lines.append(
            f"{golfers},{golfer_sd},{COHORTS * FEATURES},{numbers},{100 * np.mean(singular):.2f}"
        )
    (RESULTS / "study_effects.csv").write_text("\n".join(lines) + "\n")
    table = np.array(rows)
    assert table[:, 0].min() > 20
    assert np.abs(table[:, 1:3] - 5).max() <= 1
    assert table[:, 3:].min() >= 93.5
    assert table[:, 3:].max() <= 96.5


def test_coverage_where_golfers_differ_in_their_own_slopes():
    rng = np.random.default_rng(SEED + 1)
    covered = {"random slope": [], "one slope for all": []}
    cohorts = 600
    for _ in range(cohorts):
        code, shared, _, parts, noise = invented(60, 2.0, rng, columns=1, slope_sd=0.8)
        y = noise + WITHIN * parts.within[:, 0]
        design = np.column_stack([shared, parts.within, parts.between])
        slope = fit_random_slope(y, design, parts.within[:, 0], code)
        if slope.singular or not np.isfinite(slope.freedom).all():
            continue
        reach = stats.t.ppf(0.975, slope.freedom[2]) * slope.standard_error[2]
        covered["random slope"].append(abs(slope.fixed[2] - WITHIN) <= reach)
        own = np.stack([parts.within, parts.between], axis=2)
        low, high = fit_random_intercepts(y, shared, own, code).effect(2).interval()
        covered["one slope for all"].append(low[0] <= WITHIN <= high[0])
    lines = ["model,fits,covered_pct"]
    lines += [f"{name},{len(held)},{100 * np.mean(held):.2f}" for name, held in covered.items()]
    (RESULTS / "study_slopes.csv").write_text("\n".join(lines) + "\n")
    assert len(covered["random slope"]) > 0.9 * cohorts
    # 600 cohorts: two standard errors of a coverage of 95 % are 1.8 points.
    assert 93.2 <= 100 * np.mean(covered["random slope"]) <= 96.8
    assert np.mean(covered["one slope for all"]) < np.mean(covered["random slope"])


TIED_COHORTS = 2_000


def tied(golfers, days, slopes, rng):
    """Golfers of 1 to 12 swings on up to three days, a within effect of `WITHIN`."""
    code = np.repeat(np.arange(golfers), rng.integers(1, 13, golfers))
    day = np.unique(code * 3 + rng.integers(0, 3, len(code)), return_inverse=True)[1]
    x = rng.normal(size=(golfers, 1))[code] + 0.6 * rng.normal(size=(len(code), 1))
    age = rng.normal(size=golfers)[code]
    y = 3 * rng.normal(size=golfers)[code] + rng.normal(size=len(code)) + 0.8 * age
    if days:
        x = x + 0.6 * rng.normal(size=(day.max() + 1, 1))[day]
        y = y + rng.normal(size=day.max() + 1)[day]
    parts = within_and_between(x, code, np.zeros(len(code)))
    own = WITHIN + (0.8 * rng.normal(size=golfers)[code] if slopes else 0.0)
    y = y + own * parts.within[:, 0]
    return y, np.column_stack([np.ones(len(code)), age]), parts, code


def test_coverage_where_days_or_own_slopes_tie_swings_together():
    """The within effect of a random-intercept model, its error robust by golfer."""
    rng = np.random.default_rng(SEED + 3)
    lines = [
        "swings_tied_by,golfers,cohorts,robust_covered_pct,model_covered_pct,standard_error_pct"
    ]
    robust = []
    for golfers in (8, 15, 40):
        for words, days, slopes in (
            ("nothing", False, False),
            ("days", True, False),
            ("own slopes", False, True),
            ("days and own slopes", True, True),
        ):
            covered = []
            for _ in range(TIED_COHORTS):
                y, shared, parts, code = tied(golfers, days, slopes, rng)
                own = np.stack([parts.within, parts.between], axis=2)
                fit = fit_random_intercepts(y, shared, own, code)
                both = robust_within(y, shared, parts, code, fit), fit.effect(2)
                limits = [one.interval() for one in both]
                covered.append([bool(low[0] <= WITHIN <= high[0]) for low, high in limits])
            share, model = 100 * np.mean(covered, axis=0)
            error = np.sqrt(share * (100 - share) / TIED_COHORTS)
            robust.append(share)
            lines.append(f"{words},{golfers},{TIED_COHORTS},{share:.2f},{model:.2f},{error:.2f}")
    (RESULTS / "study_tied.csv").write_text("\n".join(lines) + "\n")
    # Within 93.5 to 96.5, with two Monte-Carlo errors of half a point.
    assert min(robust) >= 92.5
    assert max(robust) <= 97.5


def invented_curves(golfers, rng, *, days):
    """Curves and speeds without any effect; with days, swings of a day are alike in both."""
    counts = rng.integers(1, 13, golfers)
    code = np.repeat(np.arange(golfers), counts)
    swings = len(code)
    part = rng.normal(size=(golfers, 6))[code] + 0.5 * rng.normal(size=(swings, 6))
    y = 3 * rng.standard_t(5, size=golfers)[code] + rng.normal(size=swings)
    if days:
        day = code * 3 + rng.integers(0, 3, swings)
        day = np.unique(day, return_inverse=True)[1]
        part = part + 0.5 * rng.normal(size=(day.max() + 1, 6))[day]
        y = y + rng.normal(size=day.max() + 1)[day]
    age = rng.normal(size=golfers)[code]
    parts = within_and_between(part @ WAVES, code, np.zeros(swings))
    return y + age, np.column_stack([np.ones(swings), age]), parts, code


def test_curve_tests_find_something_in_5_percent_of_cohorts_without_effect():
    rng = np.random.default_rng(SEED + 2)
    lines = ["test,golfers,swings_of_a_day_alike,cohorts,false_pct,standard_error_pct"]
    shares = []
    for golfers, days in ((30, False), (60, False), (60, True)):
        false = []
        for _ in range(CURVE_COHORTS):
            y, shared, parts, code = invented_curves(golfers, rng, days=days)
            strata = np.zeros(len(code))
            within = within_curve_test(
                y, shared, parts, code, strata, rng, relabellings=RELABELLINGS
            )
            between = between_curve_test(y, shared, parts, code, rng, relabellings=RELABELLINGS)
            false.append([within.p_value <= 0.05, between.p_value <= 0.05])
        for name, share in zip(("within", "between"), 100 * np.mean(false, axis=0), strict=True):
            error = np.sqrt(share * (100 - share) / CURVE_COHORTS)
            shares.append(share)
            lines.append(f"{name},{golfers},{days},{CURVE_COHORTS},{share:.2f},{error:.2f}")
    bands = band_lines(rng)
    (RESULTS / "study_along.csv").write_text("\n".join([*lines, *bands]) + "\n")
    assert min(shares) >= 3.5
    assert max(shares) <= 6.5
    # A joint band of 95 %: it takes the larger of two standard errors and may be a little wide.
    assert max(float(line.split(",")[4]) for line in bands) <= 6.5


def band_lines(rng):
    """How often the joint band holds the whole coefficient curve, which is zero here."""
    lines = []
    for golfers in (60, 200):
        held = []
        for _ in range(BAND_COHORTS):
            y, shared, parts, code = invented_curves(golfers, rng, days=False)
            stretch = (slice(0, len(NODES)),)
            low, high = fit_coefficient_curves(
                y, shared, parts, code, rng, stretches=stretch
            ).limits()
            held.append(((low <= 0) & (high >= 0)).all(axis=1))
        for name, share in zip(("within", "between"), 100 * np.mean(held, axis=0), strict=True):
            error = np.sqrt(share * (100 - share) / BAND_COHORTS)
            lines.append(
                f"joint band {name},{golfers},False,{BAND_COHORTS},{100 - share:.2f},{error:.2f}"
            )
    return lines
