import numpy as np
import pytest
from scipy import optimize, stats

from norms.statistics.location_scale_shape import box_cox, sinh_arcsinh
from norms.statistics.location_scale_shape.penalised_fit import fit
from norms.statistics.location_scale_shape.problem import Term
from norms.statistics.location_scale_shape.robust import sandwich
from norms.statistics.splines import SplineBasis, difference_penalty

LINE_PENALTY = difference_penalty(8)


def spline_term(x, segments=5, **limits):
    basis = SplineBasis(low=0.0, high=1.0, segments=segments)
    columns = basis.columns
    return Term(
        design=basis.design(x),
        penalty=difference_penalty(columns),
        prior=np.zeros((columns, columns)),
        rank=columns - 2,
        **limits,
    )


def plain_term(design, precision=0.0):
    count = design.shape[1]
    return Term(design=design, penalty=np.zeros((count, count)), prior=precision * np.eye(count))


def made_golfers(seed, n=300, m=1):
    rng = np.random.default_rng(seed)
    x = np.sort(rng.random(n))
    eta = (np.sin(4 * x), -0.7 + 0.8 * x, np.full(n, 0.4), np.full(n, -0.1))
    return x, sinh_arcsinh.value_at(rng.normal(size=(m, n)), eta)


def terms_of(x, precision=4.0):
    ones = np.ones((len(x), 1))
    shapes = (plain_term(ones, precision), plain_term(ones, precision))
    return (spline_term(x), spline_term(x, least_smoothing=1.0), *shapes)


def own_loss(b, x, y, smoothing):
    """The same penalised likelihood, written from the paper's density."""
    B = SplineBasis(low=0.0, high=1.0, segments=5).design(x)
    median, scale, skew, delta = B @ b[:8], np.exp(B @ b[8:16]), b[16], np.exp(b[17])
    sigma = scale * delta / np.cosh(skew)
    u = (y - median + sigma * np.sinh(skew)) / sigma
    s = np.sinh(delta * np.arcsinh(u) - skew * delta)
    log_density = (
        np.log(delta / sigma)
        + 0.5 * np.log1p(s**2)
        - 0.5 * s**2
        - 0.5 * np.log(2 * np.pi * (1 + u**2))
    )
    rough = [np.sum(np.diff(b[part], 2) ** 2) for part in (slice(0, 8), slice(8, 16))]
    ridge = 4.0 * (b[16] ** 2 + b[17] ** 2)
    return -log_density.sum() + 0.5 * (smoothing[0] * rough[0] + smoothing[1] * rough[1] + ridge)


def test_fit_reaches_the_optimum_of_an_independent_optimiser():
    x, y = made_golfers(1)
    smoothing = np.array([[3.0, 20.0, 1.0, 1.0]])
    fitted = fit(y, sinh_arcsinh, terms_of(x), smoothing=smoothing)
    ours = own_loss(fitted.coefficients[0], x, y[0], smoothing[0])
    start = np.r_[np.zeros(16), 0.0, 0.0]
    other = optimize.minimize(
        own_loss, start, args=(x, y[0], smoothing[0]), method="BFGS", options={"maxiter": 2000}
    )
    assert ours <= other.fun + 1e-6
    np.testing.assert_allclose(fitted.coefficients[0], other.x, atol=2e-2)
    assert fitted.converged[0]


def test_gradient_vanishes_and_standard_errors_are_those_of_the_numerical_curvature():
    x, y = made_golfers(2)
    smoothing = np.array([[3.0, 20.0, 1.0, 1.0]])
    fitted = fit(y, sinh_arcsinh, terms_of(x), smoothing=smoothing)
    b = fitted.coefficients[0]
    steps = 1e-4 * np.eye(18)

    def loss(point):
        return own_loss(point, x, y[0], smoothing[0])

    gradient = [(loss(b + s) - loss(b - s)) / 2e-4 for s in steps]
    np.testing.assert_allclose(gradient, 0.0, atol=1e-4)
    curvature = np.array(
        [
            [(loss(b + s + t) - loss(b + s - t) - loss(b - s + t) + loss(b - s - t)) / 4e-8
             for t in steps]
            for s in steps
        ]
    )  # fmt: skip
    np.testing.assert_allclose(
        np.sqrt(np.diag(np.linalg.inv(curvature))),
        np.sqrt(np.diag(fitted.covariance[0])),
        rtol=2e-3,
    )


