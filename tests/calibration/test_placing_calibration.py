"""Small-sample flags, percentile intervals and real changes, over many invented golfers.

The noise budget is estimated from each invented pool, as it is in an edition. Run with
``-m slow``; the tables are kept in results/single_case.csv, sure_places.csv and real_change.csv.
"""

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from norms.cohort.measurement_error import measurement_error
from norms.placement.progress import Spread, change_bars, is_real
from norms.placement.sure_place import both_uncertainties
from norms.records import SwingPool
from norms.statistics.single_case import single_case
from norms.swing.catalogue import FEATURE_NAMES

pytestmark = pytest.mark.slow

RESULTS = Path(__file__).parent / "results"
SEED = 20260
POOLS = 60
NEWCOMERS = 40
GOLFER, DAY, SWING = 1.0, 0.4, 0.6
DAYS = (date(2025, 5, 1), date(2025, 8, 1), date(2026, 5, 1))


def keep(name, rows):
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / name).write_text("\n".join(rows) + "\n", encoding="utf-8")


def test_small_sample_flags_are_five_percent():
    rng = np.random.default_rng(SEED)
    rows = ["golfers,single case,plain z"]
    for n in (5, 10, 20):
        group, case = rng.normal(size=(n, 200_000)), rng.normal(size=200_000)
        exact = (single_case(case, group).p < 0.05).mean()
        z = (case - group.mean(axis=0)) / group.std(axis=0, ddof=1)
        plain = (np.abs(z) > 1.959964).mean()
        rows.append(f"{n},{exact:.4f},{plain:.4f}")
        assert exact == pytest.approx(0.05, abs=0.007)
        # The plain z is a t that is read as a normal and lacks the mean's own error.
        expected = 2 * stats.t.sf(1.959964 / np.sqrt(1 + 1 / n), n - 1)
        assert plain == pytest.approx(expected, abs=0.003)
    keep("single_case.csv", rows)


def true_values(rng, shape, skewed):
    return GOLFER * (rng.exponential(size=shape) - 1.0 if skewed else rng.normal(size=shape))


def session(rng, own, swings):
    """Mean of a session of so many swings of golfers with these long-run values."""
    noise = DAY * rng.normal(size=own.shape) + SWING / np.sqrt(swings) * rng.normal(size=own.shape)
    return own + noise


def pool_of(rng, golfers, skewed):
    """Three days of two swings of each golfer; every feature is another invented measure."""
    d = len(FEATURE_NAMES)
    own = true_values(rng, (golfers, d), skewed)
    days = own[:, None] + DAY * rng.normal(size=(golfers, 3, d))
    swings = days[:, :, None] + SWING * rng.normal(size=(golfers, 3, 2, d))
    features = swings.reshape(-1, d)
    codes = [f"Q{i:04d}" for i in range(golfers) for _ in range(6)]
    pool = SwingPool(
        swings=tuple(f"S{i:05d}" for i in range(len(codes))),
        golfers=tuple(codes),
        clubs=("driver",) * len(codes),
        labs=("North bay",) * len(codes),
        recorded_on=tuple(DAYS[i // 2 % 3] for i in range(len(codes))),
        curves_cm=np.zeros((len(codes), 3, 301)),
        feature_names=FEATURE_NAMES,
        features=features,
    )
    return pool, features.reshape(golfers, 6, d).mean(axis=1)


def population(skewed):
    """Golfers' means as an edition of endless golfers would hold them."""
    rng = np.random.default_rng(1)
    many = true_values(rng, 400_000, skewed)
    noise = np.sqrt(DAY**2 / 3 + SWING**2 / 6)
    return np.sort(many + noise * rng.normal(size=many.shape))


@pytest.mark.parametrize("skewed", [False, True])
def test_percentile_intervals_cover(skewed):
    rng = np.random.default_rng(SEED + 1 + skewed)
    everyone = population(skewed)
    rows, means = [], {}
    for golfers in (20, 60, 200):
        hits = {1: [], 5: []}
        for _ in range(POOLS if golfers < 200 else POOLS // 3):
            pool, peers = pool_of(rng, golfers, skewed)
            noise = measurement_error(pool, "driver")
            for _ in range(NEWCOMERS):
                own = true_values(rng, len(FEATURE_NAMES), skewed)
                truth = np.searchsorted(everyone, own) / len(everyone)
                for m in hits:
                    value = session(rng, own, m)
                    error = np.sqrt(noise.day_sd**2 + noise.swing_sd**2 / m)
                    _, low, high = both_uncertainties(value, 1.6448536 * error, peers)
                    hits[m].append((low <= truth) & (truth <= high))
        for m, found in hits.items():
            means[golfers, m] = float(np.mean(found))
            kind = "skewed" if skewed else "normal"
            rows.append(f"{kind},{golfers},{m},{means[golfers, m]:.4f}")
    name = "sure_places_skewed.csv" if skewed else "sure_places.csv"
    keep(name, ["golfers' values,golfers,swings,coverage", *rows])
    for covered in means.values():
        assert 0.88 <= covered <= 0.93


def test_a_golfer_who_has_not_changed_is_told_real_in_five_percent():
    rng = np.random.default_rng(SEED + 3)
    told = {"all": [], "extreme": [], "usual": []}
    plain = {"extreme": []}
    for _ in range(POOLS):
        pool, peers = pool_of(rng, 80, skewed=False)
        noise = measurement_error(pool, "driver")
        for _ in range(NEWCOMERS):
            own = true_values(rng, len(FEATURE_NAMES), skewed=False)
            first, last = session(rng, own, 1), session(rng, own, 3)
            for at in range(len(FEATURE_NAMES)):
                spread = Spread(
                    golfer=noise.golfer_sd[at], day=noise.day_sd[at], swing=noise.swing_sd[at],
                    mean=peers[:, at].mean(),
                )  # fmt: skip
                bars = change_bars(first[at], spread, (1, 3))
                real = is_real(last[at] - first[at], bars)
                z = abs(first[at]) / np.sqrt(GOLFER**2 + DAY**2 + SWING**2)
                told["all"].append(real)
                told["extreme" if z > stats.norm.ppf(0.95) else "usual"].append(real)
                if z > stats.norm.ppf(0.95):
                    sd = np.sqrt(2 * DAY**2 + SWING**2 * (1 + 1 / 3))
                    plain["extreme"].append(abs(last[at] - first[at]) > 1.96 * sd)
    rates = {kind: float(np.mean(found)) for kind, found in told.items()}
    keep(
        "real_change.csv",
        ["first session,pairs,share told real"]
        + [f"{kind},{len(told[kind])},{rate:.4f}" for kind, rate in rates.items()]
        + [f"extreme by the smallest detectable change alone,{len(plain['extreme'])},"
           f"{np.mean(plain['extreme']):.4f}"],
    )  # fmt: skip
    assert rates["all"] == pytest.approx(0.05, abs=0.015)
    assert rates["extreme"] == pytest.approx(0.05, abs=0.015)
