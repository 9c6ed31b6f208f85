"""Several swings of one golfer as one: their mean, and how well it is known."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from norms.errors import CohortRefused
from norms.records import FeatureValues, MeasurementError, PhaseCurve, Swing
from norms.swing.catalogue import FEATURE_NAMES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GolferMean:
    """The mean of a golfer's swings with one club.

    Attributes
    ----------
    swing : Swing
        The newest swing, with the mean curve and features of all in place of its own.
    codes : tuple of str
    days : int
        Days in a lab that they come from.
    """

    swing: Swing
    codes: tuple[str, ...]
    days: int

    def feature_error(self, noise: MeasurementError | None, feature: str) -> float | None:
        """Standard error of the mean of a feature about the golfer's own long-run value.

        Parameters
        ----------
        noise : MeasurementError or None
            The noise budget of the club.
        feature : str

        Returns
        -------
        float or None
            In the catalogue's unit; None where the budget cannot tell it.
        """
        known = _noise_of(noise, feature)
        if known is None:
            return None
        day, swing = known
        return float(np.sqrt(day**2 / self.days + swing**2 / len(self.codes)))

    def extra_variance(
        self, noise: MeasurementError | None, feature: str, peers_swings: float
    ) -> float:
        """Variance of the mean beyond that of peers' means of so many swings, never below 0.

        Peers' days are not known; each of their swings is taken as of another day, which makes
        their noise small and this variance, if anything, too large.
        """
        known, error = _noise_of(noise, feature), self.feature_error(noise, feature)
        if known is None or error is None:
            return 0.0
        return float(max(0.0, error**2 - (known[0] ** 2 + known[1] ** 2) / peers_swings))


def _noise_of(noise: MeasurementError | None, feature: str) -> tuple[float, float] | None:
    """Spread between days and between swings of a day, or None where it cannot be told."""
    if noise is None or feature not in noise.feature_names:
        return None
    place = noise.feature_names.index(feature)
    day, swing = float(noise.day_sd[place]), float(noise.swing_sd[place])
    if not np.isfinite(swing):
        return None
    # A day that cannot be told apart is already in the swings.
    return (day if np.isfinite(day) else 0.0), swing


def mean_of_swings(swings: Sequence[Swing]) -> GolferMean:
    """Mean curve and features of one golfer's swings with one club.

    Parameters
    ----------
    swings : sequence of Swing
        At least one, in any order.

    Returns
    -------
    GolferMean
        A feature that no swing gives keeps the newest swing's reason.

    Raises
    ------
    CohortRefused
        If there is no swing, or they are of several golfers or clubs.
    """
    if not swings:
        raise CohortRefused("no swing to place: name at least one", code="no_swings")
    ordered = sorted(swings, key=lambda one: (one.label.recorded_on, one.label.swing))
    newest = ordered[-1]
    for what in ("golfer", "club"):
        found = sorted({str(getattr(one.label, what)) for one in ordered})
        if len(found) > 1:
            raise CohortRefused(
                f"swings of several {what}s ({', '.join(found)}): place those of one {what} at a "
                "time",
                code=f"several_{what}s",
            )
    curve = PhaseCurve(
        values_cm=np.mean([one.curve.values_cm for one in ordered], axis=0),
        times_s=newest.curve.times_s,
    )
    return GolferMean(
        swing=newest
        if len(ordered) == 1
        else replace(newest, curve=curve, features=_mean_features(ordered)),
        codes=tuple(one.label.swing for one in ordered),
        days=len({(one.label.recorded_on, one.label.lab) for one in ordered}),
    )


def _mean_features(swings: Sequence[Swing]) -> FeatureValues:
    values, missing = {}, {}
    for name in FEATURE_NAMES:
        given = [one.features.values[name] for one in swings if name in one.features.values]
        if given:
            values[name] = float(np.mean(given))
        elif name in swings[-1].features.missing:
            missing[name] = swings[-1].features.missing[name]
    return FeatureValues(values=values, missing=missing)
