"""Components against two independent implementations (SVD in NumPy, R's prcomp and eigen)."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.statistics.components import (
    components_needed,
    equal_axis_weights,
    fit_components,
    trapezoid_weights,
)

CURVES = Path(__file__).parents[2] / "reference" / "functional" / "curves.csv"


@pytest.fixture(scope="module")
def curves():
    """Forty invented golfers, three axes, 101 points over the unit interval."""
    rows = [line.split(",") for line in CURVES.read_text().splitlines()[1:]]
    by_axis = {
        axis: np.array([row[4:] for row in rows if row[3] == axis], dtype=float)
        for axis in ("sway", "thrust", "lift")
    }
    return np.stack(list(by_axis.values()), axis=1)


def test_equal_weights_give_the_reference_eigenvalues_and_scores(curves):
    # SVD of centred stacked curves times the root of trapezoid weights; R's eigen agrees to 1e-6.
    weights = trapezoid_weights(101)
    basis = fit_components(curves, np.ones(3), weights)
    np.testing.assert_allclose(
        basis.eigenvalues[:5],
        [6.097983712686456, 2.1205321429603643, 0.45171572138212324, 0.29357063104994285,
         0.13682872309864033],
        rtol=1e-9,
    )  # fmt: skip
    assert basis.total == pytest.approx(9.452940285897443, rel=1e-9)
    # R's prcomp without quadrature: the same code with every node weighing 1.
    plain = fit_components(curves, np.ones(3), np.ones(101))
    np.testing.assert_allclose(
        plain.eigenvalues[:3], [609.8151221761639, 213.9437628143561, 45.23752885323158], rtol=1e-9
    )
    first = basis.scores(curves)[:5, :3]
    reference = [
        [0.7054564975007646, -3.191538157419454, 1.1155972725940024],
        [-0.6779256104127057, -0.8760335814841089, 0.8589844284773221],
        [0.14046764272381035, 0.11967435207306325, 0.6448118176679197],
        [1.4116678110022438, 0.3928674637844205, 0.5278978423602398],
        [3.6506101484963094, 0.13383290997332878, 0.2886036585010202],
    ]
    np.testing.assert_allclose(np.abs(first), np.abs(reference), rtol=1e-8)


def test_weights_by_integrated_variance_give_the_reference(curves):
    weights = trapezoid_weights(101)
    axes = equal_axis_weights(curves, weights)
    np.testing.assert_allclose(
        1.0 / axes, [5.208906978525642, 1.960452870833333, 2.283580436538461], rtol=1e-9
    )
    basis = fit_components(curves, axes, weights)
    assert basis.total == pytest.approx(3.0, rel=1e-9)
    np.testing.assert_allclose(
        basis.eigenvalues[:5],
        [1.6082008622864576, 0.9636552984245992, 0.12940235561790397, 0.1066862109604254,
         0.054961205274667024],
        rtol=1e-9,
    )  # fmt: skip


def test_the_basis_agrees_with_scikit_learn(curves):
    from sklearn.decomposition import PCA

    weights = trapezoid_weights(101)
    roots = np.sqrt(np.tile(weights, 3))
    other = PCA(n_components=4).fit(curves.reshape(40, -1) * roots)
    ours = fit_components(curves, np.ones(3), weights, keep=4)
    np.testing.assert_allclose(ours.eigenvalues, other.explained_variance_, rtol=1e-9)
    theirs = (other.components_ / roots).reshape(4, 3, 101)
    np.testing.assert_allclose(np.abs(ours.functions), np.abs(theirs), atol=1e-8)


def test_functions_are_orthonormal_and_of_one_sign(curves):
    weights = trapezoid_weights(101)
    basis = fit_components(curves, np.array([1.0, 2.0, 0.5]), weights, keep=6)
    inner = np.einsum(
        "cap,dap,a,p->cd", basis.functions, basis.functions, basis.axis_weights, weights
    )
    np.testing.assert_allclose(inner, np.eye(6), atol=1e-9)
    flat = basis.functions.reshape(6, -1)
    assert (flat.max(axis=1) >= -flat.min(axis=1)).all()


def test_scores_vary_as_the_eigenvalues_say(curves):
    basis = fit_components(curves, np.ones(3), trapezoid_weights(101), keep=5)
    scores = basis.scores(curves)
    np.testing.assert_allclose(np.cov(scores.T), np.diag(basis.eigenvalues), atol=1e-9)


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 2**32 - 1), st.floats(0.1, 10))
def test_a_newcomer_moves_nobodys_score_and_an_axis_scaled_moves_none(seed, factor):
    rng = np.random.default_rng(seed)
    curves = rng.normal(size=(8, 3, 11)).cumsum(axis=2)
    weights = trapezoid_weights(11)
    basis = fit_components(curves, equal_axis_weights(curves, weights), weights)
    before = basis.scores(curves)
    basis.scores(rng.normal(size=(3, 11)))
    np.testing.assert_array_equal(basis.scores(curves), before)
    scaled = curves * np.array([factor, 1.0, 1.0])[:, None]
    again = fit_components(scaled, equal_axis_weights(scaled, weights), weights)
    np.testing.assert_allclose(again.eigenvalues, basis.eigenvalues, rtol=1e-7, atol=1e-10)


def test_number_by_share_held():
    eigenvalues = np.array([6.0, 3.0, 0.6, 0.4])
    assert components_needed(eigenvalues, 10.0, 0.90, 6) == 2
    assert components_needed(eigenvalues, 10.0, 0.91, 6) == 3
    assert components_needed(eigenvalues, 10.0, 0.99, 2) == 2
    with pytest.raises(ValueError, match="share"):
        components_needed(eigenvalues, 10.0, 1.0, 6)


def test_curves_that_do_not_vary_are_refused():
    flat = np.zeros((5, 3, 11))
    with pytest.raises(ValueError, match="one axis"):
        equal_axis_weights(flat, trapezoid_weights(11))
    with pytest.raises(ValueError, match="alike"):
        fit_components(flat, np.ones(3), trapezoid_weights(11))
    with pytest.raises(ValueError, match="at least 2"):
        fit_components(flat[:1], np.ones(3), trapezoid_weights(11))
