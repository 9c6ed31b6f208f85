from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.pattern_search import PatternChoices
from norms.errors import CohortRefused
from norms.statistics.quantiles import quantiles
from norms.study.feature_cohort import (
    feature_bands,
    feature_partition,
    feature_patterns,
    golfer_features,
    need_curves,
)


def test_golfers_count_once_with_their_mean(make_frame):
    frame = make_frame()
    golfers, features = golfer_features(frame)
    assert golfers == tuple(sorted(set(frame.golfers)))
    own = [code == golfers[3] for code in frame.golfers]
    assert features[3] == pytest.approx(frame.features[own].mean(axis=0))


def test_a_feature_that_a_golfer_never_has_is_missing_for_the_golfer(make_frame):
    frame = make_frame()
    features = frame.features.copy()
    own = np.array([code == "Q0002" for code in frame.golfers])
    features[own, 1] = np.nan
    golfers, means = golfer_features(replace(frame, features=features))
    assert np.isnan(means[golfers.index("Q0002"), 1])
    assert np.isfinite(means[:, 0]).all()


def test_bands_are_percentiles_of_golfers_with_their_counts(make_frame):
    frame = make_frame(golfers=80)
    bands = feature_bands(frame)
    _, means = golfer_features(frame)
    assert bands.golfers.tolist() == [80] * 4
    assert bands.value[3] == pytest.approx(quantiles(means, [50.0])[0])
    assert (bands.low[3] < bands.value[3]).all()


def test_too_few_golfers_show_no_bands(make_frame):
    with pytest.raises(CohortRefused, match="4 golfers"):
        feature_bands(make_frame(golfers=4))


def test_a_partition_tells_the_feature_that_differs_from_those_that_do_not(make_frame):
    frame = make_frame(golfers=120)
    features = frame.features.copy()
    features[:, 1] += 4.0 * frame.golfer_facts["sex"]
    found = feature_partition(replace(frame, features=features), "sex")
    verdicts = {one.feature: one.verdict for one in found}
    assert verdicts["lift_rise"] == "own"
    assert verdicts["sway_travel"] != "own"
    with pytest.raises(CohortRefused, match="does not hold it"):
        feature_partition(frame, "left_handed")


def test_patterns_are_found_where_golfers_form_families_and_not_in_one_cloud(make_frame):
    choices = PatternChoices(most=3, simulations=39, resamples=20, cloud_level=0.05, starts=6)
    frame = make_frame(golfers=60)
    cloud = feature_patterns(frame, choices)
    assert cloud.patterns == 1
    assert "One cloud" in cloud.reason
    golfer = np.array([int(code[1:]) for code in frame.golfers])
    features = frame.features + 12.0 * (golfer % 2)[:, None] * np.array([1.0, -1.0, 1.0, 0.0])
    families = feature_patterns(replace(frame, features=features), choices)
    assert families.patterns == 2
    labels = families.memberships.argmax(axis=1)
    truth = np.array([int(code[1:]) % 2 for code in families.golfers])
    assert len(set(labels[truth == 0])) == 1
    assert labels[truth == 0][0] != labels[truth == 1][0]


def test_what_needs_curves_says_so():
    with pytest.raises(CohortRefused, match="placing needs curves") as refused:
        need_curves("open-2026", "placing")
    assert refused.value.code == "no_curves"
