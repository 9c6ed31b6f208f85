from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from norms.cohort.object_control import object_control
from norms.errors import CohortRefused

SESSIONS = 20


def measured(pool, seed=1, sessions=SESSIONS):
    return pool(seed, visits=[(0, day, "north") for day in range(sessions)], sds=(0, 0, 0.05))


def off_on(drawn, session, by):
    day = date(2025, 1, 1) + timedelta(days=7 * session)
    features = drawn.features.copy()
    features[[one == day for one in drawn.recorded_on], 0] += by
    return replace(drawn, features=features)


def test_the_session_in_which_the_object_moved_is_called_out(pool):
    control = object_control(off_on(measured(pool), 11, 0.5), "north", "Q0000", "driver")
    assert control.basis == "Q0000"
    assert np.flatnonzero(control.out).tolist() == [11]
    assert "feature_0" in control.reasons[11]
    assert "Q0000" in control.reasons[11]
    assert set(control.reasons) - {control.reasons[11]} == {""}


def test_an_object_that_stays_as_it_was_raises_nothing(pool):
    control = object_control(measured(pool, 2), "north", "Q0000", "driver")
    assert not control.out.any()
    assert len(control.sessions) == SESSIONS


def test_scores_are_in_sigmas_of_the_moving_range(pool):
    drawn = measured(pool, 3)
    control = object_control(drawn, "north", "Q0000", "driver")
    days = np.array([day.toordinal() for day in drawn.recorded_on])
    means = np.array([drawn.features[days == day, 0].mean() for day in np.unique(days)])
    # d2 = 1.128 for ranges of two (NIST/SEMATECH e-Handbook, 6.3.2.2)
    sigma = np.abs(np.diff(means)).mean() / 1.128
    np.testing.assert_allclose(control.shift[:, 0], (means - means.mean()) / sigma, rtol=1e-3)


def test_a_feature_that_never_varies_or_is_missing_is_not_judged(pool):
    drawn = measured(pool, 4)
    features = drawn.features.copy()
    features[:, 0], features[:, 1] = 3.0, np.nan
    control = object_control(replace(drawn, features=features), "north", "Q0000", "driver")
    assert np.isnan(control.shift[:, :2]).all()
    assert np.isfinite(control.shift[:, 2]).all()


def test_too_few_sessions_are_refused_with_their_number(pool):
    with pytest.raises(CohortRefused, match="measured at 7 sessions; 8 are needed"):
        object_control(measured(pool, 5, sessions=7), "north", "Q0000", "driver")
