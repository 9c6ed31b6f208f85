"""Adjustment of p values where several questions are asked at once."""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
Method = Literal["benjamini_hochberg", "holm", "bonferroni"]


def adjust_p_values(
    p_values: ArrayLike, method: Method, *, family_size: int | None = None
) -> FloatArray:
    """Adjust p values for multiplicity.

    Parameters
    ----------
    p_values : array_like, shape (m,)
        NaN for a question that could not be asked: it stays NaN and is no part of the family.
    method : {"benjamini_hochberg", "holm", "bonferroni"}
        Benjamini-Hochberg bounds the expected share of false findings among the findings (under
        independence or positive dependence); Holm and Bonferroni bound the chance of any false
        finding, whatever the dependence.
    family_size : int, optional
        Number of questions asked, where not all are given; the number given by default.

    Returns
    -------
    adjusted : ndarray, shape (m,)
        Compared with the level itself; never above 1.

    Raises
    ------
    ValueError
        If a p value lies outside 0 to 1 or the family is smaller than the p values given.

    References
    ----------
    Benjamini and Hochberg (1995), J. R. Stat. Soc. B 57:289; Holm (1979), Scand. J. Stat. 6:65.
    """
    p = np.asarray(p_values, dtype=np.float64)
    asked = np.flatnonzero(~np.isnan(p))
    family = len(asked) if family_size is None else family_size
    if family < len(asked):
        raise ValueError(f"family_size: {family} where {len(asked)} p values are given")
    if ((p[asked] < 0) | (p[asked] > 1)).any():
        raise ValueError("p_values: every p value must lie between 0 and 1")
    order = asked[np.argsort(p[asked], kind="stable")]
    adjusted = np.full(p.shape, np.nan)
    adjusted[order] = np.minimum(1.0, _adjust_rising(p[order], method, family))
    return adjusted


def _adjust_rising(p: FloatArray, method: Method, family: int) -> FloatArray:
    rank = np.arange(1, len(p) + 1)
    if method == "benjamini_hochberg":
        scaled: FloatArray = p * (family / rank)
        return np.minimum.accumulate(scaled[::-1])[::-1]
    if method == "holm":
        return np.maximum.accumulate(p * (family - rank + 1))
    if method == "bonferroni":
        return p * family
    raise ValueError(f"method: {method!r} is not one of benjamini_hochberg, holm, bonferroni")
