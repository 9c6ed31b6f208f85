"""Does a standard still rest on its golfers: new intake against the edition, and review dates."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from norms.records import Edition, FloatArray
from norms.records.standard import GolferMeans, Standard
from norms.standards.quantities import cohort_values, quantity_label
from norms.statistics.multiplicity import adjust_p_values

FEWEST_NEW: Final = 15
"""New golfers below whom nothing is said of drift."""
FALSE_ALARM_RATE: Final = 0.05
REMIND_DAYS: Final = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityDrift:
    """One quantity of the new golfers against those of the evidence.

    Attributes
    ----------
    key : str
    edition_golfers, new_golfers : int
    edition_median, new_median : float
    p_value : float
        Rank sum (Mann & Whitney 1947), adjusted (Holm) for the number of quantities.
    drifted : bool
    """

    key: str
    edition_golfers: int
    new_golfers: int
    edition_median: float
    new_median: float
    p_value: float
    drifted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """New intake against the evidence.

    Attributes
    ----------
    new_golfers : int
        Golfers whom the standard concerns and the evidence does not hold.
    quantities : tuple of QuantityDrift
        Empty where too few are new.
    """

    new_golfers: int
    quantities: tuple[QuantityDrift, ...] = ()

    @property
    def drifted(self) -> bool:
        """Whether any quantity drifted."""
        return any(one.drifted for one in self.quantities)


def drift(standard: Standard, edition: Edition, means: GolferMeans) -> Drift:
    """Hold golfers who are new since the edition against its golfers.

    Golfers whose handicap brought them into the group later are new too: the question is whether
    the group that is judged is still the one the limits were read off.

    Parameters
    ----------
    standard : Standard
    edition : Edition
        With its golfers.
    means : GolferMeans
        Of the standard's quantities.
    """
    cell = edition.cell(standard.evidence)
    members = cell.cohort.golfers if cell else ()
    new = ~np.isin(np.array(means.golfers, dtype=str), list(members))
    if cell is None or int(new.sum()) < FEWEST_NEW:
        return Drift(new_golfers=int(new.sum()))
    held = cohort_values(cell.cohort, [one.quantity for one in standard.requirements])
    rows = []
    for place, requirement in enumerate(standard.requirements):
        before, now = (
            values[np.isfinite(values)] for values in (held[:, place], means.values[new, place])
        )
        if len(now) >= FEWEST_NEW and len(before):
            rows.append((requirement.quantity.key, before, now, _p_value(before, now)))
    adjusted = adjust_p_values(np.array([row[3] for row in rows]), "holm") if rows else np.empty(0)
    return Drift(
        new_golfers=int(new.sum()),
        quantities=tuple(
            QuantityDrift(
                key=key,
                edition_golfers=len(before),
                new_golfers=len(now),
                edition_median=float(np.median(before)),
                new_median=float(np.median(now)),
                p_value=float(p),
                drifted=bool(p <= FALSE_ALARM_RATE),
            )
            for (key, before, now, _), p in zip(rows, adjusted, strict=True)
        ),
    )


def reminders(
    standard: Standard, on: date, found: Drift | None = None, edition_hash: str | None = None
) -> tuple[str, ...]:
    """What a person should look at: review dates that come near or have passed, and drift.

    Parameters
    ----------
    standard : Standard
    on : datetime.date
        Today.
    found : Drift, optional
    edition_hash : str, optional
        Of the edition as it is now; another one than the standard's says that it was computed
        anew after an erasure.
    """
    told = []
    left = (standard.review_on - on).days
    if left <= 0:
        told.append(
            f"Standard {standard.name} was to be reviewed by {standard.review_on}: a person "
            "should look at it before it is used again."
        )
    elif left <= REMIND_DAYS:
        told.append(f"Standard {standard.name} is to be reviewed in {left} days.")
    if edition_hash not in (None, standard.edition_hash):
        told.append(
            f"Edition {standard.edition} was computed anew since the standard was set, because a "
            "golfer was erased: the limits stand as they were decided."
        )
    labels = {one.quantity.key: quantity_label(one.quantity) for one in standard.requirements}
    moved = [one for one in found.quantities if one.drifted] if found else []
    if found and moved:
        told.append(
            f"The {found.new_golfers} golfers new since edition {standard.edition} differ from "
            f"its golfers in {_listed([labels[one.key] for one in moved])}: build a newer edition "
            "and review the standard."
        )
    return tuple(told)


def _listed(words: Sequence[str]) -> str:
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _p_value(before: FloatArray, now: FloatArray) -> float:
    from scipy.stats import mannwhitneyu  # costs the command line more than the rest together

    return float(mannwhitneyu(before, now, method="asymptotic").pvalue)
