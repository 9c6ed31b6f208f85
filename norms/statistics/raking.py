"""Weights that bring the golfers at hand to the margins of the membership."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

TOLERANCE: Final = 1e-9
MOST_ROUNDS: Final = 1000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Raking:
    """Weights, what they cost, and whether they do what was asked.

    Attributes
    ----------
    weights : ndarray, shape (n,)
        Positive, one per golfer, with mean 1.
    design_effect : float
        n sum(w^2) / (sum w)^2 (Kish 1965): how many times larger the variance of a mean becomes.
    effective_count : float
        n over the design effect: golfers' worth of information that is left.
    rounds : int
        Rounds through all margins.
    largest_gap : float
        Largest difference between a weighted share and its target.
    converged : bool
        Where not, some combination of categories may hold no golfer.
    """

    weights: FloatArray
    design_effect: float
    effective_count: float
    rounds: int
    largest_gap: float
    converged: bool


def rake(
    groups: Mapping[str, Sequence[str]],
    targets: Mapping[str, Mapping[str, float]],
    *,
    tolerance: float = TOLERANCE,
    most_rounds: int = MOST_ROUNDS,
) -> Raking:
    """Iterative proportional fitting of one weight per golfer to the margins of a population.

    Parameters
    ----------
    groups : mapping of str to sequence of str
        For each margin (e.g. ``"sex"``) the category of each of the n golfers.
    targets : mapping of str to mapping of str to float
        For the same margins, the population's share (or count) of each category, all positive.
    tolerance : float
        Largest difference of a weighted share from its target that counts as met.
    most_rounds : int

    Raises
    ------
    ValueError
        If margins differ, a category has a target and no golfer (no weight can bring back who is
        missing), or golfers and no positive target.

    References
    ----------
    Deming and Stephan (1940), Ann. Math. Stat. 11:427; design effect: Kish (1965), Survey Sampling.
    """
    margins = [_Margin.checked(name, groups, targets) for name in _same_names(groups, targets)]
    n = len(margins[0].codes)
    if any(len(margin.codes) != n for margin in margins):
        raise ValueError("groups: every margin needs the category of every golfer")
    weights = np.ones(n)
    gap, rounds = _largest_gap(weights, margins), 0
    while gap > tolerance and rounds < most_rounds:
        for margin in margins:
            weights *= (margin.shares / margin.weighted_shares(weights))[margin.codes]
        weights *= n / weights.sum()
        gap, rounds = _largest_gap(weights, margins), rounds + 1
    return _report(weights, gap, rounds, converged=gap <= tolerance)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Margin:
    codes: NDArray[np.intp]
    shares: FloatArray

    @classmethod
    def checked(
        cls,
        name: str,
        groups: Mapping[str, Sequence[str]],
        targets: Mapping[str, Mapping[str, float]],
    ) -> "_Margin":
        categories = sorted(targets[name])
        present = set(groups[name])
        for category in sorted(present - set(categories)):
            raise ValueError(f"margin {name}: golfers in {category!r}, which has no target share")
        for category in categories:
            if not (np.isfinite(targets[name][category]) and targets[name][category] > 0):
                raise ValueError(f"margin {name}: the target of {category!r} must be positive")
            if category not in present:
                raise ValueError(
                    f"margin {name}: {category!r} has a target share and no golfer; recruit there "
                    "or merge it with a neighbour"
                )
        shares = np.array([targets[name][category] for category in categories], dtype=np.float64)
        place = {category: code for code, category in enumerate(categories)}
        codes = np.array([place[category] for category in groups[name]], dtype=np.intp)
        return cls(codes=codes, shares=shares / shares.sum())

    def weighted_shares(self, weights: FloatArray) -> FloatArray:
        sums = np.bincount(self.codes, weights=weights, minlength=len(self.shares))
        return np.asarray(sums / weights.sum(), dtype=np.float64)


def _same_names(
    groups: Mapping[str, Sequence[str]], targets: Mapping[str, Mapping[str, float]]
) -> list[str]:
    if not targets or groups.keys() != targets.keys():
        raise ValueError(f"margins: groups give {sorted(groups)}, targets give {sorted(targets)}")
    return list(targets)


def _largest_gap(weights: FloatArray, margins: Sequence[_Margin]) -> float:
    return max(
        float(np.abs(margin.weighted_shares(weights) - margin.shares).max()) for margin in margins
    )


def _report(weights: FloatArray, gap: float, rounds: int, *, converged: bool) -> Raking:
    n = len(weights)
    design_effect = float(n * np.sum(weights**2) / np.sum(weights) ** 2)
    return Raking(
        weights=weights,
        design_effect=design_effect,
        effective_count=n / design_effect,
        rounds=rounds,
        largest_gap=gap,
        converged=converged,
    )