def log_marginal(x, y, smoothing):
    """Laplace approximate marginal likelihood, up to a constant."""
    terms = terms_of(x)
    fitted = fit(y, sinh_arcsinh, terms, smoothing=smoothing[None])
    b = fitted.coefficients[0]
    penalty = np.zeros((18, 18))
    penalty[:8, :8], penalty[8:16, 8:16] = smoothing[0] * LINE_PENALTY, smoothing[1] * LINE_PENALTY
    penalty[16, 16] = penalty[17, 17] = 4.0
    rank = 0.5 * 6 * (np.log(smoothing[0]) + np.log(smoothing[1]))
    curvature = np.linalg.slogdet(fitted.information[0] + penalty)[1]
    return fitted.log_likelihood[0] - 0.5 * b @ penalty @ b + rank - 0.5 * curvature


def test_smoothing_maximises_the_marginal_likelihood():
    x, y = made_golfers(3, n=600)
    fitted = fit(y, sinh_arcsinh, terms_of(x))
    best = log_marginal(x, y, fitted.smoothing[0])
    assert 3 < fitted.freedom[0, 0] < 8
    for factor in (0.2, 5.0):
        moved = fitted.smoothing[0] * [factor, 1, 1, 1]
        assert log_marginal(x, y, moved) < best


def test_without_curvature_the_fit_becomes_a_line():
    rng = np.random.default_rng(4)
    x = np.sort(rng.random(400))
    y = (1 + 2 * x + 0.5 * rng.normal(size=400))[None]
    ones = np.ones((400, 1))
    terms = (spline_term(x), spline_term(x), plain_term(ones[:, :0]), plain_term(ones[:, :0]))
    fitted = fit(y, sinh_arcsinh, terms)
    assert fitted.freedom[0, 0] == pytest.approx(2.0, abs=0.3)
    line = stats.linregress(x, y[0])
    predicted = terms[0].design @ fitted.coefficients[0, :8]
    np.testing.assert_allclose(predicted, line.intercept + line.slope * x, atol=0.06)
    assert np.sqrt(fitted.covariance[0, :8, :8].diagonal().max()) < 0.3


def test_many_responses_at_once_give_what_each_gives_alone():
    x, y = made_golfers(5, m=4)
    together = fit(y, sinh_arcsinh, terms_of(x))
    for row in range(4):
        alone = fit(y[[row]], sinh_arcsinh, terms_of(x))
        np.testing.assert_allclose(
            together.coefficients[row], alone.coefficients[0], rtol=1e-4, atol=1e-5
        )


def test_a_pool_shares_its_smoothing_and_pools_do_not():
    x, y = made_golfers(6, m=4)
    fitted = fit(y, sinh_arcsinh, terms_of(x), pools=np.array([7, 7, 2, 2]))
    assert np.ptp(fitted.smoothing[:2, 0]) == np.ptp(fitted.smoothing[2:, 0]) == 0.0
    assert fitted.smoothing[0, 0] != fitted.smoothing[2, 0]


