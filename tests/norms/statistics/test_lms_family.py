import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize
from scipy.special import ndtri

from norms.statistics.location_scale_shape import box_cox as family
from norms.statistics.location_scale_shape.penalised_fit import fit
from norms.statistics.location_scale_shape.problem import Term

REFERENCE = Path(__file__).parents[2] / "reference" / "lms"
CASES = json.loads((REFERENCE / "centiles.json").read_text())["cases"]
HANDICAP, RANGE_CM = np.loadtxt(REFERENCE / "golfers.csv", delimiter=",", skiprows=1).T

# CDC growth charts data file page (9-month boy, weight); WHO child growth standards, LMS of weight
# and length as in the published tables, printed to one decimal: L, M, S, z, value, tolerance.
PUBLISHED = [
    (-0.1600954, 9.476500305, 0.11218624, -1.645, 7.90, 5e-3),
    (0.3487, 3.3464, 0.14602, -2.0, 2.459312, 1e-6),
    (0.3487, 3.3464, 0.14602, 2.0, 4.419354, 1e-6),
    *(
        (0.3487, 3.3464, 0.14602, z, value, 0.05)
        for z, value in zip(range(-3, 4), (2.1, 2.5, 2.9, 3.3, 3.9, 4.4, 5.0), strict=True)
    ),
    *(
        (-0.3518, 18.2179, 0.14821, z, value, 0.05)
        for z, value in zip(range(-3, 4), (12.1, 13.7, 15.8, 18.2, 21.2, 24.9, 29.5), strict=True)
    ),
    *(
        (-0.0137, 12.1548, 0.11427, z, value, 0.05)
        for z, value in zip(range(-3, 4), (8.6, 9.7, 10.8, 12.2, 13.6, 15.3, 17.1), strict=True)
    ),
    *(
        (1.0, 49.8842, 0.03795, z, value, 0.05)
        for z, value in zip(range(-3, 4), (44.2, 46.1, 48.0, 49.9, 51.8, 53.7, 55.6), strict=True)
    ),
    *(
        (0.3487, 3.3464, 0.14602, float(ndtri(share)), value, 5e-5)
        for share, value in (
            (0.03, 2.5073),
            (0.15, 2.8645),
            (0.50, 3.3464),
            (0.85, 3.8782),
            (0.97, 4.3499),
        )
    ),
    (0.0, 10.0, 0.1, 1.0, 11.0517091808, 1e-9),
    (1e-9, 10.0, 0.1, 1.0, 11.0517091808, 1e-6),
]


def parameters(L, M, S):
    return (np.log(np.asarray(M, float)), np.log(np.asarray(S, float)), np.asarray(L, float))


@pytest.mark.parametrize(("L", "M", "S", "z", "value", "tolerance"), PUBLISHED)
def test_published_growth_values_are_met(L, M, S, z, value, tolerance):
    assert family.value_at(np.array(z), parameters(L, M, S)) == pytest.approx(value, abs=tolerance)


@pytest.mark.parametrize(
    ("L", "M", "S", "value", "z"),
    [
        (-0.1600954, 9.476500305, 0.11218624, 9.7, 0.207399),  # CDC page: 0.207
        (-0.3387, 16.433, 0.14051, 17.0, 0.240038),  # WHO anthro software's own test: 0.24
    ],
)
def test_published_scores_are_met(L, M, S, value, z):
    assert family.score(np.array(value), parameters(L, M, S)) == pytest.approx(z, abs=1e-6)


def test_scores_and_densities_equal_the_reference():
    e = {key: np.array(value, float) for key, value in CASES["density_pointwise"].items()}
    eta = parameters(e["L"], e["M"], e["S"])
    np.testing.assert_allclose(family.score(e["y"], eta), e["z"], atol=1e-9)
    np.testing.assert_allclose(family.log_density(e["y"], eta), e["logf"], atol=1e-9)
    np.testing.assert_allclose(family.derivatives(e["y"], eta)[0], e["logf"], atol=1e-9)
    proper = family.log_density(e["y"], eta, truncated=True)
    np.testing.assert_allclose(proper, e["logf_trunc"], atol=1e-9)


def test_centiles_equal_the_reference_and_are_nan_where_they_do_not_exist():
    e = {key: np.array(value, float) for key, value in CASES["centile_formula"].items()}
    got = family.value_at(ndtri(e["p"]), parameters(e["L"], e["M"], e["S"]))
    assert np.isnan(e["q"]).sum() == 5
    np.testing.assert_allclose(got, e["q"], rtol=1e-9)


def term(design):
    zeros = np.zeros((design.shape[1], design.shape[1]))
    return Term(design=design, penalty=zeros, prior=zeros)


def test_constant_fit_reaches_the_reference_optimum():
    e = CASES["mle_const_lms_synth"]
    ones = np.ones((len(RANGE_CM), 1))
    fitted = fit(RANGE_CM[None], family, (term(ones), term(ones), term(ones)))
    log_m, log_s, power = fitted.coefficients[0]
    assert fitted.converged[0]
    assert fitted.log_likelihood[0] >= e["loglik"] - 1e-6
    assert power == pytest.approx(e["L"], abs=2e-4)
    assert np.exp(log_m) == pytest.approx(e["M"], rel=1e-5)
    assert np.exp(log_s) == pytest.approx(e["S"], rel=1e-4)
    assert np.sqrt(fitted.covariance[0, 2, 2]) == pytest.approx(e["se_L"], rel=0.01)
    centiles = family.value_at(ndtri(e["centile_p"]), tuple(fitted.coefficients[0]))
    np.testing.assert_allclose(centiles, e["centile"], atol=2e-3)


