from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.lab_effects import lab_effect
from norms.cohort.lab_terms import in_reference_terms, lab_terms, terms_words
from norms.cohort.measurement_error import measurement_error

NAMES = ("sway_top", "thrust_top", "tempo")


def two_labs(pool, seed, change, golfers=150):
    visits = [(g, d, lab) for g in range(golfers) for d, lab in ((0, "north"), (1, "south"))]
    drawn = pool(seed, visits=visits, change=change, curves=True)
    return replace(drawn, feature_names=NAMES)


def fitted(drawn, lab="south", reference="north"):
    flat = replace(drawn, curves_cm=np.zeros_like(drawn.curves_cm))  # quick to fit
    effect = lab_effect(drawn, lab, reference, measurement_error(flat, "driver"))
    return lab_terms(drawn, effect)


def shifted(values, day, lab):
    """In the south the first feature, and the height of the curves, read 4 too much."""
    return values + np.array([4.0, 0.0, 0.0, 4.0]) * (lab == "south")


def test_a_shifted_feature_and_the_curves_of_its_axis_come_back(pool):
    drawn = two_labs(pool, 1, shifted)
    terms = fitted(drawn)
    assert terms.effect.verdicts == ("adjust_shift", "alike", "alike")
    back = in_reference_terms(drawn, [terms])
    south = np.array(drawn.labs) == "south"
    # What remains is the sampling error of the mean difference, the same for every swing.
    moved = drawn.features[south, 0] - back.features[south, 0]
    np.testing.assert_allclose(moved, moved[0])
    assert moved[0] == pytest.approx(4.0, abs=0.5)
    np.testing.assert_array_equal(back.features[~south], drawn.features[~south])
    np.testing.assert_array_equal(back.features[:, 1:], drawn.features[:, 1:])
    shape = np.sin(np.linspace(0, 3, 301))
    curve = drawn.curves_cm[south][0] - back.curves_cm[south][0]
    np.testing.assert_allclose(curve[0], 4.0 * shape, atol=0.6)
    np.testing.assert_array_equal(curve[1:], 0.0)


def test_labs_alike_are_put_together_as_they_are(pool):
    drawn = two_labs(pool, 2, lambda values, day, lab: values, golfers=400)
    terms = fitted(drawn)
    assert set(terms.effect.verdicts) == {"alike"}
    back = in_reference_terms(drawn, [terms])
    np.testing.assert_array_equal(back.features, drawn.features)
    np.testing.assert_array_equal(back.curves_cm, drawn.curves_cm)
    assert "no feature changed" in terms_words(terms, {})


def test_a_feature_kept_apart_is_missing_for_the_lab_alone(pool):
    drawn = two_labs(pool, 3, lambda values, day, lab: values)
    terms = fitted(drawn)
    apart = replace(terms.effect, verdicts=("apart", "alike", "alike"))
    back = in_reference_terms(drawn, [replace(terms, effect=apart)])
    south = np.array(drawn.labs) == "south"
    assert np.isnan(back.features[south, 0]).all()
    assert np.isfinite(back.features[~south]).all()
    assert np.isfinite(back.features[:, 1:]).all()
    words = terms_words(replace(terms, effect=apart), {"sway_top": "sway at the top"})
    assert "sway at the top kept apart" in words


def test_a_scaled_feature_regains_its_spread(pool):
    def stretched(values, day, lab):
        return 20 + (values - 20) * np.array([1.5, 1, 1, 1]) if lab == "south" else values

    drawn = two_labs(pool, 4, stretched, golfers=400)
    terms = fitted(drawn)
    assert terms.effect.verdicts[0] == "adjust_shift_and_scale"
    back = in_reference_terms(drawn, [terms])
    south = np.array(drawn.labs) == "south"
    assert back.features[south, 0].std() == pytest.approx(back.features[~south, 0].std(), rel=0.05)
