import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.statistics.cross_validation import check_split, group_folds, predict_held_out


def made(seed, golfers=80, effect=1.0, columns=6):
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(golfers), rng.integers(1, 9, golfers))
    sex = rng.integers(0, 2, golfers)[code].astype(float)
    own = rng.normal(size=(golfers, columns))[code] + 0.4 * rng.normal(size=(len(code), columns))
    y = 60 + 6 * sex + effect * own[:, 0] + rng.normal(size=golfers)[code]
    y += 0.5 * rng.normal(size=len(code))
    return y, np.column_stack([np.ones(len(code)), sex]), own, code


@given(st.integers(0, 1000), st.integers(2, 8))
def test_no_fold_shares_a_golfer_with_another(seed, folds):
    rng = np.random.default_rng(seed)
    golfers = rng.integers(0, 20, 100)
    fold = group_folds(golfers, folds, rng)
    for golfer in np.unique(golfers):
        assert len(set(fold[golfers == golfer])) == 1
    sizes = [len(set(golfers[fold == one])) for one in range(folds)]
    assert max(sizes) - min(sizes) <= 1


def test_a_split_with_a_golfer_on_both_sides_is_an_error():
    with pytest.raises(ValueError, match="group Q2 is on both sides"):
        check_split(["Q1", "Q2"], ["Q2", "Q3"])
    check_split(["Q1"], ["Q2"])


def test_folds_that_split_a_golfer_are_refused():
    y, base, own, code = made(1)
    by_swing = np.arange(len(y)) % 5
    with pytest.raises(ValueError, match="on both sides"):
        predict_held_out(y, base, own, code, np.random.default_rng(1), fold_of=by_swing)


def test_more_folds_than_golfers_are_refused():
    with pytest.raises(ValueError, match="folds"):
        group_folds([1, 1, 2], 3, np.random.default_rng(1))


def test_features_that_act_add_to_the_prediction():
    found = predict_held_out(*made(2, effect=2.0), np.random.default_rng(1))
    assert found.r2_gain[1] > 0
    assert found.model_rmse < found.baseline_rmse
    assert found.rmse_gain[0] == pytest.approx(found.baseline_rmse - found.model_rmse)
    assert found.model_r2_limits[0] < found.model_r2 < found.model_r2_limits[1]


def test_noise_adds_nothing():
    found = [predict_held_out(*made(s, effect=0.0), np.random.default_rng(s)) for s in range(8)]
    assert sum(one.r2_gain[1] > 0 for one in found) <= 1
    assert np.mean([one.r2_gain[0] for one in found]) < 0.005


def test_predictions_of_a_golfer_do_not_know_the_golfer():
    y, base, own, code = made(3)
    rng = np.random.default_rng(4)
    fold = group_folds(code, 5, rng)
    one = predict_held_out(y, base, own, code, np.random.default_rng(1), fold_of=fold)
    changed = y + 30.0 * (fold == 2)
    other = predict_held_out(changed, base, own, code, np.random.default_rng(1), fold_of=fold)
    assert other.baseline[fold == 2] == pytest.approx(one.baseline[fold == 2])


def test_a_golfer_with_many_swings_weighs_as_one():
    y, base, own, code = made(5)
    fold = group_folds(code, 5, np.random.default_rng(4))
    repeat = np.where(code == 0, 40, 1)
    one = predict_held_out(y, base, own, code, np.random.default_rng(1), fold_of=fold)
    many = predict_held_out(
        *(np.repeat(part, repeat, axis=0) for part in (y, base, own, code)),
        np.random.default_rng(1),
        fold_of=np.repeat(fold, repeat),
    )
    assert many.baseline_rmse == pytest.approx(one.baseline_rmse, rel=1e-9)


def test_missing_values_are_neither_refused_nor_information():
    y, base, own, code = made(6, effect=2.0)
    own = own.copy()
    own[::7, 0] = np.nan
    own[:, 5] = np.nan
    found = predict_held_out(y, base, own, code, np.random.default_rng(1))
    assert np.isfinite(found.model).all()
    assert found.r2_gain[1] > 0