def test_regression_on_handicap_reaches_the_reference_optimum():
    e = CASES["synth_regression"]
    x = HANDICAP / 10
    curve, line = np.vander(x, 3, increasing=True), np.vander(x, 2, increasing=True)
    terms = (term(curve), term(line), term(np.ones((len(x), 1))))
    fitted = fit(RANGE_CM[None], family, terms)
    b = fitted.coefficients[0]
    assert fitted.log_likelihood[0] >= e["loglik"] - 1e-6
    np.testing.assert_allclose(np.r_[b[5], b[:5]], e["coef"], atol=2e-3)
    g = np.array(e["grid"], float) / 10
    eta = (np.vander(g, 3, increasing=True) @ b[:3], b[3] + b[4] * g, np.full_like(g, b[5]))
    for place, share in enumerate(e["centile_p"]):
        at = family.value_at(np.full_like(g, ndtri(share)), eta)
        np.testing.assert_allclose(at, np.array(e["centiles"])[:, place], atol=2e-3)
    here = (curve @ b[:3], line @ b[3:5], np.full_like(x, b[5]))
    np.testing.assert_allclose(family.score(RANGE_CM, here)[:10], e["z_first10"], atol=2e-3)


@pytest.mark.parametrize("case", ["mle_const_lms_synth_trunc", "synth_regression_trunc"])
def test_truncated_likelihood_has_the_reference_optimum(case):
    e = CASES[case]
    x = HANDICAP / 10
    if case.startswith("mle"):
        start = np.array([e["L"], np.log(e["M"]), np.log(e["S"])])
        start = start.tolist()

        def eta(b):
            return (np.full_like(x, b[1]), np.full_like(x, b[2]), np.full_like(x, b[0]))

    else:
        start = e["coef"]

        def eta(b):
            return (b[1] + b[2] * x + b[3] * x * x, b[4] + b[5] * x, np.full_like(x, b[0]))

    def loss(b):
        return -family.log_density(RANGE_CM, eta(b), truncated=True).sum()

    assert -loss(start) == pytest.approx(e["loglik"], abs=1e-6)
    best = optimize.minimize(loss, np.array(start) + 0.01, method="BFGS", options={"gtol": 1e-4})
    assert -best.fun == pytest.approx(e["loglik"], abs=1e-5)


@pytest.mark.parametrize("values", [(-0.5, 2.0, 0.3), (1.5, 3.0, 0.4), (0.0, 2.0, 0.5)])
def test_truncated_density_integrates_to_one(values):
    eta = parameters(*values)
    total = integrate.quad(
        lambda t: float(np.exp(family.log_density(np.exp(np.array(t)), eta, truncated=True) + t)),
        -30,
        30,
        limit=400,
        points=[0.0, 1.0],
    )[0]
    assert total == pytest.approx(1.0, abs=1e-7)


lms = st.tuples(st.floats(-1.5, 1.5), st.floats(0.2, 50), st.floats(0.05, 0.4))


@given(lms, st.floats(-1.5, 1.5))
def test_lms_score_and_value_are_inverse(values, z):
    eta = parameters(*values)
    y = family.value_at(np.array(z), eta)
    assert family.score(y, eta) == pytest.approx(z, abs=1e-7)
    assert family.value_at(np.array(0.0), eta) == pytest.approx(values[1], rel=1e-12)


@given(lms, st.floats(-1.5, 1.5), st.floats(0.1, 10))
def test_a_change_of_unit_changes_only_the_median(values, z, factor):
    L, M, S = values
    ours = factor * family.value_at(np.array(z), parameters(L, M, S))
    assert family.value_at(np.array(z), parameters(L, factor * M, S)) == pytest.approx(
        float(ours), rel=1e-9
    )


@given(st.one_of(lms, lms.map(lambda v: (v[0] * 1e-6, v[1], v[2]))), st.floats(-1.5, 1.5))
def test_lms_derivatives_agree_with_differences(values, z):
    eta = parameters(*values)
    y = family.value_at(np.array(z), eta)
    value, first, second = family.derivatives(y, eta)
    assert value == pytest.approx(float(family.log_density(y, eta)), abs=1e-10)
    gradient, h = family.score_gradient(y, eta), 1e-5
    for i in range(3):
        up = tuple(e + h * (j == i) for j, e in enumerate(eta))
        down = tuple(e - h * (j == i) for j, e in enumerate(eta))
        value_up, first_up, _ = family.derivatives(y, up)
        value_down, first_down, _ = family.derivatives(y, down)
        assert (value_up - value_down) / (2 * h) == pytest.approx(first[i], rel=1e-4, abs=1e-4)
        by_score = (family.score(y, up) - family.score(y, down)) / (2 * h)
        assert by_score == pytest.approx(gradient[i], rel=1e-5, abs=1e-5)
        for j in range(3):
            by_difference = (first_up[j] - first_down[j]) / (2 * h)
            expected = second[min(i, j), max(i, j)]
            assert by_difference == pytest.approx(expected, rel=1e-4, abs=1e-3)
    h = 1e-6 * float(y)
    by_value = (family.score(y + h, eta) - family.score(y - h, eta)) / (2 * h)
    assert by_value == pytest.approx(family.score_slope(y, eta), rel=1e-5)


def test_a_value_that_is_not_positive_has_no_score():
    assert np.isnan(family.score(np.array([-1.0, 0.0]), parameters(0.5, 2.0, 0.3))).all()