@pytest.mark.parametrize("family", [sinh_arcsinh, box_cox])
def test_weights_count_as_copies_and_zero_leaves_out(family):
    x, y = made_golfers(7, n=150)
    y = np.exp(y) if family.POSITIVE_ONLY else y
    counts = np.random.default_rng(0).integers(0, 3, size=150)
    copies = np.repeat(np.arange(150), counts)
    shapes = len(family.PARAMETERS) - 2

    def terms(at):
        ones = np.ones((len(at), 1))
        return (spline_term(at), spline_term(at, least_smoothing=1.0)) + shapes * (
            plain_term(ones, 4.0),
        )

    smoothing = np.full((1, 2 + shapes), 5.0)
    weighted = fit(y, family, terms(x), weights=counts[None] * 1.0, smoothing=smoothing)
    copied = fit(y[:, copies], family, terms(x[copies]), smoothing=smoothing)
    np.testing.assert_allclose(weighted.coefficients, copied.coefficients, atol=1e-5)
    np.testing.assert_allclose(weighted.log_likelihood, copied.log_likelihood, rtol=1e-8)


def test_sandwich_agrees_with_the_information_when_the_model_is_true():
    x, y = made_golfers(8, n=4000)
    terms = terms_of(x)
    fitted = fit(y, sinh_arcsinh, terms)
    robust = sandwich(y, sinh_arcsinh, terms, fitted)
    ratio = np.diag(robust[0]) / np.diag(fitted.covariance[0])
    np.testing.assert_allclose(ratio, 1.0, atol=0.25)


def test_sandwich_sees_that_copies_bring_no_information():
    x, y = made_golfers(9, n=400)
    twice = np.repeat(np.arange(400), 2)
    shapes = (plain_term(np.ones((400, 1))), plain_term(np.ones((400, 1))))
    curve = plain_term(np.vander(x, 3))
    once = fit(y, sinh_arcsinh, (curve, curve, *shapes))
    robust = sandwich(y, sinh_arcsinh, (curve, curve, *shapes), once)
    doubled_terms = tuple(plain_term(t.design[twice]) for t in (curve, curve, *shapes))
    doubled = fit(y[:, twice], sinh_arcsinh, doubled_terms)
    clustered = sandwich(y[:, twice], sinh_arcsinh, doubled_terms, doubled, clusters=twice)
    np.testing.assert_allclose(clustered, robust, rtol=1e-4, atol=1e-8)
    np.testing.assert_allclose(doubled.covariance, once.covariance / 2, rtol=1e-4, atol=1e-8)


def test_shift_and_scale_of_the_response_carry_over_to_centiles():
    x, y = made_golfers(10)
    smoothing = np.array([[3.0, 20.0, 1.0, 1.0]])
    ours = fit(y, sinh_arcsinh, terms_of(x), smoothing=smoothing).coefficients[0]
    rescaled = smoothing / np.array([[9.0, 1.0, 1.0, 1.0]])
    moved = fit(3 * y - 7, sinh_arcsinh, terms_of(x), smoothing=rescaled).coefficients[0]
    np.testing.assert_allclose(moved[:8], 3 * ours[:8] - 7, atol=1e-4)
    np.testing.assert_allclose(moved[8:16], ours[8:16] + np.log(3), atol=1e-4)
    np.testing.assert_allclose(moved[16:], ours[16:], atol=1e-4)


@pytest.mark.parametrize(
    ("family", "change", "message"),
    [
        (sinh_arcsinh, lambda y: np.where(y == y.max(), np.nan, y), "finite"),
        (box_cox, lambda y: y - 100, "one for each"),
        (sinh_arcsinh, lambda y: y[:, :-1], "do not fit"),
    ],
)
def test_what_cannot_be_fitted_is_refused(family, change, message):
    x, y = made_golfers(11, n=80)
    with pytest.raises(ValueError, match=message):
        fit(change(y), family, terms_of(x))


def test_the_lms_family_refuses_values_that_are_not_positive():
    x, y = made_golfers(12, n=80)
    with pytest.raises(ValueError, match="positive"):
        fit(y - 100, box_cox, terms_of(x)[:3])


def test_negative_weights_are_refused():
    x, y = made_golfers(13, n=80)
    with pytest.raises(ValueError, match="none negative"):
        fit(y, sinh_arcsinh, terms_of(x), weights=-np.ones_like(y))
