import numpy as np
from threadpoolctl import threadpool_info, threadpool_limits

import norms.cohort.edition
from norms.cohort.edition import build_edition
from norms.statistics.one_thread import on_one_thread
from norms.statistics.variance_components import fit_nested


def blas_threads():
    np.linalg.inv(np.eye(2))
    return {pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"}


def test_linear_algebra_runs_on_one_thread_inside_and_as_before_outside():
    before = blas_threads()
    assert on_one_thread(blas_threads)() == {1}
    assert blas_threads() == before


def test_name_arguments_and_result_pass_through():
    @on_one_thread
    def add(a: int, *, b: int) -> int:
        """Add."""
        return a + b

    assert (add(1, b=2), add.__name__, add.__doc__) == (3, "add", "Add.")


def test_variance_components_are_the_same_to_the_last_digit_on_one_thread_and_on_two():
    # At this size sums on two threads take another order, and differ by 1e-14.
    rng = np.random.default_rng(1)
    rows = [(g, d) for g in range(300) for d in range(1 + g % 3) for _ in range(3)]
    own = rng.standard_normal((300, 200))[[g for g, _ in rows]]
    values = own + 0.3 * rng.standard_normal((len(rows), 200))
    golfers = np.array([f"Q{g:04d}" for g, _ in rows])
    days = np.array([f"{d} {g % 2}" for g, d in rows])
    by_lab = np.eye(2)[[(g + d) % 2 for g, d in rows]]
    found = []
    for threads in (1, 2):
        with threadpool_limits(threads, user_api="blas"):
            found.append(fit_nested(values, golfers, days, by_lab).variances)
    assert found[0].tobytes() == found[1].tobytes()


def test_an_edition_is_built_on_one_thread(small_academy, monkeypatch):
    seen = set()
    pass_on = norms.cohort.edition.bands_of

    def looking(*args, **choices):
        seen.update(blas_threads())
        return pass_on(*args, **choices)

    monkeypatch.setattr(norms.cohort.edition, "bands_of", looking)
    with threadpool_limits(2, user_api="blas"):
        edition = build_edition("autumn", small_academy.pool, small_academy.golfers)
    assert seen == {1}
    again = build_edition("autumn", small_academy.pool, small_academy.golfers)
    assert edition.content_hash == again.content_hash
