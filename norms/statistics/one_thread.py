"""Linear algebra on one thread, for results that do not depend on the machine's cores."""

from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

P = ParamSpec("P")
R = TypeVar("R")


@cache
def _libraries() -> ThreadpoolController:
    # SciPy brings a library of its own, which is not found, and not limited, before it is loaded.
    import scipy.linalg  # noqa: F401

    return ThreadpoolController()


def on_one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """Make a function run its linear algebra on one thread.

    Sums then keep one order whatever the number of cores, so that a build repeats to the last
    digit; and over many small matrices threads wait for each other longer than they work.
    """

    @wraps(function)
    def limited(*args: P.args, **kwargs: P.kwargs) -> R:
        with _libraries().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return limited
