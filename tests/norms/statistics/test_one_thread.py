import numpy as np
from threadpoolctl import threadpool_info

from norms.statistics.one_thread import on_one_thread


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
