"""How unusual a newcomer is among others who were scored in the same way."""

import numpy as np
from numpy.typing import ArrayLike


def conformal_p(score: float, others: ArrayLike) -> float:
    """Share of scores at least as large, the newcomer's own included.

    Where the newcomer is one more of the others, p is at most a with probability at most a,
    whatever the distribution; it is never below 1 / (n + 1).

    Parameters
    ----------
    score : float
        Larger is more unusual.
    others : array_like, shape (n,)

    References
    ----------
    Vovk, Gammerman and Shafer (2005), Algorithmic Learning in a Random World, chapter 2.
    """
    scores = np.asarray(others, dtype=np.float64)
    return float((1 + (scores >= score).sum()) / (len(scores) + 1))


def more_unusual_than(score: float, others: ArrayLike) -> int:
    """How many of the others have a smaller score."""
    return int((np.asarray(others, dtype=np.float64) < score).sum())
